"""The reader of CSV logs, without HTTP: in parts as whole, and bounds on every row."""

from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from percell.questions.bench.discharge_logs import DischargeLimits
from percell.questions.vocabulary.refusal import RefusedAll
from percell.web import csv_log
from percell.web.csv_log import LONGEST_LINE, NotUtf8, read_log

HEAD = "time_s,voltage_v,current_a\n"
# what a row may hold: most of it good, so that rows are also read together
_good = st.tuples(
    st.just("{time}"),
    st.sampled_from(["4.1", "3.9", "0.5", "10", " 3.7", "37e-1"]),
    st.sampled_from(["0", "1", "20.5", "1000"]),
).map(",".join)
_bad = st.sampled_from(
    [
        "{time},40,1",
        "{time},-0.1,1",
        "{time},3.9,1001",
        "{time},3.9",
        "{time},3.9,1,1",
        "{time},x,1",
        "{time},,1",
        "{time},3.9.1,1",
        "{time},nan,1",
        "{time},1_0,1",
        '{time},"3.9",1',
        "0,3.9,1",
        "",
        "\ufeff",
        "Ω",
        "{time},3." + "0" * LONGEST_LINE + ",1",
        "{time},3." + "0" * (LONGEST_LINE - 10) + ",1",
    ]
)
_rows = st.lists(st.one_of(*[_good] * 9, _bad), max_size=60)


def outcome(parts: list[bytes]) -> Any:
    """Return the columns of a log, or its faults."""
    try:
        log = read_log(parts, DischargeLimits())
    except RefusedAll as error:
        return error.faults
    return [column.tolist() for column in log.measured.values() if column is not None]


@given(
    rows=_rows,
    size=st.integers(1, 400),
    end=st.sampled_from(["\n", "\r\n"]),
    last=st.sampled_from(["", "\n", "\n\n"]),
)
@example(rows=["{time},4,1", "{time},4," + "0" * LONGEST_LINE] * 3, size=30, end="\n", last="")
@example(rows=[*["{time},4,1"] * 9, "{time},3.9.1,1", "{time},4,1"] * 3, size=60, end="\n", last="")
@example(rows=[*["{time},4,1"] * 9, "{time},,1", "{time},4,1"] * 3, size=60, end="\n", last="")
@example(rows=[*["{time},4,1"] * 4, "", *["{time},4,1"] * 4], size=8, end="\n", last="")
@settings(deadline=None)
def test_a_log_in_parts_is_the_log_as_a_whole(
    rows: list[str], size: int, end: str, last: str
) -> None:
    """However a log is cut, its columns are the same, or its faults, row by row."""
    lines = [HEAD.strip(), *(row.format(time=time) for time, row in enumerate(rows))]
    body = (end.join(lines) + last.replace("\n", end)).encode()
    # as a whole the names are in the same piece as the rows, which are then read one by one
    assert len(body) < csv_log.PIECE
    parts = [body[start : start + size] for start in range(0, len(body), size)]
    assert outcome(parts) == outcome([body])


@pytest.mark.parametrize("row", [1, 2, 500, 9_000, 10_000])
@pytest.mark.parametrize(
    ("column", "value", "bounds"),
    [
        ("voltage_v", "10.1", "0 to 10"),
        ("voltage_v", "-0.1", "0 to 10"),
        ("current_a", "1000.1", "-1000 to 1000"),
        ("current_a", "-1000.1", "-1000 to 1000"),
        ("time_s", "1e11", "0 to 1e+10"),
        ("temperature_c", "300.1", "-60 to 300"),
        ("temperature_c", "-60.1", "-60 to 300"),
    ],
)
def test_a_value_out_of_bounds_is_refused_at_any_row(
    row: int, column: str, value: str, bounds: str
) -> None:
    """Also far behind the names, where rows are read together, and on either side of the bounds."""
    names = ["time_s", "voltage_v", "current_a", "temperature_c"]
    lines = [[str(time), "3.9", "1", "22"] for time in range(10_000)]
    lines[row - 1][names.index(column)] = value
    body = "\n".join(map(",".join, [names, *lines])).encode()
    for parts in ([body], [body[start : start + 4096] for start in range(0, len(body), 4096)]):
        with pytest.raises(RefusedAll) as refused:
            read_log(parts, DischargeLimits())
        assert [fault.pointer for fault in refused.value.faults] == [f"/rows/{row}/{column}"]
        assert refused.value.faults[0].detail.endswith(f"is outside {bounds}.")


def test_values_on_their_bounds_are_no_fault_at_any_row() -> None:
    """A bound itself is allowed, both where rows are read one by one and where they are read together."""
    names = "time_s,voltage_v,current_a,temperature_c"
    rows = ["0,10,0,-60", "1,9,1000,300", "2,9,1000,300", "3,9,1000,300"]
    body = "\n".join([names, *rows]).encode()
    for size in (10, len(body)):
        log = read_log(
            [body[at : at + size] for at in range(0, len(body), size)], DischargeLimits()
        )
        assert log.temperature_c is not None
        assert log.temperature_c.tolist() == [-60, 300, 300, 300]


@pytest.mark.parametrize("before", [3, 7])
@pytest.mark.parametrize("blank", [0, 2])
@pytest.mark.parametrize(("length", "kept"), [(1000, True), (1001, False)])
def test_a_line_has_up_to_a_thousand_characters(
    before: int, blank: int, length: int, kept: bool
) -> None:
    """One more is a fault of its row, and the last that is told, because what follows may be endless."""
    rows = [f"{time},4,1" for time in range(before)] + [""] * blank
    long = "9,3." + "0" * (length - 6) + ",1"
    assert len(long) == length
    body = "\n".join([HEAD.strip(), *rows, long, *([long] if not kept else [])]).encode()
    for size in (len(HEAD), 3000, len(body)):
        got = outcome([body[at : at + size] for at in range(0, len(body), size)])
        if kept and not blank:
            assert got[1] == [4] * before + [3]
        told = [fault.pointer for fault in got] if not kept else []
        assert told == ([f"/rows/{before + blank + 1}"] if not kept else [])


def test_names_have_up_to_a_thousand_characters() -> None:
    """The line of the names is row 0."""
    (fault,) = outcome([HEAD.strip().encode() + b" " * 1000 + b"\n0,4,1"])
    assert fault.pointer == "/rows/0"


def test_where_a_log_is_not_utf_8_is_told() -> None:
    """The row of the first bad byte, with rows counted from 1 after the names."""
    rows = [b"%d,3.9,1" % time for time in range(9_000)]
    for row in (0, 1, 2, 8_999, 9_000):
        lines = [HEAD.strip().encode(), *rows]
        lines[row] += b"\xff"
        body = b"\n".join(lines)
        for size in (7, 4096, len(body)):
            with pytest.raises(NotUtf8) as refused:
                read_log(
                    [body[at : at + size] for at in range(0, len(body), size)], DischargeLimits()
                )
            assert refused.value.row == row
    with pytest.raises(NotUtf8):
        read_log([HEAD.encode() + b"0,3.9,1\xc3"], DischargeLimits())
