"""Which continuous rating must each cell have for a given power?"""

from typing import Annotated

from msgspec import Struct

from percell.questions.answering import steps
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.loads.converter_load import (
    OTHER_LIMITS,
    Corner,
    Emptying,
    FullPackPowerRatio,
    assumed,
    corner,
    draw,
    draw_steps,
    emptying_pack,
    full_pack_power_ratio,
)
from percell.questions.loads.needed_ratings import HEADLINE, by_sharing, or_more, rating_to_be_had
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Wiring, wiring
from percell.questions.vocabulary.sharing import Feeds


class NeededRating(Emptying, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Output power of a converter."""

    output_power_w: fields.OutputPowerW
    output_power_tolerance_w: fields.OutputPowerToleranceW = 0.0


class NeededRatingFigures(Struct, frozen=True, gc=False):
    """Rating that each cell needs, and the currents behind it."""

    needed_rating_a: Annotated[
        float, figure("A", "Continuous rating that each cell needs, with the chosen sharing.")
    ]
    pack_current_a: Annotated[float, figure("A", "Highest current out of the pack.")]
    pack_lowest_voltage_v: Annotated[
        float, figure("V", "Lowest pack voltage: the cut-off minus its tolerance.")
    ]
    input_power_w: Annotated[float, figure("W", "Highest power that the converter draws.")]
    full_pack_power_ratio: FullPackPowerRatio


def figures(asked: NeededRating) -> NeededRatingFigures:
    """Calculate the figures of one question, or of a whole table."""
    wired = wiring(asked.layout)
    return _figures_at(asked, wired, corner(asked, wired))


def _figures_at(asked: NeededRating, wired: Wiring, at: Corner) -> NeededRatingFigures:
    drawn = draw(asked, at, output_power_w=asked.output_power_w + asked.output_power_tolerance_w)
    return NeededRatingFigures(
        needed_rating_a=drawn.pack_a / at.counted,
        pack_current_a=drawn.pack_a,
        pack_lowest_voltage_v=at.pack_v,
        input_power_w=drawn.input_w,
        full_pack_power_ratio=full_pack_power_ratio(asked, wired, at, drawn.input_w),
    )


def explain(asked: NeededRating) -> Explained[NeededRatingFigures]:
    """Answer for one power."""
    wired = wiring(asked.layout)
    at = corner(asked, wired)
    got = _figures_at(asked, wired, at)
    working = [
        *draw_steps(
            asked,
            wired,
            at,
            output_power_w=asked.output_power_w + asked.output_power_tolerance_w,
            input_power_w=got.input_power_w,
            pack_a=got.pack_current_a,
        ),
        *steps.worst_cell(
            asked.sharing,
            wired,
            Feeds.CONVERTER,
            counted=at.counted,
            pack_a=got.pack_current_a,
            worst_cell_a=got.needed_rating_a,
        ),
    ]
    held = emptying_pack(
        asked,
        wired,
        at,
        input_power_w=got.input_power_w,
        at_ratio=lambda ratio: f"each cell needs {or_more(got.needed_rating_a * ratio)}",
        at_usual=lambda usual: (
            f"each cell needs {or_more(_figures_at(asked, wired, usual).needed_rating_a)}"
        ),
    )
    return Explained(
        figures=got,
        working=working,
        limits=held.limits,
        findings=[
            *by_sharing(asked.sharing, wired.parallel, Feeds.CONVERTER, got.pack_current_a),
            *held.findings,
            *rating_to_be_had(got.needed_rating_a, asked.chemistry),
        ],
    )


QUESTION = Question(
    id="needed-rating",
    subject=Subject.LIMITS,
    title="Rating needed for a power",
    description="Continuous discharge rating that each cell needs for a given output power of a converter.",
    asked=NeededRating,
    shows=NeededRatingFigures,
    # the rating is what was asked for
    limits=OTHER_LIMITS,
    explain=explain,
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=fields.SAG,
    headline=HEADLINE,
    example={"layout": "1S2P", "output_power_w": 100, "cell_cutoff_voltage_v": 3.2},
)
