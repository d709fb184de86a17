"""What the prose quotes from the API at build time: a figure of a table, or an answer as text to paste."""

import re
from typing import Any

from percell_site.api import Api, ApiError
from percell_site.figures import figure, remark, verdict_on, with_unit

_PATH = re.compile(r"(?<=[\s(=])(?=/(?:tables|method)/)")


def table_figure(api: Api, place: str) -> str:
    """Return one figure of a table with its unit.

    Args:
        api: Where to ask.
        place: The table, the row's name in links and the value of each column axis in any order, such
            as ``needed-rating 80-w 2.8 1S2P``. If a cell has several figures, the field follows.

    Raises:
        ApiError: The table has no such place.
    """
    return _found(api, place)[0]


def linked_figure(api: Api, place: str, up: str) -> str:
    """Return one figure of a table with its unit and what its mark says, as a link to its row.

    Args:
        api: Where to ask.
        place: As for ``table_figure``.
        up: The way from the page to the top of the site, such as ``../``.

    Raises:
        ApiError: The table has no such place.
    """
    text, said = _found(api, place)
    table, row, *_ = place.split()
    return f"[**{text}**]({up}tables/{table}.md#{row}){said}"


def _found(api: Api, place: str) -> tuple[str, str]:
    """Return the figure at a place with its unit, and what its mark says."""
    name, anchor, *rest = place.split()
    table = api.get_json(f"/v1/tables/{name}")
    axes = len(table["columns_by"])
    row = next((r for r in table["rows"] if r["anchor"] == anchor), None)
    wanted = sorted(rest[:axes])
    columns = [
        i for i, c in enumerate(table["columns"]) if sorted(map(_as_written, c["values"])) == wanted
    ]
    fields = [shown["field"] for shown in table["prints"]]
    field = rest[axes] if len(rest) > axes else fields[0]
    if row is None or len(columns) != 1 or field not in fields:
        raise ApiError(f"no table has the place {place!r}")
    index = fields.index(field)
    cell, shown = row["cells"][columns[0]], table["prints"][index]
    text = with_unit(figure(cell["values"][index], shown), shown, "\N{NO-BREAK SPACE}")
    return text, remark(shown, verdict_on(cell, index))


def reply(api: Api, address: str, asked: str) -> str:
    """Return a request for an answer as text to paste, and that text.

    Args:
        api: Where to ask.
        address: The address that the pages print, without a slash at its end.
        asked: The question with its fields as a query, as in ``direct-load?layout=1S2P``.
    """
    said = api.get(f"/v1/reply/{asked}").decode().strip()
    said = _PATH.sub(address, said)  # where the API does not know its address, it gives paths
    return f"```sh\ncurl '{address}/v1/reply/{asked}'\n```\n\n```text\n{said}\n```"


def _as_written(value: Any) -> str:
    """Return a column's value as a marker in the prose writes it."""
    return value if isinstance(value, str) else f"{value:g}"
