"""Joining cells as a question: against a circuit simulator, the laws, and the limits."""

import json
import re
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import make_interp_spline
from scipy.optimize import brentq

from percell.physics.curves import published_curve

PACKS = Path(__file__).parents[2] / "reference" / "ngspice_packs.py"


def cell(volt, ohm=0.025, capacity=3.0):
    return {
        "open_circuit_voltage_v": volt,
        "cell_resistance_ohm": ohm,
        "contact_resistance_ohm": 0,
        "cell_capacity_ah": capacity,
    }


@pytest.fixture(scope="module")
def packs(tool):
    done = subprocess.run(
        [sys.executable, str(PACKS), tool("ngspice")], capture_output=True, text=True, check=True
    )
    return json.loads(done.stdout)


def test_simulated_rush(ask, packs):
    """Each cell's current at the moment of joining is the operating point that ngspice finds."""
    for pack in packs["joining"]:
        columns = ("cell_source_voltage_v", "cell_resistance_ohm", "contact_resistance_ohm")
        answer = ask(
            "joining",
            cells=[
                cell(v, r) | {"contact_resistance_ohm": c}
                for v, r, c in zip(*(pack[name][0] for name in columns), strict=True)
            ],
        )
        theirs = pack["cell_current_a"][0]
        assert [one.cell_current_a for one in answer.cells] == pytest.approx(theirs, rel=1e-6)
        assert answer.joined_voltage_v == pytest.approx(pack["pack_voltage_v"], rel=1e-9)
        assert answer.highest_charge_current_a >= -min(theirs) * (1 - 1e-6)


@pytest.mark.parametrize("chemistry", ["nmc", "nca", "lfp"])
def test_rest_by_a_brent_root_of_scipy(ask, chemistry):
    """The cells rest where SciPy finds that given and taken charge are equal."""
    volts, capacities = (3.35, 3.2, 3.3), (3.0, 2.0, 2.5)
    curve = published_curve(chemistry=chemistry)
    charge_at = make_interp_spline(curve.ocv_v, curve.soc, k=1)
    root = brentq(
        lambda v: sum(
            q * (charge_at(u) - charge_at(v)) for u, q in zip(volts, capacities, strict=True)
        ),
        3.2,
        3.35,
        xtol=1e-13,
    )
    answer = ask(
        "joining",
        cells=[cell(v, capacity=q) for v, q in zip(volts, capacities, strict=True)],
        chemistry=chemistry,
    )
    assert answer.settled_voltage_v == pytest.approx(root, rel=1e-9)
    assert answer.settled_state_of_charge == pytest.approx(float(charge_at(root)), rel=1e-9)


@given(
    st.lists(
        st.tuples(st.floats(2.5, 4.2), st.floats(0.0001, 1), st.floats(0.01, 100)),
        min_size=2,
        max_size=20,
    )
)
def test_laws(ask, cells):
    """Currents and charges cancel, all come to one voltage between the two ends, none is lost."""
    answer = ask("joining", cells=[cell(*one) for one in cells])
    amps = [one.cell_current_a for one in answer.cells]
    assert sum(amps) == pytest.approx(0, abs=1e-9 * (1 + max(map(abs, amps))))
    given_ah = [one.given_charge_ah for one in answer.cells]
    assert sum(given_ah) == pytest.approx(0, abs=1e-9 * sum(q for *_, q in cells))
    assert answer.moved_charge_ah == pytest.approx(sum(map(abs, given_ah)) / 2, abs=1e-9)
    volts = [volt for volt, *_ in cells]
    assert min(volts) - 1e-9 <= answer.settled_voltage_v <= max(volts) + 1e-9
    assert min(volts) - 1e-9 <= answer.joined_voltage_v <= max(volts) + 1e-9
    assert answer.highest_charge_current_a >= max(answer.pair_current_a, -min(amps)) * (1 - 1e-9)


def test_a_pair_may_be_worse_than_all_at_once(ask):
    """Of one full cell and two empty ones, the worst moment is when only one of these is in."""
    answer = ask("joining", cells=[cell(4.0), cell(3.5), cell(3.5)])
    assert (answer.pair_from_cell_number, answer.pair_into_cell_number) == (1, 2)
    assert answer.pair_current_a == pytest.approx(10)
    assert answer.highest_charge_current_a == pytest.approx(10)
    # by hand: 10 A·(2/3) out of the full one, half of it into each
    assert [one.cell_current_a for one in answer.cells] == pytest.approx([40 / 3, -20 / 3, -20 / 3])


def test_all_at_once_may_be_worse_than_a_pair(ask):
    """Of two full cells and an empty one, the worst is both full ones together on the empty one."""
    answer = ask("joining", cells=[cell(4.0), cell(4.0), cell(3.5)])
    assert answer.pair_current_a == pytest.approx(10)
    assert answer.highest_charge_current_a == pytest.approx(0.5 / (0.025 + 0.0125))


SMALL = [cell(4.0, 0.1, 10), cell(3.8, 0.1, 10), cell(3.9, 0.1, 0.5)]


@pytest.mark.parametrize(("small", "place"), [(0, 1), (1, 2), (2, 3)])
def test_the_worst_cell_is_the_one_furthest_above_its_limit(ask, small, place):
    """By hand: 1 A into 10 Ah that take 5 A is no rush; 0.1 V / 0.2 Ω into 0.5 Ah that take 0.25 A is."""
    cells = [*SMALL[:2]]
    cells.insert(small, SMALL[2])
    answer = ask("joining", cells=cells)
    # the highest current goes into another cell, within its limit
    assert answer.highest_charge_current_a == pytest.approx(1.0)
    (found,) = [f for f in answer.findings if f.rule == "joining-rush"]
    assert re.search(rf"Cell {place} .*0\.5 A.* 0\.25 A", found.sentence)
    (step,) = [
        step for step in answer.working if f"cell {place}" in step.what and step.unit == "A"
    ][-1:]
    assert step.result == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("apart_v", "said"), [(0.2, "joining is 0.05 V"), (0.002, None), (0.06, "joining is 0.05 V")]
)
def test_the_advice_is_given_to_a_millivolt(ask, apart_v, said):
    """By hand: 1 A, the usual for 2 Ah, through 50 mΩ are 50 mV."""
    answer = ask("joining", cells=[cell(4.0), cell(4.0 - apart_v, capacity=2)])
    found = [f.sentence for f in answer.findings if f.rule == "joining-rush"]
    assert bool(found) is bool(said)
    if said:
        assert said in found[0]


@pytest.mark.parametrize(
    ("ohm", "said"),
    [(0.05, "less than 0.001 V"), (0.1, "0.001 V"), (0.19, "0.001 V"), (0.2, "0.002 V")],
)
def test_an_advice_finer_than_a_voltmeter(ask, ohm, said):
    """By hand: 5 mA, the usual for 10 mAh, through twice the resistance, rounded down to a millivolt."""
    answer = ask("joining", cells=[cell(4.0, ohm, 0.01), cell(3.9, ohm, 0.01)])
    (found,) = [f.sentence for f in answer.findings if f.rule == "joining-rush"]
    assert f"difference for joining is {said}." in found
    assert answer.highest_voltage_difference_v == pytest.approx(0.01 * ohm)


@pytest.mark.parametrize(
    ("limit", "by_capacity"), [({}, True), ({"cell_charge_limit_a": 1.5}, False)]
)
def test_a_usual_limit_is_called_so(ask, limit, by_capacity):
    """The sentence says whether the limit is the given or the usual one."""
    answer = ask("joining", cells=[cell(4.0), cell(3.5)], **limit)
    (found,) = [f.sentence for f in answer.findings if f.rule == "joining-rush"]
    assert "1.5 A" in found
    assert ("usual" in found) is by_capacity


def test_a_rush_comes_before_what_is_left_out(ask):
    """The warning is the first finding, before the note on a missing curve."""
    answer = ask("joining", cells=[cell(3.9), cell(3.5)], chemistry="lmo")
    assert [f.rule for f in answer.findings] == ["joining-rush", "join-like-cells", "no-curve"]


def test_the_working_ends_at_rest(ask):
    """Where there is a curve the working goes on to charge, voltage and what changes places."""
    answer = ask("joining", cells=[cell(4.0), cell(3.5), cell(3.5)])
    results = [step.result for step in answer.working]
    assert results[0] == answer.pair_current_a
    assert results[-3:] == [
        answer.settled_state_of_charge,
        answer.settled_voltage_v,
        answer.moved_charge_ah,
    ]
    # one cell gives
    assert answer.working[-1].with_numbers.count("×") == 1
    even = ask("joining", cells=[cell(3.9), cell(3.9)])
    assert even.working[-1].with_numbers == "0 Ah"
    without = ask("joining", cells=[cell(4.0), cell(3.5)], chemistry="lmo")
    assert len(without.working) == len(answer.working) - 3


@pytest.mark.parametrize(
    ("limit", "verdict"),
    [
        (9.999999, "over_limit"),
        (10, "little_headroom"),
        (10 / 0.9 * (1 - 1e-6), "little_headroom"),
        (10 / 0.9 * (1 + 1e-6), "within_limit"),
    ],
)
def test_verdict_at_the_charge_limit(ask, limit, verdict):
    """10 A into the lower cell: just below, at and just above its charge limit."""
    cells = [cell(4.0, capacity=10), cell(3.5, capacity=10)]
    answer = ask("joining", cells=cells, cell_charge_limit_a=limit)
    assert answer.verdict == verdict
    assert ("joining-rush" in [f.rule for f in answer.findings]) is (verdict == "over_limit")


def test_without_a_limit_advice_by_capacity(ask):
    """An assumed limit allows nothing; the advice is the difference at half the capacity per hour."""
    answer = ask("joining", cells=[cell(4.0, capacity=2), cell(4.0, capacity=2)])
    assert answer.verdict == "not_judged"
    # by hand: 1 A through 50 milliohm
    assert answer.highest_voltage_difference_v == pytest.approx(0.05)
    assert (answer.assumptions[-1].value, answer.assumptions[-1].unit) == (1.0, "A")
    assert "common practice" in answer.assumptions[-1].origin


@pytest.mark.parametrize("apart", [0.999, 1.001])
def test_advice_is_the_limit(ask, apart):
    """Just within the advised difference the rule is silent, just beyond it speaks."""
    high = [cell(4.0, 0.02, 3), cell(4.0, 0.04, 2)]
    advised = ask("joining", cells=[*high, cell(4.0, 0.03, 1)]).highest_voltage_difference_v
    answer = ask("joining", cells=[*high, cell(4.0 - apart * advised, 0.03, 1)])
    assert ("joining-rush" in [f.rule for f in answer.findings]) is (apart > 1)


def test_equal_cells_have_no_rush(ask):
    """Cells at one voltage pass no current and move no charge."""
    answer = ask("joining", cells=[cell(3.9), cell(3.9, 0.04, 1)])
    assert answer.pair_current_a == answer.highest_charge_current_a == answer.moved_charge_ah == 0
    assert answer.pair_from_cell_number != answer.pair_into_cell_number
    assert [f.rule for f in answer.findings] == ["join-like-cells"]


def test_off_the_curve_the_rush_is_still_answered(ask):
    """An overdischarged cell has a rush, but no state of charge on the curve."""
    answer = ask("joining", cells=[cell(4.0), cell(1.0)])
    assert answer.pair_current_a == pytest.approx(60)
    assert b"settled" not in msgspec.json.encode(answer)
    assert [f.rule for f in answer.findings] == [
        "joining-rush",
        "join-like-cells",
        "cell-below-end",
        "voltage-off-curve",
    ]


@pytest.mark.parametrize(
    ("volts", "giver", "taker"), [([3.8, 4.0, 3.9], 2, 1), ([4.0, 3.9, 3.7], 1, 3)]
)
def test_the_working_names_the_pair(ask, volts, giver, taker):
    """From the fullest into the emptiest, counted from one, as the answer counts them."""
    got = ask("joining", cells=[cell(volt) for volt in volts])
    assert (got.pair_from_cell_number, got.pair_into_cell_number) == (giver, taker)
    assert got.working[0].what.endswith(f": from cell {giver} into cell {taker}")


@pytest.mark.parametrize(
    ("chemistry", "end_v", "charged_v"),
    [
        ("nmc", 2.5, 4.2),
        ("nca", 2.7, 4.2),
        ("lco", 2.75, 4.2),
        ("lmo", 2.5, 4.2),
        ("lfp", 2.0, 3.65),
        ("lco_high_voltage", 2.75, 4.35),
    ],
)
@pytest.mark.parametrize("limit", [{}, {"cell_charge_limit_a": 4}])
def test_cells_beyond_their_ends_are_not_joined(ask, chemistry, end_v, charged_v, limit):
    """Two cells 20 mV apart push 0.4 A: what forbids to join them is where they rest, for any chemistry."""
    for volts, rule in [
        ((1.0, 1.02), "cell-below-end"),
        ((end_v - 0.001, end_v + 0.019), "cell-below-end"),
        ((charged_v + 0.031, charged_v + 0.051), "cell-above-full"),
        ((end_v, end_v + 0.02), None),
        ((charged_v + 0.03, charged_v + 0.05), None),
    ]:
        answer = ask("joining", cells=[cell(v) for v in volts], chemistry=chemistry, **limit)
        found = {f.rule: f.severity for f in answer.findings}
        assert (answer.verdict == "over_limit") is bool(rule)
        if rule:
            assert found[rule] == "warning"
            assert answer.headline.count("Do not use, join or charge it") == 1
        else:
            assert answer.verdict == ("within_limit" if limit else "not_judged")


def test_against_an_assumed_limit_nothing_is_within(ask):
    """However little flows, half the capacity per hour was not said by the manufacturer."""
    for apart_v in (0, 0.001, 0.05):
        answer = ask("joining", cells=[cell(4.0), cell(4.0 - apart_v)])
        assert answer.verdict == "not_judged"
        assert "charge limit of 1.5 A (0.5 C) was only assumed" in answer.headline


def test_the_charge_limit_is_not_called_a_rating(ask):
    """A rating is one of discharging."""
    for volts in ((4.0, 3.99), (4.0, 3.5)):
        answer = ask("joining", cells=[cell(v) for v in volts])
        assert all("rating" not in one.sentence for one in answer.findings)
        assert "same make, age and history" in " ".join(f.sentence for f in answer.findings)


def test_the_contacts_are_not_counted_on(ask):
    """Without a word on the contacts they let all current through: 0.1 V over two cells of 25 mΩ is 2 A."""
    two = [{**cell(4.0)}, {**cell(3.9)}]
    for one in two:
        del one["contact_resistance_ohm"]
    assert ask("joining", cells=two).pair_current_a == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("rated", "verdict", "limit"),
    [
        ({}, "within_limit", "not_judged"),
        ({"cell_rating_a": 6.7}, "over_limit", "over_limit"),
        ({"cell_rating_a": 6.8}, "little_headroom", "little_headroom"),
        ({"cell_rating_a": 20}, "within_limit", "within_limit"),
    ],
)
def test_what_the_fullest_cell_gives(ask, rated, verdict, limit):
    """By hand: 0.15 V over 20 mΩ and a ninth of 20 mΩ are 6.75 A out of one cell among ten."""
    volts = [4.05] * 4 + [4.2] + [4.05] * 5
    got = ask("joining", cells=[cell(v, 0.02) for v in volts], cell_charge_limit_a=5, **rated)
    held = {one.name.value: one for one in got.limits}["continuous_rating"]
    said = {one.rule: one.sentence for one in got.findings}
    assert (got.verdict, held.verdict) == (verdict, limit)
    assert "Cell 5 gives up to 6.8 A at first." in said["join-like-cells"]
    assert ("Cell 5 would give 6.8 A, above" in said.get("over-rating", "")) is (
        limit == "over_limit"
    )


def test_cells_at_one_voltage_give_nothing(ask):
    """No cell is named as the one that gives."""
    got = ask("joining", cells=[cell(4), cell(4)], cell_rating_a=1)
    assert "gives up to" not in " ".join(one.sentence for one in got.findings)
    assert {one.name.value: one.verdict for one in got.limits}[
        "continuous_rating"
    ] == "within_limit"
