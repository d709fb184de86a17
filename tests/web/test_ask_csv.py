"""A discharge log as CSV: read as it arrives, refused row by row, held to bounds of size and memory."""

import asyncio
import json
import tracemalloc
from typing import Any

import pytest

from percell.web.app import create_app
from percell.web.ask_csv import EXAMPLE

PATH = "/v1/discharge-test/log"
AS_JSON = "/v1/discharge-test"
HEAD = "time_s,voltage_v,current_a\n"


@pytest.fixture
def send(client: Any) -> Any:
    """Return a way to post CSV."""

    def post(text: str | bytes, query: str = "", media: str = "text/csv") -> Any:
        return client.post(PATH + query, content=text, headers={"content-type": media})

    return post


def rows(count: int, current: str = "1") -> str:
    return HEAD + "".join(f"{i},{4 - 1e-5 * i:.5f},{current}\n" for i in range(count))


def as_json(text: str) -> dict[str, Any]:
    names, *lines = text.strip().split("\n")
    values = zip(*([float(v) for v in line.split(",")] for line in lines), strict=True)
    return {"logs": [dict(zip(names.split(","), map(list, values), strict=True))]}


def test_csv_is_answered_as_json_is(send: Any, post: Any) -> None:
    """The same log has the same answer as a file with its limits in the query, and as JSON."""
    body = as_json(EXAMPLE)
    limits = {"stop_temperature_c": 25, "stop_voltage_v": 3}
    query = "?stop_temperature_c=25&stop_voltage_v=3"
    by_csv = send(EXAMPLE, query)
    assert by_csv.status_code == 200, by_csv.text
    assert by_csv.json()["logs"][0]["kept_limits"] is False
    # but for how it was read, which JSON may say too
    body["logs"][0]["read_as"] = by_csv.json()["logs"][0]["read_as"]
    assert by_csv.content == post(AS_JSON, body | limits).content
    assert by_csv.json()["asked"] == limits
    as_bytes = send(EXAMPLE, query, media="application/octet-stream")
    assert as_bytes.content == by_csv.content


def test_the_profile_of_a_log_is_what_a_running_time_takes(send: Any, post: Any) -> None:
    """The way that the guide shows: log, profile, running time, with nothing in between but the load."""
    log = EXAMPLE.replace("time_s", "Elapsed")
    profile = send(log, "?stop_voltage_v=2.75&log_start=full&time_column=Elapsed;s").json()[
        "profile"
    ]
    got = post("/v1/running-time", profile | {"layout": "2S1P", "output_power_w": 60})
    assert got.status_code == 200, got.text
    # 20 A for 509 s, counted by hand
    assert "own discharge of 2.83 Ah at 20 A" in got.json()["headline"]
    assert got.json()["running_time_s"] > 0


@pytest.mark.parametrize(
    "text",
    [
        EXAMPLE.replace("\n", "\r\n"),
        EXAMPLE.rstrip("\n"),
        EXAMPLE + "\n\r\n",
        "\ufeff" + EXAMPLE,
        EXAMPLE.replace("4.15", '"4.15"'),
        EXAMPLE.replace(",", " , "),
        EXAMPLE.replace("3.75", "375e-2"),
    ],
    ids=["CRLF", "no last end", "blank end", "BOM", "quoted", "spaces", "exponent"],
)
def test_forms_of_csv(send: Any, text: str) -> None:
    """Line ends, a byte order mark, quotes and spaces change nothing."""
    answer = send(text)
    assert answer.status_code == 200, answer.text
    assert answer.json() == send(EXAMPLE).json()


def test_columns_in_any_order(send: Any) -> None:
    """The first row says which column is which."""
    turned = "\n".join(",".join(line.split(",")[::-1]) for line in EXAMPLE.strip().split("\n"))
    assert send(turned).json() == send(EXAMPLE).json()


GOOD = ["0,4.1,1", "1,4.0,1", "2,3.9,1", "3,3.8,1"]


@pytest.mark.parametrize(
    ("line", "pointer", "says"),
    [
        ("1,4.0,one", "/rows/2/current_a", "'one' is not a number"),
        ("1,,1", "/rows/2/voltage_v", "No value"),
        ("1,4.0", "/rows/2", "2 values for 3 columns"),
        ("1,4.0,1,9", "/rows/2", "4 values for 3 columns"),
        ("", "/rows/2", "empty"),
        ("1,nan,1", "/rows/2/voltage_v", "finite"),
        ("1,1e999,1", "/rows/2/voltage_v", "finite"),
        ("1,40,1", "/rows/2/voltage_v", "outside 0 to 10"),
        ("1_0,4.0,1", "/rows/2/time_s", "not a number"),
        ("١,4.0,1", "/rows/2/time_s", "not a number"),
        ("0,4.0,1", "/rows/2/time_s", "does not rise"),
        ("2.5,4.0,1", "/rows/3/time_s", "does not rise"),
        ("1,4.0,-1", "/rows/2/current_a", "charges the cell"),
        ("1,0,1", "/rows/2/voltage_v", "not above zero"),
    ],
)
def test_a_fault_names_its_row(
    send: Any, is_problem: Any, line: str, pointer: str, says: str
) -> None:
    """Rows are counted from 1 after the names, and the column stands behind the row."""
    answer = send(HEAD + "\n".join([GOOD[0], line, *GOOD[2:]]))
    problem = is_problem(answer, "outside-contract", 422, pointer)
    assert says in problem["errors"][0]["detail"]


def test_a_gap_is_a_fault(send: Any, is_problem: Any) -> None:
    """A row that comes too late is told, unless gaps of that length are allowed."""
    text = HEAD + "\n".join([*GOOD, "90,3.7,1"])
    is_problem(send(text), "outside-contract", 422, "/rows/5/time_s")
    assert send(text, "?longest_gap_s=90").status_code == 200


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("\n", "empty"),
        ("0,4,1\n1,3.9,1\n", "There is no time column. Name it time_s"),
        ("time_s,voltage_v\n0,4\n", "There is no current column"),
        (HEAD.replace("time_s", "time_s,time_s") + "0,0,4,1\n", "2 columns could be the time"),
        (HEAD + "0,4,1\n", "3 rows or more"),
    ],
)
def test_faults_of_the_whole(send: Any, text: str, says: str) -> None:
    """What is wrong with the names, or with the log as a whole, is said."""
    answer = send(text)
    assert answer.status_code == 422, answer.text
    assert any(says in error["detail"] for error in answer.json()["errors"]), answer.text


def test_several_faults_at_once(send: Any) -> None:
    """All faults of a log come together, in the order of rows, up to twenty."""
    text = HEAD + "\n".join(["0,4.1,1", "1,x,1", "2,3.9", "3,3.8,y", "4,3.8,1"])
    pointers = [error["pointer"] for error in send(text).json()["errors"]]
    assert pointers == ["/rows/2/voltage_v", "/rows/3", "/rows/4/current_a"]
    many = send(HEAD + "x,y,z\n" * 5000)
    assert many.status_code == 422
    assert len(many.json()["errors"]) == 20


@pytest.mark.parametrize(
    ("query", "kind", "status"),
    [
        ("?stop_temperature_c=500", "outside-contract", 422),
        ("?stop_temperature_c=warm", "wrong-type", 400),
        ("?colour=red", "outside-contract", 422),
        ("?logs=1", "outside-contract", 422),
        ("?x=%", "unreadable-query", 400),
    ],
)
def test_limits_are_read_strictly(
    send: Any, is_problem: Any, query: str, kind: str, status: int
) -> None:
    """What is wrong with a limit in the query is told."""
    is_problem(send(EXAMPLE, query), kind, status)


def test_faults_of_limits_and_columns_come_together(send: Any) -> None:
    """All faults of the query are told at once, before the log is read."""
    got = send(EXAMPLE, "?stop_temperature_c=500&decimal_mark=x&colour=&log_start=")
    told = [(fault["pointer"], fault["code"]) for fault in got.json()["errors"]]
    assert told == [
        ("/stop_temperature_c", "above"),
        ("/colour", "unknown"),
        ("/decimal_mark", "not_allowed"),
    ]


def test_other_media_are_refused(send: Any, is_problem: Any) -> None:
    """CSV is for this path alone, in UTF-8."""
    is_problem(send(EXAMPLE, media="text/plain"), "unsupported-media-type", 415)
    is_problem(send(EXAMPLE, media="text/csv; charset=latin-1"), "unsupported-media-type", 415)
    assert send(EXAMPLE, media="text/csv; charset=utf-8").status_code == 200
    is_problem(send(HEAD.encode() + b"0,4,\xff\n"), "unreadable-body", 400)


@pytest.mark.parametrize(("count", "status"), [(100_000, 200), (100_001, 422)])
def test_most_rows(send: Any, count: int, status: int) -> None:
    """A log has 100,000 rows at most."""
    answer = send(rows(count))
    assert answer.status_code == status
    if status == 200:
        assert answer.json()["logs"][0]["rows"] == count
    else:
        assert answer.json()["errors"][0]["pointer"] == f"/rows/{count}"


def test_a_body_above_ten_mebibytes_is_too_large(send: Any, is_problem: Any) -> None:
    """The limit of this path is its own."""
    is_problem(send(b"1" * (10 * 2**20 + 1)), "content-too-large", 413)


class Sender:
    """A caller of the application that sends its body in parts."""

    def __init__(self, parts: list[bytes]) -> None:
        self.parts = parts
        self.sent: list[Any] = []

    async def receive(self) -> Any:
        await asyncio.sleep(0)
        part = self.parts.pop(0)
        return {"type": "http.request", "body": part, "more_body": bool(self.parts)}

    async def send(self, message: Any) -> None:
        self.sent.append(message)

    def answer(self) -> tuple[int, Any]:
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST",
            "path": PATH, "raw_path": PATH.encode(), "query_string": b"", "root_path": "",
            "scheme": "http", "headers": [(b"content-type", b"text/csv")],
            "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80), "state": {}, "extensions": {},
        }  # fmt: skip
        asyncio.run(create_app()(scope, self.receive, self.send))  # type: ignore[arg-type]
        return self.sent[0]["status"], json.loads(self.sent[1]["body"])


@pytest.mark.parametrize("size", [1, 2, 3, 7, 64])
def test_parts_of_any_size(send: Any, size: int) -> None:
    """Wherever the parts of a body are cut, also within a line's end or a sign, it is one log."""
    body = ("\ufeff" + EXAMPLE.replace("\n", "\r\n")).encode()
    parts = [body[i : i + size] for i in range(0, len(body), size)]
    status, answer = Sender(parts).answer()
    assert status == 200, answer
    assert answer == send(EXAMPLE).json()


def test_memory_does_not_grow_with_the_body() -> None:
    """Ten mebibytes without an end of a line, or of rows too many, are not held."""
    for part in (b"9" * 65536, b"1,2,3\n" * 10922):
        sender = Sender([HEAD.encode(), *[part] * 150])
        tracemalloc.start()
        status, answer = sender.answer()
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert status == 422, answer
        assert peak < 40e6


def test_each_path_takes_one_form(post: Any, is_problem: Any, client: Any) -> None:
    """A file goes to its own path and JSON to the question's; neither path takes the other, nor a query too many."""
    is_problem(post(PATH, as_json(EXAMPLE)), "unsupported-media-type", 415)
    csv = client.post(AS_JSON, content=EXAMPLE, headers={"content-type": "text/csv"})
    is_problem(csv, "unsupported-media-type", 415)
    both = post(f"{AS_JSON}?stop_voltage_v=3", as_json(EXAMPLE))
    is_problem(both, "outside-contract", 422, "/stop_voltage_v")
