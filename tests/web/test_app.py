"""Every request goes through Litestar, and the application has a route for each path of the document."""

from pathlib import Path
from typing import Any

from litestar.middleware import ASGIMiddleware
from litestar.routes import ASGIRoute
from litestar.testing import TestClient
from litestar.types import ASGIApp, Receive, Scope, Send

from percell.questions.registry import QUESTIONS
from percell.web.app import create_app


class Recorder(ASGIMiddleware):
    """Remembers the paths of the requests that pass through it."""

    def __init__(self) -> None:
        self.paths: list[str] = []

    async def handle(self, scope: Scope, receive: Receive, send: Send, next_app: ASGIApp) -> None:
        """Remember, and pass the request on."""
        self.paths.append(scope["raw_path"].decode())
        await next_app(scope, receive, send)


def test_a_middleware_sees_every_request(tmp_path: Path) -> None:
    """What is put around the application is around each resource and each page."""
    (tmp_path / "index.html").write_text("front")
    recorder = Recorder()
    asked = [
        "/healthz",
        "/v1/direct-load",
        "/v1/tables/cell-sag.csv",
        "/openapi.json",
        "/",
        "/v1/nothing",
    ]
    with TestClient(create_app(tmp_path, middleware=[recorder])) as caller:
        for path in asked:
            caller.get(path)
    assert recorder.paths == asked


def test_every_path_of_the_document_is_a_route(document: Any) -> None:
    """The router itself knows each path, so Litestar's own tools list it."""
    routes = {route.path for route in create_app().routes if isinstance(route, ASGIRoute)}
    concrete = {path for path in document["paths"] if "{" not in path}
    assert concrete <= routes
    assert {f"/v1/{name}" for name in QUESTIONS} <= routes
