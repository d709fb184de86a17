"""A discharge log in CSV as a question over HTTP: the log in the body, limits and columns in the query."""

from functools import partial
from typing import Any, NamedTuple

import msgspec

from percell.questions.answering.echo import given
from percell.questions.bench.discharge_logs import DischargeLimits
from percell.questions.bench.discharge_test import QUESTION, answer_logs
from percell.questions.vocabulary.refusal import RefusedAll
from percell.web.call import BODY_LIMIT, Call
from percell.web.csv_log import LogReader, NotUtf8
from percell.web.log_names import GivenColumns
from percell.web.problems import Failed
from percell.web.query import names_of, read_query
from percell.web.resource import Representation, Resource, encode
from percell.web.translate import failed, unanswered
from percell.web.worker import beside_loop

# the first log of the JSON example, invented
EXAMPLE = """time_s,voltage_v,current_a,temperature_c
0,4.15,0,22
10,4.15,0,22
11,3.75,20,22.1
60,3.66,20,25
120,3.58,20,29
180,3.5,20,33
240,3.42,20,37
300,3.34,20,41
360,3.26,20,45
420,3.17,20,49
480,3.05,20,53
520,2.78,20,56
521,3.2,0,56.2
570,3.3,0,55.5
"""


class Typed(NamedTuple):
    """What a query says beside a log: limits, columns, and the fields of the limits that were given."""

    limits: DischargeLimits
    columns: GivenColumns
    fields: dict[str, Any]


def limits_and_columns(query: bytes) -> Typed:
    """Return the limits, and what the caller says of columns.

    Raises:
        Failed: The query cannot be read.
    """
    fields = read_query(query, names_of(DischargeLimits, GivenColumns))
    of_columns = {
        name: fields.pop(name) for name in GivenColumns.__struct_fields__ if name in fields
    }
    try:
        limits = msgspec.convert(fields, DischargeLimits, strict=False)
        columns = msgspec.convert(of_columns, GivenColumns, strict=False)
    except msgspec.ValidationError as error:
        raise failed(error, DischargeLimits, fields, beside=(GivenColumns, of_columns)) from None
    return Typed(limits, columns, fields)


async def answer_csv(call: Call) -> msgspec.Struct:
    """Answer for one log in the body, with the limits and what the caller says of columns in the query."""
    limits, columns, fields = limits_and_columns(call.query)
    reader = LogReader(columns)
    try:
        # the reader ignores the rest of a log with many faults, but a client that still sends it
        # cannot read the answer before the whole body is read
        async for part in call.parts():
            await beside_loop(partial(reader.feed, part))
        log = reader.finish(limits)
        # a noisy log has many steps
        return await beside_loop(lambda: answer_logs([log], limits, given(limits, fields)))
    except NotUtf8:
        raise Failed("unreadable-body", "The body is not UTF-8.") from None
    except RefusedAll as error:
        raise unanswered(error) from None


async def _answer(call: Call) -> Representation:
    return Representation(encode(await answer_csv(call)))


def log_resource() -> Resource:
    """Return the resource that answers the upload of a log."""
    # a program that knows no CSV can send it as bytes
    consumes = (b"text/csv", b"application/octet-stream")
    return Resource(
        "/v1/discharge-test/log",
        stream=_answer,
        consumes=consumes,
        limit=QUESTION.body_limit or BODY_LIMIT,
    )
