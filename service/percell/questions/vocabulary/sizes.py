"""The trade sizes of cylindrical cells that questions can name."""

from enum import StrEnum
from typing import Annotated

from percell.questions.vocabulary.fields import choice


class CellSize(StrEnum):
    """Trade size: diameter in mm, then height in tenths of mm."""

    R18350 = "18350"
    R18650 = "18650"
    R20700 = "20700"
    R21700 = "21700"
    R26650 = "26650"


CellSizeField = Annotated[
    CellSize,
    choice("Trade size of the cell, as a word: diameter in mm, then height in tenths of mm."),
]
