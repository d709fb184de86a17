"""Make running_time_chen2020.json: simulated times to a cut-off, to compare the project's own with.

See cell_simulation.py for the environment. Constant power and constant resistance are the comparison
proper; constant current is what the overvoltage table was made from.
"""

import json
from pathlib import Path

from cell_simulation import MADE_WITH, NOMINAL_AH, NOMINAL_V, crossing_s, discharge

RATES = [0.2, 0.5, 1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 3.25, 3.5, 3.75, 4.0]
CUTOFFS_V = [3.4, 3.2, 3.0, 2.8]
OUT = Path(__file__).with_name("running_time_chen2020.json")


def main():
    rows = []
    for kind in ("power", "resistance", "current"):
        for rate in RATES:
            time_s, voltage_v, _, _ = discharge(kind, rate)
            rows += [
                {
                    "load": kind,
                    "rate": rate,
                    "cutoff_v": cutoff_v,
                    "simulated_s": round(crossing_s(time_s, voltage_v, cutoff_v), 2),
                }
                for cutoff_v in CUTOFFS_V
            ]
    head = {
        "made_with": MADE_WITH,
        "source": "Chen et al., J. Electrochem. Soc. 167 (2020) 080534, DOI 10.1149/1945-7111/ab9050",
        "note": "One cell from full. Rate 1 is 5 A; as a power 5 A at 3.6 V, as a resistance 3.6 V over 5 A.",
        "nominal_ah": NOMINAL_AH,
        "nominal_v": NOMINAL_V,
    }
    lines = ",\n  ".join(json.dumps(row) for row in rows)
    text = json.dumps(head, indent=1, ensure_ascii=False)
    OUT.write_text(text[:-2] + f',\n "rows": [\n  {lines}\n ]\n}}\n')


if __name__ == "__main__":
    main()
