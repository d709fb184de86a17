"""Our running times beside the simulated ones; run it to print them as CSV."""

import csv
import json
import sys
from pathlib import Path

import numpy as np

from percell.physics.curves import published_curve
from percell.physics.discharge import converter_run, direct_run

HERE = Path(__file__).parent
SIMULATED = json.loads((HERE / "running_time_chen2020.json").read_text(encoding="utf-8"))
TABLE = json.loads(
    (HERE.parents[1] / "service/percell/physics/data/overvoltage_chen2020.json").read_text(
        encoding="utf-8"
    )
)


def rows():
    """Return load, rate, cutoff_v, simulated_s, ours_s and deviation, a part of the simulated time."""
    entries = [row for row in SIMULATED["rows"] if row["load"] != "current"]
    kind, rate, cutoff_v = (
        np.array([row[key] for row in entries]) for key in ("load", "rate", "cutoff_v")
    )
    cell = {
        "series": 1,
        "parallel": 1,
        "capacity_ah": TABLE["capacity_ah"],
        "resistance_ohm": TABLE["pulse_resistance_ohm"],
        "contact_resistance_ohm": 0.0,
        "cutoff_v": cutoff_v,
        "start_soc": 1.0,
        "curve": published_curve(chemistry="nmc"),
    }
    current_a = rate * SIMULATED["nominal_ah"]
    nominal_v = SIMULATED["nominal_v"]
    power = converter_run(
        output_power_w=current_a * nominal_v, efficiency=1.0, idle_power_w=0.0, **cell
    )
    resistance = direct_run(
        load_resistance_ohm=nominal_v / current_a, device_resistance_ohm=0.0, **cell
    )
    ours_s = np.where(kind == "power", power.time_s, resistance.time_s)
    return [
        row | {"ours_s": round(float(ours), 1), "deviation": float(ours / row["simulated_s"] - 1.0)}
        for row, ours in zip(entries, ours_s, strict=True)
    ]


def main():
    writer = csv.DictWriter(
        sys.stdout, ["load", "rate", "cutoff_v", "simulated_s", "ours_s", "deviation"]
    )
    writer.writeheader()
    writer.writerows(row | {"deviation": f"{row['deviation']:.4f}"} for row in rows())


if __name__ == "__main__":
    main()
