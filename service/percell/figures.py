"""Keep the figures that the tables print, and tell which of them a change moves."""

from datetime import UTC, datetime
from pathlib import Path

import click

from percell import VERSION
from percell_site.api import connect
from percell_site.printed import keep, keep_moves, moves, printed, read

API = "percell.web.in_process:app"


def keep_figures(*, folder: Path, because: str | None) -> None:
    """Keep the figures as they are now, and put those that moved on the list.

    Raises:
        click.ClickException: Figures moved, and nobody says why. Nothing is written.
    """
    api = connect(API)
    try:
        now = printed(api)
    finally:
        api.close()
    found = moves(read(folder), now)
    for move in found:
        click.echo(move)
    if found and not because:
        raise click.ClickException(
            f"{len(found)} published figures moved. Nothing was written. Give the reason with --because."
        )
    if found and because:
        date = datetime.now(UTC).date().isoformat()
        keep_moves(folder, found, date=date, version=VERSION, because=because)
    keep(folder, now)
    click.echo(f"{len(found)} published figures moved. The figures are kept in {folder}")
