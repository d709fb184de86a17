"""One question over HTTP: by body or by query."""

from collections.abc import Callable
from typing import Any

import msgspec

from percell.questions.answering.echo import given
from percell.questions.answering.question import Question
from percell.questions.vocabulary.sharing import may_draw
from percell.web.ask_csv import answer_csv, with_query
from percell.web.call import BODY_LIMIT, Call
from percell.web.deprecation import deprecation_headers
from percell.web.query import lists_of, read_query
from percell.web.resource import Later, Representation, Resource, Stream, encode
from percell.web.translate import ERRORS, NO_ANSWER, failed, unanswered


async def _from_csv(call: Call) -> Representation:
    return Representation(encode(await answer_csv(call)))


# by question and media type: the function that reads the body as it arrives
STREAMS: dict[str, dict[bytes, Stream]] = {"discharge-test": {b"text/csv": _from_csv}}


def names_decoder(question: Question) -> Callable[[bytes], dict[str, Any]]:
    """Return a reader of the names in a body that is known to be right: which fields it gives."""
    # long lists that no answer repeats are not read twice
    of_each: Any = msgspec.Raw if question.repeated else Any
    return msgspec.json.Decoder(dict[str, of_each]).decode


def question_resource(question: Question) -> Resource:
    """Return the resource of one question."""
    decode = msgspec.json.Decoder(question.asked).decode
    decode_names = names_decoder(question)
    asked = question.asked
    streams, lists = STREAMS.get(question.id, {}), lists_of(asked)

    def post(call: Call, body: bytes) -> Representation | Later:
        try:
            read: Any = decode(body)
            names = decode_names(body)
            if streams:
                read, names = with_query(read, names, call.query)
        except ERRORS as error:
            raise failed(error, asked, body) from None
        return answer_or_later(question, read, names)

    def get(call: Call) -> Representation | Later:
        fields = read_query(call.query, lists)
        try:
            read = msgspec.convert(fields, asked, strict=False)
        except ERRORS as error:
            raise failed(error, asked, fields) from None
        return answer_or_later(question, read, fields)

    return Resource(
        f"/v1/{question.id}",
        post=post,
        get=get if question.has_query else None,
        limit=question.body_limit or BODY_LIMIT,
        in_thread=question.slow,
        streams=streams,
        headers=deprecation_headers(question.deprecated),
        reads_query=("GET", "POST") if streams else ("GET",),
    )


def answer_or_later(
    question: Question, asked: Any, names: dict[str, Any]
) -> Representation | Later:
    """Return the answer as JSON, or how to calculate it if that would keep other requests waiting.

    ``names`` has the fields that the caller gave, for the answer to repeat.
    """
    if question.heavy or may_draw(asked):
        return Later(lambda: _answer(question, asked, names))
    return _answer(question, asked, names)


def _answer(question: Question, asked: Any, names: dict[str, Any]) -> Representation:
    try:
        return Representation(encode(question.answer(asked, given(asked, names))))
    except NO_ANSWER as error:
        raise unanswered(error) from None
