"""The printed tables over HTTP, as JSON or CSV."""

from collections.abc import Iterator, Sequence
from functools import cache, partial
from itertools import chain, islice
from typing import Annotated, Any, get_type_hints

import msgspec
from msgspec import Meta, Struct

from percell.physics.errors import NoSolution
from percell.questions.answering.conditions import held_for
from percell.questions.answering.tables import OwnTableAsked, every_table
from percell.questions.own_tables import (
    InvalidTable,
    able_questions,
    axes_of,
    own_table,
    question_faults,
)
from percell.questions.vocabulary.refusal import Fault, FaultCode, Refused
from percell.questions.worked_tables import OwnTable, PrintedTable, TableCell, printed_table
from percell.web.call import Call
from percell.web.csv_text import CSV, HEADED, as_csv, attached, cell, flat, heading, number
from percell.web.faults import faults_in
from percell.web.operations import (
    BODY_PROBLEMS,
    CATALOGUES,
    MANY,
    REF,
    catalogue,
    json_content,
    operation,
    text_content,
)
from percell.web.problems import MOST_FOUND, failed_fields
from percell.web.resource import Representation, Resource, encode
from percell.web.translate import ERRORS, failed


class TableEntry(Struct, frozen=True):
    """A printed table."""

    id: Annotated[str, Meta(description="Name of the table in paths.")]
    title: Annotated[str, Meta(description="Title.")]
    group: Annotated[str, Meta(description="Topic under which the site lists it.")]
    sentence: Annotated[str, Meta(description="What the table shows, in one sentence.")]
    json: Annotated[str, Meta(description="Path of the whole table as JSON.")]
    csv: Annotated[str, Meta(description="Path of the whole table as CSV.")]
    page: Annotated[str, Meta(description="The reference site's page.")]


class TableList(Struct, frozen=True):
    """All tables."""

    tables: Annotated[list[TableEntry], Meta(description="The tables, in the order of the site.")]


def table_list() -> TableList:
    """Return all tables, in the order in which the site lists them."""
    return TableList(
        [
            TableEntry(
                t.id,
                t.title,
                t.group,
                t.sentence,
                f"/v1/tables/{t.id}",
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


def table_as_csv(table: OwnTable, immaterial: Sequence[str] = (), caveat: str = "") -> bytes:
    """Return a table as CSV, a line per entry: each line holds on its own.

    A line has the entry's row and column, its figures, the verdict on each marked one with its limit, what
    every entry rests on, and the caution.
    """
    same = _same_everywhere(table, immaterial, caveat)
    return as_csv(
        [
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
    )


def _figures(table: OwnTable, cell: TableCell) -> dict[str, str]:
    """Return the figures of an entry by heading, each with its verdict and its limit if it is marked."""
    found: dict[str, str] = {}
    for i, (value, shown) in enumerate(zip(cell.values, table.prints, strict=True)):
        # an own table may show a figure twice, with different marks
        name = heading(shown.column, found)
        found[name] = _text(value, shown.decimals)
        if shown.mark:
            found[f"verdict_on_{name}"] = cell.verdicts[i] or ""
            limit = cell.limits[i]
            if shown.mark.figure:
                found[heading(f"limit_of_{shown.mark.figure}", found)] = _given(limit)
            else:  # in the unit of the figure beside it
                scaled = None if limit is None else limit / shown.per
                found[f"limit_of_{name}"] = _given(scaled)
    return found


def _given(value: float | str | None) -> str:
    # a whole number of a caller's own is one in a file too
    return number(value) if isinstance(value, float) else cell(value)


def _same_everywhere(table: OwnTable, immaterial: Sequence[str], caveat: str) -> dict[str, str]:
    """Return what every line repeats, by heading: a line that is copied alone must not lose it."""
    held = held_for(flat(table.fixed), table.assumptions, immaterial)
    return {
        **{name: _given(value) for name, value in held.items()},
        "version": table.version,
        "caution": f"{caveat} {table.caution}".strip(),
    }


_decode = msgspec.json.Decoder(OwnTableAsked).decode


class _Named(Struct):
    question: str


def answer_own(body: bytes) -> OwnTable:
    """Calculate a caller's own table."""
    try:
        asked = _decode(body)
    except ERRORS as error:
        raise failed(error, OwnTableAsked, body, also=_named_faults(body)) from None
    try:
        return own_table(asked)
    except InvalidTable as error:
        found = chain(error.faults, _value_faults(asked, error.faults))
        raise failed_fields(list(islice(found, MOST_FOUND))) from None
    except (Refused, NoSolution) as error:
        raise failed(error, OwnTableAsked, body) from None


def _named_faults(body: bytes) -> list[Fault]:
    """Return the fault of the question that a table names, though the rest of the table cannot be read."""
    try:
        return question_faults(msgspec.json.decode(body, type=_Named).question)
    except ERRORS:
        return []


def _value_faults(asked: OwnTableAsked, beside: Sequence[Fault]) -> Iterator[Fault]:
    """Yield what the question does not take, where the table holds it: in ``fixed`` or on an axis.

    An axis with a fault of its own is left out, as are all where two have one field.
    """
    question = able_questions().get(asked.question)
    if not question:
        return
    hints = get_type_hints(question.asked, include_extras=True)
    first = {axis.field: axis.values[0] for axis in axes_of(asked).values()}
    # a mistyped axis is probably the field that is missing
    mistyped = bool(first.keys() - hints.keys())
    for fault in faults_in(asked.fixed | first, question.asked):
        missing = mistyped and fault.code is FaultCode.MISSING and fault.pointer.count("/") == 1
        if fault.pointer.split("/")[1] not in first and not missing:
            yield fault._replace(pointer=f"/fixed{fault.pointer}")
    faulty = {fault.pointer for fault in beside}
    for at, axis in axes_of(asked).items():
        if not {"/columns_by", f"{at}/field", f"{at}/values"} & faulty:
            for i, value in enumerate(axis.values):
                yield from faults_in(value, hints[axis.field], f"{at}/values/{i}")


def table_resources() -> list[Resource]:
    """Return the resources of the tables: each in JSON, and with the suffix .csv in CSV."""
    listed = Representation(encode(table_list()), kept={})
    return [
        Resource(
            "/v1/tables",
            get=lambda _: listed,
            post=lambda _, body: Representation(encode(answer_own(body))),
            in_thread=True,
        ),
        Resource(
            "/v1/tables.csv",
            post=lambda _, body: Representation(
                table_as_csv(answer_own(body)), HEADED, (attached("percell-table"),)
            ),
            produces=CSV,
            in_thread=True,
        ),
        *(
            Resource(f"/v1/tables/{name}", get=partial(_as_json, name), in_thread=True)
            for name in every_table()
        ),
        *(
            Resource(
                f"/v1/tables/{name}.csv",
                get=partial(_as_csv, name),
                produces=CSV,
                in_thread=True,
            )
            for name in every_table()
        ),
    ]


# no table changes while the service runs
@cache
def _in_json(name: str) -> Representation:
    return Representation(encode(printed_table(name)), kept={})


@cache
def _in_csv(name: str) -> Representation:
    headers = (attached(f"percell-{name}"),)
    return Representation(_printed_as_csv(name), HEADED, headers, kept={})


def _as_json(name: str, _: Call) -> Representation:
    return _in_json(name)


def _as_csv(name: str, _: Call) -> Representation:
    return _in_csv(name)


def _printed_as_csv(name: str) -> bytes:
    table = printed_table(name)
    return table_as_csv(table, table.immaterial, table.caveat)


# an own table of the example: two ratings by two layouts
_OWN: dict[str, Any] = {
    "question": "lowest-resistance",
    "fixed": {"meter_counts": 2},
    "rows_by": {
        "field": "cell_rating_a",
        "heading": "Cell rating",
        "unit": "A",
        "values": [15, 18],
    },
    "columns_by": [{"field": "layout", "heading": "Layout", "values": ["1S1P", "1S2P"]}],
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


def own_table_operation(*, in_csv: bool = False) -> dict[str, Any]:
    """Return the description of a table of the caller's own, in JSON or in CSV."""
    found = answer_own(encode(_OWN))
    return operation(
        "ask_own_table_as_csv" if in_csv else "ask_own_table",
        f"A table of your own{' as CSV' if in_csv else ''}",
        "Answers of one question for rows and columns that you choose, rounded as you say. The service keeps nothing.",
        MANY,
        body=json_content(OwnTableAsked, _OWN),
        answer="The table.",
        content=text_content(CSV.decode(), table_as_csv(found).decode())
        if in_csv
        else json_content(OwnTable),
        problems=BODY_PROBLEMS,
    )


def tables_operations() -> dict[str, Any]:
    """Return the description of the list of tables, and of a table of the caller's own."""
    return {
        "get": catalogue("list_tables", "All printed tables", TableList),
        "post": own_table_operation(),
    }


_TABLE_PARAMETER = {
    "name": "table",
    "in": "path",
    "required": True,
    "description": "Id of the table.",
    "schema": {"$ref": REF.format(name="TableName")},
}
# named, so that a made client has one list of them and not one for each path
TABLE_NAME = {"type": "string", "enum": list(every_table())}


def table_operation(*, in_csv: bool = False) -> dict[str, Any]:
    """Return the description of a printed table, in JSON or in CSV."""
    title = f"One printed table{' as CSV' if in_csv else ''}"
    return operation(
        "get_table_as_csv" if in_csv else "get_table",
        title,
        "The whole table as CSV (RFC 4180), with one line per entry."
        if in_csv
        else "The whole table.",
        CATALOGUES,
        answer=f"{title}.",
        content=text_content(CSV.decode()) if in_csv else json_content(PrintedTable),
        problems=(406, 400, 404, 422),
        cached=True,
    ) | {"parameters": [_TABLE_PARAMETER]}
