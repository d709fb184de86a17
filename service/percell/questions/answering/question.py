"""What a question is. Each is declared once, at the end of its own module."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, StrEnum, auto
from functools import cached_property
from typing import Annotated, Any, Generic, TypeVar

from msgspec import UNSET, Meta, Struct, defstruct, structs

from percell import VERSION
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.cold_findings import COLD_C, is_below, kept_in_the_cold
from percell.questions.answering.deprecation import Deprecation
from percell.questions.answering.echo import changed
from percell.questions.answering.envelope import Assumption, Links, WorkingStep
from percell.questions.answering.headline import Headline, condition_of, sentence
from percell.questions.answering.rows import row_link
from percell.questions.answering.steps import with_shown_results
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cautions import CAUTIONS, Caution
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.limits import (
    Limit,
    LimitsField,
    verdict_of,
    with_warnings,
)
from percell.questions.vocabulary.presence import refuse_by_presence
from percell.questions.vocabulary.rules import (
    Attention,
    AttentionField,
    Finding,
    LimitName,
    Severity,
    gravest_finding,
)
from percell.questions.vocabulary.verdict import VerdictField

Figures = TypeVar("Figures", bound=Struct, covariant=True)


class Explained(Struct, Generic[Figures], frozen=True, kw_only=True):
    """The result of a question: figures, working, findings and limits.

    Without ``assumptions``, ``links`` and ``condition`` the question derives them from its fields, and
    without ``leads`` the headline leads with the figure that the question declares.

    Attributes:
        limits: Each limit of the question once.
        parts: Findings inside the figures, of the entries of a list; they count for the attention too.
        leads: The clause of the headline with the leading figure.
        condition: What the answer holds for.
    """

    figures: Figures
    working: list[WorkingStep]
    findings: list[Finding]
    limits: list[Limit] = []
    parts: list[Finding] = []
    also: Struct | None = None
    assumptions: list[Assumption] | None = None
    links: Links | None = None
    leads: str = ""
    condition: str = ""


class Subject(StrEnum):
    """The subjects under which questions are listed."""

    LOADS = "Loads"
    LIMITS = "Limits"
    UNEQUAL_CELLS = "Unequal cells"
    TIME_AND_HEAT = "Time and heat"
    CHARGING = "Charging"
    BENCH = "Bench"
    COIL = "Coil"

    @property
    def meaning(self) -> str:
        """Describe the questions of the subject."""
        return _MEANINGS[self]


_MEANINGS = {
    Subject.LOADS: "Current of each cell of a pack, under a coil or behind a converter.",
    Subject.LIMITS: "What these cells can handle, and which cells a load needs.",
    Subject.UNEQUAL_CELLS: "Cells that differ: sharing, joining, drift and matching.",
    Subject.TIME_AND_HEAT: "How long a pack runs, how far it sags and how hot a cell gets.",
    Subject.CHARGING: "Charge current, charging time, and where cells may be charged.",
    Subject.BENCH: "Measuring cells and coils.",
    Subject.COIL: "Coils from wire.",
}


class OverTable(Enum):
    """How to calculate the figures of a question over a table."""

    # all at once: the fields are arrays, and figures are NaN where no answer exists
    ARRAYS = auto()
    # one by one, for formulas that search or follow cycles
    CELL_BY_CELL = auto()


_ASKED = Meta(description="Fields that the caller gave.")
# how every answer begins, after the name of its question, which is the tag of its type
_HEAD: list[tuple[str, Any]] = [
    ("version", Annotated[str, Meta(description="Version of percell that calculated the answer.")]),
    (
        "headline",
        Annotated[
            str,
            Meta(
                description="The answer in short: the limits that are exceeded, condition, leading figure, "
                "verdict and most severe finding."
            ),
        ],
    ),
    ("attention", AttentionField),
]
# how every result ends
_TAIL: list[tuple[str, Any]] = [
    (
        "findings",
        Annotated[list[Finding], Meta(description="Rules that apply, with their numbers.")],
    ),
    ("links", Links),
]
# what a whole answer has beyond its result
_BESIDE: list[tuple[str, Any]] = [
    (
        "working",
        Annotated[list[WorkingStep], Meta(description="Steps of the calculation, in order.")],
    ),
    (
        "assumptions",
        Annotated[list[Assumption], Meta(description="Every default in use.")],
    ),
    ("cautions", Annotated[tuple[Caution, ...], Meta(description="Cautions that always apply.")]),
]


@dataclass(frozen=True, kw_only=True)
class Question:
    """A question, and how to ask and answer it.

    Attributes:
        id: Name in the paths of the API.
        subject: Subject under which it is listed.
        title: Title.
        description: The question and its answer, in one sentence.
        asked: The fields of the question.
        repeated: Those that an answer repeats; None for all of them.
        shows: The figures of the answer.
        also: Further figures, which only the answer to a single question has.
        limits: The limits that it can look at, the one that it is about first; none for a question
            that holds nothing against a limit.
        decisive: A further limit without which no answer is within limits.
        explain: Answers one question: figures, working, findings, limits.
        assumed: Returns the defaults in use.
        figures: Returns the figures alone, for a table.
        table: How to calculate them over a table; None if no table can ask the question.
        no_effect: The fields that change no printed figure of this question.
        has_query: Whether a query can ask the question.
        slow: Whether other requests would wait too long for an answer.
        heavy: Whether an answer takes many times as long as usual, but is not slow.
        body_limit: Bytes that a body may have; more for questions with long lists.
        headline: The leading figure; None if ``explain`` says with what the headline leads.
        example: The example of the document, as a body.
        deprecated: Since when and why it should no longer be asked, if so.
    """

    id: str
    subject: Subject
    title: str
    description: str
    asked: type[Struct]
    repeated: type[Struct] | None = None
    shows: type[Struct]
    also: type[Struct] | None = None
    limits: tuple[LimitName, ...] = ()
    decisive: LimitName | None = None
    explain: Callable[[Any], Explained[Any]]
    assumed: Callable[[Any], list[Assumption]] = assumptions
    figures: Callable[[Any], Any] | None = None
    table: OverTable | None = None
    no_effect: frozenset[str] = frozenset()
    has_query: bool = True
    slow: bool = False
    heavy: bool = False
    body_limit: int | None = None
    headline: Headline | None = None
    example: dict[str, Any]
    deprecated: Deprecation | None = None

    def answer(self, asked: Any, given: dict[str, Any] | None = None) -> Struct:
        """Answer the question.

        Args:
            asked: The question.
            given: The fields as the caller gave them, for the answer to repeat; without it, those that
                are not their defaults.

        Raises:
            Refused: What was asked contradicts itself.
            NoSolution: There is no physical answer.
        """
        return self.assemble(asked, self.explained(asked), given)

    def explained(self, asked: Any) -> Explained[Any]:
        """Return the result from which an answer is assembled.

        Raises:
            Refused: What was asked contradicts itself.
            NoSolution: There is no physical answer.
        """
        refuse_by_presence(asked)
        return self.explain(asked)

    def assemble(
        self, asked: Any, got: Explained[Any], given: dict[str, Any] | None = None
    ) -> Struct:
        """Return the answer made from a result."""
        more: dict[str, Any] = {}
        if self._names_layout:
            more["layout"] = wiring(asked.layout).text
        if got.also is not None:
            more |= structs.asdict(got.also)
        assumed = self.assumed(asked) if got.assumptions is None else got.assumptions
        limits = self.limits_of(asked, got)
        verdict = verdict_of(limits, self.decisive)
        if self.limits:
            more |= {"limits": limits, "verdict": verdict}
        worst = gravest_finding([*got.findings, *got.parts])
        return self.answered(
            asked=self.repeatable(changed(asked) if given is None else given),
            version=VERSION,
            headline=sentence(
                condition=got.condition or condition_of(asked),
                assumed=assumed,
                leads=self.leads(got),
                limits=limits,
                verdict=verdict,
                worst=worst,
            ),
            attention=Attention(worst.severity) if worst else Attention.NONE,
            **structs.asdict(got.figures),
            **more,
            findings=got.findings,
            links=got.links or self.links(asked),
            working=with_shown_results(got.working, limits),
            assumptions=assumed,
            cautions=CAUTIONS,
        )

    def repeatable(self, given: dict[str, Any]) -> dict[str, Any]:
        """Return the fields that an answer repeats."""
        if self.repeated is None:
            return given
        return {name: given[name] for name in self.repeated.__struct_fields__ if name in given}

    def result_of(self, answer: Any, *, notes: bool) -> Struct:
        """Return the short form of an answer, with or without the findings that are only notes."""
        found: list[Finding] = answer.findings
        if not notes:
            found = [one for one in found if one.severity is not Severity.NOTE]
        told = {name: getattr(answer, name) for name in self.result.__struct_fields__}
        return self.result(**told | {"findings": found})

    def leads(self, got: Explained[Any]) -> str:
        """Return the clause of the headline with the leading figure: its own, or the one that the question declares."""
        if got.leads:
            return got.leads
        if self.headline is None:
            raise TypeError(f"{self.id} declares no leading figure, and its answer tells none")
        held = got.figures if hasattr(got.figures, self.headline.field) else got.also
        figure = getattr(held, self.headline.field)
        held_to = (one.value for one in got.limits if one.figure == figure)
        limit = next((value for value in held_to if value is not UNSET), None)
        return self.headline.leads(figure, limit)

    def limits_of(self, asked: Any, got: Explained[Any]) -> list[Limit]:
        """Return the limits of a result in the order of the question: over where a warning says so."""
        places = {name: place for place, name in enumerate(self.limits)}
        limits = with_warnings(got.limits, [*got.findings, *got.parts])
        return sorted(
            kept_in_the_cold(asked, limits), key=lambda one: places.get(one.name, len(places))
        )

    def links(self, asked: Struct) -> Links:
        """Return the links. ``asked`` may have more fields than the question."""
        # the marks of a table hold for cells of room temperature, unless the temperature is one of its axes
        warm = "cell_temperature_c" not in self.no_effect or not is_below(asked, COLD_C)
        row = row_link(self.id, asked, self.asked, self.no_effect) if warm else None
        return Links(f"/method/#{self.id}", "/cautions/", row or UNSET)

    @cached_property
    def result(self) -> type[Struct]:
        """The type of the short form of an answer."""
        parts: list[Any] = [("asked", Annotated[self.repeated or self.asked, _ASKED]), *_HEAD]
        if self.limits:
            parts += [("verdict", VerdictField), ("limits", LimitsField)]
        if self._names_layout:
            parts.append(("layout", Annotated[str, fields.text("Layout, as read.")]))
        for struct in (self.shows, self.also):
            parts += _fields_of(struct) if struct else []
        return self._type("Result", [*parts, *_TAIL])

    @cached_property
    def answered(self) -> type[Struct]:
        """The type of an answer: the short form, then working, assumptions and cautions."""
        return self._type("Answer", _BESIDE, self.result)

    def _type(self, suffix: str, parts: list[Any], base: type[Struct] = Struct) -> type[Struct]:
        return defstruct(
            f"{self.shows.__name__.removesuffix('Figures')}{suffix}",
            parts,
            bases=(base,),
            frozen=True,
            kw_only=True,
            tag_field="question",
            tag=self.id,
            namespace={"__doc__": self.shows.__doc__},
        )

    @cached_property
    def _names_layout(self) -> bool:
        asked, shown = self.asked.__struct_fields__, self.shows.__struct_fields__
        return "layout" in asked and "layout" not in shown


def _fields_of(struct: type[Struct]) -> list[Any]:
    return [
        (f.name, f.type) if f.required else (f.name, f.type, f.default)
        for f in structs.fields(struct)
    ]
