"""Whether the service is up."""

from msgspec import Struct

from percell import VERSION


class ServiceHealth(Struct, frozen=True):
    """The service answers."""

    status: str
    version: str


def health() -> ServiceHealth:
    """Return that the service answers, and its version."""
    return ServiceHealth("ok", VERSION)
