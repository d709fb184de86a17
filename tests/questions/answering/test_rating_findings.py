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
        (0.21, "carries 20 A of its continuous rating of 20 A"),
        (0.20999, "would carry 20.001 A, above its continuous rating of 20 A"),
    ],
)
def test_no_rounding_hides_a_limit(ask, coil_ohm, said):
    """A current next to its rating has enough digits to look different from it."""
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


def test_over_by_the_allowance_alone_is_said(ask):
    """A converter judged with an even share still says where the allowance would be over."""
    asked = {"layout": "1S2P", "cell_rating_a": 20, "cell_cutoff_voltage_v": 4, "efficiency": 1}
    sentences = {
        watts: {
            f.rule: f.sentence
            for f in ask("converter-load", **asked, output_power_w=watts).findings
        }
        for watts in (120, 121)
    }
    assert "above the rating" not in sentences[120]["sharing-allowance"]
    assert sentences[121]["sharing-allowance"].endswith(
        "with the allowance, above the rating; judged with an even share."
    )


def test_no_share_is_rounded_onto_the_rating(ask):
    """Beside a limit that is just passed, the even share is not printed as the limit."""
    got = ask("converter-load", layout="1S2P", cell_rating_a=20, output_power_w=95.202)
    found = {f.rule: f.sentence for f in got.findings}
    assert "over-rating" in found
    assert "20.0004 A each if evenly" in found["sharing-allowance"]


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
    ("sharing", "word"), [("even", "even"), ("allowance", "allowance"), ({"spread": 0.2}, "spread")]
)
@pytest.mark.parametrize(
    ("question_id", "load"),
    [("direct-load", {"coil_resistance_ohm": 0.1}), ("lowest-resistance", {})],
)
def test_how_cells_were_taken_to_share_is_said(ask, question_id, load, sharing, word):
    """The last clause names the way of sharing behind the verdict, and no other."""
    asked = CELL | {"layout": "1S2P"} | load
    said = sentences(ask(question_id, **asked, sharing=sharing))["sharing-allowance"]
    clause = said.rpartition(";")[2]
    assert [w for w in ("even", "allowance", "spread") if w in clause] == [word]


def test_a_judgement_by_spread_names_its_current(ask):
    """With a spread the verdict uses a third current, so the finding names it."""
    asked = CELL | {"layout": "1S2P", "coil_resistance_ohm": 0.1}
    got = ask("direct-load", **asked, sharing={"spread": 0.2})
    clause = sentences(got)["sharing-allowance"].rpartition(";")[2]
    assert f"{got.worst_cell_current_a:.3g} A" in clause


@pytest.mark.parametrize(
    ("parallel", "percent"),
    [
        # in test_sharing_by_spread.py by quadrature for two cells, by its own draws for three
        (3, "3.8 %"),
        (5, "53 %"),
        (8, "97 %"),
        (20, "more than 99 %"),
    ],
)
def test_what_was_not_seen_to_fail_is_not_called_all(ask, parallel, percent):
    """If nearly all drawn groups exceed the allowance, the finding does not say all."""
    got = ask("direct-load", layout=f"1S{parallel}P", cell_rating_a=20, coil_resistance_ohm=0.1)
    assert f" {percent} of such" in sentences(got)["sharing-rule-not-careful"]


@pytest.mark.parametrize(("parallel", "rules"), [(1, 0), (2, 1), (3, 2)])
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
def test_sharing_is_spoken_of_where_there_is_some(ask, question_id, load, parallel, rules):
    """One cell shares with none; two have an allowance; from three on the allowance is too low."""
    got = ask(question_id, **CELL | {"layout": f"1S{parallel}P"} | load)
    assert len({"sharing-allowance", "sharing-rule-not-careful"} & sentences(got).keys()) == rules


@pytest.mark.parametrize(
    ("basis", "watts", "sags"), [("under_load", 20, False), ("at_rest", 54.001, True)]
)
def test_how_a_cell_comes_below_its_end(ask, basis, watts, sags):
    """A cut-off below 2.7 V is named as set; a sag, by hand 20 A in 25 mΩ from 3.2 V, as a sag."""
    got = ask(
        "converter-load",
        **CELL,
        chemistry="nca",
        cell_cutoff_voltage_v=3.2 if sags else 2.6123,
        cutoff_basis=basis,
        efficiency=1,
        output_power_w=watts,
    )
    said = sentences(got)["cutoff-below-end"]
    assert ("sag" in said) is sags
    # as set, or with as many digits as tell the two apart
    assert re.search(r" 2\.699[0-9]{0,2} V, " if sags else r" 2\.6123 V, ", said)
    assert "2.7 V" in said


@pytest.mark.parametrize(
    ("coil_ohm", "computed"),
    [(0.1, "17.5 A."), (0.0873, "19.9996 A."), (0.0872, "20.02 A, above the rating.")],
)
def test_the_computed_current_beside_the_allowance(ask, coil_ohm, computed):
    """By hand: 0.4157 of 4.2 V over the coil, which 99 % of such groups of three stay within."""
    got = ask("direct-load", layout="1S3P", cell_rating_a=20, coil_resistance_ohm=coil_ohm)
    said = sentences(got)["sharing-rule-not-careful"]
    assert "scatter by an assumed 10 %, " in said
    assert said.endswith(f"; 99 % of them stay within a share of 0.416, which is {computed}")


def test_a_limit_for_scattered_cells(ask):
    """By hand: 4.2 V over 20 A, times 0.4157, rounded up to a thousandth: 0.088 ohm."""
    got = ask("lowest-resistance", layout="1S3P", cell_rating_a=20)
    said = sentences(got)["sharing-rule-not-careful"]
    assert "scatter by an assumed 10 %: 0.088 Ω or more; in 99 % of such groups" in said


def test_little_headroom_names_its_bound(ask):
    """By hand: 4.2 V over 0.22 ohm is 19.1 A, more than nine tenths of 20 A."""
    got = ask("direct-load", **CELL, coil_resistance_ohm=0.22)
    assert sentences(got)["little-headroom"] == (
        "The worst-case cell carries 19.1 A of its continuous rating of 20 A, so that less than "
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
    assert said.startswith("A charged voltage of 4.26 V is above the 4.2 V ")


def test_a_charged_voltage_below_says_how_much_more_it_would_carry(ask):
    """By hand: 4.2 V instead of 4 V is 1.05 times as much current in the same coil."""
    got = ask("direct-load", **CELL, coil_resistance_ohm=1, cell_charged_voltage_v=4)
    assert "each cell would carry 1.05 times as much" in sentences(got)["charged-below-chemistry"]
