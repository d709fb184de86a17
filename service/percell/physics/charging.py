"""Charging one cell: constant current up to the charged voltage, then that voltage held."""

from typing import NamedTuple

import numpy as np

from percell.physics.curves import HIGHEST_ABOVE_FULL_V, Curve
from percell.physics.types import Quantity

# Current over capacity, per hour: common practice, no published source. The manufacturer's value comes first.
USUAL_RATE = 0.5
# Voltage lost in a charge of hours, over current times pulse resistance: chosen so that the
# simulated charges of the published cell (0.2 to 0.7 of the capacity per hour) are met within 1 % below and
# 5 % above. A simulated cell of another chemistry took 1.3 % longer.
SLOW_RATIO = 3.2


class Charge(NamedTuple):
    """A charge of one cell. ``energy_wh = stored_wh + heat_wh``, as the charger gives them to the cell."""

    time_s: float
    constant_current_s: float
    constant_voltage_s: float
    charge_ah: float
    energy_wh: float
    stored_wh: float
    heat_wh: float
    end_soc: float


def usual_charge_current_a(*, capacity_ah: Quantity) -> Quantity:
    """Return the usual charging current of a cell, its limit where the manufacturer states none.

    ``I = Q/2 h``; a manufacturer's lower value always comes first.

    Args:
        capacity_ah: Capacity of the cell. [Ah], > 0

    Returns:
        Current. [A]

    Source:
        Common practice, no published source.

    >>> usual_charge_current_a(capacity_ah=3.0)
    1.5
    """
    return USUAL_RATE * capacity_ah


def charge(
    *,
    charge_current_a: float,
    end_current_a: float,
    charged_v: float,
    capacity_ah: float,
    resistance_ohm: float,
    start_soc: float,
    curve: Curve,
) -> Charge:
    """Return the charge of one cell at constant current, then constant voltage.

    With ``R`` the pulse resistance times ``SLOW_RATIO``: constant current until
    ``u(z) + I·R = u_charged``, so ``t = q·Δz/I``; then ``I = (u_charged − u(z))/R`` until it is down to
    the end current, so ``t = q·R·∫dz/(u_charged − u)``, in closed form (a logarithm) over each straight
    piece of the curve. A cell already as full as the end current asks gives zeros.

    Args:
        charge_current_a: Constant current into the cell. [A], > 0
        end_current_a: Current at which the charge ends. [A], > 0
        charged_v: Charged voltage. [V], > 0
        capacity_ah: Capacity of the cell. [Ah], > 0
        resistance_ohm: Resistance of the cell, d.c., from a pulse of seconds. [ohm], > 0
        start_soc: State of charge at the start. [1], 0..1
        curve: Rest curve. [1] against [V], any

    Returns:
        Charge. [s, Ah, Wh, 1]

    Source:
        Conservation of charge and energy; constant current then constant voltage is
        common practice, no published source; ratio from a simulated cell, Chen et al., J. Electrochem. Soc.
        167 (2020) 080534.

    One ampere into 2 Ah whose voltage runs straight from 3 V to 4 V, hardly any resistance: two hours.

    >>> from percell.physics.curves import own_curve
    >>> whole = charge(charge_current_a=1.0, end_current_a=0.1, charged_v=4.0, capacity_ah=2.0,
    ...     resistance_ohm=1e-9, start_soc=0.0, curve=own_curve(soc=[0.0, 1.0], ocv_v=[3.0, 4.0]))
    >>> round(whole.time_s), round(whole.stored_wh, 6)
    (7200, 7.0)
    """
    resistance_ohm = SLOW_RATIO * resistance_ohm
    # one piece more, the last slope, for a charged voltage above the curve's end
    slope_v = (curve.ocv_v[-1] - curve.ocv_v[-2]) / (curve.soc[-1] - curve.soc[-2])
    soc = np.append(curve.soc, curve.soc[-1] + HIGHEST_ABOVE_FULL_V / slope_v)
    ocv_v = np.append(curve.ocv_v, curve.ocv_v[-1] + HIGHEST_ABOVE_FULL_V)

    def reached(current_a: float) -> float:
        return float(np.interp(charged_v - current_a * resistance_ohm, ocv_v, soc))

    end_soc = max(start_soc, reached(end_current_a))
    turn_soc = min(max(start_soc, reached(charge_current_a)), end_soc)

    def piece(low: float, high: float) -> tuple[np.ndarray, np.ndarray]:
        between = soc[(soc > low) & (soc < high)]
        points = np.concatenate(([low], between, [high]))
        return np.diff(points), np.interp(points, soc, ocv_v)

    step, rest_v = piece(start_soc, turn_soc)
    first_ah = capacity_ah * (turn_soc - start_soc)
    constant_current_s = 3600.0 * first_ah / charge_current_a
    stored_wh = capacity_ah * float(np.sum(step * 0.5 * (rest_v[1:] + rest_v[:-1])))
    heat_wh = charge_current_a * resistance_ohm * first_ah
    constant_voltage_s = 0.0
    if end_soc > turn_soc:
        step, rest_v = piece(turn_soc, end_soc)
        left_v = charged_v - rest_v
        # mean of 1/left over a straight piece; one too short to show a fall takes no time
        fall_v = left_v[:-1] - left_v[1:]
        mean = np.log(left_v[:-1] / left_v[1:]) / np.where(fall_v == 0.0, 1.0, fall_v)
        constant_voltage_s = 3600.0 * capacity_ah * resistance_ohm * float(np.sum(step * mean))
        stored_wh += capacity_ah * float(np.sum(step * 0.5 * (rest_v[1:] + rest_v[:-1])))
        heat_wh += capacity_ah * float(np.sum(step * 0.5 * (left_v[1:] + left_v[:-1])))
    return Charge(
        time_s=constant_current_s + constant_voltage_s,
        constant_current_s=constant_current_s,
        constant_voltage_s=constant_voltage_s,
        charge_ah=capacity_ah * (end_soc - start_soc),
        energy_wh=stored_wh + heat_wh,
        stored_wh=stored_wh,
        heat_wh=heat_wh,
        end_soc=end_soc,
    )
