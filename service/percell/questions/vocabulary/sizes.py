"""The trade sizes of cylindrical cells that questions can name."""

from enum import StrEnum
from typing import Annotated

from percell.physics.sizes import SIZES
from percell.questions.vocabulary.fields import choice


class CellSize(StrEnum):
    """Trade size: diameter in mm, then height in tenths of a millimetre."""

    vars().update({f"R{key}": key for key in SIZES})


CellSizeField = Annotated[
    CellSize,
    choice(
        "Trade size of the cell, as a text: diameter in mm, then height in tenths of a millimetre."
    ),
]
