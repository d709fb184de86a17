"""The tables of a measured cell's page, and what else it asks the API."""

from typing import Any

from msgspec import Struct, to_builtins

from percell_site.api import Api
from percell_site.profiles import Profile

LAYOUTS = ["1S1P", "2S1P", "3S1P", "4S1P", "1S2P", "1S3P", "1S4P", "2S2P", "3S2P", "2S3P", "4S2P"]
COUNTS = ["1S1P", "2S1P", "3S1P", "4S1P"]
COUNT_LABELS = ["1 cell", "2 cells", "3 cells", "4 cells"]
POWERS_W = [5, 10, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150]
# the comparison's own question: minutes at this power from one cell
COMPARED_W = 20.0
# about what a converter makes of a cell's power
_EFFICIENCY = 0.85
# the same limit as in the printed table of the highest powers
_COLLAPSE = {
    "figure": "full_pack_power_ratio",
    "value": 0.9,
    "near": False,
    "says": {
        "over_limit": "full cells cannot supply this power, or only just: do not use",
        "within_limit": "the voltage holds",
    },
}
# a time beyond the rating is none to use, and one of seconds is none at all
_SHORTEST_S = 60
_OVER = f"the device cuts off at once, or within {_SHORTEST_S} s"
_RATED_SAYS = {
    "over_limit": f"over the rating, or {_OVER}",
    "little_headroom": "little headroom below the rating",
    "within_limit": "within the rating",
}
_UNRATED_SAYS = {"over_limit": _OVER, "not_judged": "not compared with a rating"}
_NEAR_TRANSPORT_WH = 95.0
_WORST_FIRST = ("over_limit", "little_headroom", "not_judged", "within_limit")


class Sheets(Struct, frozen=True, kw_only=True):
    """The grids of a cell's page, as the API calculated them.

    A grid is missing if the profile lacks a figure that it needs; so are running times for a chemistry
    without a published curve.
    """

    pack: dict[str, Any] | None
    lowest: dict[str, Any] | None
    highest: dict[str, Any] | None
    running: dict[str, Any] | None


_LAYOUTS = {"field": "layout", "heading": "Layout", "values": LAYOUTS}
_COUNTS = {"field": "layout", "heading": "Cells", "values": COUNTS, "labels": COUNT_LABELS}
_POWERS = {"field": "output_power_w", "heading": "Power", "unit": "W", "values": POWERS_W}


def sheets(api: Api, cell: Profile, known: dict[str, Any]) -> Sheets:
    """Ask the API for everything that a cell's page prints.

    Args:
        api: Where to ask.
        cell: The measured cell.
        known: What the API's catalogue says of its chemistry.
    """
    rating_a, capacity_ah = cell.used_rating_a, cell.used_capacity_ah
    runs = capacity_ah and _resistance(cell) and (cell.measured_discharge or known["curve_from"])
    return Sheets(
        pack=_pack(api, cell, known) if rating_a and capacity_ah else None,
        lowest=_lowest(api, cell) if rating_a else None,
        highest=_highest(api, cell, known) if rating_a else None,
        running=_running(api, cell, known) if runs else None,
    )


def _pack(api: Api, cell: Profile, known: dict[str, Any]) -> dict[str, Any]:
    return _ask(
        api,
        "pack",
        _rated(cell),
        _LAYOUTS,
        [_one("cell_capacity_ah", "Cell capacity", "Ah", cell.used_capacity_ah)],
        [
            _print("pack_charged_voltage_v", "Charged", "V", 2, "up"),
            _print("pack_capacity_ah", "Capacity", "Ah", 1, "down"),
            {**_print("pack_energy_wh", "Energy", "Wh", 1, "up"), "mark": _transport(known)},
            _print("pack_current_limit_a", "Highest current", "A", 0, "down"),
            _print("pack_current_limit_even_a", "The same, if shared evenly", "A", 0, "down"),
        ],
    )


def _lowest(api: Api, cell: Profile) -> dict[str, Any]:
    return _ask(
        api,
        "lowest-resistance",
        _unrated(cell),
        _LAYOUTS,
        [_one("cell_rating_a", "Cell rating", "A", cell.used_rating_a)],
        [
            _print("lowest_reading_ohm", "Lowest reading", "Ω", 2, "up"),
            _print("coil_power_w", "Power there", "W", 0, "up"),
        ],
    )


def _highest(api: Api, cell: Profile, known: dict[str, Any]) -> dict[str, Any]:
    return _ask(
        api,
        "highest-power",
        _rated(cell),
        _stops(known),
        [_LAYOUTS],
        [{**_print("highest_power_w", "Highest power", "W", 0, "down"), "mark": _COLLAPSE}],
    )


def _running(api: Api, cell: Profile, known: dict[str, Any]) -> dict[str, Any]:
    """Return the running times; with a rating, a time also has the verdict on the current behind it."""
    rated = cell.used_rating_a
    shortest = {"value": _SHORTEST_S, "bound": "at_least", "near": False}
    mark = (
        shortest | {"near": True, "says": _RATED_SAYS}
        if rated
        else shortest | {"assumed": True, "says": _UNRATED_SAYS}
    )
    time = {**_print("running_time_s", "Running time", "min", 0, "down"), "per": 60, "mark": mark}
    columns = [_COUNTS, _stops(known)]
    running = _ask(api, "running-time", _run_of(cell), _POWERS, columns, [time])
    if rated:
        current = _print("worst_cell_current_a", "Current", "A", 1, "up")
        marked = current | {"mark": {"value": "cell_rating_a"}}
        currents = _ask(api, "converter-load", _rated(cell), _POWERS, columns, [marked])
        _judge_also(running, currents)
    return running


def _stops(known: dict[str, Any]) -> dict[str, Any]:
    """Return the axis of the cut-offs; that for times need not be one of a device."""
    values = sorted({*known["device_cutoffs_v"], known["time_cutoff_v"]}, reverse=True)
    return {"field": "cell_cutoff_voltage_v", "heading": "Cut-off", "unit": "V", "values": values}


def _unrated(cell: Profile) -> dict[str, Any]:
    return {"chemistry": cell.chemistry} | _resistance(cell)


def _rated(cell: Profile) -> dict[str, Any]:
    rated = {"chemistry": cell.chemistry, "cell_rating_a": cell.used_rating_a}
    return rated | _resistance(cell)


def _resistance(cell: Profile) -> dict[str, Any]:
    """Return the measured resistance as questions take it."""
    if not cell.used_resistance_ohm:
        return {}
    after_s = cell.cell_resistance_after_s
    return {"cell_resistance_ohm": cell.used_resistance_ohm} | (
        {"cell_resistance_after_s": after_s} if after_s else {}
    )


def _run_of(cell: Profile) -> dict[str, Any]:
    """Return what a running time is asked with, but for the load and the cut-off."""
    own = cell.measured_discharge
    return (
        {"chemistry": cell.chemistry, "cell_capacity_ah": cell.used_capacity_ah}
        | _resistance(cell)
        | ({"measured_discharge": to_builtins(own)} if own else {})
        | ({"cell_rating_a": cell.used_rating_a} if cell.used_rating_a else {})
    )


class Exactness(Struct, frozen=True, kw_only=True):
    """What the API says of how far off a running time may be, and the load of one cell that was asked about."""

    power_w: float
    sentence: str


def exactness(api: Api, cell: Profile, known: dict[str, Any]) -> Exactness:
    """Ask how exact the running times of a cell are, at the load of its log, or else once its capacity per hour."""
    own = cell.measured_discharge
    current_a = own.current_a if own else cell.used_capacity_ah or 0.0
    # to the cut-off's side of the nominal voltage, so that the cell can give it to the end
    power_w = float(f"{current_a * known['time_cutoff_v'] * _EFFICIENCY:.2g}")
    asked = _run_of(cell) | {"layout": "1S1P", "output_power_w": power_w}
    answer = api.post("/v1/running-time", asked)
    (found,) = (one for one in answer["findings"] if one["rule"] == "running-time-estimate")
    return Exactness(power_w=power_w, sentence=found["sentence"])


def _transport(known: dict[str, Any]) -> dict[str, Any]:
    """Return the mark of an energy: transport rules go by the highest nominal voltage that is printed."""
    return {
        "value": _NEAR_TRANSPORT_WH * known["nominal_v"] / known["printed_nominal_v"],
        "near": False,
        "says": {
            "over_limit": "may be close to or above the 100 Wh of transport rules",
            "within_limit": "below 95 Wh",
        },
    }


def _judge_also(grid: dict[str, Any], other: dict[str, Any]) -> None:
    """Give each entry of a grid the worse of its verdict and that of another grid of the same axes."""
    for row, other_row in zip(grid["rows"], other["rows"], strict=True):
        for cell, other_cell in zip(row["cells"], other_row["cells"], strict=True):
            # a current that cannot flow has no verdict: the running time then has
            both = [*cell["verdicts"], *filter(None, other_cell["verdicts"])]
            cell["verdicts"] = [min(both, key=_WORST_FIRST.index)]


def running_chart(known: dict[str, Any]) -> dict[str, Any]:
    """Return what the picture of the running times of a chemistry shows."""
    cutoff = known["time_cutoff_v"]
    return {
        "print": "running_time_s",
        "columns": [[layout, cutoff] for layout in COUNTS if layout != "3S1P"],
        "logarithmic": True,
        "says": f"Running time by power, down to {cutoff:g} V per cell, logarithmic scale.",
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


def _print(field: str, heading: str, unit: str, decimals: int, rounded: str) -> dict[str, Any]:
    return {
        "field": field,
        "heading": heading,
        "unit": unit,
        "decimals": decimals,
        "round": rounded,
    }


def _one(field: str, heading: str, unit: str, value: float | None) -> dict[str, Any]:
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
            "rows_by": rows,
            "columns_by": columns,
            "prints": prints,
        },
    )
    if len(answer["columns"]) == 1:
        # no heading shows a single column, so it is a condition like the others
        (column,), (label,) = columns, answer["columns"][0]["labels"]
        holds, told = answer["conditions"].split(": ", 1)
        answer["conditions"] = f"{holds}: {column['heading'].lower()} {label}, {told}"
    return answer
