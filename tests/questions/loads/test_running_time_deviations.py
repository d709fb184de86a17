"""The comparison of running times with simulated ones covers every curve, and is up to date."""

from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest
from percell.questions.loads.running_time_deviations import deviations

from percell.physics.entries import DataError
from percell.questions.loads import running_time_deviations

REFERENCE = Path(__file__).parents[2] / "reference"
SIMULATED = ("nmc", "nca", "lfp")


def test_a_curve_that_was_never_compared_is_named(monkeypatch):
    """A curve without a comparison gives no running time."""
    published = running_time_deviations.PUBLISHED | {"lmo": "lmo_someone2030"}
    monkeypatch.setattr(running_time_deviations, "PUBLISHED", published)
    with pytest.raises(DataError, match=r"^running_time_deviation\.json: nothing .* for lmo; make"):
        running_time_deviations.deviations.__wrapped__()


def test_a_curve_of_two_chemistries_was_compared_once(monkeypatch):
    """The comparison is that of the cell simulated."""
    published = running_time_deviations.PUBLISHED | {"lmo": "nmc_chen2020"}
    monkeypatch.setattr(running_time_deviations, "PUBLISHED", published)
    assert running_time_deviations.deviations.__wrapped__().rows


def test_deviations_are_those_of_the_physics():
    """The stored deviations are what the physics gives now; if not, make them again."""
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
