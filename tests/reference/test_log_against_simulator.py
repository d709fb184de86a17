"""Logs made by a circuit simulator, and sums made by SciPy, against ours.

Of a measured log nobody knows the resistance, so this one comes from ngspice: a cell as a capacitor behind a
known resistance, under a pulsed load, with the simulator's own integrals of charge and energy.
"""

import subprocess

import numpy as np
import pytest
from scipy.integrate import trapezoid

from percell.physics import current_steps, discharge_log

CELL_OHM = 0.025
NETLIST = f"""* one cell under a pulsed load; two capacitors of 1 F add up charge and energy
.options reltol=1e-6
CCELL e 0 12000 IC=4.2
RCELL e t {CELL_OHM}
VSENSE t s 0
ILOAD s 0 PULSE(0.5 10 5 1m 1m 30 60)
BQ 0 q I = i(VSENSE)
CQ q 0 1 IC=0
BW 0 w I = i(VSENSE)*v(t)
CW w 0 1 IC=0
.control
set wr_singlescale
tran 0.2 300 0 0.2 uic
wrdata log.txt v(t) i(vsense) v(q) v(w)
quit
.endc
.end
"""


@pytest.fixture(scope="module")
def simulated(tool, tmp_path_factory):
    """Run the load for 300 s and read time, voltage, current and both integrals."""
    folder = tmp_path_factory.mktemp("log")
    (folder / "log.cir").write_text(NETLIST)
    subprocess.run([tool("ngspice"), "-b", "log.cir"], cwd=folder, capture_output=True, check=True)
    # with uic the first row is written before the sources act
    return np.loadtxt(folder / "log.txt")[1:].T


@pytest.mark.parametrize("source", ["ngspice transient with its own integrals"])
def test_charge_and_energy(simulated, source):
    """Charge and energy of the log are the simulator's integrals over the same time."""
    time_s, voltage_v, current_a, charge_as, energy_j = simulated
    got = discharge_log.summary(
        time_s=time_s, voltage_v=voltage_v, current_a=current_a, temperature_c=None
    )
    assert got.charge_ah == pytest.approx((charge_as[-1] - charge_as[0]) / 3600, rel=2e-4), source
    assert got.energy_wh == pytest.approx((energy_j[-1] - energy_j[0]) / 3600, rel=2e-4)
    # nine and a half ampere more for half of the time, by hand
    assert got.charge_ah == pytest.approx((0.5 * 300 + 9.5 * 150) / 3600, rel=1e-3)


@pytest.mark.parametrize("source", ["ngspice transient with a known series resistance"])
def test_resistance_at_the_steps(simulated, source):
    """The steps of the simulated load show the resistance of the simulated cell, up and down."""
    time_s, voltage_v, current_a, *_ = simulated
    steps = current_steps.current_steps(
        time_s=time_s, voltage_v=voltage_v, current_a=current_a, threshold_a=2.0, settle_s=0.0
    )
    assert len(steps) == 10, source
    assert {step.current_after_a > step.current_before_a for step in steps} == {True, False}
    for step in steps:
        assert step.resistance_ohm == pytest.approx(CELL_OHM, rel=1e-3)
    spread = current_steps.step_resistance(steps=steps)
    assert spread == pytest.approx((CELL_OHM,) * 3, rel=1e-3)


@pytest.mark.parametrize("seed", range(5), ids=lambda n: f"scipy.integrate.trapezoid, draw {n}")
def test_sums_of_an_uneven_log(seed):
    """Charge and energy of a log with uneven rows are SciPy's trapezoids."""
    draw = np.random.default_rng(seed)
    rows = 500
    time_s = np.cumsum(draw.uniform(0.05, 20.0, rows))
    voltage_v = np.linspace(4.2, 2.6, rows) + draw.normal(0, 0.01, rows)
    current_a = draw.uniform(0.0, 25.0, rows)
    got = discharge_log.summary(
        time_s=time_s, voltage_v=voltage_v, current_a=current_a, temperature_c=None
    )
    assert got.charge_ah == pytest.approx(trapezoid(current_a, time_s) / 3600, rel=1e-12)
    energy_wh = trapezoid(current_a * voltage_v, time_s) / 3600
    assert got.energy_wh == pytest.approx(energy_wh, rel=1e-12)
    assert got.mean_voltage_v == pytest.approx(energy_wh / got.charge_ah, rel=1e-12)
