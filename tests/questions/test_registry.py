"""Every question of the registry keeps what the interface promises for all of them."""

from math import isfinite

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec import structs

from percell.physics.errors import NoSolution
from percell.questions.answering.echo import changed
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused

every_question = pytest.mark.parametrize("question_id", QUESTIONS)


def answered(question_id, body):
    """Answer a body, and check the answer against the promise; None if it is refused."""
    question = QUESTIONS[question_id]
    asked = msgspec.json.decode(msgspec.json.encode(body), type=question.asked)
    try:
        answer = question.answer(asked)
    except NoSolution as none:
        assert_says_why(none)
        return None
    except Refused as refused:
        assert_names_a_field(refused, question)
        return None
    encoded = msgspec.json.encode(answer)
    # infinity and NaN are written as null, which this decoder refuses
    read = msgspec.json.decode(encoded, type=question.answered)
    # what was asked is the same question, though only its given fields are repeated
    assert question.repeatable(changed(read.asked)) == answer.asked
    assert structs.replace(read, asked=answer.asked) == answer
    assert_finite(msgspec.to_builtins(answer))
    return answer


def assert_says_why(none):
    assert none.code
    assert none.numbers, "a question without an answer names the limiting numbers"
    assert_finite(none.numbers)


def assert_names_a_field(refused, question):
    assert refused.pointer.removeprefix("/").split("/")[0] in question.asked.__struct_fields__
    assert refused.detail


def assert_finite(value, where="$"):
    if isinstance(value, dict):
        for name, part in value.items():
            assert_finite(part, f"{where}.{name}")
    elif isinstance(value, list | tuple):
        for index, part in enumerate(value):
            assert_finite(part, f"{where}[{index}]")
    elif isinstance(value, float | int):
        assert isfinite(value), where


@every_question
def test_answers_at_every_corner(question_id, cornered):
    """At every corner of its bounds a question has an answer of finite numbers, or a reason."""
    answers = [answered(question_id, body) for body in cornered(question_id)]
    assert any(answers), "all refused: nothing was checked"


@every_question
@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_answers_within_bounds(question_id, drawn, data):
    """Anywhere in its bounds a question has an answer of finite numbers, or a reason."""
    answered(question_id, data.draw(drawn(question_id)))


@every_question
def test_example(question_id):
    """The published example has an answer."""
    assert answered(question_id, QUESTIONS[question_id].example)


@every_question
def test_every_number_is_bounded(question_id):
    """Every number of a question has two closed bounds, however deep it is nested."""
    schema = msgspec.json.schema(QUESTIONS[question_id].asked)
    numbers = list(numbers_of(schema))
    assert numbers
    for name, number in numbers:
        assert number.keys() >= {"minimum", "maximum"}, name


def numbers_of(schema, name="$"):
    if isinstance(schema, dict):
        if schema.get("type") in ("number", "integer"):
            yield name, schema
        for key, part in schema.items():
            yield from numbers_of(part, f"{name}.{key}")
    elif isinstance(schema, list):
        for index, part in enumerate(schema):
            yield from numbers_of(part, f"{name}[{index}]")


@every_question
def test_working_is_the_answer(question_id):
    """Every step of an example's working is a finite number with relation, numbers put in and unit."""
    question = QUESTIONS[question_id]
    answer = question.answer(msgspec.convert(question.example, question.asked))
    assert answer.working
    for step in answer.working:
        assert step.what
        assert step.relation
        assert any(sign.isdigit() for sign in step.with_numbers)
        assert step.unit
