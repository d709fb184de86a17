"""What a rule and a finding are. Each subject keeps its rules in a file ``rules.py`` of its own."""

from collections.abc import Iterable
from enum import StrEnum
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.questions.vocabulary.wording import quoted


class LimitName(StrEnum):
    """The limits of a cell, and of the claims on its label."""

    CONTINUOUS_RATING = "continuous_rating"
    STOP_TEMPERATURE = "stop_temperature"
    AVAILABLE_POWER = "available_power"
    END_VOLTAGE = "end_voltage"
    REVERSAL = "reversal"
    CHARGED_VOLTAGE = "charged_voltage"
    CHARGE_CURRENT = "charge_current"
    CHARGE_TEMPERATURE = "charge_temperature"
    BELIEVABLE_RATING = "believable_rating"
    BELIEVABLE_CAPACITY = "believable_capacity"

    @property
    def words(self) -> str:
        """Return the name as a sentence says it."""
        return self.value.replace("_", " ")


class Severity(StrEnum):
    """Severity of a finding, mildest first."""

    NOTE = "note"
    CAUTION = "caution"
    WARNING = "warning"


class Attention(StrEnum):
    """The severity of the most severe finding, mildest first."""

    NONE = "none"
    NOTE = "note"
    CAUTION = "caution"
    WARNING = "warning"


_GRAVITY = {severity: place for place, severity in enumerate(Severity)}
_ORDER = " < ".join(f"`{one.value}`" for one in Attention)
AttentionField = Annotated[
    Attention, Meta(description=f"Severity of the most severe finding, in the order {_ORDER}.")
]


class Rule(Struct, frozen=True, kw_only=True):
    """A rule: what it looks at and what to do about it. Only a rule of a limit can be a warning."""

    id: Annotated[str, Meta(description="Stable id.")]
    severity: Annotated[Severity, Meta(description="Severity of its findings.")]
    title: Annotated[str, Meta(description="What the rule is about.")]
    explanation: Annotated[str, Meta(description="What it looks at, and what to do.")]
    source: Annotated[str, Meta(description="Source of the rule.")]
    limit: Annotated[
        LimitName | None, Meta(description="The limit that it concerns. null if it concerns none.")
    ] = None


class Finding(Struct, frozen=True, gc=False, omit_defaults=True):
    """A rule that applies to this question."""

    rule: Annotated[str, Meta(description="Stable identifier of the rule.")]
    severity: Annotated[Severity, Meta(description="Severity of the finding.")]
    sentence: Annotated[
        str, Meta(description="Finding in words, with its numbers. It can be pasted alone.")
    ]
    source: Annotated[str, Meta(description="Source of the rule.")]
    link: Annotated[str, Meta(description="Page of the rule on the reference site.")]
    limit: Annotated[
        LimitName | UnsetType, Meta(description="Limit that the finding concerns, if any.")
    ] = UNSET


def finding(rule: Rule, sentence: str) -> Finding:
    """Return the finding of a rule."""
    return Finding(
        rule.id,
        rule.severity,
        sentence,
        rule.source,
        f"/rules/#{rule.id}",
        UNSET if rule.limit is None else rule.limit,
    )


def named(label: str, told: Finding) -> Finding:
    """Return the finding about one of several things with the name of that one."""
    return structs.replace(told, sentence=f"{quoted(label)}: {told.sentence}")


def each_once(found: list[Finding], more: list[Finding]) -> list[Finding]:
    """Return the findings, each rule once: the first finding knows most of the numbers."""
    known = [one.rule for one in found] if more else []
    return found + [one for one in more if one.rule not in known]


def gravest_finding(findings: Iterable[Finding]) -> Finding | None:
    """Return the first of the most severe findings."""
    # max() returns the first of equals
    return max(findings, key=lambda one: _GRAVITY[one.severity], default=None)
