"""One good cell in a group: the current divider, the circuit of any cells, and the allowance."""

import numpy as np
import pytest
from unequal_packs import packed

from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS

DIVIDER = "current divider, OpenStax University Physics Vol. 2, m58455"


@pytest.mark.parametrize(
    ("parallel", "mismatch", "share"),
    [
        pytest.param(2, 0.1, 0.5238, id=f"{DIVIDER}: r and 1.1 r"),
        pytest.param(2, 0.2, 0.5455, id=f"{DIVIDER}: r and 1.2 r"),
        pytest.param(2, 0.5, 0.6, id=f"{DIVIDER}: r and 1.5 r"),
        pytest.param(2, 1.0, 2 / 3, id=f"{DIVIDER}: r and 2 r"),
        pytest.param(4, 0.5, 1 / 3, id=f"{DIVIDER}: r and three of 1.5 r"),
    ],
)
def test_published_share(ask, parallel, mismatch, share):
    """The better cell carries what the current divider says, and so in the question of any cells."""
    got = ask("sharing-by-mismatch", parallel=parallel, mismatch=mismatch, group_current_a=30)
    assert got.worst_cell_share == pytest.approx(share, abs=5e-5)
    others_a = (parallel - 1) * got.other_cell_current_a
    assert got.worst_cell_current_a + others_a == pytest.approx(30)
    ohms = [0.1, *[0.1 * (1 + mismatch)] * (parallel - 1)]
    cells = [
        {"open_circuit_voltage_v": 4, "cell_resistance_ohm": r, "contact_resistance_ohm": 0}
        for r in ohms
    ]
    circuit = ask("unequal-cells", **packed([cells]), coil_resistance_ohm=1)
    assert circuit.worst_cell_share == pytest.approx(got.worst_cell_share)


@pytest.mark.parametrize(("parallel", "mismatch"), [(2, 1.0), (3, 1 / 3), (4, 1 / 5), (20, 1 / 37)])
def test_mismatch_at_the_allowance(ask, parallel, mismatch):
    """By hand: (1 + m) / (P + m) is 1 / (P − ½) at m = 1 / (2·P − 3)."""
    got = ask("sharing-by-mismatch", parallel=parallel, mismatch=mismatch, group_current_a=50)
    assert got.mismatch_at_allowance == pytest.approx(mismatch)
    assert got.worst_cell_share == pytest.approx(got.allowance_share)
    assert got.allowance_share == pytest.approx(1 / (parallel - 0.5))


@pytest.mark.parametrize(
    # the shares that groups drawn at random keep to, and the mismatches to which they belong, by hand:
    # m = (P · s − 1) / (1 − s)
    ("parallel", "share", "mismatch"),
    [(2, 0.592, 0.451), (3, 0.416, 0.423), (4, 0.321, 0.418)],
)
def test_the_careful_share_behind_a_converter(ask, parallel, share, mismatch):
    """A share just below it has no caution, one just above has."""
    for by, rules in ((-0.005, set()), (0.005, {"share-above-careful"})):
        asked = {"parallel": parallel, "mismatch": mismatch + by, "group_current_a": 30}
        got = ask("sharing-by-mismatch", **asked)
        assert got.careful_share == pytest.approx(share, abs=5e-4)
        assert (got.worst_cell_share > got.careful_share) is bool(rules)
        assert {f.rule for f in got.findings} - {"sharing-chosen"} == rules


@pytest.mark.parametrize(
    ("rating_a", "verdict"),
    [
        (18 * (1 - 1e-6), "over_limit"),
        (18, "little_headroom"),
        (20 * (1 - 1e-6), "little_headroom"),
        (20, "within_limit"),
    ],
)
def test_verdict_on_the_good_cell(ask, rating_a, verdict):
    """By hand: with r and 1.5 r the better of two carries three fifths of 30 A, which is 18 A."""
    asked = {"parallel": 2, "mismatch": 0.5, "group_current_a": 30}
    got = ask("sharing-by-mismatch", **asked, cell_rating_a=rating_a)
    assert got.worst_cell_current_a == pytest.approx(18)
    assert got.verdict == verdict
    assert ("over-rating" in {f.rule for f in got.findings}) is (verdict == "over_limit")
    assert got.working[-1].result == pytest.approx(1 - 18 / rating_a)
    without = ask("sharing-by-mismatch", **asked)
    assert without.verdict == "not_judged"
    assert len(without.working) == len(got.working) - 1


def test_what_is_said_of_a_share_above_the_careful_one(ask):
    """By hand: r and two of 2 r share 40 A as 20 A, 10 A and 10 A, where 0.416 of 40 A is 16.6 A."""
    got = ask("sharing-by-mismatch", parallel=3, mismatch=1, group_current_a=40)
    (found,) = got.findings
    assert "20.0 A of the group's 40 A" in found.sentence
    assert "16.6 A" in found.sentence


def test_the_working_is_the_figures(ask):
    """Each step ends in a figure of the answer."""
    got = ask("sharing-by-mismatch", parallel=3, mismatch=0.2, group_current_a=40)
    results = [step.result for step in got.working]
    for name in (
        "worst_cell_share",
        "worst_cell_current_a",
        "other_cell_current_a",
        "allowance_share",
        "mismatch_at_allowance",
    ):
        assert getattr(got, name) in results, name


def test_over_a_table(ask):
    """A table has the figures of each group asked alone."""
    sizes, parts = np.array([[2.0], [5.0]]), np.array([[0.1, 0.7]])
    axes = {"parallel": sizes, "mismatch": parts}
    got = figures_over(QUESTIONS["sharing-by-mismatch"], {"group_current_a": 30}, axes)
    for i, j in np.ndindex(2, 2):
        one = ask(
            "sharing-by-mismatch",
            group_current_a=30,
            parallel=float(sizes[i, 0]),
            mismatch=float(parts[0, j]),
        )
        assert got.worst_cell_share[i, j] == one.worst_cell_share


@pytest.mark.parametrize(("parallel", "even"), [(2, 0.5), (4, 0.25), (5, 0.2)])
def test_an_even_share_by_hand(ask, parallel, even):
    """Each of so many cells alike carries its part of the whole."""
    got = ask("sharing-by-mismatch", parallel=parallel, group_current_a=30, mismatch=0.1)
    assert got.even_share == pytest.approx(even)
    assert got.even_share < got.worst_cell_share


@pytest.mark.parametrize(("mismatch", "chosen"), [(0, True), (0.449, True), (0.452, False)])
def test_a_share_milder_than_the_careful_one_says_so(ask, mismatch, chosen):
    """By hand: (1 + m) / (2 + m) is the careful share of two cells, 0.592, at a mismatch of 0.451."""
    got = ask("sharing-by-mismatch", parallel=2, mismatch=mismatch, group_current_a=30)
    found = {one.rule: one.sentence for one in got.findings}
    assert [*found] == ["sharing-chosen" if chosen else "share-above-careful"]
    assert got.attention == "caution"
    assert f"{mismatch * 100:g} % more resistance in the other cells" in got.headline
    if chosen:
        assert "percell assumes 17.8 A in" in found["sharing-chosen"]
