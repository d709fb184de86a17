"""Comments, docstrings and the sentences of the API are plain English: these turns have gone, and stay away."""

import ast
import io
import json
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from english import SENTENCE_END, SENTENCE_TURNS, TURNS, words_of

from percell.__main__ import main
from percell.questions.rulebook import RULES
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.web.problems import KINDS

ROOT = Path(__file__).parents[1]
FILES = sorted(
    path.relative_to(ROOT)
    for folder in ("service", "generator")
    for path in (ROOT / folder).rglob("*.py")
)


def prose(source: str) -> Iterator[tuple[int, str]]:
    """Yield each comment and docstring of a module, on one line, with the number of its line."""
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            yield token.start[0], token.string
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            yield getattr(node, "lineno", 1), " ".join((ast.get_docstring(node) or "").split())


def turns_in(source: str) -> list[tuple[int, str]]:
    """Return the turns in the prose of a module."""
    return [
        (line, turn)
        for line, text in prose(source)
        for turn in TURNS
        if re.search(turn, text, re.IGNORECASE)
    ]


@pytest.mark.parametrize(("turn", "sentence"), TURNS.items())
@pytest.mark.parametrize(
    "source",
    ['"""{}"""', "# {}", 'def f():\n    """{}"""', 'class C:\n    """Begin.\n\n    {}\n    """'],
    ids=["module", "comment", "function", "class"],
)
def test_a_turn_is_found(turn: str, sentence: str, source: str) -> None:
    """A comment or docstring with a turn is found, and code with its words is not."""
    assert [found for _, found in turns_in(source.format(sentence))] == [turn]
    assert turns_in(f'SENTENCE = "{sentence}"') == []


def test_the_code_is_in_plain_english() -> None:
    """No comment or docstring of the service and the generator has one of these turns."""
    found = {
        f"{path}:{line}": turn
        for path in FILES
        for line, turn in turns_in((ROOT / path).read_text(encoding="utf-8"))
    }
    assert len(FILES) > 100
    assert found == {}


# of letters: numbers and units are read at a glance
MOST_WORDS = 29
# a sentence that gives the figure of each way of sharing, or each chemistry, is a list
LISTS = re.compile(r"P − ½|: the lower of P,|^Positive electrode: ")
# the texts of an answer, a table and a problem that are sentences
TEXTS = {
    "sentence",
    "what",
    "origin",
    "reason",
    "detail",
    "words",
    "title",
    "caveat",
    "description",
}


def texts_in(
    found: object, names: set[str], *, without: frozenset[str] = frozenset()
) -> Iterator[str]:
    """Yield the texts under these names, however deep."""
    if isinstance(found, dict):
        for name, value in found.items():
            if name in names and isinstance(value, str):
                yield value
            elif name not in without:
                yield from texts_in(value, names, without=without)
    elif isinstance(found, list):
        for value in found:
            yield from texts_in(value, names, without=without)


def helps(command: click.Command) -> Iterator[str]:
    """Yield the help of a command, of its options and of the commands inside it."""
    parts = (command.help or "").replace("\b", "").split("\n\n")
    yield from (part for part in parts if not part.strip().startswith("Examples:"))
    yield from (getattr(one, "help", None) or "" for one in command.params)
    for inside in getattr(command, "commands", {}).values():
        yield from helps(inside)


def texts() -> dict[str, str]:
    """Return what a client can read, with where it is from: document, rules, problems, answers, commands."""
    document = json.loads((ROOT / "openapi/openapi.json").read_text(encoding="utf-8"))
    lines = (ROOT / "openapi/conformance.jsonl").read_text(encoding="utf-8").splitlines()
    found = dict.fromkeys(
        texts_in(document, {"description", "summary"}, without=frozenset({"example", "examples"})),
        "document",
    )
    for rule in RULES:
        found |= dict.fromkeys((rule.title, rule.explanation), f"rule {rule.id}")
    found |= dict.fromkeys((one.sentence for one in CAUTIONS), "caution")
    for kind in KINDS.values():
        found |= dict.fromkeys((kind.title, kind.explanation), f"problem {kind.id}")
    for line in lines:
        known = json.loads(line)
        found |= dict.fromkeys(texts_in(known, TEXTS), str(known.get("id")))
    return found | dict.fromkeys(helps(main), "help")


TEXTS_READ = texts()


def faults_of(text: str) -> list[str]:
    """Return what is wrong with the English of a text."""
    faults = [turn for turn in SENTENCE_TURNS if re.search(turn, text, re.IGNORECASE)]
    for sentence in SENTENCE_END.split(text):
        if len(words_of(sentence)) > MOST_WORDS and not LISTS.search(sentence):
            faults.append(f"{len(words_of(sentence))} words: {sentence}")
        if sentence.count(";") > 1:
            faults.append(f"a chain of semicolons: {sentence}")
    return faults


@pytest.mark.parametrize(("turn", "sentence"), SENTENCE_TURNS.items())
def test_a_turn_of_a_sentence_is_found(turn: str, sentence: str) -> None:
    """A sentence with a turn is found, also beside another sentence."""
    assert turn in faults_of(f"A first sentence. {sentence}")
    assert faults_of("A first sentence.") == []


def test_a_long_sentence_and_a_chain_are_found() -> None:
    """Thirty words in one sentence are too many, and so are two semicolons; in two sentences they are not."""
    word = " ".join(["Word"] + ["word"] * 14)
    assert faults_of(f"{word}. {word}.") == []
    assert faults_of(f"{word} {word}.")
    assert faults_of("One; two; three.") == ["a chain of semicolons: One; two; three."]
    assert faults_of("One; two. Two; three.") == []


def test_the_sentences_of_the_api_are_in_plain_english() -> None:
    """No text that a client can read has one of these turns, an endless sentence or a chain of semicolons."""
    found = {
        f"{place}: {text}": faults
        for text, place in TEXTS_READ.items()
        if (faults := faults_of(text))
    }
    assert len(TEXTS_READ) > 1000
    assert found == {}


def test_a_finding_is_a_sentence() -> None:
    """Each finding begins with a capital or a number and ends with a full stop, because it is pasted alone."""
    lines = (ROOT / "openapi/conformance.jsonl").read_text(encoding="utf-8").splitlines()
    sentences = set(texts_in([json.loads(line) for line in lines], {"sentence"}))
    assert len(sentences) > 50
    assert not [one for one in sentences if not re.match(r"[A-Z0-9“].*[.!]$", one)]
