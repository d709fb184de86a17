"""Figures of one question are Python's own numbers, whatever worked them out."""

import msgspec
import numpy as np
import pytest

from percell.questions.answering.figures import plain


class Some(msgspec.Struct):
    """Figures of each kind."""

    current_a: float
    cells: int
    over: bool
    word: str


@pytest.mark.parametrize(
    "numbers",
    [
        (1.5, 2, True),
        (np.float64(1.5), np.int64(2), np.bool_(True)),
        (np.array(1.5), np.array(2), np.array(True)),
    ],
    ids=["Python's", "NumPy's scalars", "arrays without a shape"],
)
def test_plain(numbers):
    """Each number keeps its value and becomes a Python number."""
    got = plain(Some(*numbers, word="as it is"))
    assert got == Some(1.5, 2, True, "as it is")
    assert [type(value) for value in msgspec.structs.astuple(got)] == [float, int, bool, str]
    assert msgspec.json.encode(got)
