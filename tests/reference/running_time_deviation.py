"""Our running times beside the simulated ones; run it to print them as CSV."""

import csv
import json
import sys
from pathlib import Path

import numpy as np

from percell.physics.curves import PUBLISHED, own_curve, published_curve
from percell.physics.discharge import converter_run, direct_run
from percell.physics.entries import DATA

HERE = Path(__file__).parent
# chemistry, and the simulated cell that stands for it
CELLS = {chemistry: curve.partition("_")[2] for chemistry, curve in PUBLISHED.items()}


def simulated(chemistry):
    """Return the simulated times of a chemistry, as the file has them."""
    return json.loads((HERE / f"running_time_{CELLS[chemistry]}.json").read_text(encoding="utf-8"))


def cell(chemistry):
    """Return the capacity and pulse resistance of the simulated cell."""
    name = f"{chemistry}_{CELLS[chemistry]}_under_load.json"
    table = json.loads((DATA / name).read_text(encoding="utf-8"))
    return {
        "capacity_ah": table["capacity_ah"],
        "resistance_ohm": table["pulse_resistance_ohm"],
    }


def rows(chemistry="nmc", borrowed=None):
    """Return load, rate, cutoff_v, simulated_s, ours_s and deviation, a part of the simulated time.

    ``borrowed`` names another chemistry whose sag is used instead: it shows what borrowing costs.
    """
    reference = simulated(chemistry)
    entries = [row for row in reference["rows"] if row["load"] != "current"]
    kind, rate, cutoff_v = (
        np.array([row[key] for row in entries]) for key in ("load", "rate", "cutoff_v")
    )
    curve = published_curve(chemistry=chemistry)
    case = cell(chemistry) | {
        "series": 1,
        "parallel": 1,
        "contact_resistance_ohm": 0.0,
        "cutoff_v": cutoff_v,
        "start_soc": 1.0,
        "curve": own_curve(soc=curve.soc, ocv_v=curve.ocv_v, chemistry=borrowed or chemistry),
    }
    current_a = rate * reference["nominal_ah"]
    nominal_v = reference["nominal_v"]
    power = converter_run(
        output_power_w=current_a * nominal_v, efficiency=1.0, idle_power_w=0.0, **case
    )
    resistance = direct_run(
        load_resistance_ohm=nominal_v / current_a, device_resistance_ohm=0.0, **case
    )
    ours_s = np.where(kind == "power", power.time_s, resistance.time_s)
    return [
        {"chemistry": chemistry}
        | row
        | {"ours_s": round(float(ours), 1), "deviation": float(ours / row["simulated_s"] - 1.0)}
        for row, ours in zip(entries, ours_s, strict=True)
    ]


def main():
    columns = ["chemistry", "load", "rate", "cutoff_v", "simulated_s", "ours_s", "deviation"]
    writer = csv.DictWriter(sys.stdout, columns)
    writer.writeheader()
    for chemistry in CELLS:
        writer.writerows(row | {"deviation": f"{row['deviation']:.4f}"} for row in rows(chemistry))


if __name__ == "__main__":
    main()
