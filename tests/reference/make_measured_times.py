"""Ask for the running time of each measured discharge, and write how far the answers lie from it.

``python tests/reference/make_measured_times.py`` writes ``data/measured_times.json`` of the physics package; a test
works it out again and compares. Beside the measured times it holds what the model gives of a cell that was left out
when its constants were fitted, and of simulated cells.
"""

import json
from itertools import groupby
from pathlib import Path

import measured
import measured_asked
import measured_fit
import simulated_times

ROOT = Path(__file__).parents[2]
OUT = ROOT / "service/percell/physics/data/measured_times.json"
WORDS = {
    "capacity": "the printed capacity, and the rating where it is known",
    "resistance": "the printed capacity, and the resistance after 10 s or after 1 s",
    "own_discharge": "the printed capacity, the resistance after 10 s, and one discharge of the cell itself at "
    "0.5 to 1 times the capacity per hour",
    "slow_discharge": "the printed capacity, the resistance after 10 s, and one slow discharge of the cell itself, at a "
    "tenth or a twentieth of the capacity per hour",
    "health": "the printed capacity, what is left of it, and the resistance of the aged cell",
}


def compared():
    """Return every measured time with its answers, worst first within a way."""
    found = []
    for way, run, told in measured_asked.asked():
        question = measured_asked.question_of(run, told)
        mean_a = measured_asked.mean_current_a(run)
        found.append(
            {
                "way": way,
                "cell": run.cell + (", aged" if run.health < 1 else ""),
                "rate_per_h": round(run.rate, 2),
                "cutoff_v": run.cutoff_v,
                "measured_s": round(run.seconds, 1),
                "at_power_s": round(float(measured_asked.at_power(question)), 1),
                "at_current_s": round(float(measured_asked.at_current(question, mean_a)), 1),
            }
        )
    places = list(WORDS)
    found.sort(key=lambda row: (places.index(row["way"]), -max(map(abs, off(row)))))
    return found


def off(row):
    """Return how far the answers lie from what was measured, as parts of that."""
    return [row[name] / row["measured_s"] - 1 for name in ("at_power_s", "at_current_s")]


def summed(rows):
    """Return the widest of each way, beside what it is meant to keep within."""
    found = []
    for way, group in groupby(rows, key=lambda row: row["way"]):
        some = list(group)
        rates = [row["rate_per_h"] for row in some]
        cutoffs = [row["cutoff_v"] for row in some]
        parts = [part for row in some for part in off(row)]
        aimed = zip(("aimed_lowest", "aimed_highest"), measured_fit.AIMS.get(way, ()), strict=False)
        found.append(
            {
                "way": way,
                "words": WORDS[way],
                "cells": len({row["cell"] for row in some}),
                # each discharge is compared at 3 V
                "discharges": len(
                    {
                        (row["cell"], row["rate_per_h"], row["measured_s"])
                        for row in some
                        if row["cutoff_v"] == 3.0
                    }
                ),
                "times": len(parts),
                "lowest": round(min(parts), 4),
                "highest": round(max(parts), 4),
                **dict(aimed),
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
    runs = measured.runs(measured_asked.CUTOFFS_V)
    return {
        "sources": sorted({f"{run.source}; {run.licence}" for run in runs}),
        "ways": summed(rows),
        "left_out": measured_fit.left_out(),
        "simulated": simulated_times.summed(),
        "rows": rows,
    }


def written(content):
    """Return the content as text, a row a line."""
    lines = []
    for name, values in content.items():
        rows = ",\n".join(f"  {json.dumps(value, ensure_ascii=False)}" for value in values)
        lines.append(f' "{name}": [\n{rows}\n ]')
    return "{\n" + ",\n".join(lines) + "\n}\n"


if __name__ == "__main__":
    OUT.write_text(written(made()), encoding="utf-8")
