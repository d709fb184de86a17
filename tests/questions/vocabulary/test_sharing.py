"""Ways to count the cells of a group: words, and a spread that is computed."""

import numpy as np
import pytest

from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary import usual_spread
from percell.questions.vocabulary.sharing import (
    PERCENTILE,
    SPREAD,
    ResistanceSpread,
    Sharing,
    counted_cells,
    drawn_worst_cell,
)

CELL = {"layout": "1S3P", "cell_rating_a": 20}
ASKED = {
    "direct-load": CELL | {"coil_resistance_ohm": 0.1},
    "converter-load": CELL | {"output_power_w": 100},
    "lowest-resistance": CELL,
    "highest-power": CELL,
    "needed-rating": {"layout": "1S3P", "output_power_w": 100},
    "assessment": CELL | {"coil_resistance_ohm": 0.1},
}
# the figure that depends on sharing, and its exponent of the counted cells
DECIDED = {
    "direct-load": ("worst_cell_current_a", -1),
    "converter-load": ("worst_cell_current_a", -1),
    "lowest-resistance": ("lowest_resistance_ohm", -1),
    "highest-power": ("highest_power_w", 1),
    "needed-rating": ("needed_rating_a", -1),
    "assessment": ("worst_cell_current_a", -1),
}


@pytest.mark.parametrize("parallel", usual_spread.KEPT)
def test_kept_figures_are_the_drawn_ones(parallel):
    """Drawing the groups again gives the stored figures of the usual spread."""
    drawn = drawn_worst_cell(parallel, SPREAD, PERCENTILE)
    assert usual_spread.KEPT[parallel] == pytest.approx(tuple(drawn), rel=1e-9)


def test_every_layout_has_kept_figures():
    """No answer about the usual spread needs a draw."""
    assert list(usual_spread.KEPT) == list(range(1, 21))


@pytest.mark.parametrize("question_id", ASKED)
@pytest.mark.parametrize("parallel", [1, 2, 3, 20])
def test_spread_counts_cells_by_its_share(ask, question_id, parallel):
    """The figure follows from the share of sharing-by-spread for the same group."""
    name, power = DECIDED[question_id]
    asked = ASKED[question_id] | {"layout": f"1S{parallel}P"}
    even = getattr(ask(question_id, **asked, sharing="even"), name)
    by_spread = ask(question_id, **asked, sharing={"spread": 0.2, "percentile": 0.9})
    share = 1.0
    if parallel > 1:
        share = ask(
            "sharing-by-spread",
            parallel=parallel,
            group_current_a=1,
            resistance_spread=0.2,
            percentile=0.9,
        ).worst_cell_share
    expected = even * (1 / share / parallel) ** power
    assert getattr(by_spread, name) == pytest.approx(expected, rel=1e-9)


def test_no_spread_is_even():
    """Cells without spread count in full."""
    for parallel in range(1, 21):
        assert counted_cells(ResistanceSpread(spread=0.0), parallel) == pytest.approx(parallel)


@pytest.mark.parametrize("spread", [0.05, 0.1, 0.3])
def test_counted_cells_lie_between_one_and_even(spread):
    """A group counts as at least one cell and less than it has, and as more with each cell."""
    counted = [counted_cells(ResistanceSpread(spread=spread), p) for p in range(1, 9)]
    assert counted[0] == 1
    assert counted == sorted(counted)
    assert all(n < p for p, n in enumerate(counted[1:], start=2))


def test_a_higher_percentile_is_more_careful():
    """A higher percentile counts fewer cells."""
    counted = [
        counted_cells(ResistanceSpread(spread=0.1, percentile=p), 4)
        for p in (0.5, 0.9, 0.99, 0.9999)
    ]
    assert counted == sorted(set(counted), reverse=True)
    assert len(counted) == 4


@pytest.mark.parametrize(
    ("spread", "percentile", "usual"),
    [(0.1, 0.99, True), (0.1, 0.9, False), (0.2, 0.99, False), (0.2, 0.9, False)],
)
def test_only_the_usual_spread_is_kept(spread, percentile, usual):
    """The figures of one spread at one level are kept; those of any other are drawn."""
    assert ResistanceSpread(spread=spread, percentile=percentile).is_usual is usual


@pytest.mark.parametrize("sharing", [Sharing.ALLOWANCE, Sharing.EVEN, ResistanceSpread(spread=0.1)])
def test_arrays_count_like_single_groups(sharing):
    """An array of groups has the figures of each group alone."""
    sizes = np.array([[1, 2, 3], [4, 8, 20]])
    counted = counted_cells(sharing, sizes)
    assert counted.shape == sizes.shape
    assert counted.ravel().tolist() == [counted_cells(sharing, int(p)) for p in sizes.ravel()]


def test_a_table_takes_a_spread(ask):
    """A table may fix the sharing as an object."""
    fixed = {"sharing": {"spread": 0.1}, "coil_resistance_ohm": 0.1, "cell_rating_a": 20}
    layouts = np.array([["1S1P", "1S3P", "2S4P"]])
    got = figures_over(QUESTIONS["direct-load"], fixed, {"layout": layouts})
    for i, layout in enumerate(layouts[0]):
        one = ask("direct-load", **fixed, layout=str(layout))
        assert got.worst_cell_current_a[0, i] == one.worst_cell_current_a


@pytest.mark.parametrize("question_id", ASKED)
def test_defaults_and_draws_are_said(ask, question_id):
    """The percentile's default is listed, and the working says how many groups were drawn."""
    answer = ask(question_id, **ASKED[question_id], sharing={"spread": 0.15})
    assert "sharing.percentile" in [a.name for a in answer.assumptions]
    assert "sharing" not in [a.name for a in answer.assumptions]
    assert any("200,000 groups drawn with seed 1" in step.what for step in answer.working)
    own = ask(question_id, **ASKED[question_id], sharing={"spread": 0.15, "percentile": 0.9})
    assert "sharing.percentile" not in [a.name for a in own.assumptions]


@pytest.mark.parametrize("question_id", ["direct-load", "converter-load", "assessment"])
def test_three_cells_by_the_allowance_carry_the_computed_figures(ask, question_id):
    """The finding names the chance, the share and its current, as sharing-by-spread computes them."""
    answer = ask(question_id, **ASKED[question_id], sharing="allowance")
    (found,) = [f for f in answer.findings if f.rule == "sharing-rule-not-careful"]
    spread = ask("sharing-by-spread", parallel=3, group_current_a=42, cell_rating_a=20)
    assert f"{100 * spread.chance_above_allowance:.2g} %" in found.sentence
    assert f"a share of {spread.worst_cell_share:.3g}" in found.sentence
    if question_id != "converter-load":
        assert f"which is {spread.worst_cell_current_a:.3g} A" in found.sentence


@pytest.mark.parametrize(("coil", "over"), [(0.0873, False), (0.0872, True)])
def test_over_by_the_spread_alone_is_said(ask, coil, over):
    """Where only the computed current is above the rating, the finding says so."""
    # 4.2 V over 0.0873 ohm, of which 0.4157 is 20 A
    answer = ask("direct-load", **CELL, coil_resistance_ohm=coil)
    (found,) = [f for f in answer.findings if f.rule == "sharing-rule-not-careful"]
    assert ("above the rating" in found.sentence) is over
    assert answer.verdict == "little_headroom"


@pytest.mark.parametrize("parallel", [1, 2, 3, 8])
def test_lowest_resistance_by_spread_beside_the_rule(ask, parallel):
    """Equal for one cell, lower by the spread for two, higher from three cells on."""
    answer = ask("lowest-resistance", layout=f"1S{parallel}P", cell_rating_a=20)
    by_spread = ask(
        "lowest-resistance", layout=f"1S{parallel}P", cell_rating_a=20, sharing={"spread": 0.1}
    )
    assert answer.lowest_resistance_spread_ohm == pytest.approx(by_spread.lowest_resistance_ohm)
    rule, spread = answer.lowest_resistance_ohm, answer.lowest_resistance_spread_ohm
    assert (spread > rule) is (parallel >= 3)
    assert (spread == rule) is (parallel == 1)
