"""A question with its answer in short: without working, assumptions and findings that are only notes."""

from typing import Any

from percell.questions.answering.question import Question
from percell.questions.registry import QUESTIONS
from percell.web.ask import ask_resource
from percell.web.resource import Representation, Resource, encode


def short_resources() -> list[Resource]:
    """Return the resources that answer in short, one for each question."""
    return [_resource(question) for question in QUESTIONS.values()]


def _resource(question: Question) -> Resource:
    def write(answer: Any) -> Representation:
        return Representation(encode(question.result_of(answer, notes=False)))

    return ask_resource(f"/v1/short/{question.id}", question, write)
