"""Turns what a question raises into a problem document."""

from collections.abc import Iterable
from typing import Any

import msgspec
from msgspec import Struct

from percell.physics.errors import NoSolution
from percell.questions.vocabulary.refusal import Fault, FaultCode, Refused
from percell.web.faults import faults_in, meant, nearest
from percell.web.problems import Failed, errors_of, failed_field, failed_fields

# what bad input makes a question raise; anything else is a defect and gives a 500
NO_ANSWER = (NoSolution, Refused)
ERRORS = (*NO_ANSWER, msgspec.MsgspecError, UnicodeDecodeError, RecursionError)

Given = bytes | msgspec.Raw | dict[str, Any]
# lists and objects of a body. No question takes as many; to look at more would hold up the other requests
_MOST_PARTS = 20_000


def failed(
    error: Exception,
    asked: Any,
    given: Given,
    *,
    at: str = "",
    beside: tuple[type[Struct], dict[str, Any]] | None = None,
    also: Iterable[Fault] = (),
) -> Failed:
    """Return the problem document of a question's error.

    Args:
        error: One of ``ERRORS``.
        asked: The type of what was asked.
        given: What was given for it: JSON, or the fields of a query.
        at: JSON pointer to the question, if it was part of a body.
        beside: The type and the fields of what the same query asks besides, to tell its faults too.
        also: Faults that the type does not know, to tell them before its own.
    """
    if isinstance(error, NO_ANSWER):
        return unanswered(error, at)
    by_query = isinstance(given, dict)
    if not isinstance(given, dict) and _parts_of(bytes(given)) > _MOST_PARTS:
        return Failed("unreadable-body", f"The body has more than {_MOST_PARTS} lists and objects.")
    try:
        fields = given if isinstance(given, dict) else msgspec.json.decode(given)
    except ERRORS as not_json:  # this counts before the content
        return _unreadable(not_json, by_query)
    if not isinstance(error, msgspec.ValidationError) or str(error).startswith("Number out of"):
        return _unreadable(error, by_query)
    found = faults_in(fields, asked, at, by_query=by_query)
    if beside:
        found += faults_in(beside[1], beside[0], by_query=True)
    # never empty, unless msgspec refuses what the second pass accepts: even that is no 500
    return failed_fields([*also, *(found or [Fault(at, f"{error}.", FaultCode.NOT_ALLOWED)])])


def _parts_of(body: bytes) -> int:
    return body.count(b"[") + body.count(b"{")


def unanswered(error: NoSolution | Refused, at: str = "") -> Failed:
    """Return the problem document of a question that has no answer, or that contradicts itself."""
    if isinstance(error, NoSolution):
        return Failed(
            "no-physical-answer", error.detail, code=error.code, numbers=dict(error.numbers)
        )
    faults = [fault._replace(pointer=at + fault.pointer) for fault in error.faults]
    return Failed("outside-contract", error.detail, errors=errors_of(faults))


def no_such_question(name: str, known: Iterable[str], pointer: str) -> Failed:
    """Return the problem document of a name that no question has."""
    close = nearest(name, known)
    detail = f"There is no question {name[:40]!r}.{meant(close)} Use one of: {', '.join(known)}."
    return failed_field(pointer, detail, FaultCode.NOT_ALLOWED, close)


def _unreadable(error: Exception, by_query: bool) -> Failed:
    kind = "unreadable-query" if by_query else "unreadable-body"
    if isinstance(error, UnicodeDecodeError):
        return Failed(kind, "The body is not UTF-8.")
    if isinstance(error, RecursionError):
        return Failed(kind, "The body is nested too deeply.")
    if str(error).startswith("Number out of range"):
        return Failed(kind, "A number is too large to read.")
    return Failed(kind, f"{str(error).removesuffix('.')}.")
