"""A whole table at once: the figures of single questions, calculated over arrays."""

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import product
from math import ceil, isfinite, prod
from typing import Annotated, Any, NamedTuple, get_args, get_type_hints

import numpy as np
from msgspec import UNSET, Meta, Struct, ValidationError, convert, structs

from percell import VERSION
from percell.questions.answering.cold_findings import LOWEST_COMPARED_C, TEMPERATURES, below
from percell.questions.answering.conditions import VARIES, conditions
from percell.questions.answering.envelope import Assumption
from percell.questions.answering.headline import Rounding, rounded
from percell.questions.answering.over_table import figures_over
from percell.questions.answering.question import OverTable, Question
from percell.questions.answering.reply import brief_caution, short_cautions
from percell.questions.answering.tables import (
    OwnTableAsked,
    Table,
    TableChart,
    TableColumnAxis,
    TableMark,
    TablePrint,
    TableRowAxis,
    WorkedExample,
    anchor,
    column_anchor,
    every_table,
    label,
)
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.cautions import CAUTIONS, Caution
from percell.questions.vocabulary.fields import CellRatingA
from percell.questions.vocabulary.labels import full_label
from percell.questions.vocabulary.limits import judged
from percell.questions.vocabulary.phrases import value_in_words
from percell.questions.vocabulary.presence import refuse_by_presence
from percell.questions.vocabulary.refusal import Fault, Refused, RefusedAll
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
        **structs.asdict(_worked_out(table, QUESTIONS[table.question], table.immaterial)),
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


class InvalidTable(Exception):
    """The table does not fit its question, or the question does not take a value of it."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__()
        self.faults = faults  # of the table; none if only values are at fault


# other requests wait while the service calculates a caller's own table
MOST_ENTRIES = 2_000


def own_table(asked: OwnTableAsked) -> OwnTable:
    """Calculate a caller's own table.

    Raises:
        InvalidTable: The question, an axis, a print or a value does not fit, or the table is too large.
        Refused: The values contradict each other.
    """
    faults = [*question_faults(asked.question), *_axis_faults(asked)]
    if question := able_questions().get(asked.question):
        faults += [*_field_faults(asked, question), *_print_faults(asked, question)]
    if faults or not question:
        raise InvalidTable(faults)
    along_axes = _along_axes(asked, question)
    try:
        for one in along_axes:
            refuse_by_presence(one)
        return _worked_out(asked, question)
    except Refused as refused:
        raise _placed(refused, asked, question) from None


@cache
def able_questions() -> dict[str, Question]:
    """Return the questions that a caller's own table can ask: a slow one would keep other requests waiting."""
    return {name: one for name, one in QUESTIONS.items() if one.table and not one.heavy}


def question_faults(name: str) -> list[Fault]:
    """Return the fault of a question that no table can ask."""
    able = able_questions()
    if name in able:
        return []
    return [Fault("/question", f"No table can ask this question. Use one of: {', '.join(able)}.")]


def axes_of(asked: OwnTableAsked) -> dict[str, TableRowAxis | TableColumnAxis]:
    """Return each axis by the pointer to it."""
    return {"/rows": asked.rows} | {f"/columns/{i}": axis for i, axis in enumerate(asked.columns)}


def _placed(refused: Refused, asked: OwnTableAsked, question: Question) -> Refused:
    """Return the error with pointers to where the table holds the refused fields, or would hold them."""
    places = {name: f"/fixed/{name}" for name in question.asked.__struct_fields__}
    for where, axis in axes_of(asked).items():
        places[axis.field] = f"{where}/values"
    found: dict[str, Fault] = {}
    for fault in refused.faults:
        field, *rest = fault.pointer.removeprefix("/").split("/")
        place = places.get(field)  # none for what the table itself has
        if place:
            in_fixed = place.startswith("/fixed/")
            fault = fault._replace(pointer="/".join([place, *rest]) if in_fixed else place)
        found.setdefault(fault.pointer, fault)
    return RefusedAll(list(found.values()))


def _axis_faults(asked: OwnTableAsked) -> Iterator[Fault]:
    """Yield what is wrong with the axes whatever the question is."""
    cells = prod(len(axis.values) for axis in axes_of(asked).values())
    if cells > MOST_ENTRIES:
        yield Fault("/rows/values", f"The table has {cells} entries. The limit is {MOST_ENTRIES}.")
    if len({axis.field for axis in axes_of(asked).values()}) <= len(asked.columns):
        yield Fault("/columns", "Use a different field for each axis.")
    for at, axis in axes_of(asked).items():
        if axis.labels and len(axis.labels) != len(axis.values):
            yield Fault(f"{at}/labels", "Give one label per value, or none.")
        if len(dict.fromkeys(type(value) for value in axis.values)) > 1:
            yield Fault(f"{at}/values", "Give only numbers or only words.")


def _field_faults(asked: OwnTableAsked, question: Question) -> Iterator[Fault]:
    """Yield the fields that cannot be an axis of the question."""
    known = question.asked.__struct_fields__
    for at, axis in axes_of(asked).items():
        if axis.field not in known or axis.field in asked.fixed:
            yield Fault(
                f"{at}/field",
                f"{axis.field!r} cannot be an axis: it is unknown, or already fixed.",
            )
            continue
        words = axis.field != "layout" and isinstance(axis.values[0], str)
        if words and question.table is not OverTable.CELL_BY_CELL:
            # other words choose the formula, which arrays cannot
            yield Fault(
                f"{at}/field",
                "Use layout or a field with numbers. Other fields with words cannot be an axis.",
            )


def _along_axes(asked: OwnTableAsked, question: Question) -> list[Struct]:
    """Return the question of each value of each axis, within its bounds: arrays are not checked later."""
    axes = axes_of(asked)
    first = {axis.field: axis.values[0] for axis in axes.values()}
    try:
        return [
            convert(asked.fixed | first | {axis.field: value}, question.asked)
            for axis in axes.values()
            for value in axis.values
        ]
    except ValidationError:
        raise InvalidTable([]) from None


@cache
def _numbers(kind: type[Struct]) -> frozenset[str]:
    """Return the number fields of an answer."""
    hints = get_type_hints(kind)
    return frozenset(name for name, hint in hints.items() if {float, int} & {hint, *get_args(hint)})


def _print_faults(asked: OwnTableAsked, question: Question) -> Iterator[Fault]:
    """Yield the figures that are not numbers in the question's answer."""
    numbers = _numbers(question.answered)
    for i, shown in enumerate(asked.prints):
        if shown.field not in numbers or shown.round is Rounding.WORD:
            yield Fault(f"/prints/{i}/field", f"{shown.field!r} is not a number in the answer.")


def _worked_out(
    asked: OwnTableAsked, question: Question, immaterial: Sequence[str] = ()
) -> OwnTable:
    headings = _headings(asked.columns)
    axes = {
        axis.field: np.array([[h.values[i] for h in headings]])
        for i, axis in enumerate(asked.columns)
    }
    axes[asked.rows.field] = np.array(asked.rows.values)[:, None]
    got = figures_over(question, asked.fixed, axes)
    shape = (len(asked.rows.values), len(headings))
    answered = _answered(question, got, shape)
    shown = [_rounded(np.broadcast_to(_figure(got, p), shape), p, answered) for p in asked.prints]
    marks = _marks(asked, question, got, axes, answered)
    assumptions = _assumptions(asked, question)
    return OwnTable(
        question=asked.question,
        fixed=asked.fixed,
        rows_by=asked.rows,
        columns_by=asked.columns,
        prints=asked.prints,
        columns=headings,
        rows=[
            TableRow(
                asked.rows.values[i],
                label(asked.rows, i),
                anchor(asked.rows, i),
                [
                    TableCell([figure[i][j] for figure in shown], *_split(marks, i, j))
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
    all_axes: tuple[TableRowAxis | TableColumnAxis, ...] = (asked.rows, *asked.columns)
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


class _Mark(NamedTuple):
    """What one figure is marked with."""

    verdict: Verdict
    limit: float


# a mark of a figure, None where it has no answer; by print, row and column; None for a print without marks
Marks = list[list[list[_Mark | None]] | None]


def _marks(
    asked: OwnTableAsked,
    question: Question,
    got: Any,
    axes: dict[str, Any],
    answered: Any,
) -> Marks:
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


def _mark(mark: TableMark, held: float, limit: float, origin: float, cold: bool) -> _Mark | None:
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
    return _Mark(got, limit)


def _split(
    marks: Marks, row: int, column: int
) -> tuple[()] | tuple[list[Verdict | None], list[float | None]]:
    """Return the verdicts and the limits of an entry's figures; nothing if none has a mark."""
    if not any(marks):
        return ()
    found = [grid[row][column] if grid else None for grid in marks]
    return [m and m.verdict for m in found], [m and m.limit for m in found]
