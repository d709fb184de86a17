"""Cells in series over cycles of discharge and charge: what is asked of any such string, and its cycles."""

from enum import StrEnum
from typing import Annotated, NamedTuple

import numpy as np
from msgspec import UNSET, Struct, UnsetType

from percell.physics.curves import Curve, open_circuit_voltage_v, soc_at_rest
from percell.physics.drift import Balancing, StringCycle, balancing_charge, series_drift
from percell.physics.types import Floats
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.rest_curve import curve_of
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import choice, quantity, whole
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.wording import given


class WatchedVoltage(StrEnum):
    """What ends a discharge or a charge."""

    PACK = "pack"
    EACH_CELL = "each_cell"


class InSeries(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A string that is discharged and charged as a whole."""

    cycle_count: Annotated[
        float,
        whole(1, 100, "Number of cycles of discharge and charge, without balancing between them."),
    ]
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    cell_cutoff_voltage_v: fields.CellCutoffVoltageV | UnsetType = UNSET
    end_discharge_current_a: Annotated[
        float,
        quantity(
            "A",
            0,
            200,
            "Current through the string at the end of the discharge.",
            default_from="a weak load without sag, which takes the most charge out of the weak cell",
        ),
    ] = 0.0
    end_charge_current_a: Annotated[
        float,
        quantity(
            "A",
            0,
            200,
            "Current through the string at the end of the charge.",
            default_from="a charge until almost no current flows, which fills the cells furthest",
        ),
    ] = 0.0
    watched: Annotated[
        WatchedVoltage,
        choice(
            "What the device and the charger monitor. `pack`: only the sum of the voltages. `each_cell`: every "
            "cell, and they stop at the first one at its limit.",
            default_from="the worse case, because the device is not known: common practice, no published source",
        ),
    ] = WatchedVoltage.PACK


LossAh = Annotated[
    float,
    quantity(
        "Ah",
        0,
        10,
        "Charge that this cell loses through self-discharge in each cycle.",
        default_from=fields.NOTHING_GIVEN,
    ),
]


class EndVoltages(NamedTuple):
    """The voltages at which one cell is empty and full."""

    cutoff_v: float
    charged_v: float


class String(NamedTuple):
    """The cells of a string in arrays."""

    capacity_ah: Floats
    start_soc: Floats
    loss_ah: Floats
    resistance_ohm: Floats


class Drift(NamedTuple):
    """A string over its cycles."""

    ends: EndVoltages
    curve: Curve
    story: list[StringCycle]
    balancing: Balancing

    @property
    def lowest_v(self) -> float:
        """Lowest voltage of a cell at any cut-off."""
        return min(cycle.lowest_at_cutoff_v for cycle in self.story)

    @property
    def highest_v(self) -> float:
        """Highest voltage of a cell at the end of any charge."""
        return max(cycle.highest_at_charged_v for cycle in self.story)


def follow(asked: InSeries, string: String) -> Drift:
    """Calculate a string over its cycles."""
    curve = curve_of(Chemistry(asked.chemistry))
    ends = _end_voltages(asked)
    story = series_drift(
        capacity_ah=string.capacity_ah,
        start_soc=string.start_soc,
        resistance_ohm=string.resistance_ohm,
        loss_ah=string.loss_ah,
        end_discharge_current_a=asked.end_discharge_current_a,
        end_charge_current_a=asked.end_charge_current_a,
        cutoff_v=ends.cutoff_v,
        charged_v=ends.charged_v,
        each_cell=asked.watched == WatchedVoltage.EACH_CELL,
        cycles=int(asked.cycle_count),
        curve=curve,
    )
    full = soc_at_rest(curve=curve, open_circuit_voltage_v=ends.charged_v)
    balancing = balancing_charge(
        capacity_ah=string.capacity_ah,
        # charge above full does not count as usable
        soc=np.clip(story[-1].soc_at_charged, 0.0, full),
        cutoff_v=ends.cutoff_v,
        charged_v=ends.charged_v,
        curve=curve,
    )
    return Drift(ends, curve, story, balancing)


def _end_voltages(asked: InSeries) -> EndVoltages:
    preset = VOLTAGES[Chemistry(asked.chemistry)]
    cutoff_v, charged_v = asked.cell_cutoff_voltage_v, asked.cell_charged_voltage_v
    ends = EndVoltages(
        preset.cutoff_v if cutoff_v is UNSET else cutoff_v,
        preset.charged_v if charged_v is UNSET else charged_v,
    )
    if ends.cutoff_v >= ends.charged_v:
        raise Refused(
            "cell_cutoff_voltage_v",
            f"The cut-off voltage of {ends.cutoff_v:g} V must be below the charged voltage of "
            f"{ends.charged_v:g} V.",
        )
    return ends


def weakest(asked: InSeries, string: String, drift: Drift) -> int:
    """Return the cell that is lowest at the first cut-off, counted from 0."""
    rest_v = open_circuit_voltage_v(curve=drift.curve, soc=drift.story[0].soc_at_cutoff)
    return int(np.argmin(rest_v - asked.end_discharge_current_a * string.resistance_ohm))


def refuse_loss(pointer: str, loss_ah: float, capacity_ah: float) -> None:
    """Refuse a loss of more than a cell holds.

    Raises:
        Refused: The loss is larger than the capacity of a cell.
    """
    if loss_ah > capacity_ah:
        raise Refused(
            pointer,
            f"A cell of {given(float(capacity_ah))} Ah cannot lose {given(loss_ah)} Ah per cycle: give no more than its capacity.",
        )


def cycles_in_words(asked: InSeries) -> str:
    """Return the number of cycles as a condition says it."""
    return f"{asked.cycle_count:.0f} cycle{'' if asked.cycle_count == 1 else 's'}"


def drift_steps(asked: InSeries, string: String, drift: Drift, weak: int) -> list[WorkingStep]:
    """Show the working of the cycles."""
    first, last, ends = drift.story[0], drift.story[-1], drift.ends
    size = len(string.capacity_ah)
    whole_pack = asked.watched == WatchedVoltage.PACK
    weak_ah = string.capacity_ah[weak]
    until = "Σ u_i = S · u" if whole_pack else "the first u_i = u"
    return [
        WorkingStep(
            "Charge that the first discharge takes out of each cell, with the same current through all",
            f"z_i → z_i − q / Q_i, until {until}_cut-off",
            f"{size} cells to {size * ends.cutoff_v:.4g} V together"
            if whole_pack
            else f"{size} cells, the first to {ends.cutoff_v:.4g} V",
            first.discharge_ah,
            "Ah",
        ),
        WorkingStep(
            f"This charge as part of the capacity of cell {weak + 1}, the weakest",
            "x = q / Q_i",
            f"{first.discharge_ah:.4g} Ah / {weak_ah:.4g} Ah",
            float(first.discharge_ah / weak_ah),
            "1",
        ),
        WorkingStep(
            "This charge as part of the largest capacity",
            "x = q / Q_i",
            f"{first.discharge_ah:.4g} Ah / {string.capacity_ah.max():.4g} Ah",
            float(first.discharge_ah / string.capacity_ah.max()),
            "1",
        ),
        WorkingStep(
            f"Voltage of the lowest cell at the cut-off of discharge {len(drift.story)}",
            "u_i = OCV(z_i) − I · r_i",
            f"OCV({float(last.soc_at_cutoff.min()):.4g}), {asked.end_discharge_current_a:.4g} A",
            last.lowest_at_cutoff_v,
            "V",
        ),
        WorkingStep(
            f"Voltage of the highest cell at the end of charge {len(drift.story)}",
            f"z_i → z_i + (q − q_loss,i) / Q_i, until {until}_charged",
            f"OCV({float(last.soc_at_charged.max()):.4g}), {asked.end_charge_current_a:.4g} A",
            last.highest_at_charged_v,
            "V",
        ),
        WorkingStep(
            "Usable charge until the first cell is at its cut-off, without a balancing charge",
            "q = min (z_i − z_cut-off) · Q_i",
            f"{size} cells down to {ends.cutoff_v:.4g} V each",
            drift.balancing.before_ah,
            "Ah",
        ),
        WorkingStep(
            "Usable charge after a balancing charge, which fills each cell",
            "q = min (z_full − z_cut-off) · Q_i",
            f"{size} cells from {ends.charged_v:.4g} V down to {ends.cutoff_v:.4g} V each",
            drift.balancing.after_ah,
            "Ah",
        ),
    ]
