"""The row of names of a log: where it is, what separates its columns, and which column is what."""

import csv
import re
import unicodedata
from collections.abc import Sequence
from enum import IntEnum
from typing import Annotated, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType

from percell.questions.bench.log_reading import DecimalMark, Separator
from percell.questions.bench.log_units import Unit, symbols, unit_of
from percell.questions.vocabulary.refusal import Fault, FaultCode

NEEDED = ("time_s", "voltage_v", "current_a")
KNOWN = (*NEEDED, "temperature_c")
OWN_UNITS = dict(zip(KNOWN, (Unit("s"), Unit("V"), Unit("A"), Unit("°C")), strict=True))
# longer names are cut where a sentence quotes them, and longer still they are not looked at
_QUOTED = 40
_LONGEST_NAME = 80
# a tab or a semicolon in a row of names is there to separate; a comma may be part of a name
SEPARATORS = {"\t": Separator.TAB, ";": Separator.SEMICOLON, ",": Separator.COMMA}
# What bench instruments call their columns, with the same words in German, French and Spanish. Common
# practice, no published source; the terms of other languages are those of the IEV, from memory,
# unconfirmed.
_WORDS = {
    "time_s": "time elapsed timestamp datetime zeit temps tiempo",
    "voltage_v": "voltage volt vol u v vbat vcell vbatt ubat ucell ubatt spannung tension tensión",
    "current_a": "current curr cur i ibat icell ibatt strom stromstärke courant corriente",
    "temperature_c": "temperature temp tcell tbat tskin temperatur température temperatura",
}
_OF_WORD = {word: column for column, words in _WORDS.items() for word in words.split()}
# T is a temperature and t is a time, unless a unit says otherwise
_OF_LETTER = {"t": "time_s", "T": "temperature_c"}
# the time of one step, or the time of day: used only if there is no other
_SECOND_CHOICE = {"step", "cycle", "date", "datetime", "timestamp", "clock", "real", "system"}
# not what the cell shows at that moment, or not the cell
_NOT_THE_CELL = frozenset(
    "max maximum min minimum mean average avg limit set setpoint target nominal reference cutoff cut range "  # noqa: SIM905 - easier to read than a list
    "error status state mode index number count supply input".split()
)
_NOT_THE_SKIN = frozenset(
    "ambient room air chamber environment environmental oven internal system board device heatsink".split()  # noqa: SIM905 - easier to read than a list
)
# alone, these are no name of a column
_VAGUE_UNITS = {"c", "k", "f", "h", "min"}
# where a unit stands in a name: in brackets, after a slash, or last
_BRACKETS = re.compile(r"(.*?)\s*(?:\(([^()]*)\)|\[([^\[\]]*)\]|\{([^{}]*)\})")
_SLASH = re.compile(r"(.+)\s*/\s*([^/]+)")
_LAST = re.compile(r"(.+?)(?:_|,\s*|\s+in\s+|\s+)([^\s_,]+)")
_LETTERS = re.compile(r"[^\W\d_]+")
_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])")


def _given(what: str, units: str, example: str) -> Meta:
    return Meta(
        min_length=1,
        max_length=1000,
        description=f"Name of the column with the {what}. If the name has no unit, add one after a semicolon "
        f"({units}), such as `{example}`. Default: guessed from the names.",
    )


class GivenColumns(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a caller says about the columns of a CSV file."""

    time_column: Annotated[str, _given("time", "s, ms, min, h", "Elapsed;min")] | UnsetType = UNSET
    voltage_column: Annotated[str, _given("voltage", "V, mV", "U;mV")] | UnsetType = UNSET
    current_column: Annotated[str, _given("current", "A, mA", "Load;mA")] | UnsetType = UNSET
    temperature_column: (
        Annotated[str, _given("temperature", "°C, K, °F", "Probe 1;°C")] | UnsetType
    ) = UNSET
    decimal_mark: (
        Annotated[
            DecimalMark,
            Meta(description="Decimal mark of the numbers. Default: guessed from the numbers."),
        ]
        | UnsetType
    ) = UNSET


class Level(IntEnum):
    """How sure it is that a column is what it seems."""

    UNIT_ONLY = 0
    SECOND_CHOICE = 1
    NAMED = 2
    OURS = 3
    GIVEN = 4


class Column(NamedTuple):
    """A column of a file that is read as one of percell's own."""

    place: int
    name: str
    unit: Unit | None  # None if none is written
    level: Level
    unknown_unit: str = ""  # what is written as a unit, if percell does not know it


class Head(NamedTuple):
    """A row of names."""

    separator: str
    names: list[str]
    columns: dict[str, Column]
    faults: list[Fault]


def quoted(text: str) -> str:
    """Return a text of a file as a sentence quotes it."""
    return repr(text.strip()[:_QUOTED])


def fields_of(line: str, separator: str) -> list[str]:
    """Return the fields of a line."""
    # the csv module knows quotes; without any, splitting is several times as fast
    if '"' in line:
        try:
            return next(csv.reader([line], delimiter=separator), [""])
        except csv.Error:
            pass  # a lone carriage return is no end of a line here
    return line.split(separator)


def parameter(column: str) -> str:
    """Return the name of the field in which a caller gives a column: ``voltage_column`` of ``voltage_v``."""
    return f"{word(column)}_column"


def word(column: str) -> str:
    """Return what a column is in a word: ``voltage`` of ``voltage_v``."""
    return column.partition("_")[0]


def head_of(line: str, given: GivenColumns) -> Head | None:
    """Return a row of names, or None if the line names no time, voltage and current."""
    heads = [_head(line, separator, given) for separator in SEPARATORS]
    return next((head for head in heads if _is_whole(head)), None)


def faults_without_head(lines: Sequence[str], given: GivenColumns) -> list[Fault]:
    """Return what is missing in the line that comes closest to a row of names.

    Args:
        lines: Lines without a row of names, any.
        given: What the caller says.
    """
    heads = [_head(line, separator, given) for line in lines for separator in SEPARATORS]
    if not heads:
        what = "The body is empty. Begin with a row that names the columns."
        return [Fault("/rows/0", what, FaultCode.MISSING)]
    closest = max(heads, key=lambda head: (len(head.columns), -len(head.faults), len(head.names)))
    if closest.faults:
        return closest.faults
    there = ", ".join(quoted(name) for name in closest.names[:10])
    return [
        Fault(
            "/rows/0",
            f"There is no {word(column)} column. Name it {column}, or give its name in "
            f"{parameter(column)}. The columns are: {there}.",
            FaultCode.MISSING,
        )
        for column in NEEDED
        if column not in closest.columns
    ]


def _is_whole(head: Head) -> bool:
    return all(column in head.columns for column in NEEDED)


def _head(line: str, separator: str, given: GivenColumns) -> Head:
    names = [name.strip() for name in fields_of(line, separator)]
    columns: dict[str, Column] = {}
    faults: list[Fault] = []
    seen = [_seen(index, name) for index, name in enumerate(names)]
    for known in KNOWN:
        told = getattr(given, parameter(known))
        found = (
            [one[known] for one in seen if known in one]
            if told is UNSET
            else _columns_given(names, told, known)
        )
        best = max((one.level for one in found), default=None)
        chosen = [one for one in found if one.level == best]
        if chosen:
            columns[known] = chosen[0]
            faults += _faults_of(known, chosen, given)
        elif told is not UNSET:
            said = told.rpartition(";")[0] or told
            there = ", ".join(quoted(name) for name in names[:10])
            faults.append(
                Fault(
                    f"/{parameter(known)}",
                    f"There is no column {quoted(said)}. The columns are: {there}.",
                    FaultCode.NOT_ALLOWED,
                )
            )
    by_place: dict[int, str] = {}
    for known, column in columns.items():
        other = by_place.setdefault(column.place, known)
        if other != known:
            what = f"{quoted(column.name)} cannot be both the {word(other)} and the {word(known)}."
            faults.append(Fault(f"/{parameter(known)}", what))
    return Head(separator, names, columns, faults)


def _faults_of(column: str, chosen: list[Column], given: GivenColumns) -> list[Fault]:
    """Return what is wrong with the columns that may be one of percell's own, of which one can be."""
    first, *others = chosen
    if others:
        which = ", ".join(quoted(one.name) for one in chosen[:4])
        return [
            Fault(
                "/rows/0",
                f"{len(chosen)} columns could be the {word(column)}: {which}. Give the right one in "
                f"{parameter(column)}.",
            )
        ]
    if first.unknown_unit:
        told = getattr(given, parameter(column)) is not UNSET
        say = "" if told else f" Give the unit in {parameter(column)}."
        return [
            Fault(
                f"/{parameter(column)}" if told else "/rows/0",
                f"percell does not know {quoted(first.unknown_unit)} as a unit of the {word(column)}. It knows: "
                f"{', '.join(symbols(column))}.{say}",
                FaultCode.NOT_ALLOWED,
            )
        ]
    return []


def _columns_given(names: list[str], told: str, column: str) -> list[Column]:
    """Return the columns that the caller means: one, unless the file has its name twice."""
    name, _, unit_text = (told, "", "") if told.strip() in names else told.rpartition(";")
    found = []
    for index, one in enumerate(names):
        if one == name.strip():
            written = unit_text.strip() or _parts(one).unit_text
            unit = (
                OWN_UNITS[column] if one == column and not unit_text else unit_of(column, written)
            )
            unknown = written if unit is None and unit_text else ""
            found.append(Column(index, one, unit, Level.GIVEN, unknown))
    return found


class _Parts(NamedTuple):
    """A name without its unit, and its unit."""

    base: str
    unit_text: str
    marked: bool  # in brackets or after a slash, so that it can hardly be anything else


def _parts(name: str) -> _Parts:
    text = unicodedata.normalize("NFKC", name).strip()
    if len(text) > _LONGEST_NAME:
        return _Parts(text, "", False)
    if found := _BRACKETS.fullmatch(text):
        return _Parts(found[1], next(filter(None, found.groups()[1:]), "").strip(), True)
    for form, marked in ((_SLASH, True), (_LAST, False)):
        found = form.fullmatch(text)
        if found and any(unit_of(column, found[2]) for column in KNOWN):
            return _Parts(found[1], found[2], marked)
    return _Parts(text, "", False)


def _seen(index: int, name: str) -> dict[str, Column]:
    """Return what a column may be, by its name."""
    if name in KNOWN:
        return {name: Column(index, name, OWN_UNITS[name], Level.OURS)}
    if not name or len(name) > _LONGEST_NAME or re.search(r":(?! *[ms])", name):
        return {}  # "Date: 2026-01-01" is no name, "hh:mm:ss" may be a unit
    if name.casefold() not in _VAGUE_UNITS:
        for column in KNOWN:
            if unit := unit_of(column, name):  # "Volts"
                return {column: Column(index, name, unit, Level.NAMED)}
    parts = _parts(name)
    letters = _LETTERS.findall(_HUMP.sub(" ", parts.base))
    words = {letter.casefold() for letter in letters}
    by_unit = {known: unit for known in KNOWN if (unit := unit_of(known, parts.unit_text))}
    if words & _NOT_THE_CELL:
        return {}
    if len(letters) == 1 and letters[0] in _OF_LETTER and by_unit:
        meant = set(by_unit)
    else:
        meant = {_OF_LETTER.get(one) or _OF_WORD.get(one.casefold(), "") for one in letters} - {""}
    if words & _NOT_THE_SKIN and "temperature_c" in meant | set(by_unit):
        return {}
    if not meant and parts.marked:
        return {
            known: Column(index, name, unit, Level.UNIT_ONLY) for known, unit in by_unit.items()
        }
    if len(meant) != 1:
        return {}
    (column,) = meant
    if by_unit and column not in by_unit:
        if parts.marked:
            return {}  # a voltage in seconds is none
        words |= {parts.unit_text.casefold()}
        if words & _NOT_THE_CELL:
            return {}
    second = column == "time_s" and words & _SECOND_CHOICE
    level = Level.SECOND_CHOICE if second else Level.NAMED
    unknown = "" if column in by_unit or not parts.marked else parts.unit_text
    return {column: Column(index, name, by_unit.get(column), level, unknown)}
