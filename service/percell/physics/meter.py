"""What a reading of a meter means, and rounding toward caution."""

from decimal import Decimal
from functools import lru_cache
from math import ceil, floor

from percell.physics.types import Quantity

# a printed step is met when it is met to a billionth: below that lies only floating-point noise
NOISE = 1e-9


def least_resistance_ohm(
    *,
    reading_ohm: Quantity,
    tolerance_ohm: Quantity,
    accuracy: Quantity,
    counts: Quantity,
    resolution_ohm: Quantity,
    lead_resistance_ohm: Quantity,
) -> Quantity:
    """Return the lowest resistance that a reading may stand for.

    ``R_min = R·(1 − a) − (n + ½)·d − R_leads − t``: every error at the end that is hard on the cell. A display
    shows no more than its last digit, so half of one is always unknown.

    Args:
        reading_ohm: The reading. [ohm], > 0
        tolerance_ohm: Tolerance of the resistance itself, plus or minus. [ohm], >= 0
        accuracy: Accuracy of the meter, part of the reading. [1], 0 <= a < 1
        counts: Accuracy of the meter, counts of the last digit. [1], >= 0
        resolution_ohm: Value of one count. [ohm], > 0
        lead_resistance_ohm: Resistance of the leads, if the reading holds it. [ohm], >= 0

    Returns:
        Resistance, zero or negative where the errors swallow the reading. [ohm]

    Source:
        Meter statement ±(part of reading + counts), worst corner; arithmetic sum, not root of squares; half
        a digit of the display: JCGM 100:2008, F.2.2.1.

    >>> least_resistance_ohm(reading_ohm=0.5625, tolerance_ohm=0.0, accuracy=0.0, counts=2,
    ...     resolution_ohm=0.125, lead_resistance_ohm=0.0)
    0.25
    """
    return (
        reading_ohm * (1.0 - accuracy)
        - (counts + 0.5) * resolution_ohm
        - lead_resistance_ohm
        - tolerance_ohm
    )


def least_reading_ohm(
    *,
    resistance_ohm: Quantity,
    tolerance_ohm: Quantity,
    accuracy: Quantity,
    counts: Quantity,
    resolution_ohm: Quantity,
    lead_resistance_ohm: Quantity,
) -> Quantity:
    """Return the lowest reading that is sure to stand for at least a given resistance.

    The inverse of ``least_resistance_ohm``: ``(R + t + R_leads + (n + ½)·d)/(1 − a)``.

    Args:
        resistance_ohm: Resistance that must not be undercut. [ohm], > 0
        tolerance_ohm: Tolerance of the resistance itself, plus or minus. [ohm], >= 0
        accuracy: Accuracy of the meter, part of the reading. [1], 0 <= a < 1
        counts: Accuracy of the meter, counts of the last digit. [1], >= 0
        resolution_ohm: Value of one count. [ohm], > 0
        lead_resistance_ohm: Resistance of the leads, if the reading holds it. [ohm], >= 0

    Returns:
        Reading, not yet rounded. [ohm]

    Source:
        Meter statement ±(part of reading + counts), worst corner.

    >>> least_reading_ohm(resistance_ohm=0.25, tolerance_ohm=0.0, accuracy=0.0, counts=2,
    ...     resolution_ohm=0.125, lead_resistance_ohm=0.0)
    0.5625
    """
    return (
        resistance_ohm + tolerance_ohm + lead_resistance_ohm + (counts + 0.5) * resolution_ohm
    ) / (1.0 - accuracy)


def rounded_up(*, value: float, step: float) -> float:
    """Return the smallest multiple of a step that is not below a value.

    A value above a multiple by less than a billionth of itself is that multiple.

    Args:
        value: Value. [as given], finite
        step: Step. [as value], > 0

    Returns:
        Multiple of the step. [as value]

    Source:
        Definition.

    >>> rounded_up(value=0.211, step=0.01), rounded_up(value=8.4 / 40, step=0.01)
    (0.22, 0.21)
    """
    return _multiple(ceil(value / step - NOISE * abs(value / step)), step)


def rounded_down(*, value: float, step: float) -> float:
    """Return the largest multiple of a step that is not above a value.

    A value below a multiple by less than a billionth of itself is that multiple.

    Args:
        value: Value. [as given], finite
        step: Step. [as value], > 0

    Returns:
        Multiple of the step. [as value]

    Source:
        Definition.

    >>> rounded_down(value=28.99, step=1.0), rounded_down(value=3 * 0.1, step=0.1)
    (28.0, 0.3)
    """
    return _multiple(floor(value / step + NOISE * abs(value / step)), step)


def _multiple(count: int, step: float) -> float:
    # through the decimal text of the step, so that 21 × 0.01 is 0.21 and prints as such
    return float(count * _as_written(step))


@lru_cache(maxsize=64)
def _as_written(step: float) -> Decimal:
    return Decimal(str(step))
