"""A discharge log of one cell: what was delivered, and under which load.

Arrays of one length N: time, voltage, current (positive = discharging) and, if measured, temperature.
Between two rows everything counts as straight.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from percell.physics.meter import NOISE
from percell.physics.types import Floats

# less is no current: no logger resolves it, and results would have no bound
LEAST_CURRENT_A = 1e-3
# an ammeter shows a small current at rest, of either sign: up to this, or a hundredth of the highest
# current of the log, but never a tenth of it
OFFSET_A = 0.05
OFFSET_PART = 0.01
MOST_OFFSET_PART = 0.1
# a row with more than this part of the highest current is loaded
LOADED_PART = 0.5
# the current flows while it is at least this part of the mean current of the loaded rows
FLOWING_PART = 0.9
# A load that looks once a second stops up to that late, and an empty cell falls fast. Common practice, no
# published source; the most is percell's own choice.
LATE_S = 1.0
MOST_OVERSHOOT_V = 0.1
# the load's time is divided into so many equal parts; the current of a test is the lowest of their means
HELD_PARTS = 20


class Load(NamedTuple):
    """The part of a log from the first loaded row to the last."""

    current_a: float  # mean over the time between loaded rows
    held_a: float  # lowest mean of a twentieth of that time
    flowing: float  # part of the time in which the mean current flows
    charge_ah: float
    rest_v: float | None  # last row at rest before it
    first_v: float
    first_a: float
    end_v: float
    end_a: float
    lowest_held_v: float  # lowest voltage, the last loaded row counted an overshoot higher


class Summary(NamedTuple):
    """What a log comes to."""

    rows: int
    duration_s: float
    charge_ah: float
    energy_wh: float
    mean_voltage_v: float  # energy over charge
    mean_current_a: float  # charge over time
    highest_current_a: float
    start_voltage_v: float
    lowest_voltage_v: float
    end_voltage_v: float
    peak_temperature_c: float | None
    peak_time_s: float | None


def offset_a(*, highest_a: float) -> float:
    """Return the current up to which a row counts as rest.

    Args:
        highest_a: Highest current of the log. [A], > 0

    Returns:
        Current. [A]

    Source:
        Common practice, no published source: battery cyclers show some hundredths of an ampere at rest.

    >>> offset_a(highest_a=20.0), offset_a(highest_a=3.0), offset_a(highest_a=0.3)
    (0.2, 0.05, 0.03)
    """
    return max(OFFSET_PART * highest_a, min(OFFSET_A, MOST_OFFSET_PART * highest_a))


def rest_current_a(*, current_a: Floats) -> float | None:
    """Return the current that the ammeter shows at rest: the mean of those rows, or None without any.

    Args:
        current_a: Current, shape (N,). [A], not all <= 0

    Returns:
        Current, of either sign. [A]

    Source:
        Definition.

    >>> rest_current_a(current_a=np.array([-0.03, -0.01, 12.0])), rest_current_a(current_a=np.array([3.0]))
    (-0.02, None)
    """
    at_rest = np.abs(current_a) <= offset_a(highest_a=float(np.max(current_a)))
    return float(np.mean(current_a[at_rest])) if np.any(at_rest) else None


def loaded_rows(*, current_a: Floats) -> NDArray[np.bool_]:
    """Return the loaded rows as flags: those with more than half of the highest current.

    Args:
        current_a: Current, shape (N,). [A], finite

    Returns:
        Whether each row is loaded, shape (N,); no row if no current is above zero. [1]

    Source:
        Definition.

    >>> loaded_rows(current_a=np.array([0.0, 5.0, 10.0])).tolist()
    [False, False, True]
    """
    loaded: NDArray[np.bool_] = current_a > LOADED_PART * np.max(current_a, initial=0.0)
    return loaded


def summary(
    *, time_s: Floats, voltage_v: Floats, current_a: Floats, temperature_c: Floats | None
) -> Summary:
    """Return the charge, energy, mean voltage, duration and extremes of a log.

    ``Q = ∫I·dt`` and ``E = ∫U·I·dt`` by the trapezoid rule over the rows; the mean voltage is E/Q, so
    that capacity times mean voltage is the energy. The first of equal peaks counts. A negative current,
    an ammeter's offset at rest, counts as none.

    Args:
        time_s: Time, shape (N,). [s], strictly rising, finite
        voltage_v: Voltage, shape (N,). [V], > 0
        current_a: Current, shape (N,). [A], not all <= 0
        temperature_c: Temperature, shape (N,), or None. [°C], finite

    Returns:
        Summary. [s, Ah, Wh, V, A, °C]

    Source:
        Definition; trapezoid rule.

    >>> whole = summary(time_s=np.array([0.0, 1800.0, 3600.0]), voltage_v=np.array([4.0, 3.5, 3.0]),
    ...     current_a=np.array([2.0, 2.0, 2.0]), temperature_c=None)
    >>> whole.charge_ah, whole.energy_wh, whole.mean_voltage_v
    (2.0, 7.0, 3.5)
    """
    current_a = np.maximum(current_a, 0.0)
    duration_s = float(time_s[-1] - time_s[0])
    charge_ah = _integral(time_s, current_a) / 3600.0
    energy_wh = _integral(time_s, voltage_v * current_a) / 3600.0
    peak = None if temperature_c is None else int(np.argmax(temperature_c))
    return Summary(
        rows=len(time_s),
        duration_s=duration_s,
        charge_ah=charge_ah,
        energy_wh=energy_wh,
        mean_voltage_v=energy_wh / charge_ah,
        mean_current_a=charge_ah * 3600.0 / duration_s,
        highest_current_a=float(np.max(current_a)),
        start_voltage_v=float(voltage_v[0]),
        lowest_voltage_v=float(np.min(voltage_v)),
        end_voltage_v=float(voltage_v[-1]),
        peak_temperature_c=None if temperature_c is None else float(np.max(temperature_c)),
        peak_time_s=None if peak is None else float(time_s[peak] - time_s[0]),
    )


def load(*, time_s: Floats, voltage_v: Floats, current_a: Floats, overshoot_v: float) -> Load:
    """Return the load of a log: its current, and the voltages at its start and its end.

    The mean current is charge over time between neighbouring loaded rows. That current flows between two
    neighbouring rows if both have nine tenths of it or more: a test in pulses, or with a current that falls
    away, has a small flowing part. The rest is the last row before the load at which at most an ammeter's
    offset flows.

    The held current is the lowest mean of a twentieth of the loaded time, and never more than the whole
    mean: a current that falls as the cell empties proves only what the nearly empty cell carried.

    A load that stops at a voltage is always late by a row, so the last loaded row counts the overshoot
    higher where the lowest voltage is judged, or what the cell lost in the last second if that is more.

    Args:
        time_s: Time, shape (N,). [s], strictly rising, finite
        voltage_v: Voltage, shape (N,). [V], > 0
        current_a: Current, shape (N,). [A], not all <= 0
        overshoot_v: Least voltage by which the last loaded row may be too low. [V], >= 0

    Returns:
        Load. [A, 1, Ah, V]

    Source:
        Definition. Overshoot: measured logs end 1 to 8 mV below the end voltage that was set.

    >>> load(time_s=np.arange(5.0), voltage_v=np.array([4.1, 3.9, 3.5, 3.45, 3.5]),
    ...     current_a=np.array([0.0, 3.6, 3.6, 3.6, 0.0]), overshoot_v=0.0)
    Load(current_a=3.6, held_a=3.6, flowing=1.0, charge_ah=0.002, rest_v=4.1, first_v=3.9, first_a=3.6, end_v=3.45, end_a=3.6, lowest_held_v=3.5)
    """
    loaded = loaded_rows(current_a=current_a)
    first, last = np.flatnonzero(loaded)[[0, -1]]
    steps_s = np.diff(time_s)
    between = loaded[1:] & loaded[:-1]
    mean_a = held_a = float(np.mean(current_a[loaded]))
    if np.any(between):
        loaded_s = np.cumsum(np.r_[0.0, steps_s[between]])
        moved_as = 0.5 * (current_a[1:] + current_a[:-1]) * steps_s
        loaded_as = np.cumsum(np.r_[0.0, moved_as[between]])
        mean_a = float(loaded_as[-1] / loaded_s[-1])
        parts_s = np.linspace(0.0, loaded_s[-1], HELD_PARTS + 1)
        held_a = float(np.min(np.diff(np.interp(parts_s, loaded_s, loaded_as)) / np.diff(parts_s)))
    flows = current_a >= FLOWING_PART * mean_a
    span_s = float(time_s[last] - time_s[first])
    flowing_s = float(np.sum(steps_s[first:last][(flows[1:] & flows[:-1])[first:last]]))
    stretch = slice(first, last + 1)
    at_rest = np.flatnonzero(current_a[:first] <= offset_a(highest_a=float(np.max(current_a))))
    held_v = voltage_v.copy()
    held_v[last] += max(overshoot_v, _lost_late_v(time_s, voltage_v, last) if last > first else 0.0)
    return Load(
        current_a=mean_a,
        # the parts of a constant current differ by floating-point noise
        held_a=held_a if held_a < mean_a * (1.0 - NOISE) else mean_a,
        flowing=flowing_s / span_s if span_s else 0.0,
        charge_ah=_integral(time_s[stretch], np.maximum(current_a[stretch], 0.0)) / 3600.0,
        rest_v=float(voltage_v[at_rest[-1]]) if at_rest.size else None,
        first_v=float(voltage_v[first]),
        first_a=float(current_a[first]),
        end_v=float(voltage_v[last]),
        end_a=float(current_a[last]),
        lowest_held_v=float(np.min(held_v)),
    )


def _lost_late_v(time_s: Floats, voltage_v: Floats, last: int) -> float:
    """Return what the voltage lost in the last second of a load, if it is not too much to be lateness."""
    lost_v = float(voltage_v[last - 1] - voltage_v[last])
    return min(lost_v * min(LATE_S / float(time_s[last] - time_s[last - 1]), 1.0), MOST_OVERSHOOT_V)


def end_without_sag_v(*, load: Load, resistance_ohm: float | None, full_v: float) -> float:
    """Return the voltage at the end of a load as if no current flowed.

    ``U + I·R``. Without a resistance, all that the first loaded row lies below a full cell counts as sag:
    the sag is then too large rather than too small, and the cell looks fuller than it is.

    Args:
        load: Load of a log. [V, A], any
        resistance_ohm: Internal resistance, or None if it is not known. [ohm], >= 0
        full_v: Voltage of a full cell. [V], > 0

    Returns:
        Voltage. [V]

    Source:
        Ohm's law.

    >>> pulse = Load(10.0, 10.0, 1.0, 0.1, None, first_v=3.75, first_a=10.0, end_v=3.0, end_a=5.0, lowest_held_v=3.0)
    >>> end_without_sag_v(load=pulse, resistance_ohm=0.02, full_v=4.25)
    3.1
    >>> end_without_sag_v(load=pulse, resistance_ohm=None, full_v=4.25)
    3.25
    """
    if resistance_ohm is None:
        resistance_ohm = max(full_v - load.first_v, 0.0) / load.first_a
    return load.end_v + load.end_a * resistance_ohm


def _integral(time_s: Floats, values: Floats) -> float:
    return float(running_integral(time_s=time_s, values=values)[-1])


def running_integral(*, time_s: Floats, values: Floats) -> Floats:
    """Return the integral of a column over time, from the first row up to each row.

    SciPy has the same; loading it would take longer than all else that an answer needs.

    Args:
        time_s: Time, shape (N,). [s], finite
        values: Column, shape (N,). [1], finite

    Returns:
        Integral at each row, shape (N,). [s]

    Source:
        Trapezoid rule.

    >>> running_integral(time_s=np.array([0.0, 1.0, 3.0]), values=np.array([2.0, 4.0, 4.0]))
    array([ 0.,  3., 11.])
    """
    return np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(time_s))))
