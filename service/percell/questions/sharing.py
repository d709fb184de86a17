"""How the cells of a parallel group are taken to share its current."""

from enum import StrEnum
from typing import Annotated

from percell.physics import pack
from percell.physics.types import Number
from percell.questions.fields import COMMON_PRACTICE, choice


class Sharing(StrEnum):
    """Ways to count the cells of a parallel group."""

    ALLOWANCE = "allowance"
    EVEN = "even"


SharingField = Annotated[
    Sharing,
    choice(
        "allowance: P cells count as P − ½, for contacts and cells differ; even: each carries the same.",
        default_from=COMMON_PRACTICE,
    ),
]


def counted_cells(sharing: Sharing, parallel: Number) -> Number:
    """Return the number of cells that a parallel group is counted as."""
    return parallel if sharing is Sharing.EVEN else pack.counted_cells(parallel=parallel)
