"""Numbers in sentences: no powers of ten, no rounding onto or across a limit."""

import re

from hypothesis import assume, given
from hypothesis import strategies as st

from percell.questions.vocabulary import wording

NUMBERS = st.floats(1e-6, 1e7)


def read(text):
    assert re.fullmatch(r"[0-9,]+(\.[0-9]*[1-9])?", text), text
    return float(text.replace(",", ""))


@given(NUMBERS)
def test_three_digits(value):
    """A number has three digits; whole numbers are given in full."""
    assert abs(read(wording.shown(value)) - value) <= max(0.005 * value, 0)


@given(NUMBERS, st.floats(-1e-3, 1e-3))
def test_beside_a_limit(limit, part):
    """A number above a limit looks above it, one below looks below."""
    value = limit * (1 + part)
    assume(abs(part) > 1e-8)
    told = read(wording.beside(value, limit))
    assert (told > limit, told < limit) == (value > limit, value < limit)


@given(NUMBERS)
def test_at_least_is_never_more(value):
    """Rounded down, by less than one part in a hundred."""
    assert value * 0.99 <= read(wording.at_least(value)) <= value * (1 + 1e-8)


@given(NUMBERS, st.floats(1e-6, 10))
def test_apart(bound, part):
    """Two different numbers look different, in their order."""
    value, told_bound = wording.apart(bound * (1 + part), bound)
    assert read(value) > read(told_bound)
