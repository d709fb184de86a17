"""The printed tables over HTTP, as JSON or CSV."""

import csv
from functools import partial
from io import StringIO
from typing import Annotated

import msgspec
from msgspec import Meta, Struct

from percell.questions.answering.tables import OwnTableAsked, TablePrint, every_table
from percell.questions.grid import InvalidAxisValue, OwnTable, PrintedTable, grid, own_grid
from percell.web.ask import ERRORS, encode
from percell.web.problems import Failed, FieldError, failed
from percell.web.resource import JSON, Call, Reply, Resource

CSV = b"text/csv"


class TableEntry(Struct, frozen=True):
    """A table, as the list names it."""

    id: str
    title: str
    group: Annotated[str, Meta(description="Topic under which the site lists it.")]
    sentence: str
    json: Annotated[str, Meta(description="Path of the whole grid as JSON.")]
    csv: Annotated[str, Meta(description="Path of the whole grid as CSV.")]
    page: Annotated[str, Meta(description="The reference site's page.")]


class TableList(Struct, frozen=True):
    """All tables."""

    tables: list[TableEntry]


def table_list() -> TableList:
    """Return all tables, in the order in which the site lists them."""
    return TableList(
        [
            TableEntry(
                t.id,
                t.title,
                t.group,
                t.sentence,
                f"/v1/tables/{t.id}.json",
                f"/v1/tables/{t.id}.csv",
                f"/tables/{t.id}/",
            )
            for t in every_table().values()
        ]
    )


def _text(value: float | str | None, shown: TablePrint) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else f"{value:.{shown.decimals}f}"


def as_csv(table: PrintedTable) -> bytes:
    """Return a table as CSV (RFC 4180): a line of headings, then a line a row."""
    text = StringIO()
    write = csv.writer(text).writerow
    write(
        [
            table.rows_by.field,
            *(
                " ".join([*(str(v) for v in column.values), shown.column])
                for column in table.columns
                for shown in table.prints
            ),
        ]
    )
    for row in table.rows:
        figures = [
            _text(value, shown)
            for cell in row.cells
            for value, shown in zip(cell.values, table.prints, strict=True)
        ]
        write([row.value if isinstance(row.value, str) else f"{row.value:g}", *figures])
    return text.getvalue().encode()


_decode = msgspec.json.Decoder(OwnTableAsked).decode


def answer_own(body: bytes) -> OwnTable:
    """Work out a caller's own grid."""
    try:
        return own_grid(_decode(body))
    except InvalidAxisValue as unfit:
        raise _placed(unfit) from None
    except ERRORS as error:
        raise failed(error, OwnTableAsked) from None


def _placed(unfit: InvalidAxisValue) -> Failed:
    """Return a question's problem with its pointer into the grid: to an axis, or to the fixed fields."""
    problem = failed(unfit.error, unfit.asked)
    (fault,) = problem.problem.errors or []
    own = f"/{unfit.field}"
    of_axis = fault.pointer == own or fault.pointer.startswith(own + "/")
    pointer = unfit.pointer if of_axis else f"/fixed{fault.pointer}"
    return Failed(
        problem.kind,
        f"{pointer}: {fault.detail}",
        errors=[FieldError(pointer, fault.detail)],
    )


def table_resources() -> list[Resource]:
    """Return the resources of the tables: the list, and each table in both forms.

    A table's own path gives the form that ``Accept`` asks for; a suffix names it outright.
    """
    listed = encode(table_list())
    found = [
        Resource(
            "/v1/tables",
            get=lambda _: Reply(listed),
            post=lambda _, body: Reply(encode(answer_own(body))),
            deaf=("POST",),
        )
    ]
    for name in every_table():
        found += [
            _by_accept(name),
            Resource(f"/v1/tables/{name}.json", get=partial(_reply, name, JSON), deaf=("GET",)),
            Resource(
                f"/v1/tables/{name}.csv",
                get=partial(_reply, name, CSV),
                forms=(CSV,),
                deaf=("GET",),
            ),
        ]
    return found


def _by_accept(name: str) -> Resource:
    def get(call: Call) -> Reply:
        return _reply(name, resource.form(call) or JSON, call)

    resource = Resource(f"/v1/tables/{name}", get=get, forms=(JSON, CSV), deaf=("GET",))
    return resource


def _reply(name: str, form: bytes, _: Call) -> Reply:
    if form == JSON:
        return Reply(encode(grid(name)))
    disposition = f'attachment; filename="percell-{name}.csv"'.encode()
    return Reply(
        as_csv(grid(name)),
        b"text/csv; charset=utf-8; header=present",
        ((b"content-disposition", disposition),),
    )
