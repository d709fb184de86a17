"""The heat of a lasting load against measured discharges of real cells."""

import measured as data
import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid, trapezoid

from percell.physics import heat

SOURCE = data.KNOWN[data.FREE].source


def measured(name):
    """Return time, current, voltage and the charge drawn so far."""
    rows = data.rows(data.FREE / f"{name}.csv")
    time_s, current_a = rows["time_s"], rows["current_a"]
    drawn_ah = cumulative_trapezoid(current_a, time_s, initial=0) / 3600
    return time_s, current_a, rows["voltage_v"], drawn_ah


def rests_and_steps():
    """Return charge and voltage at the end of each rest, and the resistance of each step after it."""
    time_s, current_a, voltage_v, drawn_ah = measured("pulses")
    last = np.flatnonzero((np.abs(current_a[:-1]) < 0.05) & (current_a[1:] > 1))
    at_once = last[np.diff(time_s)[last] <= 20]
    steps_ohm = (voltage_v[at_once] - voltage_v[at_once + 1]) / current_a[at_once + 1]
    return drawn_ah[last], voltage_v[last], steps_ohm


@pytest.mark.parametrize("source", [SOURCE])
@pytest.mark.parametrize("name", ["cell_1_2c", "cell_2_2c"])
def test_a_whole_discharge_heats_more_than_a_pulse(source, name):
    """Current times the distance from the rest voltage, over I²r with r of steps of some 10 s, is in the range."""
    rest_ah, rest_v, steps_ohm = rests_and_steps()
    assert len(rest_v) >= 10, source
    time_s, current_a, voltage_v, drawn_ah = measured(name)
    lost_w = current_a * (np.interp(drawn_ah, rest_ah, rest_v) - voltage_v)
    pulse_w = heat.cell_loss_w(current_a=current_a, resistance_ohm=float(np.median(steps_ohm)))
    ratio = trapezoid(lost_w, time_s) / trapezoid(pulse_w, time_s)
    lowest, highest = heat.LASTING_LOSS
    assert lowest < 1 < ratio < highest, source
