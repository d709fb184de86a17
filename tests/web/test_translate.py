"""What msgspec says in its own words is said in the API's words, with a pointer to the place."""

from typing import Any

import pytest

from percell.questions.registry import QUESTIONS

ANY = QUESTIONS["direct-load"]
GOOD = ANY.example


@pytest.mark.parametrize(
    ("body", "status", "pointer", "detail"),
    [
        ("[]", 400, "", "Expected an object, got a list."),
        (GOOD | {"cell_rating_a": "20"}, 400, "/cell_rating_a", "Expected a number, got text."),
        (GOOD | {"cell_rating_a": None}, 400, "/cell_rating_a", "Expected a number, got null."),
        (
            GOOD | {"cell_rating_a": True},
            400,
            "/cell_rating_a",
            "Expected a number, got true or false.",
        ),
        (GOOD | {"layout": 4}, 400, "/layout", "Expected text or an object, got a whole number."),
        (
            GOOD | {"layout": {"series": "1", "parallel": 1}},
            400,
            "/layout/series",
            "Expected a number, got text.",
        ),
        (GOOD | {"colour": 1}, 422, "/colour", "There is no such field."),
        (
            GOOD | {"layout": {"series": 1, "parallel": 1, "a/b~": 1}},
            422,
            "/layout/a~1b~0",
            "There is no such field.",
        ),
        ({"layout": "1S1P"}, 422, "/cell_rating_a", "This field is required."),
        (
            GOOD | {"layout": {"series": 1}},
            422,
            "/layout/parallel",
            "This field is required.",
        ),
        (GOOD | {"cell_rating_a": -1}, 422, "/cell_rating_a", "Expected a number >= "),
        (
            GOOD | {"layout": "9X"},
            422,
            "/layout",
            "The text has the wrong form.",
        ),
        (GOOD | {"chemistry": "x, got `y`"}, 422, "/chemistry", "Invalid enum value 'x, got `y`'."),
    ],
    ids=str,
)
def test_a_fault_is_told_in_words(
    post: Any, is_problem: Any, body: Any, status: int, pointer: str, detail: str
) -> None:
    """The type is named in words, and the pointer leads to the fault."""
    kind = "wrong-type" if status == 400 else "outside-contract"
    problem = is_problem(post(f"/v1/{ANY.id}", body), kind, status, pointer)
    (error,) = problem["errors"]
    assert error["detail"].startswith(detail)
    assert problem["detail"] == f"{pointer or 'The body'}: {error['detail']}"
