"""Pages of measured cells: one a cell, and one that compares them."""

from collections import Counter
from html import escape
from typing import Any

from msgspec import structs

from percell_site import charts, pages, profiles
from percell_site.api import Api, ApiError
from percell_site.figures import figure
from percell_site.profiles import COMPARED_W, Profile, Sheets

_BELIEVED = {
    "believable": "What the label claims fits the size of the cell.",
    "doubtful": "What the label claims is at the edge of what a cell of this size can do.",
    "not_believable": "What the label claims does not fit the size of the cell.",
}


# by grid of a cell's page: what it is called where a row is pasted, and what must go along with a figure
_GRIDS = {
    "pack": (
        "the pack, by layout",
        "The current is the most that keeps the worst-case cell within its rating, and leaves no headroom.",
    ),
    "lowest": (
        "lowest coil resistance",
        "At this resistance the worst-case cell carries its whole rating when the pack is full. Use a "
        "higher resistance to leave headroom.",
    ),
    "highest": (
        "highest power",
        "At this power the worst-case cell carries its whole rating just before the cut-off. Use less "
        "power to leave headroom.",
    ),
    "running": (
        "running time",
        "The times are estimates. They do not say that the cells can take the current: look at the highest "
        "power first. A dash is a power that the cells cannot deliver.",
    ),
}


def cell_pages(
    api: Api, cells: list[Profile], reference: dict[str, Any], date: str
) -> dict[str, str]:
    """Return the pages of all cells by path: one each, and the comparison.

    Raises:
        ApiError: The API does not know the chemistry of a cell, or refuses its figures.
    """
    made = {}
    rows = []
    known = reference["chemistries"]
    for cell in map(_escaped, cells):
        if cell.chemistry not in known:
            raise ApiError(f"{cell.id}.toml: the API knows no chemistry {cell.chemistry!r}")
        chemistry = known[cell.chemistry]
        sheets = profiles.sheets(api, cell, chemistry)
        made[f"cells/{cell.id}.md"] = _cell_page(
            api, cell, sheets, chemistry, reference["version"], date
        )
        rows.append(_compared(cell, sheets, chemistry))
    made["cells/index.md"] = pages.render(
        "cells.md.jinja",
        title=_titled("Measured cells", cells),
        rows=rows,
        watts=COMPARED_W,
        cutoff=_cutoffs([known[cell.chemistry] for cell in cells] or [*known.values()]),
        invented=any(cell.invented for cell in cells),
    )
    return made


def _escaped(cell: Profile) -> Profile:
    """Return a profile whose words are safe in HTML: it is another's file."""
    words = {
        name: escape(value)
        for name, value in structs.asdict(cell).items()
        if isinstance(value, str)
    }
    return structs.replace(cell, **words)


def _titled(title: str, cells: list[Profile]) -> str:
    """Return a title that says whether the cells are invented: a search or a preview shows little more."""
    invented = [cell.invented for cell in cells]
    if not any(invented):
        return title
    return f"{title} (invented)" if all(invented) else f"{title} (some invented)"


def _cutoffs(chemistries: list[dict[str, Any]]) -> str:
    """Return where the cells compared stop: the cut-off of most, then each chemistry with another."""
    stops = [profiles.compared_cutoff_v(one) for one in chemistries]
    ((usual, _),) = Counter(stops).most_common(1)
    others = {
        one["short_name"]: stop
        for one, stop in zip(chemistries, stops, strict=True)
        if stop != usual
    }
    return ", ".join([f"{usual:g} V", *(f"{name} {stop:g} V" for name, stop in others.items())])


def _cell_page(
    api: Api,
    cell: Profile,
    sheets: Sheets,
    chemistry: dict[str, Any],
    version: str,
    date: str,
) -> str:
    title = _titled(cell.name, [cell])
    claim = profiles.claim(api, cell)
    grids = {name: grid for name, grid in structs.asdict(sheets).items() if grid}
    shown = {
        name: pages.grid_html(
            grid,
            name=name,
            title=f"{title}: {_GRIDS[name][0]}",
            caveat=_GRIDS[name][1],
            prefix=f"{name}-",
        )
        for name, grid in grids.items()
    }
    chart = sheets.running and charts.chart(
        sheets.running, profiles.running_chart(chemistry), name=f"running-{cell.id}"
    )
    rests_on = {
        a["name"]: a
        for grid in grids.values()
        for a in pages.assumptions(grid, stated_by="the cell's profile")
    }  # most of them are the same for all grids
    return pages.render(
        "cell.md.jinja",
        cell=cell,
        title=title,
        chemistry=chemistry["name"],
        claim=claim and claim | {"sentence": _BELIEVED[claim["plausibility"]]},
        claimed=lambda value, unit: f"{value:g} {unit}" if value else "not given",
        chart=chart,
        assumptions=rests_on.values(),
        version=version,
        date=date,
        **{"running": None} | shown,
    )


def _compared(cell: Profile, sheets: Sheets, chemistry: dict[str, Any]) -> dict[str, Any]:
    def at(grid: dict[str, Any], row: Any, columns: list[Any]) -> str:
        line = next(r for r in grid["rows"] if r["value"] == row)
        index = next(i for i, c in enumerate(grid["columns"]) if c["values"] == columns)
        return figure(line["cells"][index]["values"][0], grid["prints"][0])

    cutoff = profiles.compared_cutoff_v(chemistry)
    return {
        "cell": cell,
        "title": _titled(cell.name, [cell]),
        "lowest": at(sheets.lowest, "1S1P", [cell.cell_rating_a]),
        "highest": at(sheets.highest, cutoff, ["1S1P"]),
        "minutes": at(sheets.running, COMPARED_W, ["1S1P", cutoff]) if sheets.running else "–",
    }
