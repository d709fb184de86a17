"""What share does a cell carry if all others have a higher resistance?"""

from math import inf
from typing import Annotated

from msgspec import UNSET, Struct, UnsetType

from percell.physics import spread as spreads
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import if_rated
from percell.questions.unequal.sharing_by_spread import (
    GroupCurrentA,
    Parallel,
    beside_careful,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure, quantity
from percell.questions.vocabulary.rules import LimitName
from percell.questions.vocabulary.sharing import Feeds, Sharing, counted_cells
from percell.questions.vocabulary.wording import given, worst


class SharingByMismatch(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A group in which one cell has the lowest resistance, and all others have the same higher one."""

    parallel: Parallel
    mismatch: Annotated[
        float,
        quantity(
            "1",
            0,
            10,
            "Extra resistance of the others, with contacts, as part of the lowest resistance.",
        ),
    ]
    group_current_a: GroupCurrentA
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET


class SharingByMismatchFigures(Struct, frozen=True, gc=False):
    """The share and the current of the cell with the lowest resistance."""

    worst_cell_share: Annotated[
        float, figure("1", "Share of the group's current in the cell with the lowest resistance.")
    ]
    even_share: Annotated[float, figure("1", "Share of each cell if all were equal.")]
    allowance_share: Annotated[
        float, figure("1", "Share of the worst-case cell by the P − ½ rule.")
    ]
    careful_share: Annotated[
        float, figure("1", "Default share of the worst-case cell behind a converter.")
    ]
    mismatch_at_allowance: Annotated[
        float, figure("1", "Mismatch at which the share equals that of the P − ½ rule.")
    ]
    worst_cell_current_a: Annotated[
        float, figure("A", "Current of the cell with the lowest resistance.")
    ]
    other_cell_current_a: Annotated[float, figure("A", "Current of each other cell.")]


def figures(asked: SharingByMismatch) -> SharingByMismatchFigures:
    """Calculate the figures of one question, or of a whole table."""
    share = spreads.mismatch_share(parallel=asked.parallel, mismatch=asked.mismatch)
    worst_cell_a = share * asked.group_current_a
    return SharingByMismatchFigures(
        worst_cell_share=share,
        even_share=1 / asked.parallel,
        allowance_share=1 / counted_cells(Sharing.ALLOWANCE, asked.parallel),
        careful_share=1 / counted_cells(Sharing.CAREFUL, asked.parallel, Feeds.CONVERTER),
        mismatch_at_allowance=spreads.mismatch_at_allowance(parallel=asked.parallel),
        worst_cell_current_a=worst_cell_a,
        other_cell_current_a=worst_cell_a / (1 + asked.mismatch),
    )


def explain(asked: SharingByMismatch) -> Explained[SharingByMismatchFigures]:
    """Answer for one group."""
    got = figures(asked)
    parallel, amps = asked.parallel, asked.group_current_a
    working = [
        WorkingStep(
            "Share of the cell with the lowest resistance",
            "s = (1 + m) / (P + m)",
            f"(1 + {asked.mismatch:.4g}) / ({parallel:.0f} + {asked.mismatch:.4g})",
            got.worst_cell_share,
            "1",
        ),
        WorkingStep(
            "Its current",
            "I_cell = s · I",
            f"{got.worst_cell_share:.4g} × {amps:.4g} A",
            got.worst_cell_current_a,
            "A",
        ),
        WorkingStep(
            "Current of each other cell",
            "I_other = I_cell / (1 + m)",
            f"{got.worst_cell_current_a:.4g} A / (1 + {asked.mismatch:.4g})",
            got.other_cell_current_a,
            "A",
        ),
        WorkingStep(
            "Share by the P − ½ rule",
            "s = 1 / (P − ½)",
            f"1 / ({parallel:.0f} − ½)",
            got.allowance_share,
            "1",
        ),
        WorkingStep(
            "Mismatch at which the share equals that of the P − ½ rule",
            "m = 1 / (2·P − 3)",
            f"1 / (2 × {parallel:.0f} − 3)",
            got.mismatch_at_allowance,
            "1",
        ),
    ]
    held, step = if_rated(worst_cell_a=got.worst_cell_current_a, rating_a=asked.cell_rating_a)
    rating_a = inf if asked.cell_rating_a is UNSET else asked.cell_rating_a
    higher = f"{given(asked.mismatch * 100)} %"
    careful = beside_careful(
        parallel=parallel,
        share=got.worst_cell_share,
        group_current_a=amps,
        rating_a=asked.cell_rating_a,
        how=f"one cell and others with {higher} more resistance",
    )
    return Explained(
        figures=got,
        working=working + step,
        limits=held.limits,
        findings=held.findings + careful,
        leads=f"the cell with the lowest resistance carries {worst(got.worst_cell_current_a, rating_a)} A, "
        f"{worst(got.worst_cell_share * 100, inf)} % of the group's current",
    )


QUESTION = Question(
    id="sharing-by-mismatch",
    subject=Subject.UNEQUAL_CELLS,
    title="Share of the cell with the lowest resistance",
    description="Share of current in a cell with lower resistance than the others, and the mismatch that the "
    "P − ½ rule covers.",
    asked=SharingByMismatch,
    shows=SharingByMismatchFigures,
    limits=(LimitName.CONTINUOUS_RATING,),
    explain=explain,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=frozenset({"group_current_a", "cell_rating_a"}),
    headline=Headline(
        field="worst_cell_current_a",
        says="The cell with the lowest resistance carries",
        unit="A",
        decimals=1,
        round=Rounding.UP,
    ),
    example={"parallel": 2, "mismatch": 0.3, "group_current_a": 30, "cell_rating_a": 20},
)
