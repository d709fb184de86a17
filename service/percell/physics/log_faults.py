"""The faults of a discharge log, without which it can be evaluated. Rows are numbered from 1 in messages."""

from typing import NamedTuple

import numpy as np

from percell.physics.discharge_log import LEAST_CURRENT_A, loaded_rows, offset_a
from percell.physics.types import Floats

SHORTEST_ROWS = 3
# less is no rise of time: no logger resolves it, and results would have no bound
LEAST_RISE_S = 1e-6
# A voltage that falls less than this while the current flows is no discharge: a charge, columns that were
# swapped, or a supply. percell's own choice: more than the noise of a usual voltmeter.
LEAST_FALL_V = 0.002
# no single cell of the kinds here holds more: a unit or a column is another than it says
MOST_CHARGE_AH = 100.0


class LogFault(NamedTuple):
    """What is wrong with a row, or with the whole log (row 0), and in which column if in one."""

    row: int
    column: str
    message: str


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
        charge_ah = np.trapezoid(np.maximum(current_a, 0.0), time_s) / 3600.0
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
    loaded = np.flatnonzero(loaded_rows(current_a=current_a))
    tenth = max(1, len(loaded) // 10)
    before = loaded[0] - 1
    start_v = voltage_v[before] if before >= 0 else float(np.mean(voltage_v[loaded[:tenth]]))
    return bool(start_v - float(np.mean(voltage_v[loaded[-tenth:]])) >= LEAST_FALL_V)


def _word(column: str) -> str:
    return column.partition("_")[0]
