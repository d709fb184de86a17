"""How a log was read from a file: which column is what, in which unit, and with which marks and sign."""

from enum import StrEnum
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.questions.vocabulary.fields import whole


class Separator(StrEnum):
    """The separator of columns."""

    COMMA = "comma"
    SEMICOLON = "semicolon"
    TAB = "tab"


class DecimalMark(StrEnum):
    """The decimal mark of numbers."""

    POINT = "point"
    COMMA = "comma"


class ColumnReading(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A column of a file."""

    column: Annotated[str, Meta(max_length=1000, description="Name of the column in the file.")]
    unit: Annotated[str, Meta(max_length=40, description="Unit of the column in the file.")]
    certain: Annotated[
        bool,
        Meta(
            description="Whether the column and its unit were given or are certain from the file. If not, the log "
            "proves no rating."
        ),
    ]


class LogReading(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a log was read from a file. Check it."""

    time_column: Annotated[ColumnReading, Meta(description="Column read as the time.")]
    voltage_column: Annotated[ColumnReading, Meta(description="Column read as the voltage.")]
    current_column: Annotated[ColumnReading, Meta(description="Column read as the current.")]
    temperature_column: Annotated[
        ColumnReading | UnsetType,
        Meta(description="Column read as the temperature, if there is one."),
    ] = UNSET
    discharge_negative: Annotated[
        bool, Meta(description="Whether the file writes a discharge as a negative current.")
    ]
    separator: Annotated[Separator, Meta(description="Separator of the columns.")]
    decimal_mark: Annotated[DecimalMark, Meta(description="Decimal mark of the numbers.")]
    skipped_lines: Annotated[
        float,
        whole(
            0, 100, "Number of lines before the row of names, plus one for a row of units after it."
        ),
    ]
    ignored_columns: Annotated[
        list[Annotated[str, Meta(max_length=1000)]],
        Meta(max_length=500, description="Columns that were not used."),
    ]

    def __post_init__(self) -> None:
        """Write the whole number without a decimal point, as answers do."""
        structs.force_setattr(self, "skipped_lines", int(self.skipped_lines))

    @property
    def columns(self) -> dict[str, ColumnReading]:
        """Return the columns that were read, by what they are."""
        found = {
            "time": self.time_column,
            "voltage": self.voltage_column,
            "current": self.current_column,
            "temperature": self.temperature_column,
        }
        return {word: one for word, one in found.items() if one is not UNSET}

    @property
    def doubtful(self) -> list[str]:
        """Return in words what was guessed and may be something else."""
        return [word for word, one in self.columns.items() if not one.certain]
