"""What readers do, done in Firefox: no page raises a fault there or is wider than the screen."""

import json
import re
import subprocess
from pathlib import Path

import pytest
from tests.site.paper import joined, sheets

SCRIPT = Path(__file__).with_name("firefox.mjs")
TABLE = "/tables/lowest-resistance/"
SCRIPT_READY = """new Promise(done => {
    if (navigator.serviceWorker.controller) done();
    navigator.serviceWorker.addEventListener("controllerchange", () => done());
})"""
# each path begins on a phone
PATHS = {
    "from home to one figure": [
        ["go", "/"],
        ["follow", "article a[href='tables/']"],
        ["follow", "article a[href='lowest-resistance/']"],
        ["atEveryWidth"],
        ["press", ".pc-asks a[data-choice='2S2P']"],
        ["follow", "[id='25-a'] .pc-anchor"],
        ["atEveryWidth"],
        ["follow", "[id='2s2p'] a"],
        ["see", "h1"],
        ["atEveryWidth"],
    ],
    "from a link to a row": [
        ["go", f"{TABLE}#25-a"],
        ["press", ".pc-asks a[data-choice='2S2P']"],
        ["inView", "[id='25-a']:target"],
        ["atEveryWidth"],
    ],
    "picking one's own columns": [
        ["go", "/tables/current-by-power/"],
        ["press", ".pc-asks a[data-choice='1S2P']"],
        ["fill", ".pc-picker select[name='cell_rating_a']", "10"],
        ["see", "::-p-text(cells rated 10 A)"],
        ["atEveryWidth"],
    ],
    "from home to an answer": [
        ["go", "/"],
        ["press", ".pc-own summary"],
        ["fill", ".pc-own select[name='layout']", "1S2P"],
        ["fill", ".pc-own input[name='cell_rating_a']", "20"],
        ["follow", ".pc-own button[type='submit']"],
        ["see", ".pc-answer .pc-verdict"],
    ],
    "by search to a table": [
        ["go", "/"],
        ["press", "[data-pc-search]"],
        ["type", "#pc-search-question", "lowest coil"],
        ["atEveryWidth"],
        ["follow", "#pc-search li a[href*='tables/lowest-resistance']"],
        ["see", "h1"],
    ],
    # its script stands between the reader and the network from then on
    "on to a new page when the first visit is over": [
        ["go", "/"],
        ["run", SCRIPT_READY],
        ["go", "/learn/heat/"],
        ["see", "#what-warms-a-cell"],
    ],
    "by the contents to the cautions": [
        ["go", TABLE],
        ["press", "[data-pc-box='__drawer']"],
        ["follow", ".pc-contents a[href$='cautions/']"],
        ["see", "h1"],
    ],
    "asking with numbers of one's own": [
        ["go", "/ask/"],
        ["follow", "a[href='/ask/direct-load']"],
        ["press", "input[value='1S2P']"],
        ["fill", "#f-cell_rating_a", "20"],
        ["fill", "#f-coil_reading_ohm", "0.2"],
        ["follow", "#form button[type='submit']"],
        ["see", ".pc-answer .pc-verdict"],
        ["atEveryWidth"],
    ],
    "asking with a number that is none": [
        ["go", "/ask/direct-load"],
        ["press", "input[value='1S2P']"],
        ["fill", "#f-cell_rating_a", "many"],
        ["fill", "#f-coil_reading_ohm", "0.2"],
        ["follow", "#form button[type='submit']"],
        ["see", "#f-cell_rating_a[aria-invalid='true']"],
        ["atEveryWidth"],
    ],
    "asking on the page to try the API": [
        ["go", "/docs/api/#direct-load"],
        ["press", "#direct-load .pc-example"],
        ["press", "#direct-load form button[type='submit']"],
        ["see", "#direct-load .pc-headline"],
        ["atEveryWidth"],
    ],
}


@pytest.fixture(scope="module")
def walk(tool, npm_file, address, reader_environment):
    """A function that goes reading paths in Firefox and returns the faults of each."""

    def walked(paths):
        puppeteer = npm_file("puppeteer-core", "lib", "esm", "puppeteer", "puppeteer-core.js")
        done = subprocess.run(
            [tool("node"), SCRIPT, tool("firefox-esr"), puppeteer, address],
            input=json.dumps(paths),
            env=reader_environment("wide"),
            capture_output=True,
            text=True,
            timeout=300,
        )
        assert done.returncode == 0, done.stderr
        ended = [json.loads(line) for line in done.stdout.splitlines()]
        assert [one["name"] for one in ended] == list(paths)
        return {one["name"]: one["faults"] for one in ended if one["faults"]}

    return walked


def test_a_fault_is_seen(walk):
    """What the next tests rely on sees an error, a part that is hidden, and a page that is too wide."""
    found = walk(
        {
            "error": [["go", "/"], ["run", "setTimeout(() => { throw new Error('odd') })"]],
            "hidden": [["go", "/"], ["inView", ".pc-colophon"]],
            "wide": [["go", "/"], ["run", "document.body.style.width = '500px'"], ["atEveryWidth"]],
        }
    )
    assert found.keys() == {"error", "hidden", "wide"}


def test_every_reading_path_can_be_gone_in_firefox(walk):
    """From home to a row, by search, by the contents, and to an answer, without a fault."""
    assert walk(PATHS) == {}


def test_a_wide_table_is_printed_whole_in_firefox(walk, site, tool, tmp_path):
    """Each sheet has what the figures hold for, the caution and the address, and the first has all columns."""
    pdf = tmp_path / "table.pdf"
    assert walk({"on paper": [["go", "/tables/current-by-power/"], ["print", str(pdf)]]}) == {}
    printed = sheets(tool, pdf)
    table = json.loads((site / "tables" / "current-by-power.json").read_text("utf-8"))
    origin = f"/tables/current-by-power/, percell {table['version']}"
    for said in (table["conditions"], table["caution"], origin):
        assert all(joined(said) in sheet for sheet in printed)
    figures = [cell["values"][0] for cell in table["rows"][-1]["cells"]]
    row = "300W" + "".join(f"{figure:.1f}" for figure in figures)
    assert row in re.sub("[✕◐]", "", printed[0])


def test_every_page_fits_the_screen_in_firefox(walk, page_addresses):
    """No page but those of rows, which are all alike, raises a fault or scrolls sideways."""
    assert walk({path: [["go", path], ["atEveryWidth"]] for path in page_addresses}) == {}
