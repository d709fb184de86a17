"""Which fields of a question stand in place of each other, and which need others: declared once, beside the Struct.

The same declaration is checked when a question is asked, stands in the schema of its body, and is described in words where
a query is described. A field counts as given if it is neither left out nor equal to its default.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple, Protocol, get_args, get_origin, get_type_hints

from msgspec import NODEFAULT, UNSET, Struct, structs

from percell.physics.types import somewhere
from percell.questions.vocabulary.refusal import Fault, FaultCode, RefusedAll

Schema = dict[str, Any]
IsGiven = Callable[[str], bool]
Defaults = dict[str, Any]
# what is wrong with which field
AtFault = dict[str, FaultCode]


class Presence(Protocol):
    """A rule about which fields are given together."""

    @property
    def says(self) -> str:
        """Say the rule, as a request to the caller who broke it."""

    def faults(self, given: IsGiven) -> AtFault:
        """Return each field at fault: none if the rule is kept."""

    def schema(self, defaults: Defaults, /) -> Schema:
        """Return the rule as JSON Schema has it, beside the properties of an object."""


@dataclass(frozen=True)
class OneOf:
    """Exactly one of the fields is given; or at most one, if none is needed."""

    fields: tuple[str, ...]
    says: str
    needed: bool = True

    def faults(self, given: IsGiven) -> AtFault:
        """Return all of them if none is given, because any would do, and those that are given if too many are."""
        among = list(filter(given, self.fields))
        if not among and self.needed:
            return dict.fromkeys(self.fields, FaultCode.MISSING)
        return _in_conflict(among) if len(among) > 1 else {}

    def schema(self, defaults: Defaults, /) -> Schema:
        """Return the choice; a rule that needs none has two fields."""
        if self.needed:
            return {"oneOf": [{"required": [name]} for name in self.fields]}
        return {"not": _given_in_schema(self.fields, defaults)}


@dataclass(frozen=True)
class AnyOf:
    """At least one way is given, with all its fields."""

    ways: tuple[tuple[str, ...], ...]
    says: str

    def faults(self, given: IsGiven) -> AtFault:
        """Return what each way lacks."""
        if any(all(map(given, way)) for way in self.ways):
            return {}
        lacking = (name for way in self.ways for name in way if not given(name))
        return dict.fromkeys(lacking, FaultCode.MISSING)

    def schema(self, _: Defaults, /) -> Schema:
        """Return the choice."""
        return {"anyOf": [{"required": list(way)} for way in self.ways]}


@dataclass(frozen=True)
class Needs:
    """If one of the fields is given, another one is needed."""

    fields: tuple[str, ...]
    needed: str
    says: str

    def faults(self, given: IsGiven) -> AtFault:
        """Return the fields that lack the other."""
        return {} if given(self.needed) else _in_conflict(filter(given, self.fields))

    def schema(self, defaults: Defaults, /) -> Schema:
        """Return the dependence: a keyword for fields without a default, a condition for those with one."""
        plain = [name for name in self.fields if defaults[name] is UNSET]
        rules: list[Schema] = []
        if plain:
            rules.append({"dependentRequired": {name: [self.needed] for name in plain}})
        other = [_given_in_schema((name,), defaults) for name in self.fields if name not in plain]
        if other:
            needed = _given_in_schema((self.needed,), defaults)
            rules.append({"if": {"anyOf": other} if other[1:] else other[0], "then": needed})
        return rules[0] if len(rules) == 1 else {"allOf": rules}


@dataclass(frozen=True)
class Excludes:
    """If one field is given, another one is not."""

    field: str
    other: str
    says: str

    def faults(self, given: IsGiven) -> AtFault:
        """Return the other field."""
        return _in_conflict([self.other]) if given(self.field) and given(self.other) else {}

    def schema(self, defaults: Defaults, /) -> Schema:
        """Return that the two are not together."""
        return {"not": _given_in_schema((self.field, self.other), defaults)}


class _Plan(NamedTuple):
    """What is to be checked of one kind of Struct."""

    rules: tuple[Presence, ...]
    defaults: Defaults
    lists: tuple[str, ...]  # whose entries have rules of their own


@lru_cache(maxsize=256)
def _plan(kind: type[Struct]) -> _Plan:
    lists = [
        name
        for name, hint in get_type_hints(kind).items()
        if get_origin(hint) is list and presence_of(get_args(hint)[0])
    ]
    # a required field has no default, and is always given
    defaults = {
        field.name: UNSET if field.default is NODEFAULT else field.default
        for field in structs.fields(kind)
    }
    return _Plan(presence_of(kind), defaults, tuple(lists))


def presence_of(kind: Any) -> tuple[Presence, ...]:
    """Return the rules of a question or of a part of one."""
    found: tuple[Presence, ...] = getattr(kind, "presence", ())
    return found


def presence_schema(kind: type[Struct]) -> list[Schema]:
    """Return the rules of a question, or of a part of one, as JSON Schema has them."""
    plan = _plan(kind)
    return [rule.schema(plan.defaults) for rule in plan.rules]


def presence_in_words(kind: type[Struct]) -> str:
    """Return the rules as sentences, with the names of fields set apart; nothing if there are none."""
    told = " ".join(dict.fromkeys(rule.says for rule in presence_of(kind)))
    names = "|".join(sorted(kind.__struct_fields__, key=len, reverse=True))
    return re.sub(rf"\b({names})\b", r"`\1`", told)


def refuse_by_presence(asked: Struct) -> None:
    """Refuse a question that breaks one of its rules, or that has a part which does.

    Raises:
        Refused: It does.
    """
    faults = list(_faults(asked, ""))
    if faults:
        raise RefusedAll(faults)


def _faults(asked: Struct, at: str) -> Iterator[Fault]:
    rules, defaults, lists = _plan(type(asked))

    def given(name: str) -> bool:
        value = getattr(asked, name)
        if value is UNSET:
            return False
        return somewhere(value != defaults[name])

    for rule in rules:
        for field, code in rule.faults(given).items():
            yield Fault(f"{at}/{field}", rule.says, code)
    for name in lists:
        for place, part in enumerate(getattr(asked, name)):
            yield from _faults(part, f"{at}/{name}/{place}")


def _in_conflict(names: Iterable[str]) -> AtFault:
    return dict.fromkeys(names, FaultCode.CONTRADICTION)


def _given_in_schema(names: tuple[str, ...], defaults: Defaults) -> Schema:
    """Return what holds for a body in which all these fields are given."""
    # linters want each required field among the properties beside it
    return {
        "required": list(names),
        "properties": {
            name: {} if defaults[name] is UNSET else {"not": {"const": defaults[name]}}
            for name in names
        },
    }
