"""The leading figure of an answer, and how to round a figure for print."""

from enum import StrEnum

from msgspec import Struct

from percell.physics.meter import rounded_down, rounded_up


class Rounding(StrEnum):
    """How a figure is rounded for print: to the side that is careful for its reader."""

    UP = "up"
    DOWN = "down"
    NEAREST = "nearest"
    WORD = "word"  # a word, which is not rounded


def rounded(value: float, how: Rounding, decimals: int) -> float:
    """Return a figure with so many decimals, rounded to its careful side."""
    step = 10.0**-decimals
    if how is Rounding.UP:
        return rounded_up(value=value, step=step)
    if how is Rounding.DOWN:
        return rounded_down(value=value, step=step)
    return round(value, decimals)


class Headline(Struct, frozen=True, kw_only=True):
    """The one figure of an answer that a reply leads with, and how it is rounded to be careful."""

    field: str
    says: str
    unit: str
    decimals: int
    round: Rounding
    # the figure's units per shown unit: 60 to show seconds as minutes
    per: float = 1.0

    def text(self, value: float) -> str:
        """Return the figure rounded toward caution, with its unit."""
        text = f"{rounded(value / self.per, self.round, self.decimals):.{self.decimals}f}"
        return f"{text} {self.unit}" if self.unit else text
