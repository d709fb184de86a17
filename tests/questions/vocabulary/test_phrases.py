"""Fields with their values in words."""

import msgspec
import pytest
from msgspec import inspect

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.chemistry import Chemistry
from percell.questions.vocabulary.layout import LayoutParts
from percell.questions.vocabulary.phrases import (
    _CHOICES,
    _PHRASES,
    _SAID,
    _UNITS,
    all_in_words,
    in_words,
    unit_of,
)
from percell.questions.vocabulary.sharing import ResistanceSpread, Sharing


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("layout", "2s1p", "2S1P"),
        ("layout", LayoutParts(series=2, parallel=3), "2S3P"),
        ("cell_rating_a", 20.0, "cells rated 20 A"),
        ("cell_rating_a", 19.99999, "cells rated 19.99999 A"),
        ("cell_capacity_ah", 2.5, "cells of 2.5 Ah"),
        ("cell_charged_voltage_v", 4.2, "cells charged to 4.2 V"),
        ("cell_cutoff_voltage_v", 2.8, "a cut-off at 2.8 V per cell"),
        ("cell_cutoff_voltage_v.current", 2.8, "a cut-off at 2.8 V per cell for the currents"),
        ("ambient_temperature_c", -5, "air at -5 °C"),
        ("chemistry", Chemistry.NMC, "nickel manganese cobalt oxide cells"),
        ("chemistry", "lfp", "iron phosphate cells"),
        ("efficiency", 0.85, "an efficiency of 85 %"),
        ("cutoff_basis", "at_rest", "a cut-off at rest"),
        ("sharing", Sharing.CAREFUL, "an uneven share between cells in parallel"),
        ("sharing", "even", "an even share between cells in parallel"),
        ("sharing", Sharing.ALLOWANCE, "P cells in parallel counted as P − ½"),
        (
            "sharing",
            ResistanceSpread(spread=0.2),
            "shares computed for a resistance spread of 20 % and 99 % of groups",
        ),
        ("idle_power_w", 1.5, "1.5 W used by the converter itself"),
        ("draws", 12.0, "12 draws"),
        ("draws", 1.0, "a single draw"),
        ("meter_counts", 1.0, "a meter error of 1 count"),
        ("cell_current_a", 15.0, "a cell current of 15 A"),
        ("surroundings", "pocket", "a closed tube or a pocket around the cell"),
        ("state_of_charge", 1.0, "cells full at the start"),
        ("state_of_charge", 0.5, "a state of charge of 50 % at the start"),
        ("efficiency_tolerance", 0.05, "an efficiency up to 5 percentage points lower"),
        ("pause_s", 45.0, "pauses of 45 s"),
        ("pause_s", 900.0, "pauses of 15 min"),
        ("pause_s", 901.0, "pauses of 901 s"),
        ("needed_time_s", 7200.0, "a running time of 2 hours or more"),
        ("time_between_s", 31_557_600.0, "a first measurement 1 year earlier"),
        # of a figure, the label with its value
        ("running_time_s", 90.0, "running time 90 s"),
    ],
)
def test_in_words(name, value, said):
    """By hand: words of the trade, the value as given, and its unit."""
    assert in_words(name, value) == said


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("cell_capacity_ah", "Ah"),
        ("pack_energy_wh", "Wh"),
        ("coil_resistance_ohm", "Ω"),
        ("resistance_ohm_m", "Ω/m"),
        ("heat_transfer_w_m2k", "W/(m²·K)"),
        ("specific_heat_j_kgk", "J/(kg·K)"),
        ("cell_area_m2", "m²"),
        ("cell_cutoff_voltage_v.current", "V"),
        ("efficiency", ""),
        ("draws", ""),
    ],
)
def test_unit_of(name, unit):
    """The longest ending of a name decides."""
    assert unit_of(name) == unit


def declared(kind):
    """Yield the fields of a Struct, and the words of their choices."""
    for field in inspect.type_info(kind).fields:
        yield field.encode_name, field.type


def test_every_choice_belongs_to_a_field():
    """No phrase is left over from a field that is gone."""
    known = {n for q in QUESTIONS.values() for kind in (q.asked, q.answered) for n in names(kind)}
    assert {name.partition(".")[0] for name in _PHRASES} <= known
    assert {name for name, _ in _CHOICES | _SAID} <= known


# what each question says in words of its own
OWN = {"cells", "setups", "logs", "cycle_count", "lowest_resistance_ohm"} | {
    f"{load}_{what}"
    for load in ("first", "second")
    for what in ("voltage_v", "current_a", "time_s")
}


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_every_field_of_a_question_has_a_phrase(question_id):
    """No condition is a label with a number behind it, as no native speaker would write."""
    names = {*QUESTIONS[question_id].asked.__struct_fields__}
    assert names - OWN <= _PHRASES.keys()


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"cell_rating_a": 20.0}, ["cells rated 20 A"]),
        (
            {"layout": "2S1P", "output_power_w": 50.0, "cell_capacity_ah": 3.0},
            ["2S1P with cells of 3 Ah", "50 W at the output"],
        ),
        ({"layout": "2S1P", "output_power_w": 50.0}, ["2S1P", "50 W at the output"]),
        (
            {"chemistry": "lfp", "cell_charged_voltage_v": 3.6, "cell_rating_a": 10.0},
            ["iron phosphate cells rated 10 A and charged to 3.6 V"],
        ),
        (
            {"cell_rating_a": 30.0, "cell_size": "18650", "cell_capacity_ah": 2.5},
            ["18650 cells of 2.5 Ah rated 30 A"],
        ),
    ],
)
def test_what_is_known_of_the_cells_is_said_in_one_breath(fields, said):
    """By hand, as a native speaker says it, wherever its fields are."""
    assert all_in_words(fields) == said


def names(kind):
    """Return the names of the fields of a Struct, and of the parts in it."""
    found = set()
    for name, part in declared(kind):
        found.add(name)
        found |= inner(part)
    return found


def inner(part):
    """Return the names inside a type."""
    if isinstance(part, inspect.Metadata):
        return inner(part.type)
    if isinstance(part, inspect.UnionType):
        return set().union(*(inner(one) for one in part.types))
    if isinstance(part, inspect.ListType | inspect.VarTupleType):
        return inner(part.item_type)
    return names(part.cls) if isinstance(part, inspect.StructType) else set()


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_every_field_of_an_example_reads_as_words(question_id):
    """No name with underscores, nothing in capitals by chance, and no raw object."""
    question = QUESTIONS[question_id]
    asked = msgspec.convert(question.example, question.asked)
    for name in question.example:
        said = in_words(name, getattr(asked, name))
        assert "_" not in said
        assert "object" not in said
        assert said.strip() == said
        assert said


def test_longer_endings_come_first():
    """An ending that is part of another one stands behind it."""
    endings = list(_UNITS)
    for place, ending in enumerate(endings):
        assert not any(later.endswith(ending) for later in endings[place + 1 :]), ending
