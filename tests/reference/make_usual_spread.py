"""Make usual_spread.json of the service's data: run with no arguments."""

import json

from percell.questions.vocabulary.sharing import PERCENTILE, SPREAD, drawn_worst_cell
from percell.questions.vocabulary.usual_spread import FILE

NOTE = (
    "Groups of cells in parallel whose resistances scatter by a relative standard deviation of "
    f"{SPREAD:g}, drawn at random: share is the part of the group's current in its worst-case cell that "
    f"the part {PERCENTILE:g} of the groups does not exceed; above_allowance is the part of the groups in "
    "which that cell carries more than the sharing allowance counts on."
)


def main():
    found = {parallel: drawn_worst_cell(parallel, SPREAD, PERCENTILE) for parallel in range(1, 21)}
    rows = [
        {"parallel": parallel, "share": got.share, "above_allowance": got.above_allowance}
        for parallel, got in found.items()
    ]
    lines = ",\n  ".join(json.dumps(row) for row in rows)
    FILE.write_text(f'{{\n "note": {json.dumps(NOTE)},\n "rows": [\n  {lines}\n ]\n}}\n', "utf-8")


if __name__ == "__main__":
    main()
