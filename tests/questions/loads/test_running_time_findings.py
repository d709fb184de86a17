"""What is said of a running time: what ends it, how exact it is, and what it leaves out."""

import re

import numpy as np
import pytest

from percell.questions.loads.times_compared import ComparedWay, times_compared
from percell.questions.registry import QUESTIONS

CELL = {"layout": "2S1P", "cell_capacity_ah": 3}

CONVERTER = CELL | {"output_power_w": 40, "cell_cutoff_voltage_v": 3}


def straight(first_v, last_v, charge_ah=3.0):
    """Return a discharge in an hour, straight from one voltage to the other."""
    parts = [i / 10 for i in range(11)]
    return {
        "current_a": charge_ah,
        "charge_ah": [charge_ah * part for part in parts],
        "voltage_v": [first_v + part * (last_v - first_v) for part in parts],
    }


def sentence(got, rule):
    return next((f.sentence for f in got.findings if f.rule == rule), "")


def rules(got):
    return {finding.rule for finding in got.findings}


def test_cutoff_at_once_and_power_that_is_not_there(ask):
    """A pack that does not run names its cut-off or the power as the reason."""
    assert not {"cutoff-at-once", "power-gives-out"} & rules(ask("running-time", **CONVERTER))
    at_once = ask("running-time", **CONVERTER | {"cell_cutoff_voltage_v": 4.15})
    assert at_once.running_time_s == 0
    assert "cutoff-at-once" in rules(at_once)
    weak = CONVERTER | {"cell_resistance_ohm": 0.1, "cell_cutoff_voltage_v": 1.5}
    gone = ask("running-time", **weak | {"output_power_w": 300})
    assert "power-gives-out" in rules(gone)
    assert "cutoff-at-once" not in rules(gone)


def test_charge_left_from_half_on(ask):
    """A finding says that much charge stays if less than half of what can be used is used."""
    said = []
    for power_w in np.linspace(40, 120, 30).tolist():
        got = ask("running-time", **CONVERTER | {"output_power_w": power_w})
        if got.running_time_s > 0:
            said.append("charge-left" in rules(got))
            assert said[-1] is (got.used_capacity < 0.5 * 0.92)
    assert 0 < sum(said) < len(said)


BAND = "% too short to"


OWN = {"measured_discharge": straight(4.1, 2.5), "cell_resistance_ohm": 0.035}


UNLIKE = "This time can be far off. Nothing like it was measured"


@pytest.mark.parametrize(
    ("told", "way", "unlike"),
    [
        ({}, ComparedWay.CAPACITY, ""),
        ({"cell_rating_a": 20}, ComparedWay.CAPACITY, ""),
        ({"cell_resistance_ohm": 0.035}, ComparedWay.RESISTANCE, ""),
        (OWN, ComparedWay.OWN_DISCHARGE, ""),
        (
            OWN | {"measured_discharge": straight(4.1, 2.5) | {"current_a": 0.3}},
            ComparedWay.SLOW_DISCHARGE,
            "",
        ),
        (
            {"measured_discharge": straight(4.1, 2.5)},
            ComparedWay.OWN_DISCHARGE,
            "no resistance was given with the discharge",
        ),
        (
            OWN | {"measured_discharge": straight(4.1, 2.5) | {"current_a": 6}},
            ComparedWay.OWN_DISCHARGE,
            "your discharge took less than an hour",
        ),
        (
            OWN | {"cell_rating_a": 6},
            ComparedWay.OWN_DISCHARGE,
            "no energy cell was measured",
        ),
        (
            {"cell_resistance_ohm": 0.03, "cell_resistance_after_s": 0.1},
            ComparedWay.RESISTANCE,
            "the resistance was read before 1 s",
        ),
        (
            {"cell_resistance_ohm": 0.01},
            ComparedWay.RESISTANCE,
            "no cell with this resistance for its capacity was measured",
        ),
        ({"cell_rating_a": 35}, ComparedWay.CAPACITY, "no cell of this rating was measured"),
        (
            {"cell_capacity_ah": 2.2, "output_power_w": 25},
            ComparedWay.CAPACITY,
            "no cell of this capacity was measured",
        ),
        ({"cell_cutoff_voltage_v": 4.15}, ComparedWay.CAPACITY, "the pack does not run"),
        (
            {"cell_health": 0.999, "cell_resistance_ohm": 0, "output_power_w": 18},
            ComparedWay.HEALTH,
            "no cell with this resistance for its capacity was measured",
        ),
        (
            {"cell_health": 0.75, "cell_resistance_ohm": 0.06, "output_power_w": 18},
            ComparedWay.HEALTH,
            "no cell as aged as this was measured",
        ),
        (
            OWN | {"measured_discharge": straight(4.1, 3.1)},
            ComparedWay.OWN_DISCHARGE,
            "your discharge ended above the cut-off",
        ),
        (
            OWN | {"measured_discharge": straight(3.9, 2.5)},
            ComparedWay.OWN_DISCHARGE,
            "your discharge did not begin full",
        ),
        (
            OWN | {"measured_discharge": straight(4.1, 2.5, charge_ah=2.6)},
            ComparedWay.OWN_DISCHARGE,
            "your discharge gave much less or much more than the printed capacity",
        ),
        (
            {"cell_health": 0.9, "cell_resistance_ohm": 0.06, "output_power_w": 18},
            ComparedWay.HEALTH,
            "",
        ),
        ({"cell_health": 0.9}, ComparedWay.CAPACITY, "the resistance of the aged cell was assumed"),
        ({"cell_temperature_c": 0}, ComparedWay.CAPACITY, "the cell is colder than room air"),
        ({"cell_temperature_c": 45}, ComparedWay.CAPACITY, "the cell is warmer than room air"),
        ({"state_of_charge": 0.5}, ComparedWay.CAPACITY, "the cell does not begin full"),
        (
            {"cell_cutoff_voltage_v": 3.5},
            ComparedWay.CAPACITY,
            "the cut-off is outside those of the comparison",
        ),
        (
            {"output_power_w": 2},
            ComparedWay.CAPACITY,
            "the current is lower than in any comparison",
        ),
        (
            {"output_power_w": 90},
            ComparedWay.CAPACITY,
            "the current is higher than in any comparison",
        ),
        ({"cell_rating_a": 6}, ComparedWay.CAPACITY, "the sag is that of a simulated cell"),
        (
            {"chemistry": "lfp", "cell_cutoff_voltage_v": 2.5},
            ComparedWay.CAPACITY,
            "a simulated cell",
        ),
        (
            OWN | {"output_power_w": 70},
            ComparedWay.OWN_DISCHARGE,
            "more than 3 times that of your discharge",
        ),
    ],
)
def test_a_band_is_said_only_where_it_was_measured(ask, told, way, unlike):
    """The band is that of the way of asking, or what sets the question apart is named."""
    said = sentence(ask("running-time", **CONVERTER | told), "running-time-estimate")
    band = next(one for one in times_compared().ways if one.way is way)
    assert (UNLIKE in said) is bool(unlike)
    assert (BAND in said) is not bool(unlike)
    if unlike:
        assert unlike in said
    else:
        below, above = map(float, re.findall(r"([0-9.]+) % too (?:short|long)", said))
        # rounded up
        assert -band.lowest * 100 <= below < -band.lowest * 100 + 0.1
        assert band.highest * 100 <= above < band.highest * 100 + 0.1
    assert ("up to a quarter too long" in said) is (way is ComparedWay.SLOW_DISCHARGE)


@pytest.mark.parametrize(
    ("told", "spoken"),
    [
        ({}, True),
        ({"cell_rating_a": 20}, False),
        ({"cell_rating_a": 6}, False),
        ({"cell_rating_a": 6.1}, True),
        ({"cell_rating_a": 8.9}, True),
        ({"cell_rating_a": 9}, False),
        ({"chemistry": "nca"}, True),
        ({"chemistry": "lfp", "cell_cutoff_voltage_v": 2.5}, False),
        ({"measured_discharge": straight(4.1, 2.5)}, False),
        ({"output_power_w": 10}, False),
    ],
)
def test_a_cell_of_unknown_rating_may_be_an_energy_cell(ask, told, spoken):
    """At high current the shorter time of a cell made for its charge stands beside the answer."""
    got = ask("running-time", **CONVERTER | told)
    said = sentence(got, "energy-cell")
    assert bool(said) is spoken
    if spoken:
        least = ask("running-time", **CONVERTER | told | {"cell_rating_a": 6})
        assert least.running_time_s < got.running_time_s
        text = QUESTIONS["running-time"].headline.text
        assert f"about {text(least.running_time_s)}, not {text(got.running_time_s)}." in said
        assert text(got.running_time_s) in got.headline


@pytest.mark.parametrize(
    ("start", "cutoff_v", "spoken"),
    [(1, 3.49, False), (1, 3.51, True), (0.5, 3.24, False), (0.5, 3.26, True)],
)
def test_half_of_what_there_was_at_the_start(ask, start, cutoff_v, spoken):
    """Without resistance, from 4 V full to 3 V empty: the part above the cut-off is used."""
    got = ask(
        "running-time",
        layout="1S1P",
        cell_capacity_ah=3,
        coil_resistance_ohm=1,
        cell_resistance_ohm=0,
        contact_resistance_ohm=0,
        measured_discharge=straight(4.0, 3.0),
        state_of_charge=start,
        cell_cutoff_voltage_v=cutoff_v,
    )
    assert got.used_capacity == pytest.approx(3 + start - cutoff_v)
    assert ("charge-left" in rules(got)) is spoken


@pytest.mark.parametrize(("own", "assumed"), [({}, True), ({"cell_resistance_ohm": 0.04}, False)])
def test_a_resistance_that_nobody_measured_is_said(ask, own, assumed):
    """A finding says if the sag uses a resistance that was worked out, and not one that happens to equal it."""
    got = ask("running-time", **CONVERTER, **own)
    assert ("resistance-assumed" in rules(got)) is assumed
    assert ("cell_resistance_after_s" in {a.name for a in got.assumptions}) is not assumed


def test_when_the_power_gives_out_is_given_in_minutes(ask):
    """The sentence gives the seconds of the answer in minutes, with the last current."""
    weak = CONVERTER | {"cell_resistance_ohm": 0.1, "cell_cutoff_voltage_v": 1.5}
    got = ask("running-time", **weak | {"output_power_w": 55})
    said = sentence(got, "power-gives-out")
    assert got.running_time_s > 0
    assert f"After {got.running_time_s / 60:.3g} min" in said
    assert f"{got.pack_last_current_a:.3g} A" in said


@pytest.mark.parametrize(
    ("chemistry", "curve", "rough"),
    [
        ("nmc", "NMC811 against", False),
        ("nca", "NMC811 against", False),
        ("lfp", "LFP against", True),
    ],
)
def test_an_estimate_names_its_curve(ask, chemistry, curve, rough):
    """The curve is named, and called rough where its source is."""
    said = sentence(ask("running-time", **CONVERTER, chemistry=chemistry), "running-time-estimate")
    assert said.startswith(f"The running time is calculated from the curve of {curve}")
    assert ("Rough:" in said) is rough


@pytest.mark.parametrize(("draws", "spoken"), [({}, False), ({"draw_length_s": 3}, True)])
def test_draws_say_that_recovery_is_left_out(ask, draws, spoken):
    """Draws with pauses last longer than a load without one; nobody counted by how much."""
    got = ask("running-time", **CONVERTER, **draws)
    assert ("no-recovery" in rules(got)) is spoken
    longer = ask("running-time", **CONVERTER, **draws, **({"pause_s": 60} if draws else {}))
    assert longer.running_time_s == got.running_time_s
