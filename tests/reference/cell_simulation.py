"""Simulated cells for the scripts of this folder: published parameter sets in PyBaMM.

Runs in an environment of its own, for the project does not depend on PyBaMM:
``pip install pybamm==26.10.1.1`` there, then ``python tests/reference/make_curves.py`` and the like.
"""

import os
from typing import NamedTuple

os.environ["PYBAMM_DISABLE_TELEMETRY"] = "true"

import numpy as np
import pybamm

MESH = {"x_n": 20, "x_s": 20, "x_p": 20, "r_n": 30, "r_p": 30}


class Cell(NamedTuple):
    """A published parameter set; rate 1 is its nominal capacity per hour."""

    parameters: str
    nominal_ah: float
    nominal_v: float
    empty_v: float
    source: str

    @property
    def made_with(self):
        return (
            f"PyBaMM {pybamm.__version__}, parameter set {self.parameters}, DFN model, "
            "isothermal at 25 °C"
        )


CHEN = Cell(
    parameters="Chen2020",
    nominal_ah=5.0,
    nominal_v=3.6,
    empty_v=2.5,
    source="Chen et al., J. Electrochem. Soc. 167 (2020) 080534, DOI 10.1149/1945-7111/ab9050",
)
KIM = Cell(
    parameters="NCA_Kim2011",
    nominal_ah=0.43,
    nominal_v=3.6,
    empty_v=2.7,
    source="Kim et al., J. Electrochem. Soc. 158 (2011) A955, DOI 10.1149/1.3597614",
)
PRADA = Cell(
    parameters="Prada2013",
    nominal_ah=2.3,
    nominal_v=3.2,
    empty_v=2.0,
    source="Prada et al. (2013), DOI 10.1149/2.053304jes",
)


def discharge(cell, kind, rate, end_v=None):
    """Return time, voltage, current and delivered charge of one discharge from full.

    The rate is in multiples of the nominal capacity per hour; of a constant power and of a constant
    resistance it is the rate at the nominal voltage.
    """
    values = pybamm.ParameterValues(cell.parameters)
    # the state "full" belongs to the published voltage limits, so it is set before the end is moved
    negative, positive = pybamm.lithium_ion.get_initial_stoichiometries(1.0, values)
    for electrode, part in (("negative", negative), ("positive", positive)):
        highest = values[f"Maximum concentration in {electrode} electrode [mol.m-3]"]
        values[f"Initial concentration in {electrode} electrode [mol.m-3]"] = part * highest
    values["Lower voltage cut-off [V]"] = end_v or cell.empty_v
    current_a = cell.nominal_ah * rate
    if kind == "current":
        values["Current function [A]"] = current_a
        model = pybamm.lithium_ion.DFN()
    elif kind == "power":
        values.update(
            {"Power function [W]": current_a * cell.nominal_v}, check_already_exists=False
        )
        model = pybamm.lithium_ion.DFN({"operating mode": "power"})
    else:
        values.update(
            {"Resistance function [Ohm]": cell.nominal_v / current_a}, check_already_exists=False
        )
        model = pybamm.lithium_ion.DFN({"operating mode": "resistance"})
    simulation = pybamm.Simulation(
        model,
        parameter_values=values,
        var_pts=MESH,
        solver=pybamm.IDAKLUSolver(rtol=1e-6, atol=1e-8),
    )
    longest_s = 3600 / rate * (1.6 if kind == "resistance" else 1.3)
    solution = simulation.solve([0, longest_s], t_interp=np.linspace(0, longest_s, 6000))
    names = ("Voltage [V]", "Current [A]", "Discharge capacity [A.h]")
    return (solution.t, *(solution[name].entries for name in names))


def crossing_s(time_s, voltage_v, cutoff_v):
    """Return the time at which a falling voltage first reaches a cut-off."""
    return float(np.interp(-cutoff_v, -voltage_v, time_s))


def pulse_resistance_ohm(cell):
    """Two loads as in IEC 61960-3: 0.2 It for 10 s, then 1 It for 1 s, at half charge."""
    simulation = pybamm.Simulation(
        pybamm.lithium_ion.DFN(),
        parameter_values=pybamm.ParameterValues(cell.parameters),
        experiment=pybamm.Experiment(
            [
                f"Discharge at {0.2 * cell.nominal_ah} A for 10 s",
                f"Discharge at {cell.nominal_ah} A for 1 s",
            ],
            period="0.1 s",
        ),
    )
    steps = simulation.solve(initial_soc=0.5).cycles
    low, high = (step["Voltage [V]"].entries[-1] for step in steps)
    return float((low - high) / (0.8 * cell.nominal_ah))


def capacity_ah(cell):
    values = pybamm.ParameterValues(cell.parameters)
    limits = pybamm.lithium_ion.ElectrodeSOHSolver(values).get_min_max_stoichiometries()
    whole_ah = float(values.evaluate(pybamm.LithiumIonParameters().n.Q_init))
    return whole_ah * float(limits[1] - limits[0])
