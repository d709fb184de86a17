"""The fields of a form, from the API's own document: label, unit, bounds and default are its words."""

import re
from html import escape
from typing import Any, NamedTuple

_CODE = re.compile(r"`([^`]+)`")
_DEFAULT = re.compile(r" ?Default: (.+?)\.?$", re.DOTALL)
# a default in more words than this is read below the field, not in it
_LONGEST_PLACEHOLDER = 24


class Choice(NamedTuple):
    """One word that a field takes."""

    value: str
    text: str


class FormField(NamedTuple):
    """One field of a form."""

    name: str
    label: str
    kind: str
    unit: str
    required: bool
    placeholder: str
    hint: str
    attributes: str
    choices: list[Choice]


def resolved(part: dict[str, Any], document: dict[str, Any]) -> dict[str, Any]:
    """Return a part of the document with what it names by reference; its own words go before those."""
    found: dict[str, Any] = {}
    for one in part.get("allOf", ()):
        found |= resolved(one, document)
    if "$ref" in part:
        named: Any = document
        for step in part["$ref"].removeprefix("#/").split("/"):
            named = named[step]
        found |= resolved(named, document)
    return found | {name: value for name, value in part.items() if name not in ("$ref", "allOf")}


def form_field(
    parameter: dict[str, Any], example: dict[str, Any], document: dict[str, Any]
) -> FormField:
    """Return the field of a form for a parameter of a query; the example fills in what has no default."""
    schema = resolved(parameter["schema"], document)
    name, required = parameter["name"], parameter.get("required", False)
    # a parameter has the label and what is special to a query, its schema the meaning; both have the default
    label, _, note = parameter.get("description", name).partition(".")
    meaning = f"{_DEFAULT.sub('', note)} {schema.get('description', '')}".strip()
    unit = schema.get("x-unit", "")
    meaning = meaning.replace(f" [{unit}]", "")  # the label has it
    default = found[1] if (found := _DEFAULT.search(meaning)) else ""
    placeholder = f"e.g. {example[name]}" if name in example else ""
    if default and not required and len(default) <= _LONGEST_PLACEHOLDER:
        placeholder = default if "enum" in schema else f"default: {default}"
    bounds = _bounds(schema)
    choices = [Choice(str(word), str(word).replace("_", " ")) for word in schema.get("enum", ())]
    kind = _kind(schema)
    if kind == "boolean":
        choices = [Choice("true", "yes"), Choice("false", "no")]
    return FormField(
        name=name,
        label=label,
        kind=kind,
        unit="" if unit == "1" else unit,
        required=required,
        placeholder=placeholder,
        hint=marked(" ".join(filter(None, [_DEFAULT.sub("", meaning), bounds, _said(default)]))),
        attributes=_attributes(schema, kind),
        choices=choices,
    )


def _kind(schema: dict[str, Any]) -> str:
    kind = schema.get("type", "string")
    if kind == "array":
        return "list"
    if "enum" in schema or kind == "boolean":
        return "boolean" if kind == "boolean" else "choice"
    return "number" if kind in ("number", "integer") else "text"


def _bounds(schema: dict[str, Any]) -> str:
    low, high, unit = schema.get("minimum"), schema.get("maximum"), schema.get("x-unit", "1")
    if low is None or high is None:
        return ""
    return f"From {low:g} to {high:g}{'' if unit == '1' else f' {unit}'}."


def _said(default: str) -> str:
    return f"Default: {default}." if default else ""


def _attributes(schema: dict[str, Any], kind: str) -> str:
    if kind == "number":
        found = {"min": schema.get("minimum"), "max": schema.get("maximum")}
        found["step"] = 1 if schema["type"] == "integer" else "any"
    elif kind == "text":
        found = {"pattern": schema.get("pattern"), "maxlength": schema.get("maxLength")}
    else:
        return ""
    return "".join(
        f' {name}="{escape(f"{value:g}" if isinstance(value, float) else str(value))}"'
        for name, value in found.items()
        if value is not None
    )


def marked(text: str) -> str:
    """Return a text with its `names` marked; nothing else in it is markup."""
    return _CODE.sub(r"<code>\1</code>", escape(text, quote=False))


def choices_of(asked: dict[str, Any]) -> list[set[str]]:
    """Return the fields of a question of which it needs one, or one way of several, for each such rule."""
    return [
        names
        for rule in asked.get("allOf", ())
        if (
            names := {
                name
                for way in (*rule.get("oneOf", ()), *rule.get("anyOf", ()))
                for name in way.get("required", ())
            }
        )
    ]


def asked_schema(post: dict[str, Any], document: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of what a question is asked with."""
    named = post["requestBody"]["content"]["application/json"].get("schema", {}).get("$ref", "")
    schema: dict[str, Any] = (
        document["components"]["schemas"][named.rpartition("/")[2]] if named else {}
    )
    return schema
