"""Two like cells joined: by hand, against the question about any cells, and over a table."""

import numpy as np
import pytest

from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS

PAIR = {"cell_resistance_ohm": 0.025, "contact_resistance_ohm": 0, "cell_capacity_ah": 3}
LIMITED = PAIR | {"voltage_difference_v": 0.5}  # 10 A


def both(ask, apart_v, **cells):
    """Return the answers to two like cells, and to the same two of any cells."""
    pair = ask("joining-pair", voltage_difference_v=apart_v, **PAIR, **cells)
    one = {"cell_resistance_ohm": 0.025, "contact_resistance_ohm": 0, "cell_capacity_ah": 3}
    volts = (4.0, 4.0 - apart_v)
    return pair, ask("joining", cells=[one | {"open_circuit_voltage_v": v} for v in volts], **cells)


@pytest.mark.parametrize(
    ("apart_v", "cell_ohm", "contact_ohm", "expected_a"),
    [
        pytest.param(
            0.1, 0.02, 0, 2.5, id="Ohm's law by hand: 0.1 V over two cells of 20 mΩ are 2.5 A"
        ),
        pytest.param(
            0.05, 0.02, 0, 1.25, id="Ohm's law by hand: 0.05 V over two cells of 20 mΩ are 1.25 A"
        ),
        pytest.param(
            0.2, 0.02, 0.005, 4.0, id="Ohm's law by hand: 0.2 V over 2 × 20 mΩ and 2 × 5 mΩ are 4 A"
        ),
        pytest.param(0, 0.02, 0.005, 0.0, id="Ohm's law by hand: no difference, no current"),
    ],
)
def test_rush(ask, apart_v, cell_ohm, contact_ohm, expected_a):
    """The difference of the voltages drives a current through both cells and their contacts."""
    got = ask(
        "joining-pair",
        voltage_difference_v=apart_v,
        cell_resistance_ohm=cell_ohm,
        contact_resistance_ohm=contact_ohm,
        cell_capacity_ah=3,
    )
    assert got.rush_current_a == pytest.approx(expected_a)


@pytest.mark.parametrize(
    ("limit_a", "verdict"),
    [
        (10 * (1 - 1e-6), "over_limit"),
        (10, "little_headroom"),
        (10 / 0.9 * (1 - 1e-6), "little_headroom"),
        (10 / 0.9 * (1 + 1e-6), "within_limit"),
    ],
)
def test_verdict_at_the_charge_limit(ask, limit_a, verdict):
    """0.5 V over 50 mΩ is 10 A: just above, at and just below the charge limit and its headroom."""
    got = ask("joining-pair", **LIMITED | {"cell_capacity_ah": 10}, cell_charge_limit_a=limit_a)
    assert got.verdict == verdict
    assert ("joining-rush" in [f.rule for f in got.findings]) is (verdict == "over_limit")
    assert got.cell_charge_limit_a == limit_a
    assert "cell_charge_limit_a" not in {a.name for a in got.assumptions}


def test_the_usual_limit_is_half_the_capacity_an_hour(ask):
    """Common practice, no published source: 3 Ah take 1.5 A, which 75 mV drive through 50 mΩ."""
    got = ask("joining-pair", **LIMITED)
    assert got.cell_charge_limit_a == 1.5
    assert got.highest_voltage_difference_v == pytest.approx(0.075)
    assumed = {a.name: a for a in got.assumptions}["cell_charge_limit_a"]
    assert (assumed.value, assumed.unit) == (1.5, "A")
    assert "common practice" in assumed.origin
    found = got.findings[0]
    assert "10.0 A" in found.sentence
    assert "joining is 0.075 V" in found.sentence
    assert "0.5 C, because none was given" in found.sentence


@pytest.mark.parametrize("limit", [{}, {"cell_charge_limit_a": 4}])
def test_the_working_is_the_figures(ask, limit):
    """The rush, the usual limit if none is given, and the difference, in this order."""
    got = ask("joining-pair", **LIMITED, **limit)
    assert [step.result for step in got.working] == [
        got.rush_current_a,
        *([] if limit else [got.cell_charge_limit_a]),
        got.highest_voltage_difference_v,
    ]


@pytest.mark.parametrize("limit", [{}, {"cell_charge_limit_a": 4}])
@pytest.mark.parametrize("apart_v", [0.05, 0.1999, 0.2001, 1.0])
def test_as_two_of_any_cells(ask, apart_v, limit):
    """The question about any cells gives the same answer for two equal cells."""
    pair, two = both(ask, apart_v, **limit)
    assert pair.rush_current_a == pytest.approx(two.pair_current_a)
    assert pair.rush_current_a == pytest.approx(two.highest_charge_current_a)
    assert pair.highest_voltage_difference_v == pytest.approx(two.highest_voltage_difference_v)
    rush = ["joining-rush" in {f.rule for f in got.findings} for got in (pair, two)]
    assert rush[0] is rush[1]
    if limit:
        assert pair.verdict == two.verdict


def test_over_a_table(ask):
    """A table of pairs has the figures of each pair asked alone."""
    apart, ohms = np.array([[0.05], [0.2]]), np.array([[0.01, 0.03]])
    got = figures_over(
        QUESTIONS["joining-pair"],
        {"cell_capacity_ah": 3},
        {"voltage_difference_v": apart, "cell_resistance_ohm": ohms},
    )
    for i, j in np.ndindex(2, 2):
        one = ask(
            "joining-pair",
            cell_capacity_ah=3,
            voltage_difference_v=float(apart[i, 0]),
            cell_resistance_ohm=float(ohms[0, j]),
        )
        assert got.rush_current_a[i, j] == one.rush_current_a


def test_what_the_highest_difference_rests_on_is_said(ask):
    """Low resistances unless given: 1.5 A through two cells of 20 mΩ are 60 mV, without contacts."""
    got = ask("joining-pair", voltage_difference_v=0.05, cell_capacity_ah=3)
    assert got.highest_voltage_difference_v == pytest.approx(0.06)
    assert got.rush_current_a == pytest.approx(1.25)
    (found,) = got.findings
    assert found.rule == "join-like-cells"
    assert "0.06 V, for 0.02 Ω per cell (low for such cells) and 0 Ω of contacts" in found.sentence
    assert "same make, age and history" in got.headline
    # cells of half the resistance are over the limit at that difference
    half = ask(
        "joining-pair", voltage_difference_v=0.05, cell_capacity_ah=3, cell_resistance_ohm=0.01
    )
    assert half.verdict == "over_limit"


@pytest.mark.parametrize("apart_v", [0, 0.001, 0.05])
def test_against_an_assumed_limit_nothing_is_within(ask, apart_v):
    """An assumed limit forbids, and allows nothing."""
    got = ask("joining-pair", voltage_difference_v=apart_v, cell_capacity_ah=3)
    assert got.verdict == "not_judged"
    assert "rating" not in got.headline


def test_the_headline_does_not_round_onto_the_limit(ask):
    """3.98 A of a limit of 4 A are not 4.0 A."""
    got = ask("joining-pair", **PAIR, voltage_difference_v=0.199, cell_charge_limit_a=4)
    assert "3.98 A" in got.headline


@pytest.mark.parametrize(
    ("limit_a", "expected"),
    [
        pytest.param(6, "within_limit", id="twice the capacity per hour"),
        pytest.param(20, "not_judged", id="more than that"),
    ],
)
def test_no_rush_is_within_a_limit_that_looks_like_a_discharge_rating(ask, limit_a, expected):
    """A charge limit of more than twice the capacity per hour is doubted, and proves nothing."""
    pair, cells = both(ask, 0.1, cell_charge_limit_a=limit_a)
    for got in (pair, cells):
        assert got.limits[0].verdict == expected
        doubted = [one.rule for one in got.findings if one.rule == "charge-limit-doubted"]
        assert bool(doubted) is (expected == "not_judged")
