"""Cylindrical cells by trade size, as ``data/sizes.toml`` lists them."""

from typing import NamedTuple

from percell.physics.entries import DataError, read_entries


class Size(NamedTuple):
    """One size of cylindrical cell."""

    diameter_mm: float
    height_mm: float
    mass_kg: float
    mass_source: str
    lowest_resistance_ohm: float
    lowest_resistance_source: str


class _SizeEntry(NamedTuple):
    """A size as the data file states it. The file says what each field means."""

    mass_kg: float
    mass_source: str
    lowest_resistance_ohm: float
    lowest_resistance_source: str


def _made(key: str, entry: _SizeEntry) -> Size:
    if not (len(key) == 5 and key.isascii() and key.isdecimal()):
        raise DataError(f"sizes.toml, {key}: a size is named by five digits")
    return Size(float(key[:2]), int(key[2:]) / 10, *entry)


def _read() -> dict[str, Size]:
    entries = read_entries(name="sizes", kind=_SizeEntry)
    return {key: _made(key, entry) for key, entry in entries.items()}


SIZES = _read()
