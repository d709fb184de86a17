"""State of health: the ratio, and each mark just below, at and just above."""

import numpy as np
import pytest

from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused


def rules(answer):
    return {finding.rule for finding in answer.findings}


FIFTHS = "four fifths for retiring: common practice, no published source"


@pytest.mark.parametrize(
    ("capacity_ah", "reference_ah", "mark"),
    [
        pytest.param(now, new, mark, id=f"{FIFTHS}: {now:.9g} of {new} Ah")
        for now, new, mark in [
            (2.0 * (1 + 1e-6), 2.5, "above_mark"),
            (2.0, 2.5, "mark_reached"),
            (2.0 * (1 - 1e-6), 2.5, "mark_reached"),
            (2.401, 3, "above_mark"),
            (2.4, 3, "mark_reached"),
            (2.399, 3, "mark_reached"),
            (0, 3, "mark_reached"),
            (2.5, 2.5, "above_mark"),
            (2.5 * (1 + 1e-6), 2.5, "more_than_reference"),
        ]
    ],
)
def test_mark(ask, capacity_ah, reference_ah, mark):
    """A cell at four fifths has reached the mark, one at its first capacity is not above it."""
    got = ask("cell-health", measured_capacity_ah=capacity_ah, reference_capacity_ah=reference_ah)
    assert got.health_mark == mark
    assert ("capacity-fell" in rules(got)) is (mark == "mark_reached")
    assert ("above-reference" in rules(got)) is (mark == "more_than_reference")
    # 133 % is no good news, so the headline says to measure again
    assert ("Caution: Measure again" in got.headline) is (mark == "more_than_reference")
    assert got.cell_health == pytest.approx(capacity_ah / reference_ah)
    assert got.capacity_at_mark_ah == pytest.approx(0.8 * reference_ah)


def test_marks_over_a_table():
    """Each entry of a table has the mark of the single question, as a word."""
    axes = {"measured_capacity_ah": np.array([[2.6, 2.5], [2.1, 2.0]])}
    got = figures_over(QUESTIONS["cell-health"], {"reference_capacity_ah": 2.5}, axes)
    assert got.health_mark.tolist() == [
        ["more_than_reference", "above_mark"],
        ["above_mark", "mark_reached"],
    ]


@pytest.mark.parametrize("measured", [{}, {"measured_resistance_ohm": 0.03}])
def test_the_working_is_the_figures(ask, measured):
    """Each step ends in a figure of the answer; with both resistances there is a ratio."""
    both = measured and measured | {"reference_resistance_ohm": 0.02}
    got = ask("cell-health", measured_capacity_ah=2.4, reference_capacity_ah=3, **both)
    assert [step.result for step in got.working] == [
        got.cell_health,
        got.capacity_at_mark_ah,
        *([got.resistance_ratio] if both else []),
    ]


@pytest.mark.parametrize(("now", "rose"), [(0.0399, False), (0.04, True), (0.0401, True)])
def test_resistance(ask, now, rose):
    """A resistance of twice the first gets a finding."""
    got = ask(
        "cell-health", measured_capacity_ah=3, reference_capacity_ah=3, measured_resistance_ohm=now,
        reference_resistance_ohm=0.02,
    )  # fmt: skip
    assert got.resistance_ratio == pytest.approx(now / 0.02)
    assert ("resistance-rose" in rules(got)) is rose


@pytest.mark.parametrize("given", ["measured_resistance_ohm", "reference_resistance_ohm"])
def test_half_a_ratio_is_refused(ask, given):
    """One resistance without the other makes no ratio."""
    with pytest.raises(Refused) as refused:
        ask("cell-health", measured_capacity_ah=3, reference_capacity_ah=3, **{given: 0.02})
    assert refused.value.pointer == f"/{given}"


@pytest.mark.parametrize(("at_c", "found"), [(14.9, True), (15, False), (25, False), (25.1, True)])
def test_temperature(ask, at_c, found):
    """A capacity measured outside 20 ± 5 °C gets a finding (IEC 61960-2011, 7.3.1, secondary copy)."""
    got = ask(
        "cell-health", measured_capacity_ah=2.5, reference_capacity_ah=3, cell_temperature_c=at_c
    )
    assert ("measured-cold-or-warm" in rules(got)) is found
