"""Internal resistance from two loads: published problems, worst corner, thresholds of findings."""

import re
from itertools import product
from math import ceil

import pytest

from percell.physics.errors import NoSolution
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused

PHYSICS_2 = "OpenStax University Physics Vol. 2, m58453"
LOADS = {
    "first_voltage_v": 4.0,
    "first_current_a": 1.0,
    "second_voltage_v": 3.8,
    "second_current_a": 6.0,
}  # fmt: skip


def measured(ask, **changed):
    return ask("internal-resistance", **(LOADS | changed))


def rules(answer):
    return {finding.rule for finding in answer.findings}


@pytest.mark.parametrize(
    ("first", "second", "ohm"),
    [
        pytest.param(
            (12, 0), (10, 5), 0.400, id=f"{PHYSICS_2}, problem: 2.00 V less at 5.00 A more"
        ),
        pytest.param(
            (12, 0), (10, 20), 0.100, id=f"{PHYSICS_2}, example: 12.00 V open, 10.00 V at 20.00 A"
        ),
        pytest.param(
            (12, 0),
            (10, 200),
            0.01,
            id="OpenStax College Physics, m42357: 12.0 V open, 10.0 V at 200 A",
        ),
    ],
)
def test_published_problems(ask, first, second, ohm):
    """Two points of a published problem give its resistance, in either order.

    Their batteries are larger than one cell: a third of voltage and current has the same resistance.
    """
    first, second = ([value / 3 for value in point] for point in (first, second))
    for a, b in ((first, second), (second, first)):
        got = measured(
            ask, first_voltage_v=a[0], first_current_a=a[1], second_voltage_v=b[0],
            second_current_a=b[1],
        )  # fmt: skip
        assert got.cell_resistance_ohm == pytest.approx(ohm)


def test_bounds_are_the_worst_corner(ask):
    """No corner of the readings, of sixteen, lies outside the bounds, and two lie on them."""
    got = measured(ask, voltmeter_counts=5, ammeter_accuracy=0.01)
    corners = [
        (4.0 + s * 0.0055 - 3.8 - t * 0.0055)
        / (6.0 * (1 + u * 0.01) + u * 0.0035 - 1.0 * (1 + v * 0.01) - v * 0.0035)
        for s, t, u, v in product((-1, 1), repeat=4)
    ]
    assert got.cell_resistance_lowest_ohm == pytest.approx(min(corners))
    assert got.cell_resistance_highest_ohm == pytest.approx(max(corners))
    assert got.expanded_uncertainty_ohm < max(corners) - got.cell_resistance_ohm


@pytest.mark.parametrize(
    ("given", "most_ohm"),
    [
        # an ordinary meter: 3.5 mV at both voltages, 3.5 mA at both currents
        ({}, (0.01 + 0.007) / (0.5 - 0.007)),
        # counts that do not err still round: half a millivolt, half a milliampere
        ({"voltmeter_counts": 0, "ammeter_counts": 0}, (0.01 + 0.001) / (0.5 - 0.001)),
        (
            {"voltmeter_counts": 0, "ammeter_counts": 0, "voltmeter_resolution_v": 0.01},
            (0.01 + 0.01) / (0.5 - 0.001),
        ),
    ],
)
def test_the_last_digit_is_never_exact(ask, given, most_ohm):
    """By hand, 4.20 V at rest and 4.19 V at 0.5 A are 20 mΩ; the display alone allows more."""
    got = measured(
        ask,
        first_voltage_v=4.2,
        first_current_a=0,
        second_voltage_v=4.19,
        second_current_a=0.5,
        **given,
    )
    assert got.cell_resistance_ohm == pytest.approx(0.02)
    assert got.cell_resistance_highest_ohm == pytest.approx(most_ohm)
    up_ohm = ceil(most_ohm * 1e4) / 1e4
    assert f"is at most {up_ohm:.4f} Ω" in got.headline
    # more than a fifth, save where nothing but half a digit of 1 mV errs
    assert ("resistance-unsure" in rules(got)) is (most_ohm > 0.024)


def test_the_headline_says_which_errors_it_allows_for(ask):
    """The meters of the answer are in its headline, assumed or described."""
    assert "if each voltage is off by at most 0.0035 V and each current by at most 0.0035 A" in (
        measured(ask).headline
    )
    described = measured(ask, voltmeter_accuracy=0.0005, voltmeter_counts=2, ammeter_accuracy=0.005)
    assert "off by at most 0.05 % and 0.0025 V and each current by at most 0.5 % and 0.0035 A" in (
        described.headline
    )


@pytest.mark.parametrize(("counts", "unsure"), [(18, False), (19, False), (20, True)])
def test_unsure_above_a_fifth(ask, counts, unsure):
    """By hand, a fifth of 0.04 Ω with 3.5 mA either way: 0.048 · 4.993 − 0.2 V are 2 · 19.8 counts of 1 mV."""
    assert ("resistance-unsure" in rules(measured(ask, voltmeter_counts=counts))) is unsure


def test_a_cold_cell_is_told_with_a_minus(ask):
    """Minus signs are those of the trade's print, not hyphens."""
    got = measured(ask, cell_temperature_c=-5)
    (said,) = (f.sentence for f in got.findings if f.rule == "measured-cold-or-warm")
    assert "−5 °C" in said


@pytest.mark.parametrize(("at_c", "found"), [(14.9, True), (15, False), (25, False), (25.1, True)])
def test_temperature_of_the_test(ask, at_c, found):
    """Outside 20 ± 5 °C there is a finding (IEC 61960-2011, 7.3.1, secondary copy)."""
    assert ("measured-cold-or-warm" in rules(measured(ask, cell_temperature_c=at_c))) is found


@pytest.mark.parametrize(
    ("first", "second"),
    [
        pytest.param(
            (1, 10), (5, 1), id="IEC 61960-3: 0.2 It for 10 s, 1 It for 1 s (secondary copy)"
        )
    ],
)
def test_standard_steps(ask, first, second):
    """For 5 Ah the standard's loads are 1 A for 10 s and 5 A for 1 s; others get a finding."""
    got = measured(ask, cell_capacity_ah=5, second_current_a=5, first_time_s=10, second_time_s=1)
    steps = got.standard_steps
    assert (steps.first_current_a, steps.first_time_s) == first
    assert (steps.second_current_a, steps.second_time_s) == second
    assert "measured-otherwise" not in rules(got)
    assert "measured-otherwise" in rules(measured(ask, cell_capacity_ah=5))
    assert "measured-otherwise" in rules(measured(ask, second_time_s=1.2))


@pytest.mark.parametrize(
    ("first_time_s", "told"), [(9, False), (11, False), (8.9, True), (11.1, True)]
)
def test_a_tenth_beside_the_standard_is_still_its(ask, first_time_s, told):
    """The standard's 10 s may be 1 s longer or shorter before it is another method."""
    assert ("measured-otherwise" in rules(measured(ask, first_time_s=first_time_s))) is told


@pytest.mark.parametrize(
    ("second_time_s", "more", "given"),
    [
        # Kollmeyer, DOI 10.17632/wykht8y7tg.1: 24, 32 and 40 mΩ after 0.1, 1 and 10 s
        (0.05, 40 / 24, "0.1"),
        (0.1, 40 / 24, "0.1"),
        (1, 40 / 32, "1"),
        (10, None, ""),
        (60, None, ""),
    ],
)
def test_a_value_read_soon_goes_with_its_time(ask, second_time_s, more, given):
    """Other questions calculate with the resistance after 10 s, so a value read sooner needs its time with it."""
    got = measured(ask, second_time_s=second_time_s)
    said = [one.sentence for one in got.findings if one.rule == "resistance-read-soon"]
    if more is None:
        assert said == []
        return
    (sentence,) = said
    told = float(re.search(r"about ([0-9.]+) times", sentence)[1])
    assert told == pytest.approx(more, rel=0.03)
    assert f"also say that it was read after {given} s." in sentence


def test_a_reading_without_its_time_says_nothing_of_it(ask):
    """The default of the other questions is 10 s; nobody knows when this one was read."""
    assert "resistance-read-soon" not in rules(measured(ask))


@pytest.mark.parametrize(("earlier", "rose"), [(0.0201, False), (0.02, True), (0.0199, True)])
def test_doubled(ask, earlier, rose):
    """Twice the first value gets a finding: 0.04 Ω against just above, at and below half."""
    got = measured(ask, reference_resistance_ohm=earlier, time_between_s=2 * 365.25 * 86400)
    assert ("resistance-rose" in rules(got)) is rose
    assert got.resistance_ratio == pytest.approx(0.04 / earlier)
    assert got.change_rate == pytest.approx((0.04 / earlier - 1) / 2)


def test_what_has_no_answer(ask):
    """Equal loads, a voltage that rose, a step within the errors, a time without a first value."""
    with pytest.raises(Refused):
        measured(ask, second_current_a=1.0005)
    with pytest.raises(NoSolution, match="not lower"):
        measured(ask, second_voltage_v=4.1)
    with pytest.raises(NoSolution, match="errors of their readings"):
        measured(ask, second_current_a=1.2, second_voltage_v=3.99, ammeter_accuracy=0.2)
    with pytest.raises(Refused, match="reference_resistance_ohm"):
        measured(ask, time_between_s=86400)


def test_the_working_can_be_worked_out(ask):
    """The numbers put in give the result: sums, differences and quotients of readings."""
    got = ask("internal-resistance", **QUESTIONS["internal-resistance"].example)
    for step in got.working[:5]:
        sum_in_numbers = re.sub("[VAΩ]", "", step.with_numbers.replace("−", "-").replace("×", "*"))
        worked_out = eval(sum_in_numbers)  # noqa: S307 - the service's own working
        assert worked_out == pytest.approx(step.result, rel=1e-3), step
