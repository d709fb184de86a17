"""Steps of working that more than one question shows."""

from percell.questions.answering.envelope import WorkingStep
from percell.questions.vocabulary.layout import Wiring
from percell.questions.vocabulary.sharing import DRAWS, SEED, ResistanceSpread, Sharing


def counted_cells(
    sharing: Sharing | ResistanceSpread, wired: Wiring, *, counted: float
) -> list[WorkingStep]:
    """Show how many cells a group counts as, if that is calculated."""
    if not isinstance(sharing, ResistanceSpread) or wired.parallel == 1:
        return []
    return [
        WorkingStep(
            f"Cells that a group of {wired.parallel} counts as: the worst-case one's share s in "
            f"{DRAWS:,} groups drawn with seed {SEED}, resistances scattered by "
            f"{sharing.spread:g}, at the level {sharing.percentile:g}",
            "n = 1 / s",
            f"1 / {1 / counted:.4g}",
            counted,
            "1",
        )
    ]


def worst_cell(
    sharing: Sharing | ResistanceSpread,
    wired: Wiring,
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
        what, relation = "Current of the worst-case cell, by the spread", "I_cell = I / n"
    elif sharing is Sharing.EVEN:
        what, relation = "Current of each cell, shared evenly", "I_cell = I / P"
    else:
        what = "Current of the worst-case cell, with the sharing allowance"
        relation = "I_cell = I / (P − ½)"
    return [
        *counted_cells(sharing, wired, counted=counted),
        WorkingStep(what, relation, f"{pack_a:.4g} A / {counted:.4g}", worst_cell_a, "A"),
    ]


def headroom(*, worst_cell_a: float, rating_a: float) -> WorkingStep:
    """Show the unused part of the rating."""
    return WorkingStep(
        "Headroom: what is left of the rating, negative when it is passed",
        "h = 1 − I_cell / I_r",
        f"1 − {worst_cell_a:.4g} A / {rating_a:.4g} A",
        1 - worst_cell_a / rating_a,
        "1",
    )
