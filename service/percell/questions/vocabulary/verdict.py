"""The verdicts on a limit, mildest first, and the one place that says what "within" means."""

from collections.abc import Iterable
from enum import StrEnum
from typing import Annotated, Any

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from percell.physics.meter import NOISE
from percell.physics.types import Number, as_given, is_array

HEADROOM = 0.1


class Verdict(StrEnum):
    """Verdict on a figure and its limit, mildest first."""

    WITHIN = "within_limit"
    LITTLE = "little_headroom"
    NOT_JUDGED = "not_judged"
    OVER = "over_limit"


_GRAVITY = {verdict: place for place, verdict in enumerate(Verdict)}

_ORDER = " < ".join(f"`{verdict.value}`" for verdict in Verdict)
VerdictField = Annotated[
    Verdict,
    Meta(
        description=(
            f"Worst verdict of the limits, in the order {_ORDER}. `little_headroom` means within the limit, by "
            "less than a tenth of it. A limit that was not judged because a field or a test is `missing` does "
            "not count, unless it is the first of the list."
        )
    ),
]


def verdict(current_a: float, rating_a: float) -> Verdict:
    """Return the verdict on one current. A difference of a billionth is floating-point noise."""
    if current_a > rating_a * (1 + NOISE):
        return Verdict.OVER
    return Verdict.LITTLE if current_a > rating_a * (1 - HEADROOM) * (1 + NOISE) else Verdict.WITHIN


def headroom(current_a: Number, rating_a: Number) -> Number:
    """Return the unused part of a rating; what is equal to a billionth leaves exactly none."""
    left = 1 - current_a / rating_a
    return (
        as_given(np.where(abs(left) <= NOISE, 0.0, left), left) if is_array(left) else _exact(left)
    )


def _exact(left: float) -> float:
    return 0.0 if abs(left) <= NOISE else left


def gravest(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the worst of some verdicts; within the limit where there are none."""
    return max(verdicts, key=_GRAVITY.__getitem__, default=Verdict.WITHIN)


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
