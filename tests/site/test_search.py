"""The search as a reader has it: in a browser, with the index and the script of the built site."""

import html
import json
import re

import pytest

from percell_site.search import Page, index

WORDS = """<h1 id="glossary">Glossary</h1><table>
<tr><th>Said</th><th>Look up</th></tr>
<tr>
<td>sums, to  reckon (by hand)</td>
<td><a href="/ask/">type <em>your</em> own</a></td>
</tr></table>"""
# what people type, and a page that must be among the first three results
QUERIES = {
    # a number with its unit, however it is written
    "25 A": "tables/lowest-resistance/",
    "25a": "tables/highest-power/",
    "25 amps": "tables/lowest-resistance/",
    "20 amp battery": "tables/highest-power/",
    "30A cells": "tables/lowest-resistance/",
    "80 W": "tables/current-by-power/",
    "200w": "tables/needed-rating/",
    "80 watt two batteries": "tables/current-by-power/",
    "0.15 ohm": "tables/coil-current-and-power/",
    "0.15 ohm two cells": "tables/coil-current-and-power/",
    "0,25 Ω": "tables/coil-current-and-power/",
    ".5 ohms": "tables/coil-current-and-power/",
    "0.25": "tables/coil-current-and-power/",
    "2600mah": "tables/cell-health/",
    "3 Ah charging time": "tables/charging-time/",
    "15 A heat": "tables/temperature-by-draw/",
    "0.3 V apart": "tables/joining-current/",
    "26 awg": "tables/ohms-per-metre/",
    # layouts and sizes
    "2S2P": "tables/lowest-resistance/",
    "1s2p coil": "tables/coil-current-and-power/",
    "two in parallel": "tables/pack-figures/",
    "dual parallel": "tables/charging-by-layout/",
    "30A 18650": "tables/label-rating-by-size/",
    "21700 35 amps": "tables/label-rating-by-size/",
    "20700": "tables/label-capacity-by-size/",
    # everyday words
    "runtime": "tables/running-time/",
    "how long does the battery last": "tables/running-time/",
    "overdischarge": "glossary/",
    "milliohm": "glossary/",
    "mech mod": "tables/lowest-resistance/",
    "fake battery": "tables/label-rating-by-size/",
    "is 35 A real": "tables/label-rating-by-size/",
    "how many amps does my device pull": "tables/coil-current-and-power/",
    "married batteries": "cautions/#same-cells",
    "ni80": "tables/ohms-per-metre/",
    "lipo": "glossary/#chemistry",
    "mAh": "tables/cell-health/",
    "puffs": "tables/temperature-by-draw/",
    "USB": "tables/charging-by-layout/",
    "LiFePO4": "tables/label-capacity-by-size/",
    "old with new": "sayings/",
    "myth": "sayings/",
    "overheating": "something-happened/",
    "battery is hot": "something-happened/",
    "swollen": "something-happened/",
    "dropped it in water": "something-happened/",
    "hot car": "something-happened/",
    "puffy battery": "something-happened/",
    "blew up": "something-happened/",
    "popped": "something-happened/",
    "explosion": "something-happened/",
    "ballooned": "something-happened/",
    "sparks": "something-happened/",
    "bent": "something-happened/",
    "child swallowed": "something-happened/",
    "fly aeroplane": "flying-and-posting/",
    "fly with batteries": "flying-and-posting/",
    "shipping": "flying-and-posting/",
    "recycle": "storing-and-disposal/",
    "cold": "storing-and-disposal/",
    "which battery": "which-cells/",
    "embed": "for-site-owners/",
    "iframe": "for-site-owners/",
    "print": "tables/",
    "wall sheet": "tables/",
    "bench card": "ask/bench-card",
    "calculator": "ask/",
    "ask your own numbers": "ask/",
    "deutsch": "glossary/#in-another-language",
    "ss316": "tables/ohms-per-metre/",
    "claim 35A": "tables/label-rating-by-size/",
    "can I believe this label": "ask/label-check",
    "which wiring": "ask/layouts",
    # the words of the pages
    "sag": "tables/cell-sag/",
    "joining cells": "tables/joining-current/",
    "balance": "learn/series-drift/",
    "cut-off": "tables/current-by-power/",
}


@pytest.fixture(scope="module")
def page(browser_with, address):
    """A phone on which a reader has opened the search."""
    page = browser_with("wide").new_page(viewport={"width": 360, "height": 740})
    page.asked = []
    page.on("request", lambda request: page.asked.append(request.url.removeprefix(address)))
    page.goto(address + "/learn/heat/", wait_until="load")
    page.before = [*page.asked]
    page.get_by_role("button", name="Search").click()
    page.get_by_text("Type a number").wait_for()
    return page


@pytest.fixture
def found(page):
    """A function that types a question and returns what is found: address, lines of text."""

    def search(question):
        page.get_by_role("textbox", name="Search").fill(question)
        return page.locator("#pc-search li a").evaluate_all(
            "links => links.map(a => [a.href, [...a.children].map(line => line.textContent)])"
        )

    return search


def test_what_people_type_is_among_the_first_three(found, address):
    """Numbers as people write them, layouts, everyday words: the page that answers is in sight."""
    assert len(QUERIES) >= 40
    missed = {}
    for question, wanted in QUERIES.items():
        first = [href.removeprefix(address + "/") for href, _ in found(question)[:3]]
        if not any(one.startswith(wanted) for one in first):
            missed[question] = first
    assert not missed


def test_an_accident_comes_before_all_tables(found, address):
    """Who types that a cell is hot gets what to do first, and figures about heat after it."""
    for question in (
        "hot",
        "battery is hot",
        "swollen cell",
        "smoke",
        "wet",
        "blew up",
        "child swallowed",
    ):
        assert found(question)[0][0] == f"{address}/something-happened/"


def test_the_name_of_a_cell_is_no_number(found):
    """Names of cells have digits that are no rating: nobody is led from "30z" to the row of 30 A."""
    for question in ("30z", "cell 25r"):
        assert not [href for href, _ in found(question) if re.search(r"/(30|25)-", href)]


def test_the_front_page_is_found_at_its_own_address(found, address):
    """A result on the first page of the site leads there, as those on other pages do."""
    assert f"{address}/" in [href for href, _ in found("hot car")]


def test_each_way_to_write_a_number_finds_the_same(found):
    """Units, signs and words that mean one thing lead to the same pages in the same order."""
    for same in (
        ["25 A", "25a", "25A", "25 amp", "25 Amps", "25 amperes", "25000 mA"],
        ["0.25 ohm", "0.25 Ω", "0,25 ohms", ".25ohm", "250 mΩ", "250 milliohms", "250mohm"],
        ["2600mah", "2600 mAh", "2.6 Ah"],
        ["200w", "200 W", "200 watts"],
        ["two cells", "2 cells", "dual", "2 batteries", "double"],
        ["1S2P", "1s2p", "2p", "two in parallel"],
    ):
        results = {question: [href for href, _ in found(question)][:3] for question in same}
        assert len({tuple(one) for one in results.values()}) == 1, results
        assert len(results[same[0]]) == 3


def test_a_number_leads_to_its_row_or_to_the_one_on_the_careful_side(found, address):
    """23 A is not printed: a rating goes down to 22 A, a current up to 25 A, and the result says so."""
    assert found("25 A")[0][0] == f"{address}/tables/lowest-resistance/25-a/"
    assert found("25 A")[0][1][1] == "Row 25 A"
    beside = {href.removeprefix(address): lines[1] for href, lines in found("23 A")[:3]}
    assert beside == {
        "/tables/lowest-resistance/22-a/": "Row 22 A: the nearest row on the careful side",
        "/tables/highest-power/22-a/": "Row 22 A: the nearest row on the careful side",
        "/tables/cell-sag/25-a/": "Row 25 A: the nearest row on the careful side",
    }
    # beyond the last row there is no careful one
    assert all(len(lines) == 2 for _, lines in found("90 A"))


def test_a_number_and_its_columns_lead_to_the_figure(found, page, address):
    """The page of one figure is linked if the question fixes each column; of two wirings none is chosen."""
    for question, path, row in (
        ("25A 2s2p coil", "lowest-resistance/25-a/2s2p/", "Row 25 A, 2S2P"),
        ("23 A 2S2P coil", "lowest-resistance/22-a/2s2p/", None),
        ("25 A two in parallel coil", "lowest-resistance/25-a/1s2p/", "Row 25 A, 1S2P"),
        ("25 A two cells coil", "lowest-resistance/25-a/", "Row 25 A"),
        ("80 W 2S1P rating", "needed-rating/80-w/", "Row 80 W"),
        ("80 W 2S1P 3.2 V rating", "needed-rating/80-w/2s1p-3-2-v/", None),
    ):
        results = dict(found(question)[:3])
        assert f"{address}/tables/{path}" in results, question
        assert row in (None, results[f"{address}/tables/{path}"][1])
        assert page.request.get(f"{address}/tables/{path}").ok


def test_a_result_has_no_piece_of_a_text(site):
    """Each line of a result was written to stand alone, so that no number is without its condition."""
    entries = json.loads((site / "search.json").read_text("utf-8"))["entries"]
    tables = {
        f"tables/{table['id']}/": table["sentence"]
        for table in map(json.loads, (f.read_text("utf-8") for f in site.glob("tables/*.json")))
    }
    titles = {url: title for title, url, *_ in entries}
    assert len(entries) > 300
    for _, url, context, _ in entries:
        path, _, anchor = url.partition("#")
        if url.startswith("/ask/"):  # no page of the site
            assert context == "A form for your own numbers."
            continue
        text = (site / path / "index.html").read_text("utf-8")
        if anchor:
            assert context == titles[path]
            assert f'id="{anchor}"' in text
        elif path in tables:
            assert context == tables[path]
        else:
            assert context == html.unescape(
                re.search('name="description" content="(.*?)"', text)[1]
            )


def test_a_saying_is_not_shown_as_a_fact(found):
    """Many sayings are false: a result that is one says that it may be."""
    title, context = found("parallel each cell carries half so any cells will do")[0][1]
    assert title == '"In parallel each cell carries half, so any cells will do."'
    assert context == "Common sayings, true or not"


def test_the_forms_are_where_the_service_is():
    """A copy of the site elsewhere finds the forms of the API that it was told of, also by an everyday word."""
    words = Page("glossary/", "Glossary", "", WORDS, 1)
    question = {
        "ask": "/ask/pack",
        "people_ask": "What can it give?",
        "label": "",
        "description": "",
    }
    without = question | {"people_ask": "Never"}
    del without["ask"]
    made = json.loads(index([words], [], [question, without], "glossary/", "https://api.example"))
    found = {url: title for title, url, *_ in made["entries"]}
    assert found == {
        "glossary/": "Glossary",
        "https://api.example/ask/pack": "What can it give?",
        "https://api.example/ask/": "Type your own",
    }
    at = [entry[1] for entry in made["entries"]].index("https://api.example/ask/")
    assert made["said"] == [
        ["sums", ["type your own"], [at]],
        ["to reckon", ["type your own"], [at]],
    ]


def test_the_search_is_loaded_when_it_is_opened(page):
    """A page that is only read asks for neither the script nor the index."""
    assert not [path for path in page.before if "search" in path]
    assert [path for path in page.asked if "search" in path] == [
        "/assets/search.js",
        "/search.json",
    ]


def test_the_search_works_by_keyboard_alone(page, found):
    """Arrows go through the results and back, Enter opens one, and Escape goes back to where it was opened."""
    field = page.get_by_role("textbox", name="Search")
    found("sag")
    field.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    second = page.locator("#pc-search li:nth-child(2) a")
    assert second.evaluate("e => e === document.activeElement")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    assert field.evaluate("e => e === document.activeElement")
    page.keyboard.press("Escape")
    assert page.get_by_role("dialog").count() == 0
    opener = page.get_by_role("button", name="Search")
    assert opener.evaluate("e => e === document.activeElement")
    opener.press("Enter")
    first = page.locator("#pc-search li a").first.get_attribute("href")
    field.press("Enter")
    page.wait_for_url(first)


def test_what_was_found_is_told_and_nothing_is_said_plainly(page, found):
    """A screen reader hears how many pages there are; a word that is nowhere says so and what to type."""
    page.get_by_role("button", name="Search").click()
    page.get_by_text("Type a number").wait_for()
    status = page.locator("#pc-search [role=status]")
    found("sag")
    assert status.inner_text() == "8 pages, the best first"
    assert found("zzyzx") == []
    assert status.inner_text().startswith("Nothing found for “zzyzx”. Type a number with its unit")
    assert found("<i>zzyzx</i>") == []
    assert "“<i>zzyzx</i>”" in status.inner_text()


def test_the_open_search_has_no_accessibility_fault(page, found, npm_file):
    """Axe finds nothing in the dialog with its results (WCAG 2.2 AA and best practices)."""
    found("25 A")
    # not as a script of the page, which its policy forbids
    page.evaluate(npm_file("axe-core", "axe.min.js").read_text("utf-8"))
    violations = page.evaluate("async () => (await axe.run('#pc-search')).violations")
    assert not [(v["id"], [n["html"] for n in v["nodes"]]) for v in violations]


def test_without_script_the_search_is_a_list_of_words(browser_with, address):
    """The control is a link to the everyday words and what to look up for each."""
    page = browser_with("wide").new_page(java_script_enabled=False)
    page.goto(address + "/tables/")
    page.get_by_role("link", name="Search").click()
    assert page.url == f"{address}/glossary/#everyday-words"
    page.get_by_role("cell", name="runtime").wait_for()
