"""What the API knows besides questions: rules, cautions, chemistries, problem types."""

from msgspec import Struct

from percell import VERSION
from percell.questions.loads.running_time_deviations import RunningTimeDeviations, deviations
from percell.questions.registry import QUESTIONS
from percell.questions.rulebook import RULES
from percell.questions.vocabulary.cautions import CAUTIONS, Caution
from percell.questions.vocabulary.chemistry import VOLTAGES, ChemistryProperties
from percell.questions.vocabulary.rules import Rule
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
    rules: tuple[Rule, ...]
    cautions: tuple[Caution, ...]
    chemistries: dict[str, ChemistryProperties]
    running_times_compared: RunningTimeDeviations
    problems: list[Kind]


def reference() -> Reference:
    """Return all catalogues."""
    return Reference(
        VERSION,
        [QuestionEntry(q.id, q.title, q.description, f"/v1/{q.id}") for q in QUESTIONS.values()],
        RULES,
        CAUTIONS,
        {chemistry.value: voltages for chemistry, voltages in VOLTAGES.items()},
        deviations(),
        list(KINDS.values()),
    )
