"""The conformance kit holds for this version, and notices a deployment that answers otherwise."""

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from litestar.testing import TestClient

from percell import VERSION, conformance, conformance_kit
from percell.__main__ import main
from percell.conformance import differences
from percell.questions.registry import QUESTIONS
from percell.web.app import create_app
from percell.web.kit import kit_file


@pytest.fixture(scope="module")
def client() -> Iterator[Any]:
    """Return a caller of the API."""
    with TestClient(create_app()) as caller:
        yield caller


@pytest.fixture(scope="module")
def document(client: Any) -> Any:
    """Return the served document."""
    return client.get("/openapi.json").json()


COMMITTED = Path(__file__).parents[1] / "openapi" / "conformance.jsonl"
KIT_VERSION, LINES = conformance.read(COMMITTED)


def test_the_committed_kit_is_that_of_this_version() -> None:
    """Each request is there with the answer that this version gives; the last digits are the machine's."""
    write = "write the kit anew with `percell openapi` and commit it"
    assert KIT_VERSION == VERSION, write
    now = conformance_kit.lines()
    assert [line["id"] for line in now] == [line["id"] for line in LINES], write
    told = [
        f"{kept['id']}{one}"
        for kept, line in zip(LINES, now, strict=True)
        for one in differences(kept, line)
    ]
    assert told == [], write


def test_the_kit_asks_every_question_in_every_way(document: Any) -> None:
    """Each operation of the document is asked, each question by POST, and each problem's status is there."""
    asked = {line["id"].partition(",")[0] for line in LINES}
    for path, operations in document["paths"].items():
        if path != "/v1/reference" and "{" not in path:
            assert {f"{method.upper()} {path}" for method in operations} <= asked
    assert {f"POST /v1/{question}" for question in QUESTIONS} <= asked
    for form in ("short", "csv", "reply"):
        assert len([one for one in asked if one.startswith(f"GET /v1/{form}/")]) > 20
    assert {400, 404, 405, 406, 415, 422} <= {line["status"] for line in LINES}
    fine = [line for line in LINES if line["id"].startswith(("GET ", "POST "))]
    assert {line["status"] for line in fine} == {200}
    assert len({line["id"] for line in LINES}) == len(LINES)


@pytest.mark.parametrize(
    ("name", "codes"),
    [
        ("a needed field is missing", {"missing"}),
        ("a number in quotes", {"wrong_type"}),
        ("a number below its bound, and an unknown name", {"below", "unknown"}),
        ("a contradiction", {"contradiction"}),
        ("no physical answer", {"power_not_available"}),
    ],
)
def test_a_fault_of_the_kit_is_the_one_that_it_names(name: str, codes: set[str]) -> None:
    """A request with another fault than its own would leave its own unasked."""
    (line,) = (line for line in LINES if line["id"] == name)
    problem = line["answer"]
    found = {problem.get("code"), *(one["code"] for one in problem.get("errors", ()))} - {None}
    assert found == codes


def test_the_kit_is_served_for_download(client: Any) -> None:
    """The site links to it, and the index names it."""
    answer = client.get(client.get("/v1").json()["conformance"])
    assert answer.headers["content-type"] == "application/jsonl"
    assert answer.content == kit_file().read_bytes() == COMMITTED.read_bytes()


@pytest.mark.parametrize(
    ("expected", "found", "told"),
    [
        ({"a": 1.0}, {"a": 1.0 + 1e-10}, []),
        ({"a": 1.0}, {"a": 1}, []),
        ({"a": 1.0}, {"a": 1.0 + 2e-9}, ["/a: 1.0 expected, 1.000000002 found"]),
        ({"a": 0.0}, {"a": 1e-15}, []),
        ({"a": 1}, {"a": True}, ["/a: 1 expected, true found"]),
        ({"a": 1}, {"a": "1"}, ['/a: 1 expected, "1" found']),
        ({"a": None}, {"a": 0}, ["/a: null expected, 0 found"]),
        ({"a": 1}, {}, ["/a: missing"]),
        ({}, {"a": 1}, ["/a: not expected"]),
        ([1, 2], [1], [": 2 entries expected, 1 found"]),
        ({"a": [{"b": 1}]}, {"a": [{"b": 2}]}, ["/a/0/b: 1 expected, 2 found"]),
        ("x\n1.5,2", "x\n1.5000000001,2", []),
        ("x\n1.5,2", "x\n1.6,2", ['line 2: "1.5,2" expected, "1.6,2" found']),
        ("x\ny", "x", ['line 2: "y" expected, null found']),
        ("13.2 A", "13.3 A", ['the answer: "13.2 A" expected, "13.3 A" found']),
        ({"l": "/method/#a"}, {"l": "https://tables.example/method/#a"}, []),
        ({"l": "/method/#a"}, {"l": "https://tables.example/method/#b"},
         ['/l: "/method/#a" expected, "https://tables.example/method/#b" found']),
    ],
)  # fmt: skip
def test_a_difference_is_told_with_its_place(expected: Any, found: Any, told: list[str]) -> None:
    """A billionth and a deployment's own address are no difference; all else is, and says where."""
    assert [*differences(expected, found)] == told


class Changed:
    """The application, with one text in one answer replaced by another."""

    def __init__(self, path: str, change: tuple[bytes, bytes]) -> None:
        self.app: Any = create_app()
        self.path = path
        self.change = change

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Answer, with the change."""
        start: list[Any] = []

        async def changed(message: Any) -> None:
            if message["type"] == "http.response.start":
                start.append(message)
                return
            if scope["path"] == self.path and self.change[0] in message["body"]:
                message["body"] = message["body"].replace(*self.change, 1)
                kept = [h for h in start[0]["headers"] if h[0] != b"content-length"]
                start[0]["headers"] = [*kept, (b"content-length", b"%d" % len(message["body"]))]
            await send(start[0])
            await send(message)

        await self.app(scope, receive, changed if scope["type"] == "http" else send)


@pytest.fixture
def deployed(serving: Any) -> Iterator[Callable[[Any], str]]:
    """Return a way to serve an application on a port of its own."""
    with ExitStack() as running:
        yield lambda app: "http://{}:{}".format(
            *running.enter_context(serving(app, lifespan="off"))
        )


def run(*arguments: str) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["conformance", *arguments])


def test_a_deployment_of_this_version_conforms(deployed: Callable[[Any], str]) -> None:
    """The command, and the file alone with nothing but Python, find no difference."""
    url = deployed(create_app())
    done = run(f"{url}/")
    assert done.output == f"all {len(LINES)} requests are answered as by percell {VERSION}\n"
    assert done.exit_code == 0
    alone = subprocess.run(
        [sys.executable, "-I", "-S", conformance.__file__, url, str(COMMITTED)],
        capture_output=True,
        text=True,
    )
    assert alone.stdout == done.output, alone.stderr
    assert alone.returncode == 0


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b'"pack_energy_wh":', b'"pack_energy_wh":1'),
        (b'"verdict":"within_limit"', b'"verdict":"over_limit"'),
    ],
)
def test_one_changed_figure_is_found(
    deployed: Callable[[Any], str], before: bytes, after: bytes
) -> None:
    """A deployment that answers one question otherwise fails, and the place is named."""
    (line,) = [line for line in LINES if line["id"] == "POST /v1/pack"]
    assert before in json.dumps(line["answer"], separators=(",", ":")).encode()
    url = deployed(Changed("/v1/pack", (before, after)))
    done = run(url)
    assert done.exit_code == 1
    told = done.output.splitlines()
    # by POST and by GET
    assert (
        told[-1] == f"2 of {len(LINES)} requests are answered otherwise than by percell {VERSION}"
    )
    assert {one.partition(": ")[0] for one in told[:-1]} == {"POST /v1/pack", "GET /v1/pack"}
    assert len(told) == 3


@pytest.mark.parametrize("url", ["http://127.0.0.1:9", "ftp://127.0.0.1", "nowhere"])
def test_where_nothing_answers_the_command_says_so(url: str) -> None:
    """One line, and a status other than 0."""
    done = run(url)
    assert done.exit_code == 1
    assert done.output.startswith("Error: ")
    assert len(done.output.splitlines()) == 1


def test_another_status_or_media_type_is_told(
    deployed: Callable[[Any], str], tmp_path: Path
) -> None:
    """What is no answer at all is told as such."""

    async def page(scope: Any, _: Any, send: Any) -> None:
        media = b"text/html" if scope["path"] == "/healthz" else b"application/json"
        head = {"type": "http.response.start", "status": 200, "headers": [(b"content-type", media)]}
        await send(head)
        await send({"type": "http.response.body", "body": b"<p>"})

    wanted = [line for line in LINES if line["id"] in ("GET /healthz", "no such path", "GET /v1")]
    kit = tmp_path / "kit.jsonl"
    kit.write_text("\n".join(map(json.dumps, [{"version": VERSION}, *wanted])))
    done = run(deployed(page), "--kit", str(kit))
    assert done.output.splitlines() == [
        "GET /v1: the answer is not JSON",
        "GET /healthz: media type: application/json expected, text/html found",
        "no such path: status: 404 expected, 200 found",
        "no such path: media type: application/problem+json expected, application/json found",
        f"3 of 3 requests are answered otherwise than by percell {VERSION}",
    ]


@pytest.mark.parametrize(
    ("asked", "query"),
    [
        ({"layout": "1S2P", "a": 1.5}, "layout=1S2P&a=1.5"),
        ({"sharing": {"spread": 0.1}}, "sharing.spread=0.1"),
        ({"log": {"charge_ah": [0, 1]}}, "log.charge_ah=0&log.charge_ah=1"),
        ({"cells": [{"v": 4, "r": 1}, {"v": 3}]}, "cells.v=4&cells.v=3&cells.r=1&cells.r="),
    ],
)
def test_a_question_is_written_as_a_query(asked: Any, query: str) -> None:
    """Objects take dots, lists repeat their fields, and an entry without a field has an empty value."""
    assert conformance_kit.as_query(asked) == query
