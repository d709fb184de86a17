"""The built site: strict, repeatable, whole, and asking no third party."""

import html
import json
import re
import tomllib
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from msgspec import structs

from percell_site import examples
from percell_site.api import ApiError
from percell_site.book import Book
from percell_site.cells import cell_pages
from percell_site.changelog import History
from percell_site.plugin import build
from percell_site.profiles import load

SOURCE = Path(__file__).parents[2] / "site"
LOADING = {
    ("script", "src"),
    ("img", "src"),
    ("iframe", "src"),
    ("source", "src"),
    ("video", "src"),
    ("embed", "src"),
    ("object", "data"),
}
LOADING_RELS = {"stylesheet", "icon", "preload", "modulepreload", "preconnect", "dns-prefetch"}


class Page(HTMLParser):
    """What a page loads, and which names in it links can use."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.ids: list[str] = []
        self.tables = 0
        self.captions = 0
        self.unscoped = 0
        self.inside = False
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if "id" in values:
            self.ids.append(values["id"])
        self.loads += [value for name, value in attrs if (tag, name) in LOADING and value]
        if tag == "link" and LOADING_RELS & set((values.get("rel") or "").split()):
            self.loads.append(values["href"])
        self.captions += tag == "caption"
        if tag == "table":
            self.inside = values.get("id", "").startswith("t-")
            self.tables += self.inside
        self.unscoped += tag == "th" and self.inside and not values.get("scope")


# elements of HTML that have no end
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "wbr"}


class Balance(HTMLParser):
    """Where a page has a tag without its other half, and the drawings in it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.lines = text.splitlines(keepends=True)
        self.drawings: list[str] = []
        self.start = (0, 0)
        self.feed(text)
        self.close()
        self.wrong += [f"<{tag}> is left open" for tag in self.open]

    def handle_starttag(self, tag, _):
        if tag == "svg" and "svg" not in self.open:
            self.start = self.getpos()
        if tag not in VOID or "svg" in self.open:
            self.open.append(tag)

    def handle_startendtag(self, tag, _):
        if tag not in VOID and "svg" not in self.open:
            self.wrong.append(f"<{tag}/> in line {self.getpos()[0]}: HTML leaves it open")

    def handle_endtag(self, tag):
        if not self.open or self.open[-1] != tag:
            self.wrong.append(f"</{tag}> in line {self.getpos()[0]}, within {self.open[-1:]}")
        if tag in self.open:
            while self.open.pop() != tag:
                pass
        if tag == "svg" and "svg" not in self.open:
            (first, at), (last, end) = self.start, self.getpos()
            text = "".join(self.lines[first - 1 : last])
            after = len(self.lines[last - 1]) - end - len("</svg>")
            self.drawings.append(text[at : len(text) - after])


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("<p>one<br>two</p><svg><g/><g></g></svg>", []),
        ("<p>one", ["<p> is left open"]),
        ("<svg><g></svg>", ["</svg> in line 1, within ['g']"]),
        ("<div/>", ["<div/> in line 1: HTML leaves it open"]),
        ("</div>", ["</div> in line 1, within []"]),
    ],
)
def test_a_tag_without_its_other_half_is_seen(text, wrong):
    """The reader of tags that the next test relies on sees what is wrong, and that alone."""
    assert Balance(text).wrong == wrong


def test_every_tag_is_closed_and_every_drawing_is_xml(site):
    """Each page is balanced HTML, and each drawing in it can be taken out as a file of its own."""
    drawings = 0
    for name, text in pages(site).items():
        page = Balance(text)
        assert page.wrong == [], name
        for drawing in page.drawings:
            root = ElementTree.fromstring(drawing)  # noqa: S314 - of our own build
            assert root.tag == "{http://www.w3.org/2000/svg}svg", name
        drawings += len(page.drawings)
        assert text.count("<svg") == len(page.drawings), name
    assert drawings > 100


def pages(site):
    return {p.relative_to(site).as_posix(): p.read_text("utf-8") for p in site.rglob("*.html")}


def test_a_second_build_is_the_same_to_the_byte(site, tmp_path, monkeypatch):
    """Neither the machine nor the time of the build changes a page."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1790000000")
    build(source=SOURCE, out=tmp_path / "again", api=None)
    files = sorted(p.relative_to(site) for p in site.rglob("*") if p.is_file())
    assert files == sorted(
        p.relative_to(tmp_path / "again") for p in (tmp_path / "again").rglob("*") if p.is_file()
    )
    differing = [
        f for f in files if (site / f).read_bytes() != (tmp_path / "again" / f).read_bytes()
    ]
    assert not differing


def test_no_page_asks_a_third_party(site):
    """Scripts, styles, pictures and fonts all come from the site's own host."""
    foreign = {
        (name, load)
        for name, text in pages(site).items()
        for load in Page(text).loads
        if re.match(r"(?:https?:)?//", load)
    }
    assert not foreign
    for style in site.rglob("*.css"):
        assert not re.search(r"(?:url\(|@import)\s*[\"']?(?:https?:)?//", style.read_text("utf-8"))


def test_every_name_in_a_page_is_given_once(site):
    """A link to a row leads to one row."""
    for name, text in pages(site).items():
        ids = Page(text).ids
        twice = {i for i in ids if ids.count(i) > 1}
        assert not twice, name


def test_every_table_has_caption_scopes_anchors_and_downloads(site):
    """Each table of the API has its page, and each row the name that links use."""
    files = sorted((site / "tables").glob("*.json"))
    assert files
    for file in files:
        grid = json.loads(file.read_text("utf-8"))
        page = Page((site / "tables" / file.stem / "index.html").read_text("utf-8"))
        assert page.tables == page.captions == 1
        assert not page.unscoped
        assert {row["anchor"] for row in grid["rows"]} <= set(page.ids)
        lines = (site / "tables" / f"{file.stem}.csv").read_bytes().split(b"\r\n")
        assert len(lines) == len(grid["rows"]) * len(grid["columns"]) + 2


def printed(value, shown):
    """The text of a value: a dash, a word in the page's words, or a number with its decimals."""
    if value is None:
        return "–"
    return shown["words"][value] if isinstance(value, str) else f"{value:.{shown['decimals']}f}"


def test_every_figure_of_the_api_stands_in_the_page(site):
    """The page shows the rounded figures of the grid in their order."""
    for file in sorted((site / "tables").glob("*.json")):
        grid = json.loads(file.read_text("utf-8"))
        text = (site / "tables" / file.stem / "index.html").read_text("utf-8")
        for row in grid["rows"]:
            block = re.search(
                rf'<tr id="{re.escape(row["anchor"])}"[^>]*>(.*?)</tr>', text, re.DOTALL
            )[1]
            on_page = [i for i, shown in enumerate(grid["prints"]) if shown["on_page"]]
            shown = [
                re.sub(r"<span.*?</span>|<[^>]+>", "", td).strip()
                for td in re.findall(r"<td[^>]*>(.*?)</td>", block, re.DOTALL)
            ]
            assert shown == [
                printed(cell["values"][i], grid["prints"][i])
                for cell in row["cells"]
                for i in on_page
            ]


def test_no_page_claims_a_check_that_no_build_makes(site):
    """Only the project's tests ask for every figure again; a build asks once, and its pages claim no more."""
    listed = [site / "tables/index.html", *(site / "tables").glob("*/index.html")]
    claims = [
        page
        for page in listed
        if re.search("ask(?:ed|s) again|checked before", lede_and_date(page))
    ]
    assert not claims


def lede_and_date(page):
    """What a page of tables says of its figures: its first sentence and its last."""
    text = page.read_text("utf-8")
    return " ".join(re.findall(r'<p class="pc-(?:lede|dated)">(.*?)</p>', text, re.DOTALL))


def test_what_a_table_rests_on_has_its_sign(site):
    """A resistance is printed with the sign that readers know, like everywhere else on the page."""
    tables = {n: t for n, t in pages(site).items() if n.startswith("tables/")}
    assert any(re.search(r"<td>[\d.]+\u00a0Ω</td>", t) for t in tables.values())
    wrong = [
        n for n, t in tables.items() if re.search(r"<td>[^<]*\d\sohm\b[^<]{0,40}</td>\s*<td>", t)
    ]
    assert not wrong


def test_a_measured_cell_has_its_chemistry_by_name(site):
    """A reader sees the name that the API has for it, and not the value of a field."""
    chemistries = json.loads((site / "reference.json").read_text("utf-8"))["chemistries"]
    for profile in sorted((SOURCE / "cells").glob("*.toml")):
        text = (site / "cells" / profile.stem / "index.html").read_text("utf-8")
        known = tomllib.loads(profile.read_text("utf-8"))["chemistry"]
        said = re.search(r"<td>Chemistry</td>\s*<td>(.*?)</td>", text)[1]
        assert said == chemistries[known]["name"]


def marks_of(cell, prints):
    """How many marks an entry needs: one for each figure beyond its limit, or one for all that are not on the page."""
    beyond = [verdict in ("little_headroom", "over_limit") for verdict in cell.get("verdicts", [])]
    on_page = [
        is_so for is_so, shown in zip(beyond, prints, strict=False) if shown.get("on_page", True)
    ]
    return max(sum(on_page), any(beyond))


def test_every_verdict_is_said_by_a_mark_besides_the_colour(site):
    """An entry that is not within its limits carries a mark with a word."""
    seen = 0
    for file in sorted((site / "tables").glob("*.json")):
        grid = json.loads(file.read_text("utf-8"))
        text = (site / "tables" / file.stem / "index.html").read_text("utf-8")
        marks = sum(marks_of(cell, grid["prints"]) for row in grid["rows"] for cell in row["cells"])
        assert text.count('class="pc-mark"') == marks, file.stem
        seen += marks
    assert seen


def test_every_finding_and_problem_type_has_its_place(site):
    """The links that answers carry lead somewhere."""
    reference = json.loads((Path(site) / "reference.json").read_text("utf-8"))
    rules = Page((site / "rules" / "index.html").read_text("utf-8"))
    assert {rule["id"] for rule in reference["rules"]} <= set(rules.ids)
    for problem in reference["problems"]:
        assert (site / "problems" / problem["id"] / "index.html").is_file()
    method = (site / "method" / "index.html").read_text("utf-8")
    for question in reference["questions"]:
        heading = re.search(rf'<h3 id="{question["id"]}">(.*?)<a', method)
        assert heading, f"site/docs/method.md has no heading for {question['id']}"
        assert html.unescape(heading[1]) == question["title"]


def test_the_rules_are_listed_by_topic(site):
    """Above the rules each topic and each rule has a link, and each rule comes under its own topic."""
    reference = json.loads((site / "reference.json").read_text("utf-8"))
    page = (site / "rules" / "index.html").read_text("utf-8")
    article = page.partition("<article")[2].partition("</article>")[0]
    contents, *topics = re.split(r'<h2 id="topic-', article)
    for rule in reference["rules"]:
        assert f'href="#{rule["id"]}"' in contents
        (topic,) = [part for part in topics if f'<h3 id="{rule["id"]}"' in part]
        assert html.unescape(topic).partition(">")[2].startswith(rule["group"])


def test_diagrams_have_a_text_and_the_api_s_numbers(site):
    """A wiring diagram is SVG in the page, with a description for screen readers."""
    text = (site / "learn" / "layouts" / "index.html").read_text("utf-8")
    figures = re.findall(r'<svg [^>]*role="img" aria-label="([^"]+)"', text)
    assert len(figures) >= 4
    assert any("each cell 16.8 A at 4.2 V" in figure for figure in figures)


def test_a_link_to_a_table_has_a_title_a_description_and_a_card(site):
    """The preview of a pasted link has a title, a description and a picture."""
    for file in sorted((site / "tables").glob("*.json")):
        grid = json.loads(file.read_text("utf-8"))
        text = (site / "tables" / file.stem / "index.html").read_text("utf-8")
        said = dict(re.findall(r'<meta property="(og:[\w:]+)" content="([^"]*)"', text))
        assert said["og:title"] == grid["title"]
        assert said["og:description"] == grid["description"]
        assert said["og:image"].endswith(f"/tables/{file.stem}.png")
        card = (site / "tables" / f"{file.stem}.png").read_bytes()
        assert card.startswith(b"\x89PNG")
        assert [int.from_bytes(card[i : i + 4]) for i in (16, 20)] == [1200, 630]


def test_search_engines_read_the_pages_and_no_answers(site):
    """A crawler may read every page, finds their list, and asks the API nothing."""
    lines = (site / "robots.txt").read_text("utf-8").splitlines()
    assert lines[:3] == ["User-agent: *", "Disallow: /v1/", "Disallow: /ask/"]
    assert lines[-1] == "Sitemap: http://127.0.0.1:8000/sitemap.xml"
    assert (site / "sitemap.xml").is_file()


def test_the_list_of_tables_goes_by_topic(site):
    """Each table is listed once, below the topic that the API gives it."""
    text = (site / "tables" / "index.html").read_text("utf-8").partition('class="pc-index"')[2]
    listed = {}
    for section in re.split(r"<h2", text)[1:]:
        topic = html.unescape(re.search(r">(.*?)<", section)[1])
        for name in re.findall(r'<li><a href="([\w-]+)/">', section):
            assert name not in listed
            listed[name] = topic
    grids = [json.loads(f.read_text("utf-8")) for f in (site / "tables").glob("*.json")]
    assert listed == {grid["id"]: grid["group"] for grid in grids}
    # smallest and largest row, and how many words a column has
    said = html.unescape(re.sub(r"<[^>]+>", "", text)).replace("\N{NO-BREAK SPACE}", " ")
    assert "Cell rating 5 to 40 A, layout (11)\n" in said
    assert "Power 5 to 300 W, layout (8), cut-off 2.8 to 3.2 V\n" in said
    assert "Cells in parallel 2 to 8 cells, spread of the cells' resistance 2 to 30 %\n" in said


def test_a_reader_turns_from_table_to_table(site):
    """A table leads up to its topic, to the others of the topic, and to the table before and after it."""
    order = re.findall(
        r'<li><a href="([\w-]+)/">',
        (site / "tables/index.html").read_text("utf-8").partition("pc-index")[2],
    )
    grids = {f.stem: json.loads(f.read_text("utf-8")) for f in (site / "tables").glob("*.json")}
    assert {*order} == grids.keys()
    index = Page((site / "tables/index.html").read_text("utf-8"))
    for i, name in enumerate(order):
        text = (site / "tables" / name / "index.html").read_text("utf-8")
        turn = re.search(r'class="pc-turn.*?</nav>', text, re.DOTALL)[0]
        beside = [f"../{order[at]}/" for at in (i - 1, i + 1) if 0 <= at < len(order)]
        assert re.findall(r'href="([^"]+)" rel="(?:prev|next)"', turn) == beside
        sisters = re.search(r'class="pc-sisters".*?</nav>', text, re.DOTALL)[0]
        same = [n for n in order if grids[n]["group"] == grids[name]["group"] and n != name]
        assert re.findall(r'href="\.\./([\w-]*)/?"', sisters) == [*same, ""]
        topic = re.search(r'class="pc-crumbs".*?href="\.\./#([^"]+)"', text, re.DOTALL)[1]
        assert topic in index.ids


def test_a_figure_in_the_prose_is_that_of_the_table(site):
    """A figure that a page quotes from a table is in that table, with its unit."""
    grid = json.loads((site / "tables" / "temperature-by-draw.json").read_text("utf-8"))
    at = [column["values"] for column in grid["columns"]].index([5, 60])
    row = next(row for row in grid["rows"] if row["anchor"] == "20-a")
    text = (site / "learn" / "heat" / "index.html").read_text("utf-8")
    assert f"<td>{row['cells'][at]['values'][0]:.0f}\N{NO-BREAK SPACE}°C</td>" in text


def test_an_example_in_the_prose_is_asked_as_it_is_printed(api):
    """The example posts numbers as numbers and words as words, and prints the API's own answer."""
    text = examples.example(
        api, "https://tables.example", "pack?layout=2S2P&cell_rating_a=20&cell_capacity_ah=2.5"
    )
    asked = {"layout": "2S2P", "cell_rating_a": 20, "cell_capacity_ah": 2.5}
    answer = api.post("/v1/pack", asked)
    assert f"-d '{json.dumps(asked)}'" in text
    shown = json.loads(text.rpartition("```json")[2].removesuffix("```"))
    figures = {name: value for name, value in answer.items() if not isinstance(value, list)}
    assert shown == shown | figures
    # a field inside another one
    asked = {"layout": {"series": 2, "parallel": 2}, "cell_rating_a": 20, "cell_capacity_ah": 2.5}
    query = "layout.series=2&layout.parallel=2&cell_rating_a=20&cell_capacity_ah=2.5"
    assert f"-d '{json.dumps(asked)}'" in examples.example(
        api, "https://a.example", f"pack?{query}"
    )


@pytest.mark.parametrize(
    "marker",
    [
        "figure: no-such-table 20-a 5",
        "figure: temperature-by-draw 20-a 5 61",
        "figure: temperature-by-draw 21-a 5 60",
        "figure: temperature-by-draw 20-a 5 60 no_such_field",
        "linked: temperature-by-draw 21-a 5 60",
        "needed: volts",
        "snippet: lowest-resistance 26-a 1s1p",
        "reply: direct-load?layout=1S2P",
        "example: no-such-question?layout=1S2P",
        "example: direct-load?layout=1S2P",
        "example: get-direct-load?layout=1S2P",
        "question: no-such-question",
        "unheard-of: thing",
    ],
)
def test_a_marker_that_stands_for_nothing_ends_the_build(api, marker):
    """No page is published with a gap where a figure belongs."""
    with pytest.raises(ApiError):
        Book(api, "https://tables.example", "2026-01-01", [], History("", [], [])).filled(
            f"before {{{{ {marker} }}}} after", "index.md"
        )


@pytest.mark.parametrize(
    ("url", "up"), [("./", ""), ("sayings/", "../"), ("learn/heat/", "../../")]
)
def test_a_linked_figure_leads_to_its_page_and_keeps_its_mark(api, url, up):
    """Whichever folder a page is in, the link finds the figure, and one over its limit says so."""
    book = Book(api, "https://tables.example", "2026-01-01", [], History("", [], []))
    text = book.filled("{{ linked: coil-current-and-power 0.2-ohm 1S1P }}", url)
    page = f"{up}tables/coil-current-and-power/0.2-ohm/1s1p/"
    figure = "25.8\N{NO-BREAK SPACE}A"
    assert text == f'<a href="{page}"><strong>{figure}</strong></a> (over the rating of 20 A)'


@pytest.mark.parametrize(
    ("place", "page"),
    [
        ("charging-time 3-ah 1.5", "charging-time/3-ah/#1-5-a"),
        ("pack-figures 2s2p 3 pack_energy_wh", "pack-figures/2s2p/"),
    ],
)
def test_a_figure_without_a_page_has_its_place_on_that_of_its_row(api, site, place, page):
    """A link to a figure finds it where only its row has a page."""
    book = Book(api, "https://tables.example", "2026-01-01", [], History("", [], []))
    assert f'href="tables/{page}"' in book.filled(f"{{{{ linked: {place} }}}}", "./")
    path, _, anchor = page.partition("#")
    assert (
        f'id="{anchor}"' in (site / "tables" / path / "index.html").read_text("utf-8") or not anchor
    )


def test_the_bench_gets_real_answers(site):
    """The answers of the invented evening are the API's own, and link to the reader's own server."""
    text = (site / "learn" / "lending-bench" / "index.html").read_text("utf-8")
    # 4.2 V over 0.15 Ω less 1 % and 3.5 counts, 8.4 V over the same; by hand
    assert "Over the limit: continuous rating." in text
    assert "24.7 A. Warning" in text
    assert "74.1 A. Warning" in text
    assert "percell.invalid" not in text


def test_the_pages_print_the_address_of_the_site(tmp_path):
    """Commands and replies in the pages lead to the site's own address, and none to the builder's machine."""
    out = tmp_path / "public"
    address = "https://tables.example/cells"
    build(source=SOURCE, out=out, api=None, site_url=f"{address}/")
    dead = {name for name, text in pages(out).items() if "127.0.0.1" in text or "localhost" in text}
    assert not dead
    text = (out / "learn" / "lending-bench" / "index.html").read_text("utf-8")
    plain = html.unescape(re.sub(r"<[^>]+>", "", text))
    assert plain.count(f"curl '{address}/v1/reply/") > 5
    assert f"{address}/tables/" in plain
    assert f"{address}/v1/batch" in (out / "api" / "index.html").read_text("utf-8")
    assert f"{address}/v1/discharge" in (out / "learn/measuring/index.html").read_text("utf-8")


def test_an_invented_cell_is_called_invented_wherever_its_name_stands(site):
    """Titles, headings, previews, search results and the contents say that the demo cells are invented."""
    found = json.loads((site / "search.json").read_text("utf-8"))["entries"]
    profiles = {p.stem: tomllib.loads(p.read_text("utf-8")) for p in SOURCE.glob("cells/*.toml")}
    assert all(profile["invented"] for profile in profiles.values())
    shown = {f"cells/{name}": p["name"] for name, p in profiles.items()} | {
        "cells": "Measured cells"
    }
    for path, name in shown.items():
        text = (site / path / "index.html").read_text("utf-8")
        said = dict(re.findall(r'<meta property="(og:[\w:]+)" content="([^"]*)"', text))
        title = re.search(r"<title>(.*?)</title>", text)[1]
        for one in (
            title,
            said["og:title"],
            said["og:description"],
            re.search("<h1.*?</h1>", text)[0],
        ):
            assert f"{name} (invented)" in one
        of_page = [entry for entry in found if entry[1].split("#")[0] == f"{path}/"]
        assert of_page[0][0] == f"{name} (invented)"
        # a section of the page shows the page's name in place of a sentence
        assert all(f"{name} (invented)" in entry[2] for entry in of_page)
    contents = re.search(r'<nav class="pc-contents".*?</nav>', text, re.DOTALL)[0]
    assert "Measured cells (invented)" in contents


def test_a_real_cell_is_not_called_invented(api):
    """The word goes with the cells: with some of them invented the list says some, with none nothing."""
    real = load(SOURCE / "cells")[0]
    real, made_up = structs.replace(real, invented=False), structs.replace(real, id="other")
    reference = api.get_json("/v1/reference")
    for cells, title in (
        ([real], "Measured cells"),
        ([real, made_up], "Measured cells (some invented)"),
        ([made_up], "Measured cells (invented)"),
    ):
        made = cell_pages(api, cells, reference, "2026-01-01")
        assert f"\n# {title}\n" in made["cells/index.md"]
    assert "invented" not in cell_pages(api, [real], reference, "2026-01-01")[
        f"cells/{real.id}.md"
    ].replace(real.note, "")


def test_the_shares_in_the_prose_are_those_that_answers_count_on(site, api):
    """Each row of the table of shares is what the API divides a current of 100 A by, rounded up to 0.1 %."""
    text = (site / "learn" / "rating-and-headroom" / "index.html").read_text("utf-8")
    section = re.search(r'<h2 id="what-the-tables-count-on">.*?</table>', text, re.DOTALL)[0]
    rows = [
        [float(part.removesuffix(" %")) for part in re.findall(r"<td>(.*?)</td>", row)]
        for row in re.findall(r"<tr>(.*?)</tr>", section, re.DOTALL)[1:]
    ]
    assert [row[0] for row in rows] == [2, 3, 4, 6, 8]
    for parallel, *shares in rows:
        pack = {"layout": f"1S{parallel:.0f}P", "cell_rating_a": 20}
        coil = {"coil_resistance_ohm": 0.042}
        watts = {"output_power_w": 100, "efficiency": 1, "cell_cutoff_voltage_v": 2.8}
        asked = [
            ("direct-load", coil | {"sharing": "even"}),
            ("direct-load", coil | {"sharing": "allowance"}),
            ("direct-load", coil | {"sharing": {"spread": 0.1}}),
            ("direct-load", coil),
            ("converter-load", watts),
        ]
        for (question, more), printed_share in zip(asked, shares, strict=True):
            answer = api.post(f"/v1/{question}", pack | more)
            share = 100 * answer["worst_cell_current_a"] / answer["pack_current_a"]
            assert share <= printed_share + 1e-9
            assert printed_share < share + 0.1


def test_the_shares_beside_measured_spreads_are_those_of_answers(site, api):
    """Each share of three cells is what the API counts on for the upper end of that spread, rounded up."""
    text = (site / "learn" / "rating-and-headroom" / "index.html").read_text("utf-8")
    section = re.search(r'<h2 id="measured-spreads">.*?</table>', text, re.DOTALL)[0]
    rows = [re.findall(r"<td>(.*?)</td>", row) for row in section.split("<tr>")[2:]]
    assert len(rows) == 6
    spreads = []
    for _, scatter, printed in rows:
        spreads.append(float(re.findall(r"[\d.]+", scatter)[-1]) / 100)
        asked = {"parallel": 3, "group_current_a": 100, "resistance_spread": spreads[-1]}
        share = api.post("/v1/sharing-by-spread", asked)["worst_cell_current_a"]
        assert share <= float(printed.removesuffix(" %")) < share + 0.1
    assert spreads == sorted(spreads), "the last row, that of the careful share, is the widest"


def test_a_figure_in_the_files_alone_is_not_on_the_page(site):
    """The table of coils prints readings; the true resistance is in its files, and lower."""
    grid = json.loads((site / "tables" / "lowest-resistance.json").read_text("utf-8"))
    assert [p["field"] for p in grid["prints"] if p["on_page"]] == ["lowest_reading_ohm"]
    page = (site / "tables" / "lowest-resistance" / "index.html").read_text("utf-8")
    assert "True resistance" not in page
    head = (site / "tables" / "lowest-resistance.csv").read_text("utf-8").partition("\n")[0]
    assert "lowest_resistance_ohm" in head
    for row in grid["rows"]:
        for cell in row["cells"]:
            reading, true = cell["values"]
            assert reading > true
