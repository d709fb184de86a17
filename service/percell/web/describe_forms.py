"""How the OpenAPI document describes the other forms of all questions, and the upload of a log.

Each form is one path with the question in it. Which fields belong to which question, the question's own path says.
"""

from typing import Any

import msgspec

from percell.questions.answering.echo import given
from percell.questions.answering.reply import Markup
from percell.questions.bench.discharge_logs import DischargeLimits
from percell.questions.bench.discharge_test import QUESTION as DISCHARGE_TEST
from percell.questions.registry import QUESTIONS
from percell.web.answer_csv import line_of
from percell.web.ask_csv import EXAMPLE
from percell.web.batch import ANY_RESULT
from percell.web.csv_text import CSV, as_csv
from percell.web.describe_question import parameters_of
from percell.web.log_names import GivenColumns
from percell.web.operations import (
    ASKING_PROBLEMS,
    BODY_PROBLEMS,
    FORMS,
    REF,
    builtins,
    operation,
    text_content,
)
from percell.web.reply import TEXT, text_of

# schemas of the ids of all questions, and of those with a query form
_ANY = "QuestionName"
_BY_QUERY = "QuestionByQuery"
# the question whose answer is the example
_SHOWN = QUESTIONS["direct-load"]


def form_paths(schemas: dict[str, Any]) -> dict[str, Any]:
    """Return the paths of the other forms."""
    asked = msgspec.convert(_SHOWN.example, _SHOWN.asked)
    answer = _SHOWN.answer(asked, given(asked, _SHOWN.example))
    in_short = {
        "application/json": {
            "schema": {"$ref": REF.format(name=ANY_RESULT)},
            "example": builtins(_SHOWN.result_of(answer, notes=False)),
        }
    }
    fields = _fields(schemas)
    # named, so that a made client has one list of them and not one for each path
    for name, questions in (
        (_ANY, list(QUESTIONS.values())),
        (_BY_QUERY, [question for question in QUESTIONS.values() if question.has_query]),
    ):
        schemas[name] = {"type": "string", "enum": [question.id for question in questions]}
    of_them = "Use the same fields as for the question's own path."
    return {
        "/v1/short/{question}": {
            "post": operation(
                "ask_in_short",
                "An answer in short",
                "Answer without working, assumptions, notes and the list of cautions. Verdict, attention, headline, and "
                f"findings of cautions and warnings are always there. {of_them}",
                FORMS,
                parameters=[_question(_ANY)],
                body=_any_body(),
                answer="The answer in short.",
                content=in_short,
                problems=(404, *BODY_PROBLEMS),
            ),
            "get": operation(
                "get_in_short",
                "An answer in short",
                f"Answer in short, by query. {of_them}",
                FORMS,
                parameters=[_question(_BY_QUERY), *fields],
                answer="The answer in short.",
                content=in_short,
                problems=(404, *ASKING_PROBLEMS),
                cached=True,
            ),
        },
        "/v1/csv/{question}": {
            "get": operation(
                "get_as_csv",
                "An answer as CSV",
                "One line of names and one line of values, for spreadsheets: verdict, headline, figures, limits, conditions, "
                f"version and caution. {of_them}",
                FORMS,
                parameters=[_question(_BY_QUERY), *fields],
                answer="The answer as CSV.",
                content=text_content(CSV.decode(), as_csv([line_of(_SHOWN, answer)]).decode()),
                problems=(404, *ASKING_PROBLEMS),
                cached=True,
            )
        },
        "/v1/reply/{question}": {
            "get": operation(
                "get_reply",
                "An answer as text to paste",
                "Answer as text to paste: the headline, the findings, the last steps of working, the caution and a "
                f"link to the table row. {of_them}",
                FORMS,
                parameters=[_question(_BY_QUERY), _MARKUP, *fields],
                answer="The text.",
                content=text_content(TEXT.decode(), text_of(_SHOWN, answer, Markup.PLAIN, "")),
                problems=(404, *ASKING_PROBLEMS),
                cached=True,
            )
        },
        "/v1/discharge-test/log": {"post": _log_operation(schemas)},
    }


_MARKUP = {
    "name": "markup",
    "in": "query",
    "description": f"Markup of the text. Default: {Markup.PLAIN}.",
    "schema": {"type": "string", "enum": [one.value for one in Markup]},
}


def _question(names: str) -> dict[str, Any]:
    return {
        "name": "question",
        "in": "path",
        "required": True,
        "description": "Id of the question.",
        "schema": {"$ref": REF.format(name=names)},
        "example": _SHOWN.id,
    }


def _fields(schemas: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the fields of all questions. What one question requires, another may not have."""
    found: dict[str, dict[str, Any]] = {}
    for question in QUESTIONS.values():
        if question.has_query:
            for parameter in parameters_of(question.asked, schemas):
                parameter.pop("required", None)
                found.setdefault(parameter["name"], parameter)
    return list(found.values())


def _any_body() -> dict[str, Any]:
    asked = [{"$ref": REF.format(name=q.asked.__name__)} for q in QUESTIONS.values()]
    return {"application/json": {"schema": {"anyOf": asked}, "example": _SHOWN.example}}


def _log_operation(schemas: dict[str, Any]) -> dict[str, Any]:
    """Return the description of the upload of a log."""
    limits = parameters_of(DischargeLimits, schemas)
    return operation(
        "ask_discharge_test_log",
        f"{DISCHARGE_TEST.title}, as a file",
        "Send the log of one discharge as a CSV file. The file must have a row that names the columns. The rows after it "
        "are counted from 1. `read_as` in the answer shows what each column was read as. Name the columns in the query "
        "if their own names are not clear. The type of the body can also be `text/csv`.",
        DISCHARGE_TEST.subject,
        parameters=[*limits, *_columns()],
        # code generators know a body of bytes, but none of text/csv
        body={
            "application/octet-stream": {
                "schema": {"type": "string", "format": "binary"},
                "example": EXAMPLE,
            }
        },
        answer="The answer.",
        content={
            "application/json": {
                "schema": {"$ref": REF.format(name=DISCHARGE_TEST.answered.__name__)}
            }
        },
        problems=(*BODY_PROBLEMS, 414),  # names of columns stand in the query
    )


def _columns() -> list[dict[str, Any]]:
    """Return what a caller may say of the columns of a CSV file."""
    _, named = msgspec.json.schema_components([GivenColumns], ref_template=REF)
    fields = named["GivenColumns"]["properties"]
    return [
        {
            "name": name,
            "in": "query",
            "description": field.pop("description"),
            "schema": field,
        }
        for name, field in fields.items()
    ]
