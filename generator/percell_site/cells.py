"""Pages of measured cells: one a cell, and one that compares them."""

from html import escape
from typing import Any

from msgspec import structs

from percell_site import charts, pages, profiles
from percell_site.api import Api
from percell_site.profiles import COMPARED_W, Profile, Sheets

_BELIEVED = {
    "believable": "What the label claims fits the size of the cell.",
    "doubtful": "What the label claims is at the edge of what a cell of this size can do.",
    "not_believable": "What the label claims does not fit the size of the cell.",
}


def cell_pages(
    api: Api, cells: list[Profile], reference: dict[str, Any], date: str
) -> dict[str, str]:
    """Return the pages of all cells by path: one each, and the comparison."""
    made = {}
    rows = []
    for cell in map(_escaped, cells):
        sheets = profiles.sheets(api, cell)
        made[f"cells/{cell.id}.md"] = _cell_page(api, cell, sheets, reference, date)
        rows.append(_compared(cell, sheets))
    made["cells/index.md"] = pages.render(
        "cells.md.jinja",
        rows=rows,
        watts=COMPARED_W,
        cutoff="3.2 V, iron phosphate 2.5 V",
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


def _cell_page(
    api: Api, cell: Profile, sheets: Sheets, reference: dict[str, Any], date: str
) -> str:
    claim = profiles.claim(api, cell)
    grids: dict[str, dict[str, Any]] = structs.asdict(sheets)
    shown = {
        name: pages.grid_html(grid, name=name, prefix=f"{name}-") for name, grid in grids.items()
    }
    rests_on = {
        a["name"]: a
        for grid in grids.values()
        for a in pages.assumptions(grid, stated_by="the cell's profile")
    }  # most of them are the same for all grids
    return pages.render(
        "cell.md.jinja",
        cell=cell,
        chemistry=reference["chemistries"][cell.chemistry]["name"],
        claim=claim and claim | {"sentence": _BELIEVED[claim["claim"]]},
        claimed=lambda value, unit: f"{value:g} {unit}" if value else "not given",
        chart=charts.chart(sheets.running, profiles.running_chart(cell), name=f"running-{cell.id}"),
        assumptions=rests_on.values(),
        version=reference["version"],
        date=date,
        **shown,
    )


def _compared(cell: Profile, sheets: Sheets) -> dict[str, Any]:
    def at(grid: dict[str, Any], row: Any, columns: list[Any]) -> str:
        line = next(r for r in grid["rows"] if r["value"] == row)
        index = next(i for i, c in enumerate(grid["columns"]) if c["values"] == columns)
        return pages.figure(line["cells"][index]["values"][0], grid["prints"][0])

    cutoff = profiles.CUTOFFS_V.get(cell.chemistry, profiles.USUAL_CUTOFFS_V)[1]
    return {
        "cell": cell,
        "lowest": at(sheets.lowest, "1S1P", [cell.cell_rating_a]),
        "highest": at(sheets.highest, cutoff, ["1S1P"]),
        "minutes": at(sheets.running, COMPARED_W, ["1S1P", cutoff]),
    }
