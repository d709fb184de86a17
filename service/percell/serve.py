"""Serve the API and the site from one process group."""

import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, nullcontext
from ipaddress import ip_network
from pathlib import Path
from typing import Any

import click
import uvicorn
from uvicorn.supervisors import Multiprocess

from percell.protocol import Protocol
from percell.site_build import cached_site, has_own_cells, is_current, refuse_foreign, site_url
from percell.waits import VARIABLES, Waits, waits_from
from percell.web.address import configured_contact, refuse_bad_address
from percell.web.hosts import allowed_hosts

# uvicorn's settings, except where to listen
SETTINGS: dict[str, Any] = {
    "loop": "uvloop",
    "http": Protocol,
    "ws": "none",
    "log_level": "warning",
    "access_log": False,
    "server_header": False,
    # nobody's word on the client's address and scheme is taken; see settings()
    "proxy_headers": False,
    # seconds that a request may still take after a stop signal; without this, a client that sends half
    # a request and no more would keep the server alive
    "timeout_graceful_shutdown": 5,
}


def settings(environment: Mapping[str, str]) -> dict[str, Any]:
    """Return uvicorn's settings: with ``PERCELL_TRUSTED_PROXIES``, also which proxies may forward headers.

    Raises:
        ValueError: That names something else than addresses. uvicorn would trust nobody then, and not say so.
    """
    trusted = environment.get("PERCELL_TRUSTED_PROXIES", "").strip()
    try:
        for proxy in trusted.split(",") if trusted not in ("", "*") else ():
            ip_network(proxy.strip())
    except ValueError:
        raise ValueError(
            f"PERCELL_TRUSTED_PROXIES is {trusted!r}: give addresses or networks, separated by commas, such "
            "as 10.0.0.0/8, or *"
        ) from None
    more = {"proxy_headers": True, "forwarded_allow_ips": trusted} if trusted else {}
    return SETTINGS | more


def serve(*, host: str, port: int, workers: int, site: Path | None, waits: Waits) -> None:
    """Serve until a signal stops the server, and build the site beside it if it is missing or stale.

    Raises:
        click.ClickException: percell did not build what is in the folder, or cannot listen on the
            address, or a variable of the environment is wrong. Nothing was started or written.
    """
    os.environ.update({VARIABLES[field]: f"{time_s}" for field, time_s in waits._asdict().items()})
    _refuse_bad_environment()
    folder = (site or cached_site()).resolve()
    address = f"http://{_reachable(host)}:{port}/"
    url = site_url(address)
    due = not is_current(folder, url)
    if due and has_own_cells(folder):
        click.echo(
            f"The site in {folder} is for another address or another version of percell. The server does "
            "not replace it, because it has cells of your own. To build it again, set PERCELL_SITE_URL and "
            f"run: percell site build --cells FOLDER --out {folder}"
        )
        due = False
    if due:
        refuse_foreign(folder)
    listener = _listening(host, port)
    if allowed := os.environ.get("PERCELL_ALLOWED_HOSTS"):  # the build asks by this address
        os.environ["PERCELL_ALLOWED_HOSTS"] = f"{allowed},{_reachable(host)}:{port}"
    os.environ["PERCELL_SITE"] = str(folder)
    click.echo(f"percell on {address} (stop with Ctrl-C)")
    # uvicorn shuts down at a signal and then raises it again. By default SIGTERM would then end this
    # process at once, with a status other than 0, and leave the build behind.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    with _build_beside(folder, address, url) if due else nullcontext():
        _run(listener, workers)


def _refuse_bad_environment() -> None:
    # here and not in each worker, which could only fail
    try:
        configured_contact()
        refuse_bad_address()
        allowed_hosts(os.environ)
        waits_from(os.environ)
        settings(os.environ)
    except ValueError as error:
        raise click.ClickException(str(error)) from error


def _listening(host: str, port: int) -> socket.socket:
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        return socket.create_server((host, port), family=family)
    except OSError as error:
        why = str(error.strerror).partition(" (while")[0]  # the rest repeats the address
        raise click.ClickException(
            f"cannot listen on {host}, port {port}: {why} (choose others with --host and --port)"
        ) from error


def _run(listener: socket.socket, workers: int) -> None:
    config = uvicorn.Config("percell.web.asgi:app", workers=workers, **settings(os.environ))
    try:
        if workers > 1:
            Multiprocess(config, [listener]).run()
        else:
            uvicorn.Server(config).run([listener])
    except KeyboardInterrupt:
        pass  # Ctrl-C, which uvicorn raises again after it has shut down


@contextmanager
def _build_beside(folder: Path, api: str, url: str) -> Iterator[None]:
    # a process of its own with low priority: answers of the API come first
    command = [sys.executable, "-m", "percell.build_beside", api, str(folder), url]
    build = subprocess.Popen(command, stdin=subprocess.DEVNULL)  # noqa: S603 - our own program
    # the build ends long before the server, and would stay a zombie until the server waits for it
    waiting = threading.Thread(target=build.wait)
    waiting.start()
    try:
        yield
    finally:
        build.terminate()
        waiting.join()


def _reachable(host: str) -> str:
    """Return the address at which a client on this machine reaches the server."""
    if host in ("0.0.0.0", "::"):  # noqa: S104 - compared, not bound
        return "[::1]" if ":" in host else "127.0.0.1"
    return f"[{host}]" if ":" in host else host
