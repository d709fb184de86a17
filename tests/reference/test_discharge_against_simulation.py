"""Running and charging times against a simulated cell of published parameters."""

import json
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest

from percell.physics.charging import charge
from percell.physics.curves import published_curve

HERE = Path(__file__).parent
spec = spec_from_file_location("running_time_deviation", HERE / "running_time_deviation.py")
deviation = module_from_spec(spec)
spec.loader.exec_module(deviation)
CHARGES = json.loads((HERE / "charging_chen2020.json").read_text(encoding="utf-8"))


ROWS = [row for chemistry in deviation.CELLS for row in deviation.rows(chemistry)]


def named(case):
    chemistry, load = case
    source = deviation.simulated(chemistry)["source"].split(",")[0]
    return f"{source} by PyBaMM, constant {load}"


@pytest.mark.parametrize(
    "case", sorted({(row["chemistry"], row["load"]) for row in ROWS}), ids=named
)
def test_running_time(case):
    """No time is promised that is more than 2 % above the simulated one, nor 5 % below it."""
    rows = [row for row in ROWS if (row["chemistry"], row["load"]) == case]
    assert len(rows) > 20
    off = [row for row in rows if not -0.05 < row["deviation"] < 0.02]
    assert off == []


@pytest.mark.parametrize("chemistry", deviation.CELLS)
def test_the_simulation_is_named(chemistry):
    """Each reference file says with what it was made and from which publication."""
    reference = deviation.simulated(chemistry)
    assert "PyBaMM 26." in reference["made_with"]
    assert "DOI 10." in reference["source"]


def test_what_borrowing_costs():
    """Another design's sag may promise up to 7 % too much at four times the capacity an hour."""
    borrowed = [row["deviation"] for row in deviation.rows("nca", borrowed="nmc")]
    assert 0.05 < max(borrowed) < 0.07


@pytest.mark.parametrize(
    "row", CHARGES["rows"], ids=lambda r: f"Chen 2020 by PyBaMM, charge at rate {r['rate']}"
)
def test_charging_time(row):
    """No charge is promised to be more than 1 % shorter than simulated, nor 5 % longer."""
    nominal_ah = CHARGES["nominal_ah"]
    ours = charge(
        charge_current_a=row["rate"] * nominal_ah,
        end_current_a=CHARGES["end_rate"] * nominal_ah,
        charged_v=CHARGES["charged_v"],
        **deviation.cell("nmc"),
        start_soc=CHARGES["start_soc"],
        curve=published_curve(chemistry="nmc"),
    )
    simulated_s = row["constant_current_s"] + row["constant_voltage_s"]
    assert -0.01 < ours.time_s / simulated_s - 1.0 < 0.05
    assert ours.charge_ah == pytest.approx(row["charge_ah"], rel=0.01)
