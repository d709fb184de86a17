"""The page "Make a client": its commands and its programs run as printed."""

import json
import re
import sys
import textwrap
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.rules import Attention
from percell.questions.vocabulary.verdict import Verdict
from percell.web.ask_csv import EXAMPLE

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "site/docs/make-a-client.md").read_text("utf-8")
CI = (ROOT / ".ci/run").read_text("utf-8")
PINNED = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
# what prepares a machine, and asks a registry: packages are here already
INSTALLS = re.compile(r"(python3 -m venv|\. \.venv/bin/activate|pip install|npm install)\b")


def blocks(language: str, heading: str) -> list[str]:
    """Return the code blocks of one language below one heading."""
    section = re.search(rf"^## {heading}$(.*?)(?=^## |\Z)", PAGE, re.DOTALL | re.MULTILINE)[1]
    return re.findall(rf"^```{language}$\n(.*?)^```$", section, re.DOTALL | re.MULTILINE)


def at(address: str, text: str) -> str:
    """Return what a reader of that address sees."""
    return re.sub(r"\{\{ address: (.+?) \}\}", rf"{address}\1", text)


def commands(address: str, block: str) -> str:
    """Return the commands of a block, without those that install."""
    return "".join(
        f"{line}\n" for line in at(address, block).splitlines() if not INSTALLS.match(line)
    )


@pytest.fixture(scope="module")
def python_client(
    running: Any, run: Callable[..., str], tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """Make the Python client as the page says, with the program in it."""
    folder = tmp_path_factory.mktemp("python")
    make, _ = blocks("sh", "Python")
    said = run("bash", "-euc", commands(running.address, make), cwd=folder)
    assert "warning" not in said.lower(), said
    (program,) = blocks("python", "Python")
    made = folder / re.search(r"^cd (\S+)$", make, re.MULTILINE)[1]
    (made / "ask.py").write_text(at(running.address, program), "utf-8")
    return made


@pytest.fixture(scope="module")
def typescript_client(
    running: Any,
    run: Callable[..., str],
    node_modules: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> Path:
    """Make the TypeScript client as the page says, and compile the program."""
    folder = tmp_path_factory.mktemp("typescript")
    (folder / "node_modules").symlink_to(node_modules)
    make, start = blocks("sh", "TypeScript")
    (program,) = blocks("typescript", "TypeScript")
    (folder / "ask.mts").write_text(at(running.address, program), "utf-8")
    compiled = start[: start.index("node ask.mjs")]
    run("bash", "-euc", commands(running.address, make + compiled), cwd=folder)
    return folder


@pytest.fixture(scope="module", params=["Python", "TypeScript"])
def program(request: pytest.FixtureRequest, run: Callable[..., str]) -> Callable[[], str]:
    """Return a way to start the program of one language, by the page's last command."""
    folder = request.getfixturevalue(f"{request.param.lower()}_client")
    start = blocks("sh", request.param)[-1].splitlines()[-1]
    return lambda: run("bash", "-euc", start, cwd=folder)


def test_the_versions_are_the_tested_ones() -> None:
    """What the page installs is what these tests, and CI, have."""
    installed = re.findall(r"^(?:pip|npm) install (.+)$", PAGE, re.MULTILINE)
    python, node = (line.split() for line in installed)
    assert set(python) <= set(PINNED["optional-dependencies"]["test"])
    assert len(node) == 3
    assert set(node) <= set(CI.split())


def test_the_program_shows_answers_and_problems(program: Callable[[], str]) -> None:
    """Headline, mark, cautions, every fault with its code, and a figure of one question of a batch."""
    said = program()
    assert (
        "\n[WARNING] Over the limit: continuous rating. 2S1P with cells rated 25 A and a coil reading of 0.3 Ω;"
        in said
    )
    assert "\n  32.1 A from the pack\n" in said
    assert said.count("A from the pack") == 1
    assert "\nI_cell = I / n: " in said
    assert said.count(" - Never exceed the manufacturer's continuous discharge rating.") == 2
    assert re.search(r"^.+ \(request \S+\)\n  /layout: .+ \(pattern\)\n  /cell_rating_a: .+ \(below\)$",
                     said, re.MULTILINE)  # fmt: skip
    assert re.search(r"^  /items/2/ask/cell_rating_a: .+ \(below\)$", said, re.MULTILINE)


def test_the_program_keeps_an_answer_that_is_unchanged(program: Callable[[], str]) -> None:
    """It sends the tag back, and takes 304 for what it is."""
    assert "\nunchanged\n" in program()


def test_the_program_asks_again_when_the_service_is_away(
    api: Any, program: Callable[[], str]
) -> None:
    """After a 503 it waits and asks again, and says the same in the end."""
    before = program()
    api.away = 2
    after = program()
    assert api.away == 0

    def without_ids(said: str) -> str:
        return re.sub(r"request \S+\)", "request)", said)

    assert without_ids(after) == without_ids(before)


def test_the_program_says_that_no_answer_is_no_permission(
    api: Any, program: Callable[[], str]
) -> None:
    """While the service stays away it shows no answer, and does not fall over what a proxy sends."""
    api.away = 1000
    said = program().splitlines()
    assert set(said) == {"No answer. This is not permission."}
    assert len(said) == 4


@pytest.mark.parametrize(
    ("member", "word", "raised"),
    [
        ("attention", "note", True),
        ("verdict", "within_limit", True),
        ("name", "continuous_rating", False),
        ("severity", "note", False),
        ("code", "below", False),
    ],
)
def test_the_program_counts_a_word_from_later_as_the_worst(
    api: Any, program: Callable[[], str], member: str, word: str, raised: bool
) -> None:
    """A word that was added after the client was made ends no program, and makes no answer look milder."""

    def marks(said: str) -> list[str]:
        return re.findall(r"^\[(.+?)\]", said, re.MULTILINE)

    api.later = {f'"{member}":"{word}"'.encode(): f'"{member}":"one_from_later"'.encode()}
    said = program()
    assert marks(said) == ["WARNING" if raised else "note", "WARNING", "WARNING"]
    if member == "code":
        assert "(one_from_later)" in said


def test_the_python_client_reads_every_question(
    api: Any, python_client: Path, run: Callable[..., str]
) -> None:
    """Each example by batch becomes an answer of its own class; one question is the same by GET and by POST."""
    items = [{"question": q.id, "ask": q.example} for q in QUESTIONS.values()]
    program = f"""
        import json
        from percell_client import Client
        from percell_client.api.loads import ask_direct_load, get_direct_load
        from percell_client.api.many_at_once import ask_batch
        from percell_client.models import Batch, DirectLoad

        asked = json.loads({json.dumps(QUESTIONS["direct-load"].example)!r})
        items = json.loads({json.dumps({"items": items})!r})
        with Client(base_url={api.address!r}, raise_on_unexpected_status=True) as client:
            by_post = ask_direct_load.sync(client=client, body=DirectLoad.from_dict(asked))
            by_get = get_direct_load.sync(client=client, **asked)
            batch = ask_batch.sync(client=client, body=Batch.from_dict(items))
        assert by_post == by_get
        kinds = [type(item.answer).__name__ for item in batch.items]
        print(json.dumps([by_get.to_dict(), kinds, batch.to_dict()]))
    """
    (python_client / "every.py").write_text(textwrap.dedent(program), "utf-8")
    said = run(sys.executable, "-W", "error", "every.py", cwd=python_client)
    answer, kinds, batch = json.loads(said)
    assert (
        answer
        == httpx.get(
            f"{api.address}/v1/direct-load", params=QUESTIONS["direct-load"].example
        ).json()
    )
    assert kinds == [f"{q.asked.__name__}Result" for q in QUESTIONS.values()]
    assert batch == httpx.post(f"{api.address}/v1/batch", json={"items": items}).json()


def test_the_python_client_asks_in_the_other_forms(
    api: Any, python_client: Path, run: Callable[..., str]
) -> None:
    """The short form is of the class of its question, CSV is a text, and a log is sent as a file."""
    program = f"""
        import io
        import json
        from percell_client import Client
        from percell_client.api.bench import ask_discharge_test_log
        from percell_client.api.other_forms import ask_in_short, get_as_csv, get_in_short
        from percell_client.models import DirectLoad, DirectLoadResult, DischargeTestAnswer
        from percell_client.types import File

        asked = json.loads({json.dumps(QUESTIONS["direct-load"].example)!r})
        log = File(io.BytesIO({EXAMPLE.encode()!r}))
        with Client(base_url={api.address!r}, raise_on_unexpected_status=True) as client:
            by_post = ask_in_short.sync("direct-load", client=client, body=DirectLoad.from_dict(asked))
            by_get = get_in_short.sync("direct-load", client=client, **asked)
            line = get_as_csv.sync("direct-load", client=client, **asked)
            judged = ask_discharge_test_log.sync(client=client, body=log, stop_voltage_v=2.75)
        assert by_post == by_get
        assert isinstance(by_get, DirectLoadResult), by_get
        assert isinstance(judged, DischargeTestAnswer), judged
        print(json.dumps([line, judged.asked.to_dict()]))
    """
    (python_client / "forms.py").write_text(textwrap.dedent(program), "utf-8")
    said = run(sys.executable, "-W", "error", "forms.py", cwd=python_client)
    line, asked = json.loads(said)
    assert line.startswith("question,attention,verdict,headline,findings,layout,")
    assert asked == {"stop_voltage_v": 2.75}


def test_a_list_of_words_has_one_name(python_client: Path) -> None:
    """No two enumerations of a made client hold the same words."""
    found: dict[frozenset[str], str] = {}
    for module in sorted((python_client / "percell_client/models").glob("*.py")):
        text = module.read_text("utf-8")
        if "(StrEnum)" in text:
            words = frozenset(re.findall(r'^    [A-Z]\w* = "(.+)"$', text, re.MULTILINE))
            assert words
            assert found.setdefault(words, module.stem) == module.stem
    assert "verdict" in found.values()


def test_types_tell_the_answers_of_a_batch_apart(
    python_client: Path, run: Callable[..., str], tmp_path: Path
) -> None:
    """A type checker knows the members of an answer once its `question` is compared, and only then."""
    checker = (sys.executable, "-m", "mypy", "--check-untyped-defs", f"--cache-dir={tmp_path}")
    run(*checker, "ask.py", cwd=python_client)
    program = (python_client / "ask.py").read_text("utf-8")
    wrong = program.replace("item.answer.question == ", "item.question == ")
    assert wrong != program
    (python_client / "wrong.py").write_text(wrong, "utf-8")
    with pytest.raises(AssertionError, match='has no attribute "pack_current_a"'):
        run(*checker, "wrong.py", cwd=python_client)


def test_types_refuse_what_the_api_refuses(
    typescript_client: Path, run: Callable[..., str]
) -> None:
    """A rating as a text, no layout, an unknown question, a figure before `question`: none compiles."""
    wrong = """\
        import type { components } from "./percell.js";
        type Schemas = components["schemas"];
        export const right: Schemas["DirectLoad"] = { layout: "1S1P", cell_rating_a: 20 };
        export const fixed: Schemas["OwnTable"]["fixed"] = { layout: "1S1P", cell_rating_a: 20 };
        export const text: Schemas["DirectLoad"] = { layout: "1S1P", cell_rating_a: "20" };
        export const less: Schemas["DirectLoad"] = { cell_rating_a: 20 };
        export const name: Schemas["Batch"] = { items: [{ question: "converter", ask: right }] };
        export const wide = (item: Schemas["BatchAnswer"]) => item.answer?.pack_current_a;
        """
    (typescript_client / "wrong.mts").write_text(textwrap.dedent(wrong), "utf-8")
    (start,) = (line for line in blocks("sh", "TypeScript")[1].splitlines() if "tsc" in line)
    with pytest.raises(AssertionError) as refused:
        run("bash", "-euc", start.replace("ask.mts", "wrong.mts"), cwd=typescript_client)
    lines = re.findall(r"wrong\.mts\((\d+),\d+\): error TS", str(refused.value))
    assert set(lines) == {"5", "6", "7", "8"}


def test_every_word_that_ranks_is_ranked() -> None:
    """Both programs know each verdict and each attention of this version, and rank them alike."""
    for heading, language in (("Python", "python"), ("TypeScript", "typescript")):
        (program,) = blocks(language, heading)
        table = re.search(r"RANKS.*?\{(.*?)\}", program, re.DOTALL)[1]
        ranks = {name.strip('"'): int(rank) for name, rank in re.findall(r'("?\w+"?): (\d)', table)}
        assert set(ranks) == {*map(str, Attention), *map(str, Verdict)}
        assert [ranks[word] for word in ("none", "note", "caution", "warning")] == [0, 1, 2, 3]
        assert ranks["over_limit"] == 3
        assert ranks["not_judged"] == ranks["little_headroom"] == 2
