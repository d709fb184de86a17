"""The document as a later one is compared with it: what a client relies on, without the words."""

from typing import Any

import msgspec

from percell.web import openapi

# what may be said in other words at any time
_WORDS = frozenset(
    {
        "description",
        "summary",
        "title",
        "example",
        "examples",
        "info",
        "tags",
    }
)
# below these, names are those of fields and of schemas, not keywords
_NAMED = frozenset({"properties", "schemas", "parameters", "responses", "headers", "paths"})


def baseline() -> bytes:
    """Return the document without its words, as JSON without line breaks."""
    return msgspec.json.encode(_without_words(openapi.document())) + b"\n"


def _without_words(part: Any, *, named: bool = False) -> Any:
    if isinstance(part, list):
        return [_without_words(inner) for inner in part]
    if not isinstance(part, dict):
        return part
    return {
        name: _without_words(inner, named=name in _NAMED)
        for name, inner in part.items()
        if named or name not in _WORDS
    }
