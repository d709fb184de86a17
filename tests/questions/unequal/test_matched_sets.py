"""Matched sets against brute force, by their laws, and their findings."""

from itertools import combinations

import numpy as np
import pytest

from percell.questions.vocabulary.refusal import Refused


def cells(seed, count):
    rng = np.random.default_rng(seed)
    return [
        {
            "label": f"c{i}",
            "cell_capacity_ah": float(rng.normal(2.9, 0.08)),
            "cell_resistance_ohm": float(rng.normal(0.022, 0.003)),
            "open_circuit_voltage_v": float(rng.normal(4.17, 0.008)),
        }
        for i in range(1, count + 1)
    ]


def squared(group, scale):
    """The spread of the method page, calculated independently."""
    return sum(
        ((max(c[f] for c in group) - min(c[f] for c in group)) / s) ** 2 for f, s in scale.items()
    )


def scale_of(body, weights=(1, 1, 1)):
    medians = {f: float(np.median([c[f] for c in body])) for f in body[0] if f != "label"}
    return {
        "cell_capacity_ah": 0.01 * medians["cell_capacity_ah"] / weights[0],
        "cell_resistance_ohm": 0.05 * medians["cell_resistance_ohm"] / weights[1],
        "open_circuit_voltage_v": 0.01 / weights[2],
    }


def partitions(left, size, sets):
    """Every way to take so many sets from a list."""
    if not sets:
        yield []
        return
    for first in range(len(left) - size * sets + 1):
        rest = left[first + 1 :]
        for others in combinations(rest, size - 1):
            after = [cell for cell in rest if cell not in others]
            for more in partitions(after, size, sets - 1):
                yield [(left[first], *others), *more]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("count", "size", "sets"), [(6, 2, 3), (7, 2, 3), (8, 4, 2), (8, 3, 2)])
def test_brute_force(ask, seed, count, size, sets):
    """No other choice of sets has a smaller sum of squared spreads."""
    body = cells(seed, count)
    weights = (1, 0.5, 2)
    scale = scale_of(body, weights)
    best = min(
        sum(squared([body[i] for i in group], scale) for group in choice)
        for choice in partitions(list(range(count)), size, sets)
    )
    got = ask(
        "matched-sets",
        cells=body,
        cells_in_set=size,
        set_count=sets,
        capacity_weight=weights[0],
        resistance_weight=weights[1],
        open_circuit_voltage_weight=weights[2],
    )
    assert got.squared_spread == pytest.approx(best)
    assert got.proven_best


@pytest.mark.parametrize(("count", "size"), [(7, 3), (20, 4), (60, 4), (200, 8)])
def test_each_cell_stands_once(ask, count, size):
    """Each cell is in one set or left out, ranges are those of its cells, the closest set first."""
    body = cells(5, count)
    got = ask("matched-sets", cells=body, cells_in_set=size)
    assert len(got.sets) == count // size
    assert got.findings[-1].rule == "sets-measured-only"
    placed = [cell for one in got.sets for cell in one.cell_numbers]
    assert sorted(placed + [left.cell_number for left in got.left_out]) == list(range(1, count + 1))
    scale = scale_of(body)
    for one in got.sets:
        group = [body[cell - 1] for cell in one.cell_numbers]
        assert one.labels == [cell["label"] for cell in group]
        assert one.set_spread == pytest.approx(squared(group, scale) ** 0.5)
        values = [cell["cell_capacity_ah"] for cell in group]
        assert one.capacity_range_ah == pytest.approx(max(values) - min(values))
    spreads = [one.set_spread for one in got.sets]
    assert spreads == sorted(spreads)
    for left in got.left_out:
        group = [
            body[i - 1]
            for i in [*got.sets[left.nearest_set_number - 1].cell_numbers, left.cell_number]
        ]
        assert left.spread_with_it == pytest.approx(squared(group, scale) ** 0.5)
        assert "full" in left.reason


@pytest.mark.parametrize(("count", "proven"), [(29, True), (60, False)])
def test_what_is_not_proven_is_said(ask, count, proven):
    """Sets of three from a short list are proven the best; for a long one a finding says they are not."""
    got = ask("matched-sets", cells=cells(6, count), cells_in_set=3, set_count=2)
    assert got.proven_best is proven
    assert any(f.rule == "sets-not-proven" for f in got.findings) is not proven


def test_a_weight_of_nothing_leaves_a_measurement_out(ask):
    """Matched by capacity alone, sets are stretches of the list sorted by capacity."""
    body = cells(7, 12)
    got = ask(
        "matched-sets",
        cells=body,
        cells_in_set=3,
        resistance_weight=0,
        open_circuit_voltage_weight=0,
    )
    order = sorted(range(12), key=lambda i: body[i]["cell_capacity_ah"])
    stretches = {frozenset(i + 1 for i in order[k : k + 3]) for k in range(0, 12, 3)}
    assert {frozenset(one.cell_numbers) for one in got.sets} == stretches


def test_labels_may_be_left_out(ask):
    """Cells without labels are named by their place."""
    body = [{k: v for k, v in cell.items() if k != "label"} for cell in cells(8, 5)]
    got = ask("matched-sets", cells=body, cells_in_set=2)
    assert all(one.labels == ["", ""] for one in got.sets)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"cells_in_set": 6}, "/cells_in_set"),
        ({"cells_in_set": 2, "set_count": 3}, "/set_count"),
        (
            {"capacity_weight": 0, "resistance_weight": 0, "open_circuit_voltage_weight": 0},
            "/capacity_weight",
        ),
    ],
)
def test_what_cannot_be_made(ask, changed, field):
    """More or larger sets than the cells allow, and no weight at all, are refused."""
    with pytest.raises(Refused) as refused:
        ask("matched-sets", **({"cells": cells(9, 5), "cells_in_set": 2} | changed))
    assert refused.value.pointer == field


@pytest.mark.parametrize(
    ("field", "alike", "apart"),
    [
        ("cell_capacity_ah", [2.925, 3.075], [2.92, 3.08]),
        ("cell_resistance_ohm", [0.018, 0.022], [0.0179, 0.0221]),
        ("open_circuit_voltage_v", [4.1, 4.15], [4.1, 4.151]),
    ],
)
def test_the_closest_of_bad_cells_is_no_matched_set(ask, field, alike, apart):
    """By hand: 5 % of 3 Ah, 20 % of 0.02 Ω, 0.05 V; beyond any of them a caution is found."""
    cell = {"cell_capacity_ah": 3, "cell_resistance_ohm": 0.02, "open_circuit_voltage_v": 4.1}
    for values, spoken in ((alike, False), (apart, True)):
        cells = [cell | {field: value} for value in values]
        got = ask("matched-sets", cells=cells, cells_in_set=2)
        assert ("sets-far-apart" in {f.rule for f in got.findings}) is spoken


# two like pairs, and one cell that is far from both
FIVE = [
    {"cell_capacity_ah": ah, "cell_resistance_ohm": ohm, "open_circuit_voltage_v": volts}
    for ah, ohm, volts in (
        (2.40, 0.040, 4.10),
        (2.46, 0.044, 4.13),
        (3.00, 0.020, 4.20),
        (3.03, 0.021, 4.205),
        (1.00, 0.090, 4.00),
    )
]


def test_the_working_shows_the_closest_set(ask):
    """By hand: the medians are 2.46 Ah and 0.04 Ω; the closer pair differs by 0.03 Ah, 1 mΩ and 5 mV."""
    weights = {"resistance_weight": 2, "open_circuit_voltage_weight": 0.5}
    got = ask("matched-sets", cells=FIVE, cells_in_set=2, set_count=2, **weights)
    alike_ah, alike_ohm, spread, *_ = got.working
    assert (alike_ah.result, alike_ohm.result) == pytest.approx((0.0246, 0.002))
    assert spread.with_numbers == "√((1 × 0.03/0.0246)² + (2 × 0.001/0.002)² + (0.5 × 0.005/0.01)²)"
    assert spread.result == pytest.approx(np.hypot(np.hypot(0.03 / 0.0246, 1), 0.25))


def test_the_nearest_set_of_a_cell_left_out_is_named_as_it_is_counted(ask):
    """The sentence and the number beside it mean the same set, counted from one."""
    got = ask("matched-sets", cells=FIVE, cells_in_set=2, set_count=2)
    (left,) = got.left_out
    assert left.cell_number == 5
    assert left.nearest_set_number == 2
    assert "The closest is set 2. With this cell" in left.reason


@pytest.mark.parametrize(
    ("given", "volts", "limit", "rule"),
    [
        ({}, 2.5, None, None),
        ({}, 2.499, "end_voltage", "cell-below-end"),
        ({}, 0.5, "end_voltage", "cell-below-end"),
        ({}, 4.25, None, None),
        ({}, 4.26, "charged_voltage", "cell-above-full"),
        ({"chemistry": "lfp"}, 2.1, None, None),
        ({"chemistry": "lfp"}, 4.17, "charged_voltage", "cell-above-full"),
    ],
)
def test_cells_at_rest_beyond_their_ends(ask, given, volts, limit, rule):
    """A cell that rests below its end of discharge, or overcharged, is not to be joined, however well it matches."""
    body = [one | {"open_circuit_voltage_v": volts} for one in cells(5, 4)]
    got = ask("matched-sets", cells=body, cells_in_set=2, **given)
    over = [one.name for one in got.limits if one.verdict == "over_limit"]
    assert over == ([limit] if limit else [])
    assert got.verdict == ("over_limit" if limit else "within_limit")
    found = {one.rule: one.sentence for one in got.findings}
    assert (rule in found) is (rule is not None)
    if rule:
        assert got.attention == "warning"
        assert found[rule].startswith("Cell 1 (“c1”) rests at ")
        assert found[rule].endswith("Do not use, join or charge it.")


@pytest.mark.parametrize(
    ("sets", "said"), [(1, ": in the set the"), (2, ": in the least close of 2 sets the")]
)
def test_the_headline_counts_the_sets(ask, sets, said):
    """One set is no plural."""
    got = ask("matched-sets", cells=cells(6, 4), cells_in_set=2, set_count=sets)
    assert said in got.headline


def test_cells_that_do_not_match_are_not_judged_as_within_their_limits(ask):
    """The answer says "Do not put them in one pack", so its verdict is no milder."""
    cells = [
        {"cell_capacity_ah": ah, "cell_resistance_ohm": ohm, "open_circuit_voltage_v": volts}
        for ah, ohm, volts in ((3, 0.02, 3.6), (1, 0.2, 4.2))
    ]
    got = ask("matched-sets", cells=cells, cells_in_set=2)
    assert "Do not put them in one pack" in got.headline
    assert got.verdict == "not_judged"
    alike = ask("matched-sets", cells=[cells[0], cells[0]], cells_in_set=2)
    assert alike.verdict == "within_limit"
