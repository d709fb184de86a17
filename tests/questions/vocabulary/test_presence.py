"""Fields that stand in place of each other or need others: the rules, each by hand."""

from typing import ClassVar

import pytest
from msgspec import UNSET, Struct, UnsetType

from percell.questions.vocabulary.presence import (
    AnyOf,
    Excludes,
    Needs,
    OneOf,
    Presence,
    presence_in_words,
    presence_schema,
    refuse_by_presence,
)
from percell.questions.vocabulary.refusal import Fault, FaultCode, Refused

RULES = {
    "one": OneOf(("a", "b"), "Give a or b."),
    "one of three": OneOf(("a", "b", "c"), "Give a, b or c."),
    "at most one": OneOf(("a", "b"), "Not both.", needed=False),
    "any": AnyOf((("a",), ("b", "c")), "Give a, or b and c."),
    "needs": Needs(("a", "zero"), "b", "Give b too."),
    "excludes": Excludes("a", "zero", "Leave out zero."),
}


class Asked(Struct, kw_only=True):
    """A question of which a test gives the rules."""

    presence: ClassVar[tuple[Presence, ...]] = ()
    a: float | UnsetType = UNSET
    b: float | UnsetType = UNSET
    c: float | UnsetType = UNSET
    zero: float = 0.0


def asked_by(*rules):
    return type("AskedBy", (Asked,), {"presence": rules})


MISSING, CONFLICT = FaultCode.MISSING, FaultCode.CONTRADICTION


@pytest.mark.parametrize(
    ("rule", "given", "at_fault", "code"),
    [
        ("one", {"a": 1}, "", None),
        ("one", {"b": 1, "c": 1}, "", None),
        ("one", {}, "ab", MISSING),
        ("one", {"a": 1, "b": 1}, "ab", CONFLICT),
        ("one of three", {"b": 1, "c": 1}, "bc", CONFLICT),
        ("at most one", {}, "", None),
        ("at most one", {"b": 1}, "", None),
        ("at most one", {"a": 1, "b": 1}, "ab", CONFLICT),
        ("any", {"a": 1}, "", None),
        ("any", {"b": 1, "c": 1}, "", None),
        ("any", {"a": 1, "b": 1}, "", None),
        ("any", {"b": 1}, "ac", MISSING),
        ("any", {}, "abc", MISSING),
        ("needs", {}, "", None),
        ("needs", {"a": 1, "b": 1}, "", None),
        ("needs", {"a": 1}, "a", CONFLICT),
        ("needs", {"zero": 0.0}, "", None),
        ("needs", {"zero": 0.1}, "z", CONFLICT),
        ("needs", {"a": 1, "zero": 0.1}, "az", CONFLICT),
        ("excludes", {"a": 1}, "", None),
        ("excludes", {"a": 1, "zero": 0.0}, "", None),
        ("excludes", {"a": 1, "zero": 0.1}, "z", CONFLICT),
    ],
)
def test_each_rule(rule, given, at_fault, code):
    """What is refused, and at which fields; a default that is repeated is not given."""
    kind = asked_by(RULES[rule])
    if not at_fault:
        refuse_by_presence(kind(**given))
        return
    with pytest.raises(Refused) as refused:
        refuse_by_presence(kind(**given))
    names = ["zero" if letter == "z" else letter for letter in at_fault]
    assert refused.value.faults == [Fault(f"/{name}", RULES[rule].says, code) for name in names]
    assert refused.value.detail == RULES[rule].says


def test_all_faults_are_told_at_once():
    """Two rules that are broken are the faults of both."""
    kind = asked_by(RULES["one"], RULES["needs"])
    with pytest.raises(Refused) as refused:
        refuse_by_presence(kind(zero=1.0))
    assert [fault.pointer for fault in refused.value.faults] == ["/a", "/b", "/zero"]


def test_an_entry_of_a_list_has_its_place():
    """A rule of the entries of a list is checked in each of them."""
    inner = asked_by(RULES["one"])
    kind = type("Listed", (Struct,), {"__annotations__": {"cells": list[inner]}})
    with pytest.raises(Refused) as refused:
        refuse_by_presence(kind([inner(a=1.0), inner()]))
    assert refused.value.pointer == "/cells/1/a"


@pytest.mark.parametrize(
    ("rule", "schema"),
    [
        ("one", {"oneOf": [{"required": ["a"]}, {"required": ["b"]}]}),
        ("at most one", {"not": {"required": ["a", "b"], "properties": {"a": {}, "b": {}}}}),
        ("any", {"anyOf": [{"required": ["a"]}, {"required": ["b", "c"]}]}),
        (
            "needs",
            {
                "allOf": [
                    {"dependentRequired": {"a": ["b"]}},
                    {
                        "if": {
                            "required": ["zero"],
                            "properties": {"zero": {"not": {"const": 0.0}}},
                        },
                        "then": {"required": ["b"], "properties": {"b": {}}},
                    },
                ]
            },
        ),
        (
            "excludes",
            {
                "not": {
                    "required": ["a", "zero"],
                    "properties": {"a": {}, "zero": {"not": {"const": 0.0}}},
                }
            },
        ),
    ],
)
def test_each_rule_as_a_schema(rule, schema):
    """The keywords of JSON Schema for each rule."""
    assert presence_schema(asked_by(RULES[rule])) == [schema]


def test_rules_in_words_name_their_fields():
    """A sentence that several rules share is said once, with the names of fields set apart."""
    kind = asked_by(RULES["one"], RULES["one"], RULES["at most one"])
    assert presence_in_words(kind) == "Give `a` or `b`. Not both."
    assert presence_in_words(asked_by()) == ""
