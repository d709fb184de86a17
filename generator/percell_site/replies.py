"""A row or an entry of a table as text to paste: what it holds for, its figures, then the caution."""

import re
from itertools import groupby
from typing import Any

from percell_site.figures import figures_of, mark_words, verdict_on, verdicts_of
from percell_site.words import listed


def figures(table: dict[str, Any], row: dict[str, Any]) -> str:
    """Return the figures of a row, each with its column and with what its mark says.

    If the columns are nested, each outer one has a line of its own. Each line begins with what it holds
    for: a reader may paste a single one.
    """
    entries = list(zip(table["columns"], row["cells"], strict=True))
    name = f"{table['rows_by']['heading']} {row['label']}"
    if len(table["columns_by"]) == 1:
        lines = [_line(table, name, entries)]
    else:
        lines = [
            _line(table, f"{name}; {outer}", list(group))
            for outer, group in groupby(entries, lambda entry: place(table, entry[0], 0))
        ]
    return "\n".join([*lines, *_unmarked(table, row)])


def after(table: dict[str, Any], caveat: str) -> str:
    """Return the lines that come after the figures of any row: what they do not say, and the caution."""
    return "\n".join(filter(None, [caveat, table["caution"]]))


def brief(table: dict[str, Any], row: dict[str, Any], column: int, link: str) -> str:
    """Return one entry as a short text: what it holds for, its figures, the caution and a link."""
    return f"{sentence(table['reply'], table, row, column, briefly=True)} {table['brief_caution']} {link}"


def sentence(
    text: str, table: dict[str, Any], row: dict[str, Any], column: int, *, briefly: bool = False
) -> str:
    """Return a sentence of a table with the labels and the figures of an entry."""
    labels = table["columns"][column]["labels"]
    found = figures_of(table, row["cells"][column])
    values = [one.said + (one.brief_remark if briefly else one.remark) for one in found]
    many = len(values) > 2
    told = zip(found, values, strict=True)
    return text.format(
        row=row["label"],
        columns=" down to ".join(labels),
        column=labels,
        figure=[one.said for one in found],
        beyond=found[0].brief_beyond,
        value=values,
        values=", ".join(f"{one.heading.lower()} {value}" for one, value in told)
        if many
        else " and ".join(values),
    )


def _line(
    table: dict[str, Any], name: str, entries: list[tuple[dict[str, Any], dict[str, Any]]]
) -> str:
    """Return figures on one line that holds on its own."""
    # the figures of an entry that has several are named one by one
    alone = f"; {table['prints'][0]['heading'].lower()}" if len(table["prints"]) == 1 else ""
    said = "; ".join(_entry(table, column, cell) for column, cell in entries)
    return " ".join(filter(None, [table["conditions"], f"{name}{alone}: {said}."]))


def _unmarked(table: dict[str, Any], row: dict[str, Any]) -> list[str]:
    """Return what it says of a row's figures that they have no remark."""
    many = len(table["prints"]) > 1
    mild: dict[tuple[str, bool], list[str]] = {}
    for i, shown in enumerate(table["prints"]):
        if shown["mark"]:
            verdicts = [verdict_on(cell, i) for cell in row["cells"]]
            last = verdicts_of(shown)[-1]
            if last in verdicts:
                every = {last} == {*verdicts}
                mild.setdefault((mark_words(shown, last), every), []).append(shown["heading"])
    return [
        f"{_named(headings, many=many, every=every)}: {words}."
        for (words, every), headings in mild.items()
    ]


def _named(headings: list[str], *, many: bool, every: bool) -> str:
    if not many:
        return "Each figure" if every else "Figures without a remark"
    return f"{listed(headings)}, {'each figure' if every else 'without a remark'}"


def _entry(table: dict[str, Any], column: dict[str, Any], cell: dict[str, Any]) -> str:
    inner = len(table["columns_by"]) - 1
    at = place(table, column, inner) if len(table["columns"]) > 1 else ""
    many = len(table["prints"]) > 1
    found = ", ".join(
        (f"{one.heading.lower()} " if many else "") + one.said + one.remark
        for one in figures_of(table, cell)
    )
    return " ".join(filter(None, [at, found]))


def place(table: dict[str, Any], column: dict[str, Any], level: int) -> str:
    """Return a column's label, after the name of its axis if the label has no word of its own."""
    axis, label = table["columns_by"][level], column["labels"][level]
    speaks = axis["field"] == "layout" or re.search(r"[A-Za-z]{3}", label)
    return str(label) if speaks else f"{axis['heading'].lower()} {label}"
