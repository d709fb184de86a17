"""The linters of the trade read the document. Makers of clients: see ``tests/clients``."""

import json
import os
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from percell.web import openapi


def run(*command: str | Path, cwd: Path) -> str:
    """Run a program that must succeed, and return what it says."""
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=300,
        env=os.environ
        | {"REDOCLY_TELEMETRY": "off", "DO_NOT_TRACK": "1", "NO_COLOR": "1"},  # no tool calls home
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


@pytest.fixture
def document(tmp_path: Path) -> Path:
    """Return the document as a file."""
    path = tmp_path / "openapi.json"
    path.write_text(openapi.as_text(), "utf-8")
    return path


@pytest.fixture(scope="module")
def node(tool: Callable[[str], str]) -> Callable[[str], str]:
    """Return the finder of a program of Node's, in ``PERCELL_NODE_MODULES`` or on the path."""

    def find(name: str) -> str:
        modules = os.environ.get("PERCELL_NODE_MODULES")
        here = Path(modules) / ".bin" / name if modules else None
        return str(here) if here and here.exists() else tool(name)

    return find


def test_spectral_finds_nothing(node: Any, document: Path, tmp_path: Path) -> None:
    """The recommended rules for OpenAPI of the one linter, with hints counted as faults."""
    rules = tmp_path / "rules.yaml"
    rules.write_text('extends: ["spectral:oas"]\n')
    said = run(node("spectral"), "lint", "-r", rules, "-F", "hint", document, cwd=tmp_path)
    assert "No results" in said, said


def test_redocly_finds_nothing(node: Any, document: Path, tmp_path: Path) -> None:
    """The recommended rules of the other, without a warning."""
    command = (node("redocly"), "lint", "--extends", "recommended", "--format", "json", document)
    said = run(*command, cwd=tmp_path)
    report, _ = json.JSONDecoder().raw_decode(said[said.index("{") :])
    assert report["totals"] == {"errors": 0, "warnings": 0, "ignored": 0}, said
