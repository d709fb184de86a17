"""Wiring diagrams, drawn by schemdraw, with currents and voltages from the API."""

from math import ceil
from typing import Any, NamedTuple
from xml.etree.ElementTree import Element

import schemdraw
import schemdraw.elements as elm

from percell_site import drawing
from percell_site.api import Api, ApiError

schemdraw.use("svg")


class Wiring(NamedTuple):
    """What a diagram shows: a layout and a load."""

    layout: str
    load: dict[str, Any]
    caption: str


_CELL = {"cell_rating_a": 20}
_COIL = {"coil_resistance_ohm": 0.5}
_POWER = {"output_power_w": 60, "cell_cutoff_voltage_v": 3.2}
_LAYOUTS = {
    "1s1p": ("1S1P", "One cell"),
    "2s1p": ("2S1P", "Two cells in series"),
    "1s2p": ("1S2P", "Two cells in parallel"),
    "2s2p": ("2S2P", "Two pairs in series, each of two cells in parallel"),
}
WIRINGS = {
    f"{name}-{kind}": Wiring(layout, load, f"{words}, {text}")
    for name, (layout, words) in _LAYOUTS.items()
    for kind, load, text in (
        ("direct", _COIL, "a coil of 0.5 Ω straight on the pack, cells charged"),
        ("converter", _POWER, "60 W through a converter, cells at 3.2 V"),
    )
}


def diagram(api: Api, name: str) -> str:
    """Return a wiring diagram as a figure of HTML.

    Raises:
        ApiError: There is no diagram of that name.
    """
    if name not in WIRINGS:
        raise ApiError(f"no diagram is called {name!r}; there are: {', '.join(WIRINGS)}")
    wiring = WIRINGS[name]
    answer = api.post("/v1/assessment", {"layout": wiring.layout, **_CELL, **wiring.load})
    direct = "direct_load" in answer
    load = answer["direct_load" if direct else "converter_load"]
    pack_v = load["pack_highest_voltage_v"] if direct else load["pack_loaded_voltage_v"]
    series, parallel = (int(part) for part in wiring.layout.removesuffix("P").split("S"))
    picture = _draw(
        series=series,
        parallel=parallel,
        cell_v=pack_v / series,
        cell_a=load["even_cell_current_a"],
        pack_v=pack_v,
        pack_a=load["pack_current_a"],
        load="0.5 Ω" if direct else "60 W",
        direct=direct,
    )
    said = (
        f"{wiring.caption}. The pack gives {_rounded_up(load['pack_current_a'])} A at {pack_v:.1f} V, and each "
        f"cell {_rounded_up(load['even_cell_current_a'])} A at {pack_v / series:.1f} V"
        f"{', if they share evenly' if parallel > 1 else ''}."
    )
    picture.set("style", "overflow:visible")
    return (
        f'<figure class="pc-diagram">{drawing.inline(picture, said)}'
        f"<figcaption>{said}</figcaption></figure>"
    )


def _draw(
    *,
    series: int,
    parallel: int,
    cell_v: float,
    cell_a: float,
    pack_v: float,
    pack_a: float,
    load: str,
    direct: bool,
) -> Element:
    """Draw strings of cells between two rails, and the load on the right."""
    circuit = schemdraw.Drawing(
        show=False, color="currentColor", font="sans-serif", fontsize=12, transparent=True
    )
    height, step = 3.0, 3.2
    top = height * series
    for column in range(parallel):
        for row in range(series):
            cell = elm.BatteryCell().at((column * step, row * height)).up().length(height)
            # reversed: the long stroke, which is the positive plate, belongs on top
            circuit += cell.reverse().label(
                f"{cell_v:.1f} V\n{_rounded_up(cell_a)} A", loc="bottom"
            )
    rails = (parallel - 1) * step
    for row in range(series + 1):
        # a line at every level joins the cells of each parallel group
        if parallel > 1:
            circuit += elm.Line().at((0, row * height)).to((rails, row * height))
    right = rails + step * 1.1
    circuit += elm.Line().at((rails, top)).to((right, top)).label(f"{_rounded_up(pack_a)} A →")
    circuit += elm.Line().at((rails, 0)).to((right, 0))
    part: Any = elm.Resistor() if direct else elm.RBox()
    part = part.at((right, top)).down().length(top)
    circuit += part.label(
        f"{'coil' if direct else 'converter'}\n{load}\n{pack_v:.1f} V", loc="bottom"
    )
    return drawing.parsed(circuit.get_imagedata("svg"))


def _rounded_up(current_a: float) -> str:
    """Return a current rounded up to a tenth, toward caution."""
    return f"{ceil(current_a * 10 - 1e-6) / 10:.1f}"
