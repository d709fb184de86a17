"""What a table's figures hold for goes along with them: nothing that changes one is left out."""

import msgspec
import pytest

from percell.questions.answering.conditions import VARIES, conditions, held_for
from percell.questions.answering.envelope import Assumption
from percell.questions.answering.tables import every_table
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.phrases import in_words
from percell.questions.worked_tables import printed_table, worked_out

every = pytest.mark.parametrize("table_id", every_table())


def assumed(name, value, unit=""):
    """Return a default in use."""
    return Assumption(name, value, unit, "a test")


def test_what_a_reader_must_compare_comes_first():
    """The cells with their rating, sharing and cut-off lead, however a table is written."""
    said = conditions(
        {"ambient_temperature_c": 25, "chemistry": "nmc", "cell_capacity_ah": 3},
        [
            assumed("cell_cutoff_voltage_v", 2.8, "V"),
            assumed("sharing", "even"),
            assumed("cell_rating_a", 20, "A"),
        ],
    )
    order = ["nickel manganese cobalt oxide", "3 Ah", "rated 20 A", "even share", "2.8 V", "25 °C"]
    places = [said.index(word) for word in order]
    assert places == sorted(places)


def test_what_changes_no_figure_or_is_nothing_is_not_said():
    """Zeros, what varies, what was looked up and units that nobody measures would only be in the way."""
    assert (
        conditions(
            {"turns": 5},
            [
                assumed("meter_counts", 0, "1"),
                assumed("alloy.density", 7000, "kg/m³"),
                assumed("specific_heat_j_kgk", 1040, "J/(kg·K)"),
                assumed("end_charge_current_a", VARIES),
            ],
            ["turns"],
        )
        == ""
    )
    held = held_for({}, [assumed("meter_counts", 0, "1"), assumed("specific_heat_j_kgk", 1040)])
    assert held == {"meter_counts": 0, "specific_heat_j_kgk": 1040}  # a file leaves out nothing


@every
def test_every_table_says_what_it_was_calculated_for(table_id):
    """Each value that is fixed, and each voltage, current and resistance, is in the sentence in words."""
    table = printed_table(table_id)
    said = dict(table.fixed) | {
        a.name: a.value
        for a in table.assumptions
        if a.unit in ("A", "V", "Ω", "Ah") and a.value and "." not in a.name
    }
    for name, value in said.items():
        if name not in table.immaterial and value != VARIES:
            # what is known of the cells is said in one breath
            words = in_words(name, value).removeprefix("cells ").removesuffix(" cells")
            assert words in table.conditions, name


# another value for each field that a table calls immaterial
OTHERS = {
    "charge_current_a": 1.0,
    "end_charge_current_a": 0.05,
    "turns": 7,
    "coils": 2,
    "percentile": 0.9,
    "cell_rating_a": 20,  # one that is higher still makes figures milder
}


@every
def test_what_is_called_immaterial_changes_no_figure(table_id):
    """Asked with another value of such a field, a table prints the same."""
    table = every_table()[table_id]
    values = [row.cells for row in printed_table(table_id).rows]
    for name in table.immaterial:
        usual = {a.name: a.value for a in printed_table(table_id).assumptions} | table.fixed
        other = OTHERS[name] if name in OTHERS else usual[name] * 0.9 or 0.1
        asked = msgspec.structs.replace(table, fixed=table.fixed | {name: other})
        assert [row.cells for row in worked_out(asked, QUESTIONS[table.question]).rows] == values
