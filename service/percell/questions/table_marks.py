"""The marks of a table: each figure against its limit, entry by entry."""

from math import isfinite
from typing import Any, NamedTuple

import numpy as np
from msgspec import UNSET, structs

from percell.questions.answering.cold_findings import LOWEST_COMPARED_C, TEMPERATURES, below
from percell.questions.answering.question import Question
from percell.questions.answering.tables import (
    OwnTableAsked,
    TableMark,
)
from percell.questions.vocabulary.limits import judged
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import LimitName
from percell.questions.vocabulary.verdict import Verdict


class Mark(NamedTuple):
    """What one figure is marked with."""

    verdict: Verdict
    limit: float


# a mark of a figure, None where it has no answer; by print, row and column; None for a print without marks
Marks = list[list[list[Mark | None]] | None]


def marks_of(
    asked: OwnTableAsked,
    question: Question,
    got: Any,
    axes: dict[str, Any],
    answered: Any,
) -> Marks:
    """Return the marks of a table.

    Args:
        asked: The table.
        question: Its question.
        got: The figures of all entries.
        axes: The value of each field that varies, in the shape of the table.
        answered: Where there is an answer.

    Raises:
        Refused: A mark names what is no number.
    """
    shape = answered.shape
    defaults = {field.name: field.default for field in structs.fields(question.asked)}
    asked_for = defaults | asked.fixed | axes

    def numbers(name: float | str, pointer: str) -> Any:
        """Return a number, or a field of the question or its answer, for each entry."""
        if isinstance(name, str):
            value = getattr(got, name, asked_for.get(name))
            if value is None or np.asarray(value).dtype.kind not in "if":
                raise Refused(
                    pointer,
                    f"{name!r} is not a number in the answer or in the fields of the table.",
                )
        else:
            value = name
        return np.broadcast_to(value, shape).astype(float).tolist()

    cold = _too_cold(asked_for, shape)
    found: Marks = []
    for i, shown in enumerate(asked.prints):
        mark = shown.mark
        if mark is None:
            found.append(None)
            continue
        at = f"prints.{i}.mark"
        held = np.where(
            answered, numbers(mark.figure or shown.field, f"{at}.figure"), np.nan
        ).tolist()
        limits = numbers(mark.value, f"{at}.value")
        origins = numbers(mark.origin, f"{at}.origin")
        found.append(
            [
                [_mark(mark, *entry) for entry in zip(*row, strict=True)]
                for row in zip(held, limits, origins, cold, strict=True)
            ]
        )
    return found


def _too_cold(asked_for: dict[str, Any], shape: tuple[int, int]) -> list[list[bool]]:
    """Return whether each entry is so cold that nothing is surely kept."""
    told = (asked_for.get(name, UNSET) for name in TEMPERATURES)
    cold = [below(at_c, LOWEST_COMPARED_C) for at_c in told if at_c is not UNSET]
    found: list[list[bool]] = np.broadcast_to(
        np.logical_or.reduce(np.broadcast_arrays(False, *cold)), shape
    ).tolist()
    return found


def _mark(mark: TableMark, held: float, limit: float, origin: float, cold: bool) -> Mark | None:
    # comparisons with NaN are false, and would give the mildest verdict
    if not isfinite(held) or not isfinite(limit):
        return None
    got = judged(
        LimitName.CONTINUOUS_RATING,
        held,
        limit,
        "",
        bound=mark.bound,
        near=mark.near,
        origin=origin,
    ).verdict
    if (mark.assumed or cold) and got is not Verdict.OVER:
        got = Verdict.NOT_JUDGED
    return Mark(got, limit)


def marks_at(
    marks: Marks, row: int, column: int
) -> tuple[()] | tuple[list[Verdict | None], list[float | None]]:
    """Return the verdicts and the limits of an entry's figures; nothing if none has a mark."""
    if not any(marks):
        return ()
    found = [grid[row][column] if grid else None for grid in marks]
    return [m and m.verdict for m in found], [m and m.limit for m in found]
