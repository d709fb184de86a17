"""Bounds of belief against published cells."""

import pytest

from percell.physics import claim
from percell.physics.sizes import SIZES


@pytest.mark.parametrize(
    ("source", "size", "litre"),
    [
        ("PyBaMM, Chen2020 and ORegan2022: cell volume 2.42e-5 m3", "21700", 0.0242),
        ("by hand: 18 × 65 mm is 16.5 cm3", "18650", 0.0165),
    ],
    ids=lambda value: value if isinstance(value, str) and len(value) > 5 else "",
)
def test_published_volume(source, size, litre):
    """The volume of a size is the published one."""
    cell = SIZES[size]
    got = claim.cell_volume_litre(diameter_mm=cell.diameter_mm, height_mm=cell.height_mm)
    assert got == pytest.approx(litre, abs=0.00005), source


@pytest.mark.parametrize(
    "source", ["Chen et al., J. Electrochem. Soc. 167 (2020) 080534: a 21700 cell of 5 Ah"]
)
def test_a_measured_cell_is_believed(source):
    """The capacity of a cell that was measured for publication lies below the usual bound."""
    cell = SIZES["21700"]
    bound_ah = claim.highest_capacity_ah(
        diameter_mm=cell.diameter_mm,
        height_mm=cell.height_mm,
        nominal_voltage_v=3.6,
        density_whl=claim.USUAL_DENSITY_WHL.value,
    )
    assert 5.0 < bound_ah < 5.2, source
