"""A table of a caller's own: whether a question can be asked in this way, and its answers."""

from collections.abc import Iterator
from functools import cache
from math import prod
from typing import get_args, get_type_hints

from msgspec import Struct, ValidationError, convert

from percell.questions.answering.headline import Rounding
from percell.questions.answering.question import OverTable, Question
from percell.questions.answering.tables import (
    OwnTableAsked,
    TableAxis,
)
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.presence import refuse_by_presence
from percell.questions.vocabulary.refusal import Fault, Refused, RefusedAll
from percell.questions.worked_tables import OwnTable, worked_out


class InvalidTable(Exception):
    """The table does not fit its question, or the question does not take a value of it."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__()
        self.faults = faults  # of the table; none if only values are at fault


# other requests wait while the service calculates a caller's own table
MOST_ENTRIES = 2_000


def own_table(asked: OwnTableAsked) -> OwnTable:
    """Calculate a caller's own table.

    Raises:
        InvalidTable: The question, an axis, a print or a value does not fit, or the table is too large.
        Refused: The values contradict each other.
    """
    faults = [*question_faults(asked.question), *_axis_faults(asked)]
    if question := able_questions().get(asked.question):
        faults += [*_field_faults(asked, question), *_print_faults(asked, question)]
    if faults or not question:
        raise InvalidTable(faults)
    along_axes = _along_axes(asked, question)
    try:
        for one in along_axes:
            refuse_by_presence(one)
        return worked_out(asked, question)
    except Refused as refused:
        raise _placed(refused, asked, question) from None


@cache
def able_questions() -> dict[str, Question]:
    """Return the questions that a caller's own table can ask: a slow one would keep other requests waiting."""
    return {name: one for name, one in QUESTIONS.items() if one.table and not one.heavy}


def question_faults(name: str) -> list[Fault]:
    """Return the fault of a question that no table can ask."""
    able = able_questions()
    if name in able:
        return []
    return [Fault("/question", f"No table can ask this question. Use one of: {', '.join(able)}.")]


def axes_of(asked: OwnTableAsked) -> dict[str, TableAxis]:
    """Return each axis by the pointer to it."""
    return {"/rows_by": asked.rows_by} | {
        f"/columns_by/{i}": axis for i, axis in enumerate(asked.columns_by)
    }


def _placed(refused: Refused, asked: OwnTableAsked, question: Question) -> Refused:
    """Return the error with pointers to where the table holds the refused fields, or would hold them."""
    places = {name: f"/fixed/{name}" for name in question.asked.__struct_fields__}
    for where, axis in axes_of(asked).items():
        places[axis.field] = f"{where}/values"
    found: dict[str, Fault] = {}
    for fault in refused.faults:
        field, *rest = fault.pointer.removeprefix("/").split("/")
        place = places.get(field)  # none for what the table itself has
        if place:
            in_fixed = place.startswith("/fixed/")
            fault = fault._replace(pointer="/".join([place, *rest]) if in_fixed else place)
        found.setdefault(fault.pointer, fault)
    return RefusedAll(list(found.values()))


def _axis_faults(asked: OwnTableAsked) -> Iterator[Fault]:
    """Yield what is wrong with the axes whatever the question is."""
    cells = prod(len(axis.values) for axis in axes_of(asked).values())
    if cells > MOST_ENTRIES:
        yield Fault(
            "/rows_by/values", f"The table has {cells} entries. The limit is {MOST_ENTRIES}."
        )
    if len({axis.field for axis in axes_of(asked).values()}) <= len(asked.columns_by):
        yield Fault("/columns_by", "Use a different field for each axis.")
    for at, axis in axes_of(asked).items():
        if axis.labels and len(axis.labels) != len(axis.values):
            yield Fault(f"{at}/labels", "Give one label per value, or none.")
        if len(dict.fromkeys(type(value) for value in axis.values)) > 1:
            yield Fault(f"{at}/values", "Give only numbers or only words.")


def _field_faults(asked: OwnTableAsked, question: Question) -> Iterator[Fault]:
    """Yield the fields that cannot be an axis of the question."""
    known = question.asked.__struct_fields__
    for at, axis in axes_of(asked).items():
        if axis.field not in known or axis.field in asked.fixed:
            yield Fault(
                f"{at}/field",
                f"{axis.field!r} cannot be an axis: it is unknown, or already fixed.",
            )
            continue
        words = axis.field != "layout" and isinstance(axis.values[0], str)
        if words and question.table is not OverTable.CELL_BY_CELL:
            # other words choose the formula, which arrays cannot
            yield Fault(
                f"{at}/field",
                "Use layout or a field with numbers. Other fields with words cannot be an axis.",
            )


def _along_axes(asked: OwnTableAsked, question: Question) -> list[Struct]:
    """Return the question of each value of each axis, within its bounds: arrays are not checked later."""
    axes = axes_of(asked)
    first = {axis.field: axis.values[0] for axis in axes.values()}
    try:
        return [
            convert(asked.fixed | first | {axis.field: value}, question.asked)
            for axis in axes.values()
            for value in axis.values
        ]
    except ValidationError:
        raise InvalidTable([]) from None


@cache
def _numbers(kind: type[Struct]) -> frozenset[str]:
    """Return the number fields of an answer."""
    hints = get_type_hints(kind)
    return frozenset(name for name, hint in hints.items() if {float, int} & {hint, *get_args(hint)})


def _print_faults(asked: OwnTableAsked, question: Question) -> Iterator[Fault]:
    """Yield the figures that are not numbers in the question's answer."""
    numbers = _numbers(question.answered)
    for i, shown in enumerate(asked.prints):
        if shown.field not in numbers or shown.round is Rounding.WORD:
            yield Fault(f"/prints/{i}/field", f"{shown.field!r} is not a number in the answer.")
