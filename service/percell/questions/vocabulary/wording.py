"""Numbers in sentences: no powers of ten, and never rounded onto or across a limit."""

from collections.abc import Sequence
from math import floor, log10

from percell.physics.meter import NOISE, rounded_down, rounded_up

_DIGITS = 3
_MOST_DIGITS = 12


def shown(value: float, digits: int = _DIGITS) -> str:
    """Return a number with that many significant digits; whole numbers in full.

    >>> shown(0.0714285), shown(28.0), shown(123_456.7), shown(-0.0)
    ('0.0714', '28', '123,457', '0')
    """
    if not value:
        return "0"
    if abs(value) < 10_000:
        text = f"{value:.{digits}g}"
        if "e" not in text:  # the usual case, and several times as fast
            return text
    decimals = max(0, digits - 1 - floor(log10(abs(value))))
    text = f"{value:,.{decimals}f}" if abs(value) >= 10_000 else f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def count_of(number: float, noun: str) -> str:
    """Return a number of things in words.

    >>> count_of(1, "draw"), count_of(1200, "draw")
    ('1 draw', '1,200 draws')
    """
    return f"{number:,.0f} {noun}{'' if number == 1 else 's'}"


# each mark that could end a quotation, or read as its end
_QUOTES = dict.fromkeys(map(ord, '"“”„‟«»″‶〝〞〟＂❝❞'), "'")


def quoted(name: str) -> str:
    """Return a name that a caller chose as it stands in a sentence, so that no reader takes it for percell's words.

    >>> quoted("18650 blue"), quoted("A” is within its limit. “B")
    ('“18650 blue”', "“A' is within its limit. 'B”")
    """
    return f"“{name.translate(_QUOTES)}”"


def listed(words: Sequence[str]) -> str:
    """Return things one after the other, with a word before the last.

    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    *first, last = words or [""]
    return " and ".join(filter(None, [", ".join(first), last]))


def at_least(value: float) -> str:
    """Return a positive number rounded down: the true value is at least the printed one.

    >>> at_least(0.5056), at_least(0.14), at_least(12.39)
    ('0.505', '0.14', '12.3')
    """
    return shown(rounded_down(value=value, step=_step(value)))


def at_most(value: float) -> str:
    """Return a positive number rounded up: the true value is at most the printed one.

    >>> at_most(4.2613), at_most(0.14), at_most(1.0039), at_most(9.999)
    ('4.27', '0.14', '1.01', '10')
    """
    return shown(rounded_up(value=value, step=_step(value)))


def _step(value: float) -> float:
    return 10.0 ** (floor(log10(value)) - _DIGITS + 1)


def given(value: float) -> str:
    """Return a number exactly as the caller gave it.

    >>> given(20.0), given(19.99999)
    ('20', '19.99999')
    """
    return shown(value, _MOST_DIGITS)


def with_unit(text: str, unit: str) -> str:
    """Return a number with its unit; 1 is that of a ratio or a count.

    >>> with_unit("0.34", "1/year"), with_unit("4", "1"), with_unit("20", "A")
    ('0.34 per year', '4', '20 A')
    """
    return text if unit == "1" else f"{text} {unit.replace('1/', 'per ')}"


def beside(value: float, limit: float) -> str:
    """Return a number with enough digits to stay on its side of a limit.

    >>> beside(19.999, 20), beside(20.0009, 20), beside(18.6667, 20), beside(20.00000000000001, 20)
    ('19.999', '20.001', '18.7', '20')
    """
    if abs(value - limit) <= NOISE * abs(limit):
        return given(limit)
    for digits in range(_DIGITS, _MOST_DIGITS):
        text = shown(value, digits)
        rounded = float(text.replace(",", ""))
        if (rounded > limit) == (value > limit) and abs(rounded - limit) > NOISE * abs(limit):
            return text
    return given(value)


def worst(value: float, limit: float) -> str:
    """Return a figure rounded up to tenths, unless that would carry it across its limit.

    >>> worst(23.33, 20), worst(19.96, 20), worst(20.0, 20), worst(12.0, 20)
    ('23.4', '19.96', '20.0', '12.0')
    """
    up = rounded_up(value=value, step=0.1)
    crosses = value < limit * (1 - NOISE) and up >= limit * (1 - NOISE)
    return beside(value, limit) if crosses else f"{up:.1f}"


def apart(value: float, bound: float) -> tuple[str, str]:
    """Return a number and a computed bound with enough digits to look different.

    >>> apart(4.136, 4.135121), apart(9.9, 4.135121), apart(450 / 7, 450 / 7)
    (('4.136', '4.135'), ('9.9', '4.14'), ('64.3', '64.3'))
    """
    if abs(value - bound) <= NOISE * abs(bound):
        return shown(bound), shown(bound)
    for digits in range(_DIGITS, _MOST_DIGITS):
        texts = shown(value, digits), shown(bound, digits)
        if texts[0] != texts[1]:
            return texts
    return given(value), given(bound)


def on_display(reading: float, step: float) -> str:
    """Return the least that a meter must show, with the decimals of its last digit.

    >>> on_display(0.3, 0.01), on_display(0.1234, 0.001), on_display(2.0, 1.0)
    ('0.30', '0.124', '2')
    """
    decimals = len(f"{step:.4f}".rstrip("0").partition(".")[2])
    return f"{rounded_up(value=reading, step=10.0**-decimals):.{decimals}f}"
