"""What a question is: declared once, at the end of its own module, and answered in one way."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from functools import cached_property
from typing import Annotated, Any, Generic, TypeVar

from msgspec import UNSET, Meta, Struct, UnsetType, defstruct, structs

from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, Links, Step
from percell.questions.answering.headline import Headline
from percell.questions.answering.rows import row_link
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cautions import CAUTIONS, Caution
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.rules import Finding
from percell.questions.vocabulary.verdict import Verdict

Figures = TypeVar("Figures", bound=Struct, covariant=True)


class Explained(Struct, Generic[Figures], frozen=True, kw_only=True):
    """What a question comes to: its figures, how they were worked out, and what was found.

    ``assumptions`` and ``links`` are left out where what was asked is enough to tell them.
    """

    figures: Figures
    working: list[Step]
    findings: list[Finding]
    verdict: Verdict | UnsetType = UNSET
    also: Struct | None = None
    assumptions: list[Assumption] | None = None
    links: Links | None = None


class Judged(Explained[Figures], Generic[Figures], frozen=True, kw_only=True):
    """The same for a question that always has a verdict."""

    verdict: Verdict


class OverTable(Enum):
    """How the figures of a question are worked out over the cells of a table."""

    # all at once: the figures take arrays, and hold NaN where there is no answer
    ARRAYS = auto()
    # one after the other, for relations with a search or a story of cycles in them
    CELL_BY_CELL = auto()


# what every answer ends with
_ENVELOPE: list[tuple[str, Any] | tuple[str, Any, Any]] = [
    ("working", Annotated[list[Step], Meta(description="The working, in order.")]),
    (
        "assumptions",
        Annotated[list[Assumption], Meta(description="Every value that was taken from a default.")],
    ),
    ("findings", Annotated[list[Finding], Meta(description="The rules that apply.")]),
    (
        "cautions",
        Annotated[tuple[Caution, ...], Meta(description="What always holds.")],
        CAUTIONS,
    ),
    ("links", Links),
]


@dataclass(frozen=True, kw_only=True)
class Question:
    """A question, and how it is asked and answered.

    Attributes:
        id: Name in the paths of the API.
        title: What the question is called.
        description: What is asked and what is answered, in one sentence.
        asked: The fields of the question.
        shows: The figures of the answer.
        also: Further figures, which only the answer to a single question has.
        verdict: Type of the verdict, if there is one; ``UnsetType`` in it where it may be left out.
        explain: Answers one question: figures, working, findings, verdict.
        assumed: The defaults that an answer rests on.
        figures: The figures alone, for a table.
        table: How those go over the cells of a table; None where a table cannot ask the question.
        no_effect: The fields on which no printed figure of this question depends.
        has_query: Whether the question can be asked by a query; one with lists cannot.
        slow: Whether an answer may take longer than others are to wait for.
        heavy: Whether an answer takes many times what a plain one takes, though nobody waits for it.
        body_limit: Bytes that a body may have, where lists are longer than in other questions.
        headline: What a reply leads with; a question without a query form has no reply.
        example: The example of the document, as it is asked.
    """

    id: str
    title: str
    description: str
    asked: type[Struct]
    shows: type[Struct]
    also: type[Struct] | None = None
    verdict: Any = None
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

    def answer(self, asked: Any) -> Struct:
        """Answer the question.

        Raises:
            Refused: What was asked contradicts itself.
            NoSolution: There is no physical answer.
        """
        return self.assemble(asked, self.explain(asked))

    def assemble(self, asked: Any, got: Explained[Any]) -> Struct:
        """Return the answer made of what the question comes to."""
        more: dict[str, Any] = {}
        if self._names_layout:
            more["layout"] = wiring(asked.layout).text
        if got.also is not None:
            more |= structs.asdict(got.also)
        if got.verdict is not UNSET:
            more["verdict"] = got.verdict
        return self.answered(
            **structs.asdict(got.figures),
            **more,
            working=got.working,
            assumptions=self.assumed(asked) if got.assumptions is None else got.assumptions,
            findings=got.findings,
            links=got.links or self.links(asked),
        )

    def links(self, asked: Struct) -> Links:
        """Return where to read on. What asks may have more fields than the question."""
        row = row_link(self.id, asked, self.asked, self.no_effect)
        return Links(f"/method/#{self.id}", row or UNSET)

    @cached_property
    def answered(self) -> type[Struct]:
        """The answer: the figures, then layout, further figures, verdict and what all answers have."""
        parts: list[Any] = []
        if self._names_layout:
            parts.append(("layout", Annotated[str, fields.text("The layout, as read.")]))
        if self.also:
            parts += [
                (f.name, f.type) if f.required else (f.name, f.type, f.default)
                for f in structs.fields(self.also)
            ]
        if self.verdict:
            optional = UnsetType in getattr(self.verdict, "__args__", ())
            parts.append(("verdict", self.verdict, *([UNSET] if optional else [])))
        return defstruct(
            f"{self.shows.__name__.removesuffix('Figures')}Answer",
            [*parts, *_ENVELOPE],
            bases=(self.shows,),
            frozen=True,
            kw_only=True,
            namespace={"__doc__": self._meaning},
        )

    @property
    def _meaning(self) -> str | None:
        # figures that no table asks for are the answer's own, and say what it is
        alone = self.table is None and self.also is None
        return self.shows.__doc__ if alone else "The figures, with what they rest on."

    @cached_property
    def _names_layout(self) -> bool:
        asked, shown = self.asked.__struct_fields__, self.shows.__struct_fields__
        return "layout" in asked and "layout" not in shown
