"""The cold: what the figures count is said, and far below freezing nothing is surely kept."""

import msgspec
import pytest
from msgspec import UNSET

from percell.questions.answering.headline import sentence
from percell.questions.answering.tables import OwnTableAsked
from percell.questions.own_tables import own_table
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.limits import judged, not_judged
from percell.questions.vocabulary.rules import LimitName
from percell.questions.vocabulary.verdict import Verdict

COIL = {"layout": "1S1P", "cell_rating_a": 30, "coil_resistance_ohm": 0.5}
WATTS = {"layout": "2S1P", "cell_rating_a": 30, "output_power_w": 5}
COLD = [
    ("direct-load", COIL, "cell_temperature_c"),
    ("lowest-resistance", {"layout": "1S1P", "cell_rating_a": 10}, "cell_temperature_c"),
    (
        "needed-rating-for-coil",
        {"layout": "1S1P", "coil_resistance_ohm": 0.5},
        "cell_temperature_c",
    ),
    ("converter-load", WATTS, "cell_temperature_c"),
    ("cell-sag", {"cell_current_a": 1, "open_circuit_voltage_v": 4}, "cell_temperature_c"),
    ("assessment", WATTS, "ambient_temperature_c"),
    ("running-time", WATTS | {"cell_capacity_ah": 3}, "cell_temperature_c"),
    ("layouts", {"output_power_w": 5, "cell_rating_a": 30, "most_cells": 2}, "cell_temperature_c"),
]


@pytest.mark.parametrize(("question_id", "body", "field"), COLD)
def test_below_minus_ten_nothing_is_within_a_limit(ask, question_id, body, field):
    """At −10 °C the limits are as in warmer air; below it all that was kept is not judged, with a reason."""
    at_ten = ask(question_id, **body, **{field: -10})
    assert Verdict.WITHIN in {one.verdict for one in at_ten.limits}
    colder = ask(question_id, **body, **{field: -10.1})
    for one, other in zip(at_ten.limits, colder.limits, strict=True):
        assert other.verdict == (
            one.verdict if one.verdict in (Verdict.OVER, Verdict.NOT_JUDGED) else Verdict.NOT_JUDGED
        )
        assert other.reason is not UNSET
    assert colder.verdict == "not_judged"
    assert "because no measured cell was compared below −10 °C" in colder.headline
    assert {f.rule: f.severity for f in colder.findings}["cold"] == "caution"


def test_layouts_in_the_cold_say_so_each(ask):
    """No layout of a list is milder than the list."""
    got = ask("layouts", output_power_w=5, cell_rating_a=30, most_cells=2, cell_temperature_c=-15)
    assert {one.verdict for one in got.layouts} == {"not_judged"}


def test_what_is_over_stays_over(ask):
    """By hand: 4.2 V over 0.1 Ω are 42 A of 30 A, however cold the cell is."""
    body = COIL | {"coil_resistance_ohm": 0.1}
    for at_c in (25, -20):
        limits = ask("direct-load", **body, cell_temperature_c=at_c).limits
        assert {one.name: one.verdict for one in limits}["continuous_rating"] == "over_limit"


def test_the_sag_of_a_coil_takes_the_cold(ask):
    """By hand: 4.2 V over 0.5 Ω, 2.3 × 40 mΩ and 5 mΩ at 0 °C; the worst case has no sag and stays."""
    warm, cold = (
        ask("direct-load", **COIL | {"cell_rating_a": 20}, cell_temperature_c=at_c)
        for at_c in (25, 0)
    )
    assert cold.sagging_pack_current_a == pytest.approx(4.2 / (0.5 + 2.3 * 0.04 + 0.005))
    assert cold.sagging_pack_current_a < warm.sagging_pack_current_a
    assert cold.worst_cell_current_a == warm.worst_cell_current_a


def test_one_reason_is_said_once():
    """The limits of one reason stand together in a headline."""
    kept = [
        judged(name, 1, 2, "A") for name in (LimitName.CONTINUOUS_RATING, LimitName.END_VOLTAGE)
    ]
    other = judged(LimitName.AVAILABLE_POWER, 1, 2, "W")
    said = sentence(
        condition="A pack",
        assumed=[],
        leads="it is cold",
        limits=[
            *(not_judged(one, "it is cold") for one in kept),
            not_judged(other, "nobody knows"),
        ],
        verdict=Verdict.NOT_JUDGED,
        worst=None,
    )
    assert said.endswith(
        "Not judged: continuous rating, end voltage, because it is cold; available power, because nobody knows."
    )


def test_no_mark_of_an_own_table_is_milder_in_the_cold():
    """A table over the temperature marks as single answers judge."""
    asked = {
        "question": "converter-load",
        "fixed": {"layout": "1S1P", "cell_rating_a": 20},
        "rows_by": {"field": "cell_temperature_c", "heading": "T", "values": [25, -10, -10.5, -20]},
        "columns_by": [{"field": "output_power_w", "heading": "P", "values": [5, 70]}],
        "prints": [
            {
                "field": "worst_cell_current_a",
                "heading": "I",
                "round": "up",
                "mark": {
                    "value": "cell_rating_a",
                    "says": {
                        "over_limit": "over",
                        "within_limit": "within",
                        "not_judged": "unknown",
                    },
                },
            }
        ],
    }
    table = own_table(msgspec.convert(asked, OwnTableAsked))
    marks = [[cell.verdicts[0] for cell in row.cells] for row in table.rows]
    assert marks == [
        ["within_limit", "over_limit"],
        ["within_limit", "over_limit"],
        ["not_judged", "over_limit"],
        ["not_judged", "over_limit"],
    ]


@pytest.mark.parametrize(
    ("at_c", "verdict", "rule"),
    [
        (20, "within_limit", None),
        (5, "within_limit", "charging-cool"),
        (1, "little_headroom", "charging-cool"),
        (-1, "over_limit", "charging-temperature"),
        (-30, "over_limit", "charging-temperature"),
    ],
)
def test_charging_keeps_its_own_rules(ask, at_c, verdict, rule):
    """Below 0 °C no cell is charged, and a cool one takes longer: its resistance is higher."""
    body = {"layout": "1S1P", "cell_capacity_ah": 3, "cell_charge_limit_a": 4}
    body |= {"open_circuit_voltage_v": 3.4}
    got = ask("charging", **body, cell_temperature_c=at_c)
    limits = {one.name: one.verdict for one in got.limits}
    assert limits["charge_temperature"] == verdict
    assert rule is None or rule in {f.rule for f in got.findings}
    warm = ask("charging", **body, cell_temperature_c=25)
    assert got.charging_time_s > warm.charging_time_s
    assert ask("charging", **body).charging_time_s == warm.charging_time_s
    if at_c < -10:
        assert set(limits.values()) == {"over_limit", "not_judged"}


def test_every_question_with_a_load_takes_the_temperature_or_the_air():
    """No question that holds a load against a limit forgets the cold."""
    loaded = {
        name
        for name, question in QUESTIONS.items()
        if {"coil_resistance_ohm", "output_power_w", "cell_current_a"}
        & {*question.asked.__struct_fields__}
        and question.limits
    }
    told = {
        name
        for name in loaded
        if {"cell_temperature_c", "ambient_temperature_c"}
        & {*QUESTIONS[name].asked.__struct_fields__}
    }
    # unequal cells are judged as they were measured, one by one
    assert loaded - told == {"unequal-cells"}
