"""A series string keeps charge; without losses its drift does not grow."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from percell.physics.curves import open_circuit_voltage_v, published_curve
from percell.physics.drift import balancing_charge, series_drift
from percell.physics.errors import NoSolution

NMC = published_curve(chemistry="nmc")
STRING = {
    "capacity_ah": np.array([3.0, 2.6]),
    "start_soc": np.array([1.0, 1.0]),
    "resistance_ohm": np.array([0.02, 0.03]),
    "loss_ah": np.zeros(2),
    "end_discharge_current_a": 5.0,
    "end_charge_current_a": 0.1,
    "cutoff_v": 3.0,
    "charged_v": 4.2,
    "each_cell": False,
    "cycles": 3,
    "curve": NMC,
}


@st.composite
def strings(draw):
    size = draw(st.integers(2, 4))

    def row(low, high):
        return np.array(draw(st.lists(st.floats(low, high), min_size=size, max_size=size)))

    return STRING | {
        "capacity_ah": row(1.0, 4.0),
        "start_soc": row(0.8, 1.0),
        "resistance_ohm": row(0.0, 0.05),
        "loss_ah": row(0.0, 0.02),
        "each_cell": draw(st.booleans()),
        "cutoff_v": draw(st.floats(2.6, 3.3)),
    }


@settings(deadline=None)
@given(strings())
def test_charge_is_kept(string):
    """Each cell's state of charge moves by the string's charge over its own capacity, less its loss."""
    soc = string["start_soc"]
    for cycle in series_drift(**string):
        moved_ah = (soc - cycle.soc_at_cutoff) * string["capacity_ah"]
        np.testing.assert_allclose(moved_ah, cycle.discharge_ah, atol=1e-9)
        back_ah = (cycle.soc_at_charged - cycle.soc_at_cutoff) * string["capacity_ah"]
        np.testing.assert_allclose(back_ah + string["loss_ah"], cycle.charge_ah, atol=1e-9)
        soc = cycle.soc_at_charged


@settings(deadline=None)
@given(strings())
def test_first_cell_at_its_limit_stops_it(string):
    """Where each cell is watched, none is below its cut-off nor above its charged voltage."""
    for cycle in series_drift(**string | {"each_cell": True, "end_charge_current_a": 0.0}):
        if cycle.discharge_ah > 0.0:
            assert cycle.lowest_at_cutoff_v == pytest.approx(string["cutoff_v"], abs=1e-5)
        assert cycle.highest_at_charged_v <= 4.2 + 1e-5
        assert not cycle.reversed
        assert not cycle.overcharged


@pytest.mark.parametrize("weak_ah", [2.9, 2.5, 2.0, 1.5, 0.5])
def test_against_scipy_root(weak_ah):
    """The ends are where SciPy's brentq finds the sum of the voltages at the pack's limit."""
    capacity_ah = np.array([3.0, 3.0, weak_ah])
    string = STRING | {
        "capacity_ah": capacity_ah,
        "start_soc": np.array([1.0, 0.95, 0.9]),
        "resistance_ohm": np.array([0.02, 0.02, 0.04]),
        "loss_ah": np.zeros(3),
    }
    first, *_ = series_drift(**string)

    def above_v(charge_ah):
        soc = string["start_soc"] - charge_ah / capacity_ah
        sag_v = 5.0 * string["resistance_ohm"]
        return np.sum(open_circuit_voltage_v(curve=NMC, soc=soc) - sag_v) - 3 * 3.0

    assert first.discharge_ah == pytest.approx(brentq(above_v, 0.0, 10.0, xtol=1e-12), abs=1e-8)

    def missing_v(charge_ah):
        soc = first.soc_at_cutoff + charge_ah / capacity_ah
        rise_v = 0.1 * string["resistance_ohm"]
        return np.sum(open_circuit_voltage_v(curve=NMC, soc=soc) + rise_v) - 3 * 4.2

    assert first.charge_ah == pytest.approx(brentq(missing_v, 0.0, 10.0, xtol=1e-12), abs=1e-8)


def test_equal_cells_stay_equal():
    """Equal cells end at the cut-off and at the charged voltage, each of them, every cycle."""
    string = STRING | {"capacity_ah": np.full(2, 3.0), "resistance_ohm": np.full(2, 0.02)}
    for cycle in series_drift(**string):
        assert cycle.lowest_at_cutoff_v == pytest.approx(3.0, abs=1e-6)
        assert cycle.highest_at_cutoff_v == pytest.approx(3.0, abs=1e-6)
        assert cycle.highest_at_charged_v == pytest.approx(4.2, abs=1e-6)
        assert not any((cycle.reversed, cycle.over_discharged, cycle.overcharged))


def test_no_loss_no_growth():
    """Without losses each cycle after the first is like the one before."""
    _, second, third = series_drift(**STRING)
    np.testing.assert_allclose(second.soc_at_charged, third.soc_at_charged, atol=1e-8)
    assert third.lowest_at_cutoff_v == pytest.approx(second.lowest_at_cutoff_v, abs=1e-6)


def test_unequal_loss_grows():
    """With unequal losses the fuller cell climbs and the emptier one falls, cycle by cycle."""
    string = STRING | {
        "capacity_ah": np.full(2, 3.0),
        "loss_ah": np.array([0.0, 0.05]),
        "resistance_ohm": np.full(2, 0.02),
        "cycles": 6,
    }
    story = series_drift(**string)
    assert np.all(np.diff([cycle.lowest_at_cutoff_v for cycle in story]) < 0.0)
    assert np.all(np.diff([cycle.highest_at_charged_v for cycle in story]) > 0.0)
    assert story[-1].overcharged


def test_weak_cell_is_reversed():
    """One cell of half the capacity is driven below zero while the pack's sum is still in order."""
    string = STRING | {
        "capacity_ah": np.array([3.0, 3.0, 3.0, 3.0, 3.0, 1.5]),
        "start_soc": np.ones(6),
        "resistance_ohm": np.full(6, 0.02),
        "loss_ah": np.zeros(6),
        "cutoff_v": 2.8,
    }
    first, *_ = series_drift(**string)
    assert first.reversed
    assert first.over_discharged
    sum_v = first.lowest_at_cutoff_v + 5 * first.highest_at_cutoff_v
    assert sum_v == pytest.approx(6 * 2.8, abs=1e-6)
    watched, *_ = series_drift(**string | {"each_cell": True})
    assert not watched.reversed
    assert not watched.over_discharged


def test_charged_voltage_beyond_the_curve_is_refused():
    """A charged voltage that no cell of this curve reaches is refused."""
    with pytest.raises(NoSolution) as refused:
        series_drift(**STRING | {"charged_v": 5.2})
    assert refused.value.code == "charged_voltage_beyond_curve"
    assert refused.value.numbers["highest_v"] == pytest.approx(5.2)


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(1.0, 4.0), st.floats(0.2, 1.0)), min_size=2, max_size=6))
def test_balancing_restores_the_weakest_cell(cells):
    """After balancing a string gives what its weakest cell holds, and never less than before."""
    capacity_ah, soc = np.array(cells).T
    gain = balancing_charge(
        capacity_ah=capacity_ah, soc=soc, cutoff_v=2.5, charged_v=4.2, curve=NMC
    )
    assert gain.after_ah == pytest.approx(capacity_ah.min())
    assert gain.before_ah <= gain.after_ah + 1e-12
    np.testing.assert_allclose(gain.given_ah, (1.0 - soc) * capacity_ah, atol=1e-12)
