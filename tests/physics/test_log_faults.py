"""The faults of a discharge log are named with their rows, and a sound log has none."""

import numpy as np
import pytest

from percell.physics import discharge_log, log_faults
from percell.physics.log_faults import LogFault


def log(rows=12, **changed):
    """Make a sound log, and put other columns in."""
    columns = {
        "time_s": np.arange(rows) * 10.0,
        "voltage_v": np.linspace(4.1, 3.1, rows),
        "current_a": np.full(rows, 5.0),
        "temperature_c": np.linspace(25.0, 45.0, rows),
    }
    return columns | changed


def faults(columns, longest_gap_s=60.0, most=20):
    return log_faults.faults(**columns, longest_gap_s=longest_gap_s, most=most)


def with_value(values, row, value):
    """Change the value in a row, counted from 1."""
    changed = values.copy()
    changed[row - 1] = value
    return changed


@pytest.mark.parametrize(
    ("highest_a", "offset_a"), [(0.1, 0.01), (0.5, 0.05), (2.0, 0.05), (5.0, 0.05), (12.0, 0.12)]
)
def test_offset_at_rest(highest_a, offset_a):
    """Up to 0.05 A, or a hundredth of the highest current, but never more than a tenth of it."""
    assert discharge_log.offset_a(highest_a=highest_a) == pytest.approx(offset_a)
    columns = log(current_a=with_value(np.full(12, highest_a), 1, -offset_a))
    assert faults(columns) == []
    (fault,) = faults(
        columns | {"current_a": with_value(columns["current_a"], 1, -1.01 * offset_a)}
    )
    assert fault.row == 1
    assert "charges the cell" in fault.message


def test_sound_log_has_no_faults():
    """A good log is taken, with and without temperature, and with rests in it."""
    assert faults(log()) == []
    assert faults(log(temperature_c=None)) == []
    assert faults(log(current_a=with_value(np.full(12, 5.0), 4, 0.0))) == []
    # the least that counts: a millionth of a second, a thousandth of an ampere; and any voltage above 0 V
    assert faults(log(3, time_s=np.array([0.0, 1e-6, 1.0]))) == []
    assert faults(log(current_a=np.full(12, 1e-3))) == []
    assert faults(log(voltage_v=np.linspace(0.004, 0.001, 12))) == []


@pytest.mark.parametrize(("current_a", "sound"), [(1000.0, True), (1000.1, False)])
def test_a_charge_that_no_cell_holds_is_a_fault(current_a, sound):
    """1000 A for 360 s are 100 Ah, by hand: milliamperes in a column of amperes, more likely."""
    columns = log(37, current_a=np.full(37, current_a))
    found = faults(columns)
    assert [fault.column for fault in found] == ([] if sound else ["current_a"])
    assert sound or "look at the units" in found[0].message
    assert sound or found[0].row == 0


@pytest.mark.parametrize(
    ("current_a", "rest_a", "sound"), [(986.3, 0.0, True), (986.4, -9.0, False)]
)
def test_a_rest_adds_no_charge_and_takes_none(current_a, rest_a, sound):
    """Half a step to the rest makes 365 s of load, just below or above 100 Ah, whatever flows after it."""
    columns = log(67, current_a=np.r_[np.full(37, current_a), np.full(30, rest_a)])
    assert (faults(columns) == []) is sound


@pytest.mark.parametrize(
    ("voltage_v", "current_a", "falls"),
    [
        (np.linspace(4.1, 3.1, 12), np.full(12, 5.0), True),
        (np.linspace(3.1, 4.1, 12), np.full(12, 5.0), False),  # a charge
        (np.full(12, 4.0), np.full(12, 5.0), False),  # a supply
        (np.full(12, 2.9), np.linspace(4.1, 3.1, 12), False),  # columns that were swapped
        (np.array([4.0, *[3.9979] * 11]), np.array([0, *[0.1] * 11]), True),  # 2 mV, from rest
        (np.array([4.0, *[3.9981] * 11]), np.array([0, *[0.1] * 11]), False),
    ],
)
def test_a_voltage_that_does_not_fall_is_no_discharge(voltage_v, current_a, falls):
    """From rest, or else from the first tenth of the load, to the last tenth, by 2 mV or more."""
    found = faults(log(voltage_v=voltage_v, current_a=current_a))
    assert [(fault.row, fault.column) for fault in found] == ([] if falls else [(0, "voltage_v")])
    assert falls or "no discharge" in found[0].message
    # another fault comes alone, because it may be the reason
    late = faults(log(time_s=np.arange(12) * 100.0, voltage_v=voltage_v, current_a=current_a))
    assert {fault.column for fault in late} == {"time_s"}


@pytest.mark.parametrize(
    ("column", "row", "value", "message"),
    [
        ("time_s", 4, 20.0, "time does not rise: 20 s after 20 s"),
        ("time_s", 4, 15.0, "time does not rise: 15 s after 20 s"),
        ("voltage_v", 5, float("nan"), "voltage is not a finite number"),
        ("current_a", 1, float("inf"), "current is not a finite number"),
        ("temperature_c", 12, float("-inf"), "temperature is not a finite number"),
        ("voltage_v", 6, 0.0, "voltage of 0 V is not above zero"),
        ("current_a", 7, -0.5, "current of -0.5 A charges the cell"),
        ("current_a", 7, -0.051, "current of -0.051 A charges the cell"),
        ("time_s", 12, 200.0, "gap of 100 s, longer than 60 s"),
    ],
)
def test_fault_names_its_row(column, row, value, message):
    """Each fault is told with the number of its row."""
    columns = log()
    columns[column] = with_value(columns[column], row, value)
    assert faults(columns) == [LogFault(row, column, message)]


@pytest.mark.parametrize(("gap_s", "fault"), [(59.9, False), (60.0, False), (60.1, True)])
def test_gap_just_below_at_and_above_the_limit(gap_s, fault):
    """A gap of just the limit is still taken."""
    columns = log(4, time_s=np.array([0.0, 10.0, 10.0 + gap_s, 20.0 + gap_s]))
    assert bool(faults(columns)) == fault


@pytest.mark.parametrize("rows", [0, 1, 2])
def test_short_log_is_a_fault(rows):
    """An empty or too short log is one fault of the whole."""
    assert faults(log(rows)) == [LogFault(0, "", f"a log needs 3 rows or more, this has {rows}")]


def test_faults_of_the_whole_log():
    """Columns of unequal length, no current at all, and a log with its sign turned are told."""
    assert faults(log(voltage_v=np.ones(11))) == [
        LogFault(0, "voltage_v", "voltage has 11 rows, time has 12")
    ]
    assert faults(log(current_a=np.zeros(12))) == [LogFault(0, "current_a", "no current flows")]
    for current_a in (-5.0, -0.5):
        (fault,) = faults(log(current_a=np.full(12, current_a)))
        assert fault.row == 1
        assert "turn the sign" in fault.message


def test_faults_are_counted_and_in_order():
    """No more faults are told than asked for, the earliest rows first."""
    columns = log(voltage_v=np.full(12, -1.0), time_s=np.zeros(12))
    got = faults(columns, most=5)
    assert len(got) == 5
    assert got == sorted(got)
    assert got[0].row == 1
