"""Each row has a page, and each entry where the pack decides: one figure, what it holds for, a reply."""

import json
import re
from html import unescape
from itertools import pairwise
from urllib.parse import urljoin

import httpx
import pytest
from litestar.testing import TestClient

from percell.questions.answering.tables import every_table
from percell.web.app import create_app
from percell_site import replies
from percell_site.figures import figure, mark_words, on_page, verdict_on, with_unit
from percell_site.rows import Site, row_pages

# as long as any site's is likely to be
ADDRESS = "https://tables-and-answers.cell.lantern-street-bench.example"
assert len(ADDRESS) >= 60
# bytes of a page before compression
LARGEST = 15_000
every = pytest.mark.parametrize("name", every_table())


@pytest.fixture(scope="module")
def client():
    with TestClient(create_app()) as client:
        yield client


@pytest.fixture(scope="module")
def table(client):
    """Return a table as the API answers it."""
    return lambda name: json.loads(client.get(f"/v1/tables/{name}").content)


@pytest.fixture(scope="module")
def made(table):
    """Return the pages of a table by path, made once each."""
    kept = {}

    def pages(name):
        if name not in kept:
            kept[name] = row_pages(table(name), Site(ADDRESS, "2026-01-01", "<svg></svg>"))
        return kept[name]

    return pages


def paths(whole):
    """Yield each entry with the path of the page that has its figure, and the name of its place there."""
    for row in whole["rows"]:
        for j, column in enumerate(whole["columns"]):
            folder = f"tables/{whole['id']}/{row['anchor']}/"
            if whole["entry_pages"]:
                yield row, j, f"{folder}{column['anchor']}/", ""
            else:
                yield row, j, folder, column["anchor"] if len(whole["columns"]) > 1 else ""


def text_of(page):
    """Return what a reader of a page, or of a part of it, sees."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def previewed(page):
    found = re.findall(r'<meta property="(og:[\w:]+)" content="([^"]*)"', page)
    return {name: unescape(value) for name, value in found}


def figures_of(whole, row, j):
    """Return the figures of an entry as they are printed, each with its verdict and its words."""
    cell = row["cells"][j]
    for i, (value, shown) in enumerate(zip(cell["values"], whole["prints"], strict=True)):
        verdict = verdict_on(cell, i)
        said = mark_words(shown, verdict) if verdict else ""
        yield with_unit(figure(value, shown), shown), verdict, said


@every
def test_each_row_and_each_entry_of_a_pack_has_a_page(table, made, name):
    """A page for each row, and one for each entry if layout or sharing decides which figure is the reader's."""
    whole = table(name)
    axes = {axis["field"] for axis in [whole["rows_by"], *whole["columns_by"]]}
    many = len(whole["columns"]) > 1
    assert whole["entry_pages"] == bool(many and axes & {"layout", "parallel", "series"})
    rows = {f"tables/{name}/{row['anchor']}/index.html" for row in whole["rows"]}
    entries = {f"{path}index.html" for *_, path, _ in paths(whole)}
    assert made(name).keys() == rows | entries


@every
def test_a_page_has_the_figure_of_the_table_with_its_mark_in_words(table, made, name):
    """Each figure stands in the page of its entry, with unit and verdict, and no other entry's."""
    whole = on_page(table(name))
    for row, j, path, place in paths(whole):
        page = made(name)[f"{path}index.html"]
        if place:
            pattern = rf'<tr id="{re.escape(place)}">(.*?)</tr>'
        else:
            pattern = r'<section class="pc-answer[^"]*" aria-label="[^"]*">(.*?)</section>'
        part = re.search(pattern, page, re.DOTALL)[1]
        said = text_of(part)
        for figure_said, verdict, words in figures_of(whole, row, j):
            assert figure_said in said, path
            assert words in said, path
            if verdict in ("over_limit", "little_headroom"):
                look = {"over_limit": "pc-over", "little_headroom": "pc-little"}[verdict]
                assert look in page
        assert whole["conditions"] in text_of(page)
        assert whole["caveat"] in text_of(page)
        assert whole["caution"] in text_of(page)
        dated = f'Calculated by percell {whole["version"]} on <time datetime="2026-01-01">'
        assert dated in page


@pytest.mark.parametrize("name", [name for name, one in every_table().items() if one.entry_pages])
def test_the_figure_of_a_page_is_what_the_api_answers(client, table, made, name):
    """The question of an entry, asked alone, links to the entry's page, which prints its figure rounded."""
    whole = on_page(table(name))
    names = [axis["field"] for axis in whole["columns_by"]]
    entries = [*paths(whole)]
    for row, j, path, _ in [entries[0], *entries[:: max(1, len(entries) // 12)], entries[-1]]:
        columns = dict(zip(names, whole["columns"][j]["values"], strict=True))
        asked = whole["fixed"] | columns | {whole["rows_by"]["field"]: row["value"]}
        got = client.post(f"/v1/{whole['question']}", json=asked).json()
        link = got["links"].get("table_row", "")
        assert not link.startswith(f"/tables/{name}/") or link == f"/{path}"
        assert link or not whole["rows_by"]["careful"]
        for i, shown in enumerate(whole["prints"]):
            exact = got[shown["field"]]
            printed = row["cells"][j]["values"][i]
            if isinstance(exact, str):
                assert printed == exact
            else:
                assert printed == pytest.approx(
                    exact / shown["per"], abs=1.001 * 10.0 ** -shown["decimals"]
                )
            assert with_unit(figure(printed, shown), shown) in made(name)[f"{path}index.html"]


@every
def test_a_reply_is_short_and_begins_with_what_it_holds_for(table, made, name):
    """Under 300 characters: row and column before the first figure, then the caution, and a link to the figure."""
    whole = on_page(table(name))
    for row, j, path, place in paths(whole):
        page = made(name)[f"{path}index.html"]
        quote = re.search(rf'id="reply{f"-{place}" if place else ""}">(.*?)</p>', page)[1]
        reply = unescape(quote)
        link = f"{ADDRESS}/{path}{f'#{place}' if place else ''}"
        assert len(reply) < 300, reply
        assert reply.endswith(f" {whole['brief_caution']} {link}")
        told = {text: len(text) for text, *_ in figures_of(whole, row, j) if text in reply}
        condition = reply[: min(reply.index(f" {text}") for text in told)]
        labels = [
            row["label"],
            *(whole["columns"][j]["labels"] if place or len(whole["columns"]) > 1 else []),
        ]
        assert all(label in condition for label in labels), reply
        if "cell_rating_a" in whole["fixed"] and whole["question"] == "pack":
            assert reply.startswith(f"{row['label']} of cells rated 20 A")
        if any(axis["field"] == "cell_cutoff_voltage_v" for axis in whole["columns_by"]):
            assert "cut-off" in condition
        # a figure over a limit says so, or says what the reader's own rating must be
        for _, verdict, words in figures_of(whole, row, j):
            if verdict == "over_limit":
                brief = {one["briefly"].get(verdict, "") for one in marks(whole)}
                assert (
                    words in reply
                    or any(short and short in reply for short in brief)
                    or "must be rated higher" in reply
                )


@every
def test_a_reply_names_each_number_that_its_figure_depends_on(table, made, name):
    """Who asks again with what the reply says gets its figure: no number of the table alone is behind it."""
    whole = on_page(table(name))
    # a current is held to a rating, but does not depend on it
    behind = [
        value
        for field, value in whole["fixed"].items()
        if isinstance(value, float | int)
        and value
        and field not in {*whole["immaterial"], "cell_rating_a", "turns", "meter_resolution_ohm"}
    ]
    page = made(name)[next(paths(whole))[2] + "index.html"]
    reply = unescape(re.search(r'id="reply[^"]*">(.*?)</p>', page)[1])
    for value in behind:
        assert re.search(rf"(?<![\d.]){value:g} ", reply), reply


def marks(whole):
    return [shown["mark"] for shown in whole["prints"] if shown["mark"]]


@every
def test_a_preview_shows_no_figure_without_its_condition(table, made, name):
    """Title and description begin with row and column; a row's preview has no figure, an entry's three at most."""
    whole = on_page(table(name))
    heading = whole["rows_by"]["heading"]
    of_entry = {f"{path}index.html": (row, j) for row, j, path, place in paths(whole) if not place}
    for path, page in made(name).items():
        said = previewed(page)
        assert said["og:url"] == f"{ADDRESS}/{path.removesuffix('index.html')}"
        assert f'<link rel="canonical" href="{said["og:url"]}">' in page
        # the card of the table, which shows no figure
        assert said["og:image"] == f"{ADDRESS}/tables/{name}.png"
        title = said["og:title"]
        if path in of_entry:
            row, j = of_entry[path]
            texts = [text for text, *_ in figures_of(whole, row, j)]
            condition, _, told = title.rpartition(": ") if len(texts) > 3 else title.partition(": ")
            labels = whole["columns"][j]["labels"] if len(whole["columns"]) > 1 else []
            assert condition.startswith(f"{heading} {row['label']}")
            assert all(label in condition for label in labels)
            if len(texts) > 3:
                assert told == whole["title"]
            else:
                assert all(text in told for text in texts)
            reply = unescape(re.search(r'id="reply">(.*?)</p>', page)[1])
            assert said["og:description"] == reply.rpartition(" ")[0]
        else:
            row = next(r for r in whole["rows"] if f"/{r['anchor']}/index" in path)
            assert title == f"{heading} {row['label']}: {whole['title']}"
            assert said["og:description"].startswith(f"{heading} {row['label']}. ")
            assert said["og:description"].endswith(whole["conditions"])


@every
def test_a_page_is_light_and_does_without_script(made, name):
    """At most 15 kB, one heading of the first rank, and no script but the one that adds buttons."""
    for path, page in made(name).items():
        assert len(page.encode()) <= LARGEST, path
        assert page.count("<h1") == 1
        assert re.findall(r"<script[^>]*>(.*?)</script>", page) == [""]
        assert "onclick" not in page


@every
def test_neighbours_lead_to_pages(made, name):
    """Each link of a page leads to another page of a row, to its table, or to a page of the site."""
    known = made(name).keys()
    for path, page in made(name).items():
        folder = path.removesuffix("index.html")
        links = re.search(r'<nav aria-label="Neighbours">(.*?)</nav>', page, re.DOTALL)[1]
        inner = re.findall(r'<tr id="[^"]+"><th scope="row"><a href="([^"]+)"', page)
        crumbs = re.search(r'aria-label="Breadcrumb">(.*?)</nav>', page)[1]
        found = re.findall(r'href="([^"]+)"', links)
        assert found
        for href in [*found, *inner]:
            there = resolved(folder, href)
            assert f"{there}index.html" in known or there.startswith(f"tables/{name}/#"), href
        assert [resolved(folder, href) for href in re.findall(r'href="([^"]+)"', crumbs)][:2] == [
            "tables/",
            f"tables/{name}/",
        ]


def resolved(folder, href):
    parts = folder.split("/")[:-1]
    while href.startswith("../"):
        href = href.removeprefix("../")
        parts.pop()
    return "/".join([*parts, href])


@every
def test_a_row_lists_its_entries_and_its_neighbours(table, made, name):
    """A page of a row links to each of its entries in order, and to the row above and the row below."""
    whole = table(name)
    names = [row["anchor"] for row in whole["rows"]]
    for above, below in pairwise(names):
        assert f'href="../{below}/">Row below: ' in made(name)[f"tables/{name}/{above}/index.html"]
        assert f'href="../{above}/">Row above: ' in made(name)[f"tables/{name}/{below}/index.html"]
    if len(whole["columns"]) > 1:
        for row in names:
            page = made(name)[f"tables/{name}/{row}/index.html"]
            listed = re.findall(r'<tr id="([^"]+)">', page)
            assert listed == [column["anchor"] for column in whole["columns"]]


@every
def test_layouts_are_told_in_words_where_they_are(table, made, name):
    """Who comes from a link and knows no layout reads what one is; other pages have no such line."""
    whole = table(name)
    fields = [axis["field"] for axis in [whole["rows_by"], *whole["columns_by"]]]
    for page in made(name).values():
        assert ("2S1P: two cells in series." in page) == ("layout" in fields)


def test_the_words_of_an_api_are_text_in_a_page(table):
    """Another server's words never become elements of a page."""
    whole = table("lowest-resistance")
    evil = '"><script>alert(1)</script>'
    for part in ("title", "sentence", "caveat", "conditions", "caution", "brief_caution"):
        whole[part] = evil
    whole["rows"][0]["label"] = whole["columns"][0]["labels"][0] = evil
    for page in row_pages(whole, Site(ADDRESS, "2026-01-01", "")).values():
        assert "<script>alert" not in page


def test_a_reply_says_that_there_is_no_figure(table):
    """An entry without a figure says so in words."""
    whole = on_page(table("cell-sag"))
    whole["rows"][0]["cells"][0]["values"] = [None]
    text = replies.brief(whole, whole["rows"][0], 0, "https://cells.example/")
    assert "the voltage falls by no figure." in text


def test_a_built_site_lists_its_rows_and_leads_to_them(site):
    """The pages of rows are on the map of the site, and the name of a row in its table leads to its page."""
    pages = [p.relative_to(site).parent.as_posix() for p in site.glob("tables/*/*/**/index.html")]
    assert len(pages) > 2_000
    listed = (site / "sitemap.xml").read_text("utf-8")
    assert all(f"/{page}/</loc>" in listed for page in pages)
    text = (site / "tables/lowest-resistance/index.html").read_text("utf-8")
    row = re.search(r'<tr id="25-a".*?</tr>', text, re.DOTALL)[0]
    assert 'class="pc-anchor" href="25-a/"' in row
    assert (site / "tables/lowest-resistance/25-a/2s2p/index.html").is_file()


@every
def test_the_numbers_of_a_figure_can_be_changed(client, table, made, name):
    """The page of a figure leads to its question as the table asked it, with a form."""
    whole = table(name)
    pages = [
        page
        for _, _, path, place in paths(whole)
        if not place
        for page in [made(name)[f"{path}index.html"]]
    ]
    for page in pages[:: max(1, len(pages) // 3)]:
        (there,) = re.findall(r'href="(/ask/[^"?]+\?[^"]+)"', page)
        answered = client.get(unescape(there), follow_redirects=False)
        assert answered.status_code in (200, 422)
        if answered.status_code == 422:  # no figure in the table either
            assert "no figure" in page


def test_pages_of_the_service_have_the_same_head(address):
    """Two templates write the head of light pages, one here and one in the service: they look and lead alike."""
    heads = []
    for path in ("/tables/lowest-resistance/25-a/2s2p/", "/ask/pack"):
        page = httpx.get(address + path).text
        head = page.partition("<header")[2].partition("</header>")[0]
        links = re.findall(r'<a[^>]*href="([^"]*)"[^>]*>(.*?)</a>', head, re.DOTALL)
        led = [(urljoin(path, to), re.sub("<[^>]*>|\\s+", "", text)) for to, text in links]
        heads.append((led, re.findall('<meta name="theme-color".*?>', page)))
    assert heads[0] == heads[1]
    assert len(heads[0][0]) == 5
    assert len(heads[0][1]) == 2
