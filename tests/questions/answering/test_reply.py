"""A reply: question, headline, further warnings, working, defaults, cautions, link."""

import re

import pytest

from percell.questions.answering.question import Subject
from percell.questions.answering.reply import Markup, reply, short_cautions
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.cautions import CAUTIONS

COIL = {"layout": "1S3P", "cell_rating_a": 10, "coil_resistance_ohm": 0.1}
SITE = "https://bench.example"


@pytest.fixture(scope="module")
def lines(ask):
    """Return the function that gives the lines of a reply."""

    def of(question_id, markup=Markup.PLAIN, **asked):
        question = QUESTIONS[question_id]
        text = reply(
            title=question.title,
            subject=question.subject,
            headline=question.headline,
            answer=ask(question_id, **asked),
            doubt="",
            markup=markup,
            site=SITE,
        )
        assert text.endswith("\n")
        return text.splitlines()

    return of


@pytest.mark.parametrize("markup", Markup)
@pytest.mark.parametrize("question_id", ["direct-load", "charging", "label-check"])
def test_each_markup_says_the_same(lines, question_id, markup):
    """Without markup, every form has the same lines."""
    asked = COIL if question_id == "direct-load" else QUESTIONS[question_id].example
    plain = lines(question_id, **asked)
    bare = [
        re.sub(r"\*+|\[/?[bi]\]|  $|\\(?=[_*])", "", line)
        for line in lines(question_id, markup, **asked)
    ]
    assert bare[:-1] == [line.replace("*", "") for line in plain[:-1]]
    # each form writes the link differently
    address = plain[-1].partition(": ")[2]
    assert address.startswith(f"{SITE}/")
    assert address in bare[-1]


@pytest.mark.parametrize("markup", Markup)
@pytest.mark.parametrize("question_id", [n for n, q in QUESTIONS.items() if q.headline])
def test_the_headline_comes_first(ask, lines, question_id, markup):
    """After the title comes the headline as it is, in every markup: nothing milder stands before it."""
    example = QUESTIONS[question_id].example
    title, said, *_ = lines(question_id, markup, **example)
    assert re.sub(r"\*\*|\[/?b\]|  $", "", title) == QUESTIONS[question_id].title
    assert said.removesuffix("  ") == ask(question_id, **example).headline


def test_what_was_asked_has_units(lines):
    """Each field with its value and unit, then the figure and the verdict."""
    title, said, *_ = lines("direct-load", **COIL)
    assert title == QUESTIONS["direct-load"].title
    assert said.startswith(
        "Over the limit: continuous rating. 1S3P with cells rated 10 A and a coil of 0.1 Ω; assumed: "
    )
    # by hand: 42 A, of which the worst-case cell of three carries 0.4157
    assert "17.5 A" in said
    assert "Over the limit: continuous rating." in said


@pytest.mark.parametrize("question_id", [n for n, q in QUESTIONS.items() if q.headline])
def test_what_the_headline_says_is_not_said_twice(ask, lines, question_id):
    """Every warning and caution is in the reply once, in the headline or on a line of its own; so is how far off a time is."""
    question = QUESTIONS[question_id]
    text = "\n".join(lines(question_id, **question.example))
    for found in ask(question_id, **question.example).findings:
        times = text.count(found.sentence)
        told = found.severity != "note" or (
            question_id == "running-time" and found.rule == "running-time-estimate"
        )
        assert times == (1 if told else 0), found.rule


def test_most_severe_first_without_notes(ask, lines):
    """Warnings come before cautions, whatever their order in the answer; notes are left out."""
    asked = COIL | {"sharing": "even", "cell_charged_voltage_v": 4.3, "layout": "15S3P"}
    found = ask("direct-load", **asked).findings
    assert {f.severity.value for f in found} == {"note", "caution", "warning"}
    said = [line.partition(":")[0] for line in lines("direct-load", **asked)[2:]]
    grave = [word for word in said if word in ("Warning", "Caution", "Note")]
    told = [f.severity.value.capitalize() for f in found if f.severity != "note"]
    # the headline has the first warning
    assert grave == sorted(told, reverse=True)[1:]
    assert set(grave) == {"Warning", "Caution"}


def test_the_working_leads_to_the_figure(lines):
    """The step that gives the figure, after the steps whose results it uses."""
    steps = [line for line in lines("direct-load", **COIL) if " = " in line]
    assert [step.rpartition(" = ")[2] for step in steps] == ["42 A", "2.406", "17.46 A"]
    assert "42 A / 2.406" in steps[2]
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
            line for line in lines("converter-load", **asked, **more) if line.startswith("Assumed")
        ]
        return found[0] if found else ""

    assert "an efficiency of 85 %" in taken()
    assert "a cut-off at 2.8 V per cell" in taken()
    assert "idle" not in taken()
    assert "efficiency" not in taken(efficiency=0.9)
    # a constant of the model is left out
    claim = lines("label-check", **QUESTIONS["label-check"].example)
    assert not any("density" in line for line in claim)


CAUTIONS_OF = {
    "direct-load": ("rating", "damage", "precedence"),
    "running-time": ("rating", "damage", "precedence", "estimate"),
    "joining-pair": ("same-cells", "damage", "precedence"),
    "charging": ("damage", "charging", "precedence"),
    "cell-health": ("damage", "precedence"),
    "coil-from-wire": ("rating", "precedence"),
}


@pytest.mark.parametrize("question_id", CAUTIONS_OF)
def test_it_carries_the_cautions_of_its_subject(lines, question_id):
    """People read a reply without its answer, so it ends with the cautions that concern it, and a link."""
    *_, caution, link = lines(question_id, **QUESTIONS[question_id].example)
    told = {c.id: c.sentence for c in CAUTIONS}
    assert caution == " ".join(told[name] for name in CAUTIONS_OF[question_id])
    assert f"{SITE}/" in link


@pytest.mark.parametrize(
    ("more", "path"),
    [
        ({}, "/tables/current-by-power/40-w/1s1p-2-8-v/"),
        ({"idle_power_w": 1}, "/method/#converter-load"),
    ],
)
def test_it_ends_with_a_link(lines, more, path):
    """To the entry of a table that holds the answer, or to the method."""
    asked = {"layout": "1S1P", "cell_rating_a": 20, "output_power_w": 40}
    assert lines("converter-load", **asked, **more)[-1].endswith(SITE + path)


def test_every_subject_has_cautions():
    """No reply is without one, and precedence is always among them."""
    precedence = next(c.sentence for c in CAUTIONS if c.id == "precedence")
    for subject in Subject:
        said = short_cautions(subject)
        assert precedence in said
        assert len(said) > len(precedence)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"coil_resistance_ohm": 1}, "Within these limits: continuous rating"),
        (
            {"coil_resistance_ohm": 1, "cell_charged_voltage_v": 4.35},
            "Over the limit: charged voltage.",
        ),
        (
            {"coil_resistance_ohm": 0.22},
            "Within the limits, but with little headroom: continuous rating.",
        ),
        (
            {"coil_resistance_ohm": 0.23, "cell_charged_voltage_v": 4.35},
            "Over the limit: charged voltage.",
        ),
        ({"coil_resistance_ohm": 0.1}, "Over the limit: continuous rating."),
    ],
)
def test_no_mild_word_beside_a_warning(lines, asked, said):
    """The word of the headline is the worst of all limits."""
    text = "\n".join(lines("direct-load", layout="1S1P", cell_rating_a=20, **asked))
    assert said in text
    assert ("Within" in text) is ("Warning" not in text)
