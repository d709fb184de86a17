"""The steps of the current in a discharge log, and the resistance that the voltage shows at them."""

from typing import NamedTuple

import numpy as np

from percell.physics.discharge_log import running_integral
from percell.physics.errors import NoSolution
from percell.physics.types import Floats

# Parts of a log's charge. Between the first two a cell's resistance hardly changes. After the second it
# rises steeply, and so do the voltages that recover.
NEAR_HALF_FROM = 0.2
NEAR_HALF_TO = 0.8
# A voltage that is read later has lost more, by the slow part of the resistance and by the charge. Logs
# with a row every 10 s are a little late.
LATEST_READING_S = 12.0


class CurrentStep(NamedTuple):
    """One jump of the current, and the resistance that the voltage shows at it."""

    time_s: float
    current_before_a: float
    current_after_a: float
    resistance_ohm: float
    delivered: float  # part of the log's charge that was delivered before it
    read_after_s: float  # from the last row before it to the row that was read


class StepResistance(NamedTuple):
    """What the steps of a log agree on, and their spread."""

    middle_ohm: float
    lowest_ohm: float
    highest_ohm: float


def current_steps(
    *,
    time_s: Floats,
    voltage_v: Floats,
    current_a: Floats,
    threshold_a: float,
    settle_s: float,
) -> list[CurrentStep]:
    """Return the steps of the current with the resistance that each shows.

    Neighbouring changes of more than half the threshold and of one direction are one step, because a load
    may need more than one row to settle; it counts if the current moved by the threshold or more in
    total. ``R = −ΔU/ΔI`` from the last row before it to the last row that is at most the settling time
    after its first changed row, and before the next step. With a settling time of 0 the row at which
    the step ends is taken. A longer one lets the slow part of the resistance in. Steps at which the
    voltage did not move against the current are left out, because that is the noise of a load and not a resistance; so
    are those from which the current came back meanwhile.

    Args:
        time_s: Time, shape (N,). [s], finite, strictly rising
        voltage_v: Voltage, shape (N,). [V], > 0
        current_a: Current, shape (N,). [A], finite
        threshold_a: Least change of the current that is a step. [A], > 0
        settle_s: Time that the voltage is given after a step. [s], >= 0

    Returns:
        Steps in order of time. [s, A, ohm, 1, s]

    Source:
        Two-load method within one log, as in IEC 61960-3 (secondary copy), which waits 1 s.

    >>> current_steps(time_s=np.array([0.0, 1.0, 2.0, 3.0]), voltage_v=np.array([4.0, 4.0, 3.75, 3.75]),
    ...     current_a=np.array([0.0, 0.0, 2.0, 2.0]), threshold_a=1.0, settle_s=1.0)
    [CurrentStep(time_s=1.0, current_before_a=0.0, current_after_a=2.0, resistance_ohm=0.125, delivered=0.0, read_after_s=2.0)]
    """
    delivered_as = running_integral(time_s=time_s, values=np.maximum(current_a, 0.0))
    change_a = np.diff(current_a)
    moving = np.abs(change_a) > 0.5 * threshold_a
    # a run begins where the current begins to move, or turns round
    begins = np.flatnonzero(
        moving
        & ~(np.r_[False, moving[:-1]] & (np.sign(change_a) == np.sign(np.r_[0.0, change_a[:-1]])))
    )
    found = []
    for number, before in enumerate(begins):
        end = int(before) + 1
        while end < len(change_a) and moving[end] and change_a[end] * change_a[before] > 0.0:
            end += 1
        step_a = current_a[end] - current_a[before]
        if abs(step_a) < threshold_a:
            continue
        last = int(begins[number + 1]) if number + 1 < len(begins) else len(time_s) - 1
        settled = int(np.searchsorted(time_s, time_s[before + 1] + settle_s, side="right")) - 1
        after = max(end, min(settled, last))
        moved_a = float(current_a[after] - current_a[before])
        drop_v = float(voltage_v[before] - voltage_v[after])
        if drop_v * moved_a > 0.0 and abs(moved_a) > 0.5 * threshold_a:
            found.append(
                CurrentStep(
                    time_s=float(time_s[before]),
                    current_before_a=float(current_a[before]),
                    current_after_a=float(current_a[after]),
                    resistance_ohm=drop_v / moved_a,
                    delivered=float(delivered_as[before] / delivered_as[-1]),
                    read_after_s=float(time_s[after] - time_s[before]),
                )
            )
    return found


def steps_near_half_charge(*, steps: list[CurrentStep], threshold_a: float) -> list[CurrentStep]:
    """Return the steps that show the resistance of a cell that is neither full nor nearly empty.

    Only steps after which a load flows: when a load ends, a nearly empty cell recovers, which looks
    like two to four times its resistance. If no step is between a fifth and four fifths of the charge,
    the earlier ones count, because a fuller cell has nearly the same resistance. Later ones never do, nor
    does a step whose next row comes more than 12 s later.

    Args:
        steps: Steps of a log. [s, A, ohm, 1, s], any
        threshold_a: Least current that is a load. [A], > 0

    Returns:
        Steps in order of time. [s, A, ohm, 1, s]

    Source:
        Resistance after 10 s of a 2.9 Ah cell: 37 to 43 mΩ from 90 to 30 % of charge, 58 at 13 %, 177 at
        3 %. Kollmeyer (2018), DOI 10.17632/wykht8y7tg.1.

    >>> on, half, off = (CurrentStep(0.0, 0.0, 2.0, 0.021, 0.0, 1.0),
    ...     CurrentStep(9.0, 1.0, 2.0, 0.02, 0.5, 1.0), CurrentStep(19.0, 2.0, 0.0, 0.07, 0.5, 1.0))
    >>> steps_near_half_charge(steps=[on, half, off], threshold_a=1.0) == [half]
    True
    >>> steps_near_half_charge(steps=[on, off], threshold_a=1.0) == [on]
    True
    """
    usable = [
        step
        for step in steps
        if step.current_after_a >= threshold_a
        and step.delivered <= NEAR_HALF_TO
        and step.read_after_s <= LATEST_READING_S
    ]
    return [step for step in usable if step.delivered >= NEAR_HALF_FROM] or usable


def step_resistance(*, steps: list[CurrentStep]) -> StepResistance:
    """Return the internal d.c. resistance that steps agree on, with the lowest and the highest.

    The median: a single odd step does not move it.

    Args:
        steps: Steps. [s, A, ohm, 1, s], >= 1 of them

    Returns:
        Resistance and its spread. [ohm]

    Raises:
        NoSolution: There is no step.

    Source:
        Definition.

    >>> step_resistance(steps=[CurrentStep(0.0, 0.0, 2.0, 0.02, 0.3, 1.0),
    ...     CurrentStep(9.0, 1.0, 2.0, 0.03, 0.4, 1.0), CurrentStep(19.0, 1.0, 2.0, 0.9, 0.5, 1.0)])
    StepResistance(middle_ohm=0.03, lowest_ohm=0.02, highest_ohm=0.9)
    """
    if not steps:
        raise NoSolution(
            "no_current_step",
            "The current of this log has no step, so it shows no resistance.",
            steps=0.0,
        )
    found_ohm = [step.resistance_ohm for step in steps]
    return StepResistance(float(np.median(found_ohm)), min(found_ohm), max(found_ohm))
