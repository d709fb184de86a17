"""Every rule applies from its threshold on, and not before."""

import inspect
import re
import sys
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from msgspec import UNSET
from unequal_packs import packed

from percell.questions import registry
from percell.questions.rulebook import RULES
from percell.questions.vocabulary.rules import (
    Finding,
    LimitName,
    Rule,
    Severity,
    finding,
    gravest_finding,
)

ANY = 1e-6  # a small step, larger than floating-point noise
CELL = {"layout": "1S1P", "cell_rating_a": 20}
COIL = CELL | {"coil_resistance_ohm": 1}
CONVERTER = CELL | {"output_power_w": 20, "cell_cutoff_voltage_v": 3.2, "efficiency": 1}
PACK = CELL | {"cell_capacity_ah": 3}
RESTING = CONVERTER | {"cutoff_basis": "at_rest"}
# questions of equal cells that share
SHARED = [
    ("direct-load", COIL),
    ("converter-load", CONVERTER),
    ("lowest-resistance", CELL),
    ("highest-power", CELL),
    ("needed-rating", {"output_power_w": 20}),
    ("needed-rating-for-coil", {"coil_resistance_ohm": 1}),
    ("pack", PACK),
    ("assessment", COIL),
    ("assessment", CONVERTER),
]
# a pack of 0.1 ohm
HARD = {"layout": "4S1P", "cell_resistance_ohm": 0.02, "contact_resistance_ohm": 0.005}


# above two fifths of the charge the resistance is that of a half-full cell
HALF_FULL = {"cell_cutoff_voltage_v": 3.8, "cell_capacity_ah": 100}


def cell(volt, ohm, **more):
    return {
        "open_circuit_voltage_v": volt,
        "cell_resistance_ohm": ohm,
        "contact_resistance_ohm": 0,
    } | more


def pair(volt=0, ohm=0.25, own_ohm=0.25):
    """Return a group of two cells, the first at a voltage higher by that much."""
    return [cell(4 if volt == 0 else volt, own_ohm), cell(4 if volt == 0 else 0, ohm)]


def string(volt):
    """Return two cells in series."""
    return [cell(4, 0.25), cell(volt, 0.5)]


def joined(*volts):
    """Return cells of 0.025 ohm each."""
    return [cell(volt, 0.025, cell_capacity_ah=3) for volt in volts]


class TableRow(NamedTuple):
    """A rule, a question, and a field with values without and with a finding."""

    rule: str
    question: str
    asked: dict[str, Any]
    field: str
    silent: list[Any]
    speaks: list[Any]

    def __str__(self) -> str:
        return f"{self.rule}: {self.question}, {self.field}"


ROWS = [
    TableRow(
        "assumption-decides",
        "converter-load",
        {"layout": "2S1P", "cell_rating_a": 20},
        "output_power_w",
        # by hand: 20 A at 2 × 2.5 V and 85 % are 85 W, at 2 × 2.8 V 95.2 W
        [80, 85, 95.2 * (1 + ANY)],
        [85 * (1 + ANY), 95.2],
    ),
    TableRow(
        "assumption-decides",
        "direct-load",
        {"layout": "1S1P", "cell_rating_a": 20},
        "coil_resistance_ohm",
        # by hand: 4.2 V and 4.35 V over 20 A
        [0.25, 0.2175, 0.21 * (1 - ANY)],
        [0.2175 * (1 - ANY), 0.21],
    ),
    *(
        TableRow(
            "uneven-share", question, asked, "layout", ["1S1P", "4S1P"], ["1S2P", "2S3P", "1S20P"]
        )
        for question, asked in SHARED
    ),
    *(
        TableRow(
            "sharing-chosen",
            question,
            asked | {"layout": "2S2P"},
            "sharing",
            ["careful"],
            ["even", "allowance", {"spread": 0.1}],
        )
        for question, asked in SHARED
    ),
    *(
        TableRow(
            "sharing-chosen", question, asked | {"sharing": "even"}, "layout", ["4S1P"], ["1S2P"]
        )
        for question, asked in SHARED
    ),
    # charged to 4.2 V a cell, 60 V are more than 14 cells and less than 15
    *(
        TableRow("touch-voltage", question, asked, "layout", ["14S1P", "1S20P"], ["15S1P", "20S2P"])
        for question, asked in [("direct-load", COIL), ("converter-load", CONVERTER)]
    ),
    TableRow(
        "touch-voltage",
        "direct-load",
        COIL | {"layout": "15S1P"},
        "cell_charged_voltage_v",
        [4.0 - ANY, 4.0],
        [4.0 + ANY, 4.2],
    ),
    *(
        TableRow(
            "charged-below-chemistry",
            question,
            asked,
            "cell_charged_voltage_v",
            [4.2, 4.3],
            [4.2 - ANY, 3.7],
        )
        for question, asked in [
            ("direct-load", COIL),
            ("lowest-resistance", CELL),
            ("assessment", COIL),
        ]
    ),
    *(
        TableRow(
            "charged-above-chemistry",
            question,
            asked,
            "cell_charged_voltage_tolerance_v",
            [0, 0.05],
            [0.05 + ANY, 0.2],
        )
        for question, asked in [
            ("direct-load", COIL),
            ("lowest-resistance", CELL),
            ("assessment", COIL),
        ]
    ),
    TableRow(
        "no-power-left",
        "highest-power",
        CELL | {"cell_rating_a": 10, "cell_cutoff_voltage_v": 3},
        "idle_power_w",
        [0, 30 * (1 - ANY)],
        [30, 50],
    ),
    TableRow(
        "near-short-circuit",
        "direct-load",
        COIL | HARD,
        "coil_resistance_ohm",
        [0.1 * (1 + ANY), 1],
        [0.1, 0.1 * (1 - ANY)],
    ),
    TableRow(
        "near-short-circuit",
        "direct-load",
        COIL | HARD | {"coil_resistance_ohm": 0.25},
        "coil_resistance_tolerance_ohm",
        [0, 0.15 - ANY],
        [0.15, 0.15 + ANY],
    ),
    # A half-full cell of 3.8 V loses next to nothing in a minute. At 0.1 ohm the most is 15.2²/0.4 = 577.6 W, of
    # which nine tenths are 519.84 W; the capacity is so high that the minute counts for nothing.
    *(
        TableRow(
            "near-collapse",
            question,
            {name: value for name, value in (RESTING | HARD | HALF_FULL).items() if name in takes},
            "output_power_w",
            [100, 519.84 * (1 - 0.01)],
            [519.84 * (1 + ANY), 577],
        )
        for question in ("converter-load", "needed-rating")
        for takes in [registry.QUESTIONS[question].asked.__struct_fields__]
    ),
    # a cut-off under load leaves the full pack: at 4.2 V a cell the most is 16.8²/0.4 = 705.6 W
    TableRow(
        "near-collapse",
        "converter-load",
        CONVERTER | HARD,
        "output_power_w",
        [368, 635.04 * (1 - ANY)],
        [635.04 * (1 + ANY), 2000],
    ),
    # 51.96 A are the current at which the power is nine tenths of the most, a little less after a minute
    TableRow(
        "near-collapse",
        "highest-power",
        HARD | HALF_FULL | {"cutoff_basis": "at_rest"},
        "cell_rating_a",
        [20, 51],
        [52, 200],
    ),
    # 20 A in 0.055 ohm take 1.1 V off 3.8 V: at 54 W a cell is at the 2.7 V that are its end
    TableRow(
        "cutoff-below-end",
        "converter-load",
        RESTING | {"chemistry": "nca", "cell_cutoff_voltage_v": 3.8, "cell_resistance_ohm": 0.05},
        "output_power_w",
        [10, 54 * (1 - ANY)],
        [54 * (1 + ANY), 65],
    ),
    TableRow(
        "transport-limit",
        "pack",
        PACK | {"layout": "2S2P", "cell_nominal_voltage_v": 4},
        "cell_capacity_ah",
        [5.9375 * (1 - ANY), 5],
        [5.9375, 5.9375 * (1 + ANY), 6.25, 10],
    ),
    TableRow(
        "resistance-assumed",
        "converter-load",
        CONVERTER | {"output_power_w": 10},
        "cutoff_basis",
        ["under_load"],
        ["at_rest"],
    ),
    TableRow(
        "converter-wiring",
        "converter-load",
        CONVERTER,
        "layout",
        ["1S1P"],
        ["2S1P", "1S2P", "2S2P"],
    ),
    TableRow(
        "converter-wiring", "needed-rating", {"output_power_w": 20}, "layout", ["1S1P"], ["2S1P"]
    ),
    TableRow("converter-wiring", "highest-power", CELL, "layout", ["1S1P"], ["2S1P"]),
    *(
        TableRow(
            "cutoff-below-end",
            question,
            asked | {"chemistry": "nca", "cell_nominal_voltage_v": 3.6}
            if question in ("pack", "assessment")
            else asked | {"chemistry": "nca"},
            "cell_cutoff_voltage_v",
            [2.7 + ANY, 2.7],
            [2.7 - ANY, 2.5],
        )
        for question, asked in [
            ("pack", PACK),
            ("converter-load", CONVERTER),
            ("highest-power", CELL),
            ("needed-rating", {"layout": "1S1P", "output_power_w": 20}),
            ("assessment", COIL),
            ("assessment", CONVERTER),
        ]
    ),
    TableRow(
        "cutoff-below-end",
        "converter-load",
        CONVERTER | {"chemistry": "nca", "cell_cutoff_voltage_v": 2.8},
        "cell_cutoff_voltage_tolerance_v",
        [0, 0.1 - ANY, 0.1],
        [0.1 + ANY, 0.2],
    ),
    *(
        TableRow(
            "charged-above-chemistry",
            question,
            asked,
            "cell_charged_voltage_v",
            [4.1, 4.2],
            [4.2 + ANY, 4.35],
        )
        for question, asked in [
            ("pack", PACK),
            ("direct-load", COIL),
            ("lowest-resistance", CELL),
            ("assessment", COIL),
            ("assessment", CONVERTER),
        ]
    ),
    TableRow(
        "charged-above-chemistry",
        "direct-load",
        COIL | {"cell_charged_voltage_v": 4.2},
        "chemistry",
        ["nmc", "nca", "lco", "lmo", "lco_high_voltage"],
        ["lfp"],
    ),
    TableRow(
        "share-above-careful",
        "sharing-by-spread",
        {"parallel": 3, "group_current_a": 30},
        "resistance_spread",
        [0, 0.05, 0.1],
        [0.11, 0.3],
    ),
    TableRow(
        "share-above-careful",
        "unequal-cells",
        {"layout": "1S2P", "coil_resistance_ohm": 1},
        "cells",
        [pair(ohm=0.5), pair(ohm=0.5 - ANY)],
        [pair(ohm=0.5 + ANY), pair(ohm=1)],
    ),
    TableRow(
        "charged-by-neighbours",
        "unequal-cells",
        {"layout": "1S2P", "cell_charge_limit_a": 20},
        "cells",
        # over two resistances of 0.25 ohm
        [pair(volt=0), pair(volt=0.0005 * (1 - ANY)), pair(volt=0.0005)],
        [pair(volt=0.0005 * (1 + ANY)), pair(volt=4)],
    ),
    TableRow(
        "charged-by-neighbours",
        "sharing-by-spread",
        {"parallel": 2, "group_current_a": 0.5, "cell_charge_limit_a": 200},
        "voltage_spread_v",
        [0],
        [0.05, 0.3],
    ),
    TableRow(
        "cell-reversed",
        "unequal-cells",
        {"layout": "2S1P", "coil_resistance_ohm": 0.25},
        "cells",
        # one ohm in all: the second cell's half ohm takes half of 4 V and of its own voltage
        [string(volt=5), string(volt=4 + ANY), string(volt=4)],
        [string(volt=4 - ANY), string(volt=0)],
    ),
    TableRow(
        "near-short-circuit",
        "unequal-cells",
        packed([pair()]),
        "coil_resistance_ohm",
        [1, 0.125 * (1 + ANY)],
        [0.125, 0.125 * (1 - ANY)],
    ),
    TableRow(
        "over-rating",
        "unequal-cells",
        {**packed([pair(ohm=0.025, own_ohm=0.025)]), "cell_rating_a": 20},
        "coil_resistance_ohm",
        # 4.2 V of full cells, over 0.0125 ohm of the pack
        [1, 0.0925 * (1 + ANY)],
        [0.0925 * (1 - ANY), 0.001],
    ),
    TableRow(
        "draws-more-when-full",
        "unequal-cells",
        {"layout": "1S1P", "coil_resistance_ohm": 1},
        "cells",
        [[cell(4.2, 0.02)], [cell(4.25, 0.02)]],
        [[cell(4.199, 0.02)], [cell(3, 0.02)]],
    ),
    TableRow(
        "unlike-ratings",
        "unequal-cells",
        {"layout": "1S2P", "coil_resistance_ohm": 1, "cell_rating_a": 20},
        "cells",
        [[cell(4, 0.02), cell(4, 0.02, cell_rating_a=20)]],
        [[cell(4, 0.02), cell(4, 0.02, cell_rating_a=rating_a)] for rating_a in (19.9, 100)],
    ),
    TableRow(
        "joining-rush",
        "joining-pair",
        {"voltage_difference_v": 0.1, "cell_resistance_ohm": 0.02},
        "cell_capacity_ah",
        # 0.1 V over twice 20 mΩ are 2.5 A, half of 5 Ah in an hour
        [10, 5 * (1 + ANY), 5],
        [5 * (1 - ANY), 1],
    ),
    TableRow(
        "joining-rush",
        "joining",
        {"cell_charge_limit_a": 4},
        "cells",
        [joined(4, 4), joined(4, 3.8 + ANY), joined(4, 3.8)],
        [joined(4, 3.8 - ANY), joined(4, 3)],
    ),
    TableRow(
        "cell-above-full",
        "joining",
        {},
        "cells",
        [joined(4.2, 4.2), joined(4.25, 4.25)],
        [joined(4.25 + ANY, 4.2), joined(4.2, 4.4)],
    ),
    TableRow(
        "cell-below-end",
        "joining",
        {},
        "cells",
        [joined(2.6, 2.6), joined(2.5, 2.6)],
        [joined(2.5 - ANY, 2.6), joined(2.6, 1)],
    ),
    # equal voltages do not show that cells are alike
    TableRow(
        "join-like-cells",
        "joining-pair",
        {"cell_capacity_ah": 3},
        "voltage_difference_v",
        [],
        [0.001, 0.1, 1],
    ),
    TableRow(
        "neighbours-charge-too-fast",
        "unequal-cells",
        # 0.2 V over 50 milliohm
        packed([[cell(4, 0.025), cell(3.8, 0.025)]]),
        "cell_charge_limit_a",
        [10, 4 * (1 + ANY)],
        [4 * (1 - ANY), 0.5],
    ),
    TableRow(
        "sag-not-counted",
        "weak-cell-drift",
        registry.QUESTIONS["weak-cell-drift"].example | {"cell_resistance_ohm": 0.03},
        "weak_cell_resistance_ohm",
        # by hand: a tenth above the mean of two cells, w = 1.1 · (0.03 + w) / 2
        [0.025, 0.03, 0.033 / 0.9],
        [0.033 / 0.9 * (1 + ANY), 0.3],
    ),
    TableRow(
        "sag-not-counted",
        "weak-cell-drift",
        registry.QUESTIONS["weak-cell-drift"].example | {"weak_cell_resistance_ohm": 0.1},
        "end_discharge_current_a",
        [0.5, 5],
        [0],
    ),
    TableRow(
        "voltage-off-curve",
        "joining",
        {},
        "cells",
        [joined(4.2, 3.9), joined(2.5, 3.9)],
        [joined(4.2 + ANY, 3.9), joined(2.5 - ANY, 3.9)],
    ),
    TableRow(
        "run-ends-under-load",
        "assessment",
        CONVERTER | {"cell_capacity_ah": 3, "output_power_w": 10},
        "cutoff_basis",
        ["under_load"],
        ["at_rest"],
    ),
    TableRow(
        "run-ends-under-load",
        "assessment",
        COIL | {"cell_capacity_ah": 3},
        "cutoff_basis",
        ["under_load", "at_rest"],
        [],
    ),
    TableRow(
        "no-curve",
        "joining",
        {"cells": joined(3.3, 3.2)},
        "chemistry",
        ["nmc", "nca", "lfp"],
        ["lco", "lmo", "lco_high_voltage"],
    ),
]


def findings(ask, row, value):
    return {f.rule: f for f in ask(row.question, **row.asked | {row.field: value}).findings}


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_rule_at_its_threshold(ask, row):
    """The rule applies on one side of its threshold only, and gives one finding."""
    for value in row.silent:
        assert row.rule not in findings(ask, row, value), value
    for value in row.speaks:
        found = findings(ask, row, value)
        assert row.rule in found, value
        assert found[row.rule].link == f"/rules/#{row.rule}"
        rules = [f.rule for f in ask(row.question, **row.asked | {row.field: value}).findings]
        assert len(rules) == len(set(rules)), "a rule is found once"


def elsewhere():
    """Return the text of the tests of questions with their own rules."""
    here = Path(__file__)
    questions = here.parents[1].rglob("test_*.py")
    return "".join(path.read_text("utf-8") for path in questions if path != here)


def modules():
    """Return the modules of all questions."""
    assert registry.QUESTIONS  # it imports every module of a question
    return [m for name, m in sys.modules.items() if name.startswith("percell.questions.")]


def written():
    """Return all rules of the subjects, by their names in the code."""
    return {
        name: value
        for module in modules()
        if module.__name__.endswith(".rules")
        for name, value in vars(module).items()
        if isinstance(value, Rule)
    }


def test_every_rule_is_tested():
    """Every rule has a row here, or is named in the tests of its question."""
    code = "".join(inspect.getsource(module) for module in modules())
    applied = {rule.id for name, rule in written().items() if re.search(rf"rules\.{name}\b", code)}
    assert {rule.id for rule in RULES} == applied
    text, rows = elsewhere(), {row.rule for row in ROWS}
    assert rows <= applied
    assert [rule for rule in sorted(applied - rows) if f'"{rule}"' not in text] == []


def test_every_rule_is_listed_once():
    """The list has each rule of each subject, none twice, and no two share an id."""
    ids = [rule.id for rule in RULES]
    assert len(set(ids)) == len(ids) == len(written())
    assert {id(rule) for rule in RULES} == {id(rule) for rule in written().values()}


def test_most_severe_first():
    """Rules are listed most severe first, each with advice and source."""
    order = [Severity.WARNING, Severity.CAUTION, Severity.NOTE]
    assert [rule.severity for rule in RULES] == sorted(
        (rule.severity for rule in RULES), key=order.index
    )
    assert all(rule.title and rule.explanation and rule.source for rule in RULES)


def test_each_warning_concerns_a_limit():
    """Only what exceeds a limit is a warning; a rule that concerns no limit is at most a caution."""
    assert [rule.id for rule in RULES if rule.severity is Severity.WARNING and not rule.limit] == []


def test_each_limit_can_be_warned_of():
    """No limit is over without a rule that says so."""
    warned = {rule.limit for rule in RULES if rule.severity is Severity.WARNING}
    assert warned == set(LimitName)


@pytest.mark.parametrize(
    "rule",
    [rule for rule in RULES if rule.id in ("transport-limit", "touch-voltage", "sharing-chosen")]
    + [rule for rule in RULES if rule.id == "charging-series-unbalanced"],
    ids=lambda rule: rule.id,
)
def test_what_concerns_no_limit_of_the_cell(rule):
    """Transport, touch voltage, chosen sharing and charging without balance are cautions."""
    assert rule.limit is None
    assert rule.severity is Severity.CAUTION


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_a_finding_takes_after_its_rule(rule):
    """A finding names rule, severity, source, page and limit of its rule, and no limit without one."""
    found = finding(rule, "As found.")
    assert (found.rule, found.severity, found.source) == (rule.id, rule.severity, rule.source)
    assert found.link == f"/rules/#{rule.id}"
    assert found.limit is (UNSET if rule.limit is None else rule.limit)


def named(*severities):
    """Return findings of these severities, named by their place."""
    return [
        Finding(str(place), severity, "As found.", "s", "/")
        for place, severity in enumerate(severities)
    ]


@pytest.mark.parametrize(
    ("severities", "place"),
    [
        ([], None),
        ([Severity.NOTE], 0),
        ([Severity.NOTE, Severity.CAUTION], 1),
        ([Severity.CAUTION, Severity.WARNING, Severity.NOTE, Severity.WARNING], 1),
        ([Severity.CAUTION, Severity.CAUTION], 0),
    ],
)
def test_the_first_of_the_most_severe(severities, place):
    """A warning before a caution before a note; of equals the first."""
    found = gravest_finding(named(*severities))
    assert (found and found.rule) == (None if place is None else str(place))


def test_limits_read_as_words():
    """The name of a limit in a sentence has no underscores."""
    assert LimitName.CONTINUOUS_RATING.words == "continuous rating"
    assert all("_" not in name.words for name in LimitName)
