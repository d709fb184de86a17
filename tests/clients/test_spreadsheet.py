"""A spreadsheet and a stats program read CSV, and no figure comes without its verdict and condition."""

import csv
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from percell.questions.registry import QUESTIONS

PROGRAM = Path(__file__).with_name("spreadsheet.py")
OWN_TABLE = {
    "question": "converter-load",
    "fixed": {"layout": "2S1P", "cell_rating_a": 20},
    "rows_by": {"field": "output_power_w", "heading": "Power", "unit": "W", "values": [40, 80, 160]},
    "columns_by": [{"field": "cell_cutoff_voltage_v", "heading": "Cut-off", "unit": "V", "values": [2.8, 3.2]}],
    "prints": [{
        "field": "worst_cell_current_a", "heading": "Current", "unit": "A", "decimals": 1, "round": "up",
        "mark": {"value": "cell_rating_a"},
    }],
}  # fmt: skip


@pytest.fixture
def sheet(api: Any, run: Callable[..., str], tmp_path: Path) -> Callable[[str], list[Any]]:
    """Return a way to fill a sheet of packs."""

    def fill(packs: str) -> list[Any]:
        said = run(sys.executable, PROGRAM, api.address, cwd=tmp_path, said=packs)
        return list(csv.DictReader(said.splitlines(), strict=True))

    return fill


def numbers(line: dict[str, str], ending: str) -> list[float]:
    """Return the values of the columns whose name ends so, read as a stats program reads numbers."""
    return [
        float(value)
        for name, value in line.items()
        if name.endswith(ending) and value and not name.startswith("verdict_")
    ]


def lines(response: httpx.Response) -> list[dict[str, str]]:
    """Return the lines of a file of CSV."""
    assert response.status_code == 200, response.text
    assert response.headers["content-type"].startswith("text/csv")
    return list(csv.DictReader(response.text.splitlines(), strict=True))


def test_a_sheet_of_packs_is_filled(api: Any, sheet: Callable[[str], list[Any]]) -> None:
    """Each line gets the figure of the answer and all that belongs to it; a wrong one says what is wrong."""
    full, over, wrong = sheet(
        "layout,cell_rating_a,coil_reading_ohm,chemistry\n"
        "1S2P,20,0.2,\n"
        "2S1P,25,0.3,nmc\n"
        "9X,-1,0.3,\n"
    )
    asked = {"layout": "1S2P", "cell_rating_a": 20, "coil_reading_ohm": 0.2}
    answer = httpx.get(f"{api.address}/v1/direct-load", params=asked).json()
    assert float(full["worst_cell_current_a"]) == answer["worst_cell_current_a"]
    for name in ("verdict", "attention", "headline", "version"):
        assert full[name] == answer[name]
    assert full["caution"].startswith("Never exceed the manufacturer's continuous discharge rating")
    assert (over["verdict"], over["attention"]) == ("over_limit", "warning")
    assert (wrong["verdict"], wrong["worst_cell_current_a"]) == ("no answer", "")
    assert "/layout: " in wrong["problem"]
    assert "/cell_rating_a: It must be 0.1 A or more." in wrong["problem"]


def test_a_cache_buster_is_refused_in_words(api: Any) -> None:
    """What a spreadsheet adds to load anew is told by its name, on a question as on a table."""
    for path in (
        "/v1/csv/direct-load?layout=1S2P&cell_rating_a=20&coil_reading_ohm=0.2&",
        "/v1/tables/lowest-resistance.csv?",
    ):
        assert httpx.get(f"{api.address}{path}".rstrip("&?")).status_code == 200
        problem = httpx.get(f"{api.address}{path}_=1790000000").json()
        assert problem["status"] == 422
        (fault,) = problem["errors"]
        assert (fault["pointer"], fault["code"]) == ("/_", "unknown")


def test_every_question_by_query_is_one_line(api: Any) -> None:
    """One line of names and one of values, with decimal points, verdict, headline, version and caution in it."""
    asked = {
        q.id: q.example
        for q in QUESTIONS.values()
        if not any(isinstance(value, list | dict) for value in q.example.values())
    }
    assert len(asked) > 15
    for question, fields in asked.items():
        (line,) = lines(httpx.get(f"{api.address}/v1/csv/{question}", params=fields))
        answer = httpx.get(f"{api.address}/v1/{question}", params=fields).json()
        assert None not in line
        assert line["question"] == question
        assert line["verdict"] == answer.get("verdict", "")
        for name in ("attention", "headline", "version"):
            assert line[name] == answer[name]
        assert "a qualified battery engineer come before this tool." in line["caution"]
        for name, value in line.items():
            if name in answer and isinstance(answer[name], float):
                assert float(value) == answer[name]
        assert any(numbers(line, ending) for ending in ("_a", "_ohm", "_v", "_ah"))


def test_each_line_of_a_table_holds_on_its_own(api: Any) -> None:
    """A table filtered to one layout keeps figure, verdict, limit, condition and caution in each line."""
    table = lines(httpx.get(f"{api.address}/v1/tables/current-by-power.csv"))
    mine = [line for line in table if line["layout"] == "2S1P"]
    assert 0 < len(mine) < len(table)
    rated, powered = (name for name in mine[0] if name.startswith("verdict"))
    # one by the rating, and one by what full cells can supply
    for verdict in (rated, powered):
        assert {line[verdict] for line in mine} >= {"within_limit", "over_limit"}
    for line in mine:
        assert line["version"]
        assert "Never exceed" in line["caution"]
        assert line["sharing"]
        assert numbers(line, "_a")
        assert numbers(line, "_v")


def test_a_table_of_ones_own_is_a_sheet(api: Any) -> None:
    """POST gives the same figures as CSV and as JSON, each with its verdict."""
    response = httpx.post(f"{api.address}/v1/tables.csv", json=OWN_TABLE)
    table = httpx.post(f"{api.address}/v1/tables", json=OWN_TABLE).json()
    cells = [cell for row in table["rows"] for cell in row["cells"]]
    sheet = lines(response)
    assert len(sheet) == len(cells) == 6
    (verdict,) = (name for name in sheet[0] if name.startswith("verdict"))
    for line, cell in zip(sheet, cells, strict=True):
        assert [float(line["worst_cell_current_a"])] == cell["values"]
        assert [line[verdict]] == cell["verdicts"]
        assert line["layout"] == "2S1P"
        assert "Never exceed" in line["caution"]
    assert {line[verdict] for line in sheet} >= {"within_limit", "over_limit"}
