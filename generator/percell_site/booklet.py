"""All tables in one document for the printer: each starts a sheet, and each sheet can be read alone."""

from typing import Any

from percell_site import pages
from percell_site.figures import on_page
from percell_site.rows import Site

# beside the pages of the tables, so that the links of a grid lead to the same places
_FOLDER = "tables/all/"
PATH = f"{_FOLDER}index.html"


def booklet(tables: list[dict[str, Any]], cautions: list[dict[str, str]], site: Site) -> str:
    """Return the page of all tables, from the grids that the API calculated.

    Args:
        tables: The printed tables, in their order.
        cautions: What comes before the first table.
        site: What all pages have in common.
    """
    return pages.render(
        "booklet.html.jinja",
        entries=[_entry(on_page(table)) for table in tables],
        cautions=cautions,
        site=site,
        path=_FOLDER,
        root="../../",
        crumbs=[("../../", "Home"), ("../", "Tables")],
        here="All tables",
        version=tables[0]["version"],
    )


def _entry(table: dict[str, Any]) -> dict[str, Any]:
    name = table["id"]
    return {
        "table": table,
        "wide": pages.is_wide(table),
        "worked": pages.worked(table, prefix=f"{name}-"),
        "grid": pages.grid_html(
            table,
            name=name,
            title=table["title"],
            caveat=table["caveat"],
            prefix=f"{name}-",
            booklet=True,
        ),
    }
