"""A coil straight on a pack: by hand, at its limits, and with a meaningless reading."""

from itertools import pairwise

import numpy as np
import pytest

from percell.physics.errors import NoSolution
from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.usual_spread import KEPT
from percell.questions.vocabulary.verdict import Verdict

CELL = {"layout": "1S1P", "cell_rating_a": 20}
# 25 milliohm per cell with its contacts
SAG = {"cell_resistance_ohm": 0.02, "contact_resistance_ohm": 0.005}
PERFECT = {"meter_accuracy": 0, "meter_counts": 0}
COIL = ("coil_reading_ohm", "coil_resistance_ohm")


def rules(got):
    return {one.rule: one for one in got.findings}


def limits(got):
    return {one.name: one for one in got.limits}


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
    """Voltage, currents, power and headroom below 20 A, with the trade's sharing."""
    got = ask(
        "direct-load",
        layout=layout,
        cell_rating_a=20,
        coil_resistance_ohm=coil_ohm,
        sharing="allowance",
    )
    assert {name: getattr(got, name) for name in expected} == pytest.approx(expected)
    assert got.layout == layout


@pytest.mark.parametrize(
    ("parallel", "by_trade", "by_spread"),
    [(2, 1 / 1.5, 0.592), (3, 0.4, 0.416), (4, 1 / 3.5, 0.321)],
)
def test_the_careful_share_is_the_larger_one(ask, parallel, by_trade, by_spread):
    """P − ½ by common practice, no published source, or the share of unequal cells: never the milder."""
    got = ask("direct-load", layout=f"1S{parallel}P", cell_rating_a=20, coil_resistance_ohm=0.21)
    share = got.worst_cell_current_a / got.pack_current_a
    assert share == pytest.approx(max(by_trade, by_spread), abs=5e-4)
    assert "sharing" not in got.headline
    found = rules(got)["uneven-share"]
    for part in (1 / parallel, by_trade, KEPT[parallel][0]):
        assert f"{np.ceil(200 * part - 1e-6) / 10:.1f} A" in found.sentence


@pytest.mark.parametrize("sharing", ["even", "allowance", {"spread": 0.1}])
def test_a_chosen_sharing_is_a_caution_in_the_headline(ask, sharing):
    """Whatever was chosen is named, and the careful figure with it; one cell alone shares with none."""
    body = {"cell_rating_a": 20, "coil_resistance_ohm": 0.9, "sharing": sharing}
    got = ask("direct-load", layout="1S3P", **body)
    assert (got.verdict, got.attention) == ("within_limit", "caution")
    assert "Caution: Calculated" in got.headline
    # of 4.2 V / 0.9 Ω = 4.67 A the careful share is 0.4157
    assert "By default percell allows for unequal cells: then it is 2.0 A." in got.headline
    assert ask("direct-load", layout="1S1P", **body).attention == "note"


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
    body = CELL | {"layout": "2S1P"} | SAG | PERFECT
    got = ask(
        "direct-load",
        **body,
        coil_reading_ohm=0.55,
        lead_resistance_ohm=0.05,
        device_resistance_ohm=0.05,
    )
    assert got.sagging_pack_current_a == pytest.approx(14)
    assert got.sagging_coil_power_w == pytest.approx(98)
    # half of the last digit stays unknown
    assert got.lowest_true_resistance_ohm == pytest.approx(0.495)


@pytest.mark.parametrize(
    ("meter", "lowest_ohm"),
    [
        ({}, 0.495),
        ({"meter_accuracy": 0.02}, 0.485),
        ({"meter_counts": 2, "meter_resolution_ohm": 0.02}, 0.45),
        ({"lead_resistance_ohm": 0.05}, 0.445),
        ({"coil_resistance_tolerance_ohm": 0.03}, 0.465),
        (
            {
                "meter_accuracy": 0.02,
                "meter_counts": 2,
                "meter_resolution_ohm": 0.02,
                "lead_resistance_ohm": 0.05,
                "coil_resistance_tolerance_ohm": 0.03,
            },
            0.36,
        ),
    ],
    ids=lambda value: "+".join(value) if isinstance(value, dict) else f"{value} ohm",
)
def test_what_a_reading_may_stand_for(ask, meter, lowest_ohm):
    """By hand from 0.5 Ω: 2 % is 0.01, two counts of 0.02 are 0.04, leads 0.05, half a digit, tolerance 0.03."""
    got = ask("direct-load", **CELL | PERFECT | meter, coil_reading_ohm=0.5)
    assert got.lowest_true_resistance_ohm == pytest.approx(lowest_ohm)
    assert got.pack_current_a == pytest.approx(4.2 / lowest_ohm)


@pytest.mark.parametrize(
    ("reading_ohm", "lowest_ohm"), [(0.25, 0.2125), (0.15, 0.1135), (1.0, 0.955)]
)
def test_a_reading_without_a_meter_is_an_ordinary_one(ask, reading_ohm, lowest_ohm):
    """±1 % and 3 counts, common practice, no published source, and half a digit: 0.25 Ω may be 0.2125 Ω."""
    got = ask("direct-load", **CELL, coil_reading_ohm=reading_ohm)
    assert got.lowest_true_resistance_ohm == pytest.approx(lowest_ohm)
    listed = {a.name: a.value for a in got.assumptions}
    assert (listed["meter_accuracy"], listed["meter_counts"]) == (0.01, 3)
    # 19.8 A of 20 A, where 0.25 Ω from wire would be 16.8 A
    true = ask("direct-load", **CELL, coil_resistance_ohm=reading_ohm)
    assert true.lowest_true_resistance_ohm == reading_ohm
    assert not {"meter_accuracy", "meter_counts"} & {a.name for a in true.assumptions}
    assert got.worst_cell_current_a > true.worst_cell_current_a
    words = [ask("direct-load", **CELL, **{name: 0.25}).verdict for name in COIL]
    assert words == ["little_headroom", "within_limit"]


def test_a_display_that_reads_exactly_may_still_be_half_a_digit_off(ask):
    """0.15 Ω shown may be 0.145 Ω: 28.97 A, above the 28 A of 0.15 Ω."""
    got = ask("direct-load", **CELL | {"cell_rating_a": 28} | PERFECT, coil_reading_ohm=0.15)
    assert got.worst_cell_current_a == pytest.approx(4.2 / 0.145)
    assert got.verdict == "over_limit"


@pytest.mark.parametrize("load", [{}, {"coil_reading_ohm": 0.5, "coil_resistance_ohm": 0.5}])
@pytest.mark.parametrize("question", ["direct-load", "needed-rating-for-coil"])
def test_one_coil_is_needed(ask, question, load):
    """Neither a reading nor a resistance, or both, is refused."""
    body = CELL if question == "direct-load" else {"layout": "1S1P"}
    with pytest.raises(Refused) as refused:
        ask(question, **body, **load)
    assert refused.value.pointer == "/coil_reading_ohm"


@pytest.mark.parametrize(
    "meter",
    [
        {"meter_accuracy": 0.02},
        {"meter_counts": 2},
        {"meter_resolution_ohm": 0.1},
        {"lead_resistance_ohm": 0.1},
    ],
)
def test_a_meter_needs_a_reading(ask, meter):
    """A true resistance has no meter: its errors would be ignored."""
    with pytest.raises(Refused) as refused:
        ask("direct-load", **CELL, coil_resistance_ohm=0.5, **meter)
    assert refused.value.pointer == f"/{next(iter(meter))}"


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
@pytest.mark.parametrize(
    ("layout", "counted"), [("1S1P", 1), ("3S1P", 1), ("2S2P", 1.5), ("2S3P", 1 / KEPT[3][0])]
)
def test_verdict(ask, layout, counted, current_a, verdict):
    """The verdict on the worst-case cell just below, at and just above a tenth left and 20 A."""
    coil_ohm = int(layout[0]) * 4.2 / (counted * current_a)
    got = ask("direct-load", layout=layout, cell_rating_a=20, coil_resistance_ohm=coil_ohm)
    assert got.verdict == verdict
    assert got.headroom == pytest.approx(1 - current_a / 20)


@pytest.mark.parametrize("coil", ["coil_reading_ohm", "coil_resistance_ohm"])
@pytest.mark.parametrize("layout", ["2S1P", "2S3P"])
def test_the_working_is_the_figures(ask, layout, coil):
    """Each step ends in a figure of the answer; a computed share shows how many cells it counts as."""
    got = ask("direct-load", layout=layout, cell_rating_a=20, **{coil: 0.5})
    counted = [] if layout == "2S1P" else [pytest.approx(1 / KEPT[3][0])]
    assert [step.result for step in got.working] == [
        got.pack_highest_voltage_v,
        got.lowest_true_resistance_ohm,
        got.pack_current_a,
        *counted,
        got.worst_cell_current_a,
        got.headroom,
        got.coil_power_w,
        got.sagging_pack_current_a,
    ]


def test_the_current_to_expect_is_without_the_leads(ask):
    """The leads are in the reading and not in the circuit: 0.3 ohm read are a coil of 0.25 ohm."""
    got = ask("direct-load", **CELL, **SAG, coil_reading_ohm=0.3, lead_resistance_ohm=0.05)
    assert got.working[-1].with_numbers == "4.2 V / (0.25 + 0.025 + 0) Ω"
    assert got.sagging_pack_current_a == pytest.approx(4.2 / 0.275)


@pytest.mark.parametrize(
    ("chemistry", "spoken"),
    [({}, True), ({"chemistry": "lfp"}, False), ({"chemistry": "nca"}, False)],
)
def test_a_chemistry_nobody_named_gets_the_figure_for_a_higher_one(ask, chemistry, spoken):
    """By hand: 4.2 V over 0.25 Ω are 16.8 A, and 4.35 V, the highest of the chemistries, 17.4 A."""
    got = ask("direct-load", **CELL, coil_resistance_ohm=0.25, **chemistry)
    assert ("chemistry-assumed" in rules(got)) is spoken
    if spoken:
        assert (
            "4.35 V, the worst-case cell carries 17.4 A" in rules(got)["chemistry-assumed"].sentence
        )
        assert "cells charged to 4.2 V" in got.headline
        assert "nickel manganese cobalt oxide cells" in got.headline
    charged = ask("direct-load", **CELL, coil_resistance_ohm=0.25, cell_charged_voltage_v=4.2)
    assert "chemistry-assumed" not in rules(charged)


@pytest.mark.parametrize(
    ("charged", "verdict"),
    [
        ({"cell_charged_voltage_v": 4.2, "cell_charged_voltage_tolerance_v": 0.05}, "within_limit"),
        ({"cell_charged_voltage_v": 4.2, "cell_charged_voltage_tolerance_v": 0.051}, "over_limit"),
        ({"cell_charged_voltage_v": 4.21}, "over_limit"),
        ({"cell_charged_voltage_v": 4.35, "chemistry": "lco_high_voltage"}, "within_limit"),
        ({"cell_charged_voltage_v": 3.7, "chemistry": "lfp"}, "over_limit"),
    ],
)
def test_a_charged_voltage_above_the_chemistry_is_over(ask, charged, verdict):
    """Above its own charged voltage no cell is within its limits, however small the load."""
    got = ask("direct-load", **CELL, coil_resistance_ohm=5, **charged)
    assert got.verdict == limits(got)["charged_voltage"].verdict == verdict
    assert got.attention == {"over_limit": "warning"}.get(verdict, got.attention)
    assert ("charged-above-chemistry" in rules(got)) is (verdict == "over_limit")


def test_less_than_a_full_charge_is_a_caution(ask):
    """A coil draws most from a full pack: by hand 4.2 V / 3.7 V are 1.14 times as much."""
    got = ask("direct-load", **CELL, coil_resistance_ohm=0.5, cell_charged_voltage_v=3.7)
    assert got.attention == "caution"
    assert "would carry 1.14 times as much" in got.headline


@pytest.mark.parametrize(
    ("coil_ohm", "verdict"), [(0.045, "over_limit"), (0.0451, "within_limit"), (0.03, "over_limit")]
)
def test_a_coil_no_higher_than_the_pack_is_near_a_short_circuit(ask, coil_ohm, verdict):
    """From R_coil = R_pack down the coil gets less power and the cells more (maximum power transfer)."""
    got = ask("direct-load", layout="1S1P", cell_rating_a=200, coil_resistance_ohm=coil_ohm,
              cell_resistance_ohm=0.04)  # fmt: skip
    ohms = np.linspace(0.01, 0.2, 191)
    best = ohms[np.argmax(4.2**2 * ohms / (ohms + 0.045) ** 2)]
    assert best == pytest.approx(0.045, abs=1e-3)
    assert limits(got)["available_power"].verdict == verdict
    assert (got.verdict == "over_limit") is (verdict == "over_limit")
    assert got.headroom > 0
    assert ("near-short-circuit" in rules(got)) is (verdict == "over_limit")


@pytest.mark.parametrize(("series", "spoken"), [(14, False), (15, True)])
def test_touch_voltage(ask, series, spoken):
    """By hand: 14 × 4.2 V are 58.8 V, and 15 are 63 V, above the customary 60 V d.c. (from memory)."""
    got = ask("direct-load", layout=f"{series}S1P", cell_rating_a=20, coil_resistance_ohm=20)
    assert ("touch-voltage" in rules(got)) is spoken
    assert (got.verdict, got.attention) == ("within_limit", "caution" if spoken else "note")


@pytest.mark.parametrize("layout", ["1S1P", "1S2P", "2S1P", "2S4P", "3S3P"])
def test_less_resistance_never_gets_a_milder_word(ask, layout):
    """From 3 Ω down to a short circuit the verdict only gets graver."""
    gravity = list(Verdict)
    words = []
    for ohms in np.linspace(3, 0.05, 120):
        got = ask("direct-load", layout=layout, cell_rating_a=20, coil_reading_ohm=float(ohms))
        words.append(gravity.index(got.verdict))
    assert all(one <= next_one for one, next_one in pairwise(words))
    assert words[-1] == gravity.index(Verdict.OVER)


@pytest.mark.parametrize("layout", ["2S1P", "2S3P"])
def test_the_limits_are_listed_in_order(ask, layout):
    """Each limit with what was held against it; what is unlimited has no size."""
    got = ask("direct-load", layout=layout, cell_rating_a=20, coil_resistance_ohm=1)
    assert list(limits(got)) == ["continuous_rating", "available_power", "charged_voltage"]
    rating = limits(got)["continuous_rating"]
    assert (rating.value, rating.figure) == (20, got.worst_cell_current_a)
    assert rating.headroom == pytest.approx(got.headroom)
    power = limits(got)["available_power"]
    assert (power.figure, power.value) == (1, got.pack_resistance_ohm)


def test_a_coil_below_the_pack_is_named_no_milder_than_it_is(ask):
    """By hand: 0.0843 Ω on a display of 0.0001 Ω can be 0.08425 Ω, printed as 0.0842 Ω."""
    body = {"layout": "1S1P", "cell_rating_a": 20, "cell_resistance_ohm": 0.08}
    meter = {"meter_accuracy": 0, "meter_counts": 0, "meter_resolution_ohm": 0.0001}
    got = ask("direct-load", **body, **meter, coil_reading_ohm=0.0843)
    assert got.lowest_true_resistance_ohm == pytest.approx(0.08425)
    (said,) = [f.sentence for f in got.findings if f.rule == "near-short-circuit"]
    assert "It can be as low as 0.0842 Ω" in said
