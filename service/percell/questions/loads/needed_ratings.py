"""A rating that a load needs: how it is said, for other ways of sharing, and whether cells can have it."""

from percell.physics.meter import rounded_up
from percell.questions.answering.headline import NO_HEADROOM, Headline, Rounding
from percell.questions.answering.rating_findings import shared_findings
from percell.questions.cell.label_doubt import label_doubt
from percell.questions.loads import rules
from percell.questions.vocabulary.chemistry import Chemistry
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.sharing import Feeds, ResistanceSpread, Sharing
from percell.questions.vocabulary.wording import given

HEADLINE = Headline(
    field="needed_rating_a",
    says="Each cell needs a continuous rating of at least",
    unit="A",
    decimals=1,
    round=Rounding.UP,
    adds=NO_HEADROOM,
)


def or_more(rating_a: float) -> str:
    """Return a needed rating in words, rounded up: a lower one is not enough."""
    return f"{given(rounded_up(value=float(rating_a), step=0.1))} A or more"


def by_sharing(
    sharing: Sharing | ResistanceSpread, parallel: int, feeds: Feeds, pack_a: float
) -> list[Finding]:
    """Return the findings about the rating that a parallel group needs for other ways of sharing a current."""
    says = f"For {parallel} cells in parallel the rating must be"
    return shared_findings(sharing, parallel, feeds, says, lambda n: or_more(pack_a / n))


def rating_to_be_had(needed_rating_a: float, chemistry: Chemistry) -> list[Finding]:
    """Return what to do about a needed rating that no label can be believed to have, or few."""
    rating_a = rounded_up(value=needed_rating_a, step=0.1)
    doubt = label_doubt(rating_a=float(rating_a), chemistry=chemistry)
    if not doubt:
        return []
    return [finding(rules.RATING_NOT_TO_BE_HAD, f"{doubt.sentence} Use more cells or less load.")]
