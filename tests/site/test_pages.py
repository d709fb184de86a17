"""What the page of a table says of its own figures."""

import json
import re

import pytest
from litestar.testing import TestClient

from percell.questions.answering.tables import every_table
from percell.web.app import create_app
from percell_site.figures import mark_words, on_page, verdict_on
from percell_site.pages import table_page

every = pytest.mark.parametrize("name", every_table())


@pytest.fixture(scope="module")
def table():
    """Return a table as the API answers it."""
    with TestClient(create_app()) as client:
        yield lambda name: json.loads(client.get(f"/v1/tables/{name}.json").content)


@every
def test_the_example_keeps_the_mark_of_its_figure(table, name):
    """The entry that is read aloud says what its mark says, in words, and nothing if it has no mark."""
    whole = table(name)
    (said,) = re.findall(r"\*\*How to read it\.\*\* (.+)", table_page(whole, "2026-01-01"))
    shown = on_page(whole)
    row = next(r for r in shown["rows"] if r["value"] == whole["worked"]["row"])
    at = [c["values"] for c in whole["columns"]].index(whole["worked"]["columns"])
    for i, one in enumerate(shown["prints"]):
        verdict = verdict_on(row["cells"][at], i)
        marked = verdict in ("over_limit", "little_headroom")
        assert not one["mark"] or (f"** ({mark_words(one, verdict)})" in said) is marked


def test_some_example_has_a_mark(table):
    """The test above sees a mark: 80 W from two cells in parallel take 19.9 A of 20 A (careful share)."""
    page = table_page(table("current-by-power"), "2026-01-01")
    assert "carries up to **19.9 A** (within 20 A, with less than a tenth left)." in page
