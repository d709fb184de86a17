"""Fit the constants of a measured cell's sag and charge anew, and ask for the cell that was left out.

The constants are those that leave the largest margin to the narrowest aim, among round values. Cells of one data set
are one cell here: two of one lot tell as little of each other as one cell of itself.
"""

from contextlib import contextmanager
from functools import cache
from itertools import product
from typing import NamedTuple
from unittest.mock import patch

import measured_asked
import numpy as np
from msgspec import structs

from percell.physics import discharge, measured_cells

# How far below and above the measured time an answer may be, as a part of it, by what was told about the cell.
AIMS = {
    "capacity": (-0.25, 0.03),
    "resistance": (-0.20, 0.05),
    "own_discharge": (-0.12, 0.05),
    "health": (-0.25, 0.05),
}
# A short run: half is enough, and never longer by more than a twentieth or this time, whichever is more.
SHORT_S, SHORT_AIM, SHORT_MORE_S = 600.0, (-0.5, 0.05), 20.0
FAST_PARTS = (0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2)
SLOW_LOSSES_V = (0.0, 0.02, 0.04, 0.06, 0.08, 0.1, 0.12, 0.14, 0.16)
CHARGES = tuple(round(0.85 + 0.01 * step, 2) for step in range(16))


class Constants(NamedTuple):
    """What is fitted."""

    fast_part: float
    slow_loss_v: float
    usable_charge: float


class Asked(NamedTuple):
    """All runs of one cell about which the same is told: the question holds an array."""

    way: str
    cell: str
    question: object
    current_a: np.ndarray
    seconds: np.ndarray


@cache
def cases():
    """Return everything that is asked, runs of the same cell together."""
    groups = {}
    for way, run, told in measured_asked.asked():
        groups.setdefault((way, str(told)), []).append((run, told))
    found = []
    for (way, _), some in groups.items():
        runs = [run for run, _ in some]
        question = structs.replace(
            measured_asked.question_of(*some[0]),
            output_power_w=np.array([run.mean_power_w for run in runs]),
            cell_cutoff_voltage_v=np.array([run.cutoff_v for run in runs]),
        )
        currents = np.array([measured_asked.mean_current_a(run) for run in runs])
        seconds = np.array([run.seconds for run in runs])
        found.append(Asked(way, f"{runs[0].capacity_ah:g} Ah", question, currents, seconds))
    return found


@contextmanager
def using(constants):
    """Let the service answer with other constants."""
    sag = {"FAST_PART": constants.fast_part, "SLOW_LOSS_V": constants.slow_loss_v}
    charge = {"USABLE_CHARGE": constants.usable_charge}
    with patch.multiple(measured_cells, **sag, **charge), patch.multiple(discharge, **sag):
        yield


def off(case):
    """Return how far the answers lie from the measured times: at constant power, and at constant current."""
    answered = (
        measured_asked.at_power(case.question),
        measured_asked.at_current(case.question, case.current_a),
    )
    return np.stack(answered) / case.seconds - 1


def aims(case):
    """Return the lowest and the highest deviation that each run of a case may have."""
    short = case.seconds < SHORT_S
    low, high = AIMS[case.way]
    short_high = np.maximum(SHORT_AIM[1], SHORT_MORE_S / case.seconds)
    return np.where(short, SHORT_AIM[0], low), np.where(short, short_high, high)


def margin(case, deviation):
    """Return how far the nearest run of a case is from its aim; negative beyond it."""
    low, high = aims(case)
    return float(min(np.min(deviation - low), np.min(high - deviation)))


@cache
def fitted(without):
    """Return the constants that leave the largest margin on all cells but one; of equals, the lowest charge."""
    kept = [case for case in cases() if case.cell != without and case.way in AIMS]
    best, constants = -np.inf, None
    for fast_part, slow_loss_v in product(FAST_PARTS, SLOW_LOSSES_V):
        with using(Constants(fast_part, slow_loss_v, 1.0)):
            whole = [1 + off(case) for case in kept]
        for charge in CHARGES:
            # all of a run but an own discharge's is straight in the charge
            worst = min(
                margin(case, (1.0 if case.way == "own_discharge" else charge) * part - 1)
                for case, part in zip(kept, whole, strict=True)
            )
            if worst > best + 1e-9:
                best, constants = worst, Constants(fast_part, slow_loss_v, charge)
    return constants


def left_out():
    """Return how far the answers about each cell lie with constants fitted without it, by way of asking."""
    every = [case for case in cases() if case.way in AIMS]
    found = []
    for cell, way in sorted({(case.cell, case.way) for case in every}):
        constants = fitted(cell)
        with using(constants):
            parts = [off(case) for case in every if (case.cell, case.way) == (cell, way)]
        found.append(
            {
                "cell": cell,
                "way": way,
                "lowest": round(min(float(part.min()) for part in parts), 4),
                "highest": round(max(float(part.max()) for part in parts), 4),
                **constants._asdict(),
            }
        )
    return found
