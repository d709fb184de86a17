"""Picture cards for link previews, drawn from the tables during the build."""

import re
from functools import cache
from io import BytesIO
from typing import Any, NamedTuple

from PIL import Image, ImageColor, ImageDraw, ImageFont

from percell_site import pages

SIZE = (1200, 630)
_PAPER, _SHADE, _INK, _SOFT, _ACCENT = "#fbf9f4", "#f1ede2", "#20262b", "#535a60", "#0b5563"
_RULE = "#7b7767"
# from 1 to 9; higher levels take up to twice as long and save at most a sixth of a small file
_COMPRESSION = 1
_MARGIN = 72
# the row of figures: columns after the first, and the headings above them
_MOST_COLUMNS = 5
_HEADING, _HEADING_STEP, _HEADING_LINES = 28, 34, 3
_NARROWEST, _GAP = 120, 30


def card(table: dict[str, Any]) -> bytes:
    """Return the card of a table as PNG: its title, and the row that its page explains."""
    picture = _blank().copy()
    draw = ImageDraw.Draw(picture)
    y = 140
    for line in _wrapped(draw, table["title"], _font(58), SIZE[0] - 2 * _MARGIN):
        draw.text((_MARGIN, y), line, font=_font(58), fill=_INK)
        y += 72
    _row(draw, table, max(y + 20, 300))
    out = BytesIO()
    # with sixteen colours, two pixels take one byte
    few = picture.quantize(palette=_palette(), dither=Image.Dither.NONE)
    few.save(out, "PNG", bits=4, compress_level=_COMPRESSION)
    return out.getvalue()


@cache
def _blank() -> Image.Image:
    """Return the part that all cards have in common."""
    picture = Image.new("RGB", SIZE, _PAPER)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 0, SIZE[0], 96), fill=_SHADE)
    draw.line((0, 96, SIZE[0], 96), fill=_RULE, width=3)
    _cell_mark(draw, _MARGIN, 22)
    draw.text((_MARGIN + 56, 24), "percell", font=_font(44), fill=_INK)
    draw.text(
        (_MARGIN, SIZE[1] - 62),
        "Estimates for planning, not a permission. The manufacturer's rating comes first.",
        font=_font(26),
        fill=_SOFT,
    )
    return picture


@cache
def _palette() -> Image.Image:
    """Return an image with the sixteen colours of all cards: Pillow takes a palette in that form."""
    paper = ImageColor.getrgb(_PAPER)
    colours: list[tuple[int, ...]] = [paper, ImageColor.getrgb(_SHADE), ImageColor.getrgb(_RULE)]
    # the edge of a letter blends from the paper's colour to its own in this many steps
    for ink, steps in ((_INK, 5), (_SOFT, 4), (_ACCENT, 4)):
        colours += [
            tuple(
                round(light + (dark - light) * step / steps)
                for light, dark in zip(paper, ImageColor.getrgb(ink), strict=True)
            )
            for step in range(1, steps + 1)
        ]
    palette = Image.new("P", (1, 1))
    palette.putpalette([level for colour in colours for level in colour])
    return palette


@cache
def _font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(size=size)


def _without_omega(text: str) -> str:
    # Pillow's own font has no Ω
    return text.replace("Ω", "ohm")


def _text(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], text: str, size: int, colour: str
) -> None:
    draw.text(at, text, font=_font(size), fill=colour)


def _cell_mark(draw: ImageDraw.ImageDraw, x: int, y: int) -> None:
    """Draw the site's own mark: a cell whose current forks."""
    draw.rectangle((x + 12, y - 6, x + 26, y), fill=_ACCENT)
    draw.rounded_rectangle((x, y, x + 38, y + 56), radius=6, outline=_ACCENT, width=5)
    for end in (10, 28):
        draw.line((x + 19, y + 28, x + end, y + 44), fill=_ACCENT, width=5)
    draw.line((x + 19, y + 12, x + 19, y + 28), fill=_ACCENT, width=5)


class _Column(NamedTuple):
    """A column of the card: the lines of its heading, the figure below, and the width of both."""

    heading: list[str]
    figure: str
    size: int
    colour: str
    width: float


def _row(draw: ImageDraw.ImageDraw, table: dict[str, Any], y: int) -> None:
    """Draw the row that the page explains, with as many of the first columns as there is room for."""
    row = next(r for r in table["rows"] if r["value"] == table["worked"]["row"])
    shown = table["prints"][0]
    columns = [_column(draw, [table["rows_by"]["heading"]], row["label"], 46, _ACCENT)]
    for column, cell in zip(table["columns"], row["cells"], strict=True):
        value = cell["values"][0]
        figure = "-" if value is None else f"{pages.figure(value, shown)} {shown['unit']}".rstrip()
        columns.append(_column(draw, column["labels"], figure, 40, _INK))
    columns = columns[: 1 + _MOST_COLUMNS]
    room = SIZE[0] - 2 * _MARGIN
    while sum(c.width for c in columns) + _GAP * (len(columns) - 1) > room:
        columns.pop()
    # spread the room that is left; the last column gets the same gap after it
    gap = (room - sum(c.width for c in columns)) / len(columns)
    rule = y + _HEADING_LINES * _HEADING_STEP
    draw.line((_MARGIN, rule, SIZE[0] - _MARGIN, rule), fill=_RULE, width=2)
    x = float(_MARGIN)
    for column in columns:
        for i, line in enumerate(reversed(column.heading), start=1):
            _text(draw, (x, rule - 4 - i * _HEADING_STEP), line, _HEADING, _SOFT)
        # figures of both sizes share a baseline
        _text(draw, (x, rule + 58 - column.size), column.figure, column.size, column.colour)
        x += column.width + gap


def _column(
    draw: ImageDraw.ImageDraw, labels: list[str], figure: str, size: int, colour: str
) -> _Column:
    """Return a column whose labels are broken into a few lines, hardly wider than the figure."""
    figure, font = _without_omega(figure), _font(_HEADING)
    own = draw.textlength(figure, font=_font(size))
    width = max(own, _NARROWEST)
    while True:
        lines = [
            line for label in labels for line in _wrapped(draw, _without_omega(label), font, width)
        ]
        if len(lines) <= _HEADING_LINES:
            widest = max(draw.textlength(line, font=font) for line in lines)
            return _Column(lines, figure, size, colour, max(own, widest))
        width += 20


def _wrapped(draw: ImageDraw.ImageDraw, text: str, font: Any, width: float) -> list[str]:
    """Break a text into lines, but never after a number: its unit follows."""
    lines = [""]
    for words in re.split(r"(?<!\d) ", text):
        longer = f"{lines[-1]} {words}".strip()
        if draw.textlength(longer, font=font) <= width:
            lines[-1] = longer
        else:
            lines.append(words)
    return [line for line in lines if line]
