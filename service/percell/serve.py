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
from percell.site_build import is_current

# what the server is told besides where to listen
SETTINGS: dict[str, Any] = {
    "loop": "uvloop",
    "http": Protocol,
    "ws": "none",
    "log_level": "warning",
    "access_log": False,
    "server_header": False,
}

# shown until the site is there; it asks again by itself
_BUILDING = """<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="refresh" content="2"><title>percell: building</title>
<body style="font:1.1rem/1.5 system-ui,sans-serif;max-width:34rem;margin:20vh auto;padding:0 1rem;color-scheme:light dark">
<h1 style="font-size:1.4rem">The site is being built</h1>
<p>Its tables are being worked out through the API, which answers already. This page turns into the site by itself.</p>
<p><a href="/openapi.json" style="color:inherit">The API's document</a></p>
</body></html>
"""


def serve(*, host: str, port: int, workers: int, site: Path | None) -> None:
    """Start the server, and a build of the site beside it where one is due."""
    folder = (site or Path(click.get_app_dir("percell")) / "site").absolute()
    if not is_current(folder):
        _placeholder(folder)
        _build_beside(folder, host, port)
    os.environ["PERCELL_SITE"] = str(folder)
    click.echo(f"percell on http://{_at(host)}:{port}/ (stop with Ctrl-C)")
    uvicorn.run("percell.web.asgi:app", host=host, port=port, workers=workers, **SETTINGS)


def _placeholder(folder: Path) -> None:
    """Show that a build is under way, unless an older site can stand in for the moment."""
    if not (folder / "index.html").exists():
        folder.mkdir(parents=True, exist_ok=True)
        for name in ("index.html", "404.html"):
            (folder / name).write_text(_BUILDING, "utf-8")


def _build_beside(folder: Path, host: str, port: int) -> None:
    # a process of its own, at low priority: the API's answers come first
    command = [sys.executable, "-m", "percell.build_beside", f"http://{_at(host)}:{port}"]
    build = subprocess.Popen([*command, str(folder)], stdin=subprocess.DEVNULL)  # noqa: S603
    atexit.register(build.terminate)


def _at(host: str) -> str:
    """Return an address that a client on this machine can reach the server at."""
    if host in ("0.0.0.0", "::"):  # noqa: S104 - compared, not bound
        return "127.0.0.1"
    return f"[{host}]" if ":" in host else host
