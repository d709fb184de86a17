"""What no resource has handled is a problem document too."""

import json
import logging
from pathlib import Path
from typing import Any

import pytest
from litestar import Litestar, get
from litestar.exceptions import HTTPException
from litestar.testing import TestClient

from percell.web.app import create_app
from percell.web.exceptions import HANDLERS


def test_a_host_that_is_none_is_refused(client: Any, is_problem: Any) -> None:
    """The router refuses a malformed Host with the problem of all that breaks the rules of HTTP; the connection ends."""
    for path in ("/healthz", "/nothing"):
        response = client.get(path, headers={"host": "a b", "x-request-id": "mine"})
        problem = is_problem(response, "malformed-request", 400)
        assert problem["detail"] == "Invalid host header."
        assert problem["request_id"] == "mine"
        assert response.headers["cache-control"] == "no-store"
        assert response.headers["connection"] == "close"


def test_head_of_a_problem_has_the_head_of_get(client: Any) -> None:
    """Without content, but with the length that GET has."""
    named = {"x-request-id": "mine"}
    found, head = client.get("/nothing", headers=named), client.head("/nothing", headers=named)
    assert found.status_code == head.status_code == 404
    assert head.content == b""
    assert head.headers == found.headers
    assert int(head.headers["content-length"]) == len(found.content)


def test_a_defect_outside_the_resources(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    is_problem: Any,
) -> None:
    """It ends in a 500 that says nothing about the inside, and in the log under the request's id."""

    def broken(_: Path) -> bytes:
        raise ZeroDivisionError("the inside")

    (tmp_path / "index.html").write_text("front")
    monkeypatch.setattr(Path, "read_bytes", broken)
    with (
        caplog.at_level(logging.ERROR),
        TestClient(create_app(tmp_path), raise_server_exceptions=False) as caller,
    ):
        response = caller.get("/")
    is_problem(response, "internal-error", 500)
    assert "the inside" not in response.text
    assert response.headers["x-request-id"] in caplog.text
    assert "the inside" in caplog.text


@pytest.mark.parametrize(
    ("status", "kind"), [(404, "/problems/not-found/"), (418, "about:blank"), (503, "about:blank")]
)
def test_any_exception_of_the_framework(status: int, kind: str) -> None:
    """An HTTP exception that anything in the application raises has its own status and headers."""

    @get("/")
    async def raises() -> None:
        raise HTTPException(detail="why", status_code=status, headers={"retry-after": "9"})

    app = Litestar([raises], exception_handlers=HANDLERS, openapi_config=None, logging_config=None)
    with TestClient(app) as caller:
        response = caller.get("/")
    assert response.status_code == status
    assert response.headers["retry-after"] == "9"
    problem = json.loads(response.content)
    assert (problem["type"], problem["status"]) == (kind, status)
