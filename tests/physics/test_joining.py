"""Joined cells keep their charge and come to rest at one voltage."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from percell.physics import joining
from percell.physics.circuit import cell_current_a
from percell.physics.errors import NoSolution

# NMC811/graphite-SiOx, Chen et al., J. Electrochem. Soc. 167 (2020) 080534, the published electrode
# fits evaluated at even steps of charge
CHARGE = np.linspace(0.0, 1.0, 11)
VOLTAGE_V = np.array([2.5, 3.296, 3.485, 3.581, 3.667, 3.751, 3.841, 3.948, 4.042, 4.097, 4.2])
CURVE = {"curve_charge": CHARGE, "curve_voltage_v": VOLTAGE_V}

cells = st.lists(st.tuples(st.floats(2.5, 4.2), st.floats(0.1, 10.0)), min_size=2, max_size=20).map(
    lambda drawn: np.array(drawn).T
)


def settled(sources_v, capacities_ah):
    """Return voltage, state of charge and charges moved."""
    before = joining.state_of_charge(cell_source_voltage_v=sources_v, **CURVE)
    after = joining.settling_charge(cell_capacity_ah=capacities_ah, cell_charge=before)
    return (
        joining.settling_voltage_v(settled_charge=after, **CURVE),
        after,
        joining.moved_charge_ah(
            cell_capacity_ah=capacities_ah, cell_charge=before, settled_charge=after
        ),
    )


@given(cells)
def test_settling_is_where_a_root_finder_sees_no_charge_missing(drawn):
    """The voltage is the one at which the cells hold together what they held before (SciPy brentq)."""
    sources_v, capacities_ah = drawn

    def held_ah(voltages_v):
        return np.sum(capacities_ah * np.interp(voltages_v, VOLTAGE_V, CHARGE))

    def missing_ah(common_v):
        return held_ah(np.full_like(sources_v, common_v)) - held_ah(sources_v)

    # at the ends of the curve rounding may leave the root finder no change of sign
    root_v = (
        2.5
        if missing_ah(2.5) >= 0
        else 4.2
        if missing_ah(4.2) <= 0
        else brentq(missing_ah, 2.5, 4.2, xtol=1e-13)
    )
    assert settled(sources_v, capacities_ah)[0] == pytest.approx(root_v, abs=1e-9)


@given(cells)
def test_charge_is_kept_and_flows_downhill(drawn):
    """Charges moved cancel; cells above the settling voltage give and cells below it take."""
    sources_v, capacities_ah = drawn
    voltage_v, _, moved_ah = settled(sources_v, capacities_ah)
    assert moved_ah.sum() == pytest.approx(0.0, abs=1e-12 * capacities_ah.sum())
    assert sources_v.min() - 1e-12 <= voltage_v <= sources_v.max() + 1e-12
    assert (moved_ah[sources_v > voltage_v + 1e-9] > 0).all()
    assert (moved_ah[sources_v < voltage_v - 1e-9] < 0).all()


def test_two_equal_cells_meet_halfway_in_charge_not_in_voltage():
    """A cell of 4.2 V and one of 2.5 V, 3 Ah each, settle at half charge: 1.5 Ah moves."""
    voltage_v, charge, moved_ah = settled(np.array([4.2, 2.5]), np.array([3.0, 3.0]))
    assert charge == 0.5
    assert voltage_v == 3.751
    np.testing.assert_array_equal(moved_ah, [1.5, -1.5])


@given(st.floats(2.5, 4.2))
def test_voltage_and_charge_are_inverse(source_v):
    """Reading the curve backwards and forwards returns the voltage."""
    charge = joining.state_of_charge(cell_source_voltage_v=source_v, **CURVE)
    assert joining.settling_voltage_v(settled_charge=charge, **CURVE) == pytest.approx(source_v)


@pytest.mark.parametrize("source_v", [2.5 - 1e-9, 4.2 + 1e-9])
def test_voltage_off_the_curve_is_refused_with_its_ends(source_v):
    """A voltage just outside the curve has no state of charge; its ends have one."""
    with pytest.raises(NoSolution) as refused:
        joining.state_of_charge(cell_source_voltage_v=np.array([2.5, 4.2, source_v]), **CURVE)
    assert refused.value.code == "voltage_off_curve"
    assert refused.value.numbers == {
        "open_circuit_voltage_v": source_v,
        "lowest_voltage_v": 2.5,
        "highest_voltage_v": 4.2,
    }
    ends = joining.state_of_charge(cell_source_voltage_v=np.array([2.5, 4.2]), **CURVE)
    np.testing.assert_array_equal(ends, [0.0, 1.0])


@given(st.floats(2.5, 4.2), st.floats(2.5, 4.2), st.floats(1e-4, 1.0), st.floats(1e-4, 1.0))
def test_rush_of_two_is_the_group_without_load(one_v, other_v, one_ohm, other_ohm):
    """ΔV/(r₁ + r₂) is what the general solution gives for two cells."""
    rush_a = joining.rush_current_a(
        voltage_apart_v=one_v - other_v,
        path_resistance_ohm=one_ohm,
        other_path_resistance_ohm=other_ohm,
    )
    group_a = cell_current_a(
        group_current_a=0.0,
        cell_source_voltage_v=np.array([one_v, other_v]),
        path_resistance_ohm=np.array([one_ohm, other_ohm]),
    )
    rounding_a = 1e-14 / min(one_ohm, other_ohm)
    np.testing.assert_allclose(group_a, [rush_a, -rush_a], rtol=1e-9, atol=rounding_a)


@given(
    st.lists(
        st.tuples(st.floats(0.0, 5.0), st.floats(1e-4, 2.0)),
        min_size=2,
        max_size=5,
    )
)
def test_highest_charge_is_that_of_the_worst_set(cells):
    """No set of other cells that is joined first charges a cell faster: every set is tried."""
    volts, ohms = (np.array(column) for column in zip(*cells, strict=True))
    got = joining.highest_charge_current_a(cell_source_voltage_v=volts, path_resistance_ohm=ohms)
    for i in range(len(cells)):
        others = [j for j in range(len(cells)) if j != i]
        sets = (s for n in range(1, len(cells)) for s in combinations(others, n))
        tried = [
            -cell_current_a(
                group_current_a=0.0,
                cell_source_voltage_v=volts[[i, *chosen]],
                path_resistance_ohm=ohms[[i, *chosen]],
            )[0]
            for chosen in sets
        ]
        assert got[i] == pytest.approx(max(0.0, *tried), rel=1e-9, abs=1e-9)


def test_a_cell_without_a_path_is_refused():
    """As many voltages as paths: a cell too few or too many is no group."""
    for cells, paths in [(2, 3), (3, 2)]:
        with pytest.raises((ValueError, IndexError)):
            joining.highest_charge_current_a(
                cell_source_voltage_v=np.linspace(3.0, 4.0, cells),
                path_resistance_ohm=np.ones(paths),
            )


@given(
    st.lists(
        st.tuples(st.floats(0.0, 1.0), st.floats(1e-3, 1.0), st.floats(0.1, 10.0)),
        min_size=2,
        max_size=6,
    )
)
def test_within_the_difference_no_cell_is_charged_above_its_limit(cells):
    """However the voltages lie within the difference, and in whatever order, no limit is passed."""
    places, ohms, limits = (np.array(column) for column in zip(*cells, strict=True))
    apart = joining.highest_voltage_apart_v(cell_charge_limit_a=limits, path_resistance_ohm=ohms)
    charged = joining.highest_charge_current_a(
        cell_source_voltage_v=places * apart, path_resistance_ohm=ohms
    )
    assert (charged <= limits * (1 + 1e-9)).all()


def test_the_difference_is_reached_by_one_low_cell_among_high_ones():
    """Just at the difference one cell is charged with just its limit, and just above with more."""
    ohms, limits = np.array([0.02, 0.03, 0.05]), np.array([1.0, 4.0, 4.0])
    apart = joining.highest_voltage_apart_v(cell_charge_limit_a=limits, path_resistance_ohm=ohms)
    # by hand: 1 A through 0.02 ohm and 0.03 ohm beside 0.05 ohm
    assert apart == pytest.approx(0.02 + 1 / (1 / 0.03 + 1 / 0.05))
    for volts, most in [(apart, 1.0), (apart * 1.001, 1.001)]:
        charged = joining.highest_charge_current_a(
            cell_source_voltage_v=np.array([0.0, volts, volts]), path_resistance_ohm=ohms
        )
        assert charged[0] == pytest.approx(most)
