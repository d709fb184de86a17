"""Cells and one of two loads: which load, which curve, which cut-off, which sharing."""

import numpy as np
import pytest
from msgspec import ValidationError

from percell.questions.vocabulary.measured_discharge import FEWEST_POINTS
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.usual_spread import KEPT

CELL = {"layout": "2S1P", "cell_capacity_ah": 3}
CONVERTER = CELL | {"output_power_w": 40, "cell_cutoff_voltage_v": 3}


def sentence(got, rule):
    return next((f.sentence for f in got.findings if f.rule == rule), "")


def rules(got):
    return {finding.rule for finding in got.findings}


def through(*volts, charge_ah=3.0):
    """Return a discharge in an hour through voltages at equal steps of charge, straight between them."""
    steps = [
        i / (FEWEST_POINTS * (len(volts) - 1)) for i in range(FEWEST_POINTS * (len(volts) - 1) + 1)
    ]
    places = [i / (len(volts) - 1) for i in range(len(volts))]
    return {
        "current_a": charge_ah,
        "charge_ah": [charge_ah * step for step in steps],
        "voltage_v": np.interp(steps, places, volts).tolist(),
    }


def down_from(full_v):
    """Return a discharge straight down to 3 V."""
    return through(full_v, 3.0)


@pytest.mark.parametrize("chemistry", ["lco", "lmo", "lco_high_voltage"])
def test_chemistry_without_a_curve(ask, chemistry):
    """A chemistry without a published curve is refused unless the caller gives a discharge of the cell."""
    with pytest.raises(Refused) as refused:
        ask("running-time", **CONVERTER, chemistry=chemistry)
    assert refused.value.pointer == "/chemistry"
    own = ask("running-time", **CONVERTER, chemistry=chemistry, measured_discharge=down_from(4.1))
    assert own.running_time_s > 0
    assert "no cell of this chemistry was measured" in sentence(own, "running-time-estimate")


@pytest.mark.parametrize(
    ("wrong", "field", "says"),
    [
        ({"charge_ah": [0.3 * i + 0.1 for i in range(11)]}, "charge_ah", "first charge must be 0"),
        ({"charge_ah": [0.6 * (i // 2) for i in range(11)]}, "charge_ah", "must rise"),
        ({"voltage_v": [3 + 0.1 * i for i in range(11)]}, "voltage_v", "shows no discharge"),
        ({"voltage_v": [4 - 0.1 * i for i in range(10)]}, "voltage_v", "10 voltages for 11"),
        ({"voltage_v": [4.0, *[3.5] * 9, 4.0]}, "voltage_v", "shows no discharge"),
        ({"voltage_v": [3.9, *[4.0] * 9, 3.95]}, "voltage_v", "shows no discharge"),
    ],
)
def test_own_discharge_that_is_wrong(ask, wrong, field, says):
    """A discharge that contradicts itself is refused by the name of the list at fault."""
    with pytest.raises(Refused, match=says) as refused:
        ask("running-time", **CONVERTER, measured_discharge=down_from(4.0) | wrong)
    assert refused.value.pointer == f"/measured_discharge/{field}"


def test_an_own_discharge_holds_its_age(ask):
    """Age is in the log already: counted twice it would be said once."""
    with pytest.raises(Refused) as refused:
        ask("running-time", **CONVERTER, measured_discharge=down_from(4.0), cell_health=0.9)
    assert refused.value.pointer == "/cell_health"


@pytest.mark.parametrize("question", ["running-time", "layouts"])
@pytest.mark.parametrize(
    "load",
    [
        {},
        {"coil_resistance_ohm": 1, "output_power_w": 20},
        {"coil_resistance_ohm": 1, "coil_reading_ohm": 1},
    ],
)
def test_one_load_is_needed(ask, question, load):
    """Neither load, or both, is refused: each that would do, or each that was given."""
    kind = (
        {"layout": "1S1P"} if question == "running-time" else {"most_cells": 2, "cell_rating_a": 9}
    )
    with pytest.raises(Refused) as refused:
        ask(question, cell_capacity_ah=3, **kind, **load)
    named = load or ("coil_reading_ohm", "coil_resistance_ohm", "output_power_w")
    assert {fault.pointer for fault in refused.value.faults} == {f"/{name}" for name in named}


@pytest.mark.parametrize(("full_v", "spoken"), [(4.2, False), (4.21, True), (5, True)])
def test_a_curve_above_the_chemistry_is_said(ask, full_v, spoken):
    """A discharge that begins above the chemistry is a warning, like a charged voltage."""
    got = ask("running-time", **CONVERTER, measured_discharge=down_from(full_v))
    assert bool(sentence(got, "charged-above-chemistry")) is spoken
    words = {one.name: one.verdict for one in got.limits}
    assert words["charged_voltage"] == ("over_limit" if spoken else "within_limit")
    assert "calculated from your own discharge " in sentence(got, "running-time-estimate")


@pytest.mark.parametrize(
    ("full_v", "cutoff_v", "refused"),
    [
        (4.0, 4.2, False),
        (4.0, 4.21, True),
        (4.3, 4.3, False),
        (4.3, 4.31, True),
    ],
)
def test_a_cutoff_above_the_own_curve_is_refused(ask, full_v, cutoff_v, refused):
    """A cell is charged to the chemistry's voltage, or to that of its own curve if higher."""
    asked = {"layout": "1S1P", "cell_capacity_ah": 3, "output_power_w": 5}
    asked |= {"measured_discharge": down_from(full_v), "cell_cutoff_voltage_v": cutoff_v}
    if refused:
        with pytest.raises(Refused) as error:
            ask("running-time", **asked)
        assert error.value.pointer == "/cell_cutoff_voltage_v"
    else:
        assert ask("running-time", **asked)
        assert ask("running-time", **asked, cell_rating_a=20).worst_cell_current_a > 0


@pytest.mark.parametrize(
    ("curve", "current_a"),
    [
        ({}, 4.2),
        ({"measured_discharge": down_from(4.0)}, 4.2),
        ({"measured_discharge": down_from(4.3)}, 4.3),
    ],
)
def test_a_coil_is_judged_at_the_highest_voltage(ask, curve, current_a):
    """1 Ω on one cell: an own curve counts only if it ends above the chemistry's voltage."""
    got = ask(
        "running-time",
        layout="1S1P",
        cell_capacity_ah=3,
        cell_rating_a=20,
        coil_resistance_ohm=1,
        **curve,
    )
    assert got.worst_cell_current_a == pytest.approx(current_a)
    listed = {a.name: a.value for a in got.assumptions}
    assert listed.get("cell_charged_voltage_v") == (None if curve else 4.2)
    assert ("measured_discharge" in listed) is not bool(curve)


@pytest.mark.parametrize(
    ("load", "careful_a"),
    [
        ({"coil_resistance_ohm": 0.7}, 4),
        ({"output_power_w": 16.8, "efficiency": 1}, 6 * KEPT[2][0]),
    ],
    ids=["coil of 0.7 ohm on 4.2 V", "16.8 W from 2.8 V"],
)
def test_sharing_is_careful_by_the_kind_of_load(ask, load, careful_a):
    """By hand: 6 A on two cells is 3 A each, 4 A by P − ½ under a coil, or 0.592 of it behind a converter."""
    asked = {"layout": "1S2P", "cell_capacity_ah": 3, "cell_rating_a": 20} | load
    got = {way: ask("running-time", **asked, sharing=way) for way in ("even", "allowance")}
    assert got["even"].worst_cell_current_a == pytest.approx(3)
    assert got["allowance"].worst_cell_current_a == pytest.approx(4)
    assert {one.attention for one in got.values()} == {"caution"}
    left_out = ask("running-time", **asked)
    assert left_out.worst_cell_current_a == pytest.approx(careful_a)
    assert {a.name: a.value for a in left_out.assumptions}["sharing"] == "careful"
    assert "sharing" not in {a.name for a in got["even"].assumptions}
    # the share sets a cell's current, never the charge of the pack
    assert left_out.running_time_s == got["even"].running_time_s
    # without a rating there is no verdict, and no way of sharing
    unrated = ask("running-time", **{n: v for n, v in asked.items() if n != "cell_rating_a"})
    assert not {"sharing", "cell_charged_voltage_v"} & {a.name for a in unrated.assumptions}


def test_the_full_end_of_a_discharge_is_its_first_point(ask):
    """By hand: 4.3 V over 1 ohm, and not the 3.7 V of the point between."""
    points = through(4.3, 3.7, 3.0)
    asked = {"layout": "1S1P", "cell_capacity_ah": 3, "cell_rating_a": 20}
    got = ask("running-time", **asked, coil_resistance_ohm=1, measured_discharge=points)
    assert got.worst_cell_current_a == pytest.approx(4.3)
    assert "4.3 V is above 4.2 V" in sentence(got, "charged-above-chemistry")


@pytest.mark.parametrize(
    ("load", "rests_on"),
    [
        ({"coil_resistance_ohm": 1}, {"device_resistance_ohm"}),
        (
            {"coil_reading_ohm": 1},
            {"device_resistance_ohm", "meter_accuracy", "meter_counts", "meter_resolution_ohm"},
        ),
        ({"output_power_w": 10}, {"efficiency", "idle_power_w"}),
    ],
)
def test_only_defaults_of_the_load_are_listed(ask, load, rests_on):
    """An answer about a coil rests on no efficiency, and one about a converter on no leads."""
    got = ask("running-time", layout="1S1P", cell_capacity_ah=3, **load)
    listed = {one.name for one in got.assumptions}
    meter = {"meter_accuracy", "meter_counts", "meter_resolution_ohm"}
    assert listed & ({"device_resistance_ohm", "efficiency", "idle_power_w"} | meter) == rests_on


@pytest.mark.parametrize(
    ("chemistry", "time_v", "current_v"), [("nmc", 3.2, 2.8), ("lfp", 2.8, 2.5), ("nca", 3.2, 2.8)]
)
def test_an_unknown_cutoff_is_taken_early_for_the_time_and_late_for_the_current(
    ask, chemistry, time_v, current_v
):
    """A time must not be too long, nor a current too low: both voltages are named."""
    asked = {"layout": "2S1P", "cell_capacity_ah": 3, "output_power_w": 30, "chemistry": chemistry}
    got = ask("running-time", **asked, cell_rating_a=20)
    listed = {a.name: a.value for a in got.assumptions}
    assert listed["cell_cutoff_voltage_v"] == time_v
    assert listed["cell_cutoff_voltage_v.current"] == current_v
    early, late = (ask("running-time", **asked, cell_rating_a=20, cell_cutoff_voltage_v=v)
                   for v in (time_v, current_v))  # fmt: skip
    assert got.running_time_s == early.running_time_s < late.running_time_s
    assert got.worst_cell_current_a == late.worst_cell_current_a > early.worst_cell_current_a
    assert f"cut-off at {time_v:g} V per cell" in got.headline
    assert f"cut-off at {current_v:g} V per cell for the currents" in got.headline
    unrated = ask("running-time", **asked)
    assert "cell_cutoff_voltage_v.current" not in {a.name for a in unrated.assumptions}


def test_a_reading_runs_and_is_judged_at_its_lowest_resistance(ask):
    """By hand: 1 Ω shown may be 1 × 0.99 − 3.5 × 0.01 = 0.955 Ω, for the current and for the time."""
    asked = {"layout": "1S1P", "cell_capacity_ah": 3, "cell_rating_a": 20}
    shown = ask("running-time", **asked, coil_reading_ohm=1)
    true = ask("running-time", **asked, coil_resistance_ohm=0.955)
    assert shown.worst_cell_current_a == pytest.approx(4.2 / 0.955)
    assert shown.running_time_s == pytest.approx(true.running_time_s)
    assert shown.running_time_s < ask("running-time", **asked, coil_resistance_ohm=1).running_time_s


def test_a_longer_discharge_is_held_to_its_start(ask):
    """Of many points the first is the full end, and no other."""
    points = through(4.3, 3.8, 3.5, 3.0)
    asked = {"cell_rating_a": 20, "cell_capacity_ah": 3, "output_power_w": 10}
    asked |= {"measured_discharge": points}
    alone = ask("running-time", layout="2S1P", **asked)
    assert "4.3 V is above 4.2 V" in sentence(alone, "charged-above-chemistry")
    # no layout is recommended that is over a limit, and the limit is named
    got = ask("layouts", most_cells=2, **asked)
    assert got.layouts == []
    assert "3 exceed a limit (charged voltage)" in got.headline


def test_how_many_points_a_discharge_may_have(ask):
    """From 10 to 500 points are taken, and no field that the question does not know."""

    def points(count):
        steps = [i / (count - 1) for i in range(count)]
        return {
            "current_a": 3,
            "charge_ah": [3 * step for step in steps],
            "voltage_v": [4.1 - step for step in steps],
        }

    for count, taken in ((9, False), (10, True), (500, True), (501, False)):
        body = CONVERTER | {"measured_discharge": points(count)}
        if taken:
            assert ask("running-time", **body).running_time_s > 0
        else:
            with pytest.raises(ValidationError, match="measured_discharge"):
                ask("running-time", **body)
    with pytest.raises(ValidationError, match="unknown field `note`"):
        ask("running-time", **CONVERTER, measured_discharge=points(10) | {"note": 1})


@pytest.mark.parametrize(("current_a", "slow"), [(1.19, True), (1.2, False), (1.21, False)])
def test_a_slow_discharge_is_one_below_four_tenths_of_its_charge_an_hour(ask, current_a, slow):
    """3 Ah: from 1.2 A on it shows the charge that a load gets."""
    own = down_from(4.1) | {"current_a": current_a}
    got = ask("running-time", **CONVERTER, measured_discharge=own, cell_resistance_ohm=0.03)
    assert ("A slow discharge" in sentence(got, "running-time-estimate")) is slow
    assert got.working[0].result == pytest.approx(3 * (0.92 if slow else 1))


@pytest.mark.parametrize(("first_v", "highest_v"), [(4.1, 4.2), (4.3, 4.3)])
def test_a_lifted_discharge_ends_at_the_full_cell(ask, first_v, highest_v):
    """By hand: 200 A lost far more than a volt, but no cell rests above 4.2 V, or above where its log began."""
    own = through(first_v, first_v - 0.3) | {"current_a": 200}
    body = {"layout": "1S1P", "cell_capacity_ah": 3, "coil_resistance_ohm": 4}
    body |= {"cell_resistance_ohm": 0.04, "contact_resistance_ohm": 0}
    got = ask("running-time", **body, measured_discharge=own)
    # 0.8·I·R twice: 64 mΩ in series with 4 Ω
    assert got.pack_first_current_a == pytest.approx(highest_v / 4.064)
    assert got.pack_last_current_a == pytest.approx(highest_v / 4.064)
