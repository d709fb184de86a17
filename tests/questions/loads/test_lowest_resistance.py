"""The lowest coil resistance and the reading that guarantees it, by hand."""

import pytest

CELL = {"layout": "1S1P", "cell_rating_a": 20}


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        pytest.param(
            {},
            {
                "lowest_resistance_ohm": 0.21,
                "lowest_resistance_spread_ohm": 0.21,
                "pack_highest_voltage_v": 4.2,
                "pack_current_limit_a": 20,
                "coil_power_w": 84,
            },
            id="Ohm's law by hand: 4.2 V / 20 A = 0.21 Ω",
        ),
        pytest.param(
            {"layout": "2S2P"},
            {"lowest_resistance_ohm": 0.28, "pack_current_limit_a": 30, "coil_power_w": 252},
            id="common practice, no published source: 8.4 V over 2 − ½ cells of 20 A",
        ),
        pytest.param(
            {"layout": "2S2P", "sharing": "even"},
            {"lowest_resistance_ohm": 0.21, "pack_current_limit_a": 40, "coil_power_w": 336},
            id="Ohm's law by hand: 8.4 V over two cells of 20 A that share evenly",
        ),
        pytest.param(
            {"cell_charged_voltage_v": 4.1, "cell_charged_voltage_tolerance_v": 0.02},
            {"lowest_resistance_ohm": 0.206, "pack_highest_voltage_v": 4.12},
            id="Ohm's law by hand: 4.12 V at the most over 20 A",
        ),
        pytest.param(
            {"chemistry": "lfp"},
            {"lowest_resistance_ohm": 0.1825, "pack_highest_voltage_v": 3.65},
            id="Ohm's law by hand: 3.65 V of iron phosphate over 20 A",
        ),
    ],
)
def test_by_hand(ask, changed, expected):
    """The resistance at which the worst-case cell carries its rating."""
    got = ask("lowest-resistance", **CELL | changed)
    assert {name: getattr(got, name) for name in expected} == pytest.approx(expected)


@pytest.mark.parametrize(
    ("meter", "reading_ohm"),
    [
        ({}, 0.21),
        ({"meter_counts": 2}, 0.23),
        ({"meter_counts": 2, "meter_resolution_ohm": 0.1}, 0.5),
        ({"lead_resistance_ohm": 0.055}, 0.27),
        ({"coil_resistance_tolerance_ohm": 0.03}, 0.24),
        ({"meter_accuracy": 0.2, "meter_resolution_ohm": 0.001}, 0.263),
        (
            {
                "coil_resistance_tolerance_ohm": 0.03,
                "lead_resistance_ohm": 0.05,
                "meter_counts": 1,
                "meter_accuracy": 0.2,
            },
            0.38,
        ),
    ],
    ids=lambda value: "+".join(value) or "no error" if isinstance(value, dict) else f"{value} ohm",
)
def test_reading_by_hand(ask, meter, reading_ohm):
    """0.21 Ω plus the errors, over 1 − accuracy, rounded up to the last digit."""
    assert ask("lowest-resistance", **CELL, **meter).lowest_reading_ohm == reading_ohm


def test_each_way_of_sharing_is_named(ask):
    """By hand: 4.2 V over 3, 2.5 and 1 / 0.4157 cells of 10 A, rounded up to a milliohm."""
    found = {
        f.rule: f.sentence
        for f in ask("lowest-resistance", layout="1S3P", cell_rating_a=10).findings
    }
    assert "0.14 Ω" in found["sharing-allowance"]
    assert "0.168 Ω" in found["sharing-allowance"]
    assert "0.175 Ω" in found["sharing-rule-not-careful"]


@pytest.mark.parametrize("sharing", ["allowance", {"spread": 0.1}])
def test_the_working_is_the_figures(ask, sharing):
    """Each step ends in a figure of the answer; a spread shows how many cells it counts as."""
    got = ask("lowest-resistance", layout="2S3P", cell_rating_a=20, sharing=sharing)
    assert [step.result for step in got.working] == pytest.approx(
        [
            got.pack_highest_voltage_v,
            *([got.pack_current_limit_a / 20] if isinstance(sharing, dict) else []),
            got.pack_current_limit_a,
            got.lowest_resistance_ohm,
            got.lowest_resistance_spread_ohm,
            got.lowest_reading_ohm,
        ]
    )
