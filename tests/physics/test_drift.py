"""A series string keeps charge; without losses its drift does not grow."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from percell.physics import drift
from percell.physics.curves import open_circuit_voltage_v, own_curve, published_curve
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
    assert refused.value.numbers["highest_voltage_v"] == pytest.approx(5.2)


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


# 1 V for the whole charge, below empty and above full too
STRAIGHT = own_curve(soc=[0.0, 1.0], ocv_v=[3.0, 4.0])


def straight(**changed):
    """Return the first cycle of two cells on the straight curve, without resistance."""
    string = STRING | {
        "capacity_ah": np.array([4.0, 1.0]),
        "start_soc": np.ones(2),
        "resistance_ohm": np.zeros(2),
        "charged_v": 4.0,
        "cycles": 1,
        "curve": STRAIGHT,
    }
    (cycle,) = series_drift(**string | changed)
    return cycle


@pytest.mark.parametrize(
    ("cutoff_v", "given_ah", "weak_v", "is_reversed"),
    [(1.8125, 3.5, 0.5, False), (1.1875, 4.5, -0.5, True), (2.75, 2.0, 2.0, False)],
)
def test_a_weak_cell_by_hand(cutoff_v, given_ah, weak_v, is_reversed):
    """After q ampere-hours cells of 4 Ah and 1 Ah are at 4 − q/4 and 4 − q volts."""
    cycle = straight(cutoff_v=cutoff_v)
    assert cycle.discharge_ah == pytest.approx(given_ah)
    assert cycle.lowest_at_cutoff_v == pytest.approx(weak_v, abs=1e-8)
    assert cycle.highest_at_cutoff_v == pytest.approx(4.0 - given_ah / 4.0)
    np.testing.assert_allclose(cycle.soc_at_cutoff, [1.0 - given_ah / 4.0, 1.0 - given_ah])
    assert cycle.reversed == is_reversed
    assert cycle.over_discharged
    assert not cycle.overcharged


def test_a_cell_that_is_just_empty_is_not_over_discharged():
    """Watched down to 3 V, where its curve ends, the small cell is at 0 and no lower."""
    cycle = straight(cutoff_v=3.0, each_cell=True)
    assert cycle.soc_at_cutoff == pytest.approx([0.75, 0.0], abs=1e-12)
    assert not cycle.over_discharged


def test_what_is_lost_is_charged_back_by_hand():
    """Half of 2 Ah out, 0.2 Ah lost: 1.2 Ah back to full."""
    equal = {"capacity_ah": np.full(2, 2.0), "loss_ah": np.full(2, 0.2), "cutoff_v": 3.5}
    cycle = straight(**equal)
    assert cycle.discharge_ah == pytest.approx(1.0)
    assert cycle.charge_ah == pytest.approx(1.2)
    np.testing.assert_allclose(cycle.soc_at_charged, 1.0)
    # the cell of 4 Ah loses 0.4 Ah and the other nothing: the sum is reached with it below 4 V
    unequal = straight(capacity_ah=np.array([4.0, 1.0]), loss_ah=np.array([0.4, 0.0]), cutoff_v=3.5)
    # out: 0.8 Ah. q − 0.4 over 4 Ah and q over 1 Ah bring back the sum: 1.25 q = 1.0 + 0.1
    assert unequal.discharge_ah == pytest.approx(0.8)
    assert unequal.charge_ah == pytest.approx(0.88)
    assert unequal.highest_at_charged_v == pytest.approx(4.08)
    assert unequal.lowest_at_charged_v == pytest.approx(3.92)
    assert unequal.overcharged


@pytest.mark.parametrize("each_cell", [False, True])
def test_below_the_limit_at_the_start_nothing_is_given(each_cell):
    """Where the sum, or one watched cell, is below the cut-off at once, no charge goes out."""
    start = {"start_soc": np.array([0.1, 0.6]), "cutoff_v": 3.5, "each_cell": each_cell}
    assert straight(**start).discharge_ah == 0.0


@pytest.mark.parametrize(
    ("soc", "before_ah", "given_ah"),
    [([0.5, 0.6], 0.5, [0.5, 0.6]), ([0.2, 0.6], 0.0, [1.1, 0.6]), ([0.9, 0.7], 1.3, [0.0, 0.2])],
)
def test_balancing_by_hand(soc, before_ah, given_ah):
    """2 Ah and 4 Ah between 3.25 V and 3.75 V, a quarter and three quarters of the charge."""
    gain = balancing_charge(
        capacity_ah=np.array([2.0, 4.0]),
        soc=np.array(soc),
        cutoff_v=3.25,
        charged_v=3.75,
        curve=STRAIGHT,
    )
    assert gain.before_ah == pytest.approx(before_ah)
    assert gain.after_ah == pytest.approx(1.0)
    np.testing.assert_allclose(gain.given_ah, given_ah, atol=1e-12)


@pytest.mark.parametrize(
    ("function", "low", "high", "root", "most"),
    [
        pytest.param(lambda x: 1.0 - x, 0.0, 10.0, 1.0, 3, id="a line"),
        pytest.param(lambda x: 8.0 - x**3, 0.0, 10.0, 2.0, 16, id="a cube"),
        pytest.param(lambda x: np.exp(-x) - np.exp(-5.0), 0.0, 10.0, 5.0, 16, id="a decay"),
        pytest.param(lambda x: 8.0 + (x - 4.0) ** 3, 0.0, 0.0, 0.0, 2, id="no room"),
        pytest.param(lambda x: (10 - x) ** 3 - 8, 0.0, 10.0, 8.0, 16, id="a cube, mirrored"),
        pytest.param(lambda x: np.tanh(20 * (3 - x)), 0.0, 10.0, 3.0, 16, id="a fall"),
        pytest.param(lambda x: 1.0 - x**9, 0.0, 2.0, 1.0, 24, id="a steep end"),
        pytest.param(lambda x: (2 - x) ** 9 - 1, 0.0, 2.0, 1.0, 24, id="a steep start"),
        # so steep on one side that false position stays where it is: halving the room takes 34 looks
        pytest.param(lambda x: (3 - x) * (1e20 if x < 3 else 1), 0.0, 10.0, 3.0, 45, id="a cliff"),
        pytest.param(lambda x: (3 - x) * (1e20 if x > 3 else 1), 1.0, 10.0, 3.0, 45, id="a brink"),
        pytest.param(
            lambda x: 1e30 if x < 1e9 else -1.0, 0.0, 3e9, 1e9, 80, id="no finer than a float"
        ),
        pytest.param(lambda x: 1.0 - 0.1 * x, 0.0, 3.0, 3.0, 2, id="not yet at the end"),
        pytest.param(lambda x: -x, 0.0, 3.0, 0.0, 2, id="at the start"),
        pytest.param(lambda x: -0.5 - x, 1.0, 3.0, 1.0, 2, id="below at the start"),
    ],
)
def test_root_is_found_in_few_steps(function, low, high, root, most):
    """A falling function is zero where it is, or the nearer end is taken, after few looks at it."""
    looks = []

    def seen(x):
        looks.append(x)
        return float(function(x))

    assert drift._root(seen, low, high) == pytest.approx(root, rel=1e-12, abs=2e-9)
    assert len(looks) <= most
