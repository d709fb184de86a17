"""Numbers as people type them: with a decimal comma, without a leading zero, with a unit."""

import re
import unicodedata
from collections.abc import Mapping
from math import isfinite

from percell.questions.bench.log_units import CLOCK, UNITS, Unit

# a comma before one, two or more than three digits, or after a lone zero; "3,000" could be three or three thousand
_DECIMAL_COMMA = re.compile(r"([+-]?)(\d+),(\d{1,2}|\d{4,})|([+-]?)(0),(\d+)")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
# as many people write a resistance: .15
_NO_ZERO = re.compile(r"([+-]?)[.,](\d+)")
_WITH_UNIT = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([^\W\d_].*|°.*|%)", re.DOTALL)
_POWER = re.compile(r"[+-]?[\d.]+e[+-]?\d+", re.IGNORECASE)
# finer than any bound of a field
_DECIMALS = 9
_QUOTED = 40
# Who writes thousands of these means a unit a thousand times as small, so the point is right all the same.
_IN_THOUSANDTHS = {"V", "A", "Ω", "Ah"}


def _spelled(units: Mapping[Unit, str]) -> dict[str, Unit]:
    return {spelling: unit for unit, written in units.items() for spelling in written.split()}


# by percell's own unit, then by how a unit is written, in small letters
_KNOWN: dict[str, dict[str, Unit]] = {
    "s": UNITS["time_s"],
    "V": UNITS["voltage_v"],
    "A": UNITS["current_a"],
    "°C": UNITS["temperature_c"],
    "Ω": _spelled(
        {Unit("Ω"): "ω ohm ohms r", Unit("mΩ", over=1e3): "mω mohm mohms milliohm milliohms"}
    ),
    "Ah": _spelled({Unit("Ah"): "ah", Unit("mAh", over=1e3): "mah"}),
    "W": _spelled({Unit("W"): "w watt watts", Unit("mW", over=1e3): "mw"}),
    "mm": _spelled({Unit("mm"): "mm", Unit("cm", times=10.0): "cm"}),
    "kg": _spelled({Unit("kg"): "kg", Unit("g", over=1e3): "g"}),
    "1/h": _spelled({Unit("C"): "c"}),
    "1": _spelled({Unit("%", over=100.0): "%"}),
}


def unit_called(written: str, unit: str) -> Unit | None:
    """Return the unit that is written, if a value in percell's own unit may be given in it."""
    plain = "".join(unicodedata.normalize("NFKC", written).casefold().split())
    found = _KNOWN.get(unit, {}).get(plain)
    return None if found is CLOCK else found


def is_unit(written: str) -> bool:
    """Return whether a text is a unit of anything."""
    return any(unit_called(written, unit) for unit in _KNOWN)


def number_in(
    typed: str, unit: str, bounds: tuple[float, float], meant: Unit | None = None
) -> str | None:
    """Return what was typed as a plain number in percell's own unit, or None if it is none.

    Args:
        typed: A number with or without a unit.
        unit: The unit of the field, 1 for a ratio, or nothing for a count.
        bounds: Lowest and highest value of the field, in its unit.
        meant: The unit of a number without one, where it is another.

    >>> number_in("18 mΩ", "Ω", (0, 1)), number_in("4,172", "V", (0, 5)), number_in("95 %", "1", (0, 1))
    ('0.018', '4.172', '0.95')
    >>> number_in("3,000", "s", (0, 3600)) is None
    True
    """
    number, written = _parted(typed)
    if written:
        meant = unit_called(written, unit)
        if meant is None:
            return None
    if not _THOUSANDS.fullmatch(number):
        return _ours(with_point(number), unit, meant)
    if unit not in _IN_THOUSANDTHS:
        return None
    low, high = bounds
    read = (_ours(number.replace(",", mark), unit, meant) for mark in (".", ""))
    possible = [one for one in read if one and low <= float(one) <= high]
    return possible[0] if len(possible) == 1 else None


def _ours(number: str, unit: str, meant: Unit | None) -> str | None:
    """Return a number without a unit in percell's own unit, as it was typed if that is its unit."""
    try:
        # only Python accepts 1_000 as a number
        value = float(number if number.isascii() and "_" not in number else "")
    except ValueError:
        return None
    if meant is None or meant.symbol == unit:
        return number
    value = meant.ours(value)
    return f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".") if isfinite(value) else None


def _parted(typed: str) -> tuple[str, str]:
    """Return a number and its unit, as they are written."""
    text = unicodedata.normalize("NFKC", typed).replace("\N{MINUS SIGN}", "-").strip()
    found = _WITH_UNIT.fullmatch(text)
    # 1e-5 is a number without a unit
    return (found[1], found[2]) if found and not _POWER.fullmatch(text) else (text, "")


def with_point(value: str) -> str:
    """Return a number with a decimal point, where its comma can be nothing else."""
    if bare := _NO_ZERO.fullmatch(value):
        return f"{bare[1]}0.{bare[2]}"
    whole = _DECIMAL_COMMA.fullmatch(value)
    return value.replace(",", ".") if whole else value


def separates(text: str) -> bool:
    """Return whether a comma of a text stands between two values, since it is no mark of one number."""
    number, _ = _parted(text)
    return "," in with_point(number) and not _THOUSANDS.fullmatch(number)


def with_other_unit(number: str, unit: str, bounds: tuple[float, float]) -> str:
    """Return a number that is too high with the unit in which it would fit; nothing if there is none.

    >>> with_other_unit("3500", "Ah", (0.01, 100)), with_other_unit("90", "1", (0.3, 1))
    ('3500 mAh', '90 %')
    """
    low, high = bounds
    units = dict.fromkeys(_KNOWN.get(unit, {}).values())
    smaller = [one for one in units if one.over > 1.0 and low <= one.ours(float(number)) <= high]
    return f"{number} {smaller[0].symbol}" if smaller else ""


def why_no_number(typed: str, unit: str) -> str:
    """Return what is wrong with a text that is no number, and how to write it."""
    said = f"“{typed.strip()[:_QUOTED]}”"
    number, written = _parted(typed)
    if _THOUSANDS.fullmatch(number):
        point, none = number.replace(",", "."), number.replace(",", "")
        return f"{said} could mean {point} or {none}. Write one of these."
    if written:
        units = dict.fromkeys(one.symbol for one in _KNOWN.get(unit, {}).values())
        known = [symbol for symbol in units if symbol != CLOCK.symbol]
        takes = f"Use {' or '.join(known)}, or no unit." if known else "Leave it out."
        return f"percell does not know the unit “{written[:_QUOTED]}” here. {takes}"
    return f"{said} is not a number. Write it with a decimal point, such as 0.5."
