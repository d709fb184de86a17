"""How far do the cells of a series string drift apart, cycle by cycle?"""

from collections.abc import Iterable
from enum import StrEnum
from typing import Annotated, ClassVar, NamedTuple

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics.curves import Curve, open_circuit_voltage_v, soc_at_rest
from percell.physics.drift import Balancing, StringCycle, balancing_charge, series_drift
from percell.physics.meter import NOISE, rounded_down
from percell.physics.types import Floats
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import condition_of
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.answering.rest_curve import borrowed, curve_of
from percell.questions.answering.voltage_findings import (
    OVERCHARGE_V,
    charged_voltage,
    end_voltage,
    end_voltage_limit,
    touch_voltage,
)
from percell.questions.unequal import rules
from percell.questions.unequal.cell_voltages import resting
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import OwnResistance, lasting_ohm
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import choice, figure, quantity, whole
from percell.questions.vocabulary.layout import MOST
from percell.questions.vocabulary.limits import Held, LimitSide, judged, not_judged, together
from percell.questions.vocabulary.presence import OneOf, Presence
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import SPREAD
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import apart, beside, given

# voltages closer than this are equal: the search for an end is no finer
_NOISE_V = 1e-6


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
            "What the device and the charger measure. pack: only the sum of the voltages. each_cell: every "
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


class StringCell(OwnResistance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell of the string."""

    presence: ClassVar[tuple[Presence, ...]] = (
        OneOf(
            ("state_of_charge", "open_circuit_voltage_v"),
            "Give state_of_charge or open_circuit_voltage_v, not both.",
            needed=False,
        ),
    )
    cell_capacity_ah: fields.CellCapacityAh
    state_of_charge: fields.StartCharge | UnsetType = UNSET
    open_circuit_voltage_v: fields.StartOpenCircuitVoltageV | UnsetType = UNSET
    loss_ah: LossAh = 0.0


class SeriesDrift(InSeries, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Cells of one chemistry in series, each as it is."""

    cells: Annotated[
        list[StringCell], Meta(min_length=2, max_length=MOST, description="Cells in series.")
    ]


class DriftCycle(Struct, frozen=True, gc=False):
    """One discharge and the charge after it."""

    cycle_number: Annotated[int, figure("1", "Number of the cycle, counted from 1.")]
    string_discharge_ah: Annotated[
        float, figure("Ah", "Charge through the string, until its cut-off.")
    ]
    string_charge_ah: Annotated[
        float, figure("Ah", "Charge into the string, until the charge ends.")
    ]
    lowest_at_cutoff_v: Annotated[float, figure("V", "Voltage of the lowest cell at the cut-off.")]
    highest_at_cutoff_v: Annotated[
        float, figure("V", "Voltage of the highest cell at the cut-off.")
    ]
    lowest_at_charged_v: Annotated[
        float, figure("V", "Voltage of the lowest cell at the end of the charge.")
    ]
    highest_at_charged_v: Annotated[
        float, figure("V", "Voltage of the highest cell at the end of the charge.")
    ]
    over_discharged: Annotated[
        bool, fields.text("Whether a cell is below the empty end of its curve.")
    ]
    reversed: Annotated[bool, fields.text("Whether a cell is below zero volts.")]
    overcharged: Annotated[bool, fields.text("Whether a cell is above its charged voltage.")]


class DriftedCell(Struct, frozen=True, gc=False):
    """One cell over the cycles."""

    discharged_part: Annotated[
        float,
        figure("1", "Part of its own capacity that the first discharge uses."),
    ]
    state_of_charge_at_cutoff: Annotated[
        float,
        figure(
            "1", "State of charge at the last cut-off. Below 0 it is past empty, and extrapolated."
        ),
    ]
    state_of_charge_at_charged: Annotated[
        float,
        figure("1", "State of charge at the end of the last charge. Above 1 it is past full."),
    ]
    balancing_charge_ah: Annotated[
        float, figure("Ah", "Charge that a balancing charge would then add to this cell.")
    ]


class SeriesDriftFigures(Struct, frozen=True, kw_only=True):
    """The string, cycle by cycle, and what a balancing charge would restore."""

    weakest_cell_number: Annotated[
        int, figure("1", "Cell with the lowest voltage at the first cut-off, counted from 1.")
    ]
    lowest_at_cutoff_v: Annotated[float, figure("V", "Lowest voltage of any cell at any cut-off.")]
    highest_at_charged_v: Annotated[
        float, figure("V", "Highest voltage of any cell at the end of any charge.")
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
    cycles: Annotated[list[DriftCycle], Meta(description="Cycles, in order.")]
    cells: Annotated[list[DriftedCell], Meta(description="Cells, in the order given.")]


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


def held_drift(asked: InSeries, string: String, drift: Drift, weak: int) -> Held:
    """Hold a string over its cycles to the limits of its cells."""
    series, found = len(string.capacity_ah), [_one_current(string, drift, weak)]
    full_v = max(VOLTAGES[asked.chemistry].charged_v, drift.ends.charged_v)
    beyond, told = _cutoff_assumed(asked, string, drift)
    held = together(
        _without_sag(asked, string, _held_end(asked.chemistry, drift)),
        _without_sag(asked, string, _held_reversal(drift)),
        _held_charged(drift),
        _if_over(charged_voltage(asked.chemistry, asked.cell_charged_voltage_v)),
        _if_over(end_voltage(asked.chemistry, drift.ends.cutoff_v)),
        Held([], told + _apart(asked.chemistry, drift) + found),
        Held([], touch_voltage(series * full_v)),
        Held([], [borrowed(drift.curve)]),
    )
    limits = [
        not_judged(one, beyond[one.name]) if one.name in beyond else one for one in held.limits
    ]
    return Held(limits, held.findings)


def _if_over(setting: Held) -> Held:
    """Return the limit of a setting where it is over: else what the cells come to says more."""
    return Held([one for one in setting.limits if one.verdict is Verdict.OVER], setting.findings)


def _cutoff_assumed(
    asked: InSeries, string: String, drift: Drift
) -> tuple[dict[LimitName, str], list[Finding]]:
    """Return which limits a device with a lower cut-off exceeds, each with its reason, and the finding.

    Nobody may know where the device stops: it can run the string down to the end of discharge.
    """
    preset = VOLTAGES[asked.chemistry]
    if asked.cell_cutoff_voltage_v is not UNSET or drift.ends.cutoff_v <= preset.end_v:
        return {}, []
    lower = follow(structs.replace(asked, cell_cutoff_voltage_v=preset.end_v), string)
    parts = (_held_end(asked.chemistry, lower), _held_reversal(lower), _held_charged(lower))
    reason = (
        f"the cut-off of {preset.cutoff_v:g} V per cell was assumed, and a device that stops at "
        f"{preset.end_v:g} V would exceed the limit"
    )
    beyond = {
        limit.name: reason
        for part in parts
        for limit in part.limits
        if limit.verdict is Verdict.OVER
    }
    if not beyond:
        return {}, []
    low_v, _ = _lowest(lower)
    said = (
        f"Calculated for a device that stops at {preset.cutoff_v:g} V per cell, which was assumed. If it stops at "
        f"{preset.end_v:g} V per cell, the end-of-discharge voltage of {preset.name}, the lowest cell falls to "
        f"{_down(low_v, preset.end_v)} V."
    )
    return beyond, [finding(rules.DRIFT_CUTOFF_ASSUMED, said)]


def _lowest(drift: Drift) -> tuple[float, int]:
    """Return the lowest voltage of a cell at any cut-off, and the number of the discharge."""
    lows = [cycle.lowest_at_cutoff_v for cycle in drift.story]
    return min(lows), lows.index(min(lows)) + 1


def _held_reversal(drift: Drift) -> Held:
    low_v, _ = _lowest(drift)
    limit = judged(LimitName.REVERSAL, low_v, 0.0, "V", bound=LimitSide.AT_LEAST, near=False)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    reversal = _first(cycle.reversed for cycle in drift.story)
    said = f"A cell is below 0 V at the end of discharge {reversal}. Never charge a cell that was reversed."
    return Held([limit], [finding(rules.DRIFT_REVERSED, said)])


def _down(low_v: float, end_v: float) -> str:
    """Return a voltage rounded down to 10 mV, unless that would carry it onto its end voltage."""
    down = rounded_down(value=low_v, step=0.01)
    reaches = low_v > end_v + _NOISE_V and down <= end_v
    return beside(low_v, end_v) if reaches else f"{down:.2f}"


def _held_end(chemistry: Chemistry, drift: Drift) -> Held:
    preset = VOLTAGES[chemistry]
    low_v, worst_cycle = _lowest(drift)
    # the search for an end of discharge is no finer
    kept_v = preset.end_v if abs(low_v - preset.end_v) < _NOISE_V else low_v
    limit = end_voltage_limit(chemistry, kept_v)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    first = _first(cycle.lowest_at_cutoff_v < preset.end_v - _NOISE_V for cycle in drift.story)
    said = (
        f"A cell is below {preset.end_v:g} V, the end-of-discharge voltage of {preset.name}, when discharge {first} "
        f"ends. The lowest voltage is {_down(low_v, preset.end_v)} V, when discharge {worst_cycle} ends. "
        "Never charge such a cell."
    )
    return Held([limit], [finding(rules.DRIFT_DEEP, said)])


def _held_charged(drift: Drift) -> Held:
    most_v = drift.ends.charged_v + OVERCHARGE_V
    high_v = max(cycle.highest_at_charged_v for cycle in drift.story)
    limit = judged(LimitName.CHARGED_VOLTAGE, high_v, most_v, "V", near=False)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    first = _first(c.highest_at_charged_v > most_v * (1 + NOISE) for c in drift.story)
    said = (
        f"A cell is above {given(most_v)} V at the end of charge {first}. The highest voltage of all is "
        f"{beside(high_v, most_v)} V{_beyond(drift.curve, high_v)}."
    )
    return Held([limit], [finding(rules.DRIFT_OVERCHARGED, said)])


def _apart(chemistry: Chemistry, drift: Drift) -> list[Finding]:
    """Return the finding about a cell beyond its own end while the sum is at its."""
    ends, (low_v, _) = drift.ends, _lowest(drift)
    high_v = max(cycle.highest_at_charged_v for cycle in drift.story)
    if low_v >= ends.cutoff_v - _NOISE_V and high_v <= ends.charged_v + _NOISE_V:
        return []
    return [
        finding(
            rules.STRING_APART,
            f"The cells range from {_down(low_v, VOLTAGES[chemistry].end_v)} V at the cut-off to "
            f"{beside(high_v, ends.charged_v)} V at the end of the charge. The string as a whole stops at "
            f"{ends.cutoff_v:g} V and {ends.charged_v:g} V per cell.",
        )
    ]


def _without_sag(asked: InSeries, string: String, held: Held) -> Held:
    """Return what was held, proving nothing if one cell sags much more and no current was given."""
    place = int(np.argmax(string.resistance_ohm))
    own_ohm, mean_ohm = float(string.resistance_ohm[place]), float(string.resistance_ohm.mean())
    if asked.end_discharge_current_a or own_ohm <= mean_ohm * (1 + SPREAD) * (1 + NOISE):
        return held
    own, mean = apart(own_ohm, mean_ohm)
    reason = f"no current was given, and cell {place + 1} sags more than the others under a load"
    told = finding(
        rules.SAG_NOT_COUNTED,
        f"Calculated for a load without sag. Cell {place + 1} has {own} Ω, more than a tenth above the mean of {mean} Ω. "
        f"Each ampere lowers its voltage by {own} V below that at rest.",
    )
    return Held([not_judged(limit, reason) for limit in held.limits], [*held.findings, told])


def _one_current(string: String, drift: Drift, weak: int) -> Finding:
    charge_ah, weak_ah = drift.story[0].discharge_ah, string.capacity_ah[weak]
    largest_ah = string.capacity_ah.max()
    return finding(
        rules.ONE_CURRENT_IN_SERIES,
        f"The first discharge takes {charge_ah:.3g} Ah out of every cell. That is "
        f"{_parts(charge_ah, weak_ah)} of the {weak_ah:.3g} Ah of cell {weak + 1}, and "
        f"{_parts(charge_ah, largest_ah)} of the {largest_ah:.3g} Ah of the largest cell.",
    )


def _beyond(curve: Curve, volts: float) -> str:
    """Return a finding if a voltage is far above the curve, which continues there in a straight line."""
    return " (extrapolated)" if volts > curve.ocv_v[-1] + OVERCHARGE_V else ""


def _first(flags: Iterable[bool]) -> int:
    """Return the place of the first flag that is set, counted from 1; 0 if none is."""
    return next((n for n, flag in enumerate(flags, 1) if flag), 0)


def _parts(charge_ah: float, capacity_ah: float) -> str:
    return f"{100 * charge_ah / capacity_ah:.3g} %"


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


def _start(cell: StringCell, curve: Curve) -> float:
    if cell.open_circuit_voltage_v is UNSET:
        return 1.0 if cell.state_of_charge is UNSET else cell.state_of_charge
    return float(soc_at_rest(curve=curve, open_circuit_voltage_v=cell.open_circuit_voltage_v))


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


def _off_curve(asked: SeriesDrift, curve: Curve) -> list[Finding]:
    """Return the findings about open-circuit voltages outside the curve."""
    low_v, high_v = float(curve.ocv_v[0]), float(curve.ocv_v[-1])
    off = [
        (place, cell.open_circuit_voltage_v)
        for place, cell in enumerate(asked.cells, 1)
        if cell.open_circuit_voltage_v is not UNSET
        and not low_v * (1 - NOISE) <= cell.open_circuit_voltage_v <= high_v * (1 + NOISE)
    ]
    if not off:
        return []
    place, volts = off[0]
    taken = "full" if volts > high_v else "empty"
    return [
        finding(
            rules.VOLTAGE_OFF_CURVE,
            f"Cell {place} rests at {given(volts)} V, outside its curve from {low_v:g} to {high_v:g} V. It counts as "
            f"{taken}. {len(off)} of the {len(asked.cells)} cells are outside.",
        )
    ]


def _starts(asked: SeriesDrift) -> Held:
    """Hold the voltages that the cells rest at in the beginning to both ends."""
    known = [
        (place, cell.open_circuit_voltage_v)
        for place, cell in enumerate(asked.cells, 1)
        if cell.open_circuit_voltage_v is not UNSET
    ]
    if not known:
        return Held([], [])
    volts = np.array([one for _, one in known])
    return resting(asked.chemistry, volts, lambda place: f"Cell {known[place][0]}")


def cycles_in_words(asked: InSeries) -> str:
    """Return the number of cycles as a condition says it."""
    return f"{asked.cycle_count:.0f} cycle{'' if asked.cycle_count == 1 else 's'}"


def lowest_leads(chemistry: Chemistry, low_v: float) -> str:
    """Return the clause about the lowest cell."""
    return (
        f"the lowest cell falls to about {_down(low_v, VOLTAGES[chemistry].end_v)} V at a cut-off"
    )


def explain(asked: SeriesDrift) -> Explained[SeriesDriftFigures]:
    """Answer for one string."""
    curve = curve_of(asked.chemistry)
    for place, cell in enumerate(asked.cells):
        refuse_loss(f"cells.{place}.loss_ah", cell.loss_ah, cell.cell_capacity_ah)
    string = String(
        np.array([cell.cell_capacity_ah for cell in asked.cells]),
        np.array([_start(cell, curve) for cell in asked.cells]),
        np.array([cell.loss_ah for cell in asked.cells]),
        np.array([lasting_ohm(cell) for cell in asked.cells]),
    )
    drift = follow(asked, string)
    weak = weakest(asked, string, drift)
    first, last = drift.story[0], drift.story[-1]
    figures = SeriesDriftFigures(
        weakest_cell_number=weak + 1,
        lowest_at_cutoff_v=min(cycle.lowest_at_cutoff_v for cycle in drift.story),
        highest_at_charged_v=max(cycle.highest_at_charged_v for cycle in drift.story),
        usable_charge_before_ah=drift.balancing.before_ah,
        usable_charge_after_ah=drift.balancing.after_ah,
        cycles=[
            DriftCycle(
                number,
                cycle.discharge_ah,
                cycle.charge_ah,
                cycle.lowest_at_cutoff_v,
                cycle.highest_at_cutoff_v,
                cycle.lowest_at_charged_v,
                cycle.highest_at_charged_v,
                cycle.over_discharged,
                cycle.reversed,
                cycle.overcharged,
            )
            for number, cycle in enumerate(drift.story, 1)
        ],
        cells=[
            DriftedCell(
                float(first.discharge_ah / capacity_ah),
                float(last.soc_at_cutoff[i]),
                float(last.soc_at_charged[i]),
                float(drift.balancing.given_ah[i]),
            )
            for i, capacity_ah in enumerate(string.capacity_ah)
        ],
    )
    held = together(
        _starts(asked), Held([], _off_curve(asked, curve)), held_drift(asked, string, drift, weak)
    )
    return Explained(
        figures=figures,
        working=drift_steps(asked, string, drift, weak),
        limits=held.limits,
        condition=condition_of(
            asked,
            cells=f"{len(asked.cells)} unequal cells in series",
            cycle_count=cycles_in_words(asked),
        ),
        leads=lowest_leads(asked.chemistry, figures.lowest_at_cutoff_v),
        findings=held.findings,
    )


def assumed(asked: SeriesDrift) -> list[Assumption]:
    """Return the defaults in use, and the charge assumed if none is given."""
    found = assumptions(asked)
    if any(c.state_of_charge is UNSET and c.open_circuit_voltage_v is UNSET for c in asked.cells):
        found.append(
            Assumption(
                "cells.state_of_charge", 1.0, "1", "charged individually before the first cycle"
            )
        )
    return found


DRIFT_LIMITS = (LimitName.END_VOLTAGE, LimitName.REVERSAL, LimitName.CHARGED_VOLTAGE)

QUESTION = Question(
    id="series-drift",
    subject=Subject.UNEQUAL_CELLS,
    title="Drift of unequal cells in series",
    description="Lowest and highest cell of a series string of unequal cells, cycle by cycle, and what a "
    "balancing charge restores.",
    asked=SeriesDrift,
    shows=SeriesDriftFigures,
    limits=DRIFT_LIMITS,
    explain=explain,
    assumed=assumed,
    heavy=True,
    # three lent cells of the Lantern Street Bench, invented: the last is older than the others
    example={
        "cells": [
            {
                "cell_capacity_ah": 3.0,
                "state_of_charge": 1.0,
                "loss_ah": 0.0,
                "cell_resistance_ohm": 0.02,
            },
            {
                "cell_capacity_ah": 2.95,
                "state_of_charge": 1.0,
                "loss_ah": 0.0,
                "cell_resistance_ohm": 0.021,
            },
            {
                "cell_capacity_ah": 2.5,
                "state_of_charge": 0.97,
                "loss_ah": 0.005,
                "cell_resistance_ohm": 0.034,
            },
        ],
        "cycle_count": 10,
    },
)
