"""Write a cell's profile for the command line."""

import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from percell_site.api import ApiError, connect
from percell_site.bench import LogError, judge, profile_text, read_log


def write_profile(
    *,
    logs: Sequence[Path],
    name: str,
    chemistry: str,
    size: str,
    limits: dict[str, Any],
    api: str | None,
    out: Path,
) -> None:
    """Judge logs through the API and write the profile; say what was found."""
    client = connect(api or "percell.web.asgi:app")
    try:
        judged = judge(client, [read_log(path) for path in logs], limits)
        text = profile_text(
            judged,
            name=name,
            chemistry=chemistry,
            size=size,
            measured_on=datetime.now(UTC).date(),
        )
    except (LogError, ApiError, OSError) as error:
        sys.exit(f"percell profile: {error}")
    finally:
        client.close()
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(text, "utf-8")
    for finding in judged["findings"]:
        click.echo(f"{finding['severity']}: {finding['sentence']}")
    click.echo(f"wrote {out}; put it on a page with: percell site build --cells {out.parent}")
