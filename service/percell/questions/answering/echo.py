"""What an answer repeats of its question: the fields that the caller gave, and no default."""

from functools import cache
from typing import Any

from msgspec import Struct, structs


def changed(asked: Struct) -> dict[str, Any]:
    """Return the fields of a question that are not their defaults."""
    return {
        name: _plain(value)
        for name, default in defaults_of(type(asked)).items()
        if (value := getattr(asked, name)) != default
    }


@cache
def defaults_of(kind: type[Struct]) -> dict[str, Any]:
    """Return the default of each field: looked up once, because msgspec reads all annotations for it."""
    return {field.name: field.default for field in structs.fields(kind)}


def _plain(value: Any) -> Any:
    if isinstance(value, Struct):
        return changed(value)
    return [_plain(one) for one in value] if isinstance(value, list) else value


def given(asked: Any, names: Any) -> Any:
    """Return of a question the fields that were named: in its own order, with the values as read.

    So the same question has the same answer, byte for byte, however its numbers were written.
    """
    if isinstance(names, dict):
        own = asked.__struct_fields__
        return {name: given(getattr(asked, name), names[name]) for name in own if name in names}
    if isinstance(names, list):
        return [given(one, part) for one, part in zip(asked, names, strict=True)]
    return asked
