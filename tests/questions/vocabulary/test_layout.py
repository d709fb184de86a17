"""A layout means the same in every form."""

import msgspec
import numpy as np
import pytest

from percell.questions.vocabulary.layout import MOST, Layout, wiring


def read(layout):
    return wiring(msgspec.json.decode(msgspec.json.encode(layout), type=Layout))


def test_every_layout_in_every_form():
    """Text in either case, and parts, give the same cells in series and parallel."""
    for series in range(1, MOST + 1):
        for parallel in range(1, MOST + 1):
            text = f"{series}S{parallel}P"
            forms = [text, text.lower(), {"series": series, "parallel": float(parallel)}]
            for form in forms:
                got = read(form)
                assert (got.series, got.parallel, got.text) == (series, parallel, text)
                assert got.cells == series * parallel


@pytest.mark.parametrize(
    "layout",
    [
        "",
        "2S",
        "2P",
        "S1P",
        "0S1P",
        "1S0P",
        "21S1P",
        "1S21P",
        "02S1P",
        "2S1P ",
        " 2S1P",
        "2S1P\n",
        "2s1p1",
        "2S1P2S1P",
        "-1S1P",
        "1.0S1P",
        "２S１P",
        "2P1S",
        2,
        [2, 1],
        None,
        {"series": 2},
        {"series": 0, "parallel": 1},
        {"series": 2, "parallel": 21},
        {"series": 1.5, "parallel": 1},
        {"series": 2, "parallel": 1, "cells": 2},
    ],
)
def test_anything_else_is_refused(layout):
    """Nothing else is a layout."""
    with pytest.raises(msgspec.ValidationError):
        read(layout)


def test_an_array_of_layouts():
    """A table's axis of texts becomes arrays of the same shape."""
    got = wiring(np.array([["1S1P", "2S3P"]]))
    assert got.series.tolist() == [[1, 2]]
    assert got.parallel.tolist() == [[1, 3]]
    assert got.cells.tolist() == [[1, 6]]
