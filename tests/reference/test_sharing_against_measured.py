"""The careful share against measured cells in parallel.

Sharing: ARTS-Laboratory, data set "Parallel Current Analysis Platform". Spreads: 0.45 % of 600 new cells of
one type and 0.7 to 3.8 % in other studies (Wildfeuer and Lienkamp, abstract read); 0.6 to 1.4 % of four cells
(L. Wang et al., "Li-ion Battery Electro-Thermal Dataset", commit ec0fe7c0e6ceb8576086d3adc8232b7d14616deb);
7.9 % of three cells (ARTS-Laboratory, data set "electrothermal deformation characterization", commit
4e9effdf03a9816cd5f3edfa51c6ef67d065489b, CC BY-SA 4.0, figures only); 9.3 % of three old cells after 131
cycles, their rig included (Saha and Goebel, NASA Ames battery data set).
"""

from pathlib import Path

import msgspec
import pytest

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.sharing import SPREAD, Feeds, Sharing, counted_cells

ROOT = Path(__file__).parents[2]
CELLS, GROUP_A = 3, 9.0
# part of 9 A in the cell that carried most, by seconds from the start
MEASURED_SHARES = {0: 0.367, 1600: 0.355}
MEASURED_SPREADS = {
    "600 new cells": 0.0045,
    "four cells of 2.6 Ah": 0.014,
    "new cells, other studies": 0.038,
    "three cells of 3 Ah": 0.079,
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
    """Asked for the spread of like cells of that laboratory, the share at the percentile covers the measured one."""
    question = QUESTIONS["sharing-by-spread"]
    asked = {
        "parallel": CELLS,
        "group_current_a": GROUP_A,
        "resistance_spread": MEASURED_SPREADS["three cells of 3 Ah"],
    }
    got = question.answer(msgspec.convert(asked, question.asked))
    assert got.worst_cell_current_a > MEASURED_SHARES[0] * GROUP_A


def test_the_page_prints_what_was_measured():
    """The spreads and shares that a reader sees are these."""
    page = (ROOT / "site/docs/learn/rating-and-headroom.md").read_text("utf-8")
    section = page.partition("{ #measured-spreads }")[2].partition("\n## ")[0]
    assert {f"{100 * spread:g} %" for spread in MEASURED_SPREADS.values()} <= {
        part.rpartition("to ")[2].strip() for part in section.split("|")
    }
    assert all(f"{100 * share:g} %" in section for share in MEASURED_SHARES.values())
