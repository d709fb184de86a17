"""A folder with the built site is served beside the API, and nothing beside the folder."""

import asyncio
import gzip
import importlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import brotli
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
        caller.headers["accept"] = "text/html, */*;q=0.8"
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
    """The redirect stays on this host and keeps the method and the query."""
    response = pages.get("/rules")
    assert response.status_code == 308
    assert response.headers["location"] == "/rules/"
    assert response.content == b""
    assert pages.get("/rules?a=1&b=%2F").headers["location"] == "/rules/?a=1&b=%2F"


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
        "headers": [(b"accept", b"text/html")],
    }
    asyncio.run(create_app(folder)(scope, receive, send))
    start, body = sent
    assert (start["status"], body["body"]) == (404, b"missing")


def test_a_site_without_a_page_for_nothing(pages: Any, folder: Path, is_problem: Any) -> None:
    """Then nothing is a problem document, as in the API."""
    (folder / "404.html").unlink()
    is_problem(pages.get("/nothing"), "not-found", 404)


@pytest.mark.parametrize("path", ["/", "/rules/", "/assets/theme.css"])
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
            assert response.headers["access-control-allow-origin"] == "*"
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


def test_pages_have_the_policy_that_the_build_wrote(pages: Any, folder: Path) -> None:
    """Without the build's file no inline script runs; with it, pages and misses have what it says."""
    for path in ("/", "/nothing", "/rules/a%20b.css"):
        policy = pages.get(path).headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "script-src" not in policy
    (folder / "percell-policy.txt").write_text("script-src 'sha256-abc'")
    for path in ("/", "/rules/", "/nothing"):
        assert pages.get(path).headers["content-security-policy"] == "script-src 'sha256-abc'"
    assert "script-src" not in pages.get("/rules/a%20b.css").headers["content-security-policy"]
    tag = pages.get("/").headers["etag"]
    held = pages.get("/", headers={"if-none-match": tag})
    assert (held.status_code, held.headers["content-security-policy"]) == (
        304,
        "script-src 'sha256-abc'",
    )


def test_the_script_that_keeps_pages_is_never_stale(pages: Any, folder: Path) -> None:
    """A browser asks for it anew each time."""
    (folder / "sw.js").write_text("0")
    response = pages.get("/sw.js")
    assert response.headers["cache-control"] == "no-cache"
    assert response.headers["content-type"].startswith("text/javascript")


def test_the_environment_names_the_folder(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    """Without the variable there is no site; with it there is."""
    for given, status in ((None, 404), (str(folder), 200)):
        monkeypatch.delenv("PERCELL_SITE", raising=False)
        if given:
            monkeypatch.setenv("PERCELL_SITE", given)
        with TestClient(importlib.reload(asgi).app) as caller:
            assert caller.get("/").status_code == status


@pytest.mark.parametrize("accept", ["*/*", "application/json", "image/avif,image/*,*/*;q=0.8", ""])
@pytest.mark.parametrize("path", ["/healtz", "/v2/pack", "/V1/pack", "/v1/nothing", "/assets/x.js"])
def test_a_program_that_finds_nothing_gets_a_problem(
    pages: Any, is_problem: Any, path: str, accept: str
) -> None:
    """A client that does not ask for a page can read what is wrong, also from another origin."""
    for method in ("GET", "HEAD"):
        response = pages.request(method, path, headers={"accept": accept})
        assert response.headers["access-control-allow-origin"] == "*"
        assert response.headers["x-request-id"]
        if method == "GET":
            is_problem(response, "not-found", 404)


@pytest.mark.parametrize("path", ["/v2", "/v2/pack", "/V1/pack", "/v12/", "/v2/a%0ab"])
def test_another_version_of_the_api_has_no_page(pages: Any, is_problem: Any, path: str) -> None:
    """A path such as the API's is answered as the API answers, also to a browser, and before the site is there."""
    is_problem(pages.get(path), "not-found", 404)
    with TestClient(create_app(Path("/nonexistent"))) as caller:
        is_problem(caller.get(path), "not-found", 404)


@pytest.mark.parametrize("path", ["/V1/pack", "/v1/pack/", "/v1/nothing", "/v2/pack", "/nothing"])
def test_a_browser_is_let_through_to_see_that_nothing_is_there(
    pages: Any, client: Any, path: str
) -> None:
    """The preflight of a wrong path is answered, so that the page can read the problem of its request."""
    preflight = {
        "origin": "https://club.example",
        "access-control-request-method": "POST",
        "access-control-request-headers": "content-type",
    }
    for caller in (pages, client):
        response = caller.options(HOST + path, headers=preflight)
        assert response.status_code == 204
        assert response.headers["access-control-allow-origin"] == "*"
        assert response.headers["access-control-allow-headers"] == "content-type"
        assert "POST" in response.headers["access-control-allow-methods"]
        assert caller.options(HOST + path).status_code == 404


def test_a_preflight_of_no_method_is_no_way_in(pages: Any) -> None:
    """Only a method that exists is repeated."""
    preflight = {"origin": "https://club.example", "access-control-request-method": "a b"}
    response = pages.options("/nothing", headers=preflight)
    assert response.headers["access-control-allow-methods"] == "GET"


def test_tables_are_for_every_origin(pages: Any, folder: Path) -> None:
    """The page of a club can read a table as CSV or JSON, also where it holds the file already; no page."""
    (folder / "tables").mkdir()
    for name in ("rows.csv", "rows.json", "rows.html", "rows.png"):
        (folder / "tables" / name).write_text("1")
        path, public = f"/tables/{name}", name.endswith(("csv", "json"))
        held = {"if-none-match": pages.get(path).headers["etag"]}
        for response in (
            pages.get(path),
            pages.head(path),
            pages.get(path, headers=held),
            pages.options(path),
        ):
            assert response.headers.get("access-control-allow-origin") == ("*" if public else None)


def test_pages_are_for_their_own_origin(pages: Any) -> None:
    """A page that exists gives another origin no access."""
    preflight = {"origin": "https://club.example", "access-control-request-method": "GET"}
    for response in (pages.options("/rules/", headers=preflight), pages.get("/rules/")):
        assert "access-control-allow-origin" not in response.headers


@pytest.mark.parametrize(
    ("accepted", "coding"),
    [
        ("gzip, deflate, br", "br"),
        ("gzip", "gzip"),
        ("gzip, br;q=0", "gzip"),
        ("br;q=0.5, gzip;q=0.6", "gzip"),
        ("*", "br"),
        ("identity", None),
        ("", None),
        ("gzip;q=0", None),
    ],
)
def test_a_file_compressed_ahead_is_sent(folder: Path, accepted: str, coding: str | None) -> None:
    """A client gets the coding that it likes best, with a tag of its own, and 304 for that tag alone."""
    (folder / "rules/index.html.br").write_bytes(brotli.compress(b"rules in br"))
    (folder / "rules/index.html.gz").write_bytes(gzip.compress(b"rules in gz"))
    text = {"br": "rules in br", "gzip": "rules in gz", None: "rules Ω"}[coding]
    with TestClient(create_app(folder)) as caller:
        got = caller.get("/rules/", headers={"accept-encoding": accepted})
        assert got.text == text
        assert got.headers.get("content-encoding") == coding
        assert got.headers["content-type"] == "text/html; charset=utf-8"
        assert got.headers["vary"] == "Accept-Encoding"
        held = {"accept-encoding": accepted, "if-none-match": got.headers["etag"]}
        again = caller.get("/rules/", headers=held)
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["vary"] == "Accept-Encoding"
        for other in {"br", "gzip", "identity"} - {coding or "identity"}:
            asked = held | {"accept-encoding": other}
            assert caller.get("/rules/", headers=asked).status_code == 200
        # what has no compressed form is sent as it is
        plain = caller.get("/", headers={"accept-encoding": accepted})
        assert (plain.text, plain.headers.get("content-encoding")) == ("front", None)


def test_a_file_that_is_named_after_its_content_is_kept_for_ever(pages: Any, folder: Path) -> None:
    """Another content has another name; every other file may change within minutes."""
    for name, kept in (
        ("main.484c7ddc.min.css", True),
        ("bundle.79ae519e.min.js", True),
        ("bundle.79ae519e.min.js.map", True),
        ("theme.css", False),
        ("tools.min.js", False),
    ):
        (folder / name).write_text("x")
        first = pages.get(f"/{name}")
        again = pages.get(f"/{name}", headers={"if-none-match": first.headers["etag"]})
        for response in (first, again):
            expected = "public, max-age=31536000, immutable" if kept else "public, max-age=300"
            assert response.headers["cache-control"] == expected
        assert again.status_code == 304


def test_a_packed_file_is_sent_as_what_it_is(pages: Any, folder: Path) -> None:
    """A client that asks for a packed file by its name gets a packed file, and no text."""
    (folder / "sitemap.xml.gz").write_bytes(gzip.compress(b"<urlset/>"))
    response = pages.get("/sitemap.xml.gz")
    assert response.headers["content-type"] == "application/gzip"
    assert "content-encoding" not in response.headers


def test_a_part_of_a_file_is_not_given(pages: Any) -> None:
    """A client that asks for a range gets the whole, as RFC 9110 allows, and no wrong part."""
    response = pages.get("/rules/", headers={"range": "bytes=0-1"})
    assert (response.status_code, response.text) == (200, "rules Ω")
    assert "content-range" not in response.headers
