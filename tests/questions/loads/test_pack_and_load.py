"""Cells and one of two loads: which load, which curve, which cut-off, which sharing."""

import pytest

from percell.physics.curves import published_curve
from percell.questions.loads.pack_and_load import HARSHEST
from percell.questions.vocabulary.refusal import Refused

CELL = {"layout": "2S1P", "cell_capacity_ah": 3}
CONVERTER = CELL | {"output_power_w": 40, "cell_cutoff_voltage_v": 3}


def sentence(got, rule):
    return next((f.sentence for f in got.findings if f.rule == rule), "")


def rules(got):
    return {finding.rule for finding in got.findings}


def up_to(full_v):
    """Return a caller's own curve, a straight line from 3 V."""
    return [
        {"state_of_charge": 0, "open_circuit_voltage_v": 3},
        {"state_of_charge": 1, "open_circuit_voltage_v": full_v},
    ]


@pytest.mark.parametrize("chemistry", ["lco", "lmo", "lco_high_voltage"])
def test_chemistry_without_a_curve(ask, chemistry):
    """A chemistry without a published curve is refused unless the caller gives points."""
    with pytest.raises(Refused) as refused:
        ask("running-time", **CONVERTER, chemistry=chemistry)
    assert refused.value.pointer == "/chemistry"
    curve = published_curve(chemistry="nmc")
    points = [
        {"state_of_charge": float(z), "open_circuit_voltage_v": float(v)}
        for z, v in zip(curve.soc[::10], curve.ocv_v[::10], strict=True)
    ]
    own = ask("running-time", **CONVERTER, chemistry=chemistry, open_circuit_curve=points)
    assert "sag-borrowed" in rules(own)
    # the borrowed sag is the one that shortens the run
    least = ask("running-time", **CONVERTER, chemistry=HARSHEST, open_circuit_curve=points)
    other = ask("running-time", **CONVERTER, chemistry="nmc", open_circuit_curve=points)
    assert own.running_time_s == least.running_time_s < other.running_time_s
    assert "sag-borrowed" not in rules(other)


@pytest.mark.parametrize(
    "points",
    [[(0, 3), (0.9, 4)], [(0.1, 3), (1, 4)], [(0, 3), (1, 3)], [(0, 3), (0.5, 2.9), (1, 4)]],
)
def test_own_curve_that_is_wrong(ask, points):
    """Points that do not rise from empty to full are refused by name."""
    curve = [{"state_of_charge": z, "open_circuit_voltage_v": v} for z, v in points]
    with pytest.raises(Refused) as refused:
        ask("running-time", **CONVERTER, open_circuit_curve=curve)
    assert refused.value.pointer == "/open_circuit_curve"


@pytest.mark.parametrize("question", ["running-time", "layouts"])
@pytest.mark.parametrize("load", [{}, {"coil_resistance_ohm": 1, "output_power_w": 20}])
def test_one_load_is_needed(ask, question, load):
    """Neither load, or both, is refused, and the answer names the field."""
    kind = (
        {"layout": "1S1P"} if question == "running-time" else {"most_cells": 2, "cell_rating_a": 9}
    )
    with pytest.raises(Refused) as refused:
        ask(question, cell_capacity_ah=3, **kind, **load)
    assert refused.value.pointer == "/coil_resistance_ohm"


@pytest.mark.parametrize(("full_v", "spoken"), [(4.2, False), (4.21, True), (5, True)])
def test_a_curve_above_the_chemistry_is_said(ask, full_v, spoken):
    """A full end above the chemistry is a warning, like a charged voltage."""
    points = [
        {"state_of_charge": 0, "open_circuit_voltage_v": 3},
        {"state_of_charge": 1, "open_circuit_voltage_v": full_v},
    ]
    got = ask("running-time", **CONVERTER, open_circuit_curve=points)
    assert bool(sentence(got, "charged-above-chemistry")) is spoken
    assert "Worked out on your own curve." in sentence(got, "running-time-estimate")


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
    asked |= {"open_circuit_curve": up_to(full_v), "cell_cutoff_voltage_v": cutoff_v}
    if refused:
        with pytest.raises(Refused) as error:
            ask("running-time", **asked)
        assert error.value.pointer == "/cell_cutoff_voltage_v"
    else:
        assert ask("running-time", **asked)


@pytest.mark.parametrize(
    ("curve", "current_a"),
    [
        ({}, 4.2),
        ({"open_circuit_curve": up_to(4.0)}, 4.2),
        ({"open_circuit_curve": up_to(4.3)}, 4.3),
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
    assert ("open_circuit_curve" in listed) is not bool(curve)


@pytest.mark.parametrize(
    ("load", "usual", "even_a", "allowance_a"),
    [
        ({"coil_resistance_ohm": 0.7}, "allowance", 3, 4),
        ({"output_power_w": 16.8, "efficiency": 1}, "even", 3, 4),
    ],
    ids=["coil of 0.7 ohm on 4.2 V", "16.8 W from 2.8 V"],
)
def test_the_kind_of_load_decides_how_cells_share(ask, load, usual, even_a, allowance_a):
    """By hand: 6 A on two cells is 3 A each, or 4 A by the allowance, the default for a coil only."""
    asked = {"layout": "1S2P", "cell_capacity_ah": 3, "cell_rating_a": 20} | load
    got = {way: ask("running-time", **asked, sharing=way) for way in ("even", "allowance")}
    assert got["even"].worst_cell_current_a == pytest.approx(even_a)
    assert got["allowance"].worst_cell_current_a == pytest.approx(allowance_a)
    left_out = ask("running-time", **asked)
    assert left_out.worst_cell_current_a == got[usual].worst_cell_current_a
    assert {a.name: a.value for a in left_out.assumptions}["sharing"] == usual
    assert "sharing" not in {a.name for a in got[usual].assumptions}
    # without a rating there is no verdict, and no way of sharing
    unrated = ask("running-time", **{n: v for n, v in asked.items() if n != "cell_rating_a"})
    assert not {"sharing", "cell_charged_voltage_v"} & {a.name for a in unrated.assumptions}


def test_the_full_end_of_a_curve_is_its_last_point(ask):
    """By hand: 4.3 V over 1 ohm, and not the 3.7 V of the point between."""
    points = [
        {"state_of_charge": soc, "open_circuit_voltage_v": volt}
        for soc, volt in [(0, 3.0), (0.5, 3.7), (1, 4.3)]
    ]
    asked = {"layout": "1S1P", "cell_capacity_ah": 3, "cell_rating_a": 20}
    got = ask("running-time", **asked, coil_resistance_ohm=1, open_circuit_curve=points)
    assert got.worst_cell_current_a == pytest.approx(4.3)
    assert "4.3 V is above the 4.2 V" in sentence(got, "charged-above-chemistry")


@pytest.mark.parametrize(
    ("load", "rests_on"),
    [
        ({"coil_resistance_ohm": 1}, {"device_resistance_ohm"}),
        ({"output_power_w": 10}, {"efficiency", "idle_power_w"}),
    ],
)
def test_only_defaults_of_the_load_are_listed(ask, load, rests_on):
    """An answer about a coil rests on no efficiency, and one about a converter on no leads."""
    got = ask("running-time", layout="1S1P", cell_capacity_ah=3, **load)
    listed = {one.name for one in got.assumptions}
    assert listed & {"device_resistance_ohm", "efficiency", "idle_power_w"} == rests_on


def test_a_longer_curve_is_held_to_its_end(ask):
    """Of four points the last is the full end, and not the second."""
    points = [
        {"state_of_charge": soc, "open_circuit_voltage_v": volt}
        for soc, volt in [(0, 3.0), (0.3, 3.5), (0.6, 3.8), (1, 4.3)]
    ]
    got = ask("layouts", most_cells=2, cell_rating_a=20, cell_capacity_ah=3, output_power_w=10,
              open_circuit_curve=points)  # fmt: skip
    assert "4.3 V is above the 4.2 V" in sentence(got, "charged-above-chemistry")
