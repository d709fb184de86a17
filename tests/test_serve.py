"""``percell serve`` from its start to its end: where the site lies, what runs beside it, and how it stops."""

import asyncio
import json
import os
import runpy
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any
from unittest.mock import patch

import click
import httpx
import pytest
import uvicorn
from click.testing import CliRunner

from percell import build_beside
from percell.__main__ import main
from percell.serve import settings
from percell.site_build import STAMP

GRACE_S = 5  # how long a request may hold up the end


class Server:
    """A running ``percell serve`` of a user whose home is a folder of the test's."""

    def __init__(self, home: Path, workers: int) -> None:
        with socket.create_server(("127.0.0.1", 0)) as probe:
            self.port: int = probe.getsockname()[1]
        self.home = home
        self.url = f"http://127.0.0.1:{self.port}/"
        self.log = home / "log"
        kept = {name: value for name, value in os.environ.items() if not name.startswith("XDG_")}
        options = ["--port", str(self.port), "--workers", str(workers)]
        with self.log.open("w") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "percell", "serve", *options],
                env=kept | {"HOME": str(home)},
                stdout=log,
                stderr=subprocess.STDOUT,
            )
        self.until(lambda: httpx.get(f"{self.url}healthz").status_code == 200)

    def until(self, true: Callable[[], object], seconds: float = 180) -> None:
        """Wait for something to come true while the server runs."""
        limit = time.monotonic() + seconds
        while time.monotonic() < limit:
            try:
                if true():
                    return
            except httpx.TransportError:
                pass
            assert self.process.poll() is None, self.log.read_text()
            time.sleep(0.05)
        pytest.fail(f"not within {seconds} s: {self.log.read_text()}")

    def built(self) -> bool:
        """Return whether the site is there."""
        return httpx.get(self.url).status_code == 200

    def children(self) -> dict[int, str]:
        """Return the processes that the server started, each with its state; a zombie's is Z."""
        found = {}
        for stat in Path("/proc").glob("[0-9]*/stat"):
            try:
                state, parent = stat.read_text().rpartition(")")[2].split()[:2]
            except (FileNotFoundError, ProcessLookupError):  # it has just ended
                continue
            if int(parent) == self.process.pid:
                found[int(stat.parent.name)] = state
        return found

    def stop(self, number: int = signal.SIGTERM) -> int:
        """Send a signal, and return the exit status."""
        self.process.send_signal(number)
        return self.process.wait(GRACE_S + 55)


@pytest.fixture
def started(tmp_path: Path) -> Iterator[Callable[[int], Server]]:
    """Return a way to start servers; none of them outlives its test."""
    servers: list[Server] = []

    def start(workers: int) -> Server:
        servers.append(Server(tmp_path, workers))
        return servers[-1]

    yield start
    for server in servers:
        if server.process.poll() is None:
            server.process.kill()
            server.process.wait()


@pytest.mark.parametrize("workers", [1, 2])
def test_the_site_lies_in_the_cache_and_the_build_leaves_no_zombie(
    started: Callable[[int], Server], workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The user's home has the site in its cache and nothing else, and the server ends with status 0.

    That holds too if the server answers for the host of its readers alone.
    """
    if workers == 2:
        monkeypatch.setenv("PERCELL_ALLOWED_HOSTS", "tables.example")
    server = started(workers)
    foreign = httpx.get(f"{server.url}v1", headers={"host": "evil.example"})
    assert foreign.status_code == (200 if workers == 1 else 421)
    beside = 0 if workers == 1 else workers + 1  # multiprocessing adds a process of its own
    server.until(server.built)
    server.until(lambda: len(server.children()) == beside, 30)
    assert "Z" not in server.children().values()
    assert server.stop() == 0
    site = server.home / ".cache/percell/site"
    assert (site / STAMP).is_file()
    assert [path.name for path in site.parent.iterdir()] == ["site"]
    assert {path.name for path in server.home.iterdir()} == {".cache", "log"}
    assert server.log.read_text().splitlines() == [
        f"percell on {server.url} (stop with Ctrl-C)",
        f"built {site}",
    ]


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
@pytest.mark.parametrize("workers", [1, 2])
def test_a_build_ends_with_the_server(
    started: Callable[[int], Server], workers: int, number: int
) -> None:
    """A signal during a build ends server and build with status 0, and leaves nothing half built."""
    server = started(workers)
    place = server.home / ".cache/percell"
    server.until(lambda: place.is_dir() and [*place.iterdir()])
    assert [path.name.startswith(".site-") for path in place.iterdir()] == [True]
    children = server.children()
    assert server.stop(number) == 0
    assert [*place.iterdir()] == []
    limit = time.monotonic() + 30  # the helper of multiprocessing ends a moment after the server
    while left := [child for child in children if Path(f"/proc/{child}").exists()]:
        assert time.monotonic() < limit, left
        time.sleep(0.05)
    assert "Traceback" not in server.log.read_text()


HALF = {
    "half a head": b"POST /v1/pack HTTP/1.1\r\nHost:",
    "half a body": b"POST /v1/pack HTTP/1.1\r\nHost: here\r\nContent-Type: application/json\r\n"
    b"Content-Length: 100\r\n\r\n{",
    "nothing": b"",
    "an answer": b"GET /healthz HTTP/1.1\r\nHost: here\r\n\r\n",
}


@pytest.mark.parametrize("workers", [1, 2])
def test_nothing_that_hangs_open_keeps_the_server_alive(
    started: Callable[[int], Server], workers: int
) -> None:
    """Half requests, idle connections and long calculations hold up the end for seconds only."""
    server = started(workers)
    spread = {"parallel": 20, "group_current_a": 1, "random_groups": 200_000, "contact_spread": 0.1}
    spread |= {"contact_resistance_ohm": 0.01, "voltage_spread_v": 0.01}
    items = [{"question": "sharing-by-spread", "ask": spread | {"seed": n}} for n in range(50)]
    batch = json.dumps({"items": items}).encode()
    head = b"POST /v1/batch HTTP/1.1\r\nHost: here\r\nContent-Type: application/json\r\n"
    long = head + b"Content-Length: %d\r\n\r\n%b" % (len(batch), batch)
    with ExitStack() as open_until_then:
        for sent in [*HALF.values(), long, long, long]:
            connection = socket.create_connection(("127.0.0.1", server.port))
            open_until_then.enter_context(connection)
            connection.sendall(sent)
        time.sleep(1)
        begun = time.monotonic()
        assert server.stop() == 0
        assert time.monotonic() - begun < GRACE_S + 10
    assert "Fatal" not in server.log.read_text()


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("PERCELL_SITE_URL", "https://example.org/percell/", "without a path"),
        ("PERCELL_SITE_URL", "example.org", "give an address"),
        ("PERCELL_SITE_URL", "https://example.org/?a", "without a path"),
        ("PERCELL_SITE_URL", "http://[::1", "give an address"),
        ("PERCELL_ALLOWED_HOSTS", "a.*.example", "give hosts"),
        ("PERCELL_ALLOWED_HOSTS", "https://example.org/", "give hosts"),
        ("PERCELL_TRUSTED_PROXIES", "10.0.0.1/8", "give addresses"),
        ("PERCELL_HEAD_TIMEOUT_S", "0", "0"),
        ("PERCELL_IDLE_TIMEOUT_S", "nan", "nan"),
    ],
)
def test_a_wrong_environment_is_refused_at_the_start(
    tmp_path: Path, name: str, value: str, says: str
) -> None:
    """One line names the variable and what is wrong, and nothing is started or written."""
    with patch.dict(os.environ, {"HOME": str(tmp_path), name: value}):
        os.environ.pop("XDG_CACHE_HOME", None)
        done = CliRunner().invoke(main, ["serve", "--port", "1"])
        assert done.exit_code != 0
        assert done.stdout == ""
        assert [*tmp_path.iterdir()] == []
        last = done.stderr.splitlines()[-1]
        assert last.startswith("Error: ")
        assert name in last
        assert says in last
        # another server loads the application by itself
        if "TIMEOUT" not in name and "PROXIES" not in name:
            with patch.dict(sys.modules):
                sys.modules.pop("percell.web.asgi", None)  # another test may have loaded it
                with pytest.raises(SystemExit) as refused:
                    runpy.run_module("percell.web.asgi")
            assert f"{refused.value}\n" == done.stderr


def test_a_limit_that_is_no_number_is_refused_when_the_service_is_loaded(tmp_path: Path) -> None:
    """The command and another server end with one and the same line."""
    environment = os.environ | {"HOME": str(tmp_path), "PERCELL_BODY_LIMIT_BYTES": "1 MB"}
    for start in (["-m", "percell", "serve", "--port", "1"], ["-c", "import percell.web.asgi"]):
        command = [sys.executable, *start]
        done = subprocess.run(command, env=environment, capture_output=True, text=True)
        assert (done.returncode, done.stdout) == (1, "")
        assert done.stderr == (
            "Error: PERCELL_BODY_LIMIT_BYTES is '1 MB': give a number of bytes, such as 1048576\n"
        )


def test_forwarded_headers_count_from_configured_proxies_only() -> None:
    """Without PERCELL_TRUSTED_PROXIES from nobody, not even from this machine; with it, from these."""
    assert settings({})["proxy_headers"] is False
    named = settings({"PERCELL_TRUSTED_PROXIES": "10.0.0.7, 10.0.1.0/24"})
    assert named["proxy_headers"] is True
    assert named["forwarded_allow_ips"] == "10.0.0.7, 10.0.1.0/24"

    def seen(environment: dict[str, str]) -> tuple[str, str]:
        found: list[Any] = []

        async def app(scope: Any, receive: Any, send: Any) -> None:  # noqa: ARG001 - as a server calls it
            found.append(scope)

        config = uvicorn.Config(app, **settings(environment))
        config.load()
        headers = [(b"x-forwarded-for", b"1.2.3.4"), (b"x-forwarded-proto", b"https")]
        scope = {"type": "http", "scheme": "http", "client": ("127.0.0.1", 1), "headers": headers}
        asyncio.run(config.loaded_app(scope, None, None))  # type: ignore[arg-type]
        return found[0]["scheme"], found[0]["client"][0]

    assert seen({}) == ("http", "127.0.0.1")
    assert seen({"PERCELL_TRUSTED_PROXIES": "10.0.0.7"}) == ("http", "127.0.0.1")
    assert seen({"PERCELL_TRUSTED_PROXIES": "10.0.0.7,127.0.0.1"}) == ("https", "1.2.3.4")


def test_a_site_with_own_cells_is_not_built_into_the_cache(tmp_path: Path) -> None:
    """What the server cannot build again does not go where anyone may delete it."""
    (tmp_path / "cells").mkdir()
    cache = tmp_path / "cache/percell/site"
    done = subprocess.run(
        [sys.executable, "-m", "percell", "site", "build", "--cells", "cells", "--out", str(cache)],
        cwd=tmp_path,
        env=os.environ | {"XDG_CACHE_HOME": str(tmp_path / "cache")},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1
    assert done.stderr.startswith(f"Error: Do not use {cache} for a site with cells of your own")
    assert not cache.exists()


def test_a_build_gives_up_on_a_server_that_never_starts(monkeypatch: pytest.MonkeyPatch) -> None:
    """After its time the build ends, and says in one line why there is no site."""
    monkeypatch.setattr(build_beside, "_WAIT_S", 0.2)
    with socket.socket() as taken:  # nothing listens at its port
        taken.bind(("127.0.0.1", 0))
        api = f"http://127.0.0.1:{taken.getsockname()[1]}/"
        with pytest.raises(click.ClickException, match=f"the site was not built: {api}: "):
            build_beside._wait_for(api)


def test_a_build_that_fails_ends_with_one_line(started: Callable[[int], Server]) -> None:
    """A folder that cannot be written is named, with status 1."""
    server = started(1)
    (server.home / "file").write_text("no folder")
    done = subprocess.run(
        [sys.executable, "-m", "percell.build_beside", server.url, "file/site", server.url],
        cwd=server.home,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1
    assert done.stderr.startswith("Error: the site was not built: ")
    assert len(done.stderr.splitlines()) == 1


def test_a_contact_that_is_no_address_stops_the_start(tmp_path: Path) -> None:
    """The operator reads one line, and nothing is started."""
    done = subprocess.run(
        [sys.executable, "-m", "percell", "serve", "--site", str(tmp_path / "site")],
        env=os.environ | {"PERCELL_CONTACT": "nobody"},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.startswith("Error: PERCELL_CONTACT is 'nobody'")
