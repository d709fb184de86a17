"""The tools of the trade read the document: two linters, and makers of clients that call the API."""

import json
import os
import socket
import subprocess
import sys
import textwrap
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from percell.questions.registry import QUESTIONS
from percell.web import openapi
from percell.web.app import create_app

BESIDE = Path(sys.executable).parent
# the same question by body and by query; any with a query would do
ASKED = QUESTIONS["direct-load"].example


def run(*command: str | Path, cwd: Path) -> str:
    """Run a program that must succeed, and return what it says."""
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=300,
        env=os.environ
        | {"REDOCLY_TELEMETRY": "off", "DO_NOT_TRACK": "1", "NO_COLOR": "1"}  # no tool calls home
        | {"PATH": f"{BESIDE}{os.pathsep}{os.environ['PATH']}"},  # the client's maker asks for ruff
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


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """Return the address of the API, served over loopback for as long as the tests here run."""
    with closing(socket.create_server(("127.0.0.1", 0))) as listening:
        server = uvicorn.Server(uvicorn.Config(create_app(), log_level="warning", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        limit = time.monotonic() + 20
        while not server.started and time.monotonic() < limit:
            time.sleep(0.01)
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
        server.should_exit = True
        thread.join(20)


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


def test_a_python_client_calls_the_api(
    tool: Any, document: Path, tmp_path: Path, address: str
) -> None:
    """A client made from the document alone asks by GET and by POST, and reads the answer."""
    beside = BESIDE / "openapi-python-client"
    maker = beside if beside.exists() else tool("openapi-python-client")
    said = run(
        maker,
        "generate",
        "--path",
        document,
        "--meta",
        "none",
        "--output-path",
        "made",
        cwd=tmp_path,
    )
    of_each = {"items": [{"question": q.id, "ask": q.example} for q in QUESTIONS.values()]}
    assert "warning" not in said.lower(), said
    program = tmp_path / "program.py"
    program.write_text(
        textwrap.dedent(
            f"""
            import json
            from made import Client
            from made.api.loads import ask_direct_load, get_direct_load
            from made.api.many_at_once import ask_batch
            from made.models import Batch, DirectLoad, DirectLoadAnswer

            asked = json.loads({json.dumps(ASKED)!r})
            with Client(base_url={address!r}, raise_on_unexpected_status=True) as client:
                by_post = ask_direct_load.sync(client=client, body=DirectLoad.from_dict(asked))
                by_get = get_direct_load.sync(client=client, **asked)
                batch = ask_batch.sync(client=client, body=Batch.from_dict({of_each!r}))
            assert isinstance(by_post, DirectLoadAnswer), by_post
            assert isinstance(by_get, DirectLoadAnswer), by_get
            for item in batch.items:
                assert item.question == item.answer.question, item
                name = "".join(word.capitalize() for word in item.question.split("-"))
                assert type(item.answer).__name__ == name + "Result", item
            print(json.dumps([by_post.to_dict(), by_get.to_dict()]))
            """
        )
    )
    by_post, by_get = json.loads(run(sys.executable, "-W", "error", program, cwd=tmp_path))
    shown = openapi.document()["components"]["examples"]["ask_direct_load"]["value"]
    assert by_post == by_get == shown


def test_typescript_types_hold_a_question_and_its_answer(
    node: Any, document: Path, tmp_path: Path
) -> None:
    """Types made from the document take the example as a question, and refuse what the API refuses."""
    made = run(node("openapi-typescript"), document, cwd=tmp_path)
    (tmp_path / "percell.ts").write_text(made[made.index("/**") :])
    compiler = [
        node("tsc"),
        "--strict",
        "--noEmit",
        "--target",
        "es2022",
        "--moduleResolution",
        "bundler",
        "--module",
        "esnext",
    ]
    right = f"""
        import type {{ paths }} from "./percell";
        type Ask = paths["/v1/direct-load"]["post"];
        type Body = Ask["requestBody"]["content"]["application/json"];
        type Answer = Ask["responses"][200]["content"]["application/json"];
        type Query = paths["/v1/direct-load"]["get"]["parameters"]["query"];
        export const body: Body = {json.dumps(ASKED)};
        export const query: Query = {json.dumps(ASKED)};
        export function worst(answer: Answer): number {{ return answer.worst_cell_current_a; }}
        type Batch = paths["/v1/batch"]["post"]["responses"][200]["content"]["application/json"];
        export function each(batch: Batch): number[] {{
            return batch.items.map((item) => {{
                switch (item.answer?.question) {{
                    case "direct-load": return item.answer.worst_cell_current_a;
                    case "pack": return item.answer.cell_count;
                    default: return 0;
                }}
            }});
        }}
        export function said(answer: Answer): string[] {{
            return answer.findings.map((finding) => `${{finding.severity}} ${{answer.verdict}}`);
        }}
    """
    (tmp_path / "right.ts").write_text(right)
    run(*compiler, "right.ts", cwd=tmp_path)
    wrong = right.replace('"cell_rating_a": 20', '"cell_rating_a": "20"')
    assert wrong != right
    (tmp_path / "wrong.ts").write_text(wrong)
    with pytest.raises(AssertionError, match=r"wrong\.ts.*not assignable to type 'number'"):
        run(*compiler, "wrong.ts", cwd=tmp_path)
