"""Fixtures for every layer."""

import os
import shutil
from collections.abc import Callable

import pytest
from hypothesis import settings

# the same examples on every machine, and no clock: a gate must not depend on luck or load
settings.register_profile("gate", derandomize=True, deadline=None, database=None)
settings.load_profile("gate")


@pytest.fixture(scope="session")
def tool() -> Callable[[str], str]:
    """Return the finder of a program that a check against the outside needs.

    It returns the program's path. Where the program is missing the test skips, or fails when
    ``PERCELL_NOTHING_SKIPPED=1``, so that a full run cannot pass by leaving checks out.
    """

    def find(name: str) -> str:
        path = shutil.which(name)
        if path is None:
            strict = os.environ.get("PERCELL_NOTHING_SKIPPED") == "1"
            (pytest.fail if strict else pytest.skip)(f"{name} is not installed")
        return path

    return find
