"""A card for a link's preview says what the table is for, and nothing lies over anything else."""

import json

import pytest
from litestar.testing import TestClient
from PIL import Image, ImageDraw, ImageFont

from percell.questions.answering.tables import every_table
from percell.web.app import create_app
from percell_site import cards


@pytest.fixture(scope="module")
def table():
    """Return a table as the API answers it."""
    with TestClient(create_app()) as client:
        yield lambda name: json.loads(client.get(f"/v1/tables/{name}").content)


@pytest.fixture
def drawn(monkeypatch):
    """Return the boxes of all texts that are drawn from here on."""
    cards._blank.cache_clear()  # or its texts would be seen in the first test alone
    boxes = []
    draw_text = ImageDraw.ImageDraw.text

    def noted(self, xy, text, *args, font, **more):
        boxes.append((text, self.textbbox(xy, text, font=font)))
        draw_text(self, xy, text, *args, font=font, **more)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", noted)
    return boxes


@pytest.mark.parametrize("name", every_table())
def test_no_text_lies_over_another(table, drawn, name):
    """All texts are within the margins, with space between them: title, sentence, conditions and caution."""
    whole = table(name)
    cards.card(whole)
    said = " ".join(text for text, _ in drawn)
    for part in ("title", "sentence", "conditions"):
        assert whole[part].replace("Ω", "ohm") in said
    assert "Never exceed the manufacturer's rating." in said
    for i, (text, (left, top, right, bottom)) in enumerate(drawn):
        assert left >= 60, text
        assert right <= cards.SIZE[0] - 60, text
        assert bottom <= cards.SIZE[1], text
        for other, (its_left, its_top, its_right, its_bottom) in drawn[:i]:
            apart = left >= its_right or right <= its_left or top >= its_bottom or bottom <= its_top
            assert apart, f"{text!r} and {other!r}"


@pytest.mark.parametrize("name", every_table())
def test_a_card_is_of_the_table_and_of_no_row(table, name):
    """A link may lead to any row: the card is the same whatever the figures are, so it shows none."""
    whole = table(name)
    card = cards.card(whole)
    for row in whole["rows"]:
        row["label"] = "another row"
        for cell in row["cells"]:
            cell["values"] = [None for _ in cell["values"]]
    assert cards.card(whole) == card


@pytest.mark.parametrize(
    ("text", "width", "lines"),
    [
        ("draws of 3 s", 90, ["draws", "of", "3 s"]),
        ("one line", 1000, ["one line"]),
        ("unbreakable", 10, ["unbreakable"]),
    ],
)
def test_no_unit_leaves_its_number(text, width, lines):
    """A line breaks at spaces, but not behind a number."""
    draw = ImageDraw.Draw(Image.new("RGB", cards.SIZE))
    font = ImageFont.load_default(size=40)
    assert cards._wrapped(draw, text, font, width) == lines
