"""Equal cells in series and parallel: the pack's figures against cells put together one by one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import pack, sharing

count = st.integers(1, 20)


@given(count, count, st.floats(0.0, 1.0), st.floats(1e-4, 1.0), st.floats(0.5, 5.0))
def test_pack_is_its_cells(series, parallel, contact_ohm, cell_ohm, cell_v):
    """Voltage and resistance are those of the network of cells (Thevenin and Millman)."""
    source = sharing.pack_source(
        cell_source_voltage_v=np.full((series, parallel), cell_v),
        path_resistance_ohm=np.full((series, parallel), cell_ohm + contact_ohm),
    )
    assert pack.pack_voltage_v(cell_voltage_v=cell_v, series=series) == pytest.approx(
        source.voltage_v
    )
    assert pack.pack_resistance_ohm(
        cell_resistance_ohm=cell_ohm,
        contact_resistance_ohm=contact_ohm,
        series=series,
        parallel=parallel,
    ) == pytest.approx(source.resistance_ohm)


@given(count, count, st.floats(0.01, 100.0), st.floats(1.0, 5.0))
def test_energy_does_not_depend_on_the_layout(series, parallel, capacity_ah, nominal_v):
    """Capacity times voltage is the energy of all cells."""
    energy_wh = pack.pack_energy_wh(
        cell_capacity_ah=capacity_ah, cell_nominal_voltage_v=nominal_v, cells=series * parallel
    )
    assert energy_wh == pytest.approx(
        pack.pack_capacity_ah(cell_capacity_ah=capacity_ah, parallel=parallel)
        * pack.pack_voltage_v(cell_voltage_v=nominal_v, series=series)
    )


@pytest.mark.parametrize(("parallel", "counted"), [(1, 1), (2, 1.5), (3, 2.5), (20, 19.5)])
def test_counted_cells(parallel, counted):
    """One cell counts whole; from two on a group counts half a cell less: common practice."""
    assert pack.counted_cells(parallel=parallel) == counted


def test_counted_cells_over_an_array():
    """Over an array each element is what one number gives."""
    assert pack.counted_cells(parallel=np.arange(1, 5)).tolist() == [1, 1.5, 2.5, 3.5]
