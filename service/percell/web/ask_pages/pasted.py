"""Lists of cells or setups as a spreadsheet or a note has them, one a line, read into the fields of a query."""

import re
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from percell.questions.bench.log_units import Unit
from percell.questions.vocabulary.labels import lowered
from percell.web.ask_pages.fields import Asked, Field, Rows, form_of
from percell.web.ask_pages.numbers import (
    is_unit,
    number_in,
    separates,
    unit_called,
    why_no_number,
    with_other_unit,
)
from percell.web.ask_pages.typed import Fault, Pairs
from percell.web.log_names import fields_of

Entry = dict[str, str]  # the value of each column by its name, empty where there is none
MOST_FAULTS = 20
_QUOTED = 40
_LAYOUT = re.compile(r"\d+ ?s ?\d+ ?p", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?[.,]?\d")
# "2,9" alone could be one number or two
_LIKE_DECIMAL = re.compile(r"(?<![\w.,])[+-]?\d+,\d")
# as notes begin a line
_BULLET = re.compile(r"^\s*(?:[-*•–]|\d+[.)])\s+(?=\S)")
_SEPARATE = "Separate the values by semicolons or tabs."
_SPACED = (
    "The lines were divided at their spaces, because they have no other separator. Separate the values by tabs, "
    "semicolons or commas."
)
# a unit in brackets, after a slash, or last
_TITLE = re.compile(r"(.*?)\s*(?:[(\[{/]\s*([^()\[\]{}/]*?)\s*[)\]}]?|[\s_]([^\s_]+))")
# how people write a quantity in short, by its unit
_SYMBOLS = {"Ω": {"r", "ri", "ir", "dcir"}, "V": {"u", "ocv", "v"}, "Ah": {"q", "cap"}}
_NAMES = {"name", "label", "cell", "setup", "no", "no.", "nr", "nr.", "number", "#", "id"}


class Column(NamedTuple):
    """What a column of a list is: a field, or a name for which the question has none."""

    field: Field | None
    unit: Unit | None = None


class Unreadable(Exception):
    """A list that cannot be read, with the reason for each line."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(f"{len(faults)} faults")
        self.faults = faults


def entries_in(text: str, rows: Rows, room: int) -> list[Entry]:
    """Return the entries of a list as it was pasted.

    Args:
        text: One entry a line, its values between tabs, semicolons or commas, perhaps after a line that names the columns.
        rows: The fields of an entry.
        room: How many entries the form still takes.

    Raises:
        Unreadable: A line cannot be read, or there are too many.
    """
    numbered = [
        (n, line) for n, line in enumerate(text.lstrip("\ufeff").splitlines(), 1) if line.strip()
    ]
    if not numbered:
        return []
    lines = _divided([_BULLET.sub("", line) for _, line in numbered], rows)
    numbers = [n for n, _ in numbered]
    place = f"f-{rows.pasted}"

    def refuse(faults: dict[int, list[str]]) -> None:
        if any(faults.values()):
            told = [Fault(place, f"Line {n}", one) for n, all_ in faults.items() for one in all_]
            # a name or a wiring with a space in it is then two values
            spaced = not re.search("[\t;,]", text) and any(len(line) > 1 for line in lines)
            separators = [Fault(place, rows.label, _SPACED)] if spaced else []
            raise Unreadable([*separators, *told[:MOST_FAULTS]])

    if _is_head(lines[0]):
        columns, wrong = _columns_named(lines[0], rows)
        refuse({numbers[0]: wrong})
        lines, numbers = lines[1:], numbers[1:]
        if not lines:
            raise Unreadable([Fault(place, rows.label, "There is no line below the names.")])
    else:
        columns = _usual_columns(lines, rows)
    if len(lines) > room:
        detail = f"The list has {len(lines)}, and the form has room for {room} more."
        raise Unreadable([Fault(place, rows.label, detail)])
    read = [_read(line, columns) for line in lines]
    refuse({n: wrong for n, (_, wrong) in zip(numbers, read, strict=True)})
    entries = [entry for entry, _ in read]
    refuse(_without_unit(dict(zip(numbers, entries, strict=True)), rows))
    return entries


def _without_unit(entries: Mapping[int, Entry], rows: Rows) -> dict[int, list[str]]:
    """Return for each column the first line whose number is too high and fits in a smaller unit."""
    found: dict[int, list[str]] = {}
    for field in rows.columns:
        _, high = field.bounds
        for n, entry in entries.items():
            value = entry.get(field.name, "")
            if field.kind != "number" or not value or float(value) <= high:
                continue
            if other := with_other_unit(value, field.reads, field.bounds):
                found.setdefault(n, []).append(
                    f"{field.label}: {value} {field.unit} is too high. If you mean {other}, write the units, "
                    f"or name the columns in the first line: {rows.titles}."
                )
                break
    return found


def with_pasted(question: Asked, pairs: Pairs) -> Pairs:
    """Return names and values with the entries of pasted lists as fields, after those that were typed.

    Raises:
        Unreadable: A list cannot be read.
    """
    for rows in form_of(question).lists.values():
        text = "\n".join(value for name, value in pairs if name == rows.pasted)
        if not text:
            continue
        pairs = [pair for pair in pairs if pair[0] != rows.pasted]
        typed: dict[str, list[str]] = {}
        for name, value in pairs:
            typed.setdefault(name, []).append(value)
        count = rows.typed(typed)
        entries = entries_in(text, rows, rows.most - count)
        for column in rows.columns:
            if column.name in typed or any(column.name in entry for entry in entries):
                before = typed.get(column.name, [""] * count)
                typed[column.name] = [*before, *(one.get(column.name, "") for one in entries)]
        pairs = [(name, value) for name, values in typed.items() for value in values]
    return pairs


def _divided(lines: list[str], rows: Rows) -> list[list[str]]:
    """Return the values of each line, without the empty ones at its end."""
    return [_trimmed(line) for line in _by_separator(lines, rows)]


def _trimmed(values: list[str]) -> list[str]:
    values = [value.strip() for value in values]
    while values and not values[-1]:
        values.pop()
    return values


def _by_separator(lines: list[str], rows: Rows) -> list[list[str]]:
    text = "\n".join(lines)
    usual = max("\t;", key=lambda mark: sum(mark in line for line in lines))
    if usual in text:
        return [fields_of(line, usual) for line in lines]
    if "," not in text:
        return [_by_spaces(line) for line in lines]
    spaced = [re.split(r",\s+", line.strip()) for line in lines]
    if any(len(line) > 1 for line in spaced) and not any(
        separates(value) for line in spaced for value in line
    ):
        return spaced
    by_comma = [fields_of(line, ",") for line in lines]
    if not _LIKE_DECIMAL.search(text) or re.search(r"\d\.\d", text):
        return by_comma
    if _is_head(by_comma[0]) and len({len(line) for line in by_comma}) == 1:
        return by_comma
    if not re.search(r",(\s|$)", text) and all(re.search(r"\S\s+\S", line) for line in lines):
        return [_by_spaces(line) for line in lines]
    detail = f"A comma here could be a decimal comma or stand between two values. {_SEPARATE}"
    raise Unreadable([Fault(f"f-{rows.pasted}", rows.label, detail)])


def _by_spaces(line: str) -> list[str]:
    """Return the values of a line between spaces; a unit belongs to the number before it."""
    values: list[str] = []
    for word in line.split():
        if values and is_unit(word) and re.fullmatch(r"[\d.,+-]+", values[-1]):
            values[-1] += f" {word}"
        else:
            values.append(word)
    return values


def _is_head(values: list[str]) -> bool:
    return not any(_NUMBER.match(value) for value in values)


def _columns_named(titles: list[str], rows: Rows) -> tuple[list[Column], list[str]]:
    """Return the columns that a line names, and what is wrong with it."""
    columns: list[Column] = []
    wrong: list[str] = []
    unknown: list[str] = []
    for place, title in enumerate(titles, 1):
        found = list(_meant(title, rows))
        said = f"“{title[:_QUOTED]}”"
        if not title and place > 1:
            wrong.append(f"Column {place} has no name.")
        elif len(found) == 1:
            columns.append(found[0])
        elif found:
            which = " or ".join(f"“{one.field.label}”" for one in found if one.field)
            wrong.append(f"{said} could be {which}. Use the label.")
        else:
            unknown.append(said)
    if unknown:
        known = ", ".join(f"“{one.label}”" for one in rows.first)
        what = f"percell does not know the {'column' if len(unknown) == 1 else 'columns'}"
        wrong.append(
            f"{what} {', '.join(unknown)}. Leave it out, or name it by a label of the form, such as {known}."
        )
    names = [column.field.name for column in columns if column.field]
    twice = [one.label for one in rows.columns if names.count(one.name) > 1]
    wrong += [f"Two columns are “{label}”." for label in twice]
    return columns, wrong


def _meant(title: str, rows: Rows) -> Iterator[Column]:
    """Yield the columns that a title may mean: those in sight if one of them fits."""
    named = _name_of(rows)
    if title.casefold() in {*_NAMES, ""}:
        yield Column(named)
        return
    found = _TITLE.fullmatch(title)
    base, written = (found[1], found[2] or found[3]) if found else (title, "")
    if is_unit(title):
        base, written = "", title
    if not is_unit(written or ""):
        base, written = title, ""
    words = set(re.findall(r"[a-z]+", base.casefold()))
    fitting = [
        Column(column, unit_called(written, column.reads) if written else None)
        for column in rows.columns
        if (not written or unit_called(written, column.reads))
        and (
            words <= _words_of(column)
            if words - _SYMBOLS.get(column.unit, set())
            else words or written
        )
    ]
    for some in (
        [one for one in fitting if one.field and title.casefold() == one.field.label.casefold()],
        [one for one in fitting if one.field in rows.first],
        fitting,
    ):
        if some:
            yield from some
            return


def _words_of(column: Field) -> set[str]:
    said = f"{column.label} {column.name.partition('.')[2]}"
    return set(re.findall(r"[a-z]+", said.casefold()))


def _name_of(rows: Rows) -> Field | None:
    return next((one for one in rows.columns if one.name == f"{rows.name}.label"), None)


def _usual_columns(lines: list[list[str]], rows: Rows) -> list[Column]:
    """Return the columns of a list without titles: in the order of the form, after a name if there is one."""
    name = _name_of(rows)
    columns = [Column(one) for one in rows.columns if one != name]
    first = columns[0].field
    # a slip in one line makes no column of names
    names = [line for line in lines if line and line[0] and not _is_value(line[0], first)]
    named = all(len(line) == len(columns) + 1 for line in lines) or 2 * len(names) > len(lines)
    return [Column(name), *columns] if named else columns


def _is_value(text: str, column: Field | None) -> bool:
    """Return whether a text could be a value of a column, and not a name."""
    if column and column.kind == "text":
        return bool(_LAYOUT.fullmatch(text))
    return bool(_NUMBER.match(text))


def _read(values: list[str], columns: list[Column]) -> tuple[Entry, list[str]]:
    """Return an entry, and what is wrong with its line."""
    if len(values) > len(columns):
        known = ", ".join(lowered(one.field.label) if one.field else "name" for one in columns)
        detail = f"There are {len(values)} values for {len(columns)} columns: {known}."
        return {}, [detail]
    entry: Entry = {}
    wrong: list[str] = []
    for value, (field, unit) in zip(values, columns, strict=False):
        if field is None or not value:
            continue
        entry[field.name] = value
        if field.kind in ("number", "whole"):
            number = number_in(value, field.reads, field.bounds, unit)
            if number is None:
                wrong.append(f"{field.label}: {why_no_number(value, field.reads)}")
            else:
                entry[field.name] = number
        elif field.kind == "choice":
            words = {
                said.casefold(): one.value
                for one in field.choices
                for said in (one.text, one.value)
            }
            entry[field.name] = words.get(value.casefold(), value)
    return entry, wrong
