"""The hosts that the service answers for, and the address that it gives of itself."""

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from litestar.testing import TestClient

from percell.web import asgi
from percell.web.address import refuse_bad_address, site_address
from percell.web.hosts import AllowedHosts


@contextmanager
def served(hosts: str | None) -> Iterator[Any]:
    """Return a caller of the application as a server loads it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("PERCELL_SITE", raising=False)
        patch.delenv("PERCELL_ALLOWED_HOSTS", raising=False)
        if hosts is not None:
            patch.setenv("PERCELL_ALLOWED_HOSTS", hosts)
        app = importlib.reload(asgi).app
    with TestClient(app) as caller:
        yield caller
    importlib.reload(asgi)  # for whoever imports it next, as the environment is now


def test_every_host_is_answered_by_default() -> None:
    """Without a list there is no check, and no middleware that would cost time."""
    for hosts in (None, "", " , "):
        with served(hosts) as caller:
            assert not isinstance(asgi.app, AllowedHosts)
            assert caller.get("/v1", headers={"host": "evil.example"}).status_code == 200


@pytest.mark.parametrize(
    ("host", "allowed"),
    [
        ("tables.example", True),
        ("TABLES.example", True),
        ("a.club.example", True),
        ("club.example", False),
        ("here:8000", True),
        ("here", False),
        ("tables.example:8000", False),
        ("evil.example", False),
        ("tables.example.evil.example", False),
        ("tablesxexample", False),
        ("xclub.example", False),
        ("", False),
        ("é".encode(), False),
    ],
)
def test_only_allowed_hosts_are_answered(is_problem: Any, host: Any, allowed: bool) -> None:
    """Any other host gets a problem document, whatever the path, but for the health of the server."""
    with served("tables.example, *.club.example,here:8000") as caller:
        headers = {"host": host, "x-request-id": "mine"}
        for path in ("/v1", "/v1/nothing", "/nothing"):
            response = caller.get(path, headers=headers)
            if allowed:
                assert response.status_code == (200 if path == "/v1" else 404)
            else:
                is_problem(response, "misdirected-request", 421)
                assert response.headers["x-request-id"] == "mine"
                assert caller.head(path, headers=headers).content == b""
        if host != "é".encode():
            assert caller.get("/healthz", headers=headers).status_code == 200


@pytest.mark.parametrize(
    ("url", "address"),
    [
        ("", ""),
        ("https://tables.example", "https://tables.example"),
        ("https://tables.example/", "https://tables.example"),
        ("http://127.0.0.1:8000/", "http://127.0.0.1:8000"),
        ("http://[::1]:8000", "http://[::1]:8000"),
    ],
)
def test_the_address_of_the_service(
    monkeypatch: pytest.MonkeyPatch, url: str, address: str
) -> None:
    """It is the configured one without its slash, and none without a configuration."""
    monkeypatch.setenv("PERCELL_SITE_URL", url)
    refuse_bad_address()
    assert site_address() == address


@pytest.mark.parametrize(
    "url",
    [
        "https://tables.example/percell",
        "https://tables.example/percell/",
        "https://tables.example/?a=1",
        "https://tables.example/#a",
        "https://me@tables.example/",
        "tables.example",
        "ftp://tables.example/",
        "https://",
        "/percell",
        "http://[::1",
        "https://tables.example:99999/",
        "https://tables example/",
        'https://tables.example"><script>',
        "https://tablés.example/",
    ],
)
def test_what_is_no_address_of_a_host(monkeypatch: pytest.MonkeyPatch, url: str) -> None:
    """A path would break the links of the API, and the rest is no address at all."""
    monkeypatch.setenv("PERCELL_SITE_URL", url)
    with pytest.raises(ValueError, match="PERCELL_SITE_URL is "):
        refuse_bad_address()
