"""One figure of a table in words: its digits, its unit, and what its mark says."""

from typing import Any

# a sign, because colour must never be the only one; and words for a table that has none of its own
MARKS = {
    "over_limit": ("✕", "over the limit"),
    "little_headroom": ("◐", "little headroom"),
    "not_judged": ("", "not judged"),
    "within_limit": ("", "within the limit"),
}
# how a figure with a mark looks
CLASSES = {"over_limit": "pc-over", "little_headroom": "pc-little"}


def on_page(table: dict[str, Any]) -> dict[str, Any]:
    """Return a table with the figures that a page shows; the others are in its files alone."""
    kept = [i for i, shown in enumerate(table["prints"]) if shown["on_page"]]

    def shown_of(row: dict[str, Any]) -> dict[str, Any]:
        cells = [{name: _kept(part, kept) for name, part in c.items()} for c in row["cells"]]
        return row | {"cells": cells}

    return table | {
        "prints": _kept(table["prints"], kept),
        "rows": [shown_of(row) for row in table["rows"]],
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


def remark(shown: dict[str, Any], verdict: str, *, briefly: bool = False) -> str:
    """Return what a mark says, in brackets behind its figure; nothing for a figure without a mark."""
    if not verdict or not MARKS[verdict][0]:
        return ""
    words = mark_words(shown, verdict)
    return f" ({shown['mark']['briefly'].get(verdict, words) if briefly else words})"


def mark_words(shown: dict[str, Any], verdict: str) -> str:
    """Return what a verdict on a figure says."""
    words: str = shown["mark"]["says"].get(verdict, MARKS[verdict][1])
    return words
