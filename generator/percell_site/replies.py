"""A row of a table as text to paste: what it holds for, its figures, then what must go along with them."""

import re
from itertools import groupby
from typing import Any

from percell_site.figures import figure, mark_words, verdict_on, verdicts_of, with_unit
from percell_site.words import listed


def before(table: dict[str, Any], title: str) -> str:
    """Return the lines that come before the figures of any row: the table, and what it holds for."""
    return "\n".join(filter(None, [title, table["conditions"]]))


def figures(table: dict[str, Any], row: dict[str, Any]) -> str:
    """Return the figures of a row, each with its column and with what its mark says.

    If the columns are nested, each outer one has a line of its own.
    """
    name = f"{table['rows_by']['heading']} {row['label']}"
    entries = list(zip(table["columns"], row["cells"], strict=True))
    if len(table["columns_by"]) == 1:
        return f"{name}: {_listed(table, entries)}"
    lines = [f"{name}:"]
    for outer, group in groupby(entries, lambda entry: _place(table, entry[0], 0)):
        lines.append(f"{outer}: {_listed(table, list(group))}")
    return "\n".join(lines)


def after(table: dict[str, Any], caveat: str) -> str:
    """Return the lines that come after the figures of any row: what they do not say, and the caution."""
    mild: dict[str, list[str]] = {}
    for shown in table["prints"]:
        if shown["mark"]:
            mild.setdefault(mark_words(shown, verdicts_of(shown)[-1]), []).append(shown["heading"])
    many = len(table["prints"]) > 1
    unmarked = [
        f"{listed(headings) if many else 'Figures'} without a remark: {words}."
        for words, headings in mild.items()
    ]
    return "\n".join(filter(None, [*unmarked, caveat, table["caution"]]))


def _listed(table: dict[str, Any], entries: list[tuple[dict[str, Any], dict[str, Any]]]) -> str:
    return "; ".join(_entry(table, column, cell) for column, cell in entries)


def _entry(table: dict[str, Any], column: dict[str, Any], cell: dict[str, Any]) -> str:
    inner = len(table["columns_by"]) - 1
    place = _place(table, column, inner) if len(table["columns"]) > 1 else ""
    many = len(table["prints"]) > 1
    found = []
    for i, (value, shown) in enumerate(zip(cell["values"], table["prints"], strict=True)):
        text = "no figure" if value is None else with_unit(figure(value, shown), shown)
        verdict = verdict_on(cell, i)
        if verdict in ("over_limit", "little_headroom"):
            text += f" ({mark_words(shown, verdict)})"
        found.append(f"{shown['heading'].lower()} {text}" if many else text)
    return " ".join(filter(None, [place, ", ".join(found)]))


def _place(table: dict[str, Any], column: dict[str, Any], level: int) -> str:
    """Return a column's label, after the name of its axis if the label has no word of its own."""
    axis, label = table["columns_by"][level], column["labels"][level]
    speaks = axis["field"] == "layout" or re.search(r"[A-Za-z]{3}", label)
    return str(label) if speaks else f"{axis['heading'].lower()} {label}"
