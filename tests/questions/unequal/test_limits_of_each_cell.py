"""Every limit of a pack of unequal cells, and the verdict of each cell. Currents by hand, by Ohm's law."""

import numpy as np
import pytest

LIMITS = [
    "charge_current",
    "continuous_rating",
    "reversal",
    "end_voltage",
    "charged_voltage",
    "available_power",
]


def cell(volt, ohm=0.025, **more):
    return {"open_circuit_voltage_v": volt, "cell_resistance_ohm": ohm} | more


def limits(answer):
    return {one.name.value: one for one in answer.limits}


def rules(answer):
    return {one.rule: one.sentence for one in answer.findings}


def test_every_limit_is_named(ask):
    """Each limit has an entry, whatever was given."""
    for more in ({}, {"cell_rating_a": 20}, {"coil_resistance_ohm": 1}, {"output_power_w": 5}):
        assert [*limits(ask("unequal-cells", groups=[[cell(4)]], **more))] == LIMITS


def test_a_current_into_a_cell_is_not_held_to_a_discharge_rating(ask):
    """1 V over two cells of 25 mΩ is 20 A: 7 C for 2.9 Ah, whatever the cell may be discharged with."""
    pair = [cell(4.2), cell(3.2)]
    usual = ask("unequal-cells", groups=[pair], cell_rating_a=25, cell_capacity_ah=2.9)
    assert usual.verdict == "over_limit"
    assert usual.attention == "warning"
    assert limits(usual)["charge_current"].value == pytest.approx(1.45)
    assert limits(usual)["charge_current"].held_against == pytest.approx(20)
    assert limits(usual)["continuous_rating"].verdict == "within_limit"
    assert "cell 2 of group 1 is charged with 20 A by its neighbours" in usual.headline
    assert "20.0 A by the cells beside it" in rules(usual)["neighbours-charge-too-fast"]
    assert [one.verdict for one in usual.groups[0].cells] == ["within_limit", "over_limit"]
    known = {a.name: (a.value, a.unit) for a in usual.assumptions}
    assert known["cell_charge_limit_a"] == (pytest.approx(1.45), "A")


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ({}, "not_judged"),
        ({"cell_rating_a": 25}, "not_judged"),
        ({"cell_rating_a": 19}, "over_limit"),
        ({"cell_capacity_ah": 40.1}, "not_judged"),
        ({"cell_capacity_ah": 39.9}, "over_limit"),
        ({"cell_charge_limit_a": 19.9}, "over_limit"),
        ({"cell_charge_limit_a": 20}, "little_headroom"),
        ({"cell_charge_limit_a": 23}, "within_limit"),
    ],
)
def test_what_is_known_of_the_charge_limit(ask, given, verdict):
    """20 A into a cell: only a given limit allows it, half the capacity an hour or a rating forbids it."""
    answer = ask("unequal-cells", groups=[[cell(4.2), cell(3.2)]], **given)
    assert answer.verdict == verdict
    assert limits(answer)["charge_current"].verdict == verdict
    assert ("neighbours-charge-too-fast" in rules(answer)) is (verdict == "over_limit")
    assert ("charged-by-neighbours" in rules(answer)) is (verdict != "over_limit")


def test_a_charge_limit_matters_only_where_a_cell_is_charged(ask):
    """Under 10 A both of two nearly alike cells discharge: no charge limit is missing."""
    answer = ask(
        "unequal-cells", groups=[[cell(4), cell(3.99)]], cell_rating_a=20, coil_resistance_ohm=0.4
    )
    assert limits(answer)["charge_current"].verdict == "within_limit"
    assert answer.verdict == "within_limit"


@pytest.mark.parametrize("place", [0, 1])
def test_the_smaller_of_two_charged_cells_is_named(ask, place):
    """1 V into each of two cells is half as much as 20 A; the one of 1 Ah is the further above its limit."""
    small = [cell(3.2, cell_capacity_ah=5), cell(3.2, cell_capacity_ah=5)]
    small[place]["cell_capacity_ah"] = 1
    answer = ask("unequal-cells", groups=[[cell(4.2, cell_capacity_ah=5), *small]])
    assert rules(answer)["neighbours-charge-too-fast"].startswith(f"Cell {place + 2} of group 1 ")
    assert limits(answer)["charge_current"].value == pytest.approx(0.5)


ENDS = [
    ("nmc", 2.5, 4.2),
    ("nca", 2.7, 4.2),
    ("lco", 2.75, 4.2),
    ("lmo", 2.5, 4.2),
    ("lfp", 2.0, 3.65),
    ("lco_high_voltage", 2.75, 4.35),
]


@pytest.mark.parametrize(("chemistry", "end_v", "charged_v"), ENDS)
def test_cells_at_rest_beyond_their_ends(ask, chemistry, end_v, charged_v):
    """Below the end voltage, or more than 0.05 V above the charged one, a cell is over the limit."""
    for volts, rule, limit in [
        (end_v, None, "end_voltage"),
        (end_v - 0.001, "cell-below-end", "end_voltage"),
        (charged_v + 0.05, None, "charged_voltage"),
        (charged_v + 0.051, "cell-above-full", "charged_voltage"),
    ]:
        asked = {"groups": [[cell(3.3)], [cell(volts)]], "chemistry": chemistry}
        answer = ask("unequal-cells", **asked, cell_rating_a=20)
        over = rule is not None
        assert (limits(answer)[limit].verdict == "over_limit") is over
        assert (answer.verdict == "over_limit") is over
        assert answer.groups[1].cells[0].verdict == answer.verdict
        assert answer.groups[0].cells[0].verdict == "within_limit"
        if rule:
            assert rules(answer)[rule].startswith("Cell 1 of group 2 rests at ")
            assert answer.attention == "warning"


def test_a_cell_that_a_load_pulls_below_its_end(ask):
    """3 V over 0.06 Ω of cell and 0.24 Ω of coil are 10 A: 2.4 V at the terminals, 3 V at rest."""
    asked = {"groups": [[cell(3.0, 0.06)]], "coil_resistance_ohm": 0.24, "cell_rating_a": 20}
    answer = ask("unequal-cells", **asked)
    assert answer.verdict == "over_limit"
    assert "is at 2.4 V under this load, below 2.5 V" in rules(answer)["cell-below-end"]
    assert limits(answer)["end_voltage"].headroom == pytest.approx((2.4 - 2.5) / 2.5)
    assert ask("unequal-cells", **asked | {"chemistry": "lfp"}).verdict == "within_limit"


def test_a_reversed_cell_is_over_its_limit(ask):
    """4.2 + 4.2 + 2.6 V over 0.44 Ω and 0.11 Ω of coil are 20 A: 2.6 V − 8 V in the weak one."""
    groups = [[cell(4.2, 0.02)], [cell(4.2, 0.02)], [cell(2.6, 0.4)]]
    answer = ask("unequal-cells", groups=groups, coil_resistance_ohm=0.11, cell_rating_a=30)
    assert limits(answer)["reversal"].verdict == "over_limit"
    assert limits(answer)["reversal"].held_against == pytest.approx(-5.4)
    assert answer.verdict == "over_limit"
    assert [group.cells[0].verdict for group in answer.groups] == [
        "within_limit",
        "within_limit",
        "over_limit",
    ]


@pytest.mark.parametrize(("part", "over"), [(0.89, False), (0.91, True), (0.993, True)])
def test_a_converter_near_the_most_power(ask, part, over):
    """A source gives at most U²/4R: 4 V over 40 mΩ is 100 W, of which nine tenths are the limit."""
    asked = {"groups": [[cell(4.0, 0.04)]], "efficiency": 1, "chemistry": "lfp"}
    answer = ask("unequal-cells", **asked, output_power_w=100 * part, cell_rating_a=200)
    assert (limits(answer)["available_power"].verdict == "over_limit") is over
    assert ("near-collapse" in rules(answer)) is over


@pytest.mark.parametrize(("coil_ohm", "over"), [(0.0501, False), (0.05, True), (0.02, True)])
def test_a_coil_of_no_more_than_the_pack(ask, coil_ohm, over):
    """Two cells of 25 mΩ in series have 50 mΩ."""
    asked = {"groups": [[cell(4)], [cell(4)]], "coil_resistance_ohm": coil_ohm}
    answer = ask("unequal-cells", **asked, cell_rating_a=200)
    assert (limits(answer)["available_power"].verdict == "over_limit") is over


def test_the_verdict_is_the_worst_of_all_cells_and_the_pack(ask):
    """Over random packs the verdict is the worst one of the cells, or of the pack's power."""
    order = ["within_limit", "little_headroom", "not_judged", "over_limit"]
    draw = np.random.default_rng(3)
    seen = set()
    for _ in range(300):
        size = (draw.integers(1, 4), draw.integers(1, 4))
        volts, ohms = draw.uniform(2.4, 4.25, size), draw.uniform(0.01, 0.06, size)
        groups = [
            [cell(*map(float, one)) for one in zip(*g, strict=True)]
            for g in zip(volts, ohms, strict=True)
        ]
        load = draw.choice([0.05, 0.3, 2.0])
        answer = ask(
            "unequal-cells",
            groups=groups,
            coil_resistance_ohm=float(load),
            cell_rating_a=float(draw.choice([5, 20, 60])),
            **({"cell_charge_limit_a": 4.0} if draw.random() < 0.5 else {}),
        )
        cells = [one.verdict for group in answer.groups for one in group.cells]
        power = limits(answer)["available_power"].verdict
        assert answer.verdict == max([*cells, power], key=order.index)
        seen.add(answer.verdict.value)
    assert seen == set(order)


@pytest.mark.parametrize(("series", "said"), [(14, False), (15, True)])
def test_a_pack_above_sixty_volts(ask, series, said):
    """14 cells are 58.8 V when full, 15 are 63 V, whatever they rest at now."""
    answer = ask("unequal-cells", groups=[[cell(3.6)]] * series, cell_rating_a=20)
    assert ("touch-voltage" in rules(answer)) is said


def test_the_headline_does_not_round_onto_a_limit(ask):
    """4.2 V over 0.21 Ω and a little are 19.97 A: not 20.0 A of 20 A."""
    asked = {"groups": [[cell(4.2, 0.01)]], "coil_resistance_ohm": 0.2003, "cell_rating_a": 20}
    assert "carries the most, 19.97 A" in ask("unequal-cells", **asked).headline
