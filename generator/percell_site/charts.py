"""The chart of a table, drawn by pygal. It may leave figures out: the table has them all."""

import itertools
import math
import sys
from html import escape
from typing import Any, NamedTuple
from xml.etree.ElementTree import Element

import pygal
from pygal.style import Style

from percell_site import drawing
from percell_site.figures import with_unit

# pygal leaves an import hook of an outdated form, and Python warns of it at every later import
sys.meta_path[:] = [hook for hook in sys.meta_path if not isinstance(hook, pygal.PluginImportFixer)]

# colours of the page's scheme: one drawing serves light, dark and print. Each line also has its own
# dashes, because colour must never be the only sign.
_COLOURS = ("var(--pc-accent)", "var(--pc-over-ink)", "var(--pc-little-ink)", "var(--pc-ink)")
# the line of a limit must look like no other
_LIMIT_COLOUR = "var(--pc-soft)"
# what a letter of a name takes at most on average, and how far a name begins from its line
_LETTER, _BESIDE = 7.5, 16
# a logarithmic scale leaves out figures of fewer steps of the last printed digit: they look like stairs
_LEAST_STEPS = 5
_DASHES = ("none", "8,4", "2,4", "10,4,2,4", "16,6", "4,2")
# the halo keeps a name readable in front of a line
_LABEL = "fill:var(--pc-ink);stroke:var(--pc-paper);stroke-width:4px;paint-order:stroke"
_STYLE: dict[str, Any] = {
    "background": "transparent",
    "plot_background": "transparent",
    "foreground": "var(--pc-ink)",
    "foreground_strong": "var(--pc-ink)",
    "foreground_subtle": "var(--pc-rule)",
    "guide_stroke_color": "var(--pc-rule)",
    "major_guide_stroke_color": "var(--pc-rule)",
    "font_family": "inherit",
    "label_font_size": 14,
    "major_label_font_size": 14,
    "value_label_font_family": "inherit",
    "value_label_font_size": 14,
    "title_font_size": 16,
}


class _Line(NamedTuple):
    """One line of a chart: its name, and its height at each row of the table, where it has one."""

    name: str
    heights: list[float | None]

    def falls(self) -> bool:
        """Return whether the line ends no higher than it starts."""
        drawn = [height for height in self.heights if height is not None]
        return drawn[-1] <= drawn[0]

    def is_level(self) -> bool:
        """Return whether the line has one height."""
        return len({height for height in self.heights if height is not None}) == 1


def chart(table: dict[str, Any], wanted: dict[str, Any] | None, *, name: str) -> str:
    """Return the picture of a grid as a figure of HTML.

    The text is empty if no picture is wanted, or if the table has no figure to draw.

    Args:
        table: The grid that the API answered.
        wanted: Which print over the rows, which columns are lines, and what the picture says.
        name: Names the picture within its page.
    """
    if not wanted:
        return ""
    furthest = wanted.get("up_to")
    if furthest is not None:
        table = table | {"rows": [row for row in table["rows"] if row["value"] <= furthest]}
    index = next(i for i, p in enumerate(table["prints"]) if p["field"] == wanted["print"])
    lines = _lines(table, wanted, index)
    if not lines:
        return ""
    shown, rows = table["prints"][index], table["rows_by"]
    plot = _empty_plot(
        name,
        [line.name for line in lines],
        x=_axis(rows),
        y=_axis(shown),
        logarithmic=wanted["logarithmic"],
    )
    if wanted["logarithmic"]:
        drawn = [height for line in lines for height in line.heights if height is not None]
        plot.x_labels = _round_numbers([row["value"] for row in table["rows"]])
        plot.y_labels = _round_numbers(drawn)
        plot.range = (min(drawn) * 0.7, max(drawn))  # keeps the names off the axis
    named_at = _widest_gap(lines, logarithmic=wanted["logarithmic"])
    limit = _limit(table, wanted, index)
    for n, line in enumerate(lines + limit):
        # the limit has its name at its start, where the other lines are seldom near
        name_at = 0 if line in limit else named_at
        points: list[Any] = []
        for i, (row, height) in enumerate(zip(table["rows"], line.heights, strict=True)):
            if height is not None:
                point = (row["value"], height)
                points.append({"value": point, "label": line.name} if i == name_at else point)
        plot.add(None, points, stroke_style=_strokes(n))
    return _figure(plot, lines + limit, wanted["says"], "The table has the numbers.")


class Curve(NamedTuple):
    """A line through points of its own, and its name. Curves of one name look alike."""

    name: str
    points: list[tuple[float, float]]


def curves(lines: list[Curve], *, limit: Curve, name: str, x: str, y: str, says: str) -> str:
    """Return the picture of curves that fall, above a limit, as a figure of HTML.

    Args:
        lines: The curves.
        limit: A level line.
        name: Names the picture within its page.
        x: Title of the axis across.
        y: Title of the axis upward.
        says: What the picture says.
    """
    by_name: dict[str, list[list[tuple[float, float]]]] = {}
    for line in lines:
        by_name.setdefault(line.name, []).append(line.points)
    plot = _empty_plot(name, [*by_name], x=x, y=y, logarithmic=False)
    for n, (curve_name, alike) in enumerate(by_name.items()):
        # curves lie close together: each has its name at another place, from left to right
        named_at = round((len(alike[0]) - 1) * (0.12 + 0.75 * n / len(by_name)))
        points: list[Any] = [*alike[0]]
        points[named_at] = {"value": points[named_at], "label": curve_name}
        for others in alike[1:]:
            points += [(others[0][0], None), *others]  # None interrupts the line
        plot.add(
            None, points, stroke_style=_strokes(n), show_dots=True, dots_size=0.5,
            allow_interruptions=True,
        )  # fmt: skip
    points = [{"value": limit.points[0], "label": limit.name}, *limit.points[1:]]
    plot.add(None, points, stroke_style=_strokes(len(by_name)), dots_size=0.5)
    drawn = [_Line(line, [height for _, height in alike[0]]) for line, alike in by_name.items()]
    level = _Line(limit.name, [height for _, height in limit.points])
    return _figure(plot, [*drawn, level], says, "The table has the figures of each curve.")


def _strokes(number: int) -> dict[str, Any]:
    return {"width": 2, "dasharray": _DASHES[number % len(_DASHES)]}


def _figure(plot: Any, lines: list[_Line], says: str, numbers: str) -> str:
    """Return a filled plot as a figure of HTML. ``numbers`` says where its numbers are."""
    picture = drawing.parsed(plot.render())
    _remove_parts_for_scripts(picture)
    _place_labels(picture, lines)
    return (
        '<figure class="pc-diagram pc-chart">'
        # on a narrow screen the chart scrolls, because its words must not shrink
        f'<div class="pc-scroll" tabindex="0" role="region" aria-label="Chart: {escape(says)}">'
        f"{drawing.inline(picture, f'{says} {numbers}')}</div>"
        '<p class="pc-swipe" aria-hidden="true">Swipe the chart sideways to see all of it.</p>'
        f"<figcaption>{escape(says, quote=False)}</figcaption></figure>"
    )


def _axis(shown: dict[str, Any]) -> str:
    """Return the title of an axis."""
    return ", ".join(filter(None, [shown["heading"], shown["unit"]]))


def _lines(table: dict[str, Any], wanted: dict[str, Any], index: int) -> list[_Line]:
    """Return the lines that have something to draw."""
    columns = [
        next(i for i, c in enumerate(table["columns"]) if c["values"] == values)
        for values in wanted["columns"]
    ]
    lines = [
        _Line(name, [row["cells"][at]["values"][index] for row in table["rows"]])
        for at, name in zip(
            columns, _names([table["columns"][at]["labels"] for at in columns]), strict=True
        )
    ]
    if wanted["logarithmic"]:
        least = _LEAST_STEPS * 10.0 ** -table["prints"][index]["decimals"]
        lines = [
            _Line(name, [h if h is not None and h >= least else None for h in heights])
            for name, heights in lines
        ]
    return [line for line in lines if any(height is not None for height in line.heights)]


def _limit(table: dict[str, Any], wanted: dict[str, Any], index: int) -> list[_Line]:
    """Return the line of the limit that the figures must stay below, if it is the same for all."""
    shown = table["prints"][index]
    mark = shown["mark"]
    if wanted["logarithmic"] or not mark or mark["figure"] or mark["bound"] != "at_most":
        return []
    if mark["assumed"] and not wanted.get("limit"):
        return []  # a line of its own would look like the cell's
    limits = {cell["limits"][index] for row in table["rows"] for cell in row["cells"]} - {None}
    if len(limits) != 1:
        return []
    height = limits.pop() / shown["per"]
    # only the ends: it has no figure in between
    between: list[float | None] = [None] * (len(table["rows"]) - 2)
    return [_Line(with_unit(f"limit {height:g}", shown), [height, *between, height])]


def _empty_plot(name: str, names: list[str], *, x: str, y: str, logarithmic: bool) -> Any:
    """Return a chart of pygal's with its axes named, and nothing drawn yet. A limit comes after all lines."""
    colours = [_COLOURS[i % len(_COLOURS)] for i in range(len(names))]
    plot = pygal.XY(
        style=Style(**_STYLE, colors=(*colours, _LIMIT_COLOUR)),
        js=(),
        disable_xml_declaration=True,
        dots_size=2,
        show_y_guides=True,
        # each line has its name beside it: a legend would rely on colour alone
        show_legend=False,
        print_labels=True,
        include_x_axis=False,
        margin=10,
        # names may stand to the right of the last point
        margin_right=_BESIDE + _LETTER * max(map(len, names)),
        logarithmic=logarithmic,
        width=760,
        height=420,
        x_title=x,
        y_title=y,
        stroke_style={"width": 2},
        value_formatter=lambda value: f"{value:g}",
        x_value_formatter=lambda value: f"{value:g}",
    )
    plot.uuid = name  # else a new one each time, and no two builds would be alike
    return plot


def _round_numbers(values: list[float]) -> list[float]:
    """Return those of 1, 2, 5, 10, 20 and so on that lie between the lowest and the highest value."""
    steps = [
        step * 10.0**power
        for power in range(math.floor(math.log10(min(values))), math.ceil(math.log10(max(values))))
        for step in (1, 2, 5)
    ]
    return [step for step in steps if min(values) <= step <= max(values)]


def _names(labels: list[list[str]]) -> list[str]:
    """Return a name for each line: the part of its labels that differs from line to line."""
    levels = [i for i in range(len(labels[0])) if len({one[i] for one in labels}) > 1]
    # in a chart nobody looks for the line of what is not known
    return [", ".join(one[i].partition(", or unknown")[0] for i in levels) for one in labels]


def _remove_parts_for_scripts(picture: Element) -> None:
    """Take out what pygal draws for its own script, which the pages do not have."""
    unused = {drawing.SVG + name for name in ("title", "desc", "script")}
    for parent in list(picture.iter()):
        for child in list(parent):
            if child.tag in unused or "tooltip-overlay" in child.get("class", "").split():
                parent.remove(child)


def _place_labels(picture: Element, lines: list[_Line]) -> None:
    """Give each line's name a halo, and move the name of a line that does not rise from below to above it."""
    for group in picture.iter(f"{drawing.SVG}g"):
        for label in group.iterfind(f"{drawing.SVG}text[@class='label']"):
            label.set("style", _LABEL)
            line = lines[_number_of_line(group)]
            if line.is_level():
                label.set("dy", "-2.1em")
            elif line.falls():
                label.set("dy", "-1.8em")


def _number_of_line(group: Element) -> int:
    """Return which line a group of pygal's belongs to, as its class says: ``series serie-2 color-2``."""
    (name,) = (name for name in group.get("class", "").split() if name.startswith("serie-"))
    return int(name.removeprefix("serie-"))


def _widest_gap(lines: list[_Line], *, logarithmic: bool) -> int:
    """Return the row at which the lines are furthest apart, where their names have room."""
    scale = math.log if logarithmic else float

    def least_gap(row: int) -> float:
        heights = sorted(scale(h) for line in lines if (h := line.heights[row]) is not None)
        gaps = [b - a for a, b in itertools.pairwise(heights)]
        return min(gaps, default=0.0) if len(heights) == len(lines) else -1.0

    rows = range(len(lines[0].heights))
    return max(rows, key=lambda row: (least_gap(row), row))
