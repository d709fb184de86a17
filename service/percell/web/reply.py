"""An answer as text to paste, over HTTP."""

import os
import re
from typing import Any

import msgspec
from msgspec import Struct

from percell.questions.answering.headline import Headline
from percell.questions.answering.question import Question
from percell.questions.answering.reply import Form, reply
from percell.questions.registry import QUESTIONS
from percell.web.ask import ERRORS
from percell.web.problems import Failed, FieldError, failed
from percell.web.query import read_query
from percell.web.resource import Call, Reply, Resource

TEXT = b"text/plain"
_HOST = re.compile(rb"[A-Za-z0-9.:\[\]-]{1,255}")


class ReplyAsked(Struct, frozen=True):
    """Which question, in which markup; the question's own fields stand beside these."""

    question: str
    format: Form = Form.PLAIN


def replying() -> dict[str, tuple[Question, Headline]]:
    """Return the questions that a reply can be made of, and what it leads with."""
    return {name: (q, q.headline) for name, q in QUESTIONS.items() if q.headline}


def _get(call: Call) -> Reply:
    fields = read_query(call.query)
    own = {name: fields.pop(name) for name in ReplyAsked.__struct_fields__ if name in fields}
    try:
        wanted = msgspec.convert(own, ReplyAsked)
    except ERRORS as error:
        raise failed(error, ReplyAsked, unreadable="unreadable-query") from None
    if wanted.question not in replying():
        detail = f"There is no such question. There are: {', '.join(replying())}."
        raise Failed("outside-contract", detail, errors=[FieldError("/question", detail)])
    question, headline = replying()[wanted.question]
    try:
        answer = question.answer(msgspec.convert(fields, question.asked, strict=False))
    except ERRORS as error:
        raise failed(error, question.asked, unreadable="unreadable-query") from None
    text = reply(
        title=question.title,
        headline=headline,
        asked=_flat(fields),
        answer=answer,
        form=wanted.format,
        site=_site(call),
    )
    return Reply(text.encode(), b"text/plain; charset=utf-8")


def _flat(fields: dict[str, Any], before: str = "") -> dict[str, Any]:
    """Return the fields under the names that stand in the query."""
    flat: dict[str, Any] = {}
    for name, value in fields.items():
        if isinstance(value, dict):
            flat |= _flat(value, f"{before}{name}.")
        else:
            flat[before + name] = value
    return flat


def _site(call: Call) -> str:
    """Return the site's address: as configured, else where this request went to."""
    configured = os.environ.get("PERCELL_SITE_URL")
    if configured:
        return configured.rstrip("/")
    host = call.headers.get(b"host", b"")
    return f"{call.scheme}://{host.decode()}" if _HOST.fullmatch(host) else ""


def reply_resource() -> Resource:
    """Return the resource that answers as text to paste."""
    return Resource("/v1/reply", get=_get, forms=(TEXT,))
