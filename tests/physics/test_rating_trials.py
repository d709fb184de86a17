"""A rating is the highest current that enough tests prove, and none at or below it disproves."""

from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import rating_trials
from percell.physics.rating_trials import Trial


def trial(current_a, voltage_v, peak_c, charge_ah=2.9, run=None, *, proves=True):
    """Make a test; unless told, each is another run."""
    number = next(RUNS) if run is None else run
    return Trial(current_a, voltage_v, peak_c, charge_ah, proves, number)


RUNS = count()


def rating(trials, **changed):
    call = {"highest_c": 80.0, "lowest_v": 2.8, "least_repeats": 1} | changed
    return rating_trials.rating_from_trials(trials=trials, **call)


def failed_at(trials):
    return rating_trials.lowest_failed_current_a(trials=trials, highest_c=80.0, lowest_v=2.8)


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


@pytest.mark.parametrize(
    ("high_a", "one"), [(49.9, False), (50.0, True), (51.0, True), (51.1, False)]
)
def test_one_current_reaches_to_a_fiftieth_above(high_a, one):
    """From 50 A to 51 A, both included, it is one current."""
    assert rating_trials.one_current(low_a=50.0, high_a=high_a) is one
