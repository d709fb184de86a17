"""One answer for each number of cells: no wiring and no cut-off of the tables asks more of a cell."""

import re

import pytest

from percell_site.api import ApiError
from percell_site.which_cells import LOADS, needed


def printed(api, load):
    """Each row of the page's table: its name in links, and its figures as text."""
    lines = needed(api, load, "../").splitlines()[2:]
    for line in lines:
        first, *figures = line.strip("| ").split(" | ")
        anchor = re.fullmatch(r'<a href="\.\./tables/[\w-]+/#(.+?)">.+</a>', first)[1]
        yield anchor, [re.sub("<.+?>", "", text) for text in figures]


@pytest.mark.parametrize("load", LOADS)
def test_a_figure_is_enough_for_every_wiring(api, load):
    """For a number of cells the figure is that of the hardest wiring in the table, and no higher."""
    table = api.get_json(f"/v1/tables/{LOADS[load].table}")
    layouts = [next(v for v in column["values"] if "S" in str(v)) for column in table["columns"]]
    rows = {row["anchor"]: row for row in table["rows"]}
    shown = [*printed(api, load)]
    assert [anchor for anchor, _ in shown] == [*LOADS[load].rows]
    crosses = 0
    for anchor, figures in shown:
        for count, text in enumerate(figures, 1):
            cells = [
                cell
                for layout, cell in zip(layouts, rows[anchor]["cells"], strict=True)
                if int(layout[0]) * int(layout[2]) == count
            ]
            over = any(cell["verdicts"][0] == "over_limit" for cell in cells)
            if load == "watts" and over:
                assert text == "✕"
                crosses += 1
            else:
                highest = max(cell["values"][0] for cell in cells)
                assert text == f"{highest:.1f}\N{NO-BREAK SPACE}A"
    assert bool(crosses) is (load == "watts")


def test_no_reader_is_sent_for_a_rating_that_is_doubtful(site):
    """Both tables have figures that no honest label reaches, and each says so below it."""
    page = (site / "which-cells" / "index.html").read_text("utf-8")
    for place, end in (("watts", 'id="coil"'), ("coil", 'id="i-know-more"')):
        part = page.partition(f'id="{place}"')[2].partition(end)[0]
        assert "is doubtful. So no such cell suits the highest figures here" in part


def test_a_figure_leads_to_the_page_of_its_wiring(api, site):
    """The link behind a figure is that of the layout which it was taken from."""
    text = needed(api, "coil", "")
    assert (
        '<a href="tables/coil-current-and-power/0.5-ohm/2s1p/">18.3\N{NO-BREAK SPACE}A</a>' in text
    )
    pages = re.findall(r'href="(tables/[^"#]+/)"', text + needed(api, "watts", ""))
    assert len(pages) > 40
    assert all((site / page / "index.html").is_file() for page in pages)


def test_a_quarter_more_is_enough_for_a_device_that_stops_late(api):
    """The page promises that a tenth of the rating stays unused even at a cut-off of 2.5 V."""
    for anchor, figures in printed(api, "watts"):
        for layout, text in zip(("1S1P", "1S2P", "1S3P", "1S4P"), figures, strict=True):
            if text != "✕":
                asked = {
                    "layout": layout,
                    "output_power_w": float(anchor.removesuffix("-w")),
                    "cell_cutoff_voltage_v": 2.5,
                }
                answer = api.post("/v1/needed-rating", asked)
                rating = 1.25 * float(text.split("\N{NO-BREAK SPACE}")[0])
                assert answer["needed_rating_a"] <= 0.9 * rating


def test_a_load_that_nobody_knows_ends_the_build(api):
    """A marker with a typing error prints no page without its table."""
    with pytest.raises(ApiError, match="no load is called 'volts'"):
        needed(api, "volts", "")


def test_a_row_that_has_gone_ends_the_build(api, monkeypatch):
    """A row that the table no longer has is missed."""
    monkeypatch.setitem(LOADS, "watts", LOADS["watts"]._replace(rows=("81-w",)))
    with pytest.raises(ApiError, match="the table needed-rating has no row 81-w"):
        needed(api, "watts", "")
