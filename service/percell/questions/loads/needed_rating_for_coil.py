"""Which continuous rating must each cell have for a given coil?"""

from typing import Annotated

from msgspec import Struct

from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.loads.direct_load import (
    CoilOnPack,
    assumed,
    corner,
    corner_steps,
    full_pack,
    pack_resistance_ohm,
)
from percell.questions.loads.needed_ratings import HEADLINE, by_sharing, or_more, rating_to_be_had
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.rules import LimitName
from percell.questions.vocabulary.sharing import Feeds


class NeededRatingForCoil(CoilOnPack, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A coil on a full pack."""


class NeededRatingForCoilFigures(Struct, frozen=True, gc=False):
    """Rating that each cell needs for the coil, and the currents behind it."""

    needed_rating_a: Annotated[
        float, figure("A", "Continuous rating that each cell needs, with the chosen sharing.")
    ]
    pack_current_a: Annotated[
        float,
        figure(
            "A",
            "Highest current out of the pack: full, without sag, with the coil's lowest resistance.",
        ),
    ]
    pack_highest_voltage_v: Annotated[
        float, figure("V", "Highest voltage of the pack, without sag.")
    ]
    lowest_true_resistance_ohm: Annotated[
        float, figure("Ω", "Lowest true resistance consistent with what was given.")
    ]


def figures(asked: NeededRatingForCoil) -> NeededRatingForCoilFigures:
    """Calculate the figures of one question, or of a whole table."""
    at = corner(asked, wiring(asked.layout))
    return NeededRatingForCoilFigures(
        needed_rating_a=at.worst_cell_a,
        pack_current_a=at.pack_a,
        pack_highest_voltage_v=at.pack_v,
        lowest_true_resistance_ohm=at.lowest_ohm,
    )


def explain(asked: NeededRatingForCoil) -> Explained[NeededRatingForCoilFigures]:
    """Answer for one coil."""
    wired, got = wiring(asked.layout), figures(asked)
    held = full_pack(
        asked,
        wired,
        lowest_ohm=got.lowest_true_resistance_ohm,
        inner_ohm=pack_resistance_ohm(asked, wired),
        at_ratio=lambda ratio: (
            f"each cell needs a rating of {or_more(got.needed_rating_a * ratio)}"
        ),
    )
    return Explained(
        figures=got,
        working=corner_steps(asked, wired, corner(asked, wired)),
        limits=held.limits,
        findings=[
            *by_sharing(asked.sharing, wired.parallel, Feeds.COIL, got.pack_current_a),
            *held.findings,
            *rating_to_be_had(got.needed_rating_a, asked.chemistry),
        ],
    )


QUESTION = Question(
    id="needed-rating-for-coil",
    subject=Subject.LIMITS,
    title="Rating needed for a coil",
    description="Continuous discharge rating that each cell of a full pack needs for a coil wired straight to it.",
    asked=NeededRatingForCoil,
    shows=NeededRatingForCoilFigures,
    # the rating is what was asked for
    limits=(LimitName.AVAILABLE_POWER, LimitName.CHARGED_VOLTAGE),
    explain=explain,
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=fields.SAG,
    headline=HEADLINE,
    example={"layout": "1S1P", "coil_reading_ohm": 0.35},
)
