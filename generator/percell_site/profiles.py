"""Profiles of measured cells: one TOML file a cell, and what the API makes of each."""

import tomllib
from pathlib import Path
from typing import Any

from msgspec import Struct, ValidationError, convert

from percell_site.api import Api

LAYOUTS = ["1S1P", "2S1P", "3S1P", "4S1P", "1S2P", "1S3P", "1S4P", "2S2P", "3S2P", "2S3P", "4S2P"]
COUNTS = ["1S1P", "2S1P", "3S1P", "4S1P"]
COUNT_LABELS = ["1 cell", "2 cells", "3 cells", "4 cells"]
POWERS_W = [5, 10, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150]
# the comparison's own question: minutes at this power from one cell
COMPARED_W = 20.0


class ProfileError(ValueError):
    """A profile cannot be used; the text names the file and the field."""


class Profile(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A measured cell. The rating is the current that the cell's tester stands for."""

    name: str
    chemistry: str
    cell_rating_a: float
    cell_capacity_ah: float
    cell_resistance_ohm: float
    measured_on: str
    cell_size: str = ""
    claimed_rating_a: float = 0.0
    claimed_capacity_ah: float = 0.0
    note: str = ""
    invented: bool = False
    id: str = ""


def load(folder: Path) -> list[Profile]:
    """Return the profiles of a folder, by file name.

    Raises:
        ProfileError: A file is no profile.
    """
    found = []
    for path in sorted(folder.glob("*.toml")):
        try:
            read = tomllib.loads(path.read_text("utf-8"))
            found.append(convert(read | {"id": path.stem}, Profile))
        except (OSError, ValidationError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise ProfileError(f"{path.name}: {error}") from error
    return found


def _print(field: str, heading: str, unit: str, decimals: int, rounded: str) -> dict[str, Any]:
    return {
        "field": field,
        "heading": heading,
        "unit": unit,
        "decimals": decimals,
        "round": rounded,
    }


class Sheets(Struct, frozen=True, kw_only=True):
    """The grids of a cell's page, as the API calculated them.

    There are no running times for a chemistry without a published curve.
    """

    pack: dict[str, Any]
    lowest: dict[str, Any]
    highest: dict[str, Any]
    running: dict[str, Any] | None


def compared_cutoff_v(known: dict[str, Any]) -> float:
    """Return the cut-off at which cells of a chemistry are compared: the second highest of devices."""
    cutoff_v: float = known["device_cutoffs_v"][:2][-1]
    return cutoff_v


def sheets(api: Api, cell: Profile, known: dict[str, Any]) -> Sheets:
    """Ask the API for everything that a cell's page prints.

    Args:
        api: Where to ask.
        cell: The measured cell.
        known: What the API's catalogue says of its chemistry.
    """
    chemistry = {"chemistry": cell.chemistry}
    layouts = {"field": "layout", "heading": "Layout", "values": LAYOUTS}
    counts = {"field": "layout", "heading": "Cells", "values": COUNTS, "labels": COUNT_LABELS}
    rating = _one("cell_rating_a", "Cell rating", "A", cell.cell_rating_a)
    resistance = {"cell_resistance_ohm": cell.cell_resistance_ohm}
    stops = {
        "field": "cell_cutoff_voltage_v",
        "heading": "Cut-off",
        "unit": "V",
        "values": known["device_cutoffs_v"],
    }
    return Sheets(
        pack=_ask(
            api,
            "pack",
            chemistry | resistance | {"cell_rating_a": cell.cell_rating_a},
            layouts,
            [_one("cell_capacity_ah", "Cell capacity", "Ah", cell.cell_capacity_ah)],
            [
                _print("pack_charged_voltage_v", "Charged", "V", 2, "up"),
                _print("pack_capacity_ah", "Capacity", "Ah", 1, "down"),
                _print("pack_energy_wh", "Energy", "Wh", 1, "up"),
                _print("pack_current_limit_a", "Highest current", "A", 0, "down"),
                _print("pack_current_limit_even_a", "The same, if shared evenly", "A", 0, "down"),
            ],
        ),
        lowest=_ask(
            api,
            "lowest-resistance",
            chemistry,
            layouts,
            [rating],
            [
                _print("lowest_resistance_ohm", "Lowest coil", "Ω", 2, "up"),
                _print("coil_power_w", "Power there", "W", 0, "up"),
            ],
        ),
        highest=_ask(
            api,
            "highest-power",
            chemistry | {"cell_rating_a": cell.cell_rating_a},
            stops,
            [layouts],
            [_print("highest_power_w", "Highest power", "W", 0, "down")],
        ),
        running=known["curve_from"]
        and _ask(
            api,
            "running-time",
            chemistry | resistance | {"cell_capacity_ah": cell.cell_capacity_ah},
            {"field": "output_power_w", "heading": "Power", "unit": "W", "values": POWERS_W},
            [counts, stops],
            [{**_print("running_time_s", "Running time", "min", 0, "down"), "per": 60}],
        ),
    )


def running_chart(known: dict[str, Any]) -> dict[str, Any]:
    """Return what the picture of the running times of a chemistry shows."""
    cutoff = compared_cutoff_v(known)
    return {
        "print": "running_time_s",
        "columns": [[layout, cutoff] for layout in COUNTS if layout != "3S1P"],
        "logarithmic": True,
        "says": f"Running time by power, down to {cutoff:g} V a cell; equal steps up are equal factors.",
    }


def claim(api: Api, cell: Profile) -> dict[str, Any] | None:
    """Ask whether the label is to be believed, where the profile says what it claims."""
    if not (cell.cell_size and cell.claimed_rating_a and cell.claimed_capacity_ah):
        return None
    answer: dict[str, Any] = api.post(
        "/v1/label-check",
        {
            "cell_size": cell.cell_size,
            "chemistry": cell.chemistry,
            "cell_rating_a": cell.claimed_rating_a,
            "cell_capacity_ah": cell.claimed_capacity_ah,
        },
    )
    return answer


def _one(field: str, heading: str, unit: str, value: float) -> dict[str, Any]:
    return {"field": field, "heading": heading, "unit": unit, "values": [value]}


def _ask(
    api: Api,
    question: str,
    fixed: dict[str, Any],
    rows: dict[str, Any],
    columns: list[dict[str, Any]],
    prints: list[dict[str, Any]],
) -> dict[str, Any]:
    answer: dict[str, Any] = api.post(
        "/v1/tables",
        {
            "question": question,
            "fixed": fixed,
            "rows": rows,
            "columns": columns,
            "prints": prints,
        },
    )
    return answer
