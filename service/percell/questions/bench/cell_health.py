"""How much of a cell is left, compared with when it was new or with its label?"""

from enum import StrEnum
from typing import Annotated, Any, ClassVar

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import resistance
from percell.physics.meter import NOISE
from percell.physics.types import Number
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.bench import rules
from percell.questions.bench.internal_resistance import measured_cold_or_warm
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure, quantity
from percell.questions.vocabulary.presence import Needs, Presence
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.wording import beside, given, shown


class HealthMark(StrEnum):
    """A cell compared with the usual mark for retiring it."""

    MORE = "more_than_reference"
    ABOVE = "above_mark"
    REACHED = "mark_reached"


_BOTH = "Give measured_resistance_ohm and reference_resistance_ohm together, or neither."


class CellHealth(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Measurements of a cell now, and when it was new or as printed on it."""

    presence: ClassVar[tuple[Presence, ...]] = (
        Needs(("measured_resistance_ohm",), "reference_resistance_ohm", _BOTH),
        Needs(("reference_resistance_ohm",), "measured_resistance_ohm", _BOTH),
    )
    measured_capacity_ah: Annotated[
        float, quantity("Ah", 0, 100, "Capacity measured now, in a whole discharge.")
    ]
    reference_capacity_ah: Annotated[
        float,
        quantity(
            "Ah",
            0.01,
            100,
            "Capacity when first measured. If it was never measured, the printed one.",
        ),
    ]
    measured_resistance_ohm: fields.MeasuredResistanceOhm | UnsetType = UNSET
    reference_resistance_ohm: fields.ReferenceResistanceOhm | UnsetType = UNSET
    cell_temperature_c: fields.CellTemperatureC | UnsetType = UNSET


class CellHealthFigures(Struct, frozen=True, gc=False):
    """State of health by capacity."""

    cell_health: Annotated[
        float, figure("1", "State of health: measured capacity divided by the reference capacity.")
    ]
    capacity_at_mark_ah: Annotated[
        float,
        figure("Ah", "Capacity at which a cell is usually retired, four fifths of the reference."),
    ]
    health_mark: Annotated[
        HealthMark,
        Meta(
            description="Capacity compared with the mark. `mark_reached`: at or below it. `more_than_reference`: check "
            "the reading. The mark is a habit of the trade, not a safety limit."
        ),
    ]


class CellHealthDetails(Struct, frozen=True, kw_only=True):
    """Rise of the resistance, if it was measured."""

    resistance_ratio: Annotated[
        float | UnsetType, figure("1", "Measured resistance divided by the reference resistance.")
    ] = UNSET


def _marks(health: Number) -> Any:
    """Return the mark of a state of health; for an array, an array of texts."""
    word = np.where(
        health <= resistance.RETIRED_CAPACITY * (1 + NOISE),
        HealthMark.REACHED.value,
        np.where(health > 1 + NOISE, HealthMark.MORE.value, HealthMark.ABOVE.value),
    )
    return word if isinstance(health, np.ndarray) else HealthMark(str(word))


def figures(asked: CellHealth) -> CellHealthFigures:
    """Calculate the figures of one question, or of a whole table."""
    health = resistance.health(
        measured=asked.measured_capacity_ah, reference=asked.reference_capacity_ah
    )
    return CellHealthFigures(
        cell_health=health,
        capacity_at_mark_ah=resistance.RETIRED_CAPACITY * asked.reference_capacity_ah,
        health_mark=_marks(health),
    )


def _findings(asked: CellHealth, got: CellHealthFigures, ratio: float | UnsetType) -> list[Finding]:
    found = []
    if got.health_mark is HealthMark.REACHED:
        found.append(
            finding(
                rules.CAPACITY_FELL,
                f"The cell has {beside(asked.measured_capacity_ah, got.capacity_at_mark_ah)} Ah left of "
                f"{given(asked.reference_capacity_ah)} Ah. Cells are usually retired at "
                f"{given(got.capacity_at_mark_ah)} Ah.",
            )
        )
    if ratio is not UNSET and ratio >= resistance.RETIRED_RESISTANCE * (1 - NOISE):
        found.append(
            finding(
                rules.RESISTANCE_ROSE,
                f"The resistance is {shown(ratio)} times the reference resistance.",
            )
        )
    if got.health_mark is HealthMark.MORE:
        found.append(
            finding(
                rules.ABOVE_REFERENCE,
                f"Measure again: {beside(asked.measured_capacity_ah, asked.reference_capacity_ah)} Ah is more than "
                f"the reference capacity of {given(asked.reference_capacity_ah)} Ah.",
            )
        )
    return found + measured_cold_or_warm(asked.cell_temperature_c)


def _resistance_ratio(asked: CellHealth) -> float | UnsetType:
    """Return the ratio of the resistances, if both are given."""
    now_ohm, new_ohm = asked.measured_resistance_ohm, asked.reference_resistance_ohm
    if now_ohm is UNSET or new_ohm is UNSET:
        return UNSET
    return float(resistance.health(measured=now_ohm, reference=new_ohm))


def explain(asked: CellHealth) -> Explained[CellHealthFigures]:
    """Answer for one cell."""
    got = figures(asked)
    ratio = _resistance_ratio(asked)
    working = [
        WorkingStep(
            "State of health by capacity",
            "Q / Q_new",
            f"{asked.measured_capacity_ah:.4g} Ah / {asked.reference_capacity_ah:.4g} Ah",
            got.cell_health,
            "1",
        ),
        WorkingStep(
            "Capacity at which a cell is usually retired",
            f"{resistance.RETIRED_CAPACITY:g} · Q_new",
            f"{resistance.RETIRED_CAPACITY:g} × {asked.reference_capacity_ah:.4g} Ah",
            got.capacity_at_mark_ah,
            "Ah",
        ),
    ]
    if ratio is not UNSET:
        with_numbers = (
            f"{asked.measured_resistance_ohm:.4g} Ω / {asked.reference_resistance_ohm:.4g} Ω"
        )
        working.append(
            WorkingStep(
                "Resistance divided by the reference", "R / R_new", with_numbers, ratio, "1"
            )
        )
    return Explained(
        figures=got,
        also=CellHealthDetails(resistance_ratio=ratio),
        working=working,
        findings=_findings(asked, got, ratio),
    )


QUESTION = Question(
    id="cell-health",
    subject=Subject.BENCH,
    title="State of health of a cell",
    description="Capacity and resistance of a cell compared with those when new, and the usual mark for "
    "retiring it.",
    asked=CellHealth,
    shows=CellHealthFigures,
    also=CellHealthDetails,
    explain=explain,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=frozenset(
        {"measured_resistance_ohm", "reference_resistance_ohm", "cell_temperature_c"}
    ),
    headline=Headline(
        field="cell_health",
        says="The cell holds",
        unit="% of the reference capacity",
        decimals=0,
        round=Rounding.DOWN,
        per=0.01,
    ),
    example={
        "measured_capacity_ah": 2.52,
        "reference_capacity_ah": 3.0,
        "measured_resistance_ohm": 0.031,
        "reference_resistance_ohm": 0.022,
        "cell_temperature_c": 21,
    },
)
