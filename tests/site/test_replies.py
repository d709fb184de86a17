"""A row that is copied holds on its own: condition first, every figure with its mark, then the caution."""

import json

import pytest
from litestar.testing import TestClient

from percell.questions.answering.tables import every_table
from percell.web.app import create_app
from percell_site import replies
from percell_site.figures import figure, mark_words, on_page, with_unit

every = pytest.mark.parametrize("name", every_table())


@pytest.fixture(scope="module")
def table():
    """Return a table as the API answers it."""
    with TestClient(create_app()) as client:
        yield lambda name: on_page(json.loads(client.get(f"/v1/tables/{name}").content))


def reply(whole, row):
    """The text of a row, as the page puts it together; the link comes last."""
    return "\n".join(
        [
            whole["title"],
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
def test_a_line_that_is_copied_alone_keeps_its_condition(table, name):
    """Each line with figures begins with what they hold for, the row, the outer column and the figure."""
    whole = table(name)
    nested = len(whole["columns_by"]) > 1
    for row in whole["rows"]:
        lines = replies.figures(whole, row).splitlines()
        outers = list(dict.fromkeys(column["labels"][0] for column in whole["columns"]))
        for line, outer in zip(lines, outers if nested else [""], strict=False):
            assert line.startswith(whole["conditions"])
            head, _, entries = line.removeprefix(whole["conditions"]).partition(": ")
            assert f"{whole['rows_by']['heading']} {row['label']}" in head
            assert outer in head
            if len(whole["prints"]) == 1:
                assert head.endswith(whole["prints"][0]["heading"].lower())
            assert entries


@every
def test_what_is_said_of_unmarked_figures_points_at_some(table, name):
    """A row whose figures all have a remark says nothing of others; one without remarks says "each figure"."""
    whole = table(name)
    for row in whole["rows"]:
        text = replies.figures(whole, row)
        for i, shown in enumerate(whole["prints"]):
            if shown["mark"]:
                verdicts = [cell["verdicts"][i] for cell in row["cells"]]
                bare = [v for v in verdicts if v in ("within_limit", "not_judged")]
                said = [mark_words(shown, verdict) for verdict in bare]
                assert all(f": {words}." in text for words in said)
                if len(bare) == len(verdicts) and len(whole["prints"]) == 1:
                    assert "without a remark" not in text
    if all(not shown["mark"] for shown in whole["prints"]):
        assert "remark" not in text


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
                    # a limit whose figure is in files alone is said beside the first figure
                    more = [m["briefly"][verdict] for m in cell["beyond"]] if i == 0 else []
                    said += f" ({'; '.join([mark_words(shown, verdict), *more])})"
                assert said in left
                left = left[left.index(said) + len(said) :]
                assert not left.startswith(" (")


def test_a_row_of_currents_in_words(table):
    """The whole text of one row: the careful cut-off comes first, and no figure is without its pack."""
    whole = table("current-by-power")
    row = next(row for row in whole["rows"] if row["label"] == "80 W")
    title, first, *_ = reply(whole, row).splitlines()
    assert title == "Current of a cell by power, layout and cut-off"
    assert first.startswith(
        "These figures hold for: nickel manganese cobalt oxide cells rated 20 A, "
    )
    # 80 W / 0.85 / 2.8 V, by hand
    assert (
        " Power 80 W; 1S1P; current of the worst-case cell: "
        "cut-off 2.8 V, or unknown 33.7 A (over the rating of 20 A; beyond 3 Ah cells: do not use); cut-off 3.0 V "
    ) in first


def test_a_limit_that_nobody_gave_judges_nothing(table):
    """Against an assumed limit a figure without a mark is not within it, and the text says so."""
    whole = table("joining-current")
    text = reply(whole, whole["rows"][0])
    assert "not judged, because the manufacturer's charge limit is not known" in text
    assert "within" not in text


def test_a_claim_below_the_bound_can_still_be_false(table):
    """Both tables of labels say so wherever a row of theirs goes."""
    for name in ("label-rating-by-size", "label-capacity-by-size"):
        whole = table(name)
        assert "can still" in reply(whole, whole["rows"][0])


def test_an_entry_without_a_figure_says_so(table):
    """A dash is for the eye; in a sentence it would be read as a minus or as nothing."""
    whole = table("cell-sag")
    whole["rows"][0]["cells"][0]["values"] = [None]
    assert "at 25 °C no figure;" in replies.figures(whole, whole["rows"][0])


def test_a_bare_value_is_named_by_its_axis(table):
    """100 % alone says nothing; 2 cells or a layout does."""
    whole = table("drift-by-cycles")
    _, first, *rest = reply(whole, whole["rows"][0]).splitlines()
    assert " Cycles 1; 2 cells: capacity of the weak cell 100 % lowest " in first
    assert (
        "Lowest, without a remark: 2.5 V or more, with a cut-off of 2.8 V per cell; a lower cut-off goes deeper."
    ) in rest
    assert (
        "Highest, each figure: 4.25 V or less, with a charge that ends at 4.2 V per cell on average."
    ) in rest


def test_a_short_reply_about_a_time_says_that_no_current_was_judged(table):
    """60 W from one cell are 25 A near the end: who reads "2 min" alone must not think that any cell carries it."""
    whole = table("running-time")
    row = next(r for r in whole["rows"] if r["label"] == "60 W")
    column = next(
        i for i, c in enumerate(whole["columns"]) if c["labels"] == ["1 cell", "cut-off 2.8 V"]
    )
    text = replies.brief(whole, row, column, "")
    assert "min (check the current first)" in text


def test_what_several_figures_have_in_common_is_said_once(table):
    """Both ratings of a label are marked for its capacity, in the same words."""
    whole = table("label-rating-by-size")
    said = replies.figures(whole, whole["rows"][0])
    assert "\nDoubtful above and Not believable above, each figure: " in said
    assert said.count("each figure") == 1


@pytest.mark.parametrize(
    ("name", "row", "column", "entry"),
    [
        # 120 W / 0.85 are 141 W; a full cell of 4.2 V and 0.045 Ω gives at most 4.2² / (4 · 0.045) = 98 W
        ("needed-rating", "120 W", "1S1P", "cut-off 2.8 V, or unknown 50.5 A"),
        # 35 A at 3.2 V are 112 W
        ("highest-power", "35 A", "1S1P", "cut-off 3.2 V 95 W"),
    ],
)
def test_a_power_that_no_cell_gives_is_not_called_near_a_limit(table, name, row, column, entry):
    """The remark says that the cells cannot give the power, not only that the voltage gets low."""
    whole = table(name)
    text = replies.figures(whole, next(r for r in whole["rows"] if r["label"] == row))
    (line,) = (line for line in text.splitlines() if f"; {column}" in line)
    assert (
        f"{entry} (full cells of 3 Ah, assumed to have 0.04 Ω, cannot supply this power, or only just: do not use)"
        in line
    )
