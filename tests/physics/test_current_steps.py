"""The steps of the current in a log show the resistance of the cell, and noise and recovery show none."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import cumulative_trapezoid

from percell.physics import current_steps
from percell.physics.current_steps import CurrentStep
from percell.physics.errors import NoSolution


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
    got = current_steps.current_steps(
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
    got = current_steps.current_steps(
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
    got = current_steps.current_steps(
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
        return current_steps.current_steps(
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
    got = current_steps.current_steps(
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
    got = current_steps.current_steps(
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
    got = current_steps.current_steps(
        time_s=np.arange(float(len(current_a))),
        voltage_v=4.0 - 0.02 * current_a,
        current_a=current_a,
        threshold_a=4.0,
        settle_s=100.0,
    )
    assert len(got) == count


def test_a_current_that_is_back_at_its_start_shows_nothing():
    """Without any change left there is no resistance, and no division by it."""
    assert not current_steps.current_steps(
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
    assert not current_steps.current_steps(
        voltage_v=3.6 - 0.02 * current_a, current_a=current_a, **call
    )
    current_a = np.where(np.arange(200) < 100, 5.0, 10.0)
    assert not current_steps.current_steps(voltage_v=np.full(200, 3.6), current_a=current_a, **call)


def test_resistance_without_a_step_is_refused():
    """A log of one current shows no resistance."""
    with pytest.raises(NoSolution) as refused:
        current_steps.step_resistance(steps=[])
    assert refused.value.code == "no_current_step"
    assert refused.value.numbers == {"steps": 0.0}
    only = CurrentStep(0.0, 0.0, 1.0, 0.02, 0.0, 1.0)
    assert current_steps.step_resistance(steps=[only]) == (0.02, 0.02, 0.02)
    more = [only._replace(resistance_ohm=ohm) for ohm in (0.05, 0.02, 0.03, 0.04)]
    assert current_steps.step_resistance(steps=more) == pytest.approx((0.035, 0.02, 0.05))


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
    steps = current_steps.current_steps(**rest_load_rest(), threshold_a=2.0, settle_s=0.0)
    assert [step.resistance_ohm for step in steps] == pytest.approx([0.018, 0.070], rel=0.02)
    assert np.mean([step.resistance_ohm for step in steps]) == pytest.approx(0.044, rel=0.02)
    counted = current_steps.steps_near_half_charge(steps=steps, threshold_a=2.0)
    assert counted == steps[:1]
    assert current_steps.step_resistance(steps=counted).middle_ohm == pytest.approx(0.018, rel=1e-2)


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
    got = current_steps.steps_near_half_charge(steps=steps, threshold_a=1.0)
    assert got == [steps[n] for n in counted]


def test_delivered_part_is_scipys():
    """The part of the charge before a step is SciPy's cumulative trapezoid there over all of it."""
    draw = np.random.default_rng(5)
    time_s = np.cumsum(draw.uniform(0.5, 2.0, 60))
    current_a = np.where(np.arange(60) % 10 < 5, 0.0, draw.uniform(8.0, 12.0, 60))
    steps = current_steps.current_steps(
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
