"""How far does one weak cell drift away from the others of its string?"""

from typing import Annotated

import numpy as np
from msgspec import Struct, structs

from percell.questions.answering import envelope
from percell.questions.answering.envelope import assumptions, links
from percell.questions.answering.one_by_one import one_by_one
from percell.questions.unequal.series_drift import (
    InSeries,
    LossAh,
    String,
    Told,
    drift_findings,
    drift_steps,
    refuse_loss,
    tell,
    weakest,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.questions.vocabulary.fields import figure, quantity, whole
from percell.questions.vocabulary.layout import MOST


class WeakCellDrift(InSeries, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Cells in series, all charged; one of them holds less or loses more than the others."""

    series: Annotated[float, whole(2, MOST, "Cells in series.")]
    cell_capacity_ah: fields.CellCapacityAh
    weak_capacity_part: Annotated[
        float,
        quantity(
            "1",
            0.05,
            1,
            "Capacity of the weak cell, as part of the others'.",
            default_from=fields.NOTHING_GIVEN,
        ),
    ] = 1.0
    weak_loss_ah: LossAh = 0.0
    cell_resistance_ohm: fields.CellResistanceOhm = fields.CELL_RESISTANCE_OHM


class WeakCellDriftFigures(Struct, frozen=True, gc=False):
    """The last of the cycles."""

    discharge_ah: Annotated[float, figure("Ah", "Charge through the string until its cut-off.")]
    lowest_at_cutoff_v: Annotated[
        float, figure("V", "Lowest cell at the last cut-off of the pack.")
    ]
    highest_at_cutoff_v: Annotated[float, figure("V", "Highest cell then.")]
    lowest_at_charged_v: Annotated[float, figure("V", "Lowest cell at the end of the last charge.")]
    highest_at_charged_v: Annotated[float, figure("V", "Highest cell then.")]
    usable_before_ah: Annotated[
        float,
        figure("Ah", "Charge until the first cell is at its cut-off, as the string is left."),
    ]
    usable_after_ah: Annotated[float, figure("Ah", "The same after a balancing charge.")]


class WeakCellDriftAnswer(WeakCellDriftFigures, frozen=True, kw_only=True):
    """The figures, with what they rest on."""

    working: envelope.Working
    assumptions: envelope.Assumptions
    findings: envelope.Findings
    cautions: envelope.Cautions = CAUTIONS
    links: envelope.Links


def _string(asked: WeakCellDrift) -> String:
    """Return the string with its weak cell first."""
    alike = np.ones(int(asked.series))
    first = np.zeros_like(alike)
    first[0] = 1.0
    return String(
        asked.cell_capacity_ah * (alike - (1 - asked.weak_capacity_part) * first),
        alike,
        asked.weak_loss_ah * first,
        asked.cell_resistance_ohm * alike,
    )


def _figures(told: Told) -> WeakCellDriftFigures:
    last = told.story[-1]
    return WeakCellDriftFigures(
        last.discharge_ah,
        last.lowest_at_cutoff_v,
        last.highest_at_cutoff_v,
        last.lowest_at_charged_v,
        last.highest_at_charged_v,
        told.balancing.before_ah,
        told.balancing.after_ah,
    )


@one_by_one
def figures(asked: WeakCellDrift) -> WeakCellDriftFigures:
    """Work out the numbers of one question, or of a whole grid of them."""
    return _figures(tell(asked, _string(asked)))


def answer(asked: WeakCellDrift) -> WeakCellDriftAnswer:
    """Answer for one string."""
    string = _string(asked)
    refuse_loss("weak_loss_ah", asked.weak_loss_ah, string.capacity_ah[0])
    told = tell(asked, string)
    weak = weakest(asked, string, told)
    return WeakCellDriftAnswer(
        **structs.asdict(_figures(told)),
        working=drift_steps(asked, string, told, weak),
        assumptions=assumptions(asked),
        findings=drift_findings(asked, string, told, weak),
        links=links("weak-cell-drift", asked),
    )
