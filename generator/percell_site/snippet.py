"""One figure of a table as HTML for the page of another site: its condition first, its caution with it."""

from html import escape
from typing import Any

from percell_site.api import Api, ApiError
from percell_site.figures import figures_of, on_page, page_of


def snippet(api: Api, address: str, place: str) -> str:
    """Return HTML to paste.

    Args:
        api: Where to ask.
        address: The address of the site, without a slash at its end.
        place: The table, and the names in links of the row and the column, as in
            ``lowest-resistance 25-a 2s1p``.

    Raises:
        ApiError: The table has no such row or column.
    """
    name, row_name, column_name = place.split()
    table = on_page(api.get_json(f"/v1/tables/{name}"))
    rows = {row["anchor"]: row for row in table["rows"]}
    columns = {column["anchor"]: i for i, column in enumerate(table["columns"])}
    if row_name not in rows or column_name not in columns:
        raise ApiError(f"no table has the place {place!r}")
    row, at = rows[row_name], columns[column_name]
    labels = ", ".join([row["label"], *table["columns"][at]["labels"]])
    paragraphs = [
        table["conditions"],
        f"<strong>{table['rows_by']['heading']} {labels}: {_figures(table, row['cells'][at])}.</strong>",
        f"{table['caveat']} {table['caution']}",
        f'<a href="{address}/{page_of(table, row, table["columns"][at])}">'
        f"{table['title']}, percell {table['version']}</a>",
    ]
    return "\n".join(
        [
            "<blockquote>",
            *(f"  <p>{text}</p>" for text in filter(None, paragraphs)),
            "</blockquote>",
        ]
    )


def _figures(table: dict[str, Any], cell: dict[str, Any]) -> str:
    """Return the figures of a cell, each with its name and with what its mark says."""
    found = (
        f"{one.heading.lower()} {one.said}" + (f" ({one.words})" if one.words else "")
        for one in figures_of(table, cell)
    )
    return escape(", ".join(found), quote=False)
