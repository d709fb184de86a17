"""The one place that says what "within the rating" means."""

from enum import StrEnum
from typing import Annotated, Any

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from percell.physics.meter import NOISE
from percell.physics.types import Number

HEADROOM = 0.1


class Verdict(StrEnum):
    """A current against a rating."""

    WITHIN = "within_limit"
    LITTLE = "little_headroom"
    OVER = "over_limit"


VerdictField = Annotated[
    Verdict,
    Meta(
        description="The worst-case cell's current against its rating, and nothing else: equal is "
        "within; little_headroom is within, by less than a tenth of the rating. A finding may still warn of "
        "a voltage, a temperature or a reversed cell."
    ),
]


def verdict(current_a: float, rating_a: float) -> Verdict:
    """Return the verdict on one current. A difference of a billionth is floating-point noise."""
    if current_a > rating_a * (1 + NOISE):
        return Verdict.OVER
    return Verdict.LITTLE if current_a > rating_a * (1 - HEADROOM) * (1 + NOISE) else Verdict.WITHIN


def verdicts(current_a: Number, rating_a: Number) -> NDArray[Any]:
    """Return the verdicts on an array of currents, as texts; None where a current is NaN."""
    judged = np.where(
        current_a > rating_a * (1 + NOISE),
        Verdict.OVER.value,
        np.where(
            current_a > rating_a * (1 - HEADROOM) * (1 + NOISE),
            Verdict.LITTLE.value,
            Verdict.WITHIN.value,
        ),
    )
    # comparisons with NaN are false, and would give the mildest verdict
    return np.where(np.isnan(current_a), np.array(None), judged)
