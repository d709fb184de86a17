"""Voltage and temperature of a discharge log over charge, and whether two logs are of one discharge."""

from typing import NamedTuple

import numpy as np

from percell.physics.discharge_log import loaded_rows, running_integral
from percell.physics.types import Floats

# Two logs this close to each other are one discharge. Means of the differences over the charge, the worst
# tenth left out: thinned or rounded copies of measured logs differ by up to 1.7 mV and 0.06 K, those rounded
# to the usual millivolt by up to 0.2 mV; two cells of one lot at 0.5C to 2C by 1.1 to 1.6 mV and 0.20 to
# 0.35 K (L. Wang et al., Li-ion Battery Electro-Thermal Dataset), repeats of one cell by 10 to 12 mV and 0.16
# to 0.24 K (Kollmeyer 2018, DOI 10.17632/wykht8y7tg.1).
SAME_CURVE_V = 0.0003
NEARLY_SAME_CURVE_V = 0.002
NEARLY_SAME_CURVE_K = 0.07
# points of the comparison, and the part of the longer curve that the two must share
CURVE_POINTS = 401
LEAST_SHARED_PART = 0.5


class Curve(NamedTuple):
    """Voltage and temperature over charge, from the first loaded row of a log to the last."""

    charge_as: Floats
    voltage_v: Floats
    temperature_c: Floats | None


def curve(
    *, time_s: Floats, voltage_v: Floats, current_a: Floats, temperature_c: Floats | None
) -> Curve:
    """Return the voltage and the temperature over charge, from the first loaded row to the last.

    Args:
        time_s: Time, shape (N,). [s], strictly rising, finite
        voltage_v: Voltage, shape (N,). [V], > 0
        current_a: Current, shape (N,). [A], not all <= 0
        temperature_c: Temperature, shape (N,), or None. [°C], finite

    Returns:
        Curve. [A·s, V, °C]

    Source:
        Definition.

    >>> curve(time_s=np.arange(4.0), voltage_v=np.array([4.1, 3.9, 3.5, 3.4]),
    ...     current_a=np.array([0.0, 2.0, 2.0, 2.0]), temperature_c=None).charge_as
    array([0., 2., 4.])
    """
    first, last = np.flatnonzero(loaded_rows(current_a=current_a))[[0, -1]]
    stretch = slice(first, last + 1)
    return Curve(
        running_integral(time_s=time_s[stretch], values=np.maximum(current_a[stretch], 0.0)),
        voltage_v[stretch],
        None if temperature_c is None else temperature_c[stretch],
    )


def thinned(*, log: Curve, most: int) -> Curve:
    """Return the rows of a curve at about equal steps of its charge, with the first and the last.

    Args:
        log: Curve of a log. [A·s, V, °C], any
        most: Most rows. [1], >= 2

    Returns:
        Curve. [A·s, V, °C]

    Source:
        Definition.

    >>> thinned(log=Curve(np.arange(9.0), 4.0 - np.arange(9.0) / 10, None), most=3)
    Curve(charge_as=array([0., 4., 8.]), voltage_v=array([4. , 3.6, 3.2]), temperature_c=None)
    """
    last = len(log.charge_as) - 1
    wanted_as = np.linspace(log.charge_as[0], log.charge_as[-1], most)[1:-1]
    rows = np.unique(np.r_[0, np.searchsorted(log.charge_as, wanted_as), last])
    warm = log.temperature_c
    return Curve(log.charge_as[rows], log.voltage_v[rows], None if warm is None else warm[rows])


def same_discharge(*, one: Curve, other: Curve) -> bool:
    """Return the flag of two logs of one discharge: thinned, cut, rounded or lengthened copies.

    The charge is counted from the first row, which a copy may lack. So one curve is moved along the charge
    by the median of what lies between the two at the same voltage, and then the two are compared where both
    have rows. They are one discharge if the voltages agree to a fraction of a millivolt, whatever the
    temperatures, or if voltages and temperatures both agree within the digits of a coarse logger.

    Args:
        one: Curve of a log. [A·s, V, °C], any
        other: Curve of another log. [A·s, V, °C], any

    Returns:
        Whether they are the same. [1]

    Source:
        Definition; the tolerances are percell's own choice, from measured logs, see the constants.

    >>> part = np.linspace(0.0, 1.0, 99)
    >>> log = Curve(9000.0 * part, 4.0 - part**2, 25.0 + 20.0 * part)
    >>> same_discharge(
    ...     one=log, other=Curve(log.charge_as[:49], log.voltage_v[::2][1:], log.temperature_c[::2][1:])
    ... )
    False
    >>> same_discharge(one=log, other=Curve(*(column[2::2] for column in log)))
    True
    """
    lowest_v = max(float(np.min(one.voltage_v)), float(np.min(other.voltage_v)))
    highest_v = min(float(np.max(one.voltage_v)), float(np.max(other.voltage_v)))
    at_v = np.linspace(lowest_v, highest_v, CURVE_POINTS)[1:-1]
    moved_as = float(np.median(_charge_at(other, at_v) - _charge_at(one, at_v)))
    begin_as = max(one.charge_as[0], other.charge_as[0] - moved_as)
    end_as = min(one.charge_as[-1], other.charge_as[-1] - moved_as)
    longer_as = max(np.ptp(one.charge_as), np.ptp(other.charge_as))
    if end_as - begin_as < LEAST_SHARED_PART * longer_as:
        return False
    at_as = np.linspace(begin_as, end_as, CURVE_POINTS)

    def apart(of_one: Floats, of_other: Floats) -> float:
        """Return the mean difference of two columns, the worst tenth left out."""
        differences = np.sort(
            np.abs(
                np.interp(at_as, one.charge_as, of_one)
                - np.interp(at_as + moved_as, other.charge_as, of_other)
            )
        )
        return float(np.mean(differences[: CURVE_POINTS * 9 // 10]))

    apart_v = apart(one.voltage_v, other.voltage_v)
    if apart_v > NEARLY_SAME_CURVE_V:
        return False
    if apart_v <= SAME_CURVE_V or one.temperature_c is None or other.temperature_c is None:
        return True
    return apart(one.temperature_c, other.temperature_c) <= NEARLY_SAME_CURVE_K


def _charge_at(log: Curve, at_v: Floats) -> Floats:
    """Return the charge at which a falling voltage first came down to some voltages."""
    falling_v = np.minimum.accumulate(log.voltage_v)
    return np.interp(at_v, falling_v[::-1], log.charge_as[::-1])
