"""Make running_time_*.json: simulated times to a cut-off, to compare the project's own with.

See cell_simulation.py for the environment. Constant power and constant resistance are the comparison
proper; constant current is what the overvoltage tables were made from.
"""

import json
from pathlib import Path

from cell_simulation import (
    CHEN,
    KIM,
    PRADA,
    capacity_ah,
    crossing_s,
    discharge,
    pulse_resistance_ohm,
)

RATES = [0.2, 0.5, 1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 3.25, 3.5, 3.75, 4.0]
# cut-offs of LFP lie below its flat middle, where a few millivolts would be most of the time
CELLS = {
    "chen2020": (CHEN, [3.4, 3.2, 3.0, 2.8]),
    "kim2011": (KIM, [3.4, 3.2, 3.0, 2.8]),
    "prada2013": (PRADA, [2.8, 2.5]),
}
HERE = Path(__file__).parent


def make(name, cell, cutoffs_v):
    rows = []
    for kind in ("power", "resistance", "current"):
        for rate in RATES:
            time_s, voltage_v, _, _ = discharge(cell, kind, rate)
            rows += [
                {
                    "load": kind,
                    "rate": rate,
                    "cutoff_v": cutoff_v,
                    "simulated_s": round(crossing_s(time_s, voltage_v, cutoff_v), 2),
                }
                for cutoff_v in cutoffs_v
            ]
    head = {
        "made_with": cell.made_with,
        "source": cell.source,
        "note": "One cell from full. Rate 1 is the nominal capacity per hour; as a power that current at the "
        "nominal voltage, as a resistance the nominal voltage over that current.",
        "nominal_ah": cell.nominal_ah,
        "nominal_v": cell.nominal_v,
        "capacity_ah": round(capacity_ah(cell), 4),
        "pulse_resistance_ohm": round(pulse_resistance_ohm(cell), 6),
    }
    lines = ",\n  ".join(json.dumps(row) for row in rows)
    text = json.dumps(head, indent=1, ensure_ascii=False)
    target = HERE / f"running_time_{name}.json"
    target.write_text(text[:-2] + f',\n "rows": [\n  {lines}\n ]\n}}\n')


if __name__ == "__main__":
    for name, (cell, cutoffs_v) in CELLS.items():
        make(name, cell, cutoffs_v)
