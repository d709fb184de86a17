"""A comparison is its running times side by side: each alone, ranked, and explained."""

import json
from pathlib import Path

import pytest
from msgspec import UNSET, structs

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused

EXAMPLE = QUESTIONS["running-time-comparison"].example
ONE, TWO = EXAMPLE["setups"]


def alone(ask, setup):
    return ask("running-time", **{name: value for name, value in setup.items() if name != "label"})


def rules(got):
    return {finding.rule for finding in got.findings}


def named(*setups):
    return [setup | {"label": f"setup {i}"} for i, setup in enumerate(setups)]


def test_each_is_its_own_running_time(ask):
    """Each setup has the figures, verdict, findings and defaults that it has when asked alone."""
    setups = [ONE | {"cell_rating_a": 20, "draw_length_s": 3}, TWO]
    got = ask("running-time-comparison", setups=setups)
    for setup, compared in zip(setups, got.setups, strict=True):
        own = alone(ask, setup)
        assert compared.label == setup["label"]
        assert structs.asdict(compared.figures) == {
            name: getattr(own, name) for name in compared.figures.__struct_fields__
        }
        for name in ("draws", "verdict", "limits", "headroom", "findings", "assumptions", "layout"):
            assert getattr(compared, name) == getattr(own, name)


def test_one_that_fails_leaves_the_others(ask):
    """A setup without an answer says why, has no rank, and the others are ranked without it."""
    failing = [TWO | {"chemistry": "lmo"}, ONE | {"chemistry": "lco"}]
    got = ask("running-time-comparison", setups=named(failing[0], ONE, failing[1], TWO))
    assert [one.rank for one in got.setups] == [UNSET, 2, UNSET, 1]
    assert [one.reason is UNSET for one in got.setups] == [False, True, False, True]
    assert all(one.reason for one in (got.setups[0], got.setups[2]))
    assert got.setups[0].figures is UNSET


def test_a_setup_without_a_load_is_refused(ask):
    """What is no question at all is not compared: the fault is named at its place."""
    without = {name: value for name, value in ONE.items() if name != "output_power_w"}
    with pytest.raises(Refused, match="Give exactly one load") as refused:
        ask("running-time-comparison", setups=named(TWO, without))
    assert refused.value.pointer == "/setups/1/coil_reading_ohm"


def test_none_that_answers(ask):
    """If no setup has an answer, the answer says so."""
    got = ask("running-time-comparison", setups=named(*[ONE | {"chemistry": "lco"}] * 2))
    assert all(one.rank is UNSET for one in got.setups)
    assert got.working[0].result == 0


def test_ranks(ask):
    """The longest is first; equal ones share a rank and the next one counts them."""
    setups = named(
        ONE | {"layout": "2S1P"}, ONE, ONE | {"layout": "1S2P"}, ONE | {"layout": "3S1P"}
    )
    got = ask("running-time-comparison", setups=setups)
    assert [one.rank for one in got.setups] == [2, 4, 2, 1]
    times = [step.result for step in got.working]
    assert times == sorted(times, reverse=True)


def test_two_equal_ones_are_both_first(ask):
    """The second of two equal setups is not second."""
    got = ask("running-time-comparison", setups=named(ONE, ONE, TWO))
    assert [one.rank for one in got.setups] == [2, 2, 1]
    assert [one.rank for one in ask("running-time-comparison", setups=named(ONE, ONE)).setups] == [
        1,
        1,
    ]


def test_the_pair_in_which_the_cutoff_matters_most_is_named(ask):
    """Of two packs that stop early, the sentence is about the one that leaves more, and its numbers are theirs."""
    early = [TWO | {"label": f"{volts} V", "cell_cutoff_voltage_v": volts} for volts in (3.3, 3.4)]
    got = ask("running-time-comparison", setups=[ONE | {"label": "low"}, *early])
    (said,) = [f.sentence for f in got.findings if f.rule == "cutoff-decides"]
    low, _, high = (one.figures for one in got.setups)
    ratio = low.running_time_s / high.running_time_s * 2
    assert said == (
        f"“low” runs 1 cell down to {ONE['cell_cutoff_voltage_v']:g} V and uses {low.used_capacity:.0%} of the "
        f"capacity. “3.4 V” stops 2 cells at 3.4 V and uses {high.used_capacity:.0%}. So they run "
        f"{low.running_time_s / 60:.3g} min and {high.running_time_s / 60:.3g} min, a ratio of {ratio:.2g} to 2, "
        "and not of 1 to 2."
    ).replace("%", " %")


def test_two_of_one_name(ask):
    """Two setups of one name could not be told apart."""
    with pytest.raises(Refused) as refused:
        ask("running-time-comparison", setups=[ONE, ONE])
    assert refused.value.pointer == "/setups"


def test_defaults_are_those_of_the_setups(ask):
    """The comparison lists each default of its setups once."""
    got = ask("running-time-comparison", setups=[ONE, TWO | {"efficiency": 0.9}])
    of_setups = {f"setups.{a.name}" for one in got.setups for a in one.assumptions}
    listed = [assumption.name for assumption in got.assumptions]
    assert sorted(listed) == sorted(of_setups)


@pytest.mark.parametrize(
    ("one", "two", "speaks"),
    [
        ({}, {}, True),
        # the same cut-off, so that it decides nothing
        ({"cell_cutoff_voltage_v": 3.5}, {}, False),
        # almost no load: the lower cut-off uses less than a tenth more
        ({"output_power_w": 1}, {"output_power_w": 1, "cell_cutoff_voltage_v": 3.2}, False),
        # the same number of cells
        ({}, {"layout": "1S1P"}, False),
    ],
)
def test_cutoff_decides(ask, one, two, speaks):
    """The finding about the cut-off applies only to fewer cells discharged further."""
    got = ask("running-time-comparison", setups=[ONE | one, TWO | two])
    assert ("cutoff-decides" in rules(got)) is speaks


def test_one_cell_nearly_as_long_as_two(ask):
    """The example's sentence agrees with its numbers."""
    got = ask("running-time-comparison", **EXAMPLE)
    few, many = (one.figures for one in got.setups)
    (said,) = (f.sentence for f in got.findings if f.rule == "cutoff-decides")
    assert f"{few.used_capacity * 100:.0f} %" in said
    assert f"{many.used_capacity * 100:.0f} %" in said
    assert few.running_time_s > 0.7 * many.running_time_s


def test_order_of_simulated_cells(ask):
    """One cell to 2.8 V and two to 3.4 V rank as their simulations do, by published parameters."""
    tests = Path(__file__).parents[2]
    whole = json.loads((tests / "reference/running_time_chen2020.json").read_text("utf-8"))
    under = json.loads(
        (tests.parent / "service/percell/physics/data/nmc_chen2020_under_load.json").read_text(
            "utf-8"
        )
    )

    def simulated_s(rate, cutoff_v):
        return next(
            row["simulated_s"]
            for row in whole["rows"]
            if (row["load"], row["rate"], row["cutoff_v"]) == ("power", rate, cutoff_v)
        )

    cell = {
        "cell_capacity_ah": under["capacity_ah"],
        # made for its charge: such cells sag as the simulated one
        "cell_rating_a": whole["nominal_ah"],
        "cell_resistance_ohm": under["pulse_resistance_ohm"],
        "cell_resistance_after_s": 1,
        "contact_resistance_ohm": 0,
        "efficiency": 1,
    }
    for rate in (1.0, 2.0, 3.0, 4.0):
        power_w = rate * whole["nominal_ah"] * whole["nominal_v"]
        setups = named(
            cell | {"layout": "1S1P", "output_power_w": power_w, "cell_cutoff_voltage_v": 2.8},
            cell | {"layout": "2S1P", "output_power_w": power_w, "cell_cutoff_voltage_v": 3.4},
        )
        few, many = ask("running-time-comparison", setups=setups).setups
        ratio = few.figures.running_time_s / many.figures.running_time_s
        outside = simulated_s(rate, 2.8) / simulated_s(rate / 2, 3.4)
        assert ratio == pytest.approx(outside, rel=0.06)


def test_the_worst_of_all_setups_is_on_top(ask):
    """One setup over its rating makes the comparison over, and its warning is in the headline."""
    setups = [ONE | {"cell_rating_a": 5}, TWO | {"cell_rating_a": 20}]
    got = ask("running-time-comparison", setups=setups)
    assert [one.verdict for one in got.setups] == ["over_limit", "within_limit"]
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    assert "Over the limit: continuous rating" in got.headline
    assert "above its continuous rating of 5 A" in got.headline
    mild = ask("running-time-comparison", setups=[ONE | {"cell_rating_a": 20}, setups[1]])
    assert mild.verdict == "within_limit"
    unrated = ask("running-time-comparison", setups=[ONE, setups[1]])
    assert unrated.verdict == "not_judged"


def test_none_that_answers_is_not_judged(ask):
    """Without any running time nothing is called within the limits."""
    setup = ONE | {"chemistry": "lco", "cell_cutoff_voltage_v": 3.1, "cell_rating_a": 20}
    got = ask("running-time-comparison", setups=named(setup, setup))
    assert got.verdict == "not_judged"
    assert "none of them has an answer" in got.headline


FINE = {"layout": "2S1P", "cell_capacity_ah": 3, "output_power_w": 10, "cell_rating_a": 20}
# 100 W over 2 × 2.8 V at 85 % are 21 A: hand calculation
TOO_MUCH = FINE | {"output_power_w": 100, "cell_rating_a": 5, "chemistry": "lmo"}


@pytest.mark.parametrize(
    ("bad", "limit"),
    [
        (TOO_MUCH, "continuous_rating"),
        # a meter that may be off by 0.035 Ω reads 0.03 Ω: the coil may be a short circuit
        (
            {"layout": "1S1P", "cell_capacity_ah": 3, "coil_reading_ohm": 0.03, "cell_rating_a": 5},
            "available_power",
        ),
    ],
)
def test_a_load_that_is_too_much_counts_without_a_running_time(ask, bad, limit):
    """A setup that fails is judged by its load, and its verdict and its reason are on top."""
    got = ask("running-time-comparison", setups=named(bad, FINE))
    failed = got.setups[0]
    assert [one.name for one in failed.limits if one.verdict == "over_limit"] == [limit]
    assert (failed.verdict, got.verdict, got.attention) == ("over_limit", "over_limit", "warning")
    assert "“setup 0” has no running time: " in got.headline
    assert "Warning: “setup 0”: " in got.headline
    alone = ask("running-time-comparison", setups=named(bad, bad))
    assert alone.verdict == "over_limit"


def test_a_setup_without_a_running_time_is_never_within_its_limits(ask):
    """How a pack ends that could not be simulated is not known, whatever its load takes when full."""
    got = ask("running-time-comparison", setups=named(FINE | {"chemistry": "lmo"}, FINE))
    verdicts = {one.name: one.verdict for one in got.setups[0].limits}
    assert verdicts == {
        "continuous_rating": "within_limit",
        "available_power": "not_judged",
        "end_voltage": "within_limit",
        "charged_voltage": "within_limit",
        "stop_temperature": "not_judged",
    }
    (said,) = (f for f in got.findings if f.rule == "no-running-time")
    assert said.severity == "caution"
    assert said.sentence.startswith("“setup 0” has no running time: ")
    assert got.setups[0].reason.removesuffix(".")[1:] in said.sentence
    assert (got.verdict, got.attention) == ("not_judged", "caution")
    assert (
        "Not judged: available power, because there is no running time (“setup 0”)." in got.headline
    )


def test_an_unrated_setup_without_a_running_time_shows_no_headroom(ask):
    """The load of a setup without a rating is judged by everything but the rating."""
    bare = {name: value for name, value in TOO_MUCH.items() if name != "cell_rating_a"}
    (failed, _) = ask("running-time-comparison", setups=named(bare, FINE)).setups
    assert failed.limits[0].missing == "cell_rating_a"
    assert (failed.headroom, failed.worst_cell_current_a) == (UNSET, UNSET)
    (rated, _) = ask("running-time-comparison", setups=named(TOO_MUCH, FINE)).setups
    own = ask("converter-load", **{n: v for n, v in TOO_MUCH.items() if n != "cell_capacity_ah"})
    assert (rated.headroom, rated.worst_cell_current_a) == (own.headroom, own.worst_cell_current_a)
    assert rated.layout == "2S1P"
    assert "chemistry" not in {one.name for one in rated.assumptions}


def test_the_headline_says_what_it_compares(ask):
    """The setup that leads is named with its layout, load and cells, and with what was assumed of them."""
    got = ask("running-time-comparison", setups=named(FINE, FINE | {"output_power_w": 20}))
    assert (
        "“setup 0” (2S1P with cells of 3 Ah rated 20 A and 10 W at the output; assumed: cells at 25 °C, nickel "
        "manganese cobalt oxide cells, a cut-off at 3.2 V per cell and a cut-off at 2.8 V per cell for the currents) runs longest, for about "
    ) in got.headline


def test_a_warning_names_its_setup(ask):
    """A finding of one setup names it in the headline, and stays as it is among its own."""
    setups = named(FINE, FINE | {"cell_rating_a": 1})
    got = ask("running-time-comparison", setups=setups)
    (own,) = (f.sentence for f in got.setups[1].findings if f.rule == "over-rating")
    assert f"Warning: “setup 1”: {own}" in got.headline
    assert own == next(
        f.sentence for f in alone(ask, setups[1]).findings if f.rule == "over-rating"
    )


def test_a_tie_is_called_one(ask):
    """Setups that share the first rank run equally long."""
    tied = ask("running-time-comparison", setups=named(FINE, FINE)).headline
    assert " and “setup 1” (" in tied
    assert ") run equally long, for about " in tied
    assert "longest" not in tied
    shorter = FINE | {"output_power_w": 20}
    three = ask("running-time-comparison", setups=named(FINE, FINE, shorter)).headline
    assert ", and longest. " in three
