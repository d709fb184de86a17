"""Discharge logs as a question: SciPy's sums, a known resistance, and ratings."""

import msgspec
import numpy as np
import pytest
from msgspec import UNSET
from scipy.integrate import simpson, trapezoid

from percell.questions.bench.discharge_test import QUESTION
from percell.questions.vocabulary.refusal import Refused, RefusedAll

OHM = 0.018


def log(current_a=10.0, peak_c=45.0, rows=301, label="", warm=True):
    """A cell of known resistance that rests 10 s, then discharges until its voltage is down."""
    time_s = np.arange(rows) * 2.0
    amps = np.where(time_s < 10, 0.0, current_a)
    open_v = 4.2 - 1.0 * np.maximum(time_s - 10, 0) / time_s[-1]
    made = {
        "time_s": time_s.tolist(),
        "voltage_v": (open_v - OHM * amps).tolist(),
        "current_a": amps.tolist(),
    }
    if warm:
        made["temperature_c"] = (22 + (peak_c - 22) * time_s / time_s[-1]).tolist()
    return made | ({"label": label} if label else {})


def rules(answer):
    return [finding.rule for finding in answer.findings]


def test_sums_by_trapezoid_and_simpson_of_scipy(ask):
    """Charge and energy are SciPy's; the mean voltage is energy over charge."""
    made = log()
    (got,) = ask("discharge-test", logs=[made]).logs
    t, u, i = (np.array(made[name]) for name in ("time_s", "voltage_v", "current_a"))
    assert got.delivered_charge_ah == pytest.approx(trapezoid(i, t) / 3600)
    assert got.delivered_energy_wh == pytest.approx(trapezoid(u * i, t) / 3600)
    assert got.delivered_energy_wh == pytest.approx(simpson(u * i, x=t) / 3600, rel=2e-3)
    assert got.mean_voltage_v == pytest.approx(got.delivered_energy_wh / got.delivered_charge_ah)
    assert got.peak_temperature_c == pytest.approx(45)
    assert got.peak_time_s == got.duration_s == 600


def test_known_resistance(ask):
    """The step from rest shows the resistance of the log, less the slope in it."""
    got = ask("discharge-test", logs=[log()], settle_time_s=0)
    assert got.logs[0].steps_found == 1
    # the open-circuit voltage falls by 3.3 mV between the two rows
    assert got.profile.cell_resistance_ohm == pytest.approx(OHM, abs=2e-4)
    assert got.logs[0].steps[0].before_a == 0


@pytest.mark.parametrize(
    ("limit_c", "rating", "failed"),
    [(44.9, None, None), (45, 10, 15), (54.9, 10, 15), (55, 15, 20), (70, 20, None)],
)
def test_rating_at_rising_current(ask, limit_c, rating, failed):
    """The highest current whose test stays at or below the limit, and the first that does not."""
    logs = [log(20, 65), log(10, 45), log(15, 55)]
    got = ask("discharge-test", logs=logs, stop_temperature_c=limit_c)
    if rating is None:
        assert not got.rating
        assert "test-none-passed" in rules(got)
        assert not got.profile.cell_rating_a
        return
    assert got.rating.cell_rating_a == got.profile.cell_rating_a == rating
    assert (got.rating.failed_at_a or None) == failed
    assert ("test-limit-not-met" in rules(got)) is (failed is None)
    if failed:
        assert rating <= got.rating.estimate_a <= failed
    assert ("test-over-limit" in rules(got)) is bool(failed)
    kept = [one.kept_limits for one in got.logs]
    assert kept == [limit_c >= 65, limit_c >= 45, limit_c >= 55]


def test_a_lower_current_that_fails_ends_it(ask):
    """A higher current than one that failed does not count."""
    got = ask("discharge-test", logs=[log(10, 45), log(15, 70), log(20, 50)])
    assert got.rating.cell_rating_a == 10


@pytest.mark.parametrize(("repeats", "repeated"), [(1, False), (2, True), (3, True)])
def test_repeats(ask, repeats, repeated):
    """Two tests repeat a current, one does not; noise of the load does not change the current."""
    got = ask("discharge-test", logs=[log(10 + 0.01 * n) for n in range(repeats)])
    assert got.rating.repeats == repeats
    assert got.rating.repeated is repeated
    assert ("test-not-repeated" in rules(got)) is not repeated


@pytest.mark.parametrize(("lowest_v", "kept"), [(3.0, True), (3.05, False)])
def test_limit_of_voltage(ask, lowest_v, kept):
    """The log goes down to 4.2 − 590/600 − 0.18 = 3.04 V."""
    got = ask("discharge-test", logs=[log()], stop_voltage_v=lowest_v)
    assert got.logs[0].kept_limits is kept
    assert ask("discharge-test", logs=[log()]).logs[0].kept_limits is True


def test_without_temperature_no_rating(ask):
    """A log without a temperature has charge and resistance, and no rating."""
    got = ask("discharge-test", logs=[log(warm=False, label="blue")])
    assert not got.rating
    assert "test-without-temperature" in rules(got)
    assert "blue" in next(f.sentence for f in got.findings)
    assert got.profile.cell_capacity_ah > 0


def test_the_profile_is_careful(ask):
    """The profile has the least charge and the highest resistance of all logs."""
    got = ask("discharge-test", logs=[log(10), log(5)])
    assert got.profile.cell_capacity_ah == min(one.delivered_charge_ah for one in got.logs)
    assert got.profile.cell_resistance_ohm == max(one.cell_resistance_ohm for one in got.logs)


def test_the_profile_can_be_asked_with(ask):
    """The profile's fields are those of an assessment."""
    profile = ask("discharge-test", logs=[log(), log()]).profile
    known = {name: getattr(profile, name) for name in profile.__struct_fields__}
    assert ask("assessment", layout="1S1P", output_power_w=20, **known).verdict


def test_constant_current_shows_no_resistance(ask):
    """Without a step there is no resistance, and a finding says why."""
    made = log()
    flat = {name: values[5:] for name, values in made.items()}
    got = ask("discharge-test", logs=[flat])
    assert not got.profile.cell_resistance_ohm
    assert "test-without-step" in rules(got)


def test_all_faults_at_once(ask):
    """Each fault is named by a pointer into the body, up to twenty of them."""
    made = log()
    made["time_s"][5] = made["time_s"][4]
    made["voltage_v"][7] = 0.0
    made["current_a"][9] = -1.0
    made["time_s"] = made["time_s"][:100] + [t + 61 for t in made["time_s"][100:]]
    with pytest.raises(RefusedAll) as refused:
        ask("discharge-test", logs=[log(), made])
    assert [fault.pointer for fault in refused.value.faults] == [
        "/logs/1/time_s/5",
        "/logs/1/voltage_v/7",
        "/logs/1/current_a/9",
        "/logs/1/time_s/100",
    ]
    made["voltage_v"] = [0.0] * len(made["voltage_v"])
    with pytest.raises(RefusedAll, match="not above zero") as refused:
        ask("discharge-test", logs=[made])
    assert len(refused.value.faults) == 20


def test_faults_of_a_whole_log(ask):
    """Columns of unequal length, and a log with the wrong sign."""
    short = log() | {"voltage_v": [4.0] * 5}
    with pytest.raises(Refused, match="5 rows") as refused:
        ask("discharge-test", logs=[short])
    assert refused.value.pointer == "/logs/0/voltage_v"
    turned = log(-10.0)
    with pytest.raises(Refused, match="turn the sign"):
        ask("discharge-test", logs=[turned])


@pytest.mark.parametrize(("gap_s", "refused"), [(60, False), (60.1, True)])
def test_gap(ask, gap_s, refused):
    """A gap equal to the limit is accepted."""
    made = {"time_s": [0, gap_s, gap_s + 1], "voltage_v": [4, 3.9, 3.9], "current_a": [1, 1, 1]}
    if refused:
        with pytest.raises(RefusedAll, match="Gap"):
            ask("discharge-test", logs=[made])
    else:
        assert ask("discharge-test", logs=[made])


def test_least_numbers_have_finite_results(ask):
    """The smallest accepted current and shortest rows never divide by zero."""
    made = {"time_s": [0, 1e-6, 2e-6], "voltage_v": [1e-300, 4, 4], "current_a": [0.001, 0, 0]}
    (got,) = ask("discharge-test", logs=[made]).logs
    assert 0 < got.delivered_charge_ah < 1e-9
    made["current_a"] = [0.0009, 0, 0]
    with pytest.raises(RefusedAll, match="No current"):
        ask("discharge-test", logs=[made])


@pytest.mark.parametrize(
    ("last_v", "lowest_v", "is_whole"),
    [
        (3.2, None, True),
        (3.21, None, False),
        (3.9, 2.5, False),
        (3.4, 3.3, True),
        (3.41, 3.3, False),
    ],
)
def test_a_log_that_was_broken_off_proves_no_rating(ask, last_v, lowest_v, is_whole):
    """A cell is hottest at the end of a discharge, so a log without its end proves no rating."""
    made = {
        "time_s": [0, 30, 60],
        "voltage_v": [4.1, 4.0, last_v],
        "current_a": [10, 10, 10],
        "temperature_c": [22, 30, 40],
    }
    limit = {} if lowest_v is None else {"stop_voltage_v": lowest_v}
    got = ask("discharge-test", logs=[made], **limit)
    assert got.logs[0].whole_discharge is is_whole
    assert bool(got.rating) is is_whole
    assert bool(got.profile.cell_rating_a) is is_whole
    assert ("test-broken-off" in rules(got)) is not is_whole
    # a log beyond a limit failed, however early it was broken off
    hot = ask("discharge-test", logs=[made | {"temperature_c": [22, 30, 61]}], **limit)
    assert "test-broken-off" not in rules(hot)
    assert "test-none-passed" in rules(hot)


def test_no_rounding_hides_a_limit_that_was_exceeded(ask):
    """60.0001 °C is not rounded to a limit of 60 °C."""
    made = log(10, 60.0001)
    (said,) = (
        f.sentence
        for f in ask("discharge-test", logs=[made]).findings
        if f.rule == "test-over-limit"
    )
    assert "60.0001 °C, where the limit is 60 °C" in said


@pytest.mark.parametrize(
    ("lowest_v", "rating_a", "failed_a"),
    [(3.0, 10, UNSET), (3.2, 10, UNSET), (3.25, 5, 10), (3.4, UNSET, UNSET)],
)
def test_a_rating_keeps_the_limit_of_voltage_too(ask, lowest_v, rating_a, failed_a):
    """A log that is cool enough but below the lowest voltage proves no rating."""
    cool = {"temperature_c": [22, 25, 30]}
    logs = [flat([10] * 3, **cool), flat([5] * 3, (4.1, 4.0, 3.3), **cool)]
    got = ask("discharge-test", logs=logs, stop_voltage_v=lowest_v)
    assert got.profile.cell_rating_a == rating_a
    if rating_a is UNSET:
        assert got.rating is UNSET
        assert "test-none-passed" in rules(got)
    else:
        assert got.rating.failed_at_a == failed_a
        assert (got.rating.estimate_a is UNSET) is (failed_a is UNSET)


def test_a_log_broken_off_is_named(ask):
    """By its place, counted from 1, with its lowest voltage."""
    made = flat([10] * 3, temperature_c=[22, 30, 40])
    logs = [made, made | {"voltage_v": [4.1, 4.0, 3.9], "label": "red"}]
    (said,) = [
        f.sentence for f in ask("discharge-test", logs=logs).findings if f.rule == "test-broken-off"
    ]
    assert "Log 2 (red)" in said
    assert "Log 1" not in said
    assert "3.9 V" in said


def flat(amps, volts=(4.1, 4.0, 3.2), **more):
    """Return a short log of given currents, a row every 2 s."""
    return {
        "time_s": [2.0 * n for n in range(len(amps))],
        "voltage_v": list(volts) if len(volts) == len(amps) else [4.0] * len(amps),
        "current_a": list(amps),
    } | more


@pytest.mark.parametrize(
    ("amps", "test_a"),
    [
        ([10.04] * 3, 10.0),
        ([12.26] * 3, 12.3),
        ([2.0] * 3, 2.0),
        ([2.04] * 3, 2.0),
        ([1.964] * 3, 1.96),
        # currents up to half of the highest do not count
        ([0, 10, 10, 5, 4], 10.0),
        ([0, 10, 10, 5.2], 8.4),
    ],
)
def test_current_of_a_test_by_hand(ask, amps, test_a):
    """The mean of what is above half of the highest, to a tenth of an ampere, below 2 A to a hundredth."""
    (got,) = ask("discharge-test", logs=[flat(amps)]).logs
    assert got.test_current_a == test_a


@pytest.mark.parametrize(
    ("limits", "kept"),
    [
        ({}, True),
        ({"stop_temperature_c": 45}, True),
        ({"stop_temperature_c": 45 - 1e-6}, False),
        ({"stop_voltage_v": 3.2}, True),
        ({"stop_voltage_v": 3.2 + 1e-6}, False),
    ],
)
def test_limits_are_kept_up_to_the_limit(ask, limits, kept):
    """A log that ends at 3.2 V and 45 °C keeps exactly those limits, and no stricter ones."""
    made = flat([10] * 3, temperature_c=[22, 40, 45])
    got = ask("discharge-test", logs=[made], **limits)
    assert got.logs[0].kept_limits is kept
    over = [f.sentence for f in got.findings if f.rule == "test-over-limit"]
    assert bool(over) is not kept
    if over and "stop_voltage_v" in limits:
        assert "3.2 V" in over[0]
    without = ask("discharge-test", logs=[flat([10] * 3)], **limits)
    assert not without.logs[0].kept_limits
    assert without.logs[0].peak_temperature_c is without.logs[0].peak_time_s is UNSET


@pytest.mark.parametrize(
    ("fallen_a", "given", "found"),
    [
        (0.9, {}, 0),
        (1.1, {}, 1),
        (1.1, {"step_current_a": 2}, 0),
        (0.9, {"step_current_a": 0.5}, 1),
    ],
)
def test_a_step_is_a_tenth_of_the_highest_unless_given(ask, fallen_a, given, found):
    """By default a fall by more than 1 A of 10 A shows a resistance."""
    amps = [10.0] * 5 + [10 - fallen_a] * 5
    volts = [4 - 0.02 * a for a in amps]
    got = ask("discharge-test", logs=[flat(amps, volts)], settle_time_s=0, **given)
    assert got.logs[0].steps_found == found
    assert ("step_current_a" in {a.name for a in got.assumptions}) is (not given)
    assert "stop_voltage_v" in {a.name for a in got.assumptions}
    if found:
        (step,) = got.logs[0].steps
        assert (step.before_a, step.after_a) == (10, pytest.approx(10 - fallen_a))
        assert step.time_s == 8  # the last row before it
        assert got.profile.cell_resistance_ohm == pytest.approx(0.02)


@pytest.mark.parametrize(("steps", "shown"), [(19, 19), (20, 20), (21, 20), (25, 20)])
def test_twenty_steps_are_shown_and_all_are_counted(ask, steps, shown):
    """The answer lists the first twenty steps; the resistance uses all."""
    amps = [10.0 * (n % 2) for n in range(steps + 1) for _ in range(4)]
    volts = [4 - 0.02 * a for a in amps]
    (got,) = ask("discharge-test", logs=[flat(amps, volts)], settle_time_s=0).logs
    assert got.steps_found == steps
    assert len(got.steps) == shown
    assert [step.time_s for step in got.steps] == [8.0 * n + 6 for n in range(shown)]


@pytest.mark.parametrize("limits", [{"stop_temperature_c": 44.9}, {"stop_voltage_v": 3.21}])
def test_a_limit_that_numpy_made_is_one(limits):
    """A limit of NumPy's kind is missed as a float is, and said so."""
    asked = msgspec.convert({"logs": [flat([10] * 3, temperature_c=[22, 40, 45])]}, QUESTION.asked)
    numpys = {name: np.float64(limit) for name, limit in limits.items()}
    got = QUESTION.answer(msgspec.structs.replace(asked, **numpys))
    assert got.logs[0].kept_limits is False
    assert "test-over-limit" in rules(got)


def test_the_working_shows_the_first_step(ask):
    """By hand: from 0 to 10 A after 6 s, and from 10 to 5 A after 14 s."""
    amps = [a for a in (0.0, 10.0, 5.0) for _ in range(4)]
    got = ask("discharge-test", logs=[flat(amps, [4 - 0.02 * a for a in amps])], settle_time_s=0)
    (shown,) = [step.put_in for step in got.working if "resistance" in step.what]
    assert shown == "2 steps, the first from 0 to 10 A at 6 s"


def test_without_a_limit_of_voltage_none_is_kept_or_missed(ask):
    """A log that falls below 1 V keeps every limit, if none of voltage was given."""
    made = flat([10] * 3, [4, 2, 0.5], temperature_c=[22, 40, 45])
    got = ask("discharge-test", logs=[made])
    assert got.logs[0].kept_limits is True
    assert got.profile.cell_rating_a == 10


def test_a_log_at_freezing_point_is_told_as_it_is(ask):
    """A peak of 0 °C is a temperature, and not one that is missing."""
    made = flat([10] * 3, [4, 3, 2.5], temperature_c=[-5, -3, 0])
    got = ask("discharge-test", logs=[made], stop_voltage_v=2.8)
    (found,) = [f.sentence for f in got.findings if f.rule == "test-over-limit"]
    assert "peaked at 0 °C" in found


def test_times_count_from_the_first_row(ask):
    """A log that starts late has the same duration, steps and peak as one that starts at 0."""
    amps = [0.0] * 5 + [10.0] * 5
    made = flat(amps, [4 - 0.02 * a for a in amps], temperature_c=[20.0 + n for n in range(10)])
    late = made | {"time_s": [1000 + t for t in made["time_s"]]}
    one, other = (ask("discharge-test", logs=[it], settle_time_s=0).logs[0] for it in (made, late))
    assert one == other
    assert one.steps[0].time_s == 8
    assert one.peak_time_s == one.duration_s == 18


def test_logs_are_named_by_place_and_label(ask):
    """Findings and working name a log by its place, counted from 1, and its label."""
    logs = [flat([10] * 3, label="blue"), flat([5] * 3, temperature_c=[20, 30, 70])]
    got = ask("discharge-test", logs=logs)
    said = {f.rule: f.sentence for f in got.findings}
    assert "Log 1 (blue)" in said["test-without-temperature"]
    assert "Log 2 " in said["test-over-limit"]
    assert "5 A" in said["test-over-limit"]
    assert "70 °C" in said["test-over-limit"]
    assert "Log 1 (blue), Log 2" in said["test-without-step"]
    assert [step.what.partition(":")[0] for step in got.working] == ["Log 1 (blue)"] * 3 + [
        "Log 2"
    ] * 3
    assert [step.result for step in got.working[3:]] == [
        got.logs[1].delivered_charge_ah,
        got.logs[1].delivered_energy_wh,
        got.logs[1].mean_voltage_v,
    ]


@pytest.mark.parametrize(
    ("repeats", "needed", "repeated"), [(2, 3, False), (3, 3, True), (1, 1, True)]
)
def test_as_many_repeats_as_asked_for(ask, repeats, needed, repeated):
    """The caller chooses how many tests at a current are enough."""
    got = ask("discharge-test", logs=[log(10)] * repeats, needed_repeats=needed)
    assert got.rating.repeated is repeated
    said = [f.sentence for f in got.findings if f.rule == "test-not-repeated"]
    assert bool(said) is not repeated
    if said:
        assert f"{repeats} of the {needed} tests" in said[0]


@pytest.mark.parametrize(
    ("rows", "accepted"), [(3, True), (100_000, True), (2, None), (100_001, None)]
)
def test_rows_of_a_log(ask, rows, accepted):
    """A log has from three to a hundred thousand rows."""
    made = flat([1.0] * rows)
    if accepted:
        assert ask("discharge-test", logs=[made]).logs[0].rows == rows
    else:
        with pytest.raises(msgspec.ValidationError, match="length"):
            ask("discharge-test", logs=[made])


@pytest.mark.parametrize(("logs", "accepted"), [(1, True), (20, True), (0, False), (21, False)])
def test_number_of_logs(ask, logs, accepted):
    """A test has from one to twenty logs."""
    made = [flat([10] * 3)] * logs
    if accepted:
        assert len(ask("discharge-test", logs=made).logs) == logs
    else:
        with pytest.raises(msgspec.ValidationError, match="length"):
            ask("discharge-test", logs=made)
