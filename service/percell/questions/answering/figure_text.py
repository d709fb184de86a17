"""Figures of an answer as text for a page: four digits, rounded toward caution, with the unit."""

import re
from collections.abc import Iterable
from enum import Enum
from functools import cache
from math import floor, isfinite, log10

from msgspec import UNSET

from percell.physics.meter import rounded_down, rounded_up
from percell.questions.answering.steps import beside_limits
from percell.questions.vocabulary.limits import Limit
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import shown, with_unit

_DIGITS = 4
# asked again, such a figure must not be on the far side of the limit that it stands for
_UP = re.compile(
    r"^lowest_(resistance|reading|true)|needed_|careful_|rush_current|pair_current|highest_charge_current"
    r"|_current_a$|^current_a$|^worst_cell_.*share$|(peak|continuous|draw)_temperature|above_limit"
    r"|lasting_sag|charging_time|cell_resistance_highest|highest_at_charged|^coil_power_w$|full_pack_power_ratio"
    r"|pack_charged_voltage|pack_energy|pack_resistance|chance_above|^turns"
)
_DOWN = re.compile(
    r"highest_(power|voltage_difference|rating|capacity)|usual_(rating|capacity)|current_limit|running_time"
    r"|drawing_time|time_to_stop|continuous_current_a|draws|coil_resistance|headroom|cell_health|estimated_current"
    r"|layout_count|lowest_at_cutoff|pack_capacity|used_capacity|lasting_loaded_voltage|resistance_lowest"
)
_PERCENT = re.compile(
    r"share$|^headroom$|^cell_health$|state_of_charge|power_ratio|flowing_ratio|delivered_ratio|used_capacity"
    r"|discharged_part|^chance_|mismatch|accuracy$|^efficiency|percentile$|(^|\.|resistance_|contact_)spread$"
)
_MINUTE_S = 60
# shorter times read better in seconds
_LEAST_IN_MINUTES_S = 120


def figure_text(name: str, value: object, unit: str = "1", limits: Iterable[Limit] = ()) -> str:
    """Return one figure as text.

    Args:
        name: Its field, which tells on which side caution lies.
        value: The figure: a number, a word, or whether something is so.
        unit: Its unit; 1 for a ratio or a count.
        limits: The limits of the answer, onto or across which it is not rounded.

    >>> figure_text("lowest_resistance_ohm", 0.381812, "Ω"), figure_text("highest_power_w", 108.8999, "W")
    ('0.3819 Ω', '108.8 W')
    >>> figure_text("headroom", 0.34117), figure_text("running_time_s", 1140.71, "s")
    ('34.11 %', '19.01 min')
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value).replace("_", " ")
    if not isinstance(value, int | float):
        return str(value)
    if close := beside_limits(value, unit, limits):
        return f"{close} {unit}"
    if unit == "1" and _is_percent(name):
        return f"{_digits(value * 100, _way(name))} %"
    if unit == "s" and value >= _LEAST_IN_MINUTES_S:
        return f"{_digits(value / _MINUTE_S, _way(name))} min"
    return with_unit(_digits(value, _way(name)), unit)


def limit_figure_text(limit: Limit) -> str:
    """Return the figure beside a limit as text, rounded toward the limit; nothing if there is none."""
    if limit.figure is UNSET:
        return ""
    if limit.value is UNSET:
        return f"{_digits(limit.figure, 0)} {limit.unit}"
    if close := beside_limits(limit.figure, limit.unit, [limit]):
        return f"{close} {limit.unit}"
    at_most = (limit.figure <= limit.value) is (limit.verdict is not Verdict.OVER)
    return f"{_digits(limit.figure, 1 if at_most else -1)} {limit.unit}"


def _digits(value: float, way: int) -> str:
    if not value or not isfinite(value):
        return shown(value, _DIGITS)
    step = 10.0 ** (floor(log10(abs(value))) - _DIGITS + 1)
    if way:
        value = (rounded_up if way > 0 else rounded_down)(value=value, step=step)
    return shown(value, _DIGITS)


@cache
def _way(name: str) -> int:
    return -1 if _DOWN.search(name) else 1 if _UP.search(name) else 0


@cache
def _is_percent(name: str) -> bool:
    return bool(_PERCENT.search(name))
