"""The figures of a question over a table: the same as those of single questions."""

from types import SimpleNamespace
from typing import Any

import numpy as np
from msgspec import Struct, convert, structs

from percell.physics.errors import NoSolution
from percell.questions.answering.question import OverTable, Question
from percell.questions.vocabulary.cell_resistance import OwnResistance


def asked_over(one: Struct, axes: dict[str, Any]) -> Any:
    """Return a question with arrays in some of its fields."""
    own = {"usual_capacity_ah": one.usual_capacity_ah} if isinstance(one, OwnResistance) else {}
    return SimpleNamespace(**own | structs.asdict(one) | axes)


def figures_over(question: Question, fixed: dict[str, Any], axes: dict[str, Any]) -> Any:
    """Calculate the figures of a question over axes that broadcast against each other.

    Each axis is an array; ``fixed`` holds the other fields. The result is NaN where no physical answer
    exists.
    """
    if question.figures is None or question.table is None:
        raise TypeError(f"{question.id} is not a question that a table can ask")
    first = {name: np.ravel(values)[0] for name, values in axes.items()}
    body = fixed | {n: str(v) if isinstance(v, str) else float(v) for n, v in first.items()}
    asked = asked_over(convert(body, question.asked), axes)
    with np.errstate(invalid="ignore", divide="ignore"):
        if question.table is OverTable.ARRAYS:
            return question.figures(asked)
        return _cell_by_cell(question, asked, axes)


def _cell_by_cell(question: Question, asked: Any, axes: dict[str, Any]) -> Any:
    cells = np.broadcast(*axes.values())
    found: list[Struct | None] = []
    for values in cells:
        own = dict(zip(axes, (value.item() for value in values), strict=True))
        try:
            found.append(question.figures(SimpleNamespace(**vars(asked) | own)))  # type: ignore[misc] # a table has a formula
        except NoSolution:
            found.append(None)
    names = question.shows.__struct_fields__
    columns = {
        name: [np.nan if one is None else getattr(one, name) for one in found] for name in names
    }
    return question.shows(**{n: np.reshape(column, cells.shape) for n, column in columns.items()})
