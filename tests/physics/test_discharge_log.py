"""A discharge log is added up without loss, its steps show the resistance, its faults are named."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import discharge_log
from percell.physics.discharge_log import CurrentStep, LogFault, Trial
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
    assert [(step.before_a, step.after_a) for step in got] == [(0.0, 10.0), (10.0, 0.0)]


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
    assert [(step.before_a, step.after_a) for step in got] == steps


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
        discharge_log.step_resistance_ohm(steps=[])
    assert refused.value.code == "no_current_step"
    assert refused.value.numbers == {"steps": 0.0}
    assert discharge_log.step_resistance_ohm(steps=[CurrentStep(0.0, 0.0, 1.0, 0.02)]) == 0.02


def test_sound_log_has_no_faults():
    """A good log is taken, with and without temperature, and with rests in it."""
    assert faults(log()) == []
    assert faults(log(temperature_c=None)) == []
    assert faults(log(current_a=with_value(np.full(12, 5.0), 4, 0.0))) == []
    # the least that counts: a millionth of a second, a thousandth of an ampere; and any voltage above 0 V
    assert faults(log(3, time_s=np.array([0.0, 1e-6, 1.0]))) == []
    assert faults(log(current_a=np.full(12, 1e-3))) == []
    assert faults(log(voltage_v=np.full(12, 0.001))) == []


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
    (fault,) = faults(log(current_a=np.full(12, -5.0)))
    assert fault.row == 1
    assert "turn the sign" in fault.message


def test_faults_are_counted_and_in_order():
    """No more faults are told than asked for, the earliest rows first."""
    columns = log(voltage_v=np.full(12, -1.0), time_s=np.zeros(12))
    got = faults(columns, most=5)
    assert len(got) == 5
    assert got == sorted(got)
    assert got[0].row == 1


def rating(trials, **changed):
    call = {"highest_c": 80.0, "lowest_v": 2.8, "least_repeats": 2} | changed
    return discharge_log.rating_from_trials(trials=trials, **call)


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
    got = rating([Trial(10.0, 3.2, 50.0, 3.0), Trial(20.0, lowest_v, peak_c, 2.9)])
    assert got.rating_a == (20.0 if passes else 10.0)
    assert got.failed_at_a == (None if passes else 20.0)


def test_one_bad_repeat_fails_the_current_and_all_above():
    """A current passes only if all its tests and all lower currents do."""
    trials = [
        Trial(30.0, 3.0, 60.0, 2.7),  # passes, but stands above a current that fails
        Trial(10.0, 3.2, 50.0, 3.0),
        Trial(20.0, 3.1, 70.0, 2.9),
        Trial(10.0, 3.2, 52.0, 2.8),
        Trial(20.0, 3.1, 90.0, 2.9),
    ]
    got = rating(trials)
    assert (got.rating_a, got.repeats, got.repeated, got.charge_ah) == (10.0, 2, True, 2.8)
    assert got.failed_at_a == 20.0
    # from 52 to 90 °C the limit of 80 lies at 28/38 of the way
    assert got.estimate_a == pytest.approx(10.0 + 10.0 * 28.0 / 38.0)
    assert not rating(trials, least_repeats=3).repeated


def test_estimate_by_the_voltage():
    """Down from 3.0 V, the worse repeat, to 2.7 V: 2.8 V lie at two thirds; a peak at its limit is none."""
    got = rating(
        [Trial(10.0, 3.2, 80.0, 3.0), Trial(10.0, 3.0, 75.0, 3.0), Trial(20.0, 2.7, 80.0, 2.9)]
    )
    assert got.estimate_a == pytest.approx(10.0 + 10.0 * 2.0 / 3.0)


@given(
    st.lists(st.tuples(st.integers(1, 40), st.floats(2.0, 4.0), st.floats(20.0, 120.0)), min_size=1)
)
def test_estimate_is_never_outside_what_was_tested(rows):
    """The rating is a tested current, and the estimate lies from it up to the one that failed."""
    trials = [Trial(float(amps), volts, celsius, 2.5) for amps, volts, celsius in rows]
    lowest_a = min(trial.current_a for trial in trials)
    if any(t.current_a == lowest_a and (t.peak_c > 80 or t.lowest_voltage_v < 2.8) for t in trials):
        with pytest.raises(NoSolution) as refused:
            rating(trials)
        assert refused.value.numbers["lowest_tested_a"] == lowest_a
        return
    got = rating(trials)
    assert got.rating_a in {trial.current_a for trial in trials}
    if got.failed_at_a is None:
        assert got.estimate_a is None
        assert got.rating_a == max(trial.current_a for trial in trials)
    else:
        assert got.rating_a <= got.estimate_a <= got.failed_at_a


def test_no_test_no_rating():
    """Without a test there is nothing to rate."""
    with pytest.raises(NoSolution) as refused:
        rating([])
    assert refused.value.numbers["lowest_tested_a"] == 0.0
