"""A converter on a nearly empty pack: by hand, at its worst corner, and at the highest power."""

import pytest

from percell.physics.errors import NoSolution

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
            {"layout": "1S2P"},
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
    ("watts", "spoken"), [(28.8 * (1 - 1e-9), False), (28.8, True), (31, True), (32, True)]
)
def test_near_collapse_from_nine_tenths_of_the_most(ask, watts, spoken):
    """By hand: 4 V behind 0.125 Ω gives at most 32 W, of which nine tenths is 28.8 W."""
    body = WEAK | {"cell_resistance_ohm": 0.125, "contact_resistance_ohm": 0}
    found = {
        f.rule: f.sentence for f in ask("converter-load", **body, output_power_w=watts).findings
    }
    assert ("near-collapse" in found) is spoken
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
@pytest.mark.parametrize("layout", ["1S1P", "2S3P"])
def test_verdict(ask, layout, current_a, verdict):
    """The verdict on the even share just below, at and just above a tenth left and 20 A."""
    cells = int(layout[0]) * int(layout[2])
    asked = CELL | {"layout": layout, "output_power_w": 0.8 * cells * 3.2 * current_a}
    got = ask("converter-load", **asked)
    assert got.verdict == verdict
    assert got.headroom == pytest.approx(1 - current_a / 20)
    assert ask("assessment", **asked).verdict == verdict


@pytest.mark.parametrize("asked", [CELL | {"output_power_w": 32}, WEAK | {"output_power_w": 30}])
@pytest.mark.parametrize("sharing", ["even", "allowance", {"spread": 0.1}])
def test_the_working_is_the_figures(ask, asked, sharing):
    """Each step ends in a figure of the answer; a spread shows how many cells it counts as."""
    got = ask("converter-load", **asked | {"layout": "2S3P", "sharing": sharing})
    counted = got.pack_current_a / got.worst_cell_current_a
    assert [step.result for step in got.working] == pytest.approx(
        [
            got.pack_lowest_voltage_v,
            got.input_power_w,
            got.pack_current_a,
            *([counted] if isinstance(sharing, dict) else []),
            got.worst_cell_current_a,
            got.headroom,
        ]
    )


def test_the_working_names_what_was_put_in(ask):
    """The power with its tolerance, the efficiency without it; at rest the relation has the sag in it."""
    worst = {"output_power_w": 32, "output_power_tolerance_w": 8, "efficiency_tolerance": 0.16}
    got = ask("converter-load", **CELL | worst | {"idle_power_w": 2})
    assert got.working[1].put_in.startswith("40 W / 0.64 + 2 W")
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
def test_a_resistance_is_assumed_where_it_counts(ask, basis):
    """Only a pack that sags from its cut-off rests on the resistance of its cells."""
    got = ask("converter-load", **CELL, output_power_w=20, cutoff_basis=basis)
    assumed = {one.name for one in got.assumptions}
    assert ("cell_resistance_ohm" in assumed) is (basis == "at_rest")
