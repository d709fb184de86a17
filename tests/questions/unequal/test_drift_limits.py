"""What the cells of a string come to over its cycles is held to the limits of a cell."""

import re
from math import floor

import numpy as np
import pytest
from scipy.optimize import brentq

from percell.physics.curves import open_circuit_voltage_v, published_curve
from percell.questions.answering.voltage_findings import OVERCHARGE_V
from percell.questions.registry import QUESTIONS

NMC = published_curve(chemistry="nmc")
ANY = 1e-4  # Ah or V: coarser than the search for an end


def cells(*capacity_ah, **more):
    return [{"cell_capacity_ah": ah, "cell_resistance_ohm": 0.02} | more for ah in capacity_ah]


def rules(answer):
    return {finding.rule: finding for finding in answer.findings}


@pytest.mark.parametrize(
    ("limit", "rule"),
    [
        ({"cell_charged_voltage_v": 4.25}, "charged-above-chemistry"),
        ({"cell_cutoff_voltage_v": 2.4}, "cutoff-below-end"),
    ],
)
@pytest.mark.parametrize("question_id", ["series-drift", "weak-cell-drift"])
def test_limits_beyond_the_chemistry_are_said(ask, question_id, limit, rule):
    """A charged voltage above the chemistry's, and a cut-off below its end, get their findings."""
    asked = {
        "series-drift": {"cells": cells(3, 3)},
        "weak-cell-drift": {"series": 2, "cell_capacity_ah": 3, "weak_cell_capacity_ratio": 1},
    }[question_id]
    assert rule not in rules(ask(question_id, **asked, cycle_count=1))
    assert rule in rules(ask(question_id, **asked, cycle_count=1, **limit))


def test_the_first_cycle_that_goes_wrong_is_named(ask):
    """Counted from 1, each warning names the first discharge or charge at whose end it holds."""
    string = [*cells(3, 3, 3, 3), *cells(2.95, loss_ah=0.02)]
    got = ask("series-drift", cells=string, cycle_count=60)
    assert [cycle.cycle_number for cycle in got.cycles] == list(range(1, 61))
    found = rules(got)
    for rule, holds in [
        ("drift-reversal", lambda cycle: cycle.lowest_at_cutoff_v < 0),
        ("drift-over-discharge", lambda cycle: cycle.over_discharged),
        ("drift-overcharge", lambda cycle: cycle.highest_at_charged_v > 4.25),
    ]:
        first = next(cycle.cycle_number for cycle in got.cycles if holds(cycle))
        assert first > 1
        assert re.search(r"charge ([0-9]+)[ .]", found[rule].sentence)[1] == str(first), rule


@pytest.mark.parametrize(
    ("loss_ah", "highest_v", "extrapolated"),
    [(0.75, 4.204, False), (0.97, 4.249, False), (1.0, 4.255, True), (1.2, 4.303, True)],
)
def test_a_voltage_far_above_the_curve_is_called_extrapolated(
    ask, loss_ah, highest_v, extrapolated
):
    """Charged to 4.1 V, a cell at 4.2 V is overcharged but on its curve; past 4.25 V it is not on it."""
    string = [*cells(3), *cells(3, loss_ah=loss_ah)]
    got = ask("series-drift", cells=string, cycle_count=1, cell_charged_voltage_v=4.1)
    assert got.highest_at_charged_v == pytest.approx(highest_v, abs=0.001)
    said = rules(got)["drift-overcharge"].sentence
    assert ("extrapolated" in said) is extrapolated
    assert "above 4.15 V" in said


@pytest.mark.parametrize(("part", "spoken"), [(1.0, False), (1 - ANY, True), (0.8, True)])
def test_apart_from_the_first_difference_on(ask, part, spoken):
    """Equal cells get no finding; with any difference one exceeds its own limit."""
    got = ask("series-drift", cells=cells(3, 3 * part), cycle_count=1)
    assert ("string-apart" in rules(got)) is spoken


def lowest_v(ask, weak_ah):
    got = ask("series-drift", cells=cells(*[3] * 5, weak_ah), cycle_count=1)
    return got.cycles[0].lowest_at_cutoff_v, rules(got), got


@pytest.mark.parametrize(
    ("rule", "limit_v"), [("drift-reversal", 0.0), ("drift-over-discharge", 2.5)]
)
def test_deep_from_the_threshold_on(ask, rule, limit_v):
    """Just above the voltage the rule is silent, at and just below it speaks, and the flag is set."""
    at_ah = brentq(lambda ah: lowest_v(ask, ah)[0] - limit_v, 1.5, 2.999, xtol=1e-9)
    for step, spoken in [(+ANY, False), (-ANY, True), (-0.2, True)]:
        voltage_v, found, got = lowest_v(ask, at_ah + step)
        assert (voltage_v < limit_v) is spoken
        assert (rule in found) is spoken
        first = got.cycles[0]
        assert (first.reversed if limit_v == 0 else first.over_discharged) is spoken


def test_overcharge_from_the_threshold_on(ask):
    """A cell more than 0.05 V above its charged voltage is called overcharged, a lesser one not."""

    def after(loss_ah):
        string = [*cells(3), *cells(3, loss_ah=loss_ah)]
        got = ask("series-drift", cells=string, cycle_count=1)
        return got.highest_at_charged_v, rules(got)

    limit_v = 4.2 + OVERCHARGE_V
    at_ah = brentq(lambda ah: after(ah)[0] - limit_v, 0, 1, xtol=1e-9)
    for step, spoken in [(-ANY, False), (+ANY, True), (0.3, True)]:
        highest_v, found = after(at_ah + step)
        assert (highest_v > limit_v) is spoken
        assert ("drift-overcharge" in found) is spoken
        assert "string-apart" in found


def test_watching_each_cell_keeps_each_within(ask):
    """If the first cell to reach its limit ends the discharge, none exceeds its limit."""
    got = ask("series-drift", cells=cells(3, 2, loss_ah=0.01), cycle_count=5, watched="each_cell")
    assert got.lowest_at_cutoff_v >= 2.8 - 1e-5
    assert got.highest_at_charged_v <= 4.2 + 1e-5
    assert not {"string-apart", "drift-reversal", "drift-overcharge"} & rules(got).keys()


# 3 Ah and 2.94 Ah; the weak cell has 0.15 Ω, the others 0.02 Ω
RESISTING = [*cells(3, 3, 3), {"cell_capacity_ah": 2.94, "cell_resistance_ohm": 0.15}]


def limits(answer):
    return {one.name.value: one for one in answer.limits}


def lowest_by_scipy(current_a):
    """Return the lowest cell of that string when it stops, by SciPy's brentq on the sum."""
    capacity_ah = np.array([one["cell_capacity_ah"] for one in RESISTING])
    ohms = np.array([one["cell_resistance_ohm"] for one in RESISTING])

    def loaded_v(charge_ah):
        return open_circuit_voltage_v(curve=NMC, soc=1 - charge_ah / capacity_ah) - current_a * ohms

    ends = brentq(lambda charge_ah: loaded_v(charge_ah).sum() - 4 * 2.8, 0, 10, xtol=1e-12)
    return loaded_v(ends).min()


def test_with_more_resistance_a_current_is_the_harder_case(ask):
    """By SciPy the weak cell falls to 2.54 V without a current, and below 1 V under 20 A."""
    at_rest, loaded = (
        ask("series-drift", cells=RESISTING, cycle_count=1, end_discharge_current_a=amps)
        for amps in (0, 20)
    )
    assert at_rest.lowest_at_cutoff_v == pytest.approx(lowest_by_scipy(0), abs=1e-4)
    assert loaded.lowest_at_cutoff_v == pytest.approx(lowest_by_scipy(20), abs=1e-4)
    assert loaded.lowest_at_cutoff_v < 1 < at_rest.lowest_at_cutoff_v
    assert loaded.verdict == "over_limit"
    # what holds without a current proves nothing for this string under a load
    assert at_rest.verdict == "not_judged"
    assert "cell 4 sags more than the others under a load" in at_rest.headline
    assert "Cell 4 has 0.15 Ω" in rules(at_rest)["sag-not-counted"].sentence
    assert "sag-not-counted" not in rules(loaded)
    assert not any("harder" in a.origin for a in at_rest.assumptions if a.name.endswith("_a"))


@pytest.mark.parametrize(("weak_ohm", "said"), [(0.0230, False), (0.0232, True)])
def test_a_tenth_above_the_mean_is_more_resistance(ask, weak_ohm, said):
    """By hand: with two cells of 20 mΩ and x, x is 1.1 of the mean at 23.16 mΩ; it need not be the weakest."""
    string = [*cells(2.9, 3), {"cell_capacity_ah": 3, "cell_resistance_ohm": weak_ohm}]
    got = ask("series-drift", cells=string, cycle_count=1)
    assert got.weakest_cell_number == 1
    assert ("sag-not-counted" in rules(got)) is said
    assert (limits(got)["reversal"].verdict == "not_judged") is said


@pytest.mark.parametrize("weak_ohm", [0.02, 0.018])
def test_a_weak_cell_without_more_resistance_needs_no_current(ask, weak_ohm):
    """Less capacity at the same resistance, or a little less, is lowest without a current."""
    string = [*cells(3, 3), {"cell_capacity_ah": 2.8, "cell_resistance_ohm": weak_ohm}]
    assert "sag-not-counted" not in rules(ask("series-drift", cells=string, cycle_count=1))


def test_limits_have_figures(ask):
    """End voltage, reversal and charged voltage, each with what was held to it and what is left."""
    got = ask("series-drift", cells=cells(3, 3, 1), cycle_count=1)
    known = limits(got)
    assert [*known] == ["end_voltage", "reversal", "charged_voltage"]
    assert known["end_voltage"].figure == got.lowest_at_cutoff_v
    assert known["end_voltage"].headroom == pytest.approx((got.lowest_at_cutoff_v - 2.5) / 2.5)
    assert known["reversal"].figure == got.lowest_at_cutoff_v
    assert known["charged_voltage"].value == pytest.approx(4.25)
    assert known["charged_voltage"].figure == got.highest_at_charged_v
    assert (got.verdict, got.attention) == ("over_limit", "warning")


def test_like_cells_are_within_their_limits(ask):
    """A string that ends just at the end voltage is not below it, whatever the search for it leaves."""
    got = ask("series-drift", cells=cells(3, 3), cycle_count=3, cell_cutoff_voltage_v=2.5)
    assert (got.verdict, got.attention) == ("within_limit", "note")


@pytest.mark.parametrize(("volts", "rule"), [(2.4, "cell-below-end"), (4.26, "cell-above-full")])
def test_a_start_beyond_its_ends_is_over_a_limit(ask, volts, rule):
    """A cell that rests beyond its ends before the first cycle is not to be used."""
    string = [*cells(3), {"cell_capacity_ah": 3, "open_circuit_voltage_v": volts}]
    got = ask("series-drift", cells=string, cycle_count=1)
    assert rules(got)[rule].sentence.startswith("Cell 2 rests at ")
    assert got.verdict == "over_limit"


@pytest.mark.parametrize(("series", "said"), [(14, False), (15, True)])
def test_a_string_above_sixty_volts(ask, series, said):
    """14 cells are 58.8 V when full, 15 are 63 V."""
    for question, more in [
        ("series-drift", {"cells": cells(*[3] * series)}),
        ("weak-cell-drift", {"series": series, "cell_capacity_ah": 3}),
    ]:
        assert ("touch-voltage" in rules(ask(question, cycle_count=1, **more))) is said


def test_the_headline_does_not_round_onto_the_end_voltage(ask):
    """2.5004 V is above 2.5 V, and stays so in words."""
    at_ah = brentq(lambda ah: lowest_v(ask, ah)[0] - 2.5004, 1.5, 2.999, xtol=1e-9)
    got = lowest_v(ask, at_ah)[2]
    assert "2.5004 V" in got.headline
    assert "2.50 V" not in got.headline
    known = ask("series-drift", cells=cells(3, at_ah), cycle_count=1, cell_cutoff_voltage_v=2.8)
    assert limits(known)["end_voltage"].verdict == "within_limit"


def first_lowest_v(capacity_ah, cutoff_v):
    """Return the lowest cell when the sum is at its cut-off, by SciPy's root on the published curve."""
    capacity_ah = np.array(capacity_ah)

    def each_v(charge_ah):
        return open_circuit_voltage_v(curve=NMC, soc=1 - charge_ah / capacity_ah)

    charge_ah = brentq(
        lambda ah: np.sum(each_v(ah)) - len(capacity_ah) * cutoff_v, 0, 1.05 * max(capacity_ah)
    )
    return float(each_v(charge_ah).min())


@pytest.mark.parametrize("question", ["series-drift", "weak-cell-drift"])
def test_an_unknown_cut_off_proves_nothing_that_a_lower_one_exceeds(ask, question):
    """With 2.8 V assumed the weak cell stays above 2.5 V, with 2.5 V it goes far below."""
    asked = {
        "series-drift": {"cells": cells(2.94, 3, 3, 3)},
        "weak-cell-drift": {
            "series": 4,
            "cell_capacity_ah": 3,
            "weak_cell_capacity_ratio": 0.98,
        },
    }[question] | {"cycle_count": 1}
    got = ask(question, **asked)
    assert limits(got)["end_voltage"].figure == pytest.approx(
        first_lowest_v([2.94, 3, 3, 3], 2.8), abs=ANY
    )
    assert limits(got)["end_voltage"].verdict == got.verdict == "not_judged"
    at_end_v = floor(first_lowest_v([2.94, 3, 3, 3], 2.5) * 100) / 100
    assert (
        f"the lowest cell falls to {at_end_v:.2f} V" in rules(got)["drift-cutoff-assumed"].sentence
    )
    assert f"{at_end_v:.2f} V" in got.headline
    assert limits(got)["reversal"].verdict == "within_limit"
    known = ask(question, **asked, cell_cutoff_voltage_v=2.8)
    assert known.verdict == "within_limit"
    assert "drift-cutoff-assumed" not in rules(known)
    assert ask(question, **asked, cell_cutoff_voltage_v=2.5).verdict == "over_limit"


def test_an_unknown_cut_off_matters_only_where_a_lower_one_exceeds_a_limit(ask):
    """Like cells, and cells that are each watched, go no lower than the end of discharge."""
    alike = ask("series-drift", cells=cells(3, 3), cycle_count=1)
    watched = ask("series-drift", cells=cells(3, 2.8), cycle_count=1, watched="each_cell")
    for got in (alike, watched):
        assert got.verdict == "within_limit"
        assert "drift-cutoff-assumed" not in rules(got)


def test_reversal_with_an_unknown_cut_off(ask):
    """A cell that only a lower cut-off drives below zero is not judged for reversal."""
    found = set()
    for weak_ah in np.linspace(2.2, 2.9, 15):
        asked = {"cells": cells(3, 3, 3, float(weak_ah)), "cycle_count": 1}
        got = limits(ask("series-drift", **asked))["reversal"].verdict
        at_end = limits(ask("series-drift", **asked, cell_cutoff_voltage_v=2.5))["reversal"].verdict
        found.add((got.value, at_end.value))
    assert ("not_judged", "over_limit") in found
    assert ("within_limit", "over_limit") not in found


def test_the_highest_voltage_is_rounded_up(ask):
    """The example of the weak cell: what the figures say as 4.2613 V is no 4.26 V in a sentence."""
    got = ask("weak-cell-drift", **QUESTIONS["weak-cell-drift"].example)
    (high,) = [one for one in got.limits if one.name == "charged_voltage"]
    assert 4.26 < high.figure < 4.27
    assert "The highest voltage of all is 4.27 V" in rules(got)["drift-overcharge"].sentence
    assert "to 4.27 V at the end of the charge" in rules(got)["string-apart"].sentence
