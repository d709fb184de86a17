"""What stands above a table to show only some of its columns, and marks for cells of another rating."""

import json
import re
from collections.abc import Callable
from html import escape
from itertools import pairwise
from typing import Any

from percell_site.figures import CLASSES, MARKS, with_unit

# of figures with marks, about
_COLUMNS_OF_A_DESK = 16


def groups(table: dict[str, Any]) -> list[int]:
    """Return for each column which group of columns it belongs to: those that share their outer value."""
    tops = [column["labels"][0] for column in table["columns"]]
    found: list[int] = []
    for i, top in enumerate(tops):
        found.append(1 if i == 0 else found[-1] + (top != tops[i - 1]))
    return found


def target(label: str) -> str:
    """Return the name under which a group of columns can be linked to on its own."""
    return "-".join(["only", *re.findall(r"[^\W_]+", label.lower())])


def one_by_one(table: dict[str, Any]) -> bool:
    """Return whether a phone shows one group at a time.

    Figures of two layouts look alike, and the name of a group of columns is wider than one of them. Where each
    column has a name of its own, a reader can compare a few of them.
    """
    outer = table["columns_by"][0]["field"]
    nested = len(table["columns_by"]) > 1 or len(table["prints"]) > 1
    return nested or outer in ("layout", "series", "parallel")


def asks(table: dict[str, Any]) -> str:
    """Return what a phone asks before it shows a figure; nothing if it may show the first group of columns.

    It may where no figure of the other groups is more cautious. A layout it asks in any case: the reader has one.
    """
    if not one_by_one(table) or max(groups(table)) == 1:
        return ""
    outer = table["columns_by"][0]
    if outer["field"] == "layout" and not outer["labels"]:
        return "How are your cells wired?"
    return "" if _first_is_worst(table) else f"Choose yours: {outer['heading'].lower()}"


def _first_is_worst(table: dict[str, Any]) -> bool:
    """Return whether each figure of the first group is at least as cautious as its like in the others."""
    size = groups(table).count(1)
    for row in table["rows"]:
        for i, cell in enumerate(row["cells"]):
            first = row["cells"][i % size]["values"]
            for shown, worst, value in zip(table["prints"], first, cell["values"], strict=True):
                if not shown["words"] and not at_least_as_cautious(shown, worst, value):
                    return False
    return True


def at_least_as_cautious(shown: dict[str, Any], value: float | None, other: float | None) -> bool:
    """Return whether a figure lies on the side of another to which it is rounded, or is the same."""
    if value is None or other is None or shown["round"] == "nearest":
        return value == other
    return value >= other if shown["round"] == "up" else value <= other


def links(table: dict[str, Any], wirings: dict[str, str]) -> list[dict[str, str]]:
    """Return the links to single groups of columns, each with the value that it chooses."""
    outer = table["columns_by"][0]
    found = {column["labels"][0]: text(column["values"][0]) for column in table["columns"]}
    wired = outer["field"] == "layout" and not outer["labels"]
    return [
        {
            "id": target(label),
            "choice": value,
            "picture": _picture(value) if wired else "",
            "label": _with_wiring(value, wirings) if wired else label,
        }
        for label, value in found.items()
        if len(found) > 1
    ]


def _with_wiring(layout: str, wirings: dict[str, str]) -> str:
    return f"{layout} ({wirings[layout].lower()})" if layout in wirings else layout


def _picture(layout: str) -> str:
    """Return a layout as a drawing: cells side by side in series, and above each other in parallel."""
    series, parallel = map(int, re.findall(r"\d+", layout))
    width, height = 39 * series + 12, 19 * parallel - 1
    rows = [6 + 19 * row for row in range(parallel)]
    joints = [6 + 39 * group for group in range(series + 1)]
    wires = [f"M6 {y}H{width - 6}" for y in rows]
    wires += [f"M{x} {rows[0]}V{rows[-1]}" for x in joints if parallel > 1]
    wires += [f"M0 {height / 2:g}h6", f"M{width} {height / 2:g}h-6"]
    cells = [
        f"M{x + 6} {y - 6}h24v12h-24zM{x + 30} {y - 3}h3v6h-3z"
        for x, _ in pairwise(joints)
        for y in rows
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 -1 {width + 4} {height + 2}" width="{width + 4}" height="{height + 2}" aria-hidden="true">'
        f'<path d="{"".join(wires)}"/><path d="{"".join(cells)}"/></svg>'
    )


def choices(table: dict[str, Any], wirings: dict[str, str]) -> list[dict[str, Any]]:
    """Return the fields of the picker: one for each field of the columns that has several values.

    ``wirings`` are the everyday words of layouts.
    """
    return [
        {
            "field": axis["field"],
            "level": level,
            "heading": axis["heading"],
            "opens": _careful_end(axis) if level > 0 and _too_wide(table) else "",
            "options": _options(axis, labels, wirings),
        }
        for level, axis in enumerate(table["columns_by"])
        if len(labels := _labels(table, level)) > 1
    ]


def figures(table: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the choice between several figures of a table that is too wide for a desk.

    A figure without marks cannot be had alone where another has them: it would look as if it were within
    every limit. Where none has marks, the careful figure is printed last.
    """
    prints = table["prints"]
    if len(prints) < 2 or not _too_wide(table):
        return []
    marked = [i for i, shown in enumerate(prints) if shown["mark"]]
    options = [
        {
            "value": shown["field"],
            "label": with_unit(shown["heading"], shown, ", "),
            "among": str(i),
        }
        for i, shown in enumerate(prints)
        if i in marked or not marked
    ]
    opens = options[0 if marked else -1]["value"]
    return [
        {"field": "figure", "level": None, "heading": "Figure", "opens": opens, "options": options}
    ]


def _too_wide(table: dict[str, Any]) -> bool:
    """Return whether a desk has no room for all columns."""
    return len(table["columns"]) * len(table["prints"]) > _COLUMNS_OF_A_DESK


def _careful_end(axis: dict[str, Any]) -> str:
    """Return the most cautious value of an axis; nothing if it has no careful side."""
    if not axis["careful"]:
        return ""
    return text((min if axis["careful"] == "lower" else max)(axis["values"]))


def _labels(table: dict[str, Any], level: int) -> dict[str, str]:
    """Return the text of each value of a column field, in their order."""
    return {text(c["values"][level]): c["labels"][level] for c in table["columns"]}


def _options(
    axis: dict[str, Any], labels: dict[str, str], wirings: dict[str, str]
) -> list[dict[str, str]]:
    """Return what can be chosen: each value, and for layouts also all layouts of as many cells."""
    if axis["field"] != "layout":
        return [{"value": v, "label": label, "among": v} for v, label in labels.items()]
    single = [{"value": v, "label": _with_wiring(v, wirings), "among": v} for v in labels]
    by_count: dict[int, list[str]] = {}
    for layout in labels:
        series, parallel = map(int, re.findall(r"\d+", layout))
        by_count.setdefault(series * parallel, []).append(layout)
    counted = [
        {
            "value": f"{count}-cells",
            "label": f"{count} cells: {' or '.join(layouts)}",
            "among": " ".join(layouts),
        }
        for count, layouts in sorted(by_count.items())
        if len(layouts) > 1
    ]
    return single + counted


def text(value: float | str) -> str:
    """Return a value of a column as the page's script reads it."""
    return value if isinstance(value, str) else f"{value:g}"


def columns(table: dict[str, Any]) -> str:
    """Return the values of each column, for the page's script."""
    return escape(json.dumps([[*map(text, c["values"])] for c in table["columns"]]))


def ratings(table: dict[str, Any], legend: Callable[[dict[str, str]], str]) -> list[dict[str, Any]]:
    """Return how the table is marked for each rating that a reader can choose.

    Args:
        table: The table.
        legend: What its marks say, as HTML, with other words for some of its figures by their field.
    """
    by_rating = table["marks_by_rating"]
    if not by_rating:
        return []
    found = []
    others = table["beyond"] or len([one for one in table["prints"] if one["mark"]]) > 1
    for one in by_rating["ratings"]:
        rating = f"{one['cell_rating_a']:g}"
        said = ". ".join(_said(verdict, words) for verdict, words in one["says"].items())
        found.append(
            {
                "rating": rating,
                "within": one["within_limit_up_to"],
                "little": one["little_headroom_up_to"],
                "marks": {
                    v: [CLASSES[v], MARKS[v][0], w] for v, w in one["says"].items() if MARKS[v][0]
                },
                "legend": legend({by_rating["print"]: said}) + (_kept(table) if others else "")
                if by_rating["replaces"]
                else f"{legend({})} And: {said}.",
                "conditions": one["conditions"],
            }
        )
    return found


def _kept(table: dict[str, Any]) -> str:
    """Return for which cells the marks are that no choice of a rating changes."""
    rating = table["fixed"]["cell_rating_a"]
    return f" Your choice changes only the marks for the rating: the others stay as they are for {rating:g} A cells."


def _said(verdict: str, words: str) -> str:
    sign = MARKS[verdict][0]
    return (
        f'<span class="{CLASSES[verdict]}">{sign} {words}</span>' if sign else f"No mark: {words}"
    )
