"""Make packs of equal cells under a load, let ngspice solve them, and print both as JSON.

    python ngspice_loads.py NGSPICE

A circuit simulator knows nothing of this project, and neither this script nor its neighbour imports
anything of it. Every cell is a source with its resistance and its contact, and is wired as the layout
says; nothing is lumped. A coil is a resistor behind the resistance of switch and wires; a converter
is a source whose current is power over voltage. The figures are drawn with a fixed seed, every layout
up to 4S4P is there.
"""

import json
import random
import sys

from ngspice_run import cell, operating_point

LAYOUTS = [(series, parallel) for series in range(1, 5) for parallel in range(1, 5)]


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


def elements(load: dict) -> list[str]:
    """Write the circuit: groups from node 0 upwards."""
    series = load["series"]
    lines = []
    for group in range(series):
        for number in range(load["parallel"]):
            lines += cell(
                f"{group}_{number}",
                low=f"n{group}" if group else "0",
                high=f"n{group + 1}",
                source_v=load["cell_voltage_v"],
                ohm=load["cell_resistance_ohm"],
                contact_ohm=load["contact_resistance_ohm"],
            )
    if load["kind"] == "direct":
        return [
            *lines,
            f"RDEVICE n{series} coil {load['device_resistance_ohm']!r}",
            f"RCOIL coil 0 {load['coil_resistance_ohm']!r}",
        ]
    return [
        *lines,
        # start at the open-circuit voltage, on the branch where a converter works
        f"BLOAD n{series} 0 I={load['input_power_w']!r}/V(n{series})",
        f".nodeset V(n{series})={series * load['cell_voltage_v']!r}",
    ]


def solved(load: dict, ngspice: str) -> dict:
    """Let ngspice find the operating point; a cell's current counts positive when discharging."""
    title = f"{load['series']}S{load['parallel']}P, {load['kind']}"
    values = operating_point(title, elements(load), ngspice)
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
