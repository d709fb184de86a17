"""Matched sets are the best ones where that is claimed, and always sound."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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
        assert refused.value.numbers == {"cells": 9.0, "cells_needed": 10.0}
