"""What an answer repeats of its question."""

import msgspec
import pytest

from percell import VERSION
from percell.questions.answering.echo import changed, given
from percell.questions.loads.direct_load import QUESTION, DirectLoad
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.rules import Severity

BODY = {
    "sharing": {"spread": 0.2},
    "cell_rating_a": 20,
    "coil_resistance_ohm": 0.2,
    "layout": "1S2P",
}
ASKED = msgspec.convert(BODY, DirectLoad)


def test_the_fields_that_were_given_are_repeated_in_the_order_of_the_question():
    """Nothing but what was given is repeated, not even of an object inside, and always in one order."""
    told = msgspec.to_builtins(given(ASKED, BODY))
    assert told == BODY
    assert list(told) == [name for name in DirectLoad.__struct_fields__ if name in BODY]
    assert list(told) != list(BODY)


def test_a_default_that_was_given_is_repeated():
    """A value that the caller gave is theirs, though it is the default as well."""
    whole = BODY | {"chemistry": "nmc"}
    asked = msgspec.convert(whole, DirectLoad)
    assert msgspec.to_builtins(given(asked, whole)) == whole
    assert msgspec.to_builtins(changed(asked)) == BODY


def test_a_whole_number_is_repeated_as_one():
    """However it was written, also inside an object."""
    body = BODY | {"layout": {"series": 1.0, "parallel": 2.0}, "meter_counts": 5.0}
    asked = msgspec.convert(body, DirectLoad)
    told = b'"layout":{"series":1,"parallel":2},"meter_counts":5,'
    for repeated in (given(asked, body), changed(asked)):
        assert told in msgspec.json.encode(repeated)


def test_entries_of_a_list_are_repeated_one_by_one():
    """Each entry has the fields that were given for it."""
    question = QUESTIONS["series-drift"]
    asked = msgspec.convert(question.example, question.asked)
    assert msgspec.to_builtins(given(asked, question.example)) == question.example
    assert msgspec.to_builtins(changed(asked)).keys() == question.example.keys()


def test_without_a_caller_the_changed_fields_are_repeated():
    """Asked in Python, a question has no names that were sent: what differs from its default counts."""
    answer = msgspec.to_builtins(QUESTION.answer(ASKED))
    assert answer["asked"] == BODY
    assert answer["version"] == VERSION


def test_logs_are_not_repeated():
    """An answer does not carry millions of numbers back, but it names the limits that were given."""
    question = QUESTIONS["discharge-test"]
    body = question.example | {"stop_temperature_c": 55}
    asked = msgspec.convert(body, question.asked)
    assert question.answer(asked, given(asked, body)).asked == {
        name: body[name] for name in body if name != "logs"
    }


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_the_short_form_says_no_less_of_what_is_grave(question_id):
    """It has the same word on top and each finding from a caution up; only notes and explanations go."""
    question = QUESTIONS[question_id]
    answer = question.answer(msgspec.convert(question.example, question.asked))
    whole = msgspec.to_builtins(answer)
    short = msgspec.to_builtins(question.result_of(answer, notes=False))
    grave = [one for one in whole["findings"] if one["severity"] != Severity.NOTE.value]
    assert short == {name: whole[name] for name in short} | {"findings": grave}
    assert whole.keys() - short.keys() == {"working", "assumptions", "cautions"}
    assert short["links"]["cautions"] == "/cautions/"
    assert msgspec.to_builtins(question.result_of(answer, notes=True)) == {
        name: whole[name] for name in short
    }
