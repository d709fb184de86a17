"""What schemathesis checks besides what it knows: for the test in one process and for the deep run."""

from typing import Any

import schemathesis
from schemathesis import GenerationMode

# how a fault is worded that the document itself forbids; whoever keeps to the document never sees one
BY_DOCUMENT = (
    "Expected ",
    "Invalid ",
    "This field is required",
    "There is no such field",
    "Object ",
)


@schemathesis.hook
def filter_case(_: Any, case: Any) -> bool:
    """A field of a query without a value is not given, which no schema can say: it is no wrong value."""
    return not any(_says_nothing(value) for value in (case.query or {}).values())


def _says_nothing(value: Any) -> bool:
    """Return whether a value leaves nothing in a query: an empty text, or an object or list of such."""
    return value == "" or (isinstance(value, dict | list) and all(map(_says_nothing, value)))


@schemathesis.check
def refused_for_a_reason_beyond_the_document(_: Any, response: Any, case: Any) -> None:
    """A request that keeps to the document is refused only by physics or by a contradiction."""
    if "{question}" in case.path or case.path.startswith("/v1/tables"):
        return  # which fields these take depends on the question that they name, beyond any document
    if case.meta is None or case.meta.generation.mode is not GenerationMode.POSITIVE:
        return
    if response.status_code == 422:
        problem = response.json()
        errors = problem.get("errors", ())
        if case.method == "GET":
            # the parts of an object stand each for itself in a query: which belong together is beyond it
            errors = [error for error in errors if error["pointer"].count("/") == 1]
        assert not any(error["detail"].startswith(BY_DOCUMENT) for error in errors), problem


@schemathesis.check
def a_batch_answers_each_item(_: Any, response: Any, case: Any) -> None:
    """A batch has one outcome an item, and each is an answer or the problem of its own status."""
    if case.path != "/v1/batch" or response.status_code != 200:
        return
    outcomes = response.json()["items"]
    assert len(outcomes) == len(case.body["items"])
    beside = set() if case.body.get("form") == "short" else {"working", "assumptions"}
    for outcome in outcomes:
        told = {"answer"} | beside if outcome["status"] == 200 else {"problem"}
        assert set(outcome) - {"question"} == {"status"} | told
        if outcome["status"] != 200:
            assert outcome["status"] == outcome["problem"]["status"]
            assert 400 <= outcome["status"] < 500, outcome
    if case.meta is not None and case.meta.generation.mode is GenerationMode.NEGATIVE:
        assert any(outcome["status"] != 200 for outcome in outcomes), "nothing was refused"
