"""Make running_time_deviation.json of the service: the spread of our running times about the simulated.

Run it after a change of the discharge's physics; test_discharge_against_simulation.py says when.
"""

import json

from running_time_deviation import CELLS, DATA, cell, rows, simulated

TARGET = DATA / "running_time_deviation.json"


def spread():
    """Return lowest and highest deviation by chemistry and rate, rounded away from zero."""
    found = []
    for chemistry in CELLS:
        every = rows(chemistry)
        for rate in sorted({row["rate"] for row in every}):
            parts = [row["deviation"] for row in every if row["rate"] == rate]
            # one more unit in the last place at the far end, so that none lies outside
            low, high = (round(end, 4) for end in (min(parts) - 5e-5, max(parts) + 5e-5))
            found.append(
                {"chemistry": chemistry, "rate_per_h": rate, "lowest": low, "highest": high}
            )
    return found


def reach():
    """Return the hardest load compared, as the voltage that it costs a cell's pulse resistance."""
    found = []
    for chemistry in CELLS:
        whole = simulated(chemistry)
        highest_a = max(row["rate"] for row in whole["rows"]) * whole["nominal_ah"]
        sag_v = round(highest_a * cell(chemistry)["resistance_ohm"], 3)
        found.append({"chemistry": chemistry, "highest_sag_v": sag_v})
    return found


def main():
    heads = [simulated(chemistry) for chemistry in CELLS]
    head = {
        "made_with": [head["made_with"] for head in heads],
        "sources": [head["source"] for head in heads],
        "reach": reach(),
    }
    lines = ",\n  ".join(json.dumps(row) for row in spread())
    text = json.dumps(head, indent=1, ensure_ascii=False)
    TARGET.write_text(text[:-2] + f',\n "rows": [\n  {lines}\n ]\n}}\n', encoding="utf-8")


if __name__ == "__main__":
    main()
