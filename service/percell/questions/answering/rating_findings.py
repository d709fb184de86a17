"""Findings about a current beside its rating, and about the share of the worst-case cell."""

from collections.abc import Callable

from msgspec import UNSET, UnsetType

from percell.physics.types import Number
from percell.questions.answering import rules, steps
from percell.questions.answering.envelope import WorkingStep
from percell.questions.vocabulary.limits import Held, judged, missing
from percell.questions.vocabulary.rules import Finding, LimitName, Severity, each_once, finding
from percell.questions.vocabulary.sharing import (
    PERCENTILE,
    SPREAD,
    Feeds,
    ResistanceSpread,
    Sharing,
    counted_by_spread,
    counted_cells,
)
from percell.questions.vocabulary.verdict import HEADROOM, Verdict, verdict
from percell.questions.vocabulary.wording import given, shown, worst


def against_rating(
    *,
    worst_cell_a: float,
    rating_a: float,
    sharing: Sharing | ResistanceSpread,
    parallel: int,
    pack_a: float,
    feeds: Feeds,
) -> Held:
    """Compare the worst-case cell of a pack with its rating."""
    held = cell_against_rating(worst_cell_a=worst_cell_a, rating_a=rating_a)

    def carried(counted: Number) -> str:
        over = " (above the rating)" if verdict(pack_a / counted, rating_a) is Verdict.OVER else ""
        return f"{worst(pack_a / counted, rating_a)} A{over}"

    says = f"{parallel} cells in parallel share {shown(pack_a)} A. The worst-case cell carries"
    shared = shared_findings(sharing, parallel, feeds, says, carried)
    # the careful figure of a chosen share is graver than little headroom
    told = [one for one in held.findings if one.severity is Severity.WARNING]
    told += [one for one in shared if one.severity is Severity.CAUTION]
    return Held(held.limits, each_once(told, held.findings + shared))


def shared_findings(
    sharing: Sharing | ResistanceSpread,
    parallel: int,
    feeds: Feeds,
    says: str,
    figure: Callable[[Number], str],
) -> list[Finding]:
    """Return the findings about a parallel group's sharing.

    Args:
        sharing: The way of sharing in the answer.
        parallel: Cells in parallel.
        feeds: What the pack feeds.
        says: The beginning of the sentence.
        figure: The answer's figure in words, by the number of cells that the group counts as.
    """
    if parallel == 1:
        return []
    by_rule = counted_cells(Sharing.ALLOWANCE, parallel)
    by_spread = counted_by_spread(SPREAD, PERCENTILE, parallel)
    # the worst comes first: a group that counts as fewer cells
    unequal = sorted(
        [
            (by_rule, f"{figure(by_rule)} by the P − ½ rule"),
            (
                by_spread,
                f"{figure(by_spread)} in {PERCENTILE * 100:g} % of groups with a resistance spread "
                f"(standard deviation) of {SPREAD * 100:g} %",
            ),
        ]
    )
    told = ", ".join(words for _, words in unequal)
    found = [
        finding(
            rules.UNEVEN_SHARE, f"{says} {told}, and {figure(parallel)} only if all share evenly."
        )
    ]
    if sharing is not Sharing.CAREFUL:
        careful = figure(counted_cells(Sharing.CAREFUL, parallel, feeds))
        found.append(
            finding(
                rules.SHARING_CHOSEN,
                f"Calculated {_how(sharing)}, as asked. By default percell allows for unequal cells: then it is "
                f"{careful}.",
            )
        )
    return found


def _how(sharing: Sharing | ResistanceSpread) -> str:
    if isinstance(sharing, ResistanceSpread):
        counted = sharing.counted
        return f"for a resistance spread of {given(counted.spread * 100)} % and {given(counted.percentile * 100)} % of groups"
    return "with an even share" if sharing is Sharing.EVEN else "with the P − ½ rule"


def cell_against_rating(*, worst_cell_a: float, rating_a: float) -> Held:
    """Compare a cell's current with its rating."""
    limit = judged(LimitName.CONTINUOUS_RATING, worst_cell_a, rating_a, "A")
    if limit.verdict is Verdict.OVER:
        found = [
            finding(
                rules.OVER_RATING,
                f"The worst-case cell would carry {worst(worst_cell_a, rating_a)} A, above its continuous "
                f"rating of {given(rating_a)} A.",
            )
        ]
    elif limit.verdict is Verdict.LITTLE:
        found = [
            finding(
                rules.LITTLE_HEADROOM,
                f"The worst-case cell carries {worst(worst_cell_a, rating_a)} A of its continuous rating of "
                f"{given(rating_a)} A. Less than {HEADROOM * 100:g} % of the rating is left.",
            )
        ]
    else:
        found = []
    return Held([limit], found)


def beside_rating(cell_a: float, rating_a: float) -> str:
    """Return a current, and the rating if the current is above it."""
    over = verdict(cell_a, rating_a) is Verdict.OVER
    return (
        f"{worst(cell_a, rating_a)} A{f', above its rating of {given(rating_a)} A' if over else ''}"
    )


def decided_by(*, worst_cell_a: float, rating_a: float) -> Callable[[float], bool]:
    """Return whether a current within its rating exceeds it when it is higher by a ratio."""
    within = verdict(worst_cell_a, rating_a) is not Verdict.OVER
    return lambda ratio: within and verdict(worst_cell_a * ratio, rating_a) is Verdict.OVER


def if_rated(*, worst_cell_a: float, rating_a: float | UnsetType) -> tuple[Held, list[WorkingStep]]:
    """Return the same where the rating may be missing, with the step of the headroom."""
    if rating_a is UNSET:
        return Held([missing(LimitName.CONTINUOUS_RATING, "cell_rating_a")], []), []
    step = steps.headroom(worst_cell_a=worst_cell_a, rating_a=rating_a)
    return cell_against_rating(worst_cell_a=worst_cell_a, rating_a=rating_a), [step]
