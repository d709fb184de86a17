"""Ask the service for measured running times: each measured discharge to each cut-off, in five ways.

One cell, an ideal converter and no contacts; at the mean power of the measured discharge, and at its constant current.
"""

import measured
import numpy as np
from msgspec import convert

from percell.physics.measured_cells import lasting_loss_v
from percell.questions.loads.cell_model import cell_model, charge_now_ah, is_energy_cell
from percell.questions.loads.pack_run import RunningTime, followed
from percell.questions.vocabulary.cell_resistance import lasting_ohm

CUTOFFS_V = (2.5, 2.8, 3.0, 3.2, 3.4)
# the slowest that a device's cells are used at, and how far an own discharge reaches
LOWEST_RATE, OWN_REACH = 0.4, 3.0
POINTS = 120


def asked():
    """Yield each way of asking for each measured run, with what is told about the cell."""
    for run in measured.runs(CUTOFFS_V):
        if run.rate >= LOWEST_RATE:
            for way, told in ways(run):
                yield way, run, told


def log_of(one):
    """Return a discharge as the question takes it, thinned, without the row that overshot the end."""
    charge = np.concatenate(
        ([0.0], np.cumsum(np.diff(one.time_s) * (one.current_a[1:] + one.current_a[:-1]) / 2))
    )
    charge = (charge + one.time_s[0] * one.current_a[0]) / 3600
    charge[0] = 0.0
    keep = np.unique(np.linspace(0, charge.size - 1, POINTS).astype(int))
    return {
        "current_a": float(np.mean(one.current_a)),
        "charge_ah": [round(float(q), 4) for q in charge[keep]],
        "voltage_v": [round(float(u), 4) for u in one.voltage_v[keep]],
    }


def ways(run):
    """Yield each way of asking for a run, with what is told about the cell."""
    cell = {"cell_capacity_ah": run.capacity_ah}
    if run.rating_a:
        cell["cell_rating_a"] = run.rating_a
    known = measured.resistances(run)
    if run.health < 1:
        own = {"cell_health": run.health, "cell_resistance_ohm": known[10]}
        yield "health", cell | own
        return
    yield "capacity", cell
    for seconds, ohm in known.items():
        yield (
            "resistance",
            cell | {"cell_resistance_ohm": ohm, "cell_resistance_after_s": seconds},
        )
    own = cell | {"cell_resistance_ohm": known[10]}
    for log in measured.discharges():
        if log.cell == run.cell and log.rate < LOWEST_RATE:
            yield "slow_discharge", own | {"measured_discharge": log_of(log)}
        elif (
            log.cell == run.cell
            and log.rate <= min(1, run.rate)
            and run.rate <= OWN_REACH * log.rate
        ):
            yield "own_discharge", own | {"measured_discharge": log_of(log)}


def at_power(question):
    """Return the answered time at constant power, an array where the question holds arrays."""
    return followed(question).run.time_s


def at_current(question, current_a):
    """Return the time at constant current, by hand: down to where rest voltage less loss is the cut-off."""
    model = cell_model(question, energy_cell=bool(is_energy_cell(question)))
    loss_v = lasting_loss_v(current_a=current_a, resistance_ohm=lasting_ohm(question))
    rest_v = model.curve.ocv_v + model.curve.lift_v
    left = np.interp(question.cell_cutoff_voltage_v + loss_v, rest_v, model.curve.soc)
    return 3600 * charge_now_ah(question, model) * (1 - left) / current_a


def question_of(run, told):
    """Return the question about a run."""
    body = {
        "layout": "1S1P",
        "output_power_w": run.mean_power_w,
        "efficiency": 1,
        "contact_resistance_ohm": 0,
        "sharing": "even",
        "cell_cutoff_voltage_v": run.cutoff_v,
    }
    return convert(body | told, RunningTime)


def mean_current_a(run):
    """Return the constant current of a run."""
    return run.charge_ah * 3600 / run.seconds
