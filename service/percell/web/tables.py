"""The printed tables over HTTP, as JSON or CSV."""

import csv
from functools import partial
from io import StringIO
from typing import Annotated, Any

import msgspec
from msgspec import Meta, Struct

from percell.questions.answering.conditions import held_for
from percell.questions.answering.tables import OwnTableAsked, every_table
from percell.questions.worked_tables import (
    InvalidAxisValue,
    OwnTable,
    PrintedTable,
    TableCell,
    own_table,
    printed_table,
)
from percell.web.call import Call
from percell.web.operations import (
    BODY_PROBLEMS,
    CATALOGUES,
    IN_SHORT,
    MANY,
    builtins,
    catalogue,
    in_short,
    json_content,
    operation,
    text_content,
)
from percell.web.problems import Failed, failed_field
from percell.web.resource import JSON, Representation, Resource, encode
from percell.web.translate import ERRORS, failed

CSV = b"text/csv"


class TableEntry(Struct, frozen=True):
    """A printed table."""

    id: str
    title: str
    group: Annotated[str, Meta(description="Topic under which the site lists it.")]
    sentence: str
    json: Annotated[str, Meta(description="Path of the whole table as JSON.")]
    csv: Annotated[str, Meta(description="Path of the whole table as CSV.")]
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


def _text(value: float | str | None, decimals: float) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else f"{value:.{decimals}f}"


def as_csv(table: PrintedTable) -> bytes:
    """Return a table as CSV (RFC 4180), a line per entry: each line holds on its own.

    A line has the entry's row and column, its figures, the verdict on each marked one with its limit, what
    every entry rests on, and the caution.
    """
    text = StringIO()
    write = csv.writer(text).writerow
    same = _same_everywhere(table)
    lines = [
        {
            table.rows_by.field: _given(row.value),
            **{
                axis.field: _given(value)
                for axis, value in zip(table.columns_by, column.values, strict=True)
            },
            **_figures(table, cell),
            **same,
        }
        for row in table.rows
        for column, cell in zip(table.columns, row.cells, strict=True)
    ]
    write(lines[0])
    for line in lines:
        write(line.values())
    return text.getvalue().encode()


def _figures(table: PrintedTable, cell: TableCell) -> dict[str, str]:
    """Return the figures of an entry by heading, each with its verdict and its limit if it is marked."""
    found: dict[str, str] = {}
    for i, (value, shown) in enumerate(zip(cell.values, table.prints, strict=True)):
        found[shown.column] = _text(value, shown.decimals)
        if shown.mark:
            found[f"verdict_on_{shown.column}"] = cell.verdicts[i] or ""
            limit = cell.limits[i]
            if shown.mark.figure:
                found[f"limit_of_{shown.mark.figure}"] = _given(limit)
            else:  # in the unit of the figure beside it
                scaled = None if limit is None else limit / shown.per
                found[f"limit_of_{shown.column}"] = _given(scaled)
    return found


def _given(value: float | str | None) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else f"{value:.10g}"


def _same_everywhere(table: PrintedTable) -> dict[str, str]:
    """Return what every line repeats, by heading: a line that is copied alone must not lose it."""
    held = held_for(table.fixed, table.assumptions, table.immaterial)
    return {
        **{name: _given(value) for name, value in held.items()},
        "version": table.version,
        "caution": f"{table.caveat} {table.caution}",
    }


_decode = msgspec.json.Decoder(OwnTableAsked).decode


def answer_own(body: bytes) -> OwnTable:
    """Calculate a caller's own table."""
    try:
        return own_table(_decode(body))
    except InvalidAxisValue as unfit:
        raise _with_pointer(unfit) from None
    except ERRORS as error:
        raise failed(error, OwnTableAsked) from None


def _with_pointer(unfit: InvalidAxisValue) -> Failed:
    """Return a question's problem with a pointer to the axis or the fixed field in the request."""
    problem = failed(unfit.error, unfit.asked)
    (fault,) = problem.problem.errors or []
    own = f"/{unfit.field}"
    of_axis = fault.pointer == own or fault.pointer.startswith(own + "/")
    pointer = unfit.pointer if of_axis else f"/fixed{fault.pointer}"
    return failed_field(pointer, fault.detail, problem.kind)


def table_resources() -> list[Resource]:
    """Return the resources of the tables: the list, and each table in both forms.

    Without a suffix, ``Accept`` chooses the media type; the suffixes .json and .csv name it.
    """
    listed = encode(table_list())
    found = [
        Resource(
            "/v1/tables",
            get=lambda _: Representation(listed),
            post=lambda _, body: Representation(encode(answer_own(body))),
            in_thread=True,
        )
    ]
    for name in every_table():
        found += [
            _by_accept(name),
            Resource(
                f"/v1/tables/{name}.json",
                get=partial(_represent, name, JSON),
                in_thread=True,
            ),
            Resource(
                f"/v1/tables/{name}.csv",
                get=partial(_represent, name, CSV),
                in_thread=True,
                produces=(CSV,),
            ),
        ]
    return found


def _by_accept(name: str) -> Resource:
    def get(call: Call) -> Representation:
        return _represent(name, resource.accepted(call) or JSON, call)

    resource = Resource(
        f"/v1/tables/{name}",
        get=get,
        in_thread=True,
        produces=(JSON, CSV),
    )
    return resource


def _represent(name: str, form: bytes, _: Call) -> Representation:
    if form == JSON:
        return Representation(encode(printed_table(name)))
    disposition = f'attachment; filename="percell-{name}.csv"'.encode()
    return Representation(
        as_csv(printed_table(name)),
        b"text/csv; charset=utf-8; header=present",
        ((b"content-disposition", disposition),),
    )


def tables_operations() -> dict[str, Any]:
    """Return the description of the list of tables, and of a table of the caller's own."""
    asked = {
        "question": "lowest-resistance",
        "fixed": {"meter_counts": 2},
        "rows": {
            "field": "cell_rating_a",
            "heading": "Cell rating",
            "unit": "A",
            "values": [15, 18],
        },
        "columns": [{"field": "layout", "heading": "Layout", "values": ["1S1P", "1S2P"]}],
        "prints": [
            {
                "field": "lowest_resistance_ohm",
                "heading": "Lowest resistance",
                "unit": "Ω",
                "decimals": 2,
                "round": "up",
            }
        ],
    }
    return {
        "get": catalogue("list_tables", "All printed tables", TableList, table_list()),
        "post": operation(
            "ask_own_table",
            "A table of your own",
            "Answers of one question for rows and columns that you choose, rounded as you say. The service keeps nothing.",
            MANY,
            body=json_content(OwnTableAsked, asked),
            answer="The table.",
            content=json_content(OwnTable, builtins(answer_own(encode(asked)))),
            problems=BODY_PROBLEMS,
        ),
    }


_TABLE_PARAMETER = {
    "name": "table",
    "in": "path",
    "required": True,
    "description": "Id of the table, with or without the suffix .json or .csv.",
    "schema": {
        "type": "string",
        "enum": [f"{t}{suffix}" for t in every_table() for suffix in ("", ".json", ".csv")],
    },
}


# rows and columns of a table's example
_SHOWN = 2


def table_operation() -> dict[str, Any]:
    """Return the description of a printed table."""
    first = printed_table(next(iter(every_table())))
    lines = as_csv(first).decode().splitlines(keepends=True)
    return operation(
        "get_table",
        "One printed table",
        "The whole table as JSON. Add .csv to the path, or send Accept: text/csv, for CSV (RFC 4180).",
        CATALOGUES,
        answer=f"One printed table. {IN_SHORT}",
        content=json_content(PrintedTable, in_short(first, _SHOWN))
        | text_content(CSV.decode(), "".join(lines[: _SHOWN + 1])),
        problems=(406, 400, 404, 422),
        cached=True,
    ) | {"parameters": [_TABLE_PARAMETER]}
