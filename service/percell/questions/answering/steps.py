"""Steps of working that more than one question shows."""

from percell.questions.answering.envelope import Step
from percell.questions.vocabulary.layout import Wiring
from percell.questions.vocabulary.sharing import DRAWS, SEED, Sharing, Spread


def counted_cells(sharing: Sharing | Spread, wired: Wiring, *, counted: float) -> list[Step]:
    """Show as how many cells a group counts, where that is computed."""
    if not isinstance(sharing, Spread) or wired.parallel == 1:
        return []
    return [
        Step(
            f"Cells that a group of {wired.parallel} counts as: the hardest-worked one's share s in "
            f"{DRAWS:,} groups drawn with seed {SEED}, resistances scattered by "
            f"{sharing.spread:g}, at the level {sharing.percentile:g}",
            "n = 1 / s",
            f"1 / {1 / counted:.4g}",
            counted,
            "1",
        )
    ]


def hottest_cell(
    sharing: Sharing | Spread,
    wired: Wiring,
    *,
    counted: float,
    pack_a: float,
    hottest_a: float,
) -> list[Step]:
    """Show how the pack's current falls on the hardest-worked cell."""
    if wired.parallel == 1:
        what = "Current of each cell: in a series string all carry the same"
        return [Step(what, "I_cell = I", f"{pack_a:.4g} A", hottest_a, "A")]
    if isinstance(sharing, Spread):
        what, relation = "Current of the hardest-worked cell, by the spread", "I_cell = I / n"
    elif sharing is Sharing.EVEN:
        what, relation = "Current of each cell, shared evenly", "I_cell = I / P"
    else:
        what = "Current of the hardest-worked cell, with the sharing allowance"
        relation = "I_cell = I / (P − ½)"
    return [
        *counted_cells(sharing, wired, counted=counted),
        Step(what, relation, f"{pack_a:.4g} A / {counted:.4g}", hottest_a, "A"),
    ]


def headroom(*, hottest_a: float, rating_a: float) -> Step:
    """Show what is left of the rating."""
    return Step(
        "Headroom: what is left of the rating, negative when it is passed",
        "h = 1 − I_cell / I_r",
        f"1 − {hottest_a:.4g} A / {rating_a:.4g} A",
        1 - hottest_a / rating_a,
        "1",
    )
