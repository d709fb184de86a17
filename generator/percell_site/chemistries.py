"""What the prose says about chemistries, from the API's catalogue."""

from typing import Any

from percell_site.api import ApiError
from percell_site.words import listed

Chemistries = dict[str, dict[str, Any]]
_VOLTAGES = {
    "charged": "charged",
    "nominal": "nominal",
    "cutoff": "cut-off",
    "end": "end of discharge",
}


def text(reference: dict[str, Any], name: str) -> str:
    """Return the list of chemistries that have a curve, or the tables of all.

    Raises:
        ApiError: Nothing of that name is known about chemistries.
    """
    chemistries: Chemistries = reference["chemistries"]
    if name == "with-curve":
        return listed(
            f"{one['short_name']} (`{key}`)"
            for key, one in chemistries.items()
            if one["curve_from"] is not None
        )
    if name == "tables":
        return _tables(chemistries)
    raise ApiError(f"nothing called {name!r} is known about chemistries")


def _tables(chemistries: Chemistries) -> str:
    """Return a table for each chemistry: its voltages and its curve, with their origins."""
    return "\n\n".join(
        f"**{one['name']}** (`{key}`)\n\n{_table(one)}" for key, one in chemistries.items()
    )


def _table(one: dict[str, Any]) -> str:
    rows = [
        (what, f"{one[f'{field}_v']:g} V", one[f"{field}_from"])
        for field, what in _VOLTAGES.items()
    ]
    rows.append(("curve", "–", one["curve_from"] or "none"))
    lines = ["| What | Value | Where it comes from |", "|---|---|---|"]
    return "\n".join([*lines, *(f"| {' | '.join(cells)} |" for cells in rows)])
