"""The catalogues of the API: questions, rules, cautions, chemistries, problem types."""

from typing import Annotated, Any

from msgspec import Meta, Struct, structs

from percell import VERSION
from percell.questions.answering.question import Subject
from percell.questions.loads.times_compared import TimesCompared, times_compared
from percell.questions.registry import QUESTIONS
from percell.questions.rulebook import RULES, TOPICS, Topic
from percell.questions.vocabulary import rules
from percell.questions.vocabulary.cautions import CAUTIONS, Caution
from percell.questions.vocabulary.chemistry import VOLTAGES, ChemistryProperties
from percell.questions.vocabulary.layout import USUAL
from percell.web.operations import catalogue
from percell.web.problems import KINDS, CodeMeaning, codes_of, explanation_of


class QuestionEntry(Struct, frozen=True):
    """A question of the API."""

    id: Annotated[str, Meta(description="Name of the question in paths.")]
    group: Annotated[Subject, Meta(description="Subject of the question.")]
    title: Annotated[str, Meta(description="Title.")]
    description: Annotated[str, Meta(description="The question and its answer, in one sentence.")]
    path: Annotated[str, Meta(description="Path of the question.")]


class Rule(rules.Rule, frozen=True, kw_only=True):
    """A rule: what it looks at and what to do about it. Only a rule of a limit can be a warning."""

    group: Annotated[Topic, Meta(description="Topic of the rule.")]


class ProblemEntry(Struct, frozen=True):
    """A problem type: its page is at `/problems/<id>/`."""

    id: Annotated[str, Meta(description="End of the path of its page.")]
    status: Annotated[int, Meta(description="HTTP status.")]
    title: Annotated[str, Meta(description="Name of this type of problem.")]
    explanation: Annotated[str, Meta(description="What it means and what to do.")]
    codes: Annotated[
        list[CodeMeaning],
        Meta(
            description="The codes of the faults in `errors`, or of the reason why there is no answer. The list may "
            "grow within v1."
        ),
    ]


class LayoutEntry(Struct, frozen=True):
    """A usual layout."""

    layout: Annotated[str, Meta(description="The layout, as questions take it.")]
    label: Annotated[str, Meta(description="The layout in everyday words.")]


class Reference(Struct, frozen=True):
    """Catalogues of the API."""

    version: Annotated[str, Meta(description="Version of percell.")]
    questions: Annotated[list[QuestionEntry], Meta(description="All questions.")]
    rules: Annotated[tuple[Rule, ...], Meta(description="All rules, the most severe first.")]
    cautions: Annotated[tuple[Caution, ...], Meta(description="Cautions that always apply.")]
    chemistries: Annotated[
        dict[str, ChemistryProperties],
        Meta(description="What is known of each chemistry, by the word that questions take."),
    ]
    layouts: Annotated[
        list[LayoutEntry],
        Meta(description="Layouts for a form to offer. Questions take others too."),
    ]
    running_times_compared: TimesCompared
    problems: Annotated[list[ProblemEntry], Meta(description="All types of problem.")]


def reference() -> Reference:
    """Return all catalogues."""
    return Reference(
        VERSION,
        [
            QuestionEntry(q.id, q.subject, q.title, q.description, f"/v1/{q.id}")
            for q in QUESTIONS.values()
        ],
        tuple(Rule(**structs.asdict(rule), group=TOPICS[rule.id]) for rule in RULES),
        CAUTIONS,
        {chemistry.value: voltages for chemistry, voltages in VOLTAGES.items()},
        [LayoutEntry(layout, label) for layout, label in USUAL.items()],
        times_compared(),
        [
            ProblemEntry(k.id, k.status, k.title, explanation_of(k), codes_of(k))
            for k in KINDS.values()
        ],
    )


def reference_operation() -> dict[str, Any]:
    """Return the description of the catalogues."""
    title = "Questions, rules, cautions, chemistries and problem types"
    return catalogue("get_reference", title, Reference)
