"""Make unequal packs, let ngspice solve them, and print packs and solutions as JSON.

    python ngspice_packs.py NGSPICE

A circuit simulator knows nothing of this project, and neither this script nor its neighbour imports
anything of it. The packs are drawn with a fixed seed: those with a direct load, a converter load (a
source whose current is power over voltage), no load, and cells joined at clearly different voltages.
"""

import json
import random
import sys

from ngspice_run import cell, operating_point

EACH = 12
KINDS = ("direct", "converter", "none", "joining")


def made_pack(kind: str, draw: random.Random) -> dict:
    """Draw one pack."""
    series = 1 if kind == "joining" else draw.randint(1, 6)
    parallel = draw.randint(2, 6)
    apart_v = 0.6 if kind == "joining" else 0.1
    base_v = draw.uniform(3.2, 3.6)

    def grid(low: float, high: float) -> list[list[float]]:
        return [[round(draw.uniform(low, high), 7) for _ in range(parallel)] for _ in range(series)]

    pack = {
        "kind": kind,
        "cell_source_voltage_v": grid(base_v, base_v + apart_v),
        "cell_resistance_ohm": grid(0.008, 0.040),
        "contact_resistance_ohm": grid(0.0001, 0.015),
    }
    if kind == "direct":
        pack["load_resistance_ohm"] = round(draw.uniform(0.05, 2.0), 4)
    if kind == "converter":
        pack["input_power_w"] = round(series * parallel * draw.uniform(5.0, 40.0), 3)
    return pack


def elements(pack: dict) -> list[str]:
    """Write the circuit of a pack: groups from node 0 upwards."""
    lines = []
    columns = ("cell_source_voltage_v", "cell_resistance_ohm", "contact_resistance_ohm")
    for group, cells in enumerate(zip(*(pack[name] for name in columns), strict=True)):
        for number, (source_v, ohm, contact_ohm) in enumerate(zip(*cells, strict=True)):
            lines += cell(
                f"{group}_{number}",
                low=f"n{group}" if group else "0",
                high=f"n{group + 1}",
                source_v=source_v,
                ohm=ohm,
                contact_ohm=contact_ohm,
            )
    top = len(pack["cell_source_voltage_v"])
    if "load_resistance_ohm" in pack:
        lines.append(f"RLOAD n{top} 0 {pack['load_resistance_ohm']!r}")
    if "input_power_w" in pack:
        # start near the open-circuit voltage, on the branch where a converter works
        rest_v = sum(max(group) for group in pack["cell_source_voltage_v"])
        lines += [
            f"BLOAD n{top} 0 I={pack['input_power_w']!r}/V(n{top})",
            f".nodeset V(n{top})={rest_v!r}",
        ]
    return lines


def solved(pack: dict, ngspice: str) -> dict:
    """Let ngspice find the operating point; a cell's current counts positive when discharging."""
    values = operating_point(pack["kind"], elements(pack), ngspice)
    groups = pack["cell_source_voltage_v"]
    return pack | {
        "cell_current_a": [
            [-values[f"v{group}_{number}#branch"] for number in range(len(cells))]
            for group, cells in enumerate(groups)
        ],
        "pack_voltage_v": values[f"n{len(groups)}"],
    }


def main() -> None:
    """Print all packs, solved."""
    draw = random.Random(20250)  # noqa: S311  packs are drawn, no secret
    print(
        json.dumps(
            {
                kind: [solved(made_pack(kind, draw), sys.argv[1]) for _ in range(EACH)]
                for kind in KINDS
            },
            indent=1,
        )
    )


if __name__ == "__main__":
    main()
