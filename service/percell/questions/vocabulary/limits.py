"""The limits of a cell that answers look at, each with its own verdict."""

from collections.abc import Sequence
from enum import StrEnum
from functools import cache
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics.meter import NOISE
from percell.questions.vocabulary.fields import text
from percell.questions.vocabulary.labels import label_of, lowered
from percell.questions.vocabulary.rules import Finding, LimitName, Severity, each_once
from percell.questions.vocabulary.verdict import HEADROOM, Verdict, gravest

# stands for a field where no field of the question could tell
NEEDS_TEST = "test"


class Limit(Struct, frozen=True, gc=False, omit_defaults=True, kw_only=True):
    """One limit, the figure that was compared with it, and the verdict."""

    name: Annotated[LimitName, text("Name of the limit.")]
    verdict: Annotated[Verdict, text("Verdict on this limit alone.")]
    unit: Annotated[str, text("Unit of limit and figure.")] = ""
    value: Annotated[float | UnsetType, text("Value of the limit.")] = UNSET
    figure: Annotated[float | UnsetType, text("Figure that was compared with the limit.")] = UNSET
    headroom: Annotated[
        float | UnsetType,
        text("Unused part of the limit. Negative if exceeded, left out if its size is unknown."),
    ] = UNSET
    reason: Annotated[str | UnsetType, text("Why the limit was not judged.")] = UNSET
    missing: Annotated[
        str | UnsetType,
        text(
            f"What is missing to judge the limit: a field, or `{NEEDS_TEST}` if only a test could tell."
        ),
    ] = UNSET


# below this a limit is nothing to compare with, and a headroom would have no bound
_LEAST_SCALE = 1e-12


class LimitSide(StrEnum):
    """The side of a limit on which figures are within it."""

    AT_MOST = "at_most"
    AT_LEAST = "at_least"


def judged(
    name: LimitName,
    figure: float,
    value: float,
    unit: str,
    *,
    bound: LimitSide = LimitSide.AT_MOST,
    near: bool = True,
    origin: float = 0.0,
) -> Limit:
    """Compare a figure with a limit.

    Args:
        name: The limit.
        figure: The figure.
        value: The value of the limit.
        unit: Unit of both.
        bound: Whether figures must stay at or below the limit, or at or above it.
        near: Whether a figure close to the limit has little headroom. A voltage at its usual end has not.
        origin: Where the headroom counts from: for a temperature, that of the air.
    """
    scale = abs(value - origin)
    left = value - figure if bound is LimitSide.AT_MOST else figure - value
    noise = NOISE * max(scale, abs(value))
    if _is_over(figure, value, noise, bound):
        verdict = Verdict.OVER
    elif near and (left < HEADROOM * scale * (1 - NOISE) or left <= noise):
        verdict = Verdict.LITTLE
    else:
        verdict = Verdict.WITHIN
    if verdict is not Verdict.OVER:
        left = max(left, 0.0)  # noise makes no headroom negative
    headroom = left / scale if scale > _LEAST_SCALE else UNSET
    return Limit(
        name=name,
        verdict=verdict,
        unit=unit,
        value=value,
        figure=figure,
        headroom=headroom,
    )


def _is_over(figure: float, value: float, noise: float, bound: LimitSide) -> bool:
    """Return whether a figure exceeds a limit. One that is a whole billionth beyond it is still equal."""
    away = 1 if bound is LimitSide.AT_MOST else -1
    # of a limit above zero the product has fewer rounding errors than the sum
    edge = value * (1 + away * NOISE) if noise == NOISE * value else value + away * noise
    return figure > edge if bound is LimitSide.AT_MOST else figure < edge


class Held(Struct, frozen=True):
    """Limits that were compared with figures, and the findings."""

    limits: list[Limit]
    findings: list[Finding]


def together(*parts: Held) -> Held:
    """Return each limit and each rule once: the worst limit of a name, the first finding of a rule."""
    limits: list[Limit] = []
    findings: list[Finding] = []
    for part in parts:
        limits += part.limits
        if part.findings:
            findings = each_once(findings, part.findings)
    return Held(worst_of_each(limits), findings)


@cache
def missing(name: LimitName, field: str) -> Limit:
    """Return a limit that was not looked at, because a field was not given."""
    return Limit(
        name=name,
        verdict=Verdict.NOT_JUDGED,
        missing=field,
        reason=f"the {lowered(label_of(field))} was not given",
    )


def not_judged(limit: Limit, reason: str) -> Limit:
    """Return a limit that proves nothing where it is kept; what exceeds it stays over."""
    if limit.verdict is Verdict.OVER:
        return limit
    return structs.replace(limit, verdict=Verdict.NOT_JUDGED, reason=reason)


def unbounded(name: LimitName) -> Limit:
    """Return a limit that nothing can exceed here."""
    return Limit(name=name, verdict=Verdict.WITHIN)


def over(name: LimitName) -> Limit:
    """Return a limit that is certainly exceeded, though nobody can tell by how much."""
    return Limit(name=name, verdict=Verdict.OVER)


def worst_of_each(limits: Sequence[Limit]) -> list[Limit]:
    """Return each limit once, in the order of the first of its name: the worst of that name.

    Of equal verdicts the one with the least headroom counts.
    """
    found: dict[LimitName, Limit] = {}
    for one in limits:
        known = found.get(one.name)
        found[one.name] = one if known is None else _worse(known, one)
    return list(found.values())


def _worse(one: Limit, other: Limit) -> Limit:
    """Return the graver of two limits of one name; the first of equals."""
    if one.verdict is not other.verdict:
        graver, milder = (
            (one, other) if gravest((one.verdict, other.verdict)) is one.verdict else (other, one)
        )
        if graver.missing is not UNSET and milder.verdict is Verdict.LITTLE:
            # what was not looked at must not hide that the other has little headroom
            return structs.replace(graver, missing=UNSET)
        return graver
    if one.missing is not other.missing and UNSET in (one.missing, other.missing):
        return one if one.missing is UNSET else other
    lesser = (
        one.headroom is not UNSET and other.headroom is not UNSET and other.headroom < one.headroom
    )
    return other if lesser else one


def with_warnings(limits: list[Limit], findings: Sequence[Finding]) -> list[Limit]:
    """Return the limits, with those over about which there is a warning."""
    warned = {
        one.limit for one in findings if one.severity is Severity.WARNING and one.limit is not UNSET
    }
    if not warned:
        return limits
    told = [
        one
        if one.verdict is Verdict.OVER or one.name not in warned
        else structs.replace(one, verdict=Verdict.OVER, headroom=UNSET, reason=UNSET, missing=UNSET)
        for one in limits
    ]
    names = {one.name for one in told}
    return told + [over(name) for name in LimitName if name in warned - names]


def verdict_of(limits: Sequence[Limit], decisive: LimitName | None = None) -> Verdict:
    """Return the verdict of an answer.

    A limit that was not looked at does not spoil the others, unless it is the first, the one that the
    question is about, or the decisive one.
    """
    return gravest(
        one.verdict
        for place, one in enumerate(limits)
        if not place or one.missing is UNSET or one.name is decisive
    )


LimitsField = Annotated[
    list[Limit],
    Meta(
        description="Every limit that this question looks at. The limit that it is about comes first."
    ),
]
