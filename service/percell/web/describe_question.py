"""How the OpenAPI document describes the operations of one question."""

from collections.abc import Iterator
from typing import Any

import msgspec
from msgspec import Struct

from percell.questions.answering.echo import given
from percell.questions.answering.question import Question
from percell.questions.vocabulary.fields import DEFAULT
from percell.questions.vocabulary.labels import label_of
from percell.web.deprecation import described
from percell.web.operations import (
    ASKING_PROBLEMS,
    BODY_PROBLEMS,
    builtins,
    json_content,
    operation,
)


def question_operations(question: Question, schemas: dict[str, Any]) -> dict[str, Any]:
    """Return the description of one question's operations, given the schemas of the document."""
    name = question.id.replace("-", "_")
    answered = json_content(question.answered, _full_example(question))
    body = json_content(question.asked, question.example)
    post = operation(
        f"ask_{name}",
        question.title,
        question.description,
        question.subject,
        body=body,
        answer="The answer.",
        content=answered,
        problems=BODY_PROBLEMS,
    )
    if not question.has_query:
        return {"post": described(post, question.deprecated)}
    get = operation(
        f"get_{name}",
        question.title,
        "Send the fields of the body in the query, by the same rules.",
        question.subject,
        parameters=parameters_of(question.asked, schemas),
        answer="The answer.",
        content=answered,
        problems=ASKING_PROBLEMS,
        cached=True,
    )
    return {
        "post": described(post, question.deprecated),
        "get": described(get, question.deprecated),
    }


# an answer in full is thousands of characters long, and much of it is the same in all
_FULL_EXAMPLES = ("direct-load",)


def _full_example(question: Question) -> Any:
    """Return the whole answer to a question's example, of few questions."""
    if question.id not in _FULL_EXAMPLES:
        return None
    asked = msgspec.convert(question.example, question.asked)
    return builtins(question.answer(asked, given(asked, question.example)))


def parameters_of(asked: type[Struct], schemas: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the fields of a question as the parameters of a query."""
    described = schemas[asked.__name__]
    required = described.get("required", [])
    found: list[dict[str, Any]] = []
    for name, schema in described["properties"].items():
        found += _of_field(name, schema, schemas, required=name in required)
    return found


def _of_field(
    name: str,
    schema: dict[str, Any],
    schemas: dict[str, Any],
    *,
    required: bool = False,
    note: str = "",
    most: int = 0,
) -> Iterator[dict[str, Any]]:
    """Yield the parameters of a field: more than one if it is an object, or a list of objects.

    Args:
        name: Its name in a query.
        schema: Its schema.
        schemas: The schemas of the document.
        required: Whether every query must have it.
        note: Sentences before its description.
        most: The most entries of the list whose entries have it, if it is a field of entries: its values are
            then a list.
    """
    whole = _resolved(schema, schemas)
    if whole.get("type") == "array":
        if most:
            return  # a list in a list has no form in a query
        entry = _resolved(whole["items"], schemas)
        if entry.get("type") != "object":
            yield _parameter(name, schema, required=required, note=note)
            return
        note = f"One value for each of `{name}`, in order; empty for none. "
        parts = required and entry["required"]
        yield from _of_parts(name, entry, schemas, parts or [], note=note, most=whole["maxItems"])
    elif whole.get("type") == "object":
        note = f"Part of `{name}`. "
        yield from _of_parts(name, whole, schemas, [], note=note, most=most)
    else:
        # where a body may give a word or an object, a query gives the word
        first, *others = schema.get("anyOf", [schema])
        word = schema | first
        word.pop("anyOf", None)
        yield _parameter(name, word, required=required, note=note, most=most)
        if required:  # in a query, a required field has only the first of its forms
            return
        note += f"Part of the object form of `{name}`. Do not send it together with a value of `{name}`. "
        for form in others:
            inner = _resolved(form, schemas)
            yield from _of_parts(name, inner, schemas, [], note=note, most=most)


def _of_parts(
    name: str,
    schema: dict[str, Any],
    schemas: dict[str, Any],
    required: list[str],
    *,
    note: str,
    most: int,
) -> Iterator[dict[str, Any]]:
    for part, inner in schema["properties"].items():
        yield from _of_field(
            f"{name}.{part}",
            inner,
            schemas,
            required=part in required,
            note=note,
            most=most,
        )


def _resolved(schema: dict[str, Any], schemas: dict[str, Any]) -> dict[str, Any]:
    return schemas[schema["$ref"].rpartition("/")[2]] if "$ref" in schema else schema


def _in_brief(name: str, schema: dict[str, Any], note: str) -> str:
    """Return the label that a form shows, and the default. What a value means is said in full in its schema alone."""
    _, default, value = schema.get("description", "").partition(f"{DEFAULT} ")
    return f"{label_of(name.rpartition('.')[2])}. {note}{default}{value}".rstrip()


def _parameter(
    name: str,
    schema: dict[str, Any],
    *,
    required: bool,
    note: str,
    most: int = 0,
) -> dict[str, Any]:
    parameter: dict[str, Any] = {
        "name": name,
        "in": "query",
        "description": _in_brief(name, schema, note),
        "schema": {"type": "array", "items": schema, "maxItems": most} if most else schema,
    }
    if required:
        parameter["required"] = True
    if schema.get("deprecated"):
        parameter["deprecated"] = True
    return parameter
