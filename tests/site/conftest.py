"""The site, built once for all tests of this folder."""

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
