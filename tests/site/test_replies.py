"""A row that is copied holds on its own: condition first, every figure with its mark, then the caution."""

import json

import pytest
from litestar.testing import TestClient

from percell.questions.answering.tables import every_table
from percell.web.app import create_app
from percell_site import replies
from percell_site.figures import figure, mark_words, with_unit

every = pytest.mark.parametrize("name", every_table())


@pytest.fixture(scope="module")
def table():
    """Return a table as the API answers it."""
    with TestClient(create_app()) as client:
        yield lambda name: json.loads(client.get(f"/v1/tables/{name}.json").content)


def reply(whole, row):
    """The text of a row, as the page puts it together; the link comes last."""
    return "\n".join(
        [
            replies.before(whole, whole["title"]),
            replies.figures(whole, row),
            replies.after(whole, whole["caveat"]),
        ]
    )


@every
def test_a_row_says_what_it_holds_for_before_its_figures(table, name):
    """First the table and its conditions, then the row, then what must go along."""
    whole = table(name)
    for row in whole["rows"]:
        text = reply(whole, row)
        places = [
            text.index(part)
            for part in (
                whole["title"],
                whole["conditions"],
                f"{whole['rows_by']['heading']} {row['label']}",
                whole["caveat"],
            )
        ]
        assert places == sorted(places)
        assert text.endswith(whole["caution"])
        assert whole["caution"]


@every
def test_a_row_has_every_figure_with_its_column_and_its_mark(table, name):
    """Nothing that the table prints in a row is left out, and nothing is without its unit."""
    whole = table(name)
    for row in whole["rows"]:
        left = replies.figures(whole, row)
        outer = None
        for column, cell in zip(whole["columns"], row["cells"], strict=True):
            if len(whole["columns"]) > 1:
                labels = column["labels"]
                for label in labels if labels[0] != outer else labels[1:] or labels:
                    left = left[left.index(label) :]
                outer = labels[0]
            for i, (value, shown) in enumerate(zip(cell["values"], whole["prints"], strict=True)):
                said = with_unit(figure(value, shown), shown)
                verdict = (cell.get("verdicts") or [None] * len(cell["values"]))[i]
                if verdict in ("over_limit", "little_headroom"):
                    said += f" ({mark_words(shown, verdict)})"
                assert said in left
                left = left[left.index(said) + len(said) :]
                assert not left.startswith(" (")


def test_a_row_of_currents_in_words(table):
    """The whole text of one row: the careful cut-off comes first, and no figure is without its pack."""
    whole = table("current-by-power")
    row = next(row for row in whole["rows"] if row["label"] == "80 W")
    title, holds_for, power, first, *_ = reply(whole, row).splitlines()
    assert title == "Current of a cell by power, layout and cut-off"
    assert holds_for.startswith("These figures hold for: cells rated 20 A, ")
    assert power == "Power 80 W:"
    # 80 W / 0.85 / 2.8 V and half of it, by hand
    assert first.startswith(
        "cut-off 2.8 V, or unknown: 1S1P 33.7 A (over the rating of 20 A); 2S1P 16.9 A; 1S2P "
    )


def test_a_limit_that_nobody_gave_judges_nothing(table):
    """Against an assumed limit a figure without a mark is not within it, and the text says so."""
    whole = table("joining-current")
    text = reply(whole, whole["rows"][0])
    assert "not judged, because the manufacturer's charge limit is not known" in text
    assert "within" not in text


def test_a_claim_below_the_bound_is_not_thereby_true(table):
    """Both tables of labels say so wherever a row of theirs goes."""
    for name in ("label-rating-by-size", "label-capacity-by-size"):
        whole = table(name)
        assert "not thereby true" in reply(whole, whole["rows"][0])


def test_an_entry_without_a_figure_says_so(table):
    """A dash is for the eye; in a sentence it would be read as a minus or as nothing."""
    whole = table("cell-sag")
    whole["rows"][0]["cells"][0]["values"] = [None]
    assert "0.01 Ω no figure;" in replies.figures(whole, whole["rows"][0])


def test_a_bare_value_is_named_by_its_axis(table):
    """100 % alone says nothing; 2 cells or a layout does."""
    whole = table("drift-by-cycles")
    _, _, row, first, *rest = reply(whole, whole["rows"][0]).splitlines()
    assert row == "Cycles 1:"
    assert first.startswith("2 cells: capacity of the weak cell 100 % lowest ")
    assert "Lowest without a remark: 2.5 V or more." in rest
    assert "Highest without a remark: 4.25 V or less." in rest


def test_what_several_figures_have_in_common_is_said_once(table):
    """Both ratings of a label are marked for its capacity, in the same words."""
    whole = table("label-rating-by-size")
    said = replies.after(whole, whole["caveat"])
    assert said.startswith("Doubtful above and Not believable above without a remark: ")
    assert said.count("without a remark") == 1
