"""Data files that people write: TOML, one table per entry, checked when they are read.

Scripts write the other data files, the JSON beside them.
"""

import json
import tomllib
from functools import cache
from math import isfinite
from pathlib import Path
from types import UnionType
from typing import Any, NamedTuple, TypeVar, get_args, get_origin, get_type_hints

DATA = Path(__file__).with_name("data")
Entry = TypeVar("Entry", bound=NamedTuple)


# how the source of a value says that nobody has confirmed it
UNCONFIRMED = "from memory, unconfirmed"


class DataError(ValueError):
    """A data file is wrong. The text is one line: the file, the entry, the field and the fault."""


@cache
def read_data(name: str) -> dict[str, Any]:
    """Read one of the data files that scripts write, once."""
    content: dict[str, Any] = json.loads((DATA / f"{name}.json").read_text(encoding="utf-8"))
    return content


def read_entries(*, name: str, kind: type[Entry]) -> dict[str, Entry]:
    """Return the entries of a data file.

    Each entry has every field of its kind, except those with a default, and no other field.

    Args:
        name: Name of the file without its ending. [name], any TOML file of the data folder
        kind: Named tuple whose fields are words, numbers, lists of them, or optional. [class], any

    Returns:
        Entries by id, in the order of the file. [by id]

    Raises:
        DataError: The file is no TOML, or an entry lacks a field, has an unknown one, or holds a
            value of another type, an empty word, or a number that is not finite.

    Source:
        Each entry names its own.

    >>> class Wire(NamedTuple):
    ...     name: str
    ...     density_kgm3: float
    >>> read_entries(name="no_such_file", kind=Wire)
    Traceback (most recent call last):
    percell.physics.entries.DataError: no_such_file.toml: there is no such file
    """
    path = DATA / f"{name}.toml"
    try:
        entries = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise DataError(f"{path.name}: there is no such file") from error
    except ValueError as error:
        raise DataError(f"{path.name}: {error}") from error
    return {key: _checked(f"{path.name}, {key}", entry, kind) for key, entry in entries.items()}


def _checked(where: str, entry: Any, kind: type[Entry]) -> Entry:
    hints, optional = get_type_hints(kind), kind._field_defaults
    if not isinstance(entry, dict):
        raise DataError(f"{where}: an entry is a table")
    for field in hints:
        if field not in entry and field not in optional:
            raise DataError(f"{where}: the field {field} is missing")
    for field, value in entry.items():
        if field not in hints:
            raise DataError(f"{where}: there is no field {field}")
        if not _fits(value, hints[field]):
            raise DataError(f"{where}: {value!r} is not right for the field {field}")
    return kind._make(
        _frozen(entry[field]) if field in entry else optional[field] for field in hints
    )


def _fits(value: Any, hint: Any) -> bool:
    """Whether a value read from TOML is one of a type."""
    if isinstance(hint, UnionType):
        return any(_fits(value, one) for one in get_args(hint))
    if get_origin(hint) is tuple:
        kinds = get_args(hint)
        if not isinstance(value, list) or not value:
            return False
        if kinds[-1] is Ellipsis:
            return all(_fits(one, kinds[0]) for one in value)
        return len(value) == len(kinds) and all(map(_fits, value, kinds))
    if hint is float:
        return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
    return isinstance(value, hint) and value != ""


def _frozen(value: Any) -> Any:
    """Return lists as tuples, and whole numbers as they are calculated with."""
    if isinstance(value, list):
        return tuple(map(_frozen, value))
    return float(value) if isinstance(value, int) else value
