"""The built site, served as files beside the API."""

from pathlib import Path
from typing import Any

from litestar import Router
from litestar.static_files import create_static_files_router
from litestar.types import ASGIApp, Receive, Scope, Send

from percell.web.resource import COMMON, matches

# the theme sets its colour scheme by a script in the page, before the first paint
_POLICY = (
    b"default-src 'self'; script-src 'self' 'unsafe-inline'; style-src 'self' 'unsafe-inline'; "
    b"img-src 'self' data:; frame-ancestors 'self'; object-src 'none'; base-uri 'self'"
)
_HEADERS = [
    *COMMON,
    (b"content-security-policy", _POLICY),
    (b"cache-control", b"public, max-age=300"),
]


def site_router(folder: Path) -> Router:
    """Return the routes of a site in a folder, which a build may replace at any time."""

    def middleware(app: ASGIApp) -> ASGIApp:
        async def handle(scope: Scope, receive: Receive, send: Send) -> None:
            await _answer(app, folder, scope, receive, send)

        return handle

    return create_static_files_router(
        path="/", directories=[folder], html_mode=True, middleware=[middleware], name="site"
    )


async def _answer(app: ASGIApp, folder: Path, scope: Any, receive: Receive, send: Send) -> None:
    path = scope["raw_path"].partition(b"?")[0].decode("latin-1")
    if not path.endswith("/") and ".." not in path and (folder / path.lstrip("/")).is_dir():
        # without the slash the page's relative links would lead astray
        location = ("/" + path.strip("/") + "/").encode("latin-1")
        redirect: Any = {
            "type": "http.response.start",
            "status": 308,
            "headers": [*_HEADERS, (b"location", location), (b"content-length", b"0")],
        }
        await send(redirect)
        await send({"type": "http.response.body", "body": b"", "more_body": False})
        return
    known = dict(scope["headers"]).get(b"if-none-match")
    unchanged = False

    async def sent(message: Any) -> None:
        nonlocal unchanged
        if message["type"] == "http.response.start":
            headers = [*message["headers"], *_HEADERS]
            tag = dict(headers).get(b"etag")
            unchanged = bool(known and tag and matches(known, tag))
            if unchanged:
                headers = [h for h in headers if h[0] not in (b"content-length", b"content-type")]
                message = message | {"status": 304}
            message = message | {"headers": headers}
        elif unchanged:
            message = message | {"body": b""}
        await send(message)

    await app(scope, receive, sent)
