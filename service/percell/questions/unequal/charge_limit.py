"""The charge limit of a cell that others charge: the manufacturer's, else the usual one."""

from functools import cache
from typing import Annotated

import numpy as np
from msgspec import UNSET, UnsetType

from percell.physics import claim
from percell.physics.charging import USUAL_RATE, usual_charge_current_a
from percell.physics.meter import NOISE, rounded_down
from percell.physics.sizes import SIZES
from percell.physics.types import Floats
from percell.questions.answering.envelope import Assumption
from percell.questions.unequal import rules
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry
from percell.questions.vocabulary.fields import COMMON_PRACTICE, quantity
from percell.questions.vocabulary.limits import Held, Limit, judged, not_judged
from percell.questions.vocabulary.rules import LimitName, finding
from percell.questions.vocabulary.wording import given, shown

# capacities per hour; few cells may be charged faster, so a higher limit may be a discharge rating
FASTEST_RATE = 2.0

USUAL_CHARGE_FROM = f"half the capacity per hour, the usual charge current, {COMMON_PRACTICE}"

LARGEST_CHARGE_FROM = (
    "no capacity was given: the usual charge current of the largest round cell thought possible, or the "
    "discharge rating if that is lower; percell's own choice"
)

UNKNOWN_CHARGE = "neither the cell's charge limit nor its capacity was given"
MOST_ASSUMED = f" (the highest that percell assumes, because {UNKNOWN_CHARGE})"

CellChargeLimitA = Annotated[
    float,
    quantity(
        "A",
        0.01,
        200,
        "Highest charge current of one cell, as the manufacturer states it.",
        default="half the capacity per hour, the usual current, which proves nothing. Without a capacity: that of the "
        "largest round cell, or the discharge rating if that is lower",
    ),
]


def charge_limits_a(limit_a: float | UnsetType, capacity_ah: Floats) -> Floats:
    """Return the charge limit of each cell: the given one, or else the usual one."""
    return (
        usual_charge_current_a(capacity_ah=capacity_ah)
        if limit_a is UNSET
        else np.full_like(capacity_ah, limit_a)
    )


@cache
def largest_charge_limit_a(chemistry: Chemistry) -> float:
    """Return the usual charge current of the largest round cell thought possible, rounded down.

    A cell whose capacity nobody gave hardly takes more.
    """
    density_whl = max(bound.value for bound in claim.density_bounds(chemistry=chemistry))
    largest_ah = max(
        float(
            claim.highest_capacity_ah(
                diameter_mm=size.diameter_mm,
                height_mm=size.height_mm,
                nominal_voltage_v=VOLTAGES[chemistry].nominal_v,
                density_whl=density_whl,
            )
        )
        for size in SIZES.values()
    )
    return rounded_down(value=usual_charge_current_a(capacity_ah=largest_ah), step=0.1)


def largest_charge_limit_of_any_a(rating_a: float | UnsetType) -> float:
    """Return the same for a cell of unknown chemistry, or its discharge rating if that is lower."""
    largest_a = max(largest_charge_limit_a(chemistry) for chemistry in Chemistry)
    return largest_a if rating_a is UNSET else min(largest_a, rating_a)


def charge_current(charge_a: float, limit_a: float, *, assumed: bool) -> Limit:
    """Hold a charge current against the limit of its cell. An assumed limit allows nothing."""
    limit = judged(LimitName.CHARGE_CURRENT, charge_a, limit_a, "A")
    if not assumed:
        return limit
    return not_judged(
        limit, f"the charge limit of {given(limit_a)} A ({USUAL_RATE:g} C) was only assumed"
    )


def believed(limit: Limit, given_a: float | UnsetType, capacity_ah: float) -> Held:
    """Doubt a given charge limit that few cells of a capacity have: nothing is within it."""
    if given_a is UNSET or given_a <= FASTEST_RATE * capacity_ah * (1 + NOISE):
        return Held([limit], [])
    many = f"more than {FASTEST_RATE:g} times the capacity per hour"
    return Held(
        [not_judged(limit, f"the charge limit of {given(given_a)} A is {many}")],
        [
            finding(
                rules.CHARGE_LIMIT_DOUBTED,
                f"Is {given(given_a)} A the discharge rating? As a charge limit it is {many} for a cell of "
                f"{shown(capacity_ah)} Ah. Look up the charge current.",
            )
        ],
    )


def limit_assumed(limit_a: float, origin: str = USUAL_CHARGE_FROM) -> Assumption:
    """Return the charge limit of a cell as a default in use."""
    return Assumption("cell_charge_limit_a", limit_a, "A", origin)


def of_which(limit_a: float | UnsetType) -> str:
    """Return what a sentence adds to a charge limit that was not given."""
    return f" (the usual {USUAL_RATE:g} C, because none was given)" if limit_a is UNSET else ""
