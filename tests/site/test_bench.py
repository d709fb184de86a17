"""From the discharge logs of a cell to its page, with two commands."""

import csv
import socket
import threading
import tomllib
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
from click.testing import CliRunner

from percell.__main__ import main
from percell_site.api import ApiError, connect
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
        "--stop-temperature", "75", "--stop-voltage", "2.5", "--out", str(profile),
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
        (b"time_s,voltage_v\n0,4\n", ", the row of names: The first row must name"),
        (HEAD + b"0,4,1\n1,x,1\n", ", row 2, voltage_v: 'x' is no number"),
        (HEAD + b"0,4,1\n1,nan,1\n", ", row 2, voltage_v: 'nan' is no finite number"),
        (HEAD + b"0,4,1\n1,4,1e999\n", ", row 2, current_a: '1e999' is no finite number"),
        (HEAD + b"0,4,1\n1_0,4,1\n", ", row 2, time_s: '1_0' is no number"),
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
    """A readable log that shows no rating gives no profile."""
    log = tmp_path / "log.csv"
    log.write_bytes(HEAD + b"0,4.1,0\n10,4.1,0\n11,4,10\n20,3.1,10\n")
    assert judged(log) == "Error: the logs give no cell_rating_a: no current kept the limits"


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
