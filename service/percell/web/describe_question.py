"""How the OpenAPI document describes the operations of one question."""

from typing import Any

import msgspec
from msgspec import Struct

from percell.questions.answering.echo import given
from percell.questions.answering.question import Question
from percell.questions.vocabulary.presence import presence_in_words
from percell.web.deprecation import described
from percell.web.operations import (
    BODY_PROBLEMS,
    QUERY_PROBLEMS,
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
        " ".join(
            filter(
                None,
                [
                    question.description,
                    presence_in_words(question.asked),
                    _without_lists(question.asked.__name__, schemas),
                ],
            )
        ),
        question.subject,
        parameters=parameters_of(question.asked, schemas),
        answer="The answer.",
        content=answered,
        problems=QUERY_PROBLEMS,
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


def _without_lists(asked: str, schemas: dict[str, Any]) -> str:
    """Return a sentence that names the fields that only a body can have."""
    lists = [
        name
        for name, schema in schemas[asked]["properties"].items()
        if _holds_list(schema, schemas)
    ]
    named = " and ".join(f"`{name}`" for name in lists)
    return f"A query cannot hold a list: send {named} in a body." if lists else ""


def _holds_list(schema: dict[str, Any], schemas: dict[str, Any]) -> bool:
    """Whether a field is a list, or an object with one in it."""
    if "$ref" in schema:
        schema = schemas[schema["$ref"].rpartition("/")[2]]
    parts = schema.get("properties", {}).values()
    return schema.get("type") == "array" or any(_holds_list(part, schemas) for part in parts)


def parameters_of(asked: type[Struct], schemas: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the fields of a question as the parameters of a query."""
    described = schemas[asked.__name__]
    required = described.get("required", [])
    parameters = []
    for name, schema in described["properties"].items():
        if _holds_list(schema, schemas):
            continue  # a query cannot hold a list; POST can
        forms = schema.get("anyOf", [schema])
        # where a body may give a word or an object, a query gives the word
        word = schema | forms[0]
        word.pop("anyOf", None)
        parameters.append(_parameter(name, word, required=name in required))
        if name not in required:  # in a query, a required field has only the first of its forms
            for form in forms[1:]:
                parts = schemas[form["$ref"].rpartition("/")[2]]["properties"]
                parameters += [
                    _parameter(f"{name}.{part}", inner, instead_of=name)
                    for part, inner in parts.items()
                ]
    return parameters


def _parameter(
    name: str,
    schema: dict[str, Any],
    *,
    required: bool = False,
    instead_of: str = "",
) -> dict[str, Any]:
    meaning = schema.get("description", "")
    if instead_of:
        meaning = f"Part of the object form of `{instead_of}`. Do not send it together with `{instead_of}`. {meaning}"
    parameter = {
        "name": name,
        "in": "query",
        "required": required,
        "description": meaning,
        "schema": schema,
    }
    if schema.get("deprecated"):
        parameter["deprecated"] = True
    return parameter
