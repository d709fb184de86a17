"""The coil of a load: what a meter shows for it, or its true resistance."""

from typing import Any

import numpy as np
from msgspec import UNSET, UnsetType

from percell.physics import meter
from percell.physics.errors import NoSolution
from percell.physics.types import Number, as_given, certain, is_array
from percell.questions.answering.envelope import WorkingStep
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.presence import Needs, OneOf

METER = {
    "meter_accuracy": fields.METER_ACCURACY,
    "meter_counts": fields.METER_COUNTS,
    "meter_resolution_ohm": fields.METER_RESOLUTION_OHM,
    "lead_resistance_ohm": 0.0,
}
# below this a reading means nothing, and the current would have no bound
LEAST_OHM = 0.0005


METER_OF_A_READING = Needs(
    tuple(METER),
    "coil_reading_ohm",
    (
        "Give meter_accuracy, meter_counts, meter_resolution_ohm and lead_resistance_ohm only with "
        "coil_reading_ohm."
    ),
)
A_COIL = (
    OneOf(
        ("coil_reading_ohm", "coil_resistance_ohm"),
        (
            "Give exactly one coil: coil_reading_ohm (what a meter shows) or coil_resistance_ohm (the true "
            "resistance)."
        ),
    ),
    METER_OF_A_READING,
)
A_LOAD = (
    OneOf(
        ("coil_reading_ohm", "coil_resistance_ohm", "output_power_w"),
        (
            "Give exactly one load: coil_reading_ohm (what a meter shows), coil_resistance_ohm (the true "
            "resistance) or output_power_w (of a converter)."
        ),
    ),
    METER_OF_A_READING,
)


def is_direct(asked: Any) -> bool:
    """Return whether the load is a coil, and not a converter."""
    return getattr(asked, "output_power_w", UNSET) is UNSET


def meter_errors(asked: Any) -> dict[str, Number]:
    """Return the errors of a reading, as the formulas take them."""
    return {
        "tolerance_ohm": asked.coil_resistance_tolerance_ohm,
        "accuracy": asked.meter_accuracy,
        "counts": asked.meter_counts,
        "resolution_ohm": asked.meter_resolution_ohm,
        "lead_resistance_ohm": asked.lead_resistance_ohm,
    }


def lowest_ohm(asked: Any) -> Number:
    """Return the lowest resistance that the coil may have; NaN in an array where there is none.

    Raises:
        NoSolution: The errors are as large as the coil, which may then be a short circuit.
    """
    reading: float | UnsetType = asked.coil_reading_ohm
    if reading is UNSET:
        least: Number = asked.coil_resistance_ohm - asked.coil_resistance_tolerance_ohm
    else:
        least = meter.least_resistance_ohm(reading_ohm=reading, **meter_errors(asked))
    too_low = least < LEAST_OHM
    if certain(too_low):
        raise NoSolution(
            "reading_within_error",
            "The errors are as large as the coil's resistance, so the coil may be a short circuit.",
            lowest_true_resistance_ohm=least,
        )
    return as_given(np.where(too_low, np.nan, least), least) if is_array(too_low) else least


def expected_ohm(asked: Any) -> Number:
    """Return the resistance that the coil most likely has."""
    if asked.coil_reading_ohm is UNSET:
        true: Number = asked.coil_resistance_ohm
        return true
    reading: Number = asked.coil_reading_ohm - asked.lead_resistance_ohm
    return reading


def lowest_step(asked: Any, least: float) -> WorkingStep:
    """Show the lowest resistance that the coil may have."""
    if asked.coil_reading_ohm is UNSET:
        return WorkingStep(
            "Lowest resistance of the coil",
            "R_min = R − t",
            f"{asked.coil_resistance_ohm:.4g} Ω − {asked.coil_resistance_tolerance_ohm:.4g} Ω",
            least,
            "Ω",
        )
    return WorkingStep(
        "Lowest true resistance consistent with the reading",
        "R_min = R·(1 − a) − (n + ½)·d − R_leads − t",
        f"{asked.coil_reading_ohm:.4g} Ω × (1 − {asked.meter_accuracy:.4g}) − "
        f"({asked.meter_counts:.4g} + ½) × {asked.meter_resolution_ohm:.4g} Ω − "
        f"{asked.lead_resistance_ohm:.4g} Ω − {asked.coil_resistance_tolerance_ohm:.4g} Ω",
        least,
        "Ω",
    )
