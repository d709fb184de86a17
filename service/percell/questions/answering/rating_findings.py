"""Findings about a current compared with a rating, for every kind of load."""

from collections.abc import Callable
from typing import TypeVar

from msgspec import UNSET, Struct, UnsetType

from percell.physics.types import Number
from percell.questions.answering import rules, steps
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.question import Explained
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.sharing import (
    PERCENTILE,
    SPREAD,
    ResistanceSpread,
    Sharing,
    counted_by_spread,
    counted_cells,
    worst_cell,
)
from percell.questions.vocabulary.verdict import HEADROOM, Verdict, verdict
from percell.questions.vocabulary.wording import beside, given, shown

Figures = TypeVar("Figures", bound=Struct)


def against_rating(
    *,
    worst_cell_a: float,
    rating_a: float,
    sharing: Sharing | ResistanceSpread,
    parallel: int,
    pack_a: float,
) -> tuple[Verdict, list[Finding]]:
    """Return the verdict on the worst-case cell of a pack, and its findings."""
    judged, found = cell_against_rating(worst_cell_a=worst_cell_a, rating_a=rating_a)
    if parallel > 1:
        allowed_a = pack_a / (parallel - 0.5)
        how = f"judged {_how(sharing)}"
        if isinstance(sharing, ResistanceSpread):
            how += f", {beside(worst_cell_a, rating_a)} A"
        over = ", above the rating" if verdict(allowed_a, rating_a) is Verdict.OVER else ""
        found.append(
            finding(
                rules.SHARING_ALLOWANCE,
                f"{parallel} cells share {shown(pack_a)} A: {beside(pack_a / parallel, rating_a)} A each if "
                f"evenly, {beside(allowed_a, rating_a)} A in the worst-case cell with the "
                f"allowance{over}; {how}.",
            )
        )
        if parallel > 2 and not isinstance(sharing, ResistanceSpread):
            found.append(_rule_not_careful(parallel, pack_a, rating_a))
    return judged, found


def _how(sharing: Sharing | ResistanceSpread) -> str:
    if isinstance(sharing, ResistanceSpread):
        return "by the spread of the cells"
    return "with an even share" if sharing is Sharing.EVEN else "with the sharing allowance"


def limit_by_sharing(
    sharing: Sharing | ResistanceSpread, parallel: int, *, even: str, allowance: str, spread: str
) -> list[Finding]:
    """Return the findings about a limit of a pack whose cells do not share evenly.

    Args:
        sharing: The way of sharing in the answer.
        parallel: Cells in parallel.
        even: The limit in words, if they share evenly.
        allowance: The same with the sharing allowance.
        spread: The same if their resistances scatter by the usual spread.
    """
    if parallel == 1:
        return []
    found = [
        finding(
            rules.SHARING_ALLOWANCE,
            f"For {parallel} cells in parallel: {even} if they share evenly, {allowance} with the sharing "
            f"allowance; answered {_how(sharing)}.",
        )
    ]
    if parallel > 2 and not isinstance(sharing, ResistanceSpread):
        found.append(
            finding(
                rules.SHARING_RULE_NOT_CAREFUL,
                f"If the resistances of the {parallel} cells scatter by an assumed {SPREAD * 100:g} %: {spread}; in "
                f"{PERCENTILE * 100:g} % of such groups the worst-case cell then stays within its rating.",
            )
        )
    return found


def limit_by_counted(
    sharing: Sharing | ResistanceSpread, parallel: int, limit: Callable[[Number], str]
) -> list[Finding]:
    """Return the same for a limit that depends on how many cells a group counts as."""
    if parallel == 1:
        return []
    return limit_by_sharing(
        sharing,
        parallel,
        even=limit(parallel),
        allowance=limit(counted_cells(Sharing.ALLOWANCE, parallel)),
        spread=limit(counted_by_spread(SPREAD, PERCENTILE, parallel)),
    )


def cell_against_rating(*, worst_cell_a: float, rating_a: float) -> tuple[Verdict, list[Finding]]:
    """Return the verdict on a cell's current, and its findings."""
    found = []
    judged = verdict(worst_cell_a, rating_a)
    if judged is Verdict.OVER:
        found.append(
            finding(
                rules.OVER_RATING,
                f"The worst-case cell would carry {beside(worst_cell_a, rating_a)} A, above its continuous "
                f"rating of {given(rating_a)} A.",
            )
        )
    elif judged is Verdict.LITTLE:
        found.append(
            finding(
                rules.LITTLE_HEADROOM,
                f"The worst-case cell carries {beside(worst_cell_a, rating_a)} A of its continuous rating of "
                f"{given(rating_a)} A, so that less than {HEADROOM * 100:g} % of the rating is left.",
            )
        )
    return judged, found


def _rule_not_careful(parallel: int, pack_a: float, rating_a: float) -> Finding:
    share, above = worst_cell(parallel, SPREAD, PERCENTILE)
    over = ", above the rating" if verdict(share * pack_a, rating_a) is Verdict.OVER else ""
    return finding(
        rules.SHARING_RULE_NOT_CAREFUL,
        f"If the resistances of the {parallel} cells scatter by an assumed {SPREAD * 100:g} %, the "
        f"worst-case cell carries more than the allowance counts on in {_percent(above)} of such "
        f"groups; {PERCENTILE * 100:g} % of them stay within a share of {share:.3g}, which is "
        f"{beside(share * pack_a, rating_a)} A{over}.",
    )


def _percent(part: float) -> str:
    """Return a part of all groups in percent: never 100 %, because draws cannot prove that."""
    return "more than 99 %" if part > 0.99 else f"{100 * part:.2g} %"


def explained_with_rating(
    figures: Figures,
    *,
    worst_cell_a: float,
    rating_a: float | UnsetType,
    working: list[WorkingStep],
    findings: list[Finding],
) -> Explained[Figures]:
    """Return what a question comes to; with verdict and headroom if a rating was given."""
    if rating_a is UNSET:
        return Explained(figures=figures, working=working, findings=findings)
    judged, found = cell_against_rating(worst_cell_a=worst_cell_a, rating_a=rating_a)
    headroom = steps.headroom(worst_cell_a=worst_cell_a, rating_a=rating_a)
    return Explained(
        figures=figures,
        verdict=judged,
        working=[*working, headroom],
        findings=found + findings,
    )
