"""An answer as text to paste into a conversation: figure, findings, working, caution, link."""

import re
from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from msgspec import UNSET, Struct

from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, gravest_in_words
from percell.questions.answering.question import Subject
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.questions.vocabulary.phrases import all_in_words
from percell.questions.vocabulary.rules import Finding, Severity, named
from percell.questions.vocabulary.wording import listed

# a whole number with its digits: 2 is not part of 42
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?(?:e[+-][0-9]+)?")


class Markup(StrEnum):
    """Markup of a reply."""

    PLAIN = "plain"
    MARKDOWN = "markdown"
    BBCODE = "bbcode"


# people read a reply without its answer, so it always carries some cautions
_CAUTIONS = {
    Subject.UNEQUAL_CELLS: ("same-cells", "damage"),
    Subject.CHARGING: ("charging", "damage"),
    Subject.TIME_AND_HEAT: ("rating", "damage", "estimate"),
    Subject.BENCH: ("damage",),
    Subject.COIL: ("rating",),
}
_OTHERWISE = ("rating", "damage")
# by leading figure the note that is pasted with it: how far off such times were
_NOTE_TOLD = {"running_time_s": "running-time-estimate"}


def short_cautions(subject: Subject) -> str:
    """Return the cautions that go wherever an answer or a row of a subject is pasted."""
    ids = (*_CAUTIONS.get(subject, _OTHERWISE), "precedence")
    return " ".join(caution.sentence for caution in CAUTIONS if caution.id in ids)


# for a text of one figure, which has no room for more; the page that it leads to has all cautions
_BRIEF = {
    Subject.UNEQUAL_CELLS: "Use only cells of one make, age and history.",
    Subject.CHARGING: "Stay with charging cells. Stop if one gets hot.",
    Subject.BENCH: "Stop using a cell that is damaged or gets hot.",
    Subject.COIL: "Measure the coil. Never exceed the cells' continuous rating.",
}
_BRIEFLY = "Estimate: never exceed the cell's continuous rating."


def brief_caution(subject: Subject) -> str:
    """Return the shortest caution that goes with a single figure of a subject."""
    return _BRIEF.get(subject, _BRIEFLY)


def reply(
    *,
    title: str,
    subject: Subject,
    headline: Headline | None,
    answer: Any,
    doubt: str,
    markup: Markup,
    site: str,
) -> str:
    """Return the text of a reply.

    Args:
        title: Title of the question.
        subject: Its subject, which decides the cautions.
        headline: The figure whose working is shown; without one it is the last.
        answer: The answer.
        doubt: Why the rating that it rests on cannot be believed at once, or nothing.
        markup: Markup.
        site: Address of the reference site, without a slash at its end; or nothing, for links that are paths.
    """
    mark = _MARKS[markup]
    field = headline.field if headline else ""
    row = answer.links.table_row
    where = answer.links.method if row is UNSET else row
    lines = [
        mark.strong(title),
        # before the figure that rests on the rating, and only there
        *([mark.text(doubt)] if doubt else []),
        mark.text(_headline(answer, doubt)),
        *_findings(answer, field, doubt, mark),
        *(mark.text(_working(step)) for step in _last_steps(answer, field)),
        *map(mark.text, _defaults(answer)),
        mark.weak(short_cautions(subject)),
        mark.link(
            f"{'How it is calculated' if row is UNSET else 'In the table'}, percell {answer.version}",
            site + where,
        ),
    ]
    return mark.between.join(lines) + "\n"


def _headline(answer: Any, doubt: str) -> str:
    """Return the headline without the doubt, which stands before it."""
    told: str = answer.headline
    for found in answer.findings:
        if found.sentence == doubt:
            told = told.replace(gravest_in_words(found), "").strip()
    return told


def _findings(answer: Any, field: str, doubt: str, mark: "_Marks") -> list[str]:
    """Return the findings that headline and doubt do not tell, most severe first; of the notes at most one."""
    return [
        f"{mark.strong(severity.value.capitalize())}: {mark.text(found.sentence)}"
        for severity in (Severity.WARNING, Severity.CAUTION, Severity.NOTE)
        for found in [*answer.findings, *_of_setups(answer)]
        if found.severity is severity
        and (severity is not Severity.NOTE or found.rule == _NOTE_TOLD.get(field))
        and found.sentence not in answer.headline
        and found.sentence != doubt
    ]


def _of_setups(answer: Any) -> list[Finding]:
    """Return what is found of each of several setups, with its name: the headline has room for one of them."""
    return [
        named(one.label, found) for one in getattr(answer, "setups", []) for found in one.findings
    ]


def _working(step: WorkingStep) -> str:
    unit = "" if step.unit == "1" else f" {step.unit}"
    return f"{step.relation}: {step.with_numbers} = {step.result_shown}{unit}"


def _defaults(answer: Any) -> list[str]:
    """Return the defaults in use in one line.

    It leaves out fields that the caller gave, values of zero, and constants of the model.
    """
    taken = all_in_words(
        {
            a.name: a.value
            for a in answer.assumptions
            if a.value and "." not in a.name and a.name not in answer.asked and _is_listed(a)
        }
    )
    return [f"Assumed: {listed(taken)}."] if taken else []


def _is_listed(assumption: Assumption) -> bool:
    """Return whether a reader can compare a default with their own case."""
    return "/" not in assumption.unit and "²" not in assumption.unit


def _last_steps(answer: Any, field: str) -> list[WorkingStep]:
    """Return the step that gives the figure, after the last two steps whose results it uses."""
    steps: list[WorkingStep] = answer.working
    figure = getattr(answer, field, None)
    at = next((i for i, step in enumerate(steps) if step.result == figure), len(steps) - 1)
    used = set(_NUMBER.findall(steps[at].with_numbers))
    taken = [step for step in steps[:at] if f"{step.result:.4g}" in used]
    return [*taken[-2:], steps[at]]


class _Marks(Struct, frozen=True, kw_only=True):
    """How a markup writes the parts of a reply."""

    bold: tuple[str, str]
    soft: tuple[str, str]
    between: str
    link_form: str
    # what the markup would take for a link or an element, and what stands for it
    plain: Mapping[int, str] = {}

    def text(self, text: str) -> str:
        """Return a sentence, which can hold a name that a caller chose, so that it makes no link."""
        return text.translate(self.plain)

    def strong(self, text: str) -> str:
        return text.join(self.bold)

    def weak(self, text: str) -> str:
        return text.join(self.soft)

    def link(self, text: str, url: str) -> str:
        return self.link_form.format(text=text, url=url)


_MARKS = {
    Markup.PLAIN: _Marks(bold=("", ""), soft=("", ""), between="\n", link_form="{text}: {url}"),
    # two spaces at the end of a line break it without a new paragraph
    Markup.MARKDOWN: _Marks(
        bold=("**", "**"),
        soft=("*", "*"),
        between="  \n",
        link_form="[{text}]({url})",
        plain={ord(sign): f"\\{sign}" for sign in "\\[]<>*_`"},
    ),
    Markup.BBCODE: _Marks(
        bold=("[b]", "[/b]"),
        soft=("[i]", "[/i]"),
        between="\n",
        link_form="[url={url}]{text}[/url]",
        plain={ord("["): "(", ord("]"): ")"},  # it has no way to escape
    ),
}
