"""How a cell's resistance grows along a discharge, from a simulated cell of its chemistry.

The data files ``data/*_under_load.json`` hold, for constant currents, the resistance over the pulse
resistance. Rows go by the sag that the current makes across the pulse resistance, columns by the depth.
Each row reaches as deep as the simulated cell came at that current.
"""

from functools import cache
from typing import NamedTuple, Self

import numpy as np

from percell.physics.entries import read_data
from percell.physics.types import Floats

# A curve that is still above the cut-off where the simulated cell had collapsed must not promise more: the
# resistance then grows by this factor for each whole further depth.
COLLAPSE = 50.0


class SagTable(NamedTuple):
    """A simulated cell's resistance by sag and depth."""

    sag_step_v: float  # from row to row
    log_depth: Floats  # how deep each row reaches
    ratio: Floats  # flat, row by row
    places: int
    rows: int

    @classmethod
    @cache
    def read(cls, name: str) -> Self:
        """Read the table of a data file, once."""
        data = read_data(name)
        ratio = np.array(data["resistance_ratio"])
        return cls(
            sag_step_v=data["sag_v"][1],
            log_depth=np.log(np.array(data["depth"])),
            ratio=ratio.ravel(),
            places=ratio.shape[1],
            rows=ratio.shape[0],
        )

    def resistance_ratio(self, *, depth: Floats, sag_v: Floats) -> Floats:
        """Return resistance over pulse resistance at a depth, at a constant current so far.

        Straight between the points: in the sag, in the logarithm of the depth that is reached, and in the
        angle whose cosine runs along the discharge.
        """
        # past twice the table the sag alone is more than any cell's voltage
        row_place = np.minimum(sag_v / self.sag_step_v, 2.0 * self.rows)
        row = np.minimum(row_place.astype(np.intp), self.rows - 2)
        part = row_place - row
        low = self.log_depth.take(row)
        # beyond the last row the depth goes on falling, while the ratio keeps that row's
        reach = np.exp(low + part * (self.log_depth.take(row + 1) - low))
        place = depth / reach
        angle = np.arccos(1.0 - 2.0 * np.minimum(place, 1.0)) * ((self.places - 1) / np.pi)
        column = np.minimum(angle.astype(np.intp), self.places - 2)
        along = angle - column
        part = np.minimum(part, 1.0)
        first = row * self.places + column
        beside = first + self.places
        near, far = self.ratio.take(first), self.ratio.take(beside)
        near += along * (self.ratio.take(first + 1) - near)
        far += along * (self.ratio.take(beside + 1) - far)
        beyond = 1.0 + COLLAPSE * np.maximum(place - 1.0, 0.0)
        ratio: Floats = beyond * (near + part * (far - near))
        return ratio
