"""Cells of a series string that drift apart: one current through all, unequal capacity and charge.

A device that looks at the whole pack stops at the sum of the voltages, and so does a charger for the
whole pack. A weak cell then goes below its cut-off, or below zero, while the sum still looks normal, and
a full one goes above its charged voltage.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from percell.physics.curves import HIGHEST_ABOVE_FULL_V, LOWEST_V, Curve
from percell.physics.errors import NoSolution
from percell.physics.types import Floats

# in ampere-hours: a microampere-hour is far below any meter
_CLOSE_AH = 1e-9
# volts a cell: on the flattest curve this is far less than that charge
_CLOSE_V = 1e-12
# above a limit by less than this is at the limit
_NOISE_V = 1e-6


class StringCycle(NamedTuple):
    """One discharge of a string and the charge after it.

    Voltages are the cells' own at the two ends, under the current; ``_soc`` holds a value for each cell,
    outside 0..1 where it was taken past its range. ``reversed`` is below 0 V, ``over_discharged`` below
    where the curve ends, ``overcharged`` above the charged voltage.
    """

    discharge_ah: float
    charge_ah: float
    lowest_at_cutoff_v: float
    highest_at_cutoff_v: float
    lowest_at_charged_v: float
    highest_at_charged_v: float
    soc_at_cutoff: Floats
    soc_at_charged: Floats
    reversed: bool
    over_discharged: bool
    overcharged: bool


class Balancing(NamedTuple):
    """What a string gives before its first cell is at cut-off, and what a balancing charge adds."""

    before_ah: float
    after_ah: float
    given_ah: Floats


def series_drift(
    *,
    capacity_ah: Floats,
    start_soc: Floats,
    resistance_ohm: Floats,
    loss_ah: Floats,
    end_discharge_current_a: float,
    end_charge_current_a: float,
    cutoff_v: float,
    charged_v: float,
    each_cell: bool,
    cycles: int,
    curve: Curve,
) -> list[StringCycle]:
    """Return the states of a series string over cycles without balancing.

    The same charge goes through each cell: ``z_i → z_i − q/Q_i``, with ``q`` where the voltages sum up
    to ``S·u_cutoff``, then back to where they sum up to ``S·u_charged``. Without losses the cells come
    back to where they were, so the second cycle is like the first; unequal losses let them drift.
    Beyond empty and full the curve is an extrapolation, see ``curves.open_circuit_voltage_v``.

    Args:
        capacity_ah: Capacity of each cell, shape (S,). [Ah], > 0
        start_soc: State of charge of each cell at the start, shape (S,). [1], 0..1
        resistance_ohm: Resistance of each cell, shape (S,). [ohm], >= 0
        loss_ah: Charge each cell loses by itself in a cycle, shape (S,). [Ah], >= 0
        end_discharge_current_a: Current of the discharge. [A], >= 0
        end_charge_current_a: Current at the end of the charge. [A], >= 0
        cutoff_v: End of the discharge, for one cell. [V], > 0
        charged_v: End of the charge, for one cell. [V], > cutoff_v
        each_cell: Stop at the first cell to reach its limit instead of at the sum. [yes or no], any
        cycles: How many. [1], >= 1
        curve: Rest curve of all cells. [1] against [V], any

    Returns:
        One entry a cycle. [Ah, V, 1]

    Raises:
        NoSolution: The charged voltage is so far above the curve that no extrapolation reaches it.

    Source:
        Conservation of charge: one current through a string, OpenStax University Physics Vol. 2, module
        m58455.

    Two cells, 2 Ah and 4 Ah, between 3 V and 4 V on a straight curve, down to 6.5 V: 4 Ah/3 leave, the
    small cell is then at 1/3, the large one at 2/3.

    >>> from percell.physics.curves import own_curve
    >>> zero = np.zeros(2)
    >>> cycle, = series_drift(capacity_ah=np.array([2.0, 4.0]), start_soc=np.ones(2),
    ...     resistance_ohm=zero, loss_ah=zero, end_discharge_current_a=0.0, end_charge_current_a=0.0,
    ...     cutoff_v=3.5, charged_v=4.0, each_cell=False, cycles=1,
    ...     curve=own_curve(soc=[0.0, 1.0], ocv_v=[3.0, 4.0]))
    >>> round(cycle.discharge_ah, 4), [round(float(z), 4) for z in cycle.soc_at_cutoff]
    (1.3333, [0.3333, 0.6667])
    """
    highest_v = float(curve.ocv_v[-1]) + HIGHEST_ABOVE_FULL_V
    if charged_v >= highest_v:
        raise NoSolution(
            "charged_voltage_beyond_curve",
            "The charged voltage is too far above the end of the curve of this chemistry.",
            cell_charged_voltage_v=charged_v,
            highest_voltage_v=highest_v,
        )
    string = _String(capacity_ah, each_cell, _extended(curve))
    soc = np.asarray(start_soc, dtype=np.float64)
    story = []
    for _ in range(cycles):
        given_ah, at_cutoff = string.through(
            soc, lost_v=end_discharge_current_a * resistance_ohm, way=-1.0, limit_v=cutoff_v
        )
        low_soc = soc - given_ah / capacity_ah
        taken_ah, at_charged = string.through(
            low_soc - loss_ah / capacity_ah,
            lost_v=end_charge_current_a * resistance_ohm,
            way=1.0,
            limit_v=charged_v,
        )
        soc = low_soc + (taken_ah - loss_ah) / capacity_ah
        story.append(
            StringCycle(
                discharge_ah=given_ah,
                charge_ah=taken_ah,
                lowest_at_cutoff_v=float(at_cutoff.min()),
                highest_at_cutoff_v=float(at_cutoff.max()),
                lowest_at_charged_v=float(at_charged.min()),
                highest_at_charged_v=float(at_charged.max()),
                soc_at_cutoff=low_soc,
                soc_at_charged=soc,
                reversed=bool(at_cutoff.min() < 0.0),
                over_discharged=bool(low_soc.min() < -_NOISE_V),
                overcharged=bool(at_charged.max() > charged_v + _NOISE_V),
            )
        )
    return story


def balancing_charge(
    *, capacity_ah: Floats, soc: Floats, cutoff_v: float, charged_v: float, curve: Curve
) -> Balancing:
    """Return the charge that bringing each cell to its own charged voltage restores.

    The charge counted is the one until the first cell at rest is down to the cut-off: what goes on
    beyond that harms it. Balancing fills each cell; it does not make a weak cell larger.

    Args:
        capacity_ah: Capacity of each cell, shape (S,). [Ah], > 0
        soc: State of charge of each cell when the pack's charger stops, shape (S,). [1], 0..1
        cutoff_v: Lowest voltage of a cell. [V], > 0
        charged_v: Charged voltage of a cell. [V], > cutoff_v
        curve: Rest curve of all cells. [1] against [V], any

    Returns:
        Charge before and after, and what each cell is given. [Ah]

    Source:
        Conservation of charge.

    >>> from percell.physics.curves import own_curve
    >>> gain = balancing_charge(capacity_ah=np.array([2.0, 2.0]), soc=np.array([0.75, 1.0]),
    ...     cutoff_v=3.0, charged_v=4.0, curve=own_curve(soc=[0.0, 1.0], ocv_v=[3.0, 4.0]))
    >>> gain.before_ah, gain.after_ah, gain.given_ah.tolist()
    (1.5, 2.0, [0.5, 0.0])
    """
    full = np.interp(charged_v, curve.ocv_v, curve.soc)
    empty = np.interp(cutoff_v, curve.ocv_v, curve.soc)
    return Balancing(
        before_ah=float(np.maximum(np.min((soc - empty) * capacity_ah), 0.0)),
        after_ah=float(np.min((full - empty) * capacity_ah)),
        given_ah=np.maximum(full - soc, 0.0) * capacity_ah,
    )


class _Extended(NamedTuple):
    """A curve with its two extrapolations as points, so that one look-up covers all states."""

    soc: Floats
    ocv_v: Floats


def _extended(curve: Curve) -> _Extended:
    z, u = curve.soc, curve.ocv_v
    lowest = -(u[0] - LOWEST_V) * z[1] / (u[1] - u[0])
    highest = 1.0 + HIGHEST_ABOVE_FULL_V * (1.0 - z[-2]) / (u[-1] - u[-2])
    return _Extended(
        np.concatenate(([lowest], z, [highest])),
        np.concatenate(([LOWEST_V], u, [u[-1] + HIGHEST_ABOVE_FULL_V])),
    )


class _String(NamedTuple):
    """Cells in series that stop together, at the sum of their voltages or at the first cell."""

    capacity_ah: Floats
    each_cell: bool
    curve: _Extended

    def through(
        self, soc: Floats, *, lost_v: Floats, way: float, limit_v: float
    ) -> tuple[float, Floats]:
        """Return the charge through the string until the limit, and the voltages then.

        ``way`` is 1 while charging and -1 while discharging.
        """
        lost_v = way * lost_v
        per_ah = way / self.capacity_ah

        def voltages(charge_ah: float) -> Floats:
            return np.interp(soc + charge_ah * per_ah, self.curve.soc, self.curve.ocv_v) + lost_v

        def missing_v(charge_ah: float) -> float:
            # the ufunc's own reduction, which takes half as long as the method
            mean_v = np.add.reduce(voltages(charge_ah)) / len(soc)
            return float(way * (limit_v - mean_v))

        # each cell by itself is at the limit after its own charge; one that is beyond it takes none
        limit_soc = np.interp(limit_v - lost_v, self.curve.ocv_v, self.curve.soc)
        alone_ah = np.maximum((limit_soc - soc) / per_ah, 0.0)
        charge_ah = float(np.minimum.reduce(alone_ah))
        if not self.each_cell:
            # the sum reaches the limit after the first cell and before the last
            charge_ah = _root(missing_v, charge_ah, float(np.maximum.reduce(alone_ah)))
        return charge_ah, voltages(charge_ah)


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function is zero, by false position with Illinois' halving; else the nearer end."""
    at_low, at_high = function(low), function(high)
    if at_low <= 0.0:
        return low
    if at_high >= 0.0:
        return high
    side = 0
    while high - low > _CLOSE_AH:
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        # false position may stop moving one end; a middle on an end gives way to bisection
        if not low < middle < high:
            middle = 0.5 * (low + high)
            if not low < middle < high:
                break
        here = function(middle)
        if abs(here) < _CLOSE_V:
            return middle
        if here > 0.0:
            low, at_low = middle, here
            at_high *= 0.5 if side > 0 else 1.0
            side = 1
        else:
            high, at_high = middle, here
            at_low *= 0.5 if side < 0 else 1.0
            side = -1
    return high
