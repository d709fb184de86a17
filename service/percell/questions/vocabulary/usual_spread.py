"""The worst-case cell at the usual spread, calculated in advance.

Drawing the groups takes some hundredths of a second, too long for every answer that mentions it. The
script ``tests/reference/make_usual_spread.py`` writes the figures, and a test draws them again.
"""

from percell.physics.entries import DATA, read_data

NAME = "usual_spread"
FILE = DATA / f"{NAME}.json"
# cells in parallel: share at the percentile, part of the groups above the sharing allowance
KEPT: dict[int, tuple[float, float]] = {
    row["parallel"]: (row["share"], row["above_allowance"]) for row in read_data(NAME)["rows"]
}
