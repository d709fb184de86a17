"""The built site, served as files beside the API.

The files are read as they are asked for, so that a build may replace them while the service runs.
"""

from hashlib import blake2b
from mimetypes import guess_type
from pathlib import Path
from typing import Any
from urllib.parse import unquote_to_bytes

from litestar.types import Receive, Send

from percell.web.problems import Failed
from percell.web.resource import NO_SNIFF, Headers, matches, not_found, send_problem

# the theme sets its colour scheme by a script in the page, before the first paint
_POLICY = (
    b"default-src 'self'; script-src 'self' 'unsafe-inline'; style-src 'self' 'unsafe-inline'; "
    b"img-src 'self' data:; frame-ancestors 'self'; object-src 'none'; base-uri 'self'"
)
_HEADERS = [
    NO_SNIFF,
    (b"referrer-policy", b"no-referrer"),
    (b"content-security-policy", _POLICY),
]
_KEPT = (b"cache-control", b"public, max-age=300")
_ALLOW = (b"allow", b"GET, HEAD, OPTIONS")

# stands for every page until the site is there; it asks again by itself, and so do well-behaved clients
_AGAIN_S = 2
_BUILDING = f"""<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="refresh" content="{_AGAIN_S}"><title>percell: building</title>
<body style="font:1.1rem/1.5 system-ui,sans-serif;max-width:34rem;margin:20vh auto;padding:0 1rem;color-scheme:light dark">
<h1 style="font-size:1.4rem">The site is being built</h1>
<p>Its tables are being worked out through the API, which answers already. This page turns into the site by itself.</p>
<p><a href="/openapi.json" style="color:inherit">The API's document</a></p>
</body></html>
""".encode()
_LATER = (
    (b"cache-control", b"no-store"),
    (b"retry-after", b"%d" % _AGAIN_S),
    (b"content-type", b"text/html; charset=utf-8"),
    (b"content-length", b"%d" % len(_BUILDING)),
)


class Pages:
    """An ASGI application for the site in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    async def __call__(self, scope: Any, _: Receive, send: Send) -> None:
        """Answer one request."""
        method: str = scope["method"]
        if method == "OPTIONS":
            await _send(send, 204, (_KEPT, _ALLOW))
        elif method in ("GET", "HEAD"):
            try:
                await _page(self.folder, scope, send)
            except FileNotFoundError:
                # the site gave way to a newer one between the look and the read
                await _later(send, with_body=method == "GET")
        else:
            failure = Failed("method-not-allowed", "A page takes GET, HEAD and OPTIONS.")
            await send_problem(send, failure, (_ALLOW,))


async def _page(folder: Path, call: Any, send: Send) -> None:
    path: bytes = call["raw_path"].partition(b"?")[0]
    with_body = call["method"] == "GET"
    file = _found(folder, path)
    if file and file.is_dir():
        # without the slash the page's relative links would lead astray
        await _send(send, 308, (_KEPT, (b"location", path + b"/"), (b"content-length", b"0")))
    elif file:
        body = file.read_bytes()
        tag = b'"%b"' % blake2b(body, digest_size=12).hexdigest().encode()
        known = dict(call["headers"]).get(b"if-none-match")
        if known and matches(known, tag):
            await _send(send, 304, (_KEPT, (b"etag", tag)))
        else:
            await _send(
                send, 200, ((b"etag", tag), *_about(file, body)), body if with_body else b""
            )
    elif (missing := folder / "404.html").is_file():
        body = missing.read_bytes()
        await _send(send, 404, _about(missing, body), body if with_body else b"")
    elif not (folder / "index.html").is_file():
        # not built yet, or just now giving way to a newer one
        await _later(send, with_body=with_body)
    else:
        await send_problem(send, not_found(), with_body=with_body)


async def _later(send: Send, *, with_body: bool) -> None:
    await _send(send, 503, _LATER, _BUILDING if with_body else b"")


def _found(folder: Path, path: bytes) -> Path | None:
    """Return the file that a path names, or the folder of a page asked for without its slash."""
    try:
        *parents, name = unquote_to_bytes(path).decode().split("/")[1:]
        if not {"", ".", ".."}.isdisjoint((*parents, name or "index.html")):
            return None  # one thing has one path, and none leads out of the folder
        file = folder.joinpath(*parents, name or "index.html")
        if file.is_file() or (file / "index.html").is_file():
            return file
    except (OSError, ValueError):  # no name that a file can have
        pass
    return None


def _about(file: Path, body: bytes) -> Headers:
    media = guess_type(file.name)[0] or "application/octet-stream"
    charset = "; charset=utf-8" if media.startswith("text/") else ""
    return (
        _KEPT,
        (b"content-type", f"{media}{charset}".encode()),
        (b"content-length", b"%d" % len(body)),
    )


async def _send(send: Send, status: int, headers: Headers, body: bytes = b"") -> None:
    start: Any = {
        "type": "http.response.start",
        "status": status,
        "headers": [*_HEADERS, *headers],
    }
    await send(start)
    await send({"type": "http.response.body", "body": body, "more_body": False})
