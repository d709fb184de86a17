"""A charge keeps charge and energy, and takes the time an ODE solver finds."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from percell.physics import charging
from percell.physics.curves import (
    mean_open_circuit_voltage_v,
    open_circuit_voltage_v,
    own_curve,
    published_curve,
)

NMC = published_curve(chemistry="nmc")
CASE = {
    "charge_current_a": 1.5,
    "end_current_a": 0.1,
    "charged_v": 4.2,
    "capacity_ah": 3.0,
    "resistance_ohm": 0.03,
    "start_soc": 0.1,
    "curve": NMC,
}


@settings(deadline=None)
@given(
    st.floats(0.1, 10.0),
    st.floats(0.01, 1.0),
    st.floats(1e-4, 0.2),
    st.floats(0.0, 1.0),
    st.sampled_from([("nmc", 4.2), ("nmc", 4.1), ("nca", 4.2), ("lfp", 3.65)]),
)
def test_energy_and_charge_are_kept(current_a, end_part, resistance_ohm, start_soc, cell):
    """The charger's energy is what is stored and what is lost; the charge is the change of state."""
    chemistry, charged_v = cell
    curve = published_curve(chemistry=chemistry)
    done = charging.charge(
        **CASE
        | {
            "charge_current_a": current_a,
            "end_current_a": current_a * end_part,
            "charged_v": charged_v,
            "resistance_ohm": resistance_ohm,
            "start_soc": start_soc,
            "curve": curve,
        }
    )
    assert done.energy_wh == pytest.approx(done.stored_wh + done.heat_wh, rel=1e-12)
    assert done.charge_ah == pytest.approx(3.0 * (done.end_soc - start_soc), abs=1e-12)
    assert done.time_s == pytest.approx(done.constant_current_s + done.constant_voltage_s)
    assert min(done) >= 0.0
    # no current is above the constant one, and the charged voltage is the most the charger gives
    assert done.time_s >= 3600 * done.charge_ah / current_a * (1 - 1e-9)
    assert done.energy_wh <= charged_v * done.charge_ah * (1 + 1e-9)
    if start_soc + 1e-6 < done.end_soc <= 1.0:
        mean_v = mean_open_circuit_voltage_v(curve=curve, from_soc=start_soc, to_soc=done.end_soc)
        assert done.stored_wh == pytest.approx(done.charge_ah * mean_v, rel=1e-9)


@pytest.mark.parametrize("current_a", [0.6, 1.5, 3.0, 6.0])
@pytest.mark.parametrize("start_soc", [0.0, 0.5, 0.95])
def test_against_an_ode_solver(current_a, start_soc):
    """Time, charge and heat are what SciPy's solve_ivp finds for the same cell."""
    case = CASE | {"charge_current_a": current_a, "start_soc": start_soc}
    resistance_ohm = charging.SLOW_RATIO * case["resistance_ohm"]

    def taken_a(soc):
        rest_v = float(open_circuit_voltage_v(curve=NMC, soc=soc))
        return min(current_a, (4.2 - rest_v) / resistance_ohm)

    def rates(_, state):
        now_a = taken_a(state[0])
        return [now_a / 3.0 / 3600.0, now_a**2 * resistance_ohm / 3600.0]

    def still_charging(_, state):
        return taken_a(state[0]) - case["end_current_a"]

    still_charging.terminal = True
    solved = solve_ivp(
        rates,
        (0, 2e5),
        [start_soc, 0.0],
        events=still_charging,
        rtol=1e-8,
        atol=1e-10,
        max_step=20.0,
    )
    done = charging.charge(**case)
    assert done.time_s == pytest.approx(solved.t_events[0][0], rel=1e-4)
    assert done.end_soc == pytest.approx(solved.y_events[0][0][0], abs=1e-5)
    assert done.heat_wh == pytest.approx(solved.y_events[0][0][1], rel=1e-3)


@pytest.mark.parametrize("argument", ["charge_current_a", "end_current_a", "start_soc"])
def test_shorter_with(argument):
    """More current, an earlier end and a fuller start each shorten the charge."""
    more = charging.charge(**CASE | {argument: CASE[argument] * 1.5})
    assert more.time_s < charging.charge(**CASE).time_s


def test_full_cell_takes_nothing():
    """A cell that is as full as the end current asks takes no time, charge or energy."""
    done = charging.charge(**CASE | {"start_soc": 1.0})
    assert done.time_s == done.charge_ah == done.energy_wh == 0.0


def test_above_the_end_of_the_curve_its_last_slope_goes_on():
    """To 4.5 V, where the last slope is 0.8 V over half of the charge: 0.5/1.6 more than full."""
    case = CASE | {
        "charged_v": 4.5,
        "resistance_ohm": 1e-9,
        "start_soc": 0.0,
        "curve": own_curve(soc=[0.0, 0.5, 1.0], ocv_v=[3.0, 3.2, 4.0]),
    }
    done = charging.charge(**case)
    assert done.end_soc == pytest.approx(1.3125)
    # 0.5 of the charge at 3.1 V on average, 0.5 at 3.6 V and 0.3125 at 4.25 V
    assert done.stored_wh == pytest.approx(3.0 * (0.5 * 3.1 + 0.5 * 3.6 + 0.3125 * 4.25))


@pytest.mark.parametrize("point", [3, 50, -3])
def test_a_start_beside_a_point_of_the_curve(point):
    """Starting a rounding error below a point of the curve takes as long as starting at the point."""
    # so much current that the voltage is reached at once
    case = CASE | {"charge_current_a": 1000.0}
    at = float(NMC.soc[point])
    there = charging.charge(**case | {"start_soc": at})
    beside = charging.charge(**case | {"start_soc": float(np.nextafter(at, 0.0))})
    assert there.constant_current_s == 0.0 < there.constant_voltage_s
    assert beside.time_s == pytest.approx(there.time_s, rel=1e-12)
