"""Temperature rise against a published example, published dimensions and an ODE solver."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from percell.physics import heat
from percell.physics.sizes import SIZES

KCAL_J = 4186.0  # the value that the book uses


@pytest.mark.parametrize(
    "source",
    ["OpenStax University Physics Vol. 2, m58453: 40.0 W in 20.0 kg of 0.300 kcal/(kg.°C)"],
)
def test_published_rate(source):
    """A battery being charged warms by 0.0956 °C a minute if no heat leaves it."""
    after_c = heat.temperature_after_c(
        start_c=20.0,
        ambient_c=20.0,
        loss_w=10.0 * (16.0 - 12.0),
        time_s=60.0,
        heat_capacity_jk=20.0 * 0.300 * KCAL_J,
        conductance_wk=0.0,
    )
    assert after_c - 20.0 == pytest.approx(0.0956, abs=0.00005), source


@pytest.mark.parametrize(
    ("source", "size", "total_m2", "within_m2"),
    [
        ("PyBaMM, Chen2020 and ORegan2022: cooling area 0.00531 m2", "21700", 0.00531, 5e-6),
        ("by hand: side 36.8 cm2 and ends 5.1 cm2", "18650", 0.00419, 6e-6),
        ("by hand: side 53.1 cm2 and ends 10.6 cm2", "26650", 0.00637, 6e-6),
    ],
    ids=lambda value: value if isinstance(value, str) and len(value) > 5 else "",
)
def test_cooling_area(source, size, total_m2, within_m2):
    """The area of a cylinder with its ends is the published one."""
    cell = SIZES[size]
    got = heat.total_area_m2(diameter_mm=cell.diameter_mm, height_mm=cell.height_mm)
    assert got == pytest.approx(total_m2, abs=within_m2), source


@pytest.mark.parametrize("source", ["by hand: 8 W in 47 g of 1000 J/(kg.K), 42 cm2, h 10"])
def test_heavy_load_by_hand(source):
    """8 W warm a cell by 0.17 K a second at first, and by 190 K in the end."""
    loss_w = 8.0
    lump = {"heat_capacity_jk": 47.0, "conductance_wk": 10.0 * 42e-4}
    one_s = heat.temperature_after_c(
        start_c=20.0, ambient_c=20.0, loss_w=loss_w, time_s=1.0, **lump
    )
    assert one_s - 20.0 == pytest.approx(0.17, abs=0.005), source
    steady_c = heat.steady_temperature_c(
        ambient_c=20.0, loss_w=loss_w, conductance_wk=lump["conductance_wk"]
    )
    assert steady_c - 20.0 == pytest.approx(190.0, abs=0.5)


CASES = [
    # loss_w, draw_s, rest_s, heat_capacity_jk, conductance_wk, start_c, ambient_c
    (8.0, 5.0, 30.0, 38.0, 0.042, 20.0, 20.0),
    (2.0, 120.0, 60.0, 60.0, 0.053, 35.0, 10.0),
    (20.0, 3.0, 90.0, 20.0, 0.005, 20.0, 40.0),
]


def solved(loss_at, span_s, start_c, ambient_c, heat_capacity_jk, conductance_wk):
    """Where SciPy's solver ends, interval by interval, so that no step is missed."""

    def slope(t_s, temperature_c):
        return (loss_at(t_s) - conductance_wk * (temperature_c - ambient_c)) / heat_capacity_jk

    return solve_ivp(slope, span_s, [start_c], rtol=1e-10, atol=1e-10).y[0, -1]


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"SciPy solve_ivp, {case[0]} W")
def test_single_draw_and_rest(case):
    """The closed form of an interval ends where a numerical solution of the balance ends."""
    loss_w, draw_s, _, heat_capacity_jk, conductance_wk, start_c, ambient_c = case
    got = heat.temperature_after_c(
        start_c=start_c,
        ambient_c=ambient_c,
        loss_w=loss_w,
        time_s=draw_s,
        heat_capacity_jk=heat_capacity_jk,
        conductance_wk=conductance_wk,
    )
    theirs = solved(
        lambda _: loss_w, (0, draw_s), start_c, ambient_c, heat_capacity_jk, conductance_wk
    )
    assert got == pytest.approx(theirs, rel=1e-8)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"SciPy solve_ivp, {case[0]} W repeated")
def test_repeated_draws(case):
    """Peaks of the first draws, and the settled peak and trough, are the numerical ones."""
    loss_w, draw_s, rest_s, heat_capacity_jk, conductance_wk, start_c, ambient_c = case
    lump = (ambient_c, heat_capacity_jk, conductance_wk)
    own = {
        "ambient_c": ambient_c,
        "loss_w": loss_w,
        "draw_s": draw_s,
        "rest_s": rest_s,
        "heat_capacity_jk": heat_capacity_jk,
        "conductance_wk": conductance_wk,
    }
    now_c = start_c
    for draw in range(1, 6):
        peak_c = solved(lambda _: loss_w, (0, draw_s), now_c, *lump)
        now_c = solved(lambda _: 0.0, (0, rest_s), peak_c, *lump)
        got = heat.peak_after_draws_c(start_c=start_c, draws=draw, **own)
        assert got == pytest.approx(peak_c, rel=1e-8)
    settled = heat.settled_cycle(**own)
    peak_c = solved(lambda _: loss_w, (0, draw_s), settled.trough_c, *lump)
    trough_c = solved(lambda _: 0.0, (0, rest_s), peak_c, *lump)
    np.testing.assert_allclose([peak_c, trough_c], [settled.peak_c, settled.trough_c], rtol=1e-8)


@pytest.mark.parametrize("source", ["SciPy solve_ivp with an event"])
def test_time_to_a_stop_temperature(source):
    """The time to 60 °C is when the numerical solution crosses 60 °C."""

    def crossing(_, temperature_c):
        return temperature_c[0] - 60.0

    crossing.terminal = True
    run = solve_ivp(
        lambda _, temperature_c: (8.0 - 0.042 * (temperature_c - 20.0)) / 38.0,
        (0, 1e4),
        [25.0],
        rtol=1e-10,
        atol=1e-10,
        events=crossing,
    )
    got = heat.time_to_temperature_s(
        start_c=25.0,
        ambient_c=20.0,
        loss_w=8.0,
        stop_c=60.0,
        heat_capacity_jk=38.0,
        conductance_wk=0.042,
    )
    assert got == pytest.approx(run.t_events[0][0], rel=1e-7), source
