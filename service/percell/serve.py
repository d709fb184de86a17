"""Serve the API and the site from one process group."""

import atexit
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import uvicorn

from percell.protocol import Protocol
from percell.site_build import is_current, refuse_foreign, site_url

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
    """Start the server, and a build of the site beside it where one is due."""
    folder = (site or Path(click.get_app_dir("percell")) / "site").resolve()
    address = f"http://{_at(host)}:{port}/"
    url = site_url(address)
    if not is_current(folder, url):
        refuse_foreign(folder)
        _build_beside(folder, address, url)
    os.environ["PERCELL_SITE"] = str(folder)
    click.echo(f"percell on {address} (stop with Ctrl-C)")
    uvicorn.run("percell.web.asgi:app", host=host, port=port, workers=workers, **SETTINGS)


def _build_beside(folder: Path, api: str, url: str) -> None:
    # a process of its own, at low priority: the API's answers come first
    command = [sys.executable, "-m", "percell.build_beside", api, str(folder), url]
    build = subprocess.Popen(command, stdin=subprocess.DEVNULL)  # noqa: S603
    atexit.register(build.terminate)


def _at(host: str) -> str:
    """Return an address that a client on this machine can reach the server at."""
    if host in ("0.0.0.0", "::"):  # noqa: S104 - compared, not bound
        return "127.0.0.1"
    return f"[{host}]" if ":" in host else host
