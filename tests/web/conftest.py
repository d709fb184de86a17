"""The API in one process, and the ways in which a body can be wrong, read off the document."""

import asyncio
import copy
import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from litestar.testing import TestClient

from percell.questions.vocabulary.refusal import FaultCode
from percell.web.app import create_app

# schemathesis takes a check once, from the test that loads this file; it holds no doctest to collect
collect_ignore = ["contract_checks.py"]


@pytest.fixture(scope="session")
def client() -> Iterator[Any]:
    """Return a caller of the API that sees a defect as the 500 that a stranger would see."""
    with TestClient(create_app(), raise_server_exceptions=False) as caller:
        yield caller


@pytest.fixture(scope="session")
def document(client: Any) -> dict[str, Any]:
    """Return the served document."""
    found: dict[str, Any] = client.get("/openapi.json").json()
    return found


@pytest.fixture(scope="session")
def whole(document: dict[str, Any]) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """Return a way to see what stands for a part of the document: itself, or what it refers to."""

    def look_up(part: dict[str, Any]) -> dict[str, Any]:
        while "$ref" in part:
            found: Any = document
            for step in part["$ref"].removeprefix("#/").split("/"):
                found = found[step]
            part = found
        return part

    return look_up


@pytest.fixture(scope="session")
def post(client: Any) -> Callable[..., Any]:
    """Return a way to post raw bytes, text or a value as JSON."""

    def send(path: str, body: Any, **headers: str) -> Any:
        content = body if isinstance(body, str | bytes) else json.dumps(body)
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        return client.post(
            path, content=content, headers={"content-type": "application/json"} | named
        )

    return send


@pytest.fixture(scope="session")
def length_sent() -> Callable[..., int]:
    """Return a way to ask an application without a client, which would drop a body after HEAD."""

    def ask(app: Any, method: str, path: str) -> int:
        sent: list[Any] = []

        async def receive() -> Any:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Any) -> None:
            sent.append(message)

        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
            "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "",
            "scheme": "http", "headers": [(b"host", b"bench")], "client": ("127.0.0.1", 1),
            "server": ("127.0.0.1", 80), "state": {}, "extensions": {},
        }  # fmt: skip
        asyncio.run(app(scope, receive, send))
        return sum(len(message.get("body", b"")) for message in sent)

    return ask


Place = tuple[str | int, ...]


@pytest.fixture(scope="session")
def number_fields(document: dict[str, Any]) -> Callable[[Any], dict[Place, dict[str, Any]]]:
    """Return a finder of every number that a question takes, by its place in the example."""
    schemas = document["components"]["schemas"]

    def walk(schema: Any, example: Any, place: Place) -> Iterator[tuple[Place, Any]]:
        if "$ref" in schema:
            schema = schemas[schema["$ref"].rpartition("/")[2]]
        for part in (*schema.get("anyOf", ()), *schema.get("oneOf", ())):
            yield from walk(part, example, place)
        if schema.get("type") in ("number", "integer"):
            yield place, schema
        # what an example leaves out is reached where it is a plain field of an object that is there
        if isinstance(example, dict):
            for name, inner in schema.get("properties", {}).items():
                yield from walk(inner, example.get(name), (*place, name))
        if isinstance(example, list) and example and "items" in schema:
            yield from walk(schema["items"], example[0], (*place, 0))

    return lambda question: dict(walk(schemas[question.asked.__name__], question.example, ()))


@pytest.fixture(scope="session")
def changed() -> Callable[[Any, Place, Any], Any]:
    """Return a way to copy a body with one value replaced."""

    def put(body: Any, place: Place, value: Any) -> Any:
        whole = copy.deepcopy(body)
        target = whole
        for step in place[:-1]:
            target = target[step]
        target[place[-1]] = value
        return whole

    return put


@pytest.fixture(scope="session")
def is_problem() -> Callable[..., dict[str, Any]]:
    """Return a check that a response is a whole problem document (RFC 9457) of one kind."""

    def check(response: Any, kind: str, status: int, pointer: str | None = None) -> dict[str, Any]:
        assert response.status_code == status, response.text[:500]
        assert response.headers["content-type"] == "application/problem+json"
        problem: dict[str, Any] = response.json()
        assert problem["type"] == f"/problems/{kind}/", problem
        assert problem["status"] == status
        assert problem["title"]
        assert problem["detail"]
        assert problem["request_id"] == response.headers["x-request-id"]
        assert all(error["code"] in set(FaultCode) for error in problem.get("errors", []))
        if pointer is not None:
            assert [error["pointer"] for error in problem["errors"]] == [pointer], problem
        return problem

    return check


@pytest.fixture(scope="session")
def flat() -> Callable[[Any], list[tuple[str, str]]]:
    """Return a writer of the pairs of a query that ask what a body asks."""

    def flat(body: Any, before: str = "") -> list[tuple[str, str]]:
        pairs = []
        for name, value in body.items():
            if isinstance(value, dict):
                pairs += flat(value, f"{before}{name}.")
            elif isinstance(value, list) and isinstance(value[0], dict):
                # each field of the entries, once per entry, empty where the entry has none
                entries = [dict(flat(entry)) for entry in value]
                columns = dict.fromkeys(column for entry in entries for column in entry)
                pairs += [(f"{before}{name}.{c}", e.get(c, "")) for c in columns for e in entries]
            elif isinstance(value, list):
                pairs += [(f"{before}{name}", str(one)) for one in value]
            else:
                pairs.append(
                    (f"{before}{name}", str(value).lower() if value is True else str(value))
                )
        return pairs

    return flat
