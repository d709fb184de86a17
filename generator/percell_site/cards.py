"""Picture cards for link previews: drawn here, at build time, from the table itself."""

from functools import cache
from io import BytesIO
from typing import Any

from PIL import Image, ImageColor, ImageDraw, ImageFont

from percell_site import pages

SIZE = (1200, 630)
_PAPER, _SHADE, _INK, _SOFT, _ACCENT = "#fbf9f4", "#f1ede2", "#20262b", "#535a60", "#0b5563"
_RULE = "#7b7767"
# of 1 to 9: more takes up to twice as long, and saves a sixth of a small file at most
_COMPRESSION = 1
_MARGIN = 72
_MOST_COLUMNS = 5


def card(table: dict[str, Any]) -> bytes:
    """Return the card of a table as PNG: its title, and a strip of the row that its page explains."""
    picture = _blank().copy()
    draw = ImageDraw.Draw(picture)
    y = 140
    for line in _wrapped(draw, table["title"], _font(58), SIZE[0] - 2 * _MARGIN):
        draw.text((_MARGIN, y), line, font=_font(58), fill=_INK)
        y += 72
    _row(draw, table, max(y + 34, 330))
    out = BytesIO()
    # a few colours are all it has: two pixels then take a byte
    few = picture.quantize(palette=_palette(), dither=Image.Dither.NONE)
    few.save(out, "PNG", bits=4, compress_level=_COMPRESSION)
    return out.getvalue()


@cache
def _blank() -> Image.Image:
    """Return what all cards have in common."""
    picture = Image.new("RGB", SIZE, _PAPER)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 0, SIZE[0], 96), fill=_SHADE)
    draw.line((0, 96, SIZE[0], 96), fill=_RULE, width=3)
    _cell_mark(draw, _MARGIN, 22)
    draw.text((_MARGIN + 56, 24), "percell", font=_font(44), fill=_INK)
    draw.text(
        (_MARGIN, SIZE[1] - 62),
        "Estimates for planning, not a permission. The maker's rating comes first.",
        font=_font(26),
        fill=_SOFT,
    )
    return picture


@cache
def _palette() -> Image.Image:
    """Return the sixteen colours of all cards, as Pillow takes them: in an image that has them."""
    paper = ImageColor.getrgb(_PAPER)
    colours: list[tuple[int, ...]] = [paper, ImageColor.getrgb(_SHADE), ImageColor.getrgb(_RULE)]
    # the edge of a letter goes from the paper's colour to its own in so many steps
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


def _text(
    draw: ImageDraw.ImageDraw, at: tuple[int, int], text: str, size: int, colour: str
) -> None:
    # the font that comes with pillow has no omega
    draw.text(at, text.replace("Ω", "ohm"), font=_font(size), fill=colour)


def _cell_mark(draw: ImageDraw.ImageDraw, x: int, y: int) -> None:
    """Draw the site's own mark: a cell whose current forks."""
    draw.rectangle((x + 12, y - 6, x + 26, y), fill=_ACCENT)
    draw.rounded_rectangle((x, y, x + 38, y + 56), radius=6, outline=_ACCENT, width=5)
    for end in (10, 28):
        draw.line((x + 19, y + 28, x + end, y + 44), fill=_ACCENT, width=5)
    draw.line((x + 19, y + 12, x + 19, y + 28), fill=_ACCENT, width=5)


def _row(draw: ImageDraw.ImageDraw, table: dict[str, Any], y: int) -> None:
    """Draw the first columns of the row that the page takes as its example."""
    row = next(r for r in table["rows"] if r["value"] == table["worked"]["row"])
    shown = table["prints"][0]
    columns = list(zip(table["columns"], row["cells"], strict=True))[:_MOST_COLUMNS]
    width = (SIZE[0] - 2 * _MARGIN) // (len(columns) + 1)
    _text(draw, (_MARGIN, y), table["rows_by"]["heading"], 28, _SOFT)
    _text(draw, (_MARGIN, y + 56), row["label"], 46, _ACCENT)
    draw.line((_MARGIN, y + 44, SIZE[0] - _MARGIN, y + 44), fill=_RULE, width=2)
    for i, (column, cell) in enumerate(columns, start=1):
        x = _MARGIN + i * width
        value = cell["values"][0]
        figure = "-" if value is None else f"{pages.figure(value, shown)} {shown['unit']}".rstrip()
        _text(draw, (x, y), ", ".join(column["labels"]), 28, _SOFT)
        _text(draw, (x, y + 56), figure, 40, _INK)


def _wrapped(draw: ImageDraw.ImageDraw, text: str, font: Any, width: int) -> list[str]:
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if draw.textlength(longer, font=font) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
