"""A simulated cell for the scripts of this folder: the published parameter set of Chen 2020 in PyBaMM.

Runs in an environment of its own, for the project does not depend on PyBaMM:
``pip install pybamm==26.10.1.1`` there, then ``python tests/reference/make_curves.py`` and the like.
"""

import os

os.environ["PYBAMM_DISABLE_TELEMETRY"] = "true"

import numpy as np
import pybamm

PARAMETERS = "Chen2020"
NOMINAL_AH = 5.0
NOMINAL_V = 3.6
MESH = {"x_n": 20, "x_s": 20, "x_p": 20, "r_n": 30, "r_p": 30}
MADE_WITH = (
    f"PyBaMM {pybamm.__version__}, parameter set {PARAMETERS}, DFN model, isothermal at 25 °C"
)


def discharge(kind, rate, end_v=2.5):
    """Return time, voltage, current and delivered charge of one discharge from full.

    The rate is in multiples of the nominal capacity an hour; of a constant power and of a constant
    resistance it is the rate at the nominal voltage.
    """
    values = pybamm.ParameterValues(PARAMETERS)
    # the state "full" belongs to the published voltage limits, so it is set before the end is moved
    negative, positive = pybamm.lithium_ion.get_initial_stoichiometries(1.0, values)
    for electrode, part in (("negative", negative), ("positive", positive)):
        highest = values[f"Maximum concentration in {electrode} electrode [mol.m-3]"]
        values[f"Initial concentration in {electrode} electrode [mol.m-3]"] = part * highest
    values["Lower voltage cut-off [V]"] = end_v
    current_a = NOMINAL_AH * rate
    if kind == "current":
        values["Current function [A]"] = current_a
        model = pybamm.lithium_ion.DFN()
    elif kind == "power":
        values.update({"Power function [W]": current_a * NOMINAL_V}, check_already_exists=False)
        model = pybamm.lithium_ion.DFN({"operating mode": "power"})
    else:
        values.update(
            {"Resistance function [Ohm]": NOMINAL_V / current_a}, check_already_exists=False
        )
        model = pybamm.lithium_ion.DFN({"operating mode": "resistance"})
    simulation = pybamm.Simulation(
        model,
        parameter_values=values,
        var_pts=MESH,
        solver=pybamm.IDAKLUSolver(rtol=1e-6, atol=1e-8),
    )
    longest_s = 3600 / rate * (1.6 if kind == "resistance" else 1.1)
    solution = simulation.solve([0, longest_s], t_interp=np.linspace(0, longest_s, 6000))
    names = ("Voltage [V]", "Current [A]", "Discharge capacity [A.h]")
    return (solution.t, *(solution[name].entries for name in names))


def crossing_s(time_s, voltage_v, cutoff_v):
    """Return the time at which a falling voltage first reaches a cut-off."""
    return float(np.interp(-cutoff_v, -voltage_v, time_s))
