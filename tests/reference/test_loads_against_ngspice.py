"""Direct and converter loads against the operating point that a circuit simulator finds."""

import json
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest

from percell.questions.registry import QUESTIONS

LOADS = Path(__file__).with_name("ngspice_loads.py")
LAYOUTS = [f"{series}S{parallel}P" for series in range(1, 5) for parallel in range(1, 5)]


@pytest.fixture(scope="module")
def loads(tool):
    done = subprocess.run(
        [sys.executable, str(LOADS), tool("ngspice")], capture_output=True, text=True, check=True
    )
    return {
        kind: {f"{load['series']}S{load['parallel']}P": load for load in found}
        for kind, found in json.loads(done.stdout).items()
    }


def answer(question_id, load, **body):
    question = QUESTIONS[question_id]
    shared = {
        "layout": {name: load[name] for name in ("series", "parallel")},
        "cell_rating_a": 20,
        "cell_resistance_ohm": load["cell_resistance_ohm"],
        "contact_resistance_ohm": load["contact_resistance_ohm"],
    }
    return question.answer(msgspec.convert(shared | body, question.asked))


def assert_even(load, each_a):
    """Every cell of the simulated pack carries what we say of an even share."""
    series, parallel = load["series"], load["parallel"]
    assert load["cell_current_a"] == pytest.approx([each_a] * series * parallel, rel=1e-9)


@pytest.mark.parametrize(
    "layout", LAYOUTS, ids=lambda name: f"ngspice operating point, direct load on {name}"
)
def test_direct_load_with_sag(loads, layout):
    """Current, pack voltage and coil power with sag are the simulator's."""
    load = loads["direct"][layout]
    got = answer(
        "direct-load",
        load,
        cell_charged_voltage_v=load["cell_voltage_v"],
        coil_resistance_ohm=load["coil_resistance_ohm"],
        device_resistance_ohm=load["device_resistance_ohm"],
    )
    assert_even(load, got.sagging_pack_current_a / load["parallel"])
    assert got.sagging_pack_voltage_v == pytest.approx(load["pack_voltage_v"], rel=1e-9)
    assert got.sagging_coil_power_w == pytest.approx(
        load["coil_voltage_v"] ** 2 / load["coil_resistance_ohm"], rel=1e-9
    )


@pytest.mark.parametrize(
    "layout", LAYOUTS, ids=lambda name: f"ngspice operating point, converter load on {name}"
)
def test_converter_load_from_rest(loads, layout):
    """With the cut-off at rest, current and loaded voltage are the simulator's."""
    load = loads["converter"][layout]
    idle_w = 0.5
    got = answer(
        "converter-load",
        load,
        cutoff_basis="at_rest",
        # all of it as contacts, whose resistance an emptying cell does not change
        cell_resistance_ohm=0,
        contact_resistance_ohm=load["cell_resistance_ohm"] + load["contact_resistance_ohm"],
        chemistry="lco_high_voltage",  # cells of the simulated packs rest at up to 4.23 V
        cell_cutoff_voltage_v=load["cell_voltage_v"],
        output_power_w=(load["input_power_w"] - idle_w) * 0.9,
        idle_power_w=idle_w,
        efficiency=0.9,
    )
    assert_even(load, got.even_cell_current_a)
    assert got.pack_loaded_voltage_v == pytest.approx(load["pack_voltage_v"], rel=1e-9)


@pytest.mark.parametrize(
    "layout", LAYOUTS, ids=lambda name: f"ngspice operating point, cut-off under load on {name}"
)
def test_converter_load_under_load(loads, layout):
    """Asked with the simulated voltage under load as the cut-off, the current is the simulator's."""
    load = loads["converter"][layout]
    got = answer(
        "converter-load",
        load,
        cell_cutoff_voltage_v=load["pack_voltage_v"] / load["series"],
        output_power_w=load["input_power_w"],
        efficiency=1,
    )
    assert_even(load, got.even_cell_current_a)
