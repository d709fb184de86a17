"""The questions over HTTP: one by body, one by query, many in a batch."""

from collections.abc import Callable, Iterator
from typing import Annotated, Any

import msgspec
from msgspec import Meta, Struct

from percell.physics.errors import NoSolution
from percell.questions.registry import QUESTIONS, Question
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.sharing import Spread
from percell.web.ask_csv import answer_csv, with_query
from percell.web.problems import Failed, FieldError, Problem, failed
from percell.web.query import read_query
from percell.web.resource import BODY_LIMIT, Call, Reply, Resource, Stream

BATCH_LIMIT = 1000
# of those that take long, a batch holds no more than this
SLOW_LIMIT = 4
# nor more than this of those that take many times what a plain one takes
HEAVY_LIMIT = 50
# what a question may raise by its input; anything else is a defect and ends in a 500
ERRORS = (NoSolution, Refused, msgspec.MsgspecError, UnicodeDecodeError, RecursionError)

encode = msgspec.json.Encoder().encode


async def _from_csv(call: Call) -> Reply:
    return Reply(encode(await answer_csv(call)))


# questions that are also read as they arrive, by media type
STREAMS: dict[str, dict[bytes, Stream]] = {"discharge-test": {b"text/csv": _from_csv}}


def question_resource(question: Question) -> Resource:
    """Return the resource of one question."""
    decode = msgspec.json.Decoder(question.asked).decode
    answer, asked = question.answer, question.asked
    streams = STREAMS.get(question.id, {})

    def post(call: Call, body: bytes) -> Reply:
        try:
            read: Any = decode(body)
            if streams:
                read = with_query(read, body, call.query)
            return Reply(encode(answer(read)))
        except ERRORS as error:
            raise failed(_first(error, body), asked) from None

    def get(call: Call) -> Reply:
        fields = read_query(call.query)
        try:
            return Reply(encode(answer(msgspec.convert(fields, asked, strict=False))))
        except ERRORS as error:
            raise failed(error, asked, unreadable="unreadable-query") from None

    return Resource(
        f"/v1/{question.id}",
        post=post,
        get=get if question.has_query else None,
        limit=question.body_limit or BODY_LIMIT,
        apart=question.slow,
        streams=streams,
        deaf=() if streams else ("POST",),
    )


def _first(error: Exception, body: bytes) -> Exception:
    """Return what is wrong with a body first of all: that it is no JSON, before what it says."""
    try:
        msgspec.json.decode(body)
    except ERRORS as unreadable:
        return unreadable
    return error


class BatchItem(Struct, frozen=True, forbid_unknown_fields=True):
    """One question of a batch."""

    question: str
    ask: msgspec.Raw


class Batch(Struct, frozen=True, forbid_unknown_fields=True):
    """Questions to answer in one go, each on its own."""

    items: Annotated[list[msgspec.Raw], Meta(min_length=1, max_length=BATCH_LIMIT)]


class BatchAnswer(Struct, frozen=True, gc=False, omit_defaults=True):
    """What became of one question: an answer or a problem."""

    status: int
    answer: Any = None
    problem: Problem | None = None


class BatchAnswers(Struct, frozen=True, gc=False):
    """What became of each question, in the order in which they were asked."""

    items: list[BatchAnswer]


_decode_batch = msgspec.json.Decoder(Batch).decode
_decode_item = msgspec.json.Decoder(BatchItem).decode
_BY_ID: dict[str, tuple[Callable[[Any], Any], Question]] = {
    question.id: (msgspec.json.Decoder(question.asked).decode, question)
    for question in QUESTIONS.values()
}


def _one(
    index: int, raw: msgspec.Raw, slow_places: Iterator[int], heavy_places: Iterator[int]
) -> BatchAnswer:
    asked, at = None, f"/items/{index}"
    try:
        item = _decode_item(raw)
        known = _BY_ID.get(item.question)
        if not known:
            raise _unknown_question(item.question, at)
        decode, question = known
        if question.slow and next(slow_places, None) is None:
            raise _too_many(question.id, SLOW_LIMIT, at)
        asked, at = question.asked, f"{at}/ask"
        read = decode(item.ask)
        if _is_heavy(question, read) and next(heavy_places, None) is None:
            raise _too_many(question.id, HEAVY_LIMIT, f"/items/{index}")
        return BatchAnswer(200, question.answer(read))
    except ERRORS as error:
        failure = failed(error, asked, at=at)
    except Failed as error:
        failure = error
    return BatchAnswer(failure.status, problem=failure.problem)


def _unknown_question(name: str, at: str) -> Failed:
    detail = f"There is no question {name[:40]!r}. There are: {', '.join(QUESTIONS)}."
    return Failed("outside-contract", detail, errors=[FieldError(f"{at}/question", detail)])


def _is_heavy(question: Question, asked: Any) -> bool:
    # a spread of the cells is drawn at random, whichever question it stands in, but for the usual one
    sharing = getattr(asked, "sharing", None)
    return question.heavy or (isinstance(sharing, Spread) and not sharing.is_usual)


def _too_many(name: str, limit: int, at: str) -> Failed:
    detail = (
        f"A batch holds at most {limit} questions that take as long as {name}: ask it by itself."
    )
    return Failed("outside-contract", detail, errors=[FieldError(f"{at}/question", detail)])


def answer_batch(body: bytes) -> BatchAnswers:
    """Answer a batch. Only a body that is no batch fails as a whole."""
    try:
        body.decode()  # the items are skipped over unread, which lets bytes pass that are no UTF-8
        batch = _decode_batch(body)
    except ERRORS as error:
        raise failed(_first(error, body)) from None
    places = iter(range(SLOW_LIMIT)), iter(range(HEAVY_LIMIT))
    return BatchAnswers([_one(index, raw, *places) for index, raw in enumerate(batch.items)])


def batch_resource() -> Resource:
    """Return the resource that answers many questions at once."""
    return Resource(
        "/v1/batch",
        post=lambda _, body: Reply(encode(answer_batch(body))),
        apart=True,
        deaf=("POST",),
    )
