"""A discharge obeys the laws of charge and energy, and gets shorter with every hardship."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from percell.physics import discharge
from percell.physics.curves import (
    mean_open_circuit_voltage_v,
    open_circuit_voltage_v,
    own_curve,
    published_curve,
    simulated_curve,
)
from percell.physics.measured_cells import lasting_heat_w, lasting_loss_v

# the same rest curve: one sags as measured cells do, the other as the simulated cell of its publication
NMC = published_curve(chemistry="nmc")
SIMULATED_NMC = simulated_curve(chemistry="nmc")
CURVES = {
    "nmc as measured": NMC,
    "nmc as simulated": SIMULATED_NMC,
    "lfp as simulated": simulated_curve(chemistry="lfp"),
    "own": own_curve(soc=[0.0, 0.1, 1.0], ocv_v=[2.4, 3.2, 4.1])._replace(lift_v=0.1),
}
CELL = {
    "series": 2,
    "parallel": 1,
    "capacity_ah": 3.0,
    "resistance_ohm": 0.02,
    "contact_resistance_ohm": 0.005,
    "cutoff_v": 3.0,
    "start_soc": 1.0,
    "curve": NMC,
}
CONVERTER = CELL | {"output_power_w": 40.0, "efficiency": 0.9, "idle_power_w": 0.2}
DIRECT = CELL | {"load_resistance_ohm": 0.5, "device_resistance_ohm": 0.01}
converter_run, direct_run = discharge.converter_run, discharge.direct_run


@st.composite
def cells(draw):
    return {
        "series": draw(st.integers(1, 4)),
        "parallel": draw(st.integers(1, 4)),
        "capacity_ah": draw(st.floats(0.2, 10.0)),
        "resistance_ohm": draw(st.floats(0.0, 0.2)),
        "contact_resistance_ohm": draw(st.floats(0.0, 0.1)),
        "cutoff_v": draw(st.floats(2.0, 3.8)),
        "start_soc": draw(st.floats(0.05, 1.0)),
        "curve": CURVES[draw(st.sampled_from(sorted(CURVES)))],
    }


powers = st.floats(0.01, 500.0)
loads = st.floats(0.01, 100.0)


@settings(deadline=None)
@given(cells(), powers, st.floats(0.5, 1.0), st.floats(0.0, 2.0))
def test_converter_keeps_energy(cell, power_w, efficiency, idle_w):
    """What the cells give is what the load, the converter and the heat take, and all is finite."""
    run = converter_run(**cell, output_power_w=power_w, efficiency=efficiency, idle_power_w=idle_w)
    hours = run.time_s / 3600
    assert run.load_energy_wh == pytest.approx(power_w * hours, rel=1e-9)
    assert run.input_energy_wh == pytest.approx((power_w / efficiency + idle_w) * hours, rel=1e-9)
    assert run.cell_energy_wh == pytest.approx(run.input_energy_wh + run.heat_wh, rel=1e-12)
    assert run.heat_wh >= -1e-9 * run.cell_energy_wh
    assert run.charge_ah == pytest.approx(run.used * cell["capacity_ah"] * cell["parallel"])
    assert 0.0 <= run.used <= cell["start_soc"] * (1 + 1e-12)
    assert all(np.isfinite(value) for value in run[:-1])
    assert run.mean_current_a * hours == pytest.approx(run.charge_ah, rel=1e-9)


@settings(deadline=None)
@given(cells(), loads, st.floats(0.0, 0.1))
def test_direct_load_keeps_energy(cell, load_ohm, device_ohm):
    """Energy and charge are kept for a load without a converter too, and all is finite."""
    run = direct_run(**cell, load_resistance_ohm=load_ohm, device_resistance_ohm=device_ohm)
    assert run.cell_energy_wh == pytest.approx(run.input_energy_wh + run.heat_wh, rel=1e-12)
    assert run.heat_wh >= -1e-9 * run.cell_energy_wh
    part = load_ohm / (load_ohm + device_ohm)
    assert run.load_energy_wh == pytest.approx(part * run.input_energy_wh)
    assert not run.collapsed
    assert all(np.isfinite(value) for value in run[:-1])
    assert run.mean_current_a * run.time_s / 3600 == pytest.approx(run.charge_ah, rel=1e-9)


@settings(deadline=None)
@given(cells(), powers, st.floats(1.05, 3.0))
def test_more_power_runs_shorter(cell, power_w, more):
    """More power never runs longer."""
    run = converter_run(
        **cell,
        output_power_w=np.array([power_w, more * power_w]),
        efficiency=0.9,
        idle_power_w=0.1,
    )
    assert run.time_s[1] <= run.time_s[0] * (1 + 1e-9)


@pytest.mark.parametrize("argument", ["cutoff_v", "resistance_ohm", "contact_resistance_ohm"])
@pytest.mark.parametrize("curve", [NMC, SIMULATED_NMC], ids=["measured", "simulated"])
@pytest.mark.parametrize(("run", "case"), [(converter_run, CONVERTER), (direct_run, DIRECT)])
def test_each_hardship_runs_shorter(run, case, curve, argument):
    """A higher cut-off and more resistance each shorten the run, all along their range.

    Below some milliohms a little more resistance lengthens a coil's run, because it lowers the current.
    """
    value = np.linspace(2.5, 3.9, 60) if argument == "cutoff_v" else np.linspace(0.01, 0.1, 60)
    time_s = run(**case | {"curve": curve, argument: value}).time_s
    assert np.all(np.diff(time_s) <= 0.0)
    assert time_s[-1] < 0.7 * time_s[0]


@pytest.mark.parametrize("argument", ["capacity_ah", "start_soc"])
@pytest.mark.parametrize("curve", [NMC, SIMULATED_NMC], ids=["measured", "simulated"])
@pytest.mark.parametrize(("run", "case"), [(converter_run, CONVERTER), (direct_run, DIRECT)])
def test_each_help_runs_longer(run, case, curve, argument):
    """More capacity and more charge at the start each lengthen the run."""
    value = np.linspace(0.3, 1.0, 60) * case[argument]
    time_s = run(**case | {"curve": curve, argument: value}).time_s
    assert np.all(np.diff(time_s) >= 0.0)


@settings(deadline=None)
@given(powers, st.integers(1, 4), st.integers(1, 4))
def test_layout_does_not_matter_to_a_converter(power_w, series, parallel):
    """Cells in series and cells in parallel run equally long at the same power."""
    cells = {"output_power_w": power_w, "efficiency": 0.85, "idle_power_w": 0.3}
    one = converter_run(**CELL | cells | {"series": series, "parallel": parallel})
    other = converter_run(**CELL | cells | {"series": parallel, "parallel": series})
    assert one.time_s == pytest.approx(other.time_s, rel=1e-12)
    assert one.load_energy_wh == pytest.approx(other.load_energy_wh, rel=1e-12)


@pytest.mark.parametrize("name", CURVES)
def test_tiny_power_gives_all(name):
    """As the power goes to nothing, the energy goes to capacity times mean voltage of the curve."""
    curve = CURVES[name]
    run = converter_run(
        **CONVERTER
        | {
            "output_power_w": 1e-6,
            "efficiency": 1.0,
            "idle_power_w": 0.0,
            "cutoff_v": 1.0,
            "curve": curve,
        }
    )
    mean_v = mean_open_circuit_voltage_v(curve=curve, from_soc=0.0, to_soc=1.0) + curve.lift_v
    whole_wh = 2 * 3.0 * mean_v
    assert run.load_energy_wh == pytest.approx(whole_wh, rel=2e-3)
    assert run.used == pytest.approx(1.0)


@pytest.mark.parametrize("power_w", [5.0, 40.0, 90.0])
@pytest.mark.parametrize("contact_ohm", [0.02, 0.06])
def test_against_an_ode_solver(power_w, contact_ohm):
    """With plain resistance only, the time is the one SciPy's solve_ivp finds."""
    cell = CONVERTER | {
        "output_power_w": power_w,
        "resistance_ohm": 0.0,
        "contact_resistance_ohm": contact_ohm,
    }
    power_w = (power_w / 0.9 + 0.2) / 2

    def current_a(soc):
        rest_v = float(open_circuit_voltage_v(curve=NMC, soc=soc))
        # the solver also looks past the end, where there is no current that gives the power
        root = np.sqrt(max(rest_v**2 - 4 * contact_ohm * power_w, 0.0))
        return (rest_v - root) / (2 * contact_ohm)

    def above_cutoff(_, state):
        return (
            float(open_circuit_voltage_v(curve=NMC, soc=state[0]))
            - contact_ohm * current_a(state[0])
            - 3.0
        )

    above_cutoff.terminal = True
    solved = solve_ivp(
        lambda _, state: [-current_a(state[0]) / 3.0 / 3600.0],
        (0, 1e5),
        [1.0],
        events=above_cutoff,
        rtol=1e-9,
        atol=1e-10,
        max_step=5.0 if power_w > 10 else 60.0,
    )
    assert converter_run(**cell).time_s == pytest.approx(solved.t_events[0][0], rel=1e-3)


@pytest.mark.parametrize("name", CURVES)
def test_like_cells_are_alike(name):
    """Half the capacity at twice the resistance, at half the power: the same voltage, the same time."""
    whole = CONVERTER | {"contact_resistance_ohm": 0.0, "idle_power_w": 0.0, "curve": CURVES[name]}
    one = converter_run(**whole)
    half = {"capacity_ah": 1.5, "resistance_ohm": 0.04, "output_power_w": 20.0}
    other = converter_run(**whole | half)
    assert other.time_s == pytest.approx(one.time_s, rel=1e-12)


@pytest.mark.parametrize("power_w", [5.0, 15.0, 40.0, 90.0])
@pytest.mark.parametrize("lift_v", [0.0, 0.08])
def test_a_measured_sag_against_an_ode_solver(power_w, lift_v):
    """The time is the one of SciPy's solve_ivp, which finds each current with SciPy's brentq.

    Nothing of the run is used but the loss of measured cells: below 0.1 V of its fast part it is all straight
    in the current, above it is not, and these powers have both.
    """
    cell_ohm, contact_ohm, cutoff_v = 0.035, 0.004, 3.0
    curve = NMC._replace(lift_v=lift_v)
    case = {"resistance_ohm": cell_ohm, "contact_resistance_ohm": contact_ohm, "curve": curve}
    run = converter_run(**CONVERTER | case | {"output_power_w": power_w})
    cell_w = (power_w / 0.9 + 0.2) / 2

    def seen_v(current_a, soc):
        rest_v = float(np.interp(soc, NMC.soc, NMC.ocv_v)) + lift_v
        loss_v = lasting_loss_v(current_a=current_a, resistance_ohm=cell_ohm)
        return rest_v - loss_v - contact_ohm * current_a

    def current_a(soc):
        # up to 2 V the smaller of the two currents that fit
        return brentq(lambda i: seen_v(i, soc) * i - cell_w, 0.0, cell_w / 2.0, xtol=1e-12)

    def above_cutoff(_, state):
        return seen_v(current_a(state[0]), state[0]) - cutoff_v

    above_cutoff.terminal = True
    solved = solve_ivp(
        lambda _, state: [
            -current_a(state[0]) / 3.0 / 3600.0,
            lasting_heat_w(current_a=current_a(state[0]), resistance_ohm=cell_ohm) / 3600.0,
        ],
        (0, 1e5),
        [1.0, 0.0],
        events=above_cutoff,
        rtol=1e-8,
        atol=1e-9,
        max_step=10.0 if power_w > 10 else 60.0,
    )
    time_s = solved.t_events[0][0]
    assert run.time_s == pytest.approx(time_s, rel=1e-3)
    contact_wh = contact_ohm * np.trapezoid(
        [current_a(soc) ** 2 for soc in solved.y[0]], solved.t / 3600
    )
    assert run.heat_wh == pytest.approx(2 * (solved.y[1][-1] + contact_wh), rel=2e-3)


def test_a_measured_sag_by_hand():
    """One ampere out of 100 mΩ loses 80 mV and again 80 mV; two lose 160 mV and 100 mV.

    From 4 V over 3.84 ohm and over 1.87 ohm: what is left over the load drives just those currents.
    """
    bare = {"series": 1, "resistance_ohm": 0.1, "contact_resistance_ohm": 0.0, "curve": STRAIGHT}
    for load_ohm, amps in ((3.84, 1.0), (1.87, 2.0)):
        run = direct_run(
            **CELL | bare | {"cutoff_v": 2.5},
            load_resistance_ohm=load_ohm,
            device_resistance_ohm=0.0,
        )
        assert run.start_current_a == pytest.approx(amps, rel=1e-12)
    # 3 V at the end: 2.5 V under load of 1.87 ohm, 1.337 A; 0.107 V of loss twice would be above 0.1 V
    end_a = (3.0 - 0.1) / (1.87 + 0.08)
    assert end_a * 0.08 > 0.1
    assert run.end_current_a == pytest.approx(end_a, rel=1e-3)


def test_the_heat_of_a_measured_sag_by_hand():
    """Nearly 4 V all the way, 2 A out of 100 mΩ: 2 A × (0.2 V + 0.15 V) for as long as it runs."""
    flat = own_curve(soc=[0.0, 1.0], ocv_v=[4.0 - 1e-9, 4.0])
    bare = {"series": 1, "resistance_ohm": 0.1, "contact_resistance_ohm": 0.0, "curve": flat}
    run = direct_run(**CELL | bare, load_resistance_ohm=1.87, device_resistance_ohm=0.0)
    assert run.time_s == pytest.approx(1.5 * 3600, rel=1e-6)
    assert run.heat_wh == pytest.approx(0.7 * 1.5, rel=1e-6)
    # the contact is heated by its own resistance, and by nothing else
    half = bare | {"contact_resistance_ohm": 0.5, "cutoff_v": 2.5}
    run = direct_run(**CELL | half, load_resistance_ohm=1.37, device_resistance_ohm=0.0)
    assert run.heat_wh == pytest.approx((0.7 + 2.0) * 1.5, rel=1e-6)


def test_a_lifted_curve_is_one_of_higher_voltages():
    """What is added to each voltage might as well stand in the curve."""
    lifted = STRAIGHT._replace(lift_v=0.2)
    higher = own_curve(soc=[0.0, 1.0], ocv_v=[3.2, 4.2])
    for run, case in ((converter_run, CONVERTER), (direct_run, DIRECT)):
        one, other = (run(**case | {"curve": curve}) for curve in (lifted, higher))
        assert one.time_s == pytest.approx(other.time_s, rel=1e-12)
        assert one.heat_wh == pytest.approx(other.heat_wh, rel=1e-12)


def test_an_array_of_lifts_is_what_single_ones_answer():
    """A table by resistance has a lift of its own in each row."""
    lifts = np.array([0.0, 0.05, 0.1])
    grid = converter_run(**CONVERTER | {"curve": NMC._replace(lift_v=lifts)})
    for one_v, time_s in zip(lifts, grid.time_s, strict=True):
        one = converter_run(**CONVERTER | {"curve": NMC._replace(lift_v=float(one_v))})
        assert time_s == pytest.approx(one.time_s, rel=1e-14)


def test_slow_resistance_costs_time():
    """The run is shorter than one with the pulse resistance alone, most so at a high cut-off."""
    high = {"output_power_w": 40.0, "cutoff_v": np.array([2.8, 3.0, 3.2, 3.4])}
    plain = converter_run(
        **CONVERTER | high | {"contact_resistance_ohm": 0.02, "resistance_ohm": 0.0}
    )
    for curve in (NMC, SIMULATED_NMC):
        slow = converter_run(**CONVERTER | high | {"contact_resistance_ohm": 0.0, "curve": curve})
        part = slow.time_s / plain.time_s
        assert np.all(part < 1.0)
        assert np.all(np.diff(part) < 0.0)


def test_below_cutoff_at_the_start():
    """A pack whose voltage is under the cut-off at once runs for no time, and still has a current."""
    for run in (
        converter_run(**CONVERTER | {"cutoff_v": 4.15}),
        direct_run(**DIRECT | {"cutoff_v": 4.15}),
    ):
        assert run.time_s == 0.0
        assert run.charge_ah == 0.0
        assert run.mean_current_a == run.start_current_a > 0.0
        assert not run.collapsed


def test_power_that_is_not_there():
    """A power above what the pack has is an end too, and is told from the cut-off."""
    run = converter_run(
        **CONVERTER | {"output_power_w": 1000.0, "resistance_ohm": 0.1, "cutoff_v": 1.5}
    )
    assert run.time_s == 0.0
    assert run.collapsed


@pytest.mark.parametrize("name", CURVES)
def test_table_is_what_single_questions_answer(name):
    """A grid of powers and cut-offs holds the answers of the single questions."""
    case = CONVERTER | {"curve": CURVES[name]}
    power_w, cutoff_v = np.linspace(5.0, 150.0, 6)[:, None], np.linspace(2.8, 3.4, 4)
    grid = converter_run(**case | {"output_power_w": power_w, "cutoff_v": cutoff_v})
    assert grid.time_s.shape == (6, 4)
    for i, power in enumerate(power_w[:, 0]):
        for k, cutoff in enumerate(cutoff_v):
            one = converter_run(**case | {"output_power_w": power, "cutoff_v": cutoff})
            assert grid.time_s[i, k] == pytest.approx(one.time_s, rel=1e-14)


@settings(deadline=None)
@given(st.floats(0.5, 30.0), st.floats(0.0, 600.0), st.floats(0.0, 0.5))
def test_draws_keep_charge(draw_s, pause_s, pause_a):
    """Draws and pauses together take no more than the charge there is, and one more would."""
    run = converter_run(**CONVERTER)
    cut = discharge.draws(
        run=run, draw_time_s=draw_s, pause_time_s=pause_s, pause_current_a=pause_a
    )
    least_ah = cut.draws * (run.start_current_a * draw_s + pause_a * pause_s) / 3600
    most_ah = (cut.draws + 1) * (run.end_current_a * draw_s + pause_a * pause_s) / 3600
    assert least_ah <= run.charge_ah * (1 + 1e-9)
    assert run.charge_ah <= most_ah * (1 + 1e-9)
    assert cut.load_time_s == pytest.approx(cut.draws * draw_s)
    assert cut.load_time_s <= run.time_s * (1 + 1e-9)
    assert cut.time_s == pytest.approx(max(cut.draws * (draw_s + pause_s) - pause_s, 0.0))


def test_own_curve_is_used():
    """A caller's curve takes the place of the published one."""
    own = own_curve(soc=NMC.soc, ocv_v=NMC.ocv_v - 0.1)
    assert converter_run(**CONVERTER | {"curve": own}).time_s < converter_run(**CONVERTER).time_s


STRAIGHT = own_curve(soc=[0.0, 1.0], ocv_v=[3.0, 4.0])


def test_direct_load_by_hand():
    """2S3P of cells at nearly 4 V over 4 ohm: 2 A, two thirds of an ampere a cell, 3 Ah in 4.5 h."""
    run = direct_run(
        **CELL
        | {
            "series": 2,
            "parallel": 3,
            "resistance_ohm": 0.0,
            "contact_resistance_ohm": 0.0,
            "cutoff_v": 2.5,
            "curve": own_curve(soc=[0.0, 1.0], ocv_v=[4.0 - 1e-9, 4.0]),
        },
        load_resistance_ohm=4.0,
        device_resistance_ohm=0.0,
    )
    for current_a in (run.start_current_a, run.mean_current_a, run.end_current_a):
        assert current_a == pytest.approx(2.0)
    assert run.time_s == pytest.approx(4.5 * 3600.0)
    assert run.charge_ah == pytest.approx(9.0)
    assert run.load_energy_wh == pytest.approx(72.0)


def test_first_and_last_current_by_hand():
    """From 4 V to 3.5 V over 4 ohm: 1 A at the first moment, 0.875 A at the last."""
    bare = {"series": 1, "resistance_ohm": 0.0, "contact_resistance_ohm": 0.0, "curve": STRAIGHT}
    run = direct_run(
        **CELL | bare | {"cutoff_v": 3.5}, load_resistance_ohm=4.0, device_resistance_ohm=0.0
    )
    assert run.start_current_a == pytest.approx(1.0, rel=1e-12)
    assert run.end_current_a == pytest.approx(0.875, rel=1e-4)
    assert run.used == pytest.approx(0.5, rel=1e-6)


def test_power_at_the_most_is_there():
    """4 V behind 1 ohm give 4 W at 2 A and 2 V, and no more."""
    volts, ohms = np.array([4.0]), np.array([1.0])
    current_a, seen_v, beyond = discharge._Power(np.array([4.0])).meet(volts, ohms)
    assert (current_a[0], seen_v[0], beyond[0]) == (2.0, 2.0, False)
    assert discharge._Power(np.array([4.01])).meet(volts, ohms)[2][0]
    current_a, seen_v, beyond = discharge._Power(np.array([3.75])).meet(volts, ohms)
    assert (current_a[0], seen_v[0], beyond[0]) == (1.5, 2.5, False)


def test_ends_by_hand():
    """A run ends between two points, with its last point, at once, or where the power is missing."""
    end = discharge._end(
        np.array(
            [
                [True, True, False, False],
                [True, True, True, True],
                [False, False, False, False],
                [True, False, False, False],
                [False, False, False, False],
            ]
        ),
        np.array(
            [
                [4.0, 3.4, 2.6, 2.0],
                [4.0, 3.8, 3.6, 3.4],
                [2.9, 2.8, 2.7, 2.6],
                [4.0, 3.5, 3.2, 3.1],  # no power from the second point on, still above the limit
                [4.0, 3.9, 3.8, 3.7],  # no power at once
            ]
        ),
        np.full(5, 3.0),
    )
    assert end.left.tolist() == [1, 2, 0, 0, 0]
    assert end.at == pytest.approx([0.5, 1.0, 0.0, 1.0, 0.0])


def test_weights_by_hand():
    """Half of the way from 1 Ah to 3 Ah: to 2 Ah, where the value is the mean of the two."""
    end = discharge._End(np.array([2]), np.array([1]), np.array([0.5]))
    got = discharge._weights(np.array([[0.0, 1.0, 3.0, 6.0]]), end)
    # 1 Ah of (v₀ + v₁)/2, 1 Ah of (v₁ + (v₁ + v₂)/2)/2
    np.testing.assert_allclose(got, [[0.5, 1.25, 0.25, 0.0]])


@pytest.mark.parametrize(
    ("power_w", "cell_ohm", "cutoff_v"),
    [(10.0, 0.03, 3.0), (60.0, 0.03, 3.0), (100.0, 0.03, 3.0), (2.0, 0.1, 1.0)],
)
def test_current_and_sag_belong_to_each_other(power_w, cell_ohm, cutoff_v):
    """Up to the cut-off, the sag at the mean of the current so far gives that current again."""
    cell = {"curve": SIMULATED_NMC, "resistance_ohm": cell_ohm, "cutoff_v": cutoff_v}
    run = converter_run(**CONVERTER | cell | {"output_power_w": power_w})
    share = run.path.charge_ah / run.path.charge_ah[-1]
    current_a = run.path.current_a
    # the weight of the past: charge to the power 2.5, from two fifths on forgotten at that rate
    past = np.where(share < 0.4, (share / 0.4) ** 2.5, np.exp(2.5 * (share - 0.4) / 0.4))
    mean_a = current_a.copy()
    steps = 0.5 * (current_a[1:] + current_a[:-1]) * np.diff(past)
    mean_a[1:] = np.cumsum(steps) / past[1:]
    table = discharge.SagTable.read(SIMULATED_NMC.under_load)
    ratio = table.resistance_ratio(depth=share, sag_v=mean_a * cell_ohm)
    slow_ohm = 1.01 * cell_ohm * ratio
    source_v = open_circuit_voltage_v(curve=NMC, soc=1.0 - share) - 0.1 * slow_ohm * mean_a
    ohm, cell_w = 0.9 * slow_ohm + 0.005, (power_w / 0.9 + 0.2) / 2
    up_to_cutoff = slice(0, int(run.path.end) + 1)
    source_v, ohm = source_v[up_to_cutoff], ohm[up_to_cutoff]
    again_a = (source_v - np.sqrt(source_v**2 - 4 * ohm * cell_w)) / (2 * ohm)
    np.testing.assert_allclose(again_a, current_a[up_to_cutoff], rtol=2e-3)


def test_a_row_of_powers_is_what_single_questions_answer():
    """A grid with one axis holds the answers of the single questions too."""
    case, power_w = CONVERTER | {"curve": SIMULATED_NMC}, np.linspace(5.0, 150.0, 12)
    grid = converter_run(**case | {"output_power_w": power_w})
    for i, power in enumerate(power_w):
        one = converter_run(**case | {"output_power_w": power})
        assert grid.time_s[i] == pytest.approx(one.time_s, rel=1e-14)


def path_of(charge_ah, current_a, end):
    """Return a run of which only the path is filled in."""
    nothing = [np.array(0.0)] * (len(discharge.Run._fields) - 1)
    volts = np.full(len(charge_ah), 3.7)
    path = discharge.Path(np.array(charge_ah), np.array(current_a), volts, np.array(end))
    return discharge.Run(*nothing, path)


def test_draws_of_a_path_by_hand():
    """3600 s, 1800 s and 900 s an ampere-hour: 2700 s to 1 Ah, and 1575 s for half of the next 2 Ah."""
    run = path_of([0.0, 1.0, 3.0, 6.0], [1.0, 2.0, 4.0, 8.0], 1.5)
    cut = discharge.draws(run=run, draw_time_s=1.0, pause_time_s=2.0, pause_current_a=0.0)
    assert (cut.draws, cut.load_time_s, cut.time_s) == (4275.0, 4275.0, 4275 * 3.0 - 2.0)


def test_no_whole_draw_takes_no_time():
    """A draw longer than the run is none, and the pause after none is none."""
    run = path_of([0.0, 1.0], [1.0, 1.0], 1.0)
    cut = discharge.draws(run=run, draw_time_s=4000.0, pause_time_s=50.0, pause_current_a=0.0)
    assert (cut.draws, cut.load_time_s, cut.time_s) == (0.0, 0.0, 0.0)
