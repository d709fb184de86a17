"""The page with a form for each question, made from the API's own document."""

import json
import re
from html import escape
from typing import Any, NamedTuple
from urllib.parse import urlencode

from percell_site.pages import render

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


class Form(NamedTuple):
    """A question: what its form asks first, what it folds away, and its example."""

    question: str
    path: str
    title: str
    description: str
    rules: str
    first: list[FormField]
    further: list[FormField]
    example: dict[str, Any]
    example_query: str
    body: str


def try_page(document: dict[str, Any], index: dict[str, Any], address: str) -> str:
    """Return the page: every question by subject, each with a form that needs no script.

    Args:
        document: The API's OpenAPI document.
        index: The first page of the API, with the questions by subject.
        address: The address that commands name, without a slash at its end.
    """
    groups = [
        group | {"forms": [_form(entry, document) for entry in group["questions"]]}
        for group in index["groups"]
    ]
    return render("try.md.jinja", groups=groups, address=address)


def _form(entry: dict[str, Any], document: dict[str, Any]) -> Form:
    operations = document["paths"][entry["path"]]
    post = operations["post"]
    get = operations.get("get", {})
    example = _example(post, document)
    parameters = [_resolved(one, document) for one in get.get("parameters", ())]
    fields = [_field(one, example, document) for one in parameters]
    # a form in plain HTML has no way to repeat its fields: a list goes into a body
    if any(field.kind == "list" and field.required for field in fields):
        fields = []
    shown = [field for field in fields if field.kind != "list"]
    description = post["description"]
    asked = _asked(post, document)
    # its second paragraph says which fields belong together
    rules = asked.get("description", "").partition("\n\n")[2] if fields else ""
    one_of = _one_of(asked)
    asked_first = [f for f in shown if f.required]
    asked_first += [f for f in shown if not f.required and f.name in one_of | example.keys()]
    flat = all(not isinstance(value, dict | list) for value in example.values())
    return Form(
        question=entry["question"],
        path=entry["path"],
        title=entry["label"],
        description=_html(description),
        rules=_html(rules),
        first=asked_first,
        further=[field for field in shown if field not in asked_first],
        example=example,
        example_query=urlencode(example) if flat and fields else "",
        body=json.dumps(example, ensure_ascii=False, indent=2),
    )


def _asked(post: dict[str, Any], document: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of what a question is asked with."""
    named = post["requestBody"]["content"]["application/json"].get("schema", {}).get("$ref", "")
    schema: dict[str, Any] = (
        document["components"]["schemas"][named.rpartition("/")[2]] if named else {}
    )
    return schema


def _one_of(asked: dict[str, Any]) -> set[str]:
    """Return the fields of which a question needs one."""
    return {
        name
        for rule in asked.get("allOf", ())
        for choice in rule.get("oneOf", ())
        for name in choice.get("required", ())
    }


def _example(post: dict[str, Any], document: dict[str, Any]) -> dict[str, Any]:
    content = post["requestBody"]["content"]["application/json"]
    if "example" in content:
        found: dict[str, Any] = content["example"]
    else:
        found = _resolved(next(iter(content["examples"].values())), document)["value"]
    return found


def _resolved(part: dict[str, Any], document: dict[str, Any]) -> dict[str, Any]:
    """Return a part of the document with what it names by reference; its own words go before those."""
    found: dict[str, Any] = {}
    for one in part.get("allOf", ()):
        found |= _resolved(one, document)
    if "$ref" in part:
        named: Any = document
        for step in part["$ref"].removeprefix("#/").split("/"):
            named = named[step]
        found |= _resolved(named, document)
    return found | {name: value for name, value in part.items() if name not in ("$ref", "allOf")}


def _field(
    parameter: dict[str, Any], example: dict[str, Any], document: dict[str, Any]
) -> FormField:
    schema = _resolved(parameter["schema"], document)
    name, required = parameter["name"], parameter["required"]
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
        hint=_html(" ".join(filter(None, [_DEFAULT.sub("", meaning), bounds, _said(default)]))),
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


def _html(text: str) -> str:
    """Return a text with its `names` marked; nothing else in it is markup."""
    return _CODE.sub(r"<code>\1</code>", escape(text, quote=False))
