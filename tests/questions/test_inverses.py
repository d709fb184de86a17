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
    return measured(body)


METER = ("meter_accuracy", "meter_counts", "meter_resolution_ohm", "lead_resistance_ohm")


def measured(body):
    """Return a body whose default resistance does not change with the rating, and that is not too cold to judge."""
    warm = {"cell_temperature_c": max(body.get("cell_temperature_c", 25), -10)}
    return {"cell_resistance_ohm": 0.04} | body | warm


def a_coil(data, drawn, question_id, coil):
    """Draw a question about a coil that is given in one of the two ways."""
    body = data.draw(drawn(question_id))
    reading = coil == "coil_reading_ohm"
    unused = ("coil_resistance_ohm",) if reading else ("coil_reading_ohm", *METER)
    body = {name: value for name, value in body.items() if name not in unused}
    return measured(body) | {coil: data.draw(st.floats(0.01, 100))}


def rating(got):
    """Return the continuous rating among the limits of an answer."""
    return next(one for one in got.limits if one.name == "continuous_rating")


def at_its_limit(one):
    """Return whether a limit leaves no headroom, or is that of a rating that no size can have."""
    return one.verdict is Verdict.LITTLE or disbelieved(one)


def disbelieved(one):
    return one.verdict is Verdict.NOT_JUDGED and one.reason == "the rating is not believable"


def verdict(ask, question_id, body):
    """Return the verdict; no physical answer is the most severe."""
    got = answer_or_none(ask, question_id, body)
    return Verdict.OVER if got is None else got.verdict


@given(data=st.data())
def test_lowest_resistance_is_the_limit_of_a_direct_load(ask, drawn, data):
    """A coil of the lowest resistance puts the worst-case cell at its rating, a lower one over."""
    body = measured(data.draw(drawn("lowest-resistance", coil_resistance_tolerance_ohm=0)))
    body = {name: value for name, value in body.items() if name not in METER}
    lowest_ohm = ask("lowest-resistance", **body).lowest_resistance_ohm
    assume(0.0011 <= lowest_ohm <= 100)
    got = ask("direct-load", **body, coil_resistance_ohm=lowest_ohm)
    assert got.worst_cell_current_a == pytest.approx(body["cell_rating_a"])
    assert at_its_limit(rating(got))
    assert got.headroom == pytest.approx(0, abs=1e-9)
    # the other limits are judged alike by both questions
    alone = ask("lowest-resistance", **body)
    beside = {one.name: one.verdict for one in got.limits[1:]}
    assert [one.name for one in alone.limits] == list(beside)
    assert all(one.verdict == beside[one.name] or disbelieved(one) for one in alone.limits)
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
    shown = ask("direct-load", **body, coil_reading_ohm=reading_ohm)
    # the difference keeps the rounding error of the whole reading
    slack = 1e-8 * reading_ohm / got.lowest_resistance_ohm
    assert shown.worst_cell_current_a <= body["cell_rating_a"] * (1 + slack)
    less_ohm = reading_ohm - step_ohm * (1 + FURTHER)
    if less_ohm >= 0.001:
        assert verdict(ask, "direct-load", body | {"coil_reading_ohm": less_ohm}) == Verdict.OVER


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


@pytest.mark.parametrize("sharing", ["even", {"spread": 0.1}])
@given(data=st.data())
def test_no_other_sharing_allows_less_power_than_the_careful_one(ask, drawn, sharing, data):
    """Behind a converter the careful share is the larger of an even one and one by the usual spread."""
    body = emptying(data, drawn, "highest-power", sharing=sharing)
    got = ask("highest-power", **body)
    careful = ask("highest-power", **body | {"sharing": "careful"})
    assert careful.highest_power_w <= got.highest_power_w * (1 + 1e-9)


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
    at = ask("converter-load", **body, cell_rating_a=rating_a)
    assert at_its_limit(rating(at))
    assert {one.name: one.verdict for one in got.limits} == {
        one.name: one.verdict for one in at.limits[1:]
    }
    less = body | {"cell_rating_a": rating_a * (1 - FURTHER)}
    assert verdict(ask, "converter-load", less) == Verdict.OVER


@pytest.mark.parametrize("sharing", ["even", {"spread": 0.1}])
@given(data=st.data())
def test_no_other_sharing_needs_more_than_the_careful_one(ask, drawn, sharing, data):
    """Behind a converter the careful share is the larger of an even one and one by the usual spread."""
    body = emptying(data, drawn, "needed-rating", sharing=sharing)
    got = answer_or_none(ask, "needed-rating", body)
    careful = answer_or_none(ask, "needed-rating", body | {"sharing": "careful"})
    assume(got is not None)
    assert careful.needed_rating_a >= got.needed_rating_a * (1 - 1e-9)


@pytest.mark.parametrize("coil", ["coil_reading_ohm", "coil_resistance_ohm"])
@given(data=st.data())
def test_needed_rating_for_a_coil_is_the_limit_of_a_direct_load(ask, drawn, coil, data):
    """Cells of the needed rating are at it, and cells rated a little less are over."""
    body = a_coil(data, drawn, "needed-rating-for-coil", coil)
    got = answer_or_none(ask, "needed-rating-for-coil", body)
    if got is None:
        assert answer_or_none(ask, "direct-load", body | {"cell_rating_a": 20}) is None
        return
    rating_a = got.needed_rating_a
    assume(0.11 <= rating_a <= 200)
    at = ask("direct-load", **body, cell_rating_a=rating_a)
    assert at.worst_cell_current_a == rating_a
    assert at_its_limit(rating(at))
    assert {one.name: one.verdict for one in got.limits} == {
        one.name: one.verdict for one in at.limits[1:]
    }
    less = body | {"cell_rating_a": rating_a * (1 - FURTHER)}
    assert verdict(ask, "direct-load", less) == Verdict.OVER


@given(data=st.data())
def test_needed_rating_for_a_coil_and_lowest_resistance_undo_each_other(ask, drawn, data):
    """The lowest true resistance for the rating that a coil needs is that of the coil."""
    body = a_coil(data, drawn, "needed-rating-for-coil", "coil_resistance_ohm")
    body = {n: v for n, v in body.items() if n != "coil_resistance_tolerance_ohm"}
    needed = ask("needed-rating-for-coil", **body)
    assume(0.1 <= needed.needed_rating_a <= 200)
    shared = {n: v for n, v in body.items() if n != "coil_resistance_ohm"}
    got = ask("lowest-resistance", **shared, cell_rating_a=needed.needed_rating_a)
    assert got.lowest_resistance_ohm == pytest.approx(body["coil_resistance_ohm"])


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
