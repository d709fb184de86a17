"""Fixtures for every layer."""

import os
import shutil
from collections.abc import Callable
from typing import NoReturn

import pytest
from hypothesis import settings

# the same examples on every machine, and no clock: a gate must not depend on luck or load
settings.register_profile("gate", derandomize=True, deadline=None, database=None)
settings.load_profile("gate")


@pytest.fixture(scope="session")
def missing() -> Callable[[str], NoReturn]:
    """Skip what needs something that this machine does not have.

    It fails when ``PERCELL_NOTHING_SKIPPED=1``, so that a full run cannot pass by leaving checks out.
    """

    def step_aside(what: str) -> NoReturn:
        strict = os.environ.get("PERCELL_NOTHING_SKIPPED") == "1"
        (pytest.fail if strict else pytest.skip)(f"{what} is not installed")

    return step_aside


@pytest.fixture(scope="session")
def tool(missing: Callable[[str], NoReturn]) -> Callable[[str], str]:
    """Return a function that finds the path of a program, which a check against the outside needs."""

    def find(name: str) -> str:
        path = shutil.which(name)
        if path is None:
            missing(name)
        return path

    return find
