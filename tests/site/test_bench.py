"""From the discharge logs of a cell to its page, with two commands."""

import csv
import tomllib

import pytest
from click.testing import CliRunner

from percell.__main__ import main
from percell_site.bench import LogError, read_log
from percell_site.profiles import ProfileError, load

OCV_V, FALL_V, CAPACITY_AH, RESISTANCE_OHM = 4.1, 1.0, 2.5, 0.018


def write_log(path, current_a, *, warm_c):
    """An invented discharge: a straight open-circuit voltage less I·r, and a straight warming."""
    duration_s = CAPACITY_AH * 3600 / current_a
    rows = 200
    with path.open("w", newline="") as file:
        write = csv.writer(file).writerow
        write(["time_s", "voltage_v", "current_a", "temperature_c"])
        write([0, OCV_V, 0, 23])
        for i in range(rows + 1):
            part = i / rows
            voltage = OCV_V - FALL_V * part - current_a * RESISTANCE_OHM
            write([1 + part * duration_s, voltage, current_a, 23 + warm_c * part])


@pytest.fixture
def logs(tmp_path):
    paths = []
    for name, current_a, warm_c in [
        ("10a", 10, 20),
        ("10a-again", 10, 21),
        ("20a", 20, 40),
        ("20a-again", 20, 41),
        ("30a", 30, 75),
    ]:
        path = tmp_path / f"{name}.csv"
        write_log(path, current_a, warm_c=warm_c)
        paths.append(str(path))
    return paths


def run(*arguments):
    result = CliRunner().invoke(main, list(arguments))
    return result, (result.output or "") + str(result.exception or "")


def test_two_commands_lead_from_logs_to_a_published_page(logs, tmp_path):
    """The profile says what went into the made-up logs, and the site has a page for it."""
    profile = tmp_path / "cells" / "lantern.toml"
    result, said = run(
        "profile", *logs, "--name", "Lantern cell", "--size", "18650",
        "--highest-temperature", "75", "--lowest-voltage", "2.5", "--out", str(profile),
    )  # fmt: skip
    assert result.exit_code == 0, said
    written = tomllib.loads(profile.read_text("utf-8"))
    assert written["cell_rating_a"] == 20  # 30 A ended at 98 °C
    assert written["cell_resistance_ohm"] == pytest.approx(RESISTANCE_OHM, rel=0.02)
    assert written["cell_capacity_ah"] == pytest.approx(CAPACITY_AH, rel=0.01)
    out = tmp_path / "public"
    result, said = run("site", "build", "--cells", str(profile.parent), "--out", str(out))
    assert result.exit_code == 0, said
    page = (out / "cells" / "lantern" / "index.html").read_text("utf-8")
    assert "Lantern cell" in page
    assert "invented" not in (out / "cells" / "index.html").read_text("utf-8")
    # 20 A in one cell charged to 4.2 V: 0.21 Ω, by hand
    assert ">0.21</td>" in page


def test_relative_folders_are_taken_from_where_one_stands(tmp_path, monkeypatch):
    """The commands do as the guide prints them: cells and site beside each other."""
    (tmp_path / "my-cells").mkdir()
    (tmp_path / "my-cells" / "one.toml").write_text(
        'name = "One"\nchemistry = "nmc"\nmeasured_on = "2026-01-01"\n'
        "cell_rating_a = 10\ncell_capacity_ah = 2.5\ncell_resistance_ohm = 0.02\n"
    )
    monkeypatch.chdir(tmp_path)
    result, said = run("site", "build", "--cells", "my-cells", "--out", "public")
    assert result.exit_code == 0, said
    assert (tmp_path / "public" / "cells" / "one" / "index.html").is_file()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("time_s,voltage_v\n0,4\n", "current_a"),
        ("time_s,voltage_v,current_a\n0,4,1\n1,x,1\n", "row 2, voltage_v"),
        ("time_s,voltage_v,current_a\n0,4,1\n1,4\n", "row 2, current_a"),
        ("time_s,voltage_v,current_a\n0,4,1,9\n", "row 1"),
        ("", "time_s"),
    ],
)
def test_a_log_that_cannot_be_read_names_row_and_column(tmp_path, text, said):
    """Text, ragged rows and missing columns are said before anything is asked."""
    path = tmp_path / "log.csv"
    path.write_text(text)
    with pytest.raises(LogError, match=said):
        read_log(path)


def test_a_fault_of_the_log_is_said_with_its_row(tmp_path):
    """What the API refuses comes back in words, and nothing is written."""
    path = tmp_path / "log.csv"
    path.write_text("time_s,voltage_v,current_a\n0,4,0\n2,3.9,10\n1,3.9,10\n3,3.8,10\n")
    out = tmp_path / "cell.toml"
    result, said = run("profile", str(path), "--name", "x", "--out", str(out))
    assert result.exit_code != 0
    assert "time" in said
    assert not out.exists()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('name = "x"', "chemistry"),
        ("name = ", "cell.toml"),
        ('name = "x"\nmore = 1', "more|chemistry"),
    ],
)
def test_a_profile_that_cannot_be_used_is_named(tmp_path, text, said):
    """A wrong file stops the build with its name and field."""
    (tmp_path / "cell.toml").write_text(text)
    with pytest.raises(ProfileError, match=said):
        load(tmp_path)
