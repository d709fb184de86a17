"""How the cells of a parallel group share its current."""

from bisect import bisect_left
from enum import Enum, StrEnum
from functools import cache
from math import ceil
from typing import Annotated, NamedTuple

import numpy as np
from msgspec import Struct

from percell.physics import pack
from percell.physics import spread as spreads
from percell.physics.types import Number, is_array
from percell.questions.vocabulary import usual_spread
from percell.questions.vocabulary.fields import choice, quantity

# enough to fix the printed digits of the usual figures; 20 cells then take a tenth of a second
DRAWS = 200_000
SEED = 1
SPREAD = 0.1
PERCENTILE = 0.99
# Spreads and percentiles are rounded up to a grid, toward caution. One draw then serves many questions,
# and there are few draws to make: all of them take some ten seconds, and are kept.
STEPS = 100
PERCENTILES = (*(n / 100 for n in range(50, 100)), *(n / 1000 for n in range(991, 1000)), 0.9999)
_NOISE = 1e-9


class Sharing(StrEnum):
    """Ways in which the cells of a parallel group share its current."""

    CAREFUL = "careful"
    ALLOWANCE = "allowance"
    EVEN = "even"


class Feeds(Enum):
    """What a pack feeds, and how the trade counts the cells of a parallel group for it."""

    COIL = Sharing.ALLOWANCE
    CONVERTER = Sharing.EVEN


PathSpread = Annotated[
    float,
    quantity(
        "1",
        0,
        spreads.WIDEST,
        (
            "Relative standard deviation of the resistance from cell to cell, contacts included. It is rounded "
            "up to the next 0.01. A cell beyond three standard deviations counts as three."
        ),
    ),
]
Percentile = Annotated[
    float,
    quantity(
        "1",
        0.5,
        0.9999,
        "Part of such groups in which the worst-case cell carries no more than the answer says.",
        default_from="percell's own choice: one group in a hundred is worse",
    ),
]


GridPercentile = Annotated[
    float,
    quantity(
        "1",
        PERCENTILES[0],
        PERCENTILES[-1],
        (
            "Part of such groups in which the worst-case cell carries no more than the answer says. It is "
            "rounded up: to the next 0.01, above 0.99 to the next 0.001, above 0.999 to 0.9999."
        ),
        default_from="percell's own choice: one group in a hundred is worse",
    ),
]


class ResistanceSpread(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Cells that differ in resistance. The share of the worst-case cell is computed from random groups."""

    spread: PathSpread
    percentile: GridPercentile = PERCENTILE

    @property
    def counted(self) -> "ResistanceSpread":
        """What is calculated with: spread and percentile, rounded up to the grid."""
        place = bisect_left(PERCENTILES, self.percentile - _NOISE)
        return ResistanceSpread(
            spread=ceil(self.spread * STEPS - _NOISE) / STEPS, percentile=PERCENTILES[place]
        )

    @property
    def is_usual(self) -> bool:
        """Whether its figures are stored, and need no draw."""
        counted = self.counted
        return counted.spread == SPREAD and counted.percentile == PERCENTILE


def may_draw(asked: Struct) -> bool:
    """Return whether an answer may have to draw groups of cells, which takes up to some tenths of a second."""
    for one in (asked, *getattr(asked, "setups", ())):
        sharing = getattr(one, "sharing", None)
        if isinstance(sharing, ResistanceSpread) and not sharing.is_usual:
            return True
    return False


SharingField = Annotated[
    Sharing | ResistanceSpread,
    choice(
        (
            "How the cells of a parallel group share its current. `careful`: the larger of common practice (P "
            "cells count as P − ½ under a coil, an even share behind a converter) and the share computed for a "
            "resistance spread of 10 %. `even`: every cell carries the same. `allowance`: P cells count as P − "
            "½. Or an object with the spread of the cells."
        ),
        default_from="the larger of two shares: common practice, no published source, and percell's computation",
    ),
]


class WorstCell(NamedTuple):
    """The worst-case cell of groups drawn at random."""

    share: float  # at the percentile
    above_allowance: float  # part of the groups above the allowance


@cache  # the grid is small
def worst_cell(parallel: int, spread: float, percentile: float) -> WorstCell:
    """Return what the worst-case cell carries, at a spread and a percentile of the grid."""
    if spread == SPREAD and percentile == PERCENTILE and parallel in usual_spread.KEPT:
        return WorstCell(*usual_spread.KEPT[parallel])
    return drawn_worst_cell(parallel, spread, percentile)


def drawn_worst_cell(parallel: int, spread: float, percentile: float) -> WorstCell:
    """Return what the worst-case cell carries in groups drawn at random, at a percentile of the grid."""
    got = _drawn(parallel, spread)
    return WorstCell(got.share_at[PERCENTILES.index(percentile)], got.above_allowance)


@cache
def _drawn(parallel: int, spread: float) -> spreads.ShareSpread:
    """Draw the groups. With equal voltages neither the current nor the mean resistance matters."""
    (got,) = spreads.worst_cell_share_spreads(
        parallel=parallel,
        group_current_a=1.0,
        cell_resistance_ohm=1.0,
        resistance_deviations=[spread],
        contact_resistance_ohm=0.0,
        contact_deviation=0.0,
        source_voltage_deviation_v=0.0,
        levels=PERCENTILES,
        draws=DRAWS,
        seed=SEED,
    )
    return got


def counted_cells(
    sharing: Sharing | ResistanceSpread, parallel: Number, feeds: Feeds = Feeds.COIL
) -> Number:
    """Return the number of cells that a parallel group is counted as."""
    if isinstance(sharing, ResistanceSpread):
        counted = sharing.counted
        return counted_by_spread(counted.spread, counted.percentile, parallel)
    if sharing is Sharing.EVEN:
        return parallel
    if sharing is Sharing.ALLOWANCE:
        return pack.counted_cells(parallel=parallel)
    by_trade = counted_cells(feeds.value, parallel)
    by_spread = counted_by_spread(SPREAD, PERCENTILE, parallel)
    if is_array(parallel):
        lower: Number = np.minimum(by_trade, by_spread)
        return lower
    return float(min(by_trade, by_spread))


def counted_by_spread(spread: float, percentile: float, parallel: Number) -> Number:
    """Return the number of cells that a group with scattered resistances is counted as."""
    if not isinstance(parallel, np.ndarray):
        return 1.0 / worst_cell(int(parallel), spread, percentile).share
    counted = [1.0 / worst_cell(int(p), spread, percentile).share for p in np.ravel(parallel)]
    return np.reshape(counted, np.shape(parallel))
