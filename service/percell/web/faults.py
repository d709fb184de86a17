"""Every fault of type and bound of a request: a second pass, made only after msgspec has refused it.

msgspec stops at the first fault and tells it as English text. Here each value is compared with the type
hint of its field, and msgspec decides about each value, so that both passes refuse the same requests.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from enum import Enum
from itertools import islice
from types import NoneType, UnionType
from typing import Annotated, Any, NamedTuple, Union, get_args, get_origin, get_type_hints

import msgspec
from msgspec import Meta, Struct, UnsetType, structs

from percell.questions.vocabulary.refusal import Fault, FaultCode
from percell.web.problems import MOST_FOUND, escaped

# nobody mistypes a name that long, and to compare one takes long
_LONGEST_NAME = 60
# hints of what is looked at later
_ANYTHING = (Any, msgspec.Raw)
# items of a list that are checked together
_PIECE = 1000


@dataclass(frozen=True, slots=True)
class Lacking:
    """Stands where a query has too few values for its entries. No type takes it, so that msgspec refuses it."""

    detail: str | None  # none where another place of the same field says it


class Form(NamedTuple):
    """One of the forms that a field takes, and what limits it."""

    hint: Any
    limits: tuple[Meta, ...]

    @property
    def kind(self) -> Any:
        """Return the class of its values."""
        return get_origin(self.hint) or self.hint

    def limit(self, name: str) -> Any:
        """Return a limit, or None if it has none of this name."""
        found = (getattr(meta, name) for meta in self.limits)
        return next((one for one in found if one is not None), None)


def faults_in(value: Any, hint: Any, at: str = "", *, by_query: bool = False) -> list[Fault]:
    """Return the faults of a value, at most ``MOST_FOUND``.

    Args:
        value: Plain JSON values; from a query, texts, a list where a name was given several times, and
            ``Lacking``.
        hint: The type that the value must have.
        at: JSON pointer to the value.
        by_query: Whether the value is from a query, where numbers are texts.
    """
    return list(islice(_Pass(by_query).faults(value, hint, at), MOST_FOUND))


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that a mistyped one is probably meant to be."""
    found = get_close_matches(name, list(known), 1) if len(name) <= _LONGEST_NAME else []
    return found[0] if found else None


def meant(suggestion: str | None) -> str:
    """Return the question whether the suggestion was meant, to append to a sentence."""
    return f" Did you mean {suggestion}?" if suggestion else ""


class _Pass:
    def __init__(self, by_query: bool) -> None:
        self._by_query = by_query

    def faults(self, value: Any, hint: Any, at: str) -> Iterator[Fault]:
        if isinstance(value, Lacking):
            if value.detail:
                yield Fault(at, value.detail, FaultCode.MISSING)
            return
        forms = list(forms_of(hint))
        form = next((one for one in forms if self._fits(value, one)), None)
        if form is None:
            yield self._of_type(value, forms, at)
        elif is_struct(form.kind):
            yield from self._of_struct(value, form.kind, at)
        elif form.kind is dict:
            named, inner = get_args(form.hint)
            for name, one in value.items():
                place = f"{at}/{escaped(name)}"
                yield from self.faults(name, named, place)
                yield from self.faults(one, inner, place)
        elif form.kind is list:
            yield from self._of_list(value, form, at)
        elif form.kind not in _ANYTHING and not self._is_valid(value, form.hint, form.limits):
            yield self._of_value(value, form, at)

    def _fits(self, value: Any, form: Form) -> bool:
        """Whether a form takes values of this type."""
        kind = form.kind
        if kind in _ANYTHING:
            return True
        if isinstance(value, dict):
            return kind is dict or is_struct(kind)
        if isinstance(value, list):
            return kind is list
        if isinstance(value, str) and (kind is str or _is_word(kind)):
            return True
        if value is None:
            return kind is NoneType
        return kind in (float, int, bool) and self._is_valid(value, float if kind is int else kind)

    def _is_valid(self, value: Any, hint: Any, limits: tuple[Meta, ...] = ()) -> bool:
        for limit in limits:
            hint = Annotated[hint, limit]
        try:
            msgspec.convert(value, hint, strict=not self._by_query)
        except msgspec.ValidationError:
            return False
        return True

    def _of_type(self, value: Any, forms: list[Form], at: str) -> Fault:
        if self._by_query and isinstance(value, list):
            return Fault(at, "Give this field only once.", FaultCode.TWICE)
        takes = " or ".join(
            dict.fromkeys(_name_of(form.kind) for form in forms if form.kind is not NoneType)
        )
        detail = f"Expected {takes}, got {_name_of(type(value))}."
        if self._by_query and takes == _NAMES[float]:
            detail += " Write it with a decimal point and without a unit, such as 0.5."
        if value is None:
            return Fault(at, f"{detail} Leave the field out instead.", FaultCode.NULL)
        return Fault(at, detail, FaultCode.WRONG_TYPE)

    def _of_struct(self, value: dict[str, Any], kind: type[Struct], at: str) -> Iterator[Fault]:
        hints = get_type_hints(kind, include_extras=True)
        for field in structs.fields(kind):
            place = f"{at}/{field.encode_name}"
            if field.encode_name in value:
                yield from self.faults(value[field.encode_name], hints[field.name], place)
            elif field.required:
                yield Fault(place, "This field is required.", FaultCode.MISSING)
        if kind.__struct_config__.forbid_unknown_fields:
            yield from _unknown(value, kind, at)

    def _of_list(self, value: list[Any], form: Form, at: str) -> Iterator[Fault]:
        least, most = form.limit("min_length"), form.limit("max_length")
        if least is not None and len(value) < least:
            yield Fault(
                at,
                f"The list must have at least {least} {'entry' if least == 1 else 'entries'}.",
                FaultCode.TOO_SHORT,
                least,
            )
        if most is not None and len(value) > most:
            yield Fault(at, f"The list must have at most {most} entries.", FaultCode.TOO_LONG, most)
            return  # its items may be many
        (item,) = get_args(form.hint)
        if item in _ANYTHING:
            return
        for start in range(0, len(value), _PIECE):
            piece = value[start : start + _PIECE]
            if not self._is_valid(piece, list[item]):  # type: ignore[valid-type] # known at run time only
                for i, one in enumerate(piece, start):
                    yield from self.faults(one, item, f"{at}/{i}")

    def _of_value(self, value: Any, form: Form, at: str) -> Fault:
        if form.kind in (float, int):
            number = msgspec.convert(value, float, strict=not self._by_query)
            return _of_number(number, form, at)
        if _is_word(form.kind):
            words = [str(word) for word in form.kind]
            close = nearest(value, words)
            if close and close in value:
                close = None  # "uneven" is not a mistyped "even"
            detail = (
                f"{_quoted(value)} is not allowed. Use one of: {', '.join(words)}.{meant(close)}"
            )
            return Fault(at, detail, FaultCode.NOT_ALLOWED, None, close)
        return _of_text(value, form, at)


def _of_number(number: float, form: Form, at: str) -> Fault:
    least, most = form.limit("ge"), form.limit("le")
    unit = (form.limit("extra_json_schema") or {}).get("x-unit", "1")
    unit = "" if unit == "1" else f" {unit}"
    if least is not None and not number >= least:  # so that NaN is below
        return Fault(at, f"It must be {least:g}{unit} or more.", FaultCode.BELOW, least)
    if most is not None and number > most:
        return Fault(at, f"It must be {most:g}{unit} or less.", FaultCode.ABOVE, most)
    return Fault(at, "It must be a whole number.", FaultCode.NOT_A_WHOLE_NUMBER)


def _of_text(text: str, form: Form, at: str) -> Fault:
    least, most = form.limit("min_length"), form.limit("max_length")
    if least is not None and len(text) < least:
        return Fault(
            at,
            f"The text must have at least {least} character{'s'[least == 1 :]}.",
            FaultCode.TOO_SHORT,
            least,
        )
    if most is not None and len(text) > most:
        detail = f"The text must have at most {most} characters."
        return Fault(at, detail, FaultCode.TOO_LONG, most)
    # a detail is plain text: it has no marks of Markdown
    meanings = [meta.description.replace("`", "") for meta in form.limits if meta.description]
    detail = " ".join(["The text has the wrong form.", *meanings[-1:]])
    return Fault(at, detail, FaultCode.PATTERN)


def _unknown(value: dict[str, Any], kind: type[Struct], at: str) -> Iterator[Fault]:
    known = kind.__struct_encode_fields__
    for name in value:
        if name not in known:
            close = nearest(name, known)
            if close in value:  # the next nearest is another quantity
                close = None
            detail = f"There is no such field.{meant(close)}"
            yield Fault(f"{at}/{escaped(name)}", detail, FaultCode.UNKNOWN, None, close)


def forms_of(hint: Any, limits: tuple[Meta, ...] = ()) -> Iterator[Form]:
    """Yield the forms of a type hint, each with its own limits before those of the whole."""
    origin = get_origin(hint)
    if origin is Annotated:
        inner, *metas = get_args(hint)
        own = tuple(meta for meta in metas if isinstance(meta, Meta))
        yield from forms_of(inner, own + limits)
    elif origin in (Union, UnionType):
        for part in get_args(hint):
            if part is not UnsetType:
                yield from forms_of(part, limits)
    else:
        yield Form(hint, limits)


def is_struct(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Struct)


def _is_word(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Enum)


_NAMES = {
    float: "a number",
    int: "a whole number",
    str: "text",
    bool: "true or false",
    list: "a list",
    dict: "an object",
    NoneType: "null",
}


def _name_of(kind: Any) -> str:
    """Return a type in words."""
    if _is_word(kind):
        return "text"
    return _NAMES[dict if is_struct(kind) else kind]


def _quoted(text: str) -> str:
    return repr(text if len(text) <= _LONGEST_NAME else f"{text[:_LONGEST_NAME]}…")
