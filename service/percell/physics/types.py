"""What a formula takes: one number, or an array of them."""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
# Any, for the arithmetic of a float and of an array have no common type that a checker can follow.
Number: TypeAlias = Any
