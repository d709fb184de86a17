"""Choosing columns and a rating above a table: one layout at a time on a phone, and no mark too mild."""

import itertools
import json
import re
import subprocess
from html import unescape
from pathlib import Path

import pytest
from litestar.testing import TestClient

from percell.questions.answering.tables import every_table
from percell.web.app import create_app
from percell_site import picker
from percell_site.figures import on_page
from percell_site.pages import grid_html, picker_html

every = pytest.mark.parametrize("name", every_table())
PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True}
WIRINGS = {"1S1P": "One cell", "2S1P": "Two in series"}
POWER, COIL = "/tables/current-by-power/", "/tables/lowest-resistance/"


@pytest.fixture(scope="module")
def table():
    """Return a table as a page shows it."""
    with TestClient(create_app()) as client:
        yield lambda name: on_page(json.loads(client.get(f"/v1/tables/{name}").content))


@every
def test_each_column_can_be_chosen(table, name):
    """What can be chosen for each field is what the columns have, and each choice has a column."""
    whole = table(name)
    html = picker_html(whole, WIRINGS)
    if len(whole["columns"]) == 1:
        assert html == ""
        return
    columns = json.loads(unescape(re.search(r'data-columns="(.*?)"', html)[1]))
    assert len(columns) == len(whole["columns"])
    for choice in picker.choices(whole, WIRINGS):
        among = [{*option["among"].split(" ")} for option in choice["options"]]
        values = {column[choice["level"]] for column in columns}
        assert values == set.union(*among)
        assert all(one <= values for one in among)
        assert f'<select name="{choice["field"]}"' in html


@every
def test_without_script_a_link_leads_to_each_group_of_columns(table, name):
    """Each link of the list names the head of a group, and each figure says which group it is in."""
    whole = table(name)
    linked = re.findall(
        r'<a href="#(only-[^"]+)" data-choice="[^"]+">(?:<svg.*?</svg> )?<span>(.*?)</span></a>',
        picker_html(whole, WIRINGS),
    )
    grid = grid_html(whole, name=name, title="", caveat="", linked=True)
    heads = re.findall(r'<th [^>]*?id="(only-[^"]+)" data-g="(\d+)"[^>]*><span>(.*?)</span>', grid)
    if linked:
        said = [(one, label.replace("\N{NO-BREAK SPACE}", " ")) for one, _, label in heads]
        # a layout is said in words too
        assert said == [(one, label.split(" (")[0]) for one, label in linked]
        assert [int(group) for _, group, _ in heads] == list(range(1, len(heads) + 1))
    for row in re.findall(r"<tr id=.*?</tr>", grid):
        groups = [int(group) for group in re.findall(r'<td data-g="(\d+)"', row)]
        wanted = [group for group in picker.groups(whole) for _ in whole["prints"]]
        assert groups == wanted


def test_the_style_sheet_knows_as_many_groups_as_any_table_has(table):
    """A link without script hides all groups but one, in the table with the most of them too."""
    css = Path("site/docs/assets/tables.css").read_text("utf-8")
    known = {int(group) for group in re.findall(r'\[data-g="(\d+)"\]:target', css)}
    most = max(max(picker.groups(table(name))) for name in every_table())
    assert known >= set(range(1, most + 1))


@pytest.mark.parametrize("name", ["current-by-power", "coil-current-and-power", "needed-rating"])
def test_the_limits_of_marks_are_the_api_s(table, name):
    """For each rating that a reader can choose, the page has the API's own numbers and words."""
    whole = table(name)
    html = picker_html(whole, WIRINGS)
    found = json.loads(unescape(re.search(r'data-ratings="(.*?)"', html)[1]))
    told = whole["marks_by_rating"]["ratings"]
    assert [one["rating"] for one in found] == [f"{one['cell_rating_a']:g}" for one in told]
    for one, api in zip(found, told, strict=True):
        assert (one["within"], one["little"]) == (
            api["within_limit_up_to"],
            api["little_headroom_up_to"],
        )
        assert one["conditions"] == api["conditions"]
        assert all(words in one["legend"] for words in api["says"].values())
        assert {v: words for v, (_, _, words) in one["marks"].items()} == {
            v: words for v, words in api["says"].items() if v != "within_limit"
        }


def figures(page):
    """Return the texts of the first row, and those of the head."""
    return page.evaluate(
        """() => ['.pc-grid tbody tr:first-child td', '.pc-grid thead th'].map(
            what => [...document.querySelectorAll(what)].map(e => e.textContent.trim()))"""
    )


def test_a_phone_shows_one_layout_whose_name_stays_in_sight(open_page):
    """Nothing is to be scrolled sideways, and the head is below the header however far down a reader is."""
    page = open_page(POWER + "?layout=1S1P", **PHONE)
    row, head = figures(page)
    assert len(row) == 3
    assert [text for text in head if re.fullmatch(r"\dS\dP", text)] == ["1S1P"]
    region = page.locator(".pc-table")
    assert region.evaluate("e => e.scrollWidth <= e.clientWidth")
    page.locator("tr[id='150-w']").evaluate("e => e.scrollIntoView({ block: 'center' })")
    page.wait_for_timeout(100)
    name = page.locator("thead").get_by_text("1S1P", exact=True).bounding_box()
    header = page.locator(".md-header").bounding_box()
    assert header["y"] + header["height"] - 1 <= name["y"] <= 120
    assert not page.faults


@pytest.mark.parametrize("path", [COIL, POWER, "/tables/cell-sag/", "/tables/drift-by-cycles/"])
def test_a_phone_asks_for_the_pack_before_it_shows_a_figure(open_page, path):
    """No figure of one pack is taken for that of another: what is chosen, the address keeps, and Back asks again."""
    page = open_page(path, **PHONE)
    table, asked = page.locator(".pc-table"), page.locator(".pc-asks")
    for away in (table, page.locator(".pc-reading"), page.locator(".pc-picker")):
        assert not away.is_visible()
    links = asked.get_by_role("link")
    assert min(link.bounding_box()["height"] for link in links.all()) >= 44
    link = links.nth(1)
    said = link.inner_text()
    link.click()
    assert page.locator(".pc-picked").inner_text() == f"Shown: {said}."
    assert table.is_visible()
    assert not asked.is_visible()
    assert table.evaluate("e => e === document.activeElement")
    page.wait_for_timeout(100)
    assert table.evaluate("e => e.scrollLeft") == 0
    kept = page.url
    assert "?" in kept
    page.reload()
    assert (page.url, table.is_visible()) == (kept, True)
    page.go_back()
    assert asked.is_visible()
    assert not table.is_visible()
    asked.get_by_role("link", name="show all side by side").click()
    assert table.evaluate("e => e.scrollWidth > e.clientWidth")
    assert not page.faults


def test_a_link_to_a_row_waits_for_the_wiring_on_a_phone(open_page):
    """The reader is told which row comes, and sees it, marked, as soon as the wiring is chosen."""
    page = open_page(COIL + "#23-a", **PHONE)
    note = page.locator(".pc-note")
    note.get_by_text("Choose below to see the row 22 A.").wait_for()
    assert "Toward caution, use the row 22 A." in note.inner_text()
    assert note.get_by_role("link").get_attribute("href").endswith(f"{COIL}22-a/")
    assert not page.locator(".pc-table").is_visible()
    page.get_by_role("link", name="2S1P (two in series)").click()
    assert page.url.endswith("?layout=2S1P#22-a")
    row = page.locator("tr[id='22-a']")
    box = row.bounding_box()
    assert 60 < box["y"] < PHONE["viewport"]["height"] - box["height"]
    assert row.locator("td").count() == 1
    assert "Toward caution, use the row 22 A." in page.locator(".pc-bar").inner_text()
    assert "Choose" not in note.inner_text()
    page.goto(page.url.replace(COIL, POWER).replace("#22-a", "#80-w"))
    assert page.locator(".pc-bar").get_by_role("link").count() == 3
    assert page.locator(".pc-table").evaluate("e => e.scrollWidth <= e.clientWidth")
    assert not page.faults


def test_a_table_is_printed_whole_if_nothing_was_chosen(open_page, tool, tmp_path):
    """A sheet from a phone, or of a table that opens on a part, has all columns, and no choice is printed."""
    page = open_page(COIL, **PHONE)
    page.pdf(path=tmp_path / "coil.pdf", format="A4")
    page.set_viewport_size({"width": 1280, "height": 800})
    page.goto(page.url.replace(COIL, POWER))
    assert len(figures(page)[0]) == 8
    page.pdf(path=tmp_path / "power.pdf", format="A4")
    for name, count in (("coil", 11), ("power", 24)):
        words = subprocess.run(
            [tool("pdftotext"), "-layout", str(tmp_path / f"{name}.pdf"), "-"],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        (line,) = re.findall(r"^ *(?:25 A|25 W) +(\d.*)$", words, re.MULTILINE)
        assert len(re.findall(r"\d+\.\d+", line)) == count
        assert "Shown:" not in words
        assert "How are your cells wired" not in words


def test_a_linked_row_says_for_what_a_phone_shows_it(open_page):
    """Who opens a link to a row sees beside the figure whose it is, in words, and the way to the others."""
    heat = "/tables/temperature-by-draw/"
    page = open_page(heat + "#10-a", **PHONE)
    bar = page.locator(".pc-bar")
    bar.get_by_text("Here only for draws of 8 s.").wait_for()
    href = bar.get_by_role("link", name="All figures of 10 A").get_attribute("href")
    assert href.endswith(f"{heat}10-a/")
    page.locator(".pc-picker select[name=draw_length_s]").select_option(label="draws of 5 s")
    assert "Here only" not in bar.inner_text()
    assert not page.faults


def test_the_example_is_of_a_column_in_view(open_page):
    """No figure of another layout stands above the chosen one; the verdict of another rating goes too."""
    page = open_page(COIL + "?layout=2S1P", **PHONE)
    example = page.locator(".pc-reading")
    # 10 A, two cells, a usual meter: the table's own figure
    figure = page.locator("tr[id='10-a'] td").inner_text()
    said = " ".join(example.inner_text().split())
    assert said.endswith(f"in the layout 2S1P: the meter must show {figure} Ω or more.")
    page.goto(page.url.replace(COIL, POWER) + "&cell_rating_a=10")
    assert not example.is_visible()
    assert not page.faults


@every
def test_what_a_phone_shows_first_is_the_worst(table, name):
    """Until a reader chooses, a phone shows the group of columns with the most cautious figures, or none."""
    whole = table(name)
    html = picker_html(whole, WIRINGS)
    if "pc-asks" in html or "data-outer" not in html:
        return
    (_, group) = next(itertools.groupby(picker.groups(whole)))
    size = len([*group])
    for row, (at, shown) in itertools.product(whole["rows"], enumerate(whole["prints"])):
        if not shown["words"]:
            worst = {"up": max, "down": min}[shown["round"]]
            values = [cell["values"][at] for cell in row["cells"]]
            for column in range(size):
                assert values[column] == worst(values[column::size])


@every
def test_what_a_desk_opens_on_is_the_worst(table, name):
    """Where not all columns fit, those are shown whose figures are the most cautious, and none without its mark."""
    whole = table(name)
    choices = [*picker.choices(whole, WIRINGS), *picker.figures(whole)]
    opens = {choice["field"]: choice["opens"] for choice in choices if choice["opens"]}
    shown = len(whole["columns"]) * len(whole["prints"])
    if not opens:
        assert shown <= 16
        return
    ((field, value),) = opens.items()
    for row in whole["rows"]:
        for column, cell in zip(whole["columns"], row["cells"], strict=True):
            if field == "figure":
                fields = [one["field"] for one in whole["prints"]]
                at = fields.index(value)
                marked = [bool(one["mark"]) for one in whole["prints"]]
                assert marked[at] or (not any(marked) and cell["values"][at] == max(cell["values"]))
            else:
                outer = column["values"][0]
                worst = max if whole["prints"][0]["round"] == "up" else min
                alike = {
                    c["values"][1]: other["values"][0]
                    for c, other in zip(whole["columns"], row["cells"], strict=True)
                    if c["values"][0] == outer
                }
                assert alike[float(value)] == worst(alike.values())


def test_what_is_chosen_survives_a_reload_and_is_printed(open_page, tool, tmp_path):
    """Columns, marks and conditions are those of the choice, on the page that the address leads to and on paper."""
    page = open_page(POWER)
    page.locator(".pc-picker select[name=layout]").select_option("1S2P")
    page.locator(".pc-picker select[name=cell_cutoff_voltage_v]").select_option("2.8")
    page.locator(".pc-picker select[name=cell_rating_a]").select_option("10")
    assert page.url.endswith("?layout=1S2P&cell_cutoff_voltage_v=2.8&cell_rating_a=10")
    page.reload()
    row, head = figures(page)
    assert len(row) == 1
    assert "1S2P" in head
    marks = dict(
        page.evaluate(
            """() => [...document.querySelectorAll('.pc-grid tbody tr[id]')].map(row => [
                row.id, row.querySelector('.pc-mark')?.ariaLabel ?? ''])"""
        )
    )
    # P / 0.85 / 2.8 V with the careful share of two cells: 40 W 10.0 A, 50 W 12.5 A
    assert marks["30-w"] == ""
    assert marks["40-w"] == "within 10 A, with less than a tenth left"
    assert marks["50-w"] == "over the rating of 10 A"
    assert "cells rated 10 A" in page.locator(".pc-conditions").inner_text()
    assert "rating of 20 A" not in page.locator(".pc-legend").first.inner_text()
    pdf = tmp_path / "chosen.pdf"
    page.pdf(path=pdf, format="A4")
    words = subprocess.run(
        [tool("pdftotext"), "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    assert (
        "Shown: 1S2P (two in parallel), cut-off 2.8 V, or unknown, marks for cells rated 10 A."
        in words
    )
    assert re.search(r"80 W +19\.9", words)
    assert "cells rated 20 A" not in words
    query = "?layout=1S2P&cell_cutoff_voltage_v=2.8&cell_rating_a=10"
    assert f"{POWER}{query}" in "".join(words.split())
    # what the page was built to copy is for another rating, and so are the pages of the row
    page.locator("tr[id='80-w'] td").click()
    bar = page.locator(".pc-bar")
    assert bar.get_by_role("button").all_inner_texts() == ["Copy link"]
    assert not bar.get_by_role("link").all()
    bar.get_by_role("button").click()
    status = page.get_by_role("status").filter(has_text="Cop").inner_text()
    assert status.endswith(f"{POWER}{query}#80-w")
    page.locator(".pc-picker select[name=cell_rating_a]").select_option("")
    assert len(bar.get_by_role("button").all()) == 2
    link = bar.get_by_role(
        "link", name="Page of 80 W, 1S2P (two in parallel), cut-off 2.8 V, or unknown"
    )
    assert link.get_attribute("href").endswith(f"{POWER}80-w/1s2p-2-8-v/")
    assert "cells rated 20 A" in page.locator(".pc-conditions").inner_text()
    assert not page.faults


def test_no_rating_takes_the_mark_from_a_power_that_no_cell_gives(open_page):
    """100 W from one cell are near the most that full cells give: within 40 A, and marked for what they are."""
    page = open_page(POWER + "?cell_rating_a=40&layout=1S1P&cell_cutoff_voltage_v=3.2")
    kept = page.locator("tr[id='100-w'] .pc-mark").get_attribute("aria-label")
    assert kept == "full cells of 3 Ah and 0.04 Ω cannot surely supply this: do not use"
    legend = page.locator(".pc-legend").first.inner_text()
    assert kept in legend
    assert "over the rating of 40 A" in legend
    assert "rating of 20 A" not in legend
    # the sentence above the table has 0.03 Ω for such cells
    assert "only the marks for the rating: the others stay as they are for 20 A cells" in legend
    assert page.locator("tr[id='80-w'] .pc-mark").count() == 1
    assert page.locator("tr[id='70-w'] .pc-mark").count() == 0
    page.goto(page.url.replace(POWER, "/tables/coil-current-and-power/"))
    legend = page.locator(".pc-legend").first.inner_text()
    assert "over the rating of 40 A" in legend
    assert "no more Ω than the cells: do not use" in legend
    assert not page.faults


def test_a_rating_that_is_not_in_the_data_is_not_judged(open_page):
    """For any other rating in the address no figure looks as if it were within it, and the page says so."""
    page = open_page(POWER + "?cell_rating_a=17&layout=5S1P")
    unmarked = page.locator(".pc-grid tbody td").evaluate_all(
        "cells => cells.filter(e => !['?', '✕'].includes(e.querySelector('.pc-mark')?.textContent)).length"
    )
    assert unmarked == 0
    # those of another limit keep their own words
    over = page.locator(".pc-grid .pc-over .pc-mark").evaluate_all(
        "all => all.map(e => e.ariaLabel)"
    )
    assert {*over} == {"full cells of 3 Ah and 0.04 Ω cannot surely supply this: do not use"}
    said = page.locator(".pc-picked").inner_text()
    assert "no marks for cells rated 17 A, so nothing is judged" in said
    assert "nothing for layout 5S1P" in said
    assert "cells rated 20 A" not in page.locator(".pc-conditions").inner_text()
    # where marks of another limit stay, the legend names them as well, and no mark that is not there
    page.goto(page.url.replace(POWER, "/tables/needed-rating/"))
    marks = page.locator(".pc-grid .pc-mark").evaluate_all("all => all.map(e => e.ariaLabel)")
    legend = page.locator(".pc-legend").first.inner_text()
    assert len({*marks}) == 2
    assert all(words in legend for words in marks)
    assert "No mark" not in legend


@pytest.mark.parametrize(
    ("fragment", "row", "said"),
    [
        ("%E0%A4%A", None, ""),
        ("25-A", "25-a", ""),
        # less current is the careful side of a rating
        ("23-a", "22-a", "no row for 23 A. Toward caution, use the row 22 A."),
        ("99-a", "40-a", "no row for 99 A. Toward caution, use the row 40 A."),
        ("1-a", None, "no row for 1 A. It goes from 5 A to 40 A."),
        ("nonsense", None, ""),
    ],
)
def test_a_wrong_fragment_leads_to_the_careful_row_or_nowhere(open_page, fragment, row, said):
    """A link that was cut off or mistyped raises no fault, and another row than asked for is said."""
    page = open_page(f"{COIL}#{fragment}")
    note = page.locator(".pc-note")
    if said:
        note.filter(has_text=said).wait_for()
        if row:
            assert said in page.locator(".pc-bar").inner_text()
    else:
        assert note.inner_text() == ""
    found = page.locator(".pc-grid tr:target")
    assert ([e.get_attribute("id") for e in found.all()] or [None]) == [row]
    assert not page.faults


def test_a_row_header_is_read_as_its_value(open_page):
    """No button's name is in it; each row is one stop of the Tab key, and the linked row has two more."""
    page = open_page(COIL)
    rows = page.locator(".pc-grid tbody tr").count()
    assert page.locator(".pc-grid :is(a, button)").count() == rows
    page.locator("tr[id='25-a'] td").first.click()
    page.get_by_role("button", name="Copy link to the row 25 A").wait_for()
    assert page.url.endswith("#25-a")
    assert page.get_by_role("rowheader", name="25 A", exact=True).count() == 1
    assert page.locator(".pc-grid :is(a, button)").count() == rows + 2


def test_a_wheel_over_a_wide_table_moves_the_page(open_page):
    """The table grows in height and scrolls sideways only, and its head stays below the header meanwhile."""
    page = open_page(POWER + "?layout=all", viewport={"width": 1280, "height": 700})
    region = page.locator(".pc-table")
    region.scroll_into_view_if_needed()
    assert region.evaluate("e => e.scrollHeight - e.clientHeight") <= 1
    assert region.evaluate("e => e.scrollWidth > e.clientWidth")
    box = region.bounding_box()
    page.mouse.move(box["x"] + 300, min(box["y"] + 150, 600))
    before = page.evaluate("scrollY")
    page.mouse.wheel(0, 500)
    page.wait_for_timeout(500)
    assert page.evaluate("scrollY") >= before + 450
    header, head = (page.locator(one).bounding_box() for one in (".md-header", ".pc-grid thead"))
    assert abs(head["y"] - header["y"] - header["height"]) < 2


@pytest.mark.parametrize("fonts", ["narrow"])
def test_every_table_fits_a_desk(open_page):
    """At 1280 px nothing scrolls sideways; where not all columns fit, the page says which are shown."""
    page = open_page(COIL, viewport={"width": 1280, "height": 800})
    assert len(figures(page)[0]) == 11
    base, wide = page.url.removesuffix(COIL), []
    for name in every_table():
        page.goto(f"{base}/tables/{name}/")
        if page.locator(".pc-table").evaluate("e => e.scrollWidth > e.clientWidth"):
            wide.append(name)
    assert wide == []
    page.goto(base + POWER)
    picked = page.locator(".pc-picked")
    assert (
        picked.inner_text()
        == "Shown: cut-off 2.8 V, or unknown, the most cautious of 3. Choose “all” above to see the rest."
    )
    page.locator(".pc-picker select[name=cell_cutoff_voltage_v]").select_option(label="all")
    assert page.url.endswith("?cell_cutoff_voltage_v=all")
    page.reload()
    assert len(figures(page)[0]) == 24
    assert picked.inner_text() == ""
    page.goto(f"{base}/tables/coil-current-and-power/")
    assert len(figures(page)[0]) == 11
    assert "one of 2 figures (Worst-case cell, A)" in picked.inner_text()
    # one layout has room for both
    page.locator(".pc-picker select[name=layout]").select_option("2S1P")
    assert len(figures(page)[0]) == 2
    assert not page.faults


def test_without_script_a_link_shows_one_layout(open_page):
    """A reader without script chooses from a list of links, and sees no picker that would do nothing."""
    page = open_page(COIL + "#only-2s2p", java_script_enabled=False, **PHONE)
    shown = [th for th in page.locator(".pc-grid thead th").all() if th.is_visible()]
    assert [th.inner_text() for th in shown] == ["Cell rating", "2S2P"]
    assert not page.locator(".pc-picker").is_visible()
    row = page.locator(".pc-grid tbody tr").first
    page.get_by_role("link", name="show all side by side").click()
    assert row.locator("td:visible").count() == 11
    # with nothing chosen there is no figure, and a link to a row shows all of them
    page.goto(page.url.partition("#")[0])
    assert not row.is_visible()
    page.goto(page.url + "#25-a")
    assert row.locator("td:visible").count() == 11
