"""What measured round cells lose under load, as ``data/measured_cells.toml`` and the constants here hold it.

``R`` is always the d.c. resistance after 10 s. A load that lasts loses more than ``I·R``, because slow processes
in the cell go on for minutes; at high currents the cell warms itself, and they grow no further.
"""

from typing import NamedTuple

import numpy as np

from percell.physics.entries import read_entries
from percell.physics.meter import NOISE
from percell.physics.types import Quantity, as_given

# Chosen by hand so that running times of twelve discharges of four cells at 0.5 to 4 times the capacity per hour, to 2.5
# to 3.4 V, stay a hundredth or more within what they aim at; a cell that is left out of a fit meets the aims too.
# tests/reference/test_time_against_measured.py checks both.
FAST_PART = 0.8
SLOW_LOSS_V = 0.1
# charge of a discharge of an hour or less, over the printed charge
USABLE_CHARGE = 0.92
# Heat lies above the measured mean of every one of these discharges and of two aged cells.
SLOW_HEAT_V = 0.15
# resistance after 10 s times capacity: 0.09 to 0.12 in measured cells of 2.6 to 3 Ah, the highest is taken
USUAL_OHM_AH = 0.12
# A rated current can be drawn through a whole discharge. Above this loss, a cell at 3.6 V would be at its end, 2.5 V.
RATED_LOSS_V = 1.1
# no rating, believable or not, makes a cell better than the best of those measured
BEST_OHM_AH = 0.09
ROUNDED_TO = 10_000
# after 0.1 s over after 10 s: 0.6 in a measured cell; good high-drain cells have less
LOW_PART = 0.5
# Resistance grows faster than the charge falls: measured cells with 0.86 of their charge had 1.6 times the
# resistance (Kollmeyer, DOI 10.17632/wykht8y7tg.1), others with 0.58 to 0.72 had 1.01 to 1.2 times (Saha and Goebel,
# NASA Ames battery data set).
AGED_GROWTH = 4.5


class _Table(NamedTuple):
    """A measured relation. The file says what each field means."""

    at: tuple[float, ...]
    gives: tuple[float, ...]
    source: str


# so far below its rest voltage a cell of 10 °C or less is read
COLD_SHIFT_V = 0.25

TABLES = read_entries(name="measured_cells", kind=_Table)
# as arrays: of a tuple NumPy would make one at each reading
_RELATIONS = {name: (np.array(table.at), np.array(table.gives)) for name, table in TABLES.items()}
_LOG_AFTER_S = np.log(_RELATIONS["resistance_after"][0])
# at which the resistance was measured; straight between two of them
WARMTH_C = TABLES["resistance_by_temperature"].at


# the shortest time after which a resistance is taken
SOONEST_S = TABLES["resistance_after"].at[0]


def _read(name: str, at: Quantity) -> Quantity:
    return as_given(np.interp(at, *_RELATIONS[name]), at)


def lasting_loss_v(*, current_a: Quantity, resistance_ohm: Quantity) -> Quantity:
    """Return the voltage that a cell loses under a load of minutes.

    ``F·I·R + min(F·I·R, U_s)`` with ``FAST_PART`` and ``SLOW_LOSS_V``.

    Args:
        current_a: Current, constant so far. [A], >= 0
        resistance_ohm: Resistance after 10 s. [ohm], >= 0

    Returns:
        Voltage below the rest curve. [V]

    Source:
        Fitted to measured discharges: ARTS-Laboratory, commit 4e9effd; Wang et al., commit ec0fe7c;
        Kollmeyer, DOI 10.17632/wykht8y7tg.1.

    >>> round(lasting_loss_v(current_a=10.0, resistance_ohm=0.04), 3)
    0.42
    """
    fast_v = FAST_PART * current_a * resistance_ohm
    return fast_v + as_given(np.minimum(fast_v, SLOW_LOSS_V), fast_v)


def highest_loss_v(*, current_a: Quantity, resistance_ohm: Quantity) -> Quantity:
    """Return the voltage that a cell may lose under a load of minutes: no less than any measured one in the mean.

    ``I·R + min(I·R, U_h)`` with ``SLOW_HEAT_V``.

    Args:
        current_a: Current, constant so far. [A], >= 0
        resistance_ohm: Resistance after 10 s. [ohm], >= 0

    Returns:
        Voltage below the rest curve. [V]

    Source:
        Bound on measured discharges, as for lasting_heat_w.

    >>> round(highest_loss_v(current_a=10.0, resistance_ohm=0.04), 3)
    0.55
    """
    pulse_v = current_a * resistance_ohm
    return pulse_v + as_given(np.minimum(pulse_v, SLOW_HEAT_V), pulse_v)


def lasting_heat_w(*, current_a: Quantity, resistance_ohm: Quantity) -> Quantity:
    """Return the heat that a load of minutes makes in a cell.

    ``I·(I·R + min(I·R, U_h))`` with ``SLOW_HEAT_V``: no less than the mean over any measured discharge.

    Args:
        current_a: Current, constant so far. [A], >= 0
        resistance_ohm: Resistance after 10 s. [ohm], >= 0

    Returns:
        Heat. [W]

    Source:
        Bound on measured discharges: ARTS-Laboratory, commit 4e9effd; Wang et al., commit ec0fe7c;
        Kollmeyer, DOI 10.17632/wykht8y7tg.1.

    >>> round(lasting_heat_w(current_a=10.0, resistance_ohm=0.04), 3)
    5.5
    """
    return current_a * highest_loss_v(current_a=current_a, resistance_ohm=resistance_ohm)


def ten_second_resistance_ohm(*, resistance_ohm: Quantity, after_s: Quantity) -> Quantity:
    """Return the resistance after 10 s of a cell measured after another time.

    Straight in the logarithm of the time. A longer time counts as 10 s.

    Args:
        resistance_ohm: Resistance as measured. [ohm], >= 0
        after_s: Time from the step of the current to the reading. [s], >= 0.1

    Returns:
        Resistance. [ohm]

    Source:
        Measured ratios: Kollmeyer, DOI 10.17632/wykht8y7tg.1; ARTS-Laboratory, commit 4e9effd.

    >>> ten_second_resistance_ohm(resistance_ohm=0.032, after_s=1.0)
    0.04
    """
    ratio = np.interp(np.log(after_s), _LOG_AFTER_S, _RELATIONS["resistance_after"][1])
    return as_given(resistance_ohm * ratio, resistance_ohm)


def usual_resistance_ohm(*, capacity_ah: Quantity, rating_a: Quantity) -> Quantity:
    """Return the resistance after 10 s of a cell that nobody measured, high rather than low.

    ``min(k/Q, max(k_b/Q, U/I_r))`` with ``USUAL_OHM_AH``, ``BEST_OHM_AH`` and ``RATED_LOSS_V``: a cell of more
    charge has more of everything side by side, and one that can be rated for a current does not lose its voltage to
    it. Rounded up to a tenth of a milliohm, so that it can be printed and asked with again.

    Args:
        capacity_ah: Printed capacity. [Ah], > 0
        rating_a: Continuous discharge rating; infinitely small where it is not known. [A], > 0

    Returns:
        Resistance. [ohm]

    Source:
        Measured cells, as for lasting_loss_v; the bounds by the rating are ours.

    >>> usual_resistance_ohm(capacity_ah=3.0, rating_a=20.0)
    0.04
    >>> usual_resistance_ohm(capacity_ah=2.5, rating_a=30.0)
    0.0367
    """
    # not np.clip, which takes three times as long for one number
    held_ohm = np.maximum(RATED_LOSS_V / rating_a, BEST_OHM_AH / capacity_ah)
    ohm = np.minimum(held_ohm, USUAL_OHM_AH / capacity_ah)
    return as_given(np.ceil(ohm * ROUNDED_TO - NOISE) / ROUNDED_TO, capacity_ah * rating_a)


def low_resistance_ohm(*, capacity_ah: Quantity, rating_a: Quantity) -> Quantity:
    """Return the resistance after 0.1 s of a cell that nobody measured, low rather than high.

    Args:
        capacity_ah: Printed capacity. [Ah], > 0
        rating_a: Continuous discharge rating; infinitely small where it is not known. [A], > 0

    Returns:
        Resistance. [ohm]

    Source:
        Measured cells, as for lasting_loss_v.

    >>> low_resistance_ohm(capacity_ah=3.0, rating_a=20.0)
    0.02
    """
    return LOW_PART * usual_resistance_ohm(capacity_ah=capacity_ah, rating_a=rating_a)


def temperature_ratio(*, temperature_c: Quantity) -> Quantity:
    """Return the resistance of a cell at a temperature over that at 25 °C.

    Args:
        temperature_c: Temperature of the cell. [°C], -20 to 40; held outside

    Returns:
        Ratio. [1]

    Source:
        Kollmeyer, DOI 10.17632/wykht8y7tg.1; at 40 °C ARTS-Laboratory, commit 4e9effd.

    >>> temperature_ratio(temperature_c=0.0)
    2.3
    """
    return _read("resistance_by_temperature", temperature_c)


def usable_at(*, temperature_c: Quantity) -> Quantity:
    """Return the charge that a cell gives at a temperature over that at 25 °C.

    Args:
        temperature_c: Temperature of the cell. [°C], -20 to 25; held outside

    Returns:
        Ratio. [1]

    Source:
        Kollmeyer, DOI 10.17632/wykht8y7tg.1.

    >>> usable_at(temperature_c=0.0)
    0.83
    """
    return _read("charge_by_temperature", temperature_c)


def emptying_ratio(*, state_of_charge: Quantity) -> Quantity:
    """Return the resistance after 10 s of a cell that is nearly empty over that at half charge.

    Args:
        state_of_charge: State of charge. [1], 0 to 0.4; held outside

    Returns:
        Ratio. [1]

    Source:
        Kollmeyer, DOI 10.17632/wykht8y7tg.1.

    >>> emptying_ratio(state_of_charge=0.08)
    2.5
    """
    return _read("resistance_by_charge", state_of_charge)


def emptying_ratio_at_rest(*, open_circuit_voltage_v: Quantity) -> Quantity:
    """Return the resistance after 10 s of a nickel-rich cell by its voltage at rest over that at half charge.

    Args:
        open_circuit_voltage_v: Voltage at rest. [V], 3.0 to 3.6; held outside

    Returns:
        Ratio. [1]

    Source:
        Kollmeyer, DOI 10.17632/wykht8y7tg.1.

    >>> emptying_ratio_at_rest(open_circuit_voltage_v=3.345)
    2.5
    """
    return _read("resistance_by_rest_voltage", open_circuit_voltage_v)


def emptier_in_the_cold_v(*, temperature_c: Quantity) -> Quantity:
    """Return the voltage below its own at rest at which a cold cell has to be read: it is emptier for its load.

    Nothing at 25 °C, straight to ``COLD_SHIFT_V`` at 10 °C and below.

    Args:
        temperature_c: Temperature of the cell. [°C], finite

    Returns:
        Voltage. [V]

    Source:
        Kollmeyer, DOI 10.17632/wykht8y7tg.1: 2.0 to 5.1 times the resistance at half charge at 3.43 to 3.33 V, 10 to
        -10 °C.

    >>> emptier_in_the_cold_v(temperature_c=10.0)
    0.25
    """
    part = np.clip((25.0 - temperature_c) / 15.0, 0.0, 1.0)
    return as_given(COLD_SHIFT_V * part, temperature_c)


def aged_ratio(*, health: Quantity) -> Quantity:
    """Return the resistance of an aged cell over that when new, where only its charge is known.

    ``1 + g·(1 − h)`` with ``AGED_GROWTH``. Charge and resistance are only loosely linked; this is the fastest growth
    that was measured.

    Args:
        health: Charge of the aged cell over that when new. [1], 0..1

    Returns:
        Ratio. [1]

    Source:
        Kollmeyer, DOI 10.17632/wykht8y7tg.1; Saha and Goebel, NASA Ames battery data set.

    >>> aged_ratio(health=0.8)
    1.9
    """
    return 1.0 + AGED_GROWTH * (1.0 - health)
