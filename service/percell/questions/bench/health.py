"""How much of a cell is left, against what it was when new or what is printed on it?"""

from enum import StrEnum
from typing import Annotated

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics import resistance
from percell.physics.meter import NOISE
from percell.physics.types import Number
from percell.questions.answering import envelope
from percell.questions.answering.envelope import Step, assumptions, links
from percell.questions.bench.internal_resistance import measured_cold_or_warm
from percell.questions.vocabulary import rules
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.questions.vocabulary.fields import figure, quantity
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.wording import beside, given


class Mark(StrEnum):
    """The cell against the usual mark for retiring it."""

    MORE = "more_than_reference"
    ABOVE = "above_mark"
    REACHED = "mark_reached"


class CellHealth(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a cell measures now, and what it measured when new or has printed on it."""

    measured_capacity_ah: Annotated[
        float, quantity("Ah", 0, 100, "Capacity as measured now, in a whole discharge.")
    ]
    reference_capacity_ah: Annotated[
        float,
        quantity(
            "Ah", 0.01, 100, "Capacity of the first measurement; or, for want of it, printed."
        ),
    ]
    measured_resistance_ohm: (
        Annotated[float, quantity("ohm", 0, 10, "Internal d.c. resistance as measured now.")]
        | UnsetType
    ) = UNSET
    reference_resistance_ohm: (
        Annotated[
            float,
            quantity(
                "ohm", 0.0001, 10, "The same when first measured, by the same method and loads."
            ),
        ]
        | UnsetType
    ) = UNSET
    cell_temperature_c: (
        Annotated[float, quantity("°C", -40, 100, "Temperature of the cell when it was measured.")]
        | UnsetType
    ) = UNSET


class HealthFigures(Struct, frozen=True, gc=False):
    """State of health by capacity."""

    cell_health: Annotated[
        float, figure("1", "State of health: measured capacity over that of the reference.")
    ]
    capacity_at_mark_ah: Annotated[
        float, figure("Ah", "Capacity at which a cell is usually retired, four fifths.")
    ]
    mark: Annotated[
        Mark,
        Meta(
            description="The capacity against that mark: mark_reached at or below it, "
            "more_than_reference for a reading to check. A habit of the trade, and no limit of hazard."
        ),
    ]


class HealthAnswer(HealthFigures, frozen=True, kw_only=True):
    """The figures, with what they rest on."""

    resistance_ratio: Annotated[
        float | UnsetType, figure("1", "Measured resistance over that of the reference.")
    ] = UNSET
    working: envelope.Working
    assumptions: envelope.Assumptions
    findings: envelope.Findings
    cautions: envelope.Cautions = CAUTIONS
    links: envelope.Links


def _marks(health: Number) -> Number:
    """Return the mark of one state of health, or of an array of them as texts."""
    word = np.where(
        health <= resistance.RETIRED_CAPACITY * (1 + NOISE),
        Mark.REACHED.value,
        np.where(health > 1 + NOISE, Mark.MORE.value, Mark.ABOVE.value),
    )
    return word if isinstance(health, np.ndarray) else Mark(str(word))


def figures(asked: CellHealth) -> HealthFigures:
    """Work out the numbers of one question, or of a whole grid of them."""
    health = resistance.health(
        measured=asked.measured_capacity_ah, reference=asked.reference_capacity_ah
    )
    return HealthFigures(
        cell_health=health,
        capacity_at_mark_ah=resistance.RETIRED_CAPACITY * asked.reference_capacity_ah,
        mark=_marks(health),
    )


def _findings(asked: CellHealth, got: HealthFigures, ratio: float | UnsetType) -> list[Finding]:
    found = []
    if got.mark is Mark.REACHED:
        found.append(
            finding(
                rules.CAPACITY_FELL,
                f"{beside(asked.measured_capacity_ah, got.capacity_at_mark_ah)} Ah of "
                f"{given(asked.reference_capacity_ah)} Ah are left; the usual mark for retiring a cell is at "
                f"{given(got.capacity_at_mark_ah)} Ah.",
            )
        )
    if ratio is not UNSET and ratio >= resistance.RETIRED_RESISTANCE * (1 - NOISE):
        found.append(
            finding(
                rules.RESISTANCE_ROSE, f"The resistance is {ratio:.3g} times that of the reference."
            )
        )
    if got.mark is Mark.MORE:
        found.append(
            finding(
                rules.ABOVE_REFERENCE,
                f"{beside(asked.measured_capacity_ah, asked.reference_capacity_ah)} Ah were measured, more than the "
                f"{given(asked.reference_capacity_ah)} Ah of the reference.",
            )
        )
    return found + measured_cold_or_warm(asked.cell_temperature_c)


def answer(asked: CellHealth) -> HealthAnswer:
    """Answer for one cell."""
    now_ohm, new_ohm = asked.measured_resistance_ohm, asked.reference_resistance_ohm
    got = figures(asked)
    working = [
        Step(
            "State of health by capacity",
            "Q / Q_new",
            f"{asked.measured_capacity_ah:.4g} Ah / {asked.reference_capacity_ah:.4g} Ah",
            got.cell_health,
            "1",
        ),
        Step(
            "Capacity at which a cell is usually retired",
            f"{resistance.RETIRED_CAPACITY:g} · Q_new",
            f"{resistance.RETIRED_CAPACITY:g} × {asked.reference_capacity_ah:.4g} Ah",
            got.capacity_at_mark_ah,
            "Ah",
        ),
    ]
    ratio: float | UnsetType = UNSET
    if now_ohm is not UNSET and new_ohm is not UNSET:
        ratio = float(resistance.health(measured=now_ohm, reference=new_ohm))
        put_in = f"{now_ohm:.4g} Ω / {new_ohm:.4g} Ω"
        working.append(Step("Resistance against the reference", "R / R_new", put_in, ratio, "1"))
    elif now_ohm is not UNSET or new_ohm is not UNSET:
        given, other = (
            ("measured_resistance_ohm", "reference_resistance_ohm")
            if new_ohm is UNSET
            else ("reference_resistance_ohm", "measured_resistance_ohm")
        )
        raise Refused(given, f"A ratio of resistances needs {other} too.")
    return HealthAnswer(
        **structs.asdict(got),
        resistance_ratio=ratio,
        working=working,
        assumptions=assumptions(asked),
        findings=_findings(asked, got, ratio),
        links=links("health", asked),
    )
