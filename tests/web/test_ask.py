"""A question in a body is read strictly: exactly what it says it takes, and nothing near it."""

import json
from collections.abc import Iterator
from typing import Any

import pytest

from percell.questions.registry import QUESTIONS

every_question = pytest.mark.parametrize("question", QUESTIONS.values(), ids=lambda q: q.id)
# any question does where the promise is about the body and not about its fields
ANY = next(iter(QUESTIONS.values()))
PATH = f"/v1/{ANY.id}"
SMALL = json.dumps(ANY.example)


def pointer(place: tuple[str | int, ...]) -> str:
    return "".join(f"/{step}" for step in place)


@every_question
def test_the_example_is_answered(post: Any, question: Any) -> None:
    """A question's own example is answered, with caution and working."""
    response = post(f"/v1/{question.id}", question.example)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == "application/json"
    assert response.headers["cache-control"] == "no-store"
    assert response.json()["cautions"]


@every_question
def test_a_number_is_a_number(
    post: Any, number_fields: Any, changed: Any, is_problem: Any, question: Any
) -> None:
    """Text that looks like a number, null, true and a list are no numbers, for any number asked."""
    for place in number_fields(question):
        for wrong in ("4", "", None, True, False, [], [4], {}, {"value": 4}):
            response = post(f"/v1/{question.id}", changed(question.example, place, wrong))
            is_problem(response, "wrong-type", 400, pointer(place))


@every_question
def test_every_number_has_closed_bounds(
    post: Any, number_fields: Any, changed: Any, is_problem: Any, question: Any
) -> None:
    """Each number has a least and a most value; beyond either is 422 at its own pointer, on it is no 422 for that."""
    for place, field in number_fields(question).items():
        assert field["minimum"] < field["maximum"], place
        for outside in (
            field["minimum"] - 1,
            -1e300,
            field["maximum"] * (1 + 1e-12) + (1 if field["type"] == "integer" else 1e-12),
            1e300,
            int("9" * 60),
        ):
            response = post(f"/v1/{question.id}", changed(question.example, place, outside))
            is_problem(response, "outside-contract", 422, pointer(place))
        for bound in (field["minimum"], field["maximum"]):
            response = post(f"/v1/{question.id}", changed(question.example, place, bound))
            if response.status_code != 200:
                assert response.status_code == 422, (place, bound, response.text)
                said = [e["detail"] for e in response.json().get("errors", ())]
                assert not any(f"{bound}" in s and "Expected a number" in s for s in said), said


@every_question
def test_whole_numbers(
    post: Any, number_fields: Any, changed: Any, is_problem: Any, question: Any
) -> None:
    """2.0 is the integer 2, as JSON Schema has it; 2.5 is none."""
    for place, field in number_fields(question).items():
        if field["type"] != "integer":
            continue
        whole = max(int(field["minimum"]), min(2, int(field["maximum"])))
        path, named = f"/v1/{question.id}", {"x-request-id": "same"}
        one = post(path, changed(question.example, place, whole), **named)
        same = post(path, changed(question.example, place, float(whole)), **named)
        assert (one.status_code, one.content) == (same.status_code, same.content)
        broken = min(whole + 0.5, field["maximum"] - 0.5)
        response = post(f"/v1/{question.id}", changed(question.example, place, broken))
        is_problem(response, "outside-contract", 422, pointer(place))


@pytest.mark.parametrize(
    "token", ["NaN", "Infinity", "-Infinity", "1e400", "-1e400", "1" + "0" * 400]
)
def test_numbers_that_are_none(
    post: Any, number_fields: Any, changed: Any, is_problem: Any, token: str
) -> None:
    """What JSON has no form for, or no double holds, makes the body unreadable."""
    for question in QUESTIONS.values():
        place = next(iter(number_fields(question)))
        body = json.dumps(changed(question.example, place, "HERE")).replace('"HERE"', token)
        is_problem(post(f"/v1/{question.id}", body), "unreadable-body", 400)


@every_question
def test_unknown_fields_are_refused(post: Any, is_problem: Any, question: Any) -> None:
    """A field that no question has is refused by name, escaped as RFC 6901 says, at every depth."""
    for name, escaped in (
        ("colour", "colour"),
        ("", ""),
        ("a/b~c", "a~1b~0c"),
        ("a.b[0]", "a.b[0]"),
        ("a - at `$.b", "a - at `$.b"),
        ("Ω\n\u2028", "Ω\n\u2028"),
    ):
        response = post(f"/v1/{question.id}", question.example | {name: 1})
        is_problem(response, "outside-contract", 422, f"/{escaped}")
    for field, value in question.example.items():
        one = value[0] if isinstance(value, list) and value else value
        if isinstance(one, dict):
            broken = one | {"colour": 1}
            nested = [broken, *value[1:]] if isinstance(value, list) else broken
            at = f"/{field}/0/colour" if isinstance(value, list) else f"/{field}/colour"
            response = post(f"/v1/{question.id}", question.example | {field: nested})
            is_problem(response, "outside-contract", 422, at)


class Written(float):
    """A number that is written with a decimal point or an exponent."""


def not_whole(schema: Any, value: Any, whole: Any, place: str = "") -> Iterator[str]:
    """Yield the places of an answer where an integer of the document has a decimal point."""
    said = whole(schema)
    if said.get("type") == "integer" and isinstance(value, Written):
        yield place
    for part in (*said.get("allOf", ()), *said.get("anyOf", ())):
        yield from not_whole(part, value, whole, place)
    if isinstance(value, dict):
        for name, one in value.items():
            yield from not_whole(
                said.get("properties", {}).get(name, {}), one, whole, f"{place}/{name}"
            )
    if isinstance(value, list):
        for one in value:
            yield from not_whole(said.get("items", {}), one, whole, place)


@every_question
def test_a_whole_number_of_an_answer_has_no_decimal_point(
    post: Any, number_fields: Any, changed: Any, document: Any, whole: Any, question: Any
) -> None:
    """Typed clients of Go, Rust and others refuse a whole answer for `2.0` where the document says integer."""
    answered = 0
    bodies = [question.example] + [
        changed(question.example, place, float(bound))
        for place, field in number_fields(question).items()
        if field["type"] == "integer"
        for bound in (field["minimum"], 2, field["maximum"])
    ]
    for body in bodies:
        response = post(f"/v1/{question.id}", body)
        if response.status_code == 200:
            answered += 1
            answer = json.loads(response.text, parse_float=Written)
            schema = document["components"]["schemas"][question.answered.__name__]
            assert not set(not_whole(schema, answer, whole)), body
    assert answered


@every_question
def test_missing_fields_are_named(post: Any, document: Any, is_problem: Any, question: Any) -> None:
    """Each required field that is left out is named."""
    schema = document["components"]["schemas"][question.asked.__name__]
    for name in schema.get("required", ()):
        less = {field: value for field, value in question.example.items() if field != name}
        is_problem(post(f"/v1/{question.id}", less), "outside-contract", 422, f"/{name}")


@every_question
def test_words_are_from_their_set(post: Any, document: Any, is_problem: Any, question: Any) -> None:
    """A word outside its set is refused and the set is said, whatever the word holds."""
    schemas = document["components"]["schemas"]
    for name, field in schemas[question.asked.__name__]["properties"].items():
        kind = schemas[field["$ref"].rpartition("/")[2]] if "$ref" in field else field
        if "enum" not in kind:
            continue
        for word in ("nothing", "x, got `y`", "x' - at `$.b`"):
            response = post(f"/v1/{question.id}", question.example | {name: word})
            problem = is_problem(response, "outside-contract", 422, f"/{name}")
            assert all(allowed in problem["errors"][0]["detail"] for allowed in kind["enum"])


def test_of_a_name_that_stands_twice_the_last_counts(
    post: Any, document: Any, number_fields: Any
) -> None:
    """A duplicate key cannot be seen, so the last wins, and the document says so."""
    (name,) = next(p for p in number_fields(ANY) if len(p) == 1 and p[0] in ANY.example)
    other = number_fields(ANY)[(name,)]["minimum"]
    first, last = f'"{name}": {other}', SMALL.strip("{}")
    assert post(PATH, f"{{{first}, {last}}}").content == post(PATH, SMALL).content
    assert post(PATH, f"{{{last}, {first}}}").content != post(PATH, SMALL).content
    assert "appears twice" in document["info"]["description"]
    assert "the last value wins" in document["info"]["description"]


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b" ",
        b"\xff",
        b"\xef\xbb\xbf" + SMALL.encode(),
        SMALL.encode("utf-16"),
        SMALL.encode() + b"x",
        SMALL.encode() * 2,
        SMALL.encode()[:-1],
        SMALL.replace('"', "'").encode(),
        SMALL.replace("}", ",}").encode(),
        SMALL.replace('"', '"\xff', 1).encode("latin-1"),
        b'{"layout": "\xc3\x28"}',
        b'{"layout": "\xed\xa0\x80"}',
        b'{"layout": "\\ud800"}',
        b'{"layout": "\t"}',
        b'{"layout": 01}',
        b'{"layout": 0x10}',
        b'{"layout": +1}',
        b'{"layout": .5}',
        b'// {"layout": 1}',
        b'{"colour": 1',
        b'{"cell_rating_a": 0x10}',
        b'{"layout": 4} trailing',
    ],
)
def test_what_is_no_json_in_utf_8_is_unreadable(post: Any, is_problem: Any, body: bytes) -> None:
    """Empty, cut short, not UTF-8, with a lone surrogate, no JSON: 400, whatever else is wrong."""
    is_problem(post(PATH, body), "unreadable-body", 400)


@pytest.mark.parametrize("value", ["null", "3", "3.5", '"x"', "true", "[]", "[{}]"])
def test_a_body_is_an_object(post: Any, is_problem: Any, value: str) -> None:
    """JSON that is no object is the wrong type, and the pointer is that of the whole body."""
    is_problem(post(PATH, value), "wrong-type", 400, "")
    is_problem(post("/v1/batch", value), "wrong-type", 400, "")


def test_a_body_that_is_too_deep_says_so(post: Any) -> None:
    """Where the depth is what is wrong, and not the number of parts."""
    assert post(PATH, "[" * 15_000).json()["detail"] == "The body is nested too deeply."


@pytest.mark.parametrize(
    "opening",
    ["[", '{"a":', '{"layout":', '{"items":[', '{"items":[{"question":"pack","ask":{"layout":'],
)
def test_depth_is_refused(post: Any, opening: str) -> None:
    """A body nested a thousand or a hundred thousand deep is refused, and nothing breaks."""
    closing = "".join({"[": "]", "{": "}"}.get(sign, "") for sign in reversed(opening))
    for path in (PATH, "/v1/discharge-test", "/v1/tables", "/v1/batch"):
        for depth in (1_000, min(100_000, 500_000 // len(opening))):  # below the limit of a body
            for body in (opening * depth, opening * depth + "1" + closing * depth):
                response = post(path, body)
                if path == "/v1/batch" and response.status_code == 200:
                    (item,) = response.json()["items"]
                    assert item["status"] in (400, 422)
                else:
                    assert response.status_code in (400, 422), response.text[:300]
                    assert response.headers["content-type"] == "application/problem+json"
                if path == PATH and depth > 20_000:
                    said = response.json()["detail"]
                    assert said == "The body has more than 20000 lists and objects."
