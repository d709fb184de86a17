"""The rules behind findings: what each looks at, how grave it is, where it comes from."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta, Struct

from percell.questions.fields import COMMON_PRACTICE


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
    """Return what was found by a rule."""
    return Finding(rule.id, rule.severity, sentence, rule.source, f"/rules/#{rule.id}")


_ALL: dict[str, Rule] = {}


def _rule(id: str, severity: Severity, title: str, explanation: str, source: str) -> Rule:  # noqa: A002
    rule = Rule(id=id, severity=severity, title=title, explanation=explanation, source=source)
    _ALL[id] = rule
    return rule


def every_rule() -> list[Rule]:
    """Return all rules, gravest first."""
    order = [Severity.WARNING, Severity.CAUTION, Severity.NOTE]
    return sorted(_ALL.values(), key=lambda rule: order.index(rule.severity))


OVER_RATING = _rule(
    "over-rating",
    Severity.WARNING,
    "A cell would carry more than its rating",
    "The current of the hardest-worked cell, at the corner that is hardest on it, is above the "
    "continuous discharge rating. Use a higher resistance, less power, more cells, or cells with a "
    "higher rating that you trust.",
    "The maker's continuous discharge rating",
)
LITTLE_HEADROOM = _rule(
    "little-headroom",
    Severity.CAUTION,
    "Less than a tenth of the rating is left",
    "The current is within the rating, but by less than 10 %. Ratings, readings and cells age and "
    "vary by more than that.",
    "10 % is percell's own choice; the habit of leaving headroom is " + COMMON_PRACTICE,
)
SHARING_ALLOWANCE = _rule(
    "sharing-allowance",
    Severity.CAUTION,
    "Cells in parallel do not share evenly",
    "Contacts and cells differ, so one cell of a parallel group carries more than an even share. By "
    "common practice P cells count as P − ½. A measured resistance for each cell gives a better answer.",
    "Counting P cells as P − ½: " + COMMON_PRACTICE,
)
SHARING_RULE_NOT_CAREFUL = _rule(
    "sharing-rule-not-careful",
    Severity.CAUTION,
    "For three or more cells in parallel the usual allowance is not the careful side",
    "Counting P cells as P − ½ leaves each cell the smaller a margin the more there are: one cell "
    "carries more as soon as the others' resistances are higher than its own by 1/(2P − 3), which is "
    "100 % for two cells, 33 % for three and 20 % for four. Match the cells by measured resistance, "
    "measure the spread and ask with it, or keep more headroom.",
    "Monte Carlo as in JCGM 101:2008 over an assumed spread of 10 %; the allowance is "
    + COMMON_PRACTICE,
)
SHARE_ABOVE_ALLOWANCE = _rule(
    "share-above-allowance",
    Severity.CAUTION,
    "A cell carries more than the sharing allowance counts on",
    "The resistances or voltages of these cells differ by more than counting P cells as P − ½ covers. "
    "Take the computed current, or match the cells better.",
    "Kirchhoff's rules; the allowance is " + COMMON_PRACTICE,
)
CHARGED_BY_NEIGHBOURS = _rule(
    "charged-by-neighbours",
    Severity.CAUTION,
    "A cell is being charged by its neighbours",
    "Cells in parallel come to one voltage, the higher ones by charging the lower ones, with no charger "
    "to limit the current. A discharge rating is no charge rating: the maker's charge current is lower. "
    "Take the cells apart, charge each to the same voltage, and look for one that is defective.",
    "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
    + COMMON_PRACTICE,
)
CELL_REVERSED = _rule(
    "cell-reversed",
    Severity.WARNING,
    "A cell is driven into reversal",
    "The current is higher than this cell can give, and the others force it through: the voltage at its "
    "terminals is below zero. A cell that was reversed is damaged and is not to be charged again.",
    "Kirchhoff's rules; the advice is " + COMMON_PRACTICE,
)
JOINING_RUSH = _rule(
    "joining-rush",
    Severity.WARNING,
    "Joining these cells charges one of them too fast",
    "At the moment of contact the current is limited by the resistances alone. Bring the cells to one "
    "voltage first: charge each by itself, let them rest, measure, and join them only within the "
    "difference that the answer names.",
    "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
    + COMMON_PRACTICE,
)
VOLTAGE_OFF_CURVE = _rule(
    "voltage-off-curve",
    Severity.CAUTION,
    "A voltage does not belong to a cell of this chemistry",
    "The open-circuit voltage lies below the empty or above the full end of the curve, so nothing can be "
    "said about the charge in the cell. Below it the cell was discharged too deeply, above it "
    "overcharged, or the chemistry is another: do not join or charge it.",
    "Open-circuit voltage curves by chemistry, see the method page; the advice is "
    + COMMON_PRACTICE,
)
NO_CURVE = _rule(
    "no-curve",
    Severity.NOTE,
    "No published curve stands for this chemistry",
    "The currents at the moment of joining need no curve; where the cells come to rest does, and is left "
    "out.",
    "The curves that there are, see the method page",
)
SHORT_CIRCUIT = _rule(
    "near-short-circuit",
    Severity.WARNING,
    "The coil is near a short circuit for this pack",
    "The coil's lowest likely resistance is no higher than the pack's own. At least half of the power "
    "would turn to heat inside the cells.",
    "Maximum power transfer, OpenStax University Physics Vol. 2, module m58453",
)
TRANSPORT_LIMIT = _rule(
    "transport-limit",
    Severity.CAUTION,
    "Above 100 Wh for one battery",
    "A lithium-ion battery of more than 100 Wh may not travel under the passenger rule for such "
    "devices. A loose cell is itself one battery; a built-in pack counts as a whole. Rules change: "
    "ask the carrier.",
    "49 CFR 171.8 and 175.10(a)(19)",
)
RESISTANCE_ASSUMED = _rule(
    "resistance-assumed",
    Severity.NOTE,
    "The cells' resistance was assumed",
    "The answer leans on a resistance that nobody measured. Measure it under load (d.c., not the "
    "1 kHz a.c. value, which is lower) and ask again.",
    "d.c. method of IEC 61960-3 (secondary copy)",
)
SAME_POWER_ANY_WIRING = _rule(
    "converter-wiring",
    Severity.NOTE,
    "Through a converter, series or parallel makes no difference to the cell",
    "A converter draws power. The same cells at the same voltage each give the same part of it, "
    "however they are wired; only the count of cells matters.",
    "Conservation of energy",
)
CUTOFF_BELOW_END = _rule(
    "cutoff-below-end",
    Severity.CAUTION,
    "The load stops below the usual end of discharge",
    "The cut-off voltage is below the end-of-discharge voltage of this chemistry. Deep discharge harms "
    "the cell; one found below its end voltage is not to be charged again.",
    "End voltages by chemistry, see the method page; the advice is " + COMMON_PRACTICE,
)
CHARGED_ABOVE_CHEMISTRY = _rule(
    "charged-above-chemistry",
    Severity.WARNING,
    "The charged voltage is above what this chemistry takes",
    "A cell charged above its maker's voltage can fail violently. Check the chemistry and the charger.",
    "Charged voltages by chemistry, see the method page",
)
CLAIM_CAPACITY = _rule(
    "claim-capacity",
    Severity.WARNING,
    "The printed capacity does not fit into this size",
    "The claimed energy per volume is above what cells of this size are known to hold, so the label "
    "cannot be trusted, and neither can its rating.",
    "Bounds by size, each with its origin on the method page",
)
CLAIM_RATING = _rule(
    "claim-rating",
    Severity.WARNING,
    "The printed rating would overheat a cell of this size",
    "Even with the lowest resistance believed of this size, a full discharge at the claimed current "
    "would end hotter than cells are rated for: the figure is likely a pulse rating or invented.",
    "Bounds by size, each with its origin on the method page",
)
