"""Whether the service is up."""

from typing import Any

from msgspec import Struct

from percell import VERSION
from percell.web.operations import catalogue


class ServiceHealth(Struct, frozen=True):
    """The service is running."""

    status: str
    version: str


def health() -> ServiceHealth:
    """Return that the service is running, and its version."""
    return ServiceHealth("ok", VERSION)


def health_operation() -> dict[str, Any]:
    """Return the description of the health check."""
    return catalogue("get_service_health", "Whether the service is up", ServiceHealth, health())
