"""What the pages say about chemistries is the API's, whichever chemistries it has."""

import json

import pytest

from percell.web.reference import reference
from percell.web.resource import encode
from percell_site import cells
from percell_site.api import ApiError, connect
from percell_site.chemistries import text
from percell_site.profiles import Profile

REFERENCE = json.loads(encode(reference()))
CELL = Profile(
    id="one",
    name="One",
    chemistry="nmc",
    cell_rating_a=10,
    cell_capacity_ah=2.5,
    cell_resistance_ohm=0.02,
    measured_on="2026-01-01",
)


@pytest.fixture(scope="module")
def made():
    """Pages of cells of three chemistries, of which one has no curve."""
    api = connect("percell.web.asgi:app")
    shown = [
        CELL,
        Profile(**{**of(CELL), "id": "two"}),
        Profile(**{**of(CELL), "id": "flat", "chemistry": "lfp"}),
        Profile(**{**of(CELL), "id": "bare", "chemistry": "lmo"}),
    ]
    yield cells.cell_pages(api, shown, REFERENCE, "2026-01-01")
    api.close()


def of(profile):
    return {name: getattr(profile, name) for name in profile.__struct_fields__}


def test_each_voltage_stands_with_its_origin():
    """The method page has every voltage of every chemistry, and its curve."""
    blocks = text(REFERENCE, "tables").split("**")[1:]
    names, tables = blocks[::2], blocks[1::2]
    for (key, known), name, table in zip(
        REFERENCE["chemistries"].items(), names, tables, strict=True
    ):
        assert name == known["name"]
        assert table.startswith(f" (`{key}`)")
        rows = [line.strip("| ").split(" | ") for line in table.strip().splitlines()[4:]]
        for field, (_, value, origin) in zip(
            ("charged", "nominal", "cutoff", "end"), rows[:4], strict=True
        ):
            assert value == f"{known[f'{field}_v']:g} V"
            assert origin == known[f"{field}_from"]
        assert rows[4:] == [["curve", "–", known["curve_from"] or "none"]]


def test_the_chemistries_with_a_curve_are_listed():
    """A sentence names those that have a curve, and no other."""
    assert text(REFERENCE, "with-curve") == (
        "nickel manganese cobalt oxide (`nmc`), nickel cobalt aluminium oxide (`nca`) "
        "and iron phosphate (`lfp`)"
    )


def test_unknown_name():
    """A marker with a name that nothing has fails the build."""
    with pytest.raises(ApiError):
        text(REFERENCE, "prices")


def test_cells_are_compared_where_devices_for_them_stop(made):
    """The page names the cut-off of most of its cells, and each chemistry that has another."""
    page = made["cells/index.md"]
    assert "power down to 2.8 V, iron phosphate 2.5 V," in page
    assert "minutes down to 3.2 V, iron phosphate 2.8 V." in page
    assert "2.5 V" in made["cells/flat.md"]
    assert "3.4 V" not in made["cells/flat.md"]
    assert "3.4 V" in made["cells/one.md"]


def test_a_cell_without_a_curve_has_a_page_without_running_times(made):
    """All else is there, and the page says why the times are not."""
    bare = made["cells/bare.md"]
    assert "no published curve for this chemistry" in bare
    assert "running-20-w" not in bare
    assert 'id="t-highest"' in bare
    assert "no published curve" not in made["cells/one.md"]
    row = next(line for line in made["cells/index.md"].splitlines() if 'id="bare"' in line)
    assert row.endswith("<td>–</td></tr>")


def test_a_cell_of_a_chemistry_that_is_none_is_named():
    """A slip in a profile ends the build with the name of the file."""
    odd = Profile(**{**of(CELL), "chemistry": "nmcc"})
    with pytest.raises(ApiError, match=r"^one\.toml: .*nmcc"):
        cells.cell_pages(None, [odd], REFERENCE, "2026-01-01")


def test_no_cells_at_all():
    """A bench that has published none yet has a page all the same."""
    made = cells.cell_pages(None, [], REFERENCE, "2026-01-01")
    assert list(made) == ["cells/index.md"]
