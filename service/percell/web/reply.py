"""An answer as text to paste, over HTTP."""

from functools import partial
from typing import Any

import msgspec
from msgspec import Struct

from percell.questions.answering.question import Question
from percell.questions.answering.reply import Markup, reply
from percell.questions.cell.label_doubt import doubt_of
from percell.questions.registry import QUESTIONS
from percell.web.address import site_address
from percell.web.ask import answer_query, query_resource
from percell.web.call import Call
from percell.web.query import names_of, read_query
from percell.web.resource import Later, Representation, Resource
from percell.web.translate import ERRORS, failed

TEXT = b"text/plain"


class ReplyAsked(Struct, frozen=True):
    """How to write a reply, in addition to the fields of the question."""

    markup: Markup = Markup.PLAIN


def reply_resources() -> list[Resource]:
    """Return the resources that answer as text to paste, one for each question with a query form."""
    return [
        query_resource(f"/v1/reply/{question.id}", question, partial(_get, question), TEXT)
        for question in QUESTIONS.values()
        if question.has_query
    ]


def _get(question: Question, call: Call) -> Representation | Later:
    fields = read_query(call.query, names_of(question.asked, ReplyAsked))
    own = {name: fields.pop(name) for name in ReplyAsked.__struct_fields__ if name in fields}
    try:
        markup = msgspec.convert(own, ReplyAsked).markup
    except ERRORS as error:
        raise failed(error, ReplyAsked, own, beside=(question.asked, fields)) from None

    def write(answer: Any) -> Representation:
        text = text_of(question, answer, markup, site_address())
        return Representation(text.encode(), b"text/plain; charset=utf-8")

    return answer_query(question, fields, write)


def text_of(question: Question, answer: Any, markup: Markup, site: str) -> str:
    """Return the reply of an answer, with the doubt of a rating that cannot be believed at once."""
    doubt = doubt_of(question, answer)
    return reply(
        title=question.title,
        subject=question.subject,
        headline=question.headline,
        answer=answer,
        doubt=doubt.sentence if doubt else "",
        markup=markup,
        site=site,
    )
