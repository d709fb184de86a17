"""The OpenAPI 3.1 document, made from the list of questions and their Structs.

Nothing about a field is said here: description, unit and bounds come from the Struct. What is put
right is where msgspec's JSON Schema and the document's readers differ.
"""

import json
from functools import cache
from typing import Any

import msgspec

from percell import VERSION
from percell.questions.answering.reply import Form, reply
from percell.questions.answering.tables import GridAsked, every_table
from percell.questions.grid import Grid, OwnGrid, grid
from percell.questions.registry import QUESTIONS, Question
from percell.web import ask_csv, problems, reference, tables
from percell.web.ask import STREAMS, Batch, BatchAnswers, answer_batch
from percell.web.ask import encode as to_json
from percell.web.health import ServiceHealth, health
from percell.web.reply import replying

_REF = "#/components/schemas/{name}"
_PROBLEM_MEDIA = problems.MEDIA.decode()
_SUMMARY = (
    "What does each cell of a small lithium-ion pack carry, and is that within its rating? "
    "Stateless: every answer comes with its working, its assumptions, what was found and the cautions. "
    "Numbers are SI with the unit in the name (`cell_current_a`); ratios are 0 to 1. A dangerous answer "
    "is still an answer and comes as 200 with its verdict. Where a name stands twice in one JSON object, "
    "the last one counts. These are estimates for planning, not a permission: the maker's "
    "instructions, local rules and a qualified battery engineer come first."
)


@cache
def document() -> dict[str, Any]:
    """Return the document."""
    schemas = _schemas()
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "percell",
            "version": VERSION,
            "summary": "Current of each cell in small lithium-ion packs.",
            "description": _SUMMARY,
            "contact": {"name": "The percell maintainers"},
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "servers": [{"url": "/", "description": "The host that served this document."}],
        "security": [],
        "tags": [
            {"name": "questions", "description": "One question, one answer."},
            {"name": "many", "description": "Many questions at once."},
            {"name": "catalogues", "description": "What the API knows."},
        ],
        "paths": _paths(schemas),
        "components": {
            "schemas": schemas,
            "responses": {
                f"Problem{status}": {
                    "description": " / ".join(
                        kind.title for kind in problems.KINDS.values() if kind.status == status
                    ),
                    "content": {_PROBLEM_MEDIA: {"schema": {"$ref": _REF.format(name="Problem")}}},
                }
                # no operation answers 405: that is for methods that are none
                for status in sorted({kind.status for kind in problems.KINDS.values()} - {405, 500})
            },
            "headers": {
                "ETag": {
                    "description": "Changes when the answer does.",
                    "required": True,
                    "schema": {"type": "string"},
                },
                "Cache-Control": {
                    "description": "How long the answer may be kept.",
                    "required": True,
                    "schema": {"type": "string"},
                },
            },
        },
    }


def as_text() -> str:
    """Return the document as the text that is committed and served."""
    return msgspec.json.format(msgspec.json.encode(document()), indent=1).decode() + "\n"


@cache
def as_bytes() -> bytes:
    """Return that text as it is sent."""
    return as_text().encode()


_KEPT = {
    "ETag": {"$ref": "#/components/headers/ETag"},
    "Cache-Control": {"$ref": "#/components/headers/Cache-Control"},
}
_NOT_MODIFIED = {
    "description": "The answer that the caller holds is still right.",
    "headers": _KEPT,
}


def _schemas() -> dict[str, Any]:
    kinds: list[Any] = [
        problems.Problem,
        Batch,
        BatchAnswers,
        Grid,
        GridAsked,
        OwnGrid,
        ServiceHealth,
    ]
    kinds += [reference.Reference, tables.TableList]
    for question in QUESTIONS.values():
        kinds += [question.asked, question.answered]
    _, found = msgspec.json.schema_components(kinds, ref_template=_REF)
    schemas = {name: _plain(schema) for name, schema in sorted(found.items())}
    # what stands in a batch is raw to msgspec, which keeps each item's fault its own
    schemas["Batch"]["properties"]["items"]["items"] = {
        "oneOf": [{"$ref": _REF.format(name=_item_name(q))} for q in QUESTIONS.values()],
        "discriminator": {
            "propertyName": "question",
            "mapping": {q.id: _REF.format(name=_item_name(q)) for q in QUESTIONS.values()},
        },
    }
    for question in QUESTIONS.values():
        schemas[_item_name(question)] = {
            "type": "object",
            "title": _item_name(question),
            "description": f"Asks {question.id} in a batch.",
            "properties": {
                "question": {"type": "string", "const": question.id},
                "ask": {"$ref": _REF.format(name=question.asked.__name__)},
            },
            "required": ["question", "ask"],
            "additionalProperties": False,
        }
    schemas["BatchAnswer"]["properties"]["answer"] = {
        "anyOf": [
            {"$ref": _REF.format(name=question.answered.__name__)}
            for question in QUESTIONS.values()
        ]
    }
    schemas["BatchAnswer"]["properties"]["problem"] = {"$ref": _REF.format(name="Problem")}
    return schemas


def _item_name(question: Question) -> str:
    return f"{question.asked.__name__}Item"


def _plain(schema: Any) -> Any:
    """Return a schema in the words that readers of the document know."""
    if isinstance(schema, list):
        return [_plain(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    plain = {name: _plain(part) for name, part in schema.items()}
    if plain.get("multipleOf") == 1:
        plain["type"] = "integer"
        del plain["multipleOf"]
        for bound in ("minimum", "maximum", "default"):
            if bound in plain:
                plain[bound] = int(plain[bound])
    if "enum" in plain and "type" not in plain:
        plain["type"] = "string"
    return plain


def _problems(*statuses: int) -> dict[str, Any]:
    return {str(s): {"$ref": f"#/components/responses/Problem{s}"} for s in statuses}


def _content(name: str, example: Any) -> dict[str, Any]:
    return {"application/json": {"schema": {"$ref": _REF.format(name=name)}, "example": example}}


def _builtins(answer: Any) -> Any:
    return json.loads(to_json(answer))


def _paths(schemas: dict[str, Any]) -> dict[str, Any]:
    paths = {f"/v1/{q.id}": _question_path(q, schemas) for q in QUESTIONS.values()}
    paths["/v1/batch"] = {"post": _batch_operation()}
    paths["/v1/tables"] = {
        "get": _catalogue("list_tables", "All printed tables", "TableList", tables.table_list()),
        "post": _own_grid_operation(),
    }
    paths["/v1/reply"] = {"get": _reply_operation()}
    first = next(iter(every_table()))
    table: dict[str, Any] = _catalogue("get_table", "One printed table", "Grid", grid(first))
    table["description"] = (
        "The whole grid, as JSON or, with the suffix .csv or Accept: text/csv, as CSV (RFC 4180)."
    )
    table["responses"]["200"]["content"]["text/csv"] = {
        "schema": {"type": "string"},
        "example": tables.as_csv(grid(first)).decode(),
    }
    table["responses"] |= _problems(400, 404, 422)
    table["parameters"] = [
        {
            "name": "table",
            "in": "path",
            "required": True,
            "description": "Id of the table, with or without the suffix .json or .csv.",
            "schema": {
                "type": "string",
                "enum": [f"{t}{suffix}" for t in every_table() for suffix in ("", ".json", ".csv")],
            },
        }
    ]
    paths["/v1/tables/{table}"] = {"get": table}
    paths["/v1/reference"] = {
        "get": _catalogue(
            "get_reference",
            "Rules, cautions, chemistries, problems",
            "Reference",
            reference.reference(),
        )
    }
    paths["/healthz"] = {
        "get": _catalogue(
            "get_service_health", "Whether the service is up", "ServiceHealth", health()
        )
    }
    return paths


def _catalogue(operation: str, summary: str, schema: str, example: Any) -> dict[str, Any]:
    return {
        "operationId": operation,
        "summary": summary,
        "description": f"{summary}.",
        "tags": ["catalogues"],
        "responses": {
            "200": {
                "description": summary,
                "headers": _KEPT,
                "content": _content(schema, _builtins(example)),
            },
            "304": _NOT_MODIFIED,
            **_problems(406),
        },
    }


def _question_path(question: Question, schemas: dict[str, Any]) -> dict[str, Any]:
    name = question.id.replace("-", "_")
    asked, answered = question.asked.__name__, question.answered.__name__
    example = _builtins(question.answer(msgspec.convert(question.example, question.asked)))
    about: dict[str, Any] = {
        "summary": question.title,
        "description": question.description,
        "tags": ["questions"],
    }
    path: dict[str, Any] = {
        "post": {
            "operationId": f"ask_{name}",
            **about,
            "requestBody": {"required": True, "content": _content(asked, question.example)},
            "responses": {
                "200": {"description": "The answer.", "content": _content(answered, example)},
                **_problems(400, 406, 413, 415, 422),
            },
        }
    }
    for media in STREAMS.get(question.id, ()):
        path["post"]["parameters"] = _parameters(question, schemas)
        path["post"]["description"] += (
            " As CSV the first row names the columns, rows are counted from 1 after it, and the other "
            "fields stand in the query; they may stand there with JSON too, whose own come first."
        )
        path["post"]["requestBody"]["content"][media.decode()] = {
            "schema": {"type": "string"},
            "example": ask_csv.EXAMPLE,
        }
    if question.has_query:
        path["get"] = {
            "operationId": f"get_{name}",
            **about,
            "description": question.description + _without_lists(asked, schemas),
            "parameters": _parameters(question, schemas),
            "responses": {
                "200": {
                    "description": "The answer.",
                    "headers": _KEPT,
                    "content": _content(answered, example),
                },
                "304": _NOT_MODIFIED,
                **_problems(400, 406, 422),
            },
        }
    return path


def _without_lists(asked: str, schemas: dict[str, Any]) -> str:
    """Say which fields a query cannot ask."""
    lists = [
        name
        for name, schema in schemas[asked]["properties"].items()
        if schema.get("type") == "array"
    ]
    named = " and ".join(f"`{name}`" for name in lists)
    return f" A query has no {named}: that list is for a body." if lists else ""


def _parameters(question: Question, schemas: dict[str, Any]) -> list[dict[str, Any]]:
    asked = schemas[question.asked.__name__]
    required = asked.get("required", [])
    parameters = []
    for name, schema in asked["properties"].items():
        if schema.get("type") == "array":
            continue  # a list has no form in a query; who has one asks by body
        forms = schema.get("anyOf", [schema])
        # a field that is a word or an object is the word in a query
        word = schema | forms[0]
        word.pop("anyOf", None)
        parameters.append(_parameter(name, word, question, required=name in required))
        if name not in required:  # what is required in one of two forms, a query has in the first
            for form in forms[1:]:
                parts = schemas[form["$ref"].rpartition("/")[2]]["properties"]
                parameters += [
                    _parameter(f"{name}.{part}", inner, question, instead_of=name)
                    for part, inner in parts.items()
                ]
    return parameters


def _parameter(
    name: str,
    schema: dict[str, Any],
    question: Question,
    *,
    required: bool = False,
    instead_of: str = "",
) -> dict[str, Any]:
    meaning = schema.get("description", "")
    if instead_of:
        meaning = f"Instead of the word `{instead_of}`, a part of its object. {meaning}"
        # a client that sends every default would say both the word and the part
        schema = {key: value for key, value in schema.items() if key != "default"}
    parameter = {
        "name": name,
        "in": "query",
        "required": required,
        "description": meaning,
        "schema": schema,
    }
    if name in question.example:
        parameter["example"] = question.example[name]
    return parameter


def _batch_operation() -> dict[str, Any]:
    asked = {"items": [{"question": q.id, "ask": q.example} for q in list(QUESTIONS.values())[1:3]]}
    return {
        "operationId": "ask_batch",
        "summary": "Many questions at once",
        "description": "Up to 1,000 questions; each is answered or fails on its own, in order.",
        "tags": ["many"],
        "requestBody": {"required": True, "content": _content("Batch", asked)},
        "responses": {
            "200": {
                "description": "An answer or a problem for each question.",
                "content": _content("BatchAnswers", _builtins(answer_batch(to_json(asked)))),
            },
            **_problems(400, 406, 413, 415, 422),
        },
    }


def _reply_operation() -> dict[str, Any]:
    question, headline = replying()["direct-load"]
    answer = question.answer(msgspec.convert(question.example, question.asked))
    text = reply(
        title=question.title,
        headline=headline,
        asked=question.example,
        answer=answer,
        form=Form.PLAIN,
        site="http://127.0.0.1:8000",
    )
    return {
        "operationId": "get_reply",
        "summary": "An answer as text to paste",
        "description": "Any question with a query form as a reply: its figure, two lines of working, the "
        "caution, and a link to the table row. The question's own fields stand beside these two.",
        "tags": ["many"],
        "parameters": [
            {
                "name": "question",
                "in": "query",
                "required": True,
                "description": "The question to ask.",
                "schema": {"type": "string", "enum": list(replying())},
                "example": question.id,
            },
            {
                "name": "format",
                "in": "query",
                "required": False,
                "description": "Markup of the text.",
                "schema": {
                    "type": "string",
                    "enum": [form.value for form in Form],
                    "default": Form.PLAIN.value,
                },
            },
            {
                "name": "fields",
                "in": "query",
                "required": False,
                "description": "The question's own fields, each under its own name.",
                "style": "form",
                "explode": True,
                "schema": {"type": "object", "additionalProperties": {"type": "string"}},
                "example": {name: str(value) for name, value in question.example.items()},
            },
        ],
        "responses": {
            "200": {
                "description": "The text.",
                "headers": _KEPT,
                "content": {"text/plain": {"schema": {"type": "string"}, "example": text}},
            },
            "304": _NOT_MODIFIED,
            **_problems(400, 406, 422),
        },
    }


def _own_grid_operation() -> dict[str, Any]:
    asked = {
        "question": "lowest-resistance",
        "fixed": {"meter_counts": 2},
        "rows": {
            "field": "cell_rating_a",
            "heading": "Cell rating",
            "unit": "A",
            "values": [15, 18],
        },
        "columns": [{"field": "layout", "heading": "Layout", "values": ["1S1P", "1S2P"]}],
        "prints": [
            {
                "field": "lowest_resistance_ohm",
                "heading": "Lowest resistance",
                "unit": "Ω",
                "decimals": 2,
                "round": "up",
            }
        ],
    }
    return {
        "operationId": "ask_own_table",
        "summary": "A table of your own",
        "description": "One question over a grid of your own, rounded to the side you name. Nothing is kept.",
        "tags": ["many"],
        "requestBody": {"required": True, "content": _content("GridAsked", asked)},
        "responses": {
            "200": {
                "description": "The grid.",
                "content": _content("OwnGrid", _builtins(tables.answer_own(to_json(asked)))),
            },
            **_problems(400, 406, 413, 415, 422),
        },
    }
