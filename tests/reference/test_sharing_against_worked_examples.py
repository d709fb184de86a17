"""Current sharing against worked examples that others have published.

Printed answers are met to the digits printed. "Answer by hand" says that the source gives the
problem only. Sources marked "secondary copy" were not read in the original.
"""

from typing import NamedTuple

import numpy as np
import pytest

from percell.physics import sharing
from percell.physics.joining import rush_current_a

PHYSICS_2 = "OpenStax University Physics Vol. 2"
COLLEGE = "OpenStax College Physics"


class TableRow(NamedTuple):
    """One pack, one load, and the published currents; a tolerance is half the last printed digit."""

    source: str
    sources_v: list[list[float]]
    paths_ohm: list[list[float]]
    load_ohm: float
    currents_a: list[list[float]]
    current_within_a: float
    pack_v: float
    pack_within_v: float


ROWS = [
    TableRow(
        f"{PHYSICS_2}, m58453, example: 12.00 V with 0.100 ohm into 0.500 ohm",
        [[12.0]],
        [[0.1]],
        0.5,
        [[20.00]],
        0.005,
        10.00,
        0.005,
    ),
    TableRow(
        f"{PHYSICS_2}, m58455, problem: three cells of 1.58 V and a poor one of 1.53 V in series",
        [[1.58], [1.58], [1.58], [1.53]],
        [[0.02], [0.02], [0.02], [0.1]],
        10.0,
        [[0.617]] * 4,
        0.0005,
        6.17,
        0.005,
    ),
    TableRow(
        f"{PHYSICS_2}, m58458, problem: four 1.50 V cells of 1.00 ohm into 10.00 ohm (2S2P from the numbers)",
        [[1.5, 1.5], [1.5, 1.5]],
        [[1.0, 1.0], [1.0, 1.0]],
        10.0,
        [[0.273 / 2] * 2] * 2,
        0.00025,
        2.73,
        0.005,
    ),
    TableRow(
        f"{COLLEGE}, m42357, problem: eel, 140 rows of 5000 electroplaques into 800 ohm; answer by hand",
        [[750.0] * 140],
        [[1250.0] * 140],
        800.0,
        [[0.927 / 140] * 140],
        0.0005 / 140,
        741.7,
        0.05,
    ),
    TableRow(
        f"{COLLEGE}, m42359, example: Kirchhoff's rules, loops of 18 V and 45 V around 6 ohm",
        [[18.0, 45.0]],
        [[3.0, 2.0]],
        6.0,
        [[-3.50, 8.25]],
        0.005,
        6.0 * 4.75,
        0.03,
    ),
    TableRow(
        f"{PHYSICS_2}, m58455, example: Kirchhoff's rules, 24 V and 29 V around 3 ohm",
        [[24.0, 29.0]],
        [[3.0, 7.0]],
        3.0,
        [[3.00, 2.00]],
        0.005,
        15.0,
        0.015,
    ),
    TableRow(
        "Lessons in Electric Circuits, DC, chapter 10, Millman's theorem: 28 V and 7 V "
        "(secondary copy; currents by hand)",
        [[28.0, 7.0]],
        [[4.0, 1.0]],
        2.0,
        [[5.0, -1.0]],
        1e-12,
        8.0,
        1e-12,
    ),
    TableRow(
        "Examination problem, 100 V and 95 V into 80 ohm (secondary copy, a public forum)",
        [[100.0, 95.0]],
        [[5.0, 3.0]],
        80.0,
        [[1.069, 0.115]],
        0.0006,
        94.66,
        0.005,
    ),
    TableRow(
        "School problem, 12 V and 13 V into 10 ohm, printed 11.5 to 11.6 V (secondary copy; exact by hand)",
        [[12.0, 13.0]],
        [[1.0, 2.0]],
        10.0,
        [[7 / 16, 23 / 32]],
        1e-12,
        185 / 16,
        1e-12,
    ),
    TableRow(
        "School problem, 1.5 V and 2.0 V into 5 ohm (secondary copy; answer by hand)",
        [[1.5, 2.0]],
        [[1.0, 2.0]],
        5.0,
        [[1 / 34, 9 / 34]],
        1e-12,
        25 / 17,
        1e-12,
    ),
    TableRow(
        "School problem, 6 V and 2 V into 5 ohm (secondary copy; answer by hand)",
        [[6.0, 2.0]],
        [[2.0, 3.0]],
        5.0,
        [[38 / 31, -16 / 31]],
        1e-12,
        110 / 31,
        1e-12,
    ),
]


def solved(row, contact_part=0.25):
    """Solve a row, with a part of each path's resistance taken as the contacts'."""
    paths_ohm = np.array(row.paths_ohm)
    return sharing.shared_into_resistance(
        cell_source_voltage_v=np.array(row.sources_v),
        cell_resistance_ohm=(1 - contact_part) * paths_ohm,
        contact_resistance_ohm=contact_part * paths_ohm,
        load_resistance_ohm=row.load_ohm,
    )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.source)
def test_published_currents_and_voltage(row):
    """Branch currents, with their signs, and the load's voltage are the published ones."""
    got = solved(row)
    np.testing.assert_allclose(
        got.cell_current_a, row.currents_a, rtol=0, atol=row.current_within_a
    )
    assert got.pack_voltage_v == pytest.approx(row.pack_v, abs=row.pack_within_v)


@pytest.mark.parametrize("source", [f"{PHYSICS_2}, m58455, example: 130 W in and out"])
def test_published_power(source):
    """Both sources of the example deliver 130 W, and load and resistances take 130 W."""
    row = next(row for row in ROWS if "24 V and 29 V" in row.source)
    got = solved(row)
    assert np.sum(row.sources_v * got.cell_current_a) == pytest.approx(130.0), source
    taken_w = got.pack_voltage_v * got.pack_current_a + np.sum(got.cell_loss_w + got.contact_loss_w)
    assert taken_w == pytest.approx(130.0)


@pytest.mark.parametrize(
    "source", [f"{PHYSICS_2}, m58455, problem: 3.81 W, and 0.500 W with 18.0 ohm"]
)
def test_published_poor_cell(source):
    """The load of four cells in series takes 3.81 W, and 0.500 W when the poor cell has 18.0 ohm."""
    row = next(row for row in ROWS if "a poor one" in row.source)
    got = solved(row)
    assert got.pack_voltage_v * got.pack_current_a == pytest.approx(3.81, abs=0.005), source
    worn = solved(row._replace(paths_ohm=[[0.02], [0.02], [0.02], [18.0]]))
    assert worn.pack_voltage_v * worn.pack_current_a == pytest.approx(0.500, abs=0.001)
    assert worn.cell_voltage_v[3, 0] < 0.0  # the others drive it into reversal


@pytest.mark.parametrize("source", [f"{COLLEGE}, m42357, problem: eel, 750 V with 8.93 ohm"])
def test_published_source(source):
    """Many rows in parallel are one source of the same voltage and a fraction of the resistance."""
    row = next(row for row in ROWS if "eel" in row.source)
    got = solved(row).source
    assert got.voltage_v == 750.0, source
    assert got.resistance_ohm == pytest.approx(8.93, abs=0.005)


MODELICA = "Modelica Standard Library, Electrical.Batteries, UsersGuide.Parameterization"


@pytest.mark.parametrize(("series", "parallel"), [(1, 1), (3, 2), (2, 3), (20, 20)])
@pytest.mark.parametrize("source", [f"{MODELICA}: OCV × Ns, R × Ns/Np"])
def test_identical_cells(source, series, parallel):
    """A pack of identical cells has Ns times their voltage and Ns/Np times their resistance."""
    got = sharing.pack_source(
        cell_source_voltage_v=np.full((series, parallel), 3.7),
        path_resistance_ohm=np.full((series, parallel), 0.02),
    )
    assert got.voltage_v == pytest.approx(3.7 * series, rel=1e-14), source
    assert got.resistance_ohm == pytest.approx(0.02 * series / parallel, rel=1e-14)


@pytest.mark.parametrize(
    "source", [f"{MODELICA}: stack 3S2P with one cell of 2 × Ri; answer by hand"]
)
def test_one_degraded_cell(source):
    """The neighbour of a cell with twice the resistance carries two thirds, all others a half."""
    cells_ohm = np.full((3, 2), 0.02)
    cells_ohm[1, 0] = 0.04
    got = sharing.shared_at_current(
        cell_source_voltage_v=np.full((3, 2), 3.7),
        cell_resistance_ohm=cells_ohm,
        contact_resistance_ohm=np.zeros((3, 2)),
        pack_current_a=30.0,
    )
    np.testing.assert_allclose(got.cell_current_a, [[15, 15], [10, 20], [15, 15]], rtol=1e-12)
    assert got.worst_cell == (1, 1), source
    assert got.worst_cell_share == pytest.approx(2 / 3)


# current divider, answers by hand; the mismatches are those that Gogoana et al., J. Power Sources
# 252 (2014) 8-13 (20 %) and its successors study
@pytest.mark.parametrize(
    ("mismatch", "larger_percent", "smaller_percent"),
    [
        (0.1, 52.38, 47.62),
        (0.2, 54.55, 45.45),
        (0.3, 56.52, 43.48),
        (0.5, 60.00, 40.00),
        (1.0, 66.67, 33.33),
    ],
    ids=lambda value: f"current divider {value}",
)
def test_two_cells_apart(mismatch, larger_percent, smaller_percent):
    """Two cells r and r(1 + m) share (1 + m) to 1, and the heat in them goes alike."""
    got = sharing.shared_at_current(
        cell_source_voltage_v=np.array([[3.7, 3.7]]),
        cell_resistance_ohm=np.array([[0.02, 0.02 * (1 + mismatch)]]),
        contact_resistance_ohm=np.zeros((1, 2)),
        pack_current_a=100.0,
    )
    np.testing.assert_allclose(
        got.cell_current_a, [[larger_percent, smaller_percent]], rtol=0, atol=0.005
    )
    assert got.cell_loss_w[0, 0] / got.cell_loss_w[0, 1] == pytest.approx(1 + mismatch)


@pytest.mark.parametrize(
    ("apart_v", "rush_a"),
    [(0.1, 2.5), (0.05, 1.25)],
    ids=lambda value: f"Kirchhoff by hand {value}",
)
def test_rush_between_two_cells(apart_v, rush_a):
    """0.1 V between two cells of 20 milliohm drives 2.5 A, half of it half."""
    assert rush_current_a(
        voltage_apart_v=apart_v, path_resistance_ohm=0.02, other_path_resistance_ohm=0.02
    ) == pytest.approx(rush_a)
