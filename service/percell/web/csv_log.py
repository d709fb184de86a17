"""A discharge log as CSV (RFC 4180), read row by row while it arrives.

Nothing here knows HTTP: ``read_log`` reads a whole log, and ``LogReader`` takes it part by part. It
holds no more than one line and the columns of numbers, however long the log is.
"""

import codecs
import csv
import re
from array import array
from collections.abc import Iterable
from math import isfinite

import numpy as np

from percell.questions.bench.discharge_logs import (
    MOST_FAULTS,
    MOST_ROWS,
    Limits,
    LogColumns,
    bounds_of,
    faults_of,
)
from percell.questions.vocabulary.refusal import Fault, RefusedAll

NEEDED = ("time_s", "voltage_v", "current_a")
KNOWN = (*NEEDED, "temperature_c")
# a line of numbers is always shorter
LONGEST_LINE = 1000
# bytes read at once: this bounds the memory, however large the parts are
PIECE = 64 * 1024
# only characters of plain numbers
_PLAIN = re.compile(r"[0-9.,+\-eE ]*")


class NotUtf8(ValueError):
    """A log is not text in UTF-8."""

    def __init__(self, row: int) -> None:
        super().__init__(f"The log is not UTF-8 (row {row}).")
        self.row = row  # where the first bad byte is: 0 is the row of names


class _Enough(Exception):
    """The reader has found so many faults that it need not read the rest."""


def read_log(parts: Iterable[bytes], limits: Limits) -> LogColumns:
    """Return a whole log, from the bytes of a file in parts of any size.

    Raises:
        RefusedAll: There are faults. The pointer of each names the row and the column:
            ``/rows/9000/voltage_v``. Row 0 is the row of names.
        NotUtf8: The log is not text in UTF-8.
    """
    reader = LogReader()
    for part in parts:
        reader.feed(part)
    return reader.finish(limits)


class LogReader:
    """Reads the parts of a log into columns, and collects the faults of its rows."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self._enough = False
        self._text = codecs.getincrementaldecoder("utf-8-sig")()
        self._rest = ""
        self._names: list[str] | None = None
        self._columns: dict[str, array[float]] = {}
        self._lines = 0  # ends of lines so far
        self._rows = 0
        self._blank = 0  # blank lines that are faults if a row follows: a file may end in some

    def feed(self, part: bytes) -> None:
        """Read a part of the log. Ignore it if there are enough faults already.

        Raises:
            NotUtf8: The part is not text in UTF-8.
        """
        for start in range(0, len(part), PIECE):
            self._feed(part[start : start + PIECE])

    def finish(self, limits: Limits) -> LogColumns:
        """Read the rest, and return the whole log.

        Raises:
            RefusedAll: There are faults: all of them, in the order of the rows.
            NotUtf8: The log ends within a character.
        """
        self._feed(b"", last=True)
        return self._log(limits)

    def _feed(self, piece: bytes, *, last: bool = False) -> None:
        if self._enough:
            return
        text = self._rest + self._decoded(piece, last=last)
        # a lone CR may be the first half of a line's end that the next part completes
        *lines, self._rest = text.replace("\r\n", "\n").split("\n")
        self._lines += len(lines)
        if last and self._rest:
            lines.append(self._rest)
            self._rest = ""
        if len(self._rest) > LONGEST_LINE:
            lines.append(self._rest)
        if not self._read_at_once(lines):
            try:
                for line in lines:
                    self._line(line.removesuffix("\r"))
            except _Enough:
                self._enough = True

    def _decoded(self, piece: bytes, *, last: bool) -> str:
        try:
            return self._text.decode(piece, final=last)
        except UnicodeDecodeError as error:
            raise NotUtf8(self._lines + error.object.count(b"\n", 0, error.start)) from None

    def _read_at_once(self, lines: list[str]) -> bool:
        """Read lines together if they have no fault: several times as fast as one by one."""
        width = len(self._columns)
        text = ",".join(lines)
        if (
            not lines
            or not width
            or self._blank
            or self._rows + len(lines) > MOST_ROWS
            or not _PLAIN.fullmatch(text)
            or any(line.count(",") != width - 1 or len(line) > LONGEST_LINE for line in lines)
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
        if len(line) > LONGEST_LINE:
            row = 0 if self._names is None else self._rows + self._blank + 1
            self._fault(f"/rows/{row}", f"A line has at most {LONGEST_LINE} characters.")
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
                self._fault("/rows/0", f"The column {name} is given twice.")
        if self.faults:
            raise _Enough  # without the names, no value belongs to a column
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
        try:
            # only Python accepts 1_000 as a number
            value = float(text if text.isascii() and "_" not in text else "")
        except ValueError:
            what = "No value." if not text.strip() else f"{text.strip()[:40]!r} is no number."
            self._fault(self._at(name), what)
            return 0.0
        if not isfinite(value):
            self._fault(self._at(name), f"{text.strip()[:40]!r} is no finite number.")
        elif not low <= value <= high:
            self._fault(self._at(name), f"{value:g} is outside {low:g} to {high:g}.")
        return value

    def _at(self, column: str = "") -> str:
        return f"/rows/{self._rows}" + (f"/{column}" if column else "")

    def _fault(self, pointer: str, detail: str) -> None:
        self.faults.append(Fault(pointer, detail))
        if len(self.faults) >= MOST_FAULTS:
            raise _Enough

    def _log(self, limits: Limits) -> LogColumns:
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
    # the csv module knows quotes; without any, splitting is several times as fast
    return next(csv.reader([line])) if '"' in line else line.split(",")
