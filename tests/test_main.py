"""The command line: its commands explain themselves, and the smallest of them does its work."""

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from percell.__main__ import main
from percell.web.baseline import baseline

ROOT = Path(__file__).parents[1]


def commands(group: click.Group, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    """Return the path of every command, groups included."""
    found = [path]
    for name, command in group.commands.items():
        below = (*path, name)
        found += commands(command, below) if isinstance(command, click.Group) else [below]
    return found


@pytest.mark.parametrize("command", commands(main), ids=" ".join)
@pytest.mark.parametrize("option", ["-h", "--help"])
def test_every_command_explains_itself_with_an_example(
    command: tuple[str, ...], option: str
) -> None:
    """Help is there in both spellings, and shows how to call the command."""
    result = CliRunner().invoke(main, [*command, option])
    assert result.exit_code == 0, result.output
    examples = result.output.partition("Example")[2].partition("Options:")[0]
    assert f"percell {' '.join(command)}".strip() in examples


@pytest.mark.parametrize("command", commands(main), ids=" ".join)
def test_every_option_says_what_it_is_for(command: tuple[str, ...]) -> None:
    """No option of any command is without a text."""
    found: click.Command = main
    for name in command:
        assert isinstance(found, click.Group)
        found = found.commands[name]
    options = [option for option in found.params if isinstance(option, click.Option)]
    assert [option.name for option in options if not option.help] == []


def test_the_document_is_written_into_a_new_folder(tmp_path: Path) -> None:
    """The document that the command writes is the committed one."""
    out = tmp_path / "new" / "openapi.json"
    result = CliRunner().invoke(main, ["openapi", "--out", str(out)])
    assert result.exit_code == 0, result.output
    kit = out.with_name("conformance.jsonl")
    assert result.output == f"wrote {out}\nwrote {kit}\n"
    assert out.read_bytes() == (ROOT / "openapi/openapi.json").read_bytes()
    assert kit.read_text("utf-8").startswith('{"about": ')


def test_the_baseline_is_written_on_demand(tmp_path: Path) -> None:
    """What later documents are compared with goes into a file of its own."""
    out = tmp_path / "baseline.json"
    result = CliRunner().invoke(main, ["openapi", "--baseline", "--out", str(out)])
    assert result.exit_code == 0, result.output
    assert out.read_bytes() == baseline()


def test_a_document_that_cannot_be_written_is_said_in_one_line(tmp_path: Path) -> None:
    """A file in the place of the folder ends the command with status 1."""
    (tmp_path / "file").write_text("no folder")
    result = CliRunner().invoke(main, ["openapi", "--out", str(tmp_path / "file/openapi.json")])
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == 1
    assert result.output == f"Error: {tmp_path}/file: File exists\n"


def test_what_concerns_a_server_does_not_concern_a_build_in_one_process() -> None:
    """A build asks the application of its own process, whatever hosts and address a server has."""
    code = (
        "from percell_site.api import connect; from percell_site.plugin import PercellPlugin; "
        "fields = dict(PercellPlugin.config_scheme); "
        "print(connect(fields['api'].default).get_json('/healthz')['status'])"
    )
    environment = os.environ | {
        "PERCELL_SITE_URL": "https://example.org/percell/",
        "PERCELL_ALLOWED_HOSTS": "example.org",
    }
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True
    )
    assert done.stdout == "ok\n", done.stderr
