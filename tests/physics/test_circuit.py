"""A parallel group of unequal cells keeps Kirchhoff's rules, also at the ends of what is allowed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics.circuit import cell_current_a, group_resistance_ohm, group_source_voltage_v

cell = st.tuples(st.floats(0.5, 5.0), st.floats(1e-4, 10.0))
group = st.lists(cell, min_size=1, max_size=20).map(lambda cells: np.array(cells).T)
current_a = st.floats(0.0, 1000.0)


@given(group, current_a)
def test_currents_sum_to_the_group_current(cells, group_current_a):
    """What the cells give is what leaves the group."""
    sources_v, paths_ohm = cells
    got = cell_current_a(
        group_current_a=group_current_a,
        cell_source_voltage_v=sources_v,
        path_resistance_ohm=paths_ohm,
    )
    assert np.isfinite(got).all()
    # a rounding error of a voltage is a current through the smallest resistance
    assert got.sum() == pytest.approx(group_current_a, rel=1e-12, abs=1e-14 / paths_ohm.min())


@given(group, current_a)
def test_every_path_ends_at_the_same_voltage(cells, group_current_a):
    """Going through any cell of a group leads to the same voltage, E − I·R of the group."""
    sources_v, paths_ohm = cells
    got = cell_current_a(
        group_current_a=group_current_a,
        cell_source_voltage_v=sources_v,
        path_resistance_ohm=paths_ohm,
    )
    group_v = group_source_voltage_v(
        cell_source_voltage_v=sources_v, path_resistance_ohm=paths_ohm
    ) - group_current_a * group_resistance_ohm(path_resistance_ohm=paths_ohm)
    np.testing.assert_allclose(
        sources_v - got * paths_ohm, group_v, rtol=0, atol=1e-12 * (10.0 + np.abs(group_v))
    )


@given(cell, st.integers(1, 20), current_a)
def test_equal_cells_share_equally_to_the_last_digit(one, parallel, group_current_a):
    """Equal cells carry equal currents, and without a load none at all."""
    source_v, path_ohm = one
    got = cell_current_a(
        group_current_a=group_current_a,
        cell_source_voltage_v=np.full(parallel, source_v),
        path_resistance_ohm=np.full(parallel, path_ohm),
    )
    assert (got == got[0]).all()
    assert got[0] == pytest.approx(group_current_a / parallel, rel=1e-14)


@given(st.lists(st.floats(1e-4, 10.0), min_size=2, max_size=20), st.floats(0.01, 1000.0))
def test_larger_resistance_gets_less_current(paths_ohm, group_current_a):
    """At equal voltages the currents fall as the resistances rise."""
    paths_ohm = np.sort(paths_ohm)
    got = cell_current_a(
        group_current_a=group_current_a,
        cell_source_voltage_v=np.full(len(paths_ohm), 4.0),
        path_resistance_ohm=paths_ohm,
    )
    assert (np.diff(got) <= 0).all()
    assert (got > 0).all()


@given(group)
def test_group_lies_between_its_cells(cells):
    """A group's voltage is none that its cells do not span; its resistance is below each path's."""
    sources_v, paths_ohm = cells
    got_v = group_source_voltage_v(cell_source_voltage_v=sources_v, path_resistance_ohm=paths_ohm)
    assert sources_v.min() - 1e-12 <= got_v <= sources_v.max() + 1e-12
    got_ohm = group_resistance_ohm(path_resistance_ohm=paths_ohm)
    assert got_ohm <= paths_ohm.min() * (1 + 1e-12)


@given(group, st.randoms(use_true_random=False))
def test_order_of_the_cells_does_not_matter(cells, shuffler):
    """Cells carry the same whichever comes first, although the formula starts from the first."""
    sources_v, paths_ohm = cells
    order = list(range(len(sources_v)))
    shuffler.shuffle(order)
    straight, shuffled = (
        cell_current_a(
            group_current_a=20.0,
            cell_source_voltage_v=sources_v[places],
            path_resistance_ohm=paths_ohm[places],
        )
        for places in (list(range(len(order))), order)
    )
    # a rounding error of a voltage is a current through the smallest resistance
    np.testing.assert_allclose(shuffled, straight[order], rtol=0, atol=1e-14 / paths_ohm.min())


def test_groups_are_solved_together_as_they_are_alone():
    """The axes before the last are broadcast: a pack gives what each of its groups gives."""
    generator = np.random.default_rng(5)
    sources_v, paths_ohm = generator.uniform(3, 4, (4, 3)), generator.uniform(0.01, 0.1, (4, 3))
    together = cell_current_a(
        group_current_a=20.0, cell_source_voltage_v=sources_v, path_resistance_ohm=paths_ohm
    )
    for got, source_v, path_ohm in zip(together, sources_v, paths_ohm, strict=True):
        alone = cell_current_a(
            group_current_a=20.0, cell_source_voltage_v=source_v, path_resistance_ohm=path_ohm
        )
        np.testing.assert_array_equal(got, alone)
