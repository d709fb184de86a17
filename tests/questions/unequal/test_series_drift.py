"""A string of unequal cells, cycle by cycle, and the same for one weak cell among like ones."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from percell.physics.curves import open_circuit_voltage_v, published_curve
from percell.questions.unequal.series_drift import OVERCHARGE_V
from percell.questions.vocabulary.refusal import Refused

NMC = published_curve(chemistry="nmc")
ANY = 1e-4  # Ah or V: larger than what the search for an end leaves open


def cells(*capacity_ah, **more):
    return [{"cell_capacity_ah": ah, "cell_resistance_ohm": 0.02} | more for ah in capacity_ah]


def rules(answer):
    return {finding.rule: finding for finding in answer.findings}


capacities = st.lists(st.floats(0.5, 5), min_size=2, max_size=4)


@given(capacities, st.floats(0, 0.05), st.integers(1, 4))
def test_one_charge_through_all(ask, capacity_ah, loss_ah, cycles):
    """What leaves each cell, as part of its capacity, is one charge; the losses are all that differs."""
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
    # nothing is lost, so the charge puts back what was taken
    assert first.string_charge_ah == pytest.approx(given_ah, abs=1e-6)
    assert got.weakest_cell == 3


@given(capacities)
def test_order_of_cells_is_no_matter(ask, capacity_ah):
    """A string read from its other end has the same voltages, and its cells in the other order."""
    one = ask("series-drift", cells=cells(*capacity_ah), cycle_count=2)
    other = ask("series-drift", cells=cells(*capacity_ah[::-1]), cycle_count=2)
    assert one.lowest_at_cutoff_v == pytest.approx(other.lowest_at_cutoff_v, abs=1e-5)
    for cell, same in zip(one.cells, other.cells[::-1], strict=True):
        assert cell.state_of_charge_at_cutoff == pytest.approx(
            same.state_of_charge_at_cutoff, abs=1e-6
        )


def test_like_cells_never_drift(ask):
    """Equal cells are at the limits together, and nothing but the notes is found."""
    got = ask("series-drift", cells=cells(3, 3, 3), cycle_count=50)
    assert got.lowest_at_cutoff_v == pytest.approx(2.8, abs=1e-5)
    assert got.highest_at_charged_v == pytest.approx(4.2, abs=1e-5)
    assert rules(got).keys() == {"one-current-in-series", "curve-borrowed"}


def test_it_is_said_that_the_weak_cell_is_given_no_more(ask):
    """The finding and the working say that the same charge goes through each cell."""
    got = ask("series-drift", cells=cells(3, 2), cycle_count=1)
    sentence = rules(got)["one-current-in-series"].sentence
    assert "out of each cell alike" in sentence
    assert "not given more to do" in sentence
    assert "the same current through all" in got.working[0].what


@pytest.mark.parametrize(("part", "spoken"), [(1.0, False), (1 - ANY, True), (0.8, True)])
def test_apart_from_the_first_difference_on(ask, part, spoken):
    """Like cells are not called apart; with any difference one passes a limit of its own."""
    got = ask("series-drift", cells=cells(3, 3 * part), cycle_count=1)
    assert ("string-apart" in rules(got)) is spoken


def lowest_v(ask, weak_ah):
    got = ask("series-drift", cells=cells(*[3] * 5, weak_ah), cycle_count=1)
    return got.cycles[0].lowest_at_cutoff_v, rules(got), got


@pytest.mark.parametrize(
    ("rule", "limit_v"), [("drift-reversal", 0.0), ("drift-over-discharge", 2.5)]
)
def test_deep_from_the_threshold_on(ask, rule, limit_v):
    """Just above the voltage the rule is silent, at and just below it speaks, and the flag is set."""
    at_ah = brentq(lambda ah: lowest_v(ask, ah)[0] - limit_v, 1.5, 2.999, xtol=1e-9)
    for step, spoken in [(+ANY, False), (-ANY, True), (-0.2, True)]:
        voltage_v, found, got = lowest_v(ask, at_ah + step)
        assert (voltage_v < limit_v) is spoken
        assert (rule in found) is spoken
        first = got.cycles[0]
        assert (first.reversed if limit_v == 0 else first.over_discharged) is spoken


def test_overcharge_from_the_threshold_on(ask):
    """A cell more than 0.05 V above its charged voltage is called overcharged, a lesser one not."""

    def after(loss_ah):
        string = [*cells(3), *cells(3, loss_ah=loss_ah)]
        got = ask("series-drift", cells=string, cycle_count=1)
        return got.highest_at_charged_v, rules(got)

    limit_v = 4.2 + OVERCHARGE_V
    at_ah = brentq(lambda ah: after(ah)[0] - limit_v, 0, 1, xtol=1e-9)
    for step, spoken in [(-ANY, False), (+ANY, True), (0.3, True)]:
        highest_v, found = after(at_ah + step)
        assert (highest_v > limit_v) is spoken
        assert ("drift-overcharge" in found) is spoken
        assert "string-apart" in found


def test_watching_each_cell_keeps_each_within(ask):
    """Where the first cell to reach its limit ends it, none passes one."""
    got = ask("series-drift", cells=cells(3, 2, loss_ah=0.01), cycle_count=5, watched="each_cell")
    assert got.lowest_at_cutoff_v >= 2.8 - 1e-5
    assert got.highest_at_charged_v <= 4.2 + 1e-5
    assert not {"string-apart", "drift-reversal", "drift-overcharge"} & rules(got).keys()


def test_balancing_restores_what_the_weakest_holds(ask):
    """After balancing a string gives what its smallest cell holds, whatever was lost before."""
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
    """An open-circuit voltage read on the curve starts like the state of charge that it stands for."""
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
            "/cells/0/open_circuit_voltage_v",
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
    """A start given twice, a chemistry without a curve and a cut-off that is no lower end are refused."""
    with pytest.raises(Refused) as refused:
        ask("series-drift", cycle_count=1, **body)
    assert refused.value.pointer == pointer


@given(st.integers(2, 5), st.floats(0.3, 1), st.floats(0, 0.05), st.integers(1, 5))
def test_weak_cell_is_the_string_it_stands_for(ask, series, part, loss_ah, cycles):
    """The flat question gets what the string with the same cells, given one by one, gets."""
    flat = ask(
        "weak-cell-drift",
        series=series,
        cell_capacity_ah=3,
        weak_cell_capacity_ratio=part,
        weak_cell_loss_ah=loss_ah,
        cycle_count=cycles,
    )
    string = [*cells(3 - (1 - part) * 3, loss_ah=loss_ah), *cells(*[3] * (series - 1))]
    whole = ask("series-drift", cells=string, cycle_count=cycles)
    last = whole.cycles[-1]
    assert flat.lowest_at_cutoff_v == pytest.approx(last.lowest_at_cutoff_v, abs=1e-6)
    assert flat.highest_at_charged_v == pytest.approx(last.highest_at_charged_v, abs=1e-6)
    assert flat.usable_charge_before_ah == pytest.approx(whole.usable_charge_before_ah, abs=1e-6)
    assert rules(flat).keys() == rules(whole).keys()


def test_weaker_and_longer_is_deeper(ask):
    """The weak cell goes deeper the less it holds, the more cells drive it and the longer it goes on."""
    body = {
        "series": 2,
        "cell_capacity_ah": 3,
        "weak_cell_capacity_ratio": 0.9,
        "weak_cell_loss_ah": 0.01,
        "cycle_count": 5,
    }
    base = ask("weak-cell-drift", **body)
    for worse in [{"series": 3}, {"weak_cell_capacity_ratio": 0.8}, {"cycle_count": 20}]:
        assert ask("weak-cell-drift", **body | worse).lowest_at_cutoff_v < base.lowest_at_cutoff_v
    assert ask("weak-cell-drift", **body | {"cycle_count": 20}).highest_at_charged_v > (
        base.highest_at_charged_v
    )


@pytest.mark.parametrize(("cycle_count", "row"), [(1, "1"), (11, "20"), (51, "100"), (100, "100")])
def test_row_on_the_careful_side(ask, cycles, row):
    """Between two rows the link is to the one with more cycles."""
    got = ask(
        "weak-cell-drift",
        series=2,
        cell_capacity_ah=3,
        weak_cell_loss_ah=0.01,
        weak_cell_capacity_ratio=0.9,
        cycle_count=cycles,
    )
    assert (got.links.table_row or None) == (row and f"/tables/drift-by-cycles/#{row}")


@pytest.mark.parametrize(
    ("volts", "said"),
    [(2.5, ""), (4.2, ""), (2.49, "was taken as empty"), (4.21, "was taken as full")],
)
def test_an_open_circuit_voltage_off_the_curve_is_said(ask, volts, said):
    """What stands for no state of charge is not taken for empty or full without a word."""
    string = [*cells(3), {"cell_capacity_ah": 3, "open_circuit_voltage_v": volts}]
    found = rules(ask("series-drift", cells=string, cycle_count=1))
    assert ("voltage-off-curve" in found) is bool(said)
    if said:
        assert said in found["voltage-off-curve"].sentence
        assert "Cell 2" in found["voltage-off-curve"].sentence


def test_a_weak_cell_loses_no_more_than_it_holds(ask):
    """The loss is held against the weak cell's own capacity."""
    with pytest.raises(Refused) as refused:
        ask(
            "weak-cell-drift",
            series=2,
            cell_capacity_ah=3,
            weak_cell_capacity_ratio=0.5,
            weak_cell_loss_ah=1.51,
            cycle_count=1,
        )
    assert refused.value.pointer == "/weak_cell_loss_ah"
