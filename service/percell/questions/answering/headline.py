"""The headline of an answer: what is over a limit, its condition, its leading figure, its verdict and its most severe finding."""

from collections.abc import Sequence
from enum import StrEnum
from functools import cache, lru_cache
from typing import Any

from msgspec import UNSET, Struct

from percell.physics.meter import NOISE, rounded_down, rounded_up
from percell.questions.answering.echo import defaults_of
from percell.questions.answering.envelope import Assumption
from percell.questions.vocabulary.labels import lowered
from percell.questions.vocabulary.limits import Limit
from percell.questions.vocabulary.phrases import all_in_words
from percell.questions.vocabulary.read_fields import Reader, reader
from percell.questions.vocabulary.rules import Finding, Severity
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, listed


class Rounding(StrEnum):
    """How a figure is rounded for print, toward caution."""

    UP = "up"
    DOWN = "down"
    NEAREST = "nearest"
    WORD = "word"  # a word, which is not rounded


def rounded(value: float, how: Rounding, decimals: int) -> float:
    """Return a figure with so many decimals, rounded to its careful side."""
    step = 10.0**-decimals
    if how is Rounding.UP:
        return rounded_up(value=value, step=step)
    if how is Rounding.DOWN:
        return rounded_down(value=value, step=step)
    return round(value, decimals)


# of a figure at which a cell is just at its rating
NO_HEADROOM = ", which leaves no headroom"


class Headline(Struct, frozen=True, kw_only=True):
    """The one figure of an answer that its headline leads with, and how it is rounded to be careful."""

    field: str
    says: str
    unit: str
    decimals: int
    round: Rounding
    # the figure's units per shown unit: 60 to show seconds as minutes
    per: float = 1.0
    # what a reader must know of the figure before using it, as the end of its clause
    adds: str = ""

    def text(self, value: float | str, limit: float | None = None) -> str:
        """Return the figure rounded toward caution, with its unit; a word in plain letters.

        A figure below its limit is not rounded onto it.
        """
        if isinstance(value, str):
            return value.replace("_", " ")
        if limit is not None and value < limit * (1 - NOISE):
            up = rounded(value, self.round, self.decimals)
            if up >= limit * (1 - NOISE):
                return f"{beside(value, limit)} {self.unit}"
        # a negative zero would print its sign
        text = f"{rounded(value / self.per, self.round, self.decimals) or 0.0:.{self.decimals}f}"
        return f"{text} {self.unit}" if self.unit else text

    def leads(self, value: float | str, limit: float | None = None) -> str:
        """Return the figure as the clause that a headline leads with."""
        return f"{lowered(self.says)} {self.text(value, limit)}{self.adds}"


# the defaults that decide what an answer is about, and so belong to its condition
_CONDITIONS = (
    "chemistry",
    "cell_temperature_c",
    "cell_charged_voltage_v",
    "cell_cutoff_voltage_v",
    "cell_cutoff_voltage_v.current",
    "cell_cutoff_voltage_v.time",
    "cell_charge_limit_a",
    "draw_length_s",
    "pause_s",
    "ambient_temperature_c",
    "surroundings",
)


def with_assumed(condition: str, assumed: Sequence[Assumption]) -> str:
    """Return a condition with the defaults in use that belong to it."""
    taken = tuple([(a.name, a.value) for a in assumed if a.name in _CONDITIONS])
    return f"{condition}; assumed: {_defaults_in_words(taken)}" if taken else condition


@lru_cache(maxsize=1024)
def _defaults_in_words(taken: tuple[tuple[str, float | str], ...]) -> str:
    # the same few defaults are in most answers
    return listed(all_in_words(dict(taken)))


def sentence(
    *,
    condition: str,
    assumed: Sequence[Assumption],
    leads: str,
    limits: Sequence[Limit],
    verdict: Verdict,
    worst: Finding | None,
) -> str:
    """Return the headline of an answer.

    Args:
        condition: What the answer holds for, as asked.
        assumed: The defaults in use; those that belong to the condition are named.
        leads: The clause with the leading figure.
        limits: The limits of the answer, if it has any.
        verdict: Their verdict.
        worst: The most severe finding, if any; named from a caution up.
    """
    parts = [f"{with_assumed(condition, assumed)}: {leads}.", *verdict_in_words(limits, verdict)]
    if verdict is Verdict.OVER:
        # a reader who stops at the figure must have met this
        parts.insert(0, parts.pop(1))
    return " ".join([*parts, gravest_in_words(worst)]).strip()


def gravest_in_words(worst: Finding | None) -> str:
    """Return the most severe finding with its severity; nothing below a caution."""
    if worst is None or worst.severity is Severity.NOTE:
        return ""
    return f"{worst.severity.value.capitalize()}: {worst.sentence}"


def verdict_in_words(limits: Sequence[Limit], verdict: Verdict) -> list[str]:
    """Return the verdict with the limits that have it, and then those that nobody looked at, as sentences.

    There is none without a limit.
    """
    told = [_worst(limits, verdict)] if limits else []
    skipped = _skipped(limits, verdict)
    return [*told, f"Not judged: {_named(skipped)}."] if skipped else told


def _worst(limits: Sequence[Limit], verdict: Verdict) -> str:
    """Return the verdict, and the limits that have it, as a sentence."""
    counted = [one for place, one in enumerate(limits) if not place or one.missing is UNSET]
    those = _named([one for one in counted if one.verdict is verdict])
    if verdict is Verdict.OVER:
        return f"Over the limit: {those}."
    if verdict is Verdict.LITTLE:
        return f"Within the limits, but with little headroom: {those}."
    if verdict is Verdict.NOT_JUDGED:
        return f"Not judged: {_with_reasons(counted)}."
    return f"Within {'these limits' if ', ' in those else 'the limit'}: {those}."


def _skipped(limits: Sequence[Limit], verdict: Verdict) -> list[Limit]:
    """Return the limits that nobody looked at and that the sentence of the verdict does not name."""
    # a missing first limit is named above where nothing is worse
    told = limits[:1] if verdict is Verdict.NOT_JUDGED else ()
    return [one for one in limits if one.missing is not UNSET and one not in told]


def _with_reasons(limits: Sequence[Limit]) -> str:
    """Return the limits that were not judged, those of one reason together."""
    by_reason: dict[str, list[Limit]] = {}
    for one in limits:
        if one.verdict is Verdict.NOT_JUDGED and one.reason is not UNSET:
            by_reason.setdefault(one.reason, []).append(one)
    return "; ".join(f"{_named(some)}, because {reason}" for reason, some in by_reason.items())


def _named(limits: Sequence[Limit]) -> str:
    return ", ".join(one.name.words for one in limits)


# what a reader must know before all else
_FIRST = {
    name: place
    for place, name in enumerate(
        ("layout", "chemistry", "cell_size", "cell_rating_a", "cell_capacity_ah", "cells")
    )
}


@cache
def _fields(kind: type[Struct]) -> tuple[tuple[str, ...], tuple[Any, ...], Reader]:
    """Return the names and defaults of the fields in the order of a condition, and what reads them."""
    defaults = defaults_of(kind)
    names = tuple(sorted(defaults, key=lambda name: _FIRST.get(name, len(_FIRST))))
    return names, tuple(defaults[name] for name in names), reader(names)


def condition_of(asked: Struct, **said: str) -> str:
    """Return what was asked in words: every field that is not its default.

    ``said`` has better words for a field than its own, by its name; empty ones leave it out.
    """
    names, defaults, read = _fields(type(asked))
    given = {
        name: value
        for name, value, default in zip(names, read(asked), defaults, strict=True)
        if value != default
    }
    text = listed(all_in_words(given, said))
    return text[:1].upper() + text[1:]
