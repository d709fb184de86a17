"""Ways to count the cells of a group: words, and a spread that is computed."""

import numpy as np
import pytest
from msgspec import convert

from percell.physics import spread
from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary import usual_spread
from percell.questions.vocabulary.sharing import (
    PERCENTILE,
    SPREAD,
    Feeds,
    ResistanceSpread,
    Sharing,
    counted_cells,
    drawn_worst_cell,
    may_draw,
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


CAREFUL = {
    # the larger of 1/(P − ½) and of the 99th percentile of groups whose resistances scatter by 10 %
    Feeds.COIL: {1: 1, 2: 2 / 3, 3: 0.416, 4: 0.321},
    # an even share is never the larger
    Feeds.CONVERTER: {1: 1, 2: 0.592, 3: 0.416, 4: 0.321},
}


@pytest.mark.parametrize("feeds", Feeds)
@pytest.mark.parametrize("parallel", [1, 2, 3, 4])
def test_the_careful_share(feeds, parallel):
    """The worst-case cell carries the larger of what the trade counts and of what was drawn."""
    share = 1 / counted_cells(Sharing.CAREFUL, parallel, feeds)
    assert share == pytest.approx(CAREFUL[feeds][parallel], abs=0.0006)


@pytest.mark.parametrize("parallel", [2, 3, 4])
def test_the_share_of_scattered_cells_by_other_draws(parallel):
    """Monte Carlo of our own in NumPy: normal resistances, 10 %, cut off at three sigma, 99th percentile.

    A cell's share of the current of its group is its conductance over the sum (Kirchhoff).
    """
    draws = 400_000
    deviates = np.random.default_rng(20_261).normal(size=(draws, parallel)).clip(-3, 3)
    conductance = 1 / (1 + 0.1 * deviates)
    worst = np.sort((conductance / conductance.sum(axis=1, keepdims=True)).max(axis=1))
    # by order statistics, 4.5 standard errors of the rank on each side
    rank, error = 0.99 * draws, 4.5 * (draws * 0.99 * 0.01) ** 0.5
    low, high = worst[int(rank - error)], worst[int(rank + error)]
    share = usual_spread.KEPT[parallel][0]
    # the kept figure has the sampling error of its own 200,000 draws too
    assert low - (high - low) < share < high + (high - low)
    assert high - low < 0.003


@pytest.mark.parametrize("feeds", Feeds)
@pytest.mark.parametrize("parallel", range(1, 21))
def test_careful_is_never_milder(feeds, parallel):
    """Neither than the trade's practice for the load, nor than the draws."""
    careful = counted_cells(Sharing.CAREFUL, parallel, feeds)
    trade = max(1, parallel - 0.5) if feeds is Feeds.COIL and parallel > 1 else parallel
    drawn = 1 / usual_spread.KEPT[parallel][0]
    assert careful == pytest.approx(min(trade, drawn), rel=1e-12)
    assert careful <= counted_cells(Sharing.EVEN, parallel, feeds)
    assert isinstance(careful, float | int)


@pytest.mark.parametrize("feeds", Feeds)
def test_careful_over_arrays(feeds):
    """An array of groups has the careful share of each group alone."""
    sizes = np.array([[1, 2, 3], [4, 8, 20]])
    counted = counted_cells(Sharing.CAREFUL, sizes, feeds)
    assert counted.tolist() == [
        [counted_cells(Sharing.CAREFUL, int(p), feeds) for p in row] for row in sizes
    ]


@pytest.mark.parametrize("question_id", ASKED)
def test_careful_unless_said_otherwise(ask, question_id):
    """Left out, the sharing is careful, listed so, and no caution; chosen, it is at least a caution."""
    name, _ = DECIDED[question_id]
    plain = ask(question_id, **ASKED[question_id])
    said = ask(question_id, **ASKED[question_id], sharing="careful")
    assert getattr(plain, name) == getattr(said, name)
    assert {a.name: a.value for a in plain.assumptions}["sharing"] == "careful"
    assert "sharing-chosen" not in [f.rule for f in plain.findings]
    for chosen in ("even", "allowance", {"spread": 0.1}):
        got = ask(question_id, **ASKED[question_id], sharing=chosen)
        assert "sharing-chosen" in [f.rule for f in got.findings]
        assert got.attention in ("caution", "warning")


@pytest.mark.parametrize(
    ("coil_ohm", "verdict"), [(0.0873, "little_headroom"), (0.0872, "over_limit")]
)
def test_over_by_the_draws_alone_is_over(ask, coil_ohm, verdict):
    """By hand: 0.4157 of 4.2 V over 0.0873 ohm is 20 A, and the P − ½ rule counts 19.3 A."""
    assert ask("direct-load", **CELL, coil_resistance_ohm=coil_ohm).verdict == verdict
    by_rule = ask("direct-load", **CELL, coil_resistance_ohm=coil_ohm, sharing="allowance")
    assert by_rule.verdict == "little_headroom"


def test_the_trade_s_rows_stay_with_their_sharing(ask):
    """Common practice, no published source: two 20 A cells in parallel count as 30 A under a coil."""
    cell = {"layout": "1S2P", "cell_rating_a": 20}
    pack = ask("pack", **cell, cell_capacity_ah=3, sharing="allowance")
    assert pack.pack_current_limit_a == pytest.approx(30)
    # 100 W at 4.0 V over two cells that share evenly: 12.5 A each
    even = ask(
        "converter-load",
        **cell,
        output_power_w=100,
        efficiency=1,
        cell_cutoff_voltage_v=4.0,
        sharing="even",
    )
    assert even.worst_cell_current_a == pytest.approx(12.5)


@pytest.mark.parametrize(
    ("given", "counted"),
    [
        ((0.0, 0.5), (0.0, 0.5)),
        ((0.001, 0.501), (0.01, 0.51)),
        ((0.07, 0.9), (0.07, 0.9)),
        ((0.0701, 0.9001), (0.08, 0.91)),
        ((0.29, 0.99), (0.29, 0.99)),
        ((0.2999, 0.9901), (0.3, 0.991)),
        ((0.3, 0.9991), (0.3, 0.9999)),
        ((0.3, 0.9999), (0.3, 0.9999)),
    ],
)
def test_a_spread_is_rounded_up_to_the_grid(given, counted):
    """Both numbers go up to the next step, and a number on the grid stays as it is."""
    used = ResistanceSpread(spread=given[0], percentile=given[1]).counted
    assert (used.spread, used.percentile) == counted
    assert used.counted == used


@pytest.mark.parametrize("question_id", ASKED)
def test_the_rounded_spread_is_the_one_that_is_said(ask, question_id):
    """An answer for a spread between two steps is that for the next one, and says so."""
    between = ask(question_id, **ASKED[question_id], sharing={"spread": 0.173, "percentile": 0.983})
    on_grid = ask(question_id, **ASKED[question_id], sharing={"spread": 0.18, "percentile": 0.99})
    name, _ = DECIDED[question_id]
    assert getattr(between, name) == getattr(on_grid, name)
    assert "resistance spread of 18 % and 99 % of groups" in between.headline
    assert any(
        "with a resistance spread of 0.18, at the level 0.99" in step.what
        for step in between.working
    )


def test_groups_are_drawn_once_for_all_percentiles(monkeypatch):
    """Another percentile of the same spread takes its figure from the same draw."""
    counted_cells(ResistanceSpread(spread=0.23, percentile=0.9), 4)
    monkeypatch.setattr(spread, "worst_cell_share_spreads", None)
    assert counted_cells(ResistanceSpread(spread=0.2299, percentile=0.9985), 4) < 4


@pytest.mark.parametrize(
    ("question", "fields", "draws"),
    [
        ("direct-load", {}, False),
        ("direct-load", {"sharing": "even"}, False),
        ("direct-load", {"sharing": {"spread": 0.1}}, False),
        ("direct-load", {"sharing": {"spread": 0.0951, "percentile": 0.981}}, False),
        ("direct-load", {"sharing": {"spread": 0.1, "percentile": 0.9}}, True),
        ("direct-load", {"sharing": {"spread": 0.11}}, True),
        ("cell-sag", {}, False),
    ],
)
def test_what_may_have_to_draw(question, fields, draws):
    """Any spread but the usual one, which needs no draw."""
    asked = convert(QUESTIONS[question].example | fields, QUESTIONS[question].asked)
    assert may_draw(asked) is draws


def test_one_setup_of_a_comparison_may_have_to_draw():
    """A spread inside the list of setups is seen too."""
    question = QUESTIONS["running-time-comparison"]
    first, *others = question.example["setups"]
    setups = [*others, first | {"sharing": {"spread": 0.2}}]
    assert not may_draw(convert(question.example, question.asked))
    assert may_draw(convert(question.example | {"setups": setups}, question.asked))
