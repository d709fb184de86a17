"""The arrows: web to questions to physics, generator to the API by HTTP alone."""

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
NUMERIC = {"numpy", "scipy"}
# a name allows itself and what lies below it; VERSION is the one thing that all may take from the top
ALLOWED = {
    "service/percell/physics": NUMERIC | {"percell.physics"},
    "service/percell/questions": NUMERIC
    | {"msgspec", "percell.VERSION", "percell.physics", "percell.questions"},
    "service/percell/web": {
        "brotli",
        "jinja2",
        "litestar",
        "msgspec",
        "multipart",  # the fields of a form whose files are too large are read from its head
        "numpy",  # a log is read, as it arrives, into the arrays that its question takes
        "percell.VERSION",
        "percell.physics.errors",
        "percell.questions",
        "percell.web",
    },
}
# the rooms of the questions: each may use itself and what lies below it, and nothing of one beside it
ROOMS = {
    "loads": {"cell", "answering", "vocabulary"},
    "bench": {"cell", "answering", "vocabulary"},
    "cell": {"unequal", "answering", "vocabulary"},
    "unequal": {"answering", "vocabulary"},
    "answering": {"vocabulary"},
    "vocabulary": set(),
}
FIVE_TOP_FOLDERS = ["service", "generator", "site", "openapi", "tests"]
PYTHON = [
    path.relative_to(ROOT).as_posix()
    for folder in ("service", "generator")
    for path in sorted((ROOT / folder).rglob("*.py"))
]


def imported(source: str) -> Iterator[str]:
    """Return the full name of each thing that a module imports, wherever in it the import stands."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            before = "." * node.level + (node.module or "")
            yield from (f"{before}.{alias.name}" for alias in node.names)


def foreign(source: str, allowed: set[str]) -> list[str]:
    """Return what a module imports besides the standard library and what it may."""
    return [
        name
        for name in imported(source)
        if name.partition(".")[0] not in sys.stdlib_module_names
        and not any(name == one or name.startswith(f"{one}.") for one in allowed)
    ]


def within(folder: str) -> list[str]:
    return [path for path in PYTHON if path.startswith(f"{folder}/")]


@pytest.mark.parametrize("folder", ALLOWED)
def test_a_layer_imports_only_what_lies_below_it(folder: str) -> None:
    """Physics knows numbers alone, questions know physics, and the web knows questions."""
    offending = {
        path: names
        for path in within(folder)
        if (names := foreign((ROOT / path).read_text("utf-8"), ALLOWED[folder]))
    }
    assert offending == {}


QUESTIONS = "service/percell/questions"


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_of_the_questions_imports_only_what_lies_below_it(room: str) -> None:
    """A subject knows how answers are made, that knows the shared words, and none knows the list."""
    rooms = {f"percell.questions.{name}" for name in ROOMS[room] | {room}}
    allowed = (ALLOWED[QUESTIONS] - {"percell.questions"}) | rooms
    offending = {
        path: names
        for path in within(f"{QUESTIONS}/{room}")
        if (names := foreign((ROOT / path).read_text("utf-8"), allowed))
    }
    assert within(f"{QUESTIONS}/{room}")
    assert offending == {}


def test_the_rooms_of_the_questions_form_no_circle() -> None:
    """Following the arrows between the rooms never leads back."""
    order = list(ROOMS)
    assert all(order.index(below) > order.index(room) for room in ROOMS for below in ROOMS[room])
    folders = {path.split("/")[3] for path in within(QUESTIONS) if path.count("/") > 3}
    assert folders == set(ROOMS)


def test_every_test_of_a_room_stands_in_the_folder_of_that_room() -> None:
    """Tests mirror the code: what a room's module does is tested in the folder of the same name."""
    tests = {path.name for path in (ROOT / "tests/questions").iterdir() if path.is_dir()}
    assert tests - {"__pycache__"} == set(ROOMS)


def test_every_layer_has_modules() -> None:
    """The folders that the arrows run between are there, so that the checks above check something."""
    assert all(within(folder) for folder in ALLOWED)
    known = (*ALLOWED, "service/percell/tables")
    top = [path for path in within("service/percell") if path.count("/") > 2]
    assert [path for path in top if not path.startswith(tuple(f"{f}/" for f in known))] == []


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("import litestar", ["litestar"]),
        ("import numpy as np, httpx", ["httpx"]),
        ("from percell import web", ["percell.web"]),
        ("from percell import physics, VERSION", []),
        ("from percell.web.ask import encode", ["percell.web.ask.encode"]),
        ("from percell.physicsish import x", ["percell.physicsish.x"]),
        ("from . import x", ["..x"]),
        ("def f():\n    import msgspec.json, os", []),
        ("if TYPE_CHECKING:\n    from percell_site import api", ["percell_site.api"]),
    ],
)
def test_an_arrow_against_the_rule_is_seen(source: str, found: list[str]) -> None:
    """The reader of imports sees each way to write one."""
    assert foreign(source, ALLOWED["service/percell/questions"]) == found


def importers(folder: str, packages: set[str]) -> set[str]:
    """Return the modules of a folder that import one of some packages."""
    return {
        path
        for path in within(folder)
        if packages & {n.partition(".")[0] for n in imported((ROOT / path).read_text("utf-8"))}
    }


def test_the_generator_knows_the_api_by_http_alone() -> None:
    """No line of the service is imported by what asks it, and only the plugin knows MkDocs."""
    assert importers("generator", {"percell", "litestar", "uvicorn"}) == set()
    assert importers("generator", {"mkdocs"}) == {"generator/percell_site/plugin.py"}


def test_only_the_top_of_the_service_knows_the_generator() -> None:
    """Service and generator are put together at the top alone: by the command line and what it starts."""
    found = importers("service", {"percell_site", "mkdocs", "click", "uvicorn", "httpx"})
    assert found
    assert all(path.count("/") == 2 and not path.endswith("__init__.py") for path in found)


@pytest.mark.parametrize("folder", FIVE_TOP_FOLDERS)
def test_top_folders_are_no_packages(folder: str) -> None:
    """The five top folders are folders, not packages."""
    assert (ROOT / folder).is_dir()
    assert not (ROOT / folder / "__init__.py").exists()


def test_loading_the_service_starts_no_thread() -> None:
    """One thread is enough until a slow question is asked: a library's own would only spin."""
    code = "import os, percell.web.asgi; print(len(os.listdir('/proc/self/task')))"
    plain = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    done = subprocess.run(
        [sys.executable, "-c", code], env=plain, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["1"]
