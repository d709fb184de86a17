"""Cylindrical cells by trade size: dimensions, mass and the bounds of what is believable.

The five digits are trade usage: diameter in mm, height in tenths of mm. Real cells are up to a few
tenths of a millimetre larger. Masses are at the low end, for a lighter cell heats faster; resistances
are at the low end too, so that a doubt about a claim is never owed to a pessimistic bound.
"""

from typing import NamedTuple

MEMORY = "from memory, unconfirmed"


class Size(NamedTuple):
    """One size of cylindrical cell."""

    diameter_mm: float
    height_mm: float
    mass_kg: float
    mass_source: str
    lowest_resistance_ohm: float  # lowest believable internal d.c. resistance
    lowest_resistance_source: str


SIZES = {
    "18350": Size(18.0, 35.0, 0.023, MEMORY, 0.015, MEMORY),
    "18650": Size(
        18.0,
        65.0,
        0.0456,
        "lighter of two cells weighed by a third-party laboratory, 45.6 g and 47.0 g (secondary copy)",
        0.008,
        MEMORY,
    ),
    "20700": Size(20.0, 70.0, 0.058, MEMORY, 0.006, MEMORY),
    "21700": Size(21.0, 70.0, 0.066, MEMORY, 0.005, MEMORY),
    "26650": Size(26.0, 65.0, 0.085, MEMORY, 0.004, MEMORY),
}
