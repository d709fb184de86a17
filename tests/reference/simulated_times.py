"""Ask the service for the running times of simulated cells: what the answers give where nobody measured a cell.

The simulated times are in ``running_time_*.json``, made by ``make_running_time.py``. Each is asked for with the charge
of the simulated cell and, where it is told, its resistance after 1 s.
"""

import json
from pathlib import Path
from typing import NamedTuple

import numpy as np
from msgspec import convert

from percell.physics.curves import PUBLISHED, simulated_curve
from percell.physics.discharge import converter_run, direct_run
from percell.questions.loads.pack_run import RunningTime, followed

HERE = Path(__file__).parent


class Case(NamedTuple):
    """A simulated cell, and how it is asked for."""

    simulated: str  # its file
    chemistry: str
    words: str
    own_resistance: bool = True
    rated_per_h: float | None = None

    @property
    def rates_per_h(self):
        """Return the highest rates up to which it is summed up: none above its rating."""
        return [rate for rate in (1.0, 2.0, 4.0) if rate <= (self.rated_per_h or rate)]


CASES = (
    Case("prada2013", "lfp", "iron phosphate, with its resistance"),
    Case("prada2013", "lfp", "iron phosphate, with nothing but its capacity", own_resistance=False),
    Case(
        "chen2020",
        "nmc",
        "energy cell, with its resistance and a rating of twice its capacity per hour",
        rated_per_h=2.0,
    ),
    Case(
        "chen2020",
        "nmc",
        "energy cell, with a rating of twice its capacity per hour",
        own_resistance=False,
        rated_per_h=2.0,
    ),
    Case("chen2020", "nmc", "energy cell, with nothing but its capacity", own_resistance=False),
    Case(
        "chen2020",
        "nmc",
        "energy cell, with a false rating of five times its capacity per hour",
        own_resistance=False,
        rated_per_h=5.0,
    ),
    Case("kim2011", "nca", "nickel cobalt aluminium, with its resistance"),
)


def reference(name):
    """Return the simulated times of a cell, as the file has them."""
    return json.loads((HERE / f"running_time_{name}.json").read_text(encoding="utf-8"))


def question_of(case, cell, row):
    """Return the question about one simulated run."""
    current_a = row["rate"] * cell["nominal_ah"]
    body = {
        "layout": "1S1P",
        "chemistry": case.chemistry,
        "cell_capacity_ah": cell["capacity_ah"],
        "cell_cutoff_voltage_v": row["cutoff_v"],
        "contact_resistance_ohm": 0,
        "sharing": "even",
    }
    if row["load"] == "power":
        body |= {"output_power_w": current_a * cell["nominal_v"], "efficiency": 1}
    else:
        body["coil_resistance_ohm"] = cell["nominal_v"] / current_a
    if case.own_resistance:
        ohm = cell["pulse_resistance_ohm"]
        body |= {"cell_resistance_ohm": ohm, "cell_resistance_after_s": 1}
    if case.rated_per_h:
        body["cell_rating_a"] = case.rated_per_h * cell["capacity_ah"]
    return convert(body, RunningTime)


def rows(case):
    """Yield rate and deviation, a part of the simulated time, of each run that is no constant current."""
    cell = reference(case.simulated)
    for row in cell["rows"]:
        if row["load"] != "current":
            answered_s = float(followed(question_of(case, cell, row)).run.time_s)
            yield row["rate"], answered_s / row["simulated_s"] - 1


def summed():
    """Return the widest deviations of each case, up to each rate."""
    found = []
    for case in CASES:
        cell, parts = reference(case.simulated), list(rows(case))
        for highest in case.rates_per_h:
            some = [part for rate, part in parts if rate <= highest]
            found.append(
                {
                    "cell": case.words,
                    "source": f"{cell['source']}; {cell['made_with']}",
                    "highest_rate_per_h": highest,
                    "times": len(some),
                    "lowest": round(min(some), 4),
                    "highest": round(max(some), 4),
                }
            )
    return found


def by_table(chemistry):
    """Return the deviations of the sag table itself, with the resistance of the pulse that it was made with."""
    cell = reference(PUBLISHED[chemistry].partition("_")[2])
    entries = [row for row in cell["rows"] if row["load"] != "current"]
    current_a = cell["nominal_ah"] * np.array([row["rate"] for row in entries])
    same = {
        "series": 1,
        "parallel": 1,
        "capacity_ah": cell["capacity_ah"],
        "resistance_ohm": cell["pulse_resistance_ohm"],
        "contact_resistance_ohm": 0.0,
        "cutoff_v": np.array([row["cutoff_v"] for row in entries]),
        "start_soc": 1.0,
        "curve": simulated_curve(chemistry=chemistry),
    }
    power = converter_run(
        output_power_w=current_a * cell["nominal_v"], efficiency=1.0, idle_power_w=0.0, **same
    )
    resistance = direct_run(
        load_resistance_ohm=cell["nominal_v"] / current_a, device_resistance_ohm=0.0, **same
    )
    is_power = np.array([row["load"] == "power" for row in entries])
    answered_s = np.where(is_power, power.time_s, resistance.time_s)
    return answered_s / np.array([row["simulated_s"] for row in entries]) - 1
