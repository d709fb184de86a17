"""What an answer repeats of its question: the fields that the caller gave, and no default."""

from functools import cache
from typing import Any, get_type_hints

from msgspec import Struct, structs

from percell.questions.vocabulary.fields import extra_of


def changed(asked: Struct) -> dict[str, Any]:
    """Return the fields of a question that are not their defaults."""
    told = {
        name: _plain(value)
        for name, default in defaults_of(type(asked)).items()
        if (value := getattr(asked, name)) != default
    }
    return _with_whole_numbers(told, type(asked))


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
        told = {name: given(getattr(asked, name), names[name]) for name in own if name in names}
        return _with_whole_numbers(told, type(asked))
    if isinstance(names, list):
        return [given(one, part) for one, part in zip(asked, names, strict=True)]
    return asked


def _with_whole_numbers(told: dict[str, Any], kind: type[Struct]) -> dict[str, Any]:
    """Write whole numbers without a decimal point: readers with a type for them refuse ``2.0``."""
    for name in _whole_numbers_of(kind):
        if name in told:
            told[name] = int(told[name])
    return told


@cache
def _whole_numbers_of(kind: type[Struct]) -> tuple[str, ...]:
    hints = get_type_hints(kind, include_extras=True)
    return tuple(name for name in kind.__struct_fields__ if extra_of(hints[name]).get("whole"))
