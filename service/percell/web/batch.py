"""Many questions in one request."""

from collections.abc import Callable, Iterator
from typing import Annotated, Any

import msgspec
from msgspec import Meta, Struct

from percell.questions.answering.echo import given
from percell.questions.answering.question import Question
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.sharing import may_draw
from percell.web.ask import json_error, names_decoder
from percell.web.operations import BODY_PROBLEMS, MANY, REF, builtins, json_content, operation
from percell.web.problems import Failed, FieldError, Problem
from percell.web.resource import Representation, Resource, encode
from percell.web.translate import ERRORS, failed

BATCH_LIMIT = 1000
# a batch holds at most this many slow questions
SLOW_LIMIT = 4
# and at most this many heavy ones, which take many times as long as the others
HEAVY_LIMIT = 50


class BatchItem(Struct, frozen=True, forbid_unknown_fields=True):
    """One question of a batch."""

    question: str
    ask: msgspec.Raw


class Batch(Struct, frozen=True, forbid_unknown_fields=True):
    """Questions in one request. Each is answered individually."""

    items: Annotated[list[msgspec.Raw], Meta(min_length=1, max_length=BATCH_LIMIT)]


class BatchAnswer(Struct, frozen=True, gc=False, omit_defaults=True):
    """The outcome of one question: an answer or a problem."""

    status: int
    answer: Any = None
    problem: Problem | None = None


class BatchAnswers(Struct, frozen=True, gc=False):
    """The outcome of each question, in the order asked."""

    items: list[BatchAnswer]


_decode_batch = msgspec.json.Decoder(Batch).decode
_decode_item = msgspec.json.Decoder(BatchItem).decode
_BY_ID: dict[str, tuple[Callable[[Any], Any], Callable[[Any], Any], Question]] = {
    question.id: (msgspec.json.Decoder(question.asked).decode, names_decoder(question), question)
    for question in QUESTIONS.values()
}


def _outcome(
    index: int, raw: msgspec.Raw, slow_places: Iterator[int], heavy_places: Iterator[int]
) -> BatchAnswer:
    asked, at = None, f"/items/{index}"
    try:
        item = _decode_item(raw)
        known = _BY_ID.get(item.question)
        if not known:
            raise _unknown_question(item.question, at)
        decode, decode_names, question = known
        if question.slow and next(slow_places, None) is None:
            raise _too_many(question.id, SLOW_LIMIT, at)
        asked, at = question.asked, f"{at}/ask"
        read, names = decode(item.ask), decode_names(item.ask)
        if _is_heavy(question, read) and next(heavy_places, None) is None:
            raise _too_many(question.id, HEAVY_LIMIT, f"/items/{index}")
        return BatchAnswer(200, question.answer(read, given(read, names)))
    except ERRORS as error:
        failure = failed(error, asked, at=at)
    except Failed as error:
        failure = error
    return BatchAnswer(failure.status, problem=failure.problem)


def _unknown_question(name: str, at: str) -> Failed:
    detail = f"There is no question {name[:40]!r}. Use one of: {', '.join(QUESTIONS)}."
    return Failed("outside-contract", detail, errors=[FieldError(f"{at}/question", detail)])


def _is_heavy(question: Question, asked: Any) -> bool:
    return question.heavy or may_draw(asked)


def _too_many(name: str, limit: int, at: str) -> Failed:
    detail = f"A batch can hold {limit} questions as slow as {name}. Ask the others separately."
    return Failed("outside-contract", detail, errors=[FieldError(f"{at}/question", detail)])


def answer_batch(body: bytes) -> BatchAnswers:
    """Answer a batch. Only a body that is not a batch fails as a whole."""
    try:
        body.decode()  # the decoder skips the items, even bytes in them that are not UTF-8
        batch = _decode_batch(body)
    except ERRORS as error:
        raise failed(json_error(body) or error) from None
    places = iter(range(SLOW_LIMIT)), iter(range(HEAVY_LIMIT))
    return BatchAnswers([_outcome(index, raw, *places) for index, raw in enumerate(batch.items)])


def batch_resource() -> Resource:
    """Return the resource that answers many questions at once."""
    return Resource(
        "/v1/batch",
        post=lambda _, body: Representation(encode(answer_batch(body))),
        in_thread=True,
    )


def batch_operation() -> dict[str, Any]:
    """Return the description of the batch."""
    asked = {"items": [{"question": q.id, "ask": q.example} for q in list(QUESTIONS.values())[1:3]]}
    return operation(
        "ask_batch",
        "Many questions at once",
        "Up to 1,000 questions, answered in order. Each one can fail without failing the others.",
        MANY,
        body=json_content(Batch, asked),
        answer="An answer or a problem for each question.",
        content=json_content(BatchAnswers, builtins(answer_batch(encode(asked)))),
        problems=BODY_PROBLEMS,
    )


def describe_items(schemas: dict[str, Any]) -> None:
    """Add the items of a batch to the schemas of the document.

    msgspec keeps them raw, so the fault of one item does not fail the whole batch.
    """
    reference = {q.id: {"$ref": REF.format(name=_item_name(q))} for q in QUESTIONS.values()}
    schemas["Batch"]["properties"]["items"]["items"] = {
        "oneOf": list(reference.values()),
        "discriminator": {
            "propertyName": "question",
            "mapping": {name: one["$ref"] for name, one in reference.items()},
        },
    }
    for question in QUESTIONS.values():
        schemas[_item_name(question)] = {
            "type": "object",
            "title": _item_name(question),
            "description": f"Asks `{question.id}` in a batch.",
            "properties": {
                "question": {"type": "string", "const": question.id},
                "ask": {"$ref": REF.format(name=question.asked.__name__)},
            },
            "required": ["question", "ask"],
            "additionalProperties": False,
        }
    outcome = schemas["BatchAnswer"]["properties"]
    outcome["answer"] = {
        "anyOf": [{"$ref": REF.format(name=q.answered.__name__)} for q in QUESTIONS.values()]
    }
    outcome["problem"] = {"$ref": REF.format(name="Problem")}


def _item_name(question: Question) -> str:
    return f"{question.asked.__name__}Item"
