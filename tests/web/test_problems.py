"""What fails, fails as RFC 9457 says, points to the fault, and is never a 500."""

import dataclasses
import json
import logging
import random
from typing import Any

import pytest
from litestar.testing import TestClient

from percell.physics.errors import REASONS
from percell.questions import registry
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import FaultCode
from percell.web import openapi
from percell.web.app import create_app
from percell.web.problems import BEFORE_ANY_PATH, KINDS
from percell.web.reference import reference

ANY = next(iter(QUESTIONS.values()))


def test_every_kind_is_explained(client: Any) -> None:
    """The catalogue that the site makes its pages of holds every kind that a problem can name."""
    listed = {kind["id"]: kind for kind in client.get("/v1/reference").json()["problems"]}
    assert set(listed) == set(KINDS)
    for kind in listed.values():
        assert kind["title"]
        assert kind["explanation"]
        assert 400 <= kind["status"] < 600


def test_every_code_is_listed(client: Any, document: Any) -> None:
    """The codes of faults, and of missing answers with their numbers, are in the catalogue and in the document."""
    codes = {
        kind["id"]: {one["code"]: one for one in kind["codes"]}
        for kind in client.get("/v1/reference").json()["problems"]
    }
    schemas = document["components"]["schemas"]
    assert set(codes["wrong-type"]) == set(codes["outside-contract"]) == set(FaultCode)
    assert set(schemas["FaultCode"]["enum"]) == set(FaultCode)
    assert "More may be added" in schemas["FaultCode"]["description"]
    assert set(codes["no-physical-answer"]) == set(REASONS)
    assert codes["no-physical-answer"]["power_not_available"]["numbers"] == [
        "input_power_w",
        "available_power_w",
    ]
    assert set(schemas["NoSolutionCode"]["enum"]) == set(REASONS)


def test_each_operation_may_fail_by_a_defect_or_be_away(document: Any) -> None:
    """A client has an answer for 500 and 503 too, whatever it asks."""
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            assert {"500", "503"} <= set(operation["responses"]), (method, path)


def test_the_document_shows_a_problem(document: Any) -> None:
    """An example of a 400 and of a 422, each with its faults."""
    for status in (400, 422):
        response = document["components"]["responses"][f"Problem{status}"]
        example = response["content"]["application/problem+json"]["example"]
        assert example["status"] == status
        assert len(example["errors"]) == 2
        assert example["request_id"]


@pytest.mark.parametrize(
    ("contact", "told", "shown"),
    [
        ("", "the operator of this service", {}),
        ("https://club.example/faults", "https://club.example/faults", {"url": "https://club.example/faults"}),
        ("mailto:bench@club.example", "bench@club.example", {"email": "bench@club.example"}),
    ],
)  # fmt: skip
def test_whom_to_tell_of_a_defect(
    monkeypatch: pytest.MonkeyPatch, contact: str, told: str, shown: dict[str, str]
) -> None:
    """The problem page and the document name the operator's contact, or at least whose it is."""
    monkeypatch.setenv("PERCELL_CONTACT", contact)
    (defect,) = [kind for kind in reference().problems if kind.id == "internal-error"]
    assert f"Report it to {told}, with `request_id`." in defect.explanation
    named = openapi.document.__wrapped__()["info"]["contact"]
    assert named == {"name": "The percell maintainers"} | shown


def test_the_type_is_a_full_address_where_it_is_known(
    client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With PERCELL_SITE_URL a problem's type opens from anywhere; it is never the host that was asked."""
    monkeypatch.setenv("PERCELL_SITE_URL", "https://tables.example/")
    problem = client.get("/v1/pack", headers={"host": "other.example"}).json()
    assert problem["type"] == "https://tables.example/problems/outside-contract/"


def test_the_document_names_each_status_that_a_kind_has(document: Any) -> None:
    """Each way to fail stands in the document, but for what belongs to no operation."""
    responses = document["components"]["responses"]
    named = {int(name[-3:]) for name in responses if name.startswith("Problem")}
    assert named == {kind.status for kind in KINDS.values()} - {405} - BEFORE_ANY_PATH | {503}


def test_a_defect_is_a_500_that_says_nothing_of_the_inside(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A defect ends in a problem with the request id, and in the log under the same id."""

    def broken(_: Any) -> Any:
        raise ZeroDivisionError("the inside")

    monkeypatch.setitem(registry.QUESTIONS, ANY.id, dataclasses.replace(ANY, explain=broken))
    with caplog.at_level(logging.ERROR), TestClient(create_app()) as caller:
        response = caller.post(f"/v1/{ANY.id}", json=ANY.example)
    assert response.status_code == 500
    assert response.json()["type"] == "/problems/internal-error/"
    assert "the inside" not in response.text
    assert response.headers["x-request-id"] in caplog.text
    assert "the inside" in caplog.text


def test_a_repeated_failure_keeps_nothing(client: Any) -> None:
    """A failure leaves no trace of itself behind that would grow with each one."""
    import gc

    def traces() -> int:
        gc.collect()
        return sum(type(thing).__name__ == "traceback" for thing in gc.get_objects())

    def fail() -> None:
        for _ in range(50):
            client.get("/nothing/here")
            client.patch(f"/v1/{ANY.id}")
            client.post("/v1/batch", content=b"")

    fail()
    before = traces()
    fail()
    assert traces() <= before + 10


def test_random_bytes_never_break_it(client: Any) -> None:
    """Bytes flipped, cut and repeated in a good body give an answer or a problem, never a 5xx."""
    chance = random.Random(20)  # noqa: S311 # no secret, only a repeatable one
    good = [
        *((f"/v1/{q.id}", json.dumps(q.example).encode()) for q in QUESTIONS.values()),
        ("/v1/batch", json.dumps({"items": [{"question": ANY.id, "ask": ANY.example}]}).encode()),
    ]
    for path, body in good:
        for _ in range(40):
            spoiled = bytearray(body)
            for _ in range(chance.randint(1, 4)):
                at = chance.randrange(len(spoiled))
                if chance.random() < 0.3:
                    spoiled[at:at] = spoiled[at : at + chance.randint(1, 20)]
                else:
                    spoiled[at] = chance.randrange(256)
            response = client.post(
                path, content=bytes(spoiled), headers={"content-type": "application/json"}
            )
            assert response.status_code in (200, 400, 422), (spoiled, response.text)
            if not _is_json(spoiled):
                assert response.status_code == 400, (spoiled, response.text)
            if response.status_code != 200:
                problem = response.json()
                assert problem["status"] == response.status_code
                assert problem["type"].removeprefix("/problems/").strip("/") in KINDS


def _is_json(body: bytes) -> bool:
    try:
        json.loads(body.decode())
    except ValueError:
        return False
    return True
