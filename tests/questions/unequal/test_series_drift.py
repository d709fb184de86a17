"""A string of unequal cells, cycle by cycle."""

from math import floor

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from percell.physics.curves import open_circuit_voltage_v, published_curve
from percell.questions.vocabulary.refusal import Refused

NMC = published_curve(chemistry="nmc")
ANY = 1e-4  # Ah or V: coarser than the search for an end


def cells(*capacity_ah, **more):
    return [{"cell_capacity_ah": ah, "cell_resistance_ohm": 0.02} | more for ah in capacity_ah]


def rules(answer):
    return {finding.rule: finding for finding in answer.findings}


capacities = st.lists(st.floats(0.5, 5), min_size=2, max_size=4)


@given(capacities, st.floats(0, 0.05), st.integers(1, 4))
def test_one_charge_through_all(ask, capacity_ah, loss_ah, cycles):
    """The same charge leaves each cell; only the losses differ."""
    got = ask(
        "series-drift",
        cells=cells(*capacity_ah, loss_ah=loss_ah),
        cycle_count=cycles,
        chemistry="nmc",
    )
    through_ah = sum(c.string_charge_ah - c.string_discharge_ah for c in got.cycles)
    for cell, ah in zip(got.cells, capacity_ah, strict=True):
        assert cell.discharged_part * ah == pytest.approx(
            got.cycles[0].string_discharge_ah, rel=1e-9
        )
        kept_ah = (cell.state_of_charge_at_charged - 1) * ah
        assert kept_ah == pytest.approx(through_ah - cycles * loss_ah, abs=1e-8)


@pytest.mark.parametrize("weak_ah", [2.9, 2.5, 2.0, 1.2])
def test_ends_against_scipy_root(ask, weak_ah):
    """The first cut-off and the charge after it are where SciPy's brentq finds the sums at their ends."""
    capacity_ah = np.array([3.0, 3.0, weak_ah])
    got = ask(
        "series-drift", cells=cells(*capacity_ah.tolist()), cycle_count=1, end_discharge_current_a=5
    )
    first = got.cycles[0]

    def above_v(charge_ah):
        return (
            np.sum(open_circuit_voltage_v(curve=NMC, soc=1 - charge_ah / capacity_ah) - 0.1)
            - 3 * 2.8
        )

    given_ah = brentq(above_v, 0, 10, xtol=1e-12)
    assert first.string_discharge_ah == pytest.approx(given_ah, abs=1e-7)
    ends_v = open_circuit_voltage_v(curve=NMC, soc=1 - given_ah / capacity_ah) - 0.1
    assert first.lowest_at_cutoff_v == pytest.approx(ends_v.min(), abs=1e-4)
    assert first.highest_at_cutoff_v == pytest.approx(ends_v.max(), abs=1e-4)
    # without a loss, the charge restores what was taken
    assert first.string_charge_ah == pytest.approx(given_ah, abs=1e-6)
    assert got.weakest_cell_number == 3


@given(capacities)
def test_order_of_cells_is_no_matter(ask, capacity_ah):
    """A string in reverse has the same voltages, and its cells in reverse."""
    one = ask("series-drift", cells=cells(*capacity_ah), cycle_count=2)
    other = ask("series-drift", cells=cells(*capacity_ah[::-1]), cycle_count=2)
    assert one.lowest_at_cutoff_v == pytest.approx(other.lowest_at_cutoff_v, abs=1e-5)
    for cell, same in zip(one.cells, other.cells[::-1], strict=True):
        assert cell.state_of_charge_at_cutoff == pytest.approx(
            same.state_of_charge_at_cutoff, abs=1e-6
        )


@pytest.mark.parametrize("watched", ["pack", "each_cell"])
@pytest.mark.parametrize(
    ("chemistry", "size", "cutoff_v", "charged_v"), [("nmc", 3, 2.8, 4.2), ("lfp", 4.9, 2.5, 3.65)]
)
@pytest.mark.parametrize("current_a", [0, 10])
def test_like_cells_never_drift(ask, chemistry, size, cutoff_v, charged_v, current_a, watched):
    """Equal cells reach the limits together, except for noise, and get only notes."""
    got = ask(
        "series-drift",
        cells=cells(*[size] * 5),
        cycle_count=20,
        chemistry=chemistry,
        watched=watched,
        end_discharge_current_a=current_a,
        end_charge_current_a=1.5,
    )
    assert got.lowest_at_cutoff_v == pytest.approx(cutoff_v, abs=1e-5)
    assert got.highest_at_charged_v == pytest.approx(charged_v, abs=1e-5)
    assert rules(got).keys() <= {"one-current-in-series", "curve-borrowed"}


@pytest.mark.parametrize(
    ("limits", "cutoff_v", "charged_v"),
    [
        ({}, 2.8, 4.2),
        ({"cell_cutoff_voltage_v": 3.0}, 3.0, 4.2),
        ({"cell_charged_voltage_v": 4.1}, 2.8, 4.1),
    ],
)
def test_limits_given_or_by_chemistry(ask, limits, cutoff_v, charged_v):
    """Like cells end each discharge and charge at the limits given, else at the chemistry's."""
    got = ask("series-drift", cells=cells(3, 3), cycle_count=2, **limits)
    assert got.lowest_at_cutoff_v == pytest.approx(cutoff_v, abs=1e-5)
    assert got.highest_at_charged_v == pytest.approx(charged_v, abs=1e-5)


@pytest.mark.parametrize("turned", [False, True])
def test_the_weakest_is_the_lowest_under_load(ask, turned):
    """By hand: 10 A take 1 V in 0.1 Ω and 0.1 V in 0.01 Ω, more than 50 mAh less make at rest."""
    string = [
        {"cell_capacity_ah": 3, "cell_resistance_ohm": 0.1},
        {"cell_capacity_ah": 2.95, "cell_resistance_ohm": 0.01},
    ]
    asked = {"cells": string[::-1] if turned else string, "cycle_count": 1}
    got = ask("series-drift", **asked, end_discharge_current_a=10)
    assert got.weakest_cell_number == (2 if turned else 1)
    # the lowest is that cell with its sag: by hand from both cells
    low_v, high_v = got.cycles[0].lowest_at_cutoff_v, got.cycles[0].highest_at_cutoff_v
    assert low_v + high_v == pytest.approx(5.6, abs=1e-5)
    assert 0.5 < high_v - low_v < 0.9
    assert got.working[1].result == pytest.approx(got.cycles[0].string_discharge_ah / 3)
    # without a load the smaller cell is lowest
    assert ask("series-drift", **asked).weakest_cell_number == (1 if turned else 2)


def test_the_ends_are_the_worst_of_all_cycles(ask):
    """Figures and sentence give the worst of all cycles, whichever cycle it was."""
    string = [*cells(3), *cells(2.8, loss_ah=0.02)]
    got = ask("series-drift", cells=string, cycle_count=6)
    lows = [cycle.lowest_at_cutoff_v for cycle in got.cycles]
    highs = [cycle.highest_at_charged_v for cycle in got.cycles]
    assert got.lowest_at_cutoff_v == min(lows) < max(lows)
    assert got.highest_at_charged_v == max(highs) > min(highs)
    said = rules(got)["string-apart"].sentence
    assert f"{floor(min(lows) * 100) / 100:.2f} V" in said
    assert f"{max(highs):.3g} V" in said


@pytest.mark.parametrize("watched", ["pack", "each_cell"])
def test_the_working_is_the_figures(ask, watched):
    """Each step ends in a figure of the answer, and says what ends a discharge."""
    got = ask("series-drift", cells=cells(3, 2.5), cycle_count=3, watched=watched)
    first, last = got.cycles[0], got.cycles[-1]
    assert [step.result for step in got.working] == [
        first.string_discharge_ah,
        pytest.approx(first.string_discharge_ah / 2.5),
        pytest.approx(first.string_discharge_ah / 3),
        last.lowest_at_cutoff_v,
        last.highest_at_charged_v,
        got.usable_charge_before_ah,
        got.usable_charge_after_ah,
    ]
    whole = watched == "pack"
    # 2.8 V a cell, or of the two together
    assert ("5.6 V" if whole else "to 2.8 V") in got.working[0].with_numbers
    for step in (got.working[0], got.working[4]):
        assert ("Σ" in step.relation) is whole


def test_a_cell_loses_up_to_all_that_it_holds(ask):
    """A cell can lose its whole capacity in a cycle, and no more."""
    assert ask("series-drift", cells=[*cells(3), *cells(3, loss_ah=3)], cycle_count=1)
    with pytest.raises(Refused, match="cannot lose"):
        ask("series-drift", cells=[*cells(3), *cells(3, loss_ah=3 * (1 + 1e-9))], cycle_count=1)


@pytest.mark.parametrize(
    ("first", "second", "listed"),
    [
        ({}, {}, True),
        ({"state_of_charge": 0.5}, {}, True),
        ({}, {"open_circuit_voltage_v": 3.9}, True),
        ({"state_of_charge": 0.5}, {"open_circuit_voltage_v": 3.9}, False),
    ],
)
def test_a_start_that_is_not_given_is_full(ask, first, second, listed):
    """If only one cell is assumed full, that is listed once."""
    got = ask("series-drift", cells=[*cells(3, **first), *cells(3, **second)], cycle_count=1)
    assumed = {a.name: a.value for a in got.assumptions}
    assert assumed.get("cells.state_of_charge") == (1.0 if listed else None)


def test_it_is_said_that_the_weak_cell_is_given_no_more(ask):
    """The finding and the working say that the same charge goes through each cell."""
    got = ask("series-drift", cells=cells(3, 2), cycle_count=1)
    sentence = rules(got)["one-current-in-series"].sentence
    assert "out of every cell" in sentence
    first_ah = got.cycles[0].string_discharge_ah
    assert f" {100 * first_ah / 2:.3g} % of the 2 Ah of cell" in sentence
    assert f" {100 * first_ah / 3:.3g} % of the 3 Ah of the largest" in sentence
    assert "the same current through all" in got.working[0].what


def test_balancing_restores_what_the_weakest_holds(ask):
    """After balancing a string gives what its smallest cell holds, whatever the losses were."""
    string = [*cells(3), *cells(2.5, loss_ah=0.02)]
    got = ask("series-drift", cells=string, cycle_count=10)
    fresh = ask("series-drift", cells=cells(2.5, 2.5), cycle_count=1)
    assert got.usable_charge_after_ah == pytest.approx(
        fresh.cycles[0].string_discharge_ah, abs=1e-5
    )
    assert got.usable_charge_before_ah < got.usable_charge_after_ah
    assert got.cells[0].balancing_charge_ah == 0.0
    assert got.cells[1].balancing_charge_ah > 0.0


def test_start_by_charge_or_by_voltage(ask):
    """An open-circuit voltage starts like its state of charge on the curve."""
    half_v = float(open_circuit_voltage_v(curve=NMC, soc=0.5))
    by_charge = ask("series-drift", cells=cells(3, 3, state_of_charge=0.5), cycle_count=1)
    by_voltage = ask(
        "series-drift", cells=cells(3, 3, open_circuit_voltage_v=half_v), cycle_count=1
    )
    assert by_charge.cycles == by_voltage.cycles
    assert "cells.state_of_charge" not in {a.name for a in by_charge.assumptions}
    full = ask("series-drift", cells=cells(3, 3), cycle_count=1)
    assert "cells.state_of_charge" in {a.name for a in full.assumptions}


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        (
            {"cells": cells(3, 3, state_of_charge=1, open_circuit_voltage_v=4)},
            "/cells/0/state_of_charge",
        ),
        ({"cells": cells(3, 3), "chemistry": "lmo"}, "/chemistry"),
        (
            {"cells": [*cells(3), *cells(3, loss_ah=3.1)]},
            "/cells/1/loss_ah",
        ),
        (
            {"cells": cells(3, 3), "cell_cutoff_voltage_v": 4.2, "cell_charged_voltage_v": 4.2},
            "/cell_cutoff_voltage_v",
        ),
    ],
)
def test_contradictions_are_refused(ask, body, pointer):
    """Two starts, a chemistry without a curve and a cut-off not below the charged voltage are refused."""
    with pytest.raises(Refused) as refused:
        ask("series-drift", cycle_count=1, **body)
    assert refused.value.pointer == pointer


@pytest.mark.parametrize(
    ("volts", "said"),
    [(2.5, ""), (4.2, ""), (2.49, "counts as empty"), (4.21, "counts as full")],
)
def test_an_open_circuit_voltage_off_the_curve_is_said(ask, volts, said):
    """A voltage outside the curve is not silently assumed to be empty or full."""
    string = [*cells(3), {"cell_capacity_ah": 3, "open_circuit_voltage_v": volts}]
    found = rules(ask("series-drift", cells=string, cycle_count=1))
    assert ("voltage-off-curve" in found) is bool(said)
    if said:
        assert said in found["voltage-off-curve"].sentence
        assert "Cell 2" in found["voltage-off-curve"].sentence


def test_the_weakest_is_named_by_the_first_discharge(ask):
    """The smaller cell is lowest at first; later it is the one that loses 20 mAh a cycle."""
    string = [*cells(2.95), *cells(3, loss_ah=0.02)]
    got = ask("series-drift", cells=string, cycle_count=20, watched="each_cell")
    first, last = got.cycles[0], got.cycles[-1]
    assert first.string_discharge_ah > last.string_discharge_ah + 0.2
    assert got.weakest_cell_number == 1
    at_end = [one.state_of_charge_at_cutoff for one in got.cells]
    assert at_end[1] < at_end[0]
    said = rules(got)["one-current-in-series"].sentence
    assert f"takes {first.string_discharge_ah:.3g} Ah out of every cell." in said
    assert "of cell 1, and" in said
    assert got.working[0].result == first.string_discharge_ah
    assert got.working[1].what.endswith(" of cell 1, the weakest")
    assert got.working[3].result == last.lowest_at_cutoff_v
    assert got.working[3].with_numbers.startswith(f"OCV({at_end[1]:.4g}), ")
    assert got.cells[0].discharged_part == pytest.approx(first.string_discharge_ah / 2.95)


def test_where_cells_stand_in_the_end_by_counting_charge(ask):
    """By hand: full, less all discharges and losses, and all charges on top, over 3 Ah."""
    string = [*cells(2.95), *cells(3, loss_ah=0.02)]
    got = ask("series-drift", cells=string, cycle_count=20)
    out_ah = sum(one.string_discharge_ah for one in got.cycles)
    in_ah = sum(one.string_charge_ah for one in got.cycles)
    last = got.cells[1]
    assert last.state_of_charge_at_charged == pytest.approx(1 + (in_ah - out_ah - 20 * 0.02) / 3)
    before_ah = in_ah - got.cycles[-1].string_charge_ah
    assert last.state_of_charge_at_cutoff == pytest.approx(1 + (before_ah - out_ah - 19 * 0.02) / 3)


def test_what_is_left_to_use_is_the_next_discharge(ask):
    """Without a load and with each cell watched, it is what the string gives in the cycle after."""
    string = [*cells(2.95), *cells(3, loss_ah=0.02)]
    asked = {"cells": string, "watched": "each_cell"}
    left_ah = ask("series-drift", **asked, cycle_count=20).usable_charge_before_ah
    after = ask("series-drift", **asked, cycle_count=21).cycles[-1]
    assert left_ah == pytest.approx(after.string_discharge_ah, abs=ANY)


def test_past_empty_is_below_the_curve(ask):
    """The curve of the cell begins at 2.5 V, and a third of its fellows' capacity goes past that."""
    got = ask("series-drift", cells=cells(3, 3, 1), cycle_count=1)
    assert rules(got)["drift-over-discharge"].sentence == (
        "A cell is below 2.5 V, the end-of-discharge voltage of nickel manganese cobalt oxide, when discharge 1 "
        "ends. The lowest voltage is 0.64 V, when discharge 1 ends. Never charge such a cell."
    )
    assert "Ah of cell 3, and" in rules(got)["one-current-in-series"].sentence


def test_the_first_voltage_off_the_curve_is_named(ask):
    """Of two such cells the first is told, and both are counted."""
    volts = (4, 4.21, 2.49)
    string = [{"cell_capacity_ah": 3, "open_circuit_voltage_v": volt} for volt in volts]
    said = rules(ask("series-drift", cells=string, cycle_count=1))["voltage-off-curve"].sentence
    assert said.startswith(
        "Cell 2 rests at 4.21 V, outside its curve from 2.5 to 4.2 V. It counts as full. 2 of"
    )


def test_a_balancing_charge_is_no_more_than_a_cell_holds(ask):
    """What a cell is short of below empty is no charge to count on: 3 Ah fill the cell."""
    string = [*cells(3, 3, 3), *cells(3, loss_ah=3)]
    got = ask("series-drift", cells=string, cycle_count=2)
    assert got.cells[-1].state_of_charge_at_charged < 0
    assert got.cells[-1].balancing_charge_ah == pytest.approx(3)
    assert got.usable_charge_before_ah == 0


def test_one_voltage_is_said_one_way(ask):
    """The headline's figure and the finding about cells beyond their ends agree."""
    got = ask("series-drift", cells=cells(3, 2.94), cycle_count=1, cell_cutoff_voltage_v=2.8)
    low_v = floor(got.lowest_at_cutoff_v * 100) / 100
    assert f"falls to about {low_v:.2f} V" in got.headline
    assert f"from {low_v:.2f} V" in rules(got)["string-apart"].sentence
