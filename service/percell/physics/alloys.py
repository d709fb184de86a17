"""Wire materials by generic name, as ``data/alloys.toml`` lists them."""

from math import pi
from typing import NamedTuple

from percell.physics.entries import DataError, read_entries

# one ohm.circular mil per foot: a circle of 1/1000 inch, over 0.3048 m
OHM_CMIL_FT_OHMM = pi / 4.0 * 0.0254e-3**2 / 0.3048
REFERENCE_C = 20.0


class Alloy(NamedTuple):
    """A wire material by its generic name. Every value has its source beside it."""

    name: str
    family: str
    standard: str
    resistivity_ohmm: float  # at 20 °C
    lowest_ohmm: float
    highest_ohmm: float
    resistivity_source: str
    spread_source: str
    temperatures_c: tuple[float, ...]  # where the ratio to 20 °C is known, ascending
    ratios: tuple[float, ...]
    temperature_source: str
    density_kgm3: float
    density_source: str
    specific_heat_j_kgk: float
    specific_heat_source: str


class _AlloyEntry(NamedTuple):
    """A wire material as the data file states it. The file says what each field means."""

    name: str
    family: str
    resistivity_source: str
    spread_source: str
    temperature_source: str
    density_kgm3: float
    density_source: str
    specific_heat_j_kgk: float
    specific_heat_source: str
    standard: str = ""
    resistivity_ohmm: tuple[float, float, float] | None = None
    resistivity_ohm_cmil_ft: tuple[float, float, float] | None = None
    resistance_ratios: tuple[tuple[float, float], ...] | None = None
    per_k: float | None = None
    linear_to_c: float | None = None


def _made(key: str, entry: _AlloyEntry) -> Alloy:
    lowest_ohmm, nominal_ohmm, highest_ohmm = _resistivity_ohmm(key, entry)
    points = _resistance_ratios(key, entry)
    return Alloy(
        name=entry.name,
        family=entry.family,
        standard=entry.standard,
        resistivity_ohmm=nominal_ohmm,
        lowest_ohmm=lowest_ohmm,
        highest_ohmm=highest_ohmm,
        resistivity_source=entry.resistivity_source,
        spread_source=entry.spread_source,
        temperatures_c=tuple(temperature_c for temperature_c, _ in points),
        ratios=tuple(ratio for _, ratio in points),
        temperature_source=entry.temperature_source,
        density_kgm3=entry.density_kgm3,
        density_source=entry.density_source,
        specific_heat_j_kgk=entry.specific_heat_j_kgk,
        specific_heat_source=entry.specific_heat_source,
    )


def _resistivity_ohmm(key: str, entry: _AlloyEntry) -> list[float]:
    """Return lowest, nominal and highest resistivity, whichever unit the source prints."""
    in_ohmm, printed = entry.resistivity_ohmm, entry.resistivity_ohm_cmil_ft
    if in_ohmm and not printed:
        return list(in_ohmm)
    if printed and not in_ohmm:
        return [value * OHM_CMIL_FT_OHMM for value in printed]
    raise DataError(f"alloys.toml, {key}: give one of resistivity_ohmm and resistivity_ohm_cmil_ft")


def _resistance_ratios(key: str, entry: _AlloyEntry) -> tuple[tuple[float, float], ...]:
    """Return the points of a curve; of a coefficient, the ends of its straight line and 20 °C."""
    curve, per_k, linear_to_c = entry.resistance_ratios, entry.per_k, entry.linear_to_c
    if curve and per_k is None and linear_to_c is None:
        return curve
    if not curve and per_k is not None and linear_to_c is not None:
        # a straight line is advised for changes up to about 100 K only: OpenStax University Physics
        # Vol. 2, module m58731
        rise_k = linear_to_c - REFERENCE_C
        return tuple(
            (REFERENCE_C + step_k, 1.0 + per_k * step_k) for step_k in (-rise_k, 0.0, rise_k)
        )
    raise DataError(f"alloys.toml, {key}: give either resistance_ratios, or per_k and linear_to_c")


def _read() -> dict[str, Alloy]:
    entries = read_entries(name="alloys", kind=_AlloyEntry)
    return {key: _made(key, entry) for key, entry in entries.items()}


ALLOYS = _read()
