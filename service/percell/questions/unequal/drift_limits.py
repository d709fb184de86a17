"""The limits of cells in series over cycles of discharge and charge."""

from collections.abc import Iterable

import numpy as np
from msgspec import UNSET, structs

from percell.physics.curves import Curve
from percell.physics.meter import NOISE, rounded_down, rounded_up
from percell.questions.answering.rest_curve import borrowed
from percell.questions.answering.voltage_findings import (
    OVERCHARGE_V,
    charged_voltage,
    end_voltage,
    end_voltage_limit,
    touch_voltage,
)
from percell.questions.unequal import rules
from percell.questions.unequal.string_drift import Drift, InSeries, String, follow
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry
from percell.questions.vocabulary.limits import Held, LimitSide, judged, not_judged, together
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import SPREAD
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import apart, beside, given

# voltages closer than this are equal: the search for an end is no finer
_NOISE_V = 1e-6

DRIFT_LIMITS = (LimitName.END_VOLTAGE, LimitName.REVERSAL, LimitName.CHARGED_VOLTAGE)


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
    said = (
        f"Calculated for a device that stops at {preset.cutoff_v:g} V per cell, which was assumed. If it stops at "
        f"{preset.end_v:g} V per cell, the end-of-discharge voltage of {preset.name}, the lowest cell falls to "
        f"{_down(lower.lowest_v, preset.end_v)} V."
    )
    return beyond, [finding(rules.DRIFT_CUTOFF_ASSUMED, said)]


def _held_reversal(drift: Drift) -> Held:
    limit = judged(
        LimitName.REVERSAL, drift.lowest_v, 0.0, "V", bound=LimitSide.AT_LEAST, near=False
    )
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


def _up(high_v: float, charged_v: float) -> str:
    """Return a voltage rounded up to 10 mV, unless that would carry it onto its charged voltage."""
    up = rounded_up(value=high_v, step=0.01)
    reaches = high_v < charged_v - _NOISE_V and up >= charged_v
    return beside(high_v, charged_v) if reaches else f"{up:.2f}"


def _held_end(chemistry: Chemistry, drift: Drift) -> Held:
    preset, low_v = VOLTAGES[chemistry], drift.lowest_v
    # the search for an end of discharge is no finer
    kept_v = preset.end_v if abs(low_v - preset.end_v) < _NOISE_V else low_v
    limit = end_voltage_limit(chemistry, kept_v)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    first = _first(cycle.lowest_at_cutoff_v < preset.end_v - _NOISE_V for cycle in drift.story)
    worst = _first(cycle.lowest_at_cutoff_v == low_v for cycle in drift.story)
    said = (
        f"A cell is below {preset.end_v:g} V, the end-of-discharge voltage of {preset.name}, when discharge {first} "
        f"ends. The lowest voltage is {_down(low_v, preset.end_v)} V, when discharge {worst} ends. "
        "Never charge such a cell."
    )
    return Held([limit], [finding(rules.DRIFT_DEEP, said)])


def _held_charged(drift: Drift) -> Held:
    most_v, high_v = drift.ends.charged_v + OVERCHARGE_V, drift.highest_v
    limit = judged(LimitName.CHARGED_VOLTAGE, high_v, most_v, "V", near=False)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    first = _first(c.highest_at_charged_v > most_v * (1 + NOISE) for c in drift.story)
    said = (
        f"A cell is above {given(most_v)} V at the end of charge {first}. The highest voltage of all is "
        f"{_up(high_v, most_v)} V{_beyond(drift.curve, high_v)}."
    )
    return Held([limit], [finding(rules.DRIFT_OVERCHARGED, said)])


def _apart(chemistry: Chemistry, drift: Drift) -> list[Finding]:
    """Return the finding about a cell beyond its own end while the sum is at its."""
    ends, low_v, high_v = drift.ends, drift.lowest_v, drift.highest_v
    if low_v >= ends.cutoff_v - _NOISE_V and high_v <= ends.charged_v + _NOISE_V:
        return []
    # the search for an end of charge is no finer
    kept_v = ends.charged_v if abs(high_v - ends.charged_v) < _NOISE_V else high_v
    return [
        finding(
            rules.STRING_APART,
            f"The cells range from {_down(low_v, VOLTAGES[chemistry].end_v)} V at the cut-off to "
            f"{_up(kept_v, ends.charged_v)} V at the end of the charge. The string as a whole stops at "
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
    """Return the remark on a voltage far above the curve, which continues there in a straight line."""
    return " (extrapolated)" if volts > curve.ocv_v[-1] + OVERCHARGE_V else ""


def _first(flags: Iterable[bool]) -> int:
    """Return the place of the first flag that is set, counted from 1; 0 if none is."""
    return next((n for n, flag in enumerate(flags, 1) if flag), 0)


def _parts(charge_ah: float, capacity_ah: float) -> str:
    return f"{100 * charge_ah / capacity_ah:.3g} %"


def lowest_leads(chemistry: Chemistry, low_v: float) -> str:
    """Return the clause about the lowest cell."""
    return (
        f"the lowest cell falls to about {_down(low_v, VOLTAGES[chemistry].end_v)} V at a cut-off"
    )
