"""The printed tables: which question they ask over which values. Each is one TOML file."""

import re
import tomllib
from collections.abc import Sequence
from enum import StrEnum
from functools import cache
from math import prod
from pathlib import Path
from typing import Annotated, Any

from msgspec import Meta, Struct, convert, structs

from percell.questions.answering.headline import Rounding
from percell.questions.vocabulary.limits import LimitSide
from percell.questions.vocabulary.verdict import Verdict

PACKAGED = Path(__file__).parents[2] / "tables"
CHECKED_OUT = Path(__file__).parents[4] / "site" / "tables"


# callers ask for their own tables, so every part has bounds
Text = Annotated[str, Meta(max_length=200)]
Values = Annotated[
    list[float | Text],
    Meta(min_length=1, max_length=200, description="Values of the field, one per row or column."),
]
Labels = Annotated[
    list[Text],
    Meta(max_length=200, description="Printed texts of the values, in place of value and unit."),
]
Field = Annotated[Text, Meta(description="Field of the question.")]
Heading = Annotated[Text, Meta(description="Printed heading.")]
Unit = Annotated[Text, Meta(description="Printed unit.")]


class CarefulSide(StrEnum):
    """Side on which a neighbouring row is more cautious."""

    LOWER = "lower"
    HIGHER = "higher"


class TableAxis(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Field that changes along a table."""

    field: Field
    heading: Heading
    values: Values
    unit: Unit = ""
    labels: Labels = []


class TableRowAxis(TableAxis, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Field that changes from row to row."""

    careful: Annotated[
        CarefulSide | None,
        Meta(description="Side on which a neighbouring row is more cautious."),
    ] = None


class TableColumnAxis(TableAxis, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Field that changes from column to column. A second one is nested in the first."""

    careful: Annotated[
        CarefulSide | None,
        Meta(description="Side on which a neighbouring column is more cautious."),
    ] = None


class TableMark(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Limit of a printed figure. Entries beyond it are marked, and each entry has a verdict."""

    value: Annotated[
        float | Text,
        Meta(description="Limit: a number, or a field of the question or its answer."),
    ]
    figure: Annotated[
        Text,
        Meta(
            description="Field of the question or its answer that is compared with the limit. "
            "Default: the printed figure."
        ),
    ] = ""
    bound: Annotated[LimitSide, Meta(description="Side of the limit that counts as within it.")] = (
        LimitSide.AT_MOST
    )
    near: Annotated[
        bool, Meta(description="Whether a figure close to the limit has little headroom.")
    ] = True
    origin: Annotated[
        float | Text,
        Meta(
            description="Value that the headroom counts from: a number, or a field of the question or its "
            "answer."
        ),
    ] = 0.0
    assumed: Annotated[
        bool,
        Meta(
            description="Whether the limit is assumed, or is not a limit of the cell, and so proves nothing. Entries within "
            "it are then not judged."
        ),
    ] = False
    says: Annotated[dict[Verdict, Text], Meta(description="Printed words, by verdict.")] = {}
    briefly: Annotated[
        dict[Verdict, Text],
        Meta(
            description="Words for the short reply about one entry, by verdict. Default: the printed words."
        ),
    ] = {}


class TablePrint(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A printed figure of the answer, or a word with its printed words."""

    field: Annotated[Text, Meta(description="Field of the answer that is printed.")]
    heading: Heading
    round: Annotated[Rounding, Meta(description="Rounding of the printed figure.")]
    unit: Unit = ""
    # a float, because 2.0 is an integer in JSON Schema; stored as an integer
    decimals: Annotated[
        float, Meta(ge=0, le=6, multiple_of=1, description="Decimals of the printed figure.")
    ] = 0
    per: Annotated[
        float,
        Meta(
            ge=1e-3,
            le=1e6,
            description="Number of the field's units in one printed unit, such as 60 for minutes of a time in "
            "seconds.",
        ),
    ] = 1.0
    on_page: Annotated[
        bool, Meta(description="Whether the page shows the figure. Files always show it.")
    ] = True
    words: Annotated[
        dict[Text, Text], Meta(description="Printed words, by the word in the answer.")
    ] = {}
    mark: Annotated[
        TableMark | None, Meta(description="Limit beyond which the figure is marked.")
    ] = None

    def __post_init__(self) -> None:
        structs.force_setattr(self, "decimals", int(self.decimals))
        if (self.round is Rounding.WORD) is not bool(self.words):
            raise ValueError(
                f"{self.field}: give words for a word in the answer, and none for a number"
            )

    @property
    def column(self) -> str:
        """Name of the figure with its printed unit, for files that show no unit."""
        if self.per == 1:
            return self.field
        if self.unit == "%":
            return f"{self.field}_percent"  # the name of a ratio ends in no unit
        return f"{self.field.rpartition('_')[0]}_{self.unit}"


class WorkedExample(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Row and column that the page uses as its example."""

    row: Annotated[float | str, Meta(description="Value of the row.")]
    columns: Annotated[list[float | str], Meta(description="Value of each column field.")]


class RatingMarks(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a figure of a table is marked for cells of other ratings."""

    print: Annotated[str, Meta(description="Printed figure that is compared with the rating.")]
    ratings: Annotated[list[float], Meta(description="The ratings, in A.")]
    says: Annotated[
        dict[Verdict, Text],
        Meta(description="Printed words, by verdict; `{rating}` stands for the rating."),
    ]


class TableChart(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Chart of a table: one printed figure by row, with a line for some columns."""

    print: Annotated[str, Meta(description="The figure, by its field.")]
    columns: Annotated[
        list[list[float | str]], Meta(description="The columns that have a line, by their values.")
    ]
    says: Annotated[str, Meta(description="What the chart shows, in words.")]
    up_to: Annotated[
        float | None,
        Meta(description="Last row of the chart, by its value. null if it shows all rows."),
    ] = None
    limit: Annotated[
        bool,
        Meta(description="Whether the limit of the marks has a line even if it is assumed."),
    ] = False
    logarithmic: Annotated[
        bool,
        Meta(
            description="Whether the scale is logarithmic, for lines that fall over several powers of ten."
        ),
    ] = False


class OwnTableAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A table of one question: rows, one or two column fields, and the printed figures."""

    question: Annotated[Text, Meta(description="Question that every entry asks.")]
    fixed: Annotated[
        dict[str, Any], Meta(description="Fields that are the same for every entry.")
    ] = {}
    rows_by: Annotated[TableRowAxis, Meta(description="Field that changes from row to row.")]
    columns_by: Annotated[
        list[TableColumnAxis],
        Meta(
            min_length=1,
            max_length=2,
            description="Field that changes from column to column, and one nested in it.",
        ),
    ]
    prints: Annotated[
        list[TablePrint],
        Meta(min_length=1, max_length=10, description="Figures that each entry shows."),
    ]


class Table(OwnTableAsked, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One printed table."""

    id: str
    title: str
    # the topic on the site
    group: str
    sentence: str
    # goes wherever a figure of the table goes
    caveat: str
    reading: str
    # one entry as a short text to paste: first what its figures hold for
    reply: str
    # the common name of several figures per cell, for the caption
    quantity: str = ""
    worked: WorkedExample
    sources: list[str]
    description: str
    chart: TableChart | None = None
    marks_by_rating: RatingMarks | None = None
    # whether a column stands for every layout of as many cells
    any_wiring: bool = False
    # fields that a question needs, or that have a default, and that change no figure of this table
    # fixed fields of which a higher value only makes the figures better: a row speaks for such questions too
    at_least: list[str] = []
    immaterial: list[str] = []
    order: int = 100

    @property
    def entry_pages(self) -> bool:
        """Whether each entry has a page: the pack decides which figure of a row is the reader's."""
        fields = {self.rows_by.field, *(axis.field for axis in self.columns_by)}
        entries = prod(len(axis.values) for axis in self.columns_by)
        return entries > 1 and not _PACK.isdisjoint(fields)

    def row_page(self, row: int) -> str:
        """Return the path of a row's page."""
        return f"/tables/{self.id}/{anchor(self.rows_by, row)}/"

    def entry_page(self, row: int, places: Sequence[int]) -> str:
        """Return the path of an entry's page, by the places of its column on the axes."""
        return f"{self.row_page(row)}{column_anchor(self.columns_by, places)}/"


# the fields that say how many cells share a load, and how
_PACK = {"layout", "parallel", "series"}


def label(axis: TableAxis, index: int) -> str:
    """Return the text of an axis value."""
    if axis.labels:
        return axis.labels[index]
    value = axis.values[index]
    text = value if isinstance(value, str) else f"{value:g}"
    return f"{text} {axis.unit}" if axis.unit else text


def anchor(rows: TableRowAxis, index: int) -> str:
    """Return the row's name in a link: its value and unit, as in ``25-a``."""
    value = rows.values[index]
    text = value if isinstance(value, str) else f"{value:g}"
    unit = rows.unit.replace("Ω", "ohm")
    return f"{text}-{unit}".strip("-").lower().replace(" ", "-")


def column_anchor(axes: list[TableColumnAxis], places: Sequence[int]) -> str:
    """Return the column's name in a link, as in ``3-2-v-2s2p``: a part for each axis.

    It has only letters, digits and hyphens. A part is the value with its
    unit, or its label if it has no unit.
    """
    parts = []
    for axis, place in zip(axes, places, strict=True):
        value = axis.values[place]
        text = (
            f"{value:g} {axis.unit}"
            if axis.unit and not isinstance(value, str)
            else label(axis, place)
        )
        parts.append(text.lower().replace("ω", "ohm").replace("%", " percent"))
    return "-".join(re.findall(r"[^\W_]+", " ".join(parts)))


@cache
def every_table() -> dict[str, Table]:
    """Read all tables, in the order of the site."""
    folder = PACKAGED if PACKAGED.is_dir() else CHECKED_OUT
    read = [
        convert(tomllib.loads(path.read_text("utf-8")) | {"id": path.stem}, Table)
        for path in folder.glob("*.toml")
    ]
    return {table.id: table for table in sorted(read, key=lambda t: (t.order, t.id))}
