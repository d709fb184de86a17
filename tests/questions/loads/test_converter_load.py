"""A converter on a nearly empty pack: by hand, at its worst corner, and at the highest power."""

from math import ceil

import numpy as np
import pytest
from scipy.optimize import brentq

from percell.physics.errors import NoSolution
from percell.questions.vocabulary.usual_spread import KEPT
from percell.questions.vocabulary.verdict import Verdict

# 3.2 V, and an efficiency of 0.8
CELL = {"layout": "1S1P", "cell_rating_a": 20, "cell_cutoff_voltage_v": 3.2, "efficiency": 0.8}
# at rest at 4 V behind 0.1 ohm: at most 40 W, U²/4R
WEAK = {
    "layout": "1S1P",
    "cell_rating_a": 20,
    "cell_cutoff_voltage_v": 4.0,
    "cutoff_basis": "at_rest",
    "efficiency": 1,
    "cell_resistance_ohm": 0.08,
    "contact_resistance_ohm": 0.02,
    # so much that a minute takes next to nothing out of it
    "cell_capacity_ah": 100,
}
POWER = "P = U·I by hand"


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        pytest.param(
            {},
            {
                "pack_lowest_voltage_v": 3.2,
                "input_power_w": 40,
                "pack_current_a": 12.5,
                "pack_loaded_voltage_v": 3.2,
                "even_cell_current_a": 12.5,
                "worst_cell_current_a": 12.5,
                "headroom": 0.375,
            },
            id=f"{POWER}: 32 W / 0.8 from 3.2 V are 12.5 A",
        ),
        pytest.param(
            {"idle_power_w": 4},
            {"input_power_w": 44, "pack_current_a": 13.75},
            id=f"{POWER}: 32 W / 0.8 and 4 W of its own from 3.2 V are 13.75 A",
        ),
        pytest.param(
            {"layout": "2S1P"},
            {"pack_lowest_voltage_v": 6.4, "pack_current_a": 6.25, "worst_cell_current_a": 6.25},
            id=f"{POWER}: 40 W from 6.4 V are 6.25 A through both cells",
        ),
        pytest.param(
            {"layout": "1S2P", "sharing": "even"},
            {"pack_current_a": 12.5, "even_cell_current_a": 6.25, "worst_cell_current_a": 6.25},
            id=f"{POWER}: 12.5 A, half of it through each cell",
        ),
        pytest.param(
            {"layout": "1S3P", "sharing": "allowance"},
            {"even_cell_current_a": 12.5 / 3, "worst_cell_current_a": 5, "headroom": 0.75},
            id="common practice, no published source: 12.5 A counted as P − ½ = 2.5 cells are 5 A",
        ),
        pytest.param(
            {"cell_cutoff_voltage_v": 2.7, "cell_cutoff_voltage_tolerance_v": 0.2},
            {"pack_lowest_voltage_v": 2.5, "pack_current_a": 16},
            id=f"{POWER}, worst corner: 40 W from 2.7 V − 0.2 V are 16 A",
        ),
        pytest.param(
            {"efficiency_tolerance": 0.16},
            {"input_power_w": 50, "pack_current_a": 15.625},
            id=f"{POWER}, worst corner: 32 W / (0.8 − 0.16) are 50 W",
        ),
        pytest.param(
            {"output_power_tolerance_w": 8},
            {"input_power_w": 50, "pack_current_a": 15.625},
            id=f"{POWER}, worst corner: (32 W + 8 W) / 0.8 are 50 W",
        ),
        pytest.param(
            WEAK | {"output_power_w": 30},
            {"pack_current_a": 10, "pack_loaded_voltage_v": 3, "worst_cell_current_a": 10},
            id=f"{POWER}, at rest: 10 A take 1 V off 4 V, and 3 V × 10 A are the 30 W",
        ),
        pytest.param(
            WEAK
            | {
                "cell_resistance_ohm": 0.05,
                "cell_resistance_tolerance_ohm": 0.03,
                "output_power_w": 30,
            },
            {"pack_current_a": 10, "pack_loaded_voltage_v": 3},
            id=f"{POWER}, at rest, worst corner: 50 mΩ and 30 mΩ more are the same 80 mΩ",
        ),
        pytest.param(
            WEAK | {"layout": "2S2P", "output_power_w": 120},
            {"pack_current_a": 20, "pack_loaded_voltage_v": 6, "even_cell_current_a": 10},
            id=f"{POWER}, at rest: four cells in 2S2P give four times the 30 W at 10 A each",
        ),
    ],
)
def test_by_hand(ask, changed, expected):
    """What the converter draws, and what each cell carries."""
    got = ask("converter-load", **CELL | {"output_power_w": 32} | changed)
    assert {name: getattr(got, name) for name in expected} == pytest.approx(expected)


@pytest.mark.parametrize(("chemistry", "cutoff_v"), [("nmc", 2.8), ("lfp", 2.5)])
def test_cutoff_by_chemistry(ask, chemistry, cutoff_v):
    """By default the cut-off is the chemistry's, listed with its origin."""
    body = {"layout": "2S1P", "cell_rating_a": 20, "output_power_w": 20, "chemistry": chemistry}
    got = ask("converter-load", **body)
    assert got.pack_lowest_voltage_v == 2 * cutoff_v
    assumed = {a.name: a for a in got.assumptions}["cell_cutoff_voltage_v"]
    assert assumed.value == cutoff_v
    assert assumed.origin


@pytest.mark.parametrize("watts", [40 * (1 - 1e-6), 40])
def test_up_to_the_most_a_resting_pack_gives(ask, watts):
    """U²/4R: of 4 V half is lost in 0.1 Ω at 20 A, and 2 V × 20 A are 40 W."""
    got = ask("converter-load", **WEAK, output_power_w=watts)
    assert got.pack_loaded_voltage_v == pytest.approx(2, rel=2e-3)
    assert got.pack_loaded_voltage_v >= 2
    assert got.pack_current_a <= 20


def test_more_than_a_pack_gives_has_no_answer(ask):
    """A little more than U²/4R has no answer, and the error gives the highest power."""
    with pytest.raises(NoSolution) as none:
        ask("converter-load", **WEAK, output_power_w=40 * (1 + 1e-6))
    assert none.value.numbers["available_power_w"] == pytest.approx(40)


@pytest.mark.parametrize(
    ("watts", "spoken"), [(28.7, False), (28.8 * (1 + 1e-6), True), (31, True), (32, True)]
)
def test_near_collapse_from_nine_tenths_of_the_most(ask, watts, spoken):
    """By hand: 4 V behind 0.125 Ω gives at most 32 W, of which nine tenths is 28.8 W."""
    body = WEAK | {"cell_resistance_ohm": 0.125, "contact_resistance_ohm": 0}
    found = {
        f.rule: f.sentence for f in ask("converter-load", **body, output_power_w=watts).findings
    }
    assert ("near-collapse" in found) is spoken
    assert (limits(ask("converter-load", **body, output_power_w=watts))["available_power"]) == (
        "over_limit" if spoken else "within_limit"
    )
    if spoken:
        assert "from 4 V" in found["near-collapse"]


@pytest.mark.parametrize("watts", [31, 32])
def test_near_collapse_names_both_powers(ask, watts):
    """By hand: the power drawn, the highest power of 32 W, and half of the voltage there."""
    body = WEAK | {"cell_resistance_ohm": 0.125, "contact_resistance_ohm": 0}
    found = {
        f.rule: f.sentence for f in ask("converter-load", **body, output_power_w=watts).findings
    }
    assert f" {watts} W" in found["near-collapse"]
    assert " 32 W" in found["near-collapse"]
    if watts == 32:
        assert "to 2 V" in found["near-collapse"]
        # four times the power of four cells in 2S2P is the same to each of them
        several = ask("converter-load", **body | {"layout": "2S2P"}, output_power_w=4 * watts)
        said = {f.rule: f.sentence for f in several.findings}["near-collapse"]
        assert "from 4 V to 2 V" in said


@pytest.mark.parametrize(
    ("current_a", "verdict"),
    [
        (18 * (1 - 1e-6), "within_limit"),
        (18, "within_limit"),
        (18 * (1 + 1e-6), "little_headroom"),
        (20, "little_headroom"),
        (20 * (1 + 1e-6), "over_limit"),
    ],
    ids=lambda value: f"{value:.9g} A" if isinstance(value, float | int) else value,
)
@pytest.mark.parametrize(
    ("layout", "sharing", "counted"),
    [
        ("1S1P", {}, 1),
        ("2S3P", {"sharing": "even"}, 3),
        ("2S3P", {"sharing": "allowance"}, 2.5),
        ("2S3P", {}, 1 / KEPT[3][0]),
    ],
)
def test_verdict(ask, layout, sharing, counted, current_a, verdict):
    """The verdict on the worst-case cell just below, at and just above a tenth left and 20 A."""
    watts = 0.8 * int(layout[0]) * 3.2 * counted * current_a
    asked = CELL | {"layout": layout, "output_power_w": watts} | sharing
    got = ask("converter-load", **asked)
    assert got.verdict == verdict
    assert got.headroom == pytest.approx(1 - current_a / 20)
    assert ask("assessment", **asked).verdict == verdict


@pytest.mark.parametrize("asked", [CELL | {"output_power_w": 32}, WEAK | {"output_power_w": 30}])
@pytest.mark.parametrize("sharing", ["careful", "even", "allowance", {"spread": 0.1}])
def test_the_working_is_the_figures(ask, asked, sharing):
    """Each step ends in a figure of the answer; a computed share shows how many cells it counts as."""
    got = ask("converter-load", **asked | {"layout": "2S3P", "sharing": sharing})
    counted = got.pack_current_a / got.worst_cell_current_a
    assert [step.result for step in got.working] == pytest.approx(
        [
            got.pack_lowest_voltage_v,
            got.input_power_w,
            got.pack_current_a,
            *([counted] if sharing not in ("even", "allowance") else []),
            got.worst_cell_current_a,
            got.headroom,
        ]
    )


def test_the_working_names_what_was_put_in(ask):
    """The power with its tolerance, the efficiency without it; at rest the relation has the sag in it."""
    worst = {"output_power_w": 32, "output_power_tolerance_w": 8, "efficiency_tolerance": 0.16}
    got = ask("converter-load", **CELL | worst | {"idle_power_w": 2})
    assert got.working[1].with_numbers.startswith("40 W / 0.64 + 2 W")
    assert "√" not in got.working[2].relation
    assert "√" in ask("converter-load", **WEAK, output_power_w=30).working[2].relation


@pytest.mark.parametrize(
    ("asked", "how"),
    [(CELL | {"output_power_w": 20}, "under load"), (WEAK | {"output_power_w": 20}, "at rest")],
)
def test_the_working_says_where_the_cutoff_holds(ask, asked, how):
    """A voltage under load is never taken for one at rest, from which the cells still sag."""
    assert ask("converter-load", **asked).working[0].what == f"Lowest pack voltage, {how}"


@pytest.mark.parametrize("basis", ["under_load", "at_rest"])
def test_a_resistance_is_assumed_either_way(ask, basis):
    """The power of a full pack needs the resistance; only from a cut-off at rest do the currents need it."""
    got = ask("converter-load", **CELL, output_power_w=10, cutoff_basis=basis)
    listed = {a.name: a.value for a in got.assumptions}
    assert listed["cell_resistance_ohm"] == 0.04
    assert listed["cell_temperature_c"] == 25
    assert ("resistance-assumed" in rules(got)) is (basis == "at_rest")
    assert listed.get("cell_capacity_ah") == (3 if basis == "at_rest" else None)
    # nobody read a resistance, so no time of a reading is assumed
    assert "cell_resistance_after_s" not in listed
    own = ask("converter-load", **CELL, output_power_w=10, cutoff_basis=basis,
              cell_resistance_ohm=0.04, cell_capacity_ah=3)  # fmt: skip
    assert "resistance-assumed" not in rules(own)
    assert {a.name: a.value for a in own.assumptions}["cell_resistance_after_s"] == 10
    # what was assumed may be asked again, and gives the same
    assert own.pack_current_a == got.pack_current_a
    assert own.limits == got.limits


def limits(got):
    return {one.name: one.verdict for one in got.limits}


def rules(got):
    return {one.rule: one for one in got.findings}


@pytest.mark.parametrize("parallel", [2, 3, 4])
def test_the_careful_share_by_drawing_groups(ask, parallel):
    """Own groups by NumPy: resistances scatter by 10 %, the 99th percentile of the largest share."""
    rng = np.random.default_rng(7)
    ohms = 1 + 0.1 * np.clip(rng.standard_normal((200_000, parallel)), -3, 3)
    share = np.quantile((1 / ohms).max(axis=1) / (1 / ohms).sum(axis=1), 0.99)
    got = ask("converter-load", **CELL | {"layout": f"1S{parallel}P"}, output_power_w=32)
    assert got.worst_cell_current_a / got.pack_current_a == pytest.approx(share, abs=0.002)
    assert {a.name: a.value for a in got.assumptions}["sharing"] == "careful"
    # the measured share of three parallel cells lies far below it
    assert got.even_cell_current_a == pytest.approx(12.5 / parallel)


@pytest.mark.parametrize(
    ("layout", "body", "even_a", "worst_a"),
    [
        ("1S2P", {"output_power_w": 85}, 17.86, 21.15),
        ("1S2P", {"output_power_w": 100, "cell_cutoff_voltage_v": 3.4}, 17.30, 20.49),
        ("1S4P", {"output_power_w": 190}, 19.96, 25.6),
    ],
)
def test_cells_in_parallel_are_not_judged_by_an_even_share(ask, layout, body, even_a, worst_a):
    """By hand: 85 W / 0.85 from 2.8 V are 35.7 A; half of it is within 20 A, 0.592 of it is not."""
    got = ask("converter-load", layout=layout, cell_rating_a=20, **body)
    assert got.even_cell_current_a == pytest.approx(even_a, abs=0.01)
    assert got.worst_cell_current_a == pytest.approx(worst_a, rel=3e-3)
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    assert "Over the limit: continuous rating" in got.headline
    chosen = ask("converter-load", layout=layout, cell_rating_a=20, **body, sharing="even")
    assert chosen.worst_cell_current_a == chosen.even_cell_current_a
    # what was chosen is in the headline, with the careful figure, and never below a caution
    assert chosen.attention == "caution"
    assert "an even share between cells in parallel" in chosen.headline
    said = rules(chosen)["sharing-chosen"].sentence
    assert (
        f"By default percell allows for unequal cells: then it is {got.worst_cell_current_a + 0.05:.1f} A (above"
        in said
    )


@pytest.mark.parametrize("watts", [5, 10, 20, 29])
def test_full_cells_must_give_the_power(ask, watts):
    """By SciPy: a full cell of 4.2 V behind 0.1 Ω at its most, whichever voltage the load stops at."""
    body = {"layout": "1S1P", "cell_rating_a": 200, "efficiency": 1, "contact_resistance_ohm": 0}
    body |= {"cell_resistance_ohm": 0.1, "cell_cutoff_voltage_v": 3}
    amps = np.linspace(0, 42, 100_001)
    most_w = float((amps * (4.2 - 0.1 * amps)).max())
    assert most_w == pytest.approx(44.1)
    got = ask("converter-load", **body, output_power_w=watts)
    assert limits(got)["available_power"] == "within_limit"
    held = next(one for one in got.limits if one.name == "available_power")
    assert (held.figure, held.value) == (watts, pytest.approx(0.9 * most_w))
    # 150 W was once within the rating of a cell that gives 44 W
    got = ask("converter-load", **body, output_power_w=150)
    assert got.headroom > 0
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    assert "Cells that are full supply at most 44.1 W" in rules(got)["near-collapse"].sentence
    assert "Over the limit: available power." in got.headline


def test_a_cutoff_at_rest_holds_for_seconds(ask):
    """A nearly empty cell sags several times as far over minutes: always said, and a caution."""
    got = ask("converter-load", layout="1S1P", cell_rating_a=20, output_power_w=5,
              cutoff_basis="at_rest", cell_cutoff_voltage_v=3.4)  # fmt: skip
    assert got.verdict == "within_limit"
    assert got.attention == "caution"
    assert "draws of up to half a minute" in rules(got)["rest-cutoff-in-seconds"].sentence
    assert "draws of up to half a minute" in got.headline
    under = ask("converter-load", layout="1S1P", cell_rating_a=20, output_power_w=5,
                cell_cutoff_voltage_v=3.4)  # fmt: skip
    assert "rest-cutoff-in-seconds" not in rules(under)


def test_a_cutoff_at_rest_by_root_finding(ask):
    """SciPy's root of P = I·(U − R·I) on the stable side, from 3.8 V behind 45 mΩ, the default at half charge."""
    body = {"layout": "1S1P", "cell_rating_a": 25, "efficiency": 1, "cutoff_basis": "at_rest"}
    got = ask("converter-load", **body, cell_cutoff_voltage_v=3.8, output_power_w=50)
    current_a = brentq(lambda amps: amps * (3.8 - 0.045 * amps) - 50, 0, 3.8 / 0.09)
    assert got.pack_current_a == pytest.approx(current_a)
    # 3.06 V under load is above the end of discharge of 2.5 V
    assert 3.8 - 0.045 * current_a == pytest.approx(got.pack_loaded_voltage_v)
    assert limits(got)["end_voltage"] == "within_limit"
    deeper = ask("converter-load", **body, cell_cutoff_voltage_v=3.4, output_power_w=40)
    assert deeper.pack_loaded_voltage_v < 2.5
    assert (deeper.verdict, deeper.attention) == ("over_limit", "warning")
    assert rules(deeper)["cutoff-below-end"].severity == "warning"


@pytest.mark.parametrize(
    ("cutoff_v", "verdict"), [(2.5, "within_limit"), (2.49, "over_limit"), (1.5, "over_limit")]
)
def test_a_cutoff_below_the_end_of_discharge_is_over(ask, cutoff_v, verdict):
    """The end voltage of nmc is 2.5 V: below it nothing is within the limits, with headroom or without."""
    got = ask("converter-load", layout="1S1P", cell_rating_a=40, output_power_w=5,
              cell_cutoff_voltage_v=cutoff_v)  # fmt: skip
    assert got.verdict == limits(got)["end_voltage"] == verdict


def test_an_unknown_cutoff_is_named_with_the_figure_at_the_end(ask):
    """By hand: 80 W / 0.85 / (2 × 2.8 V) are 16.8 A, and from 2 × 2.5 V 18.9 A."""
    got = ask("converter-load", layout="2S1P", cell_rating_a=25, output_power_w=80)
    assert got.worst_cell_current_a == pytest.approx(80 / 0.85 / 5.6)
    assert "nickel manganese cobalt oxide cells and a cut-off at 2.8 V per cell" in got.headline
    assert f"up to {80 / 0.85 / 5.0 + 0.05:.1f} A" in rules(got)["cutoff-assumed"].sentence
    known = ask("converter-load", layout="2S1P", cell_rating_a=25, output_power_w=80,
                cell_cutoff_voltage_v=2.8)  # fmt: skip
    assert "cutoff-assumed" not in rules(known)


@pytest.mark.parametrize(("series", "spoken"), [(14, False), (15, True), (20, True)])
def test_touch_voltage(ask, series, spoken):
    """By hand: 14 × 4.2 V are 58.8 V, and 15 are 63 V, above the customary 60 V d.c. (from memory)."""
    got = ask("converter-load", layout=f"{series}S1P", cell_rating_a=25, output_power_w=80)
    found = rules(got)
    assert ("touch-voltage" in found) is spoken
    # it concerns no limit of a cell
    assert got.verdict == "within_limit"
    assert got.attention == ("caution" if spoken else "note")
    if spoken:
        assert f"{series * 4.2:g} V, above 60 V d.c." in got.headline


GRAVITY = list(Verdict)


@pytest.mark.parametrize("question", ["converter-load", "assessment"])
@pytest.mark.parametrize("layout", ["1S1P", "2S1P", "1S2P", "2S2P", "3S1P", "1S4P"])
@pytest.mark.parametrize("basis", ["under_load", "at_rest"])
def test_more_watts_never_get_a_milder_word(ask, question, layout, basis):
    """From 5 W to 400 W the verdict only gets graver; a power that is not there is the gravest."""
    last = Verdict.WITHIN
    for watts in range(5, 401, 5):
        try:
            got = ask(question, layout=layout, cell_rating_a=25, output_power_w=watts,
                      cutoff_basis=basis)  # fmt: skip
            word = got.verdict
        except NoSolution:
            word = Verdict.OVER
        assert GRAVITY.index(word) >= GRAVITY.index(last), watts
        last = word
    assert last == Verdict.OVER


@pytest.mark.parametrize("watts", range(30, 81, 5))
def test_an_everyday_case_cries_no_wolf(ask, watts):
    """Two 25 A cells in series at 30 to 80 W, the everyday of careful users: nothing graver than a note."""
    got = ask("converter-load", layout="2S1P", cell_rating_a=25, output_power_w=watts)
    assert got.verdict == "within_limit"
    assert got.attention in ("none", "note")


# A cell of 5 Ah and 22.5 mΩ
SIMULATED = {
    "layout": "1S1P",
    "cell_rating_a": 40,
    "efficiency": 1,
    "cutoff_basis": "at_rest",
    "cell_resistance_ohm": 0.0225,
    "cell_capacity_ah": 5,
    "contact_resistance_ohm": 0,
}
# The cell at rest at a voltage, a power, and its current after so many seconds, as PyBaMM 26.10.1.1 simulated it
# (Chen2020, DFN, isothermal at 25 °C). The first was down to 2.1 V after 90 s and to 1 V after 100 s, the second was
# at 2.6 V after 120 s.
KEPT_UP = [
    (3.3, 30, 12.603, {1: 9.79, 10: 10.09, 30: 10.56, 60: 11.48}, "over_limit"),
    (3.2, 15, 5.740, {1: 4.93, 10: 5.01, 30: 5.12, 60: 5.29}, "within_limit"),
]
# With 30 W it was down to 1.4 V after 60 s from 3.2 V, and to 1 V after 22 s from 3.0 V.
COLLAPSED = [(3.2, 30), (3.0, 30)]


@pytest.mark.parametrize(("rest_v", "watts", "amps", "simulated_a", "verdict"), KEPT_UP)
def test_a_cutoff_at_rest_against_a_simulation(ask, rest_v, watts, amps, simulated_a, verdict):
    """The answer draws more than the simulated cell for a minute, and is over where that soon collapsed.

    By hand: straight from 2.5 times the resistance at 3.345 V to 4.4 times at 3.23 V, and on to 5.5 times at 3.0 V, are
    3.2435 times at 3.3 V and 4.5435 times at 3.2 V, so 73.0 and 102.2 mΩ; (U − √(U² − 4·R·P)) / 2R.
    """
    got = ask("converter-load", **SIMULATED, output_power_w=watts, cell_cutoff_voltage_v=rest_v)
    assert got.worst_cell_current_a == pytest.approx(amps, rel=1e-4)
    assert got.worst_cell_current_a >= max(simulated_a.values())
    assert limits(got)["available_power"] == verdict
    if verdict == "over_limit":
        assert "for a minute supply at most" in rules(got)["near-collapse"].sentence
        assert (got.verdict, got.attention) == ("over_limit", "warning")


@pytest.mark.parametrize(("rest_v", "watts"), COLLAPSED)
def test_no_answer_where_a_simulated_cell_collapsed_within_a_minute(ask, rest_v, watts):
    """By hand: 102.2 mΩ at 3.2 V give at most U²/4R = 25.0 W, and 123.8 mΩ at 3.0 V 18.2 W."""
    with pytest.raises(NoSolution) as none:
        ask("converter-load", **SIMULATED, output_power_w=watts, cell_cutoff_voltage_v=rest_v)
    assert none.value.code == "power_not_available"


@pytest.mark.parametrize(
    ("rest_v", "ratio", "without"),
    [
        (3.9, 1, 1),
        (3.6, 1, 2.5 - 0.005 / 0.045 * 1.05),
        (3.45, 1.45 - 0.06 / 0.07 * 0.3, 5.5 - 0.2 / 0.23 * 1.1),
        (3.345, 2.5, 5.5 - 0.095 / 0.23 * 1.1),
        (3.23, 4.4, 5.5),
        (3.2, 5.5 - 0.2 / 0.23 * 1.1, 5.5),
        (2.6, 5.5, 5.5),
    ],
)
def test_an_emptying_cell_has_more_resistance(ask, rest_v, ratio, without):
    """Measured after 10 s: 2.5 times at rest at 3.345 V, 4.4 times at 3.23 V (Kollmeyer, 10.17632/wykht8y7tg.1).

    Straight between, and on to 5.5 times at 3.0 V. A chemistry without a curve is read a quarter of a volt lower.
    """
    body = SIMULATED | {"output_power_w": 5, "cell_cutoff_voltage_v": rest_v}
    for chemistry, counted in (("nmc", ratio), ("nca", ratio), ("lco", without)):
        got = ask("converter-load", **body, chemistry=chemistry)
        ohm = (rest_v - got.pack_loaded_voltage_v) / got.pack_current_a
        assert ohm == pytest.approx(0.0225 * counted, rel=1e-9)


@pytest.mark.parametrize("basis", ["under_load", "at_rest"])
@pytest.mark.parametrize("question", ["converter-load", "needed-rating", "highest-power"])
def test_colder_is_never_milder(ask, question, basis):
    """From 60 °C down to −20 °C the verdict only gets graver, and below −10 °C nothing is within a limit."""
    body = {"layout": "2S1P", "cutoff_basis": basis, "cell_cutoff_voltage_v": 3.4}
    body |= {} if question == "needed-rating" else {"cell_rating_a": 30}
    body |= {} if question == "highest-power" else {"output_power_w": 18}
    words, powers = [], []
    for at_c in [60, 40, 25, 15, 9, 0, -5, -9.99, -10, -10.01, -15, -20]:
        try:
            got = ask(question, **body, cell_temperature_c=at_c)
        except NoSolution:
            words.append(Verdict.OVER)
            continue
        words.append(got.verdict)
        powers.append(getattr(got, "highest_power_w", 0))
        assert ("cold" in rules(got)) is (at_c < 10)
        if at_c != 25:
            assert f"ells at {at_c:g} °C" in got.headline
        if at_c < -10:
            assert {one.verdict for one in got.limits} <= {Verdict.NOT_JUDGED, Verdict.OVER}
            assert "no measured cell was compared below −10 °C" in rules(got)["cold"].sentence
    assert [GRAVITY.index(word) for word in words] == sorted(GRAVITY.index(word) for word in words)
    assert powers == sorted(powers, reverse=True)
    if question != "highest-power":
        assert Verdict.WITHIN in words


def test_the_cold_takes_power_from_a_full_pack(ask):
    """By hand: 4.2 V behind 2.3 × 40 mΩ + 5 mΩ gives at most 45.5 W at 0 °C, where 25 °C gives 98 W."""
    body = {"layout": "1S1P", "cell_rating_a": 20, "output_power_w": 40, "efficiency": 1}
    warm = ask("converter-load", **body)
    assert limits(warm)["available_power"] == "within_limit"
    cold = ask("converter-load", **body, cell_temperature_c=0)
    most = next(one.value for one in cold.limits if one.name == "available_power")
    assert most == pytest.approx(0.9 * 4.2**2 / (4 * (2.3 * 0.04 + 0.005)))
    colder = ask("converter-load", **body, cell_temperature_c=-5)
    assert limits(colder)["available_power"] == "over_limit"
    # the tolerance of a resistance grows with it
    wider = ask("converter-load", **body, cell_resistance_ohm=0.03, cell_temperature_c=0,
                cell_resistance_tolerance_ohm=0.01)  # fmt: skip
    assert next(one.value for one in wider.limits if one.name == "available_power") == (
        pytest.approx(most)
    )


@pytest.mark.parametrize(
    ("after_s", "ohm"), [(10, 0.04), (60, 0.04), (1, 0.032), (0.1, 0.04 / 1.7)]
)
def test_a_resistance_read_sooner_counts_for_more(ask, after_s, ohm):
    """After 1 s measured cells had 0.8 of their resistance after 10 s, after 0.1 s 0.59 (Kollmeyer)."""
    got = ask("converter-load", **CELL, output_power_w=20, cell_resistance_ohm=ohm,
              cell_resistance_after_s=after_s)  # fmt: skip
    assert got.limits == ask("converter-load", **CELL, output_power_w=20).limits


@pytest.mark.parametrize("capacity_ah", [0.35, 1, 2, 3, 5])
def test_a_small_cell_gives_less_power(ask, capacity_ah):
    """By hand: 0.12 Ω·Ah over the capacity, up to a tenth of a milliohm, and contacts of 5 mΩ."""
    body = {"layout": "1S1P", "cell_rating_a": 3, "output_power_w": 5}
    got = ask("converter-load", **body, cell_capacity_ah=capacity_ah)
    most = next(one.value for one in got.limits if one.name == "available_power")
    cell_ohm = ceil(1200 / capacity_ah - 1e-9) / 10_000
    assert most == pytest.approx(0.9 * 4.2**2 / (4 * (cell_ohm + 0.005)))


@pytest.mark.parametrize(
    ("at_c", "rest_v"),
    [(0, 3.360), (10, 3.326), (-10, 3.416)],
    ids=lambda value: f"Kollmeyer, DOI 10.17632/wykht8y7tg.1: {value}",
)
def test_a_cold_cell_that_rests_low_gives_no_power_that_a_measured_one_did_not(ask, at_c, rest_v):
    """A pulse of 2.9 A, 7.25 W at most, met 2.5 V within 8 to 10 s: such a load is within no limit."""
    body = {"layout": "1S1P", "cell_rating_a": 10, "cell_capacity_ah": 2.9, "efficiency": 1}
    body |= {"cell_resistance_ohm": 0.0401, "contact_resistance_ohm": 0, "cutoff_basis": "at_rest"}
    body |= {"cell_cutoff_voltage_v": rest_v, "cell_temperature_c": at_c}
    try:
        got = ask("converter-load", **body, output_power_w=7.2)
    except NoSolution:
        return
    assert "over_limit" in {limits(got)["available_power"], limits(got)["end_voltage"]}


@pytest.mark.parametrize(("power_w", "told"), [(50, True), (40, False), (80, False)])
def test_a_high_cutoff_that_keeps_a_cell_within_its_rating_is_a_caution(ask, power_w, told):
    """Only where the usual cut-off would be over the rating, and the given one is not."""
    asked = {"layout": "1S1P", "cell_rating_a": 20, "cell_cutoff_voltage_v": 3.7}
    got = ask("converter-load", **asked, output_power_w=power_w)
    assert ("device-above-usual" in [one.rule for one in got.findings]) is told
    whole = ask("assessment", **asked, output_power_w=power_w)
    assert ("device-above-usual" in [one.rule for one in whole.findings]) is told
    run = ask("running-time", **asked, output_power_w=power_w, cell_capacity_ah=3)
    assert ("device-above-usual" in [one.rule for one in run.findings]) is told
