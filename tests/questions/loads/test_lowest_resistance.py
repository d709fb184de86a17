"""The lowest coil resistance and the reading that guarantees it, by hand."""

from itertools import product

import pytest

from percell.questions.vocabulary.usual_spread import KEPT

CELL = {"layout": "1S1P", "cell_rating_a": 20}
PERFECT = {"meter_accuracy": 0, "meter_counts": 0}


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        pytest.param(
            {},
            {
                "lowest_resistance_ohm": 0.21,
                "pack_highest_voltage_v": 4.2,
                "pack_current_limit_a": 20,
                "coil_power_w": 84,
            },
            id="Ohm's law by hand: 4.2 V / 20 A = 0.21 Ω",
        ),
        pytest.param(
            {"layout": "2S2P", "sharing": "allowance"},
            {"lowest_resistance_ohm": 0.28, "pack_current_limit_a": 30, "coil_power_w": 252},
            id="common practice, no published source: 8.4 V over 2 − ½ cells of 20 A",
        ),
        *(
            pytest.param(
                {"layout": f"1S{parallel}P"},
                {"lowest_resistance_ohm": 0.21 * share, "pack_current_limit_a": 20 / share},
                id=f"Ohm's law by hand: 4.2 V × {share} / 20 A, the larger share of {parallel} cells",
            )
            for parallel, share in ((2, 1 / 1.5), (3, KEPT[3][0]), (4, KEPT[4][0]))
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
        ({"meter_accuracy": 0.01, "meter_counts": 3}, 0.25),
        ({}, 0.22),
        ({"meter_counts": 2}, 0.24),
        ({"meter_counts": 2, "meter_resolution_ohm": 0.1}, 0.5),
        ({"lead_resistance_ohm": 0.055}, 0.27),
        ({"coil_resistance_tolerance_ohm": 0.03}, 0.25),
        ({"meter_accuracy": 0.2, "meter_resolution_ohm": 0.001}, 0.264),
        (
            {
                "coil_resistance_tolerance_ohm": 0.03,
                "lead_resistance_ohm": 0.05,
                "meter_counts": 1,
                "meter_accuracy": 0.2,
            },
            0.39,
        ),
    ],
    ids=lambda value: "+".join(value) or "no error" if isinstance(value, dict) else f"{value} ohm",
)
def test_reading_by_hand(ask, meter, reading_ohm):
    """0.21 Ω plus the errors and half a digit, over 1 − accuracy, rounded up to the last digit."""
    assert ask("lowest-resistance", **CELL | PERFECT | meter).lowest_reading_ohm == reading_ohm


METERS = [
    {},
    {"meter_accuracy": 0.005, "meter_counts": 2, "meter_resolution_ohm": 0.001},
    {"meter_accuracy": 0.02, "meter_counts": 5, "lead_resistance_ohm": 0.03},
    {"meter_accuracy": 0, "meter_counts": 0, "coil_resistance_tolerance_ohm": 0.02},
]


@pytest.mark.parametrize("meter", METERS, ids=lambda meter: "+".join(meter) or "an ordinary one")
def test_the_printed_reading_asked_back_keeps_each_cell_within_its_rating(ask, meter):
    """Over layouts and ratings from 1 to 60 A; a digit lower, the coil may be too low."""
    digit = meter.get("meter_resolution_ohm", 0.01)
    for series, parallel, rating_a in product((1, 2, 4), (1, 2, 3, 4), range(1, 61, 3)):
        body = {"layout": f"{series}S{parallel}P", "cell_rating_a": rating_a} | meter
        reading = ask("lowest-resistance", **body).lowest_reading_ohm
        # as printed, with the digits of the meter
        printed = float(f"{reading:.3f}")
        assert printed == pytest.approx(reading, abs=1e-12)
        back = ask("direct-load", **body, coil_reading_ohm=printed)
        assert back.headroom >= -1e-9, body
        lower = ask("direct-load", **body, coil_reading_ohm=round(printed - digit, 6))
        assert (lower.headroom < 0) is (lower.verdict == "over_limit")
        # the reading is the lowest: one digit lower is over, unless it is exactly at the limit
        assert lower.headroom < 1e-9, body


def test_the_limit_is_of_what_the_meter_shows(ask):
    """By hand: (0.21 Ω + 3.5 × 0.01 Ω) / 0.99 are 0.2475 Ω; both figures are given, the reading leads."""
    got = ask("lowest-resistance", **CELL)
    assert got.lowest_resistance_ohm == pytest.approx(0.21)
    assert got.lowest_reading_ohm == 0.25
    # with the decimals of the meter's display, and no more
    assert "the meter must show at least 0.25 Ω, which leaves no headroom." in got.headline
    fine = ask("lowest-resistance", **CELL, meter_resolution_ohm=0.001)
    assert "the meter must show at least 0.216 Ω, which leaves no headroom." in fine.headline
    assert {a.name for a in got.assumptions} >= {"meter_accuracy", "meter_counts"}
    # a reading that equals the true limit is over it
    assert ask("direct-load", **CELL, coil_reading_ohm=0.21).verdict == "over_limit"


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ({}, "within_limit"),
        ({"cell_charged_voltage_v": 4.3}, "over_limit"),
        ({"cell_rating_a": 100, "cell_resistance_ohm": 0.04}, "over_limit"),
        # 2.3 times the resistance at 0 °C: 0.092 and 0.005 Ω, where 4.2 V / 50 A are 0.084 Ω
        ({"cell_rating_a": 50, "cell_resistance_ohm": 0.04}, "within_limit"),
        ({"cell_rating_a": 50, "cell_resistance_ohm": 0.04, "cell_temperature_c": 0}, "over_limit"),
    ],
)
def test_the_other_limits_at_the_lowest_resistance(ask, more, word):
    """4.2 V / 100 A are 0.042 Ω, less than the 0.045 Ω of the pack itself: near a short circuit."""
    got = ask("lowest-resistance", **CELL | more)
    assert [one.name for one in got.limits] == ["available_power", "charged_voltage"]
    assert got.verdict == word


def test_a_chemistry_nobody_named_gets_the_figure_for_a_higher_one(ask):
    """By hand: 4.35 V / 20 A are 0.2175 Ω; (0.2175 + 0.035) / 0.99 = 0.255, up to the last digit."""
    (said,) = [
        f for f in ask("lowest-resistance", **CELL).findings if f.rule == "chemistry-assumed"
    ]
    assert "4.35 V, the meter must show 0.26 Ω or more" in said.sentence


def test_each_way_of_sharing_is_named(ask):
    """By hand: 4.2 V over 3, 2.5 and 1 / 0.4157 cells of 10 A, and half a digit of a milliohm, rounded up."""
    meter = {"meter_accuracy": 0, "meter_counts": 0, "meter_resolution_ohm": 0.001}
    found = {
        f.rule: f.sentence
        for f in ask("lowest-resistance", layout="1S3P", cell_rating_a=10, **meter).findings
    }
    for ohms in ("0.141 Ω", "0.169 Ω", "0.176 Ω"):
        assert ohms in found["uneven-share"]


@pytest.mark.parametrize("sharing", ["careful", "allowance", {"spread": 0.1}])
def test_the_working_is_the_figures(ask, sharing):
    """Each step ends in a figure of the answer; a computed share shows how many cells it counts as."""
    got = ask("lowest-resistance", layout="2S3P", cell_rating_a=20, sharing=sharing)
    assert [step.result for step in got.working] == pytest.approx(
        [
            got.pack_highest_voltage_v,
            *([got.pack_current_limit_a / 20] if sharing != "allowance" else []),
            got.pack_current_limit_a,
            got.lowest_resistance_ohm,
            got.lowest_reading_ohm,
        ]
    )


def test_a_coil_over_another_limit_is_not_offered(ask):
    """A cell charged above its chemistry is overcharged: the headline says not to use the coil."""
    got = ask("lowest-resistance", layout="1S1P", cell_rating_a=20, cell_charged_voltage_v=4.5)
    assert got.headline.startswith("Over the limit: charged voltage. ")
    assert (
        "do not use a coil that reads 0.27 Ω, the least that the rating alone would" in got.headline
    )
