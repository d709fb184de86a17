"""How sure is current sharing: the worst-case cell's share when cells and contacts scatter."""

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

import numpy as np

from percell.physics.circuit import cell_current_a
from percell.physics.pack import counted_cells
from percell.physics.types import Floats, Quantity

# a value beyond so many standard deviations counts as so many: nothing is thrown away, so that the
# extremes stay as likely as they are, and no resistance reaches zero
MOST_DEVIATIONS = 3.0
# the widest relative deviation: a tenth of the mean is then the least resistance
WIDEST = 0.3
# draws worked on at once: bounds the memory, and stays in a processor's cache
CHUNK = 16_384


class ShareSpread(NamedTuple):
    """What the draws say of the worst-case cell's share of its group's current."""

    mean_share: float
    share_at: tuple[float, ...]  # of the most discharged cell, one for each level asked
    # current into the most charged cell with the load off, 0 where voltages are equal. [A]
    charge_at_a: tuple[float, ...]
    above_allowance: float  # probability that the share is more than the sharing allowance says
    above_allowance_error: float  # standard error of that probability


def allowance_share(*, parallel: int) -> float:
    """Return the share of the worst-case cell that the sharing allowance counts on.

    ``1/(P − ½)``, and 1 for a single cell.

    Args:
        parallel: Cells in parallel, P. [1], >= 1

    Returns:
        Share of the group's current. [1]

    Source:
        Common practice, no published source.

    >>> allowance_share(parallel=2)
    0.6666666666666666
    """
    return 1.0 / float(counted_cells(parallel=parallel))


def mismatch_share(*, parallel: Quantity, mismatch: Quantity) -> Quantity:
    """Return the share of a cell whose fellows all have a higher resistance.

    ``(1 + m)/(P + m)``: the current divider with one path of ``r`` and P − 1 of ``r·(1 + m)``. No
    other group in which the lowest and the highest resistance are that far apart works a cell harder.

    Args:
        parallel: Cells in parallel, P. [1], >= 1
        mismatch: How much higher the others' resistance is, as part of the cell's own, m. [1], >= 0

    Returns:
        Share of the group's current. [1]

    Source:
        Current divider, OpenStax University Physics Vol. 2, module m58455.

    >>> mismatch_share(parallel=2, mismatch=0.5)
    0.6
    """
    return (1.0 + mismatch) / (parallel + mismatch)


def mismatch_at_allowance(*, parallel: Quantity) -> Quantity:
    """Return the mismatch at which a cell carries what the sharing allowance counts on.

    ``m = 1/(2P − 3)``: ``mismatch_share`` set to ``1/(P − ½)``. It shrinks with each cell added.

    Args:
        parallel: Cells in parallel, P. [1], >= 2

    Returns:
        How much higher the others' resistance is, as part of the cell's own. [1]

    Source:
        Algebra from the current divider and the allowance (common practice, no published source).

    >>> mismatch_at_allowance(parallel=2), mismatch_at_allowance(parallel=4)
    (1.0, 0.2)
    """
    return 1.0 / (2.0 * parallel - 3.0)


def worst_cell_share(
    *, group_current_a: float, cell_source_voltage_v: Floats, path_resistance_ohm: Floats
) -> Floats:
    """Return the share of its group's current that the most discharged cell carries.

    ``max I_i/I``; above 1 where the cells pass more among themselves than to the load. The current of a
    cell that others charge does not count: see ``worst_charge_current_a``.

    Args:
        group_current_a: Current out of the group. [A], > 0
        cell_source_voltage_v: Open-circuit voltage of each cell, shape (..., P). [V], finite
        path_resistance_ohm: Resistance of each cell with its contacts, shape (..., P). [ohm], > 0

    Returns:
        Share, shape (...). [1]

    Source:
        Kirchhoff's rules, OpenStax University Physics Vol. 2, module m58455.

    >>> float(worst_cell_share(group_current_a=3.0, cell_source_voltage_v=np.array([4.0, 4.0]),
    ...     path_resistance_ohm=np.array([1.0, 3.0])))
    0.75
    """
    currents_a = cell_current_a(
        group_current_a=group_current_a,
        cell_source_voltage_v=cell_source_voltage_v,
        path_resistance_ohm=path_resistance_ohm,
    )
    shares: Floats = np.max(currents_a, axis=-1) / group_current_a
    return shares


def worst_charge_current_a(*, cell_source_voltage_v: Floats, path_resistance_ohm: Floats) -> Floats:
    """Return the current into the most charged cell of a group that feeds nothing.

    Any load takes from the current into a cell, so this is the highest.

    Args:
        cell_source_voltage_v: Open-circuit voltage of each cell, shape (..., P). [V], finite
        path_resistance_ohm: Resistance of each cell with its contacts, shape (..., P). [ohm], > 0

    Returns:
        Current, shape (...). [A]

    Source:
        Kirchhoff's rules, OpenStax University Physics Vol. 2, module m58455.

    >>> float(worst_charge_current_a(cell_source_voltage_v=np.array([4.0, 3.0]),
    ...     path_resistance_ohm=np.array([0.25, 0.25])))
    2.0
    """
    currents_a = cell_current_a(
        group_current_a=0.0,
        cell_source_voltage_v=cell_source_voltage_v,
        path_resistance_ohm=path_resistance_ohm,
    )
    most_a: Floats = np.maximum(-np.min(currents_a, axis=-1), 0.0)
    return most_a


def worst_cell_share_spreads(
    *,
    parallel: int,
    group_current_a: float,
    cell_resistance_ohm: float,
    resistance_deviations: Sequence[float],
    contact_resistance_ohm: float,
    contact_deviation: float,
    source_voltage_deviation_v: float,
    levels: tuple[float, ...],
    draws: int,
    seed: int,
) -> list[ShareSpread]:
    """Return the spread of the worst-case cell's share of a parallel group, for each of some deviations.

    Propagation of distributions by Monte Carlo: each draw makes one group of cells and solves it. The
    groups are drawn once and scaled to each deviation of the resistance, because drawing costs most.
    Cell resistances, contact resistances and open-circuit voltages are independent and normal; a
    value beyond three standard deviations counts as three. Relative deviations end at 0.3, so that a
    tenth of the mean is left and no resistance can reach zero. The same seed gives the same answer. A level's share is the
    next higher draw, never one made up between two. With no spread of voltages and no contacts the
    answer depends neither on the current nor on the mean resistance.

    Args:
        parallel: Cells in parallel, P. [1], >= 1
        group_current_a: Current out of the group. [A], > 0
        cell_resistance_ohm: Mean internal d.c. resistance of the cells. [ohm], > 0
        resistance_deviations: Relative standard deviations of it, one or more. [1], 0 to 0.3; all of
            them 0 or none, because what does not scatter is not drawn
        contact_resistance_ohm: Mean resistance of the contacts of one cell. [ohm], >= 0
        contact_deviation: Relative standard deviation of it. [1], 0 to 0.3
        source_voltage_deviation_v: Standard deviation of the open-circuit voltages. [V], >= 0
        levels: Levels at which the share is wanted, as 0.99 for the 99th percentile. [1], 0 to 1
        draws: Number of groups drawn. [1], >= 1
        seed: Seed of the generator. [1], >= 0

    Returns:
        For each deviation the mean share, the share at each level, and the probability that the
        allowance is exceeded. [1]

    Raises:
        ValueError: A relative deviation is outside 0 to 0.3, or only some of them are 0.

    Source:
        JCGM 101:2008, propagation of distributions using a Monte Carlo method; the method only, the
        spreads are the asker's.

    >>> worst_cell_share_spreads(parallel=2, group_current_a=10.0, cell_resistance_ohm=0.02,
    ...     resistance_deviations=[0.0], contact_resistance_ohm=0.0, contact_deviation=0.0,
    ...     source_voltage_deviation_v=0.0, levels=(0.5, 0.99), draws=100, seed=1)
    [ShareSpread(mean_share=0.5, share_at=(0.5, 0.5), charge_at_a=(0.0, 0.0), above_allowance=0.0, above_allowance_error=0.0)]
    """
    if not all(0.0 <= one <= WIDEST for one in (*resistance_deviations, contact_deviation)):
        raise ValueError(f"a relative deviation must be from 0 to {WIDEST}")
    if any(resistance_deviations) and not all(resistance_deviations):
        raise ValueError("of the deviations of the resistance all must be 0 or none")
    generator = np.random.default_rng(seed)
    shares = np.empty((len(resistance_deviations), draws))
    # only differing voltages make cells charge each other
    charges = np.zeros_like(shares) if source_voltage_deviation_v else None
    for start in range(0, draws, CHUNK):
        chunk = slice(start, min(start + CHUNK, draws))
        shape = (parallel, chunk.stop - start)
        # what does not scatter is not drawn; rest_ohm: all but the scatter of the cells
        cells = _deviates(generator, shape) if any(resistance_deviations) else np.zeros(shape)
        scatter = contact_resistance_ohm * contact_deviation > 0.0
        contacts = _deviates(generator, shape) if scatter else 0.0
        rest_ohm = cell_resistance_ohm + contact_resistance_ohm * (
            1.0 + contact_deviation * contacts
        )
        # only differences of voltage matter, so they scatter about zero
        offset_v = (
            source_voltage_deviation_v * _deviates(generator, shape)
            if source_voltage_deviation_v
            else None
        )
        for place, deviation in enumerate(resistance_deviations):
            path_ohm = deviation * cell_resistance_ohm * cells
            path_ohm += rest_ohm
            if charges is not None and offset_v is not None:
                charges[place, chunk] = worst_charge_current_a(
                    cell_source_voltage_v=offset_v.T,
                    path_resistance_ohm=path_ohm.T,
                )
            shares[place, chunk] = _shares(group_current_a, path_ohm, offset_v)
    allowed = allowance_share(parallel=parallel)
    return [
        _summed_up(found, None if charges is None else charges[place], levels, allowed)
        for place, found in enumerate(shares)
    ]


def _at_levels(shares: Floats | None, levels: tuple[float, ...]) -> tuple[float, ...]:
    if shares is None:
        return (0.0,) * len(levels)
    # the next higher draw; to sort all takes no longer than to find a few dozen places
    places = [ceil(level * (len(shares) - 1)) for level in levels]
    return tuple(np.sort(shares)[places].tolist())


def _summed_up(
    shares: Floats, charges: Floats | None, levels: tuple[float, ...], allowed: float
) -> ShareSpread:
    above = float(np.mean(shares > allowed))
    return ShareSpread(
        mean_share=float(np.mean(shares)),
        share_at=_at_levels(shares, levels),
        charge_at_a=_at_levels(charges, levels),
        above_allowance=above,
        above_allowance_error=(above * (1.0 - above) / len(shares)) ** 0.5,
    )


def _shares(group_current_a: float, path_ohm: Floats, offset_v: Floats | None) -> Floats:
    """Return the worst-case cell's share of each group, from arrays of shape (P, groups) to be used up."""
    if offset_v is None:  # equal voltages share by conductance alone, at any current
        conductances = np.divide(1.0, path_ohm, out=path_ohm)
        shares: Floats = np.max(conductances, axis=0) / np.sum(conductances, axis=0)
        return shares
    return worst_cell_share(
        group_current_a=group_current_a,
        cell_source_voltage_v=offset_v.T,
        path_resistance_ohm=path_ohm.T,
    )


def _deviates(generator: np.random.Generator, shape: tuple[int, int]) -> Floats:
    """Draw standard normal deviates, at most ``MOST_DEVIATIONS`` from 0.

    Group after group is drawn, but cell after cell is stored: all that follows is then a few passes
    over long rows instead of very many over short ones.
    """
    by_group = generator.standard_normal(shape[::-1])
    return np.clip(by_group.T, -MOST_DEVIATIONS, MOST_DEVIATIONS, order="C")
