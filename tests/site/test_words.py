"""The pages are in plain English: no turns that have gone, no names of fields, no endless sentences."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from english import SENTENCE_END, SENTENCE_TURNS, words_of

# for people who write programs, or who judge logs on a command line
FOR_PROGRAMS = {
    "api",
    "changelog",
    "changes",
    "docs",
    "for-site-owners",
    "learn/own-cells",
    "linking",
    "make-a-client",
    "problems",
    "run-it",
}
# turns that no page may have, each with a sentence that has it
TURNS = SENTENCE_TURNS | {
    r"\b(V|Ω|°C|Ah|cycles) an? (cell|year|metre|hour)\b": "Charged to 4.2 V a cell.",
    r"\bthereby\b": "A claim below it is not thereby true.",
    r"\bhave (it|them) that\b": "The trade would have it that cells share evenly.",
    r"(?<!as )\b(is|are) (perfectly |quite |completely )?(safe|fine|ok|harmless)\b": "Up to 20 A it is fine.",
}
MOST_WORDS = 29
# what is no sentence of prose: sources, conditions, and lists of figures or rules
LISTS = re.compile(
    r"^(\*?Sources?:|`chemistry Positive electrode:|Figures are rounded|Share of the worst-case cell in parallel:)|These figures hold for"
    r"|secondary copy|published source|data set|unconfirmed|\bcommit\b|DOI |; .*; "
)
# an index is read beside its links
LONG = {"tables"}
# sayings are quoted to be denied, and advice that is quoted keeps its condition
QUOTED = re.compile(r"“[^”]*”|\"[^\"]*\"|(If you|If it) can (do it|be done) safely")
# the method page lists the chemistries for programs too
NAME = re.compile(r"\b(?!lco_high_voltage)[a-z]+_[a-z0-9_]+\b")
BLOCKS = {"p", "li", "dd", "dt", "td", "th", "h1", "h2", "h3", "summary", "figcaption", "caption"}
# a cite names a source
UNREAD = {"script", "style", "svg", "pre", "nav", "cite", "select", "textarea"}


class Texts(HTMLParser):
    """The texts of a page, one for each block."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self._text = ""
        self._unread = 0
        self.feed(page.partition("<body")[2].partition(">")[2])
        self._end()

    def _end(self) -> None:
        text = " ".join(self._text.split())
        if text:
            self.found.append(text)
        self._text = ""

    def handle_starttag(self, tag: str, *_: object) -> None:
        self._unread += tag in UNREAD
        if tag in BLOCKS:
            self._end()
        if tag == "code":
            # a sentence can begin with it
            self._text += "`"

    def handle_endtag(self, tag: str) -> None:
        self._unread -= tag in UNREAD
        if tag in BLOCKS:
            self._end()

    def handle_data(self, data: str) -> None:
        if not self._unread:
            self._text += data


def faults_of(text: str, *, names: bool = False, long: bool = False) -> list[str]:
    """Return what is wrong with the English of a text.

    Args:
        text: What a block of the page says.
        names: Whether it may name fields.
        long: Whether its sentences may be long.
    """
    said = QUOTED.sub("", text)
    faults = [turn for turn in TURNS if re.search(turn, said, re.IGNORECASE)]
    if not names:
        faults += NAME.findall(said)
    for sentence in SENTENCE_END.split(text):
        if not long and len(words_of(sentence)) > MOST_WORDS and not LISTS.search(sentence):
            faults.append(f"{len(words_of(sentence))} words: {sentence}")
    return faults


@pytest.mark.parametrize(("turn", "sentence"), TURNS.items())
def test_a_turn_on_a_page_is_found(turn: str, sentence: str) -> None:
    """A block with a turn is found, also inside other marks, and code and sources are not read."""
    (text,) = Texts(f"<body><p>First. <b>{sentence}</b></p><pre>{sentence}</pre>").found
    assert turn in faults_of(text)


def test_a_name_and_an_endless_sentence_are_found() -> None:
    """A reader's page has labels in place of names, and 30 words are too many."""
    assert faults_of("Give the cell_rating_a.") == ["cell_rating_a"]
    assert faults_of("Give the cell_rating_a.", names=True) == []
    assert faults_of(" ".join(["word"] * 30))
    assert faults_of(" ".join(["word"] * 30), long=True) == []
    assert faults_of(" ".join(["word"] * 29)) == []


def test_the_pages_are_in_plain_english(site: Path, page_addresses: list[str]) -> None:
    """No page but the changelog has one of these turns; only pages for programs have names of fields."""
    found = {}
    read = 0
    for address in page_addresses[:-1]:
        path = address.strip("/")
        if path.startswith("changelog"):
            continue
        names = any(path == one or path.startswith(f"{one}/") for one in FOR_PROGRAMS)
        for text in Texts((site / path / "index.html").read_text("utf-8")).found:
            read += 1
            if faults := faults_of(text, names=names, long=path in LONG):
                found[f"{path}: {text[:200]}"] = faults
    assert read > 5000
    assert found == {}
