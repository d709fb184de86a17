"""A discharge log of one cell: what was delivered, its resistance at the steps, its heat.

Arrays of one length N: time, voltage, current (positive = discharging) and, if measured, temperature.
Between two rows everything counts as straight. Rows are numbered from 1 in messages.
"""

from typing import NamedTuple

import numpy as np

from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE
from percell.physics.types import Floats

SHORTEST_ROWS = 3
# less is no rise of time, and no current: no logger resolves it, and results would have no bound
LEAST_RISE_S = 1e-6
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
# A voltage that falls less than this while the current flows is no discharge: a charge, columns that were
# swapped, or a supply. percell's own choice: more than the noise of a usual voltmeter.
LEAST_FALL_V = 0.002
# no single cell of the kinds here holds more: a unit or a column is another than it says
MOST_CHARGE_AH = 100.0
# the load's time is divided into so many equal parts; the current of a test is the lowest of their means
HELD_PARTS = 20
# tests whose currents differ by no more than this part are tests at one current: a usual ammeter's accuracy
SAME_CURRENT_PART = 0.02
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
# Parts of a log's charge. Between the first two a cell's resistance hardly changes. After the second it
# rises steeply, and so do the voltages that recover.
NEAR_HALF_FROM = 0.2
NEAR_HALF_TO = 0.8
# A voltage that is read later has lost more, by the slow part of the resistance and by the charge. Logs
# with a row every 10 s are a little late.
LATEST_READING_S = 12.0


class LogFault(NamedTuple):
    """What is wrong with a row, or with the whole log (row 0), and in which column if in one."""

    row: int
    column: str
    message: str


class CurrentStep(NamedTuple):
    """One jump of the current, and the resistance that the voltage shows at it."""

    time_s: float
    current_before_a: float
    current_after_a: float
    resistance_ohm: float
    delivered: float  # part of the log's charge that was delivered before it
    read_after_s: float  # from the last row before it to the row that was read


class StepResistance(NamedTuple):
    """What the steps of a log agree on, and their spread."""

    middle_ohm: float
    lowest_ohm: float
    highest_ohm: float


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


class Curve(NamedTuple):
    """Voltage and temperature over charge, from the first loaded row of a log to the last."""

    charge_as: Floats
    voltage_v: Floats
    temperature_c: Floats | None


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


class Trial(NamedTuple):
    """What one log of a set at rising current says."""

    current_a: float
    voltage_v: float  # lowest that counts
    peak_c: float | None  # None if it was not logged
    charge_ah: float
    proves: bool  # whether it has all that a rating needs besides its limits
    run: int  # copies of one log have one number


class Rating(NamedTuple):
    """The highest current that kept the limits in enough tests."""

    rating_a: float
    charge_ah: float  # least charge delivered at it
    repeats: int  # different tests at it
    estimated_current_a: (
        float | None
    )  # where a limit is crossed before the current that failed, on a straight line


def faults(
    *,
    time_s: Floats,
    voltage_v: Floats,
    current_a: Floats,
    temperature_c: Floats | None,
    longest_gap_s: float,
    most: int,
) -> list[LogFault]:
    """Return the faults of a log, in the order of its rows; none where it can be evaluated.

    Columns of unequal length, too few rows, numbers that are not finite, time that does not rise, gaps,
    voltages of zero or less, a current that never flows, and a current of both signs, beyond the offset
    of an ammeter at rest. A log whose currents are all zero or negative is no fault of the cell: turn
    its sign. If nothing else is wrong, a voltage that does not fall while the current flows, and a
    charge that no cell holds.

    Args:
        time_s: Time, shape (N,). [s], any
        voltage_v: Voltage, shape (N,). [V], any
        current_a: Current, shape (N,). [A], any
        temperature_c: Temperature, shape (N,), or None. [°C], any
        longest_gap_s: Longest time between two rows that may count as straight. [s], > 0
        most: Most faults to report. [1], >= 1

    Returns:
        Faults. [row, column, message]

    Source:
        Definition.

    >>> faults(time_s=np.array([0.0, 1.0, 1.0]), voltage_v=np.array([4.0, 4.0, 4.0]),
    ...     current_a=np.array([1.0, 1.0, 1.0]), temperature_c=None, longest_gap_s=60.0, most=9)
    [LogFault(row=3, column='time_s', message='time does not rise: 1 s after 1 s')]
    """
    columns = {"time_s": time_s, "voltage_v": voltage_v, "current_a": current_a}
    if temperature_c is not None:
        columns["temperature_c"] = temperature_c
    rows = len(time_s)
    for name, values in columns.items():
        if len(values) != rows:
            return [LogFault(0, name, f"{_word(name)} has {len(values)} rows, time has {rows}")]
    if rows < SHORTEST_ROWS:
        return [LogFault(0, "", f"a log needs {SHORTEST_ROWS} rows or more, this has {rows}")]
    found: list[LogFault] = []
    for name, values in columns.items():
        found += [
            LogFault(int(row) + 1, name, f"{_word(name)} is not a finite number")
            for row in np.flatnonzero(~np.isfinite(values))[:most]
        ]
    if not found:  # else nothing can be compared
        found = [
            *_time_faults(time_s, longest_gap_s, most),
            *_voltage_faults(voltage_v, most),
            *_current_faults(current_a, most),
        ]
        if not found and not _falls(voltage_v, current_a):
            why = "voltage does not fall while the current flows, so this is no discharge of a cell"
            return [LogFault(0, "voltage_v", why)]
        charge_ah = _integral(time_s, np.maximum(current_a, 0.0)) / 3600.0
        if not found and charge_ah > MOST_CHARGE_AH:
            why = f"charge of {charge_ah:.4g} Ah is more than a cell holds: look at the units"
            return [LogFault(0, "current_a", why)]
    return sorted(found)[:most]


def _time_faults(time_s: Floats, longest_gap_s: float, most: int) -> list[LogFault]:
    steps_s = np.diff(time_s)
    standing = [
        LogFault(
            int(row) + 2,
            "time_s",
            f"time does not rise: {time_s[row + 1]:g} s after {time_s[row]:g} s",
        )
        for row in np.flatnonzero(steps_s < LEAST_RISE_S)[:most]
    ]
    gaps = [
        LogFault(
            int(row) + 2, "time_s", f"gap of {steps_s[row]:g} s, longer than {longest_gap_s:g} s"
        )
        for row in np.flatnonzero(steps_s > longest_gap_s)[:most]
    ]
    return standing + gaps


def _voltage_faults(voltage_v: Floats, most: int) -> list[LogFault]:
    return [
        LogFault(int(row) + 1, "voltage_v", f"voltage of {voltage_v[row]:g} V is not above zero")
        for row in np.flatnonzero(voltage_v <= 0.0)[:most]
    ]


def _current_faults(current_a: Floats, most: int) -> list[LogFault]:
    highest_a = float(np.max(current_a))
    if highest_a >= LEAST_CURRENT_A:
        against = np.flatnonzero(current_a < -offset_a(highest_a=highest_a))
        return [
            LogFault(int(row) + 1, "current_a", f"current of {current_a[row]:g} A charges the cell")
            for row in against[:most]
        ]
    against = np.flatnonzero(current_a < 0.0)
    if against.size:
        turned = "all currents are negative: turn the sign, positive is discharging"
        return [LogFault(int(against[0]) + 1, "current_a", turned)]
    return [LogFault(0, "current_a", "no current flows")]


def _falls(voltage_v: Floats, current_a: Floats) -> bool:
    """Return whether the voltage falls: from rest, or else the first tenth of the load, to its last tenth."""
    loaded = np.flatnonzero(current_a > LOADED_PART * float(np.max(current_a)))
    tenth = max(1, len(loaded) // 10)
    before = loaded[0] - 1
    start_v = voltage_v[before] if before >= 0 else float(np.mean(voltage_v[loaded[:tenth]]))
    return bool(start_v - float(np.mean(voltage_v[loaded[-tenth:]])) >= LEAST_FALL_V)


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


def current_steps(
    *,
    time_s: Floats,
    voltage_v: Floats,
    current_a: Floats,
    threshold_a: float,
    settle_s: float,
) -> list[CurrentStep]:
    """Return the steps of the current with the resistance that each shows.

    Neighbouring changes of more than half the threshold and of one direction are one step, because a load
    may need more than one row to settle; it counts if the current moved by the threshold or more in
    total. ``R = −ΔU/ΔI`` from the last row before it to the last row that is at most the settling time
    after its first changed row, and before the next step. With a settling time of 0 the row at which
    the step ends is taken. A longer one lets the slow part of the resistance in. Steps at which the
    voltage did not move against the current are left out, because that is the noise of a load and not a resistance; so
    are those from which the current came back meanwhile.

    Args:
        time_s: Time, shape (N,). [s], finite, strictly rising
        voltage_v: Voltage, shape (N,). [V], > 0
        current_a: Current, shape (N,). [A], finite
        threshold_a: Least change of the current that is a step. [A], > 0
        settle_s: Time that the voltage is given after a step. [s], >= 0

    Returns:
        Steps in order of time. [s, A, ohm, 1, s]

    Source:
        Two-load method within one log, as in IEC 61960-3 (secondary copy), which waits 1 s.

    >>> current_steps(time_s=np.array([0.0, 1.0, 2.0, 3.0]), voltage_v=np.array([4.0, 4.0, 3.75, 3.75]),
    ...     current_a=np.array([0.0, 0.0, 2.0, 2.0]), threshold_a=1.0, settle_s=1.0)
    [CurrentStep(time_s=1.0, current_before_a=0.0, current_after_a=2.0, resistance_ohm=0.125, delivered=0.0, read_after_s=2.0)]
    """
    delivered_as = _running_integral(time_s, np.maximum(current_a, 0.0))
    change_a = np.diff(current_a)
    moving = np.abs(change_a) > 0.5 * threshold_a
    # a run begins where the current begins to move, or turns round
    begins = np.flatnonzero(
        moving
        & ~(np.r_[False, moving[:-1]] & (np.sign(change_a) == np.sign(np.r_[0.0, change_a[:-1]])))
    )
    found = []
    for number, before in enumerate(begins):
        end = int(before) + 1
        while end < len(change_a) and moving[end] and change_a[end] * change_a[before] > 0.0:
            end += 1
        step_a = current_a[end] - current_a[before]
        if abs(step_a) < threshold_a:
            continue
        last = int(begins[number + 1]) if number + 1 < len(begins) else len(time_s) - 1
        settled = int(np.searchsorted(time_s, time_s[before + 1] + settle_s, side="right")) - 1
        after = max(end, min(settled, last))
        moved_a = float(current_a[after] - current_a[before])
        drop_v = float(voltage_v[before] - voltage_v[after])
        if drop_v * moved_a > 0.0 and abs(moved_a) > 0.5 * threshold_a:
            found.append(
                CurrentStep(
                    time_s=float(time_s[before]),
                    current_before_a=float(current_a[before]),
                    current_after_a=float(current_a[after]),
                    resistance_ohm=drop_v / moved_a,
                    delivered=float(delivered_as[before] / delivered_as[-1]),
                    read_after_s=float(time_s[after] - time_s[before]),
                )
            )
    return found


def steps_near_half_charge(*, steps: list[CurrentStep], threshold_a: float) -> list[CurrentStep]:
    """Return the steps that show the resistance of a cell that is neither full nor nearly empty.

    Only steps after which a load flows: when a load ends, a nearly empty cell recovers, which looks
    like two to four times its resistance. If no step is between a fifth and four fifths of the charge,
    the earlier ones count, because a fuller cell has nearly the same resistance. Later ones never do, nor
    does a step whose next row comes more than 12 s later.

    Args:
        steps: Steps of a log. [s, A, ohm, 1, s], any
        threshold_a: Least current that is a load. [A], > 0

    Returns:
        Steps in order of time. [s, A, ohm, 1, s]

    Source:
        Resistance after 10 s of a 2.9 Ah cell: 37 to 43 mΩ from 90 to 30 % of charge, 58 at 13 %, 177 at
        3 %. Kollmeyer (2018), DOI 10.17632/wykht8y7tg.1.

    >>> on, half, off = (CurrentStep(0.0, 0.0, 2.0, 0.021, 0.0, 1.0),
    ...     CurrentStep(9.0, 1.0, 2.0, 0.02, 0.5, 1.0), CurrentStep(19.0, 2.0, 0.0, 0.07, 0.5, 1.0))
    >>> steps_near_half_charge(steps=[on, half, off], threshold_a=1.0) == [half]
    True
    >>> steps_near_half_charge(steps=[on, off], threshold_a=1.0) == [on]
    True
    """
    usable = [
        step
        for step in steps
        if step.current_after_a >= threshold_a
        and step.delivered <= NEAR_HALF_TO
        and step.read_after_s <= LATEST_READING_S
    ]
    return [step for step in usable if step.delivered >= NEAR_HALF_FROM] or usable


def step_resistance(*, steps: list[CurrentStep]) -> StepResistance:
    """Return the internal d.c. resistance that steps agree on, with the lowest and the highest.

    The median: a single odd step does not move it.

    Args:
        steps: Steps. [s, A, ohm, 1, s], >= 1 of them

    Returns:
        Resistance and its spread. [ohm]

    Raises:
        NoSolution: There is no step.

    Source:
        Definition.

    >>> step_resistance(steps=[CurrentStep(0.0, 0.0, 2.0, 0.02, 0.3, 1.0),
    ...     CurrentStep(9.0, 1.0, 2.0, 0.03, 0.4, 1.0), CurrentStep(19.0, 1.0, 2.0, 0.9, 0.5, 1.0)])
    StepResistance(middle_ohm=0.03, lowest_ohm=0.02, highest_ohm=0.9)
    """
    if not steps:
        raise NoSolution(
            "no_current_step",
            "The current of this log has no step, so it shows no resistance.",
            steps=0.0,
        )
    found_ohm = [step.resistance_ohm for step in steps]
    return StepResistance(float(np.median(found_ohm)), min(found_ohm), max(found_ohm))


def load(*, time_s: Floats, voltage_v: Floats, current_a: Floats, overshoot_v: float) -> Load:
    """Return the load of a log: its current, and the voltages at its start and its end.

    A row is loaded if it has more than half of the highest current. The mean current is charge over time
    between neighbouring loaded rows. That current flows between two neighbouring rows if both have nine
    tenths of it or more: a test in pulses, or with a current that falls away, has a small flowing part.
    The rest is the last row before the load at which at most an ammeter's offset flows.

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
    highest_a = float(np.max(current_a))
    loaded = current_a > LOADED_PART * highest_a
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
    at_rest = np.flatnonzero(current_a[:first] <= offset_a(highest_a=highest_a))
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
    first, last = np.flatnonzero(current_a > LOADED_PART * float(np.max(current_a)))[[0, -1]]
    stretch = slice(first, last + 1)
    return Curve(
        _running_integral(time_s[stretch], np.maximum(current_a[stretch], 0.0)),
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


def one_current(*, low_a: float, high_a: float) -> bool:
    """Return the flag of two currents that count as one current of a test, the lower one first.

    Args:
        low_a: Lower current. [A], > 0
        high_a: Higher current. [A], > 0

    Returns:
        Whether the higher one is at most a fiftieth above the lower one, and not below it. [1]

    Source:
        Common practice, no published source: the accuracy of a usual ammeter.

    >>> [one_current(low_a=low, high_a=high) for low, high in ((20.0, 20.3), (20.0, 20.5), (20.3, 20.0))]
    [True, False, False]
    """
    return low_a <= high_a <= low_a * (1.0 + SAME_CURRENT_PART)


def below(*, current_a: float, failing_a: float | None) -> bool:
    """Return the flag of a current below the lowest that failed, and another current than that.

    Args:
        current_a: Current of a test. [A], > 0
        failing_a: Lowest current that did not keep a limit, or None if there is none. [A], > 0

    Returns:
        Whether it is. [1]

    Source:
        Definition.

    >>> [below(current_a=20.0, failing_a=failing) for failing in (None, 25.0, 20.3, 15.0)]
    [True, True, False, False]
    """
    return failing_a is None or (
        current_a < failing_a and not one_current(low_a=current_a, high_a=failing_a)
    )


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


def lowest_failed_current_a(
    *, trials: list[Trial], highest_c: float, lowest_v: float
) -> float | None:
    """Return the lowest current at which a test did not keep a limit, or None if all kept them.

    Args:
        trials: Tests in any order. [A, V, °C, Ah], any
        highest_c: Highest temperature allowed. [°C], finite
        lowest_v: Lowest voltage allowed under load; 0 for no limit. [V], >= 0

    Returns:
        Current. [A]

    Source:
        Definition.

    >>> lowest_failed_current_a(trials=[Trial(20.0, 3.0, 70.0, 2.8, True, 0), Trial(30.0, 3.0, None, 2.7, True, 1)],
    ...     highest_c=60.0, lowest_v=2.5)
    20.0
    """
    return min(
        (
            trial.current_a
            for trial in trials
            if (trial.peak_c is not None and trial.peak_c > highest_c) or trial.voltage_v < lowest_v
        ),
        default=None,
    )


def rating_from_trials(
    *, trials: list[Trial], highest_c: float, lowest_v: float, least_repeats: int
) -> Rating | None:
    """Return the highest current that enough tests prove, or None if there is none.

    A test proves its current if it kept both limits, at them included, and has all else that a rating
    needs. Copies of one log are one test. Currents within a fiftieth are one current, and the lowest of
    them is rated. A current is not rated if a test at it, or at a lower one, did not keep a limit. The rating is a current that was tested, never one between or beyond. As
    information, the estimate is where the first limit is crossed on a straight line from the worst test
    at the rating to the worst at the lowest current that failed.

    Args:
        trials: Tests in any order; equal currents are repeats. [A, V, °C, Ah], any
        highest_c: Highest temperature allowed. [°C], finite
        lowest_v: Lowest voltage allowed under load; 0 for no limit. [V], >= 0
        least_repeats: Different tests at the rating. [1], >= 1

    Returns:
        Rating. [A, Ah]

    Source:
        Common practice, no published source.

    >>> rating_from_trials(trials=[Trial(10.0, 3.0, 50.0, 2.9, True, 0), Trial(20.0, 3.0, 70.0, 2.8, True, 1),
    ...     Trial(30.0, 3.0, 90.0, 2.7, True, 2)], highest_c=80.0, lowest_v=2.5, least_repeats=1)
    Rating(rating_a=20.0, charge_ah=2.8, repeats=1, estimated_current_a=25.0)
    """
    failing_a = lowest_failed_current_a(trials=trials, highest_c=highest_c, lowest_v=lowest_v)
    proving = [
        trial
        for trial in trials
        if trial.proves
        and trial.peak_c is not None
        and below(current_a=trial.current_a, failing_a=failing_a)
    ]
    for current_a in sorted({trial.current_a for trial in proving}, reverse=True):
        passed = [
            trial for trial in proving if one_current(low_a=current_a, high_a=trial.current_a)
        ]
        repeats = len({trial.run for trial in passed})
        if repeats >= least_repeats:
            failed = [trial for trial in trials if trial.current_a == failing_a]
            return Rating(
                rating_a=current_a,
                charge_ah=min(trial.charge_ah for trial in passed),
                repeats=repeats,
                estimated_current_a=_crossing_a(passed, failed, highest_c, lowest_v)
                if failed
                else None,
            )
    return None


def _crossing_a(
    passed: list[Trial], failed: list[Trial], highest_c: float, lowest_v: float
) -> float:
    """Return the current at which the first limit is crossed between two tested currents."""
    low_a, high_a = min(trial.current_a for trial in passed), failed[0].current_a
    part = 1.0
    for limit, inner, outer in (
        (highest_c, _peaks(passed), _peaks(failed)),
        (-lowest_v, [-t.voltage_v for t in passed], [-t.voltage_v for t in failed]),
    ):
        if outer and max(outer) > limit:
            part = min(part, (limit - max(inner)) / (max(outer) - max(inner)))
    return low_a + part * (high_a - low_a)


def _peaks(trials: list[Trial]) -> list[float]:
    return [trial.peak_c for trial in trials if trial.peak_c is not None]


def _word(column: str) -> str:
    return column.partition("_")[0]


def _integral(time_s: Floats, values: Floats) -> float:
    return float(_running_integral(time_s, values)[-1])


def _running_integral(time_s: Floats, values: Floats) -> Floats:
    return np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(time_s))))
