"""From the discharge logs of a cell to its page, with two commands."""

import csv
import hashlib
import html
import json
import re
import runpy
import shlex
import socket
import threading
import tomllib
from datetime import date
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from percell.__main__ import main
from percell_site import bench
from percell_site.api import ApiError, connect
from percell_site.cell_sheets import sheets
from percell_site.profiles import ProfileError, load

make_demo_cells = SimpleNamespace(
    **runpy.run_path(str(Path(__file__).with_name("make_demo_cells.py")))
)

OCV_V, FALL_V, CAPACITY_AH, RESISTANCE_OHM = 4.15, 1.0, 2.513, 0.01834


def write_log(path, current_a, *, warm_c=30, run=0, warm=True, rest=True, begins_at=0.0):
    """An invented discharge: a straight open-circuit voltage less I·r, and a straight warming."""
    duration_s = CAPACITY_AH * 3600 / current_a * (1 - begins_at)
    rows = 200
    with path.open("w", newline="") as file:
        write = csv.writer(file).writerow

        def row(time_s, part, current_a):
            # another run falls a little further, as real ones do: they differ by millivolts
            voltage = OCV_V - FALL_V * (1 + 0.012 * run) * part - current_a * RESISTANCE_OHM
            done = (part - begins_at) / (1 - begins_at)
            write([time_s, voltage, current_a, *([23 + warm_c * done] if warm else [])])

        write(["time_s", "voltage_v", "current_a", *(["temperature_c"] if warm else [])])
        if rest:
            row(0, begins_at, 0)
        for i in range(rows + 1):
            row(1 + i / rows * duration_s, begins_at + (1 - begins_at) * i / rows, current_a)
    return str(path)


@pytest.fixture
def logs(tmp_path):
    return [
        write_log(tmp_path / f"{name}.csv", current_a, warm_c=warm_c, run=run)
        for run, (name, current_a, warm_c) in enumerate(
            [
                ("10a", 10, 20),
                ("10a-again", 10, 21),
                ("20a", 20, 40),
                ("20a-again", 20, 41),
                ("30a", 30, 75),
            ]
        )
    ]


def run(*arguments):
    result = CliRunner().invoke(main, list(arguments))
    return result, (result.output or "") + str(result.exception or "")


def profiled(tmp_path, *arguments):
    """Run ``percell profile``, and return the profile and what the command says."""
    out = tmp_path / "cells" / "lantern.toml"
    result, said = run("profile", *arguments, "--name", "Lantern cell", "--out", str(out))
    assert result.exit_code == 0, said
    return tomllib.loads(out.read_text("utf-8")), said


def built(tmp_path):
    """Build the site with the profiles of a test, and return the text of the cell's page."""
    out = tmp_path / "public"
    result, said = run("site", "build", "--cells", str(tmp_path / "cells"), "--out", str(out))
    assert result.exit_code == 0, said
    return (out / "cells" / "lantern" / "index.html").read_text("utf-8")


def test_two_commands_lead_from_logs_to_a_published_page(logs, tmp_path):
    """The profile says what went into the made-up logs, and the site has a page for it."""
    written, _ = profiled(
        tmp_path, *logs, "--size", "18650", "--stop-temperature", "75", "--stop-voltage", "2.5",
        "--ambient", "22.5", "--cooling", "still air | on <wood>",
    )  # fmt: skip
    assert written["cell_rating_a"] == 20  # 30 A ended at 98 °C
    # two digits: the capacity down from 2.513 Ah, the resistance to the nearest from 18.34 mΩ
    assert written["cell_capacity_ah"] == 2.5
    assert written["cell_resistance_ohm"] == 0.018
    assert written["cell_resistance_lowest_ohm"] == 0.018
    assert written["cell_resistance_highest_ohm"] == 0.019
    test = written["test"]
    assert (test["stop_temperature_c"], test["stop_voltage_v"]) == (75, 2.5)
    assert (test["ambient_c"], test["cooling"]) == (22.5, "still air | on <wood>")
    assert (test["logs"], test["repeats"]) == (5, 2)
    assert (test["start_temperature_c"], test["peak_temperature_c"]) == (23, 64)
    assert test["failed"] == [
        {"current_a": 30, "peak_temperature_c": 98, "lowest_voltage_v": 2.552}
    ]
    page = built(tmp_path)
    assert "Lantern cell" in page
    assert "invented" not in (tmp_path / "public/cells/index.html").read_text("utf-8")
    # 20 A in one cell charged to 4.2 V: 0.21 Ω, read (0.21 + 0.035) / 0.99 = 0.248 Ω, by hand
    assert ">0.25</td>" in page
    for said in [
        "75 °C",
        "22.5 °C",
        "still air &#124; on &lt;wood&gt;</td>",
        "98 °C",
        "in 2 different tests",
    ]:
        assert said in page
    assert "18 mΩ (18 to 19)" in page
    assert "Label and test differ" not in page


def test_the_page_shows_the_logs_and_how_to_check_them(logs, tmp_path):
    """Each log with its file, figures and SHA-256, the chart, the request and the command that made it."""
    name = "Lantern {{ reply: x }} `cell`"
    out = tmp_path / "cells" / "lantern.toml"
    given = ["--started-full", "--ambient", "22.5", "--longest-gap", "90"]
    result, said = run(
        "profile", *logs, *given, "--name", name, "--out", str(out), "--api", "percell.web.asgi:app"
    )
    assert result.exit_code == 0, said
    written = tomllib.loads(out.read_text("utf-8"))
    runs = written["test"]["runs"]
    for path, one in zip(map(Path, logs), runs, strict=True):
        assert one["file"] == path.name
        assert one["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
        assert one["rows"] == len(path.read_text().splitlines()) - 1 == 202
        # the curve ends where the log does, at the charge of 10 to 30 A to the end, by hand
        assert one["curve_ah"][-1] == pytest.approx(CAPACITY_AH, abs=1e-3)
        assert one["curve_ah"][0] == 0
        assert one["curve_v"][-1] == pytest.approx(one["lowest_voltage_v"], abs=1e-3)
    assert [one["kept_limits"] for one in runs] == [True, True, False, False, False]
    command = shlex.split(written["test"]["command"])
    assert command[:3] == ["percell", "profile", "10a.csv"]
    assert command[-6:] == ["--ambient", "22.5", "--longest-gap", "90", "--out", "lantern.toml"]
    assert "--api" not in command
    assert str(tmp_path) not in out.read_text("utf-8")
    page = html.unescape(re.sub(r"<[^>]*>", "", built(tmp_path)))
    for one in runs:
        assert one["file"] in page
        assert one["sha256"] in page
    assert written["test"]["command"] in page
    assert (
        "/v1/discharge-test/log?chemistry=nmc&log_start=full&longest_gap_s=90.0' -H 'Content-Type"
        in page
    )
    assert "Voltage of the cell over the charge delivered, by current, in 5 tests." in page
    assert "All were read as: time “time_s” in s" in page
    assert "full, as the tester says" in page
    # the same again, from what the page says
    folder = tmp_path / "again"
    folder.mkdir()
    words = [str(tmp_path / word) if word.endswith(".csv") else word for word in command[1:]]
    again, said = run(*words[:-1], str(folder / "again.toml"))
    assert again.exit_code == 0, said
    remade = tomllib.loads((folder / "again.toml").read_text("utf-8"))
    assert remade["test"]["runs"] == runs
    assert (
        remade["test"]["command"].replace("again.toml", "lantern.toml")
        == written["test"]["command"]
    )


def test_the_profile_has_the_limit_that_was_judged(tmp_path, logs):
    """2.5 V was asked, but nothing is proved below the 2.7 V where nickel cobalt aluminium cells end."""
    written, _ = profiled(tmp_path, *logs[2:4], "--chemistry", "nca", "--stop-voltage", "2.5")
    assert written["test"]["stop_voltage_v"] == 2.7
    assert written["test"]["asked"]["stop_voltage_v"] == 2.5


def test_a_chart_needs_as_many_voltages_as_charges(tmp_path):
    """A profile whose curve lost a number is named, and so is a hash that is none."""
    sound = PROFILE.format(tested=20, claimed=20, ohm=0.02, claimed_ah=2.5) + (
        "[test]\nstop_temperature_c = 60\nlogs = 1\n[[test.runs]]\nfile = 'a.csv'\nrows = 9\nread = ''\n"
        f"sha256 = '{'0' * 64}'\ncurrent_a = 1\ncharge_ah = 1\nenergy_wh = 1\nlowest_voltage_v = 1\n"
        "curve_ah = [0, 1]\ncurve_v = [4, 3]\n"
    )
    (tmp_path / "cell.toml").write_text(sound)
    assert len(load(tmp_path)) == 1
    for good, bad, why in (("[4, 3]", "[4, 3, 2]", "different lengths"), ("00'", "0x'", "sha256")):
        (tmp_path / "cell.toml").write_text(sound.replace(good, bad))
        with pytest.raises(ProfileError, match=why):
            load(tmp_path)


def test_what_the_options_say_of_the_columns_is_taken(tmp_path, logs):
    """Names that say nothing, a comma as decimal mark: given, both are certain."""
    paths = []
    for path in map(Path, logs[2:4]):
        text = path.read_text().replace(",", ";").replace(".", ",")
        _, rest = text.split("\n", 1)
        paths.append(tmp_path / f"{path.stem}-x.csv")
        paths[-1].write_text(f"x;y;z;w\n{rest}")
    given = ["--time", "x;s", "--voltage", "y;V", "--current", "z;A", "--temperature", "w;°C"]
    written, said = profiled(
        tmp_path, *map(str, paths), *given, "--decimal-mark", "comma", "--stop-temperature", "75"
    )
    assert written["cell_rating_a"] == 20
    assert "voltage “y” in V, current “z” in A" in said
    assert written["test"]["asked"]["voltage_column"] == "y;V"
    bad = judged(paths[0], "--time", "x;d")
    assert bad.startswith(
        f"Error: {paths[0]}, --time: percell does not know 'd' as a unit of the time"
    )
    assert judged(paths[0]).endswith("And 2 more faults.")
    assert "give its name in --time" in judged(paths[0])
    assert judged(paths[0], "--time", "") == "Error: --time is empty or too long."


@pytest.mark.parametrize("name", make_demo_cells.DEMO)
def test_the_demo_cells_are_what_the_command_makes_of_their_logs(name, tmp_path):
    """Whoever runs the script again has the same logs, with the same SHA-256, and the same profile."""
    committed = (make_demo_cells.CELLS / f"{name}.toml").read_text("utf-8")
    assert make_demo_cells.profile_of(name, tmp_path) == committed


def test_a_hotter_test_is_a_caution_in_profile_and_page(logs, tmp_path):
    """A limit of 75 °C is said in the answer, the profile and the page; 60 °C is not."""
    written, said = profiled(tmp_path, *logs, "--stop-temperature", "75")
    caution = written["test"]["caution"]
    assert "Stop at 60 °C" in caution
    assert caution in said
    assert caution in built(tmp_path)
    written, _ = profiled(tmp_path, *logs, "--stop-temperature", "60")
    assert "caution" not in written["test"]


def test_a_profile_that_was_written_by_hand_has_the_caution_too(tmp_path):
    """Tests to 90 °C: the page says to stop at 60 °C."""
    hot = PROFILE.format(tested=20, claimed=20, ohm=0.02, claimed_ah=2.5)
    page = page_of(tmp_path, hot + "[test]\nstop_temperature_c = 90\nlogs = 2\n")
    assert "judged up to 90 °C. Stop at 60 °C" in page
    page = page_of(tmp_path, hot + "[test]\nstop_temperature_c = 60\nlogs = 2\n")
    assert "Stop at 60 °C" not in page


def page_of(tmp_path, text):
    (tmp_path / "cells").mkdir(exist_ok=True)
    (tmp_path / "cells" / "lantern.toml").write_text(text, "utf-8")
    return built(tmp_path)


def entries(page, grid):
    """Return the text of each entry of a grid by its row, with its mark."""
    table = re.search(rf'id="t-{grid}".*?</table>', page, re.DOTALL).group()
    rows = re.findall(r'<tr id="([^"]+)".*?</tr>', table, re.DOTALL)
    found = {}
    for name, row in zip(rows, re.findall(r"<tr id=.*?</tr>", table, re.DOTALL), strict=True):
        tds = re.findall(r"<td.*?</td>", row, re.DOTALL)
        found[name] = [re.sub(r"<[^>]*>", "", td).split() for td in tds]
    return found


def test_a_running_time_beyond_the_rating_is_marked(tmp_path):
    """15 W from one cell of 5 A, 85 %, down to 3.2 V: 15 / 0.85 / 3.2 = 5.5 A before any contact, by hand."""
    small = PROFILE.format(tested=5, claimed=40, ohm=0.065, claimed_ah=9.9)
    page = page_of(tmp_path, small)
    times = entries(page, "running")
    at = next(row for name, row in times.items() if name.endswith("15-w"))
    # 1 cell by cut-off: 3.4, 3.2, 3.0, 2.8 V; 2 cells carry half of it each
    assert [entry[-1] for entry in at[:4]] == ["✕"] * 4
    assert [len(entry) for entry in at[4:8]] == [1] * 4
    assert "over the rating" in page
    assert "a dash" not in page.lower()
    index = (tmp_path / "public/cells/index.html").read_text("utf-8")
    assert re.search(r"<td>\d+ <span class=\"pc-mark\"[^>]*>✕</span></td></tr>", index)


@pytest.mark.parametrize(
    "cell", load(Path(__file__).parents[2] / "site" / "cells"), ids=lambda cell: cell.id
)
def test_no_mark_of_a_running_time_is_milder_than_its_answer(cell):
    """Each entry of a demo cell, asked back with the page's own rating: the verdict of the single answer."""
    api = connect("percell.web.asgi:app")
    known = json.loads(api.get("/v1/reference"))["chemistries"][cell.chemistry]
    grid = sheets(api, cell, known).running
    order = ["within_limit", "little_headroom", "not_judged", "over_limit"]
    for row in grid["rows"]:
        for column, entry in zip(grid["columns"], row["cells"], strict=True):
            layout, cutoff_v = column["values"]
            asked = {"layout": layout, "cell_cutoff_voltage_v": cutoff_v}
            answer = api.post(
                "/v1/running-time", grid["fixed"] | asked | {"output_power_w": row["value"]}
            )
            (mark,) = entry["verdicts"]
            assert order.index(mark) >= order.index(answer["verdict"]), (row["value"], asked)
            # as in the printed table, a time of less than a minute is none to use
            assert mark == "over_limit" or answer["running_time_s"] >= 60, (row["value"], asked)
    api.close()


def test_a_page_names_the_log_of_its_running_times_and_how_exact_they_are(logs, tmp_path):
    """The times come from the slowest log that is no slow one; what is said of them is what the API says."""
    written, _ = profiled(tmp_path, *logs)
    page = html.unescape(re.sub(r"<[^>]+>", "", built(tmp_path)))
    own = written["measured_discharge"]
    charge_ah, current_a = own["charge_ah"][-1], own["current_a"]
    (run,) = [one for one in written["test"]["runs"] if one["curve_v"] == own["voltage_v"]]
    said = f"The times come from the log {run['file']}, {run['charge_ah']:g} Ah at {current_a:g} A, which is "
    assert said in page
    assert f"{current_a / run['charge_ah']:.2g} times its charge per hour" in page
    # a log at several times the charge per hour is like none of the measured ones
    assert "the API says: “The running time is calculated from your own discharge" in page
    assert "This time can be far off. Nothing like it was measured" in page
    # its numbers are in the profile, and the page has its name
    assert f"own discharge of {charge_ah:.3g} Ah at {current_a:g} A" in page
    assert "'charge_ah'" not in page


def test_a_page_says_when_the_resistance_was_read(tmp_path):
    """A resistance grows with the time of the load, so a figure without the time says little."""
    text = (
        'name = "Cell"\nchemistry = "nmc"\nmeasured_on = "2026-01-01"\ncell_capacity_ah = 2.5\n'
        "cell_resistance_ohm = 0.03\n"
    )
    (tmp_path / "cells").mkdir()
    for after, said in (("cell_resistance_after_s = 0.5\n", "30 mΩ after 0.5 s"), ("", "30 mΩ")):
        (tmp_path / "cells/lantern.toml").write_text(text + after, "utf-8")
        page = built(tmp_path)
        assert f"<td>{said}</td>" in page
        # without a log the times come from the curve of the chemistry
        assert "and from the published curve of its chemistry." in page


def test_times_without_a_rating_are_said_to_be_judged_by_none(logs, tmp_path):
    """The page promises only what it has, and points to no table that is not there."""
    profiled(tmp_path, logs[0], logs[2])
    page = built(tmp_path)
    assert "These times were not compared with a rating" in page
    assert page.index("not compared with a rating") < page.index('id="t-running"')
    assert "look at the highest power first" not in page
    description = re.search(r'<meta name="description" content="([^"]*)"', page).group(1)
    assert "running times" in description
    assert "lowest coil" not in description
    assert "No tested rating." in description


def test_the_figures_that_are_used_come_first(tmp_path):
    """Label 10 A, test 20 A: the page leads with 10 A, in its first lines and in a search."""
    page = page_of(tmp_path, PROFILE.format(tested=20, claimed=10, ohm=0.02, claimed_ah=2))
    description = re.search(r'<meta name="description" content="([^"]*)"', page).group(1)
    lede = re.search(r'class="pc-lede">(.*?)</p>', page, re.DOTALL).group(1)
    for text in (description, lede):
        assert "Rating used here: 10 A, from the label; the test says 20 A." in text
        assert "Capacity used here: 2.0 Ah, from the label; the test says 2.5 Ah." in text
        assert "Tested rating" not in text


def test_each_grid_says_what_its_cells_are(tmp_path):
    """The pack at the measured resistance, the lowest coil with the rating, both where a row is pasted."""
    page = page_of(tmp_path, PROFILE.format(tested=30, claimed=30, ohm=0.011, claimed_ah=2.5))
    copied = {
        name: re.search(r'data-reply="([^"]*)"', rest)[1]
        for name, rest in re.findall(r'id="t-(\w+)"(.*?)</table>', page, re.DOTALL)
    }
    assert "an internal resistance of 0.011 Ω per cell" in copied["pack"]
    assert "cell capacity 2.5 Ah" in copied["pack"]
    assert "cell rating 30 A" in copied["lowest"]
    assert "0.04 Ω" not in page


def test_a_pack_at_the_limit_of_transport_is_marked(tmp_path):
    """4S2P of 4 Ah: 8 · 4 Ah · 3.6 V = 115.2 Wh, above the 100 Wh of transport rules (49 CFR 173.185)."""
    text = PROFILE.format(tested=30, claimed=30, ohm=0.011, claimed_ah=4).replace("2.5", "4.0")
    pack = entries(page_of(tmp_path, text), "pack")
    marked = {name for name, row in pack.items() if any(entry[-1] == "✕" for entry in row)}
    assert {name.split("-", 1)[1] for name in marked} == {"4s2p"}


def test_one_test_makes_no_rating(logs, tmp_path):
    """Of one log at each current the profile has no rating, and says in one sentence what is missing."""
    written, said = profiled(tmp_path, logs[0], logs[2], "--stop-temperature", "75")
    assert "cell_rating_a" not in written
    assert written["cell_capacity_ah"] == 2.5
    assert "because there is only one log at 20 A, but 2 are needed." in said
    assert written["test"]["missing"] in said
    page = built(tmp_path)
    assert "No continuous rating was proved" in page
    assert written["test"]["missing"] in page
    assert "Lowest coil" not in page
    assert "The pack, by layout" not in page
    assert "Running time in min" in page
    index = (tmp_path / "public/cells/index.html").read_text("utf-8")
    assert re.search(
        r"<td>–</td><td>2.5</td><td>18 after [0-9.]+ s</td><td>–</td><td>–</td>", index
    )


def test_copies_make_no_rating(logs, tmp_path):
    """The same log twice is one test."""
    copy = tmp_path / "copy.csv"
    copy.write_bytes((tmp_path / "20a.csv").read_bytes())
    written, said = profiled(tmp_path, logs[2], str(copy), "--stop-temperature", "75")
    assert "cell_rating_a" not in written
    assert "log 2 (“copy”) shows the same discharge as log 1" in said


def test_logs_without_temperature_have_a_profile(tmp_path):
    """Capacity and resistance are there; the rating is left out because there is no temperature."""
    pair = [write_log(tmp_path / f"{n}.csv", 20, warm=False, run=n) for n in range(2)]
    written, said = profiled(tmp_path, *pair)
    assert {"cell_capacity_ah", "cell_resistance_ohm"} < set(written)
    assert "cell_rating_a" not in written
    assert "because log 1 (“0”) and log 2 (“1”) have no temperature." in said
    assert "kept the limits" not in said


def test_logs_without_a_rest_have_a_profile(tmp_path):
    """Two logs from cells that were said to be full have capacity and rating, and no resistance."""
    pair = [write_log(tmp_path / f"{n}.csv", 20, rest=False, run=n) for n in range(2)]
    written, said = profiled(tmp_path, *pair, "--started-full")
    assert (written["cell_rating_a"], written["cell_capacity_ah"]) == (20, 2.5)
    assert "cell_resistance_ohm" not in written
    assert "it needs a step to a load" in said
    page = built(tmp_path)
    assert "A running time needs a measured capacity and resistance" in page
    assert "Highest power" in page


def test_a_log_begun_half_empty_shows_only_the_resistance(tmp_path):
    """Neither capacity nor rating follow from the second half of a charge."""
    pair = [write_log(tmp_path / f"{n}.csv", 20, begins_at=0.5, run=n) for n in range(2)]
    written, said = profiled(tmp_path, *pair)
    assert "cell_capacity_ah" not in written
    assert "cell_rating_a" not in written
    assert written["cell_resistance_ohm"] == 0.018
    assert "because log 1 (“0”) and log 2 (“1”) do not start near full." in said
    assert "not measured" in built(tmp_path)


PROFILE = """name = "Lantern cell"
chemistry = "nmc"
measured_on = "2026-01-01"
cell_rating_a = {tested}
cell_capacity_ah = 2.5
cell_resistance_ohm = {ohm}
claimed_rating_a = {claimed}
claimed_capacity_ah = {claimed_ah}
"""


@pytest.mark.parametrize(("tested", "claimed"), [(15, 10), (10, 15)])
def test_every_table_uses_the_lower_of_label_and_test(tmp_path, tested, claimed):
    """10 A of test or label, whichever it is, in one cell at 4.2 V: 0.42 Ω, which a usual meter shows as 0.46 Ω."""
    (tmp_path / "cells").mkdir()
    text = PROFILE.format(tested=tested, claimed=claimed, ohm=0.02, claimed_ah=2.4)
    (tmp_path / "cells" / "lantern.toml").write_text(text)
    page = built(tmp_path)
    assert "Label and test differ" in page
    assert (
        f"The label claims {claimed} A, the test shows {tested} A: every table here uses 10 A"
        in page
    )
    assert "The label claims 2.4 Ah, the test shows 2.5 Ah: every table here uses 2.4 Ah" in page
    assert ">0.46</td>" in page  # (0.42 + 0.035) / 0.99, by hand, rounded up
    index = (tmp_path / "public/cells/index.html").read_text("utf-8")
    assert "<td>10*</td><td>2.4</td><td>20</td><td>0.46</td>" in index
    assert "Label and test differ. The table uses the lower figure." in index


def test_a_page_prints_the_digits_that_a_measurement_deserves(tmp_path):
    """44 mΩ and 3.0 Ah, not 43.855 mΩ; and no caution where label and test agree."""
    (tmp_path / "cells").mkdir()
    text = PROFILE.format(tested=10, claimed=10, ohm=0.043855, claimed_ah=2.5)
    text = text.replace("= 2.5", "= 3.0")
    (tmp_path / "cells" / "lantern.toml").write_text(text)
    page = built(tmp_path)
    assert "44 mΩ" in page
    assert "43.855" not in page
    assert "3.0 Ah" in page
    assert "Label and test differ" not in page
    assert "does not say how this cell was tested" in page


@pytest.mark.parametrize(
    ("value", "rounding", "text"),
    [
        (3.0194, ROUND_FLOOR, "3.0"),
        (2.59, ROUND_FLOOR, "2.5"),
        (0.856, ROUND_FLOOR, "0.85"),
        (0.043855, ROUND_HALF_EVEN, "0.044"),
        (0.018000000000000016, ROUND_CEILING, "0.018"),
        (0.0181, ROUND_CEILING, "0.019"),
        (0.112, ROUND_HALF_EVEN, "0.11"),
        (None, ROUND_FLOOR, "None"),
    ],
)
def test_two_digits_by_hand(value, rounding, text):
    """A capacity is rounded down, a resistance to the nearest, its spread outward."""
    assert str(bench.two_digits(value, rounding)) == text


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


HEAD = b"time_s,voltage_v,current_a\n"


def judged(log, *more):
    """Run ``percell profile`` on one log, and return what it says in its only line."""
    out = log.parent / "profile" / "cell.toml"
    result, _ = run("profile", str(log), "--name", "x", "--out", str(out), *more)
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == 1
    (line,) = result.output.splitlines()
    assert not out.parent.exists()
    return line


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"time_s,voltage_v\n0,4\n", ", the row of names: There is no current column"),
        (HEAD + b"0,4,1\n1,x,1\n", ", row 2, voltage_v: 'x' is not a number"),
        (HEAD + b"0,4,1\n1,nan,1\n", ", row 2, voltage_v: 'nan' is not a finite number"),
        (HEAD + b"0,4,1\n1,4,1e999\n", ", row 2, current_a: '1e999' is not a finite number"),
        (HEAD + b"0,4,1\n1_0,4,1\n", ", row 2, time_s: '1_0' is not a number"),
        (HEAD + b"0,4,1\n1,4\n", ", row 2: The row has 2 values for 3 columns"),
        (HEAD + b"0,4,1,9\n", ", row 1: The row has 4 values for 3 columns"),
        (HEAD + b"0,4,1\n0,4,1\n1,4,1\n", ", row 2, time_s: "),
        (HEAD + b"0,4,1\n1,\xff,1\n", ", row 2: The log is not UTF-8"),
        (b"\xff\xfet\0", ", the row of names: The log is not UTF-8"),
        (HEAD + b"0,4,1\n", ": A log needs 3 rows or more, this has 1"),
        (b"", ", the row of names: "),
        (None, ": No such file or directory"),
        ("folder", ": Is a directory"),
    ],
)
def test_a_log_that_cannot_be_read_is_named_in_one_line(tmp_path, content, said):
    """The line names the file and, within it, row and column; nothing is written."""
    log = tmp_path / "log.csv"
    if content == "folder":
        log.mkdir()
    elif content is not None:
        log.write_bytes(content)
    assert judged(log).startswith(f"Error: {log}{said}")


def test_a_log_is_not_blamed_for_another(tmp_path, logs):
    """Of several logs, the line names the one that cannot be read."""
    bad = tmp_path / "bad.csv"
    bad.write_bytes(HEAD + b"0,4,1\n1,nan,1\n")
    assert judged(bad, *logs).startswith(f"Error: {bad}, row 2")


def test_logs_of_which_nothing_follows_are_said(tmp_path):
    """A readable log that shows nothing gives no profile, and the line says what to say or to log."""
    log = tmp_path / "log.csv"
    log.write_bytes(HEAD + b"0,3.9,10\n11,3.8,10\n20,3.1,10\n")
    line = judged(log)
    assert line.startswith(
        "Error: the logs show no rating, capacity or resistance. These logs prove no"
    )
    assert "log 1 (“log”) does not start near full" in line
    assert line.endswith("If the cells were fully charged, say so with --started-full.")
    full = judged(log, "--started-full")
    assert "log 1 (“log”) stops before the cell is nearly empty" in full
    assert "--started-full" not in full


@pytest.fixture
def dead():
    """An address at which nothing listens, though its port is taken."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        yield f"http://127.0.0.1:{taken.getsockname()[1]}"


@pytest.fixture
def foreign():
    """The address of a server that is not percell's: it answers all with a page."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self):
            self.send_response(200)
            self.end_headers()
            self.wfile.write(b"<html>")

        def do_POST(self):
            self.rfile.read(int(self.headers["content-length"]))
            self.do_GET()

        def log_message(self, *_):
            """Say nothing."""

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


WRONG = ["127.0.0.1:8000", "ftp://127.0.0.1/", "percell.web.asgi:no_such", "http://127.0.0.1:x"]
WRONG += ["http://127.0.0.1:65536", "os:path"]


@pytest.mark.parametrize("where", ["dead", "foreign", *WRONG])
def test_an_api_that_is_not_there_is_said_in_one_line(tmp_path, logs, where, request):
    """Both commands say so, end with status 1, and leave nothing behind."""
    address = request.getfixturevalue(where) if where in ("dead", "foreign") else where
    why = {
        "dead": f"the API at {address} does not answer: ",
        "foreign": f"{address} is not percell's API: ",
    }.get(where, "is not a URL")
    assert why in judged(tmp_path / "20a.csv", *logs, "--api", address)
    built, _ = run("site", "build", "--api", address, "--out", str(tmp_path / "public"))
    assert isinstance(built.exception, SystemExit), built.exception
    assert built.exit_code == 1
    (line,) = built.output.splitlines()
    assert line.startswith("Error: the site was not built: ")
    assert why in line
    assert not (tmp_path / "public").exists()


def test_an_api_that_says_nothing_in_time_is_said(monkeypatch):
    """A timeout has no text of its own, and is named all the same."""
    monkeypatch.setattr("percell_site.api.TIMEOUT_S", 0.05)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        api = connect(f"http://127.0.0.1:{silent.getsockname()[1]}")
        with pytest.raises(ApiError, match="does not answer: ReadTimeout"):
            api.get("/v1/reference")
        api.close()


def test_a_profile_that_cannot_be_written_is_said(tmp_path, logs):
    """A file where a folder of the profile's path belongs ends the command with one line."""
    (tmp_path / "out").write_text("a file")
    result, _ = run("profile", *logs, "--name", "x", "--out", str(tmp_path / "out/of/reach"))
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == 1
    (line,) = result.output.splitlines()
    assert line.startswith(f"Error: {tmp_path}/out")


def test_a_limit_that_the_api_refuses_is_said(tmp_path, logs):
    """What the API refuses comes back in its own words, and nothing is written."""
    line = judged(tmp_path / "20a.csv", *logs, "--repeats", "0")
    assert line.startswith("Error: /v1/discharge-test: 422 /needed_repeats: ")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('name = "x"', "chemistry"),
        ("name = ", "cell.toml"),
        ('name = "x"\nmore = 1', "more|chemistry"),
        ("name = '\xff'", "cell.toml"),
        (None, "cell.toml"),
    ],
)
def test_a_profile_that_cannot_be_used_is_named(tmp_path, text, said):
    """A wrong file, or a folder in its place, stops the build with its name and field."""
    if text is None:
        (tmp_path / "cell.toml").mkdir()
    else:
        (tmp_path / "cell.toml").write_text(text, "latin-1")
    with pytest.raises(ProfileError, match=said):
        load(tmp_path)


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--ambient", "nan"),
        ("--ambient", "500"),
        ("--ambient", "-inf"),
        ("--name", ""),
        ("--name", " "),
        ("--stop-temperature", "nan"),
        ("--stop-voltage", "inf"),
        ("--capacity", "nan"),
    ],
)
def test_an_option_that_the_build_would_refuse_is_refused_at_once(tmp_path, logs, option, value):
    """The line names the option, and nothing is written."""
    out = tmp_path / "cell.toml"
    given = {"--name": "Lantern cell", "--out": str(out)} | {option: value}
    result, said = run("profile", *logs, *(word for pair in given.items() for word in pair))
    assert result.exit_code == 2
    assert option in said
    assert not out.exists()


@pytest.mark.parametrize(
    ("bench_said", "about"),
    [({"ambient_c": float("nan")}, {}), ({"ambient_c": 500.0}, {}), ({}, {"name": ""})],
)
def test_no_profile_is_made_that_the_build_refuses(bench_said, about):
    """Whatever the tester says goes through the same reader as the build's."""
    judged = {
        "profile": {"cell_capacity_ah": 2.5},
        "logs": [],
        "findings": [],
        "assumptions": [],
        "in_words": [],
        "limits": [{"name": "end_voltage", "value": 2.5}],
    }
    with pytest.raises(bench.NoProfile, match="not be usable"):
        bench.profile_text(
            judged,
            about={"name": "Lantern cell", "chemistry": "nmc", "cell_size": ""} | about,
            limits={"stop_temperature_c": 60.0, "stop_voltage_v": 2.5},
            bench=bench_said,
            files=[],
            command="percell profile",
            measured_on=date(2026, 1, 1),
        )


@pytest.mark.parametrize("cells", ["gone", "file", "folder"])
def test_cells_that_cannot_be_read_end_the_build_in_one_line(tmp_path, cells):
    """The line names the folder or the profile; no site is built without the cells that it was for."""
    (tmp_path / "file").write_text("no folder")
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "cell.toml").write_bytes(b"\xff")
    out = tmp_path / "public"
    result, _ = run("site", "build", "--cells", str(tmp_path / cells), "--out", str(out))
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == 1
    (line,) = result.output.splitlines()
    assert ("cell.toml" if cells == "folder" else cells) in line
    assert not out.exists()
