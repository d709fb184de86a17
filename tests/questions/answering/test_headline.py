"""The leading figure of an answer is rounded toward caution."""

import pytest

from percell.questions.answering.headline import Headline, Rounding
from percell.questions.registry import QUESTIONS

CURRENT = {"field": "current_a", "says": "It carries", "unit": "A", "decimals": 1}
MINUTES = {"field": "time_s", "says": "It runs", "unit": "min", "decimals": 0, "per": 60}


@pytest.mark.parametrize(
    ("said", "rounding", "value", "text"),
    [
        (CURRENT, Rounding.UP, 18.61, "18.7 A"),
        (CURRENT, Rounding.UP, 18.7, "18.7 A"),
        (CURRENT, Rounding.DOWN, 18.69, "18.6 A"),
        (CURRENT, Rounding.DOWN, 0.3, "0.3 A"),
        (CURRENT | {"decimals": 2}, Rounding.UP, 18.611, "18.62 A"),
        (CURRENT | {"unit": ""}, Rounding.UP, 18.61, "18.7"),
        (MINUTES, Rounding.DOWN, 3599, "59 min"),
        (MINUTES, Rounding.UP, 3601, "61 min"),
        (MINUTES, Rounding.DOWN, 3600, "60 min"),
    ],
)
def test_text(said, rounding, value, text):
    """By hand: never too bold, in the shown unit."""
    assert Headline(**said, round=rounding).text(value) == text


@pytest.mark.parametrize("question_id", [n for n, q in QUESTIONS.items() if q.headline])
def test_the_headline_of_an_example(ask, question_id):
    """The shown figure differs from the exact one toward caution, by less than one step."""
    question = QUESTIONS[question_id]
    headline = question.headline
    exact = getattr(ask(question_id, **question.example), headline.field) / headline.per
    number, _, unit = headline.text(exact * headline.per).partition(" ")
    step = 10.0**-headline.decimals
    above = float(number) - exact
    assert -1e-9 <= (above if headline.round is Rounding.UP else -above) <= step * (1 + 1e-9)
    assert unit == headline.unit
    # a figure rounded to zero would be no answer
    assert float(number) > 0 or exact == 0
