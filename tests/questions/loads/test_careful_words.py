"""Words on top of a load's answer that once were too mild, or misleading."""

from math import isfinite

import pytest
from msgspec import UNSET

from percell.questions.vocabulary.refusal import Refused


def limit(answer, name):
    (one,) = [one for one in answer.limits if one.name == name]
    return one


@pytest.mark.parametrize("question_id", ["running-time", "assessment", "layouts"])
def test_nothing_stops_a_coil(ask, question_id):
    """A coil straight on the pack runs the cells down as long as it is held, unless a cut-off is given."""
    body = {"coil_reading_ohm": 0.6, "cell_rating_a": 20, "cell_capacity_ah": 3}
    body |= {"most_cells": 1} if question_id == "layouts" else {"layout": "1S1P"}
    free = limit(ask(question_id, **body), "end_voltage")
    assert (free.verdict, free.missing) == ("not_judged", "cell_cutoff_voltage_v")
    assert "no device stops a coil" in free.reason
    stopped = limit(ask(question_id, **body, cell_cutoff_voltage_v=3), "end_voltage")
    assert stopped.verdict == "within_limit"


def test_a_converter_that_needs_all_the_power_is_over_a_limit(ask):
    """By hand: 10 A at 2.8 V are 28 W, less than the 50 W that the converter needs for itself."""
    got = ask("highest-power", layout="1S1P", cell_rating_a=10, idle_power_w=50)
    assert got.highest_power_w == 0
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    assert "Over the limit" in got.headline


@pytest.mark.parametrize("question_id", ["direct-load", "charging"])
def test_the_limit_of_a_charged_voltage_can_be_asked_back(ask, question_id):
    """What the list of limits names as the limit is within it, and a hundredth of a volt more is not."""
    more = {"coil_resistance_ohm": 1, "cell_rating_a": 20}
    body = {"layout": "1S1P"} | (more if question_id == "direct-load" else {"cell_capacity_ah": 3})
    value = limit(ask(question_id, **body), "charged_voltage").value
    assert value == 4.2
    back = ask(question_id, **body, cell_charged_voltage_v=value)
    assert limit(back, "charged_voltage").verdict == "within_limit"
    above = ask(question_id, **body, cell_charged_voltage_v=value + 0.01)
    assert limit(above, "charged_voltage").verdict == "over_limit"


def test_equal_leaves_exactly_nothing(ask):
    """4.2 V over 0.15 Ω are 28 A: the headroom is nought, not a rounding error below it."""
    got = ask("direct-load", layout="1S1P", cell_rating_a=28, coil_resistance_ohm=0.15)
    assert got.headroom == 0
    assert limit(got, "continuous_rating").headroom == 0


def test_a_careful_share_above_the_rating_is_in_the_headline(ask):
    """It comes before the little headroom of the share that was chosen."""
    body = {"layout": "1S2P", "cell_rating_a": 10, "output_power_w": 43}
    got = ask("converter-load", **body, sharing={"spread": 0.1, "percentile": 0.5})
    assert "By default percell allows for unequal cells: then it is" in got.headline
    assert "(above the rating)" in got.headline
    assert "50 % of groups" in got.headline


def test_a_running_time_says_what_was_asked(ask):
    """Time, draws and current, as an estimate, and one draw is one draw."""
    body = {"layout": "1S1P", "cell_capacity_ah": 2.6, "output_power_w": 60, "cell_rating_a": 40}
    got = ask("running-time", **body, draw_length_s=3)
    assert "by estimate the pack runs for about" in got.headline
    assert "of 3 s" in got.headline
    assert "worst-case cell carries up to" in got.headline
    once = ask("running-time", **body | {"output_power_w": 5}, draw_length_s=4500)
    assert "or 1 draw of 4500 s" in once.headline


def test_a_state_of_charge_needs_a_capacity(ask):
    """Without a capacity a layout is judged from full cells on, which a given charge must not be."""
    load = {"most_cells": 4, "cell_rating_a": 15, "output_power_w": 40}
    with pytest.raises(Refused) as refused:
        ask("layouts", **load, state_of_charge=0.2)
    assert refused.value.pointer == "/state_of_charge"
    assert ask("layouts", **load).layout_count > 0


def test_a_long_time_has_no_exponent(ask):
    """Twenty cells in series run a small load for more than a day."""
    setup = {"cell_capacity_ah": 11, "output_power_w": 16, "layout": "9S1P"}
    got = ask("running-time-comparison", setups=[setup | {"label": one} for one in ("a", "b")])
    assert "e+" not in got.headline


def test_no_figure_is_a_negative_zero(ask):
    """A cell above its charged voltage charges for no time at all."""
    got = ask("charging", layout="1S1P", cell_capacity_ah=3, open_circuit_voltage_v=4.24)
    assert "-0 min" not in got.headline


@pytest.mark.parametrize("ohms", [0.0, 5e-324, 1e-300, 1e-13])
@pytest.mark.parametrize("question_id", ["needed-rating", "converter-load", "direct-load"])
def test_next_to_no_resistance_bounds_nothing(ask, question_id, ohms):
    """U²/4R and a headroom over such an R are beyond all numbers: they are left out, and never infinite."""
    load = {"coil_resistance_ohm": 1} if question_id == "direct-load" else {"output_power_w": 50}
    rated = {} if question_id == "needed-rating" else {"cell_rating_a": 20}
    body = {"layout": "2S1P", "cell_resistance_ohm": ohms, "contact_resistance_ohm": 0}
    got = ask(question_id, **body, **load, **rated)
    for one in got.limits:
        for value in (one.value, one.figure, one.headroom):
            assert value is UNSET or isfinite(value)
