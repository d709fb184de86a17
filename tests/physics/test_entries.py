"""Data files that people write: what is right is read, what is wrong is said in one line."""

from typing import NamedTuple

import pytest

from percell.physics import alloys, chemistries, entries, sizes
from percell.physics.entries import DATA, DataError, read_entries


class Thing(NamedTuple):
    """Every type that a field may have."""

    name: str
    mass_kg: float
    ends: tuple[float, float]
    points: tuple[tuple[float, float], ...] | None = None
    note: str = "none"


GOOD = 'name = "one"\nmass_kg = 1\nends = [1, 2.5]\n'


@pytest.fixture
def read(tmp_path, monkeypatch):
    """Return a function that reads a data file of this text."""
    monkeypatch.setattr(entries, "DATA", tmp_path)

    def reading(text, name="things", kind=Thing):
        (tmp_path / f"{name}.toml").write_text(text, "utf-8")
        return read_entries(name=name, kind=kind)

    return reading


def test_entries_are_read_in_order(read):
    """Whole numbers become floats, lists tuples, and what is left out takes its default."""
    got = read(f"[b]\n{GOOD}points = [[0, 1], [1, 2]]\n[a]\n{GOOD}note = 'x'\n")
    assert list(got) == ["b", "a"]
    assert got["b"] == ("one", 1.0, (1.0, 2.5), ((0.0, 1.0), (1.0, 2.0)), "none")
    assert got["a"] == ("one", 1.0, (1.0, 2.5), None, "x")
    assert isinstance(got["a"].mass_kg, float)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[a]\n" + GOOD.replace("mass_kg = 1\n", ""), "a: the field mass_kg is missing"),
        (f"[a]\n{GOOD}[b]\n{GOOD}colour = 'red'", "b: there is no field colour"),
        ("[a]\n" + GOOD.replace("= 1\n", "= '1'\n"), "a: '1' is not right for the field mass_kg"),
        ("[a]\n" + GOOD.replace("= 1\n", "= true\n"), "a: True is not right for the field mass_kg"),
        ("[a]\n" + GOOD.replace("= 1\n", "= nan\n"), "a: nan is not right for the field mass_kg"),
        ("[a]\n" + GOOD.replace("= 1\n", "= inf\n"), "a: inf is not right for the field mass_kg"),
        ("[a]\n" + GOOD.replace('"one"', '""'), "a: '' is not right for the field name"),
        ("[a]\n" + GOOD.replace("2.5]", "2, 3]"), "a: [1, 2, 3] is not right for the field ends"),
        (f"[a]\n{GOOD}points = []", "a: [] is not right for the field points"),
        (f"[a]\n{GOOD}points = [[1]]", "a: [[1]] is not right for the field points"),
        ("a = 1", "a: an entry is a table"),
    ],
)
def test_a_wrong_entry_is_said_in_one_line(read, text, said):
    """File, entry, field and fault, and nothing is read."""
    with pytest.raises(DataError) as error:
        read(text)
    assert str(error.value) == f"things.toml, {said}"


@pytest.mark.parametrize("text", ["[a\n", "[a]\nname = 'x'\nname = 'y'\n"])
def test_a_file_that_is_no_toml_is_named(read, text):
    """The reader's own words follow the name of the file."""
    with pytest.raises(DataError, match=r"^things\.toml: [^\n]+$"):
        read(text)


def changed(name, before, after):
    """Return the text of one of our data files with one thing changed."""
    text = (DATA / f"{name}.toml").read_text("utf-8")
    assert before in text
    return text.replace(before, after, 1)


@pytest.mark.parametrize(
    ("name", "before", "after", "said"),
    [
        ("chemistries", "end_v = 2.5\n", "", "nmc: the field end_v is missing"),
        (
            "chemistries",
            "specific_heat_j_kgk = 1040\n",
            "",
            "nmc: a specific heat and its origin go together",
        ),
        (
            "chemistries",
            'curve_from = "Chen et al. (2020)"\n',
            "",
            "nmc: a curve and its origin go together",
        ),
        (
            "chemistries",
            '"nmc_chen2020"',
            '"nmc_unknown"',
            "nmc: the curve needs the file nmc_unknown.json",
        ),
        (
            "alloys",
            "resistivity_ohmm = [1.02125e-6, 1.075e-6, 1.135e-6]\n",
            "",
            "nicr_80_20: give one of resistivity_ohmm and resistivity_ohm_cmil_ft",
        ),
        (
            "alloys",
            "resistivity_ohmm = [1.02125e-6",
            "resistivity_ohm_cmil_ft = [1, 2, 3]\nresistivity_ohmm = [1.02125e-6",
            "nicr_80_20: give one of resistivity_ohmm and resistivity_ohm_cmil_ft",
        ),
        (
            "alloys",
            "linear_to_c = 120\n",
            "",
            "fecral_al_5_6: give either resistance_ratios, or per_k and linear_to_c",
        ),
        (
            "alloys",
            "resistance_ratios = [",
            "per_k = 1e-4\nresistance_ratios = [",
            "nicr_80_20: give either resistance_ratios, or per_k and linear_to_c",
        ),
        ("sizes", "[18350]", "[R18350]", "R18350: a size is named by five digits"),
    ],
)
def test_each_of_our_files_is_checked(tmp_path, monkeypatch, name, before, after, said):
    """A slip in a chemistry, an alloy or a size is found when the file is read."""
    (tmp_path / f"{name}.toml").write_text(changed(name, before, after), "utf-8")
    monkeypatch.setattr(entries, "DATA", tmp_path)
    module = {"chemistries": chemistries, "alloys": alloys, "sizes": sizes}[name]
    with pytest.raises(DataError) as error:
        module._read()
    assert str(error.value) == f"{name}.toml, {said}"
