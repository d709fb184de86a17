"""What measured cells have in common, by hand; tests/reference holds it to the measurements."""

import numpy as np
import pytest

from percell.physics import measured_cells as cells


@pytest.mark.parametrize(
    ("current_a", "loss_v"),
    # 40 mΩ: 32 mV an ampere at once, as much again up to 100 mV, at 3.125 A
    [(0.0, 0.0), (1.0, 0.064), (3.0, 0.192), (3.125, 0.2), (4.0, 0.228), (10.0, 0.42)],
)
def test_the_loss_of_minutes_by_hand(current_a, loss_v):
    """A part of I·R at once, and as much again that stops growing."""
    got = cells.lasting_loss_v(current_a=current_a, resistance_ohm=0.04)
    assert got == pytest.approx(loss_v, abs=1e-12)


@pytest.mark.parametrize(
    ("current_a", "heat_w"),
    # 40 mΩ: twice I²R up to 3.75 A, where I·R is 150 mV; above that 150 mV more than I·R
    [(0.0, 0.0), (1.0, 0.08), (3.75, 1.125), (4.0, 1.24), (10.0, 5.5)],
)
def test_the_heat_of_minutes_by_hand(current_a, heat_w):
    """Twice I²R, and at high currents I²R and a voltage that stops growing."""
    got = cells.lasting_heat_w(current_a=current_a, resistance_ohm=0.04)
    assert got == pytest.approx(heat_w, abs=1e-12)


def test_heat_is_never_less_than_the_loss_of_a_pulse():
    """More heats a cell than I²R, and no more than twice that."""
    amps = np.linspace(0.01, 50, 200)
    pulse_w = amps**2 * 0.03
    heat_w = cells.lasting_heat_w(current_a=amps, resistance_ohm=0.03)
    assert np.all(heat_w > pulse_w)
    assert np.all(heat_w <= 2 * pulse_w * (1 + 1e-12))


def test_the_highest_loss_is_more_than_that_of_a_pulse_and_of_a_running_time():
    """A sag of minutes is never milder than what a running time counts, nor than the one within seconds."""
    amps = np.linspace(0.01, 50, 200)
    highest_v = cells.highest_loss_v(current_a=amps, resistance_ohm=0.03)
    assert np.all(highest_v > amps * 0.03)
    assert np.all(highest_v > cells.lasting_loss_v(current_a=amps, resistance_ohm=0.03))


@pytest.mark.parametrize(
    ("after_s", "ohm"),
    # straight in the logarithm: half way from 0.1 to 1 s, in it, is 0.316 s
    [(0.1, 0.051), (10**-0.5, 0.04425), (1.0, 0.0375), (5.0, 0.033), (10.0, 0.03), (60.0, 0.03)],
)
def test_a_resistance_that_was_read_earlier_counts_as_more(after_s, ohm):
    """30 mΩ, read so long after the step."""
    got = cells.ten_second_resistance_ohm(resistance_ohm=0.03, after_s=after_s)
    assert got == pytest.approx(ohm, rel=1e-12)


@pytest.mark.parametrize(
    ("capacity_ah", "rating_a", "ohm"),
    [
        (3.0, 1e-9, 0.04),  # no rating known
        (3.0, 27.5, 0.04),  # just where the rating begins to say more: 1.1 V / 27.5 A
        (3.0, 32.0, 0.0344),  # 1.1 V / 32 A, rounded up
        (3.0, 40.0, 0.03),  # the best that is believed: 0.09 Ω·Ah
        (3.0, 500.0, 0.03),
        (1.5, 1e-9, 0.08),
    ],
)
def test_a_resistance_that_nobody_measured_by_hand(capacity_ah, rating_a, ohm):
    """High: 0.12 Ω·Ah over the capacity, less for a high rating, and 0.09 Ω·Ah at the least."""
    known = {"capacity_ah": capacity_ah, "rating_a": rating_a}
    assert cells.usual_resistance_ohm(**known) == pytest.approx(ohm, rel=1e-12)
    assert cells.low_resistance_ohm(**known) == pytest.approx(ohm / 2, rel=1e-12)


@pytest.mark.parametrize(
    ("function", "argument", "value", "ratio"),
    [
        (cells.temperature_ratio, "temperature_c", -40.0, 6.1),
        (cells.temperature_ratio, "temperature_c", -15.0, 4.95),
        (cells.temperature_ratio, "temperature_c", 5.0, 1.875),
        (cells.temperature_ratio, "temperature_c", 25.0, 1.0),
        (cells.temperature_ratio, "temperature_c", 60.0, 0.89),
        (cells.usable_at, "temperature_c", -40.0, 0.56),
        (cells.usable_at, "temperature_c", -5.0, 0.805),
        (cells.usable_at, "temperature_c", 40.0, 1.0),
        (cells.emptying_ratio, "state_of_charge", 0.0, 5.5),
        (cells.emptying_ratio, "state_of_charge", 0.015, 4.95),
        (cells.emptying_ratio, "state_of_charge", 0.055, 3.45),
        (cells.emptying_ratio, "state_of_charge", 1.0, 1.0),
        (cells.emptying_ratio_at_rest, "open_circuit_voltage_v", 2.5, 5.5),
        (cells.emptying_ratio_at_rest, "open_circuit_voltage_v", 3.115, 4.95),
        (cells.emptying_ratio_at_rest, "open_circuit_voltage_v", 3.23, 4.4),
        (cells.emptying_ratio_at_rest, "open_circuit_voltage_v", 3.345, 2.5),
        (cells.emptying_ratio_at_rest, "open_circuit_voltage_v", 4.2, 1.0),
        (cells.aged_ratio, "health", 1.0, 1.0),
        (cells.aged_ratio, "health", 0.6, 2.8),
    ],
)
def test_ratios_by_hand(function, argument, value, ratio):
    """Straight between the places of a table, and held outside them; an array gives an array."""
    assert function(**{argument: value}) == pytest.approx(ratio, rel=1e-12)
    several = function(**{argument: np.array([value, value])})
    np.testing.assert_allclose(several, [ratio, ratio])


def test_the_constants_of_the_fit_are_parts():
    """What is used of a charge is a part of it, and a resistance is taken from the first place of its table on."""
    assert 0.5 < cells.USABLE_CHARGE < 1.0
    assert cells.SOONEST_S == 0.1


@pytest.mark.parametrize(
    ("at_c", "volts"),
    [(60, 0), (26, 0), (25, 0), (22, 0.05), (17.5, 0.125), (10, 0.25), (9, 0.25), (-20, 0.25)],
)
def test_a_cold_cell_is_read_at_a_lower_voltage(at_c, volts):
    """From 25 °C, where nothing is taken off, straight to a quarter of a volt at 10 °C, and no more below."""
    got = cells.emptier_in_the_cold_v(temperature_c=at_c)
    assert got == pytest.approx(volts, abs=1e-12)
    both = cells.emptier_in_the_cold_v(temperature_c=np.array([at_c, 10.0]))
    assert both == pytest.approx([volts, 0.25], abs=1e-12)
