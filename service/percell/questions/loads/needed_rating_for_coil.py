"""Which continuous rating must each cell have for a given coil?"""

from typing import Annotated

from msgspec import Struct

from percell.physics.meter import rounded_up
from percell.physics.types import Number
from percell.questions.answering.headline import NO_HEADROOM, Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import shared_findings
from percell.questions.loads.direct_load import (
    CoilOnPack,
    assumed,
    corner,
    corner_steps,
    full_pack,
    pack_resistance_ohm,
)
from percell.questions.loads.rating_to_be_had import rating_to_be_had
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Wiring, wiring
from percell.questions.vocabulary.rules import Finding, LimitName
from percell.questions.vocabulary.sharing import Feeds
from percell.questions.vocabulary.wording import given


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


def _sharing(
    asked: NeededRatingForCoil, wired: Wiring, got: NeededRatingForCoilFigures
) -> list[Finding]:
    def limit(counted: Number) -> str:
        rating_a = rounded_up(value=float(got.pack_current_a / counted), step=0.1)
        return f"{given(rating_a)} A or more"

    says = f"For {wired.parallel} cells in parallel the rating must be"
    return shared_findings(asked.sharing, wired.parallel, Feeds.COIL, says, limit)


def explain(asked: NeededRatingForCoil) -> Explained[NeededRatingForCoilFigures]:
    """Answer for one coil."""
    wired, got = wiring(asked.layout), figures(asked)
    held = full_pack(
        asked,
        wired,
        lowest_ohm=got.lowest_true_resistance_ohm,
        inner_ohm=pack_resistance_ohm(asked, wired),
        at_ratio=lambda ratio: (
            f"each cell needs a rating of {given(rounded_up(value=got.needed_rating_a * ratio, step=0.1))} A "
            "or more"
        ),
    )
    return Explained(
        figures=got,
        working=corner_steps(asked, wired, corner(asked, wired)),
        limits=held.limits,
        findings=[
            *_sharing(asked, wired, got),
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
    headline=Headline(
        field="needed_rating_a",
        says="Each cell needs a continuous rating of at least",
        unit="A",
        decimals=1,
        round=Rounding.UP,
        adds=NO_HEADROOM,
    ),
    example={"layout": "1S1P", "coil_reading_ohm": 0.35},
)
