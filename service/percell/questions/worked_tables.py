"""A whole table at once: the figures of single questions, calculated over arrays."""

from collections.abc import Sequence
from functools import cache
from itertools import product
from math import ceil
from typing import Annotated, Any

import numpy as np
from msgspec import UNSET, Meta, Struct, convert, structs

from percell import VERSION
from percell.questions.answering.conditions import VARIES, conditions
from percell.questions.answering.envelope import Assumption
from percell.questions.answering.headline import Rounding, rounded
from percell.questions.answering.over_table import figures_over
from percell.questions.answering.question import Question
from percell.questions.answering.reply import brief_caution, short_cautions
from percell.questions.answering.tables import (
    OwnTableAsked,
    Table,
    TableAxis,
    TableChart,
    TableColumnAxis,
    TablePrint,
    TableRowAxis,
    WorkedExample,
    anchor,
    column_anchor,
    every_table,
    label,
)
from percell.questions.registry import QUESTIONS
from percell.questions.table_marks import marks_at, marks_of
from percell.questions.vocabulary.cautions import CAUTIONS, Caution
from percell.questions.vocabulary.fields import CellRatingA
from percell.questions.vocabulary.labels import full_label
from percell.questions.vocabulary.limits import judged
from percell.questions.vocabulary.phrases import value_in_words
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import LimitName
from percell.questions.vocabulary.verdict import Verdict


class TableCell(Struct, frozen=True, gc=False, omit_defaults=True):
    """One entry of a table: rounded figures or words. null if no solution exists."""

    values: Annotated[
        list[float | str | None], Meta(description="The printed figures, in the order of `prints`.")
    ]
    verdicts: Annotated[
        list[Verdict | None],
        Meta(
            description="Verdict on each figure. null for a figure without a mark. Left out of a table without "
            "marks."
        ),
    ] = []
    limits: Annotated[
        list[float | None],
        Meta(description="Limit of each figure, unrounded. null and left out like the verdicts."),
    ] = []


class TableRow(Struct, frozen=True, gc=False):
    """One row of a table."""

    value: Annotated[float | str, Meta(description="Value of the row's field.")]
    label: Annotated[str, Meta(description="Text of the row.")]
    anchor: Annotated[str, Meta(description="Name of the row in a link to the page.")]
    cells: Annotated[list[TableCell], Meta(description="An entry for each column.")]


class TableColumn(Struct, frozen=True, gc=False):
    """One column, with a value and its text for each column field."""

    values: Annotated[list[float | str], Meta(description="Value of each column field.")]
    labels: Annotated[list[str], Meta(description="Text of each value.")]
    anchor: Annotated[str, Meta(description="Name of the column in a link to the page.")]


class Told(Struct, frozen=True, kw_only=True):
    """A field that is the same for every entry, in words."""

    label: Annotated[str, Meta(description="Label of the field.")]
    value: Annotated[str, Meta(description="Value with its unit, or what it means.")]
    origin: Annotated[
        str, Meta(description="Origin of a default. Empty for a field of the table's own.")
    ]


class OwnTable(Struct, frozen=True, kw_only=True):
    """A calculated table."""

    question: Annotated[str, Meta(description="Question that every entry asks.")]
    fixed: Annotated[dict[str, Any], Meta(description="Fields that are the same for every entry.")]
    rows_by: TableRowAxis
    columns_by: Annotated[
        list[TableColumnAxis], Meta(description="Fields that change from column to column.")
    ]
    prints: Annotated[
        list[TablePrint], Meta(description="Printed figures of each entry, with their rounding.")
    ]
    columns: Annotated[list[TableColumn], Meta(description="The columns.")]
    rows: Annotated[list[TableRow], Meta(description="The rows, each with its entries.")]
    assumptions: Annotated[list[Assumption], Meta(description="Defaults that every entry uses.")]
    in_words: Annotated[
        list[Told],
        Meta(description="Fixed fields and defaults of every entry in words, for readers."),
    ]
    conditions: Annotated[
        str,
        Meta(description="Conditions of every figure, in one sentence. Empty if there are none."),
    ]
    caution: Annotated[str, Meta(description="Caution to paste together with any figure.")]
    cautions: Annotated[tuple[Caution, ...], Meta(description="Cautions that always apply.")]
    version: Annotated[str, Meta(description="Version of percell that calculated the table.")]


class MarksForRating(Struct, frozen=True, kw_only=True):
    """How one printed figure is marked for cells of one rating: higher figures than these are over it."""

    cell_rating_a: CellRatingA
    within_limit_up_to: Annotated[
        float, Meta(description="Highest printed figure within the rating.")
    ]
    little_headroom_up_to: Annotated[
        float, Meta(description="Highest printed figure that is not over the rating.")
    ]
    says: Annotated[dict[Verdict, str], Meta(description="Printed words, by verdict.")]
    conditions: Annotated[
        str, Meta(description="Conditions of every figure and mark, in one sentence.")
    ]


class MarksByRating(Struct, frozen=True, kw_only=True):
    """How one printed figure is marked for cells of other ratings. The figures stay the same."""

    print: Annotated[str, Meta(description="The figure, by its field.")]
    replaces: Annotated[
        bool,
        Meta(
            description="Whether these marks replace those of the table. Otherwise an entry has the worse of both."
        ),
    ]
    ratings: Annotated[list[MarksForRating], Meta(description="The marks for each rating.")]


class PrintedTable(OwnTable, frozen=True, kw_only=True):
    """A calculated printed table."""

    id: Annotated[str, Meta(description="Name of the table in paths.")]
    title: Annotated[str, Meta(description="Title.")]
    group: Annotated[str, Meta(description="Topic of the table on the site.")]
    sentence: Annotated[str, Meta(description="What the table shows, in one sentence.")]
    caveat: Annotated[
        str, Meta(description="Caution to read before you use a figure of this table.")
    ]
    description: Annotated[str, Meta(description="Description for search engines and previews.")]
    reading: Annotated[str, Meta(description="How to read the table.")]
    reply: Annotated[
        str,
        Meta(
            description="One entry as a short text to paste. In braces: `row` and `column` for labels, `figure` "
            "for figures, `value` for figures with the words of their marks."
        ),
    ]
    brief_caution: Annotated[str, Meta(description="Shortest caution to paste with one entry.")]
    entry_pages: Annotated[
        bool,
        Meta(
            description="Whether each entry has a page of its own. It is below the page of its row, which is "
            "below the page of the table."
        ),
    ]
    immaterial: Annotated[
        list[str], Meta(description="Fields that change no figure of this table.")
    ]
    quantity: Annotated[
        str,
        Meta(description="Quantity of several figures of an entry. Empty if there is only one."),
    ]
    worked: WorkedExample
    chart: Annotated[
        TableChart | None, Meta(description="Chart of the table. null if there is none.")
    ]
    marks_by_rating: Annotated[
        MarksByRating | None,
        Meta(
            description="Marks for other ratings of the cells. null if no figure is compared with a rating."
        ),
    ]
    sources: Annotated[list[str], Meta(description="Sources of the table.")]
    page: Annotated[str, Meta(description="Page of the table.")]


@cache
def printed_table(table_id: str) -> PrintedTable:
    """Calculate one table. Each is stored, because no table changes while the service runs."""
    table = every_table()[table_id]
    return PrintedTable(
        **structs.asdict(worked_out(table, QUESTIONS[table.question], table.immaterial)),
        immaterial=table.immaterial,
        id=table.id,
        title=table.title,
        group=table.group,
        sentence=table.sentence,
        caveat=table.caveat,
        description=table.description,
        reading=table.reading,
        reply=table.reply,
        brief_caution=brief_caution(QUESTIONS[table.question].subject),
        entry_pages=table.entry_pages,
        quantity=table.quantity,
        worked=table.worked,
        chart=table.chart,
        marks_by_rating=_marks_by_rating(table),
        sources=table.sources,
        page=f"/tables/{table.id}/",
    )


def worked_out(
    asked: OwnTableAsked, question: Question, immaterial: Sequence[str] = ()
) -> OwnTable:
    """Calculate a table that fits its question.

    Raises:
        Refused: Its values contradict each other, or it prints or marks what has no number.
    """
    headings = _headings(asked.columns_by)
    axes = {
        axis.field: np.array([[h.values[i] for h in headings]])
        for i, axis in enumerate(asked.columns_by)
    }
    axes[asked.rows_by.field] = np.array(asked.rows_by.values)[:, None]
    got = figures_over(question, asked.fixed, axes)
    shape = (len(asked.rows_by.values), len(headings))
    answered = _answered(question, got, shape)
    shown = [_rounded(np.broadcast_to(_figure(got, p), shape), p, answered) for p in asked.prints]
    marks = marks_of(asked, question, got, axes, answered)
    assumptions = _assumptions(asked, question)
    return OwnTable(
        question=asked.question,
        fixed=asked.fixed,
        rows_by=asked.rows_by,
        columns_by=asked.columns_by,
        prints=asked.prints,
        columns=headings,
        rows=[
            TableRow(
                asked.rows_by.values[i],
                label(asked.rows_by, i),
                anchor(asked.rows_by, i),
                [
                    TableCell([figure[i][j] for figure in shown], *marks_at(marks, i, j))
                    for j in range(shape[1])
                ],
            )
            for i in range(shape[0])
        ],
        assumptions=assumptions,
        in_words=_in_words(asked.fixed, assumptions),
        caution=short_cautions(question.subject),
        conditions=conditions(asked.fixed, assumptions, immaterial),
        cautions=CAUTIONS,
        version=VERSION,
    )


def _in_words(fixed: dict[str, Any], assumptions: list[Assumption]) -> list[Told]:
    own = [
        Told(label=full_label(name), value=value_in_words(name, value), origin="")
        for name, value in fixed.items()
    ]
    return own + [
        Told(
            label=full_label(a.name), value=value_in_words(a.name, a.value, a.unit), origin=a.origin
        )
        for a in assumptions
    ]


def _marks_by_rating(table: Table) -> MarksByRating | None:
    wanted = table.marks_by_rating
    if wanted is None:
        return None
    (shown,) = (shown for shown in table.prints if shown.field == wanted.print)
    replaces = shown.mark is not None and shown.mark.value == "cell_rating_a"
    return MarksByRating(
        print=wanted.print,
        replaces=replaces,
        ratings=[
            MarksForRating(
                cell_rating_a=rating,
                within_limit_up_to=_highest(shown, rating, (Verdict.WITHIN,)),
                little_headroom_up_to=_highest(shown, rating, (Verdict.WITHIN, Verdict.LITTLE)),
                says={v: words.format(rating=f"{rating:g} A") for v, words in wanted.says.items()},
                conditions=_conditions_for(table, rating if replaces else None),
            )
            for rating in wanted.ratings
        ],
    )


def _highest(shown: TablePrint, rating: float, verdicts: tuple[Verdict, ...]) -> float:
    """Return the highest figure, as it is printed, that has one of the verdicts."""
    steps: float = 10.0**shown.decimals
    figures = (n / steps for n in range(ceil(rating / shown.per * steps), -1, -1))
    return next(
        figure
        for figure in figures
        if judged(LimitName.CONTINUOUS_RATING, figure * shown.per, rating, "A").verdict in verdicts
    )


def _conditions_for(table: Table, rating: float | None) -> str:
    """Return the conditions of a table whose marks are for cells of another rating."""
    fixed = table.fixed if rating is None else table.fixed | {"cell_rating_a": rating}
    asked = structs.replace(table, fixed=fixed)
    return conditions(fixed, _assumptions(asked, QUESTIONS[table.question]), table.immaterial)


def _answered(question: Question, got: Any, shape: tuple[int, int]) -> Any:
    """Return where there is an answer.

    The figure that the question is about may have none where another one, such as the expected current beside
    the highest, still has a number. The question itself then tells none of them.
    """
    lead = getattr(got, question.headline.field, UNSET) if question.headline else UNSET
    if lead is UNSET or np.asarray(lead).dtype.kind not in "if":
        return np.full(shape, True)
    return np.broadcast_to(np.isfinite(lead), shape)


def _assumptions(asked: OwnTableAsked, question: Question) -> list[Assumption]:
    """Return the defaults in use; one that differs between entries is listed as varying."""
    all_axes: tuple[TableAxis, ...] = (asked.rows_by, *asked.columns_by)
    first = {axis.field: axis.values[0] for axis in all_axes}
    found: dict[str, Assumption] = {}
    for axis in all_axes:
        for value in axis.values:
            one = convert(asked.fixed | first | {axis.field: value}, question.asked)
            for assumption in question.assumed(one):
                if found.setdefault(assumption.name, assumption) != assumption:
                    found[assumption.name] = Assumption(
                        assumption.name, VARIES, "", "differs from figure to figure"
                    )
    given = first.keys() | asked.fixed.keys()
    return [assumption for name, assumption in found.items() if name not in given]


def _figure(got: Any, shown: TablePrint) -> Any:
    try:
        return getattr(got, shown.field)
    except AttributeError:
        # in the answer to a single question, but not in a table
        raise Refused(
            "prints", f"{shown.field!r} is not available in a table. Ask the question itself."
        ) from None


def _headings(axes: list[TableColumnAxis]) -> list[TableColumn]:
    return [
        TableColumn(
            [axis.values[i] for axis, i in zip(axes, places, strict=True)],
            [label(axis, i) for axis, i in zip(axes, places, strict=True)],
            column_anchor(axes, places),
        )
        for places in product(*(range(len(axis.values)) for axis in axes))
    ]


def _rounded(values: Any, shown: TablePrint, answered: Any) -> list[list[float | str | None]]:
    if shown.round is Rounding.WORD:
        no_word: Any = None
        words = np.where(answered, values, no_word).tolist()
        return [[None if word is None else str(word) for word in row] for row in words]
    values = np.where(answered, values, np.nan)
    return [
        [
            rounded(v / shown.per, shown.round, int(shown.decimals)) if np.isfinite(v) else None
            for v in row
        ]
        for row in values.tolist()
    ]
