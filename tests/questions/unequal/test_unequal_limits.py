"""Every limit of a pack of unequal cells, and the verdict of each cell. Currents by hand, by Ohm's law."""

import numpy as np
import pytest
from unequal_packs import packed

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
        assert [*limits(ask("unequal-cells", **packed([[cell(4)]]), **more))] == LIMITS


def test_a_current_into_a_cell_is_not_held_to_a_discharge_rating(ask):
    """1 V over two cells of 25 mΩ is 20 A: 7 C for 2.9 Ah, whatever the cell may be discharged with."""
    pair = [cell(4.2), cell(3.2)]
    usual = ask("unequal-cells", **packed([pair]), cell_rating_a=25, cell_capacity_ah=2.9)
    assert usual.verdict == "over_limit"
    assert usual.attention == "warning"
    assert limits(usual)["charge_current"].value == pytest.approx(1.45)
    assert limits(usual)["charge_current"].figure == pytest.approx(20)
    assert limits(usual)["continuous_rating"].verdict == "within_limit"
    assert "other cells charge cell 2 of group 1 with 20 A" in usual.headline
    assert "charge cell 2 of group 1 with 20.0 A" in rules(usual)["neighbours-charge-too-fast"]
    assert [one.verdict for one in usual.groups[0].cells] == ["within_limit", "over_limit"]
    known = {a.name: (a.value, a.unit) for a in usual.assumptions}
    assert known["cell_charge_limit_a"] == (pytest.approx(1.45), "A")


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ({}, "over_limit"),
        ({"cell_rating_a": 25}, "over_limit"),
        ({"cell_rating_a": 19}, "over_limit"),
        ({"cell_capacity_ah": 40.1}, "not_judged"),
        ({"cell_capacity_ah": 39.9}, "over_limit"),
        ({"cell_charge_limit_a": 19.9}, "over_limit"),
        ({"cell_charge_limit_a": 20, "cell_capacity_ah": 12}, "little_headroom"),
        ({"cell_charge_limit_a": 23, "cell_capacity_ah": 12}, "within_limit"),
        ({"cell_charge_limit_a": 23, "cell_capacity_ah": 11}, "not_judged"),
        ({"cell_charge_limit_a": 60}, "not_judged"),
    ],
)
def test_what_is_known_of_the_charge_limit(ask, given, verdict):
    """20 A into a cell: only a given limit allows it, and without a capacity it is too much for any cell."""
    answer = ask("unequal-cells", **packed([[cell(4.2), cell(3.2)]]), **given)
    assert answer.verdict == verdict
    assert limits(answer)["charge_current"].verdict == verdict
    assert ("neighbours-charge-too-fast" in rules(answer)) is (verdict == "over_limit")
    assert ("charged-by-neighbours" in rules(answer)) is (verdict != "over_limit")


def test_a_charge_limit_matters_only_where_a_cell_is_charged(ask):
    """Cells at one voltage charge no other when the load goes off: no charge limit is missing."""
    coil = {"cell_rating_a": 20, "coil_resistance_ohm": 0.4}
    alike = ask("unequal-cells", **packed([[cell(4.2), cell(4.2, 0.03)]]), **coil)
    assert limits(alike)["charge_current"].verdict == "within_limit"
    assert alike.verdict == "within_limit"
    unlike = ask("unequal-cells", **packed([[cell(4.2), cell(4.19)]]), **coil)
    assert limits(unlike)["charge_current"].verdict == unlike.verdict == "not_judged"


@pytest.mark.parametrize("coil_ohm", [None, 100, 0.6, 0.2])
def test_a_heavier_load_makes_no_milder_word_of_charging(ask, coil_ohm):
    """0.3 V over 40 mΩ are 7.5 A into the lower cell as soon as the load is off."""
    pair = [cell(4.15, 0.02), cell(3.85, 0.02)]
    load = {} if coil_ohm is None else {"coil_resistance_ohm": coil_ohm}
    got = ask("unequal-cells", **packed([pair]), cell_charge_limit_a=4, cell_rating_a=30, **load)
    assert limits(got)["charge_current"].figure == pytest.approx(7.5)
    assert got.verdict == got.groups[0].cells[1].verdict == "over_limit"
    assert ("while the load is off" in rules(got)["neighbours-charge-too-fast"]) is bool(load)


@pytest.mark.parametrize("place", [0, 1])
def test_the_smaller_of_two_charged_cells_is_named(ask, place):
    """1 V into each of two cells is half as much as 20 A; the one of 1 Ah is the further above its limit."""
    small = [cell(3.2, cell_capacity_ah=5), cell(3.2, cell_capacity_ah=5)]
    small[place]["cell_capacity_ah"] = 1
    answer = ask("unequal-cells", **packed([[cell(4.2, cell_capacity_ah=5), *small]]))
    assert rules(answer)["neighbours-charge-too-fast"].startswith(
        f"Other cells charge cell {place + 2} of group 1 "
    )
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
        asked = {**packed([[cell(3.3)], [cell(volts)]]), "chemistry": chemistry}
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
    asked = {**packed([[cell(3.0, 0.06)]]), "coil_resistance_ohm": 0.24, "cell_rating_a": 20}
    answer = ask("unequal-cells", **asked)
    assert answer.verdict == "over_limit"
    assert "is at 2.4 V under this load, below 2.5 V" in rules(answer)["cell-below-end"]
    assert limits(answer)["end_voltage"].headroom == pytest.approx((2.4 - 2.5) / 2.5)
    assert ask("unequal-cells", **asked | {"chemistry": "lfp"}).verdict == "within_limit"


def test_a_reversed_cell_is_over_its_limit(ask):
    """4.2 + 4.2 + 2.6 V over 0.44 Ω and 0.11 Ω of coil are 20 A: 2.6 V − 8 V in the weak one."""
    groups = [[cell(4.2, 0.02)], [cell(4.2, 0.02)], [cell(2.6, 0.4)]]
    answer = ask("unequal-cells", **packed(groups), coil_resistance_ohm=0.11, cell_rating_a=30)
    assert limits(answer)["reversal"].verdict == "over_limit"
    assert limits(answer)["reversal"].figure == pytest.approx(-5.4)
    assert answer.verdict == "over_limit"
    assert [group.cells[0].verdict for group in answer.groups] == [
        "within_limit",
        "within_limit",
        "over_limit",
    ]


@pytest.mark.parametrize(("part", "over"), [(0.89, False), (0.91, True), (0.993, True)])
def test_a_converter_near_the_most_power(ask, part, over):
    """A source gives at most U²/4R: 4 V over 40 mΩ is 100 W, of which nine tenths are the limit."""
    asked = {**packed([[cell(4.0, 0.04)]]), "efficiency": 1, "chemistry": "lfp"}
    answer = ask("unequal-cells", **asked, output_power_w=100 * part, cell_rating_a=200)
    assert (limits(answer)["available_power"].verdict == "over_limit") is over
    assert ("near-collapse" in rules(answer)) is over


@pytest.mark.parametrize(("coil_ohm", "over"), [(0.0501, False), (0.05, True), (0.02, True)])
def test_a_coil_of_no_more_than_the_pack(ask, coil_ohm, over):
    """Two cells of 25 mΩ in series have 50 mΩ."""
    asked = {**packed([[cell(4)], [cell(4)]]), "coil_resistance_ohm": coil_ohm}
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
            **packed(groups),
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
    answer = ask("unequal-cells", **packed([[cell(3.6)]] * series), cell_rating_a=20)
    assert ("touch-voltage" in rules(answer)) is said


def test_the_headline_does_not_round_onto_a_limit(ask):
    """4.2 V over 0.21 Ω and a little are 19.97 A: not 20.0 A of 20 A."""
    asked = {**packed([[cell(4.2, 0.01)]]), "coil_resistance_ohm": 0.2003, "cell_rating_a": 20}
    assert "carries the most, 19.97 A" in ask("unequal-cells", **asked).headline


@pytest.mark.parametrize(
    ("apart_v", "given", "verdict", "limit_a"),
    [
        # by hand: π/4 · 2.6² · 6.5 cm³ at 900 Wh/L and 3.6 V are 8.63 Ah, half of it 4.3 A
        (0.214, {}, "not_judged", 4.3),
        (0.216, {}, "over_limit", 4.3),
        # half the energy at 3.2 V: 4.85 Ah, 2.4 A
        (0.119, {"chemistry": "lfp"}, "not_judged", 2.4),
        (0.121, {"chemistry": "lfp"}, "over_limit", 2.4),
        # no cell may be charged with more than it may be discharged with
        (0.051, {"cell_rating_a": 1}, "over_limit", 1),
        (0.049, {"cell_rating_a": 1}, "not_judged", 1),
    ],
)
def test_a_charge_limit_without_a_capacity(ask, apart_v, given, verdict, limit_a):
    """The largest cell thought possible bounds what a cell of unknown capacity may take; it allows nothing."""
    cells = [cell(3.3 + apart_v), cell(3.3)]
    answer = ask("unequal-cells", **packed([cells]), **given)
    charge = limits(answer)["charge_current"]
    assert charge.verdict == answer.groups[0].cells[1].verdict == verdict
    assert charge.value == pytest.approx(limit_a)
    known = {a.name: a.value for a in answer.assumptions}
    assert known["cell_charge_limit_a"] == pytest.approx(limit_a)
    assert "_" not in answer.headline
    if verdict == "over_limit":
        assert (
            "neither the cell's charge limit nor its capacity"
            in rules(answer)["neighbours-charge-too-fast"]
        )


# 60 W at 85 % over 2.8 V are 25.21 A: hand calculation
@pytest.mark.parametrize(
    ("ohms", "share"), [((0.02, 0.02), 1 / 2), ((0.02, 0.03), 3 / 5), ((0.03, 0.02), 3 / 5)]
)
@pytest.mark.parametrize(("headroom", "verdict"), [(-0.01, "over_limit"), (0.2, "within_limit")])
def test_a_converter_is_judged_where_it_draws_most(ask, ohms, share, headroom, verdict):
    """A full pack carries less than the nearly empty one, which decides the verdict."""
    cutoff_a = 60 / 0.85 / 2.8 * share
    rating_a = cutoff_a / (1 - headroom)
    cells = [cell(4.2, ohm) for ohm in ohms]
    got = ask("unequal-cells", **packed([cells]), output_power_w=60, cell_rating_a=rating_a)
    assert max(one.cell_current_a for one in got.groups[0].cells) < 0.8 * cutoff_a
    assert got.worst_cell_current_a == pytest.approx(cutoff_a)
    assert got.worst_cell_share == pytest.approx(share)
    assert got.headroom == pytest.approx(headroom)
    assert " A, when the cells are down to 2.8 V" in got.headline
    assert limits(got)["continuous_rating"].figure == pytest.approx(cutoff_a)
    assert got.verdict == verdict
    worst = got.groups[0].cells[ohms.index(min(ohms))]
    assert worst.verdict == verdict
    assert (
        "draws up to 25.3 A when the cells are down to 2.8 V" in rules(got)["draws-more-when-empty"]
    )
    assert ("over-rating" in rules(got)) is (verdict == "over_limit")
    assert got.attention == ("warning" if verdict == "over_limit" else "caution")
    assert (
        "assumed: nickel manganese cobalt oxide cells and a cut-off at 2.8 V per cell"
        in got.headline
    )


@pytest.mark.parametrize(
    ("rating_a", "verdict"), [(20.9, "over_limit"), (21, "little_headroom"), (24, "within_limit")]
)
def test_a_coil_is_judged_on_full_cells(ask, rating_a, verdict):
    """A partly empty cell at 3.3 V gives 16.5 A through 0.2 Ω in all; full, at 4.2 V, it gives 21 A."""
    asked = {**packed([[cell(3.3, 0.02)]]), "coil_resistance_ohm": 0.18}
    got = ask("unequal-cells", **asked, cell_rating_a=rating_a)
    assert got.groups[0].cells[0].cell_current_a == pytest.approx(16.5)
    assert got.worst_cell_current_a == pytest.approx(21)
    assert got.headroom == pytest.approx(1 - 21 / rating_a)
    assert got.verdict == got.groups[0].cells[0].verdict == verdict
    assert (
        "draws up to 21.0 A when the cells are full, at 4.2 V."
        in rules(got)["draws-more-when-full"]
    )
    assert ("when the cells are full" in rules(got).get("over-rating", "")) is (
        verdict == "over_limit"
    )
    assert "carries the most, 21.0 A, when the cells are full, at 4.2 V" in got.headline


def test_a_full_group_shares_by_its_own_resistances(ask):
    """By hand: 4.2 V over 0.18 Ω and 12 mΩ are 21.875 A, of which 20 beside 30 mΩ carry three fifths."""
    asked = {**packed([[cell(3.3, 0.03), cell(3.3, 0.02)]]), "coil_resistance_ohm": 0.18}
    got = ask("unequal-cells", **asked)
    assert got.worst_cell_current_a == pytest.approx(13.125)
    assert (got.worst_group_number, got.worst_cell_number) == (1, 2)
    assert got.worst_cell_share == pytest.approx(3 / 5)


def test_a_figure_is_no_milder_than_its_verdict(ask):
    """80 W at 85 % over 2.8 V are 33.6 A, three fifths of which are 20.2 A: over 18 A, in the figure too."""
    cells = [[cell(4.1, 0.02), cell(4.1, 0.03)]]
    got = ask("unequal-cells", **packed(cells), cell_rating_a=18, output_power_w=80)
    assert got.verdict == "over_limit"
    assert got.worst_cell_current_a == pytest.approx(80 / 0.85 / 2.8 * 3 / 5)
    assert got.headroom == pytest.approx(limits(got)["continuous_rating"].headroom)
    assert got.headroom < 0


def test_cells_of_unlike_ratings_are_no_pack(ask):
    """Two voltages and two ratings in one group: told to use like cells, and warned of the charging."""
    cells = [[cell(4.2, 0.02, cell_rating_a=100), cell(4.0, 0.02, cell_rating_a=20)]]
    got = ask("unequal-cells", **packed(cells), coil_resistance_ohm=0.1)
    assert got.verdict == "over_limit"
    assert "while the load is off" in rules(got)["neighbours-charge-too-fast"]
    assert "rated 20 to 100 A" in rules(got)["unlike-ratings"]


def test_even_cells_get_the_word_of_a_converter_load(ask):
    """The same pack with an even share, full or nearly empty, as ``converter-load`` judges it."""
    for rating_a in (10, 12, 12.7, 13, 16):
        load = {"output_power_w": 60, "cell_rating_a": rating_a}
        even = ask("converter-load", layout="1S2P", sharing="even", **load)
        own = ask("unequal-cells", **packed([[cell(4.2), cell(4.2)]]), **load)
        assert own.verdict == even.verdict
        held = limits(own)["continuous_rating"].figure
        assert held == pytest.approx(limits(even)["continuous_rating"].figure)


def test_a_nearly_empty_pack_draws_no_more_at_its_cut_off(ask):
    """Cells at 2.7 V already carry more than at 2.8 V, and a coil draws less as the cells empty."""
    empty = ask("unequal-cells", **packed([[cell(2.7)]]), output_power_w=20, cell_rating_a=20)
    coil = ask("unequal-cells", **packed([[cell(4.2)]]), coil_resistance_ohm=1, cell_rating_a=20)
    for got in (empty, coil):
        assert "draws-more-when-empty" not in rules(got)
        assert "cell_cutoff_voltage_v" not in {a.name for a in got.assumptions}


def test_a_converter_on_cells_without_a_rating(ask):
    """The caution names the cell that carries most at the cut-off."""
    cells = [[cell(4.2, 0.03), cell(4.2, 0.02)]]
    got = ask("unequal-cells", **packed(cells), output_power_w=60)
    assert "Cell 2 of group 1 then carries 15.2 A" in rules(got)["draws-more-when-empty"]
    assert (got.verdict, got.attention) == ("not_judged", "caution")
