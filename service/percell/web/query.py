"""Read a query string as strictly as a body."""

import re
from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple, get_args, get_type_hints
from urllib.parse import parse_qsl

from msgspec import Struct

from percell.questions.vocabulary.refusal import Fault, FaultCode
from percell.web.faults import Lacking, forms_of, is_struct
from percell.web.problems import Failed, escaped, failed_fields

MOST_FIELDS = 1000
_BAD_PERCENT = re.compile(rb"%(?![0-9A-Fa-f]{2})")


class Names(NamedTuple):
    """What a query may hold."""

    fields: frozenset[str]  # by every name, with a dot before a part of an object
    lists: frozenset[str]  # of values, such as measured_discharge.charge_ah
    entries: frozenset[str]  # lists of objects, such as cells, of which each field is a list


@cache
def names_of(*asked: type[Struct]) -> Names:
    """Return the names that a query of these fields has. A list inside an entry of a list has none."""
    fields: set[str] = set()
    lists: set[str] = set()
    entries: set[str] = set()
    for kind in asked:
        for name, hint in get_type_hints(kind, include_extras=True).items():
            fields.add(name)
            for form in forms_of(hint):
                if form.kind is list:
                    (item,) = get_args(form.hint)
                    (entries if is_struct(item) else lists).add(name)
                    inside = names_of(item).fields if is_struct(item) else ()
                    fields |= {f"{name}.{inner}" for inner in inside}
                elif is_struct(form.kind):
                    inside, of_values, _ = names_of(form.kind)
                    fields |= {f"{name}.{inner}" for inner in inside}
                    lists |= {f"{name}.{inner}" for inner in of_values}
    return Names(frozenset(fields), frozenset(lists), frozenset(entries))


def read_query(query: bytes, known: Names) -> dict[str, Any]:
    """Return the fields of a query string; a dot in a name makes a field of an object.

    A name that appears twice has a list of its values. Where the question has no list, that is a fault,
    because nobody could say which value counts. A field without a value is not given; a name that is not
    known stays, without a value too, so that it is refused.
    """
    fields: dict[str, Any] = {}
    columns: dict[str, dict[str, list[str]]] = {}
    for name, value in pairs_of(query):
        if "." not in name and name not in fields and name not in known.lists:
            # a form in HTML also sends the fields that nobody filled in
            if value or name not in known.fields:
                fields[name] = value
            continue  # the usual case
        head, _, rest = name.partition(".")
        if rest and head in known.entries:
            columns.setdefault(head, {}).setdefault(rest, []).append(value)
        elif name in known.lists:
            columns.setdefault(name, {}).setdefault("", []).append(value)
        elif value or name not in known.fields:
            _put(fields, name, value)
    for name, column in columns.items():
        _put(fields, name, _entries(name, column, known) if name in known.entries else column[""])
    return fields


def pairs_of(query: bytes) -> list[tuple[str, str]]:
    """Return the names and values of a query string, in its order."""
    if _BAD_PERCENT.search(query):  # the standard library would accept it
        raise _unreadable()
    # an empty pair says nothing; programs leave one at the end
    if b"&&" in query or query[:1] == b"&" or query[-1:] == b"&":
        query = b"&".join(pair for pair in query.split(b"&") if pair)
    try:
        return parse_qsl(
            query.decode("ascii"),
            keep_blank_values=True,
            strict_parsing=bool(query),
            errors="strict",
            max_num_fields=MOST_FIELDS,
        )
    except (ValueError, UnicodeDecodeError):
        raise _unreadable() from None


def _put(fields: dict[str, Any], name: str, value: Any) -> None:
    """Put a value into its place; beside another value it makes a list."""
    *parents, last = name.split(".")
    target = fields
    for parent in parents:
        inner = target.setdefault(parent, {})
        if not isinstance(inner, dict):
            last = parent
            break
        target = inner
    if last in target:
        held = target[last]
        target[last] = [*held, value] if isinstance(held, list) else [held, value]
    else:
        target[last] = value


def _entries(name: str, columns: Mapping[str, list[str]], known: Names) -> list[dict[str, Any]]:
    """Return the entries of a list, given the values of each of their fields."""
    count = max(map(len, columns.values()))
    found: list[dict[str, Any]] = [{} for _ in range(count)]
    for field, values in columns.items():
        is_known = f"{name}.{field}" in known.fields
        for entry, value in zip(found, values, strict=False):  # some may lack values
            if value or not is_known:
                _put(entry, field, value)
        if is_known and len(values) < count:
            # not refused here, so that the answer names the other faults of the query with it
            detail = f"Give {count} values, one per entry, and an empty value for an entry without one. There are {len(values)}."
            _put(found[len(values)], field, Lacking(detail))
            for entry in found[len(values) + 1 :]:
                _put(entry, field, Lacking(None))
    return found


def refuse_query(query: bytes) -> None:
    """Refuse a query string on a path without one, because its fields would be ignored silently."""
    if names := dict.fromkeys(name for name, _ in pairs_of(query)):
        detail = "This path reads no query fields. Send the fields of a POST in its body."
        raise failed_fields(
            [Fault(f"/{_escaped(name)}", detail, FaultCode.UNKNOWN) for name in names]
        )


def _unreadable() -> Failed:
    return Failed(
        "unreadable-query",
        f"The query string must be name=value pairs in UTF-8, {MOST_FIELDS} or fewer.",
    )


def _escaped(name: str) -> str:
    return escaped(name).replace(".", "/")
