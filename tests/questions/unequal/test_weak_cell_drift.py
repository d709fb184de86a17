"""One weak cell among equal ones: the same as the string given cell by cell."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.questions.vocabulary.refusal import Refused

BODY = {
    "series": 2,
    "cell_capacity_ah": 3,
    "weak_cell_capacity_ratio": 0.9,
    "weak_cell_loss_ah": 0.01,
    "cycle_count": 5,
}


def cells(*capacity_ah, **more):
    return [{"cell_capacity_ah": ah, "cell_resistance_ohm": 0.02} | more for ah in capacity_ah]


def rules(answer):
    return {finding.rule: finding for finding in answer.findings}


@given(st.integers(2, 5), st.floats(0.3, 1), st.floats(0, 0.05), st.integers(1, 5))
def test_weak_cell_is_the_string_cell_by_cell(ask, series, part, loss_ah, cycles):
    """The question gets the figures of the same string given cell by cell."""
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
    """The weak cell goes deeper with less capacity, more other cells and more cycles."""
    base = ask("weak-cell-drift", **BODY)
    for worse in [{"series": 3}, {"weak_cell_capacity_ratio": 0.8}, {"cycle_count": 20}]:
        assert ask("weak-cell-drift", **BODY | worse).lowest_at_cutoff_v < base.lowest_at_cutoff_v
    assert ask("weak-cell-drift", **BODY | {"cycle_count": 20}).highest_at_charged_v > (
        base.highest_at_charged_v
    )


@pytest.mark.parametrize(("cycles", "row"), [(1, "1"), (11, "20"), (51, "100"), (100, "100")])
def test_row_on_the_careful_side(ask, cycles, row):
    """Between two rows the link is to the one with more cycles."""
    got = ask("weak-cell-drift", **BODY | {"cycle_count": cycles})
    assert (got.links.table_row or None) == (
        row and f"/tables/drift-by-cycles/{row}/2-cells-90-percent/"
    )


def test_a_weak_cell_loses_no_more_than_it_holds(ask):
    """By hand: half of 3 Ah can be lost in a cycle, and no more."""
    half = BODY | {"weak_cell_capacity_ratio": 0.5}
    for loss_ah in (1.5 * (1 - 1e-6), 1.5):
        assert ask("weak-cell-drift", **half | {"weak_cell_loss_ah": loss_ah}).string_discharge_ah
    for loss_ah in (1.5 * (1 + 1e-6), 3):
        with pytest.raises(Refused, match="cannot lose") as refused:
            ask("weak-cell-drift", **half | {"weak_cell_loss_ah": loss_ah})
        assert refused.value.pointer == "/weak_cell_loss_ah"


def test_each_end_of_the_last_cycle(ask):
    """The two ends of the last cycle are those of the string, and balancing restores the weak cell's."""
    flat = ask("weak-cell-drift", **BODY)
    string = [*cells(2.7, loss_ah=0.01), *cells(3)]
    whole = ask("series-drift", cells=string, cycle_count=5)
    last = whole.cycles[-1]
    assert flat.highest_at_cutoff_v == pytest.approx(last.highest_at_cutoff_v, abs=1e-6)
    assert flat.lowest_at_charged_v == pytest.approx(last.lowest_at_charged_v, abs=1e-6)
    assert flat.usable_charge_after_ah == pytest.approx(whole.usable_charge_after_ah, abs=1e-6)
    assert [step.result for step in flat.working] == pytest.approx(
        [step.result for step in whole.working], abs=1e-6
    )


@pytest.mark.parametrize("current_a", [0, 20])
def test_the_weak_cell_may_have_a_resistance_of_its_own(ask, current_a):
    """It is the string of the same cells given one by one, with the weak one's resistance."""
    got = ask(
        "weak-cell-drift",
        series=4,
        cell_capacity_ah=3,
        weak_cell_capacity_ratio=0.98,
        cell_resistance_ohm=0.02,
        weak_cell_resistance_ohm=0.15,
        cycle_count=1,
        end_discharge_current_a=current_a,
    )
    string = [*cells(2.94, cell_resistance_ohm=0.15), *cells(3, 3, 3)]
    whole = ask("series-drift", cells=string, cycle_count=1, end_discharge_current_a=current_a)
    assert got.lowest_at_cutoff_v == pytest.approx(whole.lowest_at_cutoff_v, abs=1e-6)
    assert ("sag-not-counted" in rules(got)) is (current_a == 0)


def test_without_a_resistance_the_weak_cell_has_that_of_the_others(ask):
    """At 10 A the resistance counts."""
    asked = BODY | {"end_discharge_current_a": 10, "cell_resistance_ohm": 0.03}
    same = ask("weak-cell-drift", **asked, weak_cell_resistance_ohm=0.03)
    assert ask("weak-cell-drift", **asked).lowest_at_cutoff_v == same.lowest_at_cutoff_v


@pytest.mark.parametrize(("capacity_ah", "ohm"), [(3, 0.04), (2, 0.06), (0.5, 0.24)])
def test_a_resistance_that_nobody_measured_follows_from_the_capacity(ask, capacity_ah, ohm):
    """By hand: 0.12 Ω·Ah over the capacity, and a resistance read after 1 s counts for a quarter more."""
    asked = {"series": 2, "cycle_count": 1, "cell_capacity_ah": capacity_ah}
    asked |= {"end_discharge_current_a": capacity_ah}
    got = ask("weak-cell-drift", **asked)
    assert {a.name: a.value for a in got.assumptions}["cell_resistance_ohm"] == pytest.approx(ohm)
    for own in ({}, {"cell_resistance_after_s": 1, "cell_resistance_ohm": ohm / 1.25}):
        same = ask("weak-cell-drift", **asked | {"cell_resistance_ohm": ohm} | own)
        assert same.string_discharge_ah == pytest.approx(got.string_discharge_ah)
    string = [{"cell_capacity_ah": capacity_ah}] * 2
    whole = ask("series-drift", cells=string, cycle_count=1, end_discharge_current_a=capacity_ah)
    assert whole.cycles[-1].string_discharge_ah == pytest.approx(got.string_discharge_ah)
    listed = {a.name: a.value for a in whole.assumptions}
    assert listed["cells.cell_resistance_ohm"] == pytest.approx(ohm)
