"""Every link of the built site leads somewhere, to the very place that it names."""

from html.parser import HTMLParser
from urllib.parse import unquote, urldefrag, urljoin, urlsplit

import httpx
import pytest

# the address that the pages of this build print
PRINTED = "http://127.0.0.1:8000/"
REFERS = {"aria-labelledby", "aria-describedby", "aria-controls", "headers", "for", "list"}


class Page(HTMLParser):
    """The links of a page, its names, and the names that its parts refer to."""

    def __init__(self, text):
        super().__init__()
        self.links, self.forms, self.names, self.referred = set(), set(), set(), set()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        for name, value in attrs:
            if name in ("href", "src", "data") and value is not None:
                self.links.add(value)
            elif name == "action":
                self.forms.add(value)
            elif name == "srcset" and value:
                self.links |= {part.split()[0] for part in value.split(",")}
            elif name == "id" or (name == "name" and tag == "a"):
                self.names.add(value)
            elif name in REFERS and value:
                self.referred |= set(value.split())


@pytest.fixture(scope="module")
def pages(site):
    """Each page by its path as a browser asks for it."""
    found = {}
    for file in site.rglob("*.html"):
        path = "/" + file.relative_to(site).as_posix()
        found[path.removesuffix("index.html")] = Page(file.read_text("utf-8"))
    return found


def links(pages):
    """Each link of each page: the page, the path that it leads to, and the place there."""
    for path, page in pages.items():
        for link in page.links:
            whole, place = urldefrag(urljoin(PRINTED + path[1:], link))
            if whole.startswith(PRINTED):
                yield path, "/" + whole.removeprefix(PRINTED), unquote(place)


def test_every_link_leads_to_a_file_or_an_answer(pages, site, address):
    """Each address within the site is a file of it, or the service answers it."""
    asked = {}
    for page, target, _ in links(pages):
        asked.setdefault(target, page)
    elsewhere = {
        target: page
        for target, page in asked.items()
        if target not in pages and not (site / unquote(urlsplit(target).path[1:])).is_file()
    }
    assert len(asked) > 150
    with httpx.Client(base_url=address) as service:
        dead = {
            (target, page): answer.status_code
            for target, page in elsewhere.items()
            if (answer := service.get(target, headers={"Accept": "*/*"})).status_code != 200
        }
    assert not dead


def test_every_form_asks_what_the_service_knows(pages, address):
    """An empty form is refused or answered, and never sent to an address that is not there."""
    actions = {urljoin(PRINTED + path[1:], a) for path, page in pages.items() for a in page.forms}
    ours = {action.removeprefix(PRINTED) for action in actions if action.startswith(PRINTED)}
    assert len(ours) > 20
    with httpx.Client(base_url=address) as service:
        dead = {
            action: status
            for action in ours
            if (status := service.get(f"/{action}").status_code) not in (200, 400, 405, 422)
        }
    assert not dead


def test_every_link_to_a_place_finds_it(pages):
    """What follows the # is a name in the page that the link leads to."""
    lost = {
        (page, target, place)
        for page, target, place in links(pages)
        if place and target in pages and place not in pages[target].names
    }
    assert not lost


def test_every_part_refers_to_a_part_of_its_page(pages):
    """Labels, headers and descriptions name something that is there."""
    lost = {path: page.referred - page.names for path, page in pages.items()}
    assert not {path: names for path, names in lost.items() if names}


def test_every_page_can_be_reached_from_the_home_page(pages):
    """A reader finds each page by links alone."""
    leads = {}
    for page, target, _ in links(pages):
        leads.setdefault(page, set()).add(target)
    seen, new = set(), {"/"}
    while new:
        seen |= new
        new = {t for page in new for t in leads.get(page, ()) if t in pages} - seen
    assert pages.keys() - seen == {"/404.html"}
