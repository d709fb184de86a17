"""Internal d.c. resistance from two loads, how sure it is, and what it says of a cell's health.

The two-load method leaves out the open-circuit voltage: two loads in quick succession, and the
difference of their voltages over that of their currents. The result belongs to the temperature, state
of charge and times of the measurement; a cold cell has more, and a.c. values at 1 kHz are lower.
"""

from math import sqrt
from typing import Generic, NamedTuple

from percell.physics.errors import NoSolution
from percell.physics.types import Quantity

# IEC 61960-3, d.c. method (secondary copy): parts of the rated current It = C / 1 h, and how long each
FIRST_STEP_IT, FIRST_STEP_S = 0.2, 10.0
SECOND_STEP_IT, SECOND_STEP_S = 1.0, 1.0
# Where a cell is usually retired: common practice, no published source.
RETIRED_CAPACITY = 0.8
RETIRED_RESISTANCE = 2.0
# 20 ± 5 °C, the range of the rated-capacity test of IEC 61960-2011, clause 7.3.1 (secondary copy)
LOWEST_TEST_C, HIGHEST_TEST_C = 15.0, 25.0
COVERAGE = 2.0  # k: about 95 % for many degrees of freedom, NIST e-Handbook, 2.5.7


class Steps(NamedTuple, Generic[Quantity]):
    """Currents of the two loads."""

    first_a: Quantity
    second_a: Quantity


class Meter(NamedTuple):
    """What a meter's manufacturer states: plus or minus a part of the reading and counts of the last digit."""

    accuracy: float
    counts: float
    resolution: float  # value of one count, in the unit of the reading

    def limit(self, reading: Quantity) -> Quantity:
        """Give the furthest that a reading may be off, either way."""
        return self.accuracy * abs(reading) + self.counts * self.resolution


class Uncertain(NamedTuple):
    """A resistance with what is known about how far it may be off."""

    resistance_ohm: float
    expanded_ohm: float  # k = 2, as information
    lowest_ohm: float  # worst corner of all readings
    highest_ohm: float  # worst corner of all readings


def standard_steps_a(*, capacity_ah: Quantity) -> Steps[Quantity]:
    """Return the currents of the two loads of the standard method.

    0.2 It and 1 It with ``It = C / 1 h``; held for 10 s and then 1 s.

    Args:
        capacity_ah: Rated capacity. [Ah], > 0

    Returns:
        Currents. [A]

    Source:
        IEC 61960-3, d.c. internal resistance (secondary copy).

    >>> standard_steps_a(capacity_ah=5.0)
    Steps(first_a=1.0, second_a=5.0)
    """
    return Steps(FIRST_STEP_IT * capacity_ah, SECOND_STEP_IT * capacity_ah)


def two_load_resistance_ohm(
    *,
    first_current_a: float,
    first_voltage_v: float,
    second_current_a: float,
    second_voltage_v: float,
) -> float:
    """Return the internal d.c. resistance of a cell from two loads.

    ``(U_1 − U_2)/(I_2 − I_1)``: the open-circuit voltage falls out. One current may be zero; they may
    be given in either order.

    Args:
        first_current_a: Current of the first load. [A], >= 0
        first_voltage_v: Voltage under it. [V], finite
        second_current_a: Current of the second load. [A], >= 0
        second_voltage_v: Voltage under it. [V], finite

    Returns:
        Resistance. [ohm]

    Raises:
        NoSolution: The currents are equal, or the voltage is not lower at the higher current.

    Source:
        IEC 61960-3, d.c. internal resistance (secondary copy); OpenStax University Physics Vol. 2,
        module m58453.

    >>> two_load_resistance_ohm(first_current_a=1.0, first_voltage_v=4.0, second_current_a=3.0,
    ...     second_voltage_v=3.75)
    0.125
    """
    step_a = second_current_a - first_current_a
    drop_v = first_voltage_v - second_voltage_v
    if step_a == 0.0:
        raise NoSolution(
            "currents_equal",
            "Both loads have the same current. The method needs two different currents.",
            current_a=first_current_a,
        )
    if drop_v / step_a <= 0.0:
        raise NoSolution(
            "voltage_did_not_fall",
            (
                "The voltage is not lower at the higher current. No cell does that under equal conditions, so "
                "check the readings."
            ),
            current_step_a=step_a,
            voltage_drop_v=drop_v,
        )
    return drop_v / step_a


def two_load_uncertainty(
    *,
    first_current_a: float,
    first_voltage_v: float,
    second_current_a: float,
    second_voltage_v: float,
    voltmeter: Meter,
    ammeter: Meter,
) -> Uncertain:
    """Return the two-load resistance with its expanded uncertainty and its worst corner.

    Each stated limit a is a rectangular distribution, ``u = a/√3``; combined by root sum of squares
    with the sensitivities ``1/ΔI`` of each voltage and ``R/ΔI`` of each current, times k = 2. The four
    readings count as independent. The worst corner has all four limits against each other, and 0 as the
    lowest resistance there is.

    Args:
        first_current_a: Current of the first load. [A], >= 0
        first_voltage_v: Voltage under it. [V], finite
        second_current_a: Current of the second load. [A], >= 0
        second_voltage_v: Voltage under it. [V], finite
        voltmeter: Statement for the voltage. [1, counts, V], each >= 0
        ammeter: Statement for the current. [1, counts, A], each >= 0

    Returns:
        Resistance and its limits. [ohm]

    Raises:
        NoSolution: As ``two_load_resistance_ohm``, or the step of current is no more than the limits of
            its readings, so that no upper limit exists.

    Source:
        JCGM 100:2008, combined standard uncertainty; NIST e-Handbook of Statistical Methods, 2.5.

    Without limits there is nothing unsure:

    >>> two_load_uncertainty(first_current_a=1.0, first_voltage_v=4.0, second_current_a=3.0,
    ...     second_voltage_v=3.75, voltmeter=Meter(0.0, 0, 0.01), ammeter=Meter(0.0, 0, 0.01))
    Uncertain(resistance_ohm=0.125, expanded_ohm=0.0, lowest_ohm=0.125, highest_ohm=0.125)
    """
    resistance_ohm = two_load_resistance_ohm(
        first_current_a=first_current_a,
        first_voltage_v=first_voltage_v,
        second_current_a=second_current_a,
        second_voltage_v=second_voltage_v,
    )
    step_a = abs(second_current_a - first_current_a)
    drop_v = abs(first_voltage_v - second_voltage_v)
    volts = [float(voltmeter.limit(reading)) for reading in (first_voltage_v, second_voltage_v)]
    amperes = [float(ammeter.limit(reading)) for reading in (first_current_a, second_current_a)]
    if sum(amperes) >= step_a:
        raise NoSolution(
            "current_step_too_small",
            "The two currents differ by no more than the errors of their readings.",
            current_step_a=step_a,
            current_limit_a=sum(amperes),
        )
    squares = sum(limit * limit for limit in volts) / 3.0
    squares += resistance_ohm**2 * sum(limit * limit for limit in amperes) / 3.0
    return Uncertain(
        resistance_ohm=resistance_ohm,
        expanded_ohm=COVERAGE * sqrt(squares) / step_a,
        lowest_ohm=max(0.0, drop_v - sum(volts)) / (step_a + sum(amperes)),
        highest_ohm=(drop_v + sum(volts)) / (step_a - sum(amperes)),
    )


def health(*, measured: Quantity, reference: Quantity) -> Quantity:
    """Return the state of health: what is measured over what it was, or was rated, when new.

    ``x/x_new``. Of capacities it falls from 1, and 0.8 is the usual mark for retiring; of resistances
    it rises from 1, usually to 2. Both marks are habits and not limits of hazard.

    Args:
        measured: Capacity or resistance now. [as given], >= 0
        reference: The same when new, by the same method. [as measured], > 0

    Returns:
        Ratio. [1]

    Source:
        Definition; the marks are common practice, no published source.

    >>> health(measured=1.5, reference=2.0)
    0.75
    """
    return measured / reference
