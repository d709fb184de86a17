"""Make charging_chen2020.json: simulated times of constant-current, constant-voltage charges.

See cell_simulation.py for the environment.
"""

import json
from pathlib import Path

import pybamm
from cell_simulation import CHEN, MESH

OUT = Path(__file__).with_name("charging_chen2020.json")
START_SOC = 0.1
END_RATE = 0.05


def charge(rate):
    """Return the seconds at constant current and at constant voltage, and the charge taken."""
    simulation = pybamm.Simulation(
        pybamm.lithium_ion.DFN(),
        parameter_values=pybamm.ParameterValues(CHEN.parameters),
        experiment=pybamm.Experiment(
            [
                f"Charge at {rate * CHEN.nominal_ah} A until 4.2 V",
                f"Hold at 4.2 V until {END_RATE * CHEN.nominal_ah} A",
            ],
            period="20 s",
        ),
        var_pts=MESH,
    )
    first, second = simulation.solve(initial_soc=START_SOC).cycles
    times = [float(step.t[-1] - step.t[0]) for step in (first, second)]
    return *times, -float(second["Discharge capacity [A.h]"].entries[-1])


def main():
    rows = []
    for rate in (0.2, 0.3, 0.5, 0.7):
        current_s, voltage_s, charge_ah = charge(rate)
        rows.append(
            {
                "rate": rate,
                "constant_current_s": round(current_s, 1),
                "constant_voltage_s": round(voltage_s, 1),
                "charge_ah": round(charge_ah, 4),
            }
        )
    content = {
        "made_with": CHEN.made_with,
        "source": CHEN.source,
        "nominal_ah": CHEN.nominal_ah,
        "start_soc": START_SOC,
        "end_rate": END_RATE,
        "charged_v": 4.2,
        "rows": rows,
    }
    OUT.write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
