"""Many questions in one request."""

from collections.abc import Callable, Iterator
from enum import StrEnum
from typing import Annotated, Any

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell import VERSION
from percell.questions.answering.echo import given
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.question import Question
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.cautions import CAUTIONS, Caution
from percell.questions.vocabulary.refusal import FaultCode
from percell.questions.vocabulary.sharing import may_draw
from percell.web.ask import names_decoder
from percell.web.operations import (
    BODY_PROBLEMS,
    MANY,
    REF,
    builtins,
    json_content,
    operation,
)
from percell.web.problems import Failed, Problem, failed_field
from percell.web.resource import Representation, Resource, encode
from percell.web.translate import ERRORS, failed, no_such_question

BATCH_LIMIT = 1000
# a batch holds at most this many slow questions
SLOW_LIMIT = 4
# and at most this many heavy ones, which take many times as long as the others
HEAVY_LIMIT = 50


class BatchItem(Struct, frozen=True, forbid_unknown_fields=True):
    """One question of a batch."""

    question: str
    ask: msgspec.Raw


class BatchForm(StrEnum):
    """Length of each answer of a batch."""

    FULL = "full"
    SHORT = "short"


class Batch(Struct, frozen=True, forbid_unknown_fields=True):
    """Questions to answer in one request, each on its own."""

    items: Annotated[
        list[msgspec.Raw],
        Meta(min_length=1, max_length=BATCH_LIMIT, description="The questions."),
    ]
    form: Annotated[
        BatchForm,
        Meta(
            description="`short` leaves out working, assumptions, and findings that are only notes."
        ),
    ] = BatchForm.FULL


class BatchAnswer(Struct, frozen=True, gc=False, kw_only=True):
    """The outcome of one question: an answer or a problem."""

    question: Annotated[
        str | UnsetType, Meta(description="The question, if the item names one that exists.")
    ] = UNSET
    status: Annotated[int, Meta(description="HTTP status of this question alone.")]
    answer: Annotated[Any, Meta(description="Answer, without its working and assumptions.")] = UNSET
    working: Annotated[
        list[WorkingStep] | UnsetType, Meta(description="Steps of the calculation, in order.")
    ] = UNSET
    assumptions: Annotated[
        list[Assumption] | UnsetType,
        Meta(description="Every default in use."),
    ] = UNSET
    problem: Annotated[Problem | UnsetType, Meta(description="Why there is no answer.")] = UNSET


class BatchAnswers(Struct, frozen=True, gc=False):
    """The outcome of each question, in the order asked."""

    version: Annotated[str, Meta(description="Version of percell that gave the answers.")]
    items: Annotated[
        list[BatchAnswer],
        Meta(description="An answer or a problem for each question, in their order."),
    ]
    cautions: Annotated[
        tuple[Caution, ...], Meta(description="Cautions that always apply, once for all answers.")
    ]


_decode_batch = msgspec.json.Decoder(Batch).decode
_decode_item = msgspec.json.Decoder(BatchItem).decode
_BY_ID: dict[str, tuple[Callable[[Any], Any], Callable[[Any], Any], Question]] = {
    question.id: (msgspec.json.Decoder(question.asked).decode, names_decoder(question), question)
    for question in QUESTIONS.values()
}


def _outcome(
    index: int,
    raw: msgspec.Raw,
    form: BatchForm,
    request_id: str,
    slow_places: Iterator[int],
    heavy_places: Iterator[int],
) -> BatchAnswer:
    asked: type[Struct] = BatchItem
    body, at = raw, f"/items/{index}"
    named: str | UnsetType = UNSET
    try:
        try:
            item = _decode_item(raw)
        except msgspec.ValidationError:
            named = _named(raw)
            raise
        known = _BY_ID.get(item.question)
        if not known:
            raise no_such_question(item.question, QUESTIONS, f"{at}/question")
        decode, decode_names, question = known
        named = question.id
        if question.slow and next(slow_places, None) is None:
            raise _too_many(question.id, SLOW_LIMIT, at)
        asked, body, at = question.asked, item.ask, f"{at}/ask"
        read, names = decode(item.ask), decode_names(item.ask)
        if _is_heavy(question, read) and next(heavy_places, None) is None:
            raise _too_many(question.id, HEAVY_LIMIT, f"/items/{index}")
        answer: Any = question.answer(read, given(read, names))
        if form is BatchForm.SHORT:
            result = question.result_of(answer, notes=False)
            return BatchAnswer(question=named, status=200, answer=result)
        return BatchAnswer(
            question=named,
            status=200,
            answer=question.result_of(answer, notes=True),
            working=answer.working,
            assumptions=answer.assumptions,
        )
    except ERRORS as error:
        failure = failed(error, asked, body, at=at)
    except Failed as error:
        failure = error
    problem = failure.problem(request_id)
    return BatchAnswer(question=named, status=failure.status, problem=problem)


class _Naming(Struct):
    """What a wrong item still tells: which question it names."""

    question: str


def _named(raw: msgspec.Raw) -> str | UnsetType:
    try:
        name = msgspec.json.decode(raw, type=_Naming).question
    except ERRORS:
        return UNSET
    return name if name in _BY_ID else UNSET


def _is_heavy(question: Question, asked: Any) -> bool:
    return question.heavy or may_draw(asked)


def _too_many(name: str, limit: int, at: str) -> Failed:
    detail = f"A batch can hold {limit} questions as slow as {name}. Ask the others separately."
    return failed_field(f"{at}/question", detail, FaultCode.TOO_LONG)


def answer_batch(body: bytes, request_id: str) -> BatchAnswers:
    """Answer a batch. Only a body that is not a batch fails as a whole."""
    try:
        body.decode()  # the decoder skips the items, even bytes in them that are not UTF-8
        batch = _decode_batch(body)
    except ERRORS as error:
        raise failed(error, Batch, body) from None
    places = iter(range(SLOW_LIMIT)), iter(range(HEAVY_LIMIT))
    items = [_outcome(i, raw, batch.form, request_id, *places) for i, raw in enumerate(batch.items)]
    return BatchAnswers(VERSION, items, CAUTIONS)


def _in_pieces(answers: BatchAnswers) -> bytes:
    """Encode item by item, because other requests wait while one call encodes megabytes."""
    items: Any = [msgspec.Raw(encode(item)) for item in answers.items]
    return encode(structs.replace(answers, items=items))


def batch_resource() -> Resource:
    """Return the resource that answers many questions at once."""
    return Resource(
        "/v1/batch",
        post=lambda call, body: Representation(_in_pieces(answer_batch(body, call.id))),
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
        answer="An answer or a problem for each question. The example has only the first entries of each list.",
        content=json_content(BatchAnswers, _cut(builtins(answer_batch(encode(asked), "")))),
        problems=BODY_PROBLEMS,
    )


def _cut(value: Any) -> Any:
    """Return an example with the first entry of each of its lists."""
    if isinstance(value, list):
        return [_cut(part) for part in value[:1]]
    if isinstance(value, dict):
        return {name: _cut(part) for name, part in value.items()}
    return value


def _one_of(by_question: dict[str, dict[str, str]]) -> dict[str, Any]:
    return {
        "oneOf": list(by_question.values()),
        "discriminator": {
            "propertyName": "question",
            "mapping": {name: one["$ref"] for name, one in by_question.items()},
        },
    }


# the schema of a result of any question
ANY_RESULT = "AnyResult"


def describe_items(schemas: dict[str, Any]) -> None:
    """Add the items of a batch, and the results of all questions, to the schemas of the document.

    msgspec keeps them raw, so the fault of one item does not fail the whole batch.
    """
    reference = {q.id: {"$ref": REF.format(name=_item_name(q))} for q in QUESTIONS.values()}
    schemas["Batch"]["properties"]["items"]["items"] = _one_of(reference)
    for question in QUESTIONS.values():
        schemas[_item_name(question)] = {
            "type": "object",
            "properties": {
                "question": {"type": "string", "const": question.id},
                "ask": {"$ref": REF.format(name=question.asked.__name__)},
            },
            "required": ["question", "ask"],
            "additionalProperties": False,
        }
    outcome = schemas["BatchAnswer"]["properties"]
    outcome["answer"] |= {"$ref": REF.format(name=ANY_RESULT)}
    results = {q.id: {"$ref": REF.format(name=q.result.__name__)} for q in QUESTIONS.values()}
    described = {"description": "The result of any question, which it names."}
    schemas[ANY_RESULT] = described | _one_of(results)


def _item_name(question: Question) -> str:
    return f"{question.asked.__name__}Item"
