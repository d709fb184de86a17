"""Build the site for the command line, with a progress bar where someone watches."""

import logging
import shutil
import sys
from hashlib import blake2b
from pathlib import Path

import click
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

import percell_site
from percell import VERSION

STAMP = "percell-build.txt"


def source() -> Path:
    """Return the folder of the site's sources: packaged, else of the checkout."""
    home = Path(percell_site.__file__).parent
    packaged = home / "site"
    return packaged if packaged.is_dir() else home.parents[1] / "site"


def fingerprint() -> str:
    """Return a text that changes whenever a build would come out otherwise."""
    digest = blake2b(VERSION.encode(), digest_size=16)
    roots = [source(), Path(percell_site.__file__).parent, Path(__file__).parent]
    for root in roots:
        for path in sorted(p for p in root.rglob("*") if p.is_file()):
            if "__pycache__" not in path.parts and "public" not in path.parts:
                digest.update(str(path.relative_to(root)).encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()


def is_current(folder: Path) -> bool:
    """Return whether a folder holds the site as it would be built now."""
    stamp = folder / STAMP
    return stamp.is_file() and stamp.read_text("utf-8") == fingerprint()


def build_site(*, api: str | None, out: Path, cells: Path | None = None) -> None:
    """Build the site next to its folder, then put it in place at once."""
    from percell_site.plugin import build

    # what the engine warns of ends a strict build, so it must be read
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(message)s")
    fresh = out.with_name(out.name + ".new")
    console = Console(stderr=True)
    with Progress(
        TextColumn("site"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("pages"),
        console=console,
        disable=not sys.stderr.isatty(),
    ) as bar:
        task = bar.add_task("site", total=None)
        build(
            source=source(),
            out=fresh,
            api=api,
            cells=cells,
            progress=lambda done, of: bar.update(task, completed=done, total=of),
        )
    (fresh / STAMP).write_text(fingerprint(), "utf-8")
    old = out.with_name(out.name + ".old")
    shutil.rmtree(old, ignore_errors=True)
    if out.exists():
        out.rename(old)
    fresh.rename(out)
    shutil.rmtree(old, ignore_errors=True)
    click.echo(f"built {out}")
