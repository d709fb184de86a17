"""The built site, served as files beside the API.

Litestar's ``create_static_files_router`` would break promises made here. It serves a page with and without
its slash, so relative links break in one of the two. It never answers 304, and refuses ``HEAD /``. It
sends the head of a response before it opens the file, so the response breaks while a newer site replaces
this one. The handlers here read the whole file for every request.
"""

import asyncio
import re
from collections.abc import Mapping
from hashlib import blake2b
from mimetypes import guess_type
from pathlib import Path
from types import MappingProxyType
from typing import Any
from urllib.parse import unquote_to_bytes

from litestar import Request, Response, Router, route
from litestar.enums import HttpMethod
from litestar.exceptions import HTTPException, NotFoundException
from litestar.response import Redirect

from percell.web.codings import ENDINGS, accepted
from percell.web.exceptions import on_http_exception
from percell.web.negotiate import holds

# the build writes the pages' policy into this file: it knows the hashes of their inline scripts
_POLICY_OF_PAGES = "percell-policy.txt"
# of everything else
_POLICY = (
    "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; object-src 'none'; "
    "base-uri 'self'; frame-ancestors 'self'"
)
_HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "content-security-policy": _POLICY,
    "cache-control": "public, max-age=300",
    "vary": "Accept-Encoding",
}
# the theme names such a file after its content
_HASHED = re.compile(r"\.[0-9a-f]{8,}\.min\.(js|css)(\.map)?")
_FOR_EVER = {"cache-control": "public, max-age=31536000, immutable"}
# a browser must see at once that the script which keeps pages for later has changed
_WORKER = "sw.js"
# what a page of another site may read: the tables, as the API gives them to every origin too
_SHARED = re.compile(rb"/tables/[^/]+\.(csv|json)")
_FOR_ALL = {"access-control-allow-origin": "*"}
# as the API's paths, also those of a version that there is not
_OF_API = re.compile(rb"/v\d+(/.*)?", re.IGNORECASE | re.DOTALL)

# shown in place of every page until the site is there; it reloads by itself
_AGAIN_S = 2
_BUILDING = f"""<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="refresh" content="{_AGAIN_S}"><title>percell: building</title>
<body style="font:1.1rem/1.5 system-ui,sans-serif;max-width:34rem;margin:20vh auto;padding:0 1rem;color-scheme:light dark">
<h1 style="font-size:1.4rem">The site is being built</h1>
<p>The API already answers. This page reloads until the site is ready.</p>
<p><a href="/openapi.json" style="color:inherit">The API's document</a></p>
</body></html>
""".encode()


def site_router(folder: Path) -> Router:
    """Return the router of the site in a folder, and of all paths that the API does not have."""

    @route(["/", "/{path:path}"], http_method=["GET", "HEAD", "OPTIONS"])
    async def page(request: Request[Any, Any, Any]) -> Response[Any]:
        return await asyncio.to_thread(_page, folder, request)

    @route("/v1/{path:path}", http_method=list(HttpMethod))
    async def no_page(request: Request[Any, Any, Any]) -> Response[Any]:
        return on_http_exception(request, NotFoundException())

    def missing(request: Request[Any, Any, Any], exception: HTTPException) -> Response[Any]:
        if _OF_API.fullmatch(_path(request)):
            return on_http_exception(request, exception)
        try:
            if (folder / "index.html").is_file():
                page = folder / "404.html"
                if not _reads_pages(request) or not page.is_file():
                    return on_http_exception(request, exception)
                return _response(
                    request, 404, page.read_bytes(), page.name, headers=_policy_of_pages(folder)
                )
        except FileNotFoundError:
            pass
        # not built yet, or a newer site is just replacing it
        return later(request, exception)

    def later(request: Request[Any, Any, Any], _: Exception) -> Response[Any]:
        # a page of another origin must see that it is for now, also where its own address is wrong
        again = {"cache-control": "no-store", "retry-after": str(_AGAIN_S), **_FOR_ALL}
        return _response(request, 503, _BUILDING, "index.html", headers=again)

    return Router(
        "/",
        route_handlers=[page, no_page],
        exception_handlers={
            NotFoundException: missing,
            # a newer site replaced this one after the file was found
            FileNotFoundError: later,
        },
    )


def _path(request: Request[Any, Any, Any]) -> bytes:
    path: bytes = request.scope["raw_path"].partition(b"?")[0]
    return path


def _reads_pages(request: Request[Any, Any, Any]) -> bool:
    """Return whether a client that finds nothing wants a page and not a problem document.

    A program asks for anything, and a page of another origin cannot read what has no headers for it.
    """
    return "text/html" in request.headers.get("accept", "").lower()


def _page(folder: Path, request: Request[Any, Any, Any]) -> Response[Any]:
    path = _path(request)
    file = _found(folder, path)
    shared = _FOR_ALL if _SHARED.fullmatch(path) else {}
    if request.method == HttpMethod.OPTIONS:
        if not file:
            return on_http_exception(request, NotFoundException())
        allow = {"allow": "GET, HEAD, OPTIONS"}
        return Response(b"", status_code=204, headers={**_HEADERS, **shared, **allow})
    if not file:
        raise NotFoundException
    if file.is_dir():
        # without the slash, relative links of the page would lead to the wrong place
        query = request.scope["query_string"].decode()
        there = path.decode() + (f"/?{query}" if query else "/")
        return Redirect(there, status_code=308, headers=_HEADERS)
    coding = _coding(file, request)
    body = file.with_name(file.name + ENDINGS[coding]).read_bytes() if coding else file.read_bytes()
    tag = b'"%b"' % blake2b(body, digest_size=12).hexdigest().encode()
    headers = {"etag": tag.decode(), **shared, **_by_name(folder, file)}
    held = request.headers.get("if-none-match", "").encode("latin-1")
    if held and holds(held, tag):
        return Response(b"", status_code=304, headers={**_HEADERS, **headers})
    if coding:
        headers["content-encoding"] = coding.decode()
    return _response(request, 200, body, file.name, headers=headers)


def _by_name(folder: Path, file: Path) -> dict[str, str]:
    """Return the headers that a file has for its name."""
    if file.suffix == ".html":
        return _policy_of_pages(folder)
    if file.name == _WORKER:
        return {"cache-control": "no-cache"}
    return _FOR_EVER if _HASHED.search(file.name) else {}


def _policy_of_pages(folder: Path) -> dict[str, str]:
    file = folder / _POLICY_OF_PAGES
    return {"content-security-policy": file.read_text("utf-8")} if file.is_file() else {}


def _coding(file: Path, request: Request[Any, Any, Any]) -> bytes:
    """Return the coding in which a file was compressed ahead and that the client likes best, if any."""
    liked = accepted(request.headers.get("accept-encoding", "").encode("latin-1"))
    ahead = [
        coding
        for coding, ending in ENDINGS.items()
        if liked[coding] and file.with_name(file.name + ending).is_file()
    ]
    return max(ahead, key=lambda coding: liked[coding], default=b"")


def _response(
    request: Request[Any, Any, Any],
    status: int,
    body: bytes,
    name: str = "",
    *,
    headers: Mapping[str, str] = MappingProxyType({}),
) -> Response[Any]:
    """Return a file as a response. Its name determines its media type."""
    media, packed = guess_type(name)
    if packed or not media:
        media = f"application/{packed or 'octet-stream'}"
    return Response(
        b"" if request.method == "HEAD" else body,
        status_code=status,
        media_type=media,
        headers={**_HEADERS, "content-length": str(len(body)), **headers},
    )


def _found(folder: Path, path: bytes) -> Path | None:
    """Return the file that a path names, or the folder of a page asked for without its slash."""
    try:
        *parents, name = unquote_to_bytes(path).decode().split("/")[1:]
        if not {"", ".", ".."}.isdisjoint((*parents, name or "index.html")):
            return None  # a file has exactly one path, and no path leads out of the folder
        file = folder.joinpath(*parents, name or "index.html")
        if file.is_file() or (file / "index.html").is_file():
            return file
    except (OSError, ValueError):  # no file can have this name
        pass
    return None
