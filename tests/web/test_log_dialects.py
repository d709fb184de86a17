"""Logs in the dialects of instruments: read to the same numbers, or refused with a sentence."""

from typing import Any, NamedTuple
from urllib.parse import quote

import msgspec
import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import example, given, settings
from hypothesis import strategies as st

from percell.__main__ import main
from percell.questions.bench.discharge_logs import DischargeLimits, LogColumns
from percell.questions.bench.discharge_test import answer_logs
from percell.questions.vocabulary.refusal import Fault, RefusedAll
from percell.web.csv_log import NotUtf8, read_log
from percell.web.log_names import GivenColumns

PATH = "/v1/discharge-test/log"
# an invented discharge of no real cell: 12 A from a full cell of some 2.5 Ah, a row every 10 s
AMPERE = 12.0
COUNT = 78


class Rows(NamedTuple):
    """A discharge as columns, in percell's own units."""

    time_s: list[float]
    voltage_v: list[float]
    current_a: list[float]
    temperature_c: list[float]


def discharge(run: int = 0, rest: bool = True) -> Rows:
    """Return an invented discharge. Another run falls a little further, as real ones do."""
    time_s, voltage_v, current_a, temperature_c = [], [], [], []
    for n in range(0 if rest else 1, COUNT):
        part = min(max(n - 1, 0) / (COUNT - 3), 1.0)
        loaded = 0 < n < COUNT - 1
        # millivolts, tenths of a kelvin and whole seconds: every dialect holds these digits
        open_v = 4.18 - (0.95 + 0.01 * run) * part - 0.25 * max(part - 0.85, 0) / 0.15
        time_s.append(10.0 * n)
        voltage_v.append(round(open_v - (0.018 * AMPERE if loaded else 0), 3))
        current_a.append(AMPERE if loaded else 0.0)
        temperature_c.append(round(22.0 + 27.0 * part, 1))
    return Rows(time_s, voltage_v, current_a, temperature_c)


class Dialect(NamedTuple):
    """How a logger writes. The names are those of time, voltage, current and temperature, "" for none."""

    names: tuple[str, str, str, str] = ("time_s", "voltage_v", "current_a", "temperature_c")
    units: tuple[str, str, str, str] = ("s", "V", "A", "°C")
    separator: str = ","
    mark: str = "."
    end: str = "\n"
    mark_of_bytes: bool = False
    before: tuple[str, ...] = ()
    row_of_units: bool = False
    negative: bool = False
    offset_a: float = 0.0
    extra: tuple[str, str] = ("", "")  # the name of one more column, and what it holds
    quotes: bool = False
    decimals: int = 4


# percell's own number to the one in the file
_WRITE = {
    "s": lambda value: value,
    "ms": lambda value: value * 1000,
    "min": lambda value: value / 60,
    "h": lambda value: value / 3600,
    "V": lambda value: value,
    "mV": lambda value: value * 1000,
    "A": lambda value: value,
    "mA": lambda value: value * 1000,
    "°C": lambda value: value,
    "K": lambda value: value + 273.15,
    "°F": lambda value: value * 9 / 5 + 32,
}


def _clock(second: float, *, begins_s: int = 0) -> str:
    whole = int(second) + begins_s
    return f"{whole // 3600 % 24:02}:{whole // 60 % 60:02}:{whole % 60:02}"


def _written(value: float, unit: str, dialect: Dialect) -> str:
    if unit == "clock":
        return _clock(value)
    if unit == "time of day":  # over midnight
        return _clock(value, begins_s=86_100)
    if unit == "date":
        return f"2026-03-{14 + (int(value) + 86_100) // 86_400} {_clock(value, begins_s=86_100)}.0"
    text = f"{_WRITE[unit](value):.{dialect.decimals}f}"
    return text.replace(".", dialect.mark)


def written(dialect: Dialect, rows: Rows) -> bytes:
    """Return a discharge in the words of a logger."""
    used = [n for n, name in enumerate(dialect.names) if name]
    sign = -1 if dialect.negative else 1
    columns = [
        rows.time_s,
        rows.voltage_v,
        [sign * (value or dialect.offset_a) for value in rows.current_a],
        rows.temperature_c,
    ]
    names = [dialect.names[n] for n in used]
    lines = [
        [_written(columns[n][row], dialect.units[n], dialect) for n in used]
        for row in range(len(rows.time_s))
    ]
    if dialect.row_of_units:
        lines.insert(0, [dialect.units[n] for n in used])
    if dialect.extra[0]:
        names.insert(1, dialect.extra[0])
        for line in lines:
            line.insert(1, dialect.extra[1])
    if dialect.quotes:
        lines = [[f'"{field}"' for field in line] for line in lines]
    names = [f'"{name}"' if dialect.quotes or dialect.separator in name else name for name in names]
    text = dialect.end.join(
        [*dialect.before, *(dialect.separator.join(line) for line in [names, *lines]), ""]
    )
    return (b"\xef\xbb\xbf" if dialect.mark_of_bytes else b"") + text.encode()


# every one of these is beyond doubt
CERTAIN = {
    "own": Dialect(),
    "own, without temperature": Dialect(names=("time_s", "voltage_v", "current_a", "")),
    "CRLF and byte order mark": Dialect(end="\r\n", mark_of_bytes=True),
    "semicolons": Dialect(separator=";"),
    "tabs": Dialect(separator="\t"),
    "decimal commas": Dialect(separator=";", mark=","),
    "decimal commas and tabs": Dialect(separator="\t", mark=",", decimals=6),
    "decimal commas in quotes": Dialect(mark=",", quotes=True),
    "brackets": Dialect(names=("Time (s)", "Voltage (V)", "Current (A)", "Temperature (°C)")),
    "square brackets": Dialect(
        names=("Elapsed time [min]", "Cell voltage [mV]", "Current [mA]", "Skin temp [K]"),
        units=("min", "mV", "mA", "K"),
        decimals=8,
    ),
    "slashes": Dialect(
        names=("t/s", "U/V", "I/mA", "T/°C"), units=("s", "V", "mA", "°C"), separator=";", mark=","
    ),
    "words": Dialect(names=("Seconds", "Volts", "Amps", "Celsius")),
    "units alone": Dialect(names=("s", "mV", "mA", "°C"), units=("s", "mV", "mA", "°C")),
    "underscores": Dialect(
        names=("test_time_ms", "Cell_Voltage_mV", "I_A", "temp_f"), units=("ms", "mV", "A", "°F")
    ),
    "a row of units": Dialect(
        names=("Time", "Voltage", "Current", "Temp"), row_of_units=True, separator="\t"
    ),
    "clock": Dialect(
        names=("Time (hh:mm:ss)", "U in V", "I in A", "T in °C"), units=("clock", "V", "A", "°C")
    ),
    "time of day": Dialect(
        names=("Time", "Voltage, V", "Current, A", "Temperature, °C"),
        units=("time of day", "V", "A", "°C"),
        separator=";",
    ),
    "date and time": Dialect(
        names=("Date time", "Vcell (V)", "Icell (A)", "Tcell (°C)"), units=("date", "V", "A", "°C")
    ),
    "hours": Dialect(
        names=("Elapsed (h)", "voltage_v", "current_a", ""),
        units=("h", "V", "A", "°C"),
        decimals=12,
    ),
    "negative discharge": Dialect(negative=True),
    "an offset at rest": Dialect(offset_a=-0.028),
    "negative discharge with an offset": Dialect(
        names=("Time (s)", "Voltage (V)", "Current (mA)", ""),
        units=("s", "V", "mA", ""),
        negative=True,
        offset_a=-0.028,
    ),
    "lines before the names": Dialect(
        names=("Test time (s)", "Voltage (V)", "Current (A)", "Temp (°C)"),
        before=(
            "Channel 3",
            "",
            "Operator: the bench, cut-off voltage: 2.5 V, current: 12 A",
            "Time limit;2 h",
        ),
    ),
    "other columns": Dialect(
        names=("Time (s)", "Voltage (V)", "Current (A)", "Cell temperature (°C)"),
        extra=("Ambient temperature (°C)", "21.5"),
    ),
    "a step beside the test": Dialect(
        names=("Total time (s)", "Voltage (V)", "Current (A)", ""), extra=("Step time (s)", "1")
    ),
    "German": Dialect(
        names=("Zeit (s)", "Spannung (V)", "Strom (A)", "Temperatur (°C)"), separator=";", mark=","
    ),
    "French": Dialect(
        names=("Temps (min)", "Tension (V)", "Courant (A)", "Température (°C)"),
        units=("min", "V", "A", "°C"),
        separator=";",
        mark=",",
        decimals=8,
    ),
    "Spanish": Dialect(
        names=("Tiempo [s]", "Tensión [mV]", "Corriente [mA]", "Temperatura [°C]"),
        units=("s", "mV", "mA", "°C"),
        separator="\t",
        mark=",",
    ),
}
# these are read, but the file does not say all for certain
GUESSED = {
    "no units": (Dialect(names=("Time", "Voltage", "Current", "Temp")), {"time", "voltage", "current", "temperature"}),
    "no units, in mV and mA": (
        Dialect(names=("t", "U", "I", "T"), units=("s", "mV", "mA", "°C"), decimals=1),
        {"time", "voltage", "current", "temperature"},
    ),
    "no units, in minutes": (
        Dialect(names=("elapsed", "U (V)", "I (A)", ""), units=("min", "V", "A", ""), decimals=8),
        {"time"},
    ),
    "units without names": (
        Dialect(names=("X (s)", "A1 (V)", "A2 (A)", "A3 (°C)")),
        {"time", "voltage", "current", "temperature"},
    ),
}  # fmt: skip

ROWS = discharge()


def read(body: bytes, **said: Any) -> LogColumns:
    return read_log([body], DischargeLimits(), msgspec.convert(said, GivenColumns))


def refused(body: bytes, **said: Any) -> list[tuple[str, str]]:
    with pytest.raises(RefusedAll) as caught:
        read(body, **said)
    return [(fault.pointer, fault.detail) for fault in caught.value.faults]


def outcome(parts: list[bytes], said: GivenColumns) -> LogColumns | list[Fault]:
    """Return a log, or its faults."""
    try:
        return read_log(parts, DischargeLimits(), said)
    except RefusedAll as error:
        return error.faults
    except NotUtf8 as error:
        return [Fault(f"/rows/{error.row}", str(error))]


def is_as_written(log: LogColumns, dialect: Dialect, rows: Rows = ROWS) -> None:
    """Hold a log against the numbers that went into it."""
    begins = rows.time_s[0] - log.time_s[0]
    assert log.time_s + begins == pytest.approx(rows.time_s, abs=1e-5)
    assert log.voltage_v == pytest.approx(rows.voltage_v, abs=1e-9)
    current_a = [value or dialect.offset_a for value in rows.current_a]
    assert log.current_a == pytest.approx(current_a, abs=1e-9)
    if dialect.names[3]:
        assert log.temperature_c == pytest.approx(rows.temperature_c, abs=1e-4)
    else:
        assert log.temperature_c is None


@pytest.mark.parametrize("name", CERTAIN)
def test_a_dialect_beyond_doubt_is_read(name: str) -> None:
    """The numbers are those that were written, and each column is certain."""
    dialect = CERTAIN[name]
    log = read(written(dialect, ROWS))
    is_as_written(log, dialect)
    assert log.read_as is not None
    assert log.read_as.doubtful == []
    assert log.read_as.discharge_negative is dialect.negative
    assert log.read_as.skipped_lines == len(dialect.before) + dialect.row_of_units
    assert log.read_as.ignored_columns == [name for name in dialect.extra[:1] if name]
    shown = [one.column for one in log.read_as.columns.values()]
    assert shown == [name for name in dialect.names if name]


@pytest.mark.parametrize("name", GUESSED)
def test_a_guess_is_read_and_said(client: Any, name: str) -> None:
    """The numbers are right, and what was guessed is named: it proves no rating."""
    dialect, doubtful = GUESSED[name]
    body = written(dialect, ROWS)
    log = read(body)
    is_as_written(log, dialect)
    assert log.read_as is not None
    assert set(log.read_as.doubtful) == doubtful
    answer = client.post(PATH, content=body, headers={"content-type": "text/csv"}).json()
    (finding,) = [one for one in answer["findings"] if one["rule"] == "test-columns-guessed"]
    assert all(what in finding["sentence"] for what in doubtful)
    assert "certain_columns" in answer["logs"][0]["missing_for_rating"]
    assert {limit["verdict"] for limit in answer["limits"]} == {"not_judged"}


@pytest.mark.parametrize("name", CERTAIN)
@pytest.mark.parametrize("size", [1, 50, 700])
def test_a_dialect_in_parts_is_the_dialect_as_a_whole(name: str, size: int) -> None:
    """Rows that are read together have the numbers of rows that are read one by one."""
    body = written(CERTAIN[name], ROWS)
    parts = read_log([body[at : at + size] for at in range(0, len(body), size)], DischargeLimits())
    whole = read(body)
    assert parts.read_as == whole.read_as
    for one, other in zip(parts.measured.values(), whole.measured.values(), strict=True):
        assert np.array_equal(one, other) if other is not None else one is None


@pytest.mark.parametrize(("lines", "found"), [(50, True), (51, False)])
def test_the_names_come_within_fifty_lines(lines: int, found: bool) -> None:
    """A file that is something else is given up early, and the closest line is told."""
    body = written(Dialect(before=("Time (s),Note",) + ("x",) * (lines - 1)), ROWS)
    if found:
        is_as_written(read(body), Dialect())
    else:
        assert refused(body)[0] == (
            "/rows/0",
            "There is no voltage column. Name it voltage_v, or give its name in voltage_column. "
            "The columns are: 'Time (s)', 'Note'.",
        )


def test_there_are_dialects_enough() -> None:
    """Twenty or more, and no two are one."""
    bodies = {
        written(dialect, ROWS) for dialect in [*CERTAIN.values(), *(d for d, _ in GUESSED.values())]
    }
    assert len(bodies) == len(CERTAIN) + len(GUESSED) >= 20


@pytest.mark.parametrize("name", [*CERTAIN, *GUESSED])
def test_two_logs_of_a_dialect_make_a_profile(tmp_path: Any, name: str) -> None:
    """Through the command: certain columns with a temperature prove 12 A, a guess proves a capacity alone."""
    dialect = CERTAIN[name] if name in CERTAIN else GUESSED[name][0]
    paths = [tmp_path / f"{run}.csv" for run in range(2)]
    for run, path in enumerate(paths):
        path.write_bytes(written(dialect, discharge(run)))
    out = tmp_path / "cells" / "cell.toml"
    done = CliRunner().invoke(
        main, ["profile", *map(str, paths), "--name", "Invented", "--out", str(out)]
    )
    assert done.exit_code == 0, done.output
    text = out.read_text("utf-8")
    assert "cell_capacity_ah = 2.5" in text
    rated = name in CERTAIN and bool(dialect.names[3])
    assert ("cell_rating_a = 12" in text) is rated
    # how each was read is shown
    for path in paths:
        (line,) = [line for line in done.output.splitlines() if line.startswith(f"{path}: ")]
        assert all(f"“{column}”" in line for column in dialect.names if column)


NUMBERS = "0;4,150;0,000\n1;3,900;12,000\n2;3,800;12,000\n3;3,700;12,000\n"
THOUSANDS = "1;3,900;12,000\n2;3,800;12,000\n3;3,700;12,000\n"
HEAD = "Time (s);Voltage (V);Current (A)\n"


def test_a_comma_may_separate_thousands() -> None:
    """3,900 may be 3.9 or 3900: refused, unless another number can only be a decimal, or it is said."""
    ((pointer, detail),) = refused((HEAD + THOUSANDS).encode())
    assert pointer == "/rows/1/Voltage (V)"
    assert detail == "'3,900' could mean 3.900 or 3900. Give decimal_mark."
    given = read((HEAD + THOUSANDS).encode(), decimal_mark="comma")
    assert given.voltage_v.tolist() == [3.9, 3.8, 3.7]
    # no number with thousands begins with 0
    assert read((HEAD + NUMBERS).encode()).voltage_v.tolist() == [4.15, 3.9, 3.8, 3.7]


@pytest.mark.parametrize(
    ("body", "pointer", "says"),
    [
        (HEAD + "0;1.234,5;1\n", "/rows/1/Voltage (V)", "two decimal marks"),
        (HEAD + "0;3,9;1.5\n", "/rows/1/Current (A)", "has a point, but earlier numbers have a comma"),
        (HEAD + "0;1,234,567;1\n", "/rows/1/Voltage (V)", "two decimal marks"),
        ("time_s,voltage_v,current_a\n0,0,4,1,5,0\n", "/rows/1", "separate the columns by semicolons or tabs"),
        ("Time,U (V),Voltage (V),I (A)\n", "/rows/0", "2 columns could be the voltage: 'U (V)', 'Voltage (V)'"),
        ("T1 (s),U (V),I (A),T2 (s)\n", "/rows/0", "2 columns could be the time"),
        ("Time (s),U (V),I (A),T1 (°C),T2 (°C)\n", "/rows/0", "2 columns could be the temperature"),
        ("Time (m),U (V),I (A)\n", "/rows/0", "'m' as a unit of the time. It knows: s, ms, min, h"),
        ("Time (s),U (kV),I (A)\n", "/rows/0", "'kV' as a unit of the voltage"),
        ("Time (s),Power (W)\n0,4\n", "/rows/0", "There is no voltage column"),
        ("Time (s),Ambient temp (°C),U (V)\n", "/rows/0", "There is no current column"),
        ("Time,Max voltage (V),I (A)\n", "/rows/0", "There is no voltage column"),
        ("Time,Voltage (V),Current (A)\n12:30,4,1\n", "/rows/1/Time", "is not a time. Use hh:mm:ss"),
        ("Time,Voltage (V),Current (A)\n14.03.2026 10:00:00,4,1\n", "/rows/1/Time", "is not a time. Use hh:mm:ss"),
        ("Time,Voltage (V),Current (A)\n2026-02-30 10:00:00,4,1\n", "/rows/1/Time", "is not a time. Use hh:mm:ss"),
        ("Time (s),U (V),I (A)\nmin,V,A\n0,4,1\n", "/rows/0", "has two units: s and min"),
        ("Time/h,U/V,I/A\n00:00:01,4,1\n", "/rows/1/Time~1h", "not a number"),
        ("Time (hh:mm:ss),U/V,I/A\n,4,1\n", "/rows/1/Time (hh:mm:ss)", "No value."),
        ("Time/s,U max/V,I/A\n", "/rows/0", "There is no voltage column"),
        ("Time/s,voltage_min,I/A\n", "/rows/0", "There is no voltage column"),
        ("Time/s,voltage current/V,I/A\n", "/rows/0", "There is no voltage column"),
        ("Time/s,Voltage/s,I/A\n", "/rows/0", "There is no voltage column"),
        ("Time/s,Voltage " + "x" * 80 + ",I/A\n", "/rows/0", "There is no voltage column"),
    ],
)  # fmt: skip
def test_what_may_be_two_things_is_refused(body: str, pointer: str, says: str) -> None:
    """One clear sentence names the place, and what to say."""
    found = refused(body.encode())
    assert found[0][0] == pointer
    assert says in found[0][1]


def lines(head: str, *rows: tuple[Any, ...]) -> bytes:
    return "\n".join([head, *(",".join(map(str, row)) for row in rows)]).encode()


def test_a_unit_that_the_numbers_do_not_tell_is_refused() -> None:
    """60 rows of 5 A to 60: 0.08 Ah in seconds is no cell, in minutes it is 5 Ah. 300 may be either."""
    rows = [(n, round(4 - 0.02 * n, 3), 5) for n in range(61)]
    log = read(lines("time,U (V),I (A)", *rows))
    assert log.read_as is not None
    assert log.read_as.time_column.unit == "min"
    either = [(5 * n, round(4 - 0.02 * n, 3), 4) for n in range(61)]
    ((pointer, detail),) = refused(lines("time,U (V),I (A)", *either))
    assert pointer == "/rows/0/time"
    assert (
        "has no unit, and it could be s or min. Give the unit in time_column, such as time;s."
        in detail
    )
    log = read(lines("time,U (V),I (A)", *either), time_column="time;s")
    assert log.time_s[-1] == 300
    low = [(10 * n, round(1 - 0.01 * n, 3), 12) for n in range(61)]
    ((pointer, _),) = refused(lines("time_s,U,I (A)", *low))
    assert pointer == "/rows/0/U"
    # what the magnitudes tell is held to the bounds in that unit
    hot = [(10 * n, round(4 - 0.02 * n, 3), 12, 20 if n < 60 else 301) for n in range(61)]
    assert refused(lines("time_s,U (V),I (A),Temp", *hot)) == [
        ("/rows/61/Temp", "301 is outside -60 to 300.")
    ]
    neither = [(n / 1000, round(4 - 0.02 * n, 3), 5) for n in range(61)]
    ((_, detail),) = refused(lines("Time (s),U (V),current", *neither))
    assert "no unit makes this a discharge of one cell" in detail


def test_what_is_given_is_taken() -> None:
    """A name, a name with its unit, and a name with a semicolon; what is given is certain."""
    rows = [(2 * n, 4180 - 10 * n, 25, 12) for n in range(1, 61)]
    body = lines("x,Voltage (V);mV,b,current", *rows)
    log = read(
        body,
        time_column="x;s",
        voltage_column="Voltage (V);mV;mV",
        current_column="current;A",
        temperature_column="b;°C",
    )
    assert log.read_as is not None
    assert log.read_as.doubtful == []
    assert (log.voltage_v[0], log.current_a[0], log.temperature_c[0]) == (4.17, 12, 25)  # type: ignore[index]
    assert refused(body, time_column="y;s")[0] == (
        "/time_column", "There is no column 'y'. The columns are: 'x', 'Voltage (V);mV', 'b', 'current'.",
    )  # fmt: skip
    assert refused(body, time_column="x;d")[0][0] == "/time_column"
    twice = refused(body, time_column="x;s", voltage_column="x;V", current_column="current;A")
    assert twice == [("/voltage_column", "'x' cannot be both the time and the voltage.")]
    # a name that says nothing of its unit is not made certain by naming it
    named = read(
        lines("z,U (V),I (A)", *[(n, 4 - n / 900, 10) for n in range(900)][::9]), time_column="z"
    )
    assert named.read_as is not None
    assert named.read_as.doubtful == ["time"]


@pytest.mark.parametrize(
    "change",
    [
        lambda rows: rows._replace(
            voltage_v=[max(i, AMPERE) / 4 for i in rows.current_a], current_a=rows.voltage_v
        ),
        lambda rows: rows._replace(voltage_v=rows.voltage_v[::-1]),
        lambda rows: rows._replace(voltage_v=[4.0] * len(rows.time_s)),
    ],
    ids=["swapped", "charge", "supply"],
)
@pytest.mark.parametrize("negative", [False, True])
def test_what_does_not_fall_is_no_discharge(change: Any, negative: bool) -> None:
    """Columns that were swapped, a charge in either sign, and a supply are refused."""
    ((_, detail), *_) = refused(written(Dialect(negative=negative), change(discharge(rest=False))))
    assert "no discharge" in detail


def test_no_digit_of_a_sum_changes_with_the_dialect(client: Any) -> None:
    """Charge, energy, peaks and resistance of a log in mV, mA and °C are those of percell's own form."""
    own = client.post(PATH, content=written(Dialect(), ROWS), headers={"content-type": "text/csv"})
    dialect = Dialect(
        names=("Zeit (s)", "Spannung (mV)", "Strom (mA)", "Temperatur (°C)"),
        units=("s", "mV", "mA", "°C"), separator=";", mark=",", negative=True, end="\r\n",
    )  # fmt: skip
    other = client.post(PATH, content=written(dialect, ROWS), headers={"content-type": "text/csv"})
    got, wanted = (answer.json()["logs"][0] for answer in (other, own))
    assert got.pop("read_as") != wanted.pop("read_as")
    assert got == wanted
    charge_as = np.trapezoid(ROWS.current_a, ROWS.time_s)  # NumPy's own trapezoids
    assert wanted["delivered_charge_ah"] == pytest.approx(charge_as / 3600, rel=1e-12)


def test_how_it_was_read_is_shown_and_can_be_said_in_the_query(
    client: Any, is_problem: Any
) -> None:
    """The answer shows columns, units, sign, separator and mark; a query says the columns."""
    dialect = Dialect(
        names=("x", "y", "z", "w"), units=("min", "mV", "A", "°C"), separator=";", mark=",",
        negative=True, extra=("flag", "on"), decimals=8,
    )  # fmt: skip
    body = written(dialect, ROWS)
    told = {
        "time_column": "x;min",
        "voltage_column": "y;mV",
        "current_column": "z;A",
        "temperature_column": "w;°C",
    }
    query = "?" + "&".join(f"{name}={quote(value)}" for name, value in told.items())
    headers = {"content-type": "text/csv"}
    unsaid = client.post(PATH, content=body, headers=headers)
    assert (unsaid.status_code, len(unsaid.json()["errors"])) == (422, 3)
    answer = client.post(PATH + query, content=body, headers=headers)
    assert answer.status_code == 200, answer.text
    assert answer.json()["logs"][0]["read_as"] == {
        "time_column": {"column": "x", "unit": "min", "certain": True},
        "voltage_column": {"column": "y", "unit": "mV", "certain": True},
        "current_column": {"column": "z", "unit": "A", "certain": True},
        "temperature_column": {"column": "w", "unit": "°C", "certain": True},
        "discharge_negative": True,
        "separator": "semicolon",
        "decimal_mark": "comma",
        "skipped_lines": 0,
        "ignored_columns": ["flag"],
    }
    is_problem(
        client.post(PATH + "?time_column=v", content=body, headers=headers),
        "outside-contract", 422, "/time_column",
    )  # fmt: skip


def test_a_log_that_begins_under_load_says_what_is_not_known(client: Any) -> None:
    """Neither the charge at the start nor the first resistance; the charge delivered is there."""
    body = written(Dialect(offset_a=-0.028), discharge(rest=False))
    answer = client.post(PATH, content=body, headers={"content-type": "text/csv"}).json()
    rules = {one["rule"]: one["sentence"] for one in answer["findings"]}
    assert "no rest before the load in log 1" in rules["test-begins-under-load"]
    assert rules["test-offset-at-rest"] == (
        "The ammeter of log 1 shows −0.028 A at rest, which counts as no current."
    )
    assert answer["logs"][0]["begins_under_load"] is True
    assert answer["logs"][0]["delivered_charge_ah"] > 2
    with_rest = client.post(
        PATH, content=written(Dialect(), ROWS), headers={"content-type": "text/csv"}
    )
    assert "test-begins-under-load" not in with_rest.text
    assert with_rest.json()["logs"][0]["rest_current_a"] == 0


# --- any dialect, any bytes -----------------------------------------------------------------------------

_NAMES = (
    st.sampled_from(["time_s", "Time (s)", "t/s", "Elapsed [s]", "seconds", "Test time, s", "Zeit in s"]),
    st.sampled_from(["voltage_v", "Voltage (V)", "U/V", "V", "CellVoltage_V", "Spannung [V]", "Volts"]),
    st.sampled_from(["current_a", "Current (A)", "I/A", "A", "Load current, A", "Strom [A]", "Amps"]),
    st.sampled_from(["temperature_c", "Temp (°C)", "T/°C", "Skin temperature [°C]", ""]),
)  # fmt: skip
_DIALECTS = st.builds(
    Dialect,
    names=st.tuples(*_NAMES),
    units=st.just(("s", "V", "A", "°C")),
    row_of_units=st.booleans(),
    separator=st.sampled_from([",", ";", "\t"]),
    mark=st.sampled_from([".", ","]),
    end=st.sampled_from(["\n", "\r\n"]),
    mark_of_bytes=st.booleans(),
    before=st.lists(st.sampled_from(["", "Bench log", "Cell: 7;8", "a,b,c", "2026-03-14"]), max_size=3).map(tuple),
    negative=st.booleans(),
    offset_a=st.sampled_from([0.0, -0.02, 0.03]),
    extra=st.sampled_from([("", ""), ("Status", "run"), ("Power (W)", "12"), ("Room temp (°C)", "x")]),
    quotes=st.booleans(),
    decimals=st.integers(0, 8),
)  # fmt: skip
_VALUES = st.lists(st.integers(0, 9), min_size=3, max_size=30)


@given(dialect=_DIALECTS, noise=_VALUES, size=st.integers(1, 300))
@settings(deadline=None, max_examples=300)
def test_any_dialect_is_read_or_refused(dialect: Dialect, noise: list[int], size: int) -> None:
    """Whatever is written is read to the numbers in the file, in any parts, or refused with a sentence."""
    count = len(noise)
    rows = Rows(
        [float(n) for n in range(count)],
        [round(4.2 - 1.5 * n / count + value / 1000, 3) for n, value in enumerate(noise)],
        [0.0, *[10.0 + value / 10 for value in noise[1:]]],
        [round(22 + n + value / 10, 1) for n, value in enumerate(noise)],
    )
    body = written(dialect, rows)
    log = outcome([body[at : at + size] for at in range(0, len(body), size)], GivenColumns())
    if isinstance(log, list):
        # only what may be two things, or is no discharge once it was rounded so far
        unsure = dialect.mark == "," and (
            dialect.decimals == 3 or (dialect.separator == "," and not dialect.quotes)
        )
        assert unsure or dialect.decimals < 3, (log, body)
        assert all(fault.detail.endswith(".") for fault in log)
        return
    step = 0.5000001 * 10.0**-dialect.decimals
    assert log.time_s.tolist() == rows.time_s
    assert log.voltage_v == pytest.approx(rows.voltage_v, abs=step)
    assert log.current_a == pytest.approx([i or dialect.offset_a for i in rows.current_a], abs=step)
    if log.temperature_c is not None:
        assert log.temperature_c == pytest.approx(rows.temperature_c, abs=step)
    assert log.read_as is not None
    assert log.read_as.doubtful == []


_PIECES = st.sampled_from(
    [
        *"\r\n\t,;.:-+\"'()[]/_ eE0123456789µ°\x00−",
        "time_s", "voltage_v", "current_a", "Time (s)", "U/mV", "I [A]", "T", "temp", "00:00:01", "2026-03-14",
        "24:00:00", "9999-12-31 23:59:59", "0001-01-01T00:00:00", "3,250", "1e308", "-1e308", "nan", "inf", "1_0",
        "\n0,4.1,10", "\n1,4.0,10", "\n2,3.9,10", "\n0;4,1;10", "\ufeff", "s,V,A\n", "(mV)", "x" * 1001,
    ]
)  # fmt: skip
_SAID = st.none() | st.text(max_size=12) | st.sampled_from(["T;s", "temp;mV", "U/mV", ";", "a;b;c"])


@given(
    body=st.binary(max_size=400)
    | st.lists(_PIECES, max_size=60).map(lambda parts: "".join(parts).encode())
    | st.lists(_PIECES, max_size=60).map(
        lambda parts: ("time_s,voltage_v,current_a\n0,4.1,10\n" + "".join(parts)).encode()
    ),
    told=st.tuples(_SAID, _SAID, _SAID, _SAID),
    mark=st.sampled_from([None, "point", "comma"]),
    size=st.integers(1, 400),
)
@example(body=b'time_s,voltage_v,current_a\n"0"\r1,4,1\n', told=(None,) * 4, mark=None, size=400)
@example(
    body=b"time,voltage,current\n1e308,1,1\n-1e308,1,1\n0,1,1\n",
    told=(None,) * 4,
    mark=None,
    size=400,
)
@settings(deadline=None, max_examples=1000)
def test_no_bytes_raise_anything_else(
    body: bytes, told: tuple[str | None, ...], mark: str | None, size: int
) -> None:
    """Arbitrary bytes are a log of finite numbers, or refused with sentences: nothing else happens."""
    fields = [name for name in GivenColumns.__struct_fields__ if name != "decimal_mark"]
    said: dict[str, Any] = {name: text for name, text in zip(fields, told, strict=True) if text}
    if mark:
        said["decimal_mark"] = mark
    log = outcome(
        [body[at : at + size] for at in range(0, len(body), size)],
        msgspec.convert(said, GivenColumns),
    )
    if isinstance(log, list):
        assert 1 <= len(log) <= 20
        assert all(fault.pointer.startswith("/") and fault.detail.strip() for fault in log)
    else:
        assert np.all(np.diff(log.time_s) > 0)
        columns = [column for column in log.measured.values() if column is not None]
        assert all(np.all(np.isfinite(column)) for column in columns)
        answer = msgspec.json.decode(msgspec.json.encode(answer_logs([log], DischargeLimits())))
        assert answer["logs"][0]["rows"] == len(log.time_s)
