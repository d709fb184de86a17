"""The first page of the API: a stranger finds everything from it."""

from typing import Any

import pytest

from percell import VERSION
from percell.questions.answering.question import Subject
from percell.questions.registry import QUESTIONS
from percell.web.index import index

PATHS = [
    path
    for group in index().groups
    for q in group.questions
    for path in (q.path, q.short, q.csv, q.reply)
    if path
] + [getattr(index(), name) for name in ("batch", "tables", "reference", "document")]


def test_every_question_is_listed_once_under_its_subject(client: Any) -> None:
    """Groups are the subjects in their order, and no question is missing."""
    found = client.get("/v1").json()
    assert found["version"] == VERSION
    assert [group["group"] for group in found["groups"]] == list(Subject)
    listed = {q["question"]: g["group"] for g in found["groups"] for q in g["questions"]}
    assert listed == {q.id: q.subject for q in QUESTIONS.values()}
    assert sum(len(group["questions"]) for group in found["groups"]) == len(QUESTIONS)
    labels = {q["question"]: q["label"] for g in found["groups"] for q in g["questions"]}
    assert labels == {q.id: q.title for q in QUESTIONS.values()}


@pytest.mark.parametrize("path", PATHS)
def test_every_path_of_the_index_answers(client: Any, path: str) -> None:
    """No path in it leads nowhere."""
    assert client.options(path).status_code == 204


@pytest.mark.parametrize("path", ["/v1", "/healthz"])
def test_answers_that_a_stranger_tries_first_name_the_document(client: Any, path: str) -> None:
    """From the index and the health check a program finds the document and a person the guide."""
    answer = client.get(path)
    assert answer.status_code == 200
    assert '</openapi.json>; rel="service-desc"' in answer.headers["link"]
    assert 'rel="service-doc"' in answer.headers["link"]


def test_the_index_has_one_path(client: Any) -> None:
    """With a slash at its end the path is another one, as everywhere in the API."""
    assert client.get("/v1/").status_code == 404
