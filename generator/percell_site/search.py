"""The index of the site's own search: what each page, section, term and table is about.

The index says where words stand. How a question is read and what comes first is in ``assets/search.js``.
A result shows titles and whole sentences that were written to stand alone, never a piece cut from a text:
a number without its condition would be taken for an answer.
"""

import json
import re
from collections import Counter
from html import unescape
from html.parser import HTMLParser
from typing import Any, NamedTuple
from urllib.parse import urljoin

# too common to tell one page from another
_COMMON = (
    "a about am an and any are as at be been but by can could did do does for from get go got had has have "
    "he her his how i if in into is it its just know long many may me more most much my need no not of on one "
    "or our put should so some than that the their them then there these they this those to up use used want "
    "was we were what when where who why will with would you your"
)
_STOP = frozenset(_COMMON.split())
# a word, a word with digits in it such as 2S2P, or the five digits of a size; other numbers are left out
_WORD = re.compile(r"[a-z][a-z0-9]*|\d+[a-z][a-z0-9]*|(?<![\d.])\d{5}(?![\d.])")
_COMPOUND = re.compile(r"\b([a-z]+)-([a-z]+)\b")
_EVERYDAY = re.compile(r"<tr>\s*<td>(.*?)</td>\s*<td>(.*?)</td>", re.DOTALL)
_LINK = re.compile(r'<a href="([^"]*)">(.*?)</a>', re.DOTALL)
_TAG = re.compile(r"<[^>]*>")
# how much a word counts, by where it stands
_TITLE, _NEAR_TITLE, _SENTENCE, _LABEL, _TEXT = 8, 2, 3, 2, 1
_OFTEN = 3
_TABLES_FIRST = 2.0
_FORM = "A form for your own numbers."


class Page(NamedTuple):
    """A page of prose as the site engine made it, with how much it counts beside others."""

    url: str
    title: str
    description: str
    content: str
    boost: float


class _Section(NamedTuple):
    anchor: str
    title: str
    text: str


class _Reader(HTMLParser):
    """Reads the sections of a page: each begins at a heading, or a term of a list, that has a name."""

    _STARTS = frozenset({"h1", "h2", "h3", "dt"})
    _WITHOUT = frozenset({"script", "style", "svg", "sup"})
    _EMPTY = frozenset({"br", "hr", "img", "input", "link", "meta", "wbr"})

    def __init__(self, content: str) -> None:
        super().__init__()
        self.sections: list[_Section] = []
        self._anchor = ""
        self._title: list[str] = []
        self._text: list[str] = []
        self._in_title = False
        self._left_out = 0
        self.feed(content)
        self.close()
        self._end_section()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in self._EMPTY:
            return
        if (
            self._left_out
            or tag in self._WITHOUT
            or "data-search-exclude" in given
            or given.get("class") == "headerlink"
        ):
            self._left_out += 1
        elif tag in self._STARTS and given.get("id"):
            self._end_section()
            self._anchor, self._in_title = given["id"] or "", True

    def handle_endtag(self, tag: str) -> None:
        if tag in self._EMPTY:
            return
        if self._left_out:
            self._left_out -= 1
        elif tag in self._STARTS:
            self._in_title = False

    def handle_data(self, data: str) -> None:
        if not self._left_out:
            (self._title if self._in_title else self._text).append(data)

    def _end_section(self) -> None:
        title = " ".join("".join(self._title).split())
        if title:
            self.sections.append(_Section(self._anchor, title, " ".join(self._text)))
        self._title, self._text = [], []


def words(text: str) -> list[str]:
    """Return the words of a text that the index holds; of a compound also both parts as one word."""
    text = text.lower().replace("\N{RIGHT SINGLE QUOTATION MARK}", "").replace("'", "")
    joined = ["".join(parts) for parts in _COMPOUND.findall(text)]
    return [word for word in _WORD.findall(text) + joined if word not in _STOP]


class _Index:
    """Collects entries, and for each word the entries that it leads to with how much it counts there."""

    def __init__(self) -> None:
        self.entries: list[list[Any]] = []
        self.words: dict[str, list[tuple[int, int]]] = {}

    def add(
        self, url: str, title: str, context: str, boost: float, parts: list[tuple[int, str]]
    ) -> int:
        """Add an entry and return its number."""
        number = len(self.entries)
        self.entries.append([title, url, context, boost])
        weights: Counter[str] = Counter()
        for weight, text in parts:
            for word, count in Counter(words(text)).items():
                weights[word] += weight * (min(count, _OFTEN) if weight == _TEXT else 1)
        for word, weight in weights.items():
            self.words.setdefault(word, []).append((number, weight))
        return number

    def at(self, url: str) -> list[int]:
        """Return the numbers of the entries of an address."""
        return [n for n, entry in enumerate(self.entries) if entry[1] == url]


def index(
    pages: list[Page],
    tables: list[dict[str, Any]],
    questions: list[dict[str, Any]],
    glossary: str,
    api_url: str,
) -> str:
    """Return the index as JSON.

    Args:
        pages: All pages; those of tables are left out, for the tables themselves say more.
        tables: The printed tables, in the order in which equal ones are shown.
        questions: The questions of the API, of which those with a form for people are entries too.
        glossary: The address of the page whose rows of two cells lead from everyday words to terms.
        api_url: Where the forms are, without a slash at its end; empty if they are beside the site.
    """
    made = _Index()
    axes = [_table(made, table) for table in tables]
    printed = {entry[1] for entry in made.entries}
    for page in pages:
        if page.url not in printed:
            _page(made, page)
    for question in questions:
        if "ask" in question:
            parts = [
                (_TITLE, question["people_ask"]),
                (_SENTENCE, question["label"]),
                (_SENTENCE, question["description"]),
            ]
            made.add(question["ask"], question["people_ask"], _FORM, 1, parts)
    said = [entry for page in pages if page.url == glossary for entry in _everyday(made, page)]
    for entry in made.entries:
        # a path of the host is no page of the site
        entry[1] = api_url + entry[1] if entry[1].startswith("/") else entry[1]
    return json.dumps(
        {
            "stop": sorted(_STOP),
            "entries": made.entries,
            "words": {word: _steps(found) for word, found in sorted(made.words.items())},
            "said": said,
            "tables": axes,
        },
        ensure_ascii=False,
        separators=(",", ":"),
    )


def _steps(found: list[tuple[int, int]]) -> list[int]:
    """Return entries, each as the step from the one before, and weights in one list: it packs better."""
    before = 0
    steps: list[int] = []
    for number, weight in found:
        steps += number - before, weight
        before = number
    return steps


def _page(made: _Index, page: Page) -> None:
    for i, section in enumerate(_Reader(page.content).sections):
        if i == 0:
            parts = [(_TITLE, page.title), (_SENTENCE, page.description), (_TEXT, section.text)]
            made.add(page.url, page.title, page.description, page.boost, parts)
        else:
            parts = [
                (_TITLE, section.title),
                (_NEAR_TITLE, page.title),
                (_TEXT, section.text),
            ]
            made.add(f"{page.url}#{section.anchor}", section.title, page.title, page.boost, parts)


def _table(made: _Index, table: dict[str, Any]) -> dict[str, Any]:
    axes = [table["rows_by"], *table["columns_by"]]
    labels = {row["label"] for row in table["rows"]}
    labels |= {label for column in table["columns"] for label in column["labels"]}
    number = made.add(
        f"tables/{table['id']}/",
        table["title"],
        table["sentence"],
        _TABLES_FIRST,
        [
            (_TITLE, table["title"]),
            (_NEAR_TITLE, table["group"]),
            (_SENTENCE, table["sentence"]),
            (_SENTENCE, table["description"]),
            *((_SENTENCE, axis["heading"]) for axis in axes),
            *((_SENTENCE, shown["heading"]) for shown in table["prints"]),
            *((_LABEL, label) for label in sorted(labels)),
        ],
    )
    rows, columns = table["rows_by"], table["columns"]
    return {
        "entry": number,
        "rows": {
            **_axis(rows),
            "careful": rows["careful"],
            "labels": [row["label"] for row in table["rows"]],
            "anchors": [row["anchor"] for row in table["rows"]],
        },
        "columns": [_axis(axis) for axis in table["columns_by"]],
        # the pages of a row's entries, in the order of the columns: the last axis goes first
        "pages": [[one["anchor"], ", ".join(one["labels"])] for one in columns]
        if table["entry_pages"]
        else [],
        "prints": sorted({shown["unit"] for shown in table["prints"] if shown["unit"]}),
    }


def _axis(axis: dict[str, Any]) -> dict[str, Any]:
    """Return the unit and the values of an axis as people ask for them: counts of cells, and percent."""
    unit, values = axis["unit"], axis["values"]
    if axis["field"] in ("series", "parallel"):
        unit = "cells"
    elif axis["labels"] and all(label.endswith("%") for label in axis["labels"]):
        unit, values = "%", [round(value * 100, 6) for value in values]
    return {"unit": "layout" if axis["field"] == "layout" else unit, "values": values}


def _everyday(made: _Index, glossary: Page) -> list[list[Any]]:
    """Return each everyday word with the proper one, and with the entries that explain it."""
    found: list[list[Any]] = []
    for said, proper in _EVERYDAY.findall(glossary.content):
        links = _LINK.findall(proper)
        there: list[int] = []
        for href, name in links:
            url = urljoin("/" + glossary.url, unescape(href))
            if href.startswith("/") and not made.at(url):
                made.add(url, _plain(name).capitalize(), _FORM, 1, [])
            there += made.at(url if href.startswith("/") else url.removeprefix("/"))
        names = [_plain(name) for _, name in links]
        # what stands in brackets helps a reader, and nobody types it
        phrases = re.sub(r"\(.*?\)", "", _plain(said)).split(",")
        found += [[" ".join(phrase.split()), names, there] for phrase in phrases]
    return found


def _plain(html: str) -> str:
    return unescape(_TAG.sub("", html))
