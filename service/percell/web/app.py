"""The ASGI application: resources, and around them Litestar's router, exception handlers and lifespan.

Litestar's ``CORSConfig`` is not used. It answers every preflight alike, even for a path that does not
exist, and cannot say which methods a path takes. For a request with a cookie it replaces ``Vary: Accept``
by ``Vary: Origin``, so a cache could give a table's CSV to a client that asks for JSON. A resource sends
its own headers for other origins instead. Pages of the site serve their own origin only.
"""

from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from litestar import Litestar, asgi
from litestar.types import Middleware

from percell.questions.registry import QUESTIONS
from percell.web import openapi
from percell.web.answer_csv import csv_resources
from percell.web.ask import question_resource
from percell.web.ask_csv import log_resource
from percell.web.ask_pages.pages import ask_router
from percell.web.batch import batch_resource
from percell.web.exceptions import HANDLERS
from percell.web.health import health
from percell.web.index import index
from percell.web.kit import kit_resource
from percell.web.reference import reference
from percell.web.reply import reply_resources
from percell.web.resource import DOCUMENT_LINKS, Headers, Representation, Resource, encode
from percell.web.short import short_resources
from percell.web.site import site_router
from percell.web.tables import table_resources
from percell.web.well_known import well_known_resources


def _resources() -> list[Resource]:
    return [
        *(question_resource(question) for question in QUESTIONS.values()),
        log_resource(),
        *short_resources(),
        *csv_resources(),
        *reply_resources(),
        batch_resource(),
        *table_resources(),
        _constant("/v1/reference", encode(reference())),
        # made on the first request, in a thread: it calculates an answer to every question
        Resource("/openapi.json", get=lambda _: _document(), in_thread=True),
        _constant("/v1", encode(index()), headers=(DOCUMENT_LINKS,)),
        _constant("/healthz", encode(health()), cached=False, headers=(DOCUMENT_LINKS,)),
        kit_resource(),
        *well_known_resources(),
    ]


@cache
def _document() -> Representation:
    return Representation(openapi.as_bytes(), kept={})


def _constant(path: str, body: bytes, *, cached: bool = True, headers: Headers = ()) -> Resource:
    answer = Representation(body, headers=headers, kept={})
    return Resource(path, get=lambda _: answer, cached=cached)


def _route(resource: Resource) -> Any:
    # nothing changes the scope, so the resource does not copy it
    return asgi(resource.path.decode(), copy_scope=False)(resource.__call__)


def create_app(site: Path | None = None, *, middleware: Sequence[Middleware] = ()) -> Litestar:
    """Return the application.

    Args:
        site: Folder of the built site. None serves the API alone.
        middleware: What every request passes through on its way to its resource or page.
    """
    return Litestar(
        route_handlers=[
            *(_route(resource) for resource in _resources()),
            ask_router(has_site=site is not None),
            *([site_router(site)] if site else []),
        ],
        middleware=middleware,
        exception_handlers=HANDLERS,
        openapi_config=None,
        logging_config=None,
    )
