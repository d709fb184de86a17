"""Figures as Python's own numbers."""

from typing import TypeVar

import numpy as np
from msgspec import Struct, structs

Figures = TypeVar("Figures", bound=Struct)


def plain(figures: Figures) -> Figures:
    """Return the figures of one question with Python's numbers in place of NumPy's.

    Figures over arrays hold NumPy's numbers. So do those of a single question if a formula uses NumPy. An
    answer with such a number in it cannot be encoded.
    """
    changed = {
        name: value.item()
        for name, value in structs.asdict(figures).items()
        if isinstance(value, np.generic | np.ndarray)
    }
    return structs.replace(figures, **changed)
