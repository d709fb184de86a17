"""Discharge logs from a form: files of CSV, and the limits and columns that were typed beside them."""

import re
from typing import Any, NamedTuple

from litestar import Request
from multipart import MultipartError, MultipartSegment, PushMultipartParser

from percell.questions.answering.echo import given
from percell.questions.answering.question import Explained
from percell.questions.bench.discharge_logs import (
    MEASURED,
    MOST_FAULTS,
    MOST_LOGS,
    DischargeLimits,
    LogColumns,
)
from percell.questions.bench.discharge_test import QUESTION, evaluate
from percell.questions.vocabulary.fields import NAME_LENGTH, NOT_IN_NAMES
from percell.questions.vocabulary.labels import label_of
from percell.questions.vocabulary.refusal import Fault as Refusal
from percell.questions.vocabulary.refusal import RefusedAll
from percell.web.ask_csv import limits_and_columns
from percell.web.ask_pages.fields import place_of, with_labels
from percell.web.ask_pages.typed import Fault, Pairs, as_query
from percell.web.csv_log import NotUtf8, read_log
from percell.web.log_names import GivenColumns

# the id of the control for files
PLACE = "f-log"
# what a fault of a log may name: the fields of the form, and the columns as the API calls them
_NAMES = (*GivenColumns.__struct_fields__, *DischargeLimits.__struct_fields__, *MEASURED)
# bytes of a body too large to be read in which the fields are: a form sends them before the files
_HEAD = 64 * 1024


class LogFile(NamedTuple):
    """A file as it was sent."""

    name: str
    content: bytes

    @property
    def label(self) -> str:
        """Return its name in one line, without its ending."""
        name = re.sub(rf"[\s{NOT_IN_NAMES}]+", " ", self.name).strip()
        return name.removesuffix(".csv")[:NAME_LENGTH]


class LogFaults(Exception):
    """Files that are no logs, with the reasons."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(f"{len(faults)} faults")
        self.faults = faults


class LogAnswer(NamedTuple):
    """What the logs show."""

    asked: Any
    got: Explained[Any]
    answer: Any


def answer_files(files: list[LogFile], pairs: Pairs) -> LogAnswer:
    """Return what the logs of one cell show.

    Raises:
        LogFaults: There is no file, there are too many, or one is no log.
        Failed: What was typed beside them cannot be read.
        NoSolution: The logs have no answer.
    """
    limits, columns, fields = limits_and_columns(as_query(pairs).encode())
    if not files:
        raise LogFaults([Fault(PLACE, "Logs", "Choose a file.")])
    if len(files) > MOST_LOGS:
        detail = f"Choose {MOST_LOGS} files or fewer. There are {len(files)}."
        raise LogFaults([Fault(PLACE, "Logs", detail)])
    measured: list[LogColumns] = []
    faults: list[Fault] = []
    for file in files:
        try:
            log = read_log([file.content], limits, columns)
            measured.append(log._replace(label=file.label))
        except NotUtf8 as error:
            faults.append(Fault(PLACE, file.label, f"{error} Save it as UTF-8."))
        except RefusedAll as error:
            faults += [_fault(file, fault) for fault in error.faults]
    if faults:
        # what was said of the columns is wrong once, however many files there are
        raise LogFaults(list(dict.fromkeys(faults))[:MOST_FAULTS])
    got = evaluate(measured, limits)
    return LogAnswer(limits, got, QUESTION.assemble(limits, got, given(limits, fields)))


async def typed_before_files(request: Request[Any, Any, Any]) -> Pairs:
    """Return what was typed beside files that are too large to be read: it comes before them."""
    _, options = request.content_type
    head, more = b"", True
    while more and len(head) < _HEAD:
        message: Any = await request.receive()
        head += message.get("body", b"")
        more = message.get("more_body", False)
    typed: Pairs = []
    try:
        name, text = "", b""
        for part in PushMultipartParser(options.get("boundary", "")).parse(head):
            if isinstance(part, MultipartSegment):
                if part.filename is not None:
                    break
                name, text = part.name, b""
            elif part:
                text += part
            else:
                typed.append((name, text.decode()))
    except (MultipartError, UnicodeError):
        return []
    return typed


def _fault(file: LogFile, refusal: Refusal) -> Fault:
    """Return a fault at the file, with its row and column, or at what was said of the columns."""
    name = refusal.pointer.removeprefix("/")
    detail = with_labels(refusal.detail, _NAMES)
    if name in GivenColumns.__struct_fields__:
        return Fault(place_of(name), label_of(name), detail)
    place = re.fullmatch(r"rows/(\d+)(?:/(.+))?", name)
    row, column = (place[1], place[2]) if place else ("0", None)
    at = [f"row {row} below the names"] if row != "0" else []
    if column:
        at.append(f"column “{column.replace('~1', '/').replace('~0', '~')[:NAME_LENGTH]}”")
    before = ", ".join(at)
    return Fault(PLACE, file.label, f"{before[:1].upper()}{before[1:]}: {detail}" if at else detail)
