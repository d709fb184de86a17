"""Figures as text: whatever bounds the reader is rounded so that it can be asked again."""

from typing import Any

import msgspec
import pytest

from percell.questions.answering.figure_text import figure_text, limit_figure_text
from percell.questions.answering.headline import Rounding
from percell.questions.answering.tables import every_table
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.limits import LimitName, LimitSide, judged
from percell.questions.vocabulary.verdict import Verdict


def printed(question: str, figure: str, unit: str, **fields: Any) -> float:
    asked = msgspec.convert(fields, QUESTIONS[question].asked)
    value = getattr(QUESTIONS[question].answer(asked), figure)
    return float(figure_text(figure, value, unit).split()[0])


def verdict(question: str, **fields: Any) -> Verdict:
    answer: Any = QUESTIONS[question].answer(msgspec.convert(fields, QUESTIONS[question].asked))
    return next(one.verdict for one in answer.limits if one.name is LimitName.CONTINUOUS_RATING)


@pytest.mark.parametrize("rating_a", [10, 13, 17.3, 22, 23, 29.9])
@pytest.mark.parametrize("layout", ["1S1P", "2S1P", "1S2P", "1S3P", "2S2P"])
def test_a_printed_bound_survives_being_asked_again(layout: str, rating_a: float) -> None:
    """The printed coil, power and rating are within the rating when they are asked about."""
    cell = {"layout": layout, "cell_rating_a": rating_a}
    ohm = printed("lowest-resistance", "lowest_resistance_ohm", "Ω", **cell)
    assert verdict("direct-load", **cell, coil_resistance_ohm=ohm) is not Verdict.OVER
    power_w = printed("highest-power", "highest_power_w", "W", **cell)
    assert verdict("converter-load", **cell, output_power_w=power_w) is not Verdict.OVER
    load = {"layout": layout, "output_power_w": rating_a * 2.7}
    needed_a = printed("needed-rating", "needed_rating_a", "A", **load)
    assert verdict("converter-load", **load, cell_rating_a=needed_a) is not Verdict.OVER


@pytest.mark.parametrize(
    ("name", "value", "unit", "text"),
    [
        ("headroom", -0.12345, "1", "−12.35 %"),
        ("headroom", 0.0, "1", "0 %"),
        ("resistance_ratio", 1.40909, "1", "1.409"),
        ("change_rate", 0.3447, "1/year", "0.3447 per year"),
        ("running_time_s", 119.0, "s", "119 s"),
        ("charging_time_s", 8444.76, "s", "140.8 min"),
        ("over_discharged", True, "1", "yes"),
        ("layout", "2S1P", "1", "2S1P"),
    ],
)
def test_a_figure_is_told_as_people_say_it(name: str, value: object, unit: str, text: str) -> None:
    """Parts are percentages, long times are minutes, and what is so or not is a word."""
    assert figure_text(name, value, unit) == text.replace("−", "-")


def declared() -> set[tuple[str, Rounding]]:
    """Return the figures of which a headline or a printed table declares the careful side."""
    headlines = {(q.headline.field, q.headline.round) for q in QUESTIONS.values() if q.headline}
    prints = {(p.field, p.round) for table in every_table().values() for p in table.prints}
    return {one for one in headlines | prints if one[1] in (Rounding.UP, Rounding.DOWN)}


@pytest.mark.parametrize(("name", "side"), sorted(declared()))
def test_a_figure_has_one_careful_side(name: str, side: Rounding) -> None:
    """A page rounds a figure to the side that headlines and tables declare."""
    if side is Rounding.UP:
        assert float(figure_text(name, 1.23444, "W").split()[0]) > 1.23444
    else:
        assert float(figure_text(name, 1.23456, "W").split()[0]) < 1.23456


def test_a_figure_is_not_rounded_onto_its_limit() -> None:
    """A current that is over by less than the printed digits still reads as over."""
    limit = judged(LimitName.CONTINUOUS_RATING, 20.0004, 20.0, "A")
    assert float(figure_text("pack_current_a", 20.0004, "A", [limit]).split()[0]) > 20


@pytest.mark.parametrize(
    ("figure", "value", "bound", "text"),
    [
        (16.80673, 25.0, LimitSide.AT_MOST, "16.81 A"),
        (25.2101, 20.0, LimitSide.AT_MOST, "25.22 A"),
        (19.9999, 20.0, LimitSide.AT_MOST, "19.9999 A"),
        (2.800199, 2.5, LimitSide.AT_LEAST, "2.8 A"),
        (2.163999, 2.5, LimitSide.AT_LEAST, "2.163 A"),
    ],
)
def test_a_figure_beside_its_limit_is_rounded_toward_it(
    figure: float, value: float, bound: LimitSide, text: str
) -> None:
    """What must stay below a limit is rounded up and what must stay above it down, on whichever side it is."""
    assert (
        limit_figure_text(judged(LimitName.CONTINUOUS_RATING, figure, value, "A", bound=bound))
        == text
    )
