"""Equal cells joined in series and in parallel."""

from percell.physics.types import Quantity


def pack_voltage_v(*, cell_voltage_v: Quantity, series: Quantity) -> Quantity:
    """Return the voltage of a pack of equal cells.

    ``U = S·u``: cells in series add their voltages, cells in parallel share one.

    Args:
        cell_voltage_v: Voltage of one cell. [V], finite
        series: Cells in series, S. [1], >= 1

    Returns:
        Voltage. [V]

    Source:
        OpenStax University Physics Vol. 2, module m58455 (emfs in series add).

    >>> pack_voltage_v(cell_voltage_v=4.0, series=2)
    8.0
    """
    return series * cell_voltage_v


def pack_capacity_ah(*, cell_capacity_ah: Quantity, parallel: Quantity) -> Quantity:
    """Return the capacity of a pack of equal cells.

    ``Q = P·q``: only cells in parallel add their charge.

    Args:
        cell_capacity_ah: Capacity of one cell. [Ah], > 0
        parallel: Cells in parallel, P. [1], >= 1

    Returns:
        Capacity. [Ah]

    Source:
        Modelica Standard Library, Electrical.Batteries, UsersGuide.Parameterization (Q × Np).

    >>> pack_capacity_ah(cell_capacity_ah=3.0, parallel=2)
    6.0
    """
    return parallel * cell_capacity_ah


def pack_energy_wh(
    *, cell_capacity_ah: Quantity, cell_nominal_voltage_v: Quantity, cells: Quantity
) -> Quantity:
    """Return the energy of cells at their nominal voltage.

    ``E = N·q·u``; the layout does not matter.

    Args:
        cell_capacity_ah: Capacity of one cell. [Ah], > 0
        cell_nominal_voltage_v: Nominal voltage of one cell. [V], > 0
        cells: Number of cells, N. [1], >= 1

    Returns:
        Energy. [Wh]

    Source:
        49 CFR 171.8, "Watt-hour": rated capacity (Ah) multiplied by nominal voltage (V).

    >>> pack_energy_wh(cell_capacity_ah=2.0, cell_nominal_voltage_v=3.5, cells=2)
    14.0
    """
    return cells * cell_capacity_ah * cell_nominal_voltage_v


def pack_resistance_ohm(
    *,
    cell_resistance_ohm: Quantity,
    contact_resistance_ohm: Quantity,
    series: Quantity,
    parallel: Quantity,
) -> Quantity:
    """Return the internal resistance of a pack of equal cells with their contacts.

    ``R = S·(r + r_contact)/P``

    Args:
        cell_resistance_ohm: Internal d.c. resistance of one cell. [ohm], >= 0
        contact_resistance_ohm: Resistance of the contacts of one cell. [ohm], >= 0
        series: Cells in series, S. [1], >= 1
        parallel: Cells in parallel, P. [1], >= 1

    Returns:
        Resistance. [ohm]

    Source:
        Modelica Standard Library, Electrical.Batteries, UsersGuide.Parameterization (R × Ns/Np).

    >>> pack_resistance_ohm(
    ...     cell_resistance_ohm=0.5, contact_resistance_ohm=0.25, series=2, parallel=3)
    0.5
    """
    return series * (cell_resistance_ohm + contact_resistance_ohm) / parallel


def counted_cells(*, parallel: Quantity) -> Quantity:
    """Return the number of cells that a parallel group is counted as.

    ``P − ½`` for two or more, 1 for one: contacts and cells differ, so one cell carries more than
    an even share. Written without a branch, so that arrays work too.

    Args:
        parallel: Cells in parallel, P. [1], >= 1

    Returns:
        Cells counted. [1]

    Source:
        Common practice, no published source. ``spread`` in this package judges it.

    >>> counted_cells(parallel=1), counted_cells(parallel=2), counted_cells(parallel=3)
    (1.0, 1.5, 2.5)
    """
    return parallel - 0.5 * (parallel >= 2)


def group_rating_a(*, cell_rating_a: Quantity, counted: Quantity) -> Quantity:
    """Return the current a parallel group may carry.

    ``I = n·I_r``, n being the cells counted: P for an even share, P − ½ with the allowance.

    Args:
        cell_rating_a: Continuous discharge rating of one cell. [A], > 0
        counted: Cells counted, n. [1], >= 1

    Returns:
        Current. [A]

    Source:
        Kirchhoff's current law, OpenStax University Physics Vol. 2, module m58455.

    >>> group_rating_a(cell_rating_a=20.0, counted=1.5)
    30.0
    """
    return counted * cell_rating_a
