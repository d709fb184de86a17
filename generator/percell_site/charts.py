"""The picture above a table, drawn by pygal. The numbers stand below it, so it may leave some out."""

import itertools
import math
import re
import sys
from typing import Any

import pygal
from pygal.style import Style

# pygal leaves an import hook of an outdated form behind, which Python warns of at every later import
sys.meta_path[:] = [hook for hook in sys.meta_path if not isinstance(hook, pygal.PluginImportFixer)]

# colours of the page's own scheme, so that one drawing serves light, dark and print; each line also
# has its own dashes, for colour is never the only sign
_COLOURS = ("var(--pc-accent)", "var(--pc-over-ink)", "var(--pc-little-ink)", "var(--pc-ink)")
# fewer steps of the last printed digit than this are not drawn on a scale of factors
_LEAST_STEPS = 5
_DASHES = ("none", "8,4", "2,4", "10,4,2,4", "16,6", "4,2")
# a line may run behind a name
_LABEL = "fill:var(--pc-ink);stroke:var(--pc-paper);stroke-width:4px;paint-order:stroke"
_STYLE = Style(
    background="transparent",
    plot_background="transparent",
    foreground="var(--pc-ink)",
    foreground_strong="var(--pc-ink)",
    foreground_subtle="var(--pc-rule)",
    guide_stroke_color="var(--pc-rule)",
    major_guide_stroke_color="var(--pc-rule)",
    colors=tuple(_COLOURS[i % len(_COLOURS)] for i in range(12)),
    font_family="inherit",
    label_font_size=14,
    major_label_font_size=14,
    value_label_font_family="inherit",
    value_label_font_size=14,
    title_font_size=16,
)


def chart(table: dict[str, Any], wanted: dict[str, Any] | None, *, name: str) -> str:
    """Return the picture of a grid as a figure of HTML, or nothing where none is wanted.

    Args:
        table: The grid that the API answered.
        wanted: Which print over the rows, which columns are lines, and what the picture says.
        name: Names the picture within its page.
    """
    if not wanted:
        return ""
    index = next(i for i, p in enumerate(table["prints"]) if p["field"] == wanted["print"])
    shown = table["prints"][index]
    rows = table["rows_by"]
    unit = f", {rows['unit']}" if rows["unit"] else ""
    drawing = pygal.XY(
        style=_STYLE,
        js=(),
        disable_xml_declaration=True,
        dots_size=2,
        show_y_guides=True,
        # each line is named at its end: a legend would be told apart by colour alone
        show_legend=False,
        print_labels=True,
        include_x_axis=False,
        margin=10,
        margin_right=90,
        logarithmic=wanted["logarithmic"],
        width=760,
        height=420,
        x_title=f"{rows['heading']}{unit}",
        y_title=", ".join(filter(None, [shown["heading"], shown["unit"]])),
        stroke_style={"width": 2},
        value_formatter=lambda value: f"{value:g}",
        x_value_formatter=lambda value: f"{value:g}",
    )
    drawing.uuid = name  # else a new one each time, and no two builds would be alike
    columns = [
        next(i for i, c in enumerate(table["columns"]) if c["values"] == values)
        for values in wanted["columns"]
    ]
    lines = [[row["cells"][at]["values"][index] for row in table["rows"]] for at in columns]
    if wanted["logarithmic"]:
        # such a scale has no place for nothing, and shows a figure of a few last digits as stairs
        least = _LEAST_STEPS * 10.0 ** -shown["decimals"]
        lines = [[v if v is not None and v >= least else None for v in line] for line in lines]
        drawing.x_labels = _round_numbers([row["value"] for row in table["rows"]])
        drawn = [v for line in lines for v in line if v is not None]
        drawing.y_labels = _round_numbers(drawn)
        drawing.range = (min(drawn) * 0.7, max(drawn))  # no name stands on the axis
    named_at = _apart(lines, logarithmic=wanted["logarithmic"])
    names = _names([table["columns"][at]["labels"] for at in columns])
    for n, (name_of_line, line) in enumerate(zip(names, lines, strict=True)):
        points: list[Any] = []
        for i, (row, value) in enumerate(zip(table["rows"], line, strict=True)):
            if value is not None:
                point = (row["value"], value)
                points.append({"value": point, "label": name_of_line} if i == named_at else point)
        dashes = {"width": 2, "dasharray": _DASHES[n % len(_DASHES)]}
        drawing.add(None, points, stroke_style=dashes)
    picture = _named_clear(drawing.render(is_unicode=True), [_falls(line) for line in lines])
    said = f"{wanted['says']} The numbers are in the table below."
    return (
        f'<figure class="pc-diagram pc-chart" markdown="0">{_inline(picture, said)}'
        f"<figcaption>{wanted['says']}</figcaption></figure>"
    )


def _round_numbers(values: list[float]) -> list[float]:
    """Return those of 1, 2, 5, 10, 20 and so on that lie within the values."""
    steps = [
        step * 10.0**power
        for power in range(math.floor(math.log10(min(values))), math.ceil(math.log10(max(values))))
        for step in (1, 2, 5)
    ]
    return [step for step in steps if min(values) <= step <= max(values)]


def _names(labels: list[list[str]]) -> list[str]:
    """Return a name for each line: what it does not have in common with all the others."""
    levels = [i for i in range(len(labels[0])) if len({one[i] for one in labels}) > 1]
    return [", ".join(one[i] for i in levels) for one in labels]


def _falls(line: list[float | None]) -> bool:
    values = [value for value in line if value is not None]
    return values[-1] < values[0]


def _named_clear(picture: str, falling: list[bool]) -> str:
    """Return a drawing with the name of each falling line above it: pygal puts it below the point."""
    names = iter(falling)
    return re.sub(
        r'<text [^>]*class="label"',
        lambda found: f'{found[0]} dy="-1.5em"' if next(names) else found[0],
        picture,
    )


def _apart(lines: list[list[float | None]], *, logarithmic: bool) -> int:
    """Return the row at which the lines lie furthest apart, the last of such: there they are named."""
    height = math.log if logarithmic else float

    def least_gap(row: int) -> float:
        values = sorted(height(value) for line in lines if (value := line[row]) is not None)
        gaps = [b - a for a, b in itertools.pairwise(values)]
        return min(gaps, default=0.0) if len(values) == len(lines) else -1.0

    rows = range(len(lines[0]))
    return max(rows, key=lambda row: (least_gap(row), row))


def _inline(picture: str, said: str) -> str:
    """Return a drawing for use inside a page: on one line, named, without comments and hover parts."""
    text = re.sub(r"<!--.*?-->|<title>.*?</title>|<desc.*?</desc>", "", picture, flags=re.DOTALL)
    text = re.sub(
        r'<g [^>]*class="plot tooltip-overlay">.*?</g></g></g>', "", text, flags=re.DOTALL
    )
    text = re.sub(r"\s+", " ", text)
    text = text.replace('class="label"', f'class="label" style="{_LABEL}"')
    return text.replace("<svg", f'<svg role="img" aria-label="{said}"', 1)
