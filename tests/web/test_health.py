"""The health check."""

from typing import Any

from percell import VERSION


def test_health(client: Any) -> None:
    """The service says that it is up, and which version it is."""
    assert client.get("/healthz").json() == {"status": "ok", "version": VERSION}
