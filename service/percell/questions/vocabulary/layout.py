"""How cells are wired: ``2S3P`` is two groups in series, each of three cells in parallel."""

from functools import lru_cache
from typing import Annotated, NamedTuple

import numpy as np
from msgspec import Meta, Struct

from percell.questions.vocabulary.fields import NO_LINE_BREAK, whole

MOST = 20
LAYOUTS = MOST * MOST
_TEXT = r"^([1-9]|1[0-9]|20)[Ss]([1-9]|1[0-9]|20)[Pp]$" + NO_LINE_BREAK
LONGEST_TEXT = len("20S20P")


class LayoutParts(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A layout in two numbers."""

    series: Annotated[float, whole(1, MOST, "Cells, or parallel groups, in series.")]
    parallel: Annotated[float, whole(1, MOST, "Cells in parallel in each group.")]


LayoutText = Annotated[
    str,
    Meta(
        pattern=_TEXT,
        max_length=LONGEST_TEXT,
        description="Layout as a text: `2S1P` is two cells in series.",
        examples=["2S1P"],
    ),
]
Layout = Annotated[
    LayoutText | LayoutParts,
    Meta(
        description=(
            f"Number of cells in series, and of cells in parallel in each group, up to {MOST} each, as a "
            "text such as `2S1P`. An object with two numbers works too."
        )
    ),
]


# the layouts that people have most, in everyday words
USUAL = {
    "1S1P": "One cell",
    "2S1P": "Two in series",
    "1S2P": "Two in parallel",
    "3S1P": "Three in series",
    "1S3P": "Three in parallel",
    "2S2P": "Two groups in series, each of two in parallel",
    "4S1P": "Four in series",
    "1S4P": "Four in parallel",
}


class Wiring(NamedTuple):
    """A parsed layout: cells in series and in parallel, and its text. A table has arrays of each."""

    series: int
    parallel: int
    text: str

    @property
    def cells(self) -> int:
        """The number of cells."""
        return self.series * self.parallel


def wiring(layout: Layout) -> Wiring:
    """Parse a layout. A table passes an array of texts, and gets arrays."""
    if isinstance(layout, str):
        return _read(layout)
    if isinstance(layout, LayoutParts):
        return _read(f"{layout.series:.0f}S{layout.parallel:.0f}P")
    read = [_read(text) for text in np.ravel(layout)]
    shape = np.shape(layout)
    return Wiring(
        np.reshape([w.series for w in read], shape),
        np.reshape([w.parallel for w in read], shape),
        "",
    )


@lru_cache(maxsize=4 * LAYOUTS)  # every layout in every spelling
def _read(text: str) -> Wiring:
    series, parallel = text.upper().removesuffix("P").split("S")
    return Wiring(int(series), int(parallel), text.upper())
