"""What stands above a table to show only some of its columns, and marks for cells of another rating."""

import json
import re
from html import escape
from typing import Any

from percell_site.figures import CLASSES, MARKS


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


def choices(table: dict[str, Any], wirings: dict[str, str]) -> list[dict[str, Any]]:
    """Return the fields of the picker: one for each field of the columns that has several values.

    ``wirings`` are the everyday words of layouts.
    """
    return [
        {
            "field": axis["field"],
            "level": level,
            "heading": axis["heading"],
            "options": _options(axis, labels, wirings),
        }
        for level, axis in enumerate(table["columns_by"])
        if len(labels := _labels(table, level)) > 1
    ]


def _labels(table: dict[str, Any], level: int) -> dict[str, str]:
    """Return the text of each value of a column field, in their order."""
    return {text(c["values"][level]): c["labels"][level] for c in table["columns"]}


def _options(
    axis: dict[str, Any], labels: dict[str, str], wirings: dict[str, str]
) -> list[dict[str, str]]:
    """Return what can be chosen: each value, and for layouts also all layouts of as many cells."""
    if axis["field"] != "layout":
        return [{"value": v, "label": label, "among": v} for v, label in labels.items()]
    single = [
        {"value": v, "label": f"{v} ({wirings[v].lower()})" if v in wirings else v, "among": v}
        for v in labels
    ]
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


def ratings(table: dict[str, Any], legend: str) -> list[dict[str, Any]]:
    """Return how the table is marked for each rating that a reader can choose.

    Args:
        table: The table.
        legend: What its own marks say, as HTML.
    """
    by_rating = table["marks_by_rating"]
    if not by_rating:
        return []
    found = []
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
                "legend": f"{said}." if by_rating["replaces"] else f"{legend} And: {said}.",
                "conditions": one["conditions"],
            }
        )
    return found


def _said(verdict: str, words: str) -> str:
    sign = MARKS[verdict][0]
    return (
        f'<span class="{CLASSES[verdict]}">{sign} {words}</span>' if sign else f"No mark: {words}"
    )
