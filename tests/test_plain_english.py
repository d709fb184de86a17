"""Comments and docstrings of the code are plain English: these turns have gone, and stay away."""

import ast
import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
FILES = sorted(
    path.relative_to(ROOT)
    for folder in ("service", "generator")
    for path in (ROOT / folder).rglob("*.py")
)
# each turn with a sentence that has it
TURNS = {
    r"\b(gravest|nought|reckoned|whoever|kindly)\b": "Findings, gravest first.",
    r"\bmakers?\b": "The maker's rating comes first.",
    r"\bhardest-worked\b": "Return the hardest-worked cell.",
    r"\bhangs? on\b": "The verdict hangs on the rating.",
    r"\b(held|hold) against\b": "The current is held against the rating.",
    r"\b(is|are) told\b": "The faults are told by their rows.",
    r"\bwhat (else )?(there is )?to say\b": "Return what there is to say about a cell.",
    r"\bon the careful side\b": "Return the row on the careful side.",
    r"\bis none (that|of)\b": "The value is none that the question takes.",
    r"\bof one's own\b": "A table of one's own.",
    r"\bby head\b": "A pack worked out by head.",
    r"\b(at the most|at the least)\b": "It gives 40 W at the most.",
    r"\bas it takes to\b": "As many digits as it takes to tell them apart.",
    r"\bfor want of\b": "The lowest value, for want of its own.",
    r"\bfree ride\b": "No cell gets a free ride.",
}


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
