"""Cells at different voltages joined in parallel, with nothing else connected.

The first rush of current of a whole group is ``circuit.cell_current_a`` with no load.
"""

import numpy as np

from percell.physics.errors import NoSolution
from percell.physics.types import Floats, Quantity, as_given


def rush_current_a(
    *, voltage_apart_v: Quantity, path_resistance_ohm: Quantity, other_path_resistance_ohm: Quantity
) -> Quantity:
    """Return the current between two cells at the moment they are joined.

    ``I = ΔV/(r₁ + r₂)``

    Args:
        voltage_apart_v: Difference of the two open-circuit voltages. [V], finite
        path_resistance_ohm: Resistance of one cell with its contacts. [ohm], > 0
        other_path_resistance_ohm: Resistance of the other cell with its contacts. [ohm], > 0

    Returns:
        Current out of the cell at the higher voltage into the other. [A]

    Source:
        Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455.

    >>> rush_current_a(voltage_apart_v=1.0, path_resistance_ohm=0.25,
    ...     other_path_resistance_ohm=0.25)
    2.0
    """
    return voltage_apart_v / (path_resistance_ohm + other_path_resistance_ohm)


def highest_charge_current_a(
    *, cell_source_voltage_v: Floats, path_resistance_ohm: Floats
) -> Floats:
    """Return the highest current into each cell, in whatever order the cells are joined.

    ``max (E_others − E_i)/(r_i + R_others)`` over the sets of other cells that may be joined first.
    A further cell raises the common voltage only if its own is higher, so the worst set is one of
    those that hold the cells with the highest voltages.

    Args:
        cell_source_voltage_v: Open-circuit voltage of each cell, shape (P,). [V], finite, P >= 2
        path_resistance_ohm: Resistance of each cell with its contacts, shape (P,). [ohm], > 0

    Returns:
        Current into each cell; 0 for one that no other charges, shape (P,). [A]

    Source:
        Kirchhoff's rules and Millman's theorem, OpenStax University Physics Vol. 2, module m58455.

    Alone against 4 V the last cell takes 1 V over 2 ohm; with the first two in parallel, over 1.5 ohm.

    >>> highest_charge_current_a(cell_source_voltage_v=np.array([4.0, 4.0, 3.0]),
    ...     path_resistance_ohm=np.ones(3)).round(4).tolist()
    [0.0, 0.0, 0.6667]
    """
    order = np.argsort(-cell_source_voltage_v, kind="stable")
    highest = np.zeros_like(cell_source_voltage_v)
    for i, (own_v, own_ohm) in enumerate(
        zip(cell_source_voltage_v, path_resistance_ohm, strict=True)
    ):
        others = order[order != i]
        conductance = np.cumsum(1.0 / path_resistance_ohm[others])
        driven_a = np.cumsum((cell_source_voltage_v[others] - own_v) / path_resistance_ohm[others])
        currents_a = driven_a / conductance / (own_ohm + 1.0 / conductance)
        highest[i] = max(0.0, float(np.max(currents_a)))
    return highest


def highest_voltage_apart_v(*, cell_charge_limit_a: Floats, path_resistance_ohm: Floats) -> float:
    """Return the difference of voltages within which no cell is charged above its limit.

    ``min I_i·(r_i + R_others)``: the worst case is one low cell among others that are all high.

    Args:
        cell_charge_limit_a: Charge current that each cell takes, shape (P,). [A], > 0
        path_resistance_ohm: Resistance of each cell with its contacts, shape (P,). [ohm], > 0

    Returns:
        Difference between the highest and the lowest open-circuit voltage. [V]

    Source:
        Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455.

    >>> highest_voltage_apart_v(cell_charge_limit_a=np.array([2.0, 2.0]),
    ...     path_resistance_ohm=np.array([0.25, 0.25]))
    1.0
    """
    conductance = 1.0 / path_resistance_ohm
    # summed without the cell itself, so that nothing cancels where one cell outweighs all others
    others = np.array([np.sum(np.delete(conductance, i)) for i in range(len(conductance))])
    return float(np.min(cell_charge_limit_a * (path_resistance_ohm + 1.0 / others)))


def state_of_charge(
    *, cell_source_voltage_v: Quantity, curve_charge: Floats, curve_voltage_v: Floats
) -> Quantity:
    """Return the state of charge that belongs to an open-circuit voltage.

    The curve read backwards, straight between its points.

    Args:
        cell_source_voltage_v: Open-circuit voltage. [V], >= the curve's first, <= its last
        curve_charge: State of charge at the points, shape (K,). [1], 0 to 1, strictly rising
        curve_voltage_v: Open-circuit voltage there, shape (K,). [V], > 0, strictly rising

    Returns:
        State of charge. [1]

    Raises:
        NoSolution: A voltage lies outside the curve.

    Source:
        Definition; linear interpolation.

    >>> state_of_charge(cell_source_voltage_v=3.5, curve_charge=np.array([0.0, 1.0]),
    ...     curve_voltage_v=np.array([3.0, 4.0]))
    0.5
    """
    lowest_v, highest_v = float(curve_voltage_v[0]), float(curve_voltage_v[-1])
    least_v, most_v = float(np.min(cell_source_voltage_v)), float(np.max(cell_source_voltage_v))
    if least_v < lowest_v or most_v > highest_v:
        raise NoSolution(
            "voltage_off_curve",
            "The open-circuit voltage of a cell is outside the curve of its chemistry.",
            open_circuit_voltage_v=least_v if least_v < lowest_v else most_v,
            lowest_voltage_v=lowest_v,
            highest_voltage_v=highest_v,
        )
    charge = np.interp(cell_source_voltage_v, curve_voltage_v, curve_charge)
    return as_given(charge, cell_source_voltage_v)


def settling_charge(*, cell_capacity_ah: Floats, cell_charge: Floats) -> float:
    """Return the state of charge at which joined cells of one chemistry come to rest.

    ``z = Σ(q_i·z_i)/Σq_i``: charge is conserved, and cells with one curve that rest at one voltage
    have one state of charge.

    Args:
        cell_capacity_ah: Capacity of each cell, shape (P,). [Ah], > 0
        cell_charge: State of charge of each cell before, shape (P,). [1], 0 to 1

    Returns:
        State of charge. [1]

    Source:
        Conservation of charge.

    >>> settling_charge(cell_capacity_ah=np.array([1.0, 3.0]), cell_charge=np.array([1.0, 0.0]))
    0.25
    """
    return float(np.sum(cell_capacity_ah * cell_charge) / np.sum(cell_capacity_ah))


def settling_voltage_v(
    *, settled_charge: Quantity, curve_charge: Floats, curve_voltage_v: Floats
) -> Quantity:
    """Return the open-circuit voltage that belongs to a state of charge.

    Straight between the points of the curve.

    Args:
        settled_charge: State of charge. [1], 0 to 1
        curve_charge: State of charge at the points, shape (K,). [1], 0 to 1, strictly rising
        curve_voltage_v: Open-circuit voltage there, shape (K,). [V], > 0, strictly rising

    Returns:
        Voltage. [V]

    Source:
        Definition; linear interpolation.

    >>> settling_voltage_v(settled_charge=0.5, curve_charge=np.array([0.0, 1.0]),
    ...     curve_voltage_v=np.array([3.0, 4.0]))
    3.5
    """
    return as_given(np.interp(settled_charge, curve_charge, curve_voltage_v), settled_charge)


def moved_charge_ah(
    *, cell_capacity_ah: Floats, cell_charge: Floats, settled_charge: float
) -> Floats:
    """Return the charge that each joined cell gives out until all rest.

    ``Δq_i = q_i·(z_i − z)``; over all cells they cancel.

    Args:
        cell_capacity_ah: Capacity of each cell, shape (P,). [Ah], > 0
        cell_charge: State of charge of each cell before, shape (P,). [1], 0 to 1
        settled_charge: State of charge of all of them after. [1], 0 to 1

    Returns:
        Charge, positive = given, negative = taken in, shape (P,). [Ah]

    Source:
        Conservation of charge.

    >>> moved_charge_ah(cell_capacity_ah=np.array([1.0, 3.0]), cell_charge=np.array([1.0, 0.0]),
    ...     settled_charge=0.25).tolist()
    [0.75, -0.75]
    """
    return cell_capacity_ah * (cell_charge - settled_charge)
