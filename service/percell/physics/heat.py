"""Temperature of a cell that heats itself: one lump of heat capacity C in air.

``C·dT/dt = P − G·(T − T_a)`` with C = m·c, the loss P and the conductance G = h·A to the air. A lump has one
temperature: the core of a real cell is hotter than its skin. Heat from its contacts is left out. The loss
is that of a load of minutes, see ``measured_cells.lasting_heat_w``, and held constant: also in short draws,
because draw after draw keeps the slow processes in a cell going.

Every closed form here also holds without cooling, G = 0, unless it says otherwise.
"""

from typing import Generic, NamedTuple

import numpy as np

from percell.physics.chemistries import CHEMISTRIES
from percell.physics.errors import NoSolution
from percell.physics.measured_cells import SLOW_HEAT_V
from percell.physics.types import Quantity, as_given


class Assumed(NamedTuple):
    """A value that stands in for one not given, and where it comes from."""

    value: float
    source: str


# by chemistry, as far as one is published, in J/(kg.K); the lowest heats fastest
SPECIFIC_HEAT_J_KGK = {
    key: Assumed(entry.specific_heat_j_kgk, entry.specific_heat_from)
    for key, entry in CHEMISTRIES.items()
    if entry.specific_heat_j_kgk is not None and entry.specific_heat_from is not None
}
# by surroundings, total of convection and radiation, in W/(m2.K)
HEAT_TRANSFER_WM2K = {
    "room": Assumed(
        10.0,
        "still air, convection and radiation: default of the PyBaMM parameter sets Chen2020 and ORegan2022",
    ),
    "pocket": Assumed(
        2.0,
        "lowest of the range of free convection in gases, 2 to 25 W/(m2.K), Çengel, notes on "
        "convection; percell's choice for a closed tube or a pocket, without radiation",
    ),
}


def lateral_area_m2(*, diameter_mm: Quantity, height_mm: Quantity) -> Quantity:
    """Return the area of the side of a cylindrical cell.

    ``π·d·h``. The ends sit on contacts in a device, so that the side alone is the careful choice.

    Args:
        diameter_mm: Diameter. [mm], > 0
        height_mm: Height. [mm], > 0

    Returns:
        Area. [m2]

    Source:
        Geometry.

    >>> round(lateral_area_m2(diameter_mm=18.0, height_mm=65.0), 5)
    0.00368
    """
    return np.pi * diameter_mm * height_mm * 1e-6


def total_area_m2(*, diameter_mm: Quantity, height_mm: Quantity) -> Quantity:
    """Return the area of a cylindrical cell with both ends.

    ``π·d·(h + d/2)``.

    Args:
        diameter_mm: Diameter. [mm], > 0
        height_mm: Height. [mm], > 0

    Returns:
        Area. [m2]

    Source:
        Geometry.

    >>> round(total_area_m2(diameter_mm=21.0, height_mm=70.0), 5)
    0.00531
    """
    return np.pi * diameter_mm * (height_mm + 0.5 * diameter_mm) * 1e-6


def thermal_time_s(*, heat_capacity_jk: Quantity, conductance_wk: Quantity) -> Quantity:
    """Return the time in which a cell covers 63 % of the way to its steady temperature.

    ``τ = C/G``.

    Args:
        heat_capacity_jk: Heat capacity of the cell, mass times specific heat. [J/K], > 0
        conductance_wk: Conductance to the air, heat transfer times area. [W/K], > 0

    Returns:
        Time constant. [s]

    Source:
        Lumped heat balance.

    >>> thermal_time_s(heat_capacity_jk=40.0, conductance_wk=0.04)
    1000.0
    """
    return heat_capacity_jk / conductance_wk


def steady_temperature_c(
    *, ambient_c: Quantity, loss_w: Quantity, conductance_wk: Quantity
) -> Quantity:
    """Return the temperature that a cell under constant loss comes to in the end.

    ``T_a + P/G``. Where it is higher than a cell survives it only says that air cannot cool it.

    Args:
        ambient_c: Temperature of the air. [°C], finite
        loss_w: Heat made in the cell. [W], >= 0
        conductance_wk: Conductance to the air. [W/K], > 0

    Returns:
        Temperature. [°C]

    Raises:
        NoSolution: There is no conductance: the temperature rises without end.

    Source:
        Lumped heat balance.

    >>> steady_temperature_c(ambient_c=20.0, loss_w=1.0, conductance_wk=0.05)
    40.0
    """
    _must_cool(conductance_wk)
    return ambient_c + loss_w / conductance_wk


def temperature_after_c(
    *,
    start_c: Quantity,
    ambient_c: Quantity,
    loss_w: Quantity,
    time_s: Quantity,
    heat_capacity_jk: Quantity,
    conductance_wk: Quantity,
) -> Quantity:
    """Return the temperature of a cell after a time under constant loss.

    ``T_a + (T_0 − T_a)·e^(−x) + (P·t/C)·(1 − e^(−x))/x`` with ``x = G·t/C``. Written with ``P·t/C``,
    the rise without cooling, so that G = 0 divides by nothing.

    Args:
        start_c: Temperature at the start. [°C], finite
        ambient_c: Temperature of the air. [°C], finite
        loss_w: Heat made in the cell; 0 while it rests. [W], >= 0
        time_s: Time. [s], >= 0
        heat_capacity_jk: Heat capacity of the cell. [J/K], > 0
        conductance_wk: Conductance to the air. [W/K], >= 0

    Returns:
        Temperature. [°C]

    Source:
        Lumped heat balance, solved in closed form.

    >>> temperature_after_c(start_c=20.0, ambient_c=20.0, loss_w=8.0, time_s=10.0,
    ...     heat_capacity_jk=40.0, conductance_wk=0.0)
    22.0
    """
    rate = conductance_wk / heat_capacity_jk
    rise_k = loss_w * time_s / heat_capacity_jk * _cooled_part(rate * time_s)
    left = as_given(np.exp(-rate * time_s), time_s)
    return ambient_c + (start_c - ambient_c) * left + rise_k


def time_to_temperature_s(
    *,
    start_c: float,
    ambient_c: float,
    loss_w: float,
    stop_c: float,
    heat_capacity_jk: float,
    conductance_wk: float,
) -> float:
    """Return the time after which a cell under constant loss reaches a temperature from below.

    ``temperature_after_c`` solved for the time: ``(C·ΔT/P_0)·(−ln(1 − y)/y)`` with the first heating
    ``P_0 = P − G·(T_0 − T_a)``, ``ΔT = T_stop − T_0`` and ``y = G·ΔT/P_0``; the second factor is 1
    without cooling. 0 where the start is at or above the temperature.

    Args:
        start_c: Temperature at the start. [°C], finite
        ambient_c: Temperature of the air. [°C], finite
        loss_w: Heat made in the cell. [W], >= 0
        stop_c: Temperature to reach. [°C], finite
        heat_capacity_jk: Heat capacity of the cell. [J/K], > 0
        conductance_wk: Conductance to the air. [W/K], >= 0

    Returns:
        Time. [s]

    Raises:
        NoSolution: The temperature is never reached: it is not below the steady one.

    Source:
        Lumped heat balance, solved in closed form.

    >>> time_to_temperature_s(start_c=20.0, ambient_c=20.0, loss_w=8.0, stop_c=60.0,
    ...     heat_capacity_jk=40.0, conductance_wk=0.0)
    200.0
    """
    if start_c >= stop_c:
        return 0.0
    first_w = loss_w - conductance_wk * (start_c - ambient_c)
    # the part of the way to the steady temperature that the stop lies at
    part = conductance_wk * (stop_c - start_c) / first_w if first_w > 0.0 else 1.0
    if part >= 1.0:
        raise NoSolution(
            "stop_temperature_not_reached",
            "The cell never exceeds the stop temperature, because it settles at or below it.",
            stop_temperature_c=stop_c,
            continuous_temperature_c=ambient_c + loss_w / conductance_wk
            if conductance_wk > 0.0
            else start_c,
        )
    # the time without cooling, stretched by −ln(1 − part)/part, which is 1 where nothing cools
    stretched = -np.log1p(-part) / part if part > 0.0 else 1.0
    return float(heat_capacity_jk * (stop_c - start_c) / first_w * stretched)


def continuous_current_a(
    *, ambient_c: Quantity, stop_c: Quantity, resistance_ohm: Quantity, conductance_wk: Quantity
) -> Quantity:
    """Return the current whose heat holds a cell at a temperature.

    ``I·(I·R + min(I·R, U_h)) = G·(T_stop − T_a)``, the steady state with the loss of a load of minutes, solved
    for the current: of ``2·R·I² = P`` and ``R·I² + U_h·I = P`` the larger solution. 0 where the air is hotter.

    Args:
        ambient_c: Temperature of the air. [°C], finite
        stop_c: Temperature not to exceed. [°C], finite
        resistance_ohm: Resistance after 10 s. [ohm], > 0
        conductance_wk: Conductance to the air. [W/K], >= 0

    Returns:
        Current. [A]

    Source:
        Lumped heat balance; the loss as for ``measured_cells.lasting_heat_w``.

    >>> round(continuous_current_a(ambient_c=20.0, stop_c=60.0, resistance_ohm=0.04,
    ...     conductance_wk=0.1375), 9)
    10.0
    """
    heat_w = np.maximum(stop_c - ambient_c, 0.0) * conductance_wk
    doubled_a = np.sqrt(0.5 * heat_w / resistance_ohm)
    # the positive root, in the form that has no difference of like numbers
    held_a = 2.0 * heat_w / (SLOW_HEAT_V + np.sqrt(SLOW_HEAT_V**2 + 4.0 * resistance_ohm * heat_w))
    return as_given(np.maximum(doubled_a, held_a), resistance_ohm)


def draws_until_empty(*, capacity_ah: Quantity, current_a: Quantity, draw_s: Quantity) -> Quantity:
    """Return the number of equal draws that a cell's charge allows, the last in part.

    ``Q/(I·t)``.

    Args:
        capacity_ah: Capacity of the cell. [Ah], > 0
        current_a: Current of a draw. [A], > 0
        draw_s: Time of one draw. [s], > 0

    Returns:
        Number of draws. [1]

    Source:
        Conservation of charge.

    >>> draws_until_empty(capacity_ah=3.0, current_a=18.0, draw_s=5.0)
    120.0
    """
    return 3600.0 * capacity_ah / (current_a * draw_s)


class DrawCycle(NamedTuple, Generic[Quantity]):
    """The temperatures between which equal draws with equal rests settle."""

    peak_c: Quantity  # at the end of each draw
    trough_c: Quantity  # at the end of each rest


def settled_cycle(
    *,
    ambient_c: Quantity,
    loss_w: Quantity,
    draw_s: Quantity,
    rest_s: Quantity,
    heat_capacity_jk: Quantity,
    conductance_wk: Quantity,
) -> DrawCycle[Quantity]:
    """Return the peak and the trough of repeated draws once they repeat.

    Peak ``T_a + (P/G)·(1 − a)/(1 − a·b)`` and trough ``T_a + (peak − T_a)·b`` with
    ``a = e^(−t_draw/τ)``, ``b = e^(−t_rest/τ)``: the state that a draw and a rest map onto itself.

    Args:
        ambient_c: Temperature of the air. [°C], finite
        loss_w: Heat made in the cell during a draw. [W], >= 0
        draw_s: Time of one draw. [s], > 0
        rest_s: Time from the end of a draw to the next. [s], >= 0
        heat_capacity_jk: Heat capacity of the cell. [J/K], > 0
        conductance_wk: Conductance to the air. [W/K], > 0

    Returns:
        Peak and trough. [°C]

    Raises:
        NoSolution: There is no conductance: each draw begins hotter than the one before.

    Source:
        Lumped heat balance, periodic solution in closed form.

    Draws as long as rests, both short: the mean is half way to the steady temperature of 60 °C.

    >>> cycle = settled_cycle(ambient_c=20.0, loss_w=1.6, draw_s=0.001, rest_s=0.001,
    ...     heat_capacity_jk=40.0, conductance_wk=0.04)
    >>> round(cycle.peak_c, 3), round(cycle.trough_c, 3)
    (40.0, 40.0)
    """
    _must_cool(conductance_wk)
    rate = conductance_wk / heat_capacity_jk
    part = as_given(np.expm1(-rate * draw_s) / np.expm1(-rate * (draw_s + rest_s)), rate)
    peak_k = loss_w / conductance_wk * part
    left = as_given(np.exp(-rate * rest_s), rate)
    return DrawCycle(ambient_c + peak_k, ambient_c + peak_k * left)


def peak_after_draws_c(
    *,
    start_c: Quantity,
    ambient_c: Quantity,
    loss_w: Quantity,
    draw_s: Quantity,
    rest_s: Quantity,
    draws: Quantity,
    heat_capacity_jk: Quantity,
    conductance_wk: Quantity,
) -> Quantity:
    """Return the temperature at the end of the last of a number of equal draws.

    What is left of the start after n draws and n − 1 rests, plus the rise of one draw times the
    geometric sum of what the earlier ones leave, ``(1 − qⁿ)/(1 − q)`` with ``q = a·b`` (see
    ``settled_cycle``), which is n without cooling. From the air's temperature, where n is no whole number,
    that is no less than the peak of the whole draws and of the part of a draw after them.

    Args:
        start_c: Temperature at the start. [°C], finite
        ambient_c: Temperature of the air. [°C], finite
        loss_w: Heat made in the cell during a draw. [W], >= 0
        draw_s: Time of one draw. [s], > 0
        rest_s: Time from the end of a draw to the next. [s], >= 0
        draws: Number of draws, n, whole or not. [1], >= 1
        heat_capacity_jk: Heat capacity of the cell. [J/K], > 0
        conductance_wk: Conductance to the air. [W/K], >= 0

    Returns:
        Temperature. [°C]

    Source:
        Lumped heat balance, geometric sum.

    >>> peak_after_draws_c(start_c=20.0, ambient_c=20.0, loss_w=8.0, draw_s=5.0, rest_s=30.0,
    ...     draws=4, heat_capacity_jk=40.0, conductance_wk=0.0)
    24.0
    """
    rate = conductance_wk / heat_capacity_jk
    period_s = draw_s + rest_s
    one_k = loss_w * draw_s / heat_capacity_jk * _cooled_part(rate * draw_s)
    # (1 − qⁿ)/(1 − q) as n times a quotient of two forms that both are 1 without cooling
    summed = draws * _cooled_part(rate * period_s * draws) / _cooled_part(rate * period_s)
    left = as_given(np.exp(-rate * (draws * period_s - rest_s)), rest_s)
    return ambient_c + (start_c - ambient_c) * left + one_k * summed


def rest_needed_s(
    *,
    ambient_c: float,
    loss_w: float,
    draw_s: float,
    stop_c: float,
    heat_capacity_jk: float,
    conductance_wk: float,
) -> float:
    """Return the rest between draws with which repeated draws settle at or below a temperature.

    ``settled_cycle`` solved for the rest: ``−τ·ln((1 − (1 − a)·P/(G·ΔT))/a)`` with
    ``ΔT = T_stop − T_a``; 0 where even continuous use stays below.

    Args:
        ambient_c: Temperature of the air. [°C], finite
        loss_w: Heat made in the cell during a draw. [W], >= 0
        draw_s: Time of one draw. [s], > 0
        stop_c: Temperature not to pass. [°C], finite
        heat_capacity_jk: Heat capacity of the cell. [J/K], > 0
        conductance_wk: Conductance to the air. [W/K], > 0

    Returns:
        Rest. [s]

    Raises:
        NoSolution: There is no conductance, or a single draw from the air's temperature reaches or
            passes the temperature, so that no rest is long enough.

    Source:
        Lumped heat balance, periodic solution in closed form.

    >>> rest_needed_s(ambient_c=20.0, loss_w=1.6, draw_s=10.0, stop_c=60.0,
    ...     heat_capacity_jk=40.0, conductance_wk=0.04)
    0.0
    """
    _must_cool(conductance_wk)
    rate = conductance_wk / heat_capacity_jk
    steady_k = loss_w / conductance_wk
    single_k = -steady_k * np.expm1(-rate * draw_s)
    room_k = stop_c - ambient_c
    if single_k >= room_k:
        raise NoSolution(
            "single_draw_too_hot",
            "A single draw that begins at the temperature of the air already reaches the stop temperature.",
            single_draw_temperature_c=float(ambient_c + single_k),
            stop_temperature_c=stop_c,
        )
    # ln(1 − single/room) is how far the whole period must fall, −rate·(draw + rest)
    return max(0.0, float(-np.log1p(-single_k / room_k) / rate - draw_s))


def _cooled_part(x: Quantity) -> Quantity:
    """(1 − e^(−x))/x, the part of a rise that cooling leaves; 1 where nothing cools."""
    # where, so that an array may hold cooled and uncooled cells; the guarded divisor is never used at 0
    return as_given(np.where(x == 0.0, 1.0, -np.expm1(-x) / np.where(x == 0.0, 1.0, x)), x)


def _must_cool(conductance_wk: Quantity) -> None:
    if np.any(np.asarray(conductance_wk) <= 0.0):
        raise NoSolution(
            "no_cooling",
            "A cell that gives no heat to the air has no steady temperature.",
            conductance_w_k=float(np.min(conductance_wk)),
        )
