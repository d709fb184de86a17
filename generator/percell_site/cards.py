"""Pictures that other programs show: cards for link previews, and the icon of a home screen."""

import re
from collections.abc import Iterable
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
# where the caution begins
_FOOT = SIZE[1] - 62
# what a home screen asks for, in pixels
ICONS = {"assets/icon-180.png": 180, "assets/icon-192.png": 192, "assets/icon-512.png": 512}
# how many times larger an icon is drawn than it is, so that its edges become smooth
_FINER = 4


def card(table: dict[str, Any]) -> bytes:
    """Return the card of a table as PNG: its title, what it gives and what it holds for.

    It shows no figure: a link may lead to any row, and a figure of another row would be read as its own.
    """
    picture = _blank().copy()
    draw = ImageDraw.Draw(picture)
    said = (
        (table["title"], 54, _INK),
        (table["sentence"], 32, _INK),
        (table["conditions"], 28, _SOFT),
    )
    placed, end = _placed(draw, said)
    if end > _FOOT:
        # a long text is set smaller: it says what the figures hold for, so none of it is left out
        placed, end = _placed(draw, said, scale=0.86)
    for y, line, size, colour in placed:
        draw.text((_MARGIN, y), line, font=_font(size), fill=colour)
    out = BytesIO()
    # with sixteen colours, two pixels take one byte
    few = picture.quantize(palette=_palette(), dither=Image.Dither.NONE)
    few.save(out, "PNG", bits=4, compress_level=_COMPRESSION)
    return out.getvalue()


def _placed(
    draw: ImageDraw.ImageDraw, said: Iterable[tuple[str, int, str]], *, scale: float = 1
) -> tuple[list[tuple[int, str, int, str]], int]:
    """Return the lines of texts with their places, sizes and colours, and where the last one ends."""
    placed, y = [], 132
    for text, usual, colour in said:
        size = round(usual * scale)
        for line in _wrapped(draw, _without_omega(text), _font(size), SIZE[0] - 2 * _MARGIN):
            placed.append((y, line, size, colour))
            y += round(size * 1.25)
        y += 20
    return placed, y - 20


def icon(size: int) -> bytes:
    """Return the site's mark on its paper as a square PNG.

    A home screen may cut it to a circle, so the mark stays within the middle.
    """
    side = size * _FINER
    picture = Image.new("RGB", (side, side), _PAPER)
    scale = 0.56 * side / _MARK_HEIGHT
    left, top = (side - _MARK_WIDTH * scale) / 2, (side - _MARK_HEIGHT * scale) / 2
    _cell_mark(ImageDraw.Draw(picture), left, top, scale)
    out = BytesIO()
    picture.resize((size, size), Image.Resampling.LANCZOS).quantize(16).save(out, "PNG")
    return out.getvalue()


@cache
def _blank() -> Image.Image:
    """Return the part that all cards have in common."""
    picture = Image.new("RGB", SIZE, _PAPER)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 0, SIZE[0], 96), fill=_SHADE)
    draw.line((0, 96, SIZE[0], 96), fill=_RULE, width=3)
    _cell_mark(draw, _MARGIN, 16, 1)
    draw.text((_MARGIN + 56, 24), "percell", font=_font(44), fill=_INK)
    draw.text(
        (_MARGIN, _FOOT),
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


_MARK_WIDTH, _MARK_HEIGHT = 38, 62


def _cell_mark(draw: ImageDraw.ImageDraw, left: float, top: float, scale: float) -> None:
    """Draw the site's own mark: a cell whose current forks."""

    def at(*points: int) -> tuple[float, ...]:
        return tuple(scale * point + (top if i % 2 else left) for i, point in enumerate(points))

    width = round(5 * scale)
    draw.rectangle(at(12, 0, 26, 6), fill=_ACCENT)
    draw.rounded_rectangle(at(0, 6, 38, 62), radius=6 * scale, outline=_ACCENT, width=width)
    for end in (10, 28):
        draw.line(at(19, 34, end, 50), fill=_ACCENT, width=width)
    draw.line(at(19, 18, 19, 34), fill=_ACCENT, width=width)


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
