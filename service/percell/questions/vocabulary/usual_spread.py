"""The worst-case cell at the usual spread, calculated in advance.

Drawing the groups takes some hundredths of a second, too long for every answer that mentions it. The
script ``tests/reference/make_usual_spread.py`` writes the figures, and a test draws them again.
"""

import json

from percell.physics.entries import DATA

FILE = DATA / "usual_spread.json"
# cells in parallel: share at the percentile, part of the groups above the sharing allowance
KEPT: dict[int, tuple[float, float]] = {
    row["parallel"]: (row["share"], row["above_allowance"])
    for row in json.loads(FILE.read_text(encoding="utf-8"))["rows"]
}
