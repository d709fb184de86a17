"""The common end of every answer: cautions, and a link to the method."""

import pytest

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.cautions import CAUTIONS

every_question = pytest.mark.parametrize("question_id", QUESTIONS)


@every_question
def test_every_answer_carries_cautions_and_its_method(ask, question_id):
    """Every answer carries the cautions, each with its source, and links to its method."""
    got = ask(question_id, **QUESTIONS[question_id].example)
    assert got.cautions == CAUTIONS
    assert all(caution.sentence and caution.source for caution in CAUTIONS)
    assert got.links.method.startswith("/method/#")
    assert got.links.method.removeprefix("/method/#") in QUESTIONS
