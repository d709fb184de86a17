"""How much longer the site takes to build than MkDocs needs for the same pages, already written.

    python -m venv .venv && .venv/bin/pip install .
    .venv/bin/python tests/benchmarks/site_build.py

In an environment with percell alone: litestar and schemdraw import pydantic and matplotlib wherever
they find them, which adds a twentieth to the build, and a quarter.

One build writes every page and file as the plugin hands it to MkDocs. Then both ways take turns,
each in a fresh process from its start to its end: percell, which asks the API and writes the pages
as it builds, and plain MkDocs with the same theme and its own search in place of percell's, over the
written pages: the pages of rows are files to it. Both must come to the same pages. A ratio is the median over the rounds of the ratio within a
round, by processor time, which other work on the machine disturbs least. Stops by itself; prints
Markdown rows; exit code 1 where the target is missed.
"""

import os
import re
import resource
import subprocess
import sys
from pathlib import Path
from shutil import copy, copytree
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

import yaml
from mkdocs.commands.build import build as run_mkdocs
from mkdocs.config import load_config
from mkdocs.plugins import BasePlugin
from mkdocs.utils.yaml import yaml_load
from report import Target, rows_and_verdict

CHECKED_OUT = Path(__file__).parents[2] / "site"
ROUNDS = 5
HEADING = re.compile(r"<h[1-3].*?</h[1-3]>", re.DOTALL)
# what stands where in the folder that a run works in
SETTINGS, PAGES, VERSION = "site/mkdocs.yml", "pages", "version"
# the same date in every build; and modules compiled once, as they are in what is installed, where this
# runs in a checkout
ENVIRONMENT = os.environ | {"SOURCE_DATE_EPOCH": "1790000000", "PYTHONDONTWRITEBYTECODE": ""}


class Writer(BasePlugin):  # type: ignore[type-arg]
    """Writes down what the plugins before it hand to MkDocs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def _write(self, path: str, content: bytes) -> None:
        target = self.folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)

    def on_files(self, files: Any, /, *, config: Any) -> Any:
        """Write what is no page and no part of the theme."""
        for file in files:
            own = file.generated_by or file.src_dir == config.docs_dir
            if own and not file.is_documentation_page():
                self._write(file.src_uri, file.content_bytes)
        return files

    def on_page_markdown(self, markdown: str, /, *, page: Any, config: Any, files: Any) -> str:  # noqa: ARG002 - as MkDocs calls it
        """Write a page with its meta data."""
        meta = yaml.safe_dump(page.meta, allow_unicode=True) if page.meta else ""
        front = f"---\n{meta}---\n\n" if meta else ""
        self._write(page.file.src_uri, (front + markdown).encode())
        return markdown


def _run(config: Any) -> None:
    config.plugins.on_startup(command="build", dirty=False)
    try:
        run_mkdocs(config)
    finally:
        config.plugins.on_shutdown()


def write(work: Path) -> None:
    """Build the site once, and keep its pages as they were handed to MkDocs."""
    config = load_config(str(work / SETTINGS), site_dir=str(work / "write"))
    config.plugins["writer"] = Writer(work / PAGES)
    _run(config)
    (work / VERSION).write_text(config.extra["percell_version"], "utf-8")


def plain(work: Path) -> None:
    """Build the written pages, without percell, and with the search that MkDocs has of its own."""
    with (work / SETTINGS).open("rb") as text:
        said = yaml_load(text)["plugins"]
    kept = [one for one in said if not (isinstance(one, dict) and "percell" in one)]
    config = load_config(
        str(work / SETTINGS),
        site_dir=str(work / "plain"),
        docs_dir=str(work / PAGES),
        plugins=[*kept, "search"],
    )
    config.extra |= {"percell_version": (work / VERSION).read_text("utf-8"), "scope": "/"}
    _run(config)


def percell(work: Path) -> None:
    """Build the site as percell does."""
    # only here: the plain build must not pay for the import
    from percell_site.plugin import build

    build(source=(work / SETTINGS).parent, out=work / "percell", api=None)


WAYS = {way.__name__: way for way in (write, plain, percell)}


def _timed(way: str, work: Path) -> tuple[float, float]:
    """Return the seconds and the processor seconds of one build in a fresh process."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), perf_counter()
    command = [sys.executable, __file__, way, str(work)]
    done = subprocess.run(command, env=ENVIRONMENT, capture_output=True, text=True, timeout=300)
    if done.returncode:
        raise SystemExit(done.stderr)
    seconds, after = perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, cpu


def _same_site(one: Path, other: Path) -> None:
    """Stop unless both ways made the same pages, with the same headings: else the race means nothing."""
    made: list[dict[str, Any]] = [
        {
            str(path.relative_to(top)): HEADING.findall(path.read_text("utf-8"))
            for path in top.rglob("*.html")
        }
        for top in (one, other)
    ]
    unlike = sorted(
        name for name in made[0].keys() | made[1].keys() if made[0].get(name) != made[1].get(name)
    )
    if unlike:
        raise SystemExit(f"the two sites differ in {unlike}")


def main() -> int:
    """Run the benchmark."""
    found: dict[str, list[tuple[float, float]]] = {"percell": [], "plain": []}
    with TemporaryDirectory() as folder:
        work = Path(folder)
        # a copy, so that nobody who edits meanwhile makes the builds differ
        copytree(CHECKED_OUT, work / "site")
        copy(CHECKED_OUT.parent / "CHANGELOG.md", work)
        _timed("write", work)
        for _ in range(ROUNDS):
            for way, measured in found.items():
                measured.append(_timed(way, work))
        _same_site(work / "percell", work / "plain")
        count = sum(1 for _ in (work / "percell").rglob("*.html"))
    ratios = [a[1] / b[1] for a, b in zip(found["percell"], found["plain"], strict=True)]
    rows = [
        f"| {name} | {median(s for s, _ in found[way]):.2f} s "
        f"| {median(cpu for _, cpu in found[way]):.2f} s | {ratio} |"
        for way, name, ratio in (
            ("percell", f"percell: ask, write, build, {count} pages", f"{median(ratios):.2f}"),
            ("plain", "MkDocs alone, the same pages written", "1"),
        )
    ]
    print("| build | time | CPU | CPU over MkDocs alone |\n|---|---|---|---|")
    target = Target("site build / MkDocs alone", median(ratios), at_most=2)
    return rows_and_verdict(rows, [target])


if __name__ == "__main__":
    if len(sys.argv) == 3:
        WAYS[sys.argv[1]](Path(sys.argv[2]))
    else:
        sys.exit(main())
