"""A table of one's own is the same answers, asked over two quantities, or a problem that names the fault."""

import csv
import io

import pytest

from percell import VERSION

ASKED = {
    "question": "highest-power",
    "fixed": {"cell_cutoff_voltage_v": 3.2},
    "rows_by": {"field": "cell_rating_a", "heading": "Rating", "unit": "A", "values": [10, 20.5]},
    "columns_by": [
        {"field": "layout", "heading": "Layout", "values": ["1S1P", "2S2P"]},
        {"field": "efficiency", "heading": "Efficiency", "values": [0.8, 0.9]},
    ],
    "prints": [
        {"field": "highest_power_w", "heading": "P", "unit": "W", "decimals": 1, "round": "down"}
    ],
}


def test_every_cell_is_the_answer_to_its_question(client):
    """Cell by cell the table says what the question says, rounded as asked."""
    table = client.post("/v1/tables", json=ASKED).json()
    assert [row["anchor"] for row in table["rows"]] == ["10-a", "20.5-a"]
    anchors = [column["anchor"] for column in table["columns"]]
    assert anchors == ["1s1p-0-8", "1s1p-0-9", "2s2p-0-8", "2s2p-0-9"]
    for row in table["rows"]:
        for column, cell in zip(table["columns"], row["cells"], strict=True):
            layout, efficiency = column["values"]
            one = client.post(
                "/v1/highest-power",
                json=ASKED["fixed"]
                | {"cell_rating_a": row["value"], "layout": layout, "efficiency": efficiency},
            ).json()["highest_power_w"]
            assert cell["values"][0] <= one < cell["values"][0] + 0.1


MARKED = {
    "field": "worst_cell_current_a",
    "heading": "I",
    "round": "up",
    "mark": {"value": "cell_rating_a"},
}


@pytest.mark.parametrize(
    ("mark", "verdicts"),
    [
        ({"value": 20}, ["within_limit", "little_headroom", "over_limit"]),
        ({"value": 20, "near": False}, ["within_limit", "within_limit", "over_limit"]),
        ({"value": 20, "assumed": True}, ["not_judged", "not_judged", "over_limit"]),
        ({"value": 20, "bound": "at_least"}, ["over_limit", "over_limit", "within_limit"]),
        ({"value": 19, "bound": "at_least"}, ["over_limit", "little_headroom", "within_limit"]),
        # from 15 A on, a tenth of the way to 20 A is left above 19.5 A
        ({"value": 20, "origin": 15}, ["within_limit", "within_limit", "over_limit"]),
        (
            {"value": 20, "figure": "coil_power_w"},
            ["over_limit", "over_limit", "over_limit"],
        ),
    ],
)
def test_a_mark_holds_a_figure_against_a_limit(client, mark, verdicts):
    """Coils of 8.4 V over 12, 19.1 and 24 A, worked out by hand, are marked on the side that is asked for."""
    asked = {
        "question": "direct-load",
        "fixed": {"layout": "2S1P"},
        "rows_by": {
            "field": "coil_resistance_ohm",
            "heading": "R",
            "values": [8.4 / 12, 8.4 / 19.1, 8.4 / 24],
        },
        "columns_by": [{"field": "cell_rating_a", "heading": "Rating", "values": [20]}],
        "prints": [MARKED | {"mark": mark}, MARKED | {"mark": None}],
    }
    rows = client.post("/v1/tables", json=asked).json()["rows"]
    assert [row["cells"][0]["verdicts"] for row in rows] == [
        [verdict, None] for verdict in verdicts
    ]
    assert {tuple(row["cells"][0]["limits"]) for row in rows} == {(mark["value"], None)}


def test_a_table_without_marks_has_no_verdicts(client):
    """Nothing is held against anything unless the table says so."""
    table = client.post("/v1/tables", json=ASKED).json()
    assert {key for row in table["rows"] for cell in row["cells"] for key in cell} == {"values"}


@pytest.mark.parametrize(
    ("path", "value", "pointer"),
    [
        (["question"], "nothing", "/question"),
        (["question"], "sharing-by-spread", "/question"),
        (["question"], "assessment", "/question"),
        (["rows_by", "values"], [10, 0], "/rows_by/values/1"),
        (["rows_by", "values"], [10, "x"], "/rows_by/values"),
        (["rows_by", "values"], [], "/rows_by/values"),
        (["rows_by", "field"], "nothing", "/rows_by/field"),
        (["rows_by", "labels"], ["one"], "/rows_by/labels"),
        (["columns_by", 0, "values"], ["1S1P", "9X"], "/columns_by/0/values/1"),
        (["columns_by", 1, "field"], "layout", "/columns_by"),
        (["columns_by", 1, "field"], "cell_cutoff_voltage_v", "/columns_by/1/field"),
        (["prints", 0, "field"], "nothing", "/prints/0/field"),
        (["prints", 0, "decimals"], 7, "/prints/0/decimals"),
        (["fixed"], {"nothing": 1}, "/fixed/nothing"),
        (["fixed"], {"cell_cutoff_voltage_v": 9}, "/fixed/cell_cutoff_voltage_v"),
        (["fixed"], {"sharing": {"spread": 9}}, "/fixed/sharing/spread"),
        (["columns_by", 0], ASKED["columns_by"][1], "/columns_by"),
        (["columns_by"], [ASKED["columns_by"][1]], "/fixed/layout"),
        (["prints", 0, "mark"], {"value": "nothing"}, "/prints/0/mark/value"),
        (["prints", 0, "mark"], {"value": "layout"}, "/prints/0/mark/value"),
        (["prints", 0, "mark"], {"value": 9, "figure": "no"}, "/prints/0/mark/figure"),
        (["prints", 0, "mark"], {"value": 9, "origin": "chemistry"}, "/prints/0/mark/origin"),
        (["prints", 0, "mark"], {"value": 9, "bound": "over"}, "/prints/0/mark/bound"),
        (["prints", 0, "mark"], {}, "/prints/0/mark/value"),
    ],
)
def test_a_table_that_cannot_be_asked_names_the_fault(client, changed, path, value, pointer):
    """Every part is held to its bounds before anything is worked out."""
    answer = client.post("/v1/tables", json=changed(ASKED, path, value))
    assert answer.status_code == 422, answer.text
    assert answer.json()["errors"][0]["pointer"] == pointer


@pytest.mark.parametrize(
    ("changes", "status", "told"),
    [
        (
            {"question": "direct-lod", "rows_by": 3},
            400,
            [("/question", "contradiction"), ("/rows_by", "wrong_type")],
        ),
        (
            {
                "fixed": {"cell_cutoff_voltage_v": 9, "colour": 1},
                "rows_by": ASKED["rows_by"] | {"field": "raiting"},
                "columns_by": [
                    {"field": "layot", "heading": "L", "values": ["1S1P"]},
                    {"field": "efficiency", "heading": "E", "values": [0.8, 9]},
                ],
                "prints": [ASKED["prints"][0] | {"field": "power"}],
            },
            422,
            [
                ("/rows_by/field", "contradiction"),
                ("/columns_by/0/field", "contradiction"),
                ("/prints/0/field", "contradiction"),
                ("/fixed/cell_cutoff_voltage_v", "above"),
                ("/fixed/colour", "unknown"),
                ("/columns_by/1/values/1", "above"),
            ],
        ),
        (
            {"question": "direct-lod", "rows_by": ASKED["rows_by"] | {"labels": ["one"]}},
            422,
            [("/question", "contradiction"), ("/rows_by/labels", "contradiction")],
        ),
    ],
)
def test_the_faults_of_a_table_are_told_at_once(client, changes, status, told):
    """Question, axes, prints and fixed fields do not hide each other's faults."""
    answer = client.post("/v1/tables", json=ASKED | changes)
    assert answer.status_code == status, answer.text
    assert [(one["pointer"], one["code"]) for one in answer.json()["errors"]] == told


def test_the_questions_that_a_table_can_ask_are_named(client, changed):
    """Those that work a number out for each entry quickly enough, and no others."""
    answer = client.post("/v1/tables", json=changed(ASKED, ["question"], "matched-sets")).json()
    named = answer["errors"][0]["detail"].removeprefix("A table can ask: ").rstrip(".").split(", ")
    assert {"converter-load", "charging", "cell-health"} <= set(named)
    assert not {"matched-sets", "discharge-test", "sharing-by-spread", "series-drift"} & set(named)


def test_a_table_is_bounded(client, changed):
    """Two hundred by fifty cells are too many for one request."""
    asked = changed(ASKED, ["columns_by", 1, "values"], [0.5 + i / 1000 for i in range(50)])
    asked["rows_by"]["values"] = [float(i) for i in range(1, 201)]
    answer = client.post("/v1/tables", json=asked)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/rows_by/values"


LOADED = {
    "question": "direct-load",
    "rows_by": {"field": "cell_rating_a", "heading": "Rating", "values": [10, 20]},
    "columns_by": [{"field": "layout", "heading": "Layout", "values": ["1S1P", "1S2P"]}],
    "prints": [{"field": "worst_cell_current_a", "heading": "I", "round": "up"}],
}
READING = {"field": "coil_reading_ohm", "heading": "Reading", "values": [0.2, 0.3]}


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        (
            {"fixed": {}},
            [("/fixed/coil_reading_ohm", "missing"), ("/fixed/coil_resistance_ohm", "missing")],
        ),
        (
            {"fixed": {"coil_resistance_ohm": 0.2, "cell_rating_a": 20}, "rows_by": READING},
            [("/rows_by/values", "contradiction"), ("/fixed/coil_resistance_ohm", "contradiction")],
        ),
        (
            {"fixed": {"coil_resistance_ohm": 0.2, "meter_counts": 5, "meter_accuracy": 0.1}},
            [("/fixed/meter_accuracy", "contradiction"), ("/fixed/meter_counts", "contradiction")],
        ),
        # bounds before contradictions
        (
            {"fixed": {"meter_counts": 5, "colour": 1}, "rows_by": READING | {"values": [-1]}},
            [
                ("/fixed/cell_rating_a", "missing"),
                ("/fixed/colour", "unknown"),
                ("/rows_by/values/0", "below"),
            ],
        ),
    ],
)
def test_contradictions_are_named_where_the_table_holds_them(client, changed, told):
    """A pointer leads to the field in the body as it was sent, or to where it would stand."""
    answer = client.post("/v1/tables", json=LOADED | changed)
    assert answer.status_code == 422
    assert [(one["pointer"], one["code"]) for one in answer.json()["errors"]] == told


def test_no_detail_speaks_python(client, changed):
    """A value that does not fit is told as it is for a single question, in words."""
    for path, value in [
        (["rows_by", "values"], [10, 0]),
        (["columns_by", 0, "values"], ["1S1P", "9X"]),
        (["fixed"], {"cell_cutoff_voltage_v": "high"}),
    ]:
        answer = client.post("/v1/tables", json=changed(ASKED, path, value)).json()
        said = answer["detail"] + answer["errors"][0]["detail"]
        assert not {"`", "$", "float", "regex"} & {*said.split(), *said}, said


def test_what_has_no_answer_has_no_figure_and_no_verdict(client):
    """A tolerance above the reading leaves no current, and no verdict, in a table as in a question."""
    asked = {
        "question": "direct-load",
        "fixed": {"layout": "1S1P", "coil_resistance_tolerance_ohm": 0.15},
        "rows_by": {"field": "coil_resistance_ohm", "heading": "R", "values": [0.1, 0.65]},
        "columns_by": [{"field": "cell_rating_a", "heading": "Rating", "values": [20]}],
        "prints": [MARKED],
    }
    rows = client.post("/v1/tables", json=asked).json()["rows"]
    assert rows[0]["cells"] == [{"values": [None], "verdicts": [None], "limits": [None]}]
    assert rows[1]["cells"] == [{"values": [9.0], "verdicts": ["within_limit"], "limits": [20.0]}]


def test_no_figure_is_printed_beside_one_without_an_answer(client):
    """Where a coil may be a short circuit, no expected current is printed, and none has a mild verdict."""
    asked = {
        "question": "direct-load",
        "fixed": {"layout": "1S1P", "cell_rating_a": 60, "coil_resistance_tolerance_ohm": 0.15},
        "rows_by": {"field": "coil_resistance_ohm", "heading": "R", "values": [0.1, 0.65]},
        "columns_by": [{"field": "cell_temperature_c", "heading": "T", "values": [25]}],
        "prints": [MARKED | {"field": "sagging_pack_current_a"}],
    }
    question = asked["fixed"] | {"coil_resistance_ohm": 0.1}
    assert client.post("/v1/direct-load", json=question).status_code == 422
    none, one = client.post("/v1/tables", json=asked).json()["rows"]
    assert none["cells"] == [{"values": [None], "verdicts": [None], "limits": [None]}]
    assert one["cells"][0]["verdicts"] == ["within_limit"]


@pytest.mark.parametrize(
    ("asked", "pointer"),
    [
        (
            {
                "question": "pack",
                "fixed": {"layout": "1S1P", "cell_rating_a": 20},
                "rows_by": {
                    "field": "cell_nominal_voltage_v",
                    "heading": "U",
                    "values": [3.6, 4.3],
                },
                "columns_by": [{"field": "cell_capacity_ah", "heading": "Q", "values": [2, 3]}],
                "prints": [{"field": "pack_energy_wh", "heading": "E", "round": "up"}],
            },
            "/rows_by/values",
        ),
        (
            {
                "question": "charging",
                "fixed": {"layout": "1S1P", "charge_current_a": 1.0},
                "rows_by": {"field": "cell_capacity_ah", "heading": "Q", "values": [2, 3]},
                "columns_by": [
                    {"field": "end_charge_current_a", "heading": "I", "values": [0.1, 1.2]}
                ],
                "prints": [{"field": "charging_time_s", "heading": "t", "round": "up"}],
            },
            "/columns_by/0/values",
        ),
    ],
)
def test_what_a_question_refuses_a_table_refuses(client, asked, pointer):
    """Values that contradict each other have no figure in a table either."""
    answer = client.post("/v1/tables", json=asked)
    assert answer.status_code == 422, answer.text
    assert [one["pointer"] for one in answer.json()["errors"]] == [pointer]


def test_a_cutoff_that_is_never_reached_is_refused_in_a_table_too(client, changed):
    """One value of an axis is enough."""
    rows = {"field": "cell_cutoff_voltage_v", "heading": "U", "values": [3.2, 4.3]}
    asked = changed(ASKED, ["rows_by"], rows) | {"fixed": {"cell_rating_a": 20}}
    answer = client.post("/v1/tables", json=asked)
    assert answer.status_code == 422
    assert "4.3 V must not be above the charged voltage of 4.2 V" in answer.json()["detail"]
    assert answer.json()["errors"][0]["pointer"] == "/rows_by/values"
    fixed = changed(ASKED, ["fixed"], {"cell_cutoff_voltage_v": 4.3})
    answer = client.post("/v1/tables", json=fixed)
    assert answer.json()["errors"][0]["pointer"] == "/fixed/cell_cutoff_voltage_v"


def test_marks_need_a_rating(client):
    """Marks against a rating that nobody gave are refused, at the place that asks for them."""
    asked = {
        "question": "sharing-by-mismatch",
        "fixed": {"group_current_a": 30},
        "rows_by": {"field": "parallel", "heading": "P", "values": [2, 3]},
        "columns_by": [{"field": "mismatch", "heading": "m", "values": [0.1, 0.3]}],
        "prints": [MARKED],
    }
    refused = client.post("/v1/tables", json=asked)
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["pointer"] == "/prints/0/mark/value"
    rated = asked | {"fixed": asked["fixed"] | {"cell_rating_a": 20}}
    assert client.post("/v1/tables", json=rated).status_code == 200


@pytest.mark.parametrize("field", ["mark", "resistance_ratio"])
def test_a_print_is_a_number_of_the_figures(client, field):
    """A word of the answer, or a number that a table does not work out, is refused by its place."""
    asked = {
        "question": "cell-health",
        "rows_by": {"field": "measured_capacity_ah", "heading": "Q", "values": [2, 3]},
        "columns_by": [{"field": "reference_capacity_ah", "heading": "Q0", "values": [2.5, 3]}],
        "prints": [{"field": field, "heading": "x", "round": "up"}],
    }
    refused = client.post("/v1/tables", json=asked)
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["pointer"].startswith("/prints")


def lines(client, asked):
    """Return the lines of a table in CSV, by heading."""
    answer = client.post("/v1/tables.csv", json=asked)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    rows = list(csv.reader(io.StringIO(answer.text, newline=""), strict=True))
    assert len(set(rows[0])) == len(rows[0]), "a heading stands twice"
    return [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]


def test_csv_has_each_entry_with_what_it_holds_for(client):
    """A table of one's own is CSV too: a line per entry, with conditions, version and caution in it."""
    asked = ASKED | {"fixed": {"cell_cutoff_voltage_v": 3.2, "sharing": {"spread": 0.1}}}
    table = client.post("/v1/tables", json=asked).json()
    entries = [
        (row["value"], *column["values"], cell["values"][0])
        for row in table["rows"]
        for column, cell in zip(table["columns"], row["cells"], strict=True)
    ]
    got = lines(client, asked)
    names = ("cell_rating_a", "layout", "efficiency", "highest_power_w")
    assert [tuple(line[name] for name in names) for line in got] == [
        (f"{rating:g}", layout, f"{efficiency:g}", f"{power:.1f}")
        for rating, layout, efficiency, power in entries
    ]
    for line in got:
        assert (line["sharing.spread"], line["sharing.percentile"]) == ("0.1", "0.99")
        assert line["cell_cutoff_voltage_v"] == "3.2"
        assert line["version"] == VERSION
        assert line["caution"] == table["caution"]


def test_a_figure_that_is_shown_twice_keeps_each_mark(client):
    """One figure held against two limits has two columns, and neither verdict hides the other."""
    asked = {
        "question": "direct-load",
        "fixed": {"cell_rating_a": 20},
        "rows_by": {"field": "coil_resistance_ohm", "heading": "Coil", "values": [0.3]},
        "columns_by": [{"field": "layout", "heading": "Layout", "values": ["1S1P"]}],
        "prints": [MARKED, MARKED | {"mark": {"value": 10}}],
    }
    (line,) = lines(client, asked)
    name = "worst_cell_current_a"
    assert line[name] == line[f"{name}_2"] == "14"
    assert (line[f"verdict_on_{name}"], line[f"limit_of_{name}"]) == ("within_limit", "20")
    assert (line[f"verdict_on_{name}_2"], line[f"limit_of_{name}_2"]) == ("over_limit", "10")


def test_csv_that_cannot_be_answered_is_a_problem(client):
    """What is wrong with the question is told as for JSON."""
    asked = ASKED | {"question": "matched-sets"}
    by_json, by_csv = (
        client.post(path, json=asked, headers={"x-request-id": "same"})
        for path in ("/v1/tables", "/v1/tables.csv")
    )
    assert by_csv.status_code == 422
    assert by_csv.json() == by_json.json()


@pytest.mark.parametrize("name", ["lowest-resistance", "coil-current-and-power", "cell-sag"])
def test_a_table_can_be_asked_as_it_is_answered(client, name):
    """What a table says of its axes and prints asks for the same entries, under the same names."""
    table = client.get(f"/v1/tables/{name}").json()
    asked = {n: table[n] for n in ("question", "fixed", "rows_by", "columns_by", "prints")}
    own = client.post("/v1/tables", json=asked).json()
    for member in ("rows_by", "columns_by", "columns", "rows"):
        assert own[member] == table[member]
