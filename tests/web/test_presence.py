"""Which fields belong together: the document and the service say the same of every combination."""

from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema_rs import Draft202012Validator

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.presence import presence_of, refuse_by_presence
from percell.questions.vocabulary.refusal import Refused
from percell.web import openapi

DOCUMENT = openapi.document()
with_rules = pytest.mark.parametrize(
    "question", [q for q in QUESTIONS.values() if presence_of(q.asked)], ids=lambda q: q.id
)


def validator(name: str) -> Draft202012Validator:
    return Draft202012Validator({"$ref": f"#/components/schemas/{name}", **DOCUMENT})


def whole(part: dict[str, Any]) -> dict[str, Any]:
    while "$ref" in part:
        part = DOCUMENT["components"]["schemas"][part["$ref"].rpartition("/")[2]]
    return part


def some_value(schema: dict[str, Any]) -> Any:
    """Return a value within a field's bounds, which is hardly its default."""
    schema = whole(schema)
    for form in (*schema.get("anyOf", ()), *schema.get("allOf", ())):
        return some_value(form)
    if "enum" in schema:
        return schema["enum"][-1]
    if schema["type"] == "string":
        return "2S1P"
    if schema["type"] == "array":
        return [some_value(schema["items"])] * schema.get("minItems", 1)
    if schema["type"] == "object":
        return {name: some_value(part) for name, part in schema["properties"].items()}
    return schema["maximum"] if schema["type"] == "integer" else schema["maximum"] * 0.9


def is_refused(question: Any, body: dict[str, Any]) -> bool:
    try:
        refuse_by_presence(msgspec.convert(body, question.asked))
    except Refused:
        return True
    return False


@with_rules
@settings(max_examples=100, deadline=None, derandomize=True)
@given(data=st.data())
def test_the_document_forbids_what_the_service_refuses(question: Any, data: Any) -> None:
    """A body with any of the fields is valid by the document exactly if the service takes the combination."""
    schema = DOCUMENT["components"]["schemas"][question.asked.__name__]
    optional = sorted(schema["properties"].keys() - set(schema.get("required", ())))
    chosen = data.draw(st.sets(st.sampled_from(optional)))
    # a default that is repeated is not given
    repeated = {
        field.name: field.default
        for field in msgspec.structs.fields(question.asked)
        if isinstance(field.default, float) and data.draw(st.integers(0, 3)) == 0
    }
    body = {
        name: repeated.get(name, some_value(schema["properties"][name]))
        for name in (*schema.get("required", ()), *chosen)
    }
    valid = validator(question.asked.__name__).is_valid(body)
    assert valid is not is_refused(question, body), body


@pytest.mark.parametrize("question", QUESTIONS.values(), ids=lambda q: q.id)
def test_every_example_keeps_the_rules(question: Any) -> None:
    """An example is valid by the document, in every respect."""
    assert not list(validator(question.asked.__name__).iter_errors(question.example))


@with_rules
def test_the_rules_are_told_in_words(question: Any) -> None:
    """The second paragraph of what a question is asked with has each rule, and a query points to it."""
    asked = DOCUMENT["components"]["schemas"][question.asked.__name__]
    _, rules = asked["description"].split("\n\n")
    for rule in presence_of(question.asked):
        assert rule.says in rules.replace("`", "")
    get = DOCUMENT["paths"][f"/v1/{question.id}"].get("get")
    assert get is None or "by the same rules" in get["description"]


def test_a_load_is_needed(post: Any, is_problem: Any) -> None:
    """The server says in words what the document has in keywords."""
    asked = {"layout": "1S1P", "cell_rating_a": 20}
    assert not validator("Assessment").is_valid(asked)
    problem = is_problem(post("/v1/assessment", asked), "outside-contract", 422)
    loads = ("coil_reading_ohm", "coil_resistance_ohm", "output_power_w")
    told = [(fault["pointer"], fault["code"]) for fault in problem["errors"]]
    assert told == [(f"/{load}", "missing") for load in loads]
    assert all(load in problem["detail"] for load in loads)
