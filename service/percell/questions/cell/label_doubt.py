"""Whether a rating can be true at all, for questions that do not know the size of the cell."""

from collections.abc import Callable
from functools import lru_cache
from typing import Any, NamedTuple, TypeVar

from msgspec import UNSET, Struct, structs

from percell.physics.meter import NOISE
from percell.physics.sizes import SIZES
from percell.questions.answering.question import Explained, Question
from percell.questions.cell import rules
from percell.questions.cell.label_check import LabelCheck, figures
from percell.questions.vocabulary.chemistry import Chemistry
from percell.questions.vocabulary.limits import Limit, not_judged
from percell.questions.vocabulary.rules import Finding, LimitName, Severity, finding
from percell.questions.vocabulary.sizes import CellSize
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import at_least, given

# the size that most cells of small packs have: common practice, no published source
_COMMON = "18650"
# each leaves two thirds of the range of capacities: the best one is then known to a thousandth
_STEPS = 24
_LOWEST_AH = 0.05
_NOT_BELIEVABLE, _DOUBTFUL = "not believable", "doubtful"


class LabelDoubt(NamedTuple):
    """Why a rating is not believed: ``OVER`` if no size can have it, ``LITTLE`` if it must be checked first."""

    verdict: Verdict
    sentence: str
    word: str

    @property
    def briefly(self) -> str:
        """Return the doubt as it stands behind the rating that was given."""
        return f"(the rating is {self.word})"

    @property
    def finding(self) -> Finding:
        """Return the doubt as a finding."""
        return finding(rules.RATING_DOUBTFUL, self.sentence)


class _Bounds(NamedTuple):
    """The usual and the highest rating of a size."""

    usual_a: float
    highest_a: float


def doubt_of(question: Question, answer: Any) -> LabelDoubt | None:
    """Return why the rating that an answer rests on cannot be believed at once.

    Args:
        question: The question.
        answer: Its answer.
    """
    for found in answer.findings:
        if found.limit is LimitName.BELIEVABLE_RATING:
            grave = found.severity is Severity.WARNING
            return LabelDoubt(
                Verdict.OVER if grave else Verdict.LITTLE,
                found.sentence,
                _NOT_BELIEVABLE if grave else _DOUBTFUL,
            )
    asked = answer.asked
    if "cell_rating_a" not in asked or LimitName.BELIEVABLE_RATING in question.limits[:1]:
        return None
    return label_doubt(
        rating_a=asked["cell_rating_a"],
        capacity_ah=asked.get("cell_capacity_ah"),
        size=asked.get("cell_size"),
        chemistry=asked.get("chemistry", Chemistry.NMC),
    )


def doubt_about(asked: Any) -> LabelDoubt | None:
    """Return why the rating of a question cannot be believed at once, if it has one."""
    rating_a = asked.cell_rating_a
    if rating_a is UNSET:
        return None
    return label_doubt(
        rating_a=rating_a,
        capacity_ah=_told(asked, "cell_capacity_ah"),
        size=_told(asked, "cell_size"),
        chemistry=asked.chemistry,
    )


def _told(asked: Any, name: str) -> Any:
    value = getattr(asked, name, UNSET)
    return None if value is UNSET else value


Figures = TypeVar("Figures", bound=Struct)
_RATED = frozenset({LimitName.CONTINUOUS_RATING})


def with_doubt(
    asked: Any, got: Explained[Figures], rests_on_rating: frozenset[LimitName] = _RATED
) -> Explained[Figures]:
    """Return a result with the doubt of its rating, before all else that is found.

    Args:
        asked: The question.
        got: Its result.
        rests_on_rating: The limits that are judged by the rating.
    """
    doubt = doubt_about(asked)
    if doubt is None:
        return got
    return structs.replace(
        got,
        findings=[doubt.finding, *got.findings],
        limits=limits_in_doubt(doubt, got.limits, rests_on_rating),
    )


def limits_in_doubt(
    doubt: LabelDoubt | None, limits: list[Limit], rests_on_rating: frozenset[LimitName] = _RATED
) -> list[Limit]:
    """Return the limits: by a rating that no size can have, nothing is judged as within."""
    if doubt is None or doubt.verdict is not Verdict.OVER:
        return limits
    return [
        not_judged(one, "the rating is not believable") if one.name in rests_on_rating else one
        for one in limits
    ]


def doubting(
    explain: Callable[[Any], Explained[Figures]], *rests_on_rating: LimitName
) -> Callable[[Any], Explained[Figures]]:
    """Return what answers a question, with the doubt of its rating."""
    rests = _RATED | set(rests_on_rating)
    return lambda asked: with_doubt(asked, explain(asked), rests)


def label_doubt(
    *,
    rating_a: float,
    capacity_ah: float | None = None,
    size: str | None = None,
    chemistry: Chemistry = Chemistry.NMC,
) -> LabelDoubt | None:
    """Return why a rating must not be believed at once, or None if size and heat leave no doubt.

    Args:
        rating_a: The continuous rating.
        capacity_ah: The capacity; without one, those that allow the highest ratings.
        size: The size; without one, all that percell knows, and the common one for a doubt.
        chemistry: The chemistry.
    """
    known = size or _COMMON
    bounds = _bounds(known, capacity_ah, chemistry)
    # the best size allows no less than the common one
    if rating_a <= bounds.usual_a * (1 + NOISE):
        return None
    sizes = [size] if size else list(SIZES)
    best = max(sizes, key=lambda one: _bounds(one, capacity_ah, chemistry).highest_a)
    highest_a = _bounds(best, capacity_ah, chemistry).highest_a
    claimed = given(rating_a)
    if rating_a > highest_a * (1 + NOISE):
        of = "For" if size else "Even for"
        return LabelDoubt(
            Verdict.OVER,
            f"Do not believe a continuous rating of {claimed} A. {of} {_named(best, capacity_ah)}, no rating above "
            f"{at_least(highest_a)} A is believable, and most cells are rated far lower.",
            _NOT_BELIEVABLE,
        )
    return LabelDoubt(
        Verdict.LITTLE,
        f"Check a continuous rating of {claimed} A before you use it. For {_named(known, capacity_ah)}, a rating "
        f"above {at_least(bounds.usual_a)} A is doubtful, and one above {at_least(bounds.highest_a)} A is not "
        "believable.",
        f"{_NOT_BELIEVABLE} for the size {known}"
        if rating_a > bounds.highest_a * (1 + NOISE)
        else _DOUBTFUL,
    )


def _named(size: str, capacity_ah: float | None) -> str:
    return f"the size {size}" + ("" if capacity_ah is None else f" with {given(capacity_ah)} Ah")


@lru_cache(maxsize=1024)
def _bounds(size: str, capacity_ah: float | None, chemistry: Chemistry) -> _Bounds:
    """Return the bounds of a size, at the capacity that is best for each if none is given."""
    if capacity_ah is not None:
        return _at(size, capacity_ah, chemistry)
    return _Bounds(*(_best(size, chemistry, i) for i in range(len(_Bounds._fields))))


def _best(size: str, chemistry: Chemistry, which: int) -> float:
    """Return a bound at its best capacity: it rises with the capacity, and then falls as the heat decides."""
    low, high = _LOWEST_AH, figures(_label(size, 1.0, chemistry)).highest_capacity_ah
    for _ in range(_STEPS):
        third = (high - low) / 3
        at_low, at_high = (_at(size, ah, chemistry)[which] for ah in (low + third, high - third))
        low, high = (low + third, high) if at_low < at_high else (low, high - third)
    return _at(size, (low + high) / 2, chemistry)[which]


def _at(size: str, capacity_ah: float, chemistry: Chemistry) -> _Bounds:
    got = figures(_label(size, capacity_ah, chemistry))
    return _Bounds(got.usual_rating_a, got.highest_rating_a)


def _label(size: str, capacity_ah: float, chemistry: Chemistry) -> LabelCheck:
    return LabelCheck(
        cell_size=CellSize(size),
        cell_rating_a=1.0,
        cell_capacity_ah=capacity_ah,
        chemistry=chemistry,
    )
