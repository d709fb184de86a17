"""Fields with their values in words."""

import msgspec
import pytest
from msgspec import inspect

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.chemistry import Chemistry
from percell.questions.vocabulary.layout import LayoutParts
from percell.questions.vocabulary.phrases import _CHOICES, _PHRASES, _UNITS, in_words, unit_of
from percell.questions.vocabulary.sharing import ResistanceSpread, Sharing


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("layout", "2s1p", "2S1P"),
        ("layout", LayoutParts(series=2, parallel=3), "2S3P"),
        ("cell_rating_a", 20.0, "cells rated 20 A"),
        ("cell_rating_a", 19.99999, "cells rated 19.99999 A"),
        ("cell_capacity_ah", 2.5, "cells of 2.5 Ah"),
        ("cell_charged_voltage_v", 4.2, "charged to 4.2 V per cell"),
        ("cell_cutoff_voltage_v", 2.8, "cut-off at 2.8 V per cell"),
        ("cell_cutoff_voltage_v.current", 2.8, "cut-off at 2.8 V per cell for the currents"),
        ("ambient_temperature_c", -5, "air of -5 °C"),
        ("chemistry", Chemistry.NMC, "nickel manganese cobalt oxide cells"),
        ("chemistry", "lfp", "iron phosphate cells"),
        ("efficiency", 0.85, "efficiency 85 %"),
        ("cutoff_basis", "at_rest", "cut-off at rest"),
        ("sharing", Sharing.CAREFUL, "cells in parallel share unevenly"),
        ("sharing", "even", "counted with an even share"),
        ("sharing", Sharing.ALLOWANCE, "P cells in parallel counted as P − ½"),
        (
            "sharing",
            ResistanceSpread(spread=0.2),
            "shares computed for a resistance spread of 20 % and 99 % of groups",
        ),
        # without a phrase, the label with its value
        ("idle_power_w", 1.5, "power the converter uses itself 1.5 W"),
        ("draws", 12.0, "number of draws 12"),
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
    assert {name for name, _ in _CHOICES} <= known


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
        assert "(" not in said.replace("(AWG)", "").replace("/(", "")
        assert said.strip() == said
        assert said


def test_longer_endings_come_first():
    """An ending that is part of another one stands behind it."""
    endings = list(_UNITS)
    for place, ending in enumerate(endings):
        assert not any(later.endswith(ending) for later in endings[place + 1 :]), ending
