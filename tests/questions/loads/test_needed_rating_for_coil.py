"""The rating that a coil needs, by hand."""

from math import ceil

import pytest

from percell.physics.errors import NoSolution
from percell.questions.vocabulary.usual_spread import KEPT

OHM = "Ohm's law by hand"


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        pytest.param(
            {"layout": "1S1P", "coil_resistance_ohm": 0.21},
            {
                "needed_rating_a": 20,
                "pack_current_a": 20,
                "pack_highest_voltage_v": 4.2,
                "lowest_true_resistance_ohm": 0.21,
            },
            id=f"{OHM}: 4.2 V / 0.21 Ω",
        ),
        pytest.param(
            {"layout": "1S1P", "coil_reading_ohm": 0.35},
            {"lowest_true_resistance_ohm": 0.3115, "needed_rating_a": 4.2 / 0.3115},
            id=f"{OHM}: 0.35 Ω shown by an ordinary meter may be 0.35 × 0.99 − 3.5 × 0.01 Ω",
        ),
        pytest.param(
            {"layout": "2S1P", "coil_resistance_ohm": 0.5, "coil_resistance_tolerance_ohm": 0.1},
            {"needed_rating_a": 21, "pack_highest_voltage_v": 8.4},
            id=f"{OHM}: 8.4 V / (0.5 − 0.1) Ω, the same through both cells",
        ),
        pytest.param(
            {"layout": "1S2P", "coil_resistance_ohm": 0.14},
            {"needed_rating_a": 20, "pack_current_a": 30},
            id="common practice, no published source: 30 A are two cells of 20 A",
        ),
        pytest.param(
            {"layout": "1S3P", "coil_resistance_ohm": 0.1},
            {"needed_rating_a": 42 * KEPT[3][0], "pack_current_a": 42},
            id=f"{OHM}: 42 A, of which the worst-case cell of three carries 0.4157",
        ),
        pytest.param(
            {"layout": "1S3P", "coil_resistance_ohm": 0.1, "sharing": "even"},
            {"needed_rating_a": 14},
            id=f"{OHM}: 42 A, shared evenly by three",
        ),
        pytest.param(
            {"layout": "1S1P", "coil_resistance_ohm": 0.2, "chemistry": "lfp"},
            {"needed_rating_a": 18.25},
            id=f"{OHM}: 3.65 V of iron phosphate / 0.2 Ω",
        ),
    ],
)
def test_by_hand(ask, asked, expected):
    """The needed rating is the current of the worst-case cell of a full pack."""
    got = ask("needed-rating-for-coil", **asked)
    assert {name: getattr(got, name) for name in expected} == pytest.approx(expected)


@pytest.mark.parametrize("layout", ["1S1P", "2S1P", "1S2P", "2S3P", "1S4P"])
@pytest.mark.parametrize("reading_ohm", [0.2, 0.35, 0.8, 1.5])
def test_the_printed_rating_asked_back_is_enough(ask, layout, reading_ohm):
    """Rounded up to tenths as the headline has it, the rating has headroom; a tenth less has none."""
    got = ask("needed-rating-for-coil", layout=layout, coil_reading_ohm=reading_ohm)
    printed_a = ceil(got.needed_rating_a * 10 - 1e-9) / 10
    assert f"of at least {printed_a:.1f} A" in got.headline
    for rating_a, enough in ((printed_a, True), (round(printed_a - 0.1, 1), False)):
        back = ask(
            "direct-load", layout=layout, coil_reading_ohm=reading_ohm, cell_rating_a=rating_a
        )
        assert (back.headroom >= -1e-9) is enough


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ({}, "within_limit"),
        ({"cell_charged_voltage_v": 4.3}, "over_limit"),
        ({"coil_reading_ohm": 0.08}, "over_limit"),
    ],
)
def test_the_other_limits_under_that_coil(ask, more, word):
    """The rating is what was asked for; 0.08 Ω shown may be 0.0442 Ω, less than the pack's own 0.045 Ω."""
    got = ask("needed-rating-for-coil", **{"layout": "1S1P", "coil_reading_ohm": 0.35} | more)
    assert [one.name for one in got.limits] == ["available_power", "charged_voltage"]
    assert got.verdict == word
    assert (got.attention == "warning") is (word == "over_limit")


def test_a_chemistry_nobody_named_gets_the_rating_for_a_higher_one(ask):
    """By hand: 4.35 V / 0.21 Ω are 20.72 A, rounded up to a tenth."""
    got = ask("needed-rating-for-coil", layout="1S1P", coil_resistance_ohm=0.21)
    (said,) = [f.sentence for f in got.findings if f.rule == "chemistry-assumed"]
    assert "4.35 V, each cell needs a rating of 20.8 A or more" in said


def test_each_way_of_sharing_is_named(ask):
    """By hand: 42 A over 3, 2.5 and 1 / 0.4157 cells, rounded up."""
    got = ask("needed-rating-for-coil", layout="1S3P", coil_resistance_ohm=0.1)
    (said,) = [f.sentence for f in got.findings if f.rule == "uneven-share"]
    for amps in ("14 A", "16.8 A", "17.5 A"):
        assert amps in said
    chosen = ask("needed-rating-for-coil", layout="1S3P", coil_resistance_ohm=0.1, sharing="even")
    assert chosen.attention == "caution"
    assert (
        "By default percell allows for unequal cells: then it is 17.5 A or more." in chosen.headline
    )


def test_a_reading_within_its_errors_has_no_answer(ask):
    """0.03 Ω shown by an ordinary meter may be a short circuit: no rating is enough."""
    with pytest.raises(NoSolution) as none:
        ask("needed-rating-for-coil", layout="1S1P", coil_reading_ohm=0.03)
    assert none.value.code == "reading_within_error"


def test_the_working_ends_in_the_rating(ask):
    """Each step is a figure of the answer."""
    got = ask("needed-rating-for-coil", layout="2S1P", coil_reading_ohm=0.5)
    assert [step.result for step in got.working] == [
        got.pack_highest_voltage_v,
        got.lowest_true_resistance_ohm,
        got.pack_current_a,
        got.needed_rating_a,
    ]


@pytest.mark.parametrize(
    ("question", "load", "doubt"),
    [
        ("needed-rating-for-coil", {"coil_resistance_ohm": 0.2}, None),
        ("needed-rating-for-coil", {"coil_resistance_ohm": 0.08}, "doubtful"),
        ("needed-rating-for-coil", {"coil_resistance_ohm": 0.02}, "Do not believe"),
        ("needed-rating", {"output_power_w": 40}, None),
        ("needed-rating", {"output_power_w": 140}, "doubtful"),
    ],
)
def test_a_rating_that_few_cells_have_is_no_shopping_list(ask, question, load, doubt):
    """A rating beyond what size and heat allow is told as such, so that nobody looks for the label."""
    got = ask(question, layout="1S1P", **load)
    told = [one for one in got.findings if one.rule == "rating-not-to-be-had"]
    assert bool(told) is bool(doubt)
    if doubt:
        assert doubt in told[0].sentence
        assert "Use more cells or less load." in told[0].sentence
        assert got.attention in ("caution", "warning")
