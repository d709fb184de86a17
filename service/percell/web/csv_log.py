"""A discharge log as CSV (RFC 4180, and what instruments make of it), read row by row while it arrives.

Nothing here knows HTTP: ``read_log`` reads a whole log, and ``LogReader`` takes it part by part. It
holds no more than one line and the columns of numbers, however long the log is.
"""

import codecs
from array import array
from collections.abc import Iterable
from math import inf, isfinite

import numpy as np
from numpy.typing import NDArray

from percell.questions.bench.discharge_logs import (
    MOST_FAULTS,
    MOST_ROWS,
    DischargeLimits,
    LogColumns,
    bounds_of,
    faults_of,
)
from percell.questions.bench.log_reading import ColumnReading, DecimalMark, LogReading
from percell.questions.bench.log_units import (
    CLOCK,
    Clock,
    discharging,
    over_midnight,
    plausible_units,
    symbols,
    unit_of,
)
from percell.questions.vocabulary.refusal import Fault, FaultCode, RefusedAll
from percell.web.log_names import (
    KNOWN,
    SEPARATORS,
    Column,
    GivenColumns,
    Level,
    faults_without_head,
    fields_of,
    head_of,
    parameter,
    quoted,
    word,
)
from percell.web.log_numbers import NotANumber, Numbers

# a line of numbers is always shorter
LONGEST_LINE = 1000
# lines before the row of names
MOST_LINES_BEFORE = 50
# bytes read at once: this bounds the memory, however large the parts are
PIECE = 64 * 1024


class NotUtf8(ValueError):
    """A log is not text in UTF-8."""

    def __init__(self, row: int) -> None:
        super().__init__(f"The log is not UTF-8 (row {row}).")
        self.row = row  # where the first bad byte is: 0 is the row of names


class _Enough(Exception):
    """The reader has found so many faults that it need not read the rest."""


def read_log(
    parts: Iterable[bytes], limits: DischargeLimits, given: GivenColumns | None = None
) -> LogColumns:
    """Return a whole log, from the bytes of a file in parts of any size.

    Raises:
        RefusedAll: There are faults. The pointer of each names the row and the column:
            ``/rows/9000/voltage_v``. Row 0 is the row of names. Or it names what the caller gave:
            ``/voltage_column``.
        NotUtf8: The log is not text in UTF-8.
    """
    reader = LogReader(given)
    for part in parts:
        reader.feed(part)
    return reader.finish(limits)


class _Cells:
    """The numbers of a column that is used, as the file has them."""

    def __init__(self, known: str, column: Column) -> None:
        self.known = known
        self.column = column
        self.unit = column.unit
        self.values = array("d")

    @property
    def at(self) -> str:
        """Return the column's name as a pointer has it."""
        return self.column.name.replace("~", "~0").replace("/", "~1")

    @property
    def bounds(self) -> tuple[float, float]:
        """Return the bounds of each number, as the file has it."""
        low, high = bounds_of(self.known)
        if self.unit is CLOCK:
            return -inf, inf  # a time that is far off is a gap
        units = (
            [self.unit] if self.unit else [unit_of(self.known, one) for one in symbols(self.known)]
        )
        return (
            min(unit.theirs(low) for unit in units if unit),
            max(unit.theirs(high) for unit in units if unit),
        )


def outside(pointer: str, value: float, bounds: tuple[float, float]) -> Fault:
    """Return the fault of a value beyond the bounds of its column."""
    low, high = bounds
    detail = f"{value:g} is outside {low:g} to {high:g}."
    if value < low:
        return Fault(pointer, detail, FaultCode.BELOW, low)
    return Fault(pointer, detail, FaultCode.ABOVE, high)


class LogReader:
    """Reads the parts of a log into columns, and collects the faults of its rows."""

    def __init__(self, given: GivenColumns | None = None) -> None:
        self.faults: list[Fault] = []
        self._given = given or GivenColumns()
        self._enough = False
        self._text = codecs.getincrementaldecoder("utf-8-sig")()
        self._rest = ""
        self._before: list[str] = []  # lines before the row of names
        self._names: list[str] = []
        self._separator = ""
        self._cells: list[_Cells] = []
        self._units_row = 0  # a row of units after that of the names
        self._rows = 0
        self._blank = 0  # blank lines that are faults if a row follows: a file may end in some
        self._numbers = Numbers(self._given.decimal_mark)
        self._clock = Clock()

    def feed(self, part: bytes) -> None:
        """Read a part of the log. Ignore it if there are enough faults already.

        Raises:
            NotUtf8: The part is not text in UTF-8.
        """
        for start in range(0, len(part), PIECE):
            self._feed(part[start : start + PIECE])

    def finish(self, limits: DischargeLimits) -> LogColumns:
        """Read the rest, and return the whole log.

        Raises:
            RefusedAll: There are faults: all of them, in the order of the rows.
            NotUtf8: The log ends within a character.
        """
        self._feed(b"", last=True)
        if not self.faults:
            self._end()
        if self.faults:
            raise RefusedAll(self.faults)
        log = self._log()
        self._hold(log, limits)
        if self.faults:
            raise RefusedAll(self.faults)
        return log

    def _feed(self, piece: bytes, *, last: bool = False) -> None:
        if self._enough:
            return
        try:
            self._read(self._text.decode(piece, final=last), last=last)
        except UnicodeDecodeError as error:
            self._read(error.object[: error.start].decode())
            raise NotUtf8(self._rows + self._blank + 1 if self._names else 0) from None

    def _read(self, text: str, *, last: bool = False) -> None:
        # a lone CR may be the first half of a line's end that the next part completes
        *lines, self._rest = (self._rest + text).replace("\r\n", "\n").split("\n")
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

    def _read_at_once(self, lines: list[str]) -> bool:
        """Read lines together if they have no fault: several times as fast as one by one."""
        if (
            not lines
            or not self._rows  # the first row may hold units or show the form of a time
            or self._blank
            or self._rows + len(lines) > MOST_ROWS
        ):
            return False
        width = len(self._names)
        if any(
            line.count(self._separator) != width - 1 or len(line) > LONGEST_LINE for line in lines
        ):
            return False
        together = self._separator.join(lines)
        if '"' in together:
            return False
        fields = together.split(self._separator)
        read = []
        for cells in self._cells:
            texts = fields[cells.column.place :: width]
            try:
                values = np.array(
                    self._clock_times(texts) if cells.unit is CLOCK else self._numbers.many(texts)
                )
            except ValueError:
                return False
            low, high = cells.bounds
            if not np.all((values >= low) & (values <= high)):
                return False
            read.append(values)
        for cells, values in zip(self._cells, read, strict=True):
            cells.values.frombytes(values.tobytes())
        self._rows += len(lines)
        return True

    def _clock_times(self, texts: list[str]) -> list[float]:
        return [self._clock.seconds(text) for text in texts]

    def _line(self, line: str) -> None:
        if len(line) > LONGEST_LINE:
            row = 0 if not self._names else self._rows + self._blank + 1
            self._fault(
                f"/rows/{row}", f"The line is too long. The limit is {LONGEST_LINE} characters."
            )
            raise _Enough
        if not self._names:
            self._look_for_head(line)
        elif not self._rows and not self._units_row and not self._blank and self._has_units(line):
            self._units_row = 1
        elif line.strip():
            for _ in range(self._blank):
                self._rows += 1
                self._fault(self._at(), "The row is empty.")
            self._blank = 0
            self._row(line)
        else:
            self._blank += 1

    def _look_for_head(self, line: str) -> None:
        head = head_of(line, self._given)
        if head is None:
            self._before.append(line)
            if len(self._before) > MOST_LINES_BEFORE:
                self._fault_without_head()
            return
        for fault in head.faults:
            self._add(fault)
        if self.faults:
            raise _Enough  # without the columns, no value belongs to one
        self._names, self._separator = head.names, head.separator
        self._cells = [
            _Cells(known, head.columns[known]) for known in KNOWN if known in head.columns
        ]

    def _fault_without_head(self) -> None:
        named = [line for line in self._before if line.strip()]
        for fault in faults_without_head(named, self._given):
            self._add(fault)
        raise _Enough

    def _has_units(self, line: str) -> bool:
        """Take the units of a row that holds nothing else, if the line is one."""
        fields = fields_of(line, self._separator)
        if len(fields) != len(self._names):
            return False
        found = {
            cells.known: unit_of(cells.known, fields[cells.column.place].strip(" ()[]"))
            for cells in self._cells
        }
        if not all(found.values()):
            return False
        for cells in self._cells:
            unit = found[cells.known]
            if cells.unit is not None and cells.unit != unit:
                what = f"The {word(cells.known)} has two units: {cells.unit.symbol} and "
                self._fault("/rows/0", f"{what}{fields[cells.column.place].strip()}.")
                raise _Enough
            cells.unit = unit
        return True

    def _row(self, line: str) -> None:
        self._rows += 1
        if self._rows > MOST_ROWS:
            what = f"The log is too long. The limit is {MOST_ROWS} rows."
            self._fault(self._at(), what, FaultCode.TOO_LONG, MOST_ROWS)
            raise _Enough
        fields = fields_of(line, self._separator)
        if len(fields) != len(self._names):
            what = f"The row has {len(fields)} values for {len(self._names)} columns."
            if self._separator == "," and len(fields) > len(self._names):
                what += " If the numbers have decimal commas, separate the columns by semicolons or tabs."
            self._fault(self._at(), what)
            return
        for cells in self._cells:
            cells.values.append(self._value(cells, fields[cells.column.place]))

    def _value(self, cells: _Cells, text: str) -> float:
        if cells.unit is None and cells.known == "time_s" and ":" in text and not cells.values:
            cells.unit = CLOCK
        if cells.unit is CLOCK:
            return self._time(cells, text)
        low, high = cells.bounds
        try:
            value = self._numbers.one(text, self._at(cells))
        except NotANumber as error:
            self._fault(self._at(cells), error.detail, error.code)
            return 0.0
        if not isfinite(value):
            what = f"{quoted(text)} is not a finite number."
            self._fault(self._at(cells), what, FaultCode.PATTERN)
        elif not low <= value <= high:
            self._add(outside(self._at(cells), value, cells.bounds))
        return value

    def _time(self, cells: _Cells, text: str) -> float:
        try:
            return self._clock.seconds(text)
        except ValueError:
            what = f"{quoted(text)} is not a time. Use hh:mm:ss, with or without a date before it as YYYY-MM-DD."
            if text.strip():
                self._fault(self._at(cells), what, FaultCode.PATTERN)
            else:
                self._fault(self._at(cells), "No value.", FaultCode.MISSING)
            return 0.0

    def _at(self, cells: _Cells | None = None) -> str:
        return f"/rows/{self._rows}" + (f"/{cells.at}" if cells else "")

    def _fault(
        self,
        pointer: str,
        detail: str,
        code: FaultCode = FaultCode.CONTRADICTION,
        limit: float | None = None,
    ) -> None:
        self._add(Fault(pointer, detail, code, limit))

    def _add(self, fault: Fault) -> None:
        self.faults.append(fault)
        if len(self.faults) >= MOST_FAULTS:
            raise _Enough

    def _end(self) -> None:
        """Find what is wrong with the log as a whole."""
        if not self._names:
            try:
                self._fault_without_head()
            except _Enough:
                return
        if self._numbers.doubt:
            self.faults.append(self._numbers.doubt)

    def _log(self) -> LogColumns:
        """Return the log in percell's own units, with a discharge as a positive current.

        Raises:
            RefusedAll: A unit is not written, and the numbers do not tell it; or a number is out of bounds
                in the unit that they tell.
        """
        read: dict[str, NDArray[np.float64]] = {
            cells.known: np.array(cells.values) for cells in self._cells
        }
        certain = {
            cells.known: cells.unit is not None and cells.column.level > Level.UNIT_ONLY
            for cells in self._cells
        }
        if self._rows:
            self._tell_units(read)
        ours = {cells.known: (cells.unit or CLOCK).ours(read[cells.known]) for cells in self._cells}
        time = self._cells[0]
        if time.unit is CLOCK and not self._clock.dated:
            ours["time_s"] = over_midnight(ours["time_s"])
        current_a, negative = discharging(ours["current_a"])
        used = {cells.column.place for cells in self._cells}
        readings = {
            parameter(cells.known): ColumnReading(
                column=cells.column.name,
                unit=(cells.unit or CLOCK).symbol,
                certain=certain[cells.known],
            )
            for cells in self._cells
        }
        return LogColumns(
            label="",
            time_s=ours["time_s"],
            voltage_v=ours["voltage_v"],
            current_a=current_a,
            temperature_c=ours.get("temperature_c"),
            read_as=LogReading(
                **readings,
                discharge_negative=negative,
                separator=SEPARATORS[self._separator],
                decimal_mark=self._numbers.mark or DecimalMark.POINT,
                skipped_lines=len(self._before) + self._units_row,
                ignored_columns=[
                    name for index, name in enumerate(self._names) if name and index not in used
                ],
            ),
        )

    def _tell_units(self, read: dict[str, NDArray[np.float64]]) -> None:
        """Take for each column without a written unit the only one that makes this a discharge."""
        untold = [cells for cells in self._cells if cells.unit is None]
        if not untold:
            return
        choices = plausible_units(read, {cells.known: cells.unit for cells in self._cells})
        if len(choices) != 1:
            for cells in untold:
                units = dict.fromkeys(choice[cells.known].symbol for choice in choices)
                if len(units) != 1:
                    may = (
                        f"it could be {' or '.join(units)}"
                        if units
                        else "no unit makes this a discharge of one cell"
                    )
                    self._fault(
                        f"/rows/0/{cells.at}",
                        f"The {word(cells.known)} has no unit, and {may}. Give the unit in "
                        f"{parameter(cells.known)}, such as {cells.column.name[:40]};{symbols(cells.known)[0]}.",
                    )
            raise RefusedAll(self.faults)
        for cells in untold:
            cells.unit = choices[0][cells.known]
            low, high = cells.bounds
            beyond = np.flatnonzero((read[cells.known] < low) | (read[cells.known] > high))
            self.faults += [
                outside(f"/rows/{row + 1}/{cells.at}", read[cells.known][row], cells.bounds)
                for row in beyond[:MOST_FAULTS]
            ]
        if self.faults:
            raise RefusedAll(self.faults[:MOST_FAULTS])

    def _hold(self, log: LogColumns, limits: DischargeLimits) -> None:
        """Refuse a log that is no discharge, or that cannot be evaluated."""
        names = {cells.known: cells.at for cells in self._cells}
        self.faults = [
            Fault(
                "/rows"
                + "".join(
                    f"/{part}" for part in (fault.row or "", names.get(fault.column)) if part
                ),
                f"{fault.message[0].upper()}{fault.message[1:]}.",
            )
            for fault in faults_of(log, limits)
        ]
