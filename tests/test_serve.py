"""``percell serve`` from its start to its end: where the site lies, what runs beside it, and how it stops."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import click
import httpx
import pytest

from percell import build_beside
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
    started: Callable[[int], Server], workers: int
) -> None:
    """The user's home has the site in its cache and nothing else, and the server ends with status 0."""
    server = started(workers)
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


@pytest.mark.parametrize("workers", [1, 2])
def test_half_a_request_does_not_keep_the_server_alive(
    started: Callable[[int], Server], workers: int
) -> None:
    """A client that announces a body and sends a part of it holds up the end for seconds only."""
    server = started(workers)
    with socket.create_connection(("127.0.0.1", server.port)) as connection:
        head = b"POST /v1/pack HTTP/1.1\r\nHost: here\r\nContent-Type: application/json\r\n"
        connection.sendall(head + b"Content-Length: 100\r\n\r\n{")
        time.sleep(0.5)
        begun = time.monotonic()
        assert server.stop() == 0
        assert time.monotonic() - begun < GRACE_S + 15


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
