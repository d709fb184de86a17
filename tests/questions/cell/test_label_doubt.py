"""Whether a rating can be true at all, where nobody said of which cell."""

import pytest

from percell.physics.sizes import SIZES
from percell.questions.cell.label_check import LabelCheck, figures
from percell.questions.cell.label_doubt import label_doubt
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


def test_a_usual_rating_is_not_doubted() -> None:
    """Ratings that such cells have leave no doubt, so that the doubt means something."""
    assert label_doubt(rating_a=20) is None
    assert label_doubt(rating_a=20, capacity_ah=3.0) is None
