"""What a rule and a finding are. Each subject keeps its rules in a file ``rules.py`` of its own."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta, Struct


class Severity(StrEnum):
    """How grave a finding is."""

    NOTE = "note"
    CAUTION = "caution"
    WARNING = "warning"


class Rule(Struct, frozen=True, kw_only=True):
    """A rule: stable id, what it looks at and what to do about it."""

    id: str
    severity: Severity
    title: str
    explanation: str
    source: str


class Finding(Struct, frozen=True, gc=False):
    """A rule that applies to this question."""

    rule: Annotated[str, Meta(description="Stable id of the rule.")]
    severity: Severity
    sentence: Annotated[str, Meta(description="What was found, with its numbers.")]
    source: Annotated[str, Meta(description="Where the rule comes from.")]
    link: Annotated[str, Meta(description="The reference site's page for the rule.")]


def finding(rule: Rule, sentence: str) -> Finding:
    """Return the finding of a rule."""
    return Finding(rule.id, rule.severity, sentence, rule.source, f"/rules/#{rule.id}")


def each_once(found: list[Finding], more: list[Finding]) -> list[Finding]:
    """Return the findings, each rule once: the first finding knows most of the numbers."""
    known = [one.rule for one in found] if more else []
    return found + [one for one in more if one.rule not in known]
