"""The headline: its leading figure is rounded toward caution, and its sentences say the worst."""

import msgspec
import pytest
from msgspec import UNSET

from percell.questions.answering.envelope import Assumption
from percell.questions.answering.headline import Headline, Rounding, condition_of, sentence
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.limits import (
    LimitSide,
    judged,
    missing,
    not_judged,
    over,
    verdict_of,
)
from percell.questions.vocabulary.rules import Finding, LimitName, Severity

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


RATING, END, STOP = (
    LimitName.CONTINUOUS_RATING,
    LimitName.END_VOLTAGE,
    LimitName.STOP_TEMPERATURE,
)
WITHIN, LITTLE, OVER = (judged(RATING, amps, 20.0, "A") for amps in (10.0, 19.0, 21.0))
ENDS = judged(END, 2.8, 2.5, "V", bound=LimitSide.AT_LEAST)
ABSENT = missing(RATING, "cell_rating_a")
NO_SIZE = missing(STOP, "cell_size")
UNSURE = not_judged(ENDS, "the limit was assumed")


def told(limits=(), worst=None, assumed=()):
    """Return the headline of limits, their verdict, a finding and defaults."""
    return sentence(
        condition="2S1P",
        assumed=assumed,
        leads="it carries 10 A",
        limits=limits,
        verdict=verdict_of(limits),
        worst=worst,
    )


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        ([], ""),
        ([WITHIN], " Within the limit: continuous rating."),
        ([WITHIN, ENDS], " Within these limits: continuous rating, end voltage."),
        ([WITHIN, NO_SIZE], " Within the limit: continuous rating. Not judged: stop temperature."),
        ([LITTLE, ENDS], " Within the limits, but with little headroom: continuous rating."),
        (
            [LITTLE, NO_SIZE],
            " Within the limits, but with little headroom: continuous rating. "
            "Not judged: stop temperature.",
        ),
        ([WITHIN, UNSURE], " Not judged: end voltage, because the limit was assumed."),
        ([ABSENT], f" Not judged: continuous rating, because {ABSENT.reason}."),
        ([ABSENT, ENDS], f" Not judged: continuous rating, because {ABSENT.reason}."),
        (
            [ABSENT, UNSURE],
            f" Not judged: continuous rating, because {ABSENT.reason}; end voltage, because the limit "
            "was assumed.",
        ),
        (
            [ABSENT, NO_SIZE],
            f" Not judged: continuous rating, because {ABSENT.reason}. Not judged: stop temperature.",
        ),
    ],
)
def test_the_verdict_in_words(limits, said):
    """It names the limits of the worst verdict, and those that nobody looked at."""
    assert told(limits) == f"2S1P: it carries 10 A.{said}"


@pytest.mark.parametrize(
    ("limits", "first", "last"),
    [
        ([OVER, ENDS], "continuous rating", ""),
        ([OVER, over(END)], "continuous rating, end voltage", ""),
        ([OVER, NO_SIZE], "continuous rating", " Not judged: stop temperature."),
        ([OVER, UNSURE], "continuous rating", ""),
        # the rating that nobody gave is named although another limit is exceeded
        ([ABSENT, over(END)], "end voltage", " Not judged: continuous rating."),
    ],
)
def test_what_is_over_a_limit_comes_first(limits, first, last):
    """Nobody reads the figure before the limits that it exceeds."""
    assert told(limits) == f"Over the limit: {first}. 2S1P: it carries 10 A.{last}"


@pytest.mark.parametrize(
    "question_id",
    ["lowest-resistance", "highest-power", "needed-rating", "needed-rating-for-coil"],
)
def test_a_figure_at_the_rating_says_that_it_leaves_no_headroom(ask, question_id):
    """Who pastes the headline tells nobody to run a cell at its whole rating without saying so."""
    said = ask(question_id, **QUESTIONS[question_id].example).headline
    assert ", which leaves no headroom." in said


def finding(severity):
    return Finding("trial", severity, "As found.", "s", "/")


@pytest.mark.parametrize(
    ("severity", "said"),
    [
        (Severity.NOTE, ""),
        (Severity.CAUTION, " Caution: As found."),
        (Severity.WARNING, " Warning: As found."),
    ],
)
def test_a_finding_comes_last(severity, said):
    """From a caution up the most severe finding ends the headline."""
    assert told(worst=finding(severity)) == f"2S1P: it carries 10 A.{said}"


def test_assumed_conditions_are_named():
    """Chemistry, voltages, charge limit, temperatures and surroundings are named if assumed, others are not."""
    assumed = [
        Assumption("chemistry", "nmc", "", "o"),
        Assumption("efficiency", 0.85, "1", "o"),
        Assumption("cell_cutoff_voltage_v", 2.8, "V", "o"),
        Assumption("cell_charge_limit_a", 1.5, "A", "o"),
        Assumption("ambient_temperature_c", 25, "°C", "o"),
        Assumption("cell_temperature_c", 25, "°C", "o"),
    ]
    assert told(assumed=assumed) == (
        "2S1P; assumed: nickel manganese cobalt oxide cells, a cut-off at 2.8 V per cell, "
        "a charge limit of 1.5 A per cell, air at 25 °C and cells at 25 °C: it carries 10 A."
    )


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_a_headline_stands_alone(ask, question_id):
    """It says the condition, and in words: no name of a field, and a full stop at its end."""
    question = QUESTIONS[question_id]
    said = ask(question_id, **question.example).headline
    assert said[0].isupper() or said[0].isdigit()
    assert said.endswith(".")
    assert ": " in said
    assert not any(
        f" {name} " in f" {said} " for name in question.asked.__struct_fields__ if "_" in name
    )


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({}, "1S2P with cells rated 20 A and 50 W at the output"),
        # a default by hand is no condition of its own
        ({"efficiency": 0.85}, "1S2P with cells rated 20 A and 50 W at the output"),
        (
            {"sharing": "even"},
            "1S2P with cells rated 20 A, an even share between cells in parallel and 50 W at the output",
        ),
        (
            {"layout": {"series": 1, "parallel": 2}},
            "1S2P with cells rated 20 A and 50 W at the output",
        ),
        (
            {"cell_capacity_ah": 3, "chemistry": "lfp"},
            "1S2P with iron phosphate cells of 3 Ah rated 20 A and 50 W at the output",
        ),
    ],
)
def test_a_condition_is_what_differs_from_the_defaults(body, said):
    """Layout and rating come first, then the other fields in their order."""
    asked = {"output_power_w": 50, "cell_rating_a": 20, "layout": "1S2P"} | body
    assert condition_of(msgspec.convert(asked, QUESTIONS["converter-load"].asked)) == said


def test_better_words_for_a_field():
    """A question may say a field in words of its own."""
    asked = {"output_power_w": 50, "cell_rating_a": 20, "layout": "1S2P"}
    asked = msgspec.convert(asked, QUESTIONS["converter-load"].asked)
    assert condition_of(asked, output_power_w="a lamp") == "1S2P with cells rated 20 A and a lamp"
    assert condition_of(asked, output_power_w="") == "1S2P with cells rated 20 A"
    assert asked.cell_cutoff_voltage_v is UNSET


@pytest.mark.parametrize(
    ("coil_ohm", "said"),
    [
        (0.210005, "carries up to 19.9995 A."),  # 4.2 V over it, by hand 19.99952 A
        (0.21, "carries up to 20.0 A."),
        (0.3, "carries up to 14.0 A."),
        (0.31, "carries up to 13.6 A."),  # 13.548 A, rounded up
        (0.2099, "carries up to 20.1 A."),  # above the rating, 20.0095 A is rounded up as ever
    ],
)
def test_a_figure_is_not_rounded_onto_its_limit(ask, coil_ohm, said):
    """What is within a rating of 20 A is not printed as the rating."""
    got = ask("direct-load", layout="1S1P", cell_rating_a=20, coil_resistance_ohm=coil_ohm)
    assert said in got.headline
