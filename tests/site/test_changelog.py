"""The page of changes and its feed."""

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from percell_site import changelog
from percell_site.changelog import history

SOURCE = Path(__file__).parents[2] / "site"
ATOM = "{http://www.w3.org/2005/Atom}"
TEXT = """# Changelog

What users notice.

## Unreleased

### Added
- One `thing`.

## 1.0.0 – 2026-12-01

### Fixed
- Another thing.
"""
MOVED = [
    {
        "date": "2026-12-05",
        "version": "1.0.1",
        "because": "The sag of cold cells follows new measurements.",
        "moves": [
            ["cell-sag", "cell_resistance_ohm=0.01", f"i={i} sag_v [V]", "0.10", "0.11 over_limit"]
            for i in range(30)
        ]
        + [["old", "r=1", "i=1 sag_v [V]", "0.2", None]],
    }
]
TABLES = [
    {
        "id": "cell-sag",
        "title": "How far a cell sags",
        "rows_by": {"field": "cell_resistance_ohm"},
        "columns_by": [{"field": "i"}],
        "columns": [{"values": [0.0], "labels": ["0 °C"]}],
        "rows": [{"value": 0.01, "label": "10 mΩ"}],
        "prints": [{"field": "sag_v", "heading": "Sag", "unit": "V"}],
    }
]


@pytest.fixture
def files():
    """What the site gets from a made-up history."""
    past = history(TEXT, MOVED)
    return changelog.files(past, TABLES, "https://tables.example", "2026-12-09")


def test_the_changelog_is_read_by_version():
    """A version has its name, its date if it is released, and its text."""
    past = history(TEXT, [])
    assert past.intro == "What users notice."
    assert [(v.name, v.date) for v in past.versions] == [
        ("Unreleased", ""),
        ("1.0.0", "2026-12-01"),
    ]
    assert past.versions[0].text == "### Added\n- One `thing`."


def test_the_page_says_which_figures_moved_and_why(files):
    """Each table has its first moves with row, column and both figures, and says how many more there are."""
    page = files["changelog.md"]
    assert "The sag of cold cells follows new measurements." in page
    assert "[How far a cell sags](/tables/cell-sag/)" in page
    # what is still printed in the words of its table, and what is not by its names
    assert "10 mΩ, 0 °C, sag in V: 0.10 → 0.11 (over limit)" in page
    assert "10 mΩ, `i=1 sag_v [V]`: 0.10 → 0.11" in page
    assert "and 10 more" in page
    assert "0.2 → no longer printed" in page
    assert json.loads(files["figures-moved.json"]) == MOVED


def test_the_feed_has_releases_and_moved_figures(files):
    """The latest comes first, and what is not released has no entry."""
    feed = ElementTree.fromstring(files["changelog.xml"])  # noqa: S314 - made here
    assert feed.findtext(f"{ATOM}updated") == "2026-12-05T00:00:00Z"
    entries = feed.findall(f"{ATOM}entry")
    assert [entry.findtext(f"{ATOM}title") for entry in entries] == [
        "Published figures moved: 31",
        "percell 1.0.0",
    ]
    ids = [entry.findtext(f"{ATOM}id") for entry in entries]
    assert ids == [f"https://tables.example/changelog/#{name}" for name in ("figures-1", "1.0.0")]
    content = [entry.findtext(f"{ATOM}content") for entry in entries]
    assert '<a href="https://tables.example/tables/cell-sag/">' in content[0]
    assert "<li>Another thing.</li>" in content[1]


def test_an_entry_of_the_feed_keeps_its_name():
    """A reader of feeds shows an entry once, also after another change on the same day."""

    def ids(moved):
        made = changelog.files(history(TEXT, moved), TABLES, "https://tables.example", "2026-12-09")
        feed = ElementTree.fromstring(made["changelog.xml"])  # noqa: S314 - made here
        return [entry.findtext(f"{ATOM}id") for entry in feed.findall(f"{ATOM}entry")]

    both = ids([*MOVED, *MOVED])
    assert len(set(both)) == 3
    assert set(ids(MOVED)) < set(both)


def test_the_site_has_the_changelog_and_every_page_leads_to_its_feed(site):
    """The page has each version of CHANGELOG.md, and readers of feeds find it from the front page."""
    page = (site / "changelog" / "index.html").read_text("utf-8")
    versions = changelog.read(SOURCE).versions
    assert versions
    for version in versions:
        assert f">{version.name}" in re.sub(r"\s+", " ", page)
    feed = ElementTree.parse(site / "changelog.xml").getroot()  # noqa: S314 - of our own build
    assert feed.tag == f"{ATOM}feed"
    front = (site / "index.html").read_text("utf-8")
    link = re.search(r'<link rel="alternate " type="application/atom\+xml"[^>]*>', front)[0]
    assert 'href="changelog.xml"' in link
