"""Current sharing as a question: published examples, a circuit simulator, and the laws."""

import json
import subprocess
import sys
from itertools import chain
from math import ceil
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from unequal_packs import packed

from percell.physics.errors import NoSolution
from percell.questions.vocabulary.refusal import Refused

PACKS = Path(__file__).parents[2] / "reference" / "ngspice_packs.py"


def cell(volt, ohm, contact=0.0, **more):
    return {
        "open_circuit_voltage_v": volt,
        "cell_resistance_ohm": ohm,
        "contact_resistance_ohm": contact,
    } | more


def currents(answer):
    return [[cell.cell_current_a for cell in group.cells] for group in answer.groups]


# a published circuit is within the bounds of cells when all its voltages, or all its resistances, are
# scaled alike: its currents then scale too
@pytest.mark.parametrize(
    ("sources_v", "paths_ohm", "coil_ohm", "expected_a", "within_a", "volts", "ohms"),
    [
        pytest.param(
            [[1.5, 1.5], [1.5, 1.5]],
            [[1.0, 1.0], [1.0, 1.0]],
            10.0,
            [[0.273 / 2] * 2] * 2,
            0.00025,
            1,
            1,
            id="OpenStax University Physics Vol. 2, m58458, problem: four 1.50 V cells of 1.00 ohm into "
            "10.00 ohm (2S2P from the numbers)",
        ),
        pytest.param(
            [[1.5, 2.0]],
            [[1.0, 2.0]],
            5.0,
            [[1 / 34, 9 / 34]],
            1e-12,
            1,
            0.5,
            id="School problem, 1.5 V and 2.0 V into 5 ohm (secondary copy; answer by hand)",
        ),
        pytest.param(
            [[28.0, 7.0]],
            [[4.0, 1.0]],
            2.0,
            [[5.0, -1.0]],
            1e-12,
            0.125,
            0.25,
            id="Lessons in Electric Circuits, DC, chapter 10, Millman's theorem: 28 V and 7 V "
            "(secondary copy; currents by hand)",
        ),
        pytest.param(
            [[18.0, 45.0]],
            [[3.0, 2.0]],
            6.0,
            [[-3.50, 8.25]],
            0.005,
            0.1,
            0.25,
            id="OpenStax College Physics, m42359, example: Kirchhoff's rules, loops of 18 V and 45 V",
        ),
    ],
)
def test_published_circuits(ask, sources_v, paths_ohm, coil_ohm, expected_a, within_a, volts, ohms):
    """Each cell carries what the published example says, with its sign."""
    answer = ask(
        "unequal-cells",
        **packed(
            [
                [cell(v * volts, r * ohms) for v, r in zip(vs, rs, strict=True)]
                for vs, rs in zip(sources_v, paths_ohm, strict=True)
            ]
        ),
        coil_resistance_ohm=coil_ohm * ohms,
    )
    scale = volts / ohms
    for got, expected in zip(currents(answer), expected_a, strict=True):
        assert got == pytest.approx([a * scale for a in expected], abs=within_a * scale)


@pytest.fixture(scope="module")
def packs(tool):
    done = subprocess.run(
        [sys.executable, str(PACKS), tool("ngspice")], capture_output=True, text=True, check=True
    )
    return json.loads(done.stdout)


@pytest.mark.parametrize("kind", ["direct", "converter", "none"])
def test_simulated_packs(ask, packs, kind):
    """Each cell's current, signed, is that of ngspice's operating point, whatever the load."""
    for pack in packs[kind]:
        grids = (pack["cell_source_voltage_v"], pack["cell_resistance_ohm"])
        load = {}
        if kind == "direct":
            load = {"coil_resistance_ohm": pack["load_resistance_ohm"]}
        if kind == "converter":
            load = {"output_power_w": pack["input_power_w"], "efficiency": 1}
        answer = ask(
            "unequal-cells",
            **packed(
                [
                    [cell(*one) for one in zip(*group, strict=True)]
                    for group in zip(*grids, pack["contact_resistance_ohm"], strict=True)
                ]
            ),
            **load,
        )
        largest_a = max(abs(a) for group in pack["cell_current_a"] for a in group)
        for got, expected in zip(currents(answer), pack["cell_current_a"], strict=True):
            assert got == pytest.approx(expected, rel=1e-6, abs=1e-9 * largest_a)
        # a loaded pack can draw more from full, or from nearly empty, cells
        assert abs(answer.worst_cell_current_a) >= largest_a * (1 - 1e-6)
        if kind == "none":
            assert abs(answer.worst_cell_current_a) == pytest.approx(largest_a, rel=1e-6)
        assert answer.pack_voltage_v == pytest.approx(pack["pack_voltage_v"], rel=1e-9)


@given(data=st.data())
def test_energy_is_kept(ask, drawn, data):
    """What leaves the cells arrives in the load, the cells and the contacts."""
    asked = data.draw(drawn("unequal-cells", coil_resistance_ohm=0.5, output_power_w=None))
    del asked["output_power_w"]
    series = data.draw(st.sampled_from([n for n in (1, 2, 3) if len(asked["cells"]) % n == 0]))
    asked["layout"] = f"{series}S{len(asked['cells']) // series}P"
    for one in asked["cells"]:
        one |= {"cell_rating_a": 10, "cell_capacity_ah": 3}
    answer = ask("unequal-cells", **asked)
    given_w = [
        one["open_circuit_voltage_v"] * a
        for one, a in zip(asked["cells"], chain(*currents(answer)), strict=True)
    ]
    taken_w = answer.load_power_w + answer.cells_loss_w + answer.contacts_loss_w
    assert sum(given_w) == pytest.approx(taken_w, abs=1e-9 * (1 + sum(map(abs, given_w))))


def test_order_of_cells_does_not_matter(ask):
    """The same cells in another order carry the same, each at its new place."""
    cells = [cell(4.1, 0.02), cell(4.0, 0.03), cell(4.15, 0.025, 0.01)]
    straight = ask("unequal-cells", **packed([cells]), coil_resistance_ohm=0.1)
    turned = ask("unequal-cells", **packed([cells[::-1]]), coil_resistance_ohm=0.1)
    assert currents(turned)[0] == pytest.approx(currents(straight)[0][::-1])
    assert straight.worst_cell_number + turned.worst_cell_number == 4


def test_equal_cells_share_evenly(ask):
    """Equal cells carry an even share, below the careful one, without a finding."""
    answer = ask("unequal-cells", **packed([[cell(4.2, 0.02)] * 4] * 2), coil_resistance_ohm=0.4)
    assert answer.worst_cell_share == pytest.approx(0.25)
    assert answer.worst_cell_current_a == pytest.approx(answer.even_cell_current_a)
    # the careful share of four cells is the computed one, 0.321
    assert answer.careful_cell_current_a == pytest.approx(0.321 * answer.pack_current_a, rel=2e-3)
    assert answer.findings == []


@pytest.mark.parametrize("group", [0, 1, 2])
@pytest.mark.parametrize("place", [0, 1])
def test_worst_case_cell_is_counted_from_one(ask, group, place):
    """By hand: of r and 3 r the better carries three quarters. Groups and cells count from 1."""
    groups = [[cell(4.0, 0.02)] * 2 for _ in range(3)]
    groups[group] = [cell(4.0, 0.03)] * 2
    groups[group][place] = cell(4.0, 0.01)
    answer = ask("unequal-cells", **packed(groups), coil_resistance_ohm=0.4)
    assert (answer.worst_group_number, answer.worst_cell_number) == (group + 1, place + 1)
    assert answer.worst_cell_share == pytest.approx(0.75)


def test_what_is_over_comes_before_what_else_is_found(ask):
    """A cell over its rating is the first finding, and the others stay."""
    group = [cell(4.2, 0.02), cell(3.9, 0.06), cell(3.0, 0.02)]
    answer = ask("unequal-cells", **packed([group]), coil_resistance_ohm=0.1, cell_rating_a=5)
    found = [f.rule for f in answer.findings]
    assert found[0] == "over-rating"
    assert {"neighbours-charge-too-fast", "share-above-careful"} <= set(found)


def test_without_a_load_there_is_no_share(ask):
    """Cells at rest charge one another; without a current no share is given."""
    answer = ask("unequal-cells", **packed([[cell(4.0, 0.02), cell(3.9, 0.02, 0.01)]]))
    assert currents(answer)[0] == pytest.approx([2.0, -2.0])
    assert answer.pack_current_a == 0
    assert b"worst_cell_share" not in msgspec.json.encode(answer)


@pytest.mark.parametrize(
    ("rating", "verdict"),
    [(9.999, "over_limit"), (10, "little_headroom"), (11.12, "within_limit")],
)
def test_verdict_by_each_cell_s_own_rating(ask, rating, verdict):
    """A cell's own rating takes precedence over the common one: 10 A against it."""
    cells = [cell(4.2, 0.02, cell_rating_a=rating), cell(4.2, 0.02)]
    answer = ask(
        "unequal-cells", **packed([cells]), cell_rating_a=50, coil_resistance_ohm=0.21 - 0.01
    )
    assert answer.verdict == verdict
    assert [one.verdict for one in answer.groups[0].cells] == [verdict, "within_limit"]
    assert answer.headroom == pytest.approx(1 - 10 / rating)


@pytest.mark.parametrize(
    ("ratings_a", "verdict", "headroom"),
    [
        ((30, 4.9), "over_limit", 1 - 5 / 4.9),
        ((30, 5), "little_headroom", 0.0),
        ((30, 20), "within_limit", 1 - 10 / 30),
        ((9.9, 20), "over_limit", 1 - 10 / 9.9),
    ],
    ids=["the lesser current is over", "and just within", "the greater one is nearest", "and over"],
)
def test_the_cell_that_is_judged_is_the_one_nearest_to_its_rating(
    ask, ratings_a, verdict, headroom
):
    """By hand: r and 2 r share 15 A as 10 A and 5 A; their ratings decide which is worst."""
    pair = [
        cell(4.2, 0.03, cell_rating_a=ratings_a[0]),
        cell(4.2, 0.06, cell_rating_a=ratings_a[1]),
    ]
    for group in (pair, pair[::-1]):
        answer = ask("unequal-cells", **packed([group]), coil_resistance_ohm=0.26)
        assert answer.pack_current_a == pytest.approx(15)
        assert answer.worst_cell_current_a == pytest.approx(10)
        assert answer.verdict == verdict
        assert answer.headroom == pytest.approx(headroom, abs=1e-9)
        found = [f.rule for f in answer.findings]
        assert ("over-rating" in found[:1]) is (verdict == "over_limit")


@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_cell_that_takes_in_is_named(ask, place):
    """By hand, two at 4.1 V and one at 4.0 V, 0.1 Ω each: 4.067 V at rest, and 0.667 A into the one."""
    group = [cell(4.1, 0.1)] * 2
    group.insert(place, cell(4.0, 0.1))
    answer = ask("unequal-cells", **packed([[cell(4.0, 0.1)] * 3, group]))
    (found,) = [f.sentence for f in answer.findings if f.rule == "charged-by-neighbours"]
    assert found.startswith(f"Other cells charge cell {place + 1} of group 2 ")
    assert "0.667 A" in found
    assert "1 cell of 6" in found


def test_a_reversed_cell_is_named(ask):
    """By hand: 4 + 4 + 1 V over 0.3 + 0.3 + 0.9 Ω and a coil of almost 0 give 6 A: 1 V − 5.4 V."""
    groups = [[cell(4, 0.3)], [cell(4, 0.3)], [cell(1, 0.9)]]
    answer = ask("unequal-cells", **packed(groups), coil_resistance_ohm=0.001)
    (found,) = [f.sentence for f in answer.findings if f.rule == "cell-reversed"]
    assert found.startswith("Cell 1 of group 3 ")
    assert "−4.4 V" in found
    assert "1 cell of 3" in found


def test_power_in_load_cells_and_contacts(ask):
    """By hand: 4 V over 0.1 Ω of cell, 0.1 Ω of contact and 1.8 Ω of coil are 2 A."""
    answer = ask("unequal-cells", **packed([[cell(4, 0.1, 0.1)]]), coil_resistance_ohm=1.8)
    assert answer.pack_voltage_v == pytest.approx(3.6)
    assert answer.load_power_w == pytest.approx(7.2)
    assert answer.cells_loss_w == answer.contacts_loss_w == pytest.approx(0.4)
    (state,) = answer.groups
    assert state.cells[0].voltage_v == pytest.approx(3.8)


def test_no_rating_no_verdict(ask):
    """Under a load, a pack without a rating is not judged."""
    asked = {**packed([[cell(4.2, 0.02)]]), "coil_resistance_ohm": 1}
    assert ask("unequal-cells", **asked).verdict == "not_judged"
    assert ask("unequal-cells", **asked, cell_rating_a=20).verdict == "within_limit"


@pytest.mark.parametrize(
    ("changed", "pointers"),
    [
        ({"layout": "2S2P"}, ["/cells", "/layout"]),
        ({"cells": [cell(4, 0.02)] * 2}, ["/cells", "/layout"]),
        (
            packed([[cell(4, 0.02, cell_rating_a=9), cell(4, 0.02)]]),
            ["/cells/1/cell_rating_a"],
        ),
        (
            packed([[cell(4, 0.02, cell_rating_a=9)] * 2, [cell(4, 0.02)] * 2]),
            ["/cells/2/cell_rating_a", "/cells/3/cell_rating_a"],
        ),
        ({"output_power_w": 10}, ["/coil_resistance_ohm", "/output_power_w"]),
    ],
)
def test_contradictions_are_refused(ask, changed, pointers):
    """Cells that are no layout, ratings of some cells only, and two loads are refused by name."""
    asked = {**packed([[cell(4, 0.02)]]), "coil_resistance_ohm": 1}
    with pytest.raises(Refused) as refused:
        ask("unequal-cells", **asked | changed)
    assert [fault.pointer for fault in refused.value.faults] == pointers


@pytest.mark.parametrize("power", [40 * (1 - 1e-6), 40])
def test_power_up_to_the_limit(ask, power):
    """Two cells of 4 V and 0.1 ohm each in parallel deliver up to U²/4R, 80 W, no more."""
    asked = {**packed([[cell(4, 0.1)] * 2]), "efficiency": 0.5}
    assert ask("unequal-cells", **asked, output_power_w=power).pack_voltage_v >= 2
    with pytest.raises(NoSolution) as none:
        ask("unequal-cells", **asked, output_power_w=40 * (1 + 1e-6))
    assert none.value.numbers["available_power_w"] == pytest.approx(80)


def test_defaults_in_use_are_listed(ask):
    """A contact's default is listed once for all cells; a converter's only if there is one."""
    bare = {"open_circuit_voltage_v": 4, "cell_resistance_ohm": 0.02}
    asked = packed([[bare] * 3] * 2)
    assert [a.name for a in ask("unequal-cells", **asked).assumptions] == [
        "chemistry",
        "cells.contact_resistance_ohm",
        "cell_charge_limit_a",
    ]
    names = [a.name for a in ask("unequal-cells", **asked, output_power_w=20).assumptions]
    assert names == [
        "chemistry",
        "efficiency",
        "idle_power_w",
        "cells.contact_resistance_ohm",
        "cell_cutoff_voltage_v",
    ]


def test_a_cell_that_is_charged_is_no_share_of_the_load(ask):
    """Two full cells push 40 A into an empty one. Each of them carries more than the careful share."""
    volts = (4.2, 4.2, 2.5)
    cells = [{"open_circuit_voltage_v": volt, "cell_resistance_ohm": 0.02} for volt in volts]
    got = ask("unequal-cells", **packed([cells]), coil_resistance_ohm=0.5)
    assert got.worst_cell_current_a < -got.careful_cell_current_a
    (found,) = [f.sentence for f in got.findings if f.rule == "share-above-careful"]
    assert f"carries {ceil(max(currents(got)[0]) * 10) / 10} A" in found


def test_the_working_names_the_worst_cell_and_its_group(ask):
    """Both are counted from one, as the answer counts them."""
    got = ask(
        "unequal-cells",
        **packed([[cell(4.2, 0.1), cell(4.2, 0.1)], [cell(4.2, 0.2), cell(4.2, 0.05)]]),
        coil_resistance_ohm=1,
    )
    assert (got.worst_group_number, got.worst_cell_number) == (2, 2)
    said = [step.what for step in got.working]
    assert "Resistance of group 2, which has the worst-case cell, with contacts" in said
    assert "Voltage of group 2 with nothing connected" in said
    assert "Current of the worst-case cell, cell 2 of group 2" in said


@pytest.mark.parametrize(
    ("cells", "coil_ohm", "said"),
    [
        # 10 V over 1 ohm are 10 A: 3 V, −0.5 V and 0.2 V are left
        ([(4, 0.1), (3, 0.35), (3, 0.28)], 0.27, "Cell 1 of group 2 has −0.5 V"),
        # 7 V over 0.875 ohm are 8 A: 2 V, 0 V and −1 V are left
        ([(4, 0.25), (2, 0.25), (1, 0.25)], 0.125, "Cell 1 of group 3 has −1 V"),
    ],
)
def test_only_cells_below_nought_are_counted_as_reversed(ask, cells, coil_ohm, said):
    """By hand: one of the three is reversed, and those that are merely low, or at 0 V, are not."""
    groups = [[cell(*one)] for one in cells]
    got = ask("unequal-cells", **packed(groups), coil_resistance_ohm=coil_ohm)
    (found,) = [f.sentence for f in got.findings if f.rule == "cell-reversed"]
    assert (
        found
        == f"{said} at its terminals. 1 cell of 3 is below 0 V. Never charge a cell that was reversed."
    )


def test_what_a_cell_takes_in_is_told_without_its_sign(ask):
    """By hand: 0.5 V over 0.2 ohm are 2.5 A, out of the fuller cell and into the other."""
    got = ask("unequal-cells", **packed([[cell(4, 0.1), cell(3.5, 0.1)]]))
    (found,) = [f.sentence for f in got.findings if f.rule == "charged-by-neighbours"]
    assert found.startswith("Other cells charge cell 2 of group 1 with 2.5 A. ")


@pytest.mark.parametrize(
    ("ratings", "of_all", "said"),
    [
        ([20, 20], {}, "1S2P, cells rated 20 A, rest"),
        ([15, 20], {"cell_rating_a": 30}, "1S2P, cells rated 15 to 20 A, rest"),
        ([15, None], {"cell_rating_a": 30}, "some cells rated 15 A"),
    ],
)
def test_the_headline_has_the_ratings_of_single_cells(ask, ratings, of_all, said):
    """A verdict holds for the ratings that were given, also for those of single cells."""
    cells = [cell(4, 0.1, **({"cell_rating_a": rating} if rating else {})) for rating in ratings]
    got = ask("unequal-cells", **packed([cells]), **of_all, coil_resistance_ohm=1)
    assert said in got.headline
    assert ("30 A" in got.headline) == (None in ratings)
