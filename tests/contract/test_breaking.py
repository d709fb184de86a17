"""The document keeps what the tagged one promised; and each way to break a promise is noticed."""

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from breaking import breaks

from percell.web.baseline import baseline

ROOT = Path(__file__).parents[2]
Part = dict[str, Any]


def test_v1_keeps_its_promises() -> None:
    """Nothing that a client of the tagged document relies on is gone: see "What may change" in the guide."""
    tagged = json.loads((ROOT / "openapi/baseline.json").read_bytes())
    assert breaks(tagged, json.loads(baseline())) == []


def test_the_document_does_not_break_itself() -> None:
    """Nothing is told of a document that did not change, which has no words that could."""
    now = json.loads(baseline())
    assert breaks(now, now) == []
    assert '"description":"' not in json.dumps(now, separators=(",", ":"))


BEFORE: Part = {
    "paths": {
        "/v1/ask": {
            "get": {
                "operationId": "get_ask",
                "parameters": [
                    {"name": "a", "in": "query", "schema": {"type": "number", "maximum": 5}},
                    {"$ref": "#/components/parameters/B"},
                ],
                "responses": {
                    "200": {
                        "headers": {"ETag": {}},
                        "content": {
                            "application/json": {"schema": {"$ref": "#/components/schemas/Answer"}}
                        },
                    },
                    "304": {},
                },
            },
            "post": {
                "operationId": "ask",
                "requestBody": {
                    "required": True,
                    "content": {
                        "application/json": {"schema": {"$ref": "#/components/schemas/Ask"}},
                        "text/csv": {"schema": {"type": "string"}},
                    },
                },
                "responses": {"200": {"$ref": "#/components/responses/Ok"}},
            },
        },
    },
    "components": {
        "parameters": {"B": {"name": "b", "in": "query", "schema": {"type": "string"}}},
        "responses": {
            "Ok": {
                "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Answer"}}}
            }
        },
        "schemas": {
            "Ask": {
                "type": "object",
                "properties": {
                    "a": {"$ref": "#/components/schemas/AmpereA"},
                    "b": {"type": "string", "maxLength": 6},
                    "c": {"anyOf": [{"$ref": "#/components/schemas/Word"}, {"type": "number"}]},
                    "list": {
                        "type": "array",
                        "items": {"type": "integer", "minimum": 0},
                        "maxItems": 9,
                    },
                },
                "required": ["a"],
                "allOf": [{"oneOf": [{"required": ["b"]}, {"required": ["c"]}]}],
            },
            "AmpereA": {"type": "number", "minimum": 0, "maximum": 5, "x-unit": "A"},
            "Word": {"type": "string", "enum": ["one", "two"]},
            "Spare": {"type": "object"},
            "SpareV": {"type": "number"},
            "Answer": {
                "allOf": [
                    {"$ref": "#/components/schemas/Result"},
                    {
                        "type": "object",
                        "properties": {"more": {"type": "string"}},
                        "required": ["more"],
                    },
                ]
            },
            "Result": {
                "type": "object",
                "properties": {
                    "question": {"type": "string", "const": "ask"},
                    "figure_a": {"type": "number", "x-unit": "A"},
                    "word": {"anyOf": [{"$ref": "#/components/schemas/Word"}, {"type": "string"}]},
                    "list": {"type": "array", "items": {"type": "number"}},
                    "by_name": {"type": "object", "additionalProperties": {"type": "number"}},
                },
                "required": ["question", "figure_a"],
            },
        },
    },
}


def changed(*place: Any, to: Any) -> Part:
    """Return the document with one part that is another; without it, if that is None."""
    after = copy.deepcopy(BEFORE)
    *way, last = place
    part: Any = after
    for step in way:
        part = part[step]
    if to is None:
        del part[last]
    elif isinstance(part, list) and last == len(part):
        part.append(to)
    else:
        part[last] = to
    return after


SCHEMAS = ("components", "schemas")
ASK = (*SCHEMAS, "Ask")
FIELDS = (*ASK, "properties")
RESULT = (*SCHEMAS, "Result")
SHOWN = (*RESULT, "properties")
GET = ("paths", "/v1/ask", "get")
POST = ("paths", "/v1/ask", "post")
MORE = {"name": "more", "in": "query", "schema": {"type": "number"}}

# each change with a part of what is told of it
BREAKS: dict[str, tuple[Part, str]] = {
    "a path": (changed("paths", "/v1/ask", to=None), "GET /v1/ask: removed"),
    "an operation": (changed(*GET, to=None), "GET /v1/ask: removed"),
    "an operation's name": (changed(*GET, "operationId", to="x"), "operationId is another"),
    "a parameter": (changed(*GET, "parameters", 1, to=MORE), "b: removed"),
    "a parameter that is needed": (
        changed(*GET, "parameters", 2, to=MORE | {"required": True}),
        "more: new and required",
    ),
    "a parameter needed from now on": (
        changed(*GET, "parameters", 0, "required", to=True),
        "a: now required",
    ),
    "a parameter's place": (changed(*GET, "parameters", 0, "in", to="header"), "in is another"),
    "a parameter's bound": (
        changed(*GET, "parameters", 0, "schema", "maximum", to=4),
        "maximum tightened",
    ),
    "a media type of a body": (
        changed(*POST, "requestBody", "content", "text/csv", to=None),
        "no text/csv",
    ),
    "a body": (
        changed(*GET, "requestBody", to={"required": True, "content": {}}),
        "body: now required",
    ),
    "a status": (changed(*GET, "responses", "304", to=None), "304: removed"),
    "a header": (changed(*GET, "responses", "200", "headers", "ETag", to=None), "ETag removed"),
    "a media type of an answer": (
        changed(*GET, "responses", "200", "content", to={"text/csv": {}}),
        "no application/json",
    ),
    "a class": (changed(*SCHEMAS, "Spare", to=None), "schema Spare: removed"),
    "a field of a body": (changed(*FIELDS, "b", to=None), "/b: removed"),
    "a field needed": (changed(*ASK, "required", to=["a", "b"]), "/b: now required"),
    "a lower bound": (changed(*SCHEMAS, "AmpereA", "minimum", to=1), "minimum tightened"),
    "an upper bound": (changed(*SCHEMAS, "AmpereA", "maximum", to=4), "maximum tightened"),
    "a new bound": (changed(*FIELDS, "b", "minLength", to=1), "minLength tightened"),
    "a shorter text": (changed(*FIELDS, "b", "maxLength", to=5), "maxLength tightened"),
    "a pattern": (changed(*FIELDS, "b", "pattern", to="^a"), "pattern is new"),
    "a unit of a body": (changed(*SCHEMAS, "AmpereA", "x-unit", to="mA"), "another unit"),
    "a type of a body": (changed(*SCHEMAS, "AmpereA", "type", to="string"), "another type"),
    "whole numbers only": (changed(*SCHEMAS, "AmpereA", "type", to="integer"), "another type"),
    "a word of a body": (changed(*SCHEMAS, "Word", "enum", to=["one"]), "form is not taken"),
    "words only": (changed(*FIELDS, "b", "enum", to=["x"]), "any text not allowed"),
    "a form of a body": (
        changed(*FIELDS, "c", to={"$ref": "#/components/schemas/Word"}),
        "form is not taken",
    ),
    "an entry's bound": (changed(*FIELDS, "list", "items", "minimum", to=1), "minimum tightened"),
    "a shorter list": (changed(*FIELDS, "list", "maxItems", to=8), "maxItems tightened"),
    "a rule": (changed(*ASK, "allOf", 1, to={"not": {"required": ["a", "b"]}}), "new rule"),
    "a choice of a rule": (
        changed(*ASK, "allOf", 0, to={"oneOf": [{"required": ["b"]}]}),
        "new rule",
    ),
    "no other fields": (changed(*ASK, "additionalProperties", to=False), "no other fields"),
    "a field of an answer": (changed(*SHOWN, "figure_a", to=None), "/figure_a: removed"),
    "a field that may be missing": (
        changed(*RESULT, "required", to=["question"]),
        "/figure_a: may now be left out",
    ),
    "a type of an answer": (changed(*SHOWN, "figure_a", "type", to="string"), "another type"),
    "a unit of an answer": (changed(*SHOWN, "figure_a", "x-unit", to="mA"), "another unit"),
    "a null": (
        changed(
            *SHOWN, "figure_a", to={"anyOf": [{"type": "number", "x-unit": "A"}, {"type": "null"}]}
        ),
        "a form of the answer is new",
    ),
    "a constant": (changed(*SHOWN, "question", "const", to="other"), "another constant"),
    "a type in a list": (
        changed(*SHOWN, "list", "items", "type", to="string"),
        "list/items: another type",
    ),
    "a type by name": (
        changed(*SHOWN, "by_name", "additionalProperties", "type", to="string"),
        "by_name/additionalProperties: another type",
    ),
    "a part of an answer": (changed(*SCHEMAS, "Answer", "allOf", 1, to={}), "/more: removed"),
}

ALLOWED: dict[str, Part] = {
    "a shared field less": changed(*SCHEMAS, "SpareV", to=None),
    "a new path": changed("paths", "/v1/more", to={}),
    "a new parameter": changed(*GET, "parameters", 2, to=MORE),
    "a new status": changed(*GET, "responses", "503", to={}),
    "a field that may be left out": changed(*FIELDS, "more", to={"type": "number"}),
    "a field no longer needed": changed(*ASK, "required", to=[]),
    "a wider bound": changed(*SCHEMAS, "AmpereA", "maximum", to=6),
    "a word more": changed(*SCHEMAS, "Word", "enum", to=["one", "two", "three"]),
    "a form more": changed(
        *FIELDS, "c", "anyOf", 2, to={"type": "array", "items": {"type": "number"}}
    ),
    "a choice more": changed(*ASK, "allOf", 0, "oneOf", 2, to={"required": ["list"]}),
    "a rule less": changed(*ASK, "allOf", to=[]),
    "a new figure": changed(*SHOWN, "new_a", to={"type": "number", "x-unit": "A"}),
    "a figure always there": changed(*RESULT, "required", to=["question", "figure_a", "list"]),
    "a whole number for a number": changed(*SHOWN, "figure_a", "type", to="integer"),
    "a field's schema where it is used": changed(
        *FIELDS, "a", to=BEFORE["components"]["schemas"]["AmpereA"]
    ),
}


@pytest.mark.parametrize("change", BREAKS)
def test_what_breaks_a_client_is_told(change: str) -> None:
    """Each of these may not happen within v1."""
    after, told = BREAKS[change]
    assert any(told in one for one in breaks(BEFORE, after)), breaks(BEFORE, after)


@pytest.mark.parametrize("change", ALLOWED)
def test_what_may_change_is_not_told(change: str) -> None:
    """Each of these may happen at any time."""
    assert breaks(BEFORE, ALLOWED[change]) == []


@pytest.mark.parametrize(
    ("place", "compare"),
    [(FIELDS, "no two any more"), (SHOWN, "no two any more")],
    ids=["asked", "answered"],
)
def test_forms_told_apart_by_a_word(place: tuple[Any, ...], compare: str) -> None:
    """A form more is allowed on either side, a form less is not."""

    def forms(*words: str) -> Callable[[Part], Part]:
        mapping = dict.fromkeys(words, "#/components/schemas/Word")
        choice = {"oneOf": [{"$ref": one} for one in mapping.values()]}

        def put(document: Part) -> Part:
            document = copy.deepcopy(document)
            part: Any = document
            for step in place:
                part = part[step]
            part["told"] = choice | {"discriminator": {"propertyName": "x", "mapping": mapping}}
            return document

        return put

    two, three = forms("one", "two")(BEFORE), forms("one", "two", "three")(BEFORE)
    assert breaks(two, three) == []
    assert any(compare in one for one in breaks(two, forms("one")(BEFORE)))
