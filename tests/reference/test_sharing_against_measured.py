"""The careful share against measured cells in parallel.

Sharing and resistances: ARTS-Laboratory, data set "electrothermal deformation characterization", commit
4e9effdf03a9816cd5f3edfa51c6ef67d065489b (CC BY-SA 4.0; figures only). Other spreads: 0.45 % of 600 new
cells of one type and 0.7 to 3.8 % in other studies (Wildfeuer and Lienkamp, abstract read); 9.3 % of three
old cells after 131 cycles, their rig included (Saha and Goebel, NASA Ames battery data set).
"""

import msgspec
import pytest

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.sharing import SPREAD, Feeds, Sharing, counted_cells

CELLS, GROUP_A = 3, 9.0
# part of 9 A in the cell that carried most, by seconds from the start
MEASURED_SHARES = {0: 0.367, 1600: 0.355}
MEASURED_SPREADS = {
    "600 new cells": 0.0045,
    "new cells, others": 0.038,
    "the three measured in parallel": 0.079,
    "three old cells": 0.093,
}


@pytest.mark.parametrize("time_s", MEASURED_SHARES)
@pytest.mark.parametrize("feeds", Feeds)
def test_the_measured_share_lies_within_the_careful_one(time_s, feeds):
    """The worst-case cell of three carried more than an even share, and less than the careful one."""
    careful = 1 / counted_cells(Sharing.CAREFUL, CELLS, feeds)
    assert careful == pytest.approx(0.416, abs=5e-4)
    assert 1 / CELLS < MEASURED_SHARES[time_s] < careful


@pytest.mark.parametrize("which", MEASURED_SPREADS)
def test_measured_spreads_lie_within_the_one_of_the_careful_share(which):
    """The careful share draws cells whose resistances scatter by 10 %."""
    assert MEASURED_SPREADS[which] < SPREAD


def test_the_question_covers_the_measured_group():
    """Asked for the spread of those cells, the share at the percentile covers what was measured."""
    question = QUESTIONS["sharing-by-spread"]
    asked = {
        "parallel": CELLS,
        "group_current_a": GROUP_A,
        "resistance_spread": MEASURED_SPREADS["the three measured in parallel"],
    }
    got = question.answer(msgspec.convert(asked, question.asked))
    assert got.worst_cell_current_a > MEASURED_SHARES[0] * GROUP_A
