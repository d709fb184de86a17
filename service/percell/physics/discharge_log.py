"""A discharge log of one cell: what was delivered, its resistance at the steps, its heat.

Arrays of one length N: time, voltage, current (positive = discharging) and, if measured, temperature.
Between two rows everything counts as straight. Rows are numbered from 1 in messages.
"""

from typing import NamedTuple

import numpy as np

from percell.physics.errors import NoSolution
from percell.physics.types import Floats

SHORTEST_ROWS = 3
# less is no rise of time, and no current: no logger resolves it, and results would have no bound
LEAST_RISE_S = 1e-6
LEAST_CURRENT_A = 1e-3


class LogFault(NamedTuple):
    """What is wrong with a row, or with the whole log (row 0), and in which column if in one."""

    row: int
    column: str
    message: str


class CurrentStep(NamedTuple):
    """One jump of the current, and the resistance that the voltage shows at it."""

    time_s: float
    before_a: float
    after_a: float
    resistance_ohm: float


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
    lowest_voltage_v: float
    peak_c: float
    charge_ah: float


class Rating(NamedTuple):
    """The highest current that kept the limits, and what stands beside it."""

    rating_a: float  # highest current tested that passed, with all lower ones and all its repeats
    charge_ah: float  # least charge delivered at it
    repeats: int  # tests at it
    repeated: bool  # at least as many as asked
    failed_at_a: float | None  # lowest current that did not pass
    estimate_a: float | None  # where a limit is crossed between the two, on a straight line


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
    voltages of zero or less, a current that never flows, and a current of both signs. A log whose
    currents are all zero or negative is no fault of the cell: turn its sign.

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
    against = np.flatnonzero(current_a < 0.0)
    if np.any(current_a >= LEAST_CURRENT_A):
        return [
            LogFault(int(row) + 1, "current_a", f"current of {current_a[row]:g} A charges the cell")
            for row in against[:most]
        ]
    if against.size:
        turned = "all currents are negative: turn the sign, positive is discharging"
        return [LogFault(int(against[0]) + 1, "current_a", turned)]
    return [LogFault(0, "current_a", "no current flows")]


def summary(
    *, time_s: Floats, voltage_v: Floats, current_a: Floats, temperature_c: Floats | None
) -> Summary:
    """Return the charge, energy, mean voltage, duration and extremes of a log.

    ``Q = ∫I·dt`` and ``E = ∫U·I·dt`` by the trapezoid rule over the rows; the mean voltage is E/Q, so
    that capacity times mean voltage is the energy. The first of equal peaks counts.

    Args:
        time_s: Time, shape (N,). [s], strictly rising, finite
        voltage_v: Voltage, shape (N,). [V], > 0
        current_a: Current, shape (N,). [A], >= 0, not all 0
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
        Steps in order of time. [s, A, ohm]

    Source:
        Two-load method within one log, as in IEC 61960-3 (secondary copy), which waits 1 s.

    >>> current_steps(time_s=np.array([0.0, 1.0, 2.0, 3.0]), voltage_v=np.array([4.0, 4.0, 3.75, 3.75]),
    ...     current_a=np.array([0.0, 0.0, 2.0, 2.0]), threshold_a=1.0, settle_s=1.0)
    [CurrentStep(time_s=1.0, before_a=0.0, after_a=2.0, resistance_ohm=0.125)]
    """
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
                    before_a=float(current_a[before]),
                    after_a=float(current_a[after]),
                    resistance_ohm=drop_v / moved_a,
                )
            )
    return found


def step_resistance_ohm(*, steps: list[CurrentStep]) -> float:
    """Return the internal d.c. resistance that the steps of a log agree on.

    The median: a single odd step does not move it.

    Args:
        steps: Steps. [s, A, ohm], >= 1 of them

    Returns:
        Resistance. [ohm]

    Raises:
        NoSolution: There is no step.

    Source:
        Definition.

    >>> step_resistance_ohm(steps=[CurrentStep(0.0, 0.0, 2.0, 0.02), CurrentStep(9.0, 2.0, 0.0, 0.03),
    ...     CurrentStep(19.0, 0.0, 2.0, 0.9)])
    0.03
    """
    if not steps:
        raise NoSolution(
            "no_current_step",
            "The current of this log has no step, so that it shows no resistance.",
            steps=0.0,
        )
    return float(np.median([step.resistance_ohm for step in steps]))


def rating_from_trials(
    *, trials: list[Trial], highest_c: float, lowest_v: float, least_repeats: int
) -> Rating:
    """Return the highest tested current that kept a temperature and a voltage limit, with repeats.

    A current passes if every test at it kept both limits, at them included, and every lower current
    passes too. The rating is a current that was tested, never one between or beyond. As information,
    the estimate is where the first limit is crossed on a straight line from the worst test at the
    rating to the worst at the next current.

    Args:
        trials: Tests in any order; equal currents are repeats. [A, V, °C, Ah], >= 1 of them
        highest_c: Highest temperature allowed. [°C], finite
        lowest_v: Lowest voltage allowed under load; 0 for no limit. [V], >= 0
        least_repeats: Tests at the rating that make it repeated. [1], >= 1

    Returns:
        Rating. [A, Ah]

    Raises:
        NoSolution: There is no test, or no current passes, the lowest tested included.

    Source:
        Common practice, no published source.

    >>> rating_from_trials(trials=[Trial(10.0, 3.0, 50.0, 2.9), Trial(20.0, 3.0, 70.0, 2.8),
    ...     Trial(30.0, 3.0, 90.0, 2.7)], highest_c=80.0, lowest_v=2.5, least_repeats=1)
    Rating(rating_a=20.0, charge_ah=2.8, repeats=1, repeated=True, failed_at_a=30.0, estimate_a=25.0)
    """
    passed: list[Trial] = []
    failed: list[Trial] = []
    for current_a in sorted({trial.current_a for trial in trials}):
        same = [trial for trial in trials if trial.current_a == current_a]
        if any(trial.peak_c > highest_c or trial.lowest_voltage_v < lowest_v for trial in same):
            failed = same
            break
        passed = same
    if not passed:
        raise NoSolution(
            "no_current_passed",
            "No tested current kept the limits; the rating lies below all of them.",
            lowest_tested_a=min((trial.current_a for trial in trials), default=0.0),
            highest_c=highest_c,
            lowest_v=lowest_v,
        )
    return Rating(
        rating_a=passed[0].current_a,
        charge_ah=min(trial.charge_ah for trial in passed),
        repeats=len(passed),
        repeated=len(passed) >= least_repeats,
        failed_at_a=failed[0].current_a if failed else None,
        estimate_a=_crossing_a(passed, failed, highest_c, lowest_v) if failed else None,
    )


def _crossing_a(
    passed: list[Trial], failed: list[Trial], highest_c: float, lowest_v: float
) -> float:
    """Current at which the first limit is crossed between two neighbouring currents."""
    low_a, high_a = passed[0].current_a, failed[0].current_a
    part = 1.0
    for limit, inner, outer in (
        (highest_c, max(t.peak_c for t in passed), max(t.peak_c for t in failed)),
        (
            -lowest_v,
            max(-t.lowest_voltage_v for t in passed),
            max(-t.lowest_voltage_v for t in failed),
        ),
    ):
        if outer > limit:
            part = min(part, (limit - inner) / (outer - inner))
    return low_a + part * (high_a - low_a)


def _word(column: str) -> str:
    return column.partition("_")[0]


def _integral(time_s: Floats, values: Floats) -> float:
    return float(np.sum(0.5 * (values[1:] + values[:-1]) * np.diff(time_s)))
