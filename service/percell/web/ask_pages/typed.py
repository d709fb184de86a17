"""What was typed into a form: tidied, read as the API reads it, and what is wrong with it."""

import re
from collections.abc import Mapping
from typing import Any, NamedTuple
from urllib.parse import urlencode

import msgspec

from percell.questions.answering.question import Question
from percell.web.ask_pages.fields import Field, form_of, with_labels
from percell.web.problems import Failed, FieldError
from percell.web.query import names_of, pairs_of, read_query
from percell.web.translate import ERRORS, failed

Pairs = list[tuple[str, str]]
# a comma before one, two or more than three digits, or after a lone zero; "3,000" could be three or three thousand
_DECIMAL_COMMA = re.compile(r"([+-]?)(\d+),(\d{1,2}|\d{4,})|([+-]?)(0),(\d+)")


class Fault(NamedTuple):
    """What is wrong: at a field, or with all of it if there is no name."""

    name: str
    label: str
    detail: str


class Read(NamedTuple):
    """A question as it was read, with the fields that were given."""

    asked: Any
    given: dict[str, Any]


def tidied(question: Question, query: bytes) -> Pairs:
    """Return the names and values of a query without spaces around them, without fields left empty, and with decimal points.

    Raises:
        Failed: The query cannot be read.
    """
    fields = form_of(question).fields
    known = names_of(question.asked)
    found: Pairs = []
    for name, typed in pairs_of(query):
        value = typed.strip()
        if name in fields and fields[name].kind == "number":
            value = _with_point(value)
        # a list needs its empty places
        if value or name not in known.fields or fields[name].kind == "list":
            found.append((name, value))
    return found


def _with_point(value: str) -> str:
    whole = _DECIMAL_COMMA.fullmatch(value)
    return value.replace(",", ".") if whole else value


def read(question: Question, query: bytes) -> Read:
    """Return the question that a query asks.

    Raises:
        Failed: It asks none.
    """
    given = read_query(query, names_of(question.asked))
    try:
        return Read(msgspec.convert(given, question.asked, strict=False), given)
    except ERRORS as error:
        raise failed(error, question.asked, given) from None


def faults_of(question: Question, failure: Failed) -> list[Fault]:
    """Return what a problem document says is wrong, with the labels of fields for their names."""
    fields = form_of(question).fields
    errors: list[FieldError] = failure.members.get("errors", [])
    return [_fault(error, fields) for error in errors] or [
        Fault("", "", with_labels(failure.detail, fields))
    ]


def _fault(error: FieldError, fields: Mapping[str, Field]) -> Fault:
    name = error.pointer.removeprefix("/").replace("/", ".").replace("~1", "/").replace("~0", "~")
    detail = with_labels(error.detail, fields)
    if name in fields:
        return Fault(name, fields[name].label, detail)
    return Fault("", "", f"“{name}”: {detail}")


def as_query(pairs: Pairs) -> str:
    """Return names and values as a query string."""
    return urlencode(pairs)
