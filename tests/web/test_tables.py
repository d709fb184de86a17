"""The printed tables over HTTP: whole, as JSON or CSV."""

import csv
import io
from typing import Any

import pytest

from percell.questions.answering.tables import every_table

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
def test_a_suffix_names_the_form(client: Any, table: str) -> None:
    """With a suffix the form is that one, whatever else the caller likes; what it refuses is 406."""
    path = f"/v1/tables/{table}"
    as_json, as_csv = client.get(f"{path}.json"), client.get(f"{path}.csv")
    assert as_json.json()["id"] == table
    assert as_csv.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    assert f'filename="percell-{table}.csv"' in as_csv.headers["content-disposition"]
    assert client.get(f"{path}.csv", headers={"accept": "text/csv"}).content == as_csv.content
    refused = client.get(f"{path}.csv", headers={"accept": "application/json"})
    assert refused.status_code == 406
    assert client.get(f"{path}.json", headers={"accept": "text/csv"}).status_code == 406


@every
def test_accept_chooses_the_form(client: Any, table: str) -> None:
    """Without a suffix the form that the caller likes best is given, and the tag is that form's own."""
    path = f"/v1/tables/{table}"
    for accept, suffix in (
        (None, ".json"),
        ("", ".json"),
        ("text/*", ".csv"),
        ("text/csv", ".csv"),
    ):
        got = client.get(path, headers={} if accept is None else {"accept": accept})
        named = client.get(path + suffix)
        assert got.status_code == 200
        assert got.content == named.content
        assert got.headers["content-type"] == named.headers["content-type"]
        assert got.headers["etag"] == named.headers["etag"]
        assert "accept" in got.headers["vary"].lower()


@every
def test_csv_is_rfc_4180(client: Any, table: str) -> None:
    """Lines end in CRLF, the last one too, all have as many fields, and the first is the header."""
    text = client.get(f"/v1/tables/{table}.csv").content.decode()
    assert text.endswith(END)
    assert text.count("\n") == text.count(END) == text.count("\r")
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert len({len(row) for row in rows}) == 1
    assert len(set(rows[0])) == len(rows[0]), "a heading stands twice"


@every
def test_csv_holds_the_figures_of_the_json(client: Any, table: str) -> None:
    """Each figure is the JSON's, to its decimals; where there is no answer the field is empty."""
    grid = client.get(f"/v1/tables/{table}.json").json()
    head, *lines = csv.reader(
        io.StringIO(client.get(f"/v1/tables/{table}.csv").text, newline=""), strict=True
    )
    assert head[0] == grid["rows_by"]["field"]
    assert len(lines) == len(grid["rows"])
    for line, row in zip(lines, grid["rows"], strict=True):
        value = row["value"]
        assert line[0] == value if isinstance(value, str) else float(line[0]) == value
        figures = [figure for cell in row["cells"] for figure in cell["values"]]
        shown = grid["prints"] * len(row["cells"])
        for text, figure, print_ in zip(line[1:], figures, shown, strict=True):
            if isinstance(figure, str):
                assert text == figure
                assert text in print_["words"]
            else:
                assert (float(text) if text else None) == figure
                assert not text or len(text.partition(".")[2]) == print_["decimals"]


@every
def test_a_table_carries_its_cautions(client: Any, table: str) -> None:
    """No table goes out without cautions and what it rests on."""
    grid = client.get(f"/v1/tables/{table}.json").json()
    assert grid["cautions"]
    assert grid["version"]
    assert grid["question"]


def test_the_decimals_of_an_own_table_are_whole(
    post: Any, document: Any, changed: Any, is_problem: Any
) -> None:
    """2.0 is the integer 2 here too, and 2.5, 7 and -1 are refused."""
    content = document["paths"]["/v1/tables"]["post"]["requestBody"]["content"]
    asked = content["application/json"]["example"]
    place = ("prints", 0, "decimals")
    as_float = post("/v1/tables", changed(asked, place, 2.0))
    assert as_float.content == post("/v1/tables", changed(asked, place, 2)).content
    assert as_float.status_code == 200
    for wrong in (2.5, 7, -1):
        response = post("/v1/tables", changed(asked, place, wrong))
        is_problem(response, "outside-contract", 422, "/prints/0/decimals")
