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
        step = 10.0**-self.decimals
        how = rounded_up if self.round is Rounding.UP else rounded_down
        text = f"{how(value=value / self.per, step=step):.{self.decimals}f}"
        return f"{text} {self.unit}" if self.unit else text
