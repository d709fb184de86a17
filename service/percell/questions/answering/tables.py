"""The printed tables: which question is asked over which grid. One TOML file a table."""

import tomllib
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Annotated, Any

from msgspec import Meta, Struct, convert, structs

from percell.questions.answering.headline import Rounding

PACKAGED = Path(__file__).parents[2] / "tables"
CHECKED_OUT = Path(__file__).parents[4] / "site" / "tables"


# a caller may ask for a grid of its own, so all of its parts have bounds
Text = Annotated[str, Meta(max_length=200)]
Values = Annotated[list[float | Text], Meta(min_length=1, max_length=200)]
Labels = Annotated[list[Text], Meta(max_length=200)]


class Careful(StrEnum):
    """The side on which a neighbouring row is the more careful one."""

    LOWER = "lower"
    HIGHER = "higher"


class Rows(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The field that changes from row to row."""

    field: Text
    heading: Text
    values: Values
    unit: Text = ""
    labels: Labels = []
    careful: Careful | None = None


class Columns(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A field that changes from column to column; a second one is nested in the first."""

    field: Text
    heading: Text
    values: Values
    unit: Text = ""
    labels: Labels = []


class Print(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A figure of the answer that a cell of the table shows; or a word, in the page's own words."""

    field: Text
    heading: Text
    round: Rounding
    unit: Text = ""
    # taken as a float, so that 2.0 is the integer 2 as JSON Schema has it; held as an integer
    decimals: Annotated[float, Meta(ge=0, le=6, multiple_of=1)] = 0
    # how many of the field's unit make one of the printed unit: 60 for minutes of a time in seconds
    per: Annotated[float, Meta(ge=1e-3, le=1e6)] = 1.0
    words: dict[Text, Text] = {}

    def __post_init__(self) -> None:
        structs.force_setattr(self, "decimals", int(self.decimals))
        if (self.round is Rounding.WORD) is not bool(self.words):
            raise ValueError(f"{self.field}: a word of the answer, and no number, has words")

    @property
    def column(self) -> str:
        """Name of the figure in its printed unit, as a file without units beside it needs it."""
        if self.per == 1:
            return self.field
        if self.unit == "%":
            return f"{self.field}_percent"  # a ratio's name has no unit to take off
        return f"{self.field.rpartition('_')[0]}_{self.unit}"


class Worked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The row and column that the page reads aloud as its example."""

    row: float | str
    columns: list[float | str]


class Chart(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The picture above a table: one printed figure over the rows, a line for some of the columns."""

    print: str
    columns: list[list[float | str]]
    says: str
    # equal steps up are equal factors: for lines that fall over several powers of ten
    logarithmic: bool = False


class GridAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One question over a grid: rows, one or two column axes, and what each cell prints."""

    question: Annotated[Text, Meta(description="The question that every cell asks.")]
    fixed: Annotated[dict[str, Any], Meta(description="What every cell asks alike.")] = {}
    rows: Rows
    columns: Annotated[list[Columns], Meta(min_length=1, max_length=2)]
    prints: Annotated[list[Print], Meta(min_length=1, max_length=10)]
    marked: Annotated[
        bool, Meta(description="Whether the cells carry a verdict against the rating.")
    ] = False


class Table(GridAsked, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One printed table."""

    id: str
    title: str
    # the topic under which the site lists it
    group: str
    sentence: str
    reading: str
    # what several figures of a cell have in common, for the caption; one figure names itself
    quantity: str = ""
    worked: Worked
    sources: list[str]
    description: str
    chart: Chart | None = None
    # of several figures in a cell, the one on this side is the more careful, and stands out
    stronger: Careful | None = None
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
