"""A spread of the cells in a query: dotted names for what a body has as an object."""

import pytest

ASKED = "layout=1S3P&cell_rating_a=20&coil_resistance_ohm=0.1"
BODY = {"layout": "1S3P", "cell_rating_a": 20, "coil_resistance_ohm": 0.1}


@pytest.mark.parametrize(
    ("query", "sharing"),
    [
        ("sharing=even", "even"),
        ("sharing.spread=0.1", {"spread": 0.1}),
        ("sharing.percentile=0.9&sharing.spread=0.2", {"spread": 0.2, "percentile": 0.9}),
    ],
)
def test_query_and_body_are_one(client, post, query, sharing):
    """The same sharing has the same answer, asked by query or by body."""
    got = client.get(f"/v1/direct-load?{ASKED}&{query}")
    assert got.status_code == 200, got.text
    assert got.content == post("/v1/direct-load", BODY | {"sharing": sharing}).content


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("sharing=even&sharing.spread=0.1", "/sharing/spread"),
        ("sharing.spread=0.1&sharing=even", "/sharing"),
        ("sharing.spread=0.1&sharing.spread=0.2", "/sharing/spread"),
        ("sharing.spread=0.31", "/sharing/spread"),
        ("sharing.spread=0.1&sharing.percentile=1", "/sharing/percentile"),
        ("sharing.percentile=0.9", "/sharing/spread"),
    ],
)
def test_what_is_refused_is_named(client, query, pointer):
    """A word and an object at once, a value out of bounds, or half an object: 422 with the field."""
    got = client.get(f"/v1/direct-load?{ASKED}&{query}")
    assert got.status_code == 422
    assert [error["pointer"] for error in got.json()["errors"]] == [pointer]
