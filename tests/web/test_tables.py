"""The printed tables over HTTP: whole, as JSON or CSV."""

import csv
import io
from typing import Any

import pytest
from msgspec import convert

from percell.questions.answering.tables import TablePrint, every_table

TABLES = list(every_table())
every = pytest.mark.parametrize("table", TABLES)
# RFC 4180: fields of text, or quoted with quotes doubled, between commas, in lines that end in CRLF
COMMA, END = ",", "\r\n"


def test_the_list_names_every_table(client: Any) -> None:
    """The list has each table once, with paths that answer."""
    listed = client.get("/v1/tables").json()["tables"]
    assert [entry["id"] for entry in listed] == TABLES
    for entry in listed:
        assert client.get(entry["json"]).headers["content-type"] == "application/json"
        assert client.get(entry["csv"]).headers["content-type"].startswith("text/csv")
        assert entry["page"] == f"/tables/{entry['id']}/"


@every
def test_each_path_has_one_form(client: Any, table: str) -> None:
    """A table is JSON, and CSV under its own path, whatever the caller likes; what it refuses is 406."""
    path = f"/v1/tables/{table}"
    for own, other, at in (
        ("application/json", "text/csv", path),
        ("text/csv", "application/json", f"{path}.csv"),
    ):
        got = client.get(at, headers={"accept": f"{other}, {own};q=0.1"})
        assert got.status_code == 200
        assert got.headers["content-type"].startswith(own)
        assert got.headers["vary"] == "Accept-Encoding"
        assert client.get(at, headers={"accept": other}).status_code == 406
    assert client.get(path).json()["id"] == table
    as_csv = client.get(f"{path}.csv")
    assert as_csv.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    assert f'filename="percell-{table}.csv"' in as_csv.headers["content-disposition"]
    assert client.get(f"{path}.json").status_code == 404


@every
def test_csv_is_rfc_4180(client: Any, table: str) -> None:
    """Lines end in CRLF, the last one too, all have as many fields, and the first is the header."""
    text = client.get(f"/v1/tables/{table}.csv").content.decode()
    assert text.endswith(END)
    assert text.count("\n") == text.count(END) == text.count("\r")
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert len({len(row) for row in rows}) == 1
    assert len(set(rows[0])) == len(rows[0]), "a heading stands twice"


def lines_of(client: Any, table: str) -> list[dict[str, str]]:
    """Return the lines of a table's CSV by heading."""
    text = client.get(f"/v1/tables/{table}.csv").content.decode()
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def same(text: str, value: Any) -> bool:
    """Return whether a field holds a value: nothing if there is none."""
    if value is None or isinstance(value, str):
        return text == (value or "")
    return float(text) == pytest.approx(value, rel=1e-9)


@every
def test_csv_holds_the_figures_of_the_json(client: Any, table: str) -> None:
    """Each line is an entry: its row and column, each figure to its decimals, and what marks it."""
    grid = client.get(f"/v1/tables/{table}").json()
    entries = [
        (row, column, cell)
        for row in grid["rows"]
        for column, cell in zip(grid["columns"], row["cells"], strict=True)
    ]
    for line, (row, column, cell) in zip(lines_of(client, table), entries, strict=True):
        assert same(line[grid["rows_by"]["field"]], row["value"])
        for axis, value in zip(grid["columns_by"], column["values"], strict=True):
            assert same(line[axis["field"]], value)
        for i, (figure, shown) in enumerate(zip(cell["values"], grid["prints"], strict=True)):
            name = convert(shown, TablePrint).column
            assert same(line[name], figure)
            if isinstance(figure, str):
                assert figure in shown["words"]
            else:
                assert not line[name] or len(line[name].partition(".")[2]) == shown["decimals"]
            if shown["mark"]:
                held = shown["mark"]["figure"]
                assert line[f"verdict_on_{name}"] == (cell["verdicts"][i] or "")
                # a limit is in the unit of the figure beside it, and what was compared is in the file too
                limit = float(line[f"limit_of_{held or name}"]) * (1 if held else shown["per"])
                assert limit == pytest.approx(cell["limits"][i], rel=1e-9)
                assert line[held or name]


@every
def test_a_line_of_csv_keeps_its_condition(client: Any, table: str) -> None:
    """A line that is copied alone still has all that the table was calculated for, and the caution."""
    grid = client.get(f"/v1/tables/{table}").json()
    rests_on = grid["fixed"] | {
        a["name"]: a["value"]
        for a in grid["assumptions"]
        if "." not in a["name"] and a["value"] != "varies over the table"
    }
    for line in lines_of(client, table):
        for name, value in rests_on.items():
            assert name in grid["immaterial"] or same(line[name], value), name
        assert line["version"] == grid["version"]
        assert line["caution"] == f"{grid['caveat']} {grid['caution']}"


def test_a_marked_figure_has_its_verdict_beside_it(client: Any) -> None:
    """Behind the current come its verdict and its limit, so that a spreadsheet can be sorted by them."""
    (head, *_) = csv.reader(
        io.StringIO(client.get("/v1/tables/current-by-power.csv").text, newline=""), strict=True
    )
    at = head.index("worst_cell_current_a")
    assert head[:at] == ["output_power_w", "layout", "cell_cutoff_voltage_v"]
    assert head[at + 1 : at + 3] == [
        "verdict_on_worst_cell_current_a",
        "limit_of_worst_cell_current_a",
    ]
    over = {
        (line["output_power_w"], line["layout"]): line["verdict_on_worst_cell_current_a"]
        for line in lines_of(client, "current-by-power")
        if line["cell_cutoff_voltage_v"] == "2.8"
    }
    # 100 W behind 85 %, from two cells down to 2.8 V: 21.01 A by hand, above 20 A
    assert over["100", "2S1P"] == "over_limit"
    assert over["5", "2S1P"] == "within_limit"


@every
def test_a_table_carries_its_cautions(client: Any, table: str) -> None:
    """No table goes out without cautions and what it rests on."""
    grid = client.get(f"/v1/tables/{table}").json()
    assert grid["cautions"]
    assert grid["version"]
    assert grid["question"]


def test_the_decimals_of_an_own_table_are_whole(post: Any, changed: Any, is_problem: Any) -> None:
    """2.0 is the integer 2 here too, and 2.5, 7 and -1 are refused."""
    asked = {
        "question": "lowest-resistance",
        "rows_by": {"field": "cell_rating_a", "heading": "Cell rating", "values": [15, 18]},
        "columns_by": [{"field": "layout", "heading": "Layout", "values": ["1S1P", "1S2P"]}],
        "prints": [
            {
                "field": "lowest_resistance_ohm",
                "heading": "Lowest resistance",
                "decimals": 2,
                "round": "up",
            }
        ],
    }
    place = ("prints", 0, "decimals")
    as_float = post("/v1/tables", changed(asked, place, 2.0))
    assert as_float.content == post("/v1/tables", changed(asked, place, 2)).content
    assert as_float.status_code == 200
    for wrong in (2.5, 7, -1):
        response = post("/v1/tables", changed(asked, place, wrong))
        is_problem(response, "outside-contract", 422, "/prints/0/decimals")
