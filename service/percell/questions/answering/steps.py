"""Steps of working that more than one question shows."""

from collections.abc import Iterable

from msgspec import UNSET

from percell.physics.meter import NOISE
from percell.questions.answering.envelope import WorkingStep
from percell.questions.vocabulary.layout import Wiring
from percell.questions.vocabulary.limits import Limit
from percell.questions.vocabulary.sharing import (
    DRAWS,
    PERCENTILE,
    SEED,
    SPREAD,
    Feeds,
    ResistanceSpread,
    Sharing,
    counted_by_spread,
)
from percell.questions.vocabulary.verdict import headroom as left_of
from percell.questions.vocabulary.wording import beside, shown


def counted_cells(
    sharing: Sharing | ResistanceSpread, wired: Wiring, feeds: Feeds, *, counted: float
) -> list[WorkingStep]:
    """Show how many cells a group counts as, if that is calculated."""
    if wired.parallel == 1:
        return []
    if sharing is Sharing.CAREFUL:
        by_trade = "P − ½" if feeds is Feeds.COIL else "P"
        spread = counted_by_spread(SPREAD, PERCENTILE, wired.parallel)
        return [
            WorkingStep(
                f"Number of cells that a group of {wired.parallel} counts as: the lower of {by_trade}, common "
                f"practice, and 1 / s. s is the share of the worst-case cell in {PERCENTILE * 100:g} % of groups "
                f"with a resistance spread of {SPREAD * 100:g} %",
                f"n = min({by_trade}, 1 / s)",
                f"P = {wired.parallel}, 1 / {1 / spread:.4g}",
                counted,
                "1",
            )
        ]
    if not isinstance(sharing, ResistanceSpread):
        return []
    drawn = sharing.counted
    return [
        WorkingStep(
            f"Number of cells that a group of {wired.parallel} counts as. s is the share of the worst-case cell in "
            f"{DRAWS:,} groups drawn with seed {SEED}, with a resistance spread of {drawn.spread:g}, at the level "
            f"{drawn.percentile:g}",
            "n = 1 / s",
            f"1 / {1 / counted:.4g}",
            counted,
            "1",
        )
    ]


def worst_cell(
    sharing: Sharing | ResistanceSpread,
    wired: Wiring,
    feeds: Feeds,
    *,
    counted: float,
    pack_a: float,
    worst_cell_a: float,
) -> list[WorkingStep]:
    """Show which part of the pack's current the worst-case cell carries."""
    if wired.parallel == 1:
        what = "Current of each cell: in a series string all carry the same"
        return [WorkingStep(what, "I_cell = I", f"{pack_a:.4g} A", worst_cell_a, "A")]
    if isinstance(sharing, ResistanceSpread):
        what, relation = "Current of the worst-case cell, for the given spread", "I_cell = I / n"
    elif sharing is Sharing.EVEN:
        what, relation = "Current of each cell, shared evenly", "I_cell = I / P"
    elif sharing is Sharing.ALLOWANCE:
        what = "Current of the worst-case cell, by the P − ½ rule"
        relation = "I_cell = I / (P − ½)"
    else:
        what, relation = "Current of the worst-case cell, with the default share", "I_cell = I / n"
    return [
        *counted_cells(sharing, wired, feeds, counted=counted),
        WorkingStep(what, relation, f"{pack_a:.4g} A / {counted:.4g}", worst_cell_a, "A"),
    ]


def headroom(*, worst_cell_a: float, rating_a: float) -> WorkingStep:
    """Show the unused part of the rating."""
    return WorkingStep(
        "Headroom: unused part of the rating, negative if exceeded",
        "h = 1 − I_cell / I_r",
        f"1 − {worst_cell_a:.4g} A / {rating_a:.4g} A",
        left_of(worst_cell_a, rating_a),
        "1",
    )


# significant digits of a result in print, as in the numbers of the steps after it
_DIGITS = 4
# closer to a limit than this, so many digits could hide its side
_CLOSE = 10.0 ** (1 - _DIGITS)


def with_shown_results(steps: Iterable[WorkingStep], limits: list[Limit]) -> list[WorkingStep]:
    """Return steps with their results as text: no result is rounded onto a limit or across it."""
    return [
        WorkingStep(
            step.what,
            step.relation,
            step.with_numbers,
            step.result,
            step.unit,
            beside_limits(step.result, step.unit, limits) or shown(step.result, _DIGITS),
        )
        for step in steps
    ]


def beside_limits(result: float, unit: str, limits: Iterable[Limit]) -> str:
    """Return a result so close to a limit that four digits could hide its side, with as many as show it.

    Return nothing for any other result.
    """
    for limit in limits:
        if limit.unit == unit and limit.value is not UNSET:
            off = abs(result - limit.value)
            if NOISE * abs(limit.value) < off <= _CLOSE * abs(limit.value):
                return beside(result, limit.value)
    return ""
