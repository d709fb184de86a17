"""Cells whose own voltages are known, held to the end and the charged voltage of their chemistry."""

from collections.abc import Callable

import numpy as np

from percell.physics.types import Floats
from percell.questions.answering.voltage_findings import (
    OVERCHARGE_V,
    end_voltage_limit,
    resting_voltage,
)
from percell.questions.unequal import rules
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry
from percell.questions.vocabulary.limits import Held
from percell.questions.vocabulary.rules import finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, given


def resting(chemistry: Chemistry, rest_v: Floats, name_of: Callable[[int], str]) -> Held:
    """Hold the voltages of cells at rest to both ends.

    Args:
        chemistry: Of all cells.
        rest_v: Open-circuit voltages.
        name_of: Returns the name of a cell by its place.
    """
    lowest, highest = int(np.argmin(rest_v)), int(np.argmax(rest_v))
    end = end_voltage_limit(chemistry, float(rest_v[lowest]))
    charged = resting_voltage(chemistry, float(rest_v[highest]))
    preset, found = VOLTAGES[chemistry], []
    if end.verdict is Verdict.OVER:
        found.append(
            finding(
                rules.CELL_BELOW_END,
                f"{name_of(lowest)} rests at {given(float(rest_v[lowest]))} V, below {preset.end_v:g} V, the "
                f"end-of-discharge voltage of {preset.name}. Do not use, join or charge it.",
            )
        )
    if charged.verdict is Verdict.OVER:
        found.append(
            finding(
                rules.CELL_ABOVE_FULL,
                f"{name_of(highest)} rests at {given(float(rest_v[highest]))} V, more than {OVERCHARGE_V:g} V "
                f"above {preset.charged_v:g} V, the charged voltage of {preset.name}. Do not use, join or "
                "charge it.",
            )
        )
    return Held([end, charged], found)


def under_load(chemistry: Chemistry, cell_v: Floats, name_of: Callable[[int], str]) -> Held:
    """Hold the lowest voltage of cells under a load to the end of discharge."""
    lowest = int(np.argmin(cell_v))
    limit = end_voltage_limit(chemistry, float(cell_v[lowest]))
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    preset = VOLTAGES[chemistry]
    sentence = (
        f"{name_of(lowest)} is at {beside(float(cell_v[lowest]), preset.end_v)} V under this load, below "
        f"{preset.end_v:g} V, the end-of-discharge voltage of {preset.name}. Reduce the load or stop."
    )
    return Held([limit], [finding(rules.CELL_BELOW_END, sentence)])
