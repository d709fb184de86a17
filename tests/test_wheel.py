"""Users install the wheel: it must answer and build its site without the repository."""

import os
import socket
import subprocess
import sys
import sysconfig
import tarfile
import time
import venv
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from percell import VERSION
from percell.questions.registry import QUESTIONS

ROOT = Path(__file__).parents[1]
ANY = QUESTIONS["direct-load"]


PIP = (sys.executable, "-m", "pip", "--disable-pip-version-check")
SHARE_ALIKE = "measured_3000mah_share_alike"


def run(*command: str | Path, cwd: Path) -> str:
    """Run a program that must succeed, in an environment that knows nothing of the repository."""
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=plain(),
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def plain() -> dict[str, str]:
    return {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("PERCELL_", "PYTHON", "VIRTUAL_ENV"))
    }


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return percell's wheel, built by the pinned backend that is here, so that nothing is fetched."""
    where = tmp_path_factory.mktemp("wheel")
    run(*PIP, "wheel", "--no-deps", "--no-build-isolation", "-w", where, ROOT, cwd=where)
    (found,) = where.glob("percell-*.whl")
    return found


@pytest.fixture(scope="module")
def programs(wheel: Path) -> Path:
    """Return the programs of an environment that has percell's wheel.

    It borrows the dependencies from the environment of this test, which takes only seconds.
    """
    where = wheel.parent
    venv.create(where / "env", with_pip=False, symlinks=True)
    paths = {"base": str(where / "env"), "platbase": str(where / "env")}
    inside = {key: Path(sysconfig.get_path(key, "venv", paths)) for key in ("purelib", "scripts")}
    python = inside["scripts"] / "python"
    run(*PIP, "--python", python, "install", "--no-deps", "--no-index", wheel, cwd=where)
    # lines of a .pth are folders to look in; the .pth files inside them, editable installs too, are not read
    borrowed = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    (inside["purelib"] / "borrowed.pth").write_text("\n".join(borrowed))
    found = run(
        python,
        "-c",
        "import percell, percell_site as s; print(percell.__file__, s.__file__)",
        cwd=where,
    )
    assert found.count(str(inside["purelib"])) == 2, "the wheel is not what is imported"
    return inside["scripts"]


@pytest.fixture(scope="module")
def served(programs: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Return the address of the installed service, started away from the repository."""
    where = tmp_path_factory.mktemp("elsewhere")
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    with (where / "log").open("w") as log:
        server = subprocess.Popen(
            [
                str(programs / "percell"),
                "serve",
                "--port",
                str(port),
                "--site",
                str(where / "site"),
            ],
            cwd=where,
            env=plain(),
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    try:
        address = f"http://127.0.0.1:{port}"
        until(lambda: httpx.get(f"{address}/healthz").status_code == 200, server, where / "log", 30)
        yield address
    finally:
        server.terminate()
        server.wait(30)


def until(true: Any, server: subprocess.Popen[bytes], log: Path, seconds: float) -> None:
    """Wait for something to come true while the server runs."""
    limit = time.monotonic() + seconds
    while time.monotonic() < limit:
        try:
            if true():
                return
        except httpx.TransportError:
            pass
        assert server.poll() is None, log.read_text()
        time.sleep(0.1)
    pytest.fail(f"not within {seconds} s: {log.read_text()}")


def test_measured_data_are_in_no_wheel(wheel: Path) -> None:
    """Their licences ask for notices of their own, and no installed part needs them."""
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    assert "percell/questions/registry.py" in names
    assert not [name for name in names if "reference/" in name or name.endswith(".csv")]


def test_share_alike_data_are_in_no_source_distribution(tmp_path: Path) -> None:
    """A source distribution is under Apache-2.0 and holds the tests, with the data that may stand in it."""
    run(sys.executable, "-m", "hatchling", "build", "-t", "sdist", "-d", tmp_path, cwd=ROOT)
    (archive,) = tmp_path.glob("percell-*.tar.gz")
    with tarfile.open(archive) as opened:
        names = opened.getnames()
    assert [name for name in names if "measured_2600mah/cell_1_2c.csv" in name]
    assert [name for name in names if "measured_2900mah_derived/figures.json" in name]
    assert (ROOT / "tests/reference" / SHARE_ALIKE).is_dir()
    assert not [name for name in names if "share_alike" in name]


def test_the_program_says_its_version(programs: Path, tmp_path: Path) -> None:
    """The installed program is the version under test."""
    assert VERSION in run(programs / "percell", "--version", cwd=tmp_path)


def test_the_installed_service_answers(served: str) -> None:
    """A question is answered, and the tables are in the wheel."""
    answer = httpx.post(f"{served}/v1/{ANY.id}", json=ANY.example)
    assert answer.status_code == 200
    # a reading of 0.25 ohm is at least 0.2125 ohm by an ordinary meter: 4.2 V over that, by Ohm's law
    assert answer.json()["pack_current_a"] == pytest.approx(4.2 / 0.2125)
    tables = httpx.get(f"{served}/v1/tables").json()["tables"]
    assert len(tables) == len(list((ROOT / "site/tables").glob("*.toml")))


def test_the_installed_service_has_its_forms_with_their_look(served: str) -> None:
    """Templates and style of the pages to type numbers on are in the wheel."""
    page = httpx.get(f"{served}/ask/{ANY.id}", params=ANY.example)
    assert page.status_code == 200
    assert 'id="answer"' in page.text
    assert ".pc-answer" in httpx.get(f"{served}/ask/style.css").text


@pytest.fixture(scope="module")
def built(served: str) -> str:
    """Return the address of the installed service once its site has come up by itself."""
    limit = time.monotonic() + 180
    while httpx.get(served).status_code == 503:
        assert time.monotonic() < limit, "the site does not come up"
        time.sleep(0.2)
    return served


@pytest.mark.parametrize("page", ["/", "/tables/lowest-resistance/", "/problems/wrong-type/"])
def test_the_installed_site_comes_up(built: str, page: str) -> None:
    """The front page, a table's page and a problem's page are there."""
    response = httpx.get(built + page)
    assert response.status_code == 200
    assert 'http-equiv="refresh"' not in response.text


def test_the_installed_site_prints_where_it_is_served(built: str) -> None:
    """Prints, search engines and previews get the address of this server, on any port."""
    page = httpx.get(f"{built}/tables/lowest-resistance/").text
    here = f"{built}/tables/lowest-resistance"
    assert f'Printed from <span class="pc-colophon__address">{here}/</span>,' in page
    assert f'<link rel="canonical" href="{here}/">' in page
    assert f'<meta property="og:url" content="{here}/">' in page
    assert f'<meta property="og:image" content="{here}.png">' in page


def test_the_installed_program_writes_the_document(programs: Path, tmp_path: Path) -> None:
    """The document that the installed program writes is the committed one."""
    run(programs / "percell", "openapi", "--out", "openapi.json", cwd=tmp_path)
    same = (tmp_path / "openapi.json").read_bytes() == (ROOT / "openapi/openapi.json").read_bytes()
    assert same, "write the document anew with `percell openapi` and commit it"
