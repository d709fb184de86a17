"""The spread of sharing as a question: against quadrature, by its laws, and over a table."""

import numpy as np
import pytest
from scipy.integrate import dblquad, quad
from scipy.stats import norm

from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused

BEYOND = norm.sf(3)  # the probability at each end, three deviations out


def spread(ask, **changed):
    return ask("sharing-by-spread", **{"parallel": 3, "group_current_a": 30} | changed)


def clipped(value_of):
    """Return the mean of a function of a normal deviate, clipped at three deviations."""
    inside = quad(lambda z: value_of(z) * norm.pdf(z), -3, 3, limit=200)[0]
    return inside + BEYOND * (value_of(-3) + value_of(3))


@pytest.mark.parametrize("deviation", [0.02, 0.1, 0.2, 0.3])
def test_mean_share_of_two_cells_by_quadrature_of_scipy(ask, deviation):
    """The mean share of the better of two cells is the integral over both (JCGM 101:2008)."""

    def share(a, b):
        r, s = 1 + deviation * a, 1 + deviation * b
        return max(r, s) / (r + s)

    # both inside, one at an end, both at ends
    body = (
        2 * dblquad(lambda b, a: share(a, b) * norm.pdf(a) * norm.pdf(b), -3, 3, -3, lambda a: a)[0]
    )
    edges = sum(
        2 * BEYOND * quad(lambda a, end=end: share(a, end) * norm.pdf(a), -3, 3)[0]
        for end in (-3, 3)
    )
    corners = BEYOND**2 * sum(share(a, b) for a in (-3, 3) for b in (-3, 3))
    got = spread(ask, parallel=2, resistance_spread=deviation)
    assert got.worst_cell_mean_share == pytest.approx(body + edges + corners, abs=5e-4)


@pytest.mark.parametrize("share", [0.6, 2 / 3])
def test_chance_for_two_cells_by_quadrature_of_scipy(ask, share):
    """At 20 % (JCGM 101:2008) the better of two cells passes the allowance as often as quadrature says."""
    ratio = share / (1 - share)

    def other_above(z):
        limit = ((1 + 0.2 * z) * ratio - 1) / 0.2
        return 0.0 if limit >= 3 else 1.0 if limit < -3 else norm.sf(limit)

    chance = 2 * float(clipped(other_above))
    got = spread(ask, parallel=2, resistance_spread=0.2, percentile=1 - chance)
    assert got.worst_cell_share == pytest.approx(share, abs=2e-3)
    if share == got.allowance_share:
        assert got.chance_above_allowance == pytest.approx(chance, abs=5 * got.chance_error)


def test_printed_figures(ask):
    """Two cells keep the allowance at 10 %; three pass it in 3.8 % of groups, four in 24 %."""
    chances = [spread(ask, parallel=p).chance_above_allowance for p in (2, 3, 4)]
    assert [round(100 * chance, 1) for chance in chances] == [0.0, 3.8, 24.0]
    shares = [spread(ask, parallel=p).worst_cell_share for p in (2, 3, 4)]
    assert [round(share, 3) for share in shares] == [0.592, 0.416, 0.321]


def test_standard_error_shrinks_with_draws(ask):
    """A hundred times the draws has a tenth of the error, and agrees within it."""
    few, many = (spread(ask, random_groups=draws) for draws in (10_000, 1_000_000))
    assert few.chance_error == pytest.approx(10 * many.chance_error, rel=0.2)
    assert few.chance_above_allowance == pytest.approx(
        many.chance_above_allowance, abs=5 * few.chance_error
    )


def test_same_seed_same_answer(ask):
    """The same question gets the same answer; another seed changes it a little."""
    assert spread(ask, seed=7) == spread(ask, seed=7)
    assert spread(ask, seed=7) != spread(ask, seed=8)


@pytest.mark.parametrize("field", ["resistance_spread", "voltage_spread_v"])
def test_more_spread_more_in_the_worst_case_cell(ask, field):
    """The wider cells scatter, the more the worst-case one carries."""
    shares = [
        spread(ask, **{field: x, "random_groups": 20_000}).worst_cell_share for x in (0, 0.1, 0.2)
    ]
    assert shares == sorted(set(shares))


def test_without_spread_all_is_even(ask):
    """Cells that do not scatter carry an even share in every group."""
    got = spread(ask, resistance_spread=0)
    assert got.worst_cell_share == pytest.approx(got.even_share, rel=1e-12)
    assert got.chance_above_allowance == got.chance_error == 0
    assert [one.rule for one in got.findings] == ["sharing-chosen"]


@pytest.mark.parametrize(("parallel", "most"), [(20, 200_000), (8, 500_000), (4, 1_000_000)])
def test_work_is_bounded(ask, parallel, most):
    """One draw more than the limit is refused, with the limit."""
    assert spread(ask, parallel=parallel, random_groups=most)
    if most < 1_000_000:
        with pytest.raises(Refused, match=f"{most:,}") as refused:
            spread(ask, parallel=parallel, random_groups=most + 1)
        assert refused.value.pointer == "/random_groups"


@pytest.mark.parametrize(
    ("rating", "verdict"), [(12.4, "over_limit"), (12.5, "little_headroom"), (20, "within_limit")]
)
def test_verdict_at_the_percentile(ask, rating, verdict):
    """The verdict compares the share at the percentile, 0.4157 of 30 A, with the rating."""
    got = spread(ask, cell_rating_a=rating)
    assert got.verdict == verdict
    assert spread(ask).verdict != verdict


@pytest.mark.parametrize("rows_first", [True, False])
def test_a_table_is_each_entry_by_itself(ask, rows_first):
    """Each figure of a table is the answer to its own question, whichever axis the spread is."""
    fixed = {"group_current_a": 30, "random_groups": 5000, "contact_resistance_ohm": 0.01}
    fixed["contact_spread"] = 0.1
    parallel, spreads = [2.0, 5.0], [0.0, 0.2, 0.3]
    got = figures_over(
        QUESTIONS["sharing-by-spread"],
        fixed,
        {"parallel": np.array(parallel)[:, None], "resistance_spread": np.array(spreads)[None]}
        if rows_first
        else {
            "parallel": np.array(parallel)[None],
            "resistance_spread": np.array(spreads)[:, None],
        },
    )
    assert got.chance_above_allowance.shape == (2, 3) if rows_first else (3, 2)
    for i, j in np.ndindex(2, 3):
        one = spread(ask, **fixed, parallel=parallel[i], resistance_spread=spreads[j])
        at = (i, j) if rows_first else (j, i)
        assert got.chance_above_allowance[at] == one.chance_above_allowance
        assert got.worst_cell_share[at] == one.worst_cell_share


def test_currents_and_counts_by_hand(ask):
    """40 A over four cells are 10 A each, and 11.43 A over 3.5; the groups are counted in whole ones."""
    got = ask("sharing-by-spread", parallel=4, group_current_a=40, random_groups=1000)
    assert got.even_cell_current_a == pytest.approx(10)
    assert got.allowance_cell_current_a == pytest.approx(40 / 3.5)
    count = round(got.chance_above_allowance * 1000)
    (step,) = [one for one in got.working if one.what == "Part of the groups above the P − ½ rule"]
    assert count > 1
    assert step.with_numbers == f"{count} / 1000"


@pytest.mark.parametrize(("amps", "above_one"), [(1, True), (1000, False)])
def test_a_cell_that_carries_more_than_the_load(ask, amps, above_one):
    """Differing voltages drive one cell into the other; under a small load a cell carries more than the load."""
    got = ask(
        "sharing-by-spread",
        parallel=2,
        group_current_a=amps,
        voltage_spread_v=0.01,
        resistance_spread=0,
        random_groups=10000,
        percentile=0.99,
    )
    # 99 of 100 pairs are at most 2.576 · √2 · 0.01 V apart, over two paths of 20 mΩ
    between_a = 2.576 * 2**0.5 * 0.01 / 0.04
    assert got.worst_cell_share == pytest.approx(0.5 + between_a / amps, rel=0.02)
    assert (got.worst_cell_share > 1) is above_one
    assert "charged-by-neighbours" in {one.rule for one in got.findings}


def test_a_charged_cell_is_not_held_to_the_discharge_rating(ask):
    """Of three cells whose voltages differ, one takes in more than any gives: its limit is another."""
    asked = {"voltage_spread_v": 0.3, "group_current_a": 1, "random_groups": 20_000}
    got = spread(ask, **asked, cell_rating_a=200)
    assert got.worst_cell_charge_current_a > 4
    assert {one.name.value: one.verdict.value for one in got.limits}[
        "continuous_rating"
    ] == "within_limit"
    over = spread(ask, **asked, cell_rating_a=200, cell_charge_limit_a=4)
    assert over.verdict == "over_limit"
    assert "neighbours-charge-too-fast" in {one.rule for one in over.findings}
    assert spread(ask, cell_rating_a=20).worst_cell_charge_current_a == 0


@pytest.mark.parametrize(
    ("voltage_spread_v", "verdict"),
    [(0, "within_limit"), (0.01, "not_judged"), (0.3, "over_limit")],
)
def test_a_charge_limit_nobody_gave_is_the_largest_thought_possible(ask, voltage_spread_v, verdict):
    """It is listed where cells may charge each other, proves nothing, and more than it is over any limit."""
    got = spread(ask, voltage_spread_v=voltage_spread_v, group_current_a=1, cell_rating_a=200)
    limits = {one.name.value: one for one in got.limits}
    listed = {one.name: one.value for one in got.assumptions}
    assert limits["charge_current"].verdict == verdict
    assert ("cell_charge_limit_a" in listed) is (voltage_spread_v > 0)
    if voltage_spread_v:
        assert limits["charge_current"].value == listed["cell_charge_limit_a"] > 4
    lower = spread(ask, voltage_spread_v=0.3, group_current_a=1, cell_rating_a=2)
    assert {one.name.value: one.value for one in lower.limits}["charge_current"] == 2


def test_discharge_and_charge_by_own_draws_of_numpy(ask):
    """A million groups of three, drawn and solved apart: the two currents at the percentile."""
    draw = np.random.default_rng(99)
    volts = 0.05 * np.clip(draw.standard_normal((1_000_000, 3)), -3, 3)
    ohms = 0.02 * (1 + 0.1 * np.clip(draw.standard_normal((1_000_000, 3)), -3, 3))
    common_v = ((volts / ohms).sum(1) - 10) / (1 / ohms).sum(1)
    amps = (volts - common_v[:, None]) / ohms
    rest_v = (volts / ohms).sum(1) / (1 / ohms).sum(1)
    into = (rest_v[:, None] - volts) / ohms
    got = spread(ask, group_current_a=10, voltage_spread_v=0.05, random_groups=1_000_000)
    assert got.worst_cell_current_a == pytest.approx(np.quantile(amps.max(1), 0.99), rel=5e-3)
    assert got.worst_cell_charge_current_a == pytest.approx(
        np.quantile(into.max(1), 0.99), rel=5e-3
    )


@pytest.mark.parametrize("load_a", [0.1, 40, 400])
def test_cells_charge_each_other_as_much_whatever_the_load(ask, load_a):
    """No load is always on: the current into a cell is that with the load off, and said so."""
    asked = {"parallel": 2, "voltage_spread_v": 0.1, "cell_resistance_ohm": 0.02}
    got = ask(
        "sharing-by-spread",
        **asked,
        group_current_a=load_a,
        cell_charge_limit_a=2,
        cell_rating_a=40,
    )
    # 99 of 100 pairs are at most 2.576 · √2 · 0.1 V apart, over two paths of 20 mΩ
    assert got.worst_cell_charge_current_a == pytest.approx(9.11, rel=0.02)
    assert got.verdict == "over_limit"
    (said,) = [o.sentence for o in got.findings if o.rule == "neighbours-charge-too-fast"]
    assert said.startswith("While the load is off, ")


@pytest.mark.parametrize(
    ("group_a", "rating_a", "attention"),
    [(30.1, 20, "caution"), (29.9, 20, "none"), (30.1, None, "none")],
)
def test_a_coil_would_be_over_the_rating(ask, group_a, rating_a, attention):
    """30.1 A over one and a half cells are 20.07 A: a caution, though the drawn share is within 20 A."""
    rated = {} if rating_a is None else {"cell_rating_a": rating_a}
    got = ask("sharing-by-spread", parallel=2, group_current_a=group_a, **rated)
    assert got.attention == attention
    said = [one.sentence for one in got.findings if one.rule == "sharing-chosen"]
    assert ("Under a coil, percell assumes 20.1 A (above the rating)" in "".join(said)) is (
        attention == "caution"
    )


def test_a_wide_spread_says_what_a_coil_would_do_too(ask):
    """A share above a converter's careful one can still be below that under a coil."""
    got = ask("sharing-by-spread", parallel=2, group_current_a=30.1, cell_rating_a=20,
              resistance_spread=0.12)  # fmt: skip
    assert {"share-above-careful", "sharing-chosen"} <= {one.rule for one in got.findings}


def test_the_headline_leads_with_the_worst_case_cell(ask):
    """Its current and share, with the condition; the chance is a fact about a rule of thumb."""
    got = ask("sharing-by-spread", parallel=3, group_current_a=40, cell_rating_a=20)
    assert (
        "with a resistance spread of 10 %, in 99 % of groups the worst-case cell carries at most 16.7 A, "
        "41.6 %"
    ) in got.headline
    assert "level" not in got.working[2].what
    assert "chance" not in got.headline
    assert got.findings == []


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"resistance_spread": 0.01}, "a resistance spread of 1 % and 99 % of groups"),
        ({"percentile": 0.5}, "a resistance spread of 10 % and 50 % of groups"),
    ],
)
def test_a_share_milder_than_the_careful_one_says_so(ask, given, words):
    """The careful share of two cells is 0.592 of 34 A: 20.2 A, above the rating of 20 A."""
    got = ask("sharing-by-spread", parallel=2, group_current_a=34, cell_rating_a=20, **given)
    assert got.worst_cell_current_a < 20
    (said,) = (f for f in got.findings if f.rule == "sharing-chosen")
    assert said.severity == got.attention == "caution"
    assert said.sentence == (
        f"Calculated for {words}, as asked. By default, percell assumes 20.2 A (above the rating) in the "
        "worst-case cell behind a converter."
    )
    assert "20.2 A (above the rating)" in got.headline


def test_the_usual_spread_is_the_careful_share(ask):
    """By default nothing was chosen, whatever the number of cells."""
    for parallel in range(2, 7):
        got = ask("sharing-by-spread", parallel=parallel, group_current_a=10, cell_rating_a=20)
        assert [one.rule for one in got.findings] == []


def test_the_headline_says_the_spread_once(ask):
    """The figure comes with the spread that it holds for, so the condition does not repeat it."""
    group = {"parallel": 3, "group_current_a": 40, "resistance_spread": 0.2}
    said = ask("sharing-by-spread", **group).headline
    assert said.count("resistance spread of 20 %") == 1
