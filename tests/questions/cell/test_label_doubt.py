"""Whether a rating can be true at all, where nobody said of which cell."""

from typing import Any

import pytest

from percell.physics.sizes import SIZES
from percell.questions.answering.question import Subject
from percell.questions.cell.label_check import LabelCheck, figures
from percell.questions.cell.label_doubt import label_doubt
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.rules import LimitName, Severity
from percell.questions.vocabulary.sizes import CellSize
from percell.questions.vocabulary.verdict import Verdict


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("capacity_ah", [1.5, 3.0])
def test_a_known_size_is_doubted_as_its_label_is(size: str, capacity_ah: float) -> None:
    """With size and capacity the doubt begins where the check of the label has its bounds."""
    got = figures(
        LabelCheck(cell_size=CellSize(size), cell_rating_a=1, cell_capacity_ah=capacity_ah)
    )
    for rating_a, verdict in (
        (got.usual_rating_a, None),
        (got.usual_rating_a * 1.001, Verdict.LITTLE),
        (got.highest_rating_a, Verdict.LITTLE),
        (got.highest_rating_a * 1.001, Verdict.OVER),
    ):
        doubt = label_doubt(rating_a=rating_a, capacity_ah=capacity_ah, size=size)
        assert (doubt and doubt.verdict) == verdict


@pytest.mark.parametrize("size", SIZES)
def test_an_unknown_capacity_is_taken_in_the_ratings_favour(size: str) -> None:
    """No capacity allows a rating that is refused for every capacity, and one allows nearly as much."""
    bounds = [
        figures(
            LabelCheck(cell_size=CellSize(size), cell_rating_a=1, cell_capacity_ah=tenths / 10)
        ).highest_rating_a
        for tenths in range(1, 90)
    ]
    for rating_a, refused in ((max(bounds) * 0.999, False), (max(bounds) * 1.05, True)):
        doubt = label_doubt(rating_a=rating_a, size=size)
        assert bool(doubt and doubt.verdict is Verdict.OVER) == refused


def test_a_rating_that_no_size_can_have_is_not_believed() -> None:
    """Without a size, what is too much for the best of them is not believable, and says so with its bound."""
    doubt = label_doubt(rating_a=150)
    assert doubt
    assert doubt.verdict is Verdict.OVER
    assert doubt.sentence.startswith(
        "Do not believe a continuous rating of 150 A. Even for the size"
    )


def test_the_brief_word_is_as_grave_as_what_the_sentence_says_of_the_common_size() -> None:
    """Where the sentence puts a rating above what is believable of its size, the words in the title do too."""
    for rating_a, word in (
        (30, "doubtful"),
        (100, "not believable for the size 18650"),
        (150, "not believable"),
    ):
        doubt = label_doubt(rating_a=rating_a, capacity_ah=3.0)
        assert doubt
        assert doubt.briefly == f"(the rating is {word})"


# those with a rating that hold the cell against it, or against what it allows
JUDGED = {
    "assessment": {"layout": "1S1P", "coil_resistance_ohm": 1},
    "direct-load": {"layout": "1S1P", "coil_resistance_ohm": 0.3},
    "converter-load": {"layout": "1S1P", "output_power_w": 40},
    "lowest-resistance": {"layout": "1S1P", "cell_resistance_ohm": 0.001},
    "highest-power": {"layout": "1S1P", "cell_resistance_ohm": 0.001},
    "layouts": {"most_cells": 2, "output_power_w": 40},
    "running-time": {"layout": "1S1P", "output_power_w": 40, "cell_capacity_ah": 3},
    "temperature-rise": {"cell_size": "18650", "cell_current_a": 2},
    "cell-sag": {"cell_current_a": 10, "open_circuit_voltage_v": 4},
}
# those that hold nothing against the rating
TOLD = {
    "pack": {"layout": "1S1P", "cell_capacity_ah": 2.5},
}


def test_every_question_with_one_rating_of_equal_cells_doubts_it() -> None:
    """A question that takes a rating is listed above, or its cells differ, or it is about the label itself."""
    rated = {
        one.id
        for one in QUESTIONS.values()
        if "cell_rating_a" in one.asked.__struct_fields__
        and one.subject is not Subject.UNEQUAL_CELLS
    }
    assert rated - {"label-check"} == {*JUDGED, *TOLD}


@pytest.mark.parametrize("question_id", [*JUDGED, *TOLD])
def test_an_answer_doubts_its_rating(ask: Any, question_id: str) -> None:
    """A program gets the doubt as a caution; by a rating of no size it gets no verdict within the limit."""
    asked = (JUDGED | TOLD)[question_id]

    def rules(rating_a: float) -> list[Any]:
        answer = ask(question_id, **asked, cell_rating_a=rating_a)
        assert answer.verdict is not Verdict.OVER
        # what no rating can do is not within it; the rest of an answer stays as it is
        refused = rating_a == 200 and question_id in JUDGED
        assert (answer.verdict is Verdict.NOT_JUDGED) is refused
        if refused:
            assert "because the rating is not believable" in answer.headline
        return [one for one in answer.findings if one.rule == "rating-doubtful"]

    assert rules(20) == []
    for rating_a, begins in ((60, "Check"), (200, "Do not believe")):
        (doubt,) = rules(rating_a)
        assert doubt.severity is Severity.CAUTION
        assert doubt.limit is LimitName.CONTINUOUS_RATING
        assert doubt.sentence.startswith(f"{begins} a continuous rating of {rating_a} A")


def test_each_layout_and_each_setup_is_judged_by_its_own_rating(ask: Any) -> None:
    """In a list of layouts or setups a rating of no size judges none of them as within."""
    layouts = ask("layouts", **JUDGED["layouts"], cell_rating_a=200).layouts
    assert {one.verdict for one in layouts} == {Verdict.NOT_JUDGED}
    running = JUDGED["running-time"]
    compared = ask(
        "running-time-comparison",
        setups=[
            {"label": "A", **running, "cell_rating_a": 200},
            {"label": "B", **running, "cell_rating_a": 20},
            {"label": "no time", **running, "cell_rating_a": 200, "chemistry": "lmo"},
        ],
    )
    assert [one.verdict for one in compared.setups] == [
        Verdict.NOT_JUDGED,
        Verdict.WITHIN,
        Verdict.NOT_JUDGED,
    ]
    doubted = [[f.rule for f in one.findings].count("rating-doubtful") for one in compared.setups]
    assert doubted == [1, 0, 1]


def test_a_known_label_is_checked_once(ask: Any) -> None:
    """With size and capacity the assessment has the check of the label, which says more."""
    known = ask(
        "assessment",
        **JUDGED["assessment"],
        cell_rating_a=200,
        cell_capacity_ah=3,
        cell_size="18650",
    )
    told = [one.rule for one in known.findings]
    assert "label-rating" in told
    assert "rating-doubtful" not in told
    assert known.verdict is Verdict.OVER


def test_a_usual_rating_is_not_doubted() -> None:
    """Ratings that such cells have leave no doubt, so that the doubt means something."""
    assert label_doubt(rating_a=20) is None
    assert label_doubt(rating_a=20, capacity_ah=3.0) is None
