"""The rating that a power needs, by hand."""

import pytest

from percell.physics.errors import NoSolution
from percell.questions.vocabulary.usual_spread import KEPT

CELL = {"layout": "1S1P", "output_power_w": 32, "cell_cutoff_voltage_v": 3.2, "efficiency": 0.8}
WEAK = {
    "layout": "1S1P",
    "cell_cutoff_voltage_v": 4.0,
    "cutoff_basis": "at_rest",
    "efficiency": 1,
    "cell_resistance_ohm": 0.08,
    "contact_resistance_ohm": 0.02,
}
POWER = "P = U·I by hand"


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        pytest.param(
            CELL,
            {
                "needed_rating_a": 12.5,
                "pack_current_a": 12.5,
                "pack_lowest_voltage_v": 3.2,
                "input_power_w": 40,
            },
            id=f"{POWER}: 32 W / 0.8 from 3.2 V are 12.5 A",
        ),
        pytest.param(
            CELL | {"layout": "2S2P", "sharing": "even"},
            {
                "needed_rating_a": 3.125,
                "pack_current_a": 6.25,
                "pack_lowest_voltage_v": 6.4,
            },
            id=f"{POWER}: 40 W from 6.4 V are 6.25 A, halved by an even share",
        ),
        pytest.param(
            CELL | {"layout": "1S2P", "sharing": "allowance"},
            {"needed_rating_a": 12.5 / 1.5},
            id="common practice, no published source: 12.5 A counted as P − ½ = 1.5 cells",
        ),
        pytest.param(
            CELL
            | {"output_power_tolerance_w": 8, "efficiency": 0.85, "efficiency_tolerance": 0.05},
            {"needed_rating_a": 15.625, "input_power_w": 50},
            id=f"{POWER}, worst corner: (32 W + 8 W) / (0.85 − 0.05) are 50 W",
        ),
        pytest.param(
            WEAK | {"output_power_w": 30},
            {"needed_rating_a": 10, "pack_lowest_voltage_v": 4},
            id=f"{POWER}, at rest: 10 A take 1 V off 4 V, and 3 V × 10 A are the 30 W",
        ),
    ],
)
def test_by_hand(ask, asked, expected):
    """The needed rating is the current of the worst-case cell."""
    got = ask("needed-rating", **asked)
    assert {name: getattr(got, name) for name in expected} == pytest.approx(expected)


def test_no_rating_is_enough_for_more_than_the_pack_gives(ask):
    """Above U²/4R = 40 W there is no answer, and the error gives the highest power."""
    assert ask("needed-rating", **WEAK, output_power_w=40).needed_rating_a == pytest.approx(20)
    with pytest.raises(NoSolution) as none:
        ask("needed-rating", **WEAK, output_power_w=40 * (1 + 1e-6))
    assert none.value.numbers["available_power_w"] == pytest.approx(40)


def test_each_way_of_sharing_is_named(ask):
    """By hand: 60 W at 85 % from 3 V is 23.53 A; over 3, 2.5 and 1 / 0.4157 cells, rounded up."""
    asked = {"layout": "1S3P", "output_power_w": 60, "cell_cutoff_voltage_v": 3}
    found = {f.rule: f.sentence for f in ask("needed-rating", **asked).findings}
    for amps in ("7.9 A", "9.5 A", "9.8 A"):
        assert amps in found["uneven-share"]


def test_a_shop_is_told_the_careful_figure(ask):
    """By hand: 200 W / 0.85 / 2.8 V are 84.03 A; of three cells the worst-case one carries 0.4157 of it."""
    got = ask("needed-rating", layout="1S3P", output_power_w=200)
    assert got.needed_rating_a == pytest.approx(200 / 0.85 / 2.8 * KEPT[3][0])
    assert "at least 35.0 A" in got.headline
    assert "cut-off at 2.8 V per cell" in got.headline
    string = ask("needed-rating", layout="3S1P", output_power_w=200)
    assert string.needed_rating_a == pytest.approx(200 / 0.85 / 8.4)
    even = ask("needed-rating", layout="1S3P", output_power_w=200, sharing="even")
    assert even.needed_rating_a == pytest.approx(string.needed_rating_a)
    assert even.attention == "caution"
    assert "each cell needs 31.4 A or more" in next(
        f.sentence for f in string.findings if f.rule == "cutoff-assumed"
    )


@pytest.mark.parametrize(
    ("more", "word"),
    [({}, "within_limit"), ({"cell_cutoff_voltage_v": 2.4}, "over_limit"),
     ({"cell_resistance_ohm": 0.2}, "over_limit")],
)  # fmt: skip
def test_the_other_limits_at_that_power(ask, more, word):
    """The rating is what was asked for; end voltage and the power of a full pack are looked at."""
    got = ask("needed-rating", layout="1S1P", output_power_w=30, **more)
    assert [one.name for one in got.limits] == ["end_voltage", "available_power"]
    assert got.verdict == word


@pytest.mark.parametrize("sharing", ["careful", "even", {"spread": 0.1}])
def test_the_working_is_the_figures(ask, sharing):
    """Each step ends in a figure of the answer; a computed share shows how many cells it counts as."""
    got = ask("needed-rating", **CELL | {"layout": "2S3P", "sharing": sharing})
    assert [step.result for step in got.working] == pytest.approx(
        [
            got.pack_lowest_voltage_v,
            got.input_power_w,
            got.pack_current_a,
            *([got.pack_current_a / got.needed_rating_a] if sharing != "even" else []),
            got.needed_rating_a,
        ]
    )


def test_the_working_adds_the_tolerance(ask):
    """The power put in is the highest that is asked for: 32 W and 8 W on top."""
    asked = {"layout": "1S1P", "output_power_w": 32, "output_power_tolerance_w": 8}
    got = ask("needed-rating", **asked, efficiency=0.8)
    assert got.working[1].with_numbers == "40 W / 0.8 + 0 W"
    assert got.input_power_w == pytest.approx(50)


def test_a_rating_for_a_high_cutoff_names_the_one_at_the_usual(ask):
    """40 W at 2.8 V and 85 % need 16.9 A, by hand."""
    asked = {"layout": "1S1P", "output_power_w": 40, "cell_cutoff_voltage_v": 3.7}
    got = ask("needed-rating", **asked)
    (told,) = [one for one in got.findings if one.rule == "device-above-usual"]
    assert "With the usual 2.8 V, each cell needs 16.9 A or more." in told.sentence
