"""A guard tells a single number that has no answer from an array of a grid."""

import numpy as np
import pytest

from percell.physics.types import as_given, certain, is_array, somewhere


@pytest.mark.parametrize("true", [True, np.True_, np.float64(1.0) < 2.0, np.array(True)])
def test_a_single_true_value_is_certain(true):
    """A bool, a NumPy scalar and an array without axes are each one value."""
    assert certain(true) is True


@pytest.mark.parametrize("false", [False, np.False_, np.float64(2.0) < 1.0, np.array(False)])
def test_a_single_false_value_is_not(false):
    """One value that is false is not certain, whatever it is held in."""
    assert certain(false) is False


@pytest.mark.parametrize(
    "grid",
    [[True], [True, True], [True, False], [[True]], []],
    ids=str,
)
def test_an_array_of_truths_is_not(grid):
    """An array with an axis is a grid, also with one cell, all cells true, or no cell."""
    assert certain(np.array(grid, dtype=bool)) is False


@pytest.mark.parametrize("one", [1, 1.0, "1S1P", np.float64(1.0), np.array(1.0)], ids=repr)
def test_one_value_is_no_array(one):
    """An array without axes is one value, as a word is."""
    assert is_array(one) is False


@pytest.mark.parametrize("grid", [[1.0], [], [[1.0, 2.0]]], ids=str)
def test_what_has_an_axis_is_an_array(grid):
    """An array with an axis is one, also with one element or none."""
    assert is_array(np.array(grid)) is True


@pytest.mark.parametrize(
    ("flag", "found"),
    [
        (True, True),
        (False, False),
        (np.True_, True),
        (np.array(False), False),
        (np.array([False, True]), True),
        (np.array([[False]]), False),
        (np.array([], dtype=bool), False),
    ],
    ids=repr,
)
def test_true_somewhere(flag, found):
    """Of a grid one true element is enough, and of one value it is that value."""
    assert somewhere(flag) is found


@pytest.mark.parametrize("result", [2.5, np.float64(2.5), np.array(2.5)], ids=repr)
def test_one_number_is_a_float_again(result):
    """What NumPy makes of a float comes back as Python's own, which every encoder takes."""
    assert type(as_given(result, 1.0)) is float
    assert as_given(result, 1.0) == 2.5


def test_an_array_with_an_axis_stays():
    """The array of a grid passes as it is, not as a copy."""
    grid = np.array([2.5])
    assert as_given(grid, grid) is grid
