"""How far our running times lie from those of simulated cells: made once, kept as data."""

import json
from functools import cache
from typing import Annotated

from msgspec import Struct, convert

from percell.physics.curves import DATA
from percell.questions.chemistry import Chemistry
from percell.questions.fields import figure, text


class Deviation(Struct, frozen=True, kw_only=True):
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


class Deviations(Struct, frozen=True, kw_only=True):
    """The comparison, with what was simulated."""

    made_with: Annotated[list[str], text("The simulations.")]
    sources: Annotated[list[str], text("Where the simulated cells were published.")]
    rows: list[Deviation]


@cache
def deviations() -> Deviations:
    """Return the comparison."""
    content = (DATA / "running_time_deviation.json").read_text(encoding="utf-8")
    return convert(json.loads(content), Deviations)


@cache
def widest(chemistry: str) -> tuple[float, float, float]:
    """Return a chemistry's lowest and highest deviation, and the highest rate that was compared."""
    rows = [row for row in deviations().rows if row.chemistry == chemistry]
    return (
        min(row.lowest for row in rows),
        max(row.highest for row in rows),
        max(row.rate_per_h for row in rows),
    )
