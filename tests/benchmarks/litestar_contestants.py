"""Ways to write one question's endpoint in Litestar without resources, and percell with a middleware.

All call the same ``answer``; PERCELL_BENCH_QUESTION names the question.

- ``textbook`` is what Litestar's documentation teaches first: a Struct for the body, a Struct returned.
  It checks less than percell does: ``"25"`` passes for a number, and there are no tags and no headers.
- ``strict`` is as strict as a resource, with documented means alone: guards, exception handlers,
  declared headers.
  The pieces that a handler needs anyway (query, media types, problem texts) are percell's own. It
  still lacks HEAD.
- ``with_middleware`` is percell with one middleware that does nothing: the least that each one costs.
"""

import os
from hashlib import sha256
from typing import Any

import msgspec
from litestar import Litestar, Request, Response, get, post
from litestar.connection import ASGIConnection
from litestar.datastructures import CacheControlHeader, ResponseHeader
from litestar.exceptions import NotFoundException
from litestar.handlers import BaseRouteHandler
from litestar.middleware import ASGIMiddleware
from litestar.params import JSONBody, RawBody
from litestar.types import ASGIApp, Receive, Scope, Send

from percell.questions.registry import QUESTIONS
from percell.web import app as percell_app
from percell.web.call import request_id
from percell.web.exceptions import HANDLERS
from percell.web.negotiate import accepts, holds, is_media_of_body
from percell.web.problems import MEDIA, Failed
from percell.web.query import names_of, read_query, refuse_query
from percell.web.resource import FAILURE_HEADERS, JSON, encode
from percell.web.translate import ERRORS, failed

QUESTION = QUESTIONS[os.environ["PERCELL_BENCH_QUESTION"]]
PATH = f"/v1/{QUESTION.id}"
Asked, Answered = QUESTION.asked, QUESTION.answered
Connection = ASGIConnection[Any, Any, Any, Any]


@post(PATH, status_code=200, sync_to_thread=False)
def textbook_post(data: JSONBody[Asked]) -> Answered:  # type: ignore[valid-type] # known at run time only
    """Answer a body."""
    return QUESTION.answer(data)


@get(PATH, sync_to_thread=False)
def textbook_get(request: Request[Any, Any, Any]) -> Answered:  # type: ignore[valid-type]
    """Answer a query string."""
    return QUESTION.answer(msgspec.convert(dict(request.query_params), Asked, strict=False))


textbook = Litestar([textbook_post, textbook_get], openapi_config=None, logging_config=None)


def exact_path(connection: Connection, _: BaseRouteHandler) -> None:
    """Refuse what the router forgives."""
    if connection.scope["raw_path"].partition(b"?")[0] != PATH.encode():
        raise NotFoundException


def acceptable(connection: Connection, _: BaseRouteHandler) -> None:
    """Refuse a client that does not accept JSON."""
    accept = connection.headers.get("accept", "*/*")
    if accept not in ("*/*", "", "application/json") and not accepts(accept.encode(), JSON):
        raise Failed("not-acceptable", "Accept one of these media types: application/json.")


def json_body(connection: Connection, _: BaseRouteHandler) -> None:
    """Refuse a body that is not JSON in UTF-8, and a query beside it."""
    media = connection.headers.get("content-type", "").encode()
    coding = connection.headers.get("content-encoding", "identity").lower()
    if not is_media_of_body(media, [JSON]) or coding != "identity":
        raise Failed("unsupported-media-type", "Send application/json in UTF-8.")
    if query := connection.scope["query_string"]:
        refuse_query(query)


def own_headers(request: Request[Any, Any, Any]) -> dict[str, str]:
    """Return the headers that differ from request to request."""
    given = request.headers.get("x-request-id", "").encode()
    return {"x-request-id": request_id(given)}


def tag(request: Request[Any, Any, Any], body: bytes) -> Response[bytes]:
    """Return an answer with its tag, or that the client holds it already."""
    etag = f'"{sha256(body).hexdigest()[:24]}"'
    held = request.headers.get("if-none-match", "").encode()
    headers = {"etag": etag, **own_headers(request)}
    if held and holds(held, etag.encode()):
        return Response(b"", status_code=304, headers=headers)
    return Response(body, media_type="application/json", headers=headers)


def on_failed(request: Request[Any, Any, Any], failure: Failed) -> Response[bytes]:
    """Return a problem document."""
    named = (*FAILURE_HEADERS, *failure.headers)
    headers = {name.decode(): value.decode() for name, value in named}
    return Response(
        encode(failure.problem(own_headers(request)["x-request-id"])),
        status_code=failure.status,
        media_type=MEDIA.decode(),
        headers={**headers, **own_headers(request)},
    )


decode = msgspec.json.Decoder(Asked).decode


@post(
    PATH,
    status_code=200,
    sync_to_thread=False,
    guards=[json_body],
    cache_control=CacheControlHeader(no_store=True),
)
def strict_post(request: Request[Any, Any, Any], body: RawBody) -> Response[bytes]:
    """Answer a body."""
    try:
        answer = encode(QUESTION.answer(decode(body)))
    except ERRORS as error:
        raise failed(error, Asked, body) from None
    return Response(answer, media_type="application/json", headers=own_headers(request))


@get(PATH, sync_to_thread=False, cache_control=CacheControlHeader(public=True, max_age=3600))
def strict_get(request: Request[Any, Any, Any]) -> Response[bytes]:
    """Answer a query string."""
    fields = read_query(request.scope["query_string"], names_of(Asked))
    try:
        answer = encode(QUESTION.answer(msgspec.convert(fields, Asked, strict=False)))
    except ERRORS as error:
        raise failed(error, Asked, fields) from None
    return tag(request, answer)


strict = Litestar(
    [strict_post, strict_get],
    guards=[exact_path, acceptable],
    response_headers=[
        ResponseHeader(name=name.decode(), value=value.decode())
        for name, value in FAILURE_HEADERS
        if name not in (b"cache-control", b"link")
    ],
    exception_handlers={**HANDLERS, Failed: on_failed},
    request_max_body_size=1024 * 1024,
    openapi_config=None,
    logging_config=None,
)


class Idle(ASGIMiddleware):
    """Does nothing."""

    async def handle(self, scope: Scope, receive: Receive, send: Send, next_app: ASGIApp) -> None:
        """Pass the request on."""
        await next_app(scope, receive, send)


with_middleware = percell_app.create_app(middleware=[Idle()])
