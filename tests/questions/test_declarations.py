"""What the questions declare: what an app may ask, the examples, and what a reply leads with."""

import inspect
import json
import sys
from pathlib import Path

import msgspec
import pytest

from percell.questions.registry import QUESTIONS

DOCUMENT = json.loads(
    (Path(__file__).resolve().parents[2] / "openapi/openapi.json").read_text("utf-8")
)
SCHEMAS = DOCUMENT["components"]["schemas"]
LIMITS = {
    *("minimum", "maximum", "minItems", "maxItems", "minLength", "maxLength"),
    *("enum", "required", "additionalProperties"),
}

# what each reply leads with for the example: the answer's figure, rounded by hand to its careful side
LEADS = {
    "assessment": "16.9 A",
    "pack": "30.0 A",
    "direct-load": "13.2 A",
    "converter-load": "16.9 A",
    "lowest-resistance": "0.170 Ω",
    "highest-power": "108.8 W",
    "needed-rating": "21.8 A",
    "needed-rating-for-coil": "13.5 A",
    "joining-pair": "2.5 A",
    "sharing-by-spread": "16.7 A",
    "sharing-by-mismatch": "17.0 A",
    "running-time": "16.7 min",
    "layouts": "3",
    "cell-sag": "1.05 V",
    "weak-cell-drift": "2.16 V",
    "charging": "141 min",
    "temperature-rise": "85 °C",
    "coil-from-wire": "0.505 Ω or more",
    "meter-reading": "0.1700 Ω",
    "internal-resistance": "0.0336 Ω",
    "cell-health": "84 % of the reference capacity",
    "label-check": "30.8 A",
}

# gathers what the parts of an assessment say, while they say it
GROWS = {"_Parts"}
# many of these go into one answer, but they hold lists
WITH_LISTS = {"Held", "UnequalGroupState", "_PrintedRow"}
# many of these go into one answer, but a limit and what is compared with it must not change places
STILL_BY_NAME = {"Limit"}


def structs():
    """Return every struct that a module of the questions declares."""
    return {
        found
        for name, module in list(sys.modules.items())
        if name.startswith("percell.questions.")
        for found in vars(module).values()
        if isinstance(found, type) and issubclass(found, msgspec.Struct)
        if found.__module__ == name
    }


every_struct = pytest.mark.parametrize("struct", sorted(structs(), key=lambda s: s.__qualname__))


def named(reference):
    """Return the part of the document that a reference names."""
    found = DOCUMENT
    for step in reference["$ref"].removeprefix("#/").split("/"):
        found = found[step]
    return found


def limits(schema, classes, at=""):
    """Yield what a schema says of numbers, lengths and names, with its place, but not of these classes."""
    if isinstance(schema, dict):
        name = schema.get("$ref", "").rpartition("/")[2]
        if name and name not in classes:
            schema = SCHEMAS[name]  # a field that several schemas share
    parts = enumerate(schema) if isinstance(schema, list) else schema.items()
    for key, part in parts:
        if key in LIMITS:
            yield f"{at}/{key}", sorted(part) if key == "enum" else part  # msgspec sorts words
        elif isinstance(part, dict | list):
            yield from limits(part, classes, f"{at}/{key}")


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_asked_as_the_document_says(question_id):
    """Bounds, defaults and what else may be asked are those that apps were told; defaults in words."""
    asked = QUESTIONS[question_id].asked
    _, schemas = msgspec.json.schema_components([asked], ref_template="#/components/schemas/{name}")
    assert asked.__name__ in schemas
    for name, schema in schemas.items():
        # which fields belong together is not in a Struct: test_presence.py
        told = {key: part for key, part in SCHEMAS[name].items() if key != "allOf"}
        assert dict(limits(schema, schemas)) == dict(limits(told, schemas))
        for field, one in schema.get("properties", {}).items():
            told = SCHEMAS[name]["properties"][field]
            told = SCHEMAS[told["$ref"].rpartition("/")[2]] if "$ref" in told else told
            if one.get("default"):
                assert " Default: " in told["description"]


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_the_example_is_the_documents(question_id):
    """The example of a question is the one that the document shows, and a query has it too."""
    path = DOCUMENT["paths"][f"/v1/{question_id}"]
    question = QUESTIONS[question_id]
    body = path["post"]["requestBody"]["content"]["application/json"]
    shared = body.get("examples", {}).get("example")
    assert question.example == (named(shared)["value"] if shared else body["example"])
    assert question.has_query == ("get" in path)


@pytest.mark.parametrize("question_id", LEADS)
def test_what_a_reply_leads_with(ask, question_id):
    """The figure of an example as a reply shows it, with the decimals that its reader can use."""
    question = QUESTIONS[question_id]
    figure = getattr(ask(question_id, **question.example), question.headline.field)
    assert question.headline.text(figure) == LEADS[question_id]


def test_every_headline_is_tried():
    """No reply is left out above."""
    assert LEADS.keys() == {name for name, question in QUESTIONS.items() if question.headline}


@every_struct
def test_no_struct_changes(struct):
    """What was asked or found cannot be changed by a later step, so no step can make it bolder."""
    assert struct.__struct_config__.frozen == (struct.__name__ not in GROWS)


@every_struct
def test_numbers_of_a_kind_are_made_by_name(struct):
    """Two numbers cannot change places unseen, but in the small structs of which many are made.

    Those are also left out of the search for cycles, which they cannot be part of.
    """
    kinds = {parameter.kind for parameter in inspect.signature(struct).parameters.values()}
    by_name = kinds == {inspect.Parameter.KEYWORD_ONLY}
    many = not struct.__struct_config__.gc and struct.__name__ not in STILL_BY_NAME
    assert by_name == (struct.__name__ not in WITH_LISTS | GROWS and not many)


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_no_base_takes_a_field_that_it_does_not_know(question_id):
    """A misspelled field is refused, and never passed over: its default might be bolder."""
    bases = [base for base in QUESTIONS[question_id].asked.__mro__ if base in structs()]
    assert bases
    assert all(base.__struct_config__.forbid_unknown_fields for base in bases)


def test_which_questions_take_their_time():
    """A server makes room for these: searches and draws, stories of cycles, and long logs."""
    assert {name for name, one in QUESTIONS.items() if one.slow} == {
        *("discharge-test", "matched-sets")
    }
    assert {name for name, one in QUESTIONS.items() if one.heavy} == {
        *("sharing-by-spread", "series-drift", "weak-cell-drift")
    }
    # ten megabytes of log
    assert {name: one.body_limit for name, one in QUESTIONS.items() if one.body_limit} == {
        "discharge-test": 10 * 1024 * 1024
    }


# the limits of each question, the one that it is about first: the contributor guide has the same table
@pytest.mark.parametrize("question_id", QUESTIONS)
def test_the_limits_of_a_question_are_those_of_its_answer(ask, question_id):
    """An example has each declared limit once, in the declared order, and no verdict without limits."""
    question = QUESTIONS[question_id]
    answer = ask(question_id, **question.example)
    assert len(set(question.limits)) == len(question.limits)
    if question.limits:
        assert tuple(one.name for one in answer.limits) == question.limits
    assert hasattr(answer, "verdict") is hasattr(answer, "limits") is bool(question.limits)
    assert answer.headline
    assert answer.attention


ASKED = ["question", "asked"]
SAID = ["version", "headline", "attention"]
LAST = ["findings", "links"]
BESIDE = ["working", "assumptions", "cautions"]


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_every_answer_has_one_order_and_the_document_requires_it(question_id):
    """An app can count on each common field, and reads them in the same order in every answer."""
    question = QUESTIONS[question_id]
    schemas = DOCUMENT["components"]["schemas"]
    common, own = schemas[question.result.__name__]["allOf"]
    every = named(common)
    beside = named(schemas[question.answered.__name__]["allOf"][1])
    judged = ["verdict", "limits"] if question.limits else []
    first = [*ASKED, *judged]
    assert list(own["properties"])[: len(first)] == first
    assert set(first) <= set(own["required"])
    assert list(every["properties"]) == every["required"] == [*SAID, *LAST]
    assert list(beside["properties"]) == beside["required"] == BESIDE
    answer = question.answer(msgspec.convert(question.example, question.asked))
    sent = list(msgspec.to_builtins(answer))
    figures = [name for name in own["properties"] if name not in ASKED]
    told = [*ASKED, *SAID, *figures, *LAST, *BESIDE]
    assert sent == [name for name in told if name in sent]
    assert msgspec.to_builtins(answer)["question"] == question_id
    assert own["properties"]["question"]["const"] == question_id
