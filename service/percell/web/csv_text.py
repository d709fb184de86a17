"""Lines of CSV (RFC 4180) for spreadsheets: one header, and lines that each hold on their own."""

import csv
from collections.abc import Mapping, Sequence
from io import StringIO
from typing import Any

from msgspec import UNSET

CSV = b"text/csv"
HEADED = b"text/csv; charset=utf-8; header=present"


def as_csv(lines: Sequence[Mapping[str, str]]) -> bytes:
    """Return lines with the same headings as CSV."""
    text = StringIO()
    write = csv.writer(text).writerow
    write(lines[0])
    for line in lines:
        write(line.values())
    return text.getvalue().encode()


def attached(name: str) -> tuple[bytes, bytes]:
    """Return the header that names the file in which a browser saves an answer."""
    return b"content-disposition", f'attachment; filename="{name}.csv"'.encode()


# a spreadsheet takes a text that begins like this for a formula, and a link may bring any text
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def cell(value: Any) -> str:
    """Return a value as a cell: a number with all its digits, a text that is no formula, or nothing."""
    if value is None or value is UNSET:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    return f"'{value}" if str(value).startswith(_FORMULA) else str(value)


def number(value: float) -> str:
    """Return a number with all digits that mean something."""
    return f"{value:.10g}"


def flat(fields: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    """Return fields under the names that a query gives them: a dot leads into an object."""
    found: dict[str, Any] = {}
    for name, value in fields.items():
        if isinstance(value, Mapping):
            found |= flat(value, f"{before}{name}.")
        else:
            found[before + name] = value
    return found


def heading(name: str, taken: Mapping[str, str]) -> str:
    """Return a heading that no column has yet."""
    count, free = 1, name
    while free in taken:
        count += 1
        free = f"{name}_{count}"
    return free
