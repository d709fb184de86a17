"""The ASGI application."""

import logging
import os
from pathlib import Path
from typing import Any

from litestar import Litestar, asgi
from litestar.types import Receive, Scope, Send

from percell.questions.registry import QUESTIONS
from percell.web import ask, openapi
from percell.web.ask import encode
from percell.web.health import health
from percell.web.problems import Failed
from percell.web.reference import reference
from percell.web.resource import NOT_FOUND, Reply, Resource, send_problem
from percell.web.site import site_router
from percell.web.tables import table_resources

log = logging.getLogger("percell")


def _resources() -> list[Resource]:
    return [
        *(ask.question_resource(question) for question in QUESTIONS.values()),
        ask.batch_resource(),
        *table_resources(),
        _fixed("/v1/reference", encode(reference())),
        _fixed("/openapi.json", openapi.as_text().encode()),
        _fixed("/healthz", encode(health()), kept=False),
    ]


def _fixed(path: str, body: bytes, *, kept: bool = True) -> Resource:
    return Resource(path, get=lambda _: Reply(body), kept=kept)


def _routed(resource: Resource) -> Any:
    # copy_scope: nothing here changes the scope, and copying it is most of what the route costs
    @asgi(resource.path.decode(), copy_scope=False)
    async def handle(scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await resource(scope, receive, send)
        except Exception:
            log.exception("defect at %s", resource.path.decode())
            await send_problem(send, Failed("internal-error", "The service failed."))

    return handle


@asgi("/v1", is_mount=True, copy_scope=False)
async def _nothing(scope: Scope, receive: Receive, send: Send) -> None:  # noqa: ARG001
    await send_problem(send, NOT_FOUND)


def create_app(site: Path | None = None) -> Litestar:
    """Return the application: the API, and the built site of a folder where one is given."""
    return Litestar(
        route_handlers=[
            *(_routed(resource) for resource in _resources()),
            _nothing,
            *([site_router(site)] if site else []),
        ],
        openapi_config=None,
        logging_config=None,
    )


def from_environment() -> Litestar:
    """Return the application as the environment asks for it: ``PERCELL_SITE`` names the site's folder."""
    folder = os.environ.get("PERCELL_SITE")
    return create_app(Path(folder) if folder else None)


app = create_app()
