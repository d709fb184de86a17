"""A load against a rating: findings about sharing, voltages, and unreachable cut-offs."""

import re

import numpy as np
import pytest

from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused

CELL = {"layout": "1S1P", "cell_rating_a": 20}


def sentences(answer):
    return {finding.rule: finding.sentence for finding in answer.findings}


@pytest.mark.parametrize(
    ("coil_ohm", "said"),
    [
        (0.21001, "carries 19.999 A of its continuous rating of 20 A"),
        (0.21, "carries 20.0 A of its continuous rating of 20 A"),
        (0.20999, "would carry 20.1 A, above its continuous rating of 20 A"),
    ],
)
def test_no_rounding_hides_a_limit(ask, coil_ohm, said):
    """A current is rounded up, but never onto its rating from below."""
    found = ask("direct-load", **CELL, coil_resistance_ohm=coil_ohm).findings
    assert said in found[0].sentence


@pytest.mark.parametrize(
    ("question_id", "load"),
    [
        ("converter-load", {"output_power_w": 20}),
        ("highest-power", {}),
        ("running-time", {"output_power_w": 20, "cell_capacity_ah": 3}),
        ("running-time", {"coil_resistance_ohm": 1, "cell_capacity_ah": 3}),
        ("layouts", {"output_power_w": 20, "cell_capacity_ah": 3, "most_cells": 2}),
        ("assessment", {"output_power_w": 20}),
        ("assessment", {"coil_resistance_ohm": 1}),
        (
            "assessment",
            {"coil_resistance_ohm": 1, "cell_capacity_ah": 3, "cell_nominal_voltage_v": 4.2},
        ),
    ],
)
def test_a_cutoff_that_is_never_reached_is_refused(ask, question_id, load):
    """A cut-off above the charged voltage would make a mild answer for a pack that never runs."""
    asked = {n: v for n, v in CELL.items() if n != "layout" or question_id != "layouts"} | load
    for reached_v in (3.5, 4.2 - 1e-9, 4.2):
        assert ask(question_id, **asked, cell_cutoff_voltage_v=reached_v)
    for never_v in (4.2 + 1e-9, 4.21, 5):
        with pytest.raises(Refused) as refused:
            ask(question_id, **asked, cell_cutoff_voltage_v=never_v)
        assert refused.value.pointer == "/cell_cutoff_voltage_v"


@pytest.mark.parametrize(
    ("cutoffs_v", "refused"),
    [
        ([2.8, 3.5], False),
        ([3.5, 4.2], False),
        ([3.5, 4.21], True),
        ([4.21, 3.5], True),
        ([4.3, 4.4], True),
    ],
)
def test_a_table_with_one_such_cutoff_is_refused(cutoffs_v, refused):
    """One cut-off that is never reached is enough, because its entry would look like an answer."""
    fixed = CELL | {"output_power_w": 20}
    axes = {"cell_cutoff_voltage_v": np.array(cutoffs_v)}
    if refused:
        with pytest.raises(Refused, match=str(max(cutoffs_v))) as error:
            figures_over(QUESTIONS["converter-load"], fixed, axes)
        assert error.value.pointer == "/cell_cutoff_voltage_v"
    else:
        got = figures_over(QUESTIONS["converter-load"], fixed, axes)
        assert np.isfinite(got.pack_current_a).all()


@pytest.mark.parametrize(
    ("watts", "over"),
    [
        # at 4 V a cell: by hand half of 160 W is 20 A, 0.592 of 135.1 W, and two thirds of 120 W
        (119, [False, False, False]),
        (121, [False, True, False]),
        (136, [False, True, True]),
        (161, [True, True, True]),
    ],
)
def test_each_way_of_sharing_says_where_it_is_over(ask, watts, over):
    """By the P − ½ rule, as drawn, and even, the worst first: each current says if it is over the rating."""
    asked = {"layout": "1S2P", "cell_rating_a": 20, "cell_cutoff_voltage_v": 4, "efficiency": 1}
    got = ask("converter-load", **asked, output_power_w=watts)
    said = sentences(got)["uneven-share"]
    ruled, drawn, even = re.findall(
        r"([0-9.]+ A(?: \(above the rating\))?) (?:only if|by|in)", said
    )
    assert ["above" in part for part in (even, ruled, drawn)] == over
    # the verdict is that of the careful share, which is the one that was drawn
    assert (got.verdict == "over_limit") is over[2]


def test_no_share_is_rounded_onto_the_rating(ask):
    """By hand: 95.198 W of 0.85 over 2.8 V are 39.998 A, which is 19.9996 A each."""
    got = ask("converter-load", layout="1S2P", cell_rating_a=20, output_power_w=95.198)
    assert "19.9996 A only if all share evenly" in sentences(got)["uneven-share"]


CHOSEN = [
    ("even", "with an even share"),
    ("allowance", "with the P − ½ rule"),
    ({"spread": 0.2}, "for a resistance spread of 20 % and 99 % of groups"),
]


@pytest.mark.parametrize(("sharing", "words"), CHOSEN)
@pytest.mark.parametrize(
    ("question_id", "load", "careful"),
    [
        # two thirds of 42 A, and 4.2 V over 30 A
        ("direct-load", {"coil_resistance_ohm": 0.1}, "28.0 A (above the rating)"),
        ("lowest-resistance", {}, "0.18 Ω or more"),
    ],
)
def test_a_chosen_sharing_is_named_beside_the_careful_one(
    ask, question_id, load, careful, sharing, words
):
    """The finding names what was asked, and the figure of the careful share."""
    got = ask(question_id, **CELL | {"layout": "1S2P"} | load, sharing=sharing)
    said = sentences(got)["sharing-chosen"]
    assert f"Calculated {words}, as asked." in said
    assert said.endswith(f"By default percell allows for unequal cells: then it is {careful}.")


@pytest.mark.parametrize(("sharing", "words"), CHOSEN)
def test_the_headline_names_a_chosen_sharing(ask, sharing, words):
    """Where no warning comes first, the caution about the sharing is in the headline; its name always is."""
    mild = ask("direct-load", **CELL | {"layout": "1S2P"}, coil_resistance_ohm=1, sharing=sharing)
    assert mild.verdict == "within_limit"
    assert mild.attention == "caution"
    assert words in mild.headline
    hard = ask("direct-load", **CELL | {"layout": "1S2P"}, coil_resistance_ohm=0.1, sharing=sharing)
    _, _, told = hard.headline.partition(". ")
    condition = told.partition(":")[0]
    assert any(word in condition for word in ("even share", "P − ½", "spread of 20 %"))


@pytest.mark.parametrize("parallel", [1, 2, 3, 20])
@pytest.mark.parametrize("sharing", ["careful", "even"])
@pytest.mark.parametrize(
    ("question_id", "load"),
    [
        ("direct-load", {"coil_resistance_ohm": 1}),
        ("converter-load", {"output_power_w": 20}),
        ("lowest-resistance", {}),
        ("highest-power", {}),
        ("pack", {"cell_capacity_ah": 3}),
    ],
)
def test_sharing_is_spoken_of_where_there_is_some(ask, question_id, load, parallel, sharing):
    """One cell shares with none; from two on the shares are named, and the way of sharing if chosen."""
    got = ask(question_id, **CELL | {"layout": f"1S{parallel}P"} | load, sharing=sharing)
    told = {"uneven-share", "sharing-chosen"} & sentences(got).keys()
    expected = {"uneven-share"} | ({"sharing-chosen"} if sharing == "even" else set())
    assert told == (expected if parallel > 1 else set())


@pytest.mark.parametrize(
    ("basis", "watts", "sags"), [("under_load", 20, False), ("at_rest", 54.001, True)]
)
def test_how_a_cell_comes_below_its_end(ask, basis, watts, sags):
    """A cut-off below 2.7 V is named as set; a sag, by hand 20 A in 55 mΩ from 3.8 V, as a sag."""
    got = ask(
        "converter-load",
        **CELL,
        chemistry="nca",
        cell_cutoff_voltage_v=3.8 if sags else 2.6123,
        cutoff_basis=basis,
        efficiency=1,
        output_power_w=watts,
        cell_resistance_ohm=0.05,
    )
    said = sentences(got)["cutoff-below-end"]
    assert ("sag" in said) is sags
    # as set, or with as many digits as tell the two apart
    assert re.search(r" 2\.699[0-9]{0,2} V, " if sags else r" 2\.6123 V, ", said)
    assert "2.7 V" in said


@pytest.mark.parametrize(
    ("coil_ohm", "computed"),
    [(0.1, "17.5 A in"), (0.0873, "19.9996 A in"), (0.0872, "20.1 A (above the rating) in")],
)
def test_the_computed_current_beside_the_others(ask, coil_ohm, computed):
    """By hand: 0.4157 of 4.2 V over the coil, which 99 % of such groups of three stay within."""
    got = ask("direct-load", layout="1S3P", cell_rating_a=20, coil_resistance_ohm=coil_ohm)
    assert f"carries {computed} 99 % of groups" in sentences(got)["uneven-share"]


def test_a_limit_for_scattered_cells(ask):
    """By hand: 4.2 V over 20 A, times 0.4157, and half a digit, up to the last digit: 0.088 ohm."""
    meter = {"meter_accuracy": 0, "meter_counts": 0, "meter_resolution_ohm": 0.001}
    got = ask("lowest-resistance", layout="1S3P", cell_rating_a=20, **meter)
    assert "0.088 Ω or more in 99 % of groups" in sentences(got)["uneven-share"]


def test_little_headroom_names_its_bound(ask):
    """By hand: 4.2 V over 0.22 ohm is 19.1 A, more than nine tenths of 20 A."""
    got = ask("direct-load", **CELL, coil_resistance_ohm=0.22)
    assert sentences(got)["little-headroom"] == (
        "The worst-case cell carries 19.1 A of its continuous rating of 20 A. Less than "
        "10 % of the rating is left."
    )


@pytest.mark.parametrize(
    ("question_id", "asked"),
    [
        ("pack", CELL | {"cell_capacity_ah": 3, "cell_charged_voltage_v": 4.26}),
        (
            "direct-load",
            CELL
            | {"coil_resistance_ohm": 1}
            | {"cell_charged_voltage_v": 4.2, "cell_charged_voltage_tolerance_v": 0.06},
        ),
    ],
)
def test_a_charged_voltage_above_is_named_with_its_tolerance(ask, question_id, asked):
    """The voltage named is the highest that a cell may have: as given, and what is allowed for on top."""
    said = sentences(ask(question_id, **asked))["charged-above-chemistry"]
    assert said.startswith("The charged voltage of 4.26 V is above 4.2 V")


def test_a_charged_voltage_below_says_how_much_more_it_would_carry(ask):
    """By hand: 4.2 V instead of 4 V is 1.05 times as much current in the same coil; a ratio is rounded up."""
    for charged_v, ratio in ((4, "1.05"), (4.1837, "1.01")):
        got = ask("direct-load", **CELL, coil_resistance_ohm=1, cell_charged_voltage_v=charged_v)
        said = sentences(got)["charged-below-chemistry"]
        assert f"each cell would carry {ratio} times as much" in said
