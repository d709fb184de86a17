"""What the cold does to an answer: more resistance, and far below freezing no limit that is surely kept."""

from typing import Any

import numpy as np
from msgspec import UNSET

from percell.physics.measured_cells import temperature_ratio
from percell.physics.meter import NOISE
from percell.physics.types import Number
from percell.questions.answering import rules
from percell.questions.vocabulary.limits import Limit, not_judged
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import given, shown

# below it the resistance is clearly higher than that of usual room air
COLD_C = 10.0
# below it no answer was compared with a measured cell
LOWEST_COMPARED_C = -10.0
NOT_COMPARED = f"no measured cell was compared below −{-LOWEST_COMPARED_C:g} °C"
TEMPERATURES = ("cell_temperature_c", "ambient_temperature_c")


def is_below(asked: Any, limit_c: float) -> bool:
    """Whether the cells of a question, or the air around them, are colder than a temperature."""
    told = (getattr(asked, name, UNSET) for name in TEMPERATURES)
    return any(bool(below(at_c, limit_c)) for at_c in told if at_c is not UNSET)


def below(at_c: Number, limit_c: float) -> "bool | np.bool_":
    """Whether a temperature is below another one; of an array, each."""
    found: bool | np.bool_ = at_c < limit_c - NOISE * abs(limit_c)
    return found


def kept_in_the_cold(asked: Any, limits: list[Limit]) -> list[Limit]:
    """Return the limits; far below freezing none of them is surely kept, and what exceeds one stays over."""
    if not is_below(asked, LOWEST_COMPARED_C):
        return limits
    return [
        one if one.verdict is Verdict.NOT_JUDGED else not_judged(one, NOT_COMPARED)
        for one in limits
    ]


def cold_findings(temperature_c: float) -> list[Finding]:
    """Return the finding about a cell so cold that its resistance is clearly higher than usual."""
    if not below(temperature_c, COLD_C):
        return []
    ratio = shown(float(temperature_ratio(temperature_c=temperature_c)))
    sentence = (
        f"Warm the cells before use. At {given(temperature_c)} °C a cell has about {ratio} times its resistance at 25 °C. The figures include "
        "that."
    )
    if below(temperature_c, LOWEST_COMPARED_C):
        sentence += f" Nothing is judged as within a limit, because {NOT_COMPARED}."
    return [finding(rules.COLD, sentence)]
