"""The catalogues: what the API knows, as the site prints it."""

from typing import Any

from percell import VERSION
from percell.questions.registry import QUESTIONS
from percell.questions.rulebook import TOPICS, Topic


def test_every_question_is_listed_with_its_path(client: Any) -> None:
    """The list has each question once, in order, under the title of the document and a path that exists."""
    reference = client.get("/v1/reference").json()
    assert reference["version"] == VERSION
    assert [entry["id"] for entry in reference["questions"]] == list(QUESTIONS)
    for entry in reference["questions"]:
        assert entry["title"] == QUESTIONS[entry["id"]].title
        assert client.options(entry["path"]).status_code == 204


def test_no_catalogue_is_empty(client: Any) -> None:
    """Rules, cautions, chemistries and problem types are all there, each with a name of its own."""
    reference = client.get("/v1/reference").json()
    for name in ("rules", "cautions", "problems"):
        ids = [entry["id"] for entry in reference[name]]
        assert ids, name
        assert len(set(ids)) == len(ids), name
    assert reference["chemistries"]


def test_each_rule_has_one_topic(client: Any) -> None:
    """No rule is under two topics, no topic is empty, and the most severe rules come first."""
    rules = client.get("/v1/reference").json()["rules"]
    severities = [rule["severity"] for rule in rules]
    assert {rule["group"] for rule in rules} == set(Topic)
    assert len(TOPICS) == len(rules)
    assert severities == sorted(severities, key=["warning", "caution", "note"].index)
