"""The API on a loopback address, for programs that are strangers to it."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NoReturn

import httpx
import pytest

from percell.web.app import create_app

VENV = Path(sys.executable).parent


class Moody:
    """The API as a client meets it in bad times: away for some requests, or with words from a later version."""

    def __init__(self, app: Any) -> None:
        self.app = app
        self.address = ""
        self.away = 0
        self.later: dict[bytes, bytes] = {}
        self.methods: list[str] = []

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        self.methods.append(scope["method"])
        if self.away:
            self.away -= 1
            # as a proxy in front says it, which knows nothing of problem documents
            body = b"<html><h1>503 Service Unavailable</h1></html>"
            headers = [(b"content-type", b"text/html"), (b"retry-after", b"0")]
            await send({"type": "http.response.start", "status": 503, "headers": headers})
            await send({"type": "http.response.body", "body": body})
            return
        if not self.later:
            await self.app(scope, receive, send)
            return
        started: dict[str, Any] = {}
        parts: list[bytes] = []

        async def rewrite(message: Any) -> None:
            if message["type"] == "http.response.start":
                started.update(message)
                return
            parts.append(message.get("body", b""))
            if message.get("more_body"):
                return
            body = b"".join(parts)
            for now, then in self.later.items():
                body = body.replace(now, then)
            headers = [h for h in started["headers"] if h[0].lower() != b"content-length"]
            length = (b"content-length", str(len(body)).encode())
            await send(started | {"headers": [*headers, length]})
            await send({"type": "http.response.body", "body": body})

        readable = [h for h in scope["headers"] if h[0] != b"accept-encoding"]
        await self.app(scope | {"headers": readable}, receive, rewrite)


@pytest.fixture(scope="session")
def running(serving: Any) -> Iterator[Moody]:
    """Serve the API for all programs of this folder."""
    app = Moody(create_app())
    with serving(app, log_level="warning", lifespan="off") as (host, port):
        app.address = f"http://{host}:{port}"
        # the first request makes the document, for which a busy machine needs longer than some programs wait
        httpx.get(f"{app.address}/openapi.json", timeout=120).raise_for_status()
        yield app


@pytest.fixture
def api(running: Moody) -> Iterator[Moody]:
    """Return the served API, in order again for each test."""
    yield running
    running.away, running.later = 0, {}


@pytest.fixture(scope="session")
def run() -> Callable[..., str]:
    """Return a way to run a program that must succeed, and to get what it prints, on both streams."""

    def start(*command: str | Path, cwd: Path, said: str | None = None) -> str:
        done = subprocess.run(
            [str(part) for part in command],
            cwd=cwd,
            input=said,
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=300,
            env=os.environ
            | {"DO_NOT_TRACK": "1", "NO_COLOR": "1", "PYTHONUTF8": "1"}
            | {"npm_config_offline": "true", "npm_config_update_notifier": "false"}
            | {"PATH": f"{VENV}{os.pathsep}{os.environ['PATH']}"},  # as in an activated environment
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout + done.stderr

    return start


@pytest.fixture(scope="session")
def node_modules(tool: Callable[[str], str], missing: Callable[[str], NoReturn]) -> Path:
    """Return the folder with the packages of Node's that the page names."""
    for program in ("node", "npx"):
        tool(program)
    modules = Path(os.environ.get("PERCELL_NODE_MODULES", "node_modules"))
    for package in ("openapi-fetch", "openapi-typescript", "typescript"):
        if not (modules / package).is_dir():
            missing(f"the npm package {package}")
    return modules.resolve()
