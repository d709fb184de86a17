"""Limits are the inverses of loads, anywhere in their bounds."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from percell.physics.errors import NoSolution
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry
from percell.questions.vocabulary.verdict import Verdict

FURTHER = 1e-6  # a step past a limit, larger than floating-point noise


def answer_or_none(ask, question_id, body):
    """Answer, or None where there is no physical answer."""
    try:
        return ask(question_id, **body)
    except NoSolution:
        return None


def emptying(data, drawn, question_id, **fixed):
    """Draw a question about a pack whose cut-off voltage a charged cell does reach."""
    body = data.draw(drawn(question_id, **fixed))
    charged_v = VOLTAGES[Chemistry(body.get("chemistry", "nmc"))].charged_v
    assume(body.get("cell_cutoff_voltage_v", 0) <= charged_v)
    return body


def verdict(ask, question_id, body):
    """Return the verdict; no physical answer is the most severe."""
    got = answer_or_none(ask, question_id, body)
    return Verdict.OVER if got is None else got.verdict


@given(data=st.data())
def test_lowest_resistance_is_the_limit_of_a_direct_load(ask, drawn, data):
    """A coil of the lowest resistance puts the worst-case cell at its rating, a lower one over."""
    body = data.draw(
        drawn(
            "lowest-resistance",
            meter_accuracy=0,
            meter_counts=0,
            lead_resistance_ohm=0,
            coil_resistance_tolerance_ohm=0,
        )
    )
    lowest_ohm = ask("lowest-resistance", **body).lowest_resistance_ohm
    assume(0.0011 <= lowest_ohm <= 100)
    got = ask("direct-load", **body, coil_resistance_ohm=lowest_ohm)
    assert got.worst_cell_current_a == pytest.approx(body["cell_rating_a"])
    assert got.verdict == Verdict.LITTLE
    assert got.headroom == pytest.approx(0, abs=1e-9)
    lower = body | {"coil_resistance_ohm": lowest_ohm * (1 - FURTHER)}
    assert verdict(ask, "direct-load", lower) == Verdict.OVER


@given(data=st.data())
def test_lowest_reading_is_the_limit_of_what_a_meter_shows(ask, drawn, data):
    """The lowest reading guarantees a cell within rating, one count less does not."""
    body = data.draw(drawn("lowest-resistance"))
    got = ask("lowest-resistance", **body)
    reading_ohm = got.lowest_reading_ohm
    step_ohm = body.get("meter_resolution_ohm", 0.01)
    assume(0.001 <= reading_ohm <= 100)
    assume(got.lowest_resistance_ohm >= 0.001)
    assert reading_ohm / step_ohm == pytest.approx(round(reading_ohm / step_ohm), abs=1e-6)
    shown = ask("direct-load", **body, coil_resistance_ohm=reading_ohm)
    # the difference keeps the rounding error of the whole reading
    slack = 1e-8 * reading_ohm / got.lowest_resistance_ohm
    assert shown.worst_cell_current_a <= body["cell_rating_a"] * (1 + slack)
    less_ohm = reading_ohm - step_ohm * (1 + FURTHER)
    if less_ohm >= 0.001:
        assert verdict(ask, "direct-load", body | {"coil_resistance_ohm": less_ohm}) == Verdict.OVER


@pytest.mark.parametrize("basis", ["under_load", "at_rest"])
@given(data=st.data())
def test_highest_power_is_the_limit_of_a_converter(ask, drawn, basis, data):
    """At the highest power no cell is over its rating, and above it one is, or there is no answer."""
    body = emptying(data, drawn, "highest-power", cutoff_basis=basis)
    watts = ask("highest-power", **body).highest_power_w
    assume(0.1 <= watts <= 1990)
    got = ask("converter-load", **body, output_power_w=watts)
    # near the highest power of the pack, the current rises without bound
    collapse = got.pack_loaded_voltage_v < got.pack_lowest_voltage_v * 0.501
    rating_a = body["cell_rating_a"]
    assert got.worst_cell_current_a <= rating_a * (1 + (1e-6 if collapse else 1e-9))
    above = body | {"output_power_w": watts * (1 + FURTHER)}
    assert verdict(ask, "converter-load", above) == Verdict.OVER


@pytest.mark.parametrize("sharing", ["even", "allowance"])
@given(data=st.data())
def test_highest_power_with_the_allowance(ask, drawn, sharing, data):
    """The figure with the allowance is the one that a question with that sharing gets."""
    body = emptying(data, drawn, "highest-power", sharing=sharing)
    got = ask("highest-power", **body)
    other = ask("highest-power", **body | {"sharing": "allowance"})
    assert got.highest_power_allowance_w == other.highest_power_w <= got.highest_power_w


@given(data=st.data())
def test_needed_rating_is_the_limit_of_a_converter(ask, drawn, data):
    """Cells of the needed rating are at it, and cells rated a little less are over."""
    body = emptying(data, drawn, "needed-rating")
    got = answer_or_none(ask, "needed-rating", body)
    if got is None:
        assert answer_or_none(ask, "converter-load", body | {"cell_rating_a": 20}) is None
        return
    rating_a = got.needed_rating_a
    assume(0.11 <= rating_a <= 200)
    assert verdict(ask, "converter-load", body | {"cell_rating_a": rating_a}) == Verdict.LITTLE
    less = body | {"cell_rating_a": rating_a * (1 - FURTHER)}
    assert verdict(ask, "converter-load", less) == Verdict.OVER


@pytest.mark.parametrize("sharing", ["even", "allowance"])
@given(data=st.data())
def test_needed_rating_with_the_allowance(ask, drawn, sharing, data):
    """The figure with the allowance is the one that a question with that sharing gets."""
    body = emptying(data, drawn, "needed-rating", sharing=sharing)
    got = answer_or_none(ask, "needed-rating", body)
    other = answer_or_none(ask, "needed-rating", body | {"sharing": "allowance"})
    assume(got is not None)
    assert got.needed_rating_allowance_a == other.needed_rating_a >= got.needed_rating_a


@given(data=st.data())
def test_needed_rating_and_highest_power_undo_each_other(ask, drawn, data):
    """The highest power of cells with the rating that a power needs is that power."""
    body = emptying(data, drawn, "needed-rating", output_power_tolerance_w=0)
    needed = answer_or_none(ask, "needed-rating", body)
    assume(needed is not None and 0.1 <= needed.needed_rating_a <= 200)
    rating_a = needed.needed_rating_a
    shared = {n: v for n, v in body.items() if not n.startswith("output_power")}
    got = ask("highest-power", **shared, cell_rating_a=rating_a)
    # a large idle power adds its rounding error to a small output
    within_w = 1e-9 * (got.input_power_w + body["output_power_w"])
    assert got.highest_power_w == pytest.approx(body["output_power_w"], abs=within_w)
