"""Charts: every line that has figures is drawn and named, and a table without figures has no chart."""

import re
from xml.etree import ElementTree

import pytest

from percell_site.charts import Curve, chart, curves

SVG = "{http://www.w3.org/2000/svg}"
WANTED = {
    "print": "running_time_s",
    "columns": [["1S1P"], ["2S1P"], ["3S1P"]],
    "logarithmic": True,
    "says": "Time < power & cells.",
}


def table(*rows):
    """A table of times in minutes by power, one column per layout."""
    return {
        "rows_by": {"heading": "Power", "unit": "W"},
        "columns": [
            {"values": [layout], "labels": [layout]} for layout in ("1S1P", "2S1P", "3S1P")
        ],
        "prints": [
            {
                "field": "running_time_s",
                "heading": "Running time",
                "unit": "min",
                "decimals": 0,
                "per": 60,
                "mark": None,
            }
        ],
        "rows": [
            {"value": value, "cells": [{"values": [figure]} for figure in figures]}
            for value, *figures in rows
        ],
    }


def drawn(text):
    """The drawing in a figure of HTML."""
    return ElementTree.fromstring(text)[0]  # noqa: S314 - made by the function under test


@pytest.mark.parametrize("nothing", [None, 0, 4])
def test_a_table_without_figures_has_no_chart(nothing):
    """No time at all, and times of a few minutes that would look like stairs, are not drawn."""
    assert (
        chart(table((5, nothing, nothing, nothing), (10, None, None, None)), WANTED, name="t") == ""
    )


def test_a_line_without_figures_does_not_move_the_others():
    """Of three layouts the first has no time: the other two are drawn and keep their own names."""
    rows = (5, None, 120, 180), (10, None, 60, 90), (20, None, 30, 200)
    picture = drawn(chart(table(*rows), WANTED, name="t"))
    labels = [text for text in picture.iter(f"{SVG}text") if text.get("class") == "label"]
    assert [label.text for label in labels] == ["2S1P", "3S1P"]
    # the second layout's time falls, so its name goes above the line; the third's rises
    assert [label.get("dy") for label in labels] == ["-1.8em", None]


def test_a_chart_can_end_before_its_table():
    """Rows above the last one wanted are left out, so that those in use are not squashed into a corner."""
    rows = (5, 50, 120, 180), (10, 20, 60, 90), (200, 900, 900, 900)
    picture = drawn(chart(table(*rows), WANTED | {"logarithmic": False, "up_to": 10}, name="t"))
    dots = list(picture.iter(f"{SVG}circle"))
    assert len(dots) == 3 * 2
    texts = {text.text for text in picture.iter(f"{SVG}text")}
    assert "200" not in texts
    assert "900" not in texts


def test_a_description_is_text():
    """Signs of markup in what a chart says reach the reader as they are."""
    text = chart(table((5, 50, 120, 180), (10, 20, 60, 90)), WANTED, name="t")
    scrolls, hint, caption = ElementTree.fromstring(text)  # noqa: S314 - made by the function under test
    (picture,) = scrolls
    assert caption.text == WANTED["says"]
    assert hint.text == "Swipe the chart sideways to see all of it."
    assert scrolls.get("aria-label") == f"Chart: {WANTED['says']}"
    assert picture.get("aria-label").startswith(WANTED["says"])


def test_nothing_is_drawn_for_scripts():
    """The hover texts and the script that pygal adds stay out of the page."""
    text = chart(table((5, 50, 120, 180), (10, 20, 60, 90)), WANTED, name="t")
    left = {element.tag.removeprefix(SVG) for element in drawn(text).iter()}
    assert left.isdisjoint({"title", "desc", "script"})
    assert "tooltip-overlay" not in text


@pytest.mark.parametrize(
    ("mark", "limits", "labels"),
    [
        ({}, [3600, 3600, None], ["limit 60 min"]),
        ({}, [3600, 3600, 1800], []),  # no one line is the limit of all
        ({}, [None, None, None], []),
        ({"bound": "at_least"}, [3600, 3600, 3600], []),
        ({"figure": "cell_current_a"}, [20, 20, 20], []),
        ({"assumed": True}, [3600, 3600, 3600], []),
    ],
)
def test_the_limit_that_marks_the_figures_is_drawn(mark, limits, labels):
    """A reader sees where the figures pass their limit, if they all have the same one and it is theirs."""
    whole = table((5, 50, 120, 180), (10, 20, 60, 90))
    whole["prints"][0]["mark"] = {
        "figure": "",
        "bound": "at_most",
        "assumed": False,
    } | mark
    for row in whole["rows"]:
        for cell, limit in zip(row["cells"], limits, strict=True):
            cell["limits"] = [limit]
    picture = drawn(chart(whole, WANTED | {"logarithmic": False}, name="t"))
    names = [text.text for text in picture.iter(f"{SVG}text") if text.get("class") == "label"]
    assert names == ["1S1P", "2S1P", "3S1P", *labels]


def test_an_assumed_limit_is_drawn_where_a_table_asks_for_it():
    """The temperature at which to stop is not the cell's own limit, and a reader must see it all the same."""
    whole = table((5, 50, 120, 180), (10, 20, 60, 90))
    whole["prints"][0]["mark"] = {"figure": "", "bound": "at_most", "assumed": True}
    for row in whole["rows"]:
        for cell in row["cells"]:
            cell["limits"] = [3600]
    picture = drawn(chart(whole, WANTED | {"logarithmic": False, "limit": True}, name="t"))
    names = [text.text for text in picture.iter(f"{SVG}text") if text.get("class") == "label"]
    assert "limit 60 min" in names


def test_curves_of_one_name_are_one_line_with_a_gap_and_one_label():
    """Two tests at 10 A look alike and are named once; the limit is level and has its name."""
    tens = [Curve("10 A", [(0.0, 4.0 - n), (1.0, 3.5 - n), (2.0, 2.6)]) for n in (0, 0.1)]
    text = curves(
        [*tens, Curve("20 <A>", [(0.0, 3.8), (1.0, 3.3), (1.9, 2.6)])],
        limit=Curve("limit 2.5 V", [(0.0, 2.5), (2.0, 2.5)]),
        name="t", x="Charge, Ah", y="Voltage, V", says="Falls & falls.",
    )  # fmt: skip
    picture = drawn(text)
    labels = [label.text for label in picture.iterfind(f".//{SVG}text[@class='label']")]
    assert labels == ["10 A", "20 <A>", "limit 2.5 V"]
    lines = [
        path.get("d")
        for path in picture.iter(f"{SVG}path")
        if "line" in path.get("class", "") and "nofill" in path.get("class", "")
    ]
    assert len(lines) == 4
    axes = {text.text for text in picture.iter(f"{SVG}text")}
    assert {"Charge, Ah", "Voltage, V"} <= axes
    assert "Falls &amp; falls." in text
    assert "The table has the figures of each curve." in text


def right_edge(picture):
    """Where a drawing ends, from the start of its axis across."""
    (plot,) = picture.iterfind(f".//{SVG}g[@class='plot']")
    left = float(plot.get("transform").removeprefix("translate(").partition(",")[0])
    return float(picture.find(f"{SVG}svg").get("viewBox").split()[2]) - left


@pytest.mark.parametrize("name", ["2S1P", "30 mΩ, at 10 °C", "a name of thirty letters in all"])
def test_no_name_is_cut_off(name):
    """The names stand beside the last points, and a letter of 14 units is about 7 wide (from memory, unconfirmed)."""
    whole = table((5, 50, 120, 180), (10, 20, 60, 900))
    whole["columns"][1]["labels"] = [name]
    picture = drawn(chart(whole, WANTED, name="t"))
    labels = [text for text in picture.iter(f"{SVG}text") if text.get("class") == "label"]
    assert name in [label.text for label in labels]
    for label in labels:
        assert float(label.get("x")) + 7 * len(label.text) <= right_edge(picture)


def test_a_line_of_what_is_known_too_has_the_short_name():
    """“or unknown” helps to choose a column of the table; in a chart it would only make the name long."""
    whole = table((5, 50, 120, 180), (10, 20, 60, 90))
    whole["columns"][1]["labels"] = ["40 mΩ, or unknown with 3 Ah or more"]
    names = [text.text for text in drawn(chart(whole, WANTED, name="t")).iter(f"{SVG}text")]
    assert "40 mΩ" in names
    assert not [name for name in names if name and "unknown" in name]


def test_a_limit_has_a_colour_of_its_own_and_its_name_clear_of_its_line():
    """The fifth line would have the colour of the first; a name of a level line must not lie on it."""
    lines = [Curve(f"{n} A", [(0.0, 4.0 - n / 10), (2.0, 2.6)]) for n in range(4)]
    limit = Curve("limit 2.5 V", [(0.0, 2.5), (2.0, 2.5)])
    text = curves(lines, limit=limit, name="t", x="Charge, Ah", y="Voltage, V", says="Falls.")
    style = "".join(drawn(text).itertext())
    by_line = dict(re.findall(r"\.color-(\d+),[^{}]*\{stroke:(var\([^)]*\))", style))
    assert by_line["4"] not in [by_line[str(n)] for n in range(4)]
    name = next(one for one in drawn(text).iter(f"{SVG}text") if one.text == "limit 2.5 V")
    assert name.get("dy") == "-2.1em"
