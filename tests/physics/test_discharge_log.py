"""A discharge log is added up without loss, and its load is found in it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import current_steps, discharge_log


def log(rows=12, **changed):
    """Make a sound log, and put other columns in."""
    columns = {
        "time_s": np.arange(rows) * 10.0,
        "voltage_v": np.linspace(4.1, 3.1, rows),
        "current_a": np.full(rows, 5.0),
        "temperature_c": np.linspace(25.0, 45.0, rows),
    }
    return columns | changed


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


@pytest.mark.parametrize(
    ("current_a", "loaded"),
    [
        ([0.02, 0.011, 0.01, 0.0], [True, True, False, False]),
        ([-3.0, 2.0, 1.0], [False, True, False]),
        ([0.0, -1.0], [False, False]),
        ([], []),
    ],
)
def test_loaded_rows_have_more_than_half_of_the_highest_current(current_a, loaded):
    """Half is not more than half, and where no current is above zero no row is loaded."""
    assert discharge_log.loaded_rows(current_a=np.array(current_a)).tolist() == loaded


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
    (one,) = current_steps.current_steps(
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


def test_offset_takes_no_charge_away():
    """A negative offset at rest counts as no current."""
    columns = {"time_s": np.arange(4.0), "voltage_v": np.full(4, 4.0), "temperature_c": None}
    got = discharge_log.summary(current_a=np.array([-0.05, -0.05, 10.0, 10.0]), **columns)
    assert got == discharge_log.summary(current_a=np.array([0.0, 0.0, 10.0, 10.0]), **columns)


@pytest.mark.parametrize(("current_a", "rest_a"), [(0.2, 0.2), (-0.2, -0.2), (0.21, None)])
def test_an_offset_at_its_limit_is_still_one_of_a_rest(current_a, rest_a):
    """A hundredth of 20 A is 0.2 A: up to that, of either sign, the ammeter shows a rest."""
    assert discharge_log.rest_current_a(current_a=np.array([current_a, 20.0])) == rest_a


def test_the_sag_of_a_load_of_one_row_is_not_lateness():
    """From 4.1 V at rest to 3.5 V in one row: only the overshoot counts, not what the load itself took."""
    got = load([0, 10, 0], [4.1, 3.5, 4.0], overshoot_v=0.02)
    assert got.lowest_held_v == pytest.approx(3.52)
