"""Constant-power draw keeps energy, takes the working root, and inverts, for numbers and arrays."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from percell.physics import converter
from percell.physics.errors import NoSolution

volts = st.floats(0.3, 100.0)
ohms = st.floats(1e-6, 50.0)
part = st.floats(1e-6, 0.999)
efficiency = st.floats(0.1, 1.0)


@given(volts, ohms, part)
def test_power_is_met_on_the_working_side(source_v, source_ohm, of_the_most):
    """The current delivers the power, with more than half of the voltage left at the load."""
    power_w = of_the_most * source_v**2 / (4 * source_ohm)
    current_a = converter.current_from_rest_a(
        input_power_w=power_w, source_voltage_v=source_v, source_resistance_ohm=source_ohm
    )
    left_v = source_v - source_ohm * current_a
    assert left_v * current_a == pytest.approx(power_w, rel=1e-9)
    assert left_v > source_v / 2


@pytest.mark.parametrize("of_the_most", [0.01, 0.5, 0.9, 0.999])
def test_root_is_the_one_that_scipy_brackets(of_the_most):
    """SciPy's bracketing root finder, below half of the short-circuit current, finds the same current."""
    source_v, source_ohm = 7.4, 0.06
    power_w = of_the_most * source_v**2 / (4 * source_ohm)
    expected_a = brentq(
        lambda i: source_ohm * i * i - source_v * i + power_w, 0, source_v / (2 * source_ohm)
    )
    got_a = converter.current_from_rest_a(
        input_power_w=power_w, source_voltage_v=source_v, source_resistance_ohm=source_ohm
    )
    assert got_a == pytest.approx(expected_a, rel=1e-9)


@given(volts, ohms)
def test_threshold_of_the_most_a_source_gives(source_v, source_ohm):
    """Just below and at U²/4R there is a current; just above there is none, and the limit is told."""
    most_w = source_v**2 / (4 * source_ohm)
    source = {"source_voltage_v": source_v, "source_resistance_ohm": source_ohm}
    for power_w in (most_w * (1 - 1e-6), most_w):
        current_a = converter.current_from_rest_a(input_power_w=power_w, **source)
        assert current_a <= source_v / (2 * source_ohm) * (1 + 1e-12)
    with pytest.raises(NoSolution) as none:
        converter.current_from_rest_a(input_power_w=most_w * (1 + 1e-6), **source)
    assert none.value.code == "power_not_available"
    assert none.value.numbers["available_power_w"] == pytest.approx(most_w)


@pytest.mark.parametrize("number", [float, np.float64, np.array], ids=lambda kind: kind.__name__)
def test_a_single_number_of_any_kind_is_refused_above_the_most(number):
    """A 4 V source behind 0.1 Ω gives 40 W at most: a NumPy scalar for 1,000 W is refused as a float is."""
    for field in ("input_power_w", "source_voltage_v", "source_resistance_ohm"):
        asked = {"input_power_w": 1000.0, "source_voltage_v": 4.0, "source_resistance_ohm": 0.1}
        with pytest.raises(NoSolution) as none:
            converter.current_from_rest_a(**{**asked, field: number(asked[field])})
        assert none.value.code == "power_not_available"
        assert none.value.numbers["available_power_w"] == pytest.approx(40.0)


@pytest.mark.parametrize(("above", "refused"), [(2.4, False), (2.5, False), (2.6, True)])
def test_a_billionth_above_the_most_is_a_rounding_error(above, refused):
    """A source of 100 kV and 1 Ω gives 2.5 GW: 2.5 W more, a billionth, are let through, and no more."""
    source = {"source_voltage_v": 1e5, "source_resistance_ohm": 1.0}
    if refused:
        with pytest.raises(NoSolution):
            converter.current_from_rest_a(input_power_w=2.5e9 + above, **source)
    else:
        got_a = converter.current_from_rest_a(input_power_w=2.5e9 + above, **source)
        assert got_a == pytest.approx(5e4, rel=1e-8)


@pytest.mark.parametrize(
    ("source_v", "source_ohm", "current_a", "power_w"),
    [
        (4.0, 0.1, 15.0, 37.5),  # 15 A × (4 V − 1.5 V)
        (4.0, 0.1, 20.0, 40.0),  # the top, 4² / (4 × 0.1)
        (4.0, 0.1, 21.0, 40.0),
        (4.0, 0.5, 1.0, 3.5),  # 1 A × (4 V − 0.5 V)
        (4.0, 0.0, 30.0, 120.0),
    ],
)
def test_power_at_a_current_by_hand(source_v, source_ohm, current_a, power_w):
    """Up to U/2R it is the power at that current, beyond it the top U²/4R."""
    source = {"source_voltage_v": source_v, "source_resistance_ohm": source_ohm}
    got_w = converter.power_from_rest_w(current_a=current_a, **source)
    assert got_w == pytest.approx(power_w, rel=1e-12)


@given(volts, st.floats(0, 50.0), st.floats(0.1, 4000.0))
def test_highest_power_never_passes_the_current(source_v, source_ohm, current_a):
    """The power for a current is drawn at that current, or at a smaller one where the source collapses."""
    source = {"source_voltage_v": source_v, "source_resistance_ohm": source_ohm}
    power_w = converter.power_from_rest_w(current_a=current_a, **source)
    drawn_a = converter.current_from_rest_a(input_power_w=power_w, **source)
    assert drawn_a <= current_a * (1 + 1e-6)
    if 2 * source_ohm * current_a < 0.99 * source_v:
        assert drawn_a == pytest.approx(current_a)


@given(st.floats(0, 2000.0), efficiency, st.floats(0, 50.0))
def test_input_and_output_power_undo_each_other(power_w, at_efficiency, idle_w):
    """What goes in for an output gives that output."""
    converter_is = {"efficiency": at_efficiency, "idle_power_w": idle_w}
    input_w = converter.input_power_w(output_power_w=power_w, **converter_is)
    assert input_w >= power_w * (1 - 1e-12) + idle_w
    back_w = converter.output_power_w(input_power_w=input_w, **converter_is)
    assert back_w == pytest.approx(power_w, abs=1e-12 * input_w)


@pytest.mark.parametrize(("input_w", "output_w"), [(0.9, 0.0), (1.0, 0.0), (3.0, 1.0)])
def test_nothing_is_left_below_the_idle_power(input_w, output_w):
    """Below and at the idle power there is no output, and none is negative."""
    got = converter.output_power_w(input_power_w=input_w, efficiency=0.5, idle_power_w=1.0)
    assert got == output_w


def test_arrays_answer_as_numbers_do():
    """Over an array each element is what one number gives, and NaN where there is none."""
    powers_w = np.array([1.0, 100.0, 228.0, 229.0])
    source = {"source_voltage_v": 7.4, "source_resistance_ohm": 0.06}
    with np.errstate(invalid="ignore"):
        got = converter.current_from_rest_a(input_power_w=powers_w, **source)
    alone = [converter.current_from_rest_a(input_power_w=float(p), **source) for p in powers_w[:3]]
    np.testing.assert_allclose(got[:3], alone, rtol=1e-15)
    assert np.isnan(got[3])
    currents_a = np.array([1.0, 61.0, 62.0, 500.0])
    got = converter.power_from_rest_w(current_a=currents_a, **source)
    alone = [converter.power_from_rest_w(current_a=float(i), **source) for i in currents_a]
    np.testing.assert_allclose(got, alone, rtol=1e-15)
    assert got[2] == got[3] == pytest.approx(7.4**2 / 0.24)
