"""How the OpenAPI document describes one operation. Each resource's module describes its own."""

import json
from typing import Any

from percell.web.resource import encode

REF = "#/components/schemas/{name}"
# the tags of operations that belong to no subject
MANY = "Many at once"
FORMS = "Other forms"
CATALOGUES = "Catalogues"
CACHE_HEADERS = {
    "ETag": {"$ref": "#/components/headers/ETag"},
    "Cache-Control": {"$ref": "#/components/headers/Cache-Control"},
}
# how an operation that reads a body can fail, and one that reads a query
BODY_PROBLEMS = (400, 406, 413, 415, 422)
QUERY_PROBLEMS = (400, 406, 422)
# a query with lists may become longer than a target may be
ASKING_PROBLEMS = (*QUERY_PROBLEMS, 414)


def operation(
    operation_id: str,
    summary: str,
    description: str,
    tag: str,
    *,
    answer: str,
    content: dict[str, Any],
    problems: tuple[int, ...],
    cached: bool = False,
    parameters: list[dict[str, Any]] | None = None,
    body: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Return the description of one operation.

    Args:
        operation_id: Name of the operation in clients that are made from the document.
        summary: Title.
        description: What the operation does.
        tag: Group.
        answer: What the 200 is.
        content: Content of the 200, by media type.
        problems: Status of each problem that the operation can end in.
        cached: Whether a client may keep the answer.
        parameters: Parameters, if there are any.
        body: Content of the request, by media type, if it has any.
    """
    ok: dict[str, Any] = {"description": answer}
    if cached:
        ok["headers"] = CACHE_HEADERS
    responses = {"200": ok | {"content": content}}
    if cached:
        responses["304"] = {"$ref": "#/components/responses/NotModified"}
    described: dict[str, Any] = {
        "operationId": operation_id,
        "summary": summary,
        "description": description,
        "tags": [tag],
    }
    if parameters is not None:
        described["parameters"] = parameters
    if body is not None:
        described["requestBody"] = {"required": True, "content": body}
    return described | {"responses": responses | problem_responses(*problems, 500, 503)}


def catalogue(
    operation_id: str, summary: str, schema: type, *, cached: bool = True
) -> dict[str, Any]:
    """Return the description of an operation that lists what the API knows.

    It has no example: the list itself is one request away.
    """
    return operation(
        operation_id,
        summary,
        f"{summary}.",
        CATALOGUES,
        answer=f"{summary}.",
        content=json_content(schema),
        problems=QUERY_PROBLEMS,
        cached=cached,
    )


def problem_responses(*statuses: int) -> dict[str, Any]:
    """Return the responses that are problems."""
    return {str(s): {"$ref": f"#/components/responses/Problem{s}"} for s in statuses}


def json_content(schema: type, example: Any = None) -> dict[str, Any]:
    """Return content in JSON, of a Struct, with an example if there is one."""
    content = {"schema": {"$ref": REF.format(name=schema.__name__)}}
    return {"application/json": content | ({} if example is None else {"example": example})}


def text_content(media: str, example: str = "") -> dict[str, Any]:
    """Return content that is text, with an example if there is one."""
    content: dict[str, Any] = {"schema": {"type": "string"}}
    return {media: content | ({"example": example} if example else {})}


def builtins(answer: Any) -> Any:
    """Return an answer as plain JSON values."""
    return json.loads(encode(answer))
