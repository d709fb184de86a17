"""An answer as text to paste into a conversation: figure, findings, working, caution, link."""

from enum import StrEnum
from typing import Any

from msgspec import UNSET, Struct

from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import Headline
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.questions.vocabulary.rules import Severity
from percell.questions.vocabulary.verdict import Verdict


class Form(StrEnum):
    """Markup of a reply."""

    PLAIN = "plain"
    MARKDOWN = "markdown"
    BBCODE = "bbcode"


# after these words nobody looks for a warning
_MILD = (Verdict.WITHIN, Verdict.LITTLE)

# people read a reply without its answer, so it always carries these
_ALWAYS = [caution.sentence for caution in CAUTIONS if caution.id in ("rating", "precedence")]


def reply(
    *, title: str, headline: Headline, asked: dict[str, Any], answer: Any, form: Form, site: str
) -> str:
    """Return the text of a reply.

    Args:
        title: Title of the question.
        headline: The figure to lead with.
        asked: The fields as the caller gave them.
        answer: The answer.
        form: Markup.
        site: Address of the reference site, without a slash at its end.
    """
    mark = _MARKUP[form]
    figure = headline.text(getattr(answer, headline.field))
    given = ", ".join(_in_words(name, value) for name, value in asked.items())
    row = answer.links.table_row
    where = answer.links.method if row is UNSET else row
    lines = [
        mark.strong(title),
        given,
        f"{headline.says}: {mark.strong(figure)}{_in_a_word(answer)}",
        *_warnings(answer, mark),
        *(_working(step) for step in _last_steps(answer, headline.field)),
        *_defaults(answer, asked),
        mark.weak(" ".join(_ALWAYS)),
        mark.link("Table row" if row is not UNSET else "How it is worked out", site + where),
    ]
    return mark.between.join(lines) + "\n"


def _in_a_word(answer: Any) -> str:
    """Return the verdict of the answer in words, if any; a mild one points to a warning."""
    for name, before in (
        ("verdict", ""),
        ("plausibility", "the label is "),
        ("health_mark", ""),
    ):
        if word := getattr(answer, name, UNSET):
            warned = any(found.severity is Severity.WARNING for found in answer.findings)
            but = ", but see the warning" if warned and word in _MILD else ""
            return f" – {before}{word.value.replace('_', ' ')}{but}"
    return ""


def _warnings(answer: Any, mark: "_Markup") -> list[str]:
    """Return the findings, most severe first, without the notes."""
    return [
        f"{mark.strong(severity.value.capitalize())}: {found.sentence}"
        for severity in (Severity.WARNING, Severity.CAUTION)
        for found in answer.findings
        if found.severity is severity
    ]


def _working(step: WorkingStep) -> str:
    unit = "" if step.unit == "1" else f" {step.unit}"
    return f"{step.relation}: {step.put_in} = {step.result:.4g}{unit}"


def _defaults(answer: Any, asked: dict[str, Any]) -> list[str]:
    """Return the defaults in use in one line.

    It leaves out fields that the caller gave, values of zero, and constants of the model.
    """
    taken = [
        _in_words(
            a.name, f"{a.value:g}" if not isinstance(a.value, str) else a.value.replace("_", " ")
        )
        for a in answer.assumptions
        if a.value and a.unit in _LISTED_UNITS and "." not in a.name and a.name not in asked
    ]
    return [f"Taken where nothing was given: {', '.join(taken)}."] if taken else []


def _in_words(name: str, value: Any) -> str:
    """Return a field in words: its name without the unit, its value, and the unit."""
    for suffix, unit in _UNITS.items():
        if name.endswith(suffix):
            return f"{name.removesuffix(suffix).replace('_', ' ')} {value} {unit}"
    return f"{name.replace('_', ' ').replace('.', ' ')} {value}"


_UNITS = {
    "_a": "A",
    "_v": "V",
    "_ohm": "Ω",
    "_w": "W",
    "_wh": "Wh",
    "_ah": "Ah",
    "_s": "s",
    "_c": "°C",
    "_mm": "mm",
}
# units of the defaults that a reply names; "1" is a ratio, "" is a word
_LISTED_UNITS = {*_UNITS.values(), "1", ""}


def _last_steps(answer: Any, field: str) -> list[WorkingStep]:
    """Return the step that gives the figure, after the step whose result it uses."""
    steps: list[WorkingStep] = answer.working
    figure = getattr(answer, field)
    at = next((i for i, step in enumerate(steps) if step.result == figure), len(steps) - 1)
    taken = [step for step in steps[:at] if f"{step.result:.4g}" in steps[at].put_in]
    return [*taken[-1:], steps[at]]


class _Markup(Struct, frozen=True, kw_only=True):
    """How a markup writes the parts of a reply."""

    bold: tuple[str, str]
    soft: tuple[str, str]
    between: str
    link_form: str

    def strong(self, text: str) -> str:
        return text.join(self.bold)

    def weak(self, text: str) -> str:
        return text.join(self.soft)

    def link(self, text: str, url: str) -> str:
        return self.link_form.format(text=text, url=url)


_MARKUP = {
    Form.PLAIN: _Markup(bold=("", ""), soft=("", ""), between="\n", link_form="{text}: {url}"),
    # two spaces at the end of a line break it without a new paragraph
    Form.MARKDOWN: _Markup(
        bold=("**", "**"), soft=("*", "*"), between="  \n", link_form="[{text}]({url})"
    ),
    Form.BBCODE: _Markup(
        bold=("[b]", "[/b]"),
        soft=("[i]", "[/i]"),
        between="\n",
        link_form="[url={url}]{text}[/url]",
    ),
}
