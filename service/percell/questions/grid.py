"""A whole table at once: the same figures as a single question, over arrays."""

from functools import cache
from types import SimpleNamespace
from typing import Annotated, Any, cast

import numpy as np
from msgspec import Meta, Struct, convert, structs

from percell import VERSION
from percell.physics.meter import rounded_down, rounded_up
from percell.questions.cautions import CAUTIONS, Caution
from percell.questions.envelope import Assumption, assumptions
from percell.questions.layout import wiring
from percell.questions.registry import QUESTIONS, Question
from percell.questions.tables import (
    Chart,
    Columns,
    Print,
    Rounding,
    Rows,
    Table,
    Worked,
    anchor,
    every_table,
    label,
)
from percell.questions.verdict import Verdict, verdicts


class Cell(Struct, frozen=True, gc=False):
    """One cell of a table: the rounded figures, null where there is no physical answer."""

    values: list[float | None]
    verdict: Verdict | None = None


class Row(Struct, frozen=True, gc=False):
    """One row of a table."""

    value: Annotated[float | str, Meta(description="Value of the row's field.")]
    label: str
    anchor: Annotated[str, Meta(description="The row's name in a link to the page.")]
    cells: list[Cell]


class Heading(Struct, frozen=True, gc=False):
    """One column: a value, and its text, for each column field."""

    values: list[float | str]
    labels: list[str]


class Grid(Struct, frozen=True, kw_only=True):
    """A table with its cells worked out."""

    id: str
    title: str
    sentence: str
    description: str
    reading: str
    question: Annotated[str, Meta(description="The question that every cell asks.")]
    fixed: Annotated[dict[str, Any], Meta(description="What every cell asks alike.")]
    rows_by: Rows
    columns_by: list[Columns]
    prints: Annotated[list[Print], Meta(description="What each cell shows, and how it is rounded.")]
    columns: list[Heading]
    rows: list[Row]
    worked: Worked
    chart: Chart | None
    marked: Annotated[
        bool, Meta(description="Whether the cells carry a verdict against the fixed rating.")
    ]
    assumptions: Annotated[
        list[Assumption], Meta(description="The defaults that every cell rests on.")
    ]
    cautions: tuple[Caution, ...]
    sources: list[str]
    page: Annotated[str, Meta(description="The table's page.")]
    version: Annotated[str, Meta(description="Version of percell that worked it out.")]


def figures(question: Question, fixed: dict[str, Any], axes: dict[str, Any]) -> Any:
    """Work out the figures of a question over axes that broadcast against each other.

    Each axis is an array; ``fixed`` holds the other fields. Where there is no physical answer the
    arrays hold NaN.
    """
    first = {name: np.ravel(values)[0] for name, values in axes.items()}
    body = fixed | {n: str(v) if isinstance(v, str) else float(v) for n, v in first.items()}
    one = convert(body, question.asked)
    asked = SimpleNamespace(**structs.asdict(one) | axes)
    if question.figures is None:
        raise TypeError(f"{question.id} is not a question that a grid of independent cells can ask")
    # a question about cells that stand alone, or about one group, has no layout
    wired = [wiring(asked.layout)] if "layout" in question.asked.__struct_fields__ else []
    with np.errstate(invalid="ignore", divide="ignore"):
        return question.figures(cast(Any, asked), *wired)


@cache
def grid(table_id: str) -> Grid:
    """Work out one table. The tables do not change while the service runs, so each is kept."""
    table = every_table()[table_id]
    question = QUESTIONS[table.question]
    headings = _headings(table.columns)
    axes = {
        axis.field: np.array([[h.values[i] for h in headings]])
        for i, axis in enumerate(table.columns)
    }
    axes[table.rows.field] = np.array(table.rows.values)[:, None]
    got = figures(question, table.fixed, axes)
    shape = (len(table.rows.values), len(headings))
    shown = [_rounded(np.broadcast_to(getattr(got, p.field), shape), p) for p in table.prints]
    marks = _marks(table, got, axes, shape)
    one = convert(
        table.fixed
        | {axis.field: axis.values[0] for axis in table.columns}
        | {table.rows.field: table.rows.values[0]},
        question.asked,
    )
    return Grid(
        id=table.id,
        title=table.title,
        sentence=table.sentence,
        description=table.description,
        reading=table.reading,
        question=table.question,
        fixed=table.fixed,
        rows_by=table.rows,
        columns_by=table.columns,
        prints=table.prints,
        columns=headings,
        rows=[
            Row(
                table.rows.values[i],
                label(table.rows, i),
                anchor(table.rows, i),
                [
                    Cell([figure[i][j] for figure in shown], marks[i][j] if marks else None)
                    for j in range(shape[1])
                ],
            )
            for i in range(shape[0])
        ],
        worked=table.worked,
        chart=table.chart,
        marked=table.marked,
        assumptions=[
            a for a in assumptions(one) if a.name not in axes and a.name not in table.fixed
        ],
        cautions=CAUTIONS,
        sources=table.sources,
        page=f"/tables/{table.id}/",
        version=VERSION,
    )


def _headings(axes: list[Columns]) -> list[Heading]:
    found = [Heading([], [])]
    for axis in axes:
        found = [
            Heading([*h.values, value], [*h.labels, label(axis, i)])
            for h in found
            for i, value in enumerate(axis.values)
        ]
    return found


def _rounded(values: Any, shown: Print) -> list[list[float | None]]:
    return [[_round(v, shown) if np.isfinite(v) else None for v in row] for row in values.tolist()]


def _round(value: float, shown: Print) -> float:
    step = 10.0**-shown.decimals
    if shown.round is Rounding.UP:
        return rounded_up(value=value, step=step)
    if shown.round is Rounding.DOWN:
        return rounded_down(value=value, step=step)
    return round(value, shown.decimals)


def _marks(table: Table, got: Any, axes: dict[str, Any], shape: tuple[int, int]) -> Any:
    if not table.marked:
        return None
    rating_a = axes.get("cell_rating_a", table.fixed.get("cell_rating_a"))
    return np.broadcast_to(verdicts(got.hottest_cell_current_a, rating_a), shape).tolist()
