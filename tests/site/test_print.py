"""What comes out of a printer: the size of letters, and what each sheet says."""

import json
import re
import subprocess
from urllib.parse import urljoin

import pytest
from tests.site.paper import joined, sheets


def smallest_letters(tool, pdf):
    """The size of the smallest letters of a PDF in points, and what is written in them."""
    # this is the highest zoom that the program takes: it gives whole numbers
    zoom = 3
    text = subprocess.run(
        [tool("pdftohtml"), "-xml", "-i", "-hidden", "-stdout", "-zoom", str(zoom), str(pdf)],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    sizes = {
        i: int(size) / zoom for i, size in re.findall(r'<fontspec id="(\d+)" size="(\d+)"', text)
    }
    written = re.findall(r'<text [^>]*font="(\d+)">(.*?)</text>', text)
    return min((sizes[font], words) for font, words in written)


def is_complete(table, sheet):
    """Whether a sheet says where the figures of a table are from, and what they hold for."""
    origin = f"/tables/{table['id']}/, percell {table['version']}, built 2026-09-21"
    said = [table["conditions"], table["caution"], origin]
    return all(joined(needed) in sheet for needed in said)


# the paper on which a page has less room across, by the way it lies
NARROWER = {True: "Letter", False: "A4"}


def test_each_sheet_of_a_table_can_be_read_alone(open_page, tool, site, tmp_path):
    """Nothing is below 8 point; each sheet has conditions, caution, address, version and date; the first, all figures."""
    page = open_page("/")
    for file in sorted((site / "tables").glob("*.json")):
        table = json.loads(file.read_text("utf-8"))
        name = table["id"]
        page.goto(urljoin(page.url, f"/tables/{name}/"))
        pdf = tmp_path / "table.pdf"
        page.pdf(path=pdf, format=NARROWER["size: landscape" in page.content()])
        smallest, words = smallest_letters(tool, pdf)
        assert smallest >= 8, (name, words)
        printed = sheets(tool, pdf)
        for number, sheet in enumerate(printed, start=1):
            assert is_complete(table, sheet), (name, number)
            assert joined(f"Sheet {number} of {len(printed)}") in sheet, (name, number)
        # a wide table opens on a part of its columns, and is printed whole
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        entries = len(table["columns"]) * sum(one["on_page"] for one in table["prints"])
        assert page.locator(".pc-grid tbody tr").first.locator("td").count() == entries
        for row in page.locator(".pc-grid tbody tr").all_inner_texts():
            assert joined(row) in printed[0], (name, row)
        assert not any(joined("More tables") in sheet for sheet in printed), name
        alone = f"Sheet {len(printed)} of {len(printed)} Before you use a number"
        assert not printed[-1].startswith(joined(alone)), name


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_in_the_booklet_each_table_has_one_sheet(open_page, tool, site, tmp_path, paper):
    """After the contents and the cautions each table has all its figures on one sheet, in 8 point or more."""
    page = open_page("/tables/all/")
    pdf = tmp_path / "booklet.pdf"
    page.pdf(path=pdf, format=paper, prefer_css_page_size=False)
    smallest, words = smallest_letters(tool, pdf)
    assert smallest >= 8, words
    first, *printed = sheets(tool, pdf)
    sections = page.locator("section[aria-labelledby]")
    tables = [
        json.loads((site / "tables" / f"{name}.json").read_text("utf-8"))
        for name in page.locator("section > h2[id]").evaluate_all("all => all.map(h2 => h2.id)")
    ]
    assert {table["id"] for table in tables} == {f.stem for f in (site / "tables").glob("*.json")}
    assert len(printed) == len(tables)
    for caution in tables[0]["cautions"]:
        assert joined(caution["sentence"]) in first
    for number, (table, sheet) in enumerate(zip(tables, printed, strict=True), start=1):
        assert joined(f"{number}. {table['title']}") in first
        assert joined(f"{number}. {table['title']}") in sheet
        assert is_complete(table, sheet), table["id"]
        rows = sections.nth(number - 1).locator("tbody tr").all_inner_texts()
        assert len(rows) == len(table["rows"])
        for row in rows:
            assert joined(row) in sheet, (table["id"], row)


def test_print_keeps_a_caption_with_its_table(open_page, tool, site, tmp_path):
    """No printed page of a cell ends with the caption of a table that is on the next one."""
    cells = [page.parent.name for page in sorted((site / "cells").glob("*/index.html"))]
    assert cells
    for name in cells:
        page = open_page(f"/cells/{name}/")
        captions = [c.splitlines()[0] for c in page.locator(".pc-grid caption").all_inner_texts()]
        for paper in ("A4", "Letter"):
            pdf = tmp_path / f"{name}.pdf"
            page.pdf(path=pdf, format=paper)
            words = subprocess.run(
                [tool("pdftotext"), "-layout", str(pdf), "-"],
                capture_output=True,
                text=True,
                check=True,
            ).stdout
            ends = [sheet.split("\n")[-3:] for sheet in map(str.strip, words.split("\f")) if sheet]
            said = " ".join(line for lines in ends for line in lines)
            assert not [caption for caption in captions if caption in said], (name, paper)


@pytest.mark.parametrize("fonts", ["narrow", "wide"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_what_to_do_now_is_one_sheet(open_page, tool, tmp_path, paper):
    """The page for an accident fits on one sheet for the wall, with its sources and its address."""
    pdf = tmp_path / "now.pdf"
    open_page("/something-happened/").pdf(path=pdf, format=paper)
    words = subprocess.run(
        [tool("pdftotext"), "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    assert words.count("\f") == 1
    assert "Get away" in words
    assert "Emergency Response Guidebook" in words
    assert "Number here:" in words
    assert "/something-happened/" in words


@pytest.mark.parametrize(("fonts", "paper"), [("narrow", "A4"), ("wide", "A4"), ("wide", "Letter")])
def test_a_bench_card_is_one_sheet(open_page, tool, tmp_path, paper):
    """A card with every part, and with a doubt, fits on one sheet in 8 point or more."""
    pdf = tmp_path / "card.pdf"
    asked = "cell_rating_a=60&cell_capacity_ah=3&cell_size=18650"
    open_page(f"/ask/bench-card?{asked}").pdf(path=pdf, format=paper)
    smallest, words = smallest_letters(tool, pdf)
    assert smallest >= 8, words
    (sheet,) = sheets(tool, pdf)
    for said in (
        "Do not believe a continuous rating of 60 A",
        "For 18650 cells of 3 Ah rated 60 A, as entered",
        "These figures hold for:",
        "Charge current",
        "Before you use a number",
        "from percell",
    ):
        assert joined(said) in sheet


ANSWER = "/ask/converter-load?layout=2S1P&cell_rating_a=20&output_power_w=120"


def test_each_printed_sheet_of_an_answer_can_be_read_alone(open_page, tool, tmp_path):
    """Each sheet says what was entered, what made it, and the caution; nothing is below 8 point."""
    page = open_page(ANSWER)
    pdf = tmp_path / "answer.pdf"
    page.pdf(path=pdf, format="A4")
    smallest, words = smallest_letters(tool, pdf)
    assert smallest >= 8, words
    printed = sheets(tool, pdf)
    assert len(printed) <= 3
    for sheet in printed:
        for needed in (
            "For 2S1P with cells rated 20 A",
            "as entered",
            "from percell",
            "Never exceed",
        ):
            assert joined(needed) in sheet
        # no sheet has the foot alone
        assert len(sheet) > 500


@pytest.mark.parametrize("path", ["/", "/glossary/"])
def test_each_sheet_of_prose_has_its_address_and_the_caution(open_page, tool, tmp_path, path):
    """Prose is in 8 point or more too, and the foot of each sheet says where it is from."""
    pdf = tmp_path / "prose.pdf"
    open_page(path).pdf(path=pdf, format="A4")
    smallest, words = smallest_letters(tool, pdf)
    assert smallest >= 8, words
    for sheet in sheets(tool, pdf):
        assert joined(f"{path}, percell") in sheet
        assert joined("Never exceed the manufacturer's continuous discharge rating") in sheet
