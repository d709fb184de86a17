"""Many questions at once: each is answered, or fails, on its own."""

import json
from typing import Any

import pytest

from percell.questions.registry import QUESTIONS

ANY = next(iter(QUESTIONS.values()))


def ask(question: Any, body: Any) -> dict[str, Any]:
    return {"question": question.id, "ask": body}


GOOD = ask(ANY, ANY.example)


def test_a_batch_answers_as_single_questions_do(post: Any) -> None:
    """Every question's example has, in a batch, the very answer it has alone, in order."""
    items = [ask(q, q.example) for q in QUESTIONS.values()]
    whole = post("/v1/batch", {"items": items}).json()
    assert list(whole) == ["version", "items", "cautions"]
    assert [item["status"] for item in whole["items"]] == [200] * len(items)
    for question, item in zip(QUESTIONS.values(), whole["items"], strict=True):
        alone = post(f"/v1/{question.id}", question.example).json()
        assert list(item) == ["question", "status", "answer", "working", "assumptions"]
        assert item["question"] == question.id
        beside = {name: item[name] for name in ("working", "assumptions")}
        assert item["answer"] | beside | {"cautions": whole["cautions"]} == alone
        assert whole["version"] == alone["version"]


def test_a_short_batch_says_no_less_of_what_is_grave(post: Any) -> None:
    """Without working and assumptions, each item still has its verdict, attention and grave findings."""
    items = [ask(q, q.example) for q in QUESTIONS.values()]
    whole, short = (
        post("/v1/batch", {"items": items, "form": form}).json() for form in ("full", "short")
    )
    assert short["cautions"] == whole["cautions"]
    graver = 0
    for long_item, item in zip(whole["items"], short["items"], strict=True):
        assert list(item) == ["question", "status", "answer"]
        found = [one for one in long_item["answer"]["findings"] if one["severity"] != "note"]
        assert item["answer"] == long_item["answer"] | {"findings": found}
        graver += len(found)
    assert graver, "nothing grave was found, so nothing was kept"


def test_a_thousand_are_answered_and_one_more_is_not(post: Any, is_problem: Any) -> None:
    """A batch has 1 to 1,000 questions."""
    full = post("/v1/batch", {"items": [GOOD] * 1000})
    assert full.status_code == 200
    assert [item["status"] for item in full.json()["items"]] == [200] * 1000
    over = post("/v1/batch", {"items": [GOOD] * 1001})
    assert "1000" in is_problem(over, "outside-contract", 422, "/items")["detail"]
    is_problem(post("/v1/batch", {"items": []}), "outside-contract", 422, "/items")


@pytest.mark.parametrize("question", QUESTIONS.values(), ids=lambda q: q.id)
def test_an_item_fails_alone_as_it_would_by_itself(
    post: Any, number_fields: Any, changed: Any, question: Any
) -> None:
    """A wrong item has the problem it has alone, its pointer leading from the whole body to the fault."""
    for place, field in number_fields(question).items():
        for wrong in ("4", field["maximum"] * 2 + 1):
            body = changed(question.example, place, wrong)
            alone = post(f"/v1/{question.id}", body).json()
            sent = {"items": [GOOD, ask(question, body), GOOD]}
            before, item, after = post("/v1/batch", sent).json()["items"]
            assert before["status"] == after["status"] == 200
            assert list(item) == ["question", "status", "problem"]
            assert item["status"] == item["problem"]["status"] == alone["status"]
            assert item["problem"]["type"] == alone["type"]
            pointers = [error["pointer"] for error in item["problem"]["errors"]]
            assert pointers == [f"/items/1/ask{error['pointer']}" for error in alone["errors"]]
            target: Any = sent
            for step in pointers[0].split("/")[1:]:
                target = target[int(step) if isinstance(target, list) else step]
            assert target == wrong


@pytest.mark.parametrize(
    ("item", "status", "pointer"),
    [
        ({"question": "nothing", "ask": {}}, 422, "/items/1/question"),
        ({"question": "", "ask": {}}, 422, "/items/1/question"),
        ({"question": "x" * 10_000, "ask": {}}, 422, "/items/1/question"),
        ({"question": "batch", "ask": {"items": [GOOD]}}, 422, "/items/1/question"),
        ({"question": 4, "ask": {}}, 400, "/items/1/question"),
        ({"question": None, "ask": {}}, 400, "/items/1/question"),
        ({"question": ANY.id}, 422, "/items/1/ask"),
        ({"ask": {}}, 422, "/items/1/question"),
        (GOOD | {"colour": 1}, 422, "/items/1/colour"),
        (ask(ANY, None), 400, "/items/1/ask"),
        (ask(ANY, []), 400, "/items/1/ask"),
        (ask(ANY, "{}"), 400, "/items/1/ask"),
        (ask(ANY, ANY.example | {"a/b": 1}), 422, "/items/1/ask/a~1b"),
        (4, 400, "/items/1"),
        (None, 400, "/items/1"),
        ([], 400, "/items/1"),
        ("x", 400, "/items/1"),
    ],
    ids=lambda value: str(value)[:40],
)
def test_what_is_no_question(post: Any, item: Any, status: int, pointer: str) -> None:
    """An item that is no question of ours fails alone, with a pointer."""
    before, failed, after = post("/v1/batch", {"items": [GOOD, item, GOOD]}).json()["items"]
    assert before["status"] == after["status"] == 200
    assert failed["status"] == failed["problem"]["status"] == status
    assert [error["pointer"] for error in failed["problem"]["errors"]] == [pointer]
    # the name of no question is not repeated: it may be of any length
    named = isinstance(item, dict) and item.get("question") == ANY.id
    assert failed.get("question") == (ANY.id if named else None)


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "/items"),
        ({"items": [GOOD], "colour": 1}, "/colour"),
        ({"items": [GOOD], "form": "long"}, "/form"),
    ],
)
def test_what_is_no_batch(post: Any, is_problem: Any, body: Any, pointer: str) -> None:
    """A body that is no batch fails as a whole."""
    is_problem(post("/v1/batch", body), "outside-contract", 422, pointer)


@pytest.mark.parametrize("items", [None, 4, "x", {}, {"0": GOOD}])
def test_items_are_a_list(post: Any, is_problem: Any, items: Any) -> None:
    """Anything but a list of items is the wrong type."""
    is_problem(post("/v1/batch", {"items": items}), "wrong-type", 400, "/items")


def test_a_batch_that_is_no_json_fails_whole(post: Any, is_problem: Any) -> None:
    """Where the body is no JSON in UTF-8 nothing is answered, wherever the fault stands."""
    good = json.dumps({"items": [GOOD, GOOD]}).encode()
    for broken in (
        good[:-1],
        good + b"]",
        good.replace(b"question", b"quest\xffion", 1),
        good.replace(b"25", b"NaN"),
    ):
        is_problem(post("/v1/batch", broken), "unreadable-body", 400)


def test_a_number_too_large_fails_its_item(post: Any) -> None:
    """1e400 is JSON, but no number that anything here can hold: its item fails alone."""
    body = json.dumps({"items": [GOOD, GOOD]}).replace(
        '"cell_rating_a": 25', '"cell_rating_a": 1e400', 1
    )
    first, second = post("/v1/batch", body).json()["items"]
    assert (first["status"], second["status"]) == (400, 200)
    assert first["problem"]["type"] == "/problems/unreadable-body/"


@pytest.mark.parametrize(
    ("name", "more", "limit"),
    [
        ("sharing-by-spread", {"random_groups": 1000}, 50),
        ("lowest-resistance", {"sharing": {"spread": 0.12}}, 50),
        ("matched-sets", {}, 4),
    ],
)
def test_what_takes_long_has_few_places(post: Any, name: str, more: Any, limit: int) -> None:
    """One batch cannot hold the service: beyond the limit an item fails alone, and says why."""
    question = QUESTIONS[name]
    items = [ask(question, question.example | more)] * (limit + 2) + [GOOD]
    answered = post("/v1/batch", {"items": items}).json()["items"]
    assert [item["status"] for item in answered] == [200] * limit + [422, 422, 200]
    for place in (limit, limit + 1):
        (error,) = answered[place]["problem"]["errors"]
        assert error["pointer"] == f"/items/{place}/question"
        assert f"can hold {limit} questions" in error["detail"]


def test_the_usual_spread_takes_no_place(post: Any) -> None:
    """A spread that is worked out already is not counted among those that take long."""
    question = QUESTIONS["lowest-resistance"]
    usual = ask(question, question.example | {"sharing": {"spread": 0.1}})
    answered = post("/v1/batch", {"items": [usual] * 60}).json()["items"]
    assert {item["status"] for item in answered} == {200}
