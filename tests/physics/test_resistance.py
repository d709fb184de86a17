"""Two loads give a cell's resistance, and never more certainty than the meters have."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import resistance
from percell.physics.errors import NoSolution
from percell.physics.resistance import Meter

EXACT = Meter(0.0, 0.0, 0.001)
READ = {
    "first_current_a": 0.6,
    "first_voltage_v": 3.70,
    "second_current_a": 3.0,
    "second_voltage_v": 3.60,
}
METERS = {"voltmeter": Meter(0.005, 2, 0.001), "ammeter": Meter(0.01, 3, 0.01)}


@given(st.floats(2.5, 4.2), st.floats(0.001, 0.2), st.floats(0.0, 5.0), st.floats(0.5, 10.0))
def test_a_straight_cell_gives_its_resistance(source_v, cell_ohm, first_a, more_a):
    """Whatever the open-circuit voltage, two points of U = E − I·r give r, in either order."""
    points = [(amps, source_v - amps * cell_ohm) for amps in (first_a, first_a + more_a)]
    for (one_a, one_v), (two_a, two_v) in (points, points[::-1]):
        got = resistance.two_load_resistance_ohm(
            first_current_a=one_a,
            first_voltage_v=one_v,
            second_current_a=two_a,
            second_voltage_v=two_v,
        )
        assert got == pytest.approx(cell_ohm, rel=1e-6)


def test_equal_currents_have_no_answer():
    """Two loads alike say nothing of the resistance."""
    with pytest.raises(NoSolution) as refused:
        resistance.two_load_resistance_ohm(**READ | {"second_current_a": 0.6})
    assert refused.value.code == "currents_equal"


@pytest.mark.parametrize(("voltage_v", "answered"), [(3.699, True), (3.70, False), (3.701, False)])
def test_voltage_just_below_at_and_above(voltage_v, answered):
    """Only a voltage that falls with current is a resistance."""
    call = READ | {"second_voltage_v": voltage_v}
    if answered:
        assert resistance.two_load_resistance_ohm(**call) > 0
    else:
        with pytest.raises(NoSolution) as refused:
            resistance.two_load_resistance_ohm(**call)
        assert refused.value.code == "voltage_did_not_fall"


@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1))
def test_worst_corner_holds_every_error_within_the_statement(one, two, three, four):
    """However the readings are off within their limits, the true resistance lies between the ends."""
    got = resistance.two_load_uncertainty(**READ, **METERS)
    volt, ampere = METERS["voltmeter"], METERS["ammeter"]
    true = ((3.70 + one * volt.limit(3.70)) - (3.60 + two * volt.limit(3.60))) / (
        (3.0 + three * ampere.limit(3.0)) - (0.6 + four * ampere.limit(0.6))
    )
    assert got.lowest_ohm - 1e-12 <= max(0.0, true) <= got.highest_ohm + 1e-12


BY_HAND = {
    "first_current_a": 1.0,
    "first_voltage_v": 4.0,
    "second_current_a": 3.0,
    "second_voltage_v": 3.75,
}


def test_limits_by_hand():
    """0.25 V ± 0.1 V over 2 A ± 0.5 A: from 0.15 V/2.5 A to 0.35 V/1.5 A, and k = 2 in between."""
    got = resistance.two_load_uncertainty(
        **BY_HAND, voltmeter=Meter(0.0, 1, 0.05), ammeter=Meter(0.0, 1, 0.25)
    )
    assert got.lowest_ohm == pytest.approx(0.06)
    assert got.highest_ohm == pytest.approx(0.35 / 1.5)
    # each limit a counts a²/3: 2 × 0.05² of the voltages, 2 × 0.25² × (0.125 Ω)² of the currents; k/ΔI is 1/A
    assert got.expanded_ohm == pytest.approx(((0.005 + 0.001953125) / 3) ** 0.5)


def test_a_drop_within_its_doubt_may_be_none():
    """0.25 V ± 0.4 V may be no drop at all, and no resistance is below zero."""
    got = resistance.two_load_uncertainty(**BY_HAND, voltmeter=Meter(0.0, 1, 0.2), ammeter=EXACT)
    assert got.lowest_ohm == 0.0


def test_uncertainty_grows_with_the_statement_only():
    """Exact meters leave no doubt; a wider statement widens all limits."""
    exact = resistance.two_load_uncertainty(**READ, voltmeter=EXACT, ammeter=EXACT)
    assert exact.expanded_ohm == 0.0
    assert exact.lowest_ohm == exact.resistance_ohm == exact.highest_ohm
    fine = resistance.two_load_uncertainty(**READ, voltmeter=Meter(0.0005, 1, 0.001), ammeter=EXACT)
    coarse = resistance.two_load_uncertainty(**READ, **METERS)
    assert 0 < fine.expanded_ohm < coarse.expanded_ohm
    assert coarse.lowest_ohm < fine.lowest_ohm < fine.highest_ohm < coarse.highest_ohm


def test_expanded_uncertainty_by_random_draws():
    """Root sum of squares agrees with drawing the four readings from their rectangles."""
    got = resistance.two_load_uncertainty(
        **READ, voltmeter=Meter(0.0005, 1, 0.001), ammeter=Meter(0.005, 1, 0.01)
    )
    volt, ampere = Meter(0.0005, 1, 0.001), Meter(0.005, 1, 0.01)
    draw = np.random.default_rng(1).uniform(-1, 1, (4, 200_000))
    drops_v = 0.10 + draw[0] * volt.limit(3.70) - draw[1] * volt.limit(3.60)
    steps_a = 2.4 + draw[2] * ampere.limit(3.0) - draw[3] * ampere.limit(0.6)
    assert 2.0 * np.std(drops_v / steps_a) == pytest.approx(got.expanded_ohm, rel=0.01)


@pytest.mark.parametrize(("limit_a", "answered"), [(1.199, True), (1.2, False), (1.201, False)])
def test_step_just_above_at_and_below_its_limits(limit_a, answered):
    """A step of current within the doubt of its two readings has no upper limit, and is refused."""
    call = READ | {"voltmeter": EXACT, "ammeter": Meter(0.0, 1, limit_a)}
    if answered:
        assert np.isfinite(resistance.two_load_uncertainty(**call).highest_ohm)
    else:
        with pytest.raises(NoSolution) as refused:
            resistance.two_load_uncertainty(**call)
        assert refused.value.numbers["current_limit_a"] == pytest.approx(2 * limit_a)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        pytest.param(*row[:2], id=f"{row[0]}, {row[2]}")
        for row in [
            ("RETIRED_CAPACITY", 0.8, "common practice, no published source"),
            ("RETIRED_RESISTANCE", 2.0, "common practice, no published source"),
            ("LOWEST_TEST_C", 15.0, "IEC 61960-2011, 7.3.1, 20 ± 5 °C (secondary copy)"),
            ("HIGHEST_TEST_C", 25.0, "IEC 61960-2011, 7.3.1, 20 ± 5 °C (secondary copy)"),
        ]
    ],
)
def test_a_mark_is_the_value_of_its_source(name, value):
    """Each mark is the one that its source gives."""
    assert getattr(resistance, name) == value
