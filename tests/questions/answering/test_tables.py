"""Parts of a printed table: labels of its axes, names of its rows, units of its figures."""

from itertools import product

import msgspec
import pytest

from percell.questions.answering.tables import (
    TableColumnAxis,
    TablePrint,
    TableRowAxis,
    anchor,
    column_anchor,
    every_table,
    label,
)


def axis(kind=TableRowAxis, **more):
    return msgspec.convert({"field": "x", "heading": "X"} | more, kind)


@pytest.mark.parametrize("kind", [TableRowAxis, TableColumnAxis])
@pytest.mark.parametrize(
    ("made", "texts"),
    [
        ({"values": [25, 7.5], "unit": "A"}, ["25 A", "7.5 A"]),
        ({"values": [25, 7.5]}, ["25", "7.5"]),
        ({"values": ["1S1P", "2S2P"]}, ["1S1P", "2S2P"]),
        ({"values": [25, 7.5], "unit": "A", "labels": ["much", "little"]}, ["much", "little"]),
    ],
)
def test_label(kind, made, texts):
    """A value with its unit, a word unchanged, or the given label."""
    assert [label(axis(kind, **made), place) for place in range(2)] == texts


@pytest.mark.parametrize(
    ("made", "names"),
    [
        ({"values": [25, 7.5], "unit": "A"}, ["25-a", "7.5-a"]),
        ({"values": [0.15, 1], "unit": "Ω"}, ["0.15-ohm", "1-ohm"]),
        ({"values": [1, 20]}, ["1", "20"]),
        ({"values": ["1S1P", "Two words"]}, ["1s1p", "two-words"]),
        ({"values": [1, 2], "unit": "A h"}, ["1-a-h", "2-a-h"]),
    ],
)
def test_anchor(made, names):
    """A row's name in a link: value and unit in lower case, without characters to escape."""
    assert [anchor(axis(**made), place) for place in range(2)] == names


CUT_OFF = {"values": [3.2, 3], "unit": "V", "labels": ["cut-off 3.2 V, or unknown", "3 V"]}
LAYOUT = {"values": ["1S1P", "2S2P"]}


@pytest.mark.parametrize(
    ("made", "names"),
    [
        ([LAYOUT], ["1s1p", "2s2p"]),
        ([CUT_OFF, LAYOUT], ["3-2-v-1s1p", "3-2-v-2s2p", "3-v-1s1p", "3-v-2s2p"]),
        ([LAYOUT | {"labels": ["1 cell", "4 cells"]}], ["1-cell", "4-cells"]),
        ([{"values": [0.005, 0.1], "labels": ["±0.5 %", "10 %"]}], ["0-5-percent", "10-percent"]),
        ([{"values": [0.02, 0.5], "unit": "Ω"}], ["0-02-ohm", "0-5-ohm"]),
        (
            [{"values": ["in_it", "x"], "labels": ["in it, balanced", "Ω/m"]}],
            ["in-it-balanced", "ohm-m"],
        ),
    ],
)
def test_column_anchor(made, names):
    """A column's name in a link: a part for each axis, of letters, digits and hyphens."""
    axes = [axis(TableColumnAxis, **one) for one in made]
    places = product(*(range(len(one.values)) for one in axes))
    assert [column_anchor(axes, place) for place in places] == names


@pytest.mark.parametrize(
    ("decimals", "accepted"),
    [(0, True), (6, True), (2.0, True), (7, False), (-1, False), (1.5, False)],
)
def test_decimals_are_whole(decimals, accepted):
    """From 0 to 6, always as an integer."""
    body = {"field": "x_a", "heading": "X", "round": "up", "decimals": decimals}
    if accepted:
        shown = msgspec.convert(body, TablePrint)
        assert shown.decimals == decimals
        assert isinstance(shown.decimals, int)
    else:
        with pytest.raises(msgspec.ValidationError):
            msgspec.convert(body, TablePrint)


def test_tables_are_in_the_order_of_the_site():
    """By number, then by name."""
    keys = [(table.order, table.id) for table in every_table().values()]
    assert keys == sorted(keys)
    assert list(every_table()) == [name for _, name in keys]
