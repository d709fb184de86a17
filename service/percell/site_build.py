"""Build the site for the command line, with a progress bar if the output is a terminal."""

import logging
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import blake2b
from pathlib import Path
from tempfile import TemporaryDirectory

import click
import platformdirs
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

import percell_site
from percell import VERSION
from percell.web.codings import BROTLI, ENDINGS, LEAST, compressed
from percell_site.api import ApiError
from percell_site.profiles import ProfileError

STAMP = "percell-build.txt"
# bytes: of the thousands of smaller files, mostly pages of rows, brotli would save no packet
_IN_BROTLI = 16 * 1024
_OWN_CELLS = "own cells"
_TEXT = {".css", ".csv", ".html", ".js", ".json", ".map", ".svg", ".txt", ".xml"}
# where ``percell serve`` serves the site by default
HERE = "http://127.0.0.1:8000/"


def source() -> Path:
    """Return the folder of the site's sources: in the package, or else in the checkout."""
    home = Path(percell_site.__file__).parent
    packaged = home / "site"
    return packaged if packaged.is_dir() else home.parents[1] / "site"


def cached_site() -> Path:
    """Return where ``percell serve`` keeps the site that it can build again: in the user's cache."""
    return platformdirs.user_cache_path("percell", appauthor=False) / "site"


def site_url(served_at: str = HERE) -> str:
    """Return the address that the pages print: ``PERCELL_SITE_URL``, or else where they are served."""
    return (os.environ.get("PERCELL_SITE_URL") or served_at).rstrip("/") + "/"


def fingerprint(url: str, api_url: str = "") -> str:
    """Return a text that changes whenever a build for an address would make another site."""
    digest = blake2b(f"{VERSION} {url} {api_url}".encode(), digest_size=16)
    roots = [source(), Path(percell_site.__file__).parent, Path(__file__).parent]
    digest.update((source().parent / "CHANGELOG.md").read_bytes())
    for root in roots:
        for path in sorted(p for p in root.rglob("*") if p.is_file()):
            if "__pycache__" not in path.parts and "public" not in path.parts:
                digest.update(str(path.relative_to(root)).encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()


def is_current(folder: Path, url: str) -> bool:
    """Return whether a folder holds the site that a build for an address would make, with any cells."""
    return _stamp(folder)[:1] == [fingerprint(url)]


def has_own_cells(folder: Path) -> bool:
    """Return whether the site in a folder has the user's own cells: the server cannot build it again."""
    return _OWN_CELLS in _stamp(folder)


def _stamp(folder: Path) -> list[str]:
    stamp = folder / STAMP
    return stamp.read_text("utf-8").splitlines() if stamp.is_file() else []


def refuse_foreign(folder: Path) -> None:
    """Refuse a folder that holds anything but a site built by percell, because a build would delete it.

    Raises:
        click.ClickException: The folder is not empty and has no stamp of a build, or cannot be read.
    """
    try:
        foreign = folder.exists() and any(folder.iterdir()) and not (folder / STAMP).is_file()
    except OSError as error:
        raise click.ClickException(f"{folder}: {error.strerror}") from error
    if foreign:
        raise click.ClickException(
            f"{folder} is not empty, and percell did not build what is in it (no {STAMP}). Nothing was "
            "changed. Name a new or empty folder, or one that percell built."
        )


@contextmanager
def _faults_in_one_line() -> Iterator[None]:
    try:
        yield
    except (ApiError, ProfileError, OSError) as error:
        raise click.ClickException(f"the site was not built: {error}") from error


@_faults_in_one_line()
def build_site(
    *, api: str | None, out: Path, url: str, cells: Path | None = None, api_url: str = ""
) -> None:
    """Build the site in a new folder next to its place, then put it in place at once.

    Raises:
        click.ClickException: percell did not build what is in place, the API does not answer, or a
            profile or a folder cannot be read. What is in place stays as it is.
    """
    from percell_site.plugin import build

    out = out.resolve()
    refuse_foreign(out)
    if cells:
        _refuse_cache(out)
        os.listdir(cells)  # the build would take a missing folder for an empty one
    inside = Path.cwd().is_relative_to(out)
    stamp = fingerprint(url, api_url)  # taken now, because the sources may change during the build
    # a warning of the site engine fails a strict build, so show it
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(message)s")
    out.parent.mkdir(parents=True, exist_ok=True)
    # next to its place, because a rename is one step only within a file system
    with TemporaryDirectory(
        prefix=f".{out.name}-", dir=out.parent, ignore_cleanup_errors=True
    ) as scratch:
        fresh = Path(scratch, "new")
        with Progress(
            TextColumn("site"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("pages"),
            console=Console(stderr=True),
            disable=not sys.stderr.isatty(),
        ) as bar:
            task = bar.add_task("site", total=None)
            build(
                source=source(),
                out=fresh,
                api=api,
                cells=cells,
                site_url=url,
                api_url=api_url,
                progress=lambda done, of: bar.update(task, completed=done, total=of),
            )
        compress_ahead(fresh)
        (fresh / STAMP).write_text("\n".join([stamp, *([_OWN_CELLS] if cells else [])]), "utf-8")
        _put_in_place(fresh, out, aside=Path(scratch, "old"))
    click.echo(f"built {out}")
    if inside:
        click.echo(f"A new folder replaced the one that you are in. To see it: cd {out}")


def compress_ahead(folder: Path) -> None:
    """Put beside each file of text what a server may send in its place to a client that accepts it."""
    for path in [*folder.rglob("*")]:
        if path.suffix in _TEXT and path.stat().st_size >= LEAST:
            body = path.read_bytes()
            # many pages load these
            shared = path.suffix in (".css", ".js")
            for coding, ending in ENDINGS.items():
                if coding == BROTLI and len(body) < _IN_BROTLI and not shared:
                    continue
                packed = compressed(body, coding, kept=shared)
                path.with_name(path.name + ending).write_bytes(packed)


def _refuse_cache(out: Path) -> None:
    if out == cached_site().resolve():
        raise click.ClickException(
            f"Do not use {out} for a site with cells of your own: it is a cache, and any program can delete "
            "it. Name another folder."
        )


def _put_in_place(fresh: Path, out: Path, *, aside: Path) -> None:
    refuse_foreign(out)  # again: someone may have put files there during the build
    try:
        if out.exists():
            out.rename(aside)
        fresh.rename(out)
    except BaseException:
        if aside.exists() and not out.exists():
            aside.rename(out)
        raise
