"""No published figure moves unseen: each is kept in the repository, and a change is told figure by figure."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from percell.__main__ import main
from percell_site import printed
from percell_site.api import connect
from percell_site.printed import Move, moves

FOLDER = Path(__file__).parents[2] / "site" / "figures"


@pytest.fixture(scope="module")
def now():
    """Every figure that the tables print now."""
    api = connect("percell.web.asgi:app")
    yield printed.printed(api)
    api.close()


def test_no_published_figure_moves_unseen(now):
    """A change that moves figures says which, from what to what, and is committed with its reason."""
    kept = printed.read(FOLDER)
    found = moves(kept, now)
    told = "\n".join(map(str, found))
    write = "keep them with `percell figures --because TEXT`"
    if found:
        pytest.fail(f"{len(found)} published figures move: {write}\n{told}", pytrace=False)
    assert kept == now, f"there are new figures: {write}"


def test_every_printed_figure_is_kept(now):
    """Each entry of each table is there with all that it prints, and with its mark."""
    api = connect("percell.web.asgi:app")
    entries = api.get_json("/v1/tables")["tables"]
    assert list(now) == [entry["id"] for entry in entries]
    for entry in entries:
        table = api.get_json(entry["json"])
        figures = len(table["rows"]) * len(table["columns"]) * len(table["prints"])
        assert sum(map(len, now[entry["id"]].values())) == figures
    api.close()
    # 4.2 V and 8.4 V over 0.1 ohm less 1 % and 3.5 counts, by hand; beyond the 20 A of the table
    row = now["coil-current-and-power"]["coil_reading_ohm=0.1"]
    assert row["layout=1S1P worst_cell_current_a [A]"] == "65.7 over_limit"


BEFORE = {
    "sag": {
        "r=0.01": {"i=5 sag [V]": "0.1", "i=9 sag [V]": "0.2 over_limit"},
        "r=0.02": {"i=5 sag [V]": "0.3", "i=9 sag [V]": "0.4"},
    }
}


@pytest.mark.parametrize(
    ("place", "text", "told"),
    [
        (("sag", "r=0.01", "i=5 sag [V]"), "0.2", "sag, r=0.01, i=5 sag [V]: 0.1 → 0.2"),
        (("sag", "r=0.01", "i=9 sag [V]"), "0.2", "sag, r=0.01, i=9 sag [V]: 0.2 over_limit → 0.2"),
        (
            ("sag", "r=0.02", "i=5 sag [V]"),
            None,
            "sag, r=0.02, i=5 sag [V]: 0.3 → no longer printed",
        ),
    ],
)
def test_a_move_is_told_with_its_place(place, text, told):
    """A figure that changes, loses its mark or goes is named with table, row and column."""
    after = json.loads(json.dumps(BEFORE))
    *way, last = place
    part = after
    for step in way:
        part = part[step]
    if text is None:
        del part[last]
    else:
        part[last] = text
    assert [str(move) for move in moves(BEFORE, after)] == [told]


def test_a_new_figure_moves_nothing():
    """A row or a table that was not there before is no change of what was published."""
    after = {**BEFORE, "new": {"a=1": {"b=1 c": "1"}}}
    assert moves(BEFORE, after) == []


def test_what_is_kept_is_read_again(tmp_path):
    """Nothing is lost or changed between writing and reading, and each row is a line."""
    printed.keep(tmp_path, BEFORE)
    assert printed.read(tmp_path) == BEFORE
    assert (
        '   "r=0.02": ["0.3", "0.4"]' in (tmp_path / "printed.json").read_text("utf-8").splitlines()
    )


def run(*arguments):
    return CliRunner().invoke(main, ["figures", *arguments])


def test_figures_that_move_need_a_reason_and_are_listed(now, tmp_path):
    """Without a reason nothing is written; with one, the latest change is on top of the list."""
    row, figures = next(iter(now["cell-sag"].items()))
    column = next(iter(figures))
    older = {**now, "cell-sag": {**now["cell-sag"], row: {**figures, column: "9.99"}}}
    printed.keep(tmp_path, older)
    refused = run("--folder", str(tmp_path))
    assert refused.exit_code == 1
    assert printed.read(tmp_path) == older
    assert printed.read_moves(tmp_path) == []
    one = Move("cell-sag", row, column, "9.99", figures[column])
    assert str(one) in refused.output
    printed.keep_moves(tmp_path, [one], date="2026-01-01", version="0", because="Before.")
    assert run("--folder", str(tmp_path), "--because", "A test.").exit_code == 0
    assert printed.read(tmp_path) == now
    latest, before = printed.read_moves(tmp_path)
    assert latest["because"] == "A test."
    assert latest["moves"] == [list(one)]
    assert before["because"] == "Before."
    again = run("--folder", str(tmp_path))
    assert again.exit_code == 0
    assert again.output.startswith("0 published figures moved")


def test_columns_that_change_places_move_nothing(now):
    """A figure is kept under the fields of its column in one order, whichever of them is the outer one."""
    api = connect("percell.web.asgi:app")
    grid = api.get_json("/v1/tables/current-by-power")
    api.close()
    assert [axis["field"] for axis in grid["columns_by"]] == ["layout", "cell_cutoff_voltage_v"]
    columns = next(iter(now["current-by-power"].values()))
    assert "cell_cutoff_voltage_v=3.2 layout=1S2P worst_cell_current_a [A]" in columns
