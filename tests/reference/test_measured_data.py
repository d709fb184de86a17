"""The measured data are what their folders say: read by hand, summed by SciPy, and by a cell made up for it."""

from pathlib import Path

import make_measured_2900mah
import measured
import numpy as np
import pytest
from scipy.integrate import trapezoid

ROOT = Path(__file__).parents[2]
DISCHARGES = measured.discharges()
NAMES = [f"{one.cell} at {one.rate:g}C" for one in DISCHARGES]
CUTOFFS_V = (2.5, 2.8, 3.0, 3.2, 3.4)


def in_a_source_distribution():
    """A source distribution has a PKG-INFO at its root; a working copy has none."""
    return (ROOT / "PKG-INFO").exists()


def test_the_share_alike_folder_is_missing_only_from_a_source_distribution():
    """What leaves it out must not happen to leave it out of a run on the repository."""
    assert measured.SHARE_ALIKE.exists() != in_a_source_distribution()


def test_every_file_is_a_discharge_or_a_record_of_pulses():
    """A file whose name is not understood would silently drop out."""
    folders = [folder for folder in measured.KNOWN if folder.exists()]
    files = [file for folder in folders for file in folder.glob("*.csv")]
    others = [file for file in files if file.stem in ("pulses", "cell_1_random")]
    assert len(DISCHARGES) == len(files) - len(others)
    assert len(DISCHARGES) == (8 if in_a_source_distribution() else 13)


@pytest.mark.parametrize("folder", [*measured.KNOWN, measured.FIGURES.parent], ids=lambda f: f.name)
def test_every_folder_says_its_source_and_licence(folder):
    """A copy keeps its notice."""
    if folder == measured.SHARE_ALIKE and in_a_source_distribution():
        assert not folder.exists()
        return
    known = measured.KNOWN.get(folder) or measured.figures()
    source, licence = (
        (known[key] for key in ("source", "licence")) if isinstance(known, dict) else known[2:]
    )
    text = (folder / "README.md").read_text("utf-8")
    assert licence.split(",")[0] in text
    assert source.split(",")[0] in text
    if folder == measured.FREE:
        assert "Permission is hereby granted, free of charge" in text


@pytest.mark.parametrize("one", DISCHARGES, ids=NAMES)
def test_a_discharge_begins_under_load_and_ends_below_its_end(one):
    """The rest is left out, its offset with it; the row beyond the end voltage is kept."""
    asked_a = one.rate * one.capacity_ah
    # the ammeter of one of them scatters by some 10 mA
    assert one.current_a == pytest.approx(asked_a, rel=0.02, abs=0.02)
    assert 0 < one.time_s[0] <= 10
    assert np.all(np.diff(one.time_s) > 0)
    assert one.voltage_v[0] < one.rest_voltage_v < 4.2
    assert 2.49 < one.voltage_v[-1] <= 2.5 < one.voltage_v[-2]


@pytest.mark.parametrize("one", DISCHARGES, ids=NAMES)
def test_charge_and_energy_are_those_of_scipy(one):
    """To the end voltage, beside the trapezoids of SciPy from the row at rest on."""
    got = measured.drawn(one, 2.5)
    time_s = np.concatenate(([0.0], one.time_s))
    current_a = np.concatenate((one.current_a[:1], one.current_a))
    power_w = current_a * np.concatenate((one.voltage_v[:1], one.voltage_v))
    assert got.seconds == pytest.approx(one.time_s[-1], rel=1e-3)
    assert got.charge_ah == pytest.approx(trapezoid(current_a, time_s) / 3600, rel=2e-3)
    assert got.energy_wh == pytest.approx(trapezoid(power_w, time_s) / 3600, rel=2e-3)


@pytest.mark.parametrize("one", DISCHARGES, ids=NAMES)
def test_the_time_to_a_cutoff_is_that_of_numpy(one):
    """Where NumPy finds the voltage between two rows, on a discharge that falls all the way."""
    falling = np.minimum.accumulate(one.voltage_v)
    for cutoff_v in CUTOFFS_V:
        by_numpy_s = np.interp(-cutoff_v, -falling, one.time_s)
        assert measured.drawn(one, cutoff_v).seconds == pytest.approx(by_numpy_s, rel=1e-3)
    assert measured.drawn(one, 2.4) is None


@pytest.mark.parametrize(
    ("rate", "peak_c"), [(1.0, 33.75), (2.0, 44.16), (3.0, 54.24), (4.0, 63.91)]
)
def test_the_share_alike_cell_warms_as_its_files_say(rate, peak_c):
    """The last temperature of each file, read by eye."""
    found = [one for one in DISCHARGES if (one.rating_a, one.rate) == (15.0, rate)]
    assert len(found) == (0 if in_a_source_distribution() else 1)
    assert all(one.skin_c.max() == peak_c for one in found)


def test_the_runs_hold_series_and_derived_figures():
    """Each discharge, new and aged, to each cut-off, and none to one that it never met."""
    runs = measured.runs(CUTOFFS_V)
    assert len(runs) == (len(DISCHARGES) + 4) * len(CUTOFFS_V)
    assert sum(run.health < 1 for run in runs) == 2 * len(CUTOFFS_V)
    assert measured.runs([2.4]) == []
    # by hand: 2.9 Ah at 1C, 2.899 A for 3,474.3 s
    (longest,) = (run for run in runs if run[:2] == ("2.9 Ah", 2.9) and run.seconds > 3450)
    assert longest.charge_ah == pytest.approx(2.899 * 3474.3 / 3600, rel=1e-3)


def test_the_derived_figures_are_those_that_others_read_from_the_data():
    """Resistance and charge by temperature, as a second reading of the same data gave them.

    Mean of 30 to 80 % of the charge at 2.9 A: 31.7 and 40.1 mΩ after 1 and 10 s at 25 °C, times 1.45 and
    1.40 at 10 °C, 2.3 and 2.1 at 0 °C, 3.8 and 3.4 at −10 °C, 6.1 and 5.5 at −20 °C; the charge above 2.5 V
    at 2C 0.89, 0.83, 0.78 and 0.56 of that at 25 °C.
    """
    got = measured.figures()
    at_1c = {
        row["chamber_c"]: row["milliohm_after_s"]
        for row in got["resistance_by_temperature"]
        if row["rate"] == 1
    }
    assert (at_1c[25]["1"], at_1c[25]["10"]) == (31.7, 40.1)
    for chamber_c, after_1_s, after_10_s in (
        (10, 1.45, 1.40),
        (0, 2.3, 2.1),
        (-10, 3.8, 3.4),
        (-20, 6.1, 5.5),
    ):
        assert at_1c[chamber_c]["1"] / 31.7 == pytest.approx(after_1_s, abs=0.05)
        assert at_1c[chamber_c]["10"] / 40.1 == pytest.approx(after_10_s, abs=0.05)
    charge = [row["of_25_c"] for row in got["charge_at_2c_by_temperature"]]
    assert charge == pytest.approx([1, 0.89, 0.83, 0.78, 0.56], abs=5e-3)


# a made-up cell: 3 Ah, a rest voltage that falls in a straight line, and one resistance by temperature
FULL_V, PER_AH_V, IDEAL_AH, IDEAL_OHM = 4.2, 0.5, 3.0, 0.05
PULSES_AH = (0.1, 0.8, 1.3, 1.8, 2.2)


def ideal_discharge(current_a, stretch, rest):
    """Return the rows of a discharge down to 2.5 V and beyond, of a cell that ``stretch`` made smaller."""
    time_s = np.linspace(0, 1.3 * IDEAL_AH / current_a * 3600, 4000)
    drawn_ah = current_a * time_s / 3600
    voltage_v = FULL_V - PER_AH_V * drawn_ah / stretch - current_a * IDEAL_OHM
    amps = np.full_like(time_s, current_a)
    if rest:
        amps[0], voltage_v[0] = 0.0, FULL_V
    kept = np.concatenate(([True], voltage_v[:-1] > 2.5))
    columns = (time_s, amps, voltage_v, np.full_like(time_s, 30.0), np.full_like(time_s, 25.0))
    return np.column_stack(columns)[kept]


@pytest.fixture
def ideal(tmp_path):
    """Return a folder in the form of the original, of the made-up cell."""

    def save(name, header, table):
        np.savetxt(
            tmp_path / name, table, delimiter=",", header=header, comments="", encoding="utf-8"
        )

    columns = "time_s,current_a,voltage_v,skin_temperature_c,ambient_temperature_c"
    for name, stretch in (("new_a", 1.0), ("new_b", 1.0), ("aged_a", 0.9), ("aged_b", 0.8)):
        save(f"1C_{name}.csv", columns, ideal_discharge(2.9, stretch, rest=False))
    save("C20_after_9_weeks.csv", columns, ideal_discharge(0.145, 1.0, rest=True))
    pulses = [
        # one of 6C met the end of discharge in the cold: it has no value after 10 s
        [c, c, ah, amps, 10 if ok else 3, 4, *([mohm] * 4), mohm if ok else np.nan]
        for c, mohm in ((25, 1e3 * IDEAL_OHM), (-10, 3e3 * IDEAL_OHM))
        for ah in PULSES_AH
        for amps in (1.45, 2.9, 5.8, 11.6, 17.4)
        if (ok := c > 0 or ah < 1.5 or amps < 17)
    ]
    header = (
        "chamber_c,skin_c,drawn_ah,current_a,duration_s,rest_voltage_v,r_0.1s_mohm,r_1s_mohm,"
        "r_2s_mohm,r_5s_mohm,r_10s_mohm"
    )
    save("pulses_m20_to_25c.csv", header, np.array(pulses))
    return tmp_path


def test_the_script_finds_what_a_made_up_cell_has(ideal):
    """By hand: loss I²r, ends where the line meets the cut-off, resistances as they were put in."""
    got = make_measured_2900mah.made(ideal)
    by_rate = {(row["chamber_c"], row["rate"]): row for row in got["resistance_by_temperature"]}
    assert by_rate[25, 1]["milliohm_after_s"]["10"] == 50
    assert by_rate[-10, 1]["milliohm_after_s"]["10"] == 150
    assert (-10, 6) not in by_rate, "a mean over the pulses that lasted"
    end_ah = (FULL_V - 2.9 * IDEAL_OHM - 2.5) / PER_AH_V
    for row, stretch in zip(got["discharges"], (1, 1, 0.9, 0.8), strict=True):
        assert row["health"] == pytest.approx(stretch, abs=1e-4)
        assert row["first_drop_v"] == pytest.approx(2.9 * IDEAL_OHM, abs=1e-4)
        assert row["mean_loss_w"] == pytest.approx(2.9**2 * IDEAL_OHM, rel=2e-3)
        end = row["to_cutoff"][0]
        assert end["charge_ah"] == pytest.approx(stretch * end_ah, rel=1e-3)
        assert end["seconds"] == pytest.approx(stretch * end_ah / 2.9 * 3600, rel=1e-3)
        # a straight line: the mean power is that of the middle voltage
        middle_v = (FULL_V - 2.9 * IDEAL_OHM + 2.5) / 2
        assert end["mean_power_w"] == pytest.approx(2.9 * middle_v, rel=1e-3)
    slow_ah = (FULL_V - 0.145 * IDEAL_OHM - 2.5) / PER_AH_V
    assert got["slow_discharge"]["charge_ah"] == pytest.approx(slow_ah, rel=1e-3)
