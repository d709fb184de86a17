"""What the prose quotes from the API at build time: a figure of a table, or an answer as text to paste."""

import re
from typing import Any, NamedTuple

from percell_site.api import Api, ApiError
from percell_site.figures import figures_of, page_of

_PATH = re.compile(r"(?<=[\s(=])(?=/(?:tables|method)/)")


class Place(NamedTuple):
    """One figure of a table."""

    text: str  # with its unit
    remark: str  # what its mark says, in brackets
    page: str  # the path of its page or its row, below the top of the site


def table_figure(api: Api, place: str) -> str:
    """Return one figure of a table with its unit.

    Args:
        api: Where to ask.
        place: The table, the row's name in links and the value of each column axis in any order, such
            as ``needed-rating 80-w 2.8 1S2P``. If a cell has several figures, the field follows.

    Raises:
        ApiError: The table has no such place.
    """
    return _found(api, place).text


def linked_figure(api: Api, place: str, up: str) -> str:
    """Return one figure of a table with its unit and what its mark says, as a link to its page.

    Args:
        api: Where to ask.
        place: As for ``table_figure``.
        up: The way from the page to the top of the site, such as ``../``.

    Raises:
        ApiError: The table has no such place.
    """
    found = _found(api, place)
    return f'<a href="{up}{found.page}"><strong>{found.text}</strong></a>{found.remark}'


def _found(api: Api, place: str) -> Place:
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
    found = figures_of(table, row["cells"][columns[0]], "\N{NO-BREAK SPACE}")[fields.index(field)]
    return Place(found.said, found.remark, page_of(table, row, table["columns"][columns[0]]))


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
