"""The OpenAPI 3.1 document, made from the list of questions and their Structs.

This module describes no field: description, unit and bounds come from the Struct. It describes no
operation either: the module of its resource does.
"""

from collections.abc import Iterator
from functools import cache
from typing import Any

import msgspec

from percell import VERSION
from percell.questions.answering.question import Subject
from percell.questions.answering.tables import OwnTableAsked
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.labels import label_of, quantity_of
from percell.questions.worked_tables import OwnTable, PrintedTable
from percell.web import problems
from percell.web.batch import Batch, BatchAnswers, batch_operation, describe_items
from percell.web.describe_question import question_operations
from percell.web.health import ServiceHealth, health_operation
from percell.web.index import Index, index_operation
from percell.web.operations import CATALOGUES, MANY, REF
from percell.web.reference import Reference, reference_operation
from percell.web.reply import reply_operation
from percell.web.tables import TableList, table_operation, tables_operations

_DESCRIPTION = (
    "What does each cell of a small lithium-ion pack carry, and is that within its rating? "
    "These are planning estimates, not a permission. The manufacturer's instructions, local rules and a "
    "qualified battery engineer come first. Unsafe results are returned with status 200: check `attention` "
    "and `verdict`. Every answer has its working, its assumptions, its findings and the cautions. The "
    "service keeps nothing. Numbers are in SI units, named at the end of each field (`cell_current_a`). "
    "Ratios are from 0 to 1. If a key appears twice in a JSON object, the last value wins."
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
            "description": _DESCRIPTION,
            "contact": {"name": "The percell maintainers"},
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "servers": [{"url": "/", "description": "The host that served this document."}],
        "security": [],
        "tags": [
            *({"name": subject, "description": subject.meaning} for subject in Subject),
            {
                "name": MANY,
                "description": "Many questions in one request, tables, and texts to paste.",
            },
            {"name": CATALOGUES, "description": "What the API knows."},
        ],
        "paths": _paths(schemas),
        "components": {
            "schemas": schemas,
            "responses": {
                f"Problem{status}": {
                    "description": " / ".join(
                        kind.title for kind in problems.KINDS.values() if kind.status == status
                    ),
                    "content": {
                        problems.MEDIA.decode(): {"schema": {"$ref": REF.format(name="Problem")}}
                    },
                }
                # 405 belongs to methods that are not operations
                for status in sorted({kind.status for kind in problems.KINDS.values()} - {405, 500})
            },
            "headers": {
                "ETag": {
                    "description": "Tag of this answer. It changes when the answer changes.",
                    "required": True,
                    "schema": {"type": "string"},
                },
                "Cache-Control": {
                    "description": "How long a cache may keep the answer.",
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
    """Return that text in UTF-8."""
    return as_text().encode()


# the common end of every answer is described once, and no form or page shows it as a field
NOT_LABELLED = frozenset(
    {"question", "asked", "version", "findings", "links", "working", "assumptions", "cautions"}
)
_STRUCTS: tuple[Any, ...] = (
    problems.Problem,
    Batch,
    BatchAnswers,
    PrintedTable,
    OwnTableAsked,
    OwnTable,
    ServiceHealth,
    Index,
    Reference,
    TableList,
    *(struct for q in QUESTIONS.values() for struct in (q.asked, q.result, q.answered)),
)


def _schemas() -> dict[str, Any]:
    _, found = msgspec.json.schema_components(_STRUCTS, ref_template=REF)
    schemas = {name: _common(schema) for name, schema in sorted(found.items())}
    describe_items(schemas)
    for question in QUESTIONS.values():
        for struct in (question.asked, question.result):
            _label(schemas, struct.__name__)
        _extend(schemas, question.answered.__name__, question.result.__name__)
    return schemas


def _extend(schemas: dict[str, Any], name: str, base: str) -> None:
    """Describe a schema as another one with more fields."""
    whole, of_base = schemas[name], schemas[base]["properties"]
    schemas[name] = {
        "title": name,
        "description": whole["description"],
        "allOf": [
            {"$ref": REF.format(name=base)},
            {
                "type": "object",
                "properties": {n: s for n, s in whole["properties"].items() if n not in of_base},
                "required": [n for n in whole["required"] if n not in of_base],
            },
        ],
    }


def _label(schemas: dict[str, Any], name: str) -> None:
    """Give each field of a question or an answer its label, and each number its quantity."""
    for field, schema in schemas[name].get("properties", {}).items():
        if field in NOT_LABELLED or "x-label" in schema:
            continue
        schema["x-label"] = label_of(field)
        if "x-unit" in schema:
            schema["x-quantity"] = quantity_of(field)
        for inner in _named_in(schema):
            _label(schemas, inner)


def _named_in(schema: Any) -> Iterator[str]:
    """Yield the names of the schemas that a schema refers to."""
    if isinstance(schema, list):
        for part in schema:
            yield from _named_in(part)
    elif isinstance(schema, dict):
        if "$ref" in schema:
            yield schema["$ref"].rpartition("/")[2]
        for part in schema.values():
            yield from _named_in(part)


def _common(schema: Any) -> Any:
    """Return a schema in keywords that most tools know."""
    if isinstance(schema, list):
        return [_common(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    common = {name: _common(part) for name, part in schema.items()}
    if common.get("multipleOf") == 1:
        common["type"] = "integer"
        del common["multipleOf"]
        for bound in ("minimum", "maximum", "default"):
            if bound in common:
                common[bound] = int(common[bound])
    if "enum" in common and "type" not in common:
        common["type"] = "string"
        if len(common["enum"]) == 1:  # the name of a question in its answer
            (common["const"],) = common.pop("enum")
    return common


def _paths(schemas: dict[str, Any]) -> dict[str, Any]:
    return {
        "/v1": {"get": index_operation()},
        **{f"/v1/{q.id}": question_operations(q, schemas) for q in QUESTIONS.values()},
        "/v1/batch": {"post": batch_operation()},
        "/v1/tables": tables_operations(),
        "/v1/reply": {"get": reply_operation()},
        "/v1/tables/{table}": {"get": table_operation()},
        "/v1/reference": {"get": reference_operation()},
        "/healthz": {"get": health_operation()},
    }
