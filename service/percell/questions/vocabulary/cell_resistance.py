"""The resistance of a cell: as measured, or else by what is known of the cell; high or low, as is careful."""

from typing import Any, ClassVar

import numpy as np
from msgspec import UNSET, Struct, UnsetType

from percell.physics import measured_cells
from percell.physics.claim import cell_volume_litre
from percell.physics.meter import NOISE
from percell.physics.sizes import SIZES
from percell.physics.types import Number, as_given, is_array, somewhere
from percell.questions.vocabulary import fields

USUAL_TEMPERATURE_C = 25.0
# stands for a rating that bounds nothing
_NO_RATING_A = 1e-9
# the size of the cells of which the usual capacity is known
_USUAL_SIZE = "18650"


class OwnResistance(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The resistance of a cell, and after how many seconds it was read."""

    # by it the resistance is assumed where neither it nor the capacity is known
    usual_capacity_ah: ClassVar[float] = fields.USUAL_CAPACITY_AH

    cell_resistance_ohm: fields.CellResistanceOhm | UnsetType = UNSET
    cell_resistance_after_s: fields.CellResistanceAfterS = fields.AFTER_S


class WarmOrCold(OwnResistance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The same, and the temperature of the cell."""

    cell_temperature_c: fields.LoadedCellTemperatureC = USUAL_TEMPERATURE_C


def lasting_ohm(asked: Any) -> Number:
    """Return the resistance after 10 s at the cell's temperature: high where nobody measured it.

    A measured one holds for the cell as it is, at 25 °C.
    """
    ratio = measured_cells.temperature_ratio(temperature_c=temperature_c(asked))
    return at_usual_temperature(asked) * ratio


def at_usual_temperature(asked: Any) -> Number:
    """Return the resistance after 10 s at 25 °C: high where nobody measured it."""
    own_ohm = asked.cell_resistance_ohm
    if own_ohm is UNSET:
        ohm = measured_cells.usual_resistance_ohm(**_known(asked))
        health = getattr(asked, "cell_health", 1.0)
        ohm = ohm * measured_cells.aged_ratio(health=health)
    else:
        ohm = measured_cells.ten_second_resistance_ohm(
            resistance_ohm=own_ohm, after_s=asked.cell_resistance_after_s
        )
    return ohm


def low_ohm(asked: Any) -> Number:
    """Return the resistance after 0.1 s, low rather than high."""
    own_ohm = asked.cell_resistance_ohm
    if own_ohm is UNSET:
        return measured_cells.low_resistance_ohm(**_known(asked))
    return measured_cells.LOW_PART * at_usual_temperature(asked)


def first_ohm(asked: Any) -> Number:
    """Return the resistance as given, or else after 0.1 s: low where nobody measured it."""
    own_ohm = asked.cell_resistance_ohm
    return measured_cells.low_resistance_ohm(**_known(asked)) if own_ohm is UNSET else own_ohm


FIRST_FROM = (
    "low for a cell of this capacity, after 0.1 s of load, from measured cells, because a high current "
    "is the worst case here; give your own"
)


def temperature_c(asked: Any) -> Number:
    """Return the temperature of the cell: its own, or that of the air."""
    around_c = getattr(asked, "ambient_temperature_c", USUAL_TEMPERATURE_C)
    found = getattr(asked, "cell_temperature_c", UNSET)
    at_c: Number = around_c if found is UNSET else found
    return at_c


def printed_capacity_ah(asked: Any) -> Number:
    """Return the capacity of a new cell, with a stand-in for one that was not given."""
    capacity_ah = getattr(asked, "cell_capacity_ah", UNSET)
    known_ah: Number = _usual_capacity_ah(asked) if capacity_ah is UNSET else capacity_ah
    return known_ah


def _known(asked: Any) -> dict[str, Number]:
    """Return capacity and rating of a cell, with stand-ins for what was not given."""
    rating_a = getattr(asked, "cell_rating_a", UNSET)
    return {
        "capacity_ah": printed_capacity_ah(asked),
        "rating_a": _NO_RATING_A if rating_a is UNSET else rating_a,
    }


def _usual_capacity_ah(asked: Any) -> Number:
    """Return the capacity of a cell of which it is not known: less in a smaller size, by its volume."""
    size = getattr(asked, "cell_size", UNSET)
    usual_ah = getattr(asked, "usual_capacity_ah", fields.USUAL_CAPACITY_AH)
    if size is UNSET:
        return usual_ah
    litre = np.reshape([_litre(word) for word in np.ravel(size)], np.shape(size))
    part: Any = np.minimum(litre / _litre(_USUAL_SIZE), 1.0)
    found: Number = as_given(usual_ah * part, part)
    return found


def _litre(size: str) -> float:
    cell = SIZES[size]
    return float(cell_volume_litre(diameter_mm=cell.diameter_mm, height_mm=cell.height_mm))


def how_assumed(asked: Any) -> str:
    """Return from what a resistance that nobody measured follows."""
    capacity_ah = getattr(asked, "cell_capacity_ah", UNSET)
    rating_a = getattr(asked, "cell_rating_a", UNSET)
    health = getattr(asked, "cell_health", 1.0)
    if capacity_ah is UNSET:
        usual_ah = _usual_capacity_ah(asked)
        cell = "cells of their size" if is_array(usual_ah) else f"a cell of {usual_ah:.3g} Ah"
    else:
        cell = "cells of these capacities" if is_array(capacity_ah) else "a cell of this capacity"
    if rating_a is not UNSET:
        cell += " and this rating" if capacity_ah is UNSET else " and rating"
    if somewhere(health < 1 - NOISE):
        cell += ", aged"
    return f"high for {cell}, after 10 s of load at 25 °C, from measured cells; give your own"
