"""Whether the service is up."""

from msgspec import Struct

from percell import VERSION


class Health(Struct, frozen=True):
    """The service answers."""

    status: str
    version: str


def health() -> Health:
    """Return that the service answers, and its version."""
    return Health("ok", VERSION)
