"""The same circuit gets the same word, asked in one way or another. The currents are those of NumPy."""

import numpy as np
import pytest
from unequal_packs import packed

MILD = ("within_limit", "little_headroom")
ORDER = ["within_limit", "little_headroom", "not_judged", "over_limit"]


def nodal_charge_a(volts, ohms):
    """Return the current into each cell of a group that feeds nothing, by NumPy's solver.

    Unknown are the common voltage and each current: one loop a cell, and one node.
    """
    size = len(volts)
    left = np.zeros((size + 1, size + 1))
    left[:size, :size] = np.diag(ohms)
    left[:size, size] = 1.0
    left[size, :size] = 1.0
    return -np.linalg.solve(left, np.append(volts, 0.0))[:size]


def limit(answer, name):
    return next(one for one in answer.limits if one.name == name)


def cell(volt, ohm, capacity):
    return {
        "open_circuit_voltage_v": float(volt),
        "cell_resistance_ohm": float(ohm),
        "cell_capacity_ah": float(capacity),
    }


def limited(draw):
    return {"cell_charge_limit_a": float(draw.uniform(0.5, 8))} if draw.random() < 0.5 else {}


def test_two_cells_get_one_word(ask):
    """Two like cells: joined, as a pair, and as a pack without a load."""
    draw, seen = np.random.default_rng(1), set()
    for _ in range(400):
        low_v, apart_v = draw.uniform(2.6, 4.0), draw.choice([0.02, 0.1, 0.2]) * draw.random()
        ohm, capacity = draw.uniform(0.008, 0.05), draw.uniform(1, 5)
        volts = np.array([low_v + apart_v, low_v])
        cells, more = [cell(v, ohm, capacity) for v in volts], limited(draw)
        joined = ask("joining", cells=cells, **more)
        pack = ask("unequal-cells", **packed([cells]), **more)
        pair = ask(
            "joining-pair",
            voltage_difference_v=float(volts[0] - volts[1]),
            cell_resistance_ohm=float(ohm),
            cell_capacity_ah=float(capacity),
            **more,
        )
        assert joined.verdict == pair.verdict == pack.verdict
        charge_a = nodal_charge_a(volts, [ohm, ohm]).max()
        most_a = more.get("cell_charge_limit_a", capacity / 2)
        for answer in (joined, pair, pack):
            one = limit(answer, "charge_current")
            assert one.figure == pytest.approx(charge_a, rel=1e-9, abs=1e-12)
            assert one.value == pytest.approx(most_a)
            assert (answer.verdict == "over_limit") is bool(charge_a > most_a)
            assert more or answer.verdict not in MILD
        seen.add(joined.verdict.value)
    assert seen == set(ORDER)


def test_a_group_joined_in_any_order_gets_no_milder_word(ask):
    """Joining counts every order of joining, a pack only the end of it."""
    draw, equal = np.random.default_rng(2), 0
    for _ in range(300):
        size = draw.integers(2, 7)
        volts = draw.uniform(2.0, 4.4) + draw.uniform(0, 0.3) * draw.random(size)
        ohms, capacities = draw.uniform(0.008, 0.05, size), draw.uniform(1, 5, size)
        cells = [cell(*one) for one in zip(volts, ohms, capacities, strict=True)]
        more = limited(draw)
        joined = ask("joining", cells=cells, **more)
        pack = ask("unequal-cells", **packed([cells]), **more)
        assert ORDER.index(joined.verdict) >= ORDER.index(pack.verdict)
        equal += joined.verdict == pack.verdict
        for name in ("end_voltage", "charged_voltage"):
            assert limit(joined, name).verdict == limit(pack, name).verdict
        charges = nodal_charge_a(volts, ohms)
        assert [-one.cell_current_a for one in pack.groups[0].cells] == pytest.approx(
            charges, rel=1e-6, abs=1e-9
        )
    assert equal > 250


def test_one_low_cell_among_others_alike(ask):
    """The worst order is all at once: joined and pack hold the same current to the same limit."""
    for size in (2, 3, 6):
        cells = [cell(4.0, 0.02, 3)] * (size - 1) + [cell(3.93, 0.02, 3)]
        charge_a = nodal_charge_a(
            [one["open_circuit_voltage_v"] for one in cells], [0.02] * size
        ).max()
        for answer in (ask("joining", cells=cells), ask("unequal-cells", **packed([cells]))):
            assert limit(answer, "charge_current").figure == pytest.approx(charge_a)
            assert answer.verdict == "over_limit"
