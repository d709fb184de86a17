"""Unequal cells joined in parallel: the group as one source, and what each cell carries.

A cell with its contacts is a path. In every array the last axis holds the paths of one group, so
that a pack of equal-sized groups is one array of shape (S, P). Currents are positive when a cell is
discharging and negative when it is being charged.
"""

import numpy as np

from percell.physics.types import Floats, Quantity


def group_resistance_ohm(*, path_resistance_ohm: Floats) -> Floats:
    """Return the internal resistance of a parallel group.

    ``R = 1/Σ(1/r)``

    Args:
        path_resistance_ohm: Resistance of each cell with its contacts, shape (..., P). [ohm], > 0

    Returns:
        Resistance, shape (...). [ohm]

    Source:
        OpenStax University Physics Vol. 2, module m58455 (sources in parallel).

    >>> float(group_resistance_ohm(path_resistance_ohm=np.array([1.0, 1.0])))
    0.5
    """
    group_ohm: Floats = 1.0 / np.sum(1.0 / path_resistance_ohm, axis=-1)
    return group_ohm


def group_source_voltage_v(*, cell_source_voltage_v: Floats, path_resistance_ohm: Floats) -> Floats:
    """Return the voltage of a parallel group that feeds nothing.

    ``E = E₁ + Σ((E_i − E₁)/r_i)·R``: the mean of the cells' voltages weighted by their conductances.
    Written around the first cell, so that equal cells give their own voltage to the last digit and
    no current is made up between them.

    Args:
        cell_source_voltage_v: Open-circuit voltage of each cell, shape (..., P). [V], finite
        path_resistance_ohm: Resistance of each cell with its contacts, shape (..., P). [ohm], > 0

    Returns:
        Voltage, shape (...). [V]

    Source:
        Millman's theorem, Lessons in Electric Circuits, DC, chapter 10 (read in a secondary copy).

    >>> float(group_source_voltage_v(cell_source_voltage_v=np.array([4.0, 3.0]),
    ...     path_resistance_ohm=np.array([1.0, 1.0])))
    3.5
    """
    first_v = cell_source_voltage_v[..., :1]
    driven_a = np.sum((cell_source_voltage_v - first_v) / path_resistance_ohm, axis=-1)
    group_v: Floats = first_v[..., 0] + driven_a * group_resistance_ohm(
        path_resistance_ohm=path_resistance_ohm
    )
    return group_v


def cell_current_a(
    *, group_current_a: Quantity, cell_source_voltage_v: Floats, path_resistance_ohm: Floats
) -> Floats:
    """Return the current of each cell of a parallel group.

    ``I_i = I·g_i/Σg + (E_i − E)·g_i`` with ``g = 1/r``: the cell's share of the load by the current
    divider, and what it gives to or takes from the other cells. The two parts stay exact when there
    is no load or no difference of voltage, where ``(E_i − V)/r_i`` would subtract nearly equal
    voltages; a single cell carries the group's current to the last digit.

    Args:
        group_current_a: Current out of the group, shape (...). [A], finite
        cell_source_voltage_v: Open-circuit voltage of each cell, shape (..., P). [V], finite
        path_resistance_ohm: Resistance of each cell with its contacts, shape (..., P). [ohm], > 0

    Returns:
        Current, positive = discharging, negative = being charged, shape (..., P). [A]

    Source:
        Superposition of Millman's theorem and the current divider; Kirchhoff's rules, OpenStax
        University Physics Vol. 2, module m58455.

    >>> cell_current_a(group_current_a=3.0, cell_source_voltage_v=np.array([4.0, 4.0]),
    ...     path_resistance_ohm=np.array([1.0, 2.0])).tolist()
    [2.0, 1.0]
    """
    conductances = 1.0 / path_resistance_ohm
    parts = conductances / np.sum(conductances, axis=-1, keepdims=True)
    group_v = group_source_voltage_v(
        cell_source_voltage_v=cell_source_voltage_v, path_resistance_ohm=path_resistance_ohm
    )
    offset_v = cell_source_voltage_v - np.asarray(group_v)[..., np.newaxis]
    currents: Floats = (
        np.asarray(group_current_a)[..., np.newaxis] * parts + offset_v * conductances
    )
    return currents
