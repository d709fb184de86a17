"""How a client learns that a question or a field will go. None is deprecated, so these are made up."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from email.utils import parsedate_to_datetime
from typing import Annotated, Any

import msgspec
import pytest
from litestar import Litestar, asgi
from litestar.testing import TestClient
from msgspec import Meta, defstruct

from percell.questions.answering.deprecation import Deprecation
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.fields import CellRatingA
from percell.web import openapi
from percell.web.ask import question_resource
from percell.web.describe_question import question_operations

ANY = QUESTIONS["direct-load"]
SINCE, ENDS = date(2027, 3, 1), date(2028, 6, 1)
GOING = replace(ANY, deprecated=Deprecation(since=SINCE, ends=ENDS, instead="`assessment`"))
QUERY = "?layout=1S1P&cell_rating_a=20&coil_resistance_ohm=0.5"


@pytest.fixture(
    scope="module", params=[GOING, replace(GOING, deprecated=Deprecation(since=SINCE, instead="x"))]
)
def answers(request: Any) -> Iterator[list[Any]]:
    """Return the answers to POST, GET and HEAD of a question that is deprecated, with and without an end."""
    resource = question_resource(request.param)
    app = Litestar(
        [asgi(f"/v1/{ANY.id}", copy_scope=False)(resource.__call__)], openapi_config=None
    )
    with TestClient(app) as caller:
        yield [
            request.param,
            caller.post(f"/v1/{ANY.id}", json=ANY.example),
            caller.get(f"/v1/{ANY.id}{QUERY}"),
            caller.head(f"/v1/{ANY.id}{QUERY}"),
        ]


def test_answers_of_a_deprecated_question_say_so(answers: list[Any]) -> None:
    """By POST, GET and HEAD: since when (RFC 9745), until when (RFC 8594), and where the policy is."""
    question, *responses = answers
    midnight = datetime(2027, 3, 1, tzinfo=UTC).timestamp()
    for response in responses:
        assert response.status_code == 200
        assert response.headers["deprecation"] == f"@{midnight:.0f}"
        assert '</changes/#how-something-is-removed>; rel="deprecation"' in response.headers["link"]
        if question.deprecated.ends:
            ends = parsedate_to_datetime(response.headers["sunset"])
            assert ends.date() == ENDS
            assert response.headers["sunset"].endswith("GMT")
        else:
            assert "sunset" not in response.headers
        readable = response.headers["access-control-expose-headers"]
        assert {"Deprecation", "Link", "Sunset"} <= set(readable.split(", "))


def test_no_question_is_deprecated_and_none_says_so(client: Any) -> None:
    """The answers of all questions that there are carry none of these headers."""
    for question in QUESTIONS.values():
        assert question.deprecated is None
        answer = client.post(f"/v1/{question.id}", json=question.example)
        assert {"deprecation", "sunset", "link"}.isdisjoint(answer.headers)


def test_the_document_marks_a_deprecated_question() -> None:
    """Each of its operations is marked, and says what to use instead."""
    schemas = openapi.document()["components"]["schemas"]
    found = question_operations(GOING, schemas)
    assert set(found) == {"get", "post"}
    for operation in found.values():
        assert operation["deprecated"] is True
        end = "Deprecated since 2027-03-01, may be gone from 2028-06-01. Use `assessment`."
        assert operation["description"].endswith(end)
    for operation in question_operations(ANY, schemas).values():
        assert "deprecated" not in operation


def test_the_document_marks_a_deprecated_field() -> None:
    """A field that is declared so is marked in the body's schema and as a parameter of a query."""
    going = Annotated[CellRatingA, Meta(extra_json_schema={"deprecated": True})]
    asked = defstruct("DirectLoad", [("cell_rating_a", going), ("layout", str)])
    schemas = openapi.document()["components"]["schemas"]
    schemas = schemas | msgspec.json.schema_components([asked])[1]
    assert schemas["DirectLoad"]["properties"]["cell_rating_a"]["deprecated"] is True
    get = question_operations(replace(ANY, deprecated=None), schemas)["get"]
    marked = {one["name"]: one.get("deprecated") for one in get["parameters"]}
    assert marked == {"cell_rating_a": True, "layout": None}
