"""The catalogues of the API: questions, rules, cautions, chemistries, problem types."""

from typing import Any

from msgspec import Struct

from percell import VERSION
from percell.questions.loads.running_time_deviations import Deviations, deviations
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.cautions import CAUTIONS, Caution
from percell.questions.vocabulary.chemistry import VOLTAGES, Voltages
from percell.questions.vocabulary.rules import Rule, every_rule
from percell.web.operations import catalogue
from percell.web.problems import KINDS, Kind


class QuestionEntry(Struct, frozen=True):
    """A question, as the list names it."""

    id: str
    title: str
    description: str
    path: str


class Reference(Struct, frozen=True):
    """The catalogues that the site prints."""

    version: str
    questions: list[QuestionEntry]
    rules: list[Rule]
    cautions: tuple[Caution, ...]
    chemistries: dict[str, Voltages]
    running_times_compared: Deviations
    problems: list[Kind]


def reference() -> Reference:
    """Return all catalogues."""
    return Reference(
        VERSION,
        [QuestionEntry(q.id, q.title, q.description, f"/v1/{q.id}") for q in QUESTIONS.values()],
        every_rule(),
        CAUTIONS,
        {chemistry.value: voltages for chemistry, voltages in VOLTAGES.items()},
        deviations(),
        list(KINDS.values()),
    )


def reference_operation() -> dict[str, Any]:
    """Return the description of the catalogues."""
    title = "Rules, cautions, chemistries, problems"
    return catalogue("get_reference", title, Reference, reference())
