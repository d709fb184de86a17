"""A copy of a log is one discharge with it, and another discharge of the cell is not."""

import numpy as np
import pytest

from percell.physics import log_curve
from percell.physics.log_curve import Curve, same_discharge, thinned


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
        of(curve(), slice(240, None)),
        of(curve(), slice(None, -240)),
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


@pytest.mark.parametrize(
    ("wave_v", "warmer_c", "same"),
    [(0.005, 0.0, False), (0.003, 0.0, True), (0.003, 0.06, True), (0.003, 0.08, False)],
)
def test_curves_of_another_shape(wave_v, warmer_c, same):
    """A mean difference above 2 mV is another discharge at any temperature; below, 0.07 K decide."""
    other = curve()
    wave = wave_v * np.sin(
        np.linspace(0.0, 40.0, 600)
    )  # its mean, the worst tenth left out, is 0.58 of it
    other = other._replace(
        voltage_v=other.voltage_v + wave, temperature_c=other.temperature_c + warmer_c
    )
    assert same_discharge(one=curve(), other=other) is same


def test_voltages_decide_alone_where_one_log_has_no_temperature():
    """A copy could have lost its temperatures, so it counts as the same discharge."""
    other = curve(shift_v=0.002)._replace(temperature_c=None)
    assert same_discharge(one=curve(), other=other)
    assert same_discharge(one=other, other=curve())


def test_a_curve_goes_from_the_first_loaded_row_to_the_last():
    """Rests before and after are left out; a pause within it adds no charge, whatever the ammeter's offset."""
    log = log_curve.curve(
        time_s=np.arange(7.0),
        voltage_v=np.array([4.2, 4.0, 3.9, 4.1, 3.8, 3.7, 3.9]),
        current_a=np.array([0.0, 2.0, 2.0, -0.05, 2.0, 1.0, 0.0]),
        temperature_c=np.arange(20.0, 27.0),
    )
    assert log.charge_as.tolist() == [0.0, 2.0, 3.0, 4.0]
    assert log.voltage_v.tolist() == [4.0, 3.9, 4.1, 3.8]
    assert log.temperature_c.tolist() == [21.0, 22.0, 23.0, 24.0]


def test_a_thinned_curve_keeps_its_ends_and_equal_steps():
    """Of 600 rows at most 5 stay: the first, the last, and those at each quarter of the charge."""
    got = thinned(log=curve(), most=5)
    assert got.charge_as == pytest.approx(9000 * np.array([0, 0.25, 0.5, 0.75, 1]), abs=9000 / 599)
    assert len(got.voltage_v) == len(got.temperature_c) == 5


@pytest.mark.parametrize(("rows", "same"), [(270, False), (330, True)])
def test_a_copy_of_less_than_half_is_not_compared(rows, same):
    """Of 600 rows of even charge, 270 are less than a half and 330 are more."""
    assert same_discharge(one=curve(), other=of(curve(), slice(None, rows))) is same
    assert same_discharge(one=of(curve(), slice(None, rows)), other=curve()) is same


def test_two_halves_of_a_discharge_share_too_little_to_compare():
    """What two logs have in common must be half of the longer one."""
    log = curve()
    assert not same_discharge(one=of(log, slice(None, 300)), other=of(log, slice(300, None)))
