"""What the prose says about chemistries, from the API's catalogue."""

from collections.abc import Iterable
from typing import Any

from percell_site.api import ApiError

Chemistries = dict[str, dict[str, Any]]
_VOLTAGES = {
    "charged": "charged",
    "nominal": "nominal",
    "cutoff": "cut-off",
    "end": "end of discharge",
}


def text(reference: dict[str, Any], name: str) -> str:
    """Return the list of chemistries that have a curve, or the table of all.

    Raises:
        ApiError: Nothing of that name is known about chemistries.
    """
    chemistries: Chemistries = reference["chemistries"]
    if name == "with-curve":
        return _listed(
            f"{one['short_name']} (`{key}`)"
            for key, one in chemistries.items()
            if one["curve_from"] is not None
        )
    if name == "table":
        return _table(chemistries)
    raise ApiError(f"nothing called {name!r} is known about chemistries")


def _listed(words: Iterable[str]) -> str:
    """Return words as a sentence lists them: a, b and c."""
    *first, last = words
    return " and ".join(filter(None, [", ".join(first), last]))


def _table(chemistries: Chemistries) -> str:
    """Return each voltage and curve of each chemistry, with its origin."""
    lines = ["| Chemistry | What | Value | Where it comes from |", "|---|---|---|---|"]
    for key, one in chemistries.items():
        rows = [
            (what, f"{one[f'{field}_v']:g} V", one[f"{field}_from"])
            for field, what in _VOLTAGES.items()
        ]
        rows.append(("curve", "–", one["curve_from"] or "none"))
        for i, cells in enumerate(rows):
            head = f"{one['name']} (`{key}`)" if i == 0 else ""
            lines.append(f"| {' | '.join([head, *cells])} |")
    return "\n".join(lines)
