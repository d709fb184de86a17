"""Picture cards for link previews, drawn from the tables during the build."""

import re
from functools import cache
from io import BytesIO
from typing import Any

from PIL import Image, ImageColor, ImageDraw, ImageFont

SIZE = (1200, 630)
_PAPER, _SHADE, _INK, _SOFT, _ACCENT = "#fbf9f4", "#f1ede2", "#20262b", "#535a60", "#0b5563"
_RULE = "#7b7767"
# from 1 to 9; higher levels take up to twice as long and save at most a sixth of a small file
_COMPRESSION = 1
_MARGIN = 72


def card(table: dict[str, Any]) -> bytes:
    """Return the card of a table as PNG: its title, what it gives and what it holds for.

    It shows no figure: a link may lead to any row, and a figure of another row would be read as its own.
    """
    picture = _blank().copy()
    draw = ImageDraw.Draw(picture)
    y = 132
    for text, size, colour in (
        (table["title"], 54, _INK),
        (table["sentence"], 32, _INK),
        (table["conditions"], 28, _SOFT),
    ):
        for line in _wrapped(draw, _without_omega(text), _font(size), SIZE[0] - 2 * _MARGIN):
            draw.text((_MARGIN, y), line, font=_font(size), fill=colour)
            y += round(size * 1.25)
        y += 20
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
        "These are planning estimates. Never exceed the manufacturer's rating.",
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


def _cell_mark(draw: ImageDraw.ImageDraw, x: int, y: int) -> None:
    """Draw the site's own mark: a cell whose current forks."""
    draw.rectangle((x + 12, y - 6, x + 26, y), fill=_ACCENT)
    draw.rounded_rectangle((x, y, x + 38, y + 56), radius=6, outline=_ACCENT, width=5)
    for end in (10, 28):
        draw.line((x + 19, y + 28, x + end, y + 44), fill=_ACCENT, width=5)
    draw.line((x + 19, y + 12, x + 19, y + 28), fill=_ACCENT, width=5)


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
