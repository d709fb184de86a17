"""The printed entry nearest to a question, rounded toward caution, for the links of answers."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable
from functools import cache
from math import inf
from typing import Any

from msgspec import UNSET, Struct, structs

from percell.questions.answering.tables import (
    CarefulSide,
    Table,
    TableColumnAxis,
    every_table,
)
from percell.questions.vocabulary.chemistry import BY_CHEMISTRY, VOLTAGES, Chemistry, preset
from percell.questions.vocabulary.layout import Wiring, wiring
from percell.questions.vocabulary.read_fields import Reader, reader

# fields whose lower values make a mark stricter
_STRICTER_IF_LOWER = frozenset({"cell_capacity_ah", "open_circuit_voltage_v", "stop_temperature_c"})


class _PrintedRow(Struct, frozen=True):
    field: str
    values: list[float]
    names: list[str]  # of layouts, in place of values
    careful: CarefulSide | None
    page: Callable[[int], str]
    # leads further, to the page of an entry; none if only rows have pages
    entry: Callable[[int, tuple[int, ...]], str] | None
    columns: list["_Column"]
    # fields in which a question must hold one certain value, or one of several
    read: Reader
    values_read: tuple[Any, ...]
    among: dict[str, tuple[Any, ...]]
    least: dict[str, float]
    between: dict[str, tuple[float, float]]
    # those that have a column, or their numbers of cells; none if no axis is the layout
    layouts: frozenset[str]
    any_wiring: bool

    def link(self, question: Struct) -> str | None:
        """Return the page of the nearest entry toward caution, or of its row if that is all there is."""
        if not self._speaks_for(question):
            return None
        value = getattr(question, self.field)
        if value is UNSET:  # the question has it in another form, such as a coil's true resistance
            return None
        if self.names:
            text = wiring(value).text
            row = self.names.index(text) if text in self.names else None
        else:
            row = _nearest(self.values, value, self.careful)
        if row is None:
            return None
        places = [column.place(question) for column in self.columns]
        known = tuple(place for place in places if place is not None)
        if self.entry and len(known) == len(places):
            return self.entry(row, known)
        return self.page(row)

    def _speaks_for(self, question: Struct) -> bool:
        if self.read(question) != self.values_read:
            return False
        for name, values in self.among.items():
            if getattr(question, name) not in values:
                return False
        for name, least in self.least.items():
            value = getattr(question, name)
            if value is UNSET or value < least:
                return False
        for name, (low, high) in self.between.items():
            value = getattr(question, name)
            # if it is left to the chemistry, it is among the columns, because the chemistry is the same
            if value is not UNSET and not low <= value <= high:
                return False
        return not self.layouts or self._named(wiring(question.layout)) in self.layouts  # type: ignore[attr-defined] # a table by layouts

    def _named(self, wired: Wiring) -> str:
        return str(wired.cells) if self.any_wiring else wired.text


def _nearest(values: list[float], value: float, careful: CarefulSide | None) -> int | None:
    """Return the place of a value among rising ones: the nearest toward caution, if there is one."""
    if careful is CarefulSide.LOWER:
        at = bisect_right(values, value) - 1
    else:
        at = bisect_left(values, value)
    if not 0 <= at < len(values) or (careful is None and values[at] != value):
        return None
    return at


class _Column(Struct, frozen=True, kw_only=True):
    """How the column of a question is found on one axis."""

    field: str
    names: list[str]  # of words, in place of values
    values: list[float]  # rising
    places: list[int]  # of the values, on the axis
    careful: CarefulSide | None
    # the value that a question counts with if it does not give one
    unset: Any
    any_wiring: bool

    def place(self, question: Struct) -> int | None:
        value = getattr(question, self.field)
        if value is UNSET:
            value = self.unset
        if self.field == "layout":
            wired = wiring(value)
            value = str(wired.cells) if self.any_wiring else wired.text
        if self.names:
            return self.names.index(value) if value in self.names else None
        at = None if value is UNSET else _nearest(self.values, value, self.careful)
        return None if at is None else self.places[at]


def _column(table: Table, axis: TableColumnAxis) -> _Column:
    words = [value for value in axis.values if isinstance(value, str)]
    if axis.field == "layout" and table.any_wiring:
        words = [str(wiring(word).cells) for word in words]
    numbers = sorted((v, i) for i, v in enumerate(axis.values) if not isinstance(v, str))
    return _Column(
        field=axis.field,
        names=words,
        values=[value for value, _ in numbers],
        places=[place for _, place in numbers],
        careful=axis.careful,
        unset=_left_open(table, axis.field),
        any_wiring=table.any_wiring,
    )


def _left_open(table: Table, field: str) -> Any:
    """Return what a question counts with if it leaves a field open."""
    if field not in BY_CHEMISTRY or "chemistry" not in table.fixed:
        return UNSET
    chemistry = Chemistry(table.fixed["chemistry"])
    if field == "cell_cutoff_voltage_v" and table.prints[0].field == "running_time_s":
        return VOLTAGES[chemistry].time_cutoff_v  # a run is taken to end early, which is careful
    return preset(field, chemistry)[0]


@cache
def _rows(question_id: str, kind: type[Struct], no_effect: frozenset[str]) -> list[_PrintedRow]:
    found = [
        _row(table, kind, no_effect)
        for table in every_table().values()
        if table.question == question_id
        and (table.rows_by.careful or table.rows_by.field == "layout")
    ]
    # a row for the question's numbers says more than one for its layout
    return sorted(found, key=lambda row: bool(row.names))


def _row(table: Table, kind: type[Struct], no_effect: frozenset[str]) -> _PrintedRow:
    varied = {table.rows_by.field, *(axis.field for axis in table.columns_by)}
    # a printed mark is careful for every value at or above the one of the table
    only_in_marks = _STRICTER_IF_LOWER & no_effect - {*table.immaterial}
    held = {field.name: field.default for field in structs.fields(kind)} | table.fixed
    least = {
        name: held[name]
        for name in {"cell_rating_a", *only_in_marks, *table.at_least}
        if isinstance(held.get(name), int | float)
    }
    # a field without effect on the figures can still make a mark milder, unless the table says otherwise
    free = varied | least.keys() | {*table.immaterial} | (no_effect - table.fixed.keys())
    spoken_for = {
        field.name: _spoken_for(table, field)
        for field in structs.fields(kind)
        if field.name not in free
    }
    certain = {name: values[0] for name, values in spoken_for.items() if len(values) == 1}
    return _PrintedRow(
        table.rows_by.field,
        [value for value in table.rows_by.values if not isinstance(value, str)],
        [value for value in table.rows_by.values if isinstance(value, str)],
        table.rows_by.careful,
        cache(table.row_page),
        cache(table.entry_page) if table.entry_pages else None,
        [_column(table, axis) for axis in table.columns_by] if table.entry_pages else [],
        reader(tuple(certain)),
        tuple(certain.values()),
        {name: values for name, values in spoken_for.items() if name not in certain},
        least,
        {
            axis.field: _reach(axis)
            for axis in table.columns_by
            if not isinstance(axis.values[0], str)
        },
        frozenset(
            str(wired.cells) if table.any_wiring else wired.text
            for axis in table.columns_by
            if axis.field == "layout"
            for wired in map(wiring, map(str, axis.values))
        ),
        table.any_wiring,
    )


def _reach(axis: TableColumnAxis) -> tuple[float, float]:
    """Return the lowest and the highest value for which a reader finds a careful column."""
    numbers = [float(value) for value in axis.values]
    return (
        -inf if axis.careful is CarefulSide.HIGHER else min(numbers),
        inf if axis.careful is CarefulSide.LOWER else max(numbers),
    )


def _spoken_for(table: Table, field: structs.FieldInfo) -> tuple[Any, ...]:
    """Return the values of a field that the table covers."""
    if field.name in table.fixed:
        return (table.fixed[field.name],)
    if field.name in BY_CHEMISTRY:
        return (UNSET, preset(field.name, Chemistry(table.fixed["chemistry"]))[0])
    return (field.default,)


def row_link(
    question_id: str, asked: Struct, kind: type[Struct], no_effect: frozenset[str]
) -> str | None:
    """Return the page of the printed entry nearest to a question, toward caution.

    Args:
        question_id: The question whose tables to search.
        asked: The fields as asked. There may be more than the question has.
        kind: The question's own Struct.
        no_effect: The fields that change no printed figure of the question. A table covers what was
            asked if all other fields agree.
    """
    for row in _rows(question_id, kind, no_effect):
        if link := row.link(asked):
            return link
    return None
