"""The chart of answered against measured times: a strip for each way of asking, a mark for each answer.

It is drawn narrow, so that its words can be read on a phone, where it is not made smaller by much.
"""

from html import escape
from math import ceil, floor
from typing import Any
from xml.etree.ElementTree import Element, SubElement

from percell_site import drawing

_WIDTH, _LEFT, _RIGHT = 360.0, 12.0, 12.0
_STRIP, _TOP, _HEAD, _FOOT = 62.0, 8.0, 20.0, 52.0
_STEP = 10  # percent between the lines of the scale
_FONT = "15px"
# a shape for each cell, because colour must never be the only sign; cells of one lot share it
_COLOURS = ("var(--pc-accent)", "var(--pc-over-ink)", "var(--pc-ink)")


def chart(ways: list[dict[str, Any]], rows: list[dict[str, Any]]) -> str:
    """Return the picture as a figure of HTML.

    Args:
        ways: The ways of asking, in the order of the strips.
        rows: Each measured time with what was answered.
    """
    percent = {
        way["way"]: [
            (_lot(row), 100 * (row[at] / row["measured_s"] - 1))
            for row in rows
            if row["way"] == way["way"]
            for at in ("at_power_s", "at_current_s")
        ]
        for way in ways
    }
    every = [off for points in percent.values() for _, off in points]
    low, high = _STEP * floor(min(every) / _STEP), _STEP * ceil(max(every) / _STEP)
    lots = sorted({lot for points in percent.values() for lot, _ in points})

    def x(off: float) -> float:
        place: float = _LEFT + (off - low) / (high - low) * (_WIDTH - _LEFT - _RIGHT)
        return place

    bottom = _TOP + _STRIP * len(ways)
    picture = Element(
        f"{drawing.SVG}svg",
        {"viewBox": f"0 0 {_WIDTH:g} {bottom + _FOOT:g}", "width": f"{_WIDTH * 1.25:g}"},
    )
    for at in range(low, high + 1, _STEP):
        line = {"stroke": "var(--pc-ink)" if at == 0 else "var(--pc-rule)"}
        _line(picture, x(at), _TOP, x(at), bottom, line)
        said = f"{at:+d} %".replace("-", "\N{MINUS SIGN}") if at else "0"
        anchor = {low: "start", high: "end"}.get(at, "middle")
        _words(picture, x(at), bottom + 18, said, anchor)
    for n, way in enumerate(ways):
        top = _TOP + _STRIP * n
        _words(picture, _LEFT, top + 15, way["way"].replace("_", " "), "start", bold=True)
        if "aimed_lowest" in way:
            left, right = (
                x(max(low, min(high, 100 * way[end]))) for end in ("aimed_lowest", "aimed_highest")
            )
            _box(picture, left, top + _HEAD, right - left, _STRIP - _HEAD - 6, "var(--pc-shade)")
        for lot, off in percent[way["way"]]:
            place = lots.index(lot)
            step = (_STRIP - _HEAD - 6) / (len(lots) + 1)
            _mark(picture, x(off), top + _HEAD + step * (place + 1), place)
    for place, lot in enumerate(lots):
        key = _LEFT + 6 + 92 * place
        _mark(picture, key, bottom + 38, place)
        _words(picture, key + 10, bottom + 43, lot, "start")
    said = (
        f"Answered running times beside measured ones: none is more than {ceil(max(every) * 10) / 10:.1f} % too long, "
        f"the shortest is {ceil(-min(every) * 10) / 10:.1f} % too short."
    )
    note = "Each mark is one answer, 0 is the measured time. Each shape is one kind of cell, each band an aim."
    return (
        f'<figure class="pc-diagram pc-compared">{drawing.inline(picture, f"{said} {note}")}'
        f"<figcaption>{escape(f'{said} {note}', quote=False)}</figcaption></figure>"
    )


def _lot(row: dict[str, Any]) -> str:
    """Return the printed capacity of a cell, as its name begins."""
    name: str = row["cell"]
    return name.partition(",")[0]


def _line(
    parent: Element, x1: float, y1: float, x2: float, y2: float, style: dict[str, str]
) -> None:
    ends = {"x1": x1, "y1": y1, "x2": x2, "y2": y2}
    SubElement(parent, f"{drawing.SVG}line", {k: f"{v:.1f}" for k, v in ends.items()} | style)


def _box(parent: Element, x: float, y: float, width: float, height: float, fill: str) -> None:
    sides = {"x": x, "y": y, "width": width, "height": height}
    stroke = {"fill": fill, "stroke": "var(--pc-rule-strong)"}
    SubElement(parent, f"{drawing.SVG}rect", {k: f"{v:.1f}" for k, v in sides.items()} | stroke)


def _words(
    parent: Element, x: float, y: float, said: str, anchor: str, *, bold: bool = False
) -> None:
    style = {"text-anchor": anchor, "font-size": _FONT, "fill": "var(--pc-ink)"}
    if bold:
        style["font-weight"] = "700"
    place = {"x": f"{x:.1f}", "y": f"{y:.1f}"}
    SubElement(parent, f"{drawing.SVG}text", place | style).text = said


def _mark(parent: Element, x: float, y: float, place: int) -> None:
    """Draw a ring, a cross or a triangle, hollow, so that marks on one spot still show."""
    shapes = (
        f"M{x - 3.5:.1f} {y:.1f}a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0",
        f"M{x - 3.5:.1f} {y - 3.5:.1f}l7 7m0 -7l-7 7",
        f"M{x:.1f} {y - 4:.1f}l4 7h-8z",
    )
    style = {"fill": "none", "stroke": _COLOURS[place % 3], "stroke-width": "1.2"}
    SubElement(parent, f"{drawing.SVG}path", {"d": shapes[place % 3]} | style)
