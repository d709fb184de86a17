"""Turn what the API answers into pages. Text in, text out: no site engine here."""

import itertools
import re
from collections import Counter
from functools import partial
from html import escape
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from percell_site import charts, picker, replies
from percell_site.figures import (
    CLASSES,
    MARKS,
    figures_of,
    mark_words,
    on_page,
    verdicts_of,
    with_unit,
)
from percell_site.words import listed

_JINJA = Environment(
    loader=PackageLoader("percell_site"),
    undefined=StrictUndefined,
    autoescape=False,  # noqa: S701 - the pages are Markdown, and the API's words are our own
    keep_trailing_newline=True,
)
# what the short side of a sheet has room for beside the names of rows, in 8 point, and what a column takes
# besides its letters
_LETTERS_ACROSS, _BETWEEN_COLUMNS = 105, 0.6
_ROUNDING = {"up": "up to the next", "down": "down to the next", "nearest": "to the nearest"}


def render(template: str, **values: Any) -> str:
    """Return a page from its template."""
    return _JINJA.get_template(template).render(**values)


def tables_page(tables: list[dict[str, Any]]) -> str:
    """Return the page that lists all tables by topic, each with what its rows and columns reach over.

    What the figures are, the title says.
    """
    topics: dict[str, list[dict[str, Any]]] = {}
    for table in map(on_page, tables):
        columns = table["columns_by"] if len(table["columns"]) > 1 else []
        reach = ", ".join(_span(axis) for axis in [table["rows_by"], *columns])
        topics.setdefault(table["group"], []).append(
            {"id": table["id"], "title": table["title"], "reach": _sentence_case(reach)}
        )
    return render("tables.md.jinja", topics=topics)


def topic_anchor(topic: str) -> str:
    """Return the name of a topic in a link to the list of tables."""
    return "-".join(re.findall(r"\w+", topic.lower()))


_JINJA.filters["anchor"] = topic_anchor


def _span(axis: dict[str, Any]) -> str:
    """Return what an axis reaches over: its lowest and highest value, or how many words it has."""
    values = axis["values"]
    # a list of titles has no room for whose it is
    heading = axis["heading"].lower().removesuffix(" of each cell").removesuffix(" of the cell")
    if isinstance(values[0], str):
        return f"{heading} ({len(values)})"
    low, high = (values.index(end(values)) for end in (min, max))
    if axis["labels"] and not axis["unit"]:
        first, last = (axis["labels"][at] for at in (low, high))
        # the unit once: "2 to 4 cells"
        number, _, unit = first.partition(" ")
        if unit and last.endswith(f" {unit}"):
            first = number
        return _kept_together(f"{heading} {first} to {last}")
    return with_unit(f"{heading} {values[low]:g} to {values[high]:g}", axis, "\N{NO-BREAK SPACE}")


def _sentence_case(text: str) -> str:
    return text[0].upper() + text[1:]


def _quantity(table: dict[str, Any]) -> str:
    """Return what the figures are, with their units. A table that a user asks for has no name for them."""
    return table.get("quantity") or listed(
        [with_unit(shown["heading"].lower(), shown, " in ") for shown in table["prints"]]
    )


def rules_page(rules: list[dict[str, str]]) -> str:
    """Return the page of all rules by topic, in the order of each topic's first rule."""
    topics: dict[str, list[dict[str, str]]] = {}
    for rule in rules:
        topics.setdefault(rule["group"], []).append(rule)
    return render(
        "rules.md.jinja",
        topics=[
            {"name": name, "anchor": f"topic-{name.lower().replace(' ', '-')}", "rules": about}
            for name, about in topics.items()
        ],
    )


def table_page(
    table: dict[str, Any],
    date: str,
    entries: list[dict[str, str]],
    wirings: dict[str, str],
    form: str = "",
) -> str:
    """Return the page of a printed table, from the grid that the API calculated.

    ``entries`` are all tables: the page leads to those of its topic. ``wirings`` are the everyday words of
    layouts. ``form`` is its short form.
    """
    table = on_page(table)
    return render(
        "table.md.jinja",
        table=table,
        date=date,
        topic=topic_anchor(table["group"]),
        sisters=[
            [entry["title"], f"tables/{entry['id']}/"]
            for entry in entries
            if entry["group"] == table["group"] and entry["id"] != table["id"]
        ],
        form=form,
        worked=worked(table),
        wide=is_wide(table),
        picker=picker_html(table, wirings),
        grid=grid_html(
            table, name=table["id"], title=table["title"], caveat=table["caveat"], linked=True
        ),
        chart=charts.chart(table, table["chart"], name=table["id"]),
        assumptions=assumptions(table),
        rounding=rounding(table),
    )


def is_wide(table: dict[str, Any]) -> bool:
    """Return whether a grid needs the long side of a sheet of paper, in letters that can be read there."""
    rows = [
        [
            td["text"] + td["mark"]
            for cell in row["cells"]
            for td in _cells(table, cell, first=False)
        ]
        for row in table["rows"]
    ]
    # a heading breaks between its words, a figure never
    heads = [re.split("[ -]", th["text"]) for line in _head(table)[-1:] for th in line]
    columns = zip(*rows, strict=True)
    letters = [
        max(len(part) for part in (*figures, *head))
        for figures, head in itertools.zip_longest(columns, heads, fillvalue=())
    ]
    return sum(letters) + _BETWEEN_COLUMNS * len(letters) > _LETTERS_ACROSS


def picker_html(table: dict[str, Any], wirings: dict[str, str]) -> str:
    """Return what stands above a table to show only some columns; nothing if there is nothing to choose."""
    choices = [*picker.choices(table, wirings), *picker.figures(table)]
    by_rating = table["marks_by_rating"]
    rows = table["rows"] if table["rows_by"]["field"] == "cell_rating_a" else []
    if not choices and not by_rating:
        return ""
    return render(
        "picker.html.jinja",
        table=table,
        choices=choices,
        columns=picker.columns(table),
        worked_column=worked_column(table),
        readings=[worked(table, column=i) for i in range(len(table["columns"]))],
        entries=" ".join(column["anchor"] for column in table["columns"]),
        outer=table["columns_by"][0]["field"] if picker.one_by_one(table) else "",
        ratings=picker.ratings(table, partial(_legend, table)),
        replaces=by_rating and by_rating["replaces"],
        marked=by_rating and [p["field"] for p in table["prints"]].index(by_rating["print"]),
        fixed_rating=by_rating and by_rating["replaces"] and f"{table['fixed']['cell_rating_a']:g}",
        rows=rows,
        asks=picker.asks(table),
        links=picker.links(table, wirings),
    )


def grid_html(
    table: dict[str, Any],
    *,
    name: str,
    title: str,
    caveat: str,
    prefix: str = "",
    booklet: bool = False,
    linked: bool = False,
) -> str:
    """Return a grid as HTML, each row with its name for links and its text for a reply.

    Args:
        table: The grid that the API calculated.
        name: The name of the table within its page.
        title: What the table is called where one of its rows is pasted.
        caveat: What must go along with a figure.
        prefix: Comes before each row's name if a page has several tables.
        booklet: Whether it is one of many that have no script, and a page before them that explains layouts.
        linked: Whether a link can show a group of columns on its own.
    """
    firsts, groups = _starts_of_groups(table), picker.groups(table)
    folder = f"../{name}/" if booklet else ""
    return render(
        "grid.html.jinja",
        table=table,
        id=name,
        caption=_caption(table),
        before=escape(title),
        after=escape(replies.after(table, caveat)),
        words=all(shown["words"] for shown in table["prints"]),
        head=_head(table, linked=linked),
        careful=table["rows_by"]["careful"] or "",
        group_size=max(Counter(groups).values()) * len(table["prints"])
        if picker.one_by_one(table) and len(table["columns"]) > 1
        else 0,
        rows=[
            {
                "anchor": prefix + row["anchor"],
                # a row of a grid that is not printed has no page: its link marks it where it is
                "page": f"{folder}{row['anchor']}/"
                if "page" in table
                else f"#{prefix}{row['anchor']}",
                "label": row["label"],
                "reply": escape(replies.figures(table, row)) if not booklet else "",
                "cells": [
                    td
                    for first, group, cell in zip(firsts, groups, row["cells"], strict=True)
                    for td in _cells(table, cell, first=first, group=group if linked else 0)
                ],
            }
            for row in table["rows"]
        ],
        legend=_legend(table),
        caveat=caveat,
        layouts=not booklet
        and "layout" in [axis["field"] for axis in [table["rows_by"], *table["columns_by"]]],
    )


def _starts_of_groups(table: dict[str, Any]) -> list[bool]:
    """Return for each column whether it starts a group: a vertical rule marks it."""
    tops = [column["labels"][0] for column in table["columns"]]
    grouped = len(table["prints"]) > 1 or len(table["columns_by"]) > 1
    return [grouped and (i == 0 or top != tops[i - 1]) for i, top in enumerate(tops)]


def _cells(
    table: dict[str, Any], cell: dict[str, Any], *, first: bool, group: int = 0
) -> list[dict[str, Any]]:
    cells = []
    for i, (value, shown, found) in enumerate(
        zip(cell["values"], table["prints"], figures_of(table, cell), strict=True)
    ):
        classes = [
            "pc-none" if value is None else found.look,
            "pc-first" if first and i == 0 else "",
            "pc-word" if shown["words"] else "",
        ]
        cells.append(
            {
                "text": found.text,
                "cls": " ".join(filter(None, classes)),
                "group": group,
                "mark": found.sign,
                "word": found.words,
                "beyond": found.beyond,
            }
        )
    return cells


def _head(table: dict[str, Any], *, linked: bool = False) -> list[list[dict[str, Any]]]:
    prints, axes = table["prints"], table["columns_by"]
    grouped = len(prints) > 1 or len(axes) > 1
    groups = picker.groups(table) if linked else [0] * len(table["columns"])
    lines: list[list[dict[str, Any]]] = []
    for level in range(len(axes)):
        line: list[dict[str, Any]] = []
        before: list[str] = []
        for column, group in zip(table["columns"], groups, strict=True):
            labels = column["labels"][: level + 1]
            if line and labels == before:
                line[-1]["span"] += len(prints)
            else:
                line.append(
                    {
                        "text": _kept_together(labels[-1]),
                        "span": len(prints),
                        "cls": "pc-first" if grouped and before[:1] != labels[:1] else "",
                        "group": group,
                        "id": picker.target(labels[0]) if linked and level == 0 else "",
                    }
                )
            before = labels
        lines.append(line)
    if len(table["columns"]) == 1:
        lines = []  # the text above has already named a single column
    if len(prints) > 1:
        lines.append(
            [
                {
                    "text": with_unit(shown["heading"], shown, ", "),
                    "span": 1,
                    "cls": " ".join(
                        filter(
                            None,
                            [
                                "pc-first" if i == 0 and len(table["columns"]) > 1 else "",
                                "pc-word" if shown["words"] else "",
                            ],
                        )
                    ),
                    "group": group,
                    "id": "",
                }
                for group in groups
                for i, shown in enumerate(prints)
            ]
        )
    return lines


def _kept_together(label: str) -> str:
    """Return a label that never breaks between a number and its unit."""
    return re.sub(r"(?<=\d) ", "\N{NO-BREAK SPACE}", label)


def _caption(table: dict[str, Any]) -> str:
    """Return what the figures are, their units, and what they vary with."""
    columns = table["columns_by"] if len(table["columns"]) > 1 else []
    axes = [table["rows_by"], *columns]
    text = f"{_quantity(table)}, by {listed([axis['heading'].lower() for axis in axes])}"
    return _sentence_case(text)


def worked_column(table: dict[str, Any]) -> int:
    """Return which column has the figure that a table is explained with."""
    wanted = table["worked"]["columns"]
    return next(i for i, c in enumerate(table["columns"]) if c["values"] == wanted)


def worked(table: dict[str, Any], *, prefix: str = "", column: int | None = None) -> str:
    """Return a figure of a grid in a sentence, as HTML.

    ``prefix`` is as in ``grid_html``. ``column`` is another than the usual one.
    """
    row = next(r for r in table["rows"] if r["value"] == table["worked"]["row"])
    at = worked_column(table) if column is None else column
    many = len(table["prints"]) > 2
    # a sentence holds three figures; more are read one below the other
    between = "<br>" if len(table["prints"]) > 3 else ", " if many else " and "
    values = ("<br>" if between == "<br>" else "") + between.join(
        (f"{one.heading.lower()} " if many else "") + f"<strong>{one.said}</strong>{one.remark}"
        for one in figures_of(table, row["cells"][at])
    )
    columns = table["columns"][at]["labels"]
    text: str = table["reading"].format(
        row=f'<a href="#{prefix}{row["anchor"]}">{row["label"]}</a>',
        columns=" down to ".join(columns),
        column=columns,
        values=values,
    )
    return text


def _legend(table: dict[str, Any], others: dict[str, str] | None = None) -> str:
    """Return what the marks say; figures whose marks say the same are named together.

    ``others`` has other words for the marks of a figure, by its field.
    """
    names: dict[str, list[str]] = {}
    for shown in table["prints"]:
        if shown["mark"]:
            said = (others or {}).get(shown["field"]) or _marks(shown)
            names.setdefault(said, []).append(shown["heading"])
    many = len(table["prints"]) > 1
    found = [
        f"{listed(headings)}: {said}." if many else f"{said}." for said, headings in names.items()
    ]
    for mark in table.get("beyond", []):
        said = f"{MARKS['over_limit'][0]} {mark['says']['over_limit']}"
        found.append(f'<span class="{CLASSES["over_limit"]}">{said}</span>.')
    return " ".join(found)


def _marks(shown: dict[str, Any]) -> str:
    return ". ".join(
        f'<span class="{CLASSES[verdict]}">{MARKS[verdict][0]} {mark_words(shown, verdict)}</span>'
        if MARKS[verdict][0]
        else f"No mark: {mark_words(shown, verdict)}"
        for verdict in verdicts_of(shown)
    )


def assumptions(
    table: dict[str, Any], *, stated_by: str = "set for this table"
) -> list[dict[str, str]]:
    """Return the assumptions behind every cell of a grid, each with its origin.

    Those of zero that have one origin are on one line.
    """
    told = [
        one | {"origin": one["origin"] or stated_by, "value": _kept_together(one["value"])}
        for one in table["in_words"]
    ]
    zeros: dict[str, list[str]] = {}
    for one in told:
        if re.match(r"0(?![\d.])", one["value"]):
            zeros.setdefault(one["origin"], []).append(one["label"])
    found = []
    for one in told:
        alike = zeros.get(one["origin"], [])
        if len(alike) < 2 or one["label"] not in alike:
            found.append(one)
        elif one["label"] == alike[0]:
            labels = "; ".join([alike[0], *(label[0].lower() + label[1:] for label in alike[1:])])
            found.append({"label": labels, "value": "0", "origin": one["origin"]})
    return found


def rounding(table: dict[str, Any]) -> str:
    """Return how each figure is rounded, in its own unit."""
    return ", ".join(
        f"{shown['heading'].lower()} {_ROUNDING[shown['round']]} "
        + with_unit(f"{10.0 ** -shown['decimals']:g}", shown)
        for shown in table["prints"]
        if not shown["words"]
    )
