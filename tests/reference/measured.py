"""Measured discharges of real cells, as every check against them takes them.

Each folder ``measured_…`` beside this file says where its data come from and under which licence. The
share-alike one is in no source distribution: there, what is returned is what the other folders hold.
"""

import json
import re
from pathlib import Path
from typing import NamedTuple

import numpy as np

HERE = Path(__file__).parent
SHARE_ALIKE = HERE / "measured_3000mah_share_alike"
FREE = HERE / "measured_2600mah"
FIGURES = HERE / "measured_2900mah_derived" / "figures.json"


class Cells(NamedTuple):
    """What is known of the cells of one folder."""

    capacity_ah: float  # as printed
    rating_a: float | None  # None: not known
    source: str
    licence: str


KNOWN = {
    SHARE_ALIKE: Cells(
        3.0,
        15.0,
        'ARTS-Laboratory, data set "electrothermal deformation characterization", commit '
        "4e9effdf03a9816cd5f3edfa51c6ef67d065489b",
        "CC BY-SA 4.0",
    ),
    FREE: Cells(
        2.6,
        None,
        'L. Wang et al., "Li-ion Battery Electro-Thermal Dataset", commit '
        "ec0fe7c0e6ceb8576086d3adc8232b7d14616deb",
        "MIT",
    ),
}


class Discharge(NamedTuple):
    """One discharge of a new cell at constant current, from full to its end voltage.

    Time runs from the last row at rest: the load came on between that row and the first one here. The
    last row is the one that ended the discharge, some millivolts below the end voltage.
    """

    cell: str
    capacity_ah: float
    rating_a: float | None
    rate: float  # current over the printed capacity, per hour
    time_s: np.ndarray
    current_a: np.ndarray  # discharge positive
    voltage_v: np.ndarray
    skin_c: np.ndarray
    ambient_c: np.ndarray
    rest_voltage_v: float | None  # before the load; None: no row at rest
    source: str
    licence: str


class Run(NamedTuple):
    """How long a cell lasted from full down to a cut-off under load."""

    cell: str
    capacity_ah: float
    rating_a: float | None
    health: float  # 1: new
    rate: float
    cutoff_v: float
    seconds: float
    charge_ah: float
    mean_power_w: float
    source: str
    licence: str


class Drawn(NamedTuple):
    """What a discharge gave down to a cut-off."""

    seconds: float
    charge_ah: float
    energy_wh: float


def rows(file):
    """Return the columns of a file by their names, every row kept."""
    return np.genfromtxt(file, delimiter=",", names=True)


def discharge(file, *, cell, cells, rate):
    """Return one discharge. A row is at rest while less than half of the middling current flows."""
    every = rows(file)
    loaded = every["current_a"] > np.median(every["current_a"]) / 2
    first = int(np.argmax(loaded))
    under_load = every[first:]
    before = every[first - 1] if first else None
    return Discharge(
        cell,
        cells.capacity_ah,
        cells.rating_a,
        rate,
        under_load["time_s"] - (under_load["time_s"][0] if before is None else before["time_s"]),
        under_load["current_a"],
        under_load["voltage_v"],
        under_load["skin_temperature_c"],
        under_load["ambient_temperature_c"],
        None if before is None else float(before["voltage_v"]),
        cells.source,
        cells.licence,
    )


def discharges():
    """Return every discharge that is here, slow ones first within a cell."""
    found = []
    for folder, cells in KNOWN.items():
        for file in folder.glob("*c*.csv"):
            named = re.fullmatch(r"(?:cell_(\d)|discharge)_(?:c(\d+)|([\d.]+)c)", file.stem)
            if named:
                number, slow, fast = named.groups()
                cell = f"{cells.capacity_ah:g} Ah" + (f", cell {number}" if number else "")
                rate = 1 / int(slow) if slow else float(fast)
                found.append(discharge(file, cell=cell, cells=cells, rate=rate))
    return sorted(found, key=lambda one: (one.cell, one.rate))


def drawn(one, cutoff_v):
    """Return what a discharge gave until its voltage was first at the cut-off, or None if it ended above."""
    below = np.flatnonzero(one.voltage_v <= cutoff_v)
    if not below.size:
        return None
    last = int(below[0])
    # the row of the crossing, between the last row above the cut-off and the first below
    upto_s = one.time_s[: last + 1].copy()
    volts, amps = one.voltage_v[: last + 1].copy(), one.current_a[: last + 1]
    if last:
        part = (volts[-2] - cutoff_v) / (volts[-2] - volts[-1])
        upto_s[-1] = upto_s[-2] + part * (upto_s[-1] - upto_s[-2])
        volts[-1] = cutoff_v
    # the first row stands for the time since the load came on
    steps_s = np.diff(upto_s)
    charge = amps[0] * upto_s[0] + np.sum(steps_s * (amps[1:] + amps[:-1]) / 2)
    power = amps * volts
    energy = power[0] * upto_s[0] + np.sum(steps_s * (power[1:] + power[:-1]) / 2)
    return Drawn(float(upto_s[-1]), float(charge / 3600), float(energy / 3600))


def figures():
    """Return what was derived of the cell whose rows are not here."""
    return json.loads(FIGURES.read_text(encoding="utf-8"))


def runs(cutoffs_v):
    """Return how long each cell lasted to each cut-off, of series and of derived figures alike."""
    found = [
        Run(*one[:3], 1.0, one.rate, cutoff_v, *timed(got), one.source, one.licence)
        for one in discharges()
        for cutoff_v in cutoffs_v
        if (got := drawn(one, cutoff_v))
    ]
    derived = figures()
    cell = derived["cell"]
    for row in derived["discharges"]:
        found.extend(
            Run(
                f"{cell['capacity_ah']:g} Ah",
                cell["capacity_ah"],
                cell["rating_a"],
                row["health"] if row["aged"] else 1.0,
                row["rate"],
                end["cutoff_v"],
                end["seconds"],
                end["charge_ah"],
                end["mean_power_w"],
                derived["source"],
                derived["licence"],
            )
            for end in row["to_cutoff"]
            if end["cutoff_v"] in cutoffs_v
        )
    return found


def timed(got):
    """Return seconds, charge and mean power of what was drawn."""
    return got.seconds, got.charge_ah, got.energy_wh * 3600 / got.seconds


def resistances(run):
    """Return the resistance of a cell in ohm by the seconds after which it was read, at some half charge.

    Of the 2.6 Ah cells rows are 10 s apart. Of an aged cell the first drop of its discharge tells by how much its
    resistance has grown.
    """
    if run.capacity_ah == KNOWN[SHARE_ALIKE].capacity_ah:
        pulses = rows(SHARE_ALIKE / "pulses.csv")
        near = (pulses["chamber_c"] == 20) & _middling(pulses["soc_percent"] / 100)
        return {s: float(np.mean(pulses[f"r_{s}s_mohm"][near])) / 1000 for s in (1, 10)}
    if run.capacity_ah == KNOWN[FREE].capacity_ah:
        return {10: float(np.mean(_steps_ohm(rows(FREE / "pulses.csv"))))}
    derived = figures()
    known = next(
        row["milliohm_after_s"]
        for row in derived["resistance_by_temperature"]
        if row["chamber_c"] == 25 and row["rate"] == 1
    )
    if run.health < 1:
        drops = {row["health"]: row["first_drop_v"] for row in derived["discharges"]}
        new_v = np.mean([row["first_drop_v"] for row in derived["discharges"] if not row["aged"]])
        return {10: known["10"] / 1000 * drops[run.health] / float(new_v)}
    return {s: known[str(s)] / 1000 for s in (1, 10)}


def _middling(soc):
    """Return where a cell is 30 to 80 % full, the range in which its resistance hardly changes."""
    return (soc >= 0.3) & (soc <= 0.8)


def _steps_ohm(record):
    """Return the resistance 10 s after each step into the load, where the cell is some half full."""
    amps, volts = record["current_a"], record["voltage_v"]
    steps = np.flatnonzero((amps[:-1] < 0.01) & (amps[1:] > 0.1))
    drawn_ah = np.concatenate(([0.0], np.cumsum(np.diff(record["time_s"]) * amps[1:]) / 3600))
    near = _middling(1 - drawn_ah[steps] / KNOWN[FREE].capacity_ah)
    return ((volts[steps] - volts[steps + 1]) / amps[steps + 1])[near]
