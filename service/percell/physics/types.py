"""What a formula takes: one number, or an array of them; and how a guard tells the two apart."""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
# Any, for the arithmetic of a float and of an array have no common type that a checker can follow.
Number: TypeAlias = Any
Truth: TypeAlias = bool | np.bool_ | NDArray[np.bool_]


def certain(flag: Truth) -> bool:
    """Tell whether a comparison came out as one single true value.

    False for an array of a grid, even one whose elements are all true: a single number without an
    answer raises, while a grid goes on and marks those of its cells with NaN. A NumPy scalar is a
    single number as a float is; ``is True`` would miss it.

    >>> certain(1.0 < 2.0), certain(np.float64(1.0) < 2.0), certain(np.array([1.0]) < 2.0)
    (True, True, False)
    """
    return not getattr(flag, "ndim", 0) and bool(flag)
