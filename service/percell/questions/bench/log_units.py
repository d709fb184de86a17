"""Units of a log's columns: how they are written, what they are in percell's own, and which are plausible."""

import itertools
import re
from collections.abc import Mapping
from datetime import date
from typing import NamedTuple

import numpy as np

from percell.physics.discharge_log import loaded_rows
from percell.physics.types import Floats, Quantity

CLOCK_SYMBOL = "hh:mm:ss"
_DAY_S = 86_400.0


class Unit(NamedTuple):
    """A unit of a file: percell's own value is ``(value - zero) * times / over``."""

    symbol: str
    times: float = 1.0
    over: float = 1.0
    zero: float = 0.0

    def ours(self, values: Quantity) -> Quantity:
        """Return values of a file in percell's own unit: exactly, where a decimal point only moves."""
        return (values - self.zero) * self.times / self.over

    def theirs(self, value: float) -> float:
        """Return a value in percell's own unit as the file has it."""
        return value * self.over / self.times + self.zero


CLOCK = Unit(CLOCK_SYMBOL)
# by column, then by how a unit is written, in small letters
_WRITTEN: dict[str, dict[Unit, str]] = {
    "time_s": {
        Unit("s"): "s sec secs second seconds",
        Unit("ms", over=1e3): "ms msec millisecond milliseconds",
        Unit("min", times=60.0): "min mins minute minutes",
        Unit("h", times=3600.0): "h hr hrs hour hours",
        CLOCK: "hh:mm:ss h:mm:ss h:m:s hms hh:mm:ss.s hh:mm:ss.ms hh:mm:ss.f hh:mm:ss.fff",
    },
    "voltage_v": {
        Unit("V"): "v volt volts",
        Unit("mV", over=1e3): "mv millivolt millivolts",
    },
    "current_a": {
        Unit("A"): "a amp amps ampere amperes",
        Unit("mA", over=1e3): "ma milliamp milliamps milliampere milliamperes",
    },
    "temperature_c": {
        Unit("°C"): "°c ºc c degc deg_c deg.c celsius",
        Unit("K", zero=273.15): "k kelvin",
        Unit("°F", times=5.0, over=9.0, zero=32.0): "°f ºf f degf deg_f deg.f fahrenheit",
    },
}
UNITS: dict[str, dict[str, Unit]] = {
    column: {spelling: unit for unit, written in units.items() for spelling in written.split()}
    for column, units in _WRITTEN.items()
}
# What a discharge of one cell can be, where no unit is written: common practice, no published source.
# A round cell of 0.2 to 30 Ah, emptied within 30 s to 100 h, on a bench of 5 to 40 °C.
_CHARGE_AH = (0.2, 30.0)
_DURATION_S = (30.0, 360_000.0)
_HIGHEST_V = (2.0, 10.0)
_START_C = (5.0, 40.0)


def unit_of(column: str, written: str) -> Unit | None:
    """Return the unit of a column as a file writes it, or None if percell does not know it."""
    return UNITS[column].get("_".join(written.casefold().split()))


def symbols(column: str) -> list[str]:
    """Return the units of a column that percell reads."""
    return [unit.symbol for unit in _WRITTEN[column]]


def plausible_units(
    read: Mapping[str, Floats], written: Mapping[str, Unit | None]
) -> list[dict[str, Unit]]:
    """Return each choice of units, of the columns without a written one, that makes a discharge of a cell.

    Args:
        read: The columns as the file has them, any unit.
        written: The units that the file or the caller names.
    """
    open_columns = [column for column in read if written[column] is None]
    choices = itertools.product(
        *([unit for unit in _WRITTEN[column] if unit is not CLOCK] for column in open_columns)
    )
    found = [dict(zip(open_columns, units, strict=True)) for units in choices]
    return [units for units in found if _is_plausible(read, written, units)]


def _is_plausible(
    read: Mapping[str, Floats], written: Mapping[str, Unit | None], chosen: dict[str, Unit]
) -> bool:
    def ours(column: str) -> Floats:
        return (chosen.get(column) or written[column] or CLOCK).ours(read[column])

    held = []
    if chosen.keys() & {"time_s", "current_a"}:
        time_s, current_a = ours("time_s"), np.abs(ours("current_a"))
        moved_as = 0.5 * (current_a[1:] + current_a[:-1]) * np.diff(time_s)
        held += [
            (float(np.ptp(time_s)), _DURATION_S),
            (float(np.sum(moved_as)) / 3600.0, _CHARGE_AH),
        ]
    if "voltage_v" in chosen:
        held.append((float(np.max(ours("voltage_v"))), _HIGHEST_V))
    if "temperature_c" in chosen:
        held.append((float(ours("temperature_c")[0]), _START_C))
    return all(low <= value <= high for value, (low, high) in held)


class Clock:
    """Reads times of day and elapsed times: ``hh:mm:ss`` with decimals, after an ISO 8601 date or without one.

    Source:
        Form: ISO 8601-1, calendar date and time of day, extended format.

    >>> clock = Clock()
    >>> [clock.seconds(text) for text in ("2026-03-14 23:59:59.5", "2026-03-15T00:00:01Z")]
    [86399.5, 86401.0]
    """

    _FORM = re.compile(
        r"(?:(\d{4}-\d\d-\d\d)[T ]\s*)?(\d{1,4}):([0-5]?\d):([0-5]?\d(?:[.,]\d{1,9})?)Z?", re.ASCII
    )

    def __init__(self) -> None:
        self._first_day: int | None = None
        self.dated = False

    def seconds(self, text: str) -> float:
        """Return a time in seconds, from the start of the first day if it has a date.

        Raises:
            ValueError: It is no such time.
        """
        found = self._FORM.fullmatch(text.strip())
        if found is None:
            raise ValueError(text)
        day, hours, minutes, seconds = found.groups()
        days = 0
        if day:
            ordinal = date.fromisoformat(day).toordinal()
            if self._first_day is None:
                self._first_day = ordinal
            days = ordinal - self._first_day
            self.dated = True
        in_day_s = 3600.0 * int(hours) + 60.0 * int(minutes) + float(seconds.replace(",", "."))
        return _DAY_S * days + in_day_s


def over_midnight(time_s: Floats) -> Floats:
    """Return times of day that rise over midnight: a fall by more than half a day is the next day.

    >>> over_midnight(np.array([86399.0, 0.0, 1.0]))
    array([86399., 86400., 86401.])
    """
    return time_s + _DAY_S * np.cumsum(np.r_[False, np.diff(time_s) < -_DAY_S / 2])


def discharging(current_a: Floats) -> tuple[Floats, bool]:
    """Return a current with a discharge as positive, and whether its sign was turned.

    It is turned if every row with more than half of the highest current, of either sign, is negative.

    >>> discharging(np.array([0.03, -10.0, -9.0]))
    (array([-0.03, 10.  ,  9.  ]), True)
    """
    loaded = loaded_rows(current_a=np.abs(current_a))
    negative = bool(np.any(loaded) and np.all(current_a[loaded] < 0.0))
    return (0.0 - current_a if negative else current_a), negative
