"""A copy of a log is one discharge with it, and another discharge of the cell is not."""

import numpy as np
import pytest

from percell.physics.log_curve import Curve, same_discharge


def curve(shift_v=0.0, digits=9):
    """A discharge of 600 rows whose voltage falls faster and faster."""
    part = np.linspace(0.0, 1.0, 600)
    volts = 4.05 - 0.7 * part - 0.4 * part**8 + shift_v * part
    return Curve(9000 * part, np.round(volts, digits), 22 + 30 * part**1.5)


def of(log, rows):
    """Return a copy of some rows of a curve; the charge counts from the first of them."""
    charge_as, voltage_v, temperature_c = (column[rows] for column in log)
    return Curve(charge_as - charge_as[0], voltage_v, temperature_c)


@pytest.mark.parametrize(
    "copy",
    [
        curve(),
        of(curve(), slice(1, None)),
        of(curve(), slice(None, -1)),
        of(curve(), slice(None, None, 2)),
        of(curve(), slice(1, None, 3)),
        of(curve(), slice(40, -30)),
        curve(shift_v=1e-6),
        curve(digits=2),
        curve()._replace(temperature_c=np.full(600, 40.0)),
    ],
)
def test_copies_are_one_discharge(copy):
    """A row more or less, every second row, another digit or temperature: still the same discharge."""
    assert same_discharge(one=curve(), other=copy)
    assert same_discharge(one=copy, other=curve())


@pytest.mark.parametrize(
    ("shift_v", "warmer_c", "same"),
    [(0.03, 0.0, False), (0.002, 0.5, False), (0.002, 0.0, True), (0.0005, 5.0, True)],
)
def test_curves_just_near_and_far(shift_v, warmer_c, same):
    """Millivolts apart they are two; by less, the temperatures decide; by next to nothing, they are one."""
    other = curve(shift_v=shift_v)
    other = other._replace(temperature_c=other.temperature_c + warmer_c)
    assert same_discharge(one=curve(), other=other) is same


def test_two_halves_of_a_discharge_share_too_little_to_compare():
    log = curve()
    assert not same_discharge(one=of(log, slice(None, 300)), other=of(log, slice(300, None)))
