"""Is a printed rating believable for a cell of its size?

Three bounds: the energy that the volume of a cylinder can hold, the temperature at which a discharge at
the printed current ends, and how many times its capacity in an hour a cell gives. None proves a claim;
each can only make one hard to believe.
"""

from math import exp, expm1, sqrt
from typing import NamedTuple

import numpy as np

from percell.physics.entries import UNCONFIRMED
from percell.physics.errors import NoSolution
from percell.physics.heat import temperature_after_c
from percell.physics.types import Quantity


class Bound(NamedTuple):
    """A bound of what is believable, and where it comes from."""

    value: float
    source: str


# energy of a whole cell over the volume of its cylinder, in Wh/L
USUAL_DENSITY_WHL = Bound(
    750.0,
    "computed: 5.0 Ah at 3.6 V in 24.2 cm3, the 21700 cell of Chen et al., J. Electrochem. Soc. 167 "
    "(2020) 080534, is 743 Wh/L",
)
HIGHEST_DENSITY_WHL = Bound(900.0, UNCONFIRMED)
# chemistries that hold clearly less; the others have the bounds of a nickel-rich cell, in the label's favour
_HALF = (
    f"{UNCONFIRMED}: iron phosphate holds about half the energy per volume of a nickel-rich cell"
)
_LOWER_DENSITIES_WHL = {"lfp": (Bound(375.0, _HALF), Bound(450.0, _HALF))}
# surface temperature at the end of a discharge: above it a rating is not believable
HIGHEST_END_C = Bound(
    80.0, "common practice, no published source; cells are usually rated to 60 °C"
)

# continuous current over capacity, in 1/h: the heat of a discharge alone would let a cell of little
# capacity give any current, because it is over before the cell is warm
USUAL_RATE_H = Bound(
    30.0,
    f"{UNCONFIRMED}: round cells for high drain are rated for up to some 28 times their "
    "capacity per hour",
)
HIGHEST_RATE_H = Bound(40.0, UNCONFIRMED)


def density_bounds(*, chemistry: str) -> tuple[Bound, Bound]:
    """Return the usual and the highest energy density of a cell of a chemistry.

    Args:
        chemistry: The chemistry. [word], any

    Returns:
        Both bounds. [Wh/L]

    Source:
        Of each bound its own.

    >>> [bound.value for bound in density_bounds(chemistry="lfp")]
    [375.0, 450.0]
    """
    return _LOWER_DENSITIES_WHL.get(chemistry, (USUAL_DENSITY_WHL, HIGHEST_DENSITY_WHL))


def cell_volume_litre(*, diameter_mm: Quantity, height_mm: Quantity) -> Quantity:
    """Return the volume of a cylindrical cell.

    ``π·d²·h/4``.

    Args:
        diameter_mm: Diameter. [mm], > 0
        height_mm: Height. [mm], > 0

    Returns:
        Volume. [L]

    Source:
        Geometry.

    >>> round(cell_volume_litre(diameter_mm=18.0, height_mm=65.0), 5)
    0.01654
    """
    return np.pi / 4.0 * diameter_mm * diameter_mm * height_mm * 1e-6


def highest_capacity_ah(
    *,
    diameter_mm: Quantity,
    height_mm: Quantity,
    nominal_voltage_v: Quantity,
    density_whl: Quantity,
) -> Quantity:
    """Return the highest capacity that a cylindrical cell can have at an energy density.

    ``w·V/U_nom``.

    Args:
        diameter_mm: Diameter. [mm], > 0
        height_mm: Height. [mm], > 0
        nominal_voltage_v: Nominal voltage. [V], > 0
        density_whl: Energy over volume, w. [Wh/L], > 0

    Returns:
        Capacity. [Ah]

    Source:
        Definition; the density's own source.

    >>> round(highest_capacity_ah(diameter_mm=20.0, height_mm=70.0, nominal_voltage_v=3.6,
    ...     density_whl=900.0), 3)
    5.498
    """
    volume_l = cell_volume_litre(diameter_mm=diameter_mm, height_mm=height_mm)
    return density_whl * volume_l / nominal_voltage_v


def end_temperature_c(
    *,
    ambient_c: Quantity,
    current_a: Quantity,
    capacity_ah: Quantity,
    resistance_ohm: Quantity,
    heat_capacity_jk: Quantity,
    conductance_wk: Quantity,
) -> Quantity:
    """Return the temperature of a cell at the end of one whole discharge at constant current.

    ``heat.temperature_after_c`` after ``t = Q/I``, from the air's temperature, with the loss ``I²·r``. With the
    lowest believable resistance the label gets the benefit of the doubt: no measured cell lost so little.

    Args:
        ambient_c: Temperature of the air and of the cell at the start. [°C], finite
        current_a: Current. [A], > 0
        capacity_ah: Capacity. [Ah], > 0
        resistance_ohm: Internal d.c. resistance. [ohm], >= 0
        heat_capacity_jk: Heat capacity of the cell. [J/K], > 0
        conductance_wk: Conductance to the air. [W/K], >= 0

    Returns:
        Temperature. [°C]

    Source:
        Lumped heat balance, solved in closed form.

    10 A for 3600 s in 0.01 ohm are 3600 J:

    >>> end_temperature_c(ambient_c=20.0, current_a=10.0, capacity_ah=10.0, resistance_ohm=0.01,
    ...     heat_capacity_jk=90.0, conductance_wk=0.0)
    60.0
    """
    return temperature_after_c(
        start_c=ambient_c,
        ambient_c=ambient_c,
        loss_w=current_a * current_a * resistance_ohm,
        time_s=3600.0 * capacity_ah / current_a,
        heat_capacity_jk=heat_capacity_jk,
        conductance_wk=conductance_wk,
    )


def highest_current_a(
    *,
    ambient_c: float,
    end_c: float,
    capacity_ah: float,
    resistance_ohm: float,
    heat_capacity_jk: float,
    conductance_wk: float,
) -> float:
    """Return the current with which one whole discharge ends at a temperature.

    ``end_temperature_c`` solved for the current by Newton's method:
    ``f(I) = I·(1 − e^(−x))/x = C·ΔT/(3600·Q·r)`` with ``x = I_τ/I`` and ``I_τ = 3600·Q·G/C``. The end
    temperature rises with the current, from the air's temperature without bound, so that there is one
    answer; without cooling it is the right side, and any cooling allows more.

    Args:
        ambient_c: Temperature of the air and of the cell at the start. [°C], finite
        end_c: Temperature at the end. [°C], > ambient_c
        capacity_ah: Capacity. [Ah], > 0
        resistance_ohm: Internal d.c. resistance. [ohm], > 0
        heat_capacity_jk: Heat capacity of the cell. [J/K], > 0
        conductance_wk: Conductance to the air. [W/K], >= 0

    Returns:
        Current. [A]

    Raises:
        NoSolution: The air is at least as warm as the temperature asked for.

    Source:
        Lumped heat balance.

    >>> highest_current_a(ambient_c=20.0, end_c=60.0, capacity_ah=10.0, resistance_ohm=0.01,
    ...     heat_capacity_jk=90.0, conductance_wk=0.0)
    10.0
    """
    if end_c <= ambient_c:
        raise NoSolution(
            "air_too_warm",
            "The air is as warm as the temperature that must not be exceeded, or warmer.",
            ambient_temperature_c=ambient_c,
            end_temperature_c=end_c,
        )
    room_k = end_c - ambient_c
    uncooled_a = heat_capacity_jk * room_k / (3600.0 * capacity_ah * resistance_ohm)
    # with this current a discharge takes one thermal time constant
    turn_a = 3600.0 * capacity_ah * conductance_wk / heat_capacity_jk
    # f rises and is convex, so Newton's method comes down to the answer from any start above it.
    # This start is above: f(I) ≥ I²/(I + I_τ), because (1 − e^(−x))/x ≥ 1/(1 + x).
    half_a = 0.5 * uncooled_a
    current_a = half_a + sqrt(half_a * half_a + conductance_wk * room_k / resistance_ohm)
    while True:
        x = turn_a / current_a
        part = -expm1(-x) / x if x else 1.0
        lower_a = current_a - (current_a * part - uncooled_a) / (2.0 * part - exp(-x))
        if lower_a >= current_a:
            return current_a
        current_a = lower_a
