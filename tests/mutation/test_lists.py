"""The lists beside the mutation run keep up with the code, which the run itself would tell only in hours."""

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
TESTS = tomllib.loads((ROOT / "tests/mutation/tests.toml").read_text("utf-8"))
SURVIVORS = tomllib.loads((ROOT / "tests/mutation/survivors.toml").read_text("utf-8"))["survivor"]


def without_space(code: str) -> str:
    """Return code without white space: how it is broken into lines is no matter."""
    return re.sub(r"\s+", "", code)


@pytest.mark.parametrize("module", sorted({one["module"] for one in SURVIVORS}))
def test_a_survivor_is_of_code_that_is_there(module: str) -> None:
    """Whoever changes code that had an explained mutant takes the entry out, or says it anew."""
    code = without_space((ROOT / module).read_text("utf-8"))
    gone: list[Any] = [
        one["was"]
        for one in SURVIVORS
        if one["module"] == module and without_space(one["was"]) not in code
    ]
    assert gone == []


def test_further_tests_of_a_module_are_there() -> None:
    """A test that has another name now would leave its module with fewer tests."""
    named = [*TESTS, *(test for tests in TESTS.values() for test in tests)]
    assert [name for name in named if not (ROOT / name).exists()] == []
