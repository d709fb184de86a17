"""The other forms of a question: in short, and as a line of CSV."""

import csv
import io
import json
from typing import Any

import msgspec
import pytest

from percell import VERSION
from percell.questions.registry import QUESTIONS
from percell.web.csv_text import cell

every_question = pytest.mark.parametrize("question", QUESTIONS.values(), ids=lambda q: q.id)
with_query = pytest.mark.parametrize(
    "question", [q for q in QUESTIONS.values() if q.has_query], ids=lambda q: q.id
)
WARM = "layout=1S2P&cell_rating_a=20&coil_reading_ohm=0.2"


def dotted(example: dict[str, Any], before: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in example.items():
        if isinstance(value, dict):
            found |= dotted(value, f"{before}{name}.")
        else:
            found[before + name] = value
    return found


@every_question
def test_the_short_form_is_the_answer_without_what_explains_it(post: Any, question: Any) -> None:
    """Asked in short, a question has the same members in the same order, up to the links."""
    whole = post(f"/v1/{question.id}", question.example).json()
    short = post(f"/v1/short/{question.id}", question.example).json()
    left_out = ("working", "assumptions", "cautions")
    assert list(short) == [name for name in whole if name not in left_out]
    assert [one for one in whole["findings"] if one["severity"] != "note"] == short["findings"]
    assert {**short, "findings": 0} == {name: whole[name] for name in short} | {"findings": 0}
    assert short["links"]["cautions"] == "/cautions/"


@with_query
def test_the_short_form_by_query(client: Any, post: Any, flat: Any, question: Any) -> None:
    """The same by query, with a tag, kept by caches as a whole answer is."""
    path = f"/v1/short/{question.id}"
    got = client.get(path, params=flat(question.example))
    assert got.content == post(path, question.example).content
    assert got.headers["etag"]
    assert got.headers["cache-control"].startswith("public")


def table(text: str) -> tuple[list[str], list[str]]:
    assert text.endswith("\r\n")
    names, values = csv.reader(io.StringIO(text, newline=""), strict=True)
    assert len(names) == len(values)
    assert len(set(names)) == len(names), "a heading stands twice"
    return names, values


@with_query
def test_a_line_of_csv_says_what_the_answer_says(
    client: Any, post: Any, flat: Any, question: Any
) -> None:
    """Every figure is in the line unrounded, with the word on top before it and the caution behind it."""
    got = client.get(f"/v1/csv/{question.id}", params=flat(question.example))
    assert got.status_code == 200, got.text
    assert got.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    assert f'filename="percell-{question.id}.csv"' in got.headers["content-disposition"]
    names, values = table(got.content.decode())
    line = dict(zip(names, values, strict=True))
    whole = post(f"/v1/{question.id}", question.example).json()
    assert names[:5] == ["question", "attention", "verdict", "headline", "findings"]
    assert names[-2:] == ["version", "caution"]
    assert line["verdict"] == whole.get("verdict", "")
    assert (line["attention"], line["headline"]) == (whole["attention"], whole["headline"])
    assert (line["question"], line["version"]) == (question.id, VERSION)
    assert "manufacturer's instructions" in line["caution"]
    for one in whole["findings"]:
        assert (one["sentence"] in line["findings"]) is (one["severity"] != "note")
    for limit in whole.get("limits", ()):
        assert line[f"verdict_on_{limit['name']}"] == limit["verdict"]
        told = line[f"limit_of_{limit['name']}"]
        assert float(told) == limit["value"] if "value" in limit else not told
    for name in question.shows.__struct_fields__:
        if isinstance(whole.get(name), float | int):
            assert json.loads(line[name]) == whole[name]
    held = {name for name, value in dotted(whole["asked"]).items() if not isinstance(value, list)}
    assert held <= line.keys()
    assert {a["name"] for a in whole["assumptions"] if "." not in a["name"]} <= line.keys()


def test_figures_stay_in_their_columns(client: Any) -> None:
    """Whatever is given of the rest, a formula finds the figures where it found them before."""
    before = len(["question", "attention", "verdict", "headline", "findings", "layout"])
    asked = (
        WARM,
        f"{WARM}&sharing=even&cell_resistance_ohm=0.03",
        "layout=2S1P&cell_rating_a=9&coil_resistance_ohm=0.3",
    )
    figures = QUESTIONS["direct-load"].shows.__struct_fields__
    for query in asked:
        names, _ = table(client.get(f"/v1/csv/direct-load?{query}").text)
        assert tuple(names[before : before + len(figures)]) == figures


@pytest.mark.parametrize(
    "query",
    [
        "running-time?layout=2S1P&output_power_w=15&cell_capacity_ah=2.6&cell_size=18650",
        "assessment?layout=2S1P&cell_rating_a=20&coil_resistance_ohm=1&cell_capacity_ah=3&cell_size=18650",
        "layouts?most_cells=3&cell_capacity_ah=3&cell_rating_a=20&coil_resistance_ohm=0.5",
    ],
)
def test_what_is_assumed_without_being_a_field_is_in_the_line(client: Any, query: str) -> None:
    """A default that no field sets, such as the mass of a cell, has a column as the others have."""
    names, values = table(client.get(f"/v1/csv/{query}").text)
    line = dict(zip(names, values, strict=True))
    question, _, fields = query.partition("?")
    told = client.get(f"/v1/{question}?{fields}").json()["assumptions"]
    own = QUESTIONS[question].asked.__struct_fields__
    assert [one["name"] for one in told if one["name"] not in own]
    for one in told:
        if "." not in one["name"]:
            assert line[one["name"]] == cell(one["value"])


def test_csv_of_a_list_has_a_column_for_each_part(client: Any) -> None:
    """Entries of a list are counted from 1, each with its fields."""
    question = QUESTIONS["layouts"]
    names, values = table(client.get("/v1/csv/layouts", params=question.example).text)
    line = dict(zip(names, values, strict=True))
    whole = client.get("/v1/layouts", params=question.example).json()
    for place, entry in enumerate(whole["layouts"], 1):
        for name in ("layout", "verdict"):
            assert line[f"layouts.{place}.{name}"] == entry[name]


@pytest.mark.parametrize("path", ["/v1/short/nothing", "/v1/csv/nothing", "/v1/reply/nothing"])
def test_a_form_of_no_question_is_not_there(client: Any, is_problem: Any, path: str) -> None:
    """A name that no question has is a path that is not there."""
    is_problem(client.get(path), "not-found", 404)


@pytest.mark.parametrize("form", ["short", "csv", "reply"])
def test_a_form_that_cannot_be_answered_is_a_problem(
    client: Any, is_problem: Any, form: str
) -> None:
    """What is wrong with the question is said as on its own path."""
    path = f"/v1/{form}/direct-load"
    is_problem(client.get(f"{path}?{WARM}&colour=1"), "outside-contract", 422, "/colour")
    is_problem(
        client.get(
            f"/v1/{form}/cell-sag?cell_current_a=100&cell_resistance_ohm=0.1&open_circuit_voltage_v=4"
        ),
        "no-physical-answer",
        422,
    )


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (None, ""),
        (msgspec.UNSET, ""),
        (True, "true"),
        (-2.5, "-2.5"),
        (28.000000000000004, "28.000000000000004"),
        (3, "3"),
        ("2S1P", "2S1P"),
        ("=1+1", "'=1+1"),
        ("+1", "'+1"),
        ("-1", "'-1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t=1"),
    ],
)
def test_a_cell_is_never_a_formula(value: Any, shown: str) -> None:
    """A number keeps its digits, and a text that a spreadsheet would calculate is shown as a text."""
    assert cell(value) == shown
