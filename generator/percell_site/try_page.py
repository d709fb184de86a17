"""The page with a form for each question, made from the API's own document."""

import json
from typing import Any, NamedTuple
from urllib.parse import urlencode

from percell_site.form_fields import (
    FormField,
    asked_schema,
    choices_of,
    form_field,
    marked,
    resolved,
)
from percell_site.pages import render


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
    parameters = [resolved(one, document) for one in get.get("parameters", ())]
    fields = [form_field(one, example, document) for one in parameters]
    # a form in plain HTML has no way to repeat its fields: a list goes into a body
    if any(field.kind == "list" and field.required for field in fields):
        fields = []
    shown = [field for field in fields if field.kind != "list"]
    description = post["description"]
    asked = asked_schema(post, document)
    # its second paragraph says which fields belong together
    rules = asked.get("description", "").partition("\n\n")[2] if fields else ""
    needed = set().union(*choices_of(asked))
    asked_first = [f for f in shown if f.required]
    asked_first += [f for f in shown if not f.required and f.name in needed | example.keys()]
    flat = all(not isinstance(value, dict | list) for value in example.values())
    return Form(
        question=entry["question"],
        path=entry["path"],
        title=entry["label"],
        description=marked(description),
        rules=marked(rules),
        first=asked_first,
        further=[field for field in shown if field not in asked_first],
        example=example,
        example_query=urlencode(example) if flat and fields else "",
        body=json.dumps(example, ensure_ascii=False, indent=2),
    )


def _example(post: dict[str, Any], document: dict[str, Any]) -> dict[str, Any]:
    content = post["requestBody"]["content"]["application/json"]
    if "example" in content:
        found: dict[str, Any] = content["example"]
    else:
        found = resolved(next(iter(content["examples"].values())), document)["value"]
    return found
