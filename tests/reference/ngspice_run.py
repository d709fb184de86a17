"""Let ngspice solve a circuit, for the scripts beside this one. Imports nothing of this project."""

import re
import subprocess
import tempfile
from pathlib import Path

# the simulator stops iterating well below the agreement that is asked of it
_OPTIONS = ".options reltol=1e-12 abstol=1e-15 vntol=1e-15 gmin=1e-18 itl1=1000"
_CONTROL = [".control", "set numdgt=15", "op", "print all", "quit 0", ".endc", ".end", ""]


def operating_point(title: str, elements: list[str], ngspice: str) -> dict[str, float]:
    """Return each node's voltage by its name, and each source's current as ``name#branch``.

    A source's branch current runs into its plus terminal: a cell that discharges has a negative one.
    """
    with tempfile.TemporaryDirectory() as place:
        circuit = Path(place, "circuit.cir")
        circuit.write_text("\n".join([f"* {title}", _OPTIONS, *elements, *_CONTROL]))
        printed = subprocess.run(
            [ngspice, "-b", circuit.name], cwd=place, capture_output=True, text=True, check=True
        ).stdout
    return {
        name: float(number)
        for name, number in re.findall(r"^(\S+) = (-?\d\S*)\s*$", printed, re.MULTILINE)
    }


def cell(
    at: str, *, low: str, high: str, source_v: float, ohm: float, contact_ohm: float
) -> list[str]:
    """Return a cell between two nodes: a source, its resistance and its contact."""
    return [
        f"V{at} e{at} {low} DC {source_v!r}",
        f"R{at} e{at} t{at} {ohm!r}",
        f"RC{at} t{at} {high} {contact_ohm!r}",
    ]
