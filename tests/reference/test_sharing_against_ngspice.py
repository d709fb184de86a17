"""Current sharing against the operating point that a circuit simulator finds."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from percell.physics import sharing
from percell.physics.circuit import cell_current_a
from percell.physics.joining import rush_current_a

PACKS = Path(__file__).with_name("ngspice_packs.py")


@pytest.fixture(scope="module")
def packs(tool):
    done = subprocess.run(
        [sys.executable, str(PACKS), tool("ngspice")], capture_output=True, text=True, check=True
    )
    return json.loads(done.stdout)


def cells(pack):
    return {
        name: np.array(pack[name])
        for name in ("cell_source_voltage_v", "cell_resistance_ohm", "contact_resistance_ohm")
    }


def agree(ours, pack):
    """Compare currents to a millionth of the largest: a cell that carries next to nothing counts so."""
    theirs = np.array(pack["cell_current_a"])
    largest_a = np.abs(theirs).max()
    assert largest_a > 0.1
    np.testing.assert_allclose(ours.cell_current_a, theirs, rtol=1e-6, atol=1e-9 * largest_a)
    assert ours.pack_voltage_v == pytest.approx(pack["pack_voltage_v"], rel=1e-9)


@pytest.mark.parametrize("number", range(12), ids=lambda n: f"ngspice operating point, direct {n}")
def test_direct_load(packs, number):
    """Each cell's current under a direct load is the simulator's."""
    pack = packs["direct"][number]
    agree(
        sharing.shared_into_resistance(
            **cells(pack), load_resistance_ohm=pack["load_resistance_ohm"]
        ),
        pack,
    )


@pytest.mark.parametrize(
    "number", range(12), ids=lambda n: f"ngspice operating point, converter {n}"
)
def test_converter_load(packs, number):
    """Each cell's current under a constant-power load is the simulator's."""
    pack = packs["converter"][number]
    agree(sharing.shared_into_converter(**cells(pack), input_power_w=pack["input_power_w"]), pack)


@pytest.mark.parametrize("number", range(12), ids=lambda n: f"ngspice operating point, no load {n}")
def test_no_load(packs, number):
    """Each cell's current between the cells of its group is the simulator's."""
    pack = packs["none"][number]
    agree(sharing.shared_at_current(**cells(pack), pack_current_a=0.0), pack)


@pytest.mark.parametrize("number", range(12), ids=lambda n: f"ngspice operating point, joining {n}")
def test_joining(packs, number):
    """The first rush of current on joining is the simulator's, and a pair's is ΔV/(r₁ + r₂)."""
    pack = packs["joining"][number]
    (sources_v,), (cells_ohm,), (contacts_ohm,) = cells(pack).values()
    ours = cell_current_a(
        group_current_a=0.0,
        cell_source_voltage_v=sources_v,
        path_resistance_ohm=cells_ohm + contacts_ohm,
    )
    (theirs,) = pack["cell_current_a"]
    np.testing.assert_allclose(ours, theirs, rtol=1e-6)
    if len(theirs) == 2:
        pair = rush_current_a(
            voltage_apart_v=sources_v[0] - sources_v[1],
            path_resistance_ohm=cells_ohm[0] + contacts_ohm[0],
            other_path_resistance_ohm=cells_ohm[1] + contacts_ohm[1],
        )
        assert pair == pytest.approx(theirs[0], rel=1e-6)
