"""Make the data files of service/percell/physics/data/ from published parameter sets.

See cell_simulation.py for the environment. Rest curves come from the published electrode fits and the
balance of charge between the electrodes; the overvoltage tables from simulated discharges at constant
current, their reference resistance from a simulated pulse.
"""

import json
from pathlib import Path

import numpy as np
import pybamm
from cell_simulation import CHEN, KIM, PRADA, capacity_ah, discharge, pulse_resistance_ohm

DATA = Path(__file__).parents[2] / "service/percell/physics/data"
LICENCE = "BSD-3-Clause (PyBaMM, which codes the published fits)"
ONE_DESIGN = "Fits for one design of cell at rest, not a promise for others."
CURVES = {
    "nmc_chen2020": (CHEN, "NMC811 against graphite and silicon oxide", False, ONE_DESIGN),
    "nca_kim2011": (KIM, "NCA against graphite", False, ONE_DESIGN),
    "lfp_prada2013": (
        PRADA,
        "LFP against graphite",
        True,
        "Rough: the set takes its graphite fit from another cell. It shows the flat middle.",
    ),
}
SOC_POINTS = 201
# Rates of an overvoltage table, evenly spaced so that each covers the sag of practice; the row at zero is
# the slowest simulated one.
ROWS = 51
# A cell without one sags as measured cells do.
RATE_STEP = {CHEN: 0.2, PRADA: 0.2}
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


def overvoltage(cell, soc, ocv_v):
    """Effective resistance over pulse resistance, by current and by the share of the charge that this
    current brings out before the empty voltage."""
    full_ah, resistance_ohm = capacity_ah(cell), pulse_resistance_ohm(cell)
    rates = [round(RATE_STEP[cell] * k, 1) for k in range(ROWS)]
    depths, rows = [], []
    for rate in rates:
        used = rate or SLOWEST
        _, voltage_v, _, charge_ah = discharge(cell, "current", used)
        depth = charge_ah / full_ah
        depths.append(round(float(depth[-1]), 5))
        at = SHARES * depth[-1]
        lost_v = np.interp(1 - at, soc, ocv_v) - np.interp(at, depth, voltage_v)
        rows.append(
            [round(float(x), 3) for x in lost_v / (used * cell.nominal_ah * resistance_ohm)]
        )
    return {
        "capacity_ah": round(full_ah, 4),
        "pulse_resistance_ohm": round(resistance_ohm, 6),
        "sag_v": [round(rate * cell.nominal_ah * resistance_ohm, 6) for rate in rates],
        "depth": depths,
        "place": [round(float(x), 6) for x in SHARES],
        "resistance_ratio": rows,
    }


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
    for name, (cell, title, rough, note) in CURVES.items():
        soc, ocv_v = rest_curve(cell.parameters)
        write(
            name,
            {
                "name": title,
                "source": cell.source,
                "rough": rough,
                "note": note,
                "licence": LICENCE,
                "made_with": f"PyBaMM {pybamm.__version__}, parameter set {cell.parameters}",
                "soc": [round(float(z), 4) for z in soc],
                "ocv_v": [round(float(u), 5) for u in ocv_v],
            },
        )
        if cell not in RATE_STEP:
            continue
        write(
            f"{name}_under_load",
            {
                "name": f"Voltage lost under load, simulated: {title}",
                "source": cell.source,
                "licence": LICENCE,
                "made_with": cell.made_with,
                "note": "resistance_ratio[i][k] is the voltage lost, over the current times the pulse "
                "resistance, at current i and place k; place is the delivered charge over the depth at "
                f"which this current reaches {cell.empty_v} V; sag_v is the current times the pulse "
                "resistance. The pulse is 0.2 It for 10 s, then 1 It for 1 s, at half charge, as in "
                "IEC 61960-3.",
            }
            | overvoltage(cell, soc, ocv_v),
        )


if __name__ == "__main__":
    main()
