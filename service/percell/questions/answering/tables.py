"""The printed tables: which question is asked over which grid. One TOML file a table."""

import tomllib
from bisect import bisect_left, bisect_right
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Annotated, Any

from msgspec import UNSET, Meta, Struct, convert, structs

from percell.questions.vocabulary.chemistry import BY_CHEMISTRY, Chemistry, preset
from percell.questions.vocabulary.fields import SAG
from percell.questions.vocabulary.read_fields import Reader, reader

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


class Rounding(StrEnum):
    """How a figure is rounded for print: to the side that is careful for its reader."""

    UP = "up"
    DOWN = "down"
    NEAREST = "nearest"
    WORD = "word"  # a word of the answer, which is not rounded


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


_READING = {
    "coil_resistance_tolerance_ohm",
    "meter_accuracy",
    "meter_counts",
    "lead_resistance_ohm",
}
# a table speaks for questions that agree with it in all that its figures depend on: not in these
_NO_EFFECT = {
    "direct-load": SAG | {"device_resistance_ohm", "meter_resolution_ohm"},
    "lowest-resistance": _READING | {"meter_resolution_ohm"},
    # with the cut-off under load, the sag is in the voltage already
    "converter-load": SAG,
    "highest-power": SAG,
    "needed-rating": SAG,
    # with the voltages alike, only the resistances' spread counts
    "sharing-spread": {
        "group_current_a",
        "cell_rating_a",
        "cell_resistance_ohm",
        "percentile",
        "draws",
        "seed",
    },
    "sharing-mismatch": {"group_current_a", "cell_rating_a"},
    "joining-pair": {"cell_capacity_ah", "cell_charge_limit_a"},
    # what is judged or counted beside the run; a converter has no use for the device's resistance
    "running-time": {
        "cell_rating_a",
        "sharing",
        "device_resistance_ohm",
        "draw_length_s",
        "pause_s",
        "standby_current_a",
    },
    "sag": {"open_circuit_voltage_v"},
    # without a current, which is the default, there is no sag
    "weak-cell-drift": {"cell_resistance_ohm"},
    "charging": {"layout", "charged_where", "cell_charge_limit_a", "cell_temperature_c"},
    "temperature-rise": {"stop_temperature_c"},
    "health": {"measured_resistance_ohm", "reference_resistance_ohm", "cell_temperature_c"},
}


@cache
def _rows(question_id: str, kind: type[Struct]) -> list[_Row]:
    return [
        _row(table, kind)
        for table in every_table().values()
        if table.question == question_id and table.rows.careful
    ]


def _row(table: Table, kind: type[Struct]) -> _Row:
    apart = {table.rows.field, *(axis.field for axis in table.columns)}
    # a printed mark is careful for every rating from the one it was judged by
    least = {name: table.fixed[name] for name in {"cell_rating_a"} & table.fixed.keys()}
    free = apart | least.keys() | _NO_EFFECT.get(table.question, set())
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


def row_link(question_id: str, question: Struct, kind: type[Struct]) -> str | None:
    """Return the link of the printed row nearest to a question on the careful side, if there is one."""
    for row in _rows(question_id, kind):
        if link := row.link(question):
            return link
    return None
