"""Findings about voltages outside the range of a chemistry, and about the sag."""

from typing import Any

import numpy as np
from msgspec import UNSET, UnsetType

from percell.physics.meter import NOISE
from percell.physics.types import Number, somewhere
from percell.questions.answering import rules
from percell.questions.vocabulary import cell_resistance
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry
from percell.questions.vocabulary.limits import Held, Limit, LimitSide, judged
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import apart, at_most, beside, given, shown

# a cell further above its charged voltage is overcharged, not only out of balance
OVERCHARGE_V = 0.05
# above it a d.c. voltage is commonly taken as dangerous to touch
TOUCH_V = 60.0


def charged_voltage(
    chemistry: Chemistry, charged_v: float | UnsetType, tolerance_v: float = 0.0
) -> Held:
    """Hold the charged voltage of a cell against that of its chemistry."""
    preset = VOLTAGES[chemistry]
    given_v = preset.charged_v if charged_v is UNSET else charged_v
    highest_v = given_v + tolerance_v
    # what a charger may miss its end by is no overcharge yet
    missed = highest_v > (preset.charged_v + OVERCHARGE_V) * (1 + NOISE)
    held_v = highest_v if missed or given_v > preset.charged_v * (1 + NOISE) else given_v
    limit = judged(LimitName.CHARGED_VOLTAGE, held_v, preset.charged_v, "V", near=False)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    return Held(
        [limit],
        [
            finding(
                rules.CHARGED_ABOVE_CHEMISTRY,
                f"The charged voltage of {given(highest_v)} V is above {preset.charged_v:g} V, the usual full charge "
                f"of {preset.name}. A cell charged too high can fail violently.",
            )
        ],
    )


def resting_voltage(chemistry: Chemistry, rest_v: float) -> Limit:
    """Hold a cell's voltage at rest to its charged voltage, and what a charger may miss it by."""
    most_v = VOLTAGES[chemistry].charged_v + OVERCHARGE_V
    return judged(LimitName.CHARGED_VOLTAGE, rest_v, most_v, "V", near=False)


def charged_below_chemistry(chemistry: Chemistry, charged_v: float | UnsetType) -> list[Finding]:
    """Return the findings about a charged voltage below that of a full cell."""
    preset = VOLTAGES[chemistry]
    if charged_v is UNSET or charged_v >= preset.charged_v * (1 - NOISE):
        return []
    return [
        finding(
            rules.CHARGED_BELOW_CHEMISTRY,
            f"Calculated for {given(charged_v)} V per cell. At {preset.charged_v:g} V, the usual full charge of "
            f"{preset.name}, each cell would carry {at_most(preset.charged_v / charged_v)} times as much.",
        )
    ]


def refuse_cutoff(cutoff_v: Number, charged_v: float) -> None:
    """Refuse a cut-off above the charged voltage: the pack would never run.

    Raises:
        Refused: The cut-off voltage, or any in an array, is above the charged voltage.
    """
    if somewhere(cutoff_v > charged_v):
        raise Refused(
            "cell_cutoff_voltage_v",
            f"The cut-off voltage of {given(float(np.max(cutoff_v)))} V must not be above the charged voltage of "
            f"{given(charged_v)} V per cell.",
        )


def resistance_assumed(asked: Any) -> list[Finding]:
    """Return the finding about a sag that was worked out with a resistance that nobody measured."""
    if asked.cell_resistance_ohm is not UNSET:
        return []
    ohm = float(cell_resistance.at_usual_temperature(asked))
    return [
        finding(
            rules.RESISTANCE_ASSUMED,
            f"The sag was calculated with {shown(ohm)} Ω per cell, {cell_resistance.how_assumed(asked)}.",
        )
    ]


def end_voltage_limit(chemistry: Chemistry, lowest_v: float) -> Limit:
    """Hold a cell's lowest voltage to the end of discharge."""
    end_v = VOLTAGES[chemistry].end_v
    return judged(LimitName.END_VOLTAGE, lowest_v, end_v, "V", bound=LimitSide.AT_LEAST, near=False)


def end_voltage(chemistry: Chemistry, lowest_v: float, *, sagging: bool = False) -> Held:
    """Hold the lowest voltage of a cell, as set or because of sag, against the end of discharge."""
    preset = VOLTAGES[chemistry]
    limit = end_voltage_limit(chemistry, lowest_v)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    lowest, end = (
        apart(lowest_v, preset.end_v) if sagging else (given(lowest_v), f"{preset.end_v:g}")
    )
    can = "can sag to" if sagging else "can be emptied to"
    return Held(
        [limit],
        [
            finding(
                rules.CUTOFF_BELOW_END,
                f"A cell {can} {lowest} V, below {end} V, the end-of-discharge voltage of {preset.name}.",
            )
        ],
    )


def touch_voltage(pack_v: float) -> list[Finding]:
    """Return the finding about a pack whose voltage is dangerous to touch."""
    if pack_v <= TOUCH_V * (1 + NOISE):
        return []
    return [
        finding(
            rules.TOUCH_VOLTAGE,
            f"The full pack has {beside(pack_v, TOUCH_V)} V, above {TOUCH_V:g} V d.c. Touching it can kill, and a "
            "loose contact can draw an arc.",
        )
    ]
