"""Running time: outside values, conservation, thresholds, and answers at every corner.

tests/reference/running_time_*.json describes the simulated cells and their origin.
"""

from itertools import product
from math import ceil, isfinite

import msgspec
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec import UNSET

from percell.physics.curves import mean_open_circuit_voltage_v, published_curve
from percell.physics.errors import NoSolution
from percell.questions.answering.over_table import figures_over
from percell.questions.answering.tables import every_table
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.verdict import gravest
from percell.questions.worked_tables import printed_table

CHEMISTRIES = ("nmc", "nca", "lfp")
CELL = {"layout": "2S1P", "cell_capacity_ah": 3}
CONVERTER = CELL | {"output_power_w": 40, "cell_cutoff_voltage_v": 3}
COIL = CELL | {"coil_resistance_ohm": 0.8, "cell_cutoff_voltage_v": 3}
loads = pytest.mark.parametrize("body", [CONVERTER, COIL], ids=["converter", "coil-from-wire"])


def sentence(got, rule):
    return next((f.sentence for f in got.findings if f.rule == rule), "")


def straight(first_v, last_v, charge_ah=3.0):
    """Return a discharge in an hour, straight from one voltage to the other."""
    parts = [i / 10 for i in range(11)]
    return {
        "current_a": charge_ah,
        "charge_ah": [charge_ah * part for part in parts],
        "voltage_v": [first_v + part * (last_v - first_v) for part in parts],
    }


def rules(got):
    return {finding.rule for finding in got.findings}


def or_none(ask, body):
    try:
        return ask("running-time", **body)
    except (NoSolution, Refused):
        return None


def one_load(body, load):
    """Return a body with one of the two loads, and no curve of its own."""
    other = {"coil_resistance_ohm", "output_power_w"} - {load}
    return {
        name: value for name, value in body.items() if name not in other | {"measured_discharge"}
    }


LOADS = {"coil_resistance_ohm": st.floats(0.001, 100), "output_power_w": st.floats(0.1, 2000)}


@pytest.mark.parametrize("load", LOADS)
@given(data=st.data())
def test_energy_and_charge_balance(ask, drawn, load, data):
    """Cells give what load, device and heat take; charge is mean current times time."""
    body = one_load(data.draw(drawn("running-time")), load) | {load: data.draw(LOADS[load])}
    got = or_none(ask, body)
    assume(got is not None)
    hours = got.running_time_s / 3600
    assert got.pack_mean_current_a * hours == pytest.approx(
        got.pack_delivered_charge_ah, rel=1e-9, abs=1e-12
    )
    taken_wh = got.pack_released_energy_wh - got.heat_wh
    if load == "output_power_w":
        efficiency = body.get("efficiency", 0.85)
        input_w = body[load] / efficiency + body.get("idle_power_w", 0)
        assert taken_wh == pytest.approx(input_w * hours, rel=1e-9, abs=1e-12)
        assert got.load_energy_wh == pytest.approx(body[load] * hours, rel=1e-9, abs=1e-12)
    else:
        part = body[load] / (body[load] + body.get("device_resistance_ohm", 0))
        assert got.load_energy_wh == pytest.approx(part * taken_wh, rel=1e-9, abs=1e-12)
    start = body.get("cell_health", 1) * body.get("state_of_charge", 1)
    assert 0 <= got.used_capacity <= start * (1 + 1e-9)
    assert got.pack_highest_current_a == max(got.pack_first_current_a, got.pack_last_current_a)
    if "draw_length_s" in body:
        assert got.draws * body["draw_length_s"] <= got.running_time_s * (1 + 1e-9)
    else:
        assert got.draws is UNSET


CORNERS = {
    "layout": ["1S1P", "20S20P", "1S20P", "20S1P"],
    "cell_capacity_ah": [0.01, 100],
    "cell_cutoff_voltage_v": [
        0.5,
        3.65,
    ],  # no charged cell of iron phosphate reaches more than 3.65 V
    "cell_resistance_ohm": [0, 1],
    "cell_health": [0.05, 1],
    "state_of_charge": [0.01, 1],
    "chemistry": [*CHEMISTRIES],
}


@pytest.mark.parametrize(
    "load",
    [
        {"output_power_w": 0.1, "efficiency": 1},
        {
            "output_power_w": 2000,
            "efficiency": 0.3,
            "idle_power_w": 50,
            "contact_resistance_ohm": 1,
        },
        {"coil_resistance_ohm": 0.001, "contact_resistance_ohm": 0},
        {"coil_resistance_ohm": 100, "device_resistance_ohm": 1, "contact_resistance_ohm": 1},
    ],
    ids=lambda load: next(iter(load.items())),
)
def test_finite_at_every_corner(ask, load):
    """With every field at either bound, all numbers are finite, not negative, and JSON."""
    draws = {"draw_length_s": 0.1, "pause_s": 86400, "standby_current_a": 1, "cell_rating_a": 0.1}
    for values in product(*CORNERS.values()):
        body = dict(zip(CORNERS, values, strict=True)) | load | draws
        answer = msgspec.to_builtins(ask("running-time", **body))
        for name in QUESTIONS["running-time"].answered.__struct_fields__:
            value = answer.get(name)
            if isinstance(value, float):
                assert isfinite(value), (name, body)
                assert value >= -1e-9 or name in ("headroom", "heat_wh"), (name, body)


@loads
def test_each_hardship_shortens(ask, body):
    """Age, resistance, a part-full start and a higher cut-off each shorten the run; capacity helps."""
    time_s = ask("running-time", **body).running_time_s
    for harder in (
        {"cell_health": 0.9},
        {"state_of_charge": 0.9},
        {"cell_resistance_ohm": 0.05},
        {"contact_resistance_ohm": 0.01},
        {"cell_cutoff_voltage_v": 3.1},
        {"cell_capacity_ah": 2.7},
    ):
        assert ask("running-time", **body | harder).running_time_s < time_s, harder


@loads
def test_health_is_capacity(ask, body):
    """Cells with nine tenths of their capacity run like new ones of that capacity and the same resistance."""
    own = body | {"cell_resistance_ohm": 0.03}
    aged = ask("running-time", **own | {"cell_health": 0.9})
    small = ask("running-time", **own | {"cell_capacity_ah": 2.7})
    assert aged.running_time_s == pytest.approx(small.running_time_s, rel=1e-12)
    assert aged.used_capacity == pytest.approx(0.9 * small.used_capacity)
    # by hand: 40 mΩ × (1 + 4.5 × 0.1) where nobody measured the aged cell
    guessed = ask("running-time", **body | {"cell_health": 0.9})
    known = ask("running-time", **body | {"cell_health": 0.9, "cell_resistance_ohm": 0.058})
    assert guessed.running_time_s == pytest.approx(known.running_time_s, rel=1e-12)


@pytest.mark.parametrize("power_w", [5, 20, 60])
def test_half_the_capacity_runs_half_as_long(ask, power_w):
    """As the table says: half as long at the same resistance, shorter at a higher one."""
    body = CONVERTER | {"output_power_w": power_w}
    half_s = ask("running-time", **body, cell_resistance_ohm=0.04).running_time_s / 2
    small = body | {"cell_capacity_ah": 1.5}
    same_s = ask("running-time", **small, cell_resistance_ohm=0.04).running_time_s
    assert same_s == pytest.approx(half_s)
    assert ask("running-time", **small).running_time_s < half_s


@pytest.mark.parametrize("layout", ["4S1P", "2S2P", "1S4P"])
def test_wiring_makes_no_difference_to_a_converter(ask, layout):
    """The same cells run a converter equally long, however they are wired."""
    one = ask("running-time", **CONVERTER | {"layout": "4S1P"})
    other = ask("running-time", **CONVERTER | {"layout": layout})
    assert other.running_time_s == pytest.approx(one.running_time_s, rel=1e-12)
    assert other.used_capacity == pytest.approx(one.used_capacity, rel=1e-12)


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_little_power_gives_all(ask, chemistry):
    """At almost no power the cells give their charge times the mean of the curve that stands for them."""
    got = ask(
        "running-time",
        **CELL | {"chemistry": chemistry, "output_power_w": 0.1, "efficiency": 1},
        cell_cutoff_voltage_v=1,
    )
    # a simulated cell gives all that is printed; measured ones gave 0.92 of it in an hour or less
    curve, share = ("lfp", 1.0) if chemistry == "lfp" else ("nmc", 0.92)
    mean_v = mean_open_circuit_voltage_v(
        curve=published_curve(chemistry=curve), from_soc=0.0, to_soc=1.0
    )
    assert got.load_energy_wh == pytest.approx(6 * share * mean_v, rel=0.01)
    assert got.used_capacity == pytest.approx(share)


def test_own_discharge_by_hand(ask):
    """A watt from 3 Ah between 4 V and 3 V, without resistance: 3 Ah × 3.5 V / 1 W = 10.5 h."""
    got = ask(
        "running-time",
        layout="1S1P",
        cell_capacity_ah=3,
        output_power_w=1,
        efficiency=1,
        cell_resistance_ohm=0,
        contact_resistance_ohm=0,
        cell_cutoff_voltage_v=3,
        measured_discharge=straight(4.0, 3.0),
    )
    assert got.running_time_s == pytest.approx(10.5 * 3600, rel=1e-4)
    assert "measured_discharge" not in {assumption.name for assumption in got.assumptions}


def test_draws_by_hand(ask):
    """About 1 A for 3 h, 10 s on and 50 s off: 1080 draws; drawing 0.2 A while off, half as many."""
    body = {
        "layout": "1S1P",
        "cell_capacity_ah": 3.0001,
        "coil_resistance_ohm": 4,
        "cell_resistance_ohm": 0,
        "contact_resistance_ohm": 0,
        "measured_discharge": straight(4.0, 4 - 1e-9, charge_ah=3.0001),
        "draw_length_s": 10,
        "pause_s": 50,
    }
    got = ask("running-time", **body)
    assert (got.draws, got.drawing_time_s) == (1080, 1080 * 60 - 50)
    assert ask("running-time", **body, standby_current_a=0.2).draws == 540


@loads
@pytest.mark.parametrize("rating_a", [6.5, 8, 11, 20])
def test_verdict_is_that_of_the_load(ask, body, rating_a):
    """With a rating, the verdict is that of the load question, and no current exceeds its figure."""
    got = ask("running-time", **body, cell_rating_a=rating_a)
    question = "direct-load" if "coil_resistance_ohm" in body else "converter-load"
    names = QUESTIONS[question].asked.__struct_fields__
    load = ask(question, **{n: v for n, v in body.items() if n in names}, cell_rating_a=rating_a)
    assert (got.headroom, got.worst_cell_current_a) == (load.headroom, load.worst_cell_current_a)
    words, of_load = ({one.name: one.verdict for one in answer.limits} for answer in (got, load))
    assert words.items() >= of_load.items()
    assert got.verdict == load.verdict
    assert (
        f"worst-case cell carries up to {ceil(got.worst_cell_current_a * 10 - 1e-9) / 10:.1f} A"
        in got.headline
    )
    assert got.even_cell_highest_current_a <= load.worst_cell_current_a * (1 + 1e-9)
    unrated = ask("running-time", **body)
    assert unrated.verdict == "not_judged"
    assert unrated.limits[0].missing == "cell_rating_a"
    assert (
        "Not judged: continuous rating, because the continuous rating per cell was not given."
        in unrated.headline
    )
    assert unrated.running_time_s == got.running_time_s


def test_a_table_over_ratings_is_what_single_questions_answer(ask):
    """Cells made for their charge and for their current may stand in one table."""
    asked = CONVERTER | {"layout": "2S1P"}
    ratings = np.array([3.0, 6.0, 6.1, 20.0, 35.0])
    question = QUESTIONS["running-time"]
    whole = figures_over(question, asked, {"cell_rating_a": ratings})
    for i, rating_a in enumerate(ratings):
        one = ask("running-time", **asked, cell_rating_a=float(rating_a))
        assert whole.running_time_s[i] == pytest.approx(one.running_time_s, rel=1e-9)
        assert whole.heat_wh[i] == pytest.approx(one.heat_wh, rel=1e-9)
    assert (np.diff(whole.running_time_s) >= 0).all()


@loads
def test_the_cold_and_a_reading_of_a_second_shorten(ask, body):
    """By hand: after 1 s a cell shows 0.8 of its resistance; at 0 °C it has 2.3 times, and 0.83 of its charge."""
    own = body | {"cell_resistance_ohm": 0.02}
    soon = ask("running-time", **own, cell_resistance_after_s=1)
    late = ask("running-time", **own | {"cell_resistance_ohm": 0.025})
    assert soon.running_time_s == pytest.approx(late.running_time_s, rel=1e-12)
    cold = ask("running-time", **own, cell_temperature_c=0)
    like = own | {"cell_resistance_ohm": 0.046, "cell_health": 0.83}
    assert cold.running_time_s == pytest.approx(ask("running-time", **like).running_time_s)


def test_table_of_times_by_the_options(ask):
    """The layouts question finds the layout for each printed time, and not one step longer."""
    table, whole = every_table()["running-time"], printed_table("running-time")
    checked = 0
    for row in whole.rows:
        for heading, cell in zip(whole.columns, row.cells, strict=True):
            layout, cutoff_v = heading.values
            time_s = cell.values[0] * 60
            body = {
                "most_cells": int(layout.split("S")[0]),
                "output_power_w": row.value,
                "cell_cutoff_voltage_v": cutoff_v,
                **table.fixed,
            }
            # what is over a limit is no option, however long it would run
            own = {name: value for name, value in body.items() if name != "most_cells"}
            over = ask("running-time", **own, layout=layout).verdict == "over_limit"
            for needed_s, fits in ((time_s, True), (time_s + 6, False)):
                if needed_s < 0.1:
                    continue
                got = ask("layouts", **body, needed_time_s=needed_s)
                assert (layout in {option.layout for option in got.layouts}) is (fits and not over)
                checked += 1
    assert checked > 400


@given(
    power_w=st.floats(1, 150),
    cutoff_v=st.floats(2.8, 3.4),
    layout=st.sampled_from(["1S1P", "3S1P"]),
)
def test_linked_row_is_careful(ask, power_w, cutoff_v, layout):
    """The linked entry, at the next higher cut-off, promises no more time than the answer."""
    body = {"layout": layout, "cell_capacity_ah": 3, "output_power_w": power_w}
    got = ask("running-time", **body, cell_cutoff_voltage_v=cutoff_v)
    whole = printed_table("running-time")
    ((heading, minutes),) = (
        (heading, cell.values[0])
        for row in whole.rows
        for heading, cell in zip(whole.columns, row.cells, strict=True)
        if got.links.table_row == f"{whole.page}{row.anchor}/{heading.anchor}/"
    )
    assert heading.values[0] == layout
    assert heading.values[1] >= cutoff_v
    assert minutes * 60 <= got.running_time_s * (1 + 1e-9)


def test_an_open_cutoff_leads_to_the_column_that_counts_with_it(ask):
    """Who does not know the cut-off is led to the time up to 3.2 V, as the answer is, in any layout of two."""
    for layout in ("2S1P", "1S2P"):
        got = ask("running-time", layout=layout, cell_capacity_ah=3, output_power_w=40)
        assert got.links.table_row == "/tables/running-time/40-w/2-cells-3-2-v/"


@pytest.mark.parametrize(
    "other",
    [
        {"cell_capacity_ah": 2.5},
        {"cell_rating_a": 6},
        {"cell_temperature_c": 10},
        {"cell_resistance_after_s": 1, "cell_resistance_ohm": 0.04},
        {"cell_health": 0.9},
        {"cell_cutoff_voltage_v": 3.5},
        {"efficiency": 0.8},
        {"chemistry": "nca"},
        {"cell_resistance_ohm": 0.03},
        {"state_of_charge": 0.9},
        {"output_power_w": 151},
    ],
)
def test_row_only_where_it_holds(ask, other):
    """A row is linked for what the table covers, whatever rating and draws, and for nothing else."""
    body = CELL | {"output_power_w": 40}
    beside = {"cell_rating_a": 20, "draw_length_s": 3, "pause_s": 9}
    assert ask("running-time", **body, **beside).links.table_row is not UNSET
    assert ask("running-time", **body | other).links.table_row is UNSET


@pytest.mark.parametrize("field", ["pause_s", "standby_current_a"])
def test_a_pause_needs_draws(ask, field):
    """A pause without draws is refused, not ignored."""
    with pytest.raises(Refused) as refused:
        ask("running-time", **CONVERTER | {field: 0.5})
    assert refused.value.pointer == f"/{field}"


def test_a_current_in_the_pauses_needs_their_length(ask):
    """How long the pauses are is not guessed."""
    draws = {"draw_length_s": 3, "standby_current_a": 0.1}
    with pytest.raises(Refused, match="needs pause_s") as refused:
        ask("running-time", **CONVERTER | draws)
    assert refused.value.pointer == "/standby_current_a"


def test_drawing_time_is_not_told_for_a_pause_nobody_gave(ask):
    """The draws can be counted without it; when the last of them ends depends on it."""
    got = ask("running-time", **CONVERTER, draw_length_s=3)
    assert got.draws > 0
    assert got.drawing_time_s is UNSET
    assert ask("running-time", **CONVERTER, draw_length_s=3, pause_s=9).drawing_time_s > 0


@pytest.mark.parametrize(("load", "first_is_highest"), [(COIL, True), (CONVERTER, False)])
def test_the_highest_current_is_at_one_end(ask, load, first_is_highest):
    """A coil draws most from full cells, a converter from empty ones; each cell carries it."""
    got = ask("running-time", **load | {"layout": "2S2P"})
    assert (got.pack_first_current_a > got.pack_last_current_a) is first_is_highest
    assert got.pack_highest_current_a == max(got.pack_first_current_a, got.pack_last_current_a)
    assert got.even_cell_highest_current_a == pytest.approx(got.pack_highest_current_a / 2)


@pytest.mark.parametrize(
    ("draws", "listed"),
    [
        ({}, set()),
        ({"draw_length_s": 3}, set()),
        ({"draw_length_s": 3, "pause_s": 9}, {"standby_current_a"}),
        ({"draw_length_s": 3, "pause_s": 9, "standby_current_a": 0.1}, set()),
    ],
)
def test_the_standby_current_is_a_default_of_pauses_alone(ask, draws, listed):
    """Without pauses nothing flows in them, and no default of it is listed; a pause has none at all."""
    got = ask("running-time", **CONVERTER, **draws)
    assert {"pause_s", "standby_current_a"} & {a.name for a in got.assumptions} == listed


# without resistance, 3 V empty to 4 V full
STRAIGHT = {
    "layout": "1S1P",
    "cell_capacity_ah": 3,
    "coil_resistance_ohm": 1,
    "cell_resistance_ohm": 0,
    "contact_resistance_ohm": 0,
    "measured_discharge": straight(4.0, 3.0),
}


@pytest.mark.parametrize(("cutoff_v", "used", "left"), [(3.596, 40, 60), (3.594, 41, 59)])
def test_what_is_used_and_left_adds_up(ask, cutoff_v, used, left):
    """By hand: down to 3.596 V 40.4 % are used and 59.6 % are left, each to the nearest percent."""
    got = ask("running-time", **STRAIGHT, cell_cutoff_voltage_v=cutoff_v)
    said = sentence(got, "charge-left")
    assert f"deliver {used} % of" in said
    assert f"still hold {left} % of" in said


@pytest.mark.parametrize(
    ("load", "follows"),
    [
        (COIL, "U(z) / (R_coil + R_device), U with the sag"),
        (CONVERTER, "P_in / U(z), U with the sag, P_in = P / η + P_idle"),
    ],
)
def test_the_working_tells_the_current_of_its_load(ask, load, follows):
    """A coil draws by its resistance, a converter by its power."""
    got = ask("running-time", **load | {"efficiency": 1})
    start = got.working[2]
    assert start.what.endswith(f"I(z) = {follows}")


@pytest.mark.parametrize(("rating", "listed"), [({}, False), ({"cell_rating_a": 20}, True)])
def test_a_way_of_sharing_is_assumed_for_a_verdict_alone(ask, rating, listed):
    """Without a rating nothing is judged, and no way of sharing has a part in the answer."""
    got = ask("running-time", **CONVERTER, **rating)
    assert ("sharing" in {one.name for one in got.assumptions}) is listed


def test_a_pack_that_gives_out_is_over_its_power(ask):
    """The power that is not there is a limit, and more certain than the rating that was not given."""
    weak = CONVERTER | {"cell_resistance_ohm": 0.1, "cell_cutoff_voltage_v": 1.5}
    got = ask("running-time", **weak | {"output_power_w": 55})
    words = {one.name: one.verdict for one in got.limits}
    assert words["available_power"] == "over_limit"
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    assert "Over the limit: available power, end voltage." in got.headline
    assert "can no longer give the power" in sentence(got, "power-gives-out")


def test_draws_and_current_are_in_the_headline(ask):
    """Who asks for draws of cells of a rating is told both, with the verdict, beside the minutes."""
    body = CONVERTER | {"cell_capacity_ah": 2.6, "output_power_w": 60, "draw_length_s": 3}
    got = ask("running-time", **body, cell_rating_a=10)
    assert f"or {got.draws:.0f} draws of 3 s" in got.headline
    assert f"up to {ceil(60 / 0.85 / 6 * 10) / 10:.1f} A" in got.headline
    assert "Over the limit: continuous rating" in got.headline


@pytest.mark.parametrize(("cutoff_v", "word"), [(2.5, "within_limit"), (2.4, "over_limit")])
def test_a_run_below_the_end_voltage_is_over(ask, cutoff_v, word):
    """A cell of nmc ends at 2.5 V: a longer time bought below it is not within the limits."""
    got = ask(
        "running-time", **CELL, output_power_w=10, cell_cutoff_voltage_v=cutoff_v, cell_rating_a=20
    )
    assert got.verdict == word
    assert ("cutoff-below-end" in rules(got)) is (word == "over_limit")


def test_an_unknown_resistance_is_a_high_one(ask):
    """Sag and time: 40 mΩ, as after 10 s, gives a shorter time than a good cell's 20 mΩ."""
    got = ask("running-time", **CONVERTER)
    assert {a.name: a.value for a in got.assumptions}["cell_resistance_ohm"] == 0.04
    assert (
        got.running_time_s
        < ask("running-time", **CONVERTER, cell_resistance_ohm=0.02).running_time_s
    )


@pytest.mark.parametrize(
    "asked",
    [
        CONVERTER,
        COIL,
        # more than nine tenths of what full cells of 0.1 Ω give
        CONVERTER | {"cell_resistance_ohm": 0.1, "output_power_w": 75},
        CELL | {"coil_resistance_ohm": 0.05},
        CELL | {"layout": "20S1P", "output_power_w": 40},
        CONVERTER | {"cell_cutoff_voltage_v": 2.4},
    ],
)
def test_a_rating_that_is_left_out_makes_no_other_limit_milder(ask, asked):
    """Whatever was judged with a rating is judged without one: the limits and what is said of them."""
    rated = ask("running-time", **asked, cell_rating_a=27)
    bare = ask("running-time", **asked)
    words, alone = ({one.name: one.verdict for one in got.limits[1:]} for got in (rated, bare))
    assert alone == words
    graver = {
        f.rule for f in rated.findings if f.severity != "note" and f.limit != "continuous_rating"
    }
    assert graver <= rules(bare)
    order = ("none", "note", "caution", "warning")
    assert order.index(bare.attention) >= order.index(rated.attention) - (
        "over-rating" in rules(rated)
    )


def test_draws_current_verdict_and_temperature_are_one_answer(ask):
    """Two cells of 2.6 Ah at 60 W in draws of 3 s: all of it, and each figure as its own question has it."""
    body = CONVERTER | {"cell_capacity_ah": 2.6, "output_power_w": 60, "cell_rating_a": 25}
    body |= {"draw_length_s": 3, "pause_s": 20, "cell_size": "18650", "surroundings": "room"}
    got = ask("running-time", **body)
    assert 0 < got.draws * 3 <= got.running_time_s
    assert got.worst_cell_last_current_a == pytest.approx(got.pack_last_current_a)
    assert got.worst_cell_last_current_a < got.worst_cell_current_a * (1 + 1e-9)
    # a time that ends early is careful, and a heat of fewer draws is not: all that the charge allows count
    warm = ask(
        "temperature-rise",
        cell_current_a=got.worst_cell_current_a,
        **{n: body[n] for n in ("cell_capacity_ah", "cell_rating_a", "draw_length_s", "pause_s")},
        cell_size="18650",
        surroundings="room",
    )
    assert got.peak_temperature_c == pytest.approx(warm.peak_temperature_c)
    words = {one.name: one.verdict for one in got.limits}
    assert words["stop_temperature"] == warm.verdict
    for said in (f"{got.draws:.0f} draws of 3 s", " A", f"{ceil(got.peak_temperature_c)} °C"):
        assert said in got.headline
    # a load without a pause is one draw, and an assumed pause is listed
    alone = {n: v for n, v in body.items() if n not in ("draw_length_s", "pause_s")}
    lasting = ask("running-time", **alone)
    assert lasting.peak_temperature_c > got.peak_temperature_c
    assumed = ask("running-time", **{n: v for n, v in body.items() if n != "pause_s"})
    assert {a.name: a.value for a in assumed.assumptions}["pause_s"] == 30


def test_the_heat_of_a_run_is_that_of_its_current(ask):
    """Watts of running time and of temperature rise for one case: a long load whose current hardly moves."""
    flat = straight(3.9, 3.9 - 1e-6) | {"current_a": 9.0}
    body = {"layout": "1S1P", "cell_capacity_ah": 3, "cell_resistance_ohm": 0.03}
    got = ask(
        "running-time",
        **body,
        output_power_w=30,
        efficiency=1,
        contact_resistance_ohm=0,
        measured_discharge=flat,
    )
    loss_w = got.heat_wh / (got.running_time_s / 3600)
    warm = ask(
        "temperature-rise",
        cell_current_a=got.pack_mean_current_a,
        cell_resistance_ohm=0.03,
        cell_size="18650",
    )
    assert loss_w == pytest.approx(warm.cell_loss_w, rel=1e-4)


@pytest.mark.parametrize(
    "harder",
    [
        {"cell_resistance_ohm": 0.06},
        {"cell_resistance_ohm": 0.1},
        {"cell_health": 0.7},
        {"output_power_w": 50},
        {"draw_length_s": 288},
        {"cell_cutoff_voltage_v": 2.8},
    ],
)
def test_what_ends_a_run_early_never_makes_it_cooler(ask, harder):
    """The verdict on the heat is that of an assessment, and no hardship of the time makes it milder."""
    body = {"layout": "1S1P", "cell_capacity_ah": 3, "cell_rating_a": 30, "output_power_w": 30}
    body |= {"cell_size": "18650", "draw_length_s": 4, "pause_s": 20, "cell_resistance_ohm": 0.04}
    easy, hard = (ask("running-time", **one) for one in (body, body | harder))
    words = [
        next(one.verdict for one in got.limits if one.name == "stop_temperature")
        for got in (easy, hard)
    ]
    assert gravest(words) == words[1]
    whole = ask("assessment", **body | harder)
    assert whole.temperature_rise.peak_temperature_c == pytest.approx(hard.peak_temperature_c)
    assert next(one.verdict for one in whole.limits if one.name == "stop_temperature") == words[1]


def test_a_discharge_lifts_no_cell_above_full(ask):
    """Lifted by a huge current a curve would promise volts that no cell has: 30 W need at least 7.1 A at 4.2 V."""
    log = straight(4.1, 3.1) | {"current_a": 200}
    got = ask(
        "running-time",
        layout="1S1P",
        cell_capacity_ah=3,
        output_power_w=30,
        efficiency=1,
        contact_resistance_ohm=0,
        measured_discharge=log,
    )
    assert got.pack_first_current_a >= 30 / 4.2


@pytest.mark.parametrize(
    ("capacity_ah", "fits"), [(2.5, False), (2.6, True), (6, True), (6.1, False)]
)
def test_a_discharge_of_another_cell_is_refused(ask, capacity_ah, fits):
    """A discharge of 3 Ah fits no cell of much less, nor one of more than twice that."""
    body = CONVERTER | {"cell_capacity_ah": capacity_ah, "measured_discharge": straight(4.1, 2.5)}
    if fits:
        assert ask("running-time", **body).running_time_s > 0
        return
    with pytest.raises(Refused, match="A discharge of 3 Ah does not fit") as refused:
        ask("running-time", **body)
    assert refused.value.pointer == "/measured_discharge"


def test_a_log_of_an_energy_cell_promises_no_more_than_a_simulated_one(ask):
    """Of both times the shorter counts: a log shows nothing of how such a cell fails above its current."""
    own = CONVERTER | {"cell_resistance_ohm": 0.035, "measured_discharge": straight(4.15, 3.2)}
    body = own | {"cell_rating_a": 6, "output_power_w": 45}
    bare = {n: v for n, v in body.items() if n != "measured_discharge"}
    got = ask("running-time", **body)
    simulated = ask("running-time", **bare)
    assert got.running_time_s == pytest.approx(simulated.running_time_s)
    assert got.running_time_s < ask("running-time", **body | {"cell_rating_a": 20}).running_time_s
    slow = ask("running-time", **body | {"output_power_w": 3})
    assert slow.running_time_s <= ask("running-time", **own | {"output_power_w": 3}).running_time_s


@pytest.mark.parametrize(
    ("load", "counted"),
    [({"output_power_w": 40}, 1 / 0.592), ({"coil_resistance_ohm": 0.4}, 1.5)],
    ids=["converter", "coil"],
)
def test_the_worst_case_cell_of_a_group_carries_the_last_draw_and_the_heat(ask, load, counted):
    """By hand: two cells count as 1.5 under a coil, and behind a converter the worst-case cell has 0.592."""
    body = {
        "layout": "1S2P",
        "cell_capacity_ah": 3,
        "cell_rating_a": 25,
        "cell_size": "18650",
    } | load
    body |= {"cell_health": 0.8, "cell_resistance_ohm": 0.03, "surroundings": "room"}
    got = ask("running-time", **body, draw_length_s=3)
    last_a = got.pack_last_current_a / counted
    assert got.worst_cell_last_current_a == pytest.approx(last_a, rel=1e-3)
    # without a pause: one draw for as long as the charge lasts at the worst corner, to a whole second
    alone = ask("running-time", **body)
    length_s = ceil(3600 * 3 * 0.8 / alone.worst_cell_current_a)
    warm = ask(
        "temperature-rise",
        cell_current_a=alone.worst_cell_current_a,
        cell_capacity_ah=3,
        cell_health=0.8,
        cell_resistance_ohm=0.03,
        cell_size="18650",
        surroundings="room",
        draw_length_s=length_s,
        pause_s=0,
    )
    assert alone.peak_temperature_c == pytest.approx(warm.peak_temperature_c, rel=1e-12)
    said = sentence(alone, "over-stop-temperature")
    # the charge ends it within its last second
    assert said.startswith(
        f"One draw of {length_s - 1} s, which empties the cell, brings the cell above 60 °C"
    )


@pytest.mark.parametrize(
    "body",
    [
        {"layout": "1S1P", "cell_capacity_ah": 3.8, "output_power_w": 18.6, "cell_resistance_ohm": 0.049,
         "cell_cutoff_voltage_v": 3.5, "cell_temperature_c": 0},
        {"layout": "1S2P", "cell_capacity_ah": 5, "output_power_w": 41.7, "cell_resistance_ohm": 0.118,
         "cell_cutoff_voltage_v": 3.4},
        {"layout": "1S1P", "cell_capacity_ah": 2.5, "output_power_w": 22, "cell_cutoff_voltage_v": 3.4,
         "cell_temperature_c": 0},
        {"layout": "1S1P", "cell_capacity_ah": 3, "output_power_w": 5, "cell_cutoff_voltage_v": 2.8},
    ],
)  # fmt: skip
def test_no_lower_rating_gives_a_longer_time(ask, body):
    """At twice the capacity per hour the model changes, and the time only rises with the rating."""
    border_a = 2 * body["cell_capacity_ah"]
    ratings = np.array([0.5, 0.9, 1.0, 1.005, 1.5, 2, 4]) * border_a
    times_s = [ask("running-time", **body, cell_rating_a=float(a)).running_time_s for a in ratings]
    assert (np.diff(times_s) >= -1e-9).all()
    whole = figures_over(QUESTIONS["running-time"], body, {"cell_rating_a": ratings})
    assert whole.running_time_s == pytest.approx(times_s, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("air_c", "stop_c"), [(60, 50), (60, 60), (45, 44.9)])
@pytest.mark.parametrize("question", ["running-time", "assessment"])
def test_air_as_hot_as_the_stop_is_over_for_a_cell_of_any_size(ask, question, air_c, stop_c):
    """No cell under load is cooler than its air, so no size is needed to say so."""
    name = "ambient_temperature_c" if question == "assessment" else "cell_temperature_c"
    asked = {"layout": "1S1P", "cell_rating_a": 20, "output_power_w": 20, "cell_capacity_ah": 3}
    got = ask(question, **asked, stop_temperature_c=stop_c, **{name: air_c})
    limit = next(one for one in got.limits if one.name == "stop_temperature")
    assert (limit.verdict, limit.figure, limit.value) == ("over_limit", air_c, stop_c)
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    assert ("stop_temperature_c" in {a.name for a in got.assumptions}) is (stop_c == 60)
    cooler = ask(question, **asked, stop_temperature_c=stop_c, **{name: stop_c - 1})
    limit = next(one for one in cooler.limits if one.name == "stop_temperature")
    assert (limit.verdict, limit.missing) == ("not_judged", "cell_size")
