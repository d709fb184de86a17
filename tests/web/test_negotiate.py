"""Media types and tags, as RFC 9110 sections 8.3, 12.4.2, 12.5.1 and 13.1.2 have them."""

import pytest
from litestar.datastructures import Accept

from percell.web import negotiate
from percell.web.negotiate import accepts, holds, is_media_of_body

JSON, CSV = b"application/json", b"text/csv"
TAG = b'"abc"'


@pytest.mark.parametrize(
    ("accept", "accepted"),
    [
        (b"*/*", {JSON, CSV}),
        (b"application/json", {JSON}),
        (b"application/*", {JSON}),
        (b"APPLICATION/JSON", {JSON}),
        (b"text/csv", {CSV}),
        (b"text/*", {CSV}),
        (b"text/csv;q=0.1, application/json", {JSON, CSV}),
        (b"application/json;q=0.5, text/html", {JSON}),
        (b"text/html, application/json;charset=utf-8", {JSON}),
        (b"text/html, */*;q=0.1", {JSON, CSV}),
        (b"application/json;q=0, */*", {CSV}),
        (b"text/csv;q=0, */*", {JSON}),
        (b"text/csv; q=0.000, */*", {JSON}),
        (b"text/csv;Q=0;x=1, */*", {JSON}),
        (b"application/json;q=0.001", {JSON}),
        (b"application/json;q=0, text/csv;q=0", set()),
        (b"*/*;q=0.0", set()),
        (b"text/html, */*;q=0", set()),
        (b"application/xml, image/*", set()),
        (b"text/html;q=abc", set()),
        (b"nonsense", set()),
        (b";;,,", set()),
        (b"", set()),
        (b"\xe9", set()),
    ],
)
def test_the_media_types_that_a_client_accepts(accept: bytes, accepted: set[bytes]) -> None:
    """A range covers what it names, and a weight of zero excludes."""
    assert {media for media in (JSON, CSV) if accepts(accept, media)} == accepted


@pytest.mark.parametrize(
    ("content_type", "media"),
    [
        (b"application/json", JSON),
        (b"application/json; charset=utf-8", JSON),
        (b'Application/JSON;charset="UTF-8"', JSON),
        (b"application/json ;charset=UTF-8", JSON),
        (b"text/csv", CSV),
        (b"", None),
        (b"text/plain", None),
        (b"application/x-www-form-urlencoded", None),
        (b"application/json; charset=latin-1", None),
        (b"application/json; charset=utf-16", None),
        (b"application/json; version=1", None),
        (b"application/jsonp", None),
        (b"application/json, text/plain", None),
    ],
)
def test_the_media_type_of_a_body(content_type: bytes, media: bytes | None) -> None:
    """However it is spelt, a known media type in UTF-8 is read; nothing else is."""
    for one in (JSON, CSV):
        assert is_media_of_body(content_type, (one,)) is (media == one)


@pytest.mark.parametrize(
    ("if_none_match", "held"),
    [
        (TAG, True),
        (b"W/" + TAG, True),
        (b'"x", ' + TAG, True),
        (b'W/"x" ,W/"abc","y"', True),
        (b"*", True),
        (b" * ", True),
        (b'"x"', False),
        (b"abc", False),
        (b'W/"bc"', False),
        (b'"x*"', False),
        (b"", False),
    ],
)
def test_whether_a_client_holds_the_answer(if_none_match: bytes, held: bool) -> None:
    """A tag matches itself, weak or strong, alone or in a list; the star matches any."""
    assert holds(if_none_match, TAG) is held


def test_a_media_range_is_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """However often a client repeats it: thousands of them would hold up the other requests."""
    read: list[str] = []

    def accept(text: str) -> Accept:
        read.append(text)
        return Accept(text)

    monkeypatch.setattr(negotiate, "Accept", accept)
    assert accepts(b"*/*,text/csv, ," * 2000, b"text/csv")
    assert read == ["*/*,text/csv"]
