"""How far does one weak cell drift away from the others of its string?"""

from typing import Annotated

import numpy as np
from msgspec import UNSET, Struct, UnsetType

from percell.physics.measured_cells import ten_second_resistance_ohm
from percell.questions.answering.headline import Headline, Rounding, condition_of
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.unequal.drift_limits import DRIFT_LIMITS, held_drift, lowest_leads
from percell.questions.unequal.string_drift import (
    Drift,
    InSeries,
    LossAh,
    String,
    cycles_in_words,
    drift_steps,
    follow,
    refuse_loss,
    weakest,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import lasting_ohm
from percell.questions.vocabulary.fields import figure, quantity, whole
from percell.questions.vocabulary.layout import MOST


class WeakCellDrift(InSeries, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Charged cells in series, one of them with less capacity, more loss or more resistance."""

    series: Annotated[float, whole(2, MOST, "Number of cells in series.")]
    cell_capacity_ah: fields.CellCapacityAh
    weak_cell_capacity_ratio: Annotated[
        float,
        quantity(
            "1",
            0.05,
            1,
            "Capacity of the weak cell as part of the capacity of the others.",
            default_from=fields.NOTHING_GIVEN,
        ),
    ] = 1.0
    weak_cell_loss_ah: LossAh = 0.0
    cell_resistance_ohm: fields.CellResistanceOhm | UnsetType = UNSET
    cell_resistance_after_s: fields.CellResistanceAfterS = fields.AFTER_S
    weak_cell_resistance_ohm: (
        Annotated[
            float,
            quantity(
                "Ω",
                0,
                1,
                "Internal d.c. resistance of the weak cell.",
                default="that of the others",
            ),
        ]
        | UnsetType
    ) = UNSET


class WeakCellDriftFigures(Struct, frozen=True, gc=False):
    """The string at the last of the cycles."""

    string_discharge_ah: Annotated[
        float, figure("Ah", "Charge through the string, until its cut-off.")
    ]
    lowest_at_cutoff_v: Annotated[
        float, figure("V", "Voltage of the lowest cell at the last cut-off.")
    ]
    highest_at_cutoff_v: Annotated[
        float, figure("V", "Voltage of the highest cell at the last cut-off.")
    ]
    lowest_at_charged_v: Annotated[
        float, figure("V", "Voltage of the lowest cell at the end of the last charge.")
    ]
    highest_at_charged_v: Annotated[
        float, figure("V", "Voltage of the highest cell at the end of the last charge.")
    ]
    usable_charge_before_ah: Annotated[
        float,
        figure(
            "Ah",
            "Usable charge until the first cell is at its cut-off, without a balancing charge.",
        ),
    ]
    usable_charge_after_ah: Annotated[
        float, figure("Ah", "Usable charge after a balancing charge.")
    ]


def _string(asked: WeakCellDrift) -> String:
    """Return the string with its weak cell first."""
    alike = np.ones(int(asked.series))
    first = np.zeros_like(alike)
    first[0] = 1.0
    usual_ohm, weak_ohm = lasting_ohm(asked), asked.weak_cell_resistance_ohm
    more_ohm = (
        0.0
        if weak_ohm is UNSET
        else ten_second_resistance_ohm(
            resistance_ohm=weak_ohm, after_s=asked.cell_resistance_after_s
        )
        - usual_ohm
    )
    return String(
        asked.cell_capacity_ah * (alike - (1 - asked.weak_cell_capacity_ratio) * first),
        alike,
        asked.weak_cell_loss_ah * first,
        usual_ohm * alike + more_ohm * first,
    )


def _figures(drift: Drift) -> WeakCellDriftFigures:
    last = drift.story[-1]
    return WeakCellDriftFigures(
        last.discharge_ah,
        last.lowest_at_cutoff_v,
        last.highest_at_cutoff_v,
        last.lowest_at_charged_v,
        last.highest_at_charged_v,
        drift.balancing.before_ah,
        drift.balancing.after_ah,
    )


def figures(asked: WeakCellDrift) -> WeakCellDriftFigures:
    """Calculate the figures of one string."""
    return _figures(follow(asked, _string(asked)))


def explain(asked: WeakCellDrift) -> Explained[WeakCellDriftFigures]:
    """Answer for one string."""
    string = _string(asked)
    refuse_loss("weak_cell_loss_ah", asked.weak_cell_loss_ah, string.capacity_ah[0])
    drift = follow(asked, string)
    weak = weakest(asked, string, drift)
    held = held_drift(asked, string, drift, weak)
    return Explained(
        figures=_figures(drift),
        working=drift_steps(asked, string, drift, weak),
        limits=held.limits,
        condition=condition_of(asked, cycle_count=cycles_in_words(asked)),
        leads=lowest_leads(asked.chemistry, drift.lowest_v),
        findings=held.findings,
    )


QUESTION = Question(
    id="weak-cell-drift",
    subject=Subject.UNEQUAL_CELLS,
    title="One weak cell in a string",
    description="Lowest and highest cell of a series string with one weak cell, after a number of cycles "
    "without balancing.",
    asked=WeakCellDrift,
    shows=WeakCellDriftFigures,
    limits=DRIFT_LIMITS,
    explain=explain,
    figures=figures,
    table=OverTable.CELL_BY_CELL,
    # by default there is no current, and so no sag
    no_effect=frozenset(
        {"cell_resistance_ohm", "cell_resistance_after_s", "weak_cell_resistance_ohm"}
    ),
    heavy=True,
    headline=Headline(
        field="lowest_at_cutoff_v",
        says="At the last cut-off the lowest cell is at about",
        unit="V",
        decimals=2,
        round=Rounding.DOWN,
    ),
    example={
        "series": 2,
        "cell_capacity_ah": 3.0,
        "weak_cell_capacity_ratio": 0.9,
        "weak_cell_loss_ah": 0.01,
        "cycle_count": 20,
    },
)
