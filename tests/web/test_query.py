"""A question in a query string is read as strictly as in a body, and has the same answer."""

from typing import Any
from urllib.parse import urlencode

import httpx
import pytest

from percell.questions.registry import QUESTIONS
from percell.web.query import names_of

WITH_QUERY = [q for q in QUESTIONS.values() if q.has_query]
WITHOUT = [q for q in QUESTIONS.values() if not q.has_query]
with_query = pytest.mark.parametrize("question", WITH_QUERY, ids=lambda q: q.id)
# any question does where the promise is about the query and not about its fields
ANY = next(q for q in WITH_QUERY if q.id == "direct-load")
GOOD = "layout=1S2P&cell_rating_a=20&coil_resistance_ohm=0.15"
PARTS = GOOD.replace("layout=1S2P", "layout.series=1&layout.parallel=2.0")
PATH = f"/v1/{ANY.id}"
CELLS = "layout=1S2P&cells.open_circuit_voltage_v=4.1&cells.open_circuit_voltage_v=4"


@with_query
def test_get_answers_as_post_does(flat: Any, client: Any, post: Any, question: Any) -> None:
    """The same question has the same answer, byte for byte, by either way."""
    by_query = client.get(f"/v1/{question.id}", params=flat(question.example))
    by_body = post(f"/v1/{question.id}", question.example)
    assert by_query.status_code == 200, by_query.text
    assert by_query.content == by_body.content


@with_query
def test_get_answers_as_post_does_at_every_bound(
    flat: Any, client: Any, post: Any, number_fields: Any, changed: Any, question: Any
) -> None:
    """Also where each number stands on its bounds, whether the answer is one or a problem."""
    for place, field in number_fields(question).items():
        for bound in (field["minimum"], field["maximum"]):
            body = changed(question.example, place, bound)
            path, named = f"/v1/{question.id}", {"x-request-id": "same"}
            by_query = client.get(path, params=flat(body), headers=named)
            by_body = post(path, body, **named)
            assert by_query.status_code == by_body.status_code, (place, bound)
            assert by_query.content == by_body.content, (place, bound)


@with_query
def test_every_parameter_has_closed_bounds(document: Any, whole: Any, question: Any) -> None:
    """Each number in a query has a least and a most value in the document."""
    for parameter in map(whole, document["paths"][f"/v1/{question.id}"]["get"]["parameters"]):
        schema = whole(parameter["schema"])
        if schema.get("type") in ("number", "integer"):
            assert schema["minimum"] < schema["maximum"], parameter["name"]


@with_query
def test_numbers_in_a_query(
    flat: Any, client: Any, number_fields: Any, is_problem: Any, question: Any
) -> None:
    """What is no number in the document's sense is none in a query."""
    example = httpx.QueryParams(flat(question.example))
    for place in number_fields(question):
        if len(place) > 1:
            continue
        for text in (" 4", "4 ", "1_0", "0x10", "4,5", "true", "null", "four", "\uff14", "1e"):
            response = client.get(f"/v1/{question.id}", params=example.set(place[0], text))
            is_problem(response, "wrong-type", 400, f"/{place[0]}")
        for text in ("nan", "NaN", "-nan", "inf", "Infinity", "-inf", "1e300", "-1e300"):
            response = client.get(f"/v1/{question.id}", params=example.set(place[0], text))
            assert response.status_code in (400, 422), text
        response = client.get(f"/v1/{question.id}", params=example.set(place[0], "1e400"))
        is_problem(response, "unreadable-query", 400)


@with_query
def test_unknown_and_repeated_names_are_refused(
    flat: Any, client: Any, is_problem: Any, question: Any
) -> None:
    """A name that no question has, and a name that is given twice, are refused by name."""
    pairs = flat(question.example)
    unknown = client.get(f"/v1/{question.id}", params=[*pairs, ("colour", "red")])
    is_problem(unknown, "outside-contract", 422, "/colour")
    entries = names_of(question.asked).entries
    once = [pair for pair in pairs if pair[0].partition(".")[0] not in entries]
    for pair in once[:1]:  # a comparison has nothing but a list
        twice = client.get(f"/v1/{question.id}", params=[*pairs, pair])
        is_problem(twice, "outside-contract", 422, "/" + pair[0].replace(".", "/"))


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        (f"{GOOD}&layout.parallel=2", "/layout"),
        (f"layout.parallel=2&{GOOD}", "/layout"),
        (f"{PARTS}&layout.parallel=2", "/layout/parallel"),
        (f"{PARTS}&layout.series=1", "/layout/series"),
        (f"{GOOD}&chemistry=nmc&chemistry=nca&chemistry.x=1", "/chemistry"),
        (f"{GOOD}&=1", "/"),
        (f"{GOOD}&a~b/c=1", "/a~0b~1c"),
    ],
)
def test_names_that_contradict_each_other(
    client: Any, is_problem: Any, query: str, pointer: str
) -> None:
    """A field cannot be text and an object at once, nor one field of an object stand twice."""
    is_problem(client.get(f"{PATH}?{query}"), "outside-contract", 422, pointer)


def test_a_dot_makes_a_field_of_an_object(client: Any) -> None:
    """A layout in two numbers asks what a layout as text asks."""
    in_parts, as_text = client.get(f"{PATH}?{PARTS}").json(), client.get(f"{PATH}?{GOOD}").json()
    assert in_parts.pop("asked")["layout"] == {"series": 1, "parallel": 2}
    assert as_text.pop("asked")["layout"] == "1S2P"
    assert in_parts == as_text


@pytest.mark.parametrize(
    "query",
    [
        "layout",
        f"{GOOD}&x=%",
        f"{GOOD}&x=%4",
        f"{GOOD}&x=%zz",
        f"{GOOD}&%zz=1",
        f"{GOOD}&x=%ff",
        f"{GOOD}&x=%c3%28",
        f"{GOOD}&x=%ed%a0%80",
    ],
)
def test_what_is_no_query_is_unreadable(client: Any, is_problem: Any, query: str) -> None:
    """Pairs without a sign, bad percent-encoding, bad UTF-8, too many names: 400."""
    is_problem(client.get(f"{PATH}?{query}"), "unreadable-query", 400)


@pytest.mark.parametrize(
    "query", [f"{GOOD}&", f"&{GOOD}", GOOD.replace("&", "&&", 1), f"&&&{GOOD}&&"]
)
def test_an_empty_pair_says_nothing(client: Any, query: str) -> None:
    """Programs that join pairs leave signs over: they change nothing."""
    assert client.get(f"{PATH}?{query}").content == client.get(f"{PATH}?{GOOD}").content


@pytest.mark.parametrize("empty", ["cell_capacity_ah", "chemistry", "sharing.spread"])
def test_a_field_without_a_value_is_not_given(client: Any, empty: str) -> None:
    """A form in HTML sends every field: what nobody filled in changes nothing."""
    assert client.get(f"{PATH}?{GOOD}&{empty}=").content == client.get(f"{PATH}?{GOOD}").content


@pytest.mark.parametrize(
    ("path", "told"),
    [
        (f"{PATH}?{GOOD}&cell_ratting_a=", ["/cell_ratting_a"]),
        (f"{PATH}?{GOOD}&sharing.colour=", ["/sharing/spread", "/sharing/colour"]),
        (f"/v1/reply/{ANY.id}?{GOOD}&markupp=", ["/markupp"]),
        (f"/v1/short/{ANY.id}?{GOOD}&colour=", ["/colour"]),
        (
            f"/v1/unequal-cells?{CELLS}"
            "&cells.cell_resistance_ohm=0.1&cells.cell_resistance_ohm=0.1&cells.x=&cells.x=",
            ["/cells/0/x", "/cells/1/x"],
        ),
    ],
)
def test_an_unknown_name_is_refused_without_a_value_too(
    client: Any, path: str, told: list[str]
) -> None:
    """A mistyped name is told also where nothing was filled in."""
    got = client.get(path)
    assert got.status_code == 422, got.text
    assert [fault["pointer"] for fault in got.json()["errors"]] == told


@pytest.mark.parametrize("form", ["short", "csv", "reply"])
def test_other_forms_read_an_empty_field_as_a_question_does(client: Any, form: str) -> None:
    """What nobody filled in is not given there either."""
    path, own = f"/v1/{form}/{ANY.id}?{GOOD}", "&markup=" if form == "reply" else ""
    assert client.get(f"{path}&chemistry={own}").content == client.get(path).content


def test_a_needed_field_without_a_value_is_missing(client: Any, is_problem: Any) -> None:
    """Nothing is made up where a value is needed."""
    problem = is_problem(client.get(f"{PATH}?layout=&cell_rating_a="), "outside-contract", 422)
    assert [(fault["pointer"], fault["code"]) for fault in problem["errors"]] == [
        ("/layout", "missing"),
        ("/cell_rating_a", "missing"),
    ]


def test_a_query_has_a_thousand_fields_at_most(client: Any, is_problem: Any) -> None:
    """A thousand names are read, and then refused as unknown; one more makes the query unreadable."""
    names = [f"a{number}=1" for number in range(1001)]
    most = client.get(f"{PATH}?{'&'.join(names[:1000])}")
    assert is_problem(most, "outside-contract", 422)["errors"][-1]["pointer"] == "/a17"
    is_problem(client.get(f"{PATH}?{'&'.join(names)}"), "unreadable-query", 400)


def test_percent_encoding_is_read(client: Any) -> None:
    """Any letter may be percent-encoded, in either case."""
    encoded = GOOD.replace("layout", "l%61yout").replace("1S2P", "%31%53%32%50").replace(".", "%2e")
    assert client.get(f"{PATH}?{encoded}").content == client.get(f"{PATH}?{GOOD}").content


def test_depth_in_a_name_is_refused(client: Any, is_problem: Any) -> None:
    """A name with thousands of dots is refused, and nothing breaks."""
    is_problem(client.get(f"{PATH}?layout{'.a' * 20_000}=1"), "outside-contract", 422)


def test_an_empty_query_lacks_its_fields(client: Any, is_problem: Any) -> None:
    """No query at all is a readable one that lacks what is required."""
    for path in (PATH, f"{PATH}?", f"{PATH}?&"):
        problem = is_problem(client.get(path), "outside-contract", 422)
        assert [(e["pointer"], e["code"]) for e in problem["errors"]] == [
            ("/layout", "missing"),
            ("/cell_rating_a", "missing"),
        ]


MEASURED = {
    "layout": "2S1P",
    "cell_capacity_ah": 2.6,
    "cell_resistance_ohm": 0.03,
    "output_power_w": 15,
    "measured_discharge": {
        "current_a": 2.5,
        "charge_ah": [0, 0.3, 0.6, 0.9, 1.2, 1.5, 1.8, 2.1, 2.4, 2.55],
        "voltage_v": [4.08, 3.95, 3.85, 3.76, 3.68, 3.6, 3.52, 3.42, 3.22, 2.75],
    },
}


def test_a_list_of_numbers_in_a_query(client: Any, post: Any, flat: Any) -> None:
    """A discharge of one's own is asked by repeating the names of its lists."""
    got = client.get("/v1/running-time", params=flat(MEASURED))
    assert got.status_code == 200, got.text
    assert got.content == post("/v1/running-time", MEASURED).content


def test_entries_in_a_query(client: Any, post: Any) -> None:
    """Each field of the entries is a list of its own, and an empty value is not given."""
    query = f"{CELLS}&cells.cell_resistance_ohm=0.02&cells.cell_resistance_ohm=0.03"
    contacts = "cells.contact_resistance_ohm=&cells.contact_resistance_ohm=0.01"
    cells = [
        {"open_circuit_voltage_v": 4.1, "cell_resistance_ohm": 0.02},
        {"open_circuit_voltage_v": 4, "cell_resistance_ohm": 0.03, "contact_resistance_ohm": 0.01},
    ]
    got = client.get(f"/v1/unequal-cells?{query}&{contacts}")
    assert got.status_code == 200, got.text
    assert got.content == post("/v1/unequal-cells", {"layout": "1S2P", "cells": cells}).content


@pytest.mark.parametrize(
    ("rest", "told"),
    [
        (
            "cells.cell_resistance_ohm=0.02&cells.contact_resistance_ohm=0.01",
            [
                ("/cells/1/cell_resistance_ohm", "missing"),
                ("/cells/1/contact_resistance_ohm", "missing"),
            ],
        ),
        (
            "cells.cell_resistance_ohm=&cells.cell_resistance_ohm=9",
            [
                ("/cells/0/cell_resistance_ohm", "missing"),
                ("/cells/1/cell_resistance_ohm", "above"),
            ],
        ),
        (
            "cells.cell_resistance_ohm=0.1&cells.cell_resistance_ohm=0.1&cells.colour=red&cells.colour=",
            [("/cells/0/colour", "unknown"), ("/cells/1/colour", "unknown")],
        ),
        ("cells=4", [("/cells", "wrong_type")]),
        # uneven lists hide no other fault
        (
            "cells.cell_resistance_ohm=9&coil_resistance_ohm=900&cells.colour=red&colour=red",
            [
                ("/cells/0/cell_resistance_ohm", "above"),
                ("/cells/0/colour", "unknown"),
                ("/cells/1/cell_resistance_ohm", "missing"),
                ("/coil_resistance_ohm", "above"),
                ("/colour", "unknown"),
            ],
        ),
        (
            "cells.open_circuit_voltage_v=3.9&cells.cell_resistance_ohm=0.02",
            [("/cells/1/cell_resistance_ohm", "missing")],  # once, not for each entry
        ),
        (
            "cells=4&cells.cell_resistance_ohm=0.02",
            [("/cells/0", "wrong_type"), ("/cells/1", "twice")],
        ),
    ],
)
def test_what_is_wrong_with_entries_is_named(
    client: Any, rest: str, told: list[tuple[str, str]]
) -> None:
    """Lists of uneven length, and each fault of an entry, are told by their place."""
    got = client.get(f"/v1/unequal-cells?{CELLS if rest != 'cells=4' else 'layout=1S2P'}&{rest}")
    assert [(e["pointer"], e["code"]) for e in got.json()["errors"]] == told


def test_only_a_log_has_no_query(client: Any, document: Any, is_problem: Any) -> None:
    """All questions have a query but that of logs, where GET is refused and the document has none."""
    assert [question.id for question in WITHOUT] == ["discharge-test"]
    for question in WITHOUT:
        response = client.get(f"/v1/{question.id}?{urlencode({'a': 1})}")
        is_problem(response, "method-not-allowed", 405)
        assert set(response.headers["allow"].split(", ")) == {"POST", "OPTIONS"}
        assert "get" not in document["paths"][f"/v1/{question.id}"]


@pytest.mark.parametrize(
    ("path", "body"),
    [
        *((f"/v1/{q.id}", q.example) for q in QUESTIONS.values()),
        *((f"/v1/short/{q.id}", q.example) for q in QUESTIONS.values()),
        ("/v1/batch", {"items": [{"question": ANY.id, "ask": ANY.example}]}),
        ("/v1/tables/lowest-resistance", None),
        ("/v1/tables/lowest-resistance.csv", None),
        ("/v1/tables", None),
        ("/v1/reference", None),
        ("/openapi.json", None),
        ("/healthz", None),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_query_that_nothing_reads_is_refused(
    client: Any, post: Any, is_problem: Any, path: str, body: Any
) -> None:
    """A tolerance beside a body, or a filter on a table, is not lost without a word."""
    asked = f"{path}?meter_accuracy=0.05&x=1"
    got = client.get(asked) if body is None else post(asked, body)
    is_problem(got, "outside-contract", 422)
    assert got.json()["errors"][0]["pointer"] == "/meter_accuracy"
    unreadable = f"{path}?%zz"
    got = client.get(unreadable) if body is None else post(unreadable, body)
    is_problem(got, "unreadable-query", 400)


SHARED = "layout=1S3P&cell_rating_a=20&coil_resistance_ohm=0.1"
SHARED_BODY = {"layout": "1S3P", "cell_rating_a": 20, "coil_resistance_ohm": 0.1}


@pytest.mark.parametrize(
    ("query", "sharing"),
    [
        ("sharing=even", "even"),
        ("sharing.spread=0.1", {"spread": 0.1}),
        ("sharing.percentile=0.9&sharing.spread=0.2", {"spread": 0.2, "percentile": 0.9}),
    ],
)
def test_a_sharing_in_a_query(client: Any, post: Any, query: str, sharing: Any) -> None:
    """The same sharing has the same answer, asked by query or by body."""
    got = client.get(f"/v1/direct-load?{SHARED}&{query}")
    assert got.status_code == 200, got.text
    assert got.content == post("/v1/direct-load", SHARED_BODY | {"sharing": sharing}).content


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("sharing=even&sharing.spread=0.1", "/sharing"),
        ("sharing.spread=0.1&sharing=even", "/sharing"),
        ("sharing.spread=0.1&sharing.spread=0.2", "/sharing/spread"),
        ("sharing.spread=0.31", "/sharing/spread"),
        ("sharing.spread=0.1&sharing.percentile=1", "/sharing/percentile"),
        ("sharing.percentile=0.9", "/sharing/spread"),
    ],
)
def test_what_is_wrong_with_a_sharing_is_named(client: Any, query: str, pointer: str) -> None:
    """A word and an object at once, a value out of bounds, or half an object: 422 with the field."""
    got = client.get(f"/v1/direct-load?{SHARED}&{query}")
    assert got.status_code == 422
    assert [error["pointer"] for error in got.json()["errors"]] == [pointer]
