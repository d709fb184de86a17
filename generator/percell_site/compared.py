"""How far the API's running times lie from simulated ones, as a table of the prose."""

from math import ceil, floor
from typing import Any

from percell_site.api import ApiError


def table(reference: dict[str, Any], name: str) -> str:
    """Return the deviations by rate, one column a chemistry, and how hard the loads were.

    Raises:
        ApiError: Nothing of that name was compared.
    """
    if name != "running-time":
        raise ApiError(f"nothing called {name!r} was compared")
    compared = reference["running_times_compared"]
    chemistries = [one["chemistry"] for one in compared["reach"]]
    found = {(row["chemistry"], row["rate_per_h"]): row for row in compared["rows"]}
    head = [reference["chemistries"][chemistry]["short_name"] for chemistry in chemistries]
    lines = [
        f"| Load, capacities an hour | {' | '.join(head)} |",
        f"|---|{'---|' * len(chemistries)}",
    ]
    for rate in sorted({rate for _, rate in found}):
        spans = (_span(found.get((chemistry, rate))) for chemistry in chemistries)
        lines.append(f"| {rate:g} | {' | '.join(spans)} |")
    reached = (f"{one['highest_sag_v']:.2g} V" for one in compared["reach"])
    lines.append(f"| Highest current times resistance | {' | '.join(reached)} |")
    made = "; ".join(
        f"{source} by {made}"
        for source, made in zip(compared["sources"], compared["made_with"], strict=True)
    )
    return "\n".join(lines) + f"\n\nSimulated: {made}."


def _span(row: dict[str, Any] | None) -> str:
    """Return both ends in percent, rounded outwards, so that none is called smaller than it is."""
    if row is None:
        return "–"
    lowest, highest = floor(row["lowest"] * 1000) / 10, ceil(row["highest"] * 1000) / 10
    return f"{_signed(lowest)} to {_signed(highest)}"


def _signed(percent: float) -> str:
    """Return a figure with its sign; minus is a minus and no hyphen, and nothing has none."""
    return f"{percent:+.1f} %".replace("-", "\N{MINUS SIGN}") if percent else "0 %"
