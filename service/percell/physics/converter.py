"""A load fed through a converter, which draws constant power from the pack."""

from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE
from percell.physics.types import Quantity, certain


def input_power_w(
    *, output_power_w: Quantity, efficiency: Quantity, idle_power_w: Quantity
) -> Quantity:
    """Return the power a converter draws at its input.

    ``P_in = P/η + P_idle``

    Args:
        output_power_w: Power delivered to the load. [W], >= 0
        efficiency: Output over input power, without the idle part. [1], 0 < η <= 1
        idle_power_w: Power the converter needs for itself. [W], >= 0

    Returns:
        Power. [W]

    Source:
        Definition of efficiency; conservation of energy.

    >>> input_power_w(output_power_w=90.0, efficiency=0.9, idle_power_w=1.0)
    101.0
    """
    return output_power_w / efficiency + idle_power_w


def current_at_voltage_a(*, input_power_w: Quantity, source_voltage_v: Quantity) -> Quantity:
    """Return the current at a known voltage under load.

    ``I = P_in/U``: it rises as the pack empties.

    Args:
        input_power_w: Power drawn. [W], >= 0
        source_voltage_v: Voltage at the converter's input, under load. [V], > 0

    Returns:
        Current. [A]

    Source:
        OpenStax University Physics Vol. 2, module m58735 (P = IV).

    >>> current_at_voltage_a(input_power_w=100.0, source_voltage_v=8.0)
    12.5
    """
    return input_power_w / source_voltage_v


def current_from_rest_a(
    *, input_power_w: Quantity, source_voltage_v: Quantity, source_resistance_ohm: Quantity
) -> Quantity:
    """Return the smaller of the two currents at which a source delivers a given power.

    ``R·I² − U·I + P = 0``, written without cancellation as ``I = 2P/(U + √(U² − 4RP))``, which also
    holds for R = 0. The larger root is the collapse side, where more current gives less power.

    Args:
        input_power_w: Power drawn. [W], >= 0
        source_voltage_v: Open-circuit voltage of the source. [V], > 0
        source_resistance_ohm: Internal resistance of the source. [ohm], >= 0

    Returns:
        Current; in an array, NaN where there is none. [A]

    Raises:
        NoSolution: A single power is above ``U²/4R``, the most the source can give, by more than a
            billionth.

    Source:
        Maximum power transfer, OpenStax University Physics Vol. 2, module m58453 (exercise).

    >>> current_from_rest_a(input_power_w=40.0, source_voltage_v=4.0, source_resistance_ohm=0.1)
    20.0
    """
    square = source_voltage_v * source_voltage_v
    discriminant = square - 4.0 * source_resistance_ohm * input_power_w
    # the most the source can give, written in another way, may come out a rounding error above it
    discriminant = discriminant * (1 - (discriminant < 0.0) * (discriminant >= -NOISE * square))
    if certain(discriminant < 0.0):
        raise NoSolution(
            "power_not_available",
            "The pack cannot deliver this power at any current.",
            input_power_w=float(input_power_w),
            available_power_w=float(square / (4.0 * source_resistance_ohm)),
        )
    root: Quantity = discriminant**0.5
    return 2.0 * input_power_w / (source_voltage_v + root)


def power_from_rest_w(
    *, current_a: Quantity, source_voltage_v: Quantity, source_resistance_ohm: Quantity
) -> Quantity:
    """Return the highest power a source delivers without its current passing a given one.

    ``P = U·I − R·I²`` up to the current U/2R, where the power is at its top ``U²/4R``: past that
    point every deliverable power is reached at a smaller current.

    Args:
        current_a: Current that must not be exceeded. [A], > 0
        source_voltage_v: Open-circuit voltage of the source. [V], > 0
        source_resistance_ohm: Internal resistance of the source. [ohm], >= 0

    Returns:
        Power. [W]

    Source:
        Maximum power transfer, OpenStax University Physics Vol. 2, module m58453 (exercise).

    >>> power_from_rest_w(current_a=20.0, source_voltage_v=4.0, source_resistance_ohm=0.1)
    40.0
    >>> power_from_rest_w(current_a=30.0, source_voltage_v=4.0, source_resistance_ohm=0.1)
    40.0
    """
    # current at the top of the parabola, kept finite where there is no resistance; a minimum
    # written with arithmetic, so that it also takes arrays
    beyond = 2.0 * source_resistance_ohm * current_a > source_voltage_v
    top_a = source_voltage_v / (2.0 * source_resistance_ohm + (1 - beyond))
    used_a = top_a * beyond + current_a * (1 - beyond)
    return used_a * (source_voltage_v - source_resistance_ohm * used_a)


def output_power_w(
    *, input_power_w: Quantity, efficiency: Quantity, idle_power_w: Quantity
) -> Quantity:
    """Return the output power of a converter that draws a given input power.

    ``P = (P_in − P_idle)·η``, the inverse of ``input_power_w``; nothing is left below the idle power.

    Args:
        input_power_w: Power drawn. [W], >= 0
        efficiency: Output over input power, without the idle part. [1], 0 < η <= 1
        idle_power_w: Power the converter needs for itself. [W], >= 0

    Returns:
        Power. [W]

    Source:
        Definition of efficiency; conservation of energy.

    >>> output_power_w(input_power_w=101.0, efficiency=0.9, idle_power_w=1.0)
    90.0
    """
    left_w = input_power_w - idle_power_w
    # half of a number and its magnitude: the number where it is positive, else zero without a sign
    return (left_w + abs(left_w)) / 2 * efficiency
