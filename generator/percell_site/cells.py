"""Pages of measured cells: one a cell, and one that compares them."""

from collections import Counter
from html import escape
from typing import Any, TypeVar
from urllib.parse import urlencode

from msgspec import structs

from percell_site import cell_sheets, charts, pages
from percell_site.api import Api, ApiError
from percell_site.cell_sheets import COMPARED_W, Sheets
from percell_site.figures import figures_of
from percell_site.profiles import STOP_C, BenchTest, Profile, Run
from percell_site.words import listed

Part = TypeVar("Part", Profile, BenchTest, Run)

_BELIEVED = {
    "not_disproved": "Size and heat do not disprove the label, which does not make it true.",
    "doubtful": "Doubt the label: few cells of this size can do what it claims.",
    "not_believable": "Do not believe the label: no cell of this size can do what it claims.",
}


# by grid of a cell's page: what it is called where a row is pasted, and what must go along with a figure
_GRIDS = {
    "pack": (
        "the pack, by layout",
        "The current is the most that keeps the worst-case cell within its rating, and leaves no headroom.",
    ),
    "lowest": (
        "lowest coil reading",
        "The figure is a reading, and allows for the errors of an ordinary meter. At the lowest true "
        "resistance behind it, the worst-case cell of a full pack carries its whole rating. Use a higher "
        "resistance to leave headroom.",
    ),
    "highest": (
        "highest power",
        "At this power the worst-case cell carries its whole rating just before the cut-off. Use less "
        "power to leave headroom. Use the lowest cut-off if you do not know where the device stops.",
    ),
    "running": (
        "running time",
        "The times are estimates. Use the cut-off of {cutoff:g} V if you do not know where the device stops.",
    ),
}


# goes along with the running times of a cell without a proved rating
_UNRATED = " No rating was proved, so no time was compared with one. Never exceed the manufacturer's rating."


def cell_pages(
    api: Api, cells: list[Profile], reference: dict[str, Any], date: str
) -> dict[str, str]:
    """Return the pages of all cells by path: one each, and the comparison.

    Raises:
        ApiError: The API does not know the chemistry of a cell, or refuses its figures.
    """
    made = {}
    rows = []
    known = reference["chemistries"]
    for cell in map(_escaped, cells):
        if cell.chemistry not in known:
            raise ApiError(f"{cell.id}.toml: the API knows no chemistry {cell.chemistry!r}")
        chemistry = known[cell.chemistry]
        sheets = cell_sheets.sheets(api, cell, chemistry)
        made[f"cells/{cell.id}.md"] = _cell_page(
            api, cell, sheets, chemistry, reference["version"], date
        )
        rows.append(_compared(cell, sheets, chemistry))
    compared = [known[cell.chemistry] for cell in cells] or [*known.values()]
    made["cells/index.md"] = pages.render(
        "cells.md.jinja",
        title=_titled("Measured cells", cells),
        rows=rows,
        watts=COMPARED_W,
        power_cutoff=_cutoffs("cutoff_v", compared),
        time_cutoff=_cutoffs("time_cutoff_v", compared),
        invented=any(cell.invented for cell in cells),
    )
    return made


def _escaped(cell: Profile) -> Profile:
    """Return a profile whose words are safe in HTML: it is another's file."""
    test = cell.test and structs.replace(
        _safe(cell.test), runs=[_safe(run) for run in cell.test.runs]
    )
    return structs.replace(_safe(cell), test=test)


def _safe(part: Part) -> Part:
    words = {
        # two braces would begin a marker
        name: escape(value).replace("{{", "&#123;&#123;")
        for name, value in structs.asdict(part).items()
        if isinstance(value, str)
    }
    return structs.replace(part, **words)


def _titled(title: str, cells: list[Profile]) -> str:
    """Return a title that says whether the cells are invented: a search or a preview shows little more."""
    invented = [cell.invented for cell in cells]
    if not any(invented):
        return title
    return f"{title} (invented)" if all(invented) else f"{title} (some invented)"


def _quantity(value: float | None, unit: str, *, none: str = "–") -> str:
    """Return a figure with its unit, or the word for a figure that a profile lacks."""
    return none if value is None else f"{value:g} {unit}".rstrip()


def _capacity(value: float | None, *, unit: str = " Ah", none: str = "not measured") -> str:
    """Return a capacity with one decimal at least: 3.0 Ah says more than 3 Ah."""
    if value is None:
        return none
    text = f"{value:g}"
    return f"{text}{'' if '.' in text else '.0'}{unit}"


def _milliohms(value: float) -> str:
    """Return a resistance in mΩ with two digits: a test at a bench gives no more."""
    return f"{float(f'{value * 1000:.2g}'):g}"


def _resistance(cell: Profile) -> str:
    """Return the resistance in mΩ, with its spread if the tests show one, and when it was read."""
    if cell.cell_resistance_ohm is None:
        return "not measured"
    middle = f"{_milliohms(cell.cell_resistance_ohm)} mΩ"
    low, high = cell.cell_resistance_lowest_ohm, cell.cell_resistance_highest_ohm
    if low is not None and high is not None and low != high:
        middle += f" ({_milliohms(low)} to {_milliohms(high)})"
    return middle + _after(cell)


def _after(cell: Profile) -> str:
    """Return after how long a load the resistance was read: without that it says little."""
    after_s = cell.cell_resistance_after_s
    return "" if after_s is None else f" after {after_s:.2g} s"


def _differences(cell: Profile) -> list[str]:
    """Return a sentence for each figure that differs between test and label: the lower one is used."""
    return [
        f"The label claims {claimed:g} {unit}, the test shows {tested:g} {unit}: every table here uses "
        f"{min(tested, claimed):g} {unit}, the lower {what}."
        for what, unit, tested, claimed in (
            ("rating", "A", cell.cell_rating_a, cell.claimed_rating_a),
            ("capacity", "Ah", cell.cell_capacity_ah, cell.claimed_capacity_ah),
        )
        if tested is not None and claimed is not None and tested != claimed
    ]


def _used(cell: Profile) -> str:
    """Return the figures that the page uses, with where they come from: the rating first."""
    return " ".join(
        [
            _used_figure("rating", "A", cell.cell_rating_a, cell.claimed_rating_a),
            _used_figure("capacity", "Ah", cell.cell_capacity_ah, cell.claimed_capacity_ah),
            f"Resistance: {_resistance(cell)}.",
        ]
    )


def _used_figure(what: str, unit: str, tested: float | None, claimed: float | None) -> str:
    if tested is None:
        return "No tested rating." if what == "rating" else "Capacity not measured."
    told = _quantity if what == "rating" else _in_hours
    if claimed is None or claimed == tested:
        return f"{'Tested rating' if what == 'rating' else 'Capacity'}: {told(tested, unit)}."
    lower, higher = ("test", "label") if tested < claimed else ("label", "test")
    return (
        f"{what.capitalize()} used here: {told(min(tested, claimed), unit)}, from the {lower}; the {higher} "
        f"says {told(max(tested, claimed), unit)}."
    )


def _in_hours(value: float, unit: str) -> str:
    return _capacity(value, unit=f" {unit}")


def _contents(sheets: Sheets) -> str:
    """Return what tables the page has."""
    names = [
        said
        for said, grid in (
            ("what it carries in every layout", sheets.pack),
            ("its lowest coil", sheets.lowest),
            ("highest power", sheets.highest),
            ("running times", sheets.running),
        )
        if grid
    ]
    return f"This page has {listed(names)}." if names else "This page has no table."


def _stop_caution(test: BenchTest | None) -> str:
    """Return the caution about tests that were allowed to become too hot."""
    if test is None:
        return ""
    if test.caution or test.stop_temperature_c <= STOP_C:
        return test.caution
    return (
        f"The tests were judged up to {test.stop_temperature_c:g} °C. Stop at {STOP_C:g} °C: use no rating "
        "from a hotter test."
    )


def _log_chart(cell: Profile) -> str:
    """Return the picture of the logs: voltage over charge, above the lowest voltage allowed."""
    test = cell.test
    if test is None or not test.runs or test.stop_voltage_v is None:
        return ""
    runs = sorted(test.runs, key=lambda run: run.current_a)
    furthest_ah = max(run.curve_ah[-1] for run in runs)
    stop_v = test.stop_voltage_v
    return charts.curves(
        [
            charts.Curve(f"{run.current_a:g} A", list(zip(run.curve_ah, run.curve_v, strict=True)))
            for run in runs
        ],
        limit=charts.Curve(f"limit {stop_v:g} V", [(0.0, stop_v), (furthest_ah, stop_v)]),
        name=f"logs-{cell.id}",
        x="Charge delivered, Ah",
        y="Voltage under load, V",
        says=f"Voltage of the cell over the charge delivered, by current, in {len(runs)} "
        f"{'test' if len(runs) == 1 else 'tests'}.",
    )


_RESULTS = {True: "kept the limits", False: "did not keep the limits", None: "no temperature"}


def _result(run: Run) -> str:
    """Return what became of a test."""
    proves = ", does not count for a rating" if run.kept_limits and not run.proves else ""
    return f"{_RESULTS[run.kept_limits]}{proves}"


# what Markdown or a marker would take for its own
_MARKDOWN = "`|{}*_[]\\"


def _read_alike(test: BenchTest | None) -> str:
    """Return how all logs were read, if all were read in one way."""
    ways = {run.read for run in test.runs} if test else set()
    return ways.pop() if len(ways) == 1 else ""


def _code(text: str) -> str:
    """Return a text, whose words are safe in HTML, for code in Markdown: nothing in it is a mark."""
    return "".join(
        f"&#{ord(letter)};" if letter in _MARKDOWN else letter if letter.isprintable() else " "
        for letter in text
    )


def _own_log(cell: Profile) -> Run | None:
    """Return the log on which the running times rest, if the profile has it."""
    own, runs = cell.measured_discharge, cell.test.runs if cell.test else []
    return next((run for run in runs if own and run.curve_v == own.voltage_v), None)


def _request(test: BenchTest | None) -> str:
    """Return the path and query that ask the API about one of the logs again."""
    if test is None or not test.runs:
        return ""
    return "?".join(filter(None, ["/v1/discharge-test/log", escape(urlencode(test.asked))]))


def _cutoffs(field: str, chemistries: list[dict[str, Any]]) -> str:
    """Return where the cells compared stop: the cut-off of most, then each chemistry with another."""
    stops = [one[field] for one in chemistries]
    ((usual, _),) = Counter(stops).most_common(1)
    others = {
        one["short_name"]: stop
        for one, stop in zip(chemistries, stops, strict=True)
        if stop != usual
    }
    return ", ".join([f"{usual:g} V", *(f"{name} {stop:g} V" for name, stop in others.items())])


def _cell_page(
    api: Api,
    cell: Profile,
    sheets: Sheets,
    chemistry: dict[str, Any],
    version: str,
    date: str,
) -> str:
    title = _titled(cell.name, [cell])
    claim = cell_sheets.claim(api, cell)
    grids = {name: grid for name, grid in structs.asdict(sheets).items() if grid}
    shown = {
        name: pages.grid_html(
            grid,
            name=name,
            title=f"{title}: {_GRIDS[name][0]}",
            caveat=_GRIDS[name][1].format(cutoff=chemistry["time_cutoff_v"])
            + ("" if cell.used_rating_a else _UNRATED),
            prefix=f"{name}-",
        )
        for name, grid in grids.items()
    }
    chart = sheets.running and charts.chart(
        sheets.running, cell_sheets.running_chart(chemistry), name=f"running-{cell.id}"
    )
    rests_on = {
        a["label"]: a
        for grid in grids.values()
        for a in pages.assumptions(grid, stated_by="the cell's profile")
    }  # most of them are the same for all grids
    return pages.render(
        "cell.md.jinja",
        cell=cell,
        wide=any(map(pages.is_wide, grids.values())),
        title=title,
        description=f"{title}. {_used(cell)} {_contents(sheets)}",
        used=_used(cell),
        stop_caution=_stop_caution(cell.test),
        chemistry=chemistry["name"],
        quantity=_quantity,
        capacity=_capacity,
        resistance=_resistance(cell),
        differences=_differences(cell),
        curve=chemistry["curve_from"],
        claim=claim and claim | {"sentence": _BELIEVED[claim["plausibility"]]},
        chart=chart,
        log_chart=_log_chart(cell),
        result=_result,
        code=_code,
        read_alike=_read_alike(cell.test),
        request=_request(cell.test),
        own_log=_own_log(cell),
        exactness=cell_sheets.exactness(api, cell, chemistry) if sheets.running else None,
        assumptions=rests_on.values(),
        version=version,
        date=date,
        **dict.fromkeys(structs.asdict(sheets)) | shown,
    )


def _compared(cell: Profile, sheets: Sheets, chemistry: dict[str, Any]) -> dict[str, Any]:
    def at(grid: dict[str, Any] | None, row: Any, columns: list[Any]) -> str:
        if grid is None:
            return "–"
        line = next(r for r in grid["rows"] if r["value"] == row)
        index = next(i for i, c in enumerate(grid["columns"]) if c["values"] == columns)
        found = figures_of(grid, line["cells"][index])[0]
        if not found.sign:
            return found.text
        return (
            f'{found.text} <span class="pc-mark" role="img" aria-label="{found.words}" '
            f'title="{found.words}">{found.sign}</span>'
        )

    return {
        "cell": cell,
        "title": _titled(cell.name, [cell]),
        "rating": _quantity(cell.used_rating_a, ""),
        "capacity": _capacity(cell.used_capacity_ah, unit="", none="–"),
        "resistance": "–"
        if cell.cell_resistance_ohm is None
        else _milliohms(cell.cell_resistance_ohm) + _after(cell),
        "differs": bool(_differences(cell)),
        "lowest": at(sheets.lowest, "1S1P", [cell.used_rating_a]),
        "highest": at(sheets.highest, chemistry["cutoff_v"], ["1S1P"]),
        "minutes": at(sheets.running, COMPARED_W, ["1S1P", chemistry["time_cutoff_v"]]),
    }
