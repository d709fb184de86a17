"""What every page has around its text: the way down to it, the contents, and links without script."""

import re
from html.parser import HTMLParser

import pytest


class Links(HTMLParser):
    """The links of a page, each with its attributes and the label of the part that it is in."""

    def __init__(self, text):
        super().__init__()
        self.label, self.found = "", []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if tag == "nav":
            self.label = values.get("aria-label", "")
        if tag == "a":
            self.found.append((self.label, values))

    def handle_endtag(self, tag):
        if tag == "nav":
            self.label = ""


def links(site, path, label):
    """The links in one part of a page."""
    found = Links((site / path / "index.html").read_text("utf-8")).found
    return [values for part, values in found if part == label]


@pytest.mark.parametrize(
    ("path", "way"),
    [
        (
            "tables/lowest-resistance",
            ["../..", "../../contents/#look-it-up", "../", "../#a-coil-straight-on-the-pack"],
        ),
        ("problems/not-found", ["../..", "../../contents/#for-programs", "../"]),
        ("cells/bench-1", ["../..", "../../contents/#look-it-up", "../"]),
        ("learn/layouts", ["../..", "../../contents/#understand-it"]),
        ("something-happened", [".."]),
        ("", []),
    ],
)
def test_a_page_says_where_it_is(site, path, way):
    """From the home page down, each page above this one is a link."""
    found = [values["href"] for values in links(site, path, "Breadcrumb")]
    assert found == way
    for up, part in re.findall(r"^([./]*(?:contents/)?)#(.*)", "\n".join(found), re.MULTILINE):
        assert f'id="{part}"' in (site / path / up / "index.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("path", "above"),
    [("tables/lowest-resistance", "../"), ("cells/bench-1", "../"), ("problems/not-found", "../")],
)
def test_a_page_that_another_lists_has_an_entry_in_the_contents(site, path, above):
    """The contents show the page itself as the current one, below the page that lists it."""
    current = [v for v in links(site, path, "Contents") if "aria-current" in v]
    assert [(v["href"], v["aria-current"]) for v in current] == [(above, "true"), ("./", "page")]


def test_one_page_lists_all_others(site):
    """Who has no script finds every page of the theme from one of them."""
    text = (site / "contents/index.html").read_text("utf-8")
    listed = set(re.findall(r'href="(?:\.\./)?([^"#:]*)"', text[text.index('class="pc-all"') :]))
    pages = {
        f"{file.parent.relative_to(site).as_posix()}/"
        for file in site.rglob("index.html")
        if "md-header" in file.read_text("utf-8")
    } - {"./", "contents/"}
    assert len(pages) > 60
    assert pages - listed == set()


def test_titles_tell_pages_from_each_other(site):
    """Each page has a title of its own, and the home page says what the site is about."""
    titles = [
        re.search("<title>(.*?)</title>", file.read_text("utf-8")).group(1)
        for file in [*site.rglob("index.html"), site / "404.html"]
    ]
    assert len(set(titles)) == len(titles)
    assert "percell: what each cell of a small pack carries" in titles


# what a reader can press is at least 44 px high on a touch screen, except links within a sentence, whose
# size the line decides (WCAG 2.2, 2.5.5 and 2.5.8)
SMALL = """() => [...document.querySelectorAll('a[href], button, summary, input, select, textarea, label[for]')].filter(e => {
    if (e.closest('.pc-grid, .md-search') || e.matches('.md-skip, .headerlink')) return false;
    const box = e.getBoundingClientRect();
    if (box.width < 2 || !e.checkVisibility({ visibilityProperty: true })) return false;
    // a field is what is pressed, and the words above it only help
    if (e.control?.checkVisibility({ visibilityProperty: true, opacityProperty: true })) return false;
    const block = e.closest('p, dd, dt, td, th, figcaption, caption, li, h1, h2, h3');
    const words = e => e.innerText.replace('§', '').trim();
    if (e.matches('a') && block && words(block) !== words(e) && !e.closest('.pc-crumbs')) return false;
    return box.height < 43.5;
}).map(e => e.outerHTML.slice(0, 120))"""


def test_a_thumb_can_hit_what_there_is_to_press(open_page):
    """On a touch screen links by themselves, buttons, fields and what can be opened are 44 px high."""
    page = open_page("/", viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True)
    address = page.url.rstrip("/")
    for path in (
        "/",
        "/tables/",
        "/tables/lowest-resistance/",
        "/contents/",
        "/something-happened/",
        "/which-cells/",
        "/cells/bench-1/",
        "/learn/layouts/",
        "/glossary/",
        "/docs/api/",
        "/no-such-page",
    ):
        page.goto(address + path)
        assert page.evaluate(SMALL) == [], path


def test_a_large_screen_gives_its_width_to_tables(open_page):
    """At 1920 px the letters are as large as at 1280 px, and a wide table has most of the rest."""
    page = open_page("/tables/current-by-power/", viewport={"width": 1280, "height": 800})
    width = "() => document.querySelector('.pc-table').clientWidth"
    letters = "() => getComputedStyle(document.documentElement).fontSize"
    before = page.evaluate(width), page.evaluate(letters)
    page.set_viewport_size({"width": 1920, "height": 1000})
    assert page.evaluate(letters) == before[1]
    assert page.evaluate(width) >= before[0] + 500


def test_contents_that_go_on_below_the_screen_show_it(open_page):
    """A shadow lies at the edge beyond which there is more."""
    page = open_page("/", viewport={"width": 1280, "height": 800})
    contents = page.locator(".md-sidebar--primary .md-sidebar__scrollwrap")
    assert contents.evaluate("e => e.scrollHeight > e.clientHeight")
    assert "gradient" in contents.evaluate("e => getComputedStyle(e).backgroundImage")


def test_forced_colours_keep_the_current_entry_and_the_focus(open_page):
    """Where the system sets all colours, borders and outlines still tell them."""
    page = open_page(
        "/learn/heat/", forced_colors="active", viewport={"width": 1280, "height": 800}
    )
    border = "e => getComputedStyle(e).borderLeftColor"
    current = page.locator(".pc-contents a[aria-current]").evaluate(border)
    other = page.locator(".pc-contents a:not([aria-current])").first.evaluate(border)
    assert current != other
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    focused = page.locator(":focus-visible")
    assert focused.evaluate("e => getComputedStyle(e).outlineStyle") == "solid"
    assert focused.evaluate("e => parseFloat(getComputedStyle(e).outlineWidth)") >= 2


def test_without_script_nothing_is_shown_that_does_nothing(open_page):
    """Menu and search are links to a list of pages and one of words, and the switch of colours is not there."""
    page = open_page(
        "/learn/heat/", java_script_enabled=False, viewport={"width": 360, "height": 740}
    )
    shown = [
        e
        for e in page.locator(":is(header, main) :is(button, label, input)").all()
        if e.is_visible()
    ]
    assert shown == []
    for name, heading in (("Contents", "Contents"), ("Search", "Glossary")):
        page.get_by_role("banner").get_by_role("link", name=name).click()
        assert page.get_by_role("heading", name=heading, level=1).count() == 1
        page.go_back()


def test_the_first_link_skips_to_the_heading(site):
    """It skips header and contents, and nothing that belongs to the page, such as a table or a caution."""
    seen = 0
    for file in site.rglob("index.html"):
        text = file.read_text("utf-8")
        if "md-header" in text:
            skip = re.search(r'href="#([^"]+)" class="md-skip"', text)
            assert skip, file
            assert f'<h1 id="{skip[1]}"' in text, file
            seen += 1
    assert seen > 60


def test_no_fragment_does_harm(open_page):
    """What cannot be decoded, or names nothing, raises no fault on any kind of page."""
    page = open_page("/")
    address = page.url.rstrip("/")
    for path in (
        "/",
        "/tables/lowest-resistance/",
        "/learn/heat/",
        "/docs/api/",
        "/cells/bench-1/",
    ):
        for fragment in ("%E0%A4%A", "no-such-row", "constructor"):
            page.goto(f"{address}{path}#{fragment}")
    assert page.faults == []


def test_without_script_a_linked_row_is_shown_with_its_headings(open_page):
    """The row and the whole head of its table are in view, below the header of the page."""
    page = open_page("/", java_script_enabled=False, viewport={"width": 360, "height": 740})
    address = page.url.rstrip("/")
    for width, height in ((320, 640), (740, 360), (1280, 800)):
        page.set_viewport_size({"width": width, "height": height})
        for link in ("lowest-resistance/#5-a", "current-by-power/#80-w", "current-by-power/#300-w"):
            page.goto("about:blank")
            page.goto(f"{address}/tables/{link}")
            row = page.locator("tr:target > th").bounding_box()
            head = page.locator(".pc-grid thead").first.bounding_box()
            top = page.locator(".md-header").bounding_box()["height"]
            assert head["y"] >= top - 1, (width, link)
            assert head["y"] + head["height"] <= row["y"] + 1, (width, link)
            assert row["y"] + row["height"] <= height, (width, link)
