"""How a client learns that a question will go: by headers of its answers, and in the document."""

from datetime import UTC, date, datetime
from email.utils import format_datetime
from typing import Any

from percell.questions.answering.deprecation import Deprecation
from percell.web.resource import Headers

# the page that says how long something deprecated still works
_POLICY = b'</changes/#how-something-is-removed>; rel="deprecation"; type="text/html"'


def deprecation_headers(deprecated: Deprecation | None) -> Headers:
    """Return the headers of each answer of a deprecated question (RFC 9745, RFC 8594)."""
    if deprecated is None:
        return ()
    since = b"@%d" % _start_of(deprecated.since).timestamp()
    found: Headers = ((b"deprecation", since), (b"link", _POLICY))
    if deprecated.ends:
        end = format_datetime(_start_of(deprecated.ends), usegmt=True)
        found += ((b"sunset", end.encode()),)
    return found


def _start_of(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC)


def described(operation: dict[str, Any], deprecated: Deprecation | None) -> dict[str, Any]:
    """Return the description of an operation, which says so if its question is deprecated."""
    if deprecated is None:
        return operation
    said = f" Deprecated since {deprecated.since}"
    if deprecated.ends:
        said += f", may be gone from {deprecated.ends}"
    description = f"{operation['description']}{said}. Use {deprecated.instead}."
    return operation | {"deprecated": True, "description": description}
