"""Figures that physics works out for one question at a time, asked over the grid of a table."""

from collections.abc import Callable
from functools import wraps
from types import SimpleNamespace
from typing import Any, TypeVar

import numpy as np
from msgspec import Struct

from percell.physics.errors import NoSolution
from percell.questions.vocabulary.layout import wiring

Asked = TypeVar("Asked")
Figures = TypeVar("Figures", bound=Struct)


def one_by_one(alone: Callable[..., Figures]) -> Callable[..., Figures]:
    """Let figures of one question answer a grid too, a cell at a time; NaN where there is no answer.

    For relations with a search or a story of cycles in them, which cannot take arrays.
    """

    @wraps(alone)
    def figures(asked: Any, *wired: Any) -> Figures:
        if isinstance(asked, Struct):
            return alone(asked, *wired)
        fields = vars(asked)
        axes = {name: value for name, value in fields.items() if isinstance(value, np.ndarray)}
        cells = np.broadcast(*axes.values())
        found: list[Figures | None] = []
        for values in cells:
            own = (v.item() for v in values)
            one = SimpleNamespace(**fields | dict(zip(axes, own, strict=True)))
            try:
                found.append(alone(one, *(wiring(one.layout) for _ in wired)))
            except NoSolution:
                found.append(None)
        kind = next(type(one) for one in found if one is not None)
        return kind(
            **{
                name: np.reshape(
                    [np.nan if one is None else getattr(one, name) for one in found], cells.shape
                )
                for name in kind.__struct_fields__
            }
        )

    figures.takes_words = True  # type: ignore[attr-defined] # any field may change over the grid
    return figures
