"""What the page of a table says of its own figures."""

import json
import re
from pathlib import Path

import pytest
from litestar.testing import TestClient

from percell.questions.answering.tables import every_table
from percell.web.app import create_app
from percell_site.figures import mark_words, on_page, verdict_on
from percell_site.pages import table_page

SITE = Path(__file__).parents[2] / "site"
every = pytest.mark.parametrize("name", every_table())


@pytest.fixture(scope="module")
def table():
    """Return a table as the API answers it."""
    with TestClient(create_app()) as client:
        yield lambda name: json.loads(client.get(f"/v1/tables/{name}").content)


@every
def test_the_example_keeps_the_mark_of_its_figure(table, name):
    """The entry that is read aloud says what its mark says, in words, and nothing if it has no mark."""
    whole = table(name)
    (said,) = re.findall(r"\*\*How to read it\.\*\* (.+)", table_page(whole, "2026-01-01", [], {}))
    shown = on_page(whole)
    row = next(r for r in shown["rows"] if r["value"] == whole["worked"]["row"])
    at = [c["values"] for c in whole["columns"]].index(whole["worked"]["columns"])
    for i, one in enumerate(shown["prints"]):
        verdict = verdict_on(row["cells"][at], i)
        marked = verdict in ("over_limit", "little_headroom")
        assert not one["mark"] or (f"</strong> ({mark_words(one, verdict)})" in said) is marked


def test_some_example_has_a_mark(table):
    """The test above sees a mark: 80 W from two cells in parallel take 19.9 A of 20 A (careful share)."""
    page = table_page(table("current-by-power"), "2026-01-01", [], {})
    assert (
        "carries up to <strong>19.9 A</strong> (within 20 A, with less than a tenth left)." in page
    )


def test_what_is_said_of_an_early_stop_is_in_the_table(table):
    """Two cells that stop early last longer than one run down far; at a low power not twice as long."""
    whole = table("running-time")
    at = [c["values"] for c in whole["columns"]]
    one, two = at.index(["1S1P", 2.8]), at.index(["2S1P", 3.4])
    minutes = {
        row["value"]: (row["cells"][one]["values"][0], row["cells"][two]["values"][0])
        for row in whole["rows"]
    }
    assert all(alone < both for alone, both in minutes.values() if both)
    ratios = {watts: both / alone for watts, (alone, both) in minutes.items() if watts <= 60}
    assert all((ratio < 2) is (watts <= 50) for watts, ratio in ratios.items())
    page = (SITE / "docs/learn/running-time.md").read_text(encoding="utf-8")
    assert "nearly as long" not in page + table("cutoff-comparison")["sentence"]


def test_how_far_a_running_time_may_be_off_is_said_everywhere(table):
    """A table, the method and the page about running times lead to what was compared, and the pages say how far."""
    for name in ("learn/running-time.md", "method.md"):
        text = (SITE / "docs" / name).read_text(encoding="utf-8")
        assert "{{ compared: furthest }} from measured times" in text
        assert "how-right.md)" in text
    for name in ("running-time", "cutoff-comparison"):
        assert any("how right" in source for source in table(name)["sources"])


@every
def test_assumptions_are_told_in_words(table, name):
    """No field's name is among them, and what is assumed to be zero for one reason is on one line."""
    page = table_page(table(name), "2026-01-01", [], {})
    section = page.partition("## Assumptions")[2].partition("## Sources")[0]
    lines = [[part.strip() for part in line.split("|")[1:-1]] for line in section.splitlines()]
    told = [line for line in lines if len(line) == 3][2:]
    assert told or "None besides" in section
    for label, value, _ in told:
        assert "_" not in label + value
        assert "code" not in label
    zeros = [origin for _, value, origin in told if re.match(r"0(?![\d.])", value)]
    assert len({*zeros}) == len(zeros)
