"""What the prose quotes of the API at build time: a figure of a table, an answer as text to paste."""

import re
from typing import Any

from percell_site import pages
from percell_site.api import Api, ApiError
from percell_site.examples import HOST


def figure(api: Api, place: str) -> str:
    """Return one figure of a table with its unit.

    Args:
        api: Where to ask.
        place: Table, row's name in links and each column's value, and after them the figure's field
            where a cell has several: ``temperature-by-draw 20-a 5 60``.

    Raises:
        ApiError: The table has no such place.
    """
    name, anchor, *rest = place.split()
    table = api.get_json(f"/v1/tables/{name}")
    axes = len(table["columns_by"])
    row = next((r for r in table["rows"] if r["anchor"] == anchor), None)
    at = next(
        (i for i, c in enumerate(table["columns"]) if [*map(_plain, c["values"])] == rest[:axes]),
        None,
    )
    fields = [shown["field"] for shown in table["prints"]]
    field = rest[axes] if len(rest) > axes else fields[0]
    if row is None or at is None or field not in fields:
        raise ApiError(f"no table has the place {place!r}")
    index = fields.index(field)
    return pages.with_unit(
        pages.figure(row["cells"][at]["values"][index], table["prints"][index]),
        table["prints"][index],
        "\N{NO-BREAK SPACE}",
    )


def reply(api: Api, query: str) -> str:
    """Return a request for an answer as text to paste, and that text."""
    said = api.get(f"/v1/reply?{query}").decode().strip()
    # the links in it name the address that was asked, which at build time is nobody's
    said = re.sub(r"https?://[^/\s]+", HOST, said)
    return f"```sh\ncurl '{HOST}/v1/reply?{query}'\n```\n\n```text\n{said}\n```"


def _plain(value: Any) -> str:
    return value if isinstance(value, str) else f"{value:g}"
