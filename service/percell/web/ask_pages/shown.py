"""An answer as a page shows it: headline and verdict, figures, limits, findings, working, assumptions."""

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from itertools import zip_longest
from typing import Any, NamedTuple, get_args, get_type_hints

from msgspec import UNSET, Struct

from percell.questions.answering.envelope import Assumption
from percell.questions.answering.figure_text import figure_text, limit_figure_text
from percell.questions.answering.headline import (
    condition_of,
    gravest_in_words,
    verdict_in_words,
    with_assumed,
)
from percell.questions.answering.question import Explained, Question
from percell.questions.cell.label_doubt import LabelDoubt, doubt_of
from percell.questions.cell.rules import RATING_DOUBTFUL
from percell.questions.vocabulary.labels import full_label, label_of
from percell.questions.vocabulary.limits import Limit
from percell.questions.vocabulary.phrases import value_in_words
from percell.questions.vocabulary.rules import (
    Attention,
    Finding,
    LimitName,
    Severity,
    gravest_finding,
)
from percell.questions.vocabulary.verdict import Verdict
from percell.web.ask_pages.fields import form_of
from percell.web.faults import forms_of, is_struct


class Line(NamedTuple):
    """One figure, or one default, in words."""

    label: str
    text: str


class Listing(NamedTuple):
    """Entries that have the same figures, one a row."""

    label: str
    heads: list[str]
    rows: list[list[str]]

    @property
    def is_tall(self) -> bool:
        """Return whether each figure needs a line of its own, because no page is wide enough for all."""
        return len(self.heads) > _MOST_IN_LINE


class Part(NamedTuple):
    """Figures that belong together; the first part has no label."""

    label: str
    lines: list[Line]
    listings: list[Listing]


class LimitLine(NamedTuple):
    """One limit: the figure beside it, and the verdict."""

    label: str
    figure: str
    allowed: str
    sign: str
    verdict: str
    look: str


class Shown(NamedTuple):
    """All that a page says about an answer."""

    entered: str
    title: str
    holds_for: str
    leads: str
    doubt: str
    doubt_look: str
    sign: str
    verdict: str
    # the most severe finding from a caution up, for those who read no further
    gravest: str
    look: str
    parts: list[Part]
    limits: list[LimitLine]
    findings: list[Finding]
    assumptions: list[tuple[Line, str]]


# colour is never the only sign
SIGNS = {Verdict.OVER: "✕", Verdict.LITTLE: "◐"}
LOOKS = {Verdict.OVER: "pc-over", Verdict.LITTLE: "pc-little"}
_WORDS = {
    Verdict.OVER: "over the limit",
    Verdict.LITTLE: "little headroom",
    Verdict.NOT_JUDGED: "not judged",
    Verdict.WITHIN: "within the limit",
}
# a curve has hundreds of points
_MOST_IN_LINE = 12
# what a caller calls a cell, after its number
_NAMED = re.compile(r"(?<=\d) \(“[^”]*”\)")
_GRAVITY = (Severity.WARNING, Severity.CAUTION, Severity.NOTE)


def shown(question: Question, asked: Any, got: Explained[Any], answer: Any) -> Shown:
    """Return what a page says about an answer."""
    limits: list[Limit] = getattr(answer, "limits", [])
    verdict: Verdict = getattr(answer, "verdict", Verdict.WITHIN)
    entered = f"For {_inside(got.condition or condition_of(asked))}, as entered"
    doubt = doubt_of(question, answer)
    if doubt:
        entered += f" {doubt.briefly}"
    if question.limits[:1] == (LimitName.BELIEVABLE_RATING,):
        doubt = None  # its answer is the doubt
    leads = question.leads(got)
    # those of the entries of a list are nowhere else on the page
    findings = [
        one
        for one in [*answer.findings, *got.parts]
        # the doubt stands above the figure already
        if one.rule != RATING_DOUBTFUL.id or doubt is None or one.sentence != doubt.sentence
    ]
    told = verdict_in_words(limits, verdict)
    over = f"{_inside(told[0]).removesuffix('.')}; " if verdict is Verdict.OVER else ""
    # the reasons are on the page
    open_limits = ", ".join(one.name.words for one in limits if one.verdict is Verdict.NOT_JUDGED)
    unjudged = f"; not judged: {open_limits}" if open_limits else ""
    return Shown(
        entered=entered,
        title=f"{entered}: {over}{leads}{unjudged}",
        holds_for=with_assumed(entered, answer.assumptions),
        leads=leads,
        doubt=doubt.sentence if doubt else "",
        doubt_look=LOOKS[doubt.verdict] if doubt else "",
        sign=SIGNS.get(verdict, ""),
        verdict=" ".join([*told, *(["This holds only if the rating is true."] if doubt else [])]),
        # it goes into previews, where a name would pass for a word of percell
        gravest=_NAMED.sub("", gravest_in_words(gravest_finding(findings))),
        look=_look(verdict, answer.attention, doubt),
        parts=list(_parts(question, answer, limits)),
        limits=[_limit_line(limit) for limit in limits],
        findings=sorted(findings, key=lambda one: _GRAVITY.index(one.severity)),
        assumptions=[(_assumed(one), one.origin) for one in answer.assumptions],
    )


def entered(question: Question, pairs: Iterable[tuple[str, str]]) -> list[Listing]:
    """Return the lists of a question as they were typed or pasted, one entry a row, so that a sheet of paper has them."""
    found: list[Listing] = []
    for rows in form_of(question).lists.values():
        typed = {
            column: [value for name, value in pairs if name == column.name]
            for column in rows.columns
        }
        given = {column: values for column, values in typed.items() if values}
        heads = [
            f"{column.label} [{column.unit}]" if column.unit else column.label for column in given
        ]
        numbered = enumerate(zip_longest(*given.values(), fillvalue=""), 1)
        entries = [[str(number), *values] for number, values in numbered]
        found.append(Listing(f"{rows.label}, as entered", [rows.one, *heads], entries))
    return found


def _assumed(one: Assumption) -> Line:
    return Line(full_label(one.name), value_in_words(one.name, one.value, one.unit))


def _inside(sentence: str) -> str:
    """Return a beginning of a sentence as it stands inside one."""
    return sentence if sentence[1:2].isupper() else sentence[:1].lower() + sentence[1:]


def _look(verdict: Verdict, attention: Attention, doubt: LabelDoubt | None) -> str:
    """Return how grave an answer looks: as its verdict, its findings or the doubt of its rating, whichever is worst."""
    if Verdict.OVER in (verdict, doubt and doubt.verdict):
        return LOOKS[Verdict.OVER]
    if attention is Attention.CAUTION or doubt:
        return LOOKS[Verdict.LITTLE]
    return LOOKS.get(verdict, "")


def _limit_line(limit: Limit) -> LimitLine:
    reason = "" if limit.reason is UNSET else f": {limit.reason}"
    return LimitLine(
        label=limit.name.words.capitalize(),
        figure=limit_figure_text(limit),
        allowed="" if limit.value is UNSET else figure_text("", limit.value, limit.unit),
        sign=SIGNS.get(limit.verdict, ""),
        verdict=_WORDS[limit.verdict] + reason,
        look=LOOKS.get(limit.verdict, ""),
    )


def _parts(question: Question, answer: Any, limits: list[Limit]) -> Iterator[Part]:
    kinds = [question.shows, *([question.also] if question.also else [])]
    yield from _parts_of("", kinds, answer, limits)


def _parts_of(
    label: str, kinds: list[type[Struct]], holder: Any, limits: list[Limit]
) -> Iterator[Part]:
    """Yield the figures of a Struct, then those of the Structs and lists in it, each with its own label."""
    lines: list[Line] = []
    listings: list[Listing] = []
    told: dict[tuple[Any, str], str] = {}
    inner: list[Part] = []
    for kind in kinds:
        units = _units(kind)
        for name in kind.__struct_fields__:
            value = getattr(holder, name)
            if value is UNSET or value is None or _is_told_elsewhere(value):
                continue
            if isinstance(value, Struct):
                inner += _parts_of(label_of(name), [type(value)], value, limits)
            elif isinstance(value, list) and value and isinstance(value[0], Struct):
                listings.append(_listing(label_of(name), value, limits))
            elif isinstance(value, list):
                lines.append(Line(label_of(name), _all_of(value, limits, name, units[name])))
            else:
                unit = units[name]
                text = figure_text(name, value, unit, limits)
                # one figure under two names reads the same, however each would be rounded
                lines.append(
                    Line(
                        label_of(name),
                        text if unit == "1" else told.setdefault((value, unit), text),
                    )
                )
    if lines or listings:
        yield Part(label, lines, listings)
    yield from inner


def _is_told_elsewhere(value: Any) -> bool:
    return isinstance(value, list) and (not value or isinstance(value[0], Limit | Finding))


def _listing(label: str, entries: list[Any], limits: list[Limit]) -> Listing:
    """Return a list of Structs as rows; what is nested in one has columns of its own."""
    told = [dict(row) for row in _rows(label, entries, limits)]
    heads = list(dict.fromkeys(name for one in told for name in one))
    rows = [[one.get(name, "") for name in heads] for one in told]
    return Listing(label, heads, rows)


def _rows(label: str, entries: list[Any], limits: list[Limit]) -> Iterator[list[tuple[str, str]]]:
    """Yield the columns of each row: one for each entry, or for each cell if the entries are groups of cells."""
    one = label.removesuffix("s")
    inner = _inner_list(entries[0])
    for number, entry in enumerate(entries, 1):
        first = entry.__struct_fields__[0]
        is_named = first in ("label", "layout") or first.endswith("_number")
        named = [] if is_named else [(one, str(number))]
        if not inner:
            yield [*named, *_columns(entry, limits)]
            continue
        of_all = [
            (f"{one}: {_inside(name)}", text)
            for name, text in _columns(entry, limits)
            if name != label_of(inner)
        ]
        for row in _rows(label_of(inner), getattr(entry, inner), limits):
            yield [*named, *row, *of_all]


def _inner_list(entry: Any) -> str:
    """Return the field of an entry that is a list of Structs; nothing if it has several, or none."""
    found = [
        name
        for name in entry.__struct_fields__
        if isinstance(value := getattr(entry, name), list)
        and not _is_told_elsewhere(value)
        and isinstance(value[0], Struct)
        and not isinstance(value[0], Assumption)
    ]
    return found[0] if len(found) == 1 else ""


def _columns(entry: Any, limits: list[Limit], before: str = "") -> Iterator[tuple[str, str]]:
    kind: type[Struct] = type(entry)
    units = _units(kind)
    for name in entry.__struct_fields__:
        value, label = getattr(entry, name), label_of(name)
        if value is UNSET or value is None or _is_told_elsewhere(value):
            continue
        if isinstance(value, Struct):
            # all of an entry's columns are figures
            yield from _columns(value, limits, "" if name == "figures" else f"{label}: ")
        elif isinstance(value, Verdict):
            yield before + label, f"{SIGNS.get(value, '')} {_WORDS[value]}".strip()
        elif isinstance(value, list):
            # labels that nobody gave are empty
            if text := _all_of(value, limits, name, units[name]):
                yield before + label, text
        else:
            yield before + label, figure_text(name, value, units[name], limits)


def _all_of(values: list[Any], limits: list[Limit], name: str, unit: str) -> str:
    """Return the entries of a list in one line: numbers, words, or Structs with their figures."""
    if isinstance(values[0], Assumption):
        return "; ".join(f"{_inside(line.label)}: {line.text}" for line in map(_assumed, values))
    if len(values) > _MOST_IN_LINE:
        return f"{len(values)} entries, which the API's answer has"
    if not isinstance(values[0], Struct):
        return ", ".join(filter(None, (figure_text(name, one, unit, limits) for one in values)))
    told = [
        ", ".join(f"{_inside(label)} {text}" for label, text in _columns(one, limits))
        for one in values
    ]
    return "; ".join(f"{number}: {text}" for number, text in enumerate(told, 1))


@cache
def _units(kind: type[Struct]) -> Mapping[str, str]:
    """Return the unit of each figure of a Struct: 1 for what has none."""
    return {name: _unit(hint) for name, hint in get_type_hints(kind, include_extras=True).items()}


def _unit(hint: Any) -> str:
    for form in forms_of(hint):
        if form.kind is list:
            (item,) = get_args(form.hint)
            return "1" if is_struct(item) else _unit(item)
        if is_struct(form.kind):
            continue
        if schema := form.limit("extra_json_schema"):
            return str(schema.get("x-unit", "1"))
    return "1"
