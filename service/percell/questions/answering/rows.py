"""The printed row that is nearest to a question on the careful side, for the links of answers."""

from bisect import bisect_left, bisect_right
from functools import cache
from typing import Any

from msgspec import UNSET, Struct, structs

from percell.questions.answering.tables import Careful, Table, anchor, every_table
from percell.questions.vocabulary.chemistry import BY_CHEMISTRY, Chemistry, preset
from percell.questions.vocabulary.read_fields import Reader, reader


class _Row(Struct, frozen=True):
    field: str
    values: list[float]
    careful: Careful | None
    links: list[str]
    # the fields in which a question must hold one certain value, and those with more than one to hold
    read: Reader
    values_read: tuple[Any, ...]
    among: dict[str, tuple[Any, ...]]
    least: dict[str, float]
    between: dict[str, tuple[float, float]]

    def link(self, question: Struct) -> str | None:
        """Return the link of the row nearest on the careful side."""
        if not self._speaks_for(question):
            return None
        value = getattr(question, self.field)
        index = (
            bisect_right(self.values, value) - 1
            if self.careful is Careful.LOWER
            else bisect_left(self.values, value)
        )
        return self.links[index] if 0 <= index < len(self.links) else None

    def _speaks_for(self, question: Struct) -> bool:
        if self.read(question) != self.values_read:
            return False
        for name, values in self.among.items():
            if getattr(question, name) not in values:
                return False
        for name, value in self.least.items():
            if getattr(question, name) < value:
                return False
        for name, (low, high) in self.between.items():
            value = getattr(question, name)
            # left to the chemistry it is among the columns, for the chemistry is the same
            if value is not UNSET and not low <= value <= high:
                return False
        return True


@cache
def _rows(question_id: str, kind: type[Struct], no_effect: frozenset[str]) -> list[_Row]:
    return [
        _row(table, kind, no_effect)
        for table in every_table().values()
        if table.question == question_id and table.rows.careful
    ]


def _row(table: Table, kind: type[Struct], no_effect: frozenset[str]) -> _Row:
    apart = {table.rows.field, *(axis.field for axis in table.columns)}
    # a printed mark is careful for every rating from the one it was judged by
    least = {name: table.fixed[name] for name in {"cell_rating_a"} & table.fixed.keys()}
    free = apart | least.keys() | no_effect
    spoken_for = {
        field.name: _spoken_for(table, field)
        for field in structs.fields(kind)
        if field.name not in free
    }
    certain = {name: values[0] for name, values in spoken_for.items() if len(values) == 1}
    return _Row(
        table.rows.field,
        [float(value) for value in table.rows.values],
        table.rows.careful,
        [f"/tables/{table.id}/#{anchor(table.rows, i)}" for i in range(len(table.rows.values))],
        reader(tuple(certain)),
        tuple(certain.values()),
        {name: values for name, values in spoken_for.items() if name not in certain},
        least,
        {
            axis.field: (min(numbers), max(numbers))
            for axis in table.columns
            if (numbers := [value for value in axis.values if not isinstance(value, str)])
        },
    )


def _spoken_for(table: Table, field: structs.FieldInfo) -> tuple[Any, ...]:
    """Return the values of a field with which a question is one that the table asks."""
    if field.name in table.fixed:
        return (table.fixed[field.name],)
    if field.name in BY_CHEMISTRY:
        return (UNSET, preset(field.name, Chemistry(table.fixed["chemistry"]))[0])
    return (field.default,)


def row_link(
    question_id: str, asked: Struct, kind: type[Struct], no_effect: frozenset[str]
) -> str | None:
    """Return the link of the printed row nearest to what was asked on the careful side.

    Args:
        question_id: The question whose tables are looked at.
        asked: What was asked; it has the fields of the question, and may have more.
        kind: The question's own Struct.
        no_effect: The fields on which no printed figure of the question depends: a table speaks for
            what was asked if it agrees with it in all others.
    """
    for row in _rows(question_id, kind, no_effect):
        if link := row.link(asked):
            return link
    return None
