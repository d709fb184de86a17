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


# rules of the linters that are left off, each with the reason
NOT_OF_SPECTRAL = {
    "contact-properties": "whoever runs a service names a contact in its security.txt",
    "license-url": "the licence is named by its SPDX identifier, beside which no address may stand",
    "openapi-tags-alphabetical": "subjects are in the order in which the site lists them",
}
_NO_AUTHENTICATION = "calculations are for everybody, and nothing is kept"
_NO_RATE_LIMIT = "there is no rate limit yet"
_OF_ANSWERS = (
    "it also means answers, which no caller sends; test_openapi.py holds each number, text and list "
    "that is asked to its bounds"
)
NOT_OF_OWASP = {
    "owasp:api2:2023-read-restricted": _NO_AUTHENTICATION,
    "owasp:api2:2023-write-restricted": _NO_AUTHENTICATION,
    "owasp:api8:2023-define-error-responses-401": _NO_AUTHENTICATION,
    "owasp:api4:2023-rate-limit": _NO_RATE_LIMIT,
    "owasp:api4:2023-rate-limit-responses-429": _NO_RATE_LIMIT,
    "owasp:api4:2023-array-limit": _OF_ANSWERS,
    "owasp:api4:2023-integer-limit": _OF_ANSWERS,
    "owasp:api4:2023-string-limit": _OF_ANSWERS,
    "owasp:api4:2023-integer-format": "2.0 is an integer of JSON Schema too, and bounds say more than 32 bits",
    "owasp:api4:2023-string-restricted": "a label or a heading is any text of a caller's, up to its length",
    "owasp:api8:2023-define-cors-origin": "every answer has it, a problem too: test_app.py",
    "owasp:api9:2023-inventory-environment": "the document stands on every host that serves it",
}


def test_spectral_finds_nothing_else(node: Any, document: Path, tmp_path: Path) -> None:
    """All rules for OpenAPI, and those made from OWASP's list of risks: each that is left off would find something."""
    modules = os.environ.get("PERCELL_NODE_MODULES", "")
    safe = Path(modules, "@stoplight/spectral-owasp-ruleset/dist/ruleset.mjs")
    rules = tmp_path / "rules.json"
    found_at = str(safe) if safe.exists() else node(safe.name)
    rules.write_text(json.dumps({"extends": [["spectral:oas", "all"], [found_at, "all"]]}))
    out = tmp_path / "found.json"
    command = ("lint", "-r", rules, "-f", "json", "-o", out, "--fail-severity", "error", document)
    subprocess.run([node("spectral"), *map(str, command)], cwd=tmp_path, timeout=300)
    found = {one["code"] for one in json.loads(out.read_text("utf-8"))}
    assert found == NOT_OF_SPECTRAL.keys() | NOT_OF_OWASP.keys()


def test_redocly_finds_nothing(node: Any, document: Path, tmp_path: Path) -> None:
    """The strict rules of the other, without a warning."""
    command = (
        node("redocly"), "lint", "--extends", "recommended-strict", "--format", "json", document
    )  # fmt: skip
    said = run(*command, cwd=tmp_path)
    report, _ = json.JSONDecoder().raw_decode(said[said.index("{") :])
    assert report["totals"] == {"errors": 0, "warnings": 0, "ignored": 0}, said
