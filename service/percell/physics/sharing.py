"""A pack of unequal cells under a load: what each cell carries.

Arrays of cells have the shape (S, P): S groups in series, P cells in parallel in each.
"""

from typing import NamedTuple

import numpy as np

from percell.physics import converter, direct
from percell.physics.circuit import cell_current_a, group_resistance_ohm, group_source_voltage_v
from percell.physics.types import Floats


class Source(NamedTuple):
    """A pack seen from its terminals."""

    voltage_v: float
    resistance_ohm: float


class Shared(NamedTuple):
    """A pack at one load current. The worst-case cell carries the most current, in either direction."""

    source: Source
    pack_current_a: float
    pack_voltage_v: float
    group_voltage_v: Floats  # (S,)
    cell_current_a: Floats  # (S, P), positive = discharging, negative = being charged
    cell_voltage_v: Floats  # (S, P), at the cell's own terminals; negative = driven into reversal
    cell_loss_w: Floats  # (S, P), heat inside the cell
    contact_loss_w: Floats  # (S, P), heat in its contacts
    worst_cell: tuple[int, int]  # place of the worst-case cell: group, cell in the group, from 0
    worst_cell_current_a: float  # signed

    @property
    def worst_cell_share(self) -> float:
        """The worst-case cell's part of the pack's current; only with a load is there one."""
        return abs(self.worst_cell_current_a) / self.pack_current_a


def pack_source(*, cell_source_voltage_v: Floats, path_resistance_ohm: Floats) -> Source:
    """Return the one source that a pack of unequal cells is, seen from its terminals.

    Thevenin: each group by Millman's theorem, then voltages and resistances of the groups in series
    add. Plain floats, so that a load's formula can refuse what has no solution.

    Args:
        cell_source_voltage_v: Open-circuit voltage of each cell, shape (S, P). [V], finite
        path_resistance_ohm: Resistance of each cell with its contacts, shape (S, P). [ohm], > 0

    Returns:
        Open-circuit voltage and internal resistance. [V, ohm]

    Source:
        OpenStax University Physics Vol. 2, module m58455 (sources in series and in parallel).

    >>> pack_source(cell_source_voltage_v=np.array([[4.0, 3.0], [4.0, 4.0]]),
    ...     path_resistance_ohm=np.array([[1.0, 1.0], [1.0, 1.0]]))
    Source(voltage_v=7.5, resistance_ohm=1.0)
    """
    groups_v = group_source_voltage_v(
        cell_source_voltage_v=cell_source_voltage_v, path_resistance_ohm=path_resistance_ohm
    )
    groups_ohm = group_resistance_ohm(path_resistance_ohm=path_resistance_ohm)
    return Source(float(np.sum(groups_v)), float(np.sum(groups_ohm)))


def shared_at_current(
    *,
    cell_source_voltage_v: Floats,
    cell_resistance_ohm: Floats,
    contact_resistance_ohm: Floats,
    pack_current_a: float,
) -> Shared:
    """Return the state of a pack of unequal cells that gives a known current.

    Every group carries the pack's current; ``circuit.cell_current_a`` divides it.

    Args:
        cell_source_voltage_v: Open-circuit voltage of each cell, shape (S, P). [V], finite
        cell_resistance_ohm: Internal d.c. resistance of each cell, shape (S, P). [ohm], > 0
        contact_resistance_ohm: Resistance of the contacts of each cell, shape (S, P). [ohm], >= 0
        pack_current_a: Current out of the pack; 0 where nothing is connected. [A], >= 0

    Returns:
        Currents, voltages and losses of the pack and of each cell. [A, V, W]

    Source:
        Kirchhoff's rules, OpenStax University Physics Vol. 2, module m58455.

    >>> shared_at_current(cell_source_voltage_v=np.array([[4.0, 3.0]]),
    ...     cell_resistance_ohm=np.array([[0.5, 0.5]]), contact_resistance_ohm=np.zeros((1, 2)),
    ...     pack_current_a=0.0).cell_current_a.tolist()
    [[1.0, -1.0]]
    """
    path_ohm = cell_resistance_ohm + contact_resistance_ohm
    source = pack_source(cell_source_voltage_v=cell_source_voltage_v, path_resistance_ohm=path_ohm)
    groups_v = group_source_voltage_v(
        cell_source_voltage_v=cell_source_voltage_v, path_resistance_ohm=path_ohm
    ) - pack_current_a * group_resistance_ohm(path_resistance_ohm=path_ohm)
    currents_a = cell_current_a(
        group_current_a=pack_current_a,
        cell_source_voltage_v=cell_source_voltage_v,
        path_resistance_ohm=path_ohm,
    )
    group, cell = np.unravel_index(np.argmax(np.abs(currents_a)), currents_a.shape)
    return Shared(
        source=source,
        pack_current_a=pack_current_a,
        pack_voltage_v=source.voltage_v - pack_current_a * source.resistance_ohm,
        group_voltage_v=groups_v,
        cell_current_a=currents_a,
        cell_voltage_v=cell_source_voltage_v - currents_a * cell_resistance_ohm,
        cell_loss_w=currents_a**2 * cell_resistance_ohm,
        contact_loss_w=currents_a**2 * contact_resistance_ohm,
        worst_cell=(int(group), int(cell)),
        worst_cell_current_a=float(currents_a[group, cell]),
    )


def shared_into_resistance(
    *,
    cell_source_voltage_v: Floats,
    cell_resistance_ohm: Floats,
    contact_resistance_ohm: Floats,
    load_resistance_ohm: float,
) -> Shared:
    """Return the state of a pack of unequal cells with a direct load.

    ``direct.load_current_a`` of the pack's Thevenin source, then ``shared_at_current``.

    Args:
        cell_source_voltage_v: Open-circuit voltage of each cell, shape (S, P). [V], >= 0
        cell_resistance_ohm: Internal d.c. resistance of each cell, shape (S, P). [ohm], > 0
        contact_resistance_ohm: Resistance of the contacts of each cell, shape (S, P). [ohm], >= 0
        load_resistance_ohm: Resistance of the load with its leads. [ohm], >= 0

    Returns:
        Currents, voltages and losses of the pack and of each cell. [A, V, W]

    Source:
        OpenStax University Physics Vol. 2, modules m58453 and m58455.

    >>> shared_into_resistance(cell_source_voltage_v=np.array([[4.0, 4.0]]),
    ...     cell_resistance_ohm=np.array([[1.5, 1.5]]), contact_resistance_ohm=np.full((1, 2), 0.5),
    ...     load_resistance_ohm=1.0).cell_current_a.tolist()
    [[1.0, 1.0]]
    """
    source = pack_source(
        cell_source_voltage_v=cell_source_voltage_v,
        path_resistance_ohm=cell_resistance_ohm + contact_resistance_ohm,
    )
    return shared_at_current(
        cell_source_voltage_v=cell_source_voltage_v,
        cell_resistance_ohm=cell_resistance_ohm,
        contact_resistance_ohm=contact_resistance_ohm,
        pack_current_a=direct.load_current_a(
            source_voltage_v=source.voltage_v,
            source_resistance_ohm=source.resistance_ohm,
            load_resistance_ohm=load_resistance_ohm,
        ),
    )


def shared_into_converter(
    *,
    cell_source_voltage_v: Floats,
    cell_resistance_ohm: Floats,
    contact_resistance_ohm: Floats,
    input_power_w: float,
) -> Shared:
    """Return the state of a pack of unequal cells with a converter load.

    ``converter.current_from_rest_a`` of the pack's Thevenin source, then ``shared_at_current``. A
    power above ``U²/4R`` of that source is refused there, with the power that is available.

    Args:
        cell_source_voltage_v: Open-circuit voltage of each cell, shape (S, P). [V], > 0
        cell_resistance_ohm: Internal d.c. resistance of each cell, shape (S, P). [ohm], > 0
        contact_resistance_ohm: Resistance of the contacts of each cell, shape (S, P). [ohm], >= 0
        input_power_w: Constant power drawn from the pack. [W], >= 0

    Returns:
        Currents, voltages and losses of the pack and of each cell. [A, V, W]

    Source:
        OpenStax University Physics Vol. 2, modules m58453 and m58455.

    >>> shared_into_converter(cell_source_voltage_v=np.array([[4.0, 4.0]]),
    ...     cell_resistance_ohm=np.array([[1.5, 1.5]]), contact_resistance_ohm=np.full((1, 2), 0.5),
    ...     input_power_w=4.0).cell_current_a.tolist()
    [[1.0, 1.0]]
    """
    source = pack_source(
        cell_source_voltage_v=cell_source_voltage_v,
        path_resistance_ohm=cell_resistance_ohm + contact_resistance_ohm,
    )
    return shared_at_current(
        cell_source_voltage_v=cell_source_voltage_v,
        cell_resistance_ohm=cell_resistance_ohm,
        contact_resistance_ohm=contact_resistance_ohm,
        pack_current_a=converter.current_from_rest_a(
            input_power_w=input_power_w,
            source_voltage_v=source.voltage_v,
            source_resistance_ohm=source.resistance_ohm,
        ),
    )
