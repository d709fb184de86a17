"""A figure for another site: condition first, figure, caution, link; the same as the table says."""

import re
from html import unescape

import pytest

from percell.questions.answering.tables import every_table
from percell_site.api import ApiError
from percell_site.snippet import snippet

HOST = "https://tables.example"


@pytest.mark.parametrize("name", every_table())
def test_a_figure_goes_nowhere_without_its_condition_and_its_caution(api, name):
    """Of every table: what it holds for comes first, what must go along comes after, the link leads to the row."""
    table = api.get_json(f"/v1/tables/{name}")
    row, column = table["rows"][-1], table["columns"][-1]
    text = snippet(api, HOST, f"{name} {row['anchor']} {column['anchor']}")
    *condition, figure, caution, link = re.findall(r"<p>(.*)</p>", text)
    assert [*map(unescape, condition)] == [*filter(None, [table["conditions"]])]
    assert row["label"] in unescape(figure)
    assert all(label in unescape(figure) for label in column["labels"])
    assert table["caveat"] in unescape(caution)
    assert unescape(caution).endswith(table["caution"])
    assert f'href="{HOST}/tables/{name}/{row["anchor"]}/' in link
    assert table["version"] in link
    assert "<script" not in text
    assert "src=" not in text


def test_a_mark_goes_along_in_words(api):
    """A figure over its limit says so, because a snippet has no colours and no legend."""
    text = snippet(api, HOST, "coil-current-and-power 0.2-ohm 1s1p")
    assert "worst-case cell 25.8 A (over the rating of 20 A)" in text


@pytest.mark.parametrize("place", ["lowest-resistance 26-a 2s1p", "lowest-resistance 25-a 9s9p"])
def test_a_place_that_no_table_has_ends_the_build(api, place):
    """A wrong row or column prints no snippet."""
    with pytest.raises(ApiError, match="no table has the place"):
        snippet(api, HOST, place)
