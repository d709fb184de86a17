"""Ask for the running time of each measured discharge, and write how far the answers lie from it.

``python tests/reference/make_measured_times.py`` writes ``data/measured_times.json`` of the physics package; a test
works it out again and compares. It asks in five ways, see ``WAYS``: with one cell, an ideal converter and no contacts,
at the mean power of the measured discharge, and at its constant current.
"""

import json
from itertools import groupby
from pathlib import Path

import measured
import numpy as np
from msgspec import convert

from percell.physics.measured_cells import lasting_loss_v
from percell.questions.loads.cell_model import cell_model, charge_now_ah, is_energy_cell
from percell.questions.loads.running_time import RunningTime, run_of
from percell.questions.vocabulary.cell_resistance import lasting_ohm

ROOT = Path(__file__).parents[2]
OUT = ROOT / "service/percell/physics/data/measured_times.json"
CUTOFFS_V = (2.5, 2.8, 3.0, 3.2, 3.4)
# the slowest and the fastest that a device's cells are used at
LOWEST_RATE, OWN_REACH = 0.4, 3.0
POINTS = 120
WORDS = {
    "capacity": "the printed capacity, and the rating where it is known",
    "resistance": "the printed capacity, and the resistance after 10 s or after 1 s",
    "own_discharge": "the printed capacity, the resistance after 10 s, and one discharge of the cell itself at "
    "0.5 to 1 times the capacity an hour",
    "slow_discharge": "the same with a discharge at a tenth or a twentieth of the capacity an hour",
    "health": "the printed capacity, what is left of it, and the resistance of the aged cell",
}


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
    """Return the answered time at constant power."""
    return float(run_of(question).time_s)


def at_current(question, current_a):
    """Return the time at constant current, by hand: down to where rest voltage less loss is the cut-off."""
    model = cell_model(question, energy_cell=bool(is_energy_cell(question)))
    loss_v = lasting_loss_v(current_a=current_a, resistance_ohm=lasting_ohm(question))
    rest_v = model.curve.ocv_v + model.curve.lift_v
    left = np.interp(question.cell_cutoff_voltage_v + loss_v, rest_v, model.curve.soc)
    return float(3600 * charge_now_ah(question, model) * (1 - left) / current_a)


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


def compared():
    """Return every measured time with its answers, worst first within a way."""
    found = []
    for run in measured.runs(CUTOFFS_V):
        if run.rate < LOWEST_RATE:
            continue
        for way, told in ways(run):
            question = question_of(run, told)
            mean_a = run.charge_ah * 3600 / run.seconds
            found.append(
                {
                    "way": way,
                    "cell": run.cell + (", aged" if run.health < 1 else ""),
                    "rate_per_h": round(run.rate, 2),
                    "cutoff_v": run.cutoff_v,
                    "measured_s": round(run.seconds, 1),
                    "at_power_s": round(at_power(question), 1),
                    "at_current_s": round(at_current(question, mean_a), 1),
                }
            )
    places = list(WORDS)
    found.sort(key=lambda row: (places.index(row["way"]), -max(map(abs, off(row)))))
    return found


def off(row):
    """Return how far the answers lie from what was measured, as parts of that."""
    return [row[name] / row["measured_s"] - 1 for name in ("at_power_s", "at_current_s")]


def summed(rows):
    """Return the widest of each way."""
    found = []
    for way, group in groupby(rows, key=lambda row: row["way"]):
        some = list(group)
        rates = [row["rate_per_h"] for row in some]
        cutoffs = [row["cutoff_v"] for row in some]
        parts = [part for row in some for part in off(row)]
        found.append(
            {
                "way": way,
                "words": WORDS[way],
                "cells": len({row["cell"] for row in some}),
                "times": len(parts),
                "lowest": round(min(parts), 4),
                "highest": round(max(parts), 4),
                "lowest_rate_per_h": min(rates),
                "highest_rate_per_h": max(rates),
                "lowest_cutoff_v": min(cutoffs),
                "highest_cutoff_v": max(cutoffs),
            }
        )
    return found


def made():
    """Return the content of the file."""
    rows = compared()
    sources = sorted({f"{run.source}; {run.licence}" for run in measured.runs(CUTOFFS_V)})
    return {"sources": sources, "ways": summed(rows), "rows": rows}


def written(content):
    """Return the content as text, a row a line."""
    lines = []
    for name, values in content.items():
        rows = ",\n".join(f"  {json.dumps(value, ensure_ascii=False)}" for value in values)
        lines.append(f' "{name}": [\n{rows}\n ]')
    return "{\n" + ",\n".join(lines) + "\n}\n"


if __name__ == "__main__":
    OUT.write_text(written(made()), encoding="utf-8")
