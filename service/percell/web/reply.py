"""An answer as text to paste, over HTTP."""

import os
import re
from functools import cache
from typing import Any

import msgspec
from msgspec import Struct

from percell.questions.answering.headline import Headline
from percell.questions.answering.question import Question
from percell.questions.answering.reply import Form, reply
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.sharing import may_draw
from percell.web.call import Call
from percell.web.operations import MANY, QUERY_PROBLEMS, operation, text_content
from percell.web.query import read_query
from percell.web.resource import Later, Representation, Resource
from percell.web.translate import ERRORS, NO_ANSWER, failed, no_such_question, unanswered

TEXT = b"text/plain"
_HOST = re.compile(rb"[A-Za-z0-9.:\[\]-]{1,255}")


class ReplyAsked(Struct, frozen=True):
    """Which question, in which markup; the question's own fields stand beside these."""

    question: str
    format: Form = Form.PLAIN


@cache
def questions_with_reply() -> dict[str, tuple[Question, Headline]]:
    """Return the questions that have a reply, each with its headline."""
    return {name: (q, q.headline) for name, q in QUESTIONS.items() if q.headline}


def _get(call: Call) -> Representation | Later:
    fields = read_query(call.query)
    own = {name: fields.pop(name) for name in ReplyAsked.__struct_fields__ if name in fields}
    try:
        wanted = msgspec.convert(own, ReplyAsked)
    except ERRORS as error:
        raise failed(error, ReplyAsked, own) from None
    if wanted.question not in questions_with_reply():
        raise no_such_question(wanted.question, questions_with_reply(), "/question")
    question, headline = questions_with_reply()[wanted.question]
    try:
        asked = msgspec.convert(fields, question.asked, strict=False)
    except ERRORS as error:
        raise failed(error, question.asked, fields) from None

    def as_text() -> Representation:
        try:
            answer = question.answer(asked)
        except NO_ANSWER as error:
            raise unanswered(error) from None
        text = reply(
            title=question.title,
            subject=question.subject,
            headline=headline,
            asked=_flat(fields),
            answer=answer,
            form=wanted.format,
            site=_site(call),
        )
        return Representation(text.encode(), b"text/plain; charset=utf-8")

    return Later(as_text) if question.heavy or may_draw(asked) else as_text()


def _flat(fields: dict[str, Any], before: str = "") -> dict[str, Any]:
    """Return the fields under their names in the query."""
    flat: dict[str, Any] = {}
    for name, value in fields.items():
        if isinstance(value, dict):
            flat |= _flat(value, f"{before}{name}.")
        else:
            flat[before + name] = value
    return flat


def _site(call: Call) -> str:
    """Return the site's address: the configured one, or the host of this request."""
    configured = os.environ.get("PERCELL_SITE_URL")
    if configured:
        return configured.rstrip("/")
    host = call.headers.get(b"host", b"")
    return f"{call.scheme}://{host.decode()}" if _HOST.fullmatch(host) else ""


def reply_resource() -> Resource:
    """Return the resource that answers as text to paste."""
    return Resource("/v1/reply", get=_get, produces=TEXT, reads_query=("GET",))


def reply_operation() -> dict[str, Any]:
    """Return the description of the reply."""
    question, headline = questions_with_reply()["direct-load"]
    text = reply(
        title=question.title,
        subject=question.subject,
        headline=headline,
        asked=question.example,
        answer=question.answer(msgspec.convert(question.example, question.asked)),
        form=Form.PLAIN,
        site="http://percell.example",
    )
    return operation(
        "get_reply",
        "An answer as text to paste",
        "Answer as text to paste: the figure, its condition, two lines of working, the caution and a link "
        "to the table row. Add the question's own fields to the query.",
        MANY,
        parameters=[
            {
                "name": "question",
                "in": "query",
                "required": True,
                "description": "The question to ask.",
                "schema": {"type": "string", "enum": list(questions_with_reply())},
                "example": question.id,
            },
            {
                "name": "format",
                "in": "query",
                "required": False,
                "description": f"Markup of the text. Default: {Form.PLAIN}.",
                "schema": {
                    "type": "string",
                    "enum": [form.value for form in Form],
                },
            },
            {
                "name": "fields",
                "in": "query",
                "required": False,
                "description": "Fields of the question, each with its own name.",
                "style": "form",
                "explode": True,
                "schema": {"type": "object", "additionalProperties": {"type": "string"}},
                "example": {name: str(value) for name, value in question.example.items()},
            },
        ],
        answer="The text.",
        content=text_content(TEXT.decode(), text),
        problems=QUERY_PROBLEMS,
        cached=True,
    )
