"""The defaults in use in an answer, each with its origin."""

from collections.abc import Iterator
from functools import lru_cache
from typing import Any, NamedTuple, get_args, get_type_hints

from msgspec import UNSET, Struct, structs

from percell.questions.answering.envelope import Assumption
from percell.questions.vocabulary import cell_resistance
from percell.questions.vocabulary.chemistry import Chemistry, preset
from percell.questions.vocabulary.fields import FROM_CHEMISTRY, extra_of
from percell.questions.vocabulary.read_fields import Reader, reader


class _Default(NamedTuple):
    name: str
    value: Any
    assumption: Assumption


@lru_cache(maxsize=256)
def _defaults_of(kind: type[Struct], chemistry: Chemistry) -> list[_Default]:
    hints = get_type_hints(kind, include_extras=True)
    found = []
    for field in structs.fields(kind):
        if field.required:
            continue
        extra = extra_of(hints[field.name])
        default = field.default
        if default is UNSET:
            if extra.get("default_from") != FROM_CHEMISTRY:
                continue  # it has no default
            value, origin = preset(field.name, chemistry)
            assumption = Assumption(field.name, value, "V", origin)
        else:
            word = (
                _as_written(default, extra["whole"]) if isinstance(default, float) else str(default)
            )
            assumption = Assumption(field.name, word, extra["unit"], extra["default_from"])
        found.append(_Default(field.name, default, assumption))
    return found


def _as_written(value: float, whole: bool) -> float:
    """Return a number as in the document: whole numbers without a decimal point."""
    return int(value) if whole else value


class _Defaults(NamedTuple):
    """The fields with a default, the defaults, and the assumptions to list for them."""

    read: Reader
    defaults: tuple[Any, ...]
    listed: tuple[Assumption, ...]
    holding_objects: tuple[str, ...]


@lru_cache(maxsize=1024)
def _defaults_among(
    kind: type[Struct], chemistry: Chemistry, only: frozenset[str] | None, *, unread: bool
) -> _Defaults:
    used = [d for d in _defaults_of(kind, chemistry) if only is None or d.name in only]
    if unread:  # nobody took a reading, so its time is nobody's
        used = [d for d in used if d.name != "cell_resistance_after_s"]
    return _Defaults(
        reader(tuple(d.name for d in used)),
        tuple(d.value for d in used),
        tuple(d.assumption for d in used),
        tuple(n for n in _holding_objects(kind) if only is None or n in only),
    )


def assumptions(question: Struct, only: frozenset[str] | None = None) -> list[Assumption]:
    """Return the defaults in use: every field that holds its default, or only those named.

    A default inside an object has a dotted name. For a list of objects it is listed once.
    """
    chemistry: Chemistry = getattr(question, "chemistry", Chemistry.NMC)
    unread = _assumes_resistance(question)
    used = _defaults_among(type(question), chemistry, only, unread=unread)
    held = used.read(question)
    found = (
        [*used.listed]
        if held == used.defaults  # the usual case
        else [
            assumption
            for value, default, assumption in zip(held, used.defaults, used.listed, strict=True)
            if value == default
        ]
    )
    if unread and (only is None or "cell_resistance_ohm" in only):
        ohm = cell_resistance.at_usual_temperature(question)
        origin = cell_resistance.how_assumed(question)
        found.append(Assumption("cell_resistance_ohm", ohm, "Ω", origin))
    for name in used.holding_objects:
        part = getattr(question, name)
        if not isinstance(part, (Struct, list)):
            continue  # the field may also be a word, or left out
        inner = dict.fromkeys(a for one in _objects(part) for a in assumptions(one))
        found += [structs.replace(a, name=f"{name}.{a.name}") for a in inner]
    return found


def _assumes_resistance(question: Struct) -> bool:
    """Whether the resistance of the cell follows from what else is known of it."""
    names = question.__struct_fields__
    return "cell_resistance_after_s" in names and question.cell_resistance_ohm is UNSET  # type: ignore[attr-defined] # the two stand together


@lru_cache(maxsize=256)
def _holding_objects(kind: type[Struct]) -> tuple[str, ...]:
    return tuple(name for name, hint in get_type_hints(kind).items() if _holds_object(hint))


def _holds_object(hint: Any) -> bool:
    return (isinstance(hint, type) and issubclass(hint, Struct)) or any(
        _holds_object(part) for part in get_args(hint)
    )


def _objects(value: Any) -> Iterator[Struct]:
    if isinstance(value, Struct):
        yield value
    elif isinstance(value, list):
        for part in value:
            yield from _objects(part)
