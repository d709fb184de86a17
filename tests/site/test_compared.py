"""The table of deviations says what the API says, and no end smaller than it is."""

import json
import re

import pytest

from percell.web.reference import reference
from percell.web.resource import encode
from percell_site.api import ApiError
from percell_site.compared import table

REFERENCE = json.loads(encode(reference()))


def test_every_row_is_there():
    """Each rate has a line and each chemistry a column, with both ends rounded outwards."""
    lines = [
        line.strip("| ").split(" | ") for line in table(REFERENCE, "running-time").splitlines()
    ]
    compared = REFERENCE["running_times_compared"]
    column = {one["chemistry"]: i for i, one in enumerate(compared["reach"], 1)}
    printed = {line[0]: line for line in lines}
    for row in compared["rows"]:
        text = printed[f"{row['rate_per_h']:g}"][column[row["chemistry"]]]
        ends = re.findall(r"([+\N{MINUS SIGN}]?[0-9.]+) %", text)
        low, high = (float(end.replace("\N{MINUS SIGN}", "-")) / 100 for end in ends)
        assert -1e-3 < low - row["lowest"] <= 1e-9
        assert -1e-9 <= high - row["highest"] < 1e-3


def test_sources_are_named():
    """Each simulation is named with its publication."""
    text = table(REFERENCE, "running-time")
    for key in ("sources", "made_with"):
        assert all(name in text for name in REFERENCE["running_times_compared"][key])


def test_unknown_name():
    """A marker with a name that nothing has fails the build."""
    with pytest.raises(ApiError):
        table(REFERENCE, "charging")
