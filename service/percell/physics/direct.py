"""A coil wired straight to a pack."""

from percell.physics.types import Quantity


def load_current_a(
    *, source_voltage_v: Quantity, source_resistance_ohm: Quantity, load_resistance_ohm: Quantity
) -> Quantity:
    """Return the current through a load fed by a source with internal resistance.

    ``I = U/(R_source + R_load)``; with no source resistance this is the most it can be.

    Args:
        source_voltage_v: Open-circuit voltage of the source. [V], >= 0
        source_resistance_ohm: Internal resistance of the source. [ohm], >= 0
        load_resistance_ohm: Resistance of the load. [ohm], > 0

    Returns:
        Current. [A]

    Source:
        OpenStax University Physics Vol. 2, module m58453 (I = ε/(R + r)).

    >>> load_current_a(source_voltage_v=8.0, source_resistance_ohm=0.5, load_resistance_ohm=1.5)
    4.0
    """
    return source_voltage_v / (source_resistance_ohm + load_resistance_ohm)


def lowest_resistance_ohm(*, source_voltage_v: Quantity, current_a: Quantity) -> Quantity:
    """Return the resistance at which a source without sag drives a given current.

    ``R = U/I``: any lower resistance drives more.

    Args:
        source_voltage_v: Voltage of the source. [V], > 0
        current_a: Current that must not be exceeded. [A], > 0

    Returns:
        Resistance. [ohm]

    Source:
        Ohm's law, OpenStax University Physics Vol. 2, module m58734.

    >>> lowest_resistance_ohm(source_voltage_v=4.0, current_a=20.0)
    0.2
    """
    return source_voltage_v / current_a


def load_power_w(*, current_a: Quantity, load_resistance_ohm: Quantity) -> Quantity:
    """Return the power in a load.

    ``P = I²·R``

    Args:
        current_a: Current through the load. [A], >= 0
        load_resistance_ohm: Resistance of the load. [ohm], > 0

    Returns:
        Power. [W]

    Source:
        OpenStax University Physics Vol. 2, module m58453, worked example (20.00 A, 0.500 ohm, 200 W).

    >>> load_power_w(current_a=20.0, load_resistance_ohm=0.5)
    200.0
    """
    return current_a * current_a * load_resistance_ohm


def sag_v(*, current_a: Quantity, source_resistance_ohm: Quantity) -> Quantity:
    """Return the voltage that a source loses to its own resistance.

    ``ΔU = r·I``: what is lost at the first moment and over seconds. Over minutes a lithium-ion cell
    loses more, because its slow part follows the current late.

    Args:
        current_a: Current out of the source. [A], >= 0
        source_resistance_ohm: Internal d.c. resistance with the contacts. [ohm], >= 0

    Returns:
        Voltage lost. [V]

    Source:
        OpenStax University Physics Vol. 2, module m58453 (V = ε − I·r).

    >>> sag_v(current_a=20.0, source_resistance_ohm=0.025)
    0.5
    """
    return current_a * source_resistance_ohm
