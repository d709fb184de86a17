"""Each fault is told in the API's words, with a pointer to the place and a code; all of them at once."""

from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.questions.registry import QUESTIONS
from percell.web.faults import faults_in

ANY = QUESTIONS["direct-load"]
GOOD = ANY.example


@pytest.mark.parametrize(
    ("body", "status", "pointer", "detail"),
    [
        ("[]", 400, "", "Expected an object, got a list."),
        (GOOD | {"cell_rating_a": "20"}, 400, "/cell_rating_a", "Expected a number, got text."),
        (
            GOOD | {"cell_rating_a": None},
            400,
            "/cell_rating_a",
            "Expected a number, got null. Leave the field out instead.",
        ),
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
        (GOOD | {"cell_rating_a": -1}, 422, "/cell_rating_a", "It must be 0.1 A or more."),
        (
            GOOD | {"layout": "9X"},
            422,
            "/layout",
            "The text has the wrong form.",
        ),
        (
            GOOD | {"chemistry": "x, got `y`"},
            422,
            "/chemistry",
            "'x, got `y`' is not allowed. Use one of: nmc, ",
        ),
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


def told(problem: Any) -> list[tuple[str, str]]:
    """Return the pointer and the code of each fault."""
    return [(error["pointer"], error["code"]) for error in problem["errors"]]


def test_all_faults_are_told_at_once(post: Any, is_problem: Any) -> None:
    """A wrong type, a bound, a pattern, a missing and an unknown name: one answer names them all."""
    body = {
        "layout": "9X",
        "cell_rating_a": -1,
        "coil_resistence_ohm": 0.2,
        "chemistry": "nmd",
        "meter_counts": 2.5,
        "sharing": {"percentile": "0.9"},
        "device_resistance_ohm": None,
    }
    problem = is_problem(post(f"/v1/{ANY.id}", body), "wrong-type", 400)
    assert sorted(told(problem)) == [
        ("/cell_rating_a", "below"),
        ("/chemistry", "not_allowed"),
        ("/coil_resistence_ohm", "unknown"),
        ("/device_resistance_ohm", "null"),
        ("/layout", "pattern"),
        ("/meter_counts", "not_a_whole_number"),
        ("/sharing/percentile", "wrong_type"),
        ("/sharing/spread", "missing"),
    ]
    by_pointer = {error["pointer"]: error for error in problem["errors"]}
    assert by_pointer["/cell_rating_a"]["limit"] == 0.1
    assert by_pointer["/chemistry"]["suggestion"] == "nmc"
    assert by_pointer["/coil_resistence_ohm"]["suggestion"] == "coil_resistance_ohm"
    assert by_pointer["/coil_resistence_ohm"]["detail"].endswith(
        "Did you mean coil_resistance_ohm?"
    )
    assert problem["detail"].endswith("And 7 more faults.")


def test_a_query_tells_all_faults_too(client: Any, is_problem: Any) -> None:
    """Also those of names that are given twice; without a wrong type it is a 422."""
    query = "layout=9X&cell_rating_a=300&cell_rating_a=2&meter_counts=101&colour=1"
    problem = is_problem(client.get(f"/v1/{ANY.id}?{query}"), "outside-contract", 422)
    assert sorted(told(problem)) == [
        ("/cell_rating_a", "twice"),
        ("/colour", "unknown"),
        ("/layout", "pattern"),
        ("/meter_counts", "above"),
    ]


def test_a_long_list_of_faults_is_cut(post: Any, is_problem: Any) -> None:
    """Twenty are told, and how many there are; beyond a hundred nobody counts."""
    for count, more in (
        (20, "And 19 more faults."),
        (21, "And 20 more faults, of which `errors` lists 19."),
        (5000, "And at least 99 more faults, of which `errors` lists 19."),
    ):
        body = GOOD | {f"a{i}": 1 for i in range(count)}
        problem = is_problem(post(f"/v1/{ANY.id}", body), "outside-contract", 422)
        assert len(problem["errors"]) == 20
        assert problem["detail"].endswith(more)


@pytest.mark.parametrize("part", ["[]", '{"a": {}}', "[[1]]"])
def test_a_body_of_very_many_parts_is_not_looked_into(
    post: Any, is_problem: Any, part: str
) -> None:
    """It would hold up the other requests for half a second."""
    body = f'{{"cells": [{", ".join([part] * 60_000)}]}}'
    found = is_problem(post("/v1/matched-sets", body), "unreadable-body", 400)
    assert found["detail"] == "The body has more than 20000 lists and objects."


def test_faults_in_a_list_are_told_by_place(post: Any, is_problem: Any) -> None:
    """Each entry of a list has its own faults, and a list may be too short or too long."""
    cell = {"open_circuit_voltage_v": 4, "cell_resistance_ohm": 0.02, "cell_capacity_ah": 3}
    bad = cell | {"cell_resistance_ohm": 0, "cell_capacity_ah": "3", "capacity": 3}
    problem = is_problem(post("/v1/joining", {"cells": [cell, bad, 4]}), "wrong-type", 400)
    assert told(problem) == [
        ("/cells/1/cell_resistance_ohm", "below"),
        ("/cells/1/cell_capacity_ah", "wrong_type"),
        ("/cells/1/capacity", "unknown"),
        ("/cells/2", "wrong_type"),
    ]
    short = is_problem(post("/v1/joining", {"cells": [cell]}), "outside-contract", 422)
    assert (told(short), short["errors"][0]["limit"]) == ([("/cells", "too_short")], 2)
    long = is_problem(post("/v1/joining", {"cells": [cell] * 21}), "outside-contract", 422)
    assert (told(long), long["errors"][0]["limit"]) == ([("/cells", "too_long")], 20)


def test_faults_of_a_table_are_told_where_it_holds_them(post: Any, is_problem: Any) -> None:
    """In the fixed fields, on each value of an axis, and in the words of a figure."""
    table = {
        "question": "lowest-resistance",
        "fixed": {"meter_counts": 101, "sharing": "evn"},
        "rows_by": {"field": "cell_rating_a", "heading": "", "values": [15, 0, 300]},
        "columns_by": [{"field": "layout", "heading": "", "values": ["1S1P", "9X"]}],
        "prints": [{"field": "lowest_resistance_ohm", "heading": "", "round": "up"}],
    }
    problem = is_problem(post("/v1/tables", table), "outside-contract", 422)
    assert sorted(told(problem)) == [
        ("/columns_by/0/values/1", "pattern"),
        ("/fixed/meter_counts", "above"),
        ("/fixed/sharing", "not_allowed"),
        ("/rows_by/values/1", "below"),
        ("/rows_by/values/2", "above"),
    ]
    says = {"value": 1, "says": {"over_limt": "x"}, "near": None}
    shown = table["prints"][0] | {"mark": says, "decimals": "1"}  # type: ignore[index]
    problem = is_problem(post("/v1/tables", table | {"prints": [shown]}), "wrong-type", 400)
    assert sorted(told(problem)) == [
        ("/prints/0/decimals", "wrong_type"),
        ("/prints/0/mark/near", "null"),
        ("/prints/0/mark/says/over_limt", "not_allowed"),
    ]


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 400) | st.floats(-1, 300) | st.sampled_from(
        ["", "1S2P", "even", "nmc", "4", "x" * 70]
    ),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(["series", "spread", "x"]), inner, max_size=3),
    max_leaves=5,
)  # fmt: skip


@given(data=st.data())
def test_both_passes_refuse_the_same(data: Any) -> None:
    """What msgspec refuses has a fault, and what it accepts has none, by body and by query."""
    question = data.draw(st.sampled_from(list(QUESTIONS.values())))
    body = dict(question.example)
    names = [*question.asked.__struct_fields__, "colour"]
    for name in data.draw(st.lists(st.sampled_from(names), max_size=4)):
        body[name] = data.draw(JUNK)
    if not data.draw(st.booleans()):
        body.pop(data.draw(st.sampled_from(sorted(body))))
    for strict in (True, False):
        try:
            msgspec.convert(body, question.asked, strict=strict)
            valid = True
        except msgspec.ValidationError:
            valid = False
        assert (faults_in(body, question.asked, by_query=not strict) == []) is valid


def test_no_other_quantity_is_suggested_for_a_name_that_is_there(post: Any) -> None:
    """Whoever gives a reading twice, once mistyped, is not led to the true resistance."""
    body = {"layout": "1S2P", "cell_rating_a": 20, "coil_readng_ohm": 0.2}
    (fault,) = post("/v1/direct-load", body).json()["errors"]
    assert fault["suggestion"] == "coil_reading_ohm"
    (fault,) = post("/v1/direct-load", body | {"coil_reading_ohm": 0.2}).json()["errors"]
    assert "suggestion" not in fault
    assert "Did you mean" not in fault["detail"]


def test_no_word_is_suggested_for_its_opposite(client: Any) -> None:
    """Whoever asks for an uneven share is not led to an even one, which gives the boldest figures."""
    query = "layout=1S2P&cell_rating_a=20&coil_reading_ohm=0.2&sharing=uneven"
    (fault,) = client.get(f"/v1/direct-load?{query}").json()["errors"]
    assert "suggestion" not in fault
    assert "Did you mean" not in fault["detail"]
    assert "careful" in fault["detail"]
