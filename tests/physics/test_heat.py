"""A cell heated by its own current obeys the laws of a lump in air."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from percell.physics import heat
from percell.physics.errors import NoSolution
from percell.physics.measured_cells import lasting_heat_w
from percell.physics.sizes import SIZES

LUMP = {"heat_capacity_jk": 40.0, "conductance_wk": 0.04}
losses = st.floats(0.01, 50.0)
times = st.floats(0.1, 1e5)
conductances = st.floats(0.0, 1.0)


def after(**given_):
    return float(
        heat.temperature_after_c(
            **{"start_c": 20.0, "ambient_c": 20.0, "loss_w": 2.0, "time_s": 60.0} | LUMP | given_
        )
    )


@given(losses, times, conductances, st.floats(1.0, 3.0))
def test_hotter_with_more_current_and_more_time(loss_w, time_s, conductance_wk, factor):
    """From the air's temperature, more loss or more time never means a colder cell."""
    base = after(loss_w=loss_w, time_s=time_s, conductance_wk=conductance_wk)
    assert after(loss_w=loss_w * factor, time_s=time_s, conductance_wk=conductance_wk) >= base
    later = after(loss_w=loss_w, time_s=time_s * factor, conductance_wk=conductance_wk)
    assert later >= base - 1e-9 * abs(base)


@given(losses, times, st.floats(0.0, 1.0))
def test_two_intervals_are_one(loss_w, time_s, part):
    """Cutting an interval in two does not change where it ends."""
    half = after(loss_w=loss_w, time_s=part * time_s)
    rest = after(loss_w=loss_w, time_s=(1 - part) * time_s, start_c=half)
    assert rest == pytest.approx(after(loss_w=loss_w, time_s=time_s), rel=1e-9)


@given(losses, times)
def test_heat_is_kept(loss_w, time_s):
    """Without cooling the heat made is the heat stored."""
    rise_k = after(loss_w=loss_w, time_s=time_s, conductance_wk=0.0) - 20.0
    assert rise_k * 40.0 == pytest.approx(loss_w * time_s)


@given(losses, times)
def test_vanishing_cooling_is_no_cooling(loss_w, time_s):
    """The form for no cooling is the limit of the form with it."""
    with_ = after(loss_w=loss_w, time_s=time_s, conductance_wk=1e-12)
    assert with_ == pytest.approx(after(loss_w=loss_w, time_s=time_s, conductance_wk=0.0), rel=1e-6)


@given(st.floats(0.01, 2.0), st.floats(1.0, 600.0), st.floats(0.0, 3600.0))
def test_repeated_draws_lie_between_one_and_endless(loss_w, draw_s, rest_s):
    """The settled peak is at least that of a single draw and at most the continuous one."""
    cycle = heat.settled_cycle(ambient_c=20.0, loss_w=loss_w, draw_s=draw_s, rest_s=rest_s, **LUMP)
    single_c = after(loss_w=loss_w, time_s=draw_s)
    steady_c = heat.steady_temperature_c(ambient_c=20.0, loss_w=loss_w, conductance_wk=0.04)
    assert single_c - 1e-9 <= cycle.peak_c <= steady_c + 1e-9
    assert 20.0 <= cycle.trough_c <= cycle.peak_c


@given(st.floats(0.01, 2.0), st.floats(1.0, 600.0), st.floats(0.0, 3600.0))
def test_settled_cycle_repeats(loss_w, draw_s, rest_s):
    """A draw takes the trough to the peak, a rest takes the peak to the trough."""
    cycle = heat.settled_cycle(ambient_c=20.0, loss_w=loss_w, draw_s=draw_s, rest_s=rest_s, **LUMP)
    assert after(start_c=cycle.trough_c, loss_w=loss_w, time_s=draw_s) == pytest.approx(
        cycle.peak_c
    )
    assert after(start_c=cycle.peak_c, loss_w=0.0, time_s=rest_s) == pytest.approx(cycle.trough_c)


@given(losses, st.floats(1.0, 60.0), st.floats(0.0, 600.0), st.integers(1, 30), conductances)
def test_counted_draws_are_draws_one_by_one(loss_w, draw_s, rest_s, draws, conductance_wk):
    """The closed sum is what draw after draw gives."""
    now_c = 25.0
    peak_c = None
    for _ in range(draws):
        peak_c = after(start_c=now_c, loss_w=loss_w, time_s=draw_s, conductance_wk=conductance_wk)
        now_c = after(start_c=peak_c, loss_w=0.0, time_s=rest_s, conductance_wk=conductance_wk)
    got = heat.peak_after_draws_c(
        start_c=25.0,
        ambient_c=20.0,
        loss_w=loss_w,
        draw_s=draw_s,
        rest_s=rest_s,
        draws=draws,
        heat_capacity_jk=40.0,
        conductance_wk=conductance_wk,
    )
    assert got == pytest.approx(peak_c, rel=1e-9)


def test_many_draws_settle():
    """After very many draws the counted peak is the settled one."""
    given_ = {"ambient_c": 20.0, "loss_w": 8.0, "draw_s": 5.0, "rest_s": 40.0} | LUMP
    got = heat.peak_after_draws_c(start_c=20.0, draws=10_000, **given_)
    assert got == pytest.approx(heat.settled_cycle(**given_).peak_c, rel=1e-12)


@given(losses, st.floats(20.1, 400.0), conductances)
@example(loss_w=1.0, stop_c=21.0, conductance_wk=5e-324)
def test_time_to_a_temperature_is_the_inverse(loss_w, stop_c, conductance_wk):
    """After the time found the cell is at the temperature; else it never gets there."""
    steady_k = loss_w / conductance_wk if conductance_wk else float("inf")
    call = {
        "start_c": 20.0,
        "ambient_c": 20.0,
        "loss_w": loss_w,
        "stop_c": stop_c,
        "heat_capacity_jk": 40.0,
        "conductance_wk": conductance_wk,
    }
    if steady_k <= stop_c - 20.0:
        with pytest.raises(NoSolution) as refused:
            heat.time_to_temperature_s(**call)
        assert refused.value.numbers["continuous_temperature_c"] <= stop_c * (1 + 1e-12)
    elif steady_k > (stop_c - 20.0) * (1 + 1e-6):
        time_s = heat.time_to_temperature_s(**call)
        got = after(loss_w=loss_w, time_s=time_s, conductance_wk=conductance_wk)
        assert got == pytest.approx(stop_c, rel=1e-6)


@pytest.mark.parametrize(("stop_c", "reached"), [(59.999, True), (60.0, False), (60.001, False)])
def test_stop_just_below_at_and_above_the_steady_temperature(stop_c, reached):
    """Only a stop below the steady temperature is ever reached, and the time is finite."""
    call = {"start_c": 20.0, "ambient_c": 20.0, "loss_w": 1.6, "stop_c": stop_c} | LUMP
    if reached:
        assert np.isfinite(heat.time_to_temperature_s(**call))
    else:
        with pytest.raises(NoSolution) as refused:
            heat.time_to_temperature_s(**call)
        assert refused.value.numbers == {
            "stop_temperature_c": stop_c,
            "continuous_temperature_c": pytest.approx(60.0),
        }


@pytest.mark.parametrize("conductance_wk", [0.0, 0.04])
def test_a_cell_that_rests_never_warms(conductance_wk):
    """Without loss, and at or below the air's temperature, a higher stop has no time."""
    call = {"start_c": 20.0, "ambient_c": 20.0, "loss_w": 0.0, "heat_capacity_jk": 40.0}
    with pytest.raises(NoSolution):
        heat.time_to_temperature_s(stop_c=30.0, conductance_wk=conductance_wk, **call)
    assert heat.time_to_temperature_s(stop_c=20.0, conductance_wk=conductance_wk, **call) == 0.0


@given(st.floats(0.01, 50.0), st.floats(1.0, 600.0), st.floats(25.0, 90.0))
def test_rest_needed_is_the_inverse(loss_w, draw_s, stop_c):
    """With the rest found, draws settle at the stop, or stay below it without any rest."""
    call = {"ambient_c": 20.0, "loss_w": loss_w, "draw_s": draw_s} | LUMP
    single_c = after(loss_w=loss_w, time_s=draw_s)
    if single_c >= stop_c:
        with pytest.raises(NoSolution) as refused:
            heat.rest_needed_s(stop_c=stop_c, **call)
        assert refused.value.numbers["single_draw_temperature_c"] >= stop_c
        return
    rest_s = heat.rest_needed_s(stop_c=stop_c, **call)
    peak_c = heat.settled_cycle(rest_s=rest_s, **call).peak_c
    assert peak_c <= stop_c * (1 + 1e-9)
    assert rest_s == 0.0 or peak_c == pytest.approx(stop_c, rel=1e-6)


def test_a_draw_that_just_reaches_the_stop_has_no_rest():
    """A draw so long that it ends at the steady 40 °C, with 40 °C not to pass: no rest is long enough."""
    call = {"ambient_c": 0.0, "loss_w": 1.6, "draw_s": 1e6, "stop_c": 40.0}
    with pytest.raises(NoSolution) as refused:
        heat.rest_needed_s(**call, **LUMP)
    assert refused.value.code == "single_draw_too_hot"
    assert refused.value.numbers == {"single_draw_temperature_c": 40.0, "stop_temperature_c": 40.0}


@pytest.mark.parametrize(
    "call",
    [
        lambda g: heat.steady_temperature_c(ambient_c=20.0, loss_w=1.0, conductance_wk=g),
        lambda g: heat.settled_cycle(
            ambient_c=20.0,
            loss_w=1.0,
            draw_s=1.0,
            rest_s=1.0,
            heat_capacity_jk=1.0,
            conductance_wk=g,
        ),
        lambda g: heat.rest_needed_s(
            ambient_c=20.0,
            loss_w=1.0,
            draw_s=1.0,
            stop_c=90.0,
            heat_capacity_jk=1.0,
            conductance_wk=g,
        ),
    ],
    ids=["steady", "cycle", "rest"],
)
def test_without_cooling_nothing_settles(call):
    """No conductance, no steady state; the answer is a refusal, not an infinity."""
    with pytest.raises(NoSolution) as refused:
        call(0.0)
    assert refused.value.code == "no_cooling"
    call(0.01)


def test_grids_hold_cooled_and_uncooled_cells():
    """An array may mix cells with and without cooling."""
    got = heat.temperature_after_c(
        start_c=20.0,
        ambient_c=20.0,
        loss_w=np.array([[2.0], [4.0]]),
        time_s=60.0,
        heat_capacity_jk=40.0,
        conductance_wk=np.array([0.0, 0.04]),
    )
    assert got.shape == (2, 2)
    np.testing.assert_allclose(got[:, 0], [23.0, 26.0])
    assert (got[:, 1] < got[:, 0]).all()


@given(st.floats(0.001, 0.1), st.floats(0.001, 0.2), st.floats(30.0, 90.0))
def test_continuous_current_is_the_inverse(resistance_ohm, conductance_wk, stop_c):
    """The current found heats the cell to just the temperature in the end."""
    current_a = heat.continuous_current_a(
        ambient_c=25.0, stop_c=stop_c, resistance_ohm=resistance_ohm, conductance_wk=conductance_wk
    )
    loss_w = lasting_heat_w(current_a=current_a, resistance_ohm=resistance_ohm)
    got = heat.steady_temperature_c(ambient_c=25.0, loss_w=loss_w, conductance_wk=conductance_wk)
    assert got == pytest.approx(stop_c)


@pytest.mark.parametrize(
    ("heat_w", "resistance_ohm", "current_a"),
    [(1.0, 0.02, 5.0), (0.36, 0.05, 1.8973666), (5.5, 0.04, 10.0), (27.0, 0.06, 20.0)],
)
def test_continuous_current_by_hand(heat_w, resistance_ohm, current_a):
    """Up to 0.15 V over the resistance the heat is 2·I²·R, above it I·(I·R + 0.15 V)."""
    got = heat.continuous_current_a(
        ambient_c=20.0, stop_c=60.0, resistance_ohm=resistance_ohm, conductance_wk=heat_w / 40
    )
    assert got == pytest.approx(current_a)


def test_air_hotter_than_the_stop_leaves_no_current():
    """Where the air is at or above the stop, the current is zero."""
    got = heat.continuous_current_a(
        ambient_c=np.array([59.0, 60.0, 61.0]),
        stop_c=60.0,
        resistance_ohm=0.02,
        conductance_wk=0.04,
    )
    assert got[0] > 0
    assert got[1] == got[2] == 0.0


def test_every_size_and_default_says_where_it_comes_from():
    """No stand-in value is without its mark of origin, and the names agree with the dimensions."""
    for name, size in SIZES.items():
        assert (size.diameter_mm, size.height_mm) == (int(name[:2]), int(name[2:]) / 10)
        assert size.mass_source
        assert size.lowest_resistance_source
    for table in (heat.SPECIFIC_HEAT_J_KGK, heat.HEAT_TRANSFER_WM2K):
        assert all(entry.value > 0 and entry.source for entry in table.values())
    assert heat.HEAT_TRANSFER_WM2K["pocket"].value < heat.HEAT_TRANSFER_WM2K["room"].value


@pytest.mark.parametrize(
    ("table", "key", "value"),
    [
        pytest.param(*row[:3], id=f"{row[1]}, {row[3]}")
        for row in [
            (heat.SPECIFIC_HEAT_J_KGK, "nca", 830.0, "batterydesign.net (secondary copy)"),
            (heat.SPECIFIC_HEAT_J_KGK, "nmc", 1040.0, "batterydesign.net (secondary copy)"),
            (heat.SPECIFIC_HEAT_J_KGK, "lfp", 1130.0, "batterydesign.net (secondary copy)"),
            (heat.HEAT_TRANSFER_WM2K, "room", 10.0, "PyBaMM, Chen2020 and ORegan2022"),
            (heat.HEAT_TRANSFER_WM2K, "pocket", 2.0, "Çengel, free convection in gases, 2 to 25"),
        ]
    ],
)
def test_a_stand_in_is_the_value_of_its_source(table, key, value):
    """Each value that stands in for one not given is the one that its source prints."""
    assert table[key].value == value
