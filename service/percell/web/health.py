"""Whether the service is up."""

from typing import Annotated, Any

from msgspec import Meta, Struct

from percell import VERSION
from percell.web.operations import catalogue


class ServiceHealth(Struct, frozen=True):
    """The service is running."""

    status: Annotated[str, Meta(description="`ok`.")]
    version: Annotated[str, Meta(description="Version of percell.")]


def health() -> ServiceHealth:
    """Return that the service is running, and its version."""
    return ServiceHealth("ok", VERSION)


def health_operation() -> dict[str, Any]:
    """Return the description of the health check."""
    title = "Whether the service is up"
    return catalogue("get_service_health", title, ServiceHealth, cached=False)
