"""The conformance kit, for download: requests with the answers of this version."""

from functools import cache
from pathlib import Path

from percell.web.index import KIT
from percell.web.resource import Representation, Resource

_PACKAGED = Path(__file__).parents[1] / "conformance.jsonl"
_CHECKED_OUT = Path(__file__).parents[3] / "openapi" / "conformance.jsonl"
_MEDIA = b"application/jsonl"


def kit_file() -> Path:
    """Return the file of the kit: in the package, or else in the checkout."""
    return _PACKAGED if _PACKAGED.is_file() else _CHECKED_OUT


@cache
def _kit() -> Representation:
    return Representation(kit_file().read_bytes(), _MEDIA, kept={})


def kit_resource() -> Resource:
    """Return the resource of the kit."""
    return Resource(KIT, get=lambda _: _kit(), produces=_MEDIA, in_thread=True)
