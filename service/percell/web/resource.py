"""What every path of the API does alike, written once as a small ASGI application.

Litestar routes to it with ``@asgi``, where the application does not go there straight: of the ways it
offers, that one costs least, and the exact handling of methods, forms and bodies that the API promises
stands here in the open.
"""

import asyncio
import logging
import os
import re
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from hashlib import sha256
from itertools import count
from types import MappingProxyType
from typing import Any

import msgspec
from litestar.datastructures.headers import Accept
from litestar.types import Receive, Send
from msgspec import Struct

from percell.web.problems import MEDIA as PROBLEM
from percell.web.problems import Failed
from percell.web.query import refuse_query

log = logging.getLogger("percell")
JSON = b"application/json"
BODY_LIMIT = int(os.environ.get("PERCELL_BODY_LIMIT_BYTES", 1024 * 1024))
Header = tuple[bytes, bytes]
Headers = tuple[Header, ...]

NO_SNIFF = (b"x-content-type-options", b"nosniff")
# a header costs half a microsecond, so an answer has those alone that guard it or that it needs
_API: Headers = (
    NO_SNIFF,
    (b"content-security-policy", b"default-src 'none'; frame-ancestors 'none'"),
    (b"access-control-allow-origin", b"*"),
    (b"access-control-expose-headers", b"ETag, Link, X-Request-Id"),
)
# whoever has no answer is shown where to read on
_GUIDE = (b"link", b'</openapi.json>; rel="service-desc", </docs/api/>; rel="service-doc"')
_VARY = (b"vary", b"Accept")
_KEPT = (b"cache-control", b"public, max-age=3600")
_NOT_KEPT: Headers = (*_API, (b"cache-control", b"no-store"))


class Reply(Struct, frozen=True, gc=False):
    """A representation, ready to send."""

    body: bytes
    media: bytes = JSON
    headers: Headers = ()


class Call:
    """A request, as a resource sees it."""

    __slots__ = ("_more", "_size", "headers", "limit", "query", "receive", "scheme")

    def __init__(self, scope: Any, receive: Receive, limit: int) -> None:
        self.query: bytes = scope["query_string"]
        self.scheme: str = scope["scheme"]
        self.headers = dict(scope["headers"])
        self.receive = receive
        self.limit = limit
        self._size, self._more = 0, True

    async def parts(self) -> AsyncIterator[bytes]:
        """Read the body as it arrives, refusing one that is too large before it is whole."""
        self._refuse_announced()
        while self._more:
            yield self._taken(await self.receive())

    async def body(self) -> bytes:
        """Read the whole body."""
        self._refuse_announced()
        first = self._taken(await self.receive())
        if not self._more:  # nearly every body comes in one piece
            return first
        return b"".join([first, *[part async for part in self.parts()]])

    def _taken(self, message: Any) -> bytes:
        part: bytes = message.get("body", b"")
        self._size += len(part)
        if self._size > self.limit:
            raise self._too_large()
        self._more = message.get("more_body", False)
        return part

    def _refuse_announced(self) -> None:
        announced = self.headers.get(b"content-length", b"")
        if announced.isdigit() and int(announced) > self.limit:
            raise self._too_large()

    def _too_large(self) -> Failed:
        return Failed("content-too-large", f"The body may hold at most {self.limit} bytes.")


Get = Callable[[Call], Reply]
Post = Callable[[Call, bytes], Reply]
Stream = Callable[[Call], Awaitable[Reply]]

_encode = msgspec.json.Encoder().encode
_request_ids = count(1)
_process = os.urandom(4).hex().encode()
_NOUGHT = re.compile(r";\s*q=0(\.0*)?\s*(;|$)", re.IGNORECASE)
_REQUEST_ID = re.compile(rb"[A-Za-z0-9._-]{1,64}")


class Resource:
    """An ASGI application for one path: methods, forms, conditional requests, problems, headers."""

    def __init__(
        self,
        path: str,
        *,
        get: Get | None = None,
        post: Post | None = None,
        forms: tuple[bytes, ...] = (JSON,),
        takes: tuple[bytes, ...] = (JSON,),
        limit: int = BODY_LIMIT,
        kept: bool = True,
        apart: bool = False,
        streams: Mapping[bytes, Stream] = MappingProxyType({}),
        deaf: tuple[str, ...] = (),
    ) -> None:
        """Describe the path.

        Args:
            path: The exact path.
            get: Answers GET and HEAD.
            post: Answers POST, given the whole body.
            forms: Media types of the answer.
            takes: Media types of the body.
            limit: Bytes that a body may have.
            kept: Whether an answer to GET may be kept.
            apart: Whether an answer takes so long that it is worked out in a thread of its own,
                so that other requests need not wait for it.
            streams: By media type, what answers POST while it reads the body as it arrives.
            deaf: GET or POST where nothing reads a query, so that one is refused.
        """
        self.path = path.encode()
        self.get = get
        self.post = post
        self.forms = forms
        self.plainly = (None, b"", b"*/*", *forms)
        self.takes = (*takes, *streams)
        self.streams = streams
        self.deaf = deaf
        self.apart = apart
        self.limit = limit
        # whoever keeps an answer must know what it depends on
        varies = (_VARY,) if len(forms) > 1 else ()
        self.kept = (*_API, _KEPT, *varies) if kept else _NOT_KEPT
        methods = ["GET", "HEAD"] if get else []
        methods += ["POST"] if post else []
        self.allow = ", ".join([*methods, "OPTIONS"]).encode()

    async def __call__(self, scope: Any, receive: Receive, send: Send) -> None:
        """Answer one request."""
        call = Call(scope, receive, self.limit)
        asked_id = call.headers.get(b"x-request-id")
        request_id = (
            asked_id
            if asked_id and _REQUEST_ID.fullmatch(asked_id)
            else b"%b-%x" % (_process, next(_request_ids))
        )
        own = (b"x-request-id", request_id)
        with_body = scope["method"] != "HEAD"
        try:
            await self._answer(scope, call, send, own)
        except Failed as failure:
            await send_problem(send, failure, (own,), with_body=with_body)
        except Exception:
            log.exception("defect at %s, request %s", self.path.decode(), request_id.decode())
            defect = Failed("internal-error", "The service failed.")
            await send_problem(send, defect, (own,), with_body=with_body)

    async def _answer(self, scope: Any, call: Call, send: Send, own: Header) -> None:
        method: str = scope["method"]
        path: bytes = scope["raw_path"]
        # the router forgives doubled and trailing slashes; one thing has one path
        if path != self.path and path.partition(b"?")[0] != self.path:
            raise not_found()
        if method == "POST" and self.post:
            self._acceptable(call)
            stream = self.streams.get(self._readable(call))
            if stream:
                reply = await stream(call)
            else:
                body = await call.body()
                self._heard(call, "POST")
                reply = (
                    await asyncio.to_thread(self.post, call, body)
                    if self.apart
                    else self.post(call, body)
                )
            await _send(send, 200, reply, [*_NOT_KEPT, own])
        elif method in ("GET", "HEAD") and self.get:
            self._acceptable(call)
            self._heard(call, "GET")
            get = self.get
            reply = await asyncio.to_thread(get, call) if self.apart else get(call)
            # processors have instructions for SHA-256: of the digests at hand, it costs least
            tag = b'"%b"' % sha256(reply.body).hexdigest()[:24].encode()
            known = call.headers.get(b"if-none-match")
            headers = [*self.kept, own, (b"etag", tag)]
            if known and matches(known, tag):
                await _send(send, 304, None, headers)
            else:
                await _send(send, 200, reply, headers, with_body=method == "GET")
        elif method == "OPTIONS":
            await _send(send, 204, None, [*_NOT_KEPT, _GUIDE, own, *self._options(call)])
        else:
            raise self._not_allowed()

    def _not_allowed(self) -> Failed:
        return Failed(
            "method-not-allowed",
            f"This path takes {self.allow.decode()}.",
            headers=((b"allow", self.allow),),
        )

    def _options(self, call: Call) -> Headers:
        if b"access-control-request-method" not in call.headers:
            return ((b"allow", self.allow),)
        return (
            (b"allow", self.allow),
            (b"access-control-allow-methods", self.allow),
            (b"access-control-allow-headers", b"Accept, Content-Type, If-None-Match, X-Request-Id"),
            (b"access-control-max-age", b"86400"),
        )

    def _acceptable(self, call: Call) -> None:
        # what most callers send needs no weighing
        if call.headers.get(b"accept") not in self.plainly and not self.form(call):
            forms = ", ".join(form.decode() for form in self.forms)
            raise Failed("not-acceptable", f"This resource has the forms {forms}.")

    def _heard(self, call: Call, method: str) -> None:
        if call.query and method in self.deaf:
            refuse_query(call.query)

    def form(self, call: Call) -> bytes | None:
        """Return the form that the caller likes best, or none that it accepts."""
        accept = call.headers.get(b"accept", b"*/*").decode("latin-1")
        # the reader below takes a weight of nought for a low one; RFC 9110 section 12.4.2 refuses it
        refused = [
            part.partition(";")[0].strip() for part in accept.split(",") if _NOUGHT.search(part)
        ]
        liked = ",".join(part for part in accept.split(",") if not _NOUGHT.search(part))
        forms = [form.decode() for form in self.forms if form.decode() not in refused]
        best = Accept(liked).best_match(forms) if liked and forms else None
        return best.encode() if best else None

    def _readable(self, call: Call) -> bytes:
        """Return the body's media type, or refuse what nothing here reads."""
        media: bytes = call.headers.get(b"content-type", b"")
        if media not in self.takes:
            media, _, parameters = media.lower().partition(b";")
            media = media.strip()
            charset = parameters.strip().replace(b'"', b"")
            if media not in self.takes or charset not in (b"", b"charset=utf-8"):
                raise self._unsupported()
        if call.headers.get(b"content-encoding", b"identity").lower() != b"identity":
            raise self._unsupported()
        return media

    def _unsupported(self) -> Failed:
        media = b", ".join(self.takes)
        return Failed(
            "unsupported-media-type",
            f"Send {media.decode()} in UTF-8, without a content coding.",
            headers=((b"accept", media), (b"accept-encoding", b"identity")),
        )


def not_found() -> Failed:
    """Return that nothing is here: a new one each time, for one that is raised again keeps its past."""
    return Failed("not-found", "The path names no resource.")


def matches(known: bytes, tag: bytes) -> bool:
    """Return whether an If-None-Match names a tag, compared weakly as RFC 9110 section 13.1.2 says."""
    return known.strip() == b"*" or tag in (
        candidate.strip().removeprefix(b"W/") for candidate in known.split(b",")
    )


async def _send(
    send: Send,
    status: int,
    reply: Reply | None,
    headers: list[Header],
    *,
    with_body: bool = True,
) -> None:
    if reply:
        headers += reply.headers
        headers.append((b"content-type", reply.media))
        headers.append((b"content-length", b"%d" % len(reply.body)))
    start: Any = {"type": "http.response.start", "status": status, "headers": headers}
    await send(start)
    body: Any = {
        "type": "http.response.body",
        "body": reply.body if reply and with_body else b"",
    }
    await send(body)


async def send_problem(
    send: Send, failure: Failed, headers: Headers = (), *, with_body: bool = True
) -> None:
    """Send a problem document."""
    reply = Reply(_encode(failure.problem), PROBLEM, failure.headers)
    await _send(send, failure.status, reply, [*_NOT_KEPT, _GUIDE, *headers], with_body=with_body)
