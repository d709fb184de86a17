"""What was typed into a form: tidied, read as the API reads it, and what is wrong with it."""

from collections.abc import Iterable
from typing import Any, NamedTuple
from urllib.parse import urlencode

import msgspec

from percell.questions.vocabulary.labels import lowered
from percell.questions.vocabulary.refusal import FaultCode
from percell.web.ask_pages.fields import (
    Asked,
    Field,
    Form,
    form_of,
    kinds_of,
    place_of,
    with_labels,
)
from percell.web.ask_pages.numbers import number_in, why_no_number, with_other_unit, with_point
from percell.web.problems import Failed, FieldError
from percell.web.query import names_of, pairs_of, read_query
from percell.web.translate import ERRORS, failed

Pairs = list[tuple[str, str]]
_TWO_LAYOUTS = "Two wirings were given, a picture and a text. Choose a picture, or “Another wiring” and a text."
_LAYOUT = "Write the cells in series, S, and the cells in parallel, P, up to 20 each, such as 2S1P."


class Fault(NamedTuple):
    """What is wrong: at a field or a list, or with all of it if there is no place in the form."""

    place: str
    label: str
    detail: str


class Read(NamedTuple):
    """A question as it was read, with the fields that were given."""

    asked: Any
    given: dict[str, Any]


def tidied(question: Asked, query: bytes) -> Pairs:
    """Return the names and values of a query without spaces around them, without fields left empty, and with decimal points.

    Raises:
        Failed: The query cannot be read.
    """
    form = form_of(question)
    fields, lists = form.fields, form.lists
    known = names_of(*kinds_of(question))
    pasted = {rows.pasted for rows in lists.values()}
    pairs = [
        # a spreadsheet leaves the first column of a line empty
        (name, typed if name in pasted and typed.strip() else _value(typed, fields.get(name)))
        for name, typed in pairs_of(query)
    ]
    found: Pairs = []
    done = set()
    for name, value in pairs:
        head = name.partition(".")[0]
        if name in fields and head in lists:
            if head not in done:
                done.add(head)
                found += _filled(
                    [one for one in pairs if one[0] in fields and one[0].startswith(f"{head}.")]
                )
        elif name in fields and fields[name].kind == "list":
            found += [(name, with_point(one)) for one in value.split()]
        elif value or name not in {*known.fields, *pasted}:
            found.append((name, value))
    return found


def _value(typed: str, field: Field | None) -> str:
    value = typed.strip()
    if value and field and field.kind in ("number", "whole"):
        return number_in(value, field.reads, field.bounds) or value
    # as people write it: 2S 1P
    return "".join(value.split()) if field and _is_layout(field) else value


def _is_layout(field: Field) -> bool:
    return field.name.rpartition(".")[2] == "layout"


def _filled(pairs: Pairs) -> Pairs:
    """Return the fields of a list without the entries in which nothing was typed, and without such fields."""
    columns: dict[str, list[str]] = {}
    for name, value in pairs:
        columns.setdefault(name, []).append(value)
    count = max(map(len, columns.values()))
    kept = [
        place
        for place in range(count)
        # an entry that lacks values is for the API to refuse
        if any(place >= len(column) or column[place] for column in columns.values())
    ]
    return [
        (name, column[place])
        for name, column in columns.items()
        if any(column)
        for place in kept
        if place < len(column)
    ]


def read(question: Asked, query: bytes) -> Read:
    """Return the question that a query asks.

    Raises:
        Failed: It asks none.
    """
    given = read_query(query, names_of(question.asked))
    try:
        return Read(msgspec.convert(given, question.asked, strict=False), given)
    except ERRORS as error:
        raise failed(error, question.asked, given) from None


def faults_of(question: Asked, failure: Failed, pairs: Pairs) -> list[Fault]:
    """Return what a problem document says is wrong with these values, with the labels of fields for their names."""
    form = form_of(question)
    errors: list[FieldError] = failure.members.get("errors", [])
    return [_fault(error, form, pairs) for error in errors] or [
        Fault("", "", with_labels(failure.detail, form.fields))
    ]


def _fault(error: FieldError, form: Form, pairs: Pairs) -> Fault:
    parts = error.pointer.removeprefix("/").split("/")
    places = [int(part) for part in parts if part.isdecimal()]
    name = ".".join(part for part in parts if not part.isdecimal())
    name = name.replace("~1", "/").replace("~0", "~")
    head = name.partition(".")[0]
    inner = (other.partition(".")[2] for other in form.fields if other.startswith(f"{head}."))
    detail = with_labels(error.detail, {*form.fields, *inner})
    rows = form.lists.get(head)
    number = f" {places[0] + 1}" if places else ""
    if name in form.fields:
        field = form.fields[name]
        label = field.label
        typed = [value for other, value in pairs if other == name]
        at = places[0] if places else 0
        is_number = field.kind in ("number", "whole", "list")
        if error.code is FaultCode.WRONG_TYPE and is_number and at < len(typed):
            detail = why_no_number(typed[at], field.reads)
        elif error.code is FaultCode.ABOVE and is_number and at < len(typed):
            other = with_other_unit(typed[at], field.reads, field.bounds)
            detail += f" If you mean {other}, write the unit too." if other else ""
        elif field.kind == "layout" and error.code is FaultCode.TWICE:
            detail = _TWO_LAYOUTS
        elif _is_layout(field) and error.code is not FaultCode.MISSING:
            detail = _LAYOUT
        elif field.kind == "choice" and error.code is FaultCode.NOT_ALLOWED:
            detail = f"Choose one: {', '.join(one.text for one in field.choices)}."
        if rows:
            row = places[0] if places else None
            return Fault(place_of(name, row), f"{rows.one}{number}: {lowered(label)}", detail)
        return Fault(place_of(name), f"{label}{number and f', number{number}'}", detail)
    if rows and name == head:
        return Fault(rows.id, f"{rows.one}{number}" if places else rows.label, detail)
    return Fault("", "", f"“{name}”: {detail}")


def together(faults: Iterable[Fault]) -> list[list[Fault]]:
    """Return faults with those together that one sentence tells: it names the fields of all of them."""
    found: dict[tuple[str, str], list[Fault]] = {}
    for fault in faults:
        named = f"“{fault.label}”" in fault.detail
        found.setdefault((fault.detail, "" if named else fault.place), []).append(fault)
    return list(found.values())


def as_query(pairs: Pairs) -> str:
    """Return names and values as a query string."""
    return urlencode(pairs)
