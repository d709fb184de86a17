"""The deviations that answers name are those of the physics as it is."""

from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest

from percell.questions.loads.running_time_deviations import deviations

REFERENCE = Path(__file__).parents[2] / "reference"
SIMULATED = ("nmc", "nca", "lfp")


def test_deviations_are_those_of_the_physics():
    """The deviations that the answers name are what the physics gives now; else make them again."""
    path = REFERENCE / "running_time_deviation.py"
    spec = spec_from_file_location("running_time_deviation", path)
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    for chemistry in SIMULATED:
        rows = module.rows(chemistry)
        for kept in (row for row in deviations().rows if row.chemistry == chemistry):
            parts = [row["deviation"] for row in rows if row["rate"] == kept.rate_per_h]
            assert kept.lowest == pytest.approx(min(parts), abs=1.01e-4)
            assert kept.highest == pytest.approx(max(parts), abs=1.01e-4)
            assert kept.lowest <= min(parts)
            assert max(parts) <= kept.highest
