"""A coil on a source obeys Ohm's law and keeps energy, for numbers and arrays."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import direct

volts = st.floats(0.5, 100.0)
inner = st.floats(0.0, 50.0)
load = st.floats(5e-4, 100.0)


@given(volts, inner, load)
def test_energy(source_v, source_ohm, load_ohm):
    """The source's power is that of the load and of its own resistance."""
    current_a = direct.load_current_a(
        source_voltage_v=source_v, source_resistance_ohm=source_ohm, load_resistance_ohm=load_ohm
    )
    load_w = direct.load_power_w(current_a=current_a, load_resistance_ohm=load_ohm)
    assert load_w + current_a**2 * source_ohm == pytest.approx(source_v * current_a)


@given(volts, st.floats(0.01, 4000.0))
def test_lowest_resistance_is_the_inverse(source_v, current_a):
    """At the lowest resistance a source without sag drives the given current."""
    ohms = direct.lowest_resistance_ohm(source_voltage_v=source_v, current_a=current_a)
    got = direct.load_current_a(
        source_voltage_v=source_v, source_resistance_ohm=0.0, load_resistance_ohm=ohms
    )
    assert got == pytest.approx(current_a)


@given(volts, st.floats(1e-3, 50.0), load)
def test_no_load_takes_more_than_a_matched_one(source_v, source_ohm, load_ohm):
    """No load takes more than U²/4R, and a load equal to the source's resistance takes that."""

    def power_w(ohms):
        current_a = direct.load_current_a(
            source_voltage_v=source_v, source_resistance_ohm=source_ohm, load_resistance_ohm=ohms
        )
        return direct.load_power_w(current_a=current_a, load_resistance_ohm=ohms)

    most_w = source_v**2 / (4 * source_ohm)
    assert power_w(source_ohm) == pytest.approx(most_w)
    assert power_w(load_ohm) <= most_w * (1 + 1e-12)


def test_arrays_answer_as_numbers_do():
    """Over an array each element is what one number gives."""
    loads_ohm = np.array([0.1, 0.5, 2.0])
    got = direct.load_current_a(
        source_voltage_v=8.4, source_resistance_ohm=0.05, load_resistance_ohm=loads_ohm
    )
    assert got.tolist() == [8.4 / (0.05 + ohms) for ohms in loads_ohm.tolist()]
