"""Write a cell's profile for the command line."""

import hashlib
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
import msgspec

from percell.questions.bench.discharge_logs import DischargeLimits
from percell.questions.vocabulary.refusal import RefusedAll
from percell.web.csv_log import PIECE, NotUtf8, read_log
from percell.web.log_names import GivenColumns
from percell_site.api import ApiError, connect
from percell_site.bench import NoProfile, judge, profile_text, reading

# by field of the API: the option of the command
OPTIONS = {
    "time_column": "--time",
    "voltage_column": "--voltage",
    "current_column": "--current",
    "temperature_column": "--temperature",
    "decimal_mark": "--decimal-mark",
}


def given_columns(**said: str | None) -> GivenColumns:
    """Return what the options say of the columns.

    Raises:
        click.ClickException: An option is empty or too long.
    """
    given = {name: text for name, text in said.items() if text is not None}
    try:
        return msgspec.convert(given, GivenColumns)
    except msgspec.ValidationError as error:
        field = next(name for name in OPTIONS if name in str(error))
        raise click.ClickException(f"{OPTIONS[field]} is empty or too long.") from error


def write_profile(
    *,
    logs: Sequence[Path],
    columns: GivenColumns,
    about: dict[str, Any],
    limits: dict[str, Any],
    bench: dict[str, Any],
    command: str,
    api: str | None,
    out: Path,
) -> None:
    """Judge logs through the API, write the profile, and print the findings.

    Raises:
        click.ClickException: A log cannot be read, the API refuses the logs or does not answer, or
            the profile cannot be written. Nothing was written.
    """
    read = [_read(path, columns, limits) for path in logs]
    try:
        client = connect(api or "percell.web.in_process:app")
        try:
            judged = judge(client, read, limits)
        finally:
            client.close()
        text = profile_text(
            judged,
            about=about,
            limits=limits | msgspec.to_builtins(columns),
            bench=bench,
            files=[{"file": path.name, "sha256": _sha256(path)} for path in logs],
            command=command,
            measured_on=datetime.now(UTC).date(),
        )
    except (ApiError, NoProfile) as error:
        raise click.ClickException(str(error)) from error
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        out.write_text(text, "utf-8")
    except OSError as error:
        raise click.ClickException(f"{error.filename}: {error.strerror}") from error
    for path, log in zip(logs, judged["logs"], strict=True):
        click.echo(f"{path}: {log['rows']} rows, {reading(log['read_as'])}")
    for finding in judged["findings"]:
        click.echo(f"{finding['severity']}: {finding['sentence']}")
    click.echo(f"wrote {out}\nTo put it on a page: percell site build --cells {out.parent}")


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _read(path: Path, given: GivenColumns, limits: dict[str, Any]) -> dict[str, Any]:
    """Return a log as the API takes it."""
    allowed = {name: limits[name] for name in ("longest_gap_s",) if name in limits}
    try:
        with path.open("rb") as file:
            log = read_log(iter(lambda: file.read(PIECE), b""), DischargeLimits(**allowed), given)
    except OSError as error:
        raise click.ClickException(f"{path}: {error.strerror}") from error
    except NotUtf8 as error:
        at = _at(path, f"/rows/{error.row}")
        raise click.ClickException(f"{at}: The log is not UTF-8.") from error
    except RefusedAll as error:
        at, said = _at(path, error.pointer), error.detail
        for field, option in OPTIONS.items():
            said = said.replace(field, option)
        raise click.ClickException(f"{at}: {said}") from error
    columns = {name: values.tolist() for name, values in log.measured.items() if values is not None}
    return {"label": path.stem[:40], **columns, "read_as": msgspec.to_builtins(log.read_as)}


def _at(path: Path, pointer: str) -> str:
    """Return a place in a log in words: file, row and column, or the option that names a column."""
    first, *place = pointer.removeprefix("/").split("/")  # /rows/9000/voltage_v
    if first in OPTIONS:
        return f"{path}, {OPTIONS[first]}"
    row, column = [*place, "", ""][:2]
    named = "the row of names" if row == "0" else f"row {row}"
    plain = column.replace("~1", "/").replace("~0", "~")
    return ", ".join([str(path), *([named] if row else []), *([plain] if plain else [])])
