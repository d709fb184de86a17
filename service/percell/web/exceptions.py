"""Exceptions that no resource has handled, as problem documents.

The router raises them, and so do the pages of the site.
"""

from http import HTTPStatus
from typing import Any

from litestar import Request, Response
from litestar.enums import HttpMethod
from litestar.exceptions import HTTPException
from litestar.types import ExceptionHandlersMap

from percell.web.call import request_id
from percell.web.problems import MEDIA, Failed, Problem
from percell.web.resource import FAILURE_HEADERS, encode, log, not_found, preflight_headers

METHODS = frozenset(HttpMethod)


def on_http_exception(request: Request[Any, Any, Any], exception: HTTPException) -> Response[bytes]:
    """Return an error that Litestar raised as a problem document."""
    headers = exception.headers or {}
    if exception.status_code == HTTPStatus.NOT_FOUND:
        if request.method == HttpMethod.OPTIONS and (
            method := request.headers.get("access-control-request-method")
        ):
            return _preflight(request, method)
        return _response(request, not_found().problem(_id(request)), headers)
    if exception.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
        # Litestar names the methods in any order
        allow = ", ".join(sorted(headers["allow"].split(", ")))
        failure = Failed("method-not-allowed", f"Use one of these methods: {allow}.")
        return _response(request, failure.problem(_id(request)), {"allow": allow})
    if exception.status_code == HTTPStatus.BAD_REQUEST:  # such as a malformed Host
        failure = Failed("malformed-request", f"{exception.detail}.")
        return _response(request, failure.problem(_id(request)), {"connection": "close"})
    # percell has no problem type for the rest; "about:blank" says no more than the status does
    status = HTTPStatus(exception.status_code)
    problem = Problem(
        type="about:blank",
        title=status.phrase,
        status=status,
        detail=exception.detail,
        request_id=_id(request),
    )
    return _response(request, problem, headers)


def on_defect(request: Request[Any, Any, Any], exception: Exception) -> Response[bytes]:
    """Log a defect, and return a problem document without any of its details."""
    problem = Failed("internal-error", "The service failed.").problem(_id(request))
    log.error(
        "defect at %s, request %s",
        request.scope["path"],
        problem.request_id,
        exc_info=exception,
    )
    return _response(request, problem, {})


def _preflight(request: Request[Any, Any, Any], method: str) -> Response[bytes]:
    """Let the page of another origin ask: otherwise it could not see that nothing is there."""
    asked = request.headers.get("access-control-request-headers", "").encode("latin-1")
    headers = (*FAILURE_HEADERS, *preflight_headers(asked))
    return Response(
        b"",
        status_code=HTTPStatus.NO_CONTENT,
        headers={
            **{name.decode(): value.decode() for name, value in headers},
            "access-control-allow-methods": method if method in METHODS else "GET",
            "x-request-id": _id(request),
        },
    )


HANDLERS: ExceptionHandlersMap = {HTTPException: on_http_exception, Exception: on_defect}


def _id(request: Request[Any, Any, Any]) -> str:
    return request_id(request.headers.get("x-request-id", "").encode("latin-1"))


def _response(
    request: Request[Any, Any, Any], problem: Problem, headers: dict[str, str]
) -> Response[bytes]:
    body = encode(problem)
    return Response(
        b"" if request.method == "HEAD" else body,
        status_code=problem.status,
        media_type=MEDIA.decode(),
        headers={
            **{name.decode(): value.decode() for name, value in FAILURE_HEADERS},
            **headers,
            "x-request-id": problem.request_id,
            "content-length": str(len(body)),
        },
    )
