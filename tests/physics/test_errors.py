"""Each reason for which there is no answer is declared, with the numbers that it tells."""

import ast
from collections.abc import Iterator
from pathlib import Path

import percell
from percell.physics.errors import REASONS

SOURCE = Path(percell.__file__).parent


def raised() -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield the code and the numbers of each reason in the source."""
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "NoSolution":
                code = node.args[0]
                assert isinstance(code, ast.Constant), path
                yield str(code.value), tuple(str(keyword.arg) for keyword in node.keywords)


def test_what_is_raised_is_declared() -> None:
    """No reason is raised that nobody documents, none is documented that is never raised."""
    found = set(raised())
    assert len(found) >= 20
    assert found == {(code, reason.numbers) for code, reason in REASONS.items()}
