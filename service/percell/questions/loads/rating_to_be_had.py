"""Whether cells with the rating that a load needs can be believed to exist."""

from percell.physics.meter import rounded_up
from percell.questions.cell.label_doubt import label_doubt
from percell.questions.loads import rules
from percell.questions.vocabulary.chemistry import Chemistry
from percell.questions.vocabulary.rules import Finding, finding


def rating_to_be_had(needed_rating_a: float, chemistry: Chemistry) -> list[Finding]:
    """Return what to do about a needed rating that no label can be believed to have, or few."""
    rating_a = rounded_up(value=needed_rating_a, step=0.1)
    doubt = label_doubt(rating_a=float(rating_a), chemistry=chemistry)
    if not doubt:
        return []
    return [finding(rules.RATING_NOT_TO_BE_HAD, f"{doubt.sentence} Use more cells or less load.")]
