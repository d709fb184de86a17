"""The printed row nearest to a question is linked where it is careful, and nowhere else."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import UNSET, structs

from percell.questions.answering.tables import every_table
from percell.questions.registry import QUESTIONS
from percell.questions.worked_tables import printed_table

CELL = {"layout": "2S1P", "cell_rating_a": 20}


COIL = CELL | {"coil_reading_ohm": 0.5}


WATTS = CELL | {"output_power_w": 80}


NEEDED = {"layout": "1S2P", "output_power_w": 80}


HOT = {"cell_current_a": 10, "cell_size": "18650", "draw_length_s": 5, "pause_s": 60} | {
    "ambient_temperature_c": 25,
    "surroundings": "pocket",
    "cell_capacity_ah": 2.5,
}


TIME = {"layout": "1S2P", "output_power_w": 40, "cell_capacity_ah": 3}


@pytest.mark.parametrize(
    ("question_id", "body", "row"),
    [
        ("lowest-resistance", CELL | {"cell_rating_a": 25}, "lowest-resistance/25-a/2s1p/"),
        ("lowest-resistance", CELL | {"cell_rating_a": 27.9}, "lowest-resistance/25-a/2s1p/"),
        ("lowest-resistance", CELL | {"cell_rating_a": 7.5}, "lowest-resistance/7.5-a/2s1p/"),
        ("lowest-resistance", CELL | {"cell_rating_a": 5}, "lowest-resistance/5-a/2s1p/"),
        ("lowest-resistance", CELL | {"cell_rating_a": 4.9}, None),
        ("lowest-resistance", CELL | {"cell_rating_a": 100}, "lowest-resistance/40-a/2s1p/"),
        ("highest-power", CELL | {"cell_rating_a": 27.9}, "highest-power/25-a/2s1p-2-8-v/"),
        ("highest-power", CELL | {"cell_rating_a": 4.9}, None),
        ("direct-load", COIL, "coil-current-and-power/0.5-ohm/2s1p/"),
        ("direct-load", COIL | {"coil_reading_ohm": 0.59}, "coil-current-and-power/0.5-ohm/2s1p/"),
        ("direct-load", COIL | {"coil_reading_ohm": 1}, "coil-current-and-power/1-ohm/2s1p/"),
        ("direct-load", COIL | {"coil_reading_ohm": 0.079}, None),
        ("direct-load", CELL | {"coil_resistance_ohm": 0.5}, None),
        ("converter-load", WATTS, "current-by-power/80-w/2s1p-2-8-v/"),
        ("converter-load", WATTS | {"output_power_w": 80.1}, "current-by-power/90-w/2s1p-2-8-v/"),
        ("converter-load", WATTS | {"output_power_w": 1}, "current-by-power/5-w/2s1p-2-8-v/"),
        ("converter-load", WATTS | {"output_power_w": 301}, None),
        ("needed-rating", NEEDED, "needed-rating/80-w/1s2p-2-8-v/"),
        ("needed-rating", NEEDED | {"output_power_w": 81}, "needed-rating/90-w/1s2p-2-8-v/"),
        # the answer is "do not", so a row that says how long it takes would be milder
        (
            "charging",
            {"layout": "2S1P", "cell_capacity_ah": 3, "charged_where": "in_device"},
            "charging-by-layout/2s1p/in-the-device/",
        ),
        (
            "charging",
            {"layout": "1S1P", "cell_capacity_ah": 3, "charged_where": "individually"}
            | {"charge_current_a": 1.5},
            "charging-time/3-ah/",
        ),
        (
            "charging",
            {"layout": "1S1P", "cell_capacity_ah": 3, "charged_where": "individually"}
            | {"charge_current_a": 1.5, "cell_temperature_c": -5},
            None,
        ),
        ("temperature-rise", HOT, "temperature-by-draw/10-a/"),
        ("temperature-rise", HOT | {"stop_temperature_c": 70}, "temperature-by-draw/10-a/"),
        ("temperature-rise", HOT | {"stop_temperature_c": 45}, None),
        # the resistance of this table is that of 2.5 Ah: less has more of it, and a rating can only lower it
        ("temperature-rise", HOT | {"cell_capacity_ah": 3.5}, "temperature-by-draw/10-a/"),
        ("temperature-rise", HOT | {"cell_rating_a": 30}, "temperature-by-draw/10-a/"),
        ("temperature-rise", HOT | {"cell_capacity_ah": 2.4}, None),
        ("temperature-rise", {k: v for k, v in HOT.items() if k != "cell_capacity_ah"}, None),
        ("temperature-rise", HOT | {"cell_health": 0.9}, None),
        ("temperature-rise", HOT | {"cell_resistance_ohm": 0.03}, None),
        # the marks of this table are for 3 Ah: half of that is a lower limit
        (
            "joining-pair",
            {"voltage_difference_v": 0.1, "cell_capacity_ah": 1.5, "cell_resistance_ohm": 0.02},
            None,
        ),
        (
            "joining-pair",
            {"voltage_difference_v": 0.1, "cell_capacity_ah": 4, "cell_resistance_ohm": 0.02},
            "joining-current/0.1-v/",
        ),
        ("pack", CELL | {"cell_capacity_ah": 3}, "pack-figures/2s1p/"),
        ("pack", {"layout": "5S1P", "cell_rating_a": 20, "cell_capacity_ah": 3}, None),
        ("assessment", COIL, "coil-current-and-power/0.5-ohm/2s1p/"),
        ("assessment", WATTS, "current-by-power/80-w/2s1p-2-8-v/"),
    ],
)
def test_row_on_the_careful_side(ask, question_id, body, row):
    """Between two rows the link is to the one toward caution; beyond the last such row there is none."""
    assert ask(question_id, **body).links.table_row == (f"/tables/{row}" if row else UNSET)


@pytest.mark.parametrize(
    ("question_id", "body", "same", "other"),
    [
        (
            "lowest-resistance",
            CELL,
            {"cell_charged_voltage_v": 4.2},
            {"cell_charged_voltage_v": 4.35},
        ),
        ("lowest-resistance", CELL, {"chemistry": "nmc"}, {"chemistry": "lco_high_voltage"}),
        ("lowest-resistance", CELL, {"sharing": "careful"}, {"sharing": "even"}),
        ("lowest-resistance", CELL, {"layout": "4S2P"}, {"layout": "4S3P"}),
        ("lowest-resistance", CELL, {"layout": "4s2p"}, {"layout": {"series": 1, "parallel": 5}}),
        ("direct-load", COIL, {"layout": {"series": 1, "parallel": 4}}, {"layout": "1S5P"}),
        (
            "lowest-resistance",
            CELL,
            {"meter_counts": 3},
            {"cell_charged_voltage_tolerance_v": 0.05},
        ),
        ("direct-load", COIL, {"cell_resistance_ohm": 0.05}, {"meter_accuracy": 0.02}),
        (
            "direct-load",
            COIL,
            {"device_resistance_ohm": 0.05},
            {"coil_resistance_tolerance_ohm": 0.05},
        ),
        ("direct-load", COIL, {"cell_rating_a": 25}, {"cell_rating_a": 15}),
        ("converter-load", WATTS, {"efficiency": 0.85}, {"efficiency": 0.8}),
        ("converter-load", WATTS, {"idle_power_w": 0}, {"idle_power_w": 1}),
        (
            "converter-load",
            WATTS | {"output_power_w": 10},
            {"cell_resistance_ohm": 0.05},
            {"cutoff_basis": "at_rest"},
        ),
        # the marks of a table hold at room temperature
        ("converter-load", WATTS, {"cell_temperature_c": 10}, {"cell_temperature_c": 9.9}),
        ("direct-load", COIL, {"cell_temperature_c": 10}, {"cell_temperature_c": -5}),
        ("converter-load", WATTS, {"cell_cutoff_voltage_v": 2.8}, {"cell_cutoff_voltage_v": 2.7}),
        ("converter-load", WATTS, {"cell_cutoff_voltage_v": 3.3}, {"output_power_tolerance_w": 2}),
        ("converter-load", WATTS, {"cell_cutoff_voltage_v": 3.4}, {"layout": "5S1P"}),
        ("highest-power", CELL, {"sharing": "careful"}, {"sharing": "even"}),
        ("highest-power", CELL, {"efficiency_tolerance": 0}, {"efficiency_tolerance": 0.05}),
        ("needed-rating", NEEDED, {"cell_cutoff_voltage_v": 3.1}, {"cell_cutoff_voltage_v": 2.7}),
        # any layout of two cells runs as long, and stops sooner at a higher cut-off
        ("running-time", TIME, {"layout": "2S1P"}, {"layout": "1S5P"}),
        (
            "running-time",
            TIME,
            {"cell_cutoff_voltage_v": 2.7},
            {"cell_cutoff_voltage_v": 3.5},
        ),
    ],
)
def test_row_only_where_it_is_careful(ask, question_id, body, same, other):
    """A row is linked if it holds for the question, and not if its figures would be too bold."""
    assert ask(question_id, **body | same).links.table_row is not UNSET
    assert ask(question_id, **body | other).links.table_row is UNSET


# by question: is a printed row, at the nearest column, at least as careful as the answer?
CAREFUL = {
    "lowest-resistance": ("lowest_resistance_ohm", max),
    "direct-load": ("worst_cell_current_a", max),
    "converter-load": ("worst_cell_current_a", max),
    "highest-power": ("highest_power_w", min),
    "needed-rating": ("needed_rating_a", max),
}


@pytest.mark.parametrize("question_id", CAREFUL)
@given(data=st.data())
def test_linked_row_is_careful_everywhere(ask, drawn, question_id, data):
    """The figure of a linked entry is never bolder than the answer, and is of the layout that was asked."""
    table = next(t for t in every_table().values() if t.question == question_id)
    (layouts,) = (axis.values for axis in table.columns_by if axis.field == "layout")
    layout = data.draw(st.sampled_from(layouts))
    body = data.draw(drawn(question_id, layout=layout))
    # most questions differ from the table in some way; go near it in all but one field
    kept = data.draw(st.sampled_from(sorted(body)))
    required = {f.name for f in structs.fields(QUESTIONS[question_id].asked) if f.required}
    near = {n: v for n, v in body.items() if n in required | {kept, table.rows_by.field}}
    near = {n: v for n, v in table.fixed.items() if n != kept} | near
    near[table.rows_by.field] = data.draw(
        st.floats(min(table.rows_by.values) / 2, max(table.rows_by.values) * 2)
    )
    try:
        got = ask(question_id, **near)
    except ValueError:  # no physical answer
        return
    if got.links.table_row is UNSET:
        return
    whole = printed_table(table.id)
    name, careful = CAREFUL[question_id]
    shown = [p.field for p in whole.prints].index(name)
    (figure,) = (
        cell.values[shown]
        for row in whole.rows
        for heading, cell in zip(whole.columns, row.cells, strict=True)
        if got.links.table_row == f"{whole.page}{row.anchor}/{heading.anchor}/"
    )
    assert layout.lower() in got.links.table_row
    exact = getattr(got, name)
    near_exact = exact * (1 - 1e-9) if careful is max else exact * (1 + 1e-9)
    assert careful(figure, near_exact) == figure


@pytest.mark.parametrize("table_id", [t for t in every_table() if every_table()[t].rows_by.careful])
def test_linked_entries_exist(ask, table_id):
    """The question of each entry links to its page, or to that of its row if entries have none."""
    table = every_table()[table_id]
    whole = printed_table(table_id)
    names = [axis.field for axis in table.columns_by]
    for row in whole.rows:
        for heading in whole.columns[: None if table.entry_pages else 1]:
            columns = dict(zip(names, heading.values, strict=True))
            got = ask(table.question, **table.fixed | columns | {table.rows_by.field: row.value})
            page = f"{whole.page}{row.anchor}/"
            if table.entry_pages:
                page += f"{heading.anchor}/"
            assert got.links.table_row == page


@pytest.mark.parametrize(
    ("question_id", "body", "page"),
    [
        # the nearest lower cut-off gives the higher current
        ("converter-load", WATTS | {"cell_cutoff_voltage_v": 3.1}, "80-w/2s1p-3-v/"),
        ("converter-load", WATTS | {"cell_cutoff_voltage_v": 3.3}, "80-w/2s1p-3-2-v/"),
        ("converter-load", WATTS | {"layout": {"series": 1, "parallel": 4}}, "80-w/1s4p-2-8-v/"),
        # no column is careful for a share between two columns: the row has them all
        ("sharing-by-mismatch", {"mismatch": 0.1, "parallel": 7, "group_current_a": 30}, "0.1/"),
        (
            "sharing-by-mismatch",
            {"mismatch": 0.1, "parallel": 6, "group_current_a": 30},
            "0.1/6-cells/",
        ),
    ],
)
def test_the_column_is_the_one_that_was_asked_for(ask, question_id, body, page):
    """An entry is linked by its layout, at the nearest careful cut-off, or else its row is."""
    assert ask(question_id, **body).links.table_row.split("/", 3)[3] == page
