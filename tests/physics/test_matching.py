"""Matched sets are the best ones where that is claimed, and always sound."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from percell.physics import matching
from percell.physics.errors import NoSolution
from percell.physics.matching import Weights

EVEN = Weights(1.0, 1.0, 1.0)


def bench(count, seed):
    """Draw a list of cells as they come from a bench."""
    draw = np.random.default_rng(seed)
    return {
        "capacity_ah": 3.0 * (1 + 0.02 * draw.normal(size=count)),
        "resistance_ohm": 0.02 * (1 + 0.08 * draw.normal(size=count)),
        "voltage_v": 3.6 + 0.01 * draw.normal(size=count),
    }


def chosen(cells, size, sets, weights=EVEN):
    return matching.matched_sets(**cells, cells_in_set=size, sets=sets, weights=weights)


def cost(found):
    return sum(one.spread**2 for one in found.sets)


def scaled(cells, weights):
    return np.stack(
        [
            weights.capacity * cells["capacity_ah"] / (0.01 * np.median(cells["capacity_ah"])),
            weights.resistance
            * cells["resistance_ohm"]
            / (0.05 * np.median(cells["resistance_ohm"])),
            weights.voltage * cells["voltage_v"] / 0.010,
        ],
        axis=-1,
    )


def all_choices(places, size, sets):
    """Every way to choose sets of cells, one after another, each set by its lowest place."""
    if sets == 0:
        yield []
        return
    for first in places:
        rest = [place for place in places if place > first]
        for others in combinations(rest, size - 1):
            left = [place for place in rest if place not in others]
            for more in all_choices(left, size, sets - 1):
                yield [(first, *others), *more]


def brute_cost(cells, size, sets, weights):
    table = scaled(cells, weights)
    cost_of = {
        group: float(np.sum(np.ptp(table[list(group)], axis=0) ** 2))
        for group in combinations(range(len(table)), size)
    }
    return min(
        sum(cost_of[group] for group in choice)
        for choice in all_choices(list(range(len(table))), size, sets)
    )


@pytest.mark.parametrize(
    ("count", "size", "sets"),
    [
        (4, 2, 2),
        (7, 2, 3),
        (8, 2, 4),
        (9, 2, 3),
        (7, 3, 2),
        (9, 3, 3),
        (8, 4, 2),
        (9, 4, 2),
        (6, 5, 1),
        (6, 6, 1),
    ],
)
@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("weights", [EVEN, Weights(1.0, 3.0, 0.2), Weights(0.0, 1.0, 0.0)])
def test_small_lists_are_solved_exactly(count, size, sets, seed, weights):
    """No choice that trying all of them finds is better, and the answer says that it is proven."""
    cells = bench(count, seed)
    found = chosen(cells, size, sets, weights)
    assert found.proven_best
    assert cost(found) == pytest.approx(brute_cost(cells, size, sets, weights), rel=1e-6, abs=1e-9)


def check_sound(cells, found, size, sets, weights=EVEN):
    """Check a choice against its own list."""
    taken = [place for one in found.sets for place in one.cells]
    left = [one.cell for one in found.left_over]
    assert [len(one.cells) for one in found.sets] == [size] * sets
    assert sorted(taken + left) == list(range(len(cells["capacity_ah"])))
    spreads = [one.spread for one in found.sets]
    assert spreads == sorted(spreads)
    table = scaled(cells, weights)
    for one in found.sets:
        places = list(one.cells)
        assert one.spread == pytest.approx(np.linalg.norm(np.ptp(table[places], axis=0)))
        assert one.capacity_range_ah == pytest.approx(np.ptp(cells["capacity_ah"][places]))
        assert one.resistance_range_ohm == pytest.approx(np.ptp(cells["resistance_ohm"][places]))
        assert one.voltage_range_v == pytest.approx(np.ptp(cells["voltage_v"][places]))
    for lost in found.left_over:
        with_it = [
            np.linalg.norm(np.ptp(table[[*one.cells, lost.cell]], axis=0)) for one in found.sets
        ]
        assert lost.spread_with_it == pytest.approx(min(with_it))
        assert with_it[lost.nearest_set] == pytest.approx(min(with_it))
        assert lost.spread_with_it >= found.sets[lost.nearest_set].spread - 1e-9


@given(st.integers(4, 14), st.integers(2, 4), st.integers(0, 10_000), st.data())
@settings(max_examples=40, deadline=None)
def test_every_choice_is_sound(count, size, seed, data):
    """No cell is used twice or lost; ranges, spreads and nearest sets are those of the list."""
    size = min(size, count)
    sets = data.draw(st.integers(1, count // size))
    cells = bench(count, seed)
    check_sound(cells, chosen(cells, size, sets), size, sets)


@pytest.mark.parametrize(
    ("count", "size", "sets"), [(200, 2, 90), (120, 3, 40), (60, 4, 12), (60, 7, 8), (200, 50, 4)]
)
def test_long_lists_are_sound_and_not_called_best(count, size, sets):
    """Long lists give whole sets too, the same at each asking, and claim no proof."""
    cells = bench(count, 5)
    found = chosen(cells, size, sets)
    check_sound(cells, found, size, sets)
    assert not found.proven_best
    # no worse than the plain way: sort by capacity and cut
    order = np.argsort(cells["capacity_ah"])[: size * sets].reshape(sets, size)
    plain = np.sum(matching.set_spread(scaled=scaled(cells, EVEN)[order]) ** 2)
    assert cost(found) < plain


def test_same_question_same_answer():
    """A heuristic answer does not depend on the clock."""
    cells = bench(100, 7)
    assert chosen(cells, 3, 30) == chosen(cells, 3, 30)


@pytest.mark.parametrize("seed", range(2))
def test_heuristic_comes_close_to_the_proven_best(monkeypatch, seed):
    """On lists that both ways can solve, the way for long lists is within a tenth of the best."""
    cells = bench(24, seed)
    best = chosen(cells, 2, 11)
    monkeypatch.setattr(matching, "EXACT_CANDIDATES", 0)
    monkeypatch.setattr(matching, "BLOCK_CANDIDATES", 100)
    near = chosen(cells, 2, 11)
    assert best.proven_best
    assert not near.proven_best
    assert cost(best) * (1 - 1e-6) <= cost(near) <= 1.1 * cost(best)


@pytest.mark.parametrize("weight", range(3))
def test_one_weight_is_proven_for_the_longest_list(weight):
    """With one measurement that counts, even 200 cells are solved exactly, as stretches of the list."""
    cells = bench(matching.MOST_MEASURED_CELLS, 3)
    weights = Weights(*np.eye(3)[weight])
    found = chosen(cells, 4, 50, weights)
    assert found.proven_best
    line = np.sort(scaled(cells, weights)[:, weight]).reshape(50, 4)
    assert cost(found) == pytest.approx(np.sum(np.ptp(line, axis=1) ** 2), rel=1e-6)


def test_twins_find_each_other():
    """Cells that are equal pair by pair are matched without spread, whatever their order."""
    cells = {name: np.concatenate([values, values[::-1]]) for name, values in bench(20, 9).items()}
    found = chosen(cells, 2, 20)
    assert cost(found) == 0.0
    assert all(sum(one.cells) == 39 for one in found.sets)


def test_odd_cell_is_left_out():
    """The one cell unlike all others is in no set, and its distance says why."""
    cells = {name: np.full(7, values[0]) for name, values in bench(1, 0).items()}
    cells["resistance_ohm"][4] *= 2
    found = chosen(cells, 2, 3)
    (lost,) = found.left_over
    assert lost.cell == 4
    assert lost.spread_with_it == pytest.approx(1.0 / 0.05)


def test_candidates_that_cannot_be_packed_still_give_sets():
    """Where no choice of the candidates fits, stretches of the list stand in, unproven."""
    table = scaled(bench(6, 2), EVEN)
    groups = np.array([[0, 1], [0, 2], [0, 3], [0, 4], [0, 5]])
    got, proven = matching._packed(groups, table, 3)
    assert not proven
    assert sorted(got.ravel()) == list(range(6))


@pytest.mark.parametrize(("sets", "answered"), [(3, True), (4, True), (5, False)])
def test_just_enough_cells(sets, answered):
    """Nine cells make four pairs and not five."""
    if answered:
        assert len(chosen(bench(9, 1), 2, sets).sets) == sets
    else:
        with pytest.raises(NoSolution) as refused:
            chosen(bench(9, 1), 2, sets)
        assert refused.value.numbers == {"cell_count": 9.0, "cells_needed": 10.0}


def line(*places):
    """Cells that differ in one measurement only."""
    return np.array([[place, 0.0, 0.0] for place in places])


def as_sets(groups):
    return {tuple(sorted(int(cell) for cell in group)) for group in groups}


@pytest.mark.parametrize(
    ("size", "candidates", "near", "kept"),
    [(2, 2, 2, 4), (3, 12, 5, 4), (3, 15, 6, 5), (3, 30, 8, 10)],
)
@pytest.mark.parametrize("seed", range(3))
def test_neighbours_are_the_tightest_groups_around_each_cell(
    monkeypatch, size, candidates, near, kept, seed
):
    """Of each cell with so many of its nearest, by trying all, the tightest groups are candidates."""
    monkeypatch.setattr(matching, "NEIGHBOUR_CANDIDATES", candidates)
    table = np.random.default_rng(seed).normal(size=(12, 3))
    expected = set()
    for cell, place in enumerate(table):
        nearest = np.argsort(np.linalg.norm(table - place, axis=1))[1 : near + 1]
        groups = [(cell, *others) for others in combinations(nearest, size - 1)]
        groups.sort(key=lambda group: np.linalg.norm(np.ptp(table[list(group)], axis=0)))
        expected |= as_sets(groups[:kept])
    got = matching._near_groups(table, size)
    assert as_sets(got) == expected
    assert got.tolist() == sorted(got.tolist())
    assert len(got) == len(expected)


def test_a_short_list_is_all_neighbours():
    """Three cells make three pairs, though the first and the last are not nearest to each other."""
    assert as_sets(matching._near_groups(line(0.0, 1.0, 3.0), 2)) == {(0, 1), (0, 2), (1, 2)}


@pytest.mark.parametrize(
    ("places", "expected"),
    [((0.0, 0.5, 0.6), {(0, 1), (1, 2)}), ((0.0, 0.0, 0.0), {(0, 1), (0, 2)})],
)
def test_each_cell_is_in_its_own_neighbourhood(monkeypatch, places, expected):
    """With one neighbour each, near cells and triplets too come with themselves first."""
    monkeypatch.setattr(matching, "NEIGHBOUR_CANDIDATES", 1)
    assert as_sets(matching._near_groups(line(*places), 2)) == expected


@pytest.mark.parametrize("seed", range(3))
def test_cells_in_clear_clusters_are_assigned_to_them(seed):
    """Four heaps of three cells, in any order, are the four sets."""
    draw = np.random.default_rng(seed)
    heap = draw.permutation(np.repeat(np.arange(4), 3))
    centres = np.array([[0.0, 0.0, 0.0], [50.0, 9.0, 0.0], [9.0, -50.0, 0.0], [0.0, 9.0, 50.0]])
    got = matching._assigned(centres[heap] + draw.normal(size=(12, 3)), 3, 4)
    assert as_sets(got) == {tuple(np.flatnonzero(heap == one)) for one in range(4)}


@pytest.mark.parametrize("seed", range(3))
def test_assigned_cells_are_the_nearest_to_their_centres(seed):
    """In the end no other choice of cells, with two to spare, lies nearer to the middles of the sets."""
    table = 5.0 + np.random.default_rng(seed).normal(size=(14, 3))
    got = matching._assigned(table, 3, 4)
    distances = cdist(table[got].mean(axis=1), table, "sqeuclidean")
    seats, cells = linear_sum_assignment(np.repeat(distances, 3, axis=0))
    reached = sum(distances[at, cell] for at, group in enumerate(got) for cell in group)
    assert reached == pytest.approx(np.repeat(distances, 3, axis=0)[seats, cells].sum())


@pytest.mark.parametrize(("candidates", "solved"), [(6, True), (5, False), (3, False)])
@pytest.mark.parametrize("scale", [1.0, 0.1])
def test_two_sets_that_should_swap(monkeypatch, candidates, solved, scale):
    """Of 0, 2.9, 3 and 5.9 the pairs 3 apart become pairs 2.9 apart, where six pairs make a block."""
    monkeypatch.setattr(matching, "BLOCK_CANDIDATES", candidates)
    table = scale * line(0.0, 2.9, 3.0, 5.9, 2.9)
    got = matching._neighbours_solved(table, np.array([[0, 2], [1, 3]]))
    assert as_sets(got) == ({(0, 1), (2, 3)} if solved else {(0, 2), (1, 3)})


def test_the_worst_set_is_solved_first(monkeypatch):
    """With one block only, the sets 10 apart swap with their neighbour and the others stay."""
    monkeypatch.setattr(matching, "BLOCK_CANDIDATES", 6)
    monkeypatch.setattr(matching, "BLOCKS", 1)
    table = line(0.0, 1.0, 10.0, 11.0, 100.0, 100.5, 101.0, 101.5, -50.0, -50.1)
    got = matching._neighbours_solved(table, np.array([[4, 6], [0, 2], [8, 9], [1, 3], [5, 7]]))
    assert as_sets(got) == {(0, 1), (2, 3), (4, 6), (5, 7), (8, 9)}
    monkeypatch.setattr(matching, "BLOCKS", 40)
    got = matching._neighbours_solved(table, np.array([[4, 6], [0, 2], [8, 9], [1, 3], [5, 7]]))
    assert as_sets(got) == {(0, 1), (2, 3), (4, 5), (6, 7), (8, 9)}


def test_the_nearest_spare_cell_is_tried(monkeypatch):
    """A block of two sets has room for one spare cell: the nearest to the worst set, and it is taken."""
    monkeypatch.setattr(matching, "BLOCK_CANDIDATES", 10)
    monkeypatch.setattr(matching, "BLOCKS", 1)
    table = line(0.0, 4.0, 20.0, 20.1, 0.1, -2.2)
    got = matching._neighbours_solved(table, np.array([[0, 1], [2, 3]]))
    assert as_sets(got) == {(0, 4), (2, 3)}


def test_as_many_candidates_as_may_be_are_solved_exactly(monkeypatch):
    """28 pairs of 8 cells are proven where 28 may be candidates, and not where 27 may."""
    cells = bench(8, 1)
    monkeypatch.setattr(matching, "EXACT_CANDIDATES", 28)
    assert chosen(cells, 2, 3).proven_best
    monkeypatch.setattr(matching, "EXACT_CANDIDATES", 27)
    assert not chosen(cells, 2, 3).proven_best


@pytest.mark.parametrize(
    ("assigned", "packed"),
    [
        # 3² + 3² is less than 0.5² + 4.6², though 3 + 3 is more
        ([[0, 3], [4, 7]], [[0, 1], [2, 6]]),
        # 4² + 0² is less than 2.9² + 2.9², though 4³ is more than twice 2.9³
        ([[0, 5], [8, 9]], [[0, 2], [8, 10]]),
    ],
)
def test_the_start_of_least_squares_is_taken(monkeypatch, assigned, packed):
    """Of the two ways to begin with a long list, the one with the smaller sum of squares goes on."""
    volts = [0.0, 0.5, 2.9, 3.0, 3.1, 4.0, 7.5, 6.1, 20.0, 20.0, 22.9, 30.0]
    cells = {
        "capacity_ah": np.full(12, 3.0),
        "resistance_ohm": np.full(12, 0.02),
        "voltage_v": 3.0 + 0.01 * np.array(volts),
    }
    monkeypatch.setattr(matching, "EXACT_CANDIDATES", 0)
    monkeypatch.setattr(matching, "_assigned", lambda *_: np.array(assigned))
    monkeypatch.setattr(matching, "_packed", lambda *_: (np.array(packed), False))
    monkeypatch.setattr(matching, "_neighbours_solved", lambda _, groups: groups)
    got = chosen(cells, 2, 2)
    assert {one.cells for one in got.sets} == as_sets(assigned)
