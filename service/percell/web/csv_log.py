"""A discharge log as CSV (RFC 4180), read row by row while it arrives.

No more is held than one line and the columns of numbers, however long the body is.
"""

import asyncio
import codecs
import csv
import re
from array import array
from math import isfinite

import msgspec
import numpy as np
from msgspec import structs

from percell.questions.bench.discharge_test import (
    MOST_FAULTS,
    MOST_ROWS,
    DischargeTest,
    Limits,
    LogColumns,
    answer_logs,
    bounds_of,
    faults_of,
)
from percell.questions.vocabulary.refusal import Fault, RefusedAll
from percell.web.problems import Failed, failed
from percell.web.query import read_query
from percell.web.resource import Call

NEEDED = ("time_s", "voltage_v", "current_a")
KNOWN = (*NEEDED, "temperature_c")
# the log of the JSON example, invented
EXAMPLE = """time_s,voltage_v,current_a,temperature_c
0,4.15,0,22
10,4.15,0,22
11,3.75,20,22.1
60,3.66,20,25
120,3.58,20,29
180,3.5,20,33
240,3.42,20,37
300,3.34,20,41
360,3.26,20,45
420,3.17,20,49
480,3.05,20,53
520,2.8,20,56
521,3.2,0,56.2
570,3.3,0,55.5
"""
# a line of numbers is shorter
LONGEST_LINE = 1000
# so much of a part is read at once, which bounds the memory whatever the size of the parts
PIECE = 64 * 1024
# the signs of numbers and nothing else
_PLAIN = re.compile(r"[0-9.,+\-eE ]*")


class _Enough(Exception):
    """So many faults were found that the rest of the body need not be read."""


class LogReader:
    """Reads the parts of a body into columns, and gathers the faults of its rows."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self._text = codecs.getincrementaldecoder("utf-8-sig")()
        self._rest = ""
        self._names: list[str] | None = None
        self._columns: dict[str, array[float]] = {}
        self._rows = 0
        self._blank = 0  # blank lines that are faults if a row follows, for a file may end in some

    def feed(self, part: bytes, *, last: bool = False) -> None:
        """Read a part of the body; of its lines, those that are whole.

        Raises:
            _Enough: There are as many faults as are told at once.
        """
        text = self._rest + self._text.decode(part, final=last)
        # a lone CR may be the first half of a line's end that the next part completes
        *lines, self._rest = text.replace("\r\n", "\n").split("\n")
        if last and self._rest:
            lines.append(self._rest)
            self._rest = ""
        if len(self._rest) > LONGEST_LINE:
            lines.append(self._rest)
        if not self._whole(lines):
            for line in lines:
                self._line(line.removesuffix("\r"))

    def _whole(self, lines: list[str]) -> bool:
        """Read lines at once if nothing is wrong with them, several times as fast as one by one."""
        width = len(self._columns)
        text = ",".join(lines)
        if (
            not lines
            or not width
            or self._blank
            or self._rows + len(lines) > MOST_ROWS
            or not _PLAIN.fullmatch(text)
            or any(line.count(",") != width - 1 for line in lines)
        ):
            return False
        try:
            values = np.array([float(value) for value in text.split(",")]).reshape(-1, width)
        except ValueError:
            return False
        low, high = np.array([bounds_of(name) for name in self._columns]).T
        if not np.all((values >= low) & (values <= high)):
            return False
        for column, part in zip(self._columns.values(), values.T, strict=True):
            column.frombytes(part.tobytes())
        self._rows += len(lines)
        return True

    def _line(self, line: str) -> None:
        at = self._at()
        if len(line) > LONGEST_LINE:
            self._fault(at, f"A line has at most {LONGEST_LINE} characters.")
            raise _Enough
        if self._names is None:
            self._head(line)
        elif line.strip():
            for _ in range(self._blank):
                self._rows += 1
                self._fault(self._at(), "The row is empty.")
            self._blank = 0
            self._row(line)
        else:
            self._blank += 1

    def _head(self, line: str) -> None:
        names = [name.strip() for name in _fields(line)]
        for name in NEEDED:
            if name not in names:
                self._fault("/rows/0", f"The first row must name the column {name}.")
        for name in dict.fromkeys(names):
            if name not in KNOWN:
                what = f"There is no column {name[:40]!r}. There are: {', '.join(KNOWN)}."
                self._fault("/rows/0", what)
            elif names.count(name) > 1:
                self._fault("/rows/0", f"The column {name} stands twice.")
        if self.faults:
            raise _Enough  # without names no value can be told
        self._names = names
        self._columns = {name: array("d") for name in names}

    def _row(self, line: str) -> None:
        self._rows += 1
        if self._rows > MOST_ROWS:
            self._fault(self._at(), f"A log has at most {MOST_ROWS} rows.")
            raise _Enough
        fields = _fields(line)
        if len(fields) != len(self._columns):
            what = f"The row has {len(fields)} values for {len(self._columns)} columns."
            self._fault(self._at(), what)
            return
        for (name, column), text in zip(self._columns.items(), fields, strict=True):
            column.append(self._number(name, text))

    def _number(self, name: str, text: str) -> float:
        low, high = bounds_of(name)
        at = f"{self._at()}/{name}"
        try:
            # what Python alone takes for a number, as 1_000, is none
            value = float(text if text.isascii() and "_" not in text else "")
        except ValueError:
            what = "No value." if not text.strip() else f"{text.strip()[:40]!r} is no number."
            self._fault(at, what)
            return 0.0
        if not isfinite(value):
            self._fault(at, f"{text.strip()[:40]!r} is no finite number.")
        elif not low <= value <= high:
            self._fault(at, f"{value:g} is outside {low:g} to {high:g}.")
        return value

    def _at(self) -> str:
        return f"/rows/{self._rows}"

    def _fault(self, pointer: str, detail: str) -> None:
        self.faults.append(Fault(pointer, detail))
        if len(self.faults) >= MOST_FAULTS:
            raise _Enough

    def columns(self, limits: Limits) -> LogColumns:
        """Return the whole log.

        Raises:
            RefusedAll: There are faults: all of them, in the order of the rows.
        """
        if not self.faults and self._names is None:
            self.faults.append(
                Fault("/rows/0", "The body is empty: a first row names the columns.")
            )
        if self.faults:
            raise RefusedAll(self.faults)
        warm = self._columns.get("temperature_c")
        time_s, voltage_v, current_a = (np.array(self._columns[name]) for name in NEEDED)
        log = LogColumns("", time_s, voltage_v, current_a, None if warm is None else np.array(warm))
        found = [
            Fault(
                "/rows" + "".join(f"/{part}" for part in (fault.row or "", fault.column) if part),
                f"{fault.message[0].upper()}{fault.message[1:]}.",
            )
            for fault in faults_of(log, limits)
        ]
        if found:
            raise RefusedAll(found)
        return log


def _fields(line: str) -> list[str]:
    # the reader of the library knows quotes; without any, splitting is several times as fast
    return next(csv.reader([line])) if '"' in line else line.split(",")


def _limits(query: bytes) -> Limits:
    try:
        return msgspec.convert(read_query(query), Limits, strict=False)
    except msgspec.ValidationError as error:
        raise failed(error, Limits, unreadable="unreadable-query") from None


def with_query(asked: DischargeTest, body: bytes, query: bytes) -> DischargeTest:
    """Return a question in JSON with the limits of its query, where the body has none of its own."""
    if not query:
        return asked
    limits = _limits(query)
    own = msgspec.json.decode(body, type=dict[str, msgspec.Raw])
    return structs.replace(
        asked, **{name: value for name, value in structs.asdict(limits).items() if name not in own}
    )


async def answer_csv(call: Call) -> msgspec.Struct:
    """Answer for one log in the body, with the limits in the query."""
    limits = _limits(call.query)
    reader = LogReader()
    enough = False
    async for part in call.parts():
        if not enough:  # the rest is read and left, so that the answer reaches who still sends
            enough = _read(reader, part)
    if not enough:
        _read(reader, b"", last=True)
    try:
        log = reader.columns(limits)
        # the steps of a noisy log are many
        return await asyncio.to_thread(answer_logs, [log], limits)
    except RefusedAll as error:
        raise failed(error) from None


def _read(reader: LogReader, part: bytes, *, last: bool = False) -> bool:
    """Read a part, and return whether there is enough to refuse the whole."""
    try:
        for start in range(0, len(part), PIECE):
            reader.feed(part[start : start + PIECE])
        if last:
            reader.feed(b"", last=True)
    except _Enough:
        return True
    except UnicodeDecodeError:
        raise Failed("unreadable-body", "The body is not UTF-8.") from None
    return False
