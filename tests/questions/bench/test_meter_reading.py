"""The reading that guarantees a resistance: by hand, and against its coil."""

import pytest

LIMIT = {"lowest_resistance_ohm": 0.3}


@pytest.mark.parametrize(
    ("meter", "reading_ohm", "true_ohm"),
    [
        pytest.param({}, 0.3, 0.3, id="by hand: a perfect meter shows what there is"),
        pytest.param({"meter_counts": 2}, 0.32, 0.3, id="by hand: two counts of 10 mΩ on top"),
        pytest.param(
            {"meter_counts": 2, "meter_resolution_ohm": 0.1},
            0.5,
            0.3,
            id="by hand: two counts of 0.1 Ω on top",
        ),
        pytest.param(
            {"lead_resistance_ohm": 0.055},
            0.36,
            0.305,
            id="by hand: 55 mΩ of leads are 0.355 Ω, up to the last digit 0.36 Ω",
        ),
        pytest.param(
            {"meter_accuracy": 0.02},
            0.31,
            0.3038,
            id="by hand: 0.3 Ω / 0.98 are 0.3061 Ω, up to 0.31 Ω, of which 0.98 are 0.3038 Ω",
        ),
        pytest.param(
            {"meter_accuracy": 0.02, "meter_counts": 3, "lead_resistance_ohm": 0.05},
            0.39,
            0.3022,
            id="by hand: 0.38 Ω / 0.98 are 0.3878 Ω, up to 0.39 Ω, and 0.3822 − 0.03 − 0.05 Ω",
        ),
    ],
)
def test_by_hand(ask, meter, reading_ohm, true_ohm):
    """The reading is rounded up, and its lowest true resistance is not below the limit."""
    got = ask("meter-reading", **LIMIT, **meter)
    assert got.lowest_reading_ohm == reading_ohm
    assert got.lowest_true_resistance_ohm == pytest.approx(true_ohm)
    assert got.above_limit_ohm == pytest.approx(reading_ohm - 0.3)
    assert got.lowest_true_resistance_ohm >= 0.3 * (1 - 1e-9)


@pytest.mark.parametrize("meter", [{}, {"meter_accuracy": 0.01, "meter_counts": 2}])
def test_a_coil_read_so_is_within(ask, meter):
    """A direct load of that reading has at least the limit, and one count less does not."""
    got = ask("meter-reading", **LIMIT, **meter)
    load = {"layout": "1S1P", "cell_rating_a": 20} | meter
    at, below = (
        ask("direct-load", **load, coil_resistance_ohm=got.lowest_reading_ohm - less_ohm)
        for less_ohm in (0, 0.01)
    )
    assert at.lowest_true_resistance_ohm == pytest.approx(got.lowest_true_resistance_ohm)
    assert below.lowest_true_resistance_ohm < 0.3


def test_the_working_is_the_figures(ask):
    """The reading, and its lowest true resistance."""
    got = ask("meter-reading", **LIMIT, meter_counts=2)
    assert [step.result for step in got.working] == [
        got.lowest_reading_ohm,
        got.lowest_true_resistance_ohm,
    ]
