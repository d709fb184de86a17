"""What people read beside the code is plain English, and names only what is there."""

import re
import tomllib
from collections.abc import Iterator
from fnmatch import fnmatch
from itertools import chain
from pathlib import Path

import click
import pytest
from english import SENTENCE_END, SENTENCE_TURNS, words_of

from percell.__main__ import main

ROOT = Path(__file__).parents[1]
GUIDES = ["README.md", "DEVELOPERS.md"]
READ = [*GUIDES, "CHANGELOG.md"]
MOST_WORDS = 29
FOLDERS = ("service", "generator", "site", "openapi", "tests", ".ci")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
CODE = re.compile(r"^```.*?^```$", re.DOTALL | re.MULTILINE)
# what a file is named by, without a place to fill in
FILE = re.compile(r"[\w./-]+\.(?:py|toml|json|jsonl|js|css|md|jinja|yml|html)")
# a file of percell's readers, and what readers of the site fetch
ELSEWHERE = {"search.json", "security.txt", "percell-policy.txt"}


def blocks(text: str) -> Iterator[str]:
    """Yield the paragraphs, entries of lists and cells of tables of a text in Markdown, without code."""
    for line in CODE.sub("", text).splitlines():
        inside = re.sub(r"^\s*([-*>]|\d+\.)\s+|^#+\s+", "", line).replace("**", "")
        cells = inside.strip("|").split(" | ") if inside.startswith("|") else [inside]
        for cell in cells:
            # a sentence can begin with code, and a link is its words
            bare = re.sub(r"`[^`]*`", "`", re.sub(r"\[([^]]*)\]\([^)]*\)", r"\1", cell)).strip()
            if bare.strip("-|: "):
                yield bare


def faults_of(text: str) -> list[str]:
    """Return what is wrong with the English of a text in Markdown."""
    return [
        f"{turn}: {block[:80]}"
        for block in blocks(text)
        for turn in SENTENCE_TURNS
        if re.search(turn, block, re.IGNORECASE)
    ] + [
        f"{len(words_of(sentence))} words: {sentence}"
        for block in blocks(text)
        for sentence in SENTENCE_END.split(block)
        if len(words_of(sentence)) > MOST_WORDS
    ]


@pytest.mark.parametrize("guide", READ)
def test_a_guide_is_in_plain_english(guide: str) -> None:
    """No guide and no line of the changelog has an endless sentence, or a turn of phrase that has gone."""
    assert faults_of((ROOT / guide).read_text("utf-8")) == []


def test_the_faults_of_a_guide_are_found() -> None:
    """A long sentence is found in a paragraph, a list and a table; code and addresses are not read."""
    long = " ".join(["word"] * 30)
    for text in (long, f"- {long}", f"| a | {long} |", f"1. **{long}**"):
        assert faults_of(text) == [f"30 words: {long}"]
    assert faults_of(f"```sh\n{long}\n```") == []
    assert faults_of(f"`{long}` is [code]({long.replace(' ', '/')}).") == []
    assert len(faults_of("The cell is to be charged.")) == 1


def test_the_guide_names_only_files_that_exist() -> None:
    """Each file that the contributor guide names is in the tree, at that place."""
    known = [
        f"/{path.relative_to(ROOT).as_posix()}"
        for path in (
            *ROOT.glob("*"),
            *(p for folder in FOLDERS for p in (ROOT / folder).rglob("*")),
        )
    ]
    named = {
        code
        for code in re.findall(r"`([^`\n]+)`", CODE.sub("", DEVELOPERS))
        if FILE.fullmatch(code)
    }
    assert len(named) > 50
    missing = {one for one in named if not any(path.endswith(f"/{one}") for path in known)}
    assert missing - ELSEWHERE == set()


def test_the_guide_names_only_code_that_exists() -> None:
    """Each function, class, option and field that the contributor guide names is somewhere in the sources."""
    sources = "".join(
        path.read_text("utf-8")
        for folder in ("service", "generator", "tests", "site/tables", "site/theme")
        for path in (ROOT / folder).rglob("*")
        if path.suffix in {".py", ".toml", ".jinja", ".html"} and path.name != Path(__file__).name
    )
    words = set(re.findall(r"\w+", sources + (ROOT / "pyproject.toml").read_text("utf-8")))
    named = {
        part
        for code in re.findall(r"`([^`\n]+)`", CODE.sub("", DEVELOPERS))
        if re.fullmatch(r"[A-Za-z_][\w.]*", code) and not FILE.fullmatch(code)
        for part in code.split(".")
    }
    assert len(named) > 50
    assert named - words == set()


def test_the_guide_names_only_commands_that_exist() -> None:
    """Each command of percell that a guide names is one."""
    for guide in GUIDES:
        found = re.findall(
            r"\bpercell ([a-z]+)(?: ([a-z]+))?(?= |`|$)", _code_of(guide), re.MULTILINE
        )
        assert found
        for first, second in found:
            command = main.commands[first]
            if isinstance(command, click.Group):
                assert second in command.commands


def _code_of(guide: str) -> str:
    text = (ROOT / guide).read_text("utf-8")
    return "\n".join(CODE.findall(text) + re.findall(r"`([^`\n]+)`", CODE.sub("", text)))


def test_the_guide_gives_a_reason_for_each_dependency() -> None:
    """Each package that percell, its tests or its CI install stands in the table of dependencies."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = chain.from_iterable(project["optional-dependencies"].values())
    wanted = {one.partition("==")[0] for one in chain(project["dependencies"], extras)}
    wanted |= set(re.findall(r"(@?[\w/-]+)@\d", (ROOT / ".ci/run").read_text("utf-8")))
    table = DEVELOPERS.partition("\n## Dependencies\n")[2].partition("\n## ")[0]
    names = set(
        re.findall(r"@?[\w/-]+", " ".join(re.findall(r"^\| (.+?) \|", table, re.MULTILINE)))
    )
    assert len(wanted) > 30
    assert wanted - names == set()


def test_the_guide_says_what_each_file_at_the_top_is_for() -> None:
    """Whatever git keeps at the top of the tree is named in the guide."""
    ignored = [*(ROOT / ".gitignore").read_text("utf-8").split(), ".git"]
    top = {
        path.name
        for path in ROOT.iterdir()
        if path.is_file() and not any(fnmatch(path.name, pattern) for pattern in ignored)
    }
    assert {"README.md", "pyproject.toml"} <= top
    assert {one for one in top if f"`{one}`" not in DEVELOPERS} - {"DEVELOPERS.md"} == set()


def test_the_links_of_the_guide_lead_somewhere() -> None:
    """Each link inside the guide has its heading, and each link of the README its file."""
    headings = re.findall(r"^#+ (.+)$", CODE.sub("", DEVELOPERS), re.MULTILINE)
    anchors = {re.sub(r"[^\w -]", "", one.lower()).replace(" ", "-") for one in headings}
    assert set(re.findall(r"\]\(#([^)]+)\)", DEVELOPERS)) <= anchors
    readme = (ROOT / "README.md").read_text("utf-8")
    linked = re.findall(r"\]\((?!https?:)([^)#]+)\)", readme)
    assert linked
    assert [one for one in linked if not (ROOT / one).exists()] == []
