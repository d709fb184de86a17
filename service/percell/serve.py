"""Serve the API and the site from one process group."""

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Any

import click
import uvicorn
from uvicorn.supervisors import Multiprocess

from percell.protocol import Protocol
from percell.site_build import has_own_cells, is_current, refuse_foreign, site_url

# what the server is told besides where to listen
SETTINGS: dict[str, Any] = {
    "loop": "uvloop",
    "http": Protocol,
    "ws": "none",
    "log_level": "warning",
    "access_log": False,
    "server_header": False,
}


def serve(*, host: str, port: int, workers: int, site: Path | None) -> None:
    """Start the server, and a build of the site beside it where one is due.

    Raises:
        click.ClickException: The folder is somebody else's, or the address cannot be listened on;
            nothing was started or written.
    """
    folder = (site or Path(click.get_app_dir("percell")) / "site").resolve()
    address = f"http://{_at(host)}:{port}/"
    url = site_url(address)
    due = not is_current(folder, url)
    if due and has_own_cells(folder):
        click.echo(
            f"The site in {folder} was built for another address or by another version, and stays, for it "
            "has cells of your own. To build it again: percell site build --cells, with PERCELL_SITE_URL"
        )
        due = False
    if due:
        refuse_foreign(folder)
    listener = _listening(host, port)
    os.environ["PERCELL_SITE"] = str(folder)
    click.echo(f"percell on {address} (stop with Ctrl-C)")
    # the server, once it has shut down, goes by what its signal would have done without it: by
    # default that ends this process at once, and leaves the build behind
    signal.signal(signal.SIGTERM, lambda number, _: sys.exit(128 + number))
    with _build_beside(folder, address, url) if due else nullcontext():
        _run(listener, workers)


def _listening(host: str, port: int) -> socket.socket:
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        return socket.create_server((host, port), family=family)
    except OSError as error:
        why = str(error.strerror).partition(" (while")[0]  # what follows says the address again
        raise click.ClickException(
            f"cannot listen on {host}, port {port}: {why} (--host and --port say where)"
        ) from error


def _run(listener: socket.socket, workers: int) -> None:
    config = uvicorn.Config("percell.web.asgi:app", workers=workers, **SETTINGS)
    try:
        if workers > 1:
            Multiprocess(config, [listener]).run()
        else:
            uvicorn.Server(config).run([listener])
    except KeyboardInterrupt:
        pass  # it has shut down


@contextmanager
def _build_beside(folder: Path, api: str, url: str) -> Iterator[None]:
    # a process of its own, at low priority: the API's answers come first
    command = [sys.executable, "-m", "percell.build_beside", api, str(folder), url]
    build = subprocess.Popen(command, stdin=subprocess.DEVNULL)  # noqa: S603
    try:
        yield
    finally:
        build.terminate()
        build.wait()


def _at(host: str) -> str:
    """Return an address that a client on this machine can reach the server at."""
    if host in ("0.0.0.0", "::"):  # noqa: S104 - compared, not bound
        return "[::1]" if ":" in host else "127.0.0.1"
    return f"[{host}]" if ":" in host else host
