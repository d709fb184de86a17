"""The site, built once for all tests of this folder."""

import os
from pathlib import Path

import pytest

from percell_site.plugin import build

SOURCE = Path(__file__).parents[2] / "site"


@pytest.fixture(scope="session")
def site(tmp_path_factory):
    """A strict build with the API in this process; a warning would have ended it."""
    out = tmp_path_factory.mktemp("site") / "public"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1790000000")
        build(source=SOURCE, out=out, api=None)
    return out


@pytest.fixture(scope="session")
def missing():
    """Skip what needs something that this machine does not have, or fail where nothing may be skipped."""

    def step_aside(what):
        strict = os.environ.get("PERCELL_NOTHING_SKIPPED") == "1"
        (pytest.fail if strict else pytest.skip)(f"{what} is not installed")

    return step_aside
