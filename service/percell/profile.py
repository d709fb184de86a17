"""Write a cell's profile for the command line."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from percell.questions.bench.discharge_logs import Limits
from percell.questions.vocabulary.refusal import RefusedAll
from percell.web.csv_log import PIECE, NotUtf8, read_log
from percell_site.api import ApiError, connect
from percell_site.bench import NoProfile, judge, profile_text


def write_profile(
    *,
    logs: Sequence[Path],
    about: dict[str, Any],
    limits: dict[str, Any],
    bench: dict[str, Any],
    api: str | None,
    out: Path,
) -> None:
    """Judge logs through the API, write the profile, and print the findings.

    Raises:
        click.ClickException: A log cannot be read, the API refuses the logs or does not answer, or
            the profile cannot be written. Nothing was written.
    """
    columns = [_read(path) for path in logs]
    try:
        client = connect(api or "percell.web.asgi:app")
        try:
            judged = judge(client, columns, limits)
        finally:
            client.close()
        text = profile_text(
            judged,
            about=about,
            limits=limits,
            bench=bench,
            measured_on=datetime.now(UTC).date(),
        )
    except (ApiError, NoProfile) as error:
        raise click.ClickException(str(error)) from error
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        out.write_text(text, "utf-8")
    except OSError as error:
        raise click.ClickException(f"{error.filename}: {error.strerror}") from error
    for finding in judged["findings"]:
        click.echo(f"{finding['severity']}: {finding['sentence']}")
    click.echo(f"wrote {out}; put it on a page with: percell site build --cells {out.parent}")


def _read(path: Path) -> dict[str, Any]:
    """Return a log as the API takes it."""
    try:
        with path.open("rb") as file:
            log = read_log(iter(lambda: file.read(PIECE), b""), Limits())
    except OSError as error:
        raise click.ClickException(f"{path}: {error.strerror}") from error
    except NotUtf8 as error:
        raise click.ClickException(f"{_at(path, str(error.row))}: The log is not UTF-8.") from error
    except RefusedAll as error:
        _, *place = error.pointer.removeprefix("/").split("/")  # /rows/9000/voltage_v
        raise click.ClickException(f"{_at(path, *place)}: {error.detail}") from error
    columns = {name: values.tolist() for name, values in log.measured.items() if values is not None}
    return {"label": path.stem[:40], **columns}


def _at(path: Path, row: str = "", column: str = "") -> str:
    """Return a place in a log in words: file, row and column."""
    named = "the row of names" if row == "0" else f"row {row}"
    return ", ".join([str(path), *([named] if row else []), *([column] if column else [])])
