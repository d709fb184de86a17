"""One question over HTTP: by body or by query."""

from collections.abc import Callable
from typing import Any

import msgspec

from percell.questions.answering.echo import given
from percell.questions.answering.question import Question
from percell.questions.vocabulary.sharing import may_draw
from percell.web.call import BODY_LIMIT, Call
from percell.web.deprecation import deprecation_headers
from percell.web.query import names_of, read_query
from percell.web.resource import Get, Later, Representation, Resource, encode
from percell.web.translate import ERRORS, NO_ANSWER, failed, unanswered

# how an answer becomes what is sent
Write = Callable[[Any], Representation]


def in_full(answer: Any) -> Representation:
    """Return a whole answer as JSON."""
    return Representation(encode(answer))


def names_decoder(question: Question) -> Callable[[bytes], dict[str, Any]]:
    """Return a reader of the names in a body that is known to be right: which fields it gives."""
    # long lists that no answer repeats are not read twice
    of_each: Any = msgspec.Raw if question.repeated else Any
    return msgspec.json.Decoder(dict[str, of_each]).decode


def question_resource(question: Question) -> Resource:
    """Return the resource of one question."""
    return ask_resource(f"/v1/{question.id}", question, in_full)


def ask_resource(path: str, question: Question, write: Write) -> Resource:
    """Return a resource that answers a question by body and, if it has a query form, by query."""
    decode = msgspec.json.Decoder(question.asked).decode
    decode_names = names_decoder(question)

    def post(_: Call, body: bytes) -> Representation | Later:
        try:
            read: Any = decode(body)
            names = decode_names(body)
        except ERRORS as error:
            raise failed(error, question.asked, body) from None
        return _answer_or_later(question, read, names, write)

    return Resource(
        path,
        post=post,
        get=by_query(question, write) if question.has_query else None,
        limit=question.body_limit or BODY_LIMIT,
        in_thread=question.slow,
        headers=deprecation_headers(question.deprecated),
        reads_query=("GET",),
    )


def query_resource(path: str, question: Question, get: Get, media: bytes) -> Resource:
    """Return a resource that answers a question by query alone."""
    return Resource(
        path,
        get=get,
        produces=media,
        in_thread=question.slow,
        headers=deprecation_headers(question.deprecated),
        reads_query=("GET",),
    )


def by_query(question: Question, write: Write) -> Get:
    """Return what answers a question by query."""
    known = names_of(question.asked)
    return lambda call: answer_query(question, read_query(call.query, known), write)


def answer_query(
    question: Question, fields: dict[str, Any], write: Write
) -> Representation | Later:
    """Return the answer to the fields of a query, or how to calculate it."""
    try:
        read = msgspec.convert(fields, question.asked, strict=False)
    except ERRORS as error:
        raise failed(error, question.asked, fields) from None
    return _answer_or_later(question, read, fields, write)


def _answer_or_later(
    question: Question, asked: Any, names: dict[str, Any], write: Write
) -> Representation | Later:
    """Return the answer, or how to calculate it if that would keep other requests waiting.

    ``names`` has the fields that the caller gave, for the answer to repeat.
    """
    if question.heavy or may_draw(asked):
        return Later(lambda: _answer(question, asked, names, write))
    return _answer(question, asked, names, write)


def _answer(question: Question, asked: Any, names: dict[str, Any], write: Write) -> Representation:
    try:
        return write(question.answer(asked, given(asked, names)))
    except NO_ANSWER as error:
        raise unanswered(error) from None
