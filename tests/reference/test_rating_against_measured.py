"""Measured discharges of real cells: what they prove, and what they do not."""

import measured as data
import msgspec
import numpy as np
import pytest
from scipy.integrate import trapezoid

from percell.questions.bench.discharge_logs import DischargeLimits
from percell.questions.bench.discharge_test import QUESTION
from percell.web.csv_log import read_log

SOURCE = data.KNOWN[data.FREE].source


def measured(name):
    """Return a log as a question takes it."""
    rows = data.rows(data.FREE / f"{name}.csv")
    return {
        "time_s": rows["time_s"].tolist(),
        "voltage_v": rows["voltage_v"].tolist(),
        "current_a": rows["current_a"].tolist(),
        "temperature_c": rows["skin_temperature_c"].tolist(),
    }


def ask(*names, **given):
    logs = [measured(name) for name in names]
    # the rows of these copies are far apart
    body = {"logs": logs, "longest_gap_s": 600, **given}
    return QUESTION.answer(msgspec.convert(body, QUESTION.asked))


@pytest.mark.parametrize("source", [SOURCE])
def test_two_whole_discharges_prove_their_current(source):
    """Two cells at 2C from full to 2.5 V prove 5.2 A, at the peak that the data have, and SciPy's charge."""
    got = ask("cell_1_2c", "cell_2_2c", stop_voltage_v=2.5)
    assert got.rating.cell_rating_a == 5.2, source
    assert got.rating.repeats == 2
    one, two = measured("cell_1_2c"), measured("cell_2_2c")
    peak_c = max(one["temperature_c"] + two["temperature_c"])
    assert got.rating.peak_temperature_c == peak_c == pytest.approx(35.8, abs=0.1)
    charges_ah = [trapezoid(log["current_a"], log["time_s"]) / 3600 for log in (one, two)]
    assert got.profile.cell_capacity_ah == pytest.approx(min(charges_ah))
    assert min(charges_ah) == pytest.approx(2.5, abs=0.01)
    assert got.verdict == "within_limit"


@pytest.mark.parametrize("source", [SOURCE])
@pytest.mark.parametrize("name", ["cell_1_2c", "cell_2_2c", "pulses"])
@pytest.mark.parametrize("dialect", ["as it is", "semicolons, commas, negative, mV"])
def test_the_files_are_read_to_what_numpy_reads(source, name, dialect):
    """The files as they were published, and as another logger would write them: NumPy's numbers, beyond doubt."""
    text = (data.FREE / f"{name}.csv").read_text("utf-8")
    if dialect != "as it is":
        names, *rows = [line.split(",") for line in text.splitlines()]
        at = {column: names.index(column) for column in names}
        text = "Zeit [min];Strom [A];Spannung [mV];Temperatur [K]\n" + "".join(
            f"{float(row[at['time_s']]) / 60:.9f};{-float(row[at['current_a']]):.4f};"
            f"{float(row[at['voltage_v']]) * 1000:.1f};{float(row[at['skin_temperature_c']]) + 273.15:.2f}\n"
            for row in rows
        ).replace(".", ",")
    log = read_log([text.encode()], DischargeLimits(longest_gap_s=600))
    assert log.read_as.doubtful == [], source
    for column, values in measured(name).items():
        assert log.measured[column] == pytest.approx(np.array(values), abs=1e-6), column


@pytest.mark.parametrize("source", [SOURCE])
@pytest.mark.parametrize(
    "names", [("cell_1_2c",), ("cell_1_2c", "cell_1_2c"), ("pulses", "pulses")]
)
def test_one_discharge_a_copy_and_pulses_prove_none(source, names):
    """The same data prove nothing alone, twice, or in pulses."""
    got = ask(*names)
    assert not got.rating, source
    assert got.verdict == "not_judged"


@pytest.mark.parametrize("source", [SOURCE])
@pytest.mark.parametrize("name", ["cell_1_2c", "cell_2_2c"])
@pytest.mark.parametrize(
    ("rows", "digits"),
    [
        (slice(1, None), 9),
        (slice(None, None, 2), 9),
        (slice(1, None, 2), 9),
        (slice(2, -9), 9),
        (slice(None), 2),
    ],
)
def test_two_exports_of_a_real_discharge_are_one(source, name, rows, digits):
    """Rows left out at either end or in between, or fewer digits: the second export proves nothing."""
    one = measured(name)
    again = {column: values[rows] for column, values in one.items()}
    again["voltage_v"] = np.round(again["voltage_v"], digits).tolist()
    body = {"logs": [one, again], "longest_gap_s": 600, "stop_voltage_v": 2.5, "log_start": "full"}
    got = QUESTION.answer(msgspec.convert(body, QUESTION.asked))
    assert got.logs[1].same_as_log_number == 1, source
    assert not got.rating


@pytest.mark.parametrize("source", [SOURCE])
def test_resistance_at_the_load_is_that_of_pulses_near_half_charge(source):
    """The first step of a whole discharge shows what NumPy finds in a pulse at half charge, within a tenth."""
    rows = measured("pulses")
    time_s, volts, amps = (np.array(rows[name]) for name in ("time_s", "voltage_v", "current_a"))
    charge = np.concatenate(([0], np.cumsum(np.diff(time_s) * (amps[1:] + amps[:-1]) / 2)))
    begins = np.flatnonzero((amps[1:] > 1.0) & (amps[:-1] < 0.1) & (np.diff(time_s) <= 12))
    ohms = [
        (volts[i] - volts[i + 1]) / (amps[i + 1] - amps[i])
        for i in begins
        if charge[i] < 0.8 * charge[-1]
    ]
    assert ohms, source
    got = ask("cell_1_2c", "cell_2_2c")
    assert got.profile.cell_resistance_ohm == pytest.approx(np.median(ohms), rel=0.1)
