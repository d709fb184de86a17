"""Make the data files of service/percell/physics/data/ from published parameter sets.

See cell_simulation.py for the environment. Rest curves come from the published electrode fits and the
balance of charge between the electrodes; the overvoltage table from simulated discharges at constant
current, its reference resistance from a simulated pulse.
"""

import json
from pathlib import Path

import numpy as np
import pybamm
from cell_simulation import MADE_WITH, NOMINAL_AH, PARAMETERS, discharge

DATA = Path(__file__).parents[2] / "service/percell/physics/data"
LICENCE = "BSD-3-Clause (PyBaMM, which codes the published fits)"
CURVES = {
    "nmc_chen2020": {
        "parameters": "Chen2020",
        "name": "NMC811 against graphite and silicon oxide",
        "source": "Chen et al., J. Electrochem. Soc. 167 (2020) 080534, DOI 10.1149/1945-7111/ab9050",
        "rough": False,
        "note": "Fits for one design of cell at rest, not a promise for others.",
    },
    "nca_kim2011": {
        "parameters": "NCA_Kim2011",
        "name": "NCA against graphite",
        "source": "Kim et al., J. Electrochem. Soc. 158 (2011) A955, DOI 10.1149/1.3597614",
        "rough": False,
        "note": "Fits for one design of cell at rest, not a promise for others.",
    },
    "lfp_prada2013": {
        "parameters": "Prada2013",
        "name": "LFP against graphite",
        "source": "Prada et al. (2013), DOI 10.1149/2.053304jes",
        "rough": True,
        "note": "Rough: the set takes its graphite fit from another cell. It shows the flat middle.",
    },
}
SOC_POINTS = 201
# C-rates of the overvoltage table, evenly spaced; the row at zero is the slowest simulated one
RATES = [round(0.2 * k, 1) for k in range(51)]
SLOWEST = 0.05
# places along a discharge, dense where the voltage bends: at its start and its end
SHARES = (1 - np.cos(np.pi * np.arange(49) / 48)) / 2


def rest_curve(parameters):
    values = pybamm.ParameterValues(parameters)
    soc = np.linspace(0, 1, SOC_POINTS)
    solver = pybamm.lithium_ion.ElectrodeSOHSolver(values)
    negative, positive = np.array([solver.get_initial_stoichiometries(z) for z in soc]).T
    potential = pybamm.LithiumIonParameters()
    kelvin = values["Ambient temperature [K]"]

    def at(function, part):
        return np.array(
            [
                float(values.evaluate(function(pybamm.Scalar(x), pybamm.Scalar(kelvin))))
                for x in part
            ]
        )

    return soc, at(potential.p.prim.U, positive) - at(potential.n.prim.U, negative)


def pulse_resistance_ohm():
    """Two loads as in IEC 61960-3: 0.2 It for 10 s, then 1 It for 1 s, at half charge."""
    simulation = pybamm.Simulation(
        pybamm.lithium_ion.DFN(),
        parameter_values=pybamm.ParameterValues(PARAMETERS),
        experiment=pybamm.Experiment(
            [f"Discharge at {0.2 * NOMINAL_AH} A for 10 s", f"Discharge at {NOMINAL_AH} A for 1 s"],
            period="0.1 s",
        ),
    )
    steps = simulation.solve(initial_soc=0.5).cycles
    low, high = (step["Voltage [V]"].entries[-1] for step in steps)
    return float((low - high) / (0.8 * NOMINAL_AH))


def overvoltage(soc, ocv_v, capacity_ah, resistance_ohm):
    """Effective resistance over pulse resistance, by current and by the share of the charge that this
    current brings out before 2.5 V."""
    depths, rows = [], []
    for rate in RATES:
        used = rate or SLOWEST
        _, voltage_v, _, charge_ah = discharge("current", used)
        depth = charge_ah / capacity_ah
        depths.append(round(float(depth[-1]), 5))
        at = SHARES * depth[-1]
        lost_v = np.interp(1 - at, soc, ocv_v) - np.interp(at, depth, voltage_v)
        rows.append([round(float(x), 3) for x in lost_v / (used * NOMINAL_AH * resistance_ohm)])
    return depths, rows


def write(name, content):
    """Write JSON with one short list a line."""
    entries = []
    for key, value in content.items():
        if isinstance(value, list) and isinstance(value[0], list):
            text = "[\n  " + ",\n  ".join(json.dumps(row) for row in value) + "\n ]"
        else:
            text = json.dumps(value, ensure_ascii=False)
        entries.append(f" {json.dumps(key)}: {text}")
    (DATA / f"{name}.json").write_text("{\n" + ",\n".join(entries) + "\n}\n")


def main():
    for name, entry in CURVES.items():
        soc, ocv_v = rest_curve(entry["parameters"])
        content = {key: entry[key] for key in ("name", "source", "rough", "note")} | {
            "licence": LICENCE,
            "made_with": f"PyBaMM {pybamm.__version__}, parameter set {entry['parameters']}",
            "soc": [round(float(z), 4) for z in soc],
            "ocv_v": [round(float(u), 5) for u in ocv_v],
        }
        write(name, content)
        if entry["parameters"] == PARAMETERS:
            chen = (soc, ocv_v)
    values = pybamm.ParameterValues(PARAMETERS)
    limits = pybamm.lithium_ion.ElectrodeSOHSolver(values).get_min_max_stoichiometries()
    whole_ah = float(values.evaluate(pybamm.LithiumIonParameters().n.Q_init))
    capacity_ah = whole_ah * float(limits[1] - limits[0])
    resistance_ohm = pulse_resistance_ohm()
    depths, rows = overvoltage(*chen, capacity_ah, resistance_ohm)
    write(
        "overvoltage_chen2020",
        {
            "name": "Voltage lost under load, simulated",
            "source": CURVES["nmc_chen2020"]["source"],
            "licence": LICENCE,
            "made_with": MADE_WITH,
            "note": "resistance_ratio[i][k] is the voltage lost, over the current times the pulse "
            "resistance, at current i and place k; place is the delivered charge over the depth at which "
            "this current reaches 2.5 V; sag_v is the current times the pulse resistance. The pulse is "
            "0.2 It for 10 s, then 1 It for 1 s, at half charge, as in IEC 61960-3.",
            "capacity_ah": round(capacity_ah, 4),
            "pulse_resistance_ohm": round(resistance_ohm, 6),
            "sag_v": [round(rate * NOMINAL_AH * resistance_ohm, 6) for rate in RATES],
            "depth": depths,
            "place": [round(float(x), 6) for x in SHARES],
            "resistance_ratio": rows,
        },
    )


if __name__ == "__main__":
    main()
