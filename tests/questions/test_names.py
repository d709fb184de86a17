"""Each name means one thing, with one pair of bounds and one default, over all questions.

This file gives the reason for every exception; an exception that no longer exists must go.
"""

from collections import defaultdict
from typing import Any, NamedTuple

import msgspec
import pytest
from msgspec import inspect
from unequal_packs import packed

from percell.physics.errors import REASONS
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.labels import _IN_OTHER_WORDS, label_of, unit_in

ENVELOPE = {"limits", "working", "assumptions", "findings", "cautions", "links"}


class Field(NamedTuple):
    """A field of a question or of an answer, as it is declared."""

    name: str
    where: str
    asked: bool
    meaning: str
    unit: str
    bounds: tuple[Any, ...] | None
    default: Any


def told(kind):
    """Return what is said about a type, its bounds, and the Structs inside it."""
    meaning, unit, bounds, inside = "", "", None, []
    if isinstance(kind, inspect.Metadata):
        meaning, unit, bounds, inside = told(kind.type)
        schema = kind.extra_json_schema or {}
        meaning = schema.get("description", meaning)
        unit = schema.get("x-unit", unit)
    elif isinstance(kind, inspect.UnionType):
        for part in kind.types:
            found = told(part)
            meaning, unit = meaning or found[0], unit or found[1]
            bounds, inside = bounds or found[2], inside + found[3]
    elif isinstance(kind, inspect.ListType | inspect.VarTupleType):
        inside = told(kind.item_type)[3]
    elif isinstance(kind, inspect.StructType):
        inside = [kind.cls]
    elif isinstance(kind, inspect.FloatType | inspect.IntType):
        bounds = (kind.ge, kind.le, kind.multiple_of)
    return meaning, unit, bounds, inside


def fields_of(kind, where, *, asked):
    """Yield the fields of a Struct and of those inside it."""
    for field in inspect.type_info(kind).fields:
        if field.name in ENVELOPE:
            continue
        meaning, unit, bounds, inside = told(field.type)
        default = None if field.required else field.default
        if default is msgspec.NODEFAULT:
            default = msgspec.UNSET
        yield Field(field.name, where, asked, meaning, unit, bounds, default)
        for one in inside:
            yield from fields_of(one, f"{where}.{field.name}", asked=asked)


FIELDS = [
    field
    for question in QUESTIONS.values()
    for kind, asked in ((question.asked, True), (question.answered, False))
    for field in fields_of(kind, question.id, asked=asked)
]


def differing(part, fields=FIELDS):
    """Return the names whose fields differ in a property, each with its values."""
    found = defaultdict(set)
    for field in fields:
        if (value := part(field)) is not None:
            found[field.name].add(value)
    return {name: values for name, values in found.items() if len(values) > 1}


# why a name has more than one pair of bounds
BOUNDS = {
    "series": "one cell alone does not drift away from another",
    "parallel": "one cell alone shares with nobody",
    "cell_resistance_ohm": "zero is a cell without sag; where the current between cells or a time is "
    "worked out by it, zero would give no number",
    "cell_temperature_c": "cells outside the measured range are not loaded, but may be charged or measured there",
    "end_charge_current_a": "a charge that ends at no current never ends; a string that is followed to "
    "its end may be",
    "open_circuit_voltage_v": "a measured curve begins above half a volt, and a cell below that belongs in no set",
    "state_of_charge": "an empty pack does not run",
}
# why a name has more than one default, or one here and none there
DEFAULTS = {
    "cell_resistance_ohm": "by capacity and rating where a cell of one's own has them; a spread about a mean needs "
    "a number, which is the same low one",
    "cell_temperature_c": "of cells that charge or were measured it is compared with limits, so it is not assumed",
    "draw_length_s": "a cell is heated draw after draw, but a running time without draws is one long draw",
    "pause_s": "as for the length of a draw",
    "end_charge_current_a": "a string may be followed to its end; a charge ends at a part of its current",
    "state_of_charge": "a pack runs from full; a charge begins at empty, the longest, unless a voltage is given",
    "contact_resistance_ohm": "none is counted on where it would lower the current between cells; of cells drawn "
    "at random the spread stands for cell and contacts",
}
# the one meaning of a name with several descriptions: of each, of all, as asked, as answered
ONE_THING = {
    "cell_capacity_ah": "capacity of a cell, as given or as a test delivered it",
    "cell_charge_limit_a": "highest charge current of a cell, as given or as assumed",
    "cell_current_a": "current of one cell",
    "cell_health": "capacity of a cell over what it was when new",
    "cell_loss_w": "heat made inside a cell",
    "cell_rating_a": "continuous rating of a cell, as given or as tested",
    "cell_resistance_highest_ohm": "highest resistance of a cell that readings allow or steps show",
    "cell_resistance_lowest_ohm": "lowest resistance of a cell that readings allow or steps show",
    "cell_resistance_ohm": "internal d.c. resistance of a cell",
    "cell_resistance_after_s": "time after a step at which a resistance was read, as given or as a log shows it",
    "cell_temperature_c": "temperature of a cell",
    "cells": "the list of cells, as asked or as answered",
    "coil_power_w": "power in the coil",
    "coil_resistance_ohm": "resistance of the coil, as read or as calculated from its wire",
    "contact_resistance_ohm": "resistance of a cell's contacts",
    "current_a": "current of a row, of a point or of a whole discharge",
    "delivered_charge_ah": "charge that a test delivered",
    "draws": "number of draws",
    "end_charge_current_a": "current at the end of a charge",
    "first_current_a": "current of the first load, as used or as the standard has it",
    "first_time_s": "time under the first load, as used or as the standard has it",
    "headroom": "unused part of the rating",
    "highest_at_charged_v": "highest cell when charged",
    "highest_at_cutoff_v": "highest cell at the cut-off",
    "highest_charge_current_a": "highest current into a cell, of one or of all",
    "input_power_w": "power that a converter draws",
    "label": "what somebody calls it",
    "layout": "the layout, as asked or as read",
    "logs": "the list of logs, as asked or as answered",
    "lowest_at_charged_v": "lowest cell when charged",
    "lowest_at_cutoff_v": "lowest cell at the cut-off",
    "lowest_reading_ohm": "reading of the meter to stay at or above",
    "lowest_true_resistance_ohm": "lowest true resistance that a reading may stand for",
    "measured_discharge": "a discharge of the cell, as given or as logs show it",
    "open_circuit_voltage_v": "voltage of a cell at rest",
    "pack_current_a": "current out of the pack",
    "pack_current_limit_a": "current at which the worst-case cell is at its rating",
    "pack_energy_wh": "energy of the pack at its nominal voltage",
    "pack_resistance_ohm": "internal resistance of a pack with its contacts",
    "parallel": "cells in parallel",
    "peak_temperature_c": "highest temperature of a cell",
    "percentile": "part of the groups drawn at random that carry no more, as given or rounded up to a grid",
    "reason": "why there is no answer, or no place",
    "resistance_ratio": "resistance of a cell over what it was when first measured",
    "running_time_s": "time under load until the cut-off",
    "second_current_a": "current of the second load, as used or as the standard has it",
    "second_time_s": "time under the second load, as used or as the standard has it",
    "series": "cells in series",
    "state_of_charge": "state of charge of a cell",
    "start_temperature_c": "temperature of a cell at the start of a log, or of several",
    "time_s": "time since the start of a log",
    "turns": "turns of one coil, as asked or as answered",
    "verdict": "the worst of some limits, of an answer or of one cell",
    "used_capacity": "charge delivered, as a part of the capacity printed on the cells",
    "voltage_difference_v": "difference between open-circuit voltages",
    "voltage_v": "voltage of a cell or of a group of cells side by side",
    "worst_cell_charge_current_a": "charge current of the worst-case cell",
    "wire_diameter_mm": "diameter of one strand, as asked or as answered",
    "worst_cell_current_a": "current of the worst-case cell",
    "worst_cell_share": "share of the worst-case cell",
    "setups": "the list of setups, as asked or as answered",
}
# why several names share one description
ALIKE = {
    "Charge that this cell loses through self-discharge in each cycle [Ah].": "of each cell, or of the weak one alone",
    "Weight of this measurement beside the others. 0 leaves it out.": "one weight a measurement",
    "Time under this load [s].": "each load of the standard",
}


def test_a_name_has_one_unit():
    """No field has one unit here and another there."""
    assert differing(lambda field: field.unit or None) == {}


def test_a_name_has_one_pair_of_bounds():
    """A number has the same bounds in every question, or there is a reason."""
    found = differing(lambda field: field.bounds, [f for f in FIELDS if f.asked])
    assert found.keys() == BOUNDS.keys(), found


def test_a_name_has_one_default():
    """A default is the same in every question, or there is a reason."""
    found = differing(lambda field: field.default, [f for f in FIELDS if f.asked])
    assert found.keys() == DEFAULTS.keys(), found


def test_what_counts_from_one_says_so_in_its_name():
    """A place in a list that counts from 1 ends in `_number`, unlike the places in pointers, which count from 0."""
    for field in FIELDS:
        counts = "counted from 1" in field.meaning
        assert counts == field.name.endswith(("_number", "_numbers")), field.name


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_an_assumption_has_the_name_of_a_field(question_id):
    """Its name leads to a field of the question, with at most one more word, which is no field."""
    question = QUESTIONS[question_id]
    paths = {
        f"{field.where}.{field.name}".removeprefix(f"{question_id}.")
        for field in FIELDS
        if field.asked and field.where.split(".")[0] == question_id
    }
    got = question.answer(msgspec.convert(question.example, question.asked, strict=False))
    for assumption in got.assumptions:
        name, _, more = assumption.name.rpartition(".")
        assert assumption.name in paths or (name in paths and f"{name}.{more}" not in paths)


def test_no_unit_is_spelled_out():
    """A resistance is in Ω everywhere: in fields, in working and in assumptions."""
    answers = [
        question.answer(msgspec.convert(question.example, question.asked, strict=False))
        for question in QUESTIONS.values()
    ]
    units = {field.unit for field in FIELDS}
    for got in answers:
        units |= {one.unit for one in (*got.working, *got.assumptions)}
        units |= {one.unit for one in getattr(got, "limits", [])}
    assert "Ω" in units
    assert not [unit for unit in units if "ohm" in unit.lower()]


@pytest.mark.parametrize(
    ("question_id", "asked"),
    [
        ("joining-pair", {"voltage_difference_v": 0.1}),
        ("charging", {"layout": "1S1P", "charge_current_a": 2}),
        (
            "joining",
            {
                "cells": [
                    {"open_circuit_voltage_v": v, "cell_resistance_ohm": 0.02} for v in (4, 4.1)
                ]
            },
        ),
        (
            "unequal-cells",
            {
                **packed(
                    [[{"open_circuit_voltage_v": v, "cell_resistance_ohm": 0.02} for v in (4, 4.1)]]
                )
            },
        ),
    ],
    ids=lambda given: given if isinstance(given, str) else "",
)
def test_a_charge_limit_has_one_default(question_id, asked):
    """Half the capacity in an hour in every question, listed, and over it in every one."""
    asked = dict(asked)
    if "cells" in asked:
        asked["cells"] = [cell | {"cell_capacity_ah": 3} for cell in asked["cells"]]
    else:
        asked["cell_capacity_ah"] = 3
    question = QUESTIONS[question_id]
    got = question.answer(msgspec.convert(asked, question.asked, strict=False))
    (limit,) = [one for one in got.limits if one.name == "charge_current"]
    (listed,) = [one for one in got.assumptions if one.name == "cell_charge_limit_a"]
    assert (limit.value, limit.verdict) == (1.5, "over_limit")
    assert (listed.value, listed.unit) == (1.5, "A")


# numbers of a question without an answer that no field has
ONLY_THERE = {
    "available_power_w": "the most that the pack can give",
    "cells_needed": "cells of all sets together",
    "current_limit_a": "the errors of both currents together",
    "current_step_a": "difference of the two currents",
    "highest_temperature_c": "end of a wire's known temperatures",
    "highest_voltage_v": "end of a curve",
    "legs_resistance_ohm": "resistance of the legs alone",
    "lowest_temperature_c": "end of a wire's known temperatures",
    "most_turns": "the most turns that are calculated",
    "pitch_mm": "distance from turn to turn",
    "resistance_ohm": "resistance of a cell with its contacts",
    "voltage_drop_v": "difference of the two voltages",
    "width_mm": "width of all strands side by side",
}


def test_a_missing_answer_names_its_numbers_as_fields():
    """The limiting numbers of a question without an answer have the names of the fields they are."""
    names = {name for reason in REASONS.values() for name in reason.numbers}
    assert names - {field.name for field in FIELDS} == ONLY_THERE.keys()


def test_a_name_means_one_thing():
    """If a name has several descriptions, their one meaning is written down."""
    found = differing(lambda field: field.meaning or None)
    assert found.keys() == ONE_THING.keys(), found


def test_a_thing_has_one_name():
    """No two names have the same description."""
    found = defaultdict(set)
    for field in FIELDS:
        if field.meaning:
            found[field.meaning].add(field.name)
    twice = {meaning: names for meaning, names in found.items() if len(names) > 1}
    assert twice.keys() == ALIKE.keys(), twice


def test_a_name_has_a_label():
    """Each label is short, starts with a capital letter, and differs from the name."""
    for name in {field.name for field in FIELDS}:
        label = label_of(name)
        assert 1 < len(label) <= 45, label
        assert label[0].isupper(), label
        assert "_" not in label


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_no_two_fields_of_a_question_have_one_label(question_id):
    """Beside each other, what is allowed and what is drawn, power and energy, are told apart."""
    question = QUESTIONS[question_id]
    for kind in (question.asked, question.answered):
        labels = [label_of(name) for name in kind.__struct_fields__]
        assert len(labels) == len(set(labels)), sorted(labels)


def test_no_label_is_left_over():
    """Every label that is given in other words belongs to a field."""
    assert _IN_OTHER_WORDS.keys() <= {field.name for field in FIELDS}


def test_a_number_with_a_unit_has_it_in_its_name():
    """And a ratio has none there."""
    for field in FIELDS:
        if field.unit and field.unit not in ("1", "1/h", "1/m", "1/year"):
            assert unit_in(field.name), field.name
        elif field.unit == "1":
            assert not unit_in(field.name), field.name
