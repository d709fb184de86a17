"""A reply: question, figure, warnings, working, defaults, caution, link."""

import re

import pytest

from percell.questions.answering.reply import Form, reply
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.cautions import CAUTIONS

COIL = {"layout": "1S3P", "cell_rating_a": 10, "coil_resistance_ohm": 0.1}
SITE = "https://bench.example"


@pytest.fixture(scope="module")
def lines(ask):
    """Return the function that gives the lines of a reply."""

    def of(question_id, form=Form.PLAIN, **asked):
        question = QUESTIONS[question_id]
        text = reply(
            title=question.title,
            headline=question.headline,
            asked=asked,
            answer=ask(question_id, **asked),
            form=form,
            site=SITE,
        )
        assert text.endswith("\n")
        return text.splitlines()

    return of


@pytest.mark.parametrize("form", Form)
@pytest.mark.parametrize("question_id", ["direct-load", "charging", "label-check"])
def test_each_markup_says_the_same(lines, question_id, form):
    """Without markup, every form has the same lines."""
    asked = COIL if question_id == "direct-load" else QUESTIONS[question_id].example
    plain = lines(question_id, **asked)
    bare = [re.sub(r"\*+|\[/?[bi]\]|  $", "", line) for line in lines(question_id, form, **asked)]
    assert bare[:-1] == [line.replace("*", "") for line in plain[:-1]]
    # each form writes the link differently
    address = plain[-1].partition(": ")[2]
    assert address.startswith(f"{SITE}/")
    assert address in bare[-1]


def test_what_was_asked_has_units(lines):
    """Each field as its name without the unit, its value, and the unit."""
    title, given, figure, *_ = lines("direct-load", **COIL)
    assert title == QUESTIONS["direct-load"].title
    assert given == "layout 1S3P, cell rating 10 A, coil resistance 0.1 Ω"
    # by hand: 42 A over 2.5 cells
    assert "16.8 A" in figure
    assert "over limit" in figure


def test_most_severe_first_without_notes(lines):
    """Warnings come before cautions, whatever their order in the answer; notes are left out."""
    said = [line.partition(":")[0] for line in lines("direct-load", **COIL)[3:]]
    grave = [word for word in said if word in ("Warning", "Caution", "Note")]
    assert grave == ["Warning", "Caution", "Caution"]


def test_the_working_leads_to_the_figure(lines):
    """The step that gives the figure, after the step whose result it uses."""
    steps = [line for line in lines("direct-load", **COIL) if " = " in line]
    assert [step.rpartition(" = ")[2] for step in steps] == ["42 A", "16.8 A"]
    assert "42 A / 2.5" in steps[1]
    # a ratio has no unit, and a resistance its sign
    ratio = lines("cell-health", measured_capacity_ah=2, reference_capacity_ah=2.5)
    assert any(line.endswith(" = 0.8") for line in ratio)
    ohms = lines("lowest-resistance", layout="1S1P", cell_rating_a=20)
    assert any(line.endswith(" = 0.21 Ω") for line in ohms)


def test_defaults_are_listed_and_given_values_are_not(lines):
    """A default is named with its unit; one that is zero, or was given, is not."""
    asked = {"layout": "1S1P", "cell_rating_a": 20, "output_power_w": 40}

    def taken(**more):
        found = [
            line for line in lines("converter-load", **asked, **more) if line.startswith("Taken")
        ]
        return found[0] if found else ""

    assert "efficiency 85 %" in taken()
    assert "cell cutoff voltage 2.8 V" in taken()
    assert "idle" not in taken()
    assert "efficiency" not in taken(efficiency=0.9)
    # a constant of the model is left out
    claim = lines("label-check", **QUESTIONS["label-check"].example)
    assert not any("density" in line for line in claim)


def test_it_ends_with_the_rating_s_caution_and_a_link(lines):
    """People read a reply without its answer, so it carries the two cautions that always hold."""
    always = [c.sentence for c in CAUTIONS if c.id in ("rating", "precedence")]
    assert len(always) == 2
    for body, path in [
        (COIL | {"cell_rating_a": 20}, "/tables/coil-current-and-power/#0.1-ohm"),
        (COIL | {"cell_rating_a": 20, "meter_accuracy": 0.01}, "/method/#direct-load"),
    ]:
        *_, caution, link = lines("direct-load", **body)
        assert caution == " ".join(always)
        assert link.endswith(SITE + path)


@pytest.mark.parametrize(
    ("asked", "word", "warned"),
    [
        ({"coil_resistance_ohm": 1}, "within limit", False),
        ({"coil_resistance_ohm": 1, "cell_charged_voltage_v": 4.35}, "within limit", True),
        ({"coil_resistance_ohm": 0.22}, "little headroom", False),
        ({"coil_resistance_ohm": 0.23, "cell_charged_voltage_v": 4.35}, "little headroom", True),
        ({"coil_resistance_ohm": 0.1}, "over limit", False),
    ],
)
def test_a_mild_word_points_to_its_warning(lines, asked, word, warned):
    """After a mild verdict nobody looks for a warning, so the verdict points to it."""
    figure = lines("direct-load", layout="1S1P", cell_rating_a=20, **asked)[2]
    assert word in figure
    assert ("warning" in figure) is warned
