"""Read a query string as strictly as a body."""

import re
from typing import Any
from urllib.parse import parse_qsl

from percell.web.problems import Failed, FieldError, escaped, failed_field

MOST_FIELDS = 100
_BAD_PERCENT = re.compile(rb"%(?![0-9A-Fa-f]{2})")


def read_query(query: bytes) -> dict[str, Any]:
    """Return the fields of a query string; a dot in a name makes a field of an object.

    A name that appears twice is refused, because nobody could say which value counts.
    """
    if _BAD_PERCENT.search(query):  # the standard library would accept it
        raise _unreadable()
    try:
        pairs = parse_qsl(
            query.decode("ascii"),
            keep_blank_values=True,
            strict_parsing=bool(query),
            errors="strict",
            max_num_fields=MOST_FIELDS,
        )
    except (ValueError, UnicodeDecodeError):
        raise _unreadable() from None
    fields: dict[str, Any] = {}
    for name, value in pairs:
        *parents, last = name.split(".")
        target: Any = fields
        for parent in parents:
            target = target.setdefault(parent, {})
            if not isinstance(target, dict):
                raise _twice(name)
        if last in target:
            raise _twice(name)
        target[last] = value
    return fields


def refuse_query(query: bytes) -> None:
    """Refuse a query string on a path without one, because its fields would be ignored silently."""
    if fields := read_query(query):
        detail = "This path reads no query fields. Send the fields of a POST in its body."
        pointer = _pointer(next(iter(fields)))
        raise Failed("outside-contract", detail, errors=[FieldError(pointer, detail)])


def _unreadable() -> Failed:
    return Failed(
        "unreadable-query",
        f"The query string must be name=value pairs in UTF-8, {MOST_FIELDS} or fewer.",
    )


def _twice(name: str) -> Failed:
    return failed_field(_pointer(name), "Give this field only once.")


def _pointer(name: str) -> str:
    return "/" + escaped(name).replace(".", "/")
