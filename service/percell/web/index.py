"""The first page of the API: every question by subject, and where everything else is."""

from typing import Annotated, Any

from msgspec import UNSET, Meta, Struct, UnsetType

from percell import VERSION
from percell.questions.answering.question import Question, Subject
from percell.questions.registry import QUESTIONS
from percell.web.ask_pages.words import ASKING
from percell.web.operations import catalogue

DOCUMENT = "/openapi.json"
KIT = "/conformance.jsonl"
GUIDE = "/api/"
TRY_PAGE = "/docs/api/"


class IndexQuestion(Struct, frozen=True, kw_only=True):
    """A question, and where it is asked and explained."""

    question: Annotated[str, Meta(description="Id of the question.")]
    label: Annotated[str, Meta(description="Title of the question.")]
    description: Annotated[str, Meta(description="The question and its answer, in one sentence.")]
    path: Annotated[str, Meta(description="Path that answers POST and, with a query, GET.")]
    short: Annotated[str, Meta(description="Path of the answer without working and assumptions.")]
    csv: Annotated[
        str | UnsetType, Meta(description="Path of the answer as CSV, where a query can ask.")
    ] = UNSET
    reply: Annotated[
        str | UnsetType,
        Meta(description="Path of the answer as text to paste, where a query can ask."),
    ] = UNSET
    ask: Annotated[str, Meta(description="Path of the page on which people type their numbers.")]
    people_ask: Annotated[
        str, Meta(description="The question in everyday words, the title of that page.")
    ]
    method: Annotated[str, Meta(description="The site's page on how it is calculated.")]


class IndexGroup(Struct, frozen=True):
    """The questions of one subject."""

    group: Annotated[Subject, Meta(description="The subject.")]
    description: Annotated[str, Meta(description="What the questions of the subject are about.")]
    questions: Annotated[list[IndexQuestion], Meta(description="The questions.")]


class ApiIndex(Struct, frozen=True):
    """What the API has, and where it is."""

    version: Annotated[str, Meta(description="Version of percell.")]
    groups: Annotated[list[IndexGroup], Meta(description="The questions, by subject.")]
    batch: Annotated[str, Meta(description="Path that answers many questions at once, by POST.")]
    tables: Annotated[str, Meta(description="Path of the list of printed tables.")]
    reference: Annotated[
        str, Meta(description="Path of the rules, cautions, chemistries and problem types.")
    ]
    document: Annotated[str, Meta(description="Path of the OpenAPI document.")]
    conformance: Annotated[
        str, Meta(description="Path of requests with the answers of this version, as JSON Lines.")
    ]
    guide: Annotated[str, Meta(description="The site's guide to the API.")]
    try_page: Annotated[str, Meta(description="The site's page with a form for each question.")]
    cautions: Annotated[str, Meta(description="The site's page of cautions: read it first.")]


def index() -> ApiIndex:
    """Return the first page of the API."""
    return ApiIndex(
        version=VERSION,
        groups=[
            IndexGroup(
                subject,
                subject.meaning,
                [_entry(q) for q in QUESTIONS.values() if q.subject is subject],
            )
            for subject in Subject
        ],
        batch="/v1/batch",
        tables="/v1/tables",
        reference="/v1/reference",
        document=DOCUMENT,
        conformance=KIT,
        guide=GUIDE,
        try_page=TRY_PAGE,
        cautions="/cautions/",
    )


def _entry(question: Question) -> IndexQuestion:
    return IndexQuestion(
        question=question.id,
        label=question.title,
        description=question.description,
        path=f"/v1/{question.id}",
        short=f"/v1/short/{question.id}",
        csv=f"/v1/csv/{question.id}" if question.has_query else UNSET,
        reply=f"/v1/reply/{question.id}" if question.has_query else UNSET,
        ask=f"/ask/{question.id}",
        people_ask=ASKING[question.id].title,
        method=f"/method/#{question.id}",
    )


def index_operation() -> dict[str, Any]:
    """Return the description of the first page."""
    return catalogue("get_index", "Every question by subject, and all paths", ApiIndex)
