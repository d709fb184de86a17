"""Lists of cells or setups as a spreadsheet or a note has them."""

from contextlib import suppress
from typing import Any
from urllib.parse import urlencode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.questions.registry import QUESTIONS
from percell.web.ask_pages.fields import form_of
from percell.web.ask_pages.pasted import Unreadable, entries_in
from percell.web.ask_pages.words import ASKING

LISTED = [name for name in ASKING if form_of(QUESTIONS[name]).lists]
CELL = {"cell_capacity_ah": "2.6", "cell_resistance_ohm": "0.018", "open_circuit_voltage_v": "4.18"}
NAMED = {"label": "A"} | CELL


def read(text: str, question: str = "matched-sets", room: int = 5) -> list[dict[str, str]]:
    (rows,) = form_of(QUESTIONS[question]).lists.values()
    entries = entries_in(text, rows, room)
    return [{name.partition(".")[2]: value for name, value in one.items()} for one in entries]


def refused(text: str, question: str = "matched-sets", room: int = 5) -> list[str]:
    with pytest.raises(Unreadable) as error:
        read(text, question, room)
    return [f"{fault.label}: {fault.detail}" for fault in error.value.faults]


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("2.6\t0.018\t4.18", CELL),
        ("2,6\t0,018\t4,18", CELL),
        ("2,6;0,018;4,18;;", CELL),
        ("2.6,0.018,4.18", CELL),
        ("2,6, 0,018, 4,18", CELL),
        ("2,6 0,018 4,18", CELL),
        ("2600 mAh 18 mΩ 4.18 V", CELL),
        ("2600 mAh; 18 mΩ; 4180 mV", CELL),
        ("A;2.6;0.018;4.18", NAMED),
        ("A, 2.6,0.018,4.18", NAMED),
        (
            "A\t2,600\t0,018\t4,180",
            NAMED | {"cell_capacity_ah": "2.600", "open_circuit_voltage_v": "4.180"},
        ),
        ("A, 2,600 mAh, 18 mΩ, 4,18 V", NAMED),
        ("A,2600 mAh,18 mΩ,4.18 V", NAMED),
        ("A 2600mAh 18mΩ 4.18V", NAMED),
        ('"A";"2,6";"0,018";"4,18"', NAMED),
        ("7;2.6;0.018;4.18", NAMED | {"label": "7"}),
        ("- A; 2.6; 0.018; 4.18", NAMED),
        ("• 2600 mAh, 18 mΩ, 4.18 V", CELL),
        ("1. A 2600mAh 18mΩ 4.18V", NAMED),
        ("label;mAh;mΩ;V\nA;2600;18;4,18", NAMED),
        ("\tV\tmAh\tmΩ\nA\t4,18\t2600\t18", NAMED),
        ("\ufeffCell,Capacity (mAh),IR [mΩ],OCV / V\r\nA,2600,18,4.18\r\n", NAMED),
        (
            "Open-circuit voltage;Capacity per cell;Internal resistance per cell\n4.18;2.6;18 mΩ",
            CELL,
        ),
        ("cell_capacity_ah,cell_resistance_ohm,open_circuit_voltage_v\n2.6,0.018,4.18", CELL),
        ("mAh,mΩ,V\n2600,18,4.18", CELL),
    ],
)
def test_a_line_is_a_cell(text: str, cell: dict[str, str]) -> None:
    """Separators, decimal marks, units and titles are those of people's own lists."""
    assert read(text) == [cell]


def test_lines_keep_their_order_and_empty_ones_do_not_count() -> None:
    """The second line is the second cell, with a blank line between them or without."""
    found = read("\nA;2.6;0.018;4.18\n\n  \nB;2.5;0.02;4.17\n")
    assert [one["label"] for one in found] == ["A", "B"]
    assert read(" \n\t\n") == []


@pytest.mark.parametrize(
    ("question", "text", "entry"),
    [
        (
            "joining",
            "blue;4.1;0.02;3",
            {
                "open_circuit_voltage_v": "4.1",
                "cell_resistance_ohm": "0.02",
                "cell_capacity_ah": "3",
            },
        ),
        (
            "joining",
            "V;mΩ;Ah;contact (mΩ)\n4.1;20;3;1",
            {
                "open_circuit_voltage_v": "4.1",
                "cell_resistance_ohm": "0.02",
                "cell_capacity_ah": "3",
                "contact_resistance_ohm": "0.001",
            },
        ),
        (
            "unequal-cells",
            "4;20 mΩ;30 A",
            {"open_circuit_voltage_v": "4", "cell_resistance_ohm": "0.02", "cell_rating_a": "30"},
        ),
        ("series-drift", "2.9\n", {"cell_capacity_ah": "2.9"}),
        ("series-drift", "2900 mAh; 2 %\n", None),
        (
            "running-time-comparison",
            "one;2s1p;2600 mAh;;40",
            {"label": "one", "layout": "2s1p", "cell_capacity_ah": "2.6", "output_power_w": "40"},
        ),
        (
            "running-time-comparison",
            "label;layout;mAh;W;chemistry\none;1S1P;2600;20;Iron phosphate",
            {
                "label": "one",
                "layout": "1S1P",
                "cell_capacity_ah": "2.6",
                "output_power_w": "20",
                "chemistry": "lfp",
            },
        ),
    ],
)
def test_each_question_with_a_list_reads_its_own_columns(
    question: str, text: str, entry: dict[str, str] | None
) -> None:
    """The columns are the fields of the form, in its order or as the first line names them."""
    if entry is None:
        assert refused(text, question)
    else:
        assert read(text, question) == [entry]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("A;2.6;0.018;4.18\nB;2.5;x;4.17", "Line 2: Internal resistance per cell: “x” is not"),
        (
            "mAh;mΩ;V\n\n2600;18;4.18\n2600;1,000;4.18",
            "Line 4: Internal resistance per cell: “1,000” could mean",
        ),
        (
            "A;18 mΩ;2.6;4.18",
            "Line 1: Capacity per cell: percell does not know the unit “mΩ” here.",
        ),
        ("A;1;2;3;4;5", "Line 1: There are 6 values for 4 columns: label, capacity per cell,"),
        ("2,6\n2,5", "Cells: A comma here could be a decimal comma"),
        ("2.6;0.018;4.18\nred 2.6;0.018;4.18", "Line 2: Capacity per cell: “red 2.6” is not"),
        ("a 3000 20", "Cells: The lines were divided at their spaces"),
        ("blue one 2.6 0.018 4.18", "Separate the values by tabs, semicolons or commas"),
        ("2,6,18,4", "Cells: A comma here could be a decimal comma"),
        ("mAh;mAh;V\n1;2;3", "Line 1: Two columns are “Capacity per cell”."),
        ("mAh;;V\n1;2;3", "Line 1: Column 2 has no name."),
        ("colour;mAh;x\n1;2;3", "Line 1: percell does not know the columns “colour”, “x”."),
        ("name;mAh", "Cells: There is no line below the names."),
        ("1;2;3\n" * 6, "Cells: The list has 6, and the form has room for 5 more."),
    ],
)
def test_a_line_that_cannot_be_read_is_named(text: str, says: str) -> None:
    """The fault has the number of the line as the reader's list has it, and what to write."""
    assert any(says in one for one in refused(text)), refused(text)


@pytest.mark.parametrize("title", ["pulse (A)", "max charge [A]", "peak", "AC resistance (mΩ)"])
def test_a_column_of_something_else_is_not_taken_for_a_field(title: str) -> None:
    """A pulse rating is no continuous rating, whatever its unit."""
    (fault,) = refused(f"V;mΩ;{title}\n4;20;30", "unequal-cells")
    assert title in fault


def test_a_title_that_could_be_two_columns_is_not_guessed() -> None:
    """Coils, cells and contacts all have a resistance."""
    (fault,) = refused("label;layout;mAh;resistance\na;1S1P;2600;1", "running-time-comparison")
    assert "“resistance” could be" in fault


@given(st.text(alphabet="A1259.,;\t \n%mΩVh\"'-(/)[é", max_size=60), st.sampled_from(LISTED))
def test_any_text_is_read_or_refused(text: str, question: str) -> None:
    """No list makes the page fail, and each number that is read is one."""
    (rows,) = form_of(QUESTIONS[question]).lists.values()
    kinds = {name: field.kind for name, field in form_of(QUESTIONS[question]).fields.items()}
    with suppress(Unreadable):
        for entry in entries_in(text, rows, 20):
            for name, value in entry.items():
                if kinds[name] == "number":
                    float(value)


def test_a_pasted_list_becomes_the_fields_of_the_query(client: Any) -> None:
    """The address to copy has each value in its field, after the cells that were typed, and is a query of the API."""
    typed = [("cells.open_circuit_voltage_v", "4.1"), ("cells.cell_resistance_ohm", "20 mΩ")]
    typed += [("cells.cell_capacity_ah", "3")]
    empty = [(name, "") for name, _ in typed]
    query = urlencode([("pasted-cells", "3,9;20 mΩ;3000 mAh\r\n3,8;0,02;3"), *typed, *empty])
    response = client.get(f"/ask/joining?{query}", follow_redirects=False)
    assert response.status_code == 303
    there = response.headers["location"]
    assert there == "/ask/joining?" + urlencode(
        {
            "cells.open_circuit_voltage_v": ["4.1", "3.9", "3.8"],
            "cells.cell_resistance_ohm": ["0.02", "0.02", "0.02"],
            "cells.cell_capacity_ah": ["3", "3", "3"],
        },
        doseq=True,
    )
    assert client.get(there, follow_redirects=False).status_code == 200
    assert client.get(there.replace("/ask/", "/v1/")).status_code == 200


def test_a_list_that_cannot_be_read_stays_with_all_that_was_typed(client: Any) -> None:
    """The fault stands at the list, which is open, and no other field is emptied."""
    pasted = "\tmAh\tmΩ\tV\r\nA\t2600\t18\t<b>\r\n"
    query = urlencode({"pasted-cells": pasted, "cells_in_set": "2", "cells.label": "mine"})
    response = client.get(f"/ask/matched-sets?{query}")
    assert response.status_code == 422
    text = response.text
    assert '<a href="#f-pasted-cells">Line 2</a>: Open-circuit voltage: “&lt;b&gt;” is not' in text
    assert "aria-invalid" in text.partition('id="f-pasted-cells"')[2].partition(">")[0]
    assert "\tmAh\tmΩ\tV" in text.partition('id="f-pasted-cells"')[2]
    assert '<details class="pc-fold" open>\n<summary>Paste a list' in text
    assert 'name="cells_in_set"' in text
    assert 'value="mine"' in text
    assert "<b>" not in text


def test_a_list_without_its_units_stays_to_be_completed() -> None:
    """Numbers of milliampere-hours are told once a column, with the line to write above them."""
    pasted = "A;2600;18;4.18\nB;2500;19;4.17"
    assert refused(pasted) == [
        "Line 1: Capacity per cell: 2600 Ah is too high. If you mean 2600 mAh, write the units, or name the "
        "columns in the first line: label; mAh; mΩ; V.",
        "Line 1: Internal resistance per cell: 18 Ω is too high. If you mean 18 mΩ, write the units, or name the "
        "columns in the first line: label; mAh; mΩ; V.",
    ]
    assert read(f"label; mAh; mΩ; V\n{pasted}")[1]["cell_resistance_ohm"] == "0.019"


def test_a_value_beyond_its_bounds_is_told_at_its_cell(client: Any) -> None:
    """What the API refuses of a pasted list stands at the field that the value went into."""
    query = urlencode({"pasted-cells": "A;2.6;0.018;5.5\nB;2.6;0.018;4.18", "cells_in_set": "2"})
    response = client.get(f"/ask/matched-sets?{query}")
    assert response.status_code == 422
    at = '<a href="#f-cells.open_circuit_voltage_v-0">Cell 1: open-circuit voltage</a>'
    assert at in response.text
    assert 'value="5.5"' in response.text


@pytest.mark.parametrize("name", LISTED)
def test_each_list_has_a_field_to_paste_it(client: Any, name: str) -> None:
    """It says in which order the values come, and an example of the names of columns."""
    (rows,) = form_of(QUESTIONS[name]).lists.values()
    text = client.get(f"/ask/{name}").text
    assert f'name="pasted-{rows.name}"' in text
    titles = rows.how_to_paste.partition("such as: ")[2].partition(".")[0]
    first = [one.name.partition(".")[2] for one in rows.first]
    values = {"label": "a", "layout": "1S1P"}
    line = ";".join(values.get(one, "1") for one in first)
    assert list(read(f"{titles}\n{line}", name)[0]) == first
