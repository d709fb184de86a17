"""Steps of working that more than one question shows."""

from percell.questions.envelope import Step
from percell.questions.layout import Wiring
from percell.questions.sharing import Sharing


def hottest_cell(
    sharing: Sharing, wired: Wiring, *, counted: float, pack_a: float, hottest_a: float
) -> Step:
    """Show how the pack's current falls on the hardest-worked cell."""
    if wired.parallel == 1:
        return Step(
            "Current of each cell: in a series string all carry the same",
            "I_cell = I",
            f"{pack_a:.4g} A",
            hottest_a,
            "A",
        )
    if sharing is Sharing.EVEN:
        return Step(
            "Current of each cell, shared evenly",
            "I_cell = I / P",
            f"{pack_a:.4g} A / {wired.parallel}",
            hottest_a,
            "A",
        )
    return Step(
        "Current of the hardest-worked cell, with the sharing allowance",
        "I_cell = I / (P − ½)",
        f"{pack_a:.4g} A / {counted:.4g}",
        hottest_a,
        "A",
    )


def headroom(*, hottest_a: float, rating_a: float) -> Step:
    """Show what is left of the rating."""
    return Step(
        "Headroom: what is left of the rating, negative when it is passed",
        "h = 1 − I_cell / I_r",
        f"1 − {hottest_a:.4g} A / {rating_a:.4g} A",
        1 - hottest_a / rating_a,
        "1",
    )
