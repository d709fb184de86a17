"""How far our running times differ from those of simulated cells: calculated once, stored as data."""

from functools import cache
from typing import Annotated, NamedTuple

from msgspec import Struct, convert

from percell.physics.curves import PUBLISHED
from percell.physics.entries import DataError, read_data
from percell.questions.vocabulary.chemistry import Chemistry
from percell.questions.vocabulary.fields import figure, text


class RunningTimeDeviation(Struct, frozen=True, kw_only=True):
    """Running times of one chemistry at one rate, over all loads and cut-offs that were simulated."""

    chemistry: Chemistry
    rate_per_h: Annotated[
        float, figure("1/h", "Load at the nominal voltage, in capacities an hour.")
    ]
    lowest: Annotated[
        float, figure("1", "Our time below the simulated one at most, as a part of that; negative.")
    ]
    highest: Annotated[
        float, figure("1", "Our time above the simulated one at most, as a part of that.")
    ]


class HighestLoadCompared(Struct, frozen=True, kw_only=True):
    """How hard a load was compared, in the terms by which one cell's sag is carried over to another."""

    chemistry: Chemistry
    highest_sag_v: Annotated[float, figure("V", "Highest current times pulse resistance.")]


class RunningTimeDeviations(Struct, frozen=True, kw_only=True):
    """The comparison, with what was simulated."""

    made_with: Annotated[list[str], text("The simulations.")]
    sources: Annotated[list[str], text("Where the simulated cells were published.")]
    reach: list[HighestLoadCompared]
    rows: list[RunningTimeDeviation]


@cache
def deviations() -> RunningTimeDeviations:
    """Return the comparison.

    Raises:
        DataError: A chemistry has a published curve, but no comparison.
    """
    found = convert(read_data("running_time_deviation"), RunningTimeDeviations)
    simulated = {curve.partition("_")[0] for curve in PUBLISHED.values()}
    missing = sorted(simulated - {one.chemistry for one in found.reach})
    if missing:
        raise DataError(
            f"running_time_deviation.json: nothing was compared for {', '.join(missing)}; make it again "
            "with tests/reference/make_running_time_deviation.py"
        )
    return found


class Widest(NamedTuple):
    """The lowest and the highest deviation of a chemistry, and the highest load compared."""

    lowest: float
    highest: float
    highest_sag_v: float


@cache
def widest(chemistry: str) -> Widest:
    """Return how far the running times of a chemistry differ from the simulated ones."""
    rows = [row for row in deviations().rows if row.chemistry == chemistry]
    reach = next(one for one in deviations().reach if one.chemistry == chemistry)
    return Widest(
        min(row.lowest for row in rows), max(row.highest for row in rows), reach.highest_sag_v
    )
