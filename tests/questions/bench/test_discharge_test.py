"""Discharge logs as a question: SciPy's sums, a known resistance, and ratings."""

import msgspec
import numpy as np
import pytest
from msgspec import UNSET
from scipy.integrate import simpson, trapezoid

from percell.questions.bench.discharge_test import QUESTION
from percell.questions.vocabulary.refusal import Refused, RefusedAll

OHM = 0.018


def log(current_a=10.0, peak_c=45.0, rows=301, label="", warm=True, run=0):
    """A cell of known resistance that rests 10 s near full, then is emptied without a pause."""
    time_s = np.arange(rows) * 2.0
    amps = np.where(time_s < 10, 0.0, current_a)
    # another run of a cell falls a little further, as real ones do: they differ by millivolts
    open_v = 4.18 - 1.05 * (1 + 0.012 * run) * np.maximum(time_s - 10, 0) / (time_s[-1] - 10)
    made = {
        "time_s": time_s.tolist(),
        "voltage_v": (open_v - OHM * amps).tolist(),
        "current_a": amps.tolist(),
    }
    if warm:
        made["temperature_c"] = (25 + (peak_c - 25) * time_s / time_s[-1]).tolist()
    return made | ({"label": label} if label else {})


def twice(current_a=10.0, peak_c=45.0, **more):
    return [log(current_a, peak_c, run=run, **more) for run in (0, 1)]


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
    # the open-circuit voltage falls by 3.6 mV in 2 s
    assert got.profile.cell_resistance_ohm == pytest.approx(OHM, abs=2e-4)
    assert got.logs[0].steps[0].current_before_a == 0


@pytest.mark.parametrize(
    ("limit_c", "rating", "failed"),
    [(44.9, None, None), (45, 10, 15), (54.9, 10, 15), (55, 15, 20), (70, 20, None)],
)
def test_rating_at_rising_current(ask, limit_c, rating, failed):
    """The highest current whose tests stay at or below the limit, and the first that does not."""
    logs = [*twice(20, 65, rows=151), *twice(10, 45), *twice(15, 55, rows=201)]
    got = ask("discharge-test", logs=logs, stop_temperature_c=limit_c)
    if rating is None:
        assert not got.rating
        assert rules(got) == ["test-too-hot", "test-proves-no-rating"]
        assert "even 10 A, the lowest current tested, exceeded the limits" in missing(got)[0]
        assert not got.profile.cell_rating_a
        return
    assert got.rating.cell_rating_a == got.profile.cell_rating_a == rating
    assert (got.rating.lowest_failed_current_a or None) == failed
    assert ("test-limit-not-met" in rules(got)) is (failed is None)
    if failed:
        assert rating <= got.rating.estimated_current_a <= failed
    assert ("test-failed-above" in rules(got)) is bool(failed)
    assert got.rating.peak_temperature_c == pytest.approx({10: 45, 15: 55, 20: 65}[rating])
    assert got.rating.start_temperature_c == 25
    kept = [one.kept_limits for one in got.logs[::2]]
    assert kept == [limit_c >= 65, limit_c >= 45, limit_c >= 55]


def test_a_lower_current_that_fails_ends_it(ask):
    """A higher current than one that failed does not count."""
    logs = [*twice(10, 45), log(15, 70, rows=201), *twice(20, 50, rows=151)]
    assert ask("discharge-test", logs=logs).rating.cell_rating_a == 10


@pytest.mark.parametrize(
    ("runs", "needed", "rated"),
    [(1, 2, False), (2, 2, True), (3, 2, True), (2, 3, False), (3, 3, True)],
)
def test_repeats(ask, runs, needed, rated):
    """As many different tests as asked for prove a current, fewer do not; noise of a load changes nothing."""
    logs = [log(10 + 0.01 * n, run=n) for n in range(runs)]
    got = ask("discharge-test", logs=logs, needed_repeats=needed)
    assert bool(got.rating) is bool(got.profile.cell_rating_a) is rated
    if rated:
        assert got.rating.repeats == runs
    else:
        (said,) = missing(got)
        count = "only one log" if runs == 1 else f"only {runs} different logs"
        assert f"{count} at 10 A, but {needed} are needed" in said


def test_no_rating_rests_on_one_test(ask):
    """A single log is no proof, whatever the caller asks for."""
    with pytest.raises(msgspec.ValidationError, match="needed_repeats"):
        ask("discharge-test", logs=[log()], needed_repeats=1)


def missing(answer):
    return [f.sentence for f in answer.findings if f.rule == "test-proves-no-rating"]


def lacks(answer):
    return [set(map(str, one.missing_for_rating)) for one in answer.logs]


def pulse(seconds=10, current_a=40.0, ohm=0.03, run=0):
    """A load of 40 A for 10 s on a full cell of 30 mΩ: the sag alone takes it to 2.95 V."""
    time_s = np.arange(seconds + 3.0)
    amps = np.where((time_s < 1) | (time_s > seconds), 0.0, current_a)
    return {
        "time_s": time_s.tolist(),
        "voltage_v": (4.15 - ohm * amps - 0.001 * run * (time_s - 1)).tolist(),
        "current_a": amps.tolist(),
        "temperature_c": (22 + 0.5 * time_s).tolist(),
    }


@pytest.mark.parametrize("stop_v", [None, 2.5, 2.9])
@pytest.mark.parametrize("capacity_ah", [None, 2.5])
def test_two_short_loads_prove_no_continuous_rating(ask, stop_v, capacity_ah):
    """Two logs of 10 s at 40 A, in which the sag reaches 2.95 V at once: neither rating nor capacity."""
    given = {"stop_voltage_v": stop_v, "cell_capacity_ah": capacity_ah}
    given = {name: value for name, value in given.items() if value}
    got = ask("discharge-test", logs=[pulse(), pulse(run=1)], **given)
    assert got.logs[0].lowest_voltage_v == pytest.approx(2.95)
    assert got.logs[0].end_voltage_without_sag_v == pytest.approx(4.15, abs=0.003)
    assert not got.rating
    assert not got.profile.cell_rating_a
    assert not got.profile.cell_capacity_ah
    assert got.profile.cell_resistance_ohm == pytest.approx(0.03, rel=0.002)
    wanted = {"end_near_empty"} | ({"enough_charge"} if capacity_ah else set())
    assert lacks(got) == [wanted, wanted]
    (said,) = missing(got)
    assert "stop before the cells are nearly empty" in said


def pulses(ohm=0.015, run=0):
    """A load of 40 A for 10 s, then 58 s of rest, until the cell of 2.5 Ah is empty."""
    on_s, off_s, current_a = 10, 58, 40.0
    time_s, amps, charge = [0.0], [0.0], [0.0]
    while charge[-1] < 2.5 * 3600:
        for seconds, current in ((on_s, current_a), (off_s, 0.0)):
            for n in range(2):
                time_s.append(time_s[-1] + (0.01 if n == 0 else seconds))
                amps.append(current)
                charge.append(charge[-1] + current * (0.01 if n == 0 else seconds))
    part = np.minimum(np.array(charge) / (2.5 * 3600), 1)
    volts = 4.15 - (1 + 0.02 * run) * part - ohm * np.array(amps)
    return {
        "time_s": time_s,
        "voltage_v": volts.tolist(),
        "current_a": amps,
        "temperature_c": (22 + 20 * part).tolist(),
    }


def test_pulses_prove_no_continuous_rating(ask):
    """40 A for 10 s in every 68 s, from full to empty, are 5.9 A: a capacity, but no rating."""
    got = ask("discharge-test", logs=[pulses(), pulses(run=1)])
    assert got.logs[0].test_current_a == 40
    assert got.logs[0].mean_current_a == pytest.approx(5.9, abs=0.05)
    assert got.logs[0].flowing_ratio == pytest.approx(10 / 68, abs=0.01)
    assert not got.rating
    assert not got.profile.cell_rating_a
    assert got.profile.cell_capacity_ah == pytest.approx(2.5, rel=0.03)
    assert lacks(got) == [{"uninterrupted_current"}] * 2
    assert "log 1 and log 2 have pauses or an unsteady current" in missing(got)[0]


def test_a_cell_begun_half_empty_proves_nothing(ask):
    """30 A for 28 s from 3.7 V deliver 0.24 Ah down to 2.5 V: neither rating nor capacity."""
    time_s = np.arange(32.0)
    amps = np.where((time_s < 2) | (time_s > 30), 0.0, 30.0)
    open_v = 3.7 - 0.75 * np.clip((time_s - 2) / 28, 0, 1)
    half = {
        "time_s": time_s.tolist(),
        "voltage_v": (open_v - 0.015 * amps).tolist(),
        "current_a": amps.tolist(),
        "temperature_c": (25 + time_s).tolist(),
    }
    again = half | {"voltage_v": [v - 1e-4 for v in half["voltage_v"]]}
    got = ask("discharge-test", logs=[half, again])
    assert got.logs[0].delivered_charge_ah == pytest.approx(0.24, abs=0.01)
    assert got.logs[0].start_open_circuit_voltage_v == 3.7
    assert lacks(got) == [{"start_near_full"}] * 2
    assert not got.rating
    assert not got.profile.cell_capacity_ah
    assert rules(got) == ["test-proves-no-rating", "test-without-capacity"]
    # who says that it was full is contradicted by the voltage
    told = ask("discharge-test", logs=[half, again], log_start="full")
    assert lacks(told) == [{"start_near_full"}] * 2
    assert not told.rating


def test_copies_of_a_log_count_once(ask):
    """The same rows twice, at another time of day and with another label, are one test."""
    one = log()
    copy = one | {"time_s": [t + 5000 for t in one["time_s"]], "label": "again"}
    got = ask("discharge-test", logs=[one, copy])
    assert not got.rating
    assert not got.logs[0].same_as_log_number
    assert got.logs[1].same_as_log_number == 1
    (said,) = missing(got)
    assert (
        "only one log at 10 A (log 2 (“again”) shows the same discharge as log 1), but 2 are needed"
        in said
    )
    assert ask("discharge-test", logs=[one, copy, log(run=1)]).rating.repeats == 2


def rows_of(one, rows):
    return {name: column[rows] for name, column in one.items()}


@pytest.mark.parametrize(
    "export",
    [
        lambda one: rows_of(one, slice(1, None)),
        lambda one: (
            {n: [*c, c[-1] if n != "time_s" else c[-1] + 2] for n, c in one.items()}
            | {"current_a": [*one["current_a"], 0.0]}
        ),
        lambda one: rows_of(one, slice(None, None, 2)),
        lambda one: one | {"voltage_v": [v + 1e-6 for v in one["voltage_v"]]},
        lambda one: one | {"voltage_v": [round(v, 2) for v in one["voltage_v"]]},
        lambda one: one | {"temperature_c": [c + 0.5 for c in one["temperature_c"]]},
    ],
)
def test_a_discharge_that_was_exported_twice_counts_once(ask, export):
    """A row less, a row of rest more, every second row, a microvolt, fewer digits: one discharge."""
    one = log()
    got = ask("discharge-test", logs=[one, export(one)])
    assert got.logs[1].same_as_log_number == 1
    assert not got.rating


def falling(current_a, end_a, run=0):
    one = log(current_a, run=run)
    amps = np.linspace(current_a, end_a, 301)
    amps[:5] = 0.0
    return one | {"current_a": amps.tolist()}


def test_a_falling_current_proves_only_what_the_empty_cell_carried(ask):
    """A coil whose current falls from 21.9 to 18.2 A proves the lowest twentieth: 18.3 A, by hand."""
    got = ask("discharge-test", logs=[falling(21.9, 18.2, run=run) for run in (0, 1)])
    assert got.rating.cell_rating_a == 18.3


def test_currents_within_a_fiftieth_are_one(ask):
    """20.0 and 20.3 A are two tests at one current, and the lower one is proved; 20.5 A is another."""
    got = ask("discharge-test", logs=[log(20, rows=151), log(20.3, rows=151, run=1)])
    assert (got.rating.cell_rating_a, got.rating.repeats) == (20, 2)
    assert not ask("discharge-test", logs=[log(20, rows=151), log(20.5, rows=151, run=1)]).rating


def test_a_failure_within_a_fiftieth_is_one_at_that_current(ask):
    """20.3 A became too hot: 20 A, the same current within the ammeter's accuracy, is not proved."""
    logs = [*twice(20, 50, rows=151), log(20.3, 70, rows=151, run=2)]
    assert not ask("discharge-test", logs=logs).rating


@pytest.mark.parametrize(
    ("stop_c", "peak_c", "raised"),
    [(60, 59, False), (90, 59, False), (90, 60, False), (60.5, 60.4, True), (90, 79, True)],
)
def test_a_test_that_became_hotter_than_60_is_over_the_limit(ask, stop_c, peak_c, raised):
    """With a limit of 90 °C a test may become 79 °C hot; the answer says to use no rating from it."""
    got = ask("discharge-test", logs=twice(20, peak_c, rows=151), stop_temperature_c=stop_c)
    assert got.rating.cell_rating_a == 20
    assert got.verdict == ("over_limit" if raised else "little_headroom")
    assert (got.limits[0].value, got.limits[0].verdict) == (60, got.verdict)
    # nor without a rating
    (alone,) = ask(
        "discharge-test", logs=[log(20, peak_c, rows=151)], stop_temperature_c=stop_c
    ).limits[:1]
    assert alone.verdict == ("over_limit" if raised else "not_judged")
    said = [f for f in got.findings if f.rule == "test-stop-raised"]
    assert bool(said) is raised
    if raised:
        assert (got.attention, said[0].severity) == ("warning", "warning")
        assert f"up to {stop_c:g} °C" in said[0].sentence
        assert said[0].sentence in got.headline


def test_a_load_that_looks_once_a_second_may_stop_a_row_late(ask):
    """A nearly empty cell fell from 2.53 to 2.46 V in the last second: the load stopped one row late."""
    logs = twice(12)
    for one in logs:
        one["time_s"][-1] = one["time_s"][-2] + 1
        one["voltage_v"][-2:] = [2.53, 2.46]
    got = ask("discharge-test", logs=logs, stop_voltage_v=2.5)
    assert got.rating.cell_rating_a == 12
    for one in logs:
        one["voltage_v"][-1] = 2.39  # more than 0.1 V is not lateness
    assert not ask("discharge-test", logs=logs, stop_voltage_v=2.5).rating


def test_the_charge_is_compared_with_the_largest_log_and_the_stated_capacity(ask):
    """10 A for 590 s under load are 1.6389 Ah: four fifths of 2.0486 Ah."""
    for capacity_ah, enough in [(None, True), (2.048, True), (2.049, False)]:
        given = {"cell_capacity_ah": capacity_ah} if capacity_ah else {}
        got = ask("discharge-test", logs=twice(), **given)
        assert bool(got.rating) is enough
        assert lacks(got)[0] == (set() if enough else {"enough_charge"})
    large = log(5, rows=841)  # 2.3 Ah
    got = ask("discharge-test", logs=[*twice(), large])
    assert lacks(got) == [{"enough_charge"}] * 2 + [set()]
    assert "log 1 and log 2 deliver less than four fifths of the charge" in missing(got)[0]


def log_charge():
    made = log()
    return trapezoid(made["current_a"], made["time_s"]) / 3600


@pytest.mark.parametrize(
    ("chemistry", "given", "rest_v", "full"),
    [
        ("nmc", {}, 4.1, True),
        ("nmc", {}, 4.099, False),
        ("nmc", {"cell_charged_voltage_v": 4.1}, 4.0, True),
        ("lco_high_voltage", {}, 4.2, False),
        ("lco_high_voltage", {}, 4.25, True),
        # the flat voltage of iron phosphate must be said to be full, and can be contradicted
        ("lfp", {}, 3.36, False),
        ("lfp", {"log_start": "full"}, 3.36, True),
        ("lfp", {"log_start": "full"}, 3.29, False),
        ("nmc", {"log_start": "full"}, 3.85, True),
        ("nmc", {"log_start": "full"}, 3.84, False),
    ],
)
def test_near_full_by_the_rest_before_the_load(ask, chemistry, given, rest_v, full):
    """At rest within 0.1 V of the charged voltage; said to be full, within 0.35 V."""
    made = flat([0, 0, 10, 10], [rest_v, rest_v, 3.0, 2.5])
    got = ask("discharge-test", logs=[made], chemistry=chemistry, **given)
    assert ("start_near_full" in lacks(got)[0]) is not full


def test_a_log_that_begins_under_load(ask):
    """It is full if its first voltage, or that without sag, says so, or if the caller does."""
    bare = {name: values[5:] for name, values in log().items()}  # begins with 4.0 V at 10 A
    assert bare["voltage_v"][0] == pytest.approx(4.0)
    got = ask("discharge-test", logs=[bare])
    assert lacks(got) == [{"start_near_full"}]
    assert not got.profile.cell_capacity_ah
    assert not got.profile.cell_resistance_ohm
    said = ask("discharge-test", logs=[bare], log_start="full")
    assert lacks(said) == [set()]
    assert said.profile.cell_capacity_ah == pytest.approx(log_charge(), rel=0.01)
    assert not said.profile.cell_resistance_ohm
    assert said.logs[0].end_voltage_without_sag_v == pytest.approx(2.95 + 0.2, abs=1e-6)
    # another log shows the resistance
    both = ask("discharge-test", logs=[bare, log(5)])
    assert both.logs[0].start_open_circuit_voltage_v == pytest.approx(4.18, abs=0.01)
    assert "start_near_full" not in lacks(both)[0]
    # a small current needs none
    slow = ask("discharge-test", logs=[bare | {"voltage_v": [4.1, *bare["voltage_v"][1:]]}])
    assert lacks(slow) == [set()]


def test_a_stated_capacity_shows_that_a_log_is_whole(ask):
    """Without a rest, four fifths of the stated capacity delivered are enough for a capacity, not for a rating."""
    bare = {name: values[5:] for name, values in log().items()}
    just_ah = float(trapezoid(bare["current_a"], bare["time_s"])) / 3600 / 0.8
    for capacity_ah, known in [(2.0, True), (just_ah, True), (just_ah + 1e-6, False), (2.1, False)]:
        got = ask("discharge-test", logs=[bare], cell_capacity_ah=capacity_ah)
        assert bool(got.profile.cell_capacity_ah) is known
        assert not got.rating
        assert "start_near_full" in lacks(got)[0]


@pytest.mark.parametrize(
    ("chemistry", "end_v", "empty"),
    [("nmc", 3.0, True), ("nmc", 3.01, False), ("lfp", 2.6, True), ("lfp", 2.61, False)],
)
def test_the_end_is_judged_without_sag(ask, chemistry, end_v, empty):
    """20 mΩ at 10 A are 0.2 V: 3.2 V without sag are near empty, of iron phosphate 2.8 V."""
    made = flat([0, 10, 10, 10], [4.15, 3.95, 3.5, end_v])
    got = ask("discharge-test", logs=[made], chemistry=chemistry, settle_time_s=0, log_start="full")
    assert got.logs[0].end_voltage_without_sag_v == pytest.approx(end_v + 0.2)
    assert ("end_near_empty" in lacks(got)[0]) is not empty
    # a limit of voltage does not make a discharge whole
    high = ask(
        "discharge-test", logs=[made], chemistry=chemistry, settle_time_s=0, stop_voltage_v=3.3
    )
    assert ("end_near_empty" in lacks(high)[0]) is not empty


def test_a_higher_current_that_is_not_proved_is_named(ask):
    """10 A are rated; 20 A were tested once and without temperature, and the sentence says so."""
    logs = [*twice(10), log(20, warm=False, label="hot", rows=151)]
    got = ask("discharge-test", logs=logs)
    assert got.rating.cell_rating_a == 10
    (said,) = [f.sentence for f in got.findings if f.rule == "test-not-counted"]
    assert said == (
        "No current above 10 A is proved, because log 3 (“hot”) has no temperature and there is only one log at "
        "20 A, but 2 are needed."
    )
    assert "test-not-counted" not in rules(ask("discharge-test", logs=twice(10)))


def test_real_logs_end_below_their_limit_and_have_an_offset(ask):
    """A cycler shows −28 mA at rest, and its last row is 6 mV below the end voltage that was set."""
    logs = twice(12)
    for one in logs:
        one["current_a"][:5] = [-0.028] * 5
        one["voltage_v"][-1] = 2.494
        one["voltage_v"][-2] = 2.51
    got = ask("discharge-test", logs=logs, stop_voltage_v=2.5)
    assert [one.kept_limits for one in got.logs] == [True, True]
    assert got.logs[0].lowest_voltage_v == 2.494
    assert got.rating.cell_rating_a == 12


@pytest.mark.parametrize(
    ("lowest_v", "kept"), [(2.95, True), (2.953, True), (2.954, False), (2.99, False)]
)
def test_limit_of_voltage(ask, lowest_v, kept):
    """The row before the last is at 2.9535 V, the last at 2.95 V."""
    got = ask("discharge-test", logs=[log()], stop_voltage_v=lowest_v)
    assert got.logs[0].kept_limits is kept
    assert ask("discharge-test", logs=[log()]).logs[0].kept_limits is True


def test_without_temperature_no_rating(ask):
    """Two logs without a temperature have capacity and resistance, and no rating."""
    got = ask("discharge-test", logs=twice(warm=False, label="blue"))
    assert not got.rating
    assert lacks(got) == [{"temperature"}] * 2
    assert missing(got) == [
        "These logs prove no continuous rating, because log 1 (“blue”) and log 2 (“blue”) have no "
        "temperature."
    ]
    assert got.profile.cell_capacity_ah == pytest.approx(log_charge())
    assert got.profile.cell_resistance_ohm == pytest.approx(OHM, abs=1e-3)
    assert not got.logs[0].kept_limits
    # what is certainly beyond a limit fails without one
    low = ask("discharge-test", logs=twice(warm=False), stop_voltage_v=3.3)
    assert [one.kept_limits for one in low.logs] == [False, False]
    assert rules(low) == ["test-too-low", "test-proves-no-rating"]


def test_the_profile_has_the_least_charge_and_the_middle_resistance(ask):
    """The capacity is the least of the whole logs, the resistance the median; the spread is beside it."""
    other = log(5, rows=661)
    other["voltage_v"] = [
        v - 0.006 * a for v, a in zip(other["voltage_v"], other["current_a"], strict=True)
    ]
    got = ask("discharge-test", logs=[log(10), other], settle_time_s=0)
    assert got.profile.cell_capacity_ah == min(one.delivered_charge_ah for one in got.logs)
    found = [one.cell_resistance_ohm for one in got.logs]
    assert found == pytest.approx([OHM, OHM + 0.006], abs=5e-4)
    assert got.profile.cell_resistance_ohm == pytest.approx(sum(found) / 2)
    assert got.cell_resistance_lowest_ohm == min(found)
    assert got.cell_resistance_highest_ohm == max(found)


def test_the_profile_can_be_asked_with(ask):
    """The profile's fields are those of an assessment."""
    profile = ask("discharge-test", logs=twice()).profile
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
    made = {"time_s": [0, 1e-6, 2e-6], "voltage_v": [4, 1e-300, 4], "current_a": [0, 0.001, 0]}
    (got,) = ask("discharge-test", logs=[made]).logs
    assert 0 < got.delivered_charge_ah < 1e-9
    made["current_a"] = [0, 0.0009, 0]
    with pytest.raises(RefusedAll, match="No current"):
        ask("discharge-test", logs=[made])


def test_a_log_beyond_a_limit_failed_however_early_it_ended(ask):
    """A pulse that is too hot proves that its current fails."""
    hot = flat([0, 10, 10], [4.15, 4.0, 3.9], temperature_c=[22, 30, 61])
    got = ask("discharge-test", logs=[hot, *twice(20, rows=151)])
    assert rules(got) == ["test-too-hot", "test-proves-no-rating"]
    assert not got.rating


def test_no_rounding_hides_a_limit_that_was_exceeded(ask):
    """60.0001 °C is not rounded to a limit of 60 °C."""
    made = log(10, 60.0001)
    (said,) = (
        f.sentence for f in ask("discharge-test", logs=[made]).findings if f.rule == "test-too-hot"
    )
    assert said == "Log 1 at 10 A reached 60.0001 °C, above 60 °C."


@pytest.mark.parametrize(
    ("lowest_v", "rating_a", "failed_a"),
    [(2.7, 20, UNSET), (2.8, 10, 20), (2.9, 10, 20), (3.0, UNSET, UNSET)],
)
def test_a_rating_keeps_the_limit_of_voltage_too(ask, lowest_v, rating_a, failed_a):
    """A log that is cool enough but below the lowest voltage proves no rating."""
    # they end at 3.13 V without sag, so at 2.95 and 2.77 V
    logs = [*twice(10), *twice(20, rows=151)]
    got = ask("discharge-test", logs=logs, stop_voltage_v=lowest_v)
    assert got.profile.cell_rating_a == rating_a
    if rating_a is UNSET:
        assert got.rating is UNSET
        assert rules(got)[:2] == ["test-too-low", "test-proves-no-rating"]
    else:
        assert got.rating.lowest_failed_current_a == failed_a
        assert (got.rating.estimated_current_a is UNSET) is (failed_a is UNSET)


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
        # 10 A for 2 s, then falling to 5.2 A in 2 s: their mean is the lowest between two rows
        ([0, 10, 10, 5.2], 7.6),
    ],
)
def test_current_of_a_test_by_hand(ask, amps, test_a):
    """The lowest twentieth of the time above half of the highest current, to 0.1 A, below 2 A to 0.01 A."""
    falling_v = [4 - 0.1 * n for n in range(len(amps))]
    (got,) = ask("discharge-test", logs=[flat(amps, falling_v)]).logs
    assert got.test_current_a == test_a


@pytest.mark.parametrize(
    ("limits", "kept"),
    [
        ({}, True),
        ({"stop_temperature_c": 45}, True),
        ({"stop_temperature_c": 45 - 1e-6}, False),
        ({"stop_voltage_v": 3.3}, True),
        ({"stop_voltage_v": 3.3 + 1e-6}, False),
    ],
)
def test_limits_are_kept_up_to_the_limit(ask, limits, kept):
    """A log that ends at 3.2 V and 45 °C keeps 45 °C, and 3.3 V by a late last row; nothing stricter."""
    made = flat([10] * 3, temperature_c=[25, 40, 45])
    got = ask("discharge-test", logs=[made], **limits)
    assert got.logs[0].kept_limits is kept
    over = [f.sentence for f in got.findings if f.rule in ("test-too-hot", "test-too-low")]
    assert bool(over) is not kept
    if over and "stop_voltage_v" in limits:
        assert "reached 3.3 V, below 3.300001 V" in over[0]
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
    volts[0] += 0.05
    got = ask("discharge-test", logs=[flat(amps, volts)], settle_time_s=0, **given)
    assert got.logs[0].steps_found == found
    assert ("step_current_a" in {a.name for a in got.assumptions}) is (not given)
    assert "stop_voltage_v" in {a.name for a in got.assumptions}
    if found:
        (step,) = got.logs[0].steps
        assert (step.current_before_a, step.current_after_a) == (10, pytest.approx(10 - fallen_a))
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


@pytest.mark.parametrize("limits", [{"stop_temperature_c": 44.9}, {"stop_voltage_v": 3.31}])
def test_a_limit_that_numpy_made_is_one(limits):
    """A limit of NumPy's kind is missed as a float is, and said so."""
    asked = msgspec.convert({"logs": [flat([10] * 3, temperature_c=[25, 40, 45])]}, QUESTION.asked)
    numpys = {name: np.float64(limit) for name, limit in limits.items()}
    got = QUESTION.answer(msgspec.structs.replace(asked, **numpys))
    assert got.logs[0].kept_limits is False
    assert {"test-too-hot", "test-too-low"} & set(rules(got))


def test_the_working_shows_the_first_step(ask):
    """By hand: near half charge the current steps from 10 to 5 A after 14 s; the end is 3.9 + 0.1 V."""
    amps = [a for a in (0.0, 10.0, 5.0) for _ in range(4)]
    got = ask("discharge-test", logs=[flat(amps, [4 - 0.02 * a for a in amps])], settle_time_s=0)
    (shown,) = [step.with_numbers for step in got.working if "resistance" in step.what]
    assert shown == "1 steps, the first from 10 to 5 A at 14 s"
    (end,) = [step for step in got.working if "without sag" in step.what]
    assert end.result == pytest.approx(4.0)
    assert " A × 0.02 Ω" in end.with_numbers


@pytest.mark.parametrize(
    ("chemistry", "end_v", "kept"),
    [("nmc", 2.4, True), ("nmc", 2.39, False), ("nca", 2.6, True), ("nca", 2.59, False)],
)
def test_the_lowest_voltage_is_the_end_of_discharge_unless_given(ask, chemistry, end_v, kept):
    """2.5 V, for nickel cobalt aluminium 2.7 V, less the 0.1 V that a late last row may be lower."""
    made = flat([0, 10, 10, 10], [4.15, 4, 3, end_v], temperature_c=[22, 30, 40, 45])
    again = made | {"voltage_v": [4.15, 4, 3.1, end_v]}
    got = ask("discharge-test", logs=[made, again], chemistry=chemistry)
    assert [one.kept_limits for one in got.logs] == [kept, kept]
    assert bool(got.rating) is kept
    (taken,) = [a.value for a in got.assumptions if a.name == "stop_voltage_v"]
    assert taken == {"nmc": 2.5, "nca": 2.7}[chemistry]


def test_a_log_at_freezing_point_is_told_as_it_is(ask):
    """A peak of 0 °C is a temperature, and not one that is missing."""
    made = flat([10] * 3, [4, 3, 2.5], temperature_c=[-5, -3, 0])
    got = ask("discharge-test", logs=[made], stop_temperature_c=30, stop_voltage_v=2.8)
    assert got.logs[0].peak_temperature_c == 0
    assert got.logs[0].judged_peak_temperature_c == 30
    (limit,) = [one for one in got.limits if one.name == "stop_temperature"]
    assert limit.figure == 30


def test_limits_are_those_of_the_tests_that_prove_the_rating(ask):
    """20 A are proved within 60 °C; that 30 A were too hot is a caution, and no verdict on 20 A."""
    logs = [*twice(10, 40), *twice(20, 50, rows=151), log(30, 75, rows=101)]
    got = ask("discharge-test", logs=logs)
    assert (got.verdict, got.attention) == ("within_limit", "caution")
    temperature, voltage, _ = got.limits
    assert (temperature.figure, temperature.value) == (pytest.approx(50), 60)
    # 10 of the 35 K from the start to the limit are left
    assert temperature.headroom == pytest.approx(10 / 35)
    # of the lower log, 2 s of 290 s before the end: 4.18 − 1.05 · 1.012 · 288/290 − 20 · 0.018 V
    assert (voltage.figure, voltage.value) == (pytest.approx(2.76473, abs=1e-5), 2.5)
    assert (
        "2 logs from full to empty prove a continuous rating of 20 A within 60 °C" in got.headline
    )
    assert "Caution: Log 5 at 30 A reached 75 °C, above 60 °C." in got.headline
    near = ask("discharge-test", logs=twice(20, 57, rows=151))
    assert near.verdict == "little_headroom"


def test_a_voltage_near_its_limit_is_where_a_discharge_ends(ask):
    """2.765 V of 2.7 V allowed are within the limit: no headroom is left out."""
    got = ask("discharge-test", logs=twice(20, 50, rows=151), stop_voltage_v=2.7)
    assert got.limits[1].verdict == got.verdict == "within_limit"


def test_only_logs_that_prove_the_rating_count_for_it(ask):
    """A third log at the current with too little charge, from a colder start, changes nothing."""
    cold = log(10, 45, rows=100, run=2)
    cold["temperature_c"] = np.linspace(10, 20, 100).tolist()
    got = ask("discharge-test", logs=[*twice(10), cold], cell_capacity_ah=2)
    assert (got.rating.repeats, got.rating.start_temperature_c) == (2, 25)
    assert lacks(got)[2] == {"enough_charge"}


@pytest.mark.parametrize(("over_c", "kept"), [(1e-8, True), (1e-6, False)])
def test_noise_of_a_temperature_is_no_excess(ask, over_c, kept):
    """A billionth over the limit is floating-point noise: the log keeps it, and the verdict says so."""
    got = ask("discharge-test", logs=twice(10, 60 + over_c))
    assert got.logs[0].kept_limits is kept
    assert bool(got.rating) is kept
    assert (got.verdict == "over_limit") is not kept


@pytest.mark.parametrize(("flows_s", "enough"), [(95.0, True), (94.9, False)])
def test_the_current_flows_for_just_95_percent_of_the_time(ask, flows_s, enough):
    """20 A flow up to 95 s of 100 s; then they fall to 10.5 A, and back."""
    made = {
        "time_s": [0, flows_s, 97.5, 100],
        "voltage_v": [4.0, 3.5, 3.6, 3.0],
        "current_a": [20, 20, 10.5, 20],
        "temperature_c": [22, 30, 30, 31],
    }
    got = ask("discharge-test", logs=[made], longest_gap_s=100)
    assert got.logs[0].flowing_ratio == pytest.approx(flows_s / 100)
    assert ("uninterrupted_current" in lacks(got)[0]) is not enough


def test_limits_without_a_rating_are_not_judged(ask):
    """A pulse that stayed cool proves no limit; what exceeded one is over it."""
    cool = ask("discharge-test", logs=[pulse()])
    assert [one.verdict for one in cool.limits] == ["not_judged"] * 3
    assert (cool.verdict, cool.attention) == ("not_judged", "caution")
    assert "because no continuous rating was proved" in cool.headline
    hot = ask("discharge-test", logs=[pulse()], stop_temperature_c=25)
    assert [one.verdict for one in hot.limits] == ["over_limit", "not_judged", "not_judged"]
    assert (hot.verdict, hot.attention) == ("over_limit", "warning")
    low = ask("discharge-test", logs=[pulse()], stop_voltage_v=3.0)
    assert [one.verdict for one in low.limits] == ["not_judged", "over_limit", "not_judged"]
    blind = ask("discharge-test", logs=[log(warm=False)])
    assert blind.limits[0].missing == "temperature_c"
    assert blind.verdict == "not_judged"


@pytest.mark.parametrize(
    ("given", "begins"),
    [
        ({}, "1 discharge log; assumed: "),
        (
            {"stop_temperature_c": 70},
            "1 discharge log with a stop at 70 °C; assumed: ",
        ),
    ],
)
def test_the_headline_names_its_condition(ask, given, begins):
    """How many logs, what was given, and the chemistry that was assumed."""
    headline = ask("discharge-test", logs=[log()], **given).headline
    assert headline.startswith(begins)
    assert "assumed: nickel manganese cobalt oxide cells" in headline
    assert (
        f"within {given.get('stop_temperature_c', 60)} °C in air of 25 °C and down to 2.5 V"
        in headline
    )


def test_the_working_shows_the_first_step_that_counts_from_the_start_of_the_log(ask):
    """Two steps near half charge, in a log that starts late: the first is 14 s after its start."""
    amps = [a for a in (0.0, 10.0, 5.0, 10.0) for _ in range(4)]
    made = flat(amps, [4 - 0.02 * a for a in amps])
    late = made | {"time_s": [1000 + t for t in made["time_s"]]}
    got = ask("discharge-test", logs=[late], settle_time_s=0)
    (shown,) = [step.with_numbers for step in got.working if "resistance" in step.what]
    assert shown == "2 steps, the first from 10 to 5 A at 14 s"


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
    """Findings and working name a log by its place, counted from 1, and its label as it was given."""
    logs = [flat([3] * 3, label="Blue A"), flat([5] * 3, temperature_c=[25, 30, 70])]
    got = ask("discharge-test", logs=logs)
    said = {f.rule: f.sentence for f in got.findings}
    assert "log 1 (“Blue A”) delivers less than" in said["test-proves-no-rating"]
    assert "and has no temperature" in said["test-proves-no-rating"]
    assert said["test-proves-no-rating"].count("Blue A") == 1
    assert "log 2" not in said["test-proves-no-rating"]
    assert said["test-too-hot"] == "Log 2 at 5 A reached 70 °C, above 60 °C."
    assert "log 1 (“Blue A”) and log 2" in said["test-without-step"]
    assert [step.what.partition(":")[0] for step in got.working] == ["Log 1 (“Blue A”)"] * 4 + [
        "Log 2"
    ] * 4
    assert [step.result for step in got.working[4:]] == [
        got.logs[1].delivered_charge_ah,
        got.logs[1].delivered_energy_wh,
        got.logs[1].mean_voltage_v,
        got.logs[1].end_voltage_without_sag_v,
    ]


@pytest.mark.parametrize(
    ("rows", "accepted"), [(3, True), (100_000, True), (2, None), (100_001, None)]
)
def test_rows_of_a_log(ask, rows, accepted):
    """A log has from three to a hundred thousand rows."""
    made = flat([1.0] * rows, [4 - n / rows for n in range(rows)])
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


def chilled(start_c, peak_c, **more):
    """Return two whole discharges at 20 A that warm from one temperature to another."""
    logs = twice(20, 50, rows=151, **more)
    for one in logs:
        one["temperature_c"] = np.linspace(start_c, peak_c, 151).tolist()
    return logs


@pytest.mark.parametrize(
    ("start_c", "peak_c", "judged_c"),
    [
        # by hand: 64 K above 25 °C are 89 °C
        (-15, 49, 89),
        (15, 49, 59),
        (15, 50.1, 60.1),
        (22, 57, 60),
        (25, 60, 60),
        # a warm start is no excuse
        (30, 60, 60),
        (30, 60.1, 60.1),
    ],
)
def test_a_cold_start_proves_nothing_for_warm_air(ask, start_c, peak_c, judged_c):
    """A rating holds for air of 25 °C, in which the cell would end hotter by what its start was colder."""
    got = ask("discharge-test", logs=chilled(start_c, peak_c))
    assert [one.judged_peak_temperature_c for one in got.logs] == [pytest.approx(judged_c)] * 2
    assert [one.peak_temperature_c for one in got.logs] == [peak_c] * 2
    (limit,) = (one for one in got.limits if one.name == "stop_temperature")
    assert limit.figure == pytest.approx(judged_c)
    kept = judged_c <= 60
    assert [one.kept_limits for one in got.logs] == [kept] * 2
    assert bool(got.rating) is bool(got.profile.cell_rating_a) is kept
    assert (got.verdict == "over_limit") is not kept
    if start_c == -15:
        assert (
            "Log 1 at 20 A reached 49 °C from a start at -15 °C, so 89 °C from 25 °C, above 60 °C. "
        ).replace("-", "−") in got.headline


def test_headroom_counts_from_the_air_of_the_rating(ask):
    """By hand: 15 to 45 °C is 55 °C from 25 °C; 5 of the 35 K from there to 60 °C are left."""
    got = ask("discharge-test", logs=chilled(15, 45))
    assert got.limits[0].headroom == pytest.approx(5 / 35)


@pytest.mark.parametrize(("peak_c", "rated"), [(25.0, False), (25.49, False), (25.5, True)])
def test_a_temperature_that_does_not_rise_is_not_that_of_the_cell(ask, peak_c, rated):
    """A whole discharge at 20 A warms a cell: a column that stays where it is proves no temperature."""
    got = ask("discharge-test", logs=chilled(25.0, peak_c))
    assert bool(got.rating) is rated
    assert lacks(got) == [set() if rated else {"temperature_that_rises"}] * 2
    if not rated:
        assert got.verdict == "not_judged"
        assert missing(got) == [
            "These logs prove no continuous rating, because log 1 and log 2 have a temperature that rises by less "
            "than 0.5 K, so it may not be the cell's."
        ]


def test_a_stop_voltage_below_the_end_of_discharge_allows_nothing(ask):
    """A cell of nickel manganese cobalt oxide ends at 2.5 V, whatever the load was set to."""
    logs = twice(20, 50, rows=151)
    for one in logs:
        one["voltage_v"] = (np.array(one["voltage_v"]) - 0.4).tolist()
        one["voltage_v"][:5] = [4.18] * 5
    got = ask("discharge-test", logs=logs, stop_voltage_v=2.0)
    assert not got.rating
    (limit,) = (one for one in got.limits if one.name == "end_voltage")
    assert (limit.verdict, limit.value) == ("over_limit", 2.5)
    assert "test-too-low" in rules(got)
    assert "down to 2.5 V" in got.headline
    iron = ask("discharge-test", logs=logs, stop_voltage_v=2.0, chemistry="lfp")
    assert iron.limits[1].verdict != "over_limit"


def read_as(**changed):
    """Return how a file was read: percell's own names, but for what is changed."""
    own = {"time": ("time_s", "s"), "voltage": ("voltage_v", "V"), "current": ("current_a", "A")}
    columns = {
        f"{what}_column": {"column": name, "unit": unit, "certain": True}
        for what, (name, unit) in own.items()
    }
    return columns | {
        "discharge_negative": False,
        "separator": "comma",
        "decimal_mark": "point",
        "skipped_lines": 0,
        "ignored_columns": [],
    } | changed  # fmt: skip


def test_columns_that_were_guessed_prove_no_rating(ask):
    """Two sound logs, of which one has a guessed unit: what was guessed is said, and the other is one log."""
    sure, guess = (one | {"read_as": read_as()} for one in twice())
    assert ask("discharge-test", logs=[sure, guess]).rating.cell_rating_a == 10
    guess["read_as"] = read_as(time_column={"column": "t", "unit": "min", "certain": False})
    got = ask("discharge-test", logs=[sure, guess])
    assert not got.rating
    assert lacks(got) == [set(), {"certain_columns"}]
    (said,) = [f.sentence for f in got.findings if f.rule == "test-columns-guessed"]
    assert said == "Check what percell guessed in log 2: time from the column “t” in min."
    assert "log 2 has columns whose meaning or unit was guessed" in missing(got)[0]
    assert got.profile.cell_capacity_ah
    assert {limit.verdict for limit in got.limits} == {"not_judged"}


@pytest.mark.parametrize(
    ("rest_a", "said"),
    [
        (-0.028, "The ammeter of log 1 shows −0.028 A at rest, which counts as no current."),
        (0.028, "The ammeter of log 1 shows 0.028 A at rest, which counts as delivered charge."),
        (-0.0009, None),
    ],
)
def test_an_offset_at_rest_is_told(ask, rest_a, said):
    """From a milliampere on; the rest stays a rest, and the log proves what it proved."""
    made = log()
    made["current_a"] = [amps or rest_a for amps in made["current_a"]]
    got = ask("discharge-test", logs=[made])
    assert [f.sentence for f in got.findings if f.rule == "test-offset-at-rest"] == [said] * bool(
        said
    )
    assert got.logs[0].rest_current_a == pytest.approx(rest_a)
    assert got.logs[0].missing_for_rating == []
    assert got.logs[0].begins_under_load is False


def test_a_log_without_a_rest_says_what_is_not_known(ask):
    """It begins under load: no rest, no first resistance, no charge at the start."""
    made = rows_of(log(), slice(5, None))
    got = ask("discharge-test", logs=[made])
    assert got.logs[0].begins_under_load is True
    assert got.logs[0].rest_current_a is UNSET
    (said,) = [f.sentence for f in got.findings if f.rule == "test-begins-under-load"]
    assert (
        "The charge at the start and the resistance at the first step are therefore not known"
        in said
    )


def test_the_curve_is_some_rows_of_the_log(ask):
    """From the first loaded row to the last, up to sixty, each a row of the log, charge by NumPy."""
    made = log(rows=301)
    (got,) = ask("discharge-test", logs=[made]).logs
    t, u, i = (np.array(made[name]) for name in ("time_s", "voltage_v", "current_a"))
    charge_ah = np.r_[0, np.cumsum((i[5:][1:] + i[5:][:-1]) / 2 * np.diff(t[5:]))] / 3600
    rows = [int(np.argmin(np.abs(charge_ah - point.delivered_charge_ah))) for point in got.curve]
    assert 50 <= len(rows) <= 60
    assert (rows[0], rows[-1]) == (0, len(charge_ah) - 1)
    assert [point.voltage_v for point in got.curve] == u[5:][rows].tolist()
    assert [p.delivered_charge_ah for p in got.curve] == pytest.approx(charge_ah[rows].tolist())


def raised(by_v, current_a=6.0):
    """Two whole discharges whose voltages are all higher."""
    return [
        one | {"voltage_v": [volts + by_v for volts in one["voltage_v"]]}
        for one in twice(current_a, rows=601)
    ]


@pytest.mark.parametrize(
    ("by_v", "chemistry", "proved"),
    [(0.06, "nmc", True), (0.08, "nmc", False), (0.4, "nmc", False), (0.0, "lfp", False)],
)
def test_cells_charged_too_high_prove_no_rating(ask, by_v, chemistry, proved):
    """A start above the charged voltage of the chemistry: a warning, no rating, no capacity."""
    got = ask("discharge-test", logs=raised(by_v), chemistry=chemistry)
    assert bool(got.rating) is bool(got.profile.cell_capacity_ah) is proved
    assert got.verdict == ("within_limit" if proved else "over_limit")
    charged = got.limits[2]
    assert (charged.name, charged.verdict) == ("charged_voltage", got.verdict)
    assert charged.figure == pytest.approx(4.18 + by_v)
    assert charged.value == pytest.approx({"nmc": 4.25, "lfp": 3.7}[chemistry])
    if not proved:
        assert got.profile.measured_discharge is UNSET
        assert all("start_not_overcharged" in one for one in lacks(got))
        assert rules(got)[0] == "charging-above-full"
        assert f"Log 1 and log 2 start at up to {4.18 + by_v:.3g} V" in got.findings[0].sentence
        assert "log 1 and log 2 start above the charged voltage" in missing(got)[0]


def test_one_overcharged_log_warns_beside_a_rating(ask):
    """A third log that starts too high takes no part in the rating, and the answer is no longer within limits."""
    got = ask("discharge-test", logs=[*twice(), raised(0.4, 5.0)[0]])
    assert got.rating.cell_rating_a == 10
    assert got.verdict == "over_limit"
    assert "Log 3 starts at 4.58 V" in got.findings[0].sentence
