"""Sets of cells that are alike, chosen from a list of measured ones.

The spread of a set is the root of the sum, over capacity, resistance and open-circuit voltage, of the squares
of its weighted range. A range of one ``ALIKE`` counts 1 before weighting. The sets chosen have the
least sum of squared spreads: one bad set costs more than several fair ones. Which candidates are taken
is the work of HiGHS, a solver of mixed-integer programs; this module only says what may be taken.

Exact where all combinations of cells are few enough to be candidates (89 cells in pairs, 29 in threes,
19 in fours, 15 in fives) and the solver proves its answer; and with one weight only, because then a
best answer is among contiguous stretches of the sorted list. Else the cells are assigned to as many centres
(SciPy's linear assignment) or, where many are to spare, packed from combinations of near neighbours;
then blocks of neighbouring sets and spare cells are solved anew, each exactly, as long as two whole
sets make a block (up to five cells in a set). That is a good answer without proof that none is better.
No time limit is set, so that the same question has the same answer on every machine.
"""

from itertools import combinations
from math import comb
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from percell.physics.errors import NoSolution
from percell.physics.types import Floats

# Differences that count alike at equal weights, our choice: parts of the list's median capacity and
# median resistance, and volts.
ALIKE_CAPACITY = 0.01
ALIKE_RESISTANCE = 0.05
ALIKE_VOLTAGE_V = 0.010
MOST_MEASURED_CELLS = 200
# all combinations are candidates up to this many of them: for the whole list, and for one block
EXACT_CANDIDATES = 4_000
BLOCK_CANDIDATES = 800
BLOCKS = 40
CENTRE_ROUNDS = 12
# branches that the solver may try before it returns the best so far; fewer where no proof is sought
NODES = 500
NEIGHBOUR_NODES = 10
# with at least this part of the cells to spare, combinations of each cell with its neighbours are tried too
SPARE = 0.05
NEIGHBOUR_CANDIDATES = 40  # over the cells in a set, for each cell
NEIGHBOUR_GAP = 0.05  # relative distance to the bound at which the solver may stop there

Index = NDArray[np.intp]


class Weights(NamedTuple):
    """How much each measurement matters; a weight of 0 leaves it out."""

    capacity: float
    resistance: float
    voltage: float


class MatchedSet(NamedTuple):
    """One set: places of its cells in the list, from 0, and its ranges."""

    cells: tuple[int, ...]
    spread: float
    capacity_range_ah: float
    resistance_range_ohm: float
    voltage_range_v: float


class LeftOver(NamedTuple):
    """A cell in no set: the set it is nearest to, and what that set's spread would be with it."""

    cell: int
    nearest_set: int
    spread_with_it: float


class Matched(NamedTuple):
    """Sets in order of their spread, the cells left over, and how sure the choice is."""

    sets: tuple[MatchedSet, ...]
    left_over: tuple[LeftOver, ...]
    proven_best: bool


def set_spread(*, scaled: Floats) -> Floats:
    """Return the spread of sets of cells.

    ``√Σ_f(range_f)²`` over the scaled measurements.

    Args:
        scaled: Measurements over what counts alike, times weight, shape (..., cells, 3). [1], finite

    Returns:
        Spread, shape (...). [1]

    Source:
        Our choice.

    >>> float(set_spread(scaled=np.array([[0.0, 1.0, 0.0], [3.0, 5.0, 0.0]])))
    5.0
    """
    spreads: Floats = np.sqrt(np.sum(np.ptp(scaled, axis=-2) ** 2, axis=-1))
    return spreads


def matched_sets(
    *,
    capacity_ah: Floats,
    resistance_ohm: Floats,
    voltage_v: Floats,
    cells_in_set: int,
    sets: int,
    weights: Weights,
) -> Matched:
    """Return the sets of cells with the least sum of squared spreads.

    Each cell is in one set at most. Set packing: minimise ``Σ_j c_j·x_j`` over candidates j with
    ``Σ_j x_j = sets``, no cell twice, ``x_j`` 0 or 1 and ``c_j`` the squared spread.

    Args:
        capacity_ah: Measured capacity, shape (N,), N at most 200. [Ah], > 0
        resistance_ohm: Measured internal resistance, shape (N,). [ohm], > 0
        voltage_v: Measured open-circuit voltage, shape (N,). [V], > 0
        cells_in_set: Cells in each set. [1], >= 2
        sets: Sets wanted. [1], >= 1
        weights: Weights of the three measurements. [1], >= 0, not all 0

    Returns:
        Sets and cells left over. [1, Ah, ohm, V]

    Raises:
        NoSolution: There are fewer cells than the sets need.

    Source:
        Our choice of measure; solved with HiGHS through SciPy.

    >>> chosen = matched_sets(capacity_ah=np.array([3.0, 2.0, 3.0, 2.0]), resistance_ohm=np.full(4, 0.02),
    ...     voltage_v=np.full(4, 3.6), cells_in_set=2, sets=2, weights=Weights(1.0, 1.0, 1.0))
    >>> [one.cells for one in chosen.sets], chosen.proven_best
    ([(0, 2), (1, 3)], True)
    """
    measured = np.stack([capacity_ah, resistance_ohm, voltage_v], axis=-1)
    count = len(measured)
    if count < cells_in_set * sets:
        raise NoSolution(
            "too_few_cells",
            "There are fewer cells than the sets need.",
            cell_count=float(count),
            cells_needed=float(cells_in_set * sets),
        )
    scaled = np.stack(
        [
            weights.capacity * capacity_ah / (ALIKE_CAPACITY * np.median(capacity_ah)),
            weights.resistance * resistance_ohm / (ALIKE_RESISTANCE * np.median(resistance_ohm)),
            weights.voltage * voltage_v / ALIKE_VOLTAGE_V,
        ],
        axis=-1,
    )
    used = [name for name, weight in enumerate(weights) if weight > 0.0]
    if len(used) == 1:
        groups = _stretches(scaled[:, used[0]], cells_in_set)
    elif comb(count, cells_in_set) <= EXACT_CANDIDATES:
        groups = _all_groups(np.arange(count), cells_in_set)
    else:
        # the assigned sets are found without fail; where cells are to spare, which to leave out is a
        # question for the whole list, and the closest neighbours answer it better
        found = [_assigned(scaled, cells_in_set, sets)]
        if count - cells_in_set * sets >= SPARE * count:
            found.append(
                _packed(
                    _near_groups(scaled, cells_in_set), scaled, sets, NEIGHBOUR_GAP, NEIGHBOUR_NODES
                )[0]
            )
        best = min(found, key=lambda groups: float(np.sum(set_spread(scaled=scaled[groups]) ** 2)))
        return _described(_neighbours_solved(scaled, best), scaled, measured, False)
    chosen, proven = _packed(groups, scaled, sets)
    return _described(chosen, scaled, measured, proven)


def _stretches(line: Floats, size: int) -> Index:
    """Runs of neighbours in a sorted list."""
    return np.lib.stride_tricks.sliding_window_view(np.argsort(line, kind="stable"), size)


def _all_groups(cells: Index, size: int) -> Index:
    """All combinations of cells."""
    return np.array(list(combinations(cells, size)), dtype=np.intp)


def _near_groups(scaled: Floats, size: int) -> Index:
    """The tightest combinations of each cell with its nearest neighbours."""
    distance2 = np.sum((scaled[:, None] - scaled[None]) ** 2, axis=-1)
    np.fill_diagonal(
        distance2, -1.0
    )  # each cell comes first among its own neighbours, also among twins
    near = size - 1
    while near < len(scaled) - 1 and comb(near + 1, size - 1) <= NEIGHBOUR_CANDIDATES:
        near += 1
    order = np.argsort(distance2, axis=-1, kind="stable")[:, : near + 1]
    places = np.array([(0, *rest) for rest in combinations(range(1, near + 1), size - 1)])
    around = np.sort(order[:, places], axis=-1)
    tight = np.argsort(set_spread(scaled=scaled[around]), axis=-1, kind="stable")
    kept = np.take_along_axis(
        around, tight[:, : max(4, NEIGHBOUR_CANDIDATES // size), None], axis=1
    )
    groups: Index = np.unique(kept.reshape(-1, size), axis=0)
    return groups


def _packed(
    groups: Index, scaled: Floats, sets: int, gap: float = 1e-9, nodes: int = NODES
) -> tuple[Index, bool]:
    """The candidates that HiGHS takes, and whether it proved that none are better."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array, vstack

    many, size = groups.shape
    cells, place = np.unique(groups, return_inverse=True)
    once = csr_array(
        (np.ones(many * size), (place.ravel(), np.repeat(np.arange(many), size))),
        shape=(len(cells), many),
    )
    # where no cell is to spare each is in just one set, which tells the solver more than "at most one"
    least = np.full(len(cells), 1.0 if len(cells) == size * sets else 0.0)
    found = milp(
        set_spread(scaled=scaled[groups]) ** 2,
        constraints=LinearConstraint(
            vstack([once, csr_array(np.ones((1, many)))]),
            np.append(least, sets),
            np.append(np.ones(len(cells)), sets),
        ),
        bounds=Bounds(0.0, 1.0),
        integrality=np.ones(many),
        options={"node_limit": nodes, "mip_rel_gap": gap},
    )
    if found.x is None:
        # nothing found within the nodes allowed: stretches of one list are an easy case that fits
        line = scaled[cells] @ _main_direction(scaled[cells])
        return cells[_stretches(line, size)][::size][:sets], False
    return groups[found.x > 0.5], found.status == 0


def _main_direction(scaled: Floats) -> Floats:
    """The direction along which the cells differ most."""
    direction: Floats = np.linalg.svd(scaled - scaled.mean(axis=0), full_matrices=False)[2][0]
    return direction


def _assigned(scaled: Floats, size: int, sets: int) -> Index:
    """Sets of cells around centres that move to the middle of their cells, until none does."""
    from scipy.optimize import linear_sum_assignment

    order = np.argsort(scaled @ _main_direction(scaled), kind="stable")
    # from stretches spread evenly over the sorted list
    first = np.linspace(0, len(scaled) - size, sets).round().astype(np.intp)
    groups: Index = order[first[:, None] + np.arange(size)]
    for _ in range(CENTRE_ROUNDS):
        centres = scaled[groups].mean(axis=1)
        far = np.sum((scaled[None] - centres[:, None]) ** 2, axis=-1)
        seats, cells = linear_sum_assignment(np.repeat(far, size, axis=0))
        moved = np.sort(cells[np.argsort(seats)].reshape(sets, size), axis=-1)
        if np.array_equal(moved, groups):
            break
        groups = moved
    return groups


def _neighbours_solved(scaled: Floats, groups: Index) -> Index:
    """Solve blocks of neighbouring sets and spare cells anew, the worst set's block first."""
    size = groups.shape[1]
    room = size
    while comb(room + 1, size) <= BLOCK_CANDIDATES:
        room += 1
    block = room // size
    if block < 2:
        return groups
    tried: set[tuple[int, ...]] = set()
    for _ in range(BLOCKS):
        spread = set_spread(scaled=scaled[groups])
        seed = next(
            (at for at in np.argsort(-spread, kind="stable") if tuple(groups[at]) not in tried),
            None,
        )
        if seed is None:
            break
        tried.add(tuple(groups[seed]))
        centres = scaled[groups].mean(axis=1)
        near = np.argsort(np.sum((centres - centres[seed]) ** 2, axis=-1), kind="stable")[:block]
        spare = np.setdiff1d(np.arange(len(scaled)), groups)
        far = np.sum((scaled[spare] - centres[seed]) ** 2, axis=-1)
        spare = spare[np.argsort(far, kind="stable")][: room - len(near) * size]
        cells = np.sort(np.concatenate([groups[near].ravel(), spare]))
        better, _ = _packed(_all_groups(cells, size), scaled, len(near))
        if np.sum(set_spread(scaled=scaled[better]) ** 2) < np.sum(spread[near] ** 2) * (1 - 1e-9):
            groups = groups.copy()
            groups[near] = better
    return groups


def _described(sets: Index, scaled: Floats, measured: Floats, proven: bool) -> Matched:
    """Order the chosen sets by their spread, and find the nearest set of each cell left over."""
    sets = sets[np.argsort(set_spread(scaled=scaled[sets]), kind="stable")]
    spreads = set_spread(scaled=scaled[sets])
    ranges = np.ptp(measured[sets], axis=1)
    left = []
    for cell in np.setdiff1d(np.arange(len(scaled)), sets):
        joined = np.column_stack([sets, np.full(len(sets), cell)])
        with_it = set_spread(scaled=scaled[joined])
        nearest = int(np.argmin(with_it))
        left.append(LeftOver(int(cell), nearest, float(with_it[nearest])))
    return Matched(
        sets=tuple(
            MatchedSet(tuple(map(int, sorted(cells))), float(spread), *map(float, ranged))
            for cells, spread, ranged in zip(sets, spreads, ranges, strict=True)
        ),
        left_over=tuple(left),
        proven_best=proven,
    )
