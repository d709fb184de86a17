"""Internal resistance and uncertainty against published examples."""

from math import sqrt

import pytest

from percell.physics import resistance
from percell.physics.resistance import Meter

PHYSICS_2 = "OpenStax University Physics Vol. 2"


@pytest.mark.parametrize(
    ("source", "readings", "resistance_ohm", "within_ohm"),
    [
        (
            f"{PHYSICS_2}, m58453, problem: 2.00 V less at 5.00 A more",
            (0.0, 12.0, 5.0, 10.0),
            0.400,
            1e-12,
        ),
        (
            f"{PHYSICS_2}, m58453, example: 12.00 V open, 10.00 V at 20.00 A",
            (0.0, 12.00, 20.00, 10.00),
            0.100,
            1e-12,
        ),
        (
            f"{PHYSICS_2}, m58453, example: 11.90 V at 1.188 A and 10.00 V at 20.00 A",
            (1.188, 11.90, 20.00, 10.00),
            0.100,
            0.002,
        ),
        (
            "OpenStax College Physics, m42357: starter, 12.0 V open, 10.0 V at 200 A",
            (0.0, 12.0, 200.0, 10.0),
            0.0100,
            1e-12,
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_published_two_loads(source, readings, resistance_ohm, within_ohm):
    """Two published points of a source give its published internal resistance."""
    got = resistance.two_load_resistance_ohm(
        first_current_a=readings[0],
        first_voltage_v=readings[1],
        second_current_a=readings[2],
        second_voltage_v=readings[3],
    )
    assert got == pytest.approx(resistance_ohm, abs=within_ohm), source


@pytest.mark.parametrize(
    ("source", "meter", "reading", "limit"),
    [
        (
            "meter statement 1 % + 2 counts on 100.0 V: 98.8 to 101.2 V (secondary copy)",
            Meter(0.01, 2, 0.1),
            100.0,
            1.2,
        ),
        (
            "meter statement 1 % + 3 counts on 120.0 V: 1.5 V (secondary copy)",
            Meter(0.01, 3, 0.1),
            120.0,
            1.5,
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_published_meter_statement(source, meter, reading, limit):
    """A statement of percent and counts is the published number of volts."""
    assert meter.limit(reading) == pytest.approx(limit), source


@pytest.mark.parametrize(
    "source", ["Eurachem guide, E.1: rectangular ±1.5 has standard uncertainty 0.87"]
)
def test_published_rectangle(source):
    """One unsure voltage of ±1.5 V at a step of 1 A makes 0.87 ohm of standard uncertainty."""
    # the lower voltage is 0, so that a statement in parts of the reading leaves it exact
    got = resistance.two_load_uncertainty(
        first_current_a=0.0,
        first_voltage_v=3.0,
        second_current_a=1.0,
        second_voltage_v=0.0,
        voltmeter=Meter(0.5, 0, 0.1),
        ammeter=Meter(0.0, 0, 0.1),
    )
    assert got.expanded_ohm / resistance.COVERAGE == pytest.approx(0.87, abs=0.005), source
    assert got.expanded_ohm == pytest.approx(2 * 1.5 / sqrt(3.0))


@pytest.mark.parametrize(
    "source", ["IEC 61960-3: 0.2 It for 10 s, then 1 It for 1 s (secondary copy)"]
)
def test_standard_steps(source):
    """A cell of 2.5 Ah is loaded with 0.5 A and then with 2.5 A."""
    assert resistance.standard_steps_a(capacity_ah=2.5) == pytest.approx((0.5, 2.5)), source
    assert (resistance.FIRST_STEP_S, resistance.SECOND_STEP_S) == (10.0, 1.0)
