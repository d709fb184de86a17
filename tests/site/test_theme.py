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
        ("tables/lowest-resistance", ["../..", "../"]),
        ("problems/not-found", ["../..", "../../contents/#background", "../"]),
        ("cells/bench-1", ["../..", "../"]),
        ("learn/layouts", ["../..", "../../contents/#learn"]),
        ("tables", [".."]),
        ("", []),
    ],
)
def test_a_page_says_where_it_is(site, path, way):
    """From the home page down, each page above this one is a link."""
    assert [values["href"] for values in links(site, path, "Breadcrumb")] == way


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
