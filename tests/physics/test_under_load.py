"""The table of a simulated cell is read straight between its points, and never kindly beyond them."""

import json

import numpy as np
import pytest

from percell.physics.entries import DATA
from percell.physics.under_load import COLLAPSE, SagTable

# rows 0.1 V apart that reach 1, 1/2 and 1/4 deep; columns at 0, 1/2 and all of the way
TABLE = SagTable(
    sag_step_v=0.1,
    log_depth=np.log([1.0, 0.5, 0.25]),
    ratio=np.array([1.0, 2.0, 3.0, 2.0, 4.0, 6.0, 10.0, 20.0, 30.0]),
    places=3,
    rows=3,
)


@pytest.mark.parametrize(
    ("sag_v", "depth", "ratio"),
    [
        # the first row: at its three points, and at a quarter of the angle
        (0.0, 0.0, 1.0),
        (0.0, 0.5, 2.0),
        (0.0, 1.0, 3.0),
        (0.0, (1 - 0.5**0.5) / 2, 1.5),
        # half way down the second row, and half way between the first two, which reaches √½ deep
        (0.1, 0.25, 4.0),
        (0.05, 0.5**0.5 / 2, 3.0),
        # between the last two rows, which reach 1/2 · √½ deep
        (0.15, 0.5**0.5 / 4, 12.0),
        # the last row; beyond it the depth halves with each step, and the ratio stays
        (0.2, 0.125, 20.0),
        (0.3, 0.0625, 20.0),
        (0.6, 0.0078125, 20.0),
        # from twice the table on, nothing changes any more
        (0.7, 0.0078125, 20.0),
        (100.0, 0.0078125, 20.0),
    ],
)
def test_points_by_hand(sag_v, depth, ratio):
    """Between rows and columns the ratio is straight; each row reaches as deep as it says."""
    got = TABLE.resistance_ratio(depth=np.array([depth]), sag_v=np.array([sag_v]))
    assert got == pytest.approx([ratio])


def test_beyond_the_collapse_the_resistance_runs_away():
    """A fifth deeper than the simulated cell came: its last ratio, and 50 times a fifth of it more."""
    got = TABLE.resistance_ratio(depth=np.array([1.2, 0.6]), sag_v=np.array([0.0, 0.1]))
    np.testing.assert_allclose(got, [3.0 * 11.0, 6.0 * 11.0])
    assert COLLAPSE == 50.0


@pytest.mark.parametrize("name", ["nmc_chen2020", "lfp_prada2013"])
def test_each_table_is_its_data_file(name):
    """Read at the points of the file, the table gives the numbers of the file."""
    data = json.loads((DATA / f"{name}_under_load.json").read_text("utf-8"))
    table = SagTable.read(f"{name}_under_load")
    ratio = np.array(data["resistance_ratio"])
    rows, places = ratio.shape
    assert (table.rows, table.places) == (rows, places)
    # a rounding error short of the end, beyond which the ratio runs away
    along = np.minimum((1 - np.cos(np.pi * np.arange(places) / (places - 1))) / 2, 1 - 1e-12)
    got = table.resistance_ratio(
        depth=np.array(data["depth"])[:, None] * along, sag_v=np.array(data["sag_v"])[:, None]
    )
    np.testing.assert_allclose(got, ratio, rtol=5e-3)
