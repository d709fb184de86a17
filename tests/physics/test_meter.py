"""What a reading stands for, and rounding that never leaves the careful side."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import meter

errors = st.fixed_dictionaries(
    {
        "tolerance_ohm": st.floats(0, 10),
        "accuracy": st.floats(0, 0.2),
        "counts": st.integers(0, 100),
        "resolution_ohm": st.floats(1e-4, 1),
        "lead_resistance_ohm": st.floats(0, 5),
    }
)


@given(st.floats(1e-4, 100), errors)
def test_reading_and_resistance_undo_each_other(resistance_ohm, of_meter):
    """The least reading for a resistance stands for at least that resistance, and no more."""
    reading_ohm = meter.least_reading_ohm(resistance_ohm=resistance_ohm, **of_meter)
    back_ohm = meter.least_resistance_ohm(reading_ohm=reading_ohm, **of_meter)
    assert back_ohm == pytest.approx(resistance_ohm, abs=1e-13 * reading_ohm)


@given(st.floats(0.01, 100), errors)
def test_every_error_is_at_its_hard_end(reading_ohm, of_meter):
    """With every error the resistance is lower than without any one of them, by half a digit at least."""
    worst_ohm = meter.least_resistance_ohm(reading_ohm=reading_ohm, **of_meter)
    for name in ("tolerance_ohm", "accuracy", "counts", "lead_resistance_ohm"):
        without = of_meter | {name: 0}
        assert worst_ohm <= meter.least_resistance_ohm(reading_ohm=reading_ohm, **without)
    assert worst_ohm <= reading_ohm - of_meter["resolution_ohm"] / 2


@pytest.mark.parametrize(
    ("reading", "accuracy", "counts", "step", "least"),
    [(100.0, 0.01, 2, 0.1, 98.8), (120.0, 0.01, 3, 0.1, 118.5), (0.2, 0.005, 2, 0.01, 0.179)],
    ids=[
        "Meter statement, secondary copy: 1 % + 2 counts on 100.0 is 98.8 to 101.2",
        "Meter statement, secondary copy: 1 % + 3 counts on 120.0 is 1.5 either way",
        "Meter statement, answer by hand: 0.5 % + 2 counts on 0.20 is 0.021 either way",
    ],
)
def test_published_statements(reading, accuracy, counts, step, least):
    """A statement of accuracy means what is published of it, and half a digit more of the display."""
    got = meter.least_resistance_ohm(
        reading_ohm=reading,
        tolerance_ohm=0,
        accuracy=accuracy,
        counts=counts,
        resolution_ohm=step,
        lead_resistance_ohm=0,
    )
    assert got == pytest.approx(least - step / 2, rel=1e-12)


@pytest.mark.parametrize("shown_ohm", [0.15, 0.2, 1.0])
def test_a_perfect_meter_still_shows_whole_digits(shown_ohm):
    """Whatever a display rounds to its digit lies within half a digit (JCGM 100:2008, F.2.2.1)."""
    least = meter.least_resistance_ohm(
        reading_ohm=shown_ohm,
        tolerance_ohm=0,
        accuracy=0,
        counts=0,
        resolution_ohm=0.01,
        lead_resistance_ohm=0,
    )
    true = np.linspace(shown_ohm - 0.02, shown_ohm + 0.02, 4001)
    same = true[np.abs(np.round(true, 2) - shown_ohm) < 1e-9]
    assert least == pytest.approx(same.min(), abs=2e-5)


steps = st.sampled_from([1.0, 0.1, 0.01, 0.001, 0.0001, 0.05, 0.25])


@given(st.floats(1e-4, 1e5), steps)
def test_rounding_is_careful(value, step):
    """Up is never below, down never above, but for noise; both lie within a step, on a multiple."""
    up, down = meter.rounded_up(value=value, step=step), meter.rounded_down(value=value, step=step)
    noise = 2e-9 * value
    assert value - noise <= up < value + step + noise
    assert value - step - noise < down <= value + noise
    for rounded in (up, down):
        # by exact decimal arithmetic, so that it prints as a multiple of the step
        assert Decimal(str(rounded)) % Decimal(str(step)) == 0


@given(st.integers(1, 100_000), steps)
def test_a_multiple_stays_itself(count, step):
    """A multiple of the step, come to by whatever arithmetic, is not moved a step further."""
    exact = float(count * Decimal(str(step)))
    for value in (exact, count * step, exact * (1 + 1e-12), exact * (1 - 1e-12)):
        assert meter.rounded_up(value=value, step=step) == exact
        assert meter.rounded_down(value=value, step=step) == exact


@pytest.mark.parametrize("by", [1e-6, -1e-6])
def test_more_than_noise_is_a_step(by):
    """A millionth above a multiple rounds up to the next, a millionth below rounds down to the last."""
    value = 0.21 * (1 + by)
    assert meter.rounded_up(value=value, step=0.01) == (0.22 if by > 0 else 0.21)
    assert meter.rounded_down(value=value, step=0.01) == (0.21 if by > 0 else 0.20)
