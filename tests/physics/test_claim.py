"""What can be believed of a printed rating has bounds that hold together."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import claim
from percell.physics.errors import NoSolution
from percell.physics.heat import lateral_area_m2
from percell.physics.sizes import SIZES

CELL = {
    "ambient_c": 20.0,
    "capacity_ah": 3.0,
    "resistance_ohm": 0.015,
    "heat_capacity_jk": 40.0,
    "conductance_wk": 0.037,
}


@given(st.floats(1.0, 100.0), st.floats(1.001, 3.0))
def test_more_current_ends_hotter(current_a, factor):
    """The end of a whole discharge is hotter at a higher current, though it comes sooner."""
    assert claim.end_temperature_c(current_a=current_a * factor, **CELL) > claim.end_temperature_c(
        current_a=current_a, **CELL
    )


@given(
    st.floats(20.1, 120.0),
    st.floats(0.3, 10.0),
    st.floats(0.002, 0.3),
    st.floats(10.0, 200.0),
    st.floats(0.0, 0.5),
)
def test_highest_current_is_the_inverse(
    end_c, capacity_ah, cell_ohm, heat_capacity_jk, conductance_wk
):
    """A discharge at the current found ends at the temperature asked for."""
    lump = {
        "ambient_c": 20.0,
        "capacity_ah": capacity_ah,
        "resistance_ohm": cell_ohm,
        "heat_capacity_jk": heat_capacity_jk,
        "conductance_wk": conductance_wk,
    }
    current_a = claim.highest_current_a(end_c=end_c, **lump)
    assert claim.end_temperature_c(current_a=current_a, **lump) == pytest.approx(end_c, abs=1e-9)


@pytest.mark.parametrize("end_c", [19.9, 20.0])
def test_air_at_or_above_the_end_has_no_answer(end_c):
    """Where the air is as warm as the bound, no current keeps it."""
    with pytest.raises(NoSolution):
        claim.highest_current_a(end_c=end_c, **CELL)
    assert claim.highest_current_a(end_c=20.1, **CELL) > 0


@pytest.mark.parametrize("size", sorted(SIZES))
def test_bounds_of_each_size_hold_together(size):
    """The usual density allows less than the highest; a claim of 9.9 Ah passes no size of this list."""
    cell = SIZES[size]
    usual_ah, highest_ah = (
        claim.highest_capacity_ah(
            diameter_mm=cell.diameter_mm,
            height_mm=cell.height_mm,
            nominal_voltage_v=3.6,
            density_whl=bound.value,
        )
        for bound in (claim.USUAL_DENSITY_WHL, claim.HIGHEST_DENSITY_WHL)
    )
    assert 1.0 < usual_ah < highest_ah < 9.9
    current_a = claim.highest_current_a(
        ambient_c=20.0,
        end_c=claim.HIGHEST_END_C.value,
        capacity_ah=usual_ah,
        resistance_ohm=cell.lowest_resistance_ohm,
        heat_capacity_jk=830.0 * cell.mass_kg,
        conductance_wk=10.0
        * lateral_area_m2(diameter_mm=cell.diameter_mm, height_mm=cell.height_mm),
    )
    assert 10.0 < current_a < 100.0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        pytest.param(*row[:2], id=f"{row[0]}, {row[2]}")
        for row in [
            ("USUAL_DENSITY_WHL", 750.0, "rounded up from Chen et al. 2020, 5.0 Ah in 24.2 cm3"),
            ("HIGHEST_DENSITY_WHL", 900.0, "from memory, unconfirmed"),
            ("HIGHEST_END_C", 80.0, "common practice, no published source"),
            ("USUAL_RATE_H", 30.0, "from memory, unconfirmed"),
            ("HIGHEST_RATE_H", 40.0, "from memory, unconfirmed"),
        ]
    ],
)
def test_a_bound_is_the_value_of_its_source(name, value):
    """Each bound of belief is the one that its source gives, and says so."""
    bound = getattr(claim, name)
    assert bound.value == value
    assert bound.source
