"""Which rating cells need, where only their number is known: the wiring that is hardest on a cell."""

import re
from typing import Any, NamedTuple

from percell_site.api import Api, ApiError
from percell_site.figures import figures_of, page_of, verdict_on

_MOST_CELLS = 4


class Load(NamedTuple):
    """The table in which a load is looked up."""

    table: str
    rows: tuple[str, ...]
    # the mark of the needed rating's table concerns the power of full cells, that of the coils' table a
    # rating that this page does not assume
    marked: bool


LOADS = {
    "watts": Load(
        "needed-rating",
        ("20-w", "40-w", "60-w", "80-w", "100-w", "150-w", "200-w"),
        marked=True,
    ),
    "coil": Load(
        "coil-current-and-power",
        ("0.15-ohm", "0.2-ohm", "0.3-ohm", "0.4-ohm", "0.5-ohm", "0.7-ohm", "1-ohm", "1.5-ohm"),
        marked=False,
    ),
}


def needed(api: Api, load: str, up: str) -> str:
    """Return a Markdown table: the rating that each cell needs, by load and number of cells.

    Each figure is the highest of its row among all layouts and cut-offs of a table for that number of
    cells, and a link to its page. A cross takes the place of a figure that the cells cannot reach.

    Args:
        api: Where to ask.
        load: A name of ``LOADS``.
        up: The way from the page to the top of the site, such as ``../``.

    Raises:
        ApiError: No load is called that, or the table has no such row.
    """
    if load not in LOADS:
        raise ApiError(f"no load is called {load!r}")
    name, anchors, marked = LOADS[load]
    table = api.get_json(f"/v1/tables/{name}")
    rows = {row["anchor"]: row for row in table["rows"]}
    axis = [by["field"] for by in table["columns_by"]].index("layout")
    counts = [_cells(column["values"][axis]) for column in table["columns"]]
    lines = [
        f"| {table['rows_by']['heading']} | one cell | "
        + " | ".join(f"{count} cells" for count in ("two", "three", "four"))
        + " |",
        "|---" * (_MOST_CELLS + 1) + "|",
    ]
    for anchor in anchors:
        if anchor not in rows:
            raise ApiError(f"the table {name} has no row {anchor}")
        row = rows[anchor]
        found = [
            _hardest(
                table, row, [i for i, cells in enumerate(counts) if cells == count], marked, up
            )
            for count in range(1, _MOST_CELLS + 1)
        ]
        label = row["label"].replace(" ", "\N{NO-BREAK SPACE}")
        lines.append(f'| <a href="{up}tables/{name}/#{anchor}">{label}</a> | {" | ".join(found)} |')
    return "\n".join(lines)


def _cells(layout: str) -> int:
    """Return how many cells a layout such as ``2S2P`` has."""
    series, parallel = map(int, re.findall(r"\d+", layout))
    return series * parallel


def _hardest(
    table: dict[str, Any], row: dict[str, Any], columns: list[int], marked: bool, up: str
) -> str:
    """Return the highest figure of a row among some columns, as a link to its page."""
    if marked and "over_limit" in {verdict_on(row["cells"][i], 0) for i in columns}:
        return "✕"
    hardest = max(columns, key=lambda i: row["cells"][i]["values"][0])
    first = figures_of(table, row["cells"][hardest], "\N{NO-BREAK SPACE}")[0]
    return f'<a href="{up}{page_of(table, row, table["columns"][hardest])}">{first.said}</a>'
