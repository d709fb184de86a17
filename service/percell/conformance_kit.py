"""The conformance kit: requests with the answers of this version, one per line (JSON Lines)."""

import asyncio
import json
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

import httpx

from percell import VERSION
from percell.conformance import without_own
from percell.questions.answering.question import Question
from percell.questions.registry import QUESTIONS
from percell.web import openapi
from percell.web.app import create_app

_JSON = {"Content-Type": "application/json"}
Line = dict[str, Any]
# the shortest of the printed tables; the site keeps the figures of all
_TABLE = "cell-health"

# what a client often gets wrong: method, path, headers, body
_FAULTS: dict[str, tuple[str, str, dict[str, str], str | None]] = {
    "no JSON": ("POST", "/v1/pack", _JSON, '{"layout": '),
    "a needed field is missing": ("POST", "/v1/pack", _JSON, "{}"),
    "a number in quotes": (
        "POST", "/v1/pack", _JSON, '{"layout": "1S1P", "cell_rating_a": "20", "cell_capacity_ah": 2.5}'
    ),
    "a number below its bound, and an unknown name": (
        "POST", "/v1/pack", _JSON,
        '{"layout": "1S1P", "cell_rating_a": -1, "cell_capacity_ah": 2.5, "colour": 1}',
    ),
    "a contradiction": (
        "POST", "/v1/direct-load", _JSON,
        '{"layout": "1S1P", "cell_rating_a": 20, "coil_resistance_ohm": 0.5, "coil_reading_ohm": 0.5}',
    ),
    "no physical answer": (
        "POST", "/v1/converter-load", _JSON,
        '{"layout": "1S1P", "cell_rating_a": 20, "output_power_w": 2000, "cutoff_basis": "at_rest"}',
    ),
    "a query that is none": ("GET", "/v1/pack?layout", {}, None),
    "no such path": ("GET", "/v1/no-such-question", {}, None),
    "no such method": ("DELETE", "/v1/pack", {}, None),
    "no such form": ("GET", "/v1/tables", {"Accept": "image/png"}, None),
    "a body of another type": ("POST", "/v1/pack", {"Content-Type": "text/plain"}, "{}"),
}  # fmt: skip


def as_text() -> str:
    """Return the kit of this version."""
    head = {"about": "Requests to percell, and its answers.", "version": VERSION}
    return "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in [head, *lines()])


def lines() -> list[Line]:
    """Return each request with the answer of this version."""
    return asyncio.run(_answered())


async def _answered() -> list[Line]:
    app: Any = create_app()  # httpx names the parts of ASGI otherwise
    found: list[Line] = []
    answers: dict[str, Any] = {}
    transport = httpx.ASGITransport(app)
    async with httpx.AsyncClient(transport=transport, base_url="http://percell.invalid") as client:
        for line in _requests():
            response = await client.request(
                line["method"], line["path"], headers=line["headers"], content=line.get("body")
            )
            media = response.headers["content-type"].partition(";")[0]
            answer = without_own(response.json()) if media.endswith("json") else response.text
            line |= {"status": response.status_code, "media": media}
            # the same question by POST and GET has one answer
            like = next((name for name, one in answers.items() if one == answer), None)
            if like:
                line["like"] = like
            else:
                line["answer"] = answers[line["id"]] = answer
            found.append(line)
    return found


def _requests() -> Iterator[Line]:
    document = openapi.document()
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            for concrete, question in _concrete(path, operation, document):
                yield from _of(method.upper(), concrete, operation, question, document)
    for name, (method, path, headers, body) in _FAULTS.items():
        yield _line(name, method, path, headers, body)


def _concrete(
    path: str, operation: dict[str, Any], document: dict[str, Any]
) -> Iterator[tuple[str, Question | None]]:
    """Yield each path that a path of the document means, with the question that it asks, if any."""
    if path == "/v1/reference":  # every sentence of the service, and no answer
        return
    if "{" not in path:
        yield path, QUESTIONS.get(path.removeprefix("/v1/"))
        return
    (parameter,) = (one for one in _parameters(operation, document) if one["in"] == "path")
    place = f"{{{parameter['name']}}}"
    if parameter["name"] == "question":
        names = _resolved(parameter["schema"], document)["enum"]
        yield from ((path.replace(place, name), QUESTIONS[name]) for name in names)
    else:
        yield path.replace(place, _TABLE), None


def _of(
    method: str,
    path: str,
    operation: dict[str, Any],
    question: Question | None,
    document: dict[str, Any],
) -> Iterator[Line]:
    if "requestBody" not in operation:
        fields = (one for one in _parameters(operation, document) if one["in"] == "query")
        if not question and any("required" in one for one in fields):
            return
        query = as_query(question.example) if question else ""
        yield _line(f"{method} {path}", method, f"{path}?{query}" if query else path, {}, None)
        return
    for media, content in operation["requestBody"]["content"].items():
        example = (
            question.example
            if question and media == "application/json"
            else _example(content, document)
        )
        body = example if isinstance(example, str) else json.dumps(example, ensure_ascii=False)
        as_media = "" if media == "application/json" else f", {media}"
        yield _line(f"{method} {path}{as_media}", method, path, {"Content-Type": media}, body)


def _line(name: str, method: str, path: str, headers: dict[str, str], body: str | None) -> Line:
    line: Line = {"id": name, "method": method, "path": path, "headers": headers}
    return line if body is None else line | {"body": body}


def _parameters(operation: dict[str, Any], document: dict[str, Any]) -> list[dict[str, Any]]:
    return [_resolved(one, document) for one in operation.get("parameters", ())]


def _example(content: dict[str, Any], document: dict[str, Any]) -> Any:
    if "example" in content:
        return content["example"]
    return _resolved(next(iter(content["examples"].values())), document)["value"]


def _resolved(part: dict[str, Any], document: dict[str, Any]) -> dict[str, Any]:
    while "$ref" in part:
        found: Any = document
        for step in part["$ref"].removeprefix("#/").split("/"):
            found = found[step]
        part = found
    return part


def as_query(asked: dict[str, Any]) -> str:
    """Return the fields of a question as a query string."""
    return urlencode([*_pairs(asked)])


def _pairs(fields: dict[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    for name, value in fields.items():
        if isinstance(value, dict):
            yield from _pairs(value, f"{before}{name}.")
        elif isinstance(value, list) and isinstance(value[0], dict):
            # one list per field of the entries; an entry without it has an empty value
            for inner in dict.fromkeys(inner for entry in value for inner in entry):
                yield from ((f"{before}{name}.{inner}", entry.get(inner, "")) for entry in value)
        elif isinstance(value, list):
            yield from ((before + name, one) for one in value)
        else:
            yield before + name, value
