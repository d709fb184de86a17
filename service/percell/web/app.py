"""The ASGI application."""

from pathlib import Path
from typing import Any

from litestar import Litestar, asgi
from litestar.types import ASGIApp, Receive, Scope, Send

from percell.questions.registry import QUESTIONS
from percell.web import ask, openapi
from percell.web.ask import encode
from percell.web.health import health
from percell.web.reference import reference
from percell.web.reply import reply_resource
from percell.web.resource import Reply, Resource
from percell.web.site import Pages
from percell.web.tables import table_resources


def _resources() -> list[Resource]:
    return [
        *(ask.question_resource(question) for question in QUESTIONS.values()),
        ask.batch_resource(),
        reply_resource(),
        *table_resources(),
        _fixed("/v1/reference", encode(reference())),
        # worked out when it is first asked for, in a thread: it holds a true answer to every question
        Resource("/openapi.json", get=lambda _: Reply(openapi.as_bytes()), apart=True),
        _fixed("/healthz", encode(health()), kept=False),
    ]


def _fixed(path: str, body: bytes, *, kept: bool = True) -> Resource:
    return Resource(path, get=lambda _: Reply(body), kept=kept)


def _routed(resource: Resource) -> Any:
    # copy_scope: nothing here changes the scope, and copying it is most of what the route costs
    return asgi(resource.path.decode(), copy_scope=False)(resource.__call__)


def _elsewhere(site: Path | None) -> Any:
    """Return the route of every path that no resource has: a page of the site, or nothing."""
    # a path that no request can have, so that the answer is always that nothing is here
    nothing = Resource("")
    pages = Pages(site) if site else nothing

    @asgi("/", is_mount=True, copy_scope=False)
    async def handle(scope: Scope, receive: Receive, send: Send) -> None:
        path = scope["raw_path"].partition(b"?")[0]
        handler = nothing if path == b"/v1" or path.startswith(b"/v1/") else pages
        await handler(scope, receive, send)

    return handle


class _ShortWay:
    """Goes straight to the resource whose exact path is asked for; all else takes Litestar's router.

    Routing, and keeping an exception handler at hand that no resource needs, is a seventh of what a
    plain question costs. This stands where Litestar puts its own handler for cross-origin requests:
    around the router.
    """

    def __init__(self, resources: list[Resource], router: ASGIApp) -> None:
        self._by_path = {resource.path: resource for resource in resources}
        self._router = router

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await self._by_path.get(scope["raw_path"], self._router)(scope, receive, send)


def create_app(site: Path | None = None) -> Litestar:
    """Return the application: the API, and the built site of a folder where one is given."""
    resources = _resources()
    app = Litestar(
        route_handlers=[*(_routed(resource) for resource in resources), _elsewhere(site)],
        openapi_config=None,
        logging_config=None,
    )
    app.asgi_handler = _ShortWay(resources, app.asgi_handler)
    return app
