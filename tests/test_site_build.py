"""The built site replaces an older one, and nothing else."""

import gzip
import os
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

import brotli
import click
import pytest
from click.testing import CliRunner, Result

import percell_site.plugin
from percell.__main__ import main
from percell.serve import serve
from percell.site_build import HERE, STAMP, fingerprint, is_current, refuse_foreign, site_url
from percell.waits import Waits


@pytest.fixture
def while_building(monkeypatch: pytest.MonkeyPatch) -> dict[str, Callable[[], None]]:
    """Replace the real build, which takes seconds, by a site of one page; return its hook."""
    hooks: dict[str, Callable[[], None]] = {}

    def build(*, out: Path, site_url: str, **_: Any) -> None:
        (out / "tables").mkdir(parents=True)
        (out / "index.html").write_text("new")
        (out / "address").write_text(site_url)
        hooks.get("then", lambda: None)()

    monkeypatch.delenv("PERCELL_SITE_URL", raising=False)
    monkeypatch.setattr(percell_site.plugin, "build", build)
    return hooks


@pytest.fixture
def out(tmp_path: Path, while_building: Any) -> Path:  # noqa: ARG001 - no test builds for real
    """Return the place of the site, with a folder beside it on each side."""
    for name in ("site.new", "site.old"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "mine").write_text("mine")
    return tmp_path / "site"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def tree(folder: Path) -> dict[str, str | None]:
    """Return all that lies in a folder: the text of each file, None for a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_text() if path.is_file() else None
        for path in folder.rglob("*")
    }


def earlier(out: Path) -> None:
    """Put an earlier site in place."""
    out.mkdir()
    (out / "index.html").write_text("earlier")
    (out / STAMP).write_text("an earlier fingerprint")


@pytest.mark.parametrize("before", ["nothing", "an empty folder", "an earlier site"])
def test_a_site_goes_where_nothing_or_a_site_was(out: Path, before: str) -> None:
    """The new site has the usual permissions of a new folder, and the folders beside it stay as they were."""
    if before == "an empty folder":
        out.mkdir()
    elif before == "an earlier site":
        earlier(out)
    kept = {name: text for name, text in tree(out.parent).items() if name.startswith("site.")}
    result = run("site", "build", "--out", out)
    assert result.exit_code == 0, result.output
    made = tree(out)
    assert made.pop(STAMP)
    assert made == {"tables": None, "index.html": "new", "address": HERE}
    around = {n: t for n, t in tree(out.parent).items() if n.partition("/")[0] != "site"}
    assert around == kept
    umask = os.umask(0)
    os.umask(umask)
    assert out.stat().st_mode & 0o777 == 0o777 & ~umask


@pytest.mark.parametrize("command", [("site", "build", "--out"), ("serve", "--site")])
@pytest.mark.parametrize("name", ["letter.txt", "index.html", ".hidden", "folder"])
def test_a_folder_of_somebody_else_is_refused(
    out: Path, command: tuple[str, ...], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If percell did not build what is in a folder, nothing is changed and nothing starts."""

    def started(*_: Any, **__: Any) -> None:
        pytest.fail("it started")

    monkeypatch.setattr("socket.create_server", started)
    monkeypatch.setattr("subprocess.Popen", started)
    out.mkdir()
    if name == "folder":
        (out / name).mkdir()
    else:
        (out / name).write_text("years of work")
    before = tree(out.parent)
    result = run(*command, out)
    assert result.exit_code == 1
    assert f"{out} is not empty" in result.output
    assert STAMP in result.output
    assert tree(out.parent) == before


def test_what_appears_during_the_build_stays(out: Path, while_building: Any) -> None:
    """percell checks the folder again before it replaces it, and removes the half-done build."""

    def then() -> None:
        out.mkdir()
        (out / "letter.txt").write_text("years of work")

    while_building["then"] = then
    before = tree(out.parent)
    result = run("site", "build", "--out", out)
    assert result.exit_code == 1
    assert "is not empty" in result.output
    assert tree(out.parent) == before | {"site": None, "site/letter.txt": "years of work"}


@pytest.mark.parametrize("ending", [KeyboardInterrupt, SystemExit, OSError])
def test_a_build_that_fails_leaves_nothing(
    out: Path, while_building: Any, ending: type[BaseException]
) -> None:
    """The earlier site stays in place, and nothing half built beside it."""

    def then() -> None:
        raise ending

    earlier(out)
    while_building["then"] = then
    before = tree(out.parent)
    run("site", "build", "--out", out)
    assert tree(out.parent) == before


@pytest.mark.parametrize("before", ["nothing", "an earlier site"])
def test_what_was_in_place_comes_back_where_the_new_site_cannot_go(
    out: Path, monkeypatch: pytest.MonkeyPatch, before: str
) -> None:
    """Between the two renamings a failure undoes the first, and is said in one line."""
    rename = Path.rename

    def failing(path: Path, target: Path) -> Path:
        if path.name == "new":
            raise OSError(18, "Invalid cross-device link", str(path))
        return rename(path, target)

    if before == "an earlier site":
        earlier(out)
    was = tree(out.parent)
    monkeypatch.setattr(Path, "rename", failing)
    result = run("site", "build", "--out", out)
    assert result.exit_code == 1
    assert result.output.startswith("Error: the site was not built: [Errno 18] ")
    assert tree(out.parent) == was


def test_a_file_in_the_place_of_the_site_is_refused(tmp_path: Path) -> None:
    """A file is no folder for a site, however a caller names it."""
    (tmp_path / "site").write_text("years of work")
    with pytest.raises(click.ClickException, match=f"{tmp_path}/site: Not a directory"):
        refuse_foreign(tmp_path / "site")


def test_a_site_is_stale_by_its_sources_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page or a changelog that changes makes it stale; compiled modules and a site built among the sources do not."""
    (tmp_path / "CHANGELOG.md").write_text("one")
    tmp_path /= "site"
    monkeypatch.setattr("percell.site_build.source", lambda: tmp_path)
    page = tmp_path / "docs" / "index.md"
    page.parent.mkdir(parents=True)
    page.write_text("one")
    first = fingerprint(HERE)
    for folder in ("__pycache__", "public"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "made").write_text("by a build")
    assert fingerprint(HERE) == first
    page.write_text("two")
    second = fingerprint(HERE)
    (tmp_path.parent / "CHANGELOG.md").write_text("two")
    assert len({first, second, fingerprint(HERE)}) == 3


def test_the_folder_that_one_stands_in(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A dot means the current folder, and the command says how to see the new one."""
    out.mkdir()
    monkeypatch.chdir(out)
    result = run("site", "build", "--out", ".")
    monkeypatch.chdir(out.parent)
    assert result.exit_code == 0, result.output
    assert (out / "index.html").read_text() == "new"
    assert f"cd {out}" in result.output


def test_a_link_to_a_folder_stays_a_link(out: Path) -> None:
    """The site goes to the folder that the link names."""
    out.symlink_to(out.parent / "elsewhere")
    assert run("site", "build", "--out", out).exit_code == 0
    assert out.is_symlink()
    assert (out.parent / "elsewhere" / "index.html").read_text() == "new"


@pytest.mark.parametrize(
    ("configured", "printed"),
    [
        (None, HERE),
        ("", HERE),
        ("https://tables.example", "https://tables.example/"),
        ("https://tables.example/cells/", "https://tables.example/cells/"),
    ],
)
def test_the_address_is_that_of_the_environment_first(
    out: Path, monkeypatch: pytest.MonkeyPatch, configured: str | None, printed: str
) -> None:
    """Pages print what PERCELL_SITE_URL says; without it, where the site is served by default."""
    if configured is not None:
        monkeypatch.setenv("PERCELL_SITE_URL", configured)
    assert run("site", "build", "--out", out).exit_code == 0
    assert (out / "address").read_text() == printed
    assert is_current(out, site_url())


def test_forms_can_be_sent_to_a_service_elsewhere(out: Path) -> None:
    """A site whose forms go elsewhere is another site; an address that no form could reach is refused."""
    assert run("site", "build", "--out", out, "--api-url", "https://cells.example/").exit_code == 0
    assert not is_current(out, site_url())
    for wrong in ("cells.example", "https://cells.example/v1"):
        result = run("site", "build", "--out", out, "--api-url", wrong)
        assert result.exit_code == 2
        assert wrong in result.output


def test_a_site_for_another_address_is_stale(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A change of the address alone builds the site again."""
    assert run("site", "build", "--out", out).exit_code == 0
    assert is_current(out, site_url())
    assert not is_current(out, site_url("http://127.0.0.1:9000/"))
    monkeypatch.setenv("PERCELL_SITE_URL", "https://tables.example/")
    assert not is_current(out, site_url())


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Start no server and no build beside it; return the commands that would have started."""
    commands: list[list[str]] = []

    class Started:
        def __init__(self, command: list[str], **_: Any) -> None:
            commands.append(command)

        def terminate(self) -> None:
            """End nothing."""

        def wait(self) -> None:
            """Wait for nothing."""

    monkeypatch.setenv("PERCELL_SITE", "")  # so that it is put back
    monkeypatch.setattr("subprocess.Popen", Started)
    monkeypatch.setattr("socket.getaddrinfo", lambda *_, **__: [(socket.AF_INET,)])
    monkeypatch.setattr("socket.create_server", lambda *_, **__: None)
    monkeypatch.setattr("uvicorn.Server.run", lambda *_: None)
    monkeypatch.setattr("signal.signal", lambda *_: None)
    return commands


@pytest.mark.parametrize(
    ("host", "configured", "printed"),
    [
        ("127.0.0.1", None, "http://127.0.0.1:8765/"),
        ("0.0.0.0", None, "http://127.0.0.1:8765/"),  # noqa: S104 - no server starts here
        ("bench.example", None, "http://bench.example:8765/"),
        ("127.0.0.1", "https://tables.example/", "https://tables.example/"),
    ],
)
def test_a_site_beside_the_server_prints_where_it_is_served(
    out: Path,
    started: list[list[str]],
    monkeypatch: pytest.MonkeyPatch,
    host: str,
    configured: str | None,
    printed: str,
) -> None:
    """PERCELL_SITE_URL comes first; the server's own environment stays as it is, for replies."""
    if configured:
        monkeypatch.setenv("PERCELL_SITE_URL", configured)
    serve(host=host, port=8765, workers=1, site=out, waits=Waits())
    assert [command[-1] for command in started] == [printed]
    assert os.environ.get("PERCELL_SITE_URL") == configured


def test_a_site_with_cells_of_one_s_own_stays(out: Path, started: list[list[str]]) -> None:
    """The server cannot build it again, so it serves the site as it is and says that it is stale."""
    cells = out.parent / "cells"
    cells.mkdir()
    assert run("site", "build", "--cells", cells, "--out", out).exit_code == 0
    assert is_current(out, site_url())
    before = tree(out)
    said = run("serve", "--site", out)
    assert (said.exit_code, "cells of your own" in said.output) == (0, False)
    said = run("serve", "--site", out, "--port", "8765")
    assert (said.exit_code, "cells of your own" in said.output) == (0, True)
    assert not started
    assert tree(out) == before


def test_a_host_that_is_not_known_is_said_in_one_line(out: Path) -> None:
    """An unknown host name ends the command before anything is built."""
    before = tree(out.parent)
    result = run("serve", "--host", "bench.invalid", "--site", out)
    assert result.exit_code == 1
    assert len(result.output.splitlines()) == 1
    assert "cannot listen on bench.invalid, port 8000: " in result.output
    assert tree(out.parent) == before


def test_a_taken_port_is_said_in_one_line(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is built, and no folder for the site appears."""
    started: list[Any] = []
    monkeypatch.setattr("subprocess.Popen", lambda *_, **__: started.append(1))
    before = tree(out.parent)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        result = run("serve", "--port", str(port), "--site", out)
    assert result.exit_code == 1
    assert len(result.output.splitlines()) == 1
    assert f"cannot listen on 127.0.0.1, port {port}: Address already in use (" in result.output
    assert not started
    assert tree(out.parent) == before


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--port", "0"),
        ("--port", "65536"),
        ("--port", "-1"),
        ("--workers", "0"),
        ("--workers", "65"),
    ],
)
def test_numbers_that_no_server_has_are_refused(out: Path, option: str, value: str) -> None:
    """Ports go from 1 to 65,535, and there is at least one worker."""
    result = run("serve", option, value, "--site", out)
    assert result.exit_code == 2
    assert option in result.output
    assert not out.exists()


def test_files_of_text_are_compressed_ahead(out: Path, while_building: Any) -> None:
    """Beside a text is the same text in gzip, and what is long or used by many pages in brotli too; always the same."""
    site = {
        "long.html": "long Ω " * 3000,
        "middling.html": "long Ω " * 1000,
        "of-all-pages.css": "long Ω " * 1000,
        "short.html": "short",
        "a.png": "p" * 9000,
    }

    def then() -> None:
        for name, text in site.items():
            (folder() / name).write_text(text)

    def folder() -> Path:
        return next(out.parent.glob(".site-*/new"))

    while_building["then"] = then
    made = []
    for _ in range(2):
        assert run("site", "build", "--out", out).exit_code == 0
        made.append({path.name: path.read_bytes() for path in out.iterdir() if path.is_file()})
    first, second = made
    assert first == second
    packed = {name for name in first if name.endswith((".br", ".gz"))}
    long = {"long.html.br", "long.html.gz"}
    assert packed == {*long, "middling.html.gz", "of-all-pages.css.br", "of-all-pages.css.gz"}
    assert brotli.decompress(first["long.html.br"]).decode() == site["long.html"]
    assert gzip.decompress(first["long.html.gz"]).decode() == site["long.html"]
