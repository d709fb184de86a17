"""One path of the API: methods, media types, conditional requests, problems and headers.

A resource is an ASGI application that Litestar's router calls as an ``@asgi`` route. Litestar's own
handlers, if written as strictly, add several times as much processor time to an answer, as
tests/benchmarks/over_http.py measures.
"""

import logging
import re
from collections.abc import Awaitable, Callable
from functools import partial
from hashlib import sha256
from typing import Any

import msgspec
from litestar.types import Receive, Send
from msgspec import Struct

from percell.web.call import BODY_LIMIT, Call, ClientGone, request_id
from percell.web.codings import LARGE, chosen, compressed
from percell.web.negotiate import accepts, holds, is_media_of_body
from percell.web.problems import MEDIA as PROBLEM
from percell.web.problems import Failed
from percell.web.query import refuse_query
from percell.web.worker import beside_loop

log = logging.getLogger("percell")
JSON = b"application/json"
Header = tuple[bytes, bytes]
Headers = tuple[Header, ...]

# each header costs half a microsecond, so an answer has only those it needs
_API: Headers = (
    (b"x-content-type-options", b"nosniff"),
    (b"content-security-policy", b"default-src 'none'; frame-ancestors 'none'"),
    (b"access-control-allow-origin", b"*"),
    (
        b"access-control-expose-headers",
        b"Allow, Content-Disposition, Deprecation, ETag, Link, Retry-After, Sunset, X-Request-Id",
    ),
)
# tells a client that has no answer yet where the documentation is
DOCUMENT_LINKS = (
    b"link",
    b'</openapi.json>; rel="service-desc", </docs/api/>; rel="service-doc"',
)
# long enough for a page that asks again, and short enough for a mended figure to reach everybody soon
_CACHED: Headers = ((b"cache-control", b"public, max-age=300"), (b"vary", b"Accept-Encoding"))
_NOT_CACHED: Headers = (*_API, (b"cache-control", b"no-store"))
FAILURE_HEADERS: Headers = (*_NOT_CACHED, DOCUMENT_LINKS)


class Representation(Struct, frozen=True, gc=False):
    """An answer, ready to send."""

    body: bytes
    media: bytes = JSON
    headers: Headers = ()
    coding: bytes = b""
    # where the body is kept in each coding, if it is sent again and again
    kept: dict[bytes, bytes] | None = None

    def coded(self, coding: bytes) -> "Representation":
        """Return the answer in a content coding."""
        body = None if self.kept is None else self.kept.get(coding)
        if body is None:
            body = compressed(self.body, coding, kept=self.kept is not None)
            if self.kept is not None:
                self.kept[coding] = body
        return Representation(body, self.media, self.headers, coding)


class Later(Struct, frozen=True, gc=False):
    """An answer that would keep other requests waiting: it is calculated in another thread."""

    calculate: Callable[[], Representation]


Get = Callable[[Call], Representation | Later]
Post = Callable[[Call, bytes], Representation | Later]
Stream = Callable[[Call], Awaitable[Representation]]

encode = msgspec.json.Encoder().encode
_HEADER_NAMES = re.compile(rb"[A-Za-z0-9!#$%&'*+.^_`|~-]+(?:\s*,\s*[A-Za-z0-9!#$%&'*+.^_`|~-]+)*")


class Resource:
    """An ASGI application for one path."""

    def __init__(
        self,
        path: str,
        *,
        get: Get | None = None,
        post: Post | None = None,
        produces: bytes = JSON,
        stream: Stream | None = None,
        consumes: tuple[bytes, ...] = (JSON,),
        limit: int = BODY_LIMIT,
        cached: bool = True,
        in_thread: bool = False,
        reads_query: tuple[str, ...] = (),
        headers: Headers = (),
    ) -> None:
        """Describe the path.

        Args:
            path: The exact path.
            get: Answers GET and HEAD.
            post: Answers POST, given the whole body.
            produces: Media type of the answer.
            stream: In place of ``post``, answers POST while it reads the body as it arrives.
            consumes: Media types of a body.
            limit: Bytes that a body may have.
            cached: Whether a client may keep an answer to GET.
            in_thread: Whether to read the request and calculate its answer in another thread. ``get`` and
                ``post`` can also decide that themselves, by the request, and return ``Later``.
            reads_query: GET or POST, if the path takes a query string with that method.
            headers: Further headers of every answer.
        """
        self.path = path.encode()
        self.get = get
        self.produces = produces
        self.by_body: Stream | None = partial(self._posted, post) if post else stream
        self.consumes = consumes
        self.limit = limit
        self.in_thread = in_thread
        self.cached = cached
        self.reads_query = reads_query
        # values of Accept that most clients send; they need no parsing
        self._plain_accepts = (None, b"", b"*/*", produces)
        self._get_headers = (*((*_API, *_CACHED) if cached else _NOT_CACHED), *headers)
        self._post_headers = (*_NOT_CACHED, *headers)
        methods = ["GET", "HEAD"] if get else []
        methods += ["POST"] if post or stream else []
        self.allow = ", ".join([*methods, "OPTIONS"]).encode()

    async def __call__(self, scope: Any, receive: Receive, send: Send) -> None:
        """Answer one request."""
        call = Call(scope, receive, self.limit)
        id_header = (b"x-request-id", call.id.encode())
        with_body = scope["method"] != "HEAD"
        try:
            await self._answer(scope, call, send, id_header)
        except Failed as failure:
            await _send_problem(send, failure, call.id, with_body=with_body)
        except ClientGone:
            pass
        except Exception:
            log.exception("defect at %s, request %s", self.path.decode(), call.id)
            defect = Failed("internal-error", "The service failed.")
            await _send_problem(send, defect, call.id, with_body=with_body)

    async def _answer(self, scope: Any, call: Call, send: Send, id_header: Header) -> None:
        method: str = scope["method"]
        path: bytes = scope["raw_path"]
        # the router ignores doubled and trailing slashes; here each resource has exactly one path
        # and a browser must be let through a preflight to see that nothing is at another
        if (
            path != self.path
            and path.partition(b"?")[0] != self.path
            and (method != "OPTIONS" or b"access-control-request-method" not in call.headers)
        ):
            raise not_found()
        if method == "POST" and self.by_body:
            self._refuse_unacceptable(call)
            self._refuse_other_media(call)
            answer = await self.by_body(call)
            coding = chosen(call.headers.get(b"accept-encoding", b""), len(answer.body))
            if coding:
                answer = await _in_coding(answer, coding)
            await _send(send, 200, answer, [*self._post_headers, id_header])
        elif method in ("GET", "HEAD") and self.get:
            self._refuse_unacceptable(call)
            self._refuse_unread_query(call, "GET")
            ask = partial(self.get, call)
            found = await beside_loop(ask) if self.in_thread else ask()
            answer = await beside_loop(found.calculate) if isinstance(found, Later) else found
            headers = [*self._get_headers, id_header]
            coding = chosen(call.headers.get(b"accept-encoding", b""), len(answer.body))
            if self.cached:
                # processors have instructions for SHA-256, which makes it the fastest digest available
                digest = sha256(answer.body).hexdigest()[:24].encode()
                tag = b'"%b-%b"' % (digest, coding) if coding else b'"%b"' % digest
                headers.append((b"etag", tag))
                held = call.headers.get(b"if-none-match")
                if held and holds(held, tag):
                    await _send(send, 304, None, headers)
                    return
            if coding:
                answer = await _in_coding(answer, coding)
            await _send(send, 200, answer, headers, with_body=method == "GET")
        elif method == "OPTIONS":
            await _send(send, 204, None, [*FAILURE_HEADERS, id_header, *self._options(call)])
        else:
            raise self._not_allowed()

    async def _posted(self, post: Post, call: Call) -> Representation:
        body = await call.body()
        self._refuse_unread_query(call, "POST")
        ask = partial(post, call, body)
        found = await beside_loop(ask) if self.in_thread else ask()
        return await beside_loop(found.calculate) if isinstance(found, Later) else found

    def _not_allowed(self) -> Failed:
        return Failed(
            "method-not-allowed",
            f"Use one of these methods: {self.allow.decode()}.",
            headers=((b"allow", self.allow),),
        )

    def _options(self, call: Call) -> Headers:
        if b"access-control-request-method" not in call.headers:
            return ((b"allow", self.allow),)
        return (
            (b"allow", self.allow),
            (b"access-control-allow-methods", self.allow),
            *preflight_headers(call.headers.get(b"access-control-request-headers", b"")),
        )

    def _refuse_unacceptable(self, call: Call) -> None:
        accept = call.headers.get(b"accept")
        if accept not in self._plain_accepts and not accepts(accept, self.produces):
            detail = f"Accept {self.produces.decode()}."
            raise Failed("not-acceptable", detail)

    def _refuse_unread_query(self, call: Call, method: str) -> None:
        if call.query and method not in self.reads_query:
            refuse_query(call.query)

    def _refuse_other_media(self, call: Call) -> None:
        if (
            not is_media_of_body(call.headers.get(b"content-type", b""), self.consumes)
            or call.headers.get(b"content-encoding", b"identity").lower() != b"identity"
        ):
            known = b", ".join(self.consumes)
            raise Failed(
                "unsupported-media-type",
                f"Send {known.decode()} in UTF-8, without a content coding.",
                headers=((b"accept", known), (b"accept-encoding", b"identity")),
            )


def preflight_headers(asked: bytes) -> Headers:
    """Return what a browser may send and for how long it may rely on that: whatever it asks for.

    The header names are repeated because a star does not cover ``Authorization``.
    """
    allowed = asked if _HEADER_NAMES.fullmatch(asked) else b"*"
    return (b"access-control-allow-headers", allowed), (b"access-control-max-age", b"86400")


async def _in_coding(answer: Representation, coding: bytes) -> Representation:
    if len(answer.body) < LARGE:
        return answer.coded(coding)
    return await beside_loop(partial(answer.coded, coding))


def not_found() -> Failed:
    """Return a new failure, because an exception that is raised again collects tracebacks."""
    return Failed("not-found", "No resource has this path. The paths of the API are listed at /v1.")


async def _send(
    send: Send,
    status: int,
    answer: Representation | None,
    headers: list[Header],
    *,
    with_body: bool = True,
) -> None:
    if answer:
        headers += answer.headers
        headers.append((b"content-type", answer.media))
        headers.append((b"content-length", b"%d" % len(answer.body)))
        if answer.coding:
            headers.append((b"content-encoding", answer.coding))
    start: Any = {"type": "http.response.start", "status": status, "headers": headers}
    await send(start)
    body: Any = {
        "type": "http.response.body",
        "body": answer.body if answer and with_body else b"",
    }
    await send(body)


async def _send_problem(send: Send, failure: Failed, request_id: str, *, with_body: bool) -> None:
    answer, id_header = _problem(failure, request_id)
    await _send(send, failure.status, answer, [*FAILURE_HEADERS, id_header], with_body=with_body)


def _problem(failure: Failed, request_id: str) -> tuple[Representation, Header]:
    answer = Representation(encode(failure.problem(request_id)), PROBLEM, failure.headers)
    return answer, (b"x-request-id", request_id.encode())


async def send_problem(scope: Any, send: Send, failure: Failed) -> None:
    """Answer a request with a problem before it has reached any resource."""
    given = next((value for name, value in scope["headers"] if name == b"x-request-id"), None)
    await _send_problem(send, failure, request_id(given), with_body=scope["method"] != "HEAD")


def problem_response(failure: Failed, given_id: bytes | None) -> tuple[Headers, bytes]:
    """Return the headers and the body of a problem that a server sends by itself."""
    answer, id_header = _problem(failure, request_id(given_id))
    return (
        *FAILURE_HEADERS,
        *answer.headers,
        id_header,
        (b"content-type", answer.media),
        (b"content-length", b"%d" % len(answer.body)),
    ), answer.body
