"""An answer as one line of CSV, for spreadsheets: it holds on its own wherever it is copied."""

from collections.abc import Iterator
from typing import Any

from msgspec import Struct, structs

from percell.questions.answering.conditions import held_for
from percell.questions.answering.question import Question
from percell.questions.answering.reply import short_cautions
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.rules import Severity
from percell.web.ask import by_query, query_resource
from percell.web.csv_text import CSV, HEADED, as_csv, attached, cell, heading
from percell.web.resource import Representation, Resource

# what has cells of another name, or is too long for one
_NOT_FIGURES = frozenset(
    {"asked", "version", "headline", "attention", "verdict", "limits", "findings", "links"}
)


def csv_resources() -> list[Resource]:
    """Return the resources that answer in CSV, one for each question with a query form."""
    return [_resource(question) for question in QUESTIONS.values() if question.has_query]


def _resource(question: Question) -> Resource:
    attachment = attached(f"percell-{question.id}")

    def write(answer: Any) -> Representation:
        return Representation(as_csv([line_of(question, answer)]), HEADED, (attachment,))

    get = by_query(question, write)
    return query_resource(f"/v1/csv/{question.id}", question, get, CSV)


def line_of(question: Question, answer: Any) -> dict[str, str]:
    """Return an answer as the cells of one line, by heading.

    The word on top comes first, then the figures, each limit, what the answer holds for, version and
    caution. A figure that does not apply has an empty cell, so the figures of a question without lists are
    always in the same columns.
    """
    line = {
        "question": question.id,
        "attention": cell(answer.attention),
        "verdict": cell(answer.verdict) if question.limits else "",
        "headline": cell(answer.headline),
        "findings": " ".join(
            f"{one.severity.capitalize()}: {one.sentence}"
            for one in answer.findings
            if one.severity is not Severity.NOTE
        ),
    }
    for name in question.result.__struct_fields__:
        if name not in _NOT_FIGURES:
            line |= {n: cell(value) for n, value in _parts(name, getattr(answer, name))}
    for limit in answer.limits if question.limits else ():
        line[heading(f"verdict_on_{limit.name}", line)] = cell(limit.verdict)
        line[heading(f"limit_of_{limit.name}", line)] = cell(limit.value)
    asked = dict(part for name, value in answer.asked.items() for part in _parts(name, value))
    order = {name: place for place, name in enumerate(question.asked.__struct_fields__)}
    held = held_for(asked, answer.assumptions).items()
    # what is assumed need not be a field: the mass of a cell follows from its size, and comes last
    for name, value in sorted(
        held, key=lambda one: order.get(one[0].partition(".")[0], len(order))
    ):
        text = cell(value)
        if line.get(name) != text:
            line[heading(name, line)] = text
    return line | {"version": answer.version, "caution": short_cautions(question.subject)}


def _parts(name: str, value: Any) -> Iterator[tuple[str, Any]]:
    """Yield the cells of a figure: of an object one for each field, of a list by number, from 1."""
    if isinstance(value, Struct):
        value = structs.asdict(value)
    if isinstance(value, dict):
        for inner, part in value.items():
            yield from _parts(f"{name}.{inner}", part)
    elif isinstance(value, list | tuple):
        for number, entry in enumerate(value, 1):
            yield from _parts(f"{name}.{number}", entry)
    else:
        yield name, value
