"""A discharge log is added up without loss, its steps show the resistance, its faults are named."""

from itertools import count

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import cumulative_trapezoid

from percell.physics import discharge_log
from percell.physics.discharge_log import CurrentStep, Curve, LogFault, Trial, same_discharge
from percell.physics.errors import NoSolution


def log(rows=12, **changed):
    """Make a sound log, and put other columns in."""
    columns = {
        "time_s": np.arange(rows) * 10.0,
        "voltage_v": np.linspace(4.1, 3.1, rows),
        "current_a": np.full(rows, 5.0),
        "temperature_c": np.linspace(25.0, 45.0, rows),
    }
    return columns | changed


def faults(columns, longest_gap_s=60.0, most=20):
    return discharge_log.faults(**columns, longest_gap_s=longest_gap_s, most=most)


def with_value(values, row, value):
    """Change the value in a row, counted from 1."""
    changed = values.copy()
    changed[row - 1] = value
    return changed


@given(st.integers(3, 60), st.integers(0, 2**31))
def test_energy_is_bounded_by_the_voltages(rows, seed):
    """Energy lies between lowest and highest voltage times charge, and the mean between them."""
    draw = np.random.default_rng(seed)
    columns = log(
        rows,
        time_s=np.cumsum(draw.uniform(0.1, 100.0, rows)),
        voltage_v=draw.uniform(2.5, 4.2, rows),
        current_a=draw.uniform(0.0, 30.0, rows),
    )
    got = discharge_log.summary(**columns)
    lowest_v, highest_v = columns["voltage_v"].min(), columns["voltage_v"].max()
    assert lowest_v * got.charge_ah * (1 - 1e-12) <= got.energy_wh
    assert got.energy_wh <= highest_v * got.charge_ah * (1 + 1e-12)
    assert got.mean_current_a * got.duration_s == pytest.approx(got.charge_ah * 3600)


@given(st.integers(4, 60), st.integers(0, 2**31), st.floats(0.1, 0.9))
def test_two_halves_are_the_whole(rows, seed, part):
    """A log cut at a row has the charge and energy of its two parts."""
    draw = np.random.default_rng(seed)
    columns = log(rows, current_a=draw.uniform(0.1, 30.0, rows))
    cut = 1 + int(part * (rows - 2))
    whole = discharge_log.summary(**columns)
    one = discharge_log.summary(**{name: values[: cut + 1] for name, values in columns.items()})
    two = discharge_log.summary(**{name: values[cut:] for name, values in columns.items()})
    assert one.charge_ah + two.charge_ah == pytest.approx(whole.charge_ah)
    assert one.energy_wh + two.energy_wh == pytest.approx(whole.energy_wh)


def test_summary_by_hand():
    """30 s at 2 A from 4.0 over 3.0 to 3.5 V, in a log that does not begin at 0 s."""
    got = discharge_log.summary(
        time_s=np.array([100.0, 110.0, 130.0]),
        voltage_v=np.array([4.0, 3.0, 3.5]),
        current_a=np.array([2.0, 2.0, 2.0]),
        temperature_c=None,
    )
    assert got.rows == 3
    assert got.duration_s == 30.0
    assert got.charge_ah == pytest.approx(60.0 / 3600.0)
    # 10 s at 3.5 V on average and 20 s at 3.25 V
    assert got.mean_voltage_v == pytest.approx(100.0 / 30.0)
    assert got.mean_current_a == pytest.approx(2.0)
    assert (got.start_voltage_v, got.lowest_voltage_v, got.end_voltage_v) == (4.0, 3.0, 3.5)


def test_peak_temperature_and_its_time():
    """The peak is the first highest value, timed from the log's start; without a column there is none."""
    columns = log(5, time_s=100.0 + np.arange(5.0), temperature_c=np.array([20, 30, 41, 41, 35.0]))
    got = discharge_log.summary(**columns)
    assert (got.peak_temperature_c, got.peak_time_s) == (41.0, 2.0)
    bare = discharge_log.summary(**columns | {"temperature_c": None})
    assert (bare.peak_temperature_c, bare.peak_time_s) == (None, None)


@given(
    st.floats(0.002, 0.2),
    st.lists(st.integers(0, 30), min_size=2, max_size=12),
    st.integers(1, 4),
    st.sampled_from([0.0, 1.0, 3.0]),
)
def test_steps_recover_the_resistance(cell_ohm, amperes, rows_each, settle_s):
    """On a cell of constant voltage and resistance, every step shows it, whatever the settling time."""
    current_a = np.repeat(np.array(amperes, dtype=float), rows_each)
    time_s = np.arange(len(current_a)) * 1.0
    got = discharge_log.current_steps(
        time_s=time_s,
        voltage_v=3.9 - cell_ohm * current_a,
        current_a=current_a,
        threshold_a=1.0,
        settle_s=settle_s,
    )
    assert bool(got) == bool(np.any(np.diff(current_a)))
    for step in got:
        assert step.resistance_ohm == pytest.approx(cell_ohm, rel=1e-6)


@pytest.mark.parametrize(("ampere", "count"), [(0.999, 0), (1.0, 1), (1.001, 1)])
def test_step_just_below_at_and_above_the_threshold(ampere, count):
    """A change of the current is a step from the threshold on."""
    current_a = np.array([0.0, 0.0, ampere, ampere])
    got = discharge_log.current_steps(
        time_s=np.arange(4.0),
        voltage_v=4.0 - 0.1 * current_a,
        current_a=current_a,
        threshold_a=1.0,
        settle_s=0.0,
    )
    assert len(got) == count


def test_slow_load_is_one_step():
    """A load that needs three rows to settle makes one step from before it to after it."""
    current_a = np.array([0.0, 0.0, 4.0, 9.0, 10.0, 10.0, 10.0, 0.0, 0.0])
    got = discharge_log.current_steps(
        time_s=np.arange(9.0),
        voltage_v=4.0 - 0.02 * current_a,
        current_a=current_a,
        threshold_a=1.5,
        settle_s=0.0,
    )
    assert [(step.current_before_a, step.current_after_a) for step in got] == [
        (0.0, 10.0),
        (10.0, 0.0),
    ]


def test_settling_time_lets_the_slow_part_in_but_not_the_next_step():
    """A later row after the step shows more sag; the window ends before the next step."""
    time_s = np.arange(12.0)
    current_a = np.where((time_s >= 2) & (time_s < 7), 10.0, 0.0)
    sag_v = np.where(current_a > 0, 0.2 + 0.01 * (time_s - 2), 0.0)

    def first_ohm(settle_s):
        return discharge_log.current_steps(
            time_s=time_s,
            voltage_v=4.0 - sag_v,
            current_a=current_a,
            threshold_a=1.0,
            settle_s=settle_s,
        )[0].resistance_ohm

    assert first_ohm(0.0) == pytest.approx(0.020)
    assert first_ohm(3.0) == pytest.approx(0.023)
    assert first_ohm(100.0) == first_ohm(4.0) == pytest.approx(0.024)


def test_each_window_ends_before_the_next_step():
    """Three steps, and a sag that grows by 10 mV a second: each shows what it has become by its end."""
    time_s = np.arange(12.0)
    current_a = np.select([time_s < 2, time_s < 5, time_s < 8], [0.0, 10.0, 20.0], 5.0)
    got = discharge_log.current_steps(
        time_s=time_s,
        voltage_v=4.0 - 0.02 * current_a - 0.01 * time_s,
        current_a=current_a,
        threshold_a=1.0,
        settle_s=100.0,
    )
    # from the last row before a step to the last row before the next, and to the last row of all
    assert [step.resistance_ohm for step in got] == pytest.approx(
        [(0.2 + 0.03) / 10, (0.2 + 0.03) / 10, (0.3 - 0.04) / 15]
    )


@pytest.mark.parametrize(
    ("current_a", "threshold_a", "steps"),
    [
        # a small change of a large current is no step, and hides none that comes after it
        ([10.0, 10.0, 10.8, 10.8], 1.0, []),
        ([10.0, 10.0, 10.8, 10.8, 0.0, 0.0], 1.0, [(10.8, 0.0)]),
        # changes of just half of the threshold are a drift, of a little more a step together
        ([0.0, 0.5, 1.0, 1.5], 1.0, []),
        ([0.0, 0.6, 1.3, 1.3], 1.0, [(0.0, 1.3)]),
        ([0.0, 0.9, 1.8, 2.7], 2.0, []),
        # up and partly down again are two changes
        ([0.0, 0.0, 1.1, 0.3, 0.3], 1.0, [(0.0, 1.1)]),
        # the current changes with the first row, and with the last
        ([0.0, 3.0, 3.0, 0.0], 1.0, [(0.0, 3.0), (3.0, 0.0)]),
    ],
)
def test_steps_by_hand(current_a, threshold_a, steps):
    """What counts as one step is told by the change of each row and by the whole change."""
    current_a = np.array(current_a)
    got = discharge_log.current_steps(
        time_s=np.arange(float(len(current_a))),
        voltage_v=4.0 - 0.02 * current_a,
        current_a=current_a,
        threshold_a=threshold_a,
        settle_s=0.0,
    )
    assert [(step.current_before_a, step.current_after_a) for step in got] == steps


@pytest.mark.parametrize(
    ("back_to_a", "count"), [([3.5, 2.1], 1), ([3.5, 2.0], 0), ([3.5, 2.0, 0.5], 0)]
)
def test_a_current_that_came_back_shows_nothing(back_to_a, count):
    """A load that has fallen back to half of the threshold, in small changes, is left out."""
    current_a = np.array([0.0, 5.0, *back_to_a])
    got = discharge_log.current_steps(
        time_s=np.arange(float(len(current_a))),
        voltage_v=4.0 - 0.02 * current_a,
        current_a=current_a,
        threshold_a=4.0,
        settle_s=100.0,
    )
    assert len(got) == count


def test_a_current_that_is_back_at_its_start_shows_nothing():
    """Without any change left there is no resistance, and no division by it."""
    assert not discharge_log.current_steps(
        time_s=np.arange(6.0),
        voltage_v=np.array([4.0, 3.9, 3.9, 3.9, 3.9, 3.9]),
        current_a=np.array([0.0, 5.0, 3.5, 2.0, 0.5, 0.0]),
        threshold_a=4.0,
        settle_s=100.0,
    )


def test_noise_of_the_load_is_no_step():
    """Ripple below half the threshold adds no step, and a voltage that does not follow is left out."""
    draw = np.random.default_rng(3)
    current_a = 10.0 + draw.uniform(-0.2, 0.2, 200)
    call = {"time_s": np.arange(200.0), "threshold_a": 1.0, "settle_s": 1.0}
    assert not discharge_log.current_steps(
        voltage_v=3.6 - 0.02 * current_a, current_a=current_a, **call
    )
    current_a = np.where(np.arange(200) < 100, 5.0, 10.0)
    assert not discharge_log.current_steps(voltage_v=np.full(200, 3.6), current_a=current_a, **call)


def test_resistance_without_a_step_is_refused():
    """A log of one current shows no resistance."""
    with pytest.raises(NoSolution) as refused:
        discharge_log.step_resistance(steps=[])
    assert refused.value.code == "no_current_step"
    assert refused.value.numbers == {"steps": 0.0}
    only = CurrentStep(0.0, 0.0, 1.0, 0.02, 0.0, 1.0)
    assert discharge_log.step_resistance(steps=[only]) == (0.02, 0.02, 0.02)
    more = [only._replace(resistance_ohm=ohm) for ohm in (0.05, 0.02, 0.03, 0.04)]
    assert discharge_log.step_resistance(steps=more) == pytest.approx((0.035, 0.02, 0.05))


def rest_load_rest():
    """Make a discharge as it is measured: the step at full shows 18 mΩ, the recovery at empty 70 mΩ."""
    time_s = np.arange(0.0, 460.0, 1.0)
    current_a = np.where((time_s >= 5) & (time_s < 455), 20.0, 0.0)
    part = np.clip((time_s - 5) / 450, 0, 1)
    loaded_v = 4.18 - 1.0 * part - 0.018 * 20 - 0.052 * 20 * part**8
    return {
        "time_s": time_s,
        "voltage_v": np.where(time_s < 455, np.where(current_a, loaded_v, 4.18), 3.18),
        "current_a": current_a,
    }


def test_recovery_of_an_empty_cell_is_no_resistance():
    """Of rest, load and rest only the beginning of the load counts: 18 mΩ, where the middle is 44 mΩ."""
    steps = discharge_log.current_steps(**rest_load_rest(), threshold_a=2.0, settle_s=0.0)
    assert [step.resistance_ohm for step in steps] == pytest.approx([0.018, 0.070], rel=0.02)
    assert np.mean([step.resistance_ohm for step in steps]) == pytest.approx(0.044, rel=0.02)
    counted = discharge_log.steps_near_half_charge(steps=steps, threshold_a=2.0)
    assert counted == steps[:1]
    assert discharge_log.step_resistance(steps=counted).middle_ohm == pytest.approx(0.018, rel=1e-2)


def step(delivered=0.5, current_before_a=0.0, current_after_a=10.0, read_after_s=1.0):
    return CurrentStep(
        delivered * 100, current_before_a, current_after_a, 0.02, delivered, read_after_s
    )


@pytest.mark.parametrize(
    ("steps", "counted"),
    [
        ([step(0.0), step(0.19), step(0.2), step(0.8), step(0.81)], [2, 3]),
        ([step(0.0), step(0.19), step(0.81)], [0, 1]),
        ([step(0.81), step(1.0)], []),
        # the load ends, or falls below the threshold
        ([step(0.5, 10.0, 0.0), step(0.5, 10.0, 0.99)], []),
        # between loads, either way
        ([step(0.5, 10.0, 1.0), step(0.5, 5.0, 10.0)], [0, 1]),
        ([step(0.0, read_after_s=12.0), step(0.1, read_after_s=12.1)], [0]),
        ([], []),
    ],
)
def test_steps_that_count(steps, counted):
    """Steps under load from a fifth to four fifths of the charge count, else earlier ones; none read late."""
    got = discharge_log.steps_near_half_charge(steps=steps, threshold_a=1.0)
    assert got == [steps[n] for n in counted]


def test_delivered_part_is_scipys():
    """The part of the charge before a step is SciPy's cumulative trapezoid there over all of it."""
    draw = np.random.default_rng(5)
    time_s = np.cumsum(draw.uniform(0.5, 2.0, 60))
    current_a = np.where(np.arange(60) % 10 < 5, 0.0, draw.uniform(8.0, 12.0, 60))
    steps = discharge_log.current_steps(
        time_s=time_s,
        voltage_v=4.0 - 0.02 * current_a,
        current_a=current_a,
        threshold_a=6.0,
        settle_s=0.0,
    )
    charge = cumulative_trapezoid(current_a, time_s, initial=0.0)
    assert len(steps) == 11
    for one in steps:
        at = np.searchsorted(time_s, one.time_s)
        assert one.delivered == pytest.approx(charge[at] / charge[-1])
        assert one.read_after_s == pytest.approx(time_s[at + 1] - time_s[at])


def load(current_a, voltage_v=None, time_s=None, overshoot_v=0.02):
    current_a = np.array(current_a, dtype=float)
    rows = len(current_a)
    return discharge_log.load(
        time_s=np.arange(rows) * 1.0 if time_s is None else np.array(time_s, dtype=float),
        voltage_v=np.full(rows, 3.7) if voltage_v is None else np.array(voltage_v, dtype=float),
        current_a=current_a,
        overshoot_v=overshoot_v,
    )


@pytest.mark.parametrize(
    ("current_a", "time_s", "mean_a", "flowing", "charge_as"),
    [
        ([0, 10, 10, 10, 0], None, 10, 1, 20),
        # 10 s of 40 A and 58 s of rest, twice, then 10 s more
        (
            [40, 40, 0, 0, 40, 40, 0, 0, 40, 40],
            [0, 10, 10, 68, 68, 78, 78, 136, 136, 146],
            40,
            30 / 146,
            1200,
        ),
        # half of the time at twice the current: the mean is by time, and neither flows long enough
        ([40, 40, 21, 21], [0, 50, 50, 100], 30.5, 0.5, 3050),
        # many rows of a high current in a short time weigh by their time
        ([40, 40, 40, 40, 21, 21], [0, 1, 2, 3, 3, 60], 1317 / 60, 1, 1317),
        # a current that falls away, as in a coil
        ([40, 35, 30, 25], [0, 10, 20, 30], 32.5, 2 / 3, 975),
        # a little less than the mean
        ([10, 10, 9.3, 9.3], [0, 49, 50, 100], 9.6465, 1, 964.65),
        # a spike
        ([0, 60, 20, 20, 20], None, 60, 0, 0),
        # a pause of 5 s in 100 s
        ([20, 20, 0, 0, 20, 20], [0, 50, 50, 55, 55, 100], 20, 0.95, 1900),
    ],
)
def test_load_by_hand(current_a, time_s, mean_a, flowing, charge_as):
    """Mean current by time between loaded rows, and the part of the time in which it flows."""
    if time_s is not None:  # time rises: what happens at once takes a microsecond
        time_s = [at + 1e-6 * n for n, at in enumerate(time_s)]
    got = load(current_a, time_s=time_s)
    assert got.current_a == pytest.approx(mean_a, rel=1e-4)
    assert got.flowing == pytest.approx(flowing, abs=1e-4)
    assert got.charge_ah * 3600 == pytest.approx(charge_as, rel=1e-4)


def test_just_half_is_not_loaded_and_just_nine_tenths_flow():
    """5 of 10 A are no load; 9 A flow where the mean of 11 and 9 A is 10 A."""
    half = load([10, 10, 5, 5], time_s=[0, 50, 51, 101])
    assert (half.current_a, half.flowing, half.charge_ah) == (10, 1, pytest.approx(500 / 3600))
    levels = load([11, 11, 9, 9], time_s=[0, 50, 51, 101])
    assert (levels.current_a, levels.flowing) == (10, 1)


def test_the_mean_is_by_time_also_after_a_rest():
    """Four rows of 40 A in 3 s and two of 21 A in 57 s, after a rest: 1347.5 C in 61 s."""
    got = load([0, 40, 40, 40, 40, 21, 21], time_s=[0, 1, 2, 3, 4, 5, 62])
    assert got.current_a == pytest.approx((40 * 3 + 30.5 + 21 * 57) / 61)


def test_an_offset_counts_as_no_charge_in_a_load_and_before_a_step():
    """A negative current in a pause, or at rest before the load, takes nothing off the charge."""
    assert load([20, 20, -0.2, -0.2, 20, 20]).charge_ah == load([20, 20, 0, 0, 20, 20]).charge_ah
    (one,) = discharge_log.current_steps(
        time_s=np.arange(5.0),
        voltage_v=np.array([4.1, 4.1, 4.1, 3.9, 3.9]),
        current_a=np.array([-0.05, -0.05, -0.05, 10.0, 10.0]),
        threshold_a=1.0,
        settle_s=0.0,
    )
    assert one.delivered == 0


@pytest.mark.parametrize(
    ("current_a", "rest_v"),
    [
        ([0, 0, 20, 20], 4.1),
        ([0.2, 0.2, 20, 20], 4.1),
        ([-0.2, 0.2, 20, 20], 4.1),
        ([0, 0.21, 20, 20], 4.2),
        ([0.21, 0.21, 20, 20], None),
        ([20, 20, 0, 20], None),
    ],
)
def test_rest_before_the_load(current_a, rest_v):
    """The last row before the load with no more than a hundredth of 20 A is the rest."""
    assert load(current_a, [4.2, 4.1, 3.8, 3.7]).rest_v == rest_v


@pytest.mark.parametrize(
    ("voltage_v", "current_a", "overshoot_v", "held_v"),
    [
        # what it fell in the last second, 0.1 V at most
        ([4.1, 3.8, 3.0, 2.494, 3.1], [0, 9, 9, 9, 0], 0.02, 2.594),
        ([4.1, 3.8, 2.55, 2.494, 3.1], [0, 9, 9, 9, 0], 0.02, 2.55),
        ([4.1, 3.8, 2.51, 2.494, 3.1], [0, 9, 9, 9, 0], 0.02, 2.51),
        ([4.1, 3.8, 2.5, 2.494, 3.1], [0, 9, 9, 9, 0], 0.02, 2.5),
        ([4.1, 3.8, 2.4, 2.494, 3.1], [0, 9, 9, 9, 0], 0.02, 2.4),
        ([4.1, 3.8, 2.494, 2.494, 3.1], [0, 9, 9, 9, 0], 0.0, 2.494),
        # one loaded row, the first of all
        ([2.494, 3.9, 3.9], [9, 0, 0], 0.02, 2.514),
    ],
)
def test_last_loaded_row_may_overshoot(voltage_v, current_a, overshoot_v, held_v):
    """A load stops a row late: that row counts higher, and the one before it as it is."""
    got = load(current_a, voltage_v, overshoot_v=overshoot_v)
    assert got.lowest_held_v == pytest.approx(held_v)


def test_a_row_every_ten_seconds_shows_a_tenth_of_what_the_last_second_cost():
    """From 3.0 to 2.5 V in 10 s the cell lost 0.05 V in the last second: it counts as 2.55 V."""
    got = load([9, 9, 9, 0], [4.0, 3.0, 2.5, 3.1], [0, 10, 20, 21])
    assert got.lowest_held_v == pytest.approx(2.55)


def test_a_falling_current_is_what_the_nearly_empty_cell_carried():
    """From 21.9 to 18.2 A on a straight line, the last twentieth has a mean of 18.2925 A, by hand."""
    got = load(np.linspace(21.9, 18.2, 101), np.linspace(4, 3, 101))
    assert got.current_a == pytest.approx(20.05)
    assert got.held_a == pytest.approx(18.2925)
    assert load([20.0] * 101, np.linspace(4, 3, 101)).held_a == 20.0


def curve(shift_v=0.0, digits=9):
    """A discharge of 600 rows whose voltage falls faster and faster."""
    part = np.linspace(0.0, 1.0, 600)
    volts = 4.05 - 0.7 * part - 0.4 * part**8 + shift_v * part
    return Curve(9000 * part, np.round(volts, digits), 22 + 30 * part**1.5)


def of(log, rows):
    """Return a copy of some rows of a curve; the charge counts from the first of them."""
    charge_as, voltage_v, temperature_c = (column[rows] for column in log)
    return Curve(charge_as - charge_as[0], voltage_v, temperature_c)


@pytest.mark.parametrize(
    "copy",
    [
        curve(),
        of(curve(), slice(1, None)),
        of(curve(), slice(None, -1)),
        of(curve(), slice(None, None, 2)),
        of(curve(), slice(1, None, 3)),
        of(curve(), slice(40, -30)),
        curve(shift_v=1e-6),
        curve(digits=2),
        curve()._replace(temperature_c=np.full(600, 40.0)),
    ],
)
def test_copies_are_one_discharge(copy):
    """A row more or less, every second row, another digit or temperature: still the same discharge."""
    assert same_discharge(one=curve(), other=copy)
    assert same_discharge(one=copy, other=curve())


@pytest.mark.parametrize(
    ("shift_v", "warmer_c", "same"),
    [(0.03, 0.0, False), (0.002, 0.5, False), (0.002, 0.0, True), (0.0005, 5.0, True)],
)
def test_curves_just_near_and_far(shift_v, warmer_c, same):
    """Millivolts apart they are two; by less, the temperatures decide; by next to nothing, they are one."""
    other = curve(shift_v=shift_v)
    other = other._replace(temperature_c=other.temperature_c + warmer_c)
    assert same_discharge(one=curve(), other=other) is same


def test_two_halves_of_a_discharge_share_too_little_to_compare():
    log = curve()
    assert not same_discharge(one=of(log, slice(None, 300)), other=of(log, slice(300, None)))


def test_sag_is_taken_off_by_numpy():
    """On a cell of constant resistance, the end without sag is NumPy's straight line through its rows at 0 A."""
    current_a = np.array([0.0, 10.0, 20.0, 30.0])
    voltage_v = 3.6 - 0.03 * current_a
    slope, at_rest_v = np.polyfit(current_a, voltage_v, 1)
    got = load(current_a, voltage_v)
    assert discharge_log.end_without_sag_v(
        load=got, resistance_ohm=-slope, full_v=4.2
    ) == pytest.approx(at_rest_v)
    # without a resistance the sag is that of a full cell, and too large
    careful = discharge_log.end_without_sag_v(load=got, resistance_ohm=None, full_v=4.2)
    assert careful == pytest.approx(2.7 + 30 * (4.2 - 3.0) / 20)
    assert careful > at_rest_v
    # a first row above a full cell has no sag
    assert discharge_log.end_without_sag_v(
        load=got, resistance_ohm=None, full_v=2.9
    ) == pytest.approx(2.7)


@pytest.mark.parametrize(
    ("highest_a", "offset_a"), [(0.1, 0.01), (0.5, 0.05), (2.0, 0.05), (5.0, 0.05), (12.0, 0.12)]
)
def test_offset_at_rest(highest_a, offset_a):
    """Up to 0.05 A, or a hundredth of the highest current, but never more than a tenth of it."""
    assert discharge_log.offset_a(highest_a=highest_a) == pytest.approx(offset_a)
    columns = log(current_a=with_value(np.full(12, highest_a), 1, -offset_a))
    assert faults(columns) == []
    (fault,) = faults(
        columns | {"current_a": with_value(columns["current_a"], 1, -1.01 * offset_a)}
    )
    assert fault.row == 1
    assert "charges the cell" in fault.message


def test_offset_takes_no_charge_away():
    """A negative offset at rest counts as no current."""
    columns = {"time_s": np.arange(4.0), "voltage_v": np.full(4, 4.0), "temperature_c": None}
    got = discharge_log.summary(current_a=np.array([-0.05, -0.05, 10.0, 10.0]), **columns)
    assert got == discharge_log.summary(current_a=np.array([0.0, 0.0, 10.0, 10.0]), **columns)


def test_sound_log_has_no_faults():
    """A good log is taken, with and without temperature, and with rests in it."""
    assert faults(log()) == []
    assert faults(log(temperature_c=None)) == []
    assert faults(log(current_a=with_value(np.full(12, 5.0), 4, 0.0))) == []
    # the least that counts: a millionth of a second, a thousandth of an ampere; and any voltage above 0 V
    assert faults(log(3, time_s=np.array([0.0, 1e-6, 1.0]))) == []
    assert faults(log(current_a=np.full(12, 1e-3))) == []
    assert faults(log(voltage_v=np.linspace(0.004, 0.001, 12))) == []


@pytest.mark.parametrize(("current_a", "sound"), [(1000.0, True), (1000.1, False)])
def test_a_charge_that_no_cell_holds_is_a_fault(current_a, sound):
    """1000 A for 360 s are 100 Ah, by hand: milliamperes in a column of amperes, more likely."""
    columns = log(37, current_a=np.full(37, current_a))
    found = faults(columns)
    assert [fault.column for fault in found] == ([] if sound else ["current_a"])
    assert sound or "look at the units" in found[0].message


@pytest.mark.parametrize(
    ("voltage_v", "current_a", "falls"),
    [
        (np.linspace(4.1, 3.1, 12), np.full(12, 5.0), True),
        (np.linspace(3.1, 4.1, 12), np.full(12, 5.0), False),  # a charge
        (np.full(12, 4.0), np.full(12, 5.0), False),  # a supply
        (np.full(12, 2.9), np.linspace(4.1, 3.1, 12), False),  # columns that were swapped
        (np.array([4.0, *[3.9979] * 11]), np.array([0, *[0.1] * 11]), True),  # 2 mV, from rest
        (np.array([4.0, *[3.9981] * 11]), np.array([0, *[0.1] * 11]), False),
    ],
)
def test_a_voltage_that_does_not_fall_is_no_discharge(voltage_v, current_a, falls):
    """From rest, or else from the first tenth of the load, to the last tenth, by 2 mV or more."""
    found = faults(log(voltage_v=voltage_v, current_a=current_a))
    assert [(fault.row, fault.column) for fault in found] == ([] if falls else [(0, "voltage_v")])
    assert falls or "no discharge" in found[0].message
    # another fault comes alone, because it may be the reason
    late = faults(log(time_s=np.arange(12) * 100.0, voltage_v=voltage_v, current_a=current_a))
    assert {fault.column for fault in late} == {"time_s"}


@pytest.mark.parametrize(
    ("column", "row", "value", "message"),
    [
        ("time_s", 4, 20.0, "time does not rise: 20 s after 20 s"),
        ("time_s", 4, 15.0, "time does not rise: 15 s after 20 s"),
        ("voltage_v", 5, float("nan"), "voltage is not a finite number"),
        ("current_a", 1, float("inf"), "current is not a finite number"),
        ("temperature_c", 12, float("-inf"), "temperature is not a finite number"),
        ("voltage_v", 6, 0.0, "voltage of 0 V is not above zero"),
        ("current_a", 7, -0.5, "current of -0.5 A charges the cell"),
        ("current_a", 7, -0.051, "current of -0.051 A charges the cell"),
        ("time_s", 12, 200.0, "gap of 100 s, longer than 60 s"),
    ],
)
def test_fault_names_its_row(column, row, value, message):
    """Each fault is told with the number of its row."""
    columns = log()
    columns[column] = with_value(columns[column], row, value)
    assert faults(columns) == [LogFault(row, column, message)]


@pytest.mark.parametrize(("gap_s", "fault"), [(59.9, False), (60.0, False), (60.1, True)])
def test_gap_just_below_at_and_above_the_limit(gap_s, fault):
    """A gap of just the limit is still taken."""
    columns = log(4, time_s=np.array([0.0, 10.0, 10.0 + gap_s, 20.0 + gap_s]))
    assert bool(faults(columns)) == fault


@pytest.mark.parametrize("rows", [0, 1, 2])
def test_short_log_is_a_fault(rows):
    """An empty or too short log is one fault of the whole."""
    assert faults(log(rows)) == [LogFault(0, "", f"a log needs 3 rows or more, this has {rows}")]


def test_faults_of_the_whole_log():
    """Columns of unequal length, no current at all, and a log with its sign turned are told."""
    assert faults(log(voltage_v=np.ones(11))) == [
        LogFault(0, "voltage_v", "voltage has 11 rows, time has 12")
    ]
    assert faults(log(current_a=np.zeros(12))) == [LogFault(0, "current_a", "no current flows")]
    for current_a in (-5.0, -0.5):
        (fault,) = faults(log(current_a=np.full(12, current_a)))
        assert fault.row == 1
        assert "turn the sign" in fault.message


def test_faults_are_counted_and_in_order():
    """No more faults are told than asked for, the earliest rows first."""
    columns = log(voltage_v=np.full(12, -1.0), time_s=np.zeros(12))
    got = faults(columns, most=5)
    assert len(got) == 5
    assert got == sorted(got)
    assert got[0].row == 1


def trial(current_a, voltage_v, peak_c, charge_ah=2.9, run=None, *, proves=True):
    """Make a test; unless told, each is another run."""
    number = next(RUNS) if run is None else run
    return Trial(current_a, voltage_v, peak_c, charge_ah, proves, number)


RUNS = count()


def rating(trials, **changed):
    call = {"highest_c": 80.0, "lowest_v": 2.8, "least_repeats": 1} | changed
    return discharge_log.rating_from_trials(trials=trials, **call)


def failed_at(trials):
    return discharge_log.lowest_failed_current_a(trials=trials, highest_c=80.0, lowest_v=2.8)


@pytest.mark.parametrize(
    ("peak_c", "lowest_v", "passes"),
    [
        (79.9, 2.81, True),
        (80.0, 2.80, True),
        (80.1, 2.81, False),
        (79.9, 2.79, False),
    ],
)
def test_limits_just_below_at_and_above(peak_c, lowest_v, passes):
    """A test at its limits passes, one beyond either does not."""
    trials = [trial(10.0, 3.2, 50.0), trial(20.0, lowest_v, peak_c)]
    assert rating(trials).rating_a == (20.0 if passes else 10.0)
    assert failed_at(trials) == (None if passes else 20.0)


def test_one_bad_repeat_fails_the_current_and_all_above():
    """A current passes only if all its tests and all lower currents do."""
    trials = [
        trial(30.0, 3.0, 60.0, 2.7),  # passes, but is above a current that fails
        trial(10.0, 3.2, 50.0, 3.0),
        trial(20.0, 3.1, 70.0, 2.9),
        trial(10.0, 3.2, 52.0, 2.8),
        trial(20.0, 3.1, 90.0, 2.9),
    ]
    got = rating(trials, least_repeats=2)
    assert (got.rating_a, got.repeats, got.charge_ah) == (10.0, 2, 2.8)
    assert failed_at(trials) == 20.0
    # from 52 to 90 °C the limit of 80 lies at 28/38 of the way
    assert got.estimated_current_a == pytest.approx(10.0 + 10.0 * 28.0 / 38.0)
    assert rating(trials, least_repeats=3) is None


def test_highest_repeated_current_is_rated():
    """A higher current with too few tests does not count, nor does a test that proves nothing."""
    trials = [
        trial(10.0, 3.2, 50.0),
        trial(10.0, 3.2, 50.0),
        trial(20.0, 3.1, 60.0),
        trial(20.0, 3.1, 60.0, proves=False),
        trial(30.0, 3.0, None),
        trial(30.0, 3.0, 70.0),
    ]
    got = rating(trials, least_repeats=2)
    assert (got.rating_a, got.repeats, got.estimated_current_a) == (10.0, 2, None)
    assert rating(trials, least_repeats=1).rating_a == 30.0


def test_copies_of_one_log_are_one_test():
    """Two tests of one run count once."""
    trials = [trial(10.0, 3.2, 50.0, run=-1), trial(10.0, 3.2, 50.0, run=-1)]
    assert rating(trials, least_repeats=2) is None
    assert rating(trials).repeats == 1
    assert rating([*trials, trial(10.0, 3.2, 50.0)], least_repeats=2).repeats == 2


def test_a_test_without_a_temperature_fails_by_its_voltage_alone():
    """Without a temperature a test proves nothing, but one below the lowest voltage fails."""
    assert rating([trial(10.0, 3.0, None)]) is None
    assert failed_at([trial(10.0, 3.0, None)]) is None
    trials = [trial(10.0, 3.0, 50.0), trial(20.0, 2.6, None)]
    assert failed_at(trials) == 20.0
    # from 3.0 to 2.6 V the limit of 2.8 V lies at half of the way
    assert rating(trials).estimated_current_a == pytest.approx(15.0)


def test_estimate_by_the_voltage():
    """Down from 3.0 V, the worse repeat, to 2.7 V: 2.8 V lie at two thirds; a peak at its limit is none."""
    got = rating([trial(10.0, 3.2, 80.0), trial(10.0, 3.0, 75.0), trial(20.0, 2.7, 80.0)])
    assert got.estimated_current_a == pytest.approx(10.0 + 10.0 * 2.0 / 3.0)


@given(
    st.lists(
        st.tuples(st.integers(1, 40), st.floats(2.0, 4.0), st.floats(20.0, 120.0), st.booleans()),
        min_size=1,
    )
)
def test_estimate_is_never_outside_what_was_tested(rows):
    """The rating is a tested current that kept the limits, and the estimate lies between it and a failed one."""
    trials = [trial(float(a), volts, celsius, proves=proves) for a, volts, celsius, proves in rows]
    bad = {t.current_a for t in trials if t.peak_c > 80 or t.voltage_v < 2.8}
    failing_a = failed_at(trials)
    assert failing_a == min(bad, default=None)
    good = {t.current_a for t in trials if t.proves and not any(a <= t.current_a for a in bad)}
    got = rating(trials)
    assert (got.rating_a if got else None) == max(good, default=None)
    if got and failing_a is not None:
        assert got.rating_a <= got.estimated_current_a <= failing_a
    elif got:
        assert got.estimated_current_a is None


def test_no_test_no_rating():
    """Without a test there is nothing to rate."""
    assert rating([]) is None
    assert failed_at([]) is None
