"""Joining cells as a question: what a circuit simulator finds, the laws, and the limits."""

import json
import subprocess
import sys
from pathlib import Path

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import make_interp_spline
from scipy.optimize import brentq

from percell.physics.curves import published_curve
from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS

PACKS = Path(__file__).parents[2] / "reference" / "ngspice_packs.py"


def cell(volt, ohm=0.025, capacity=3.0):
    return {
        "open_circuit_voltage_v": volt,
        "resistance_ohm": ohm,
        "contact_resistance_ohm": 0,
        "capacity_ah": capacity,
    }


@pytest.fixture(scope="module")
def packs(tool):
    done = subprocess.run(
        [sys.executable, str(PACKS), tool("ngspice")], capture_output=True, text=True, check=True
    )
    return json.loads(done.stdout)


@pytest.mark.parametrize("source", ["ngspice operating point"])
def test_simulated_rush(ask, packs, source):
    """Each cell's current at the moment of joining is the simulator's."""
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
        assert [one.current_a for one in answer.cells] == pytest.approx(theirs, rel=1e-6), source
        assert answer.joined_voltage_v == pytest.approx(pack["pack_voltage_v"], rel=1e-9)
        assert answer.highest_charge_current_a >= -min(theirs) * (1 - 1e-6)


@pytest.mark.parametrize("chemistry", ["nmc", "nca", "lfp"])
@pytest.mark.parametrize("source", ["SciPy: linear spline and Brent root on the published curve"])
def test_rest(ask, source, chemistry):
    """The cells rest where SciPy finds that what some give is what the others take."""
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
    assert answer.settled_voltage_v == pytest.approx(root, rel=1e-9), source
    assert answer.settled_charge == pytest.approx(float(charge_at(root)), rel=1e-9)


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
    amps = [one.current_a for one in answer.cells]
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
    assert (answer.pair_from_cell, answer.pair_into_cell) == (1, 2)
    assert answer.pair_current_a == pytest.approx(10)
    assert answer.highest_charge_current_a == pytest.approx(10)
    # by hand: 10 A·(2/3) out of the full one, half of it into each
    assert [one.current_a for one in answer.cells] == pytest.approx([40 / 3, -20 / 3, -20 / 3])


def test_all_at_once_may_be_worse_than_a_pair(ask):
    """Of two full cells and an empty one, the worst is both full ones together on the empty one."""
    answer = ask("joining", cells=[cell(4.0), cell(4.0), cell(3.5)])
    assert answer.pair_current_a == pytest.approx(10)
    assert answer.highest_charge_current_a == pytest.approx(0.5 / (0.025 + 0.0125))


@pytest.mark.parametrize(
    ("limit", "verdict"),
    [
        (9.999999, "over_rating"),
        (10, "little_headroom"),
        (10 / 0.9 * (1 - 1e-6), "little_headroom"),
        (10 / 0.9 * (1 + 1e-6), "within_rating"),
    ],
)
def test_verdict_at_the_charge_limit(ask, limit, verdict):
    """10 A into the lower cell: just below, at and just above its charge limit."""
    cells = [cell(4.0), cell(3.5)]
    answer = ask("joining", cells=cells, cell_charge_limit_a=limit)
    assert answer.verdict == verdict
    assert ("joining-rush" in [f.rule for f in answer.findings]) is (verdict == "over_rating")
    pair = ask(
        "joining-pair",
        voltage_apart_v=0.5,
        cell_resistance_ohm=0.025,
        contact_resistance_ohm=0,
        cell_capacity_ah=3,
        cell_charge_limit_a=limit,
    )
    assert pair.verdict == verdict


def test_without_a_limit_advice_by_capacity(ask):
    """No limit, no verdict: the advice is the difference at half the capacity in an hour."""
    answer = ask("joining", cells=[cell(4.0, capacity=4), cell(4.0, capacity=2)])
    assert not answer.verdict
    # by hand: 1 A through 50 milliohm
    assert answer.highest_voltage_apart_v == pytest.approx(0.05)
    assert answer.assumptions[-1].value == "0.5 C"
    assert "common practice" in answer.assumptions[-1].origin


@pytest.mark.parametrize("apart", [0.999, 1.001])
def test_advice_is_the_limit(ask, apart):
    """Just within the advised difference the rule is silent, just beyond it speaks."""
    high = [cell(4.0, 0.02, 3), cell(4.0, 0.04, 2)]
    advised = ask("joining", cells=[*high, cell(4.0, 0.03, 1)]).highest_voltage_apart_v
    answer = ask("joining", cells=[*high, cell(4.0 - apart * advised, 0.03, 1)])
    assert ("joining-rush" in [f.rule for f in answer.findings]) is (apart > 1)


def test_equal_cells_have_no_rush(ask):
    """Cells at one voltage pass no current and move no charge."""
    answer = ask("joining", cells=[cell(3.9), cell(3.9, 0.04, 1)])
    assert answer.pair_current_a == answer.highest_charge_current_a == answer.moved_charge_ah == 0
    assert answer.pair_from_cell != answer.pair_into_cell
    assert answer.findings == []


def test_off_the_curve_the_rush_is_still_answered(ask):
    """An overdischarged cell has a rush, but no charge that a curve could tell."""
    answer = ask("joining", cells=[cell(4.0), cell(1.0)])
    assert answer.pair_current_a == pytest.approx(60)
    assert b"settled" not in msgspec.json.encode(answer)
    assert {f.rule for f in answer.findings} == {"joining-rush", "voltage-off-curve"}


@pytest.mark.parametrize(
    ("source", "apart_v", "expected_a"),
    [
        ("common practice, no published source: 0.1 V over two cells of 20 milliohm", 0.1, 2.5),
        ("common practice, no published source: 0.05 V over two cells of 20 milliohm", 0.05, 1.25),
    ],
)
def test_pair_by_hand(ask, source, apart_v, expected_a):
    """Two like cells: the difference over twice the resistance, alike in both questions."""
    pair = ask(
        "joining-pair",
        voltage_apart_v=apart_v,
        cell_resistance_ohm=0.02,
        contact_resistance_ohm=0,
        cell_capacity_ah=3,
    )
    assert pair.rush_current_a == pytest.approx(expected_a), source
    both = ask("joining", cells=[cell(4.0, 0.02), cell(4.0 - apart_v, 0.02)])
    assert both.pair_current_a == pytest.approx(expected_a)
    assert both.highest_voltage_apart_v == pytest.approx(pair.highest_voltage_apart_v)


def test_pair_over_a_grid(ask):
    """A whole grid of pairs has the figures of each pair asked by itself."""
    apart, ohms = np.array([[0.05], [0.2]]), np.array([[0.01, 0.03]])
    got = figures_over(
        QUESTIONS["joining-pair"],
        {"cell_capacity_ah": 3},
        {"voltage_apart_v": apart, "cell_resistance_ohm": ohms},
    )
    for i in range(2):
        for j in range(2):
            one = ask(
                "joining-pair",
                cell_capacity_ah=3,
                voltage_apart_v=float(apart[i, 0]),
                cell_resistance_ohm=float(ohms[0, j]),
            )
            assert got.rush_current_a[i, j] == one.rush_current_a
