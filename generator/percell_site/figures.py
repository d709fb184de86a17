"""One figure of a table in words: its digits, its unit, and what its mark says."""

from typing import Any, NamedTuple

# a sign, because colour must never be the only one; and words for a table that has none of its own
MARKS = {
    "over_limit": ("✕", "over the limit"),
    "little_headroom": ("◐", "little headroom"),
    "not_judged": ("", "not judged"),
    "within_limit": ("", "within the limit"),
}
# how a figure with a mark looks
CLASSES = {"over_limit": "pc-over", "little_headroom": "pc-little"}


class Figure(NamedTuple):
    """One figure of an entry as people read it."""

    heading: str
    text: str  # digits or words; a dash where there is no figure
    said: str  # with its unit; "no figure" where there is none
    verdict: str
    sign: str
    words: str  # what its verdict says
    remark: str  # what its sign says, in brackets; nothing without a sign
    brief_remark: str
    # what the mark of a figure says that no page shows, and briefly in brackets
    beyond: str
    brief_beyond: str

    @property
    def look(self) -> str:
        """Return the class of its looks; nothing if it looks like any other."""
        return CLASSES.get(self.verdict, "")


def figures_of(table: dict[str, Any], cell: dict[str, Any], unit_after: str = " ") -> list[Figure]:
    """Return the figures of an entry of a table. ``unit_after`` stands between digits and unit."""
    found = [
        _figure(value, shown, verdict_on(cell, i), unit_after)
        for i, (value, shown) in enumerate(zip(cell["values"], table["prints"], strict=True))
    ]
    for mark in cell.get("beyond", []):
        found[0] = _with_mark(found[0], mark)
    return found


def _with_mark(one: Figure, mark: dict[str, Any]) -> Figure:
    """Return a figure that is over one more limit."""
    over = "over_limit"
    words = mark["says"][over]
    brief = mark["briefly"].get(over, words)
    before = f"{one.words}; " if one.verdict == over else ""
    return one._replace(
        verdict=over,
        sign=MARKS[over][0],
        words=f"{before}{words}",
        remark=f" ({before}{brief})",
        brief_remark=f" ({before}{brief})",
        beyond=words,
        brief_beyond=f" ({brief})",
    )


def _figure(
    value: float | str | None, shown: dict[str, Any], verdict: str, unit_after: str
) -> Figure:
    text = figure(value, shown)
    words = mark_words(shown, verdict) if verdict else ""
    sign = MARKS[verdict][0] if verdict else ""
    # a short text has no legend, so there a verdict without a sign may have words too
    brief = shown["mark"]["briefly"].get(verdict, words if sign else "") if verdict else ""
    return Figure(
        heading=shown["heading"],
        text=text,
        said="no figure" if value is None else with_unit(text, shown, unit_after),
        verdict=verdict,
        sign=sign,
        words=words,
        remark=f" ({words})" if sign else "",
        brief_remark=f" ({brief})" if brief else "",
        beyond="",
        brief_beyond="",
    )


def on_page(table: dict[str, Any]) -> dict[str, Any]:
    """Return a table with the figures that a page shows; of the others, in its files alone, only the marks."""
    kept = [i for i, shown in enumerate(table["prints"]) if shown["on_page"]]
    marked = {
        i: shown["mark"]
        for i, shown in enumerate(table["prints"])
        if not shown["on_page"] and shown["mark"]
    }

    def shown_of(row: dict[str, Any]) -> dict[str, Any]:
        cells = [
            {name: _kept(part, kept) for name, part in cell.items()}
            | {"beyond": [m for i, m in marked.items() if verdict_on(cell, i) == "over_limit"]}
            for cell in row["cells"]
        ]
        return row | {"cells": cells}

    return table | {
        "prints": _kept(table["prints"], kept),
        "rows": [shown_of(row) for row in table["rows"]],
        "beyond": [*marked.values()],
    }


def page_of(table: dict[str, Any], row: dict[str, Any], column: dict[str, Any]) -> str:
    """Return the path of an entry's page below the top of the site, or of its place on the row's page."""
    path = f"tables/{table['id']}/{row['anchor']}/"
    if table["entry_pages"]:
        return f"{path}{column['anchor']}/"
    return path if len(table["columns"]) == 1 else f"{path}#{column['anchor']}"


def _kept(values: list[Any], places: list[int]) -> list[Any]:
    return [values[i] for i in places]


def figure(value: float | str | None, shown: dict[str, Any]) -> str:
    """Return the text of one figure, without its unit; or the page's words for a word of the API."""
    if isinstance(value, str):
        text: str = shown["words"][value]
        return text
    return digits(value, shown)


def digits(value: float | None, shown: dict[str, Any]) -> str:
    """Return the digits of one figure; a dash where there is none."""
    return "–" if value is None else f"{value:.{shown['decimals']}f}"


def with_unit(text: str, shown: dict[str, Any], between: str = " ") -> str:
    """Return a text followed by the unit of its figure, if it has one."""
    return f"{text}{between}{shown['unit']}" if shown["unit"] else text


def verdict_on(cell: dict[str, Any], index: int) -> str:
    """Return the verdict on one figure of a cell; nothing if it has none."""
    verdicts = cell.get("verdicts")
    return verdicts[index] or "" if verdicts else ""


def verdicts_of(shown: dict[str, Any]) -> list[str]:
    """Return the verdicts that a marked figure can have, worst first."""
    mild = "not_judged" if shown["mark"]["assumed"] else "within_limit"
    return ["over_limit", *(["little_headroom"] if shown["mark"]["near"] else []), mild]


def mark_words(shown: dict[str, Any], verdict: str) -> str:
    """Return what a verdict on a figure says."""
    words: str = shown["mark"]["says"].get(verdict, MARKS[verdict][1])
    return words
