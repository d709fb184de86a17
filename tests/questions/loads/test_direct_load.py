"""A coil straight on a pack: by hand, at its limits, and with a meaningless reading."""

import numpy as np
import pytest

from percell.physics.errors import NoSolution
from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS

CELL = {"layout": "1S1P", "cell_rating_a": 20}
# 25 milliohm per cell with its contacts
SAG = {"cell_resistance_ohm": 0.02, "contact_resistance_ohm": 0.005}


@pytest.mark.parametrize(
    ("layout", "coil_ohm", "expected"),
    [
        pytest.param(
            "1S1P",
            0.25,
            {
                "pack_highest_voltage_v": 4.2,
                "pack_current_a": 16.8,
                "coil_power_w": 70.56,
                "even_cell_current_a": 16.8,
                "worst_cell_current_a": 16.8,
                "headroom": 0.16,
            },
            id="Ohm's law by hand: 4.2 V / 0.25 Ω = 16.8 A, all through the one cell",
        ),
        pytest.param(
            "2S1P",
            0.5,
            {
                "pack_highest_voltage_v": 8.4,
                "pack_current_a": 16.8,
                "coil_power_w": 141.12,
                "even_cell_current_a": 16.8,
                "worst_cell_current_a": 16.8,
                "headroom": 0.16,
            },
            id="Ohm's law by hand: 2 × 4.2 V / 0.5 Ω = 16.8 A, all through both cells",
        ),
        pytest.param(
            "1S2P",
            0.175,
            {
                "pack_highest_voltage_v": 4.2,
                "pack_current_a": 24,
                "coil_power_w": 100.8,
                "even_cell_current_a": 12,
                "worst_cell_current_a": 16,
                "headroom": 0.2,
            },
            id="common practice, no published source: of 24 A a half is 12 A, counted as P − ½ 16 A",
        ),
        pytest.param(
            "2S3P",
            0.16,
            {
                "pack_highest_voltage_v": 8.4,
                "pack_current_a": 52.5,
                "coil_power_w": 441,
                "even_cell_current_a": 17.5,
                "worst_cell_current_a": 21,
                "headroom": -0.05,
            },
            id="common practice, no published source: of 52.5 A a third is 17.5 A, counted as P − ½ 21 A",
        ),
    ],
)
def test_by_hand(ask, layout, coil_ohm, expected):
    """Voltage, currents, power and headroom below 20 A."""
    got = ask("direct-load", layout=layout, cell_rating_a=20, coil_resistance_ohm=coil_ohm)
    assert {name: getattr(got, name) for name in expected} == pytest.approx(expected)
    assert got.layout == layout


def test_an_even_share_is_by_choice(ask):
    """With an even share every cell carries the same: 24 A / 2."""
    got = ask("direct-load", **CELL | {"layout": "1S2P"}, coil_resistance_ohm=0.175, sharing="even")
    assert got.worst_cell_current_a == got.even_cell_current_a == pytest.approx(12)


def test_sag_by_hand(ask):
    """8.4 V over 0.5 Ω of coil, 0.05 Ω of pack and 0.05 Ω of device: 14 A, 7.7 V, 98 W in the coil."""
    got = ask(
        "direct-load",
        **CELL | {"layout": "2S1P"} | SAG,
        coil_resistance_ohm=0.5,
        device_resistance_ohm=0.05,
    )
    assert got.pack_resistance_ohm == pytest.approx(0.05)
    assert got.sagging_pack_current_a == pytest.approx(14)
    assert got.sagging_pack_voltage_v == pytest.approx(7.7)
    assert got.sagging_coil_power_w == pytest.approx(98)
    # the verdict ignores sag
    assert got.pack_current_a == pytest.approx(16.8)


def test_leads_are_no_part_of_the_coil(ask):
    """A reading of 0.55 Ω with 0.05 Ω of leads in it is the same coil of 0.5 Ω."""
    body = CELL | {"layout": "2S1P"} | SAG
    got = ask(
        "direct-load",
        **body,
        coil_resistance_ohm=0.55,
        lead_resistance_ohm=0.05,
        device_resistance_ohm=0.05,
    )
    assert got.sagging_pack_current_a == pytest.approx(14)
    assert got.sagging_coil_power_w == pytest.approx(98)
    assert got.lowest_true_resistance_ohm == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("meter", "lowest_ohm"),
    [
        ({}, 0.5),
        ({"meter_accuracy": 0.02}, 0.49),
        ({"meter_counts": 2, "meter_resolution_ohm": 0.02}, 0.46),
        ({"lead_resistance_ohm": 0.05}, 0.45),
        ({"coil_resistance_tolerance_ohm": 0.03}, 0.47),
        (
            {
                "meter_accuracy": 0.02,
                "meter_counts": 2,
                "meter_resolution_ohm": 0.02,
                "lead_resistance_ohm": 0.05,
                "coil_resistance_tolerance_ohm": 0.03,
            },
            0.37,
        ),
    ],
    ids=lambda value: "+".join(value) if isinstance(value, dict) else f"{value} ohm",
)
def test_what_a_reading_may_stand_for(ask, meter, lowest_ohm):
    """By hand from 0.5 Ω: 2 % is 0.01, two counts of 0.02 are 0.04, leads 0.05, tolerance 0.03."""
    got = ask("direct-load", **CELL, coil_resistance_ohm=0.5, **meter)
    assert got.lowest_true_resistance_ohm == pytest.approx(lowest_ohm)
    assert got.pack_current_a == pytest.approx(4.2 / lowest_ohm)


@pytest.mark.parametrize(
    ("given", "charged_v"),
    [
        ({}, 4.2),
        ({"chemistry": "lfp"}, 3.65),
        ({"cell_charged_voltage_v": 4.1}, 4.1),
        ({"cell_charged_voltage_tolerance_v": 0.05}, 4.25),
        ({"cell_charged_voltage_v": 4.1, "cell_charged_voltage_tolerance_v": 0.05}, 4.15),
    ],
    ids=lambda value: "+".join(value) or "default" if isinstance(value, dict) else f"{value} V",
)
def test_highest_voltage(ask, given, charged_v):
    """The voltage is the given one, or else the chemistry's, plus its tolerance."""
    got = ask("direct-load", **CELL | {"layout": "3S1P"}, coil_resistance_ohm=1, **given)
    assert got.pack_highest_voltage_v == pytest.approx(3 * charged_v)


ERRORS = {"coil_resistance_ohm": 0.001}


@pytest.mark.parametrize("tolerance_ohm", [0, 0.0005 - 1e-9, 0.0005])
def test_half_a_milliohm_is_still_answered(ask, tolerance_ohm):
    """Half a milliohm above its errors, a reading still counts: 4.2 V drives 8,400 A."""
    got = ask("direct-load", **CELL, **ERRORS, coil_resistance_tolerance_ohm=tolerance_ohm)
    assert got.lowest_true_resistance_ohm == pytest.approx(0.001 - tolerance_ohm)
    assert got.verdict == "over_limit"


@pytest.mark.parametrize("tolerance_ohm", [0.0005 + 1e-9, 0.001, 0.5])
def test_a_reading_within_its_errors_has_no_answer(ask, tolerance_ohm):
    """Below half a milliohm the coil may be a short circuit: no answer, with numbers."""
    with pytest.raises(NoSolution) as none:
        ask("direct-load", **CELL, **ERRORS, coil_resistance_tolerance_ohm=tolerance_ohm)
    assert none.value.code == "reading_within_error"
    assert none.value.numbers == {
        "coil_resistance_ohm": 0.001,
        "lowest_true_resistance_ohm": pytest.approx(0.001 - tolerance_ohm),
    }


def test_a_table_leaves_such_readings_empty():
    """In a table a reading within its errors makes its figures NaN, and the others stay."""
    readings = np.array([0.2, 0.1, 0.05])
    got = figures_over(
        QUESTIONS["direct-load"],
        CELL | {"coil_resistance_tolerance_ohm": 0.0995},
        {"coil_resistance_ohm": readings},
    )
    assert got.pack_current_a[0] == pytest.approx(4.2 / 0.1005)
    for name in ("lowest_true_resistance_ohm", "pack_current_a", "headroom", "coil_power_w"):
        assert np.isnan(getattr(got, name)).tolist() == [False, False, True], name
    assert got.pack_current_a[1] == pytest.approx(8400)


@pytest.mark.parametrize(
    ("current_a", "verdict"),
    [
        (18 * (1 - 1e-6), "within_limit"),
        (18, "within_limit"),
        (18 * (1 + 1e-6), "little_headroom"),
        (20, "little_headroom"),
        (20 * (1 + 1e-6), "over_limit"),
    ],
    ids=lambda value: f"{value:.9g} A" if isinstance(value, float | int) else value,
)
@pytest.mark.parametrize(("layout", "counted"), [("1S1P", 1), ("3S1P", 1), ("2S3P", 2.5)])
def test_verdict(ask, layout, counted, current_a, verdict):
    """The verdict on the worst-case cell just below, at and just above a tenth left and 20 A."""
    coil_ohm = int(layout[0]) * 4.2 / (counted * current_a)
    got = ask("direct-load", layout=layout, cell_rating_a=20, coil_resistance_ohm=coil_ohm)
    assert got.verdict == verdict
    assert got.headroom == pytest.approx(1 - current_a / 20)


@pytest.mark.parametrize("layout", ["2S1P", "2S3P"])
def test_the_working_is_the_figures(ask, layout):
    """Each step ends in a figure of the answer."""
    got = ask("direct-load", layout=layout, cell_rating_a=20, coil_resistance_ohm=0.5)
    assert [step.result for step in got.working] == [
        got.pack_highest_voltage_v,
        got.lowest_true_resistance_ohm,
        got.pack_current_a,
        got.coil_power_w,
        got.worst_cell_current_a,
        got.headroom,
        got.sagging_pack_current_a,
    ]


def test_the_current_to_expect_is_without_the_leads(ask):
    """The leads are in the reading and not in the circuit: 0.3 ohm read are a coil of 0.25 ohm."""
    got = ask("direct-load", **CELL, **SAG, coil_resistance_ohm=0.3, lead_resistance_ohm=0.05)
    assert got.working[-1].put_in == "4.2 V / (0.25 + 0.025 + 0) Ω"
    assert got.sagging_pack_current_a == pytest.approx(4.2 / 0.275)
