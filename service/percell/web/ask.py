"""One question over HTTP: by body or by query."""

from typing import Any

import msgspec

from percell.questions.answering.question import Question
from percell.web.ask_csv import answer_csv, with_query
from percell.web.call import BODY_LIMIT, Call
from percell.web.query import read_query
from percell.web.resource import Representation, Resource, Stream, encode
from percell.web.translate import ERRORS, failed


async def _from_csv(call: Call) -> Representation:
    return Representation(encode(await answer_csv(call)))


# by question and media type: the function that reads the body as it arrives
STREAMS: dict[str, dict[bytes, Stream]] = {"discharge-test": {b"text/csv": _from_csv}}


def question_resource(question: Question) -> Resource:
    """Return the resource of one question."""
    decode = msgspec.json.Decoder(question.asked).decode
    answer, asked = question.answer, question.asked
    streams = STREAMS.get(question.id, {})

    def post(call: Call, body: bytes) -> Representation:
        try:
            read: Any = decode(body)
            if streams:
                read = with_query(read, body, call.query)
            return Representation(encode(answer(read)))
        except ERRORS as error:
            raise failed(json_error(body) or error, asked) from None

    def get(call: Call) -> Representation:
        fields = read_query(call.query)
        try:
            return Representation(encode(answer(msgspec.convert(fields, asked, strict=False))))
        except ERRORS as error:
            raise failed(error, asked, unreadable="unreadable-query") from None

    return Resource(
        f"/v1/{question.id}",
        post=post,
        get=get if question.has_query else None,
        limit=question.body_limit or BODY_LIMIT,
        in_thread=question.slow,
        streams=streams,
        reads_query=("GET", "POST") if streams else ("GET",),
    )


def json_error(body: bytes) -> Exception | None:
    """Return why a body is not JSON, or None if it is. This is checked before its content."""
    try:
        msgspec.json.decode(body)
    except ERRORS as error:
        return error
    return None
