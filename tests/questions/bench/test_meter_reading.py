"""The reading that guarantees a resistance: by hand, and against its coil."""

import pytest

LIMIT = {"lowest_resistance_ohm": 0.3}


PERFECT = {"meter_accuracy": 0, "meter_counts": 0}


@pytest.mark.parametrize(
    ("meter", "reading_ohm", "true_ohm"),
    [
        pytest.param(PERFECT, 0.31, 0.305, id="by hand: half of the last digit of 10 mΩ on top"),
        pytest.param(
            PERFECT | {"meter_counts": 2}, 0.33, 0.305, id="by hand: two and a half counts of 10 mΩ"
        ),
        pytest.param(
            PERFECT | {"meter_counts": 2, "meter_resolution_ohm": 0.1},
            0.6,
            0.35,
            id="by hand: two and a half counts of 0.1 Ω",
        ),
        pytest.param(
            PERFECT | {"lead_resistance_ohm": 0.055},
            0.36,
            0.3,
            id="by hand: 55 mΩ of leads and half a digit are just 0.36 Ω",
        ),
        pytest.param(
            PERFECT | {"meter_accuracy": 0.02},
            0.32,
            0.3086,
            id="by hand: 0.305 Ω / 0.98 are 0.3112 Ω, up to 0.32 Ω, and 0.3136 − 0.005 Ω",
        ),
        pytest.param(
            {"meter_accuracy": 0.02, "meter_counts": 3, "lead_resistance_ohm": 0.05},
            0.4,
            0.307,
            id="by hand: 0.385 Ω / 0.98 are 0.3929 Ω, up to 0.4 Ω, and 0.392 − 0.035 − 0.05 Ω",
        ),
        pytest.param(
            {},
            0.34,
            0.3016,
            id="by hand, an ordinary meter of 1 % and 3 counts: 0.335 Ω / 0.99 are 0.3384 Ω",
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


def test_the_headline_names_the_meter(ask):
    """The reading holds for one meter, and one that was assumed is called so."""
    assert ask("meter-reading", **LIMIT).headline == (
        "A coil of at least 0.3 Ω and an ordinary meter, assumed to be off by 1 % and 3 counts of 0.01 Ω: the "
        "meter must show at least 0.34 Ω."
    )
    told = ask("meter-reading", **LIMIT, meter_accuracy=0.02, lead_resistance_ohm=0.05).headline
    assert told.startswith(
        "A coil of at least 0.3 Ω, a meter that may be off by 2 % and 3 counts of 0.01 Ω and 0.05 Ω in its "
        "leads: "
    )


@pytest.mark.parametrize("meter", [{}, {"meter_accuracy": 0.01, "meter_counts": 2}])
def test_a_coil_read_so_is_within(ask, meter):
    """A direct load of that reading has at least the limit, and one count less does not."""
    got = ask("meter-reading", **LIMIT, **meter)
    load = {"layout": "1S1P", "cell_rating_a": 20} | meter
    at, below = (
        ask("direct-load", **load, coil_reading_ohm=got.lowest_reading_ohm - less_ohm)
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
