"""A folder with the built site is served beside the API, and nothing beside the folder."""

import asyncio
import importlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from litestar.testing import TestClient

from percell.web import asgi
from percell.web.app import create_app

HOST = "http://testserver.local"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a small site with a secret beside it."""
    site = tmp_path / "site"
    (site / "rules").mkdir(parents=True)
    (site / "empty").mkdir()
    (site / "index.html").write_text("front")
    (site / "404.html").write_text("missing")
    (site / "rules/index.html").write_text("rules Ω")
    (site / "rules/a b.css").write_text("p{}")
    (site / "v1").mkdir()
    (site / "v1/index.html").write_text("not the API")
    (tmp_path / "secret").write_text("secret")
    (tmp_path / "site-secret").write_text("secret")
    return site


@pytest.fixture
def pages(folder: Path) -> Iterator[Any]:
    """Return a caller that follows no redirect."""
    with TestClient(create_app(folder), raise_server_exceptions=False) as caller:
        caller.follow_redirects = False
        yield caller


def test_pages_and_files(pages: Any) -> None:
    """A page is served at its path with a slash, a file at its name, with its type."""
    for path, text, media in (
        ("/", "front", "text/html; charset=utf-8"),
        ("/rules/", "rules Ω", "text/html; charset=utf-8"),
        ("/rules/index.html", "rules Ω", "text/html; charset=utf-8"),
        ("/rules/a%20b.css", "p{}", "text/css; charset=utf-8"),
        ("/rules/?q=1", "rules Ω", "text/html; charset=utf-8"),
    ):
        response = pages.get(path)
        assert (response.status_code, response.text) == (200, text)
        assert response.headers["content-type"] == media
        assert response.headers["cache-control"] == "public, max-age=300"
        head = pages.head(path)
        assert head.content == b""
        assert head.headers == response.headers


def test_no_content_is_sent_after_head(length_sent: Any, folder: Path, tmp_path: Path) -> None:
    """The application itself sends none, for a page, a miss, and a site that is not built yet."""
    for app in (create_app(folder), create_app(tmp_path / "later")):
        for path in ("/", "/rules/", "/nothing"):
            assert length_sent(app, "GET", path) > 0
            assert length_sent(app, "HEAD", path) == 0, path


def test_a_page_without_its_slash_redirects(pages: Any) -> None:
    """The redirect stays on this host and keeps the method."""
    response = pages.get("/rules")
    assert response.status_code == 308
    assert response.headers["location"] == "/rules/"
    assert response.content == b""


def test_a_page_that_the_caller_holds_is_not_sent_again(pages: Any, folder: Path) -> None:
    """304 for the tag of the file as it is now."""
    tag = pages.get("/").headers["etag"]
    for known in (tag, f"W/{tag}", f'"a", {tag}', "*"):
        response = pages.get("/", headers={"if-none-match": known})
        assert (response.status_code, response.content) == (304, b"")
        assert response.headers["etag"] == tag
        assert response.headers["cache-control"] == "public, max-age=300"
    (folder / "index.html").write_text("built again")
    response = pages.get("/", headers={"if-none-match": tag})
    assert (response.status_code, response.text) == (200, "built again")


@pytest.mark.parametrize(
    "path",
    [
        "/nothing",
        "/empty",
        "/empty/",
        "/rules/index.html/",
        "//rules/",
        "/rules//",
        "//",
        "/%2e/rules/",
        "/..%2fsecret",
        "/%2e%2e/secret",
        "/%2e%2e%2fsecret",
        "/rules/..%2f..%2fsecret",
        "/rules/%2e%2e/%2e%2e/secret",
        "/%252e%252e/secret",
        "/..%5csecret",
        "//etc/passwd",
        "/%2fetc/passwd",
        "/%2fetc%2fpasswd",
        "/%00",
        "/rules/%00",
        "/%ff",
        "/" + "x" * 5000,
        "/" + "x/" * 3000,
        "/%zz",
    ],
)
def test_nothing_else_is_served(pages: Any, path: str) -> None:
    """A path that leads out of the folder, or is no name, has the site's own page for nothing."""
    for method in ("GET", "HEAD"):
        response = pages.request(method, HOST + path)
        assert response.status_code == 404, response.text
        assert response.text == ("missing" if method == "GET" else "")
        assert "etag" not in response.headers


@pytest.mark.parametrize(
    "path",
    ["/../secret", "/../site-secret", "/rules/../../secret", "/./rules/", "/rules/..", "/..", "/."],
)
def test_dots_lead_nowhere(folder: Path, path: str) -> None:
    """Also with dots that stand as they are, which most clients would resolve before they ask."""
    sent: list[Any] = []

    async def receive() -> Any:
        return {"type": "http.request"}

    async def send(message: Any) -> None:
        sent.append(message)

    scope: Any = {
        "type": "http",
        "method": "GET",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "headers": [],
    }
    asyncio.run(create_app(folder)(scope, receive, send))
    start, body = sent
    assert (start["status"], body["body"]) == (404, b"missing")


def test_a_site_without_a_page_for_nothing(pages: Any, folder: Path, is_problem: Any) -> None:
    """Then nothing is a problem document, as in the API."""
    (folder / "404.html").unlink()
    is_problem(pages.get("/nothing"), "not-found", 404)


@pytest.mark.parametrize("path", ["/", "/rules/", "/assets/percell.css"])
def test_a_site_that_is_not_built_yet(tmp_path: Path, path: str) -> None:
    """Until the site is there, every page says so, that it is for now, and asks again by itself."""
    later = tmp_path / "later"
    with TestClient(create_app(later), raise_server_exceptions=False) as caller:
        for _ in ("no folder", "an empty one"):
            response = caller.get(path)
            assert response.status_code == 503
            assert response.headers["cache-control"] == "no-store"
            assert response.headers["retry-after"] == "2"
            assert response.headers["content-type"] == "text/html; charset=utf-8"
            assert response.headers["x-content-type-options"] == "nosniff"
            assert '<meta http-equiv="refresh" content="2">' in response.text
            head = caller.head(path)
            assert (head.status_code, head.content) == (503, b"")
            assert head.headers == response.headers
            later.mkdir(exist_ok=True)
        assert caller.get("/healthz").status_code == 200
        (later / "index.html").write_text("front")
        (later / "404.html").write_text("missing")
        assert caller.get("/").text == "front"
        assert caller.get("/nothing").status_code == 404


@pytest.mark.parametrize("path", ["/", "/nothing"])
def test_a_site_that_gives_way_under_a_request(
    pages: Any, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    """A page that is found and then gone, for a newer site takes its place, is asked for again later."""

    def gone(file: Path) -> bytes:
        raise FileNotFoundError(file)

    monkeypatch.setattr(Path, "read_bytes", gone)
    response = pages.get(path)
    assert (response.status_code, response.headers["retry-after"]) == (503, "2")
    assert response.headers["cache-control"] == "no-store"


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_pages_are_only_read(pages: Any, is_problem: Any, method: str) -> None:
    """405 with what a page takes."""
    response = pages.request(method, "/rules/")
    is_problem(response, "method-not-allowed", 405)
    assert set(response.headers["allow"].split(", ")) == {"GET", "HEAD", "OPTIONS"}
    options = pages.options("/rules/")
    assert options.status_code == 204
    assert set(options.headers["allow"].split(", ")) == {"GET", "HEAD", "OPTIONS"}


def test_the_api_is_not_hidden(pages: Any, folder: Path, is_problem: Any) -> None:
    """No page stands in for a path of the API, nor for one that the API might have."""
    assert pages.get("/healthz").json()["status"] == "ok"
    assert pages.get("/openapi.json").json()["openapi"].startswith("3.1")
    for path in ("/v1/nothing", "/v1/", "/v1/pack/", "/v1/index.html"):
        is_problem(pages.get(path), "not-found", 404)
    (folder / "v1x.html").write_text("no path of the API")
    assert pages.get("/v1x.html").text == "no path of the API"


def test_pages_are_guarded(pages: Any) -> None:
    """A page, a redirect and a miss have the headers that keep a browser from misusing them."""
    for path in ("/", "/rules", "/nothing", "/rules/a%20b.css"):
        headers = pages.get(path).headers
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        policy = headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "http" not in policy, "a page asks no third party"


def test_the_environment_names_the_folder(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    """Without the variable there is no site; with it there is."""
    for given, status in ((None, 404), (str(folder), 200)):
        monkeypatch.delenv("PERCELL_SITE", raising=False)
        if given:
            monkeypatch.setenv("PERCELL_SITE", given)
        with TestClient(importlib.reload(asgi).app) as caller:
            assert caller.get("/").status_code == status
