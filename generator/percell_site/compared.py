"""How far the API's running times lie from measured and from simulated ones, as tables and a chart of the prose."""

from collections.abc import Callable, Sequence
from html import escape
from itertools import groupby
from math import ceil, floor
from typing import Any

from percell_site import compared_chart
from percell_site.api import ApiError

Compared = dict[str, Any]


def text(reference: dict[str, Any], name: str) -> str:
    """Return one part of the comparison, or one of its figures.

    Raises:
        ApiError: The comparison has no such part.
    """
    compared: Compared = reference["running_times_compared"]
    if name not in _PARTS:
        raise ApiError(f"the comparison of running times has no part {name!r}")
    return _PARTS[name](compared)


def _ways(compared: Compared) -> str:
    """Return the widest deviations of each way of asking, beside what it is meant to keep within."""
    ways = _widest_first(compared)
    rows = [
        (
            f"**{_name(way['way'])}**",
            _span(way["lowest"], way["highest"]),
            _span(way["aimed_lowest"], way["aimed_highest"]) if "aimed_lowest" in way else "–",
            str(way["times"]),
            str(way["cells"]),
            _range(way["lowest_rate_per_h"], way["highest_rate_per_h"], "/h"),
        )
        for way in ways
    ]
    head = ("Asked with", "Answered", "Aim", "Times", "Cells", "Current ÷ capacity")
    told = "\n".join(f"- **{_sentence(_name(way['way']))}**: {way['words']}." for way in ways)
    return f"{_table(head, rows)}\n\n{told}"


def _left_out(compared: Compared) -> str:
    """Return what is answered of each cell by constants that the other cells gave, and those constants."""
    aims = {way["way"]: way for way in compared["ways"]}
    rows = [
        (
            row["cell"],
            _name(row["way"]),
            _span(row["lowest"], row["highest"]),
            _span(aims[row["way"]]["aimed_lowest"], aims[row["way"]]["aimed_highest"]),
        )
        for row in compared["left_out"]
    ]
    fitted = dict.fromkeys(
        f"- Without the {row['cell']} cell: f = {row['fast_part']:g}, U<sub>s</sub> = {row['slow_loss_v']:g} V, "
        f"k = {row['usable_charge']:g}"
        for row in compared["left_out"]
    )
    head = ("Cell left out", "Asked with", "Answered", "Aim")
    return f"{_table(head, rows)}\n\n" + "\n".join(fitted)


def _simulated(compared: Compared) -> str:
    """Return what is answered of simulated cells, and what simulated them."""
    every = compared["simulated"]
    rates = sorted({row["highest_rate_per_h"] for row in every})
    rows = []
    for cell, some in groupby(every, lambda row: row["cell"]):
        spans = {row["highest_rate_per_h"]: _span(row["lowest"], row["highest"]) for row in some}
        rows.append((_sentence(cell), *(spans.get(rate, "–") for rate in rates)))
    head = ("Simulated cell", *(f"Up to {rate:g}/h" for rate in rates))
    sources = dict.fromkeys(row["source"] for row in every)
    return f"{_table(head, rows)}\n\n" + "\n".join(f"- {source}" for source in sources)


def _sources(compared: Compared) -> str:
    """Return where the discharges were published."""
    return "\n".join(f"- {source}" for source in compared["sources"])


def _times(compared: Compared) -> str:
    """Return every measured time with what is answered, a table to open for each way of asking."""
    found = []
    by_way = {way: list(rows) for way, rows in groupby(compared["rows"], lambda row: row["way"])}
    for way in _widest_first(compared):
        rows = by_way[way["way"]]
        summary = f"{_sentence(_name(way['way']))}: {2 * len(rows)} times, {_span(way['lowest'], way['highest'])}"
        found.append(
            f'<details class="pc-times"><summary>{summary}</summary>{_grid(way, rows)}</details>'
        )
    return "\n\n".join(found)


def _grid(way: dict[str, Any], rows: list[dict[str, Any]]) -> str:
    """Return the times of one way of asking. What is off comes first: a phone shows no more at once."""
    name = f"cap-times-{way['way'].replace('_', '-')}"
    answers = ("at_power_s", "at_current_s")
    cells = "".join(
        f'<tr><th scope="row">{row["cell"]}</th><td>{row["rate_per_h"]:g}</td><td>{row["cutoff_v"]:.1f}</td>'
        + "".join(f"<td>{_off(row[at], row['measured_s'])}</td>" for at in answers)
        + f'<td class="pc-first">{_minutes(row["measured_s"])}</td>'
        + "".join(f"<td>{_minutes(row[at])}</td>" for at in answers)
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="pc-table" data-search-exclude tabindex="0" role="region" aria-labelledby="{name}">'
        f'<table class="pc-grid"><caption id="{name}">Asked with {escape(way["words"], quote=False)}. The worst '
        "first.</caption>"
        '<thead><tr><th scope="col" rowspan="2">Cell</th><th scope="col" rowspan="2">Rate, 1/h</th>'
        '<th scope="col" rowspan="2">Cut-off, V</th>'
        '<th scope="colgroup" colspan="2"><span>Off at constant</span></th>'
        '<th scope="colgroup" colspan="3"><span>Minutes</span></th></tr>'
        '<tr><th scope="col">power</th><th scope="col">current</th><th scope="col">measured</th>'
        '<th scope="col">at power</th><th scope="col">at current</th></tr></thead>'
        f"<tbody>{cells}</tbody></table></div>"
    )


def _furthest(compared: Compared) -> str:
    """Return the furthest that any answer lies below and above a measured time."""
    ways = compared["ways"]
    return _span(min(way["lowest"] for way in ways), max(way["highest"] for way in ways))


_PARTS: dict[str, Callable[[Compared], str]] = {
    "ways": _ways,
    "chart": lambda compared: compared_chart.chart(_widest_first(compared), compared["rows"]),
    "furthest": _furthest,
    "left-out": _left_out,
    "simulated": _simulated,
    "sources": _sources,
    "times": _times,
}


def _widest_first(compared: Compared) -> list[dict[str, Any]]:
    """Return the ways of asking, the one with the widest deviations first."""
    return sorted(compared["ways"], key=lambda way: way["lowest"] - way["highest"])


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _name(way: str) -> str:
    """Return a way of asking in short: its word in the API."""
    return way.replace("_", " ")


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _range(low: float, high: float, unit: str) -> str:
    return f"{low:g} to {high:g}{unit}" if high > low else f"{low:g}{unit}"


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.1f}"


def _off(answered_s: float, measured_s: float) -> str:
    """Return a deviation in percent, rounded away from zero."""
    part = answered_s / measured_s - 1
    return _signed((floor if part < 0 else ceil)(round(part * 1000, 6)) / 10)


def _span(lowest: float, highest: float) -> str:
    """Return both ends in percent, rounded outwards, so that none is called smaller than it is."""
    low, high = floor(round(lowest * 1000, 6)) / 10, ceil(round(highest * 1000, 6)) / 10
    return f"{_signed(low)} to {_signed(high)}"


def _signed(percent: float) -> str:
    """Return a figure with its sign; minus is a minus and no hyphen, and nothing has none."""
    if not percent:
        return "0\N{NO-BREAK SPACE}%"
    return f"{percent:+.1f}\N{NO-BREAK SPACE}%".replace("-", "\N{MINUS SIGN}")
