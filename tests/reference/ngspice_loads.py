"""Make packs of equal cells under a load, let ngspice solve them, and print both as JSON.

    python ngspice_loads.py NGSPICE

A circuit simulator knows nothing of this project, and this script imports nothing of it. Every cell
is a source with its resistance and its contact, and is wired as the layout says; nothing is lumped.
A coil is a resistor behind the resistance of switch and wires; a converter is a source whose current
is power over voltage. The figures are drawn with a fixed seed, every layout up to 4S4P is there.
"""

import json
import random
import re
import subprocess
import sys
import tempfile
from pathlib import Path

LAYOUTS = [(series, parallel) for series in range(1, 5) for parallel in range(1, 5)]
# the simulator stops iterating well below the agreement that is asked of it
OPTIONS = ".options reltol=1e-12 abstol=1e-15 vntol=1e-15 gmin=1e-18 itl1=1000"


def drawn_load(kind: str, series: int, parallel: int, draw: random.Random) -> dict:
    """Draw one pack and its load."""
    load = {
        "kind": kind,
        "series": series,
        "parallel": parallel,
        "cell_voltage_v": round(draw.uniform(3.0, 4.25), 4),
        "cell_resistance_ohm": round(draw.uniform(0.008, 0.06), 5),
        "contact_resistance_ohm": round(draw.uniform(0.0005, 0.02), 5),
    }
    if kind == "direct":
        return load | {
            "coil_resistance_ohm": round(draw.uniform(0.05, 2.0), 4),
            "device_resistance_ohm": round(draw.uniform(0.0005, 0.03), 5),
        }
    return load | {"input_power_w": round(series * parallel * draw.uniform(5.0, 30.0), 3)}


def netlist(load: dict) -> str:
    """Write the circuit: groups from node 0 upwards."""
    series = load["series"]
    lines = [f"* {series}S{load['parallel']}P, {load['kind']}", OPTIONS]
    for group in range(series):
        low = f"n{group}" if group else "0"
        for cell in range(load["parallel"]):
            at = f"{group}_{cell}"
            lines += [
                f"V{at} e{at} {low} DC {load['cell_voltage_v']!r}",
                f"R{at} e{at} t{at} {load['cell_resistance_ohm']!r}",
                f"RC{at} t{at} n{group + 1} {load['contact_resistance_ohm']!r}",
            ]
    if load["kind"] == "direct":
        lines += [
            f"RDEVICE n{series} coil {load['device_resistance_ohm']!r}",
            f"RCOIL coil 0 {load['coil_resistance_ohm']!r}",
        ]
    else:
        # start at the open-circuit voltage, on the branch where a converter works
        lines += [
            f"BLOAD n{series} 0 I={load['input_power_w']!r}/V(n{series})",
            f".nodeset V(n{series})={series * load['cell_voltage_v']!r}",
        ]
    lines += [".control", "set numdgt=15", "op", "print all", "quit 0", ".endc", ".end", ""]
    return "\n".join(lines)


def solved(load: dict, ngspice: str) -> dict:
    """Let ngspice find the operating point; a cell's current counts positive when discharging."""
    with tempfile.TemporaryDirectory() as place:
        circuit = Path(place, "load.cir")
        circuit.write_text(netlist(load))
        printed = subprocess.run(
            [ngspice, "-b", circuit.name], cwd=place, capture_output=True, text=True, check=True
        ).stdout
    values = {
        name: float(number)
        for name, number in re.findall(r"^(\S+) = (-?\d\S*)\s*$", printed, re.MULTILINE)
    }
    # a source's branch current runs into its plus terminal
    found = {
        "cell_current_a": [-amps for name, amps in values.items() if name.endswith("#branch")],
        "pack_voltage_v": values[f"n{load['series']}"],
    }
    if load["kind"] == "direct":
        found["coil_voltage_v"] = values["coil"]
    return load | found


def main() -> None:
    """Print all loads, solved."""
    draw = random.Random(20251)  # noqa: S311  loads are drawn, no secret
    print(
        json.dumps(
            {
                kind: [solved(drawn_load(kind, *layout, draw), sys.argv[1]) for layout in LAYOUTS]
                for kind in ("direct", "converter")
            },
            indent=1,
        )
    )


if __name__ == "__main__":
    main()
