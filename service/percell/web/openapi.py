"""The OpenAPI 3.1 document, made from the list of questions and their Structs.

This module describes no field: `schemas.py` has that from the Structs. It describes no operation either: the
module of its resource does.
"""

from functools import cache
from typing import Any

import msgspec
from msgspec import Struct

from percell import VERSION
from percell.questions.answering.question import Subject
from percell.questions.answering.tables import OwnTableAsked
from percell.questions.registry import QUESTIONS
from percell.questions.worked_tables import OwnTable, PrintedTable
from percell.web import problems
from percell.web.address import configured_contact
from percell.web.batch import Batch, BatchAnswers, batch_operation, describe_items
from percell.web.describe_forms import form_paths
from percell.web.describe_question import question_operations
from percell.web.faults import faults_in
from percell.web.health import ServiceHealth, health_operation
from percell.web.index import ApiIndex, index_operation
from percell.web.operations import CACHE_HEADERS, CATALOGUES, FORMS, MANY, REF, builtins
from percell.web.problems import failed_fields
from percell.web.reference import Reference, reference_operation
from percell.web.schemas import compose, schemas_of
from percell.web.shared_parts import share
from percell.web.tables import (
    TABLE_NAME,
    TableList,
    own_table_operation,
    table_operation,
    tables_operations,
)

_DESCRIPTION = (
    "What does each cell of a small lithium-ion pack carry, and is that within its rating? "
    "These are planning estimates, not a permission. The manufacturer's instructions, local rules and a "
    "qualified battery engineer come first. Unsafe results are returned with status 200: check `attention` "
    "and `verdict`. Every full answer has its working, its assumptions, its findings and the cautions. The "
    "service keeps nothing. Numbers are in SI units, named at the end of each field (`cell_current_a`). "
    "Ratios are from 0 to 1. If a key appears twice in a JSON object, the last value wins."
)


@cache
def document() -> dict[str, Any]:
    """Return the document."""
    schemas = _schemas()
    written = {
        "openapi": "3.1.0",
        "info": {
            "title": "percell",
            "version": VERSION,
            "summary": "Current of each cell in small lithium-ion packs.",
            "description": _DESCRIPTION,
            "contact": {"name": "The percell maintainers"} | _contact(),
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "servers": [
            {"url": "/", "description": "The host that served this document.", "x-internal": False}
        ],
        "security": [],
        "tags": [
            *({"name": subject, "description": subject.meaning} for subject in Subject),
            {
                "name": MANY,
                "description": "Many questions in one request, tables, and texts to paste.",
            },
            {"name": FORMS, "description": "Answers in short, as CSV and as text to paste."},
            {
                "name": CATALOGUES,
                "description": "Lists of questions, tables, rules, cautions, chemistries and problem types.",
            },
        ],
        "components": {
            "schemas": schemas,
            "responses": {
                "NotModified": {
                    "description": "The answer that you have is still right.",
                    "headers": CACHE_HEADERS,
                },
                "Problem503": {
                    "description": "Try again later. The service, or a proxy in front of it, cannot answer now.",
                },
            }
            | {
                f"Problem{status}": {
                    "description": " / ".join(
                        kind.title for kind in problems.KINDS.values() if kind.status == status
                    ),
                    "content": {
                        problems.MEDIA.decode(): {"schema": {"$ref": REF.format(name="Problem")}}
                        | _example_of_problem(status)
                    },
                }
                # 405 belongs to methods that are not operations
                for status in sorted(
                    {kind.status for kind in problems.KINDS.values()}
                    - {405}
                    - problems.BEFORE_ANY_PATH
                )
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
        # after the components that they refer to, which Brotli packs smaller by half a kilobyte
        "paths": _paths(schemas),
    }
    return share(written)


def _contact() -> dict[str, str]:
    contact = configured_contact()
    if contact.startswith("mailto:"):
        return {"email": contact.removeprefix("mailto:")}
    return {"url": contact} if contact else {}


# what is asked in the examples of problems: with text for a number, and beyond a bound
_FAULTY = {
    400: {"layout": "1S2P", "cell_rating_a": "20", "coil_readin_ohm": 0.2},
    422: {"layout": "1S2P", "cell_rating_a": 0, "coil_readin_ohm": 0.2},
}


def _example_of_problem(status: int) -> dict[str, Any]:
    if status not in _FAULTY:
        return {}
    failure = failed_fields(faults_in(_FAULTY[status], QUESTIONS["direct-load"].asked))
    return {"example": builtins(failure.problem("5f0c9a1e-2b"))}


@cache
def as_bytes() -> bytes:
    """Return the document as it is served: without a line break."""
    return msgspec.json.encode(document())


def as_text() -> str:
    """Return the document as it is committed: a line for each change to be seen on."""
    return msgspec.json.format(as_bytes(), indent=1).decode() + "\n"


_ASKED: list[type[Struct]] = [
    Batch,
    OwnTableAsked,
    *(q.asked for q in QUESTIONS.values()),
    # an answer repeats only what was given
    *(q.repeated for q in QUESTIONS.values() if q.repeated),
]
_ANSWERED: list[type[Struct]] = [
    problems.Problem,
    BatchAnswers,
    PrintedTable,
    OwnTable,
    ServiceHealth,
    ApiIndex,
    Reference,
    TableList,
    *(struct for q in QUESTIONS.values() for struct in (q.result, q.answered)),
]


def _schemas() -> dict[str, Any]:
    schemas = schemas_of(_ASKED, _ANSWERED) | {
        "NoSolutionCode": problems.NO_SOLUTION_CODE,
        "TableName": TABLE_NAME,
    }
    describe_items(schemas)
    compose(schemas, {q.answered.__name__: q.result.__name__ for q in QUESTIONS.values()})
    return schemas


def _paths(schemas: dict[str, Any]) -> dict[str, Any]:
    return {
        "/v1": {"get": index_operation()},
        **{f"/v1/{q.id}": question_operations(q, schemas) for q in QUESTIONS.values()},
        **form_paths(schemas),
        "/v1/batch": {"post": batch_operation()},
        "/v1/tables": tables_operations(),
        "/v1/tables.csv": {"post": own_table_operation(in_csv=True)},
        "/v1/tables/{table}": {"get": table_operation()},
        "/v1/tables/{table}.csv": {"get": table_operation(in_csv=True)},
        "/v1/reference": {"get": reference_operation()},
        "/healthz": {"get": health_operation()},
    }
