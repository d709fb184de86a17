"""The benchmarks run by hand: what they compare still answers as percell does, and none has rotted."""

import sys
from collections.abc import Iterator
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from litestar import Litestar
from litestar.testing import TestClient

from percell.web.app import create_app

HERE = Path(__file__).parent / "benchmarks"
SCRIPTS = sorted(path.stem for path in HERE.glob("*.py"))
# what the table of the benchmark asks
QUESTION = "assessment"
ASKED = {"layout": "2S1P", "cell_rating_a": 25, "output_power_w": 80}


@pytest.fixture(autouse=True)
def beside(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let the scripts find each other, and forget them afterwards: they choose a question at import."""
    monkeypatch.syspath_prepend(HERE)
    monkeypatch.setenv("PERCELL_BENCH_QUESTION", QUESTION)
    yield
    for script in SCRIPTS:
        sys.modules.pop(script, None)


@pytest.fixture
def contestants() -> ModuleType:
    """Return the ways to write an endpoint in Litestar."""
    return import_module("litestar_contestants")


def _answers(app: Litestar) -> list[Any]:
    """Return the answer to a body and to a query, as the benchmark asks for them."""
    with TestClient(app) as client:
        posted = client.post(f"/v1/{QUESTION}", json=ASKED)
        got = client.get(f"/v1/{QUESTION}", params=ASKED)
    for response in (posted, got):
        assert response.status_code == 200, response.text
    return [posted.json(), got.json()]


@pytest.mark.parametrize("name", ["textbook", "strict", "with_middleware"])
def test_a_contestant_in_litestar_answers_as_percell_does(
    name: str, contestants: ModuleType
) -> None:
    """Each Litestar contestant gives percell's own answer, to a body and to a query."""
    assert _answers(getattr(contestants, name)) == _answers(create_app())


@pytest.mark.parametrize("name", ["strict", "with_middleware"])
def test_a_strict_contestant_refuses_as_percell_does(name: str, contestants: ModuleType) -> None:
    """A strict contestant refuses an unknown field by name: it does the work that it is measured for."""
    with TestClient(getattr(contestants, name)) as client:
        for response in (
            client.post(f"/v1/{QUESTION}", json=ASKED | {"colour": 1}),
            client.get(f"/v1/{QUESTION}", params=ASKED | {"colour": 1}),
        ):
            assert response.status_code == 422
            assert [error["code"] for error in response.json()["errors"]] == ["unknown"]


@pytest.mark.parametrize("script", SCRIPTS)
def test_a_benchmark_still_loads(script: str) -> None:
    """Every script of the benchmarks is valid, and what it takes from percell is still there."""
    if script == "contestants" and find_spec("fastapi") is None:  # mypy reads it all the same
        compile((HERE / f"{script}.py").read_bytes(), script, "exec")
        return
    import_module(script)
