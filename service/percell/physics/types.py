"""What a formula takes: one number, or an array of them; and how a guard tells the two apart."""

from typing import Any, TypeAlias, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
# What comes in goes out: a float of floats, an array where an array is among the arguments.
# A checker follows the formula once for each, so that neither may be used where the other belongs.
Quantity = TypeVar("Quantity", float, Floats)
# A number of a question. In a table an array stands in its place, and a checker is not shown that: what
# it holds a question to as a float, Quantity lets pass as an array.
Number: TypeAlias = float
Truth: TypeAlias = bool | np.bool_ | NDArray[np.bool_]


def as_given(result: Any, given: Quantity) -> Quantity:
    """Return what NumPy makes of a float as a float again, and an array as it is.

    NumPy answers a float with a scalar of its own, or with an array without axes. Neither is what the
    caller gave: no encoder takes them, and a division by zero passes them as infinity.

    >>> as_given(np.sqrt(4.0), 4.0), as_given(np.where(True, 1.0, 2.0), 1.0)
    (2.0, 1.0)
    """
    del given  # its type is what is wanted
    return cast(Quantity, result if is_array(result) else float(result))


def is_array(value: Any) -> bool:
    """Tell whether a value is an array with axes: none of one number.

    For a float this is several times as fast as ``np.ndim``, and an answer asks it often.

    >>> is_array(1.0), is_array(np.float64(1.0)), is_array(np.array([1.0]))
    (False, False, True)
    """
    return bool(getattr(value, "ndim", 0))


def certain(flag: Truth) -> bool:
    """Tell whether a comparison came out as one single true value.

    False for an array of a grid, even one whose elements are all true: a single number without an
    answer raises, while a grid goes on and marks those of its cells with NaN. A NumPy scalar is a
    single number as a float is; ``is True`` would miss it.

    >>> certain(1.0 < 2.0), certain(np.float64(1.0) < 2.0), certain(np.array([1.0]) < 2.0)
    (True, True, False)
    """
    return not is_array(flag) and bool(flag)


def somewhere(flag: Truth) -> bool:
    """Tell whether a comparison came out as true, for an array in at least one place.

    >>> somewhere(1.0 < 2.0), somewhere(np.array([1.0, 3.0]) < 2.0), somewhere(np.array([3.0]) < 2.0)
    (True, True, False)
    """
    return bool(np.any(flag) if is_array(flag) else flag)
