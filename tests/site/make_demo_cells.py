"""Make the profiles of the demo cells from invented logs, by the command that anybody uses.

    python tests/site/make_demo_cells.py

The logs are made here, belong to no real cell, and are the same each time. They are written to a folder
that is thrown away: this script makes them again.
"""

import tempfile
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from click.testing import CliRunner

from percell.__main__ import main

CELLS = Path(__file__).parents[2] / "site" / "cells"


class Test(NamedTuple):
    """One invented discharge."""

    current_a: float
    peak_c: float
    end_v: float | None = None  # if not the cell's stop voltage
    charge: float = 1.0  # part of the cell's charge that it gives


class Cell(NamedTuple):
    """An invented cell, and how it was tested."""

    name: str
    note: str
    chemistry: str
    size: str
    measured_on: str
    capacity_ah: float
    ohm: float
    claimed_rating_a: float
    claimed_capacity_ah: float
    ambient_c: float
    cooling: str
    start_c: float
    stop_v: float
    tests: tuple[Test, ...]


DEMO = {
    "bench-1": Cell(
        "Bench cell 1",
        "The lending bench's workhorse in this made-up scenario: a high-drain cell, measured new.",
        "nmc", "18650", "2026-03-14", 2.56, 0.014, 25, 2.5, 22, "still air, bare, on a wooden rack", 22, 2.5,
        (
            Test(10, 34), Test(10, 35, charge=0.999), Test(20, 47), Test(25, 55.5), Test(25, 56, charge=0.998),
            Test(30, 71, 2.6, 0.985),
        ),
    ),
    "bench-2": Cell(
        "Bench cell 2",
        "More capacity, less current: the usual trade, in a made-up cell.",
        "nca", "18650", "2026-03-14", 3.06, 0.022, 20, 3.0, 22, "still air, bare, on a wooden rack", 21, 2.7,
        (
            Test(5, 28), Test(10, 41), Test(15, 54), Test(15, 55, charge=0.998), Test(20, 74, 2.8, 0.985),
        ),
    ),
    "bench-3": Cell(
        "Bench cell 3",
        "The larger size, in a made-up cell.",
        "nmc", "21700", "2026-04-02", 4.06, 0.011, 35, 4.0, 23, "still air, bare, on a wooden rack", 22, 2.5,
        (
            Test(20, 41), Test(30, 54), Test(30, 55.2, charge=0.999), Test(30, 56, charge=0.997),
            Test(35, 66, 2.6, 0.99),
        ),
    ),
    "bench-4": Cell(
        "Bench cell 4",
        "A made-up cell with a label that promises more than its size can hold; the measured figures are far below.",
        "nmc", "18650", "2026-04-02", 1.12, 0.065, 40, 9.9, 23, "", 23, 2.5,
        (Test(5, 50.5), Test(5, 52, charge=0.995), Test(10, 68, 2.1, 0.985)),
    ),
}  # fmt: skip
# open-circuit voltage by the part of the charge that was delivered, invented
_PART = (0.0, 0.05, 0.2, 0.5, 0.8, 0.93, 1.0)
_OPEN_V = (4.18, 4.10, 3.95, 3.70, 3.50, 3.35, 3.10)
_ROWS = 240


def log_text(cell: Cell, run: int) -> str:
    """Return an invented log: ten seconds of rest, then a whole discharge, then ten of rest."""
    test = cell.tests[run]
    end_v = test.end_v or cell.stop_v
    charge_as = 3600 * cell.capacity_ah * test.charge
    under_load_s = charge_as / test.current_a
    part = np.linspace(0, 1, _ROWS)
    # another run of the cell lies some millivolts lower, as real ones do
    open_v = np.interp(part, _PART, _OPEN_V) - 0.004 * run * part
    volts = open_v - test.current_a * cell.ohm
    # at the end it falls to the voltage at which the load stops
    volts -= (volts[-1] - end_v) * part**14
    warm_c = cell.start_c + (test.peak_c - cell.start_c) * part**0.8
    rows = [
        (0.0, open_v[0], 0.0, cell.start_c),
        (9.9, open_v[0], 0.0, cell.start_c),
        *zip(10.0 + part * under_load_s, volts, [test.current_a] * _ROWS, warm_c, strict=True),
        (10.1 + under_load_s, end_v + 0.5 * test.current_a * cell.ohm, 0.0, test.peak_c),
        (20.0 + under_load_s, end_v + 0.7 * test.current_a * cell.ohm, 0.0, test.peak_c - 0.1),
    ]
    lines = [f"{t:.1f},{u:.4f},{i:g},{c:.1f}" for t, u, i, c in rows]
    return "\n".join(["time_s,voltage_v,current_a,temperature_c", *lines, ""])


def profile_of(cell_id: str, folder: Path) -> str:
    """Return the profile that ``percell profile`` makes of a cell's logs, with what the bench adds."""
    cell = DEMO[cell_id]
    paths = []
    for run, test in enumerate(cell.tests):
        again = sum(one.current_a == test.current_a for one in cell.tests[:run])
        path = folder / f"{cell_id}-{test.current_a:g}a{f'-{again + 1}' if again else ''}.csv"
        path.write_text(log_text(cell, run), "utf-8", newline="\n")
        paths.append(path)
    out = folder / f"{cell_id}.toml"
    said: list[Any] = [
        "profile", *paths, "--name", cell.name, "--chemistry", cell.chemistry, "--size", cell.size,
        "--stop-voltage", cell.stop_v, "--ambient", cell.ambient_c, "--out", out,
    ]  # fmt: skip
    if cell.cooling:
        said += ["--cooling", cell.cooling]
    done = CliRunner().invoke(main, [str(one) for one in said], catch_exceptions=False)
    if done.exit_code:
        raise SystemExit(done.output)
    lines = []
    for line in out.read_text("utf-8").splitlines():
        if line.startswith("name = "):
            lines += [line, "invented = true", f'note = "{cell.note}"']
        elif line.startswith("measured_on = "):
            lines.append(f'measured_on = "{cell.measured_on}"')
        elif line.startswith("# what the label claims"):
            lines.append(f"claimed_rating_a = {cell.claimed_rating_a:g}")
            lines.append(f"claimed_capacity_ah = {cell.claimed_capacity_ah:g}")
        elif not line.startswith("# claimed_"):
            lines.append(line)
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        for name in DEMO:
            (CELLS / f"{name}.toml").write_text(profile_of(name, Path(made)), "utf-8")
