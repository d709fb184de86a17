"""The printed tables: which question is asked over which grid. One TOML file a table."""

import tomllib
from bisect import bisect_left, bisect_right
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Any

from msgspec import Struct, convert

PACKAGED = Path(__file__).parents[1] / "tables"
CHECKED_OUT = Path(__file__).parents[3] / "site" / "tables"


class Careful(StrEnum):
    """The side on which a neighbouring row is the more careful one."""

    LOWER = "lower"
    HIGHER = "higher"


class Rounding(StrEnum):
    """How a figure is rounded for print: to the side that is careful for its reader."""

    UP = "up"
    DOWN = "down"
    NEAREST = "nearest"


class Rows(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The field that changes from row to row."""

    field: str
    heading: str
    values: list[float | str]
    unit: str = ""
    labels: list[str] = []
    careful: Careful | None = None


class Columns(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A field that changes from column to column; a second one is nested in the first."""

    field: str
    heading: str
    values: list[float | str]
    unit: str = ""
    labels: list[str] = []


class Print(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A figure of the answer that a cell of the table shows."""

    field: str
    heading: str
    unit: str
    decimals: int
    round: Rounding
    bold: bool = False


class Worked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The row and column that the page reads aloud as its example."""

    row: float | str
    columns: list[float | str]


class Table(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One table."""

    id: str
    title: str
    sentence: str
    reading: str
    question: str
    fixed: dict[str, Any]
    rows: Rows
    columns: list[Columns]
    prints: list[Print]
    worked: Worked
    sources: list[str]
    description: str
    marked: bool = False
    order: int = 100


def label(axis: Rows | Columns, index: int) -> str:
    """Return the text of a value of an axis."""
    if axis.labels:
        return axis.labels[index]
    value = axis.values[index]
    text = value if isinstance(value, str) else f"{value:g}"
    return f"{text} {axis.unit}" if axis.unit else text


def anchor(rows: Rows, index: int) -> str:
    """Return the row's name in a link: its value and unit, as in ``25-a``."""
    value = rows.values[index]
    text = value if isinstance(value, str) else f"{value:g}"
    unit = rows.unit.replace("Ω", "ohm")
    return f"{text}-{unit}".strip("-").lower().replace(" ", "-")


@cache
def every_table() -> dict[str, Table]:
    """Read all tables, in the order in which the site lists them."""
    folder = PACKAGED if PACKAGED.is_dir() else CHECKED_OUT
    read = [
        convert(tomllib.loads(path.read_text("utf-8")) | {"id": path.stem}, Table)
        for path in folder.glob("*.toml")
    ]
    return {table.id: table for table in sorted(read, key=lambda t: (t.order, t.id))}


class _Row(Struct, frozen=True):
    field: str
    values: list[float]
    careful: Careful
    links: list[str]
    fixed: dict[str, Any]

    def link(self, question: Struct) -> str | None:
        """Return the link of the row nearest on the careful side."""
        if any(getattr(question, name) != value for name, value in self.fixed.items()):
            return None
        value = getattr(question, self.field)
        index = (
            bisect_right(self.values, value) - 1
            if self.careful is Careful.LOWER
            else bisect_left(self.values, value)
        )
        return self.links[index] if 0 <= index < len(self.links) else None


# a table speaks for other questions than its own only where these agree
_MUST_AGREE = ("chemistry", "sharing", "cutoff_basis")


@cache
def _rows(question_id: str) -> list[_Row]:
    return [
        _Row(
            table.rows.field,
            [float(value) for value in table.rows.values],
            table.rows.careful,
            [f"/tables/{table.id}/#{anchor(table.rows, i)}" for i in range(len(table.rows.values))],
            {name: table.fixed[name] for name in _MUST_AGREE if name in table.fixed},
        )
        for table in every_table().values()
        if table.question == question_id and table.rows.careful
    ]


def row_link(question_id: str, question: Struct) -> str | None:
    """Return the link of the printed row nearest to a question on the careful side, if there is one."""
    for row in _rows(question_id):
        if link := row.link(question):
            return link
    return None
