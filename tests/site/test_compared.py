"""The page of the comparison says what the API says, and no deviation smaller than it is."""

import json
import re
from xml.etree import ElementTree

import pytest

from percell.web.reference import reference
from percell.web.resource import encode
from percell_site.api import ApiError
from percell_site.compared import text

REFERENCE = json.loads(encode(reference()))
COMPARED = REFERENCE["running_times_compared"]
SVG = "{http://www.w3.org/2000/svg}"


def lines(name):
    """The rows of a table below its head, as lists of cells."""
    rows = [line.strip("| ").split(" | ") for line in text(REFERENCE, name).splitlines()]
    return [row for row in rows[2:] if len(row) > 1]


def percents(said):
    """The percentages in a text, as parts."""
    found = re.findall(r"([+\N{MINUS SIGN}]?[0-9.]+)\N{NO-BREAK SPACE}%", said)
    return [float(one.replace("\N{MINUS SIGN}", "-")) / 100 for one in found]


def outwards(said, row):
    """Whether both ends of a span are said, and neither is called smaller than it is."""
    low, high = percents(said)
    return -1e-3 < low - row["lowest"] <= 1e-9 and -1e-9 <= high - row["highest"] < 1e-3


def test_every_way_of_asking_is_there_the_widest_first():
    """Each way has its words, its deviations and its aim; the reader meets the worst first."""
    widths = []
    ways = {way["way"].replace("_", " "): way for way in COMPARED["ways"]}
    for name, answered, aim, times, *_ in lines("ways"):
        way = ways.pop(name.strip("*"))
        assert outwards(answered, way)
        assert int(times) == way["times"]
        assert percents(aim) == [
            way[end] for end in ("aimed_lowest", "aimed_highest") if end in way
        ]
        assert f": {way['words']}." in text(REFERENCE, "ways")
        widths.append(way["lowest"] - way["highest"])
    assert not ways
    assert widths == sorted(widths)


def test_every_cell_that_was_left_out_is_there():
    """Each has its deviations, its aims and the constants that the others gave."""
    for line, row in zip(lines("left-out"), COMPARED["left_out"], strict=True):
        assert line[0] == row["cell"]
        assert outwards(line[2], row)
        low, high = percents(line[3])
        assert low <= row["lowest"] <= row["highest"] <= high
        fitted = f"Without the {row['cell']} cell: f = {row['fast_part']:g}, "
        assert text(REFERENCE, "left-out").count(fitted) == 1


def test_every_simulated_cell_is_there():
    """Each has one line, a span for each load that it was asked for, and its publication."""
    said = text(REFERENCE, "simulated")
    spans = [cell for line in lines("simulated") for cell in line[1:] if cell != "–"]
    assert len(spans) == len(COMPARED["simulated"])
    for span, row in zip(spans, COMPARED["simulated"], strict=True):
        assert outwards(span, row)
        assert said.count(row["source"]) == 1


def test_every_measured_time_is_there_in_its_order():
    """Each row has minutes to a tenth and deviations rounded away from zero."""
    said = text(REFERENCE, "times")
    tables = re.findall(r"<tbody>(.*?)</tbody>", said)
    rows = [row for table in tables for row in re.findall(r"<tr>(.*?)</tr>", table)]
    assert len(rows) == len(COMPARED["rows"])
    by_way = {way["way"]: [] for way in COMPARED["ways"]}
    for row in COMPARED["rows"]:
        by_way[row["way"]].append(row)
    shown = [re.sub(r"<[^>]+>", "|", row) for row in rows]
    order = re.findall(r'id="cap-times-([\w-]+)"', said)
    expected = [row for name in order for row in by_way[name.replace("-", "_")]]
    for line, row in zip(shown, expected, strict=True):
        cells = [cell for cell in line.split("|") if cell]
        assert cells[0] == row["cell"]
        at_power, at_current = percents(line)
        for off, name in ((at_power, "at_power_s"), (at_current, "at_current_s")):
            exact = row[name] / row["measured_s"] - 1
            assert 0 <= (off - exact) * (1 if exact > 0 else -1) < 1.001e-3
        minutes = [float(cell) for cell in cells[-3:]]
        assert minutes == [
            pytest.approx(row[name] / 60, abs=0.051)
            for name in ("measured_s", "at_power_s", "at_current_s")
        ]


def test_the_chart_has_a_mark_for_every_answer():
    """Two marks a measured time and one a cell in the key; it says in words how far the furthest lie."""
    figure = ElementTree.fromstring(text(REFERENCE, "chart"))  # noqa: S314 - made by the function under test
    picture, caption = figure
    lots = {row["cell"].partition(",")[0] for row in COMPARED["rows"]}
    assert len(list(picture.iter(f"{SVG}path"))) == 2 * len(COMPARED["rows"]) + len(lots)
    assert picture.get("role") == "img"
    assert picture.get("aria-label") == caption.text
    low, high = percents(text(REFERENCE, "furthest"))
    said = re.findall(r"([\d.]+) % too (\w+)", caption.text)
    assert said == [(f"{high * 100:.1f}", "long"), (f"{-low * 100:.1f}", "short")]
    # all of it is within the picture
    width = float(picture.get("viewBox").split()[2])
    for words in picture.iter(f"{SVG}text"):
        assert 0 < float(words.get("x")) < width


def test_sources_are_named():
    """Each data set is named with its licence."""
    assert all(f"- {source}" in text(REFERENCE, "sources") for source in COMPARED["sources"])


def test_unknown_part():
    """A marker with a name that nothing has fails the build."""
    with pytest.raises(ApiError):
        text(REFERENCE, "charging")
