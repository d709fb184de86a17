"""What is the highest power a converter may deliver with each cell within its rating?"""

from typing import Annotated

from msgspec import Struct

from percell.physics import converter
from percell.physics import pack as packs
from percell.physics.meter import rounded_down
from percell.physics.types import Number
from percell.questions.answering import steps
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import NO_HEADROOM, Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import shared_findings
from percell.questions.cell.label_doubt import doubting
from percell.questions.loads import rules
from percell.questions.loads.converter_load import (
    OTHER_LIMITS,
    Corner,
    FullPackPowerRatio,
    Rated,
    assumed,
    corner,
    emptying_pack,
    full_pack_power_ratio,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Wiring, wiring
from percell.questions.vocabulary.limits import Held
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import Feeds
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import given, shown


class HighestPower(Rated, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack behind a converter."""


class HighestPowerFigures(Struct, frozen=True, gc=False):
    """Highest power, and voltage and current at that power."""

    highest_power_w: Annotated[
        float, figure("W", "Highest output power, with the chosen sharing. 0 if no power is left.")
    ]
    pack_current_limit_a: Annotated[
        float, figure("A", "Pack current at which the worst-case cell is at its rating.")
    ]
    pack_current_a: Annotated[
        float,
        figure("A", "Pack current at the highest power. It is at most `pack_current_limit_a`."),
    ]
    pack_lowest_voltage_v: Annotated[
        float, figure("V", "Lowest pack voltage: the cut-off minus its tolerance.")
    ]
    input_power_w: Annotated[
        float, figure("W", "Power that the converter draws at the highest power.")
    ]
    full_pack_power_ratio: FullPackPowerRatio


def figures(asked: HighestPower) -> HighestPowerFigures:
    """Calculate the figures of one question, or of a whole table."""
    wired = wiring(asked.layout)
    return figures_at(asked, wired, corner(asked, wired))


def figures_at(asked: Rated, wired: Wiring, at: Corner) -> HighestPowerFigures:
    """Calculate the same for a caller that already has the corner."""
    pack_a, input_w, output_w = _limit(asked, at, at.counted)
    return HighestPowerFigures(
        highest_power_w=output_w,
        pack_current_limit_a=pack_a,
        pack_current_a=converter.current_from_rest_a(
            input_power_w=input_w, source_voltage_v=at.pack_v, source_resistance_ohm=at.pack_ohm
        ),
        pack_lowest_voltage_v=at.pack_v,
        input_power_w=input_w,
        full_pack_power_ratio=full_pack_power_ratio(asked, wired, at, input_w),
    )


def _limit(asked: Rated, at: Corner, counted: Number) -> tuple[Number, Number, Number]:
    pack_a = packs.group_rating_a(cell_rating_a=asked.cell_rating_a, counted=counted)
    input_w = converter.power_from_rest_w(
        current_a=pack_a, source_voltage_v=at.pack_v, source_resistance_ohm=at.pack_ohm
    )
    return (
        pack_a,
        input_w,
        converter.output_power_w(
            input_power_w=input_w, efficiency=at.efficiency, idle_power_w=asked.idle_power_w
        ),
    )


def working_of(
    asked: Rated, wired: Wiring, at: Corner, got: HighestPowerFigures
) -> list[WorkingStep]:
    """Return the working of one pack."""
    return [
        *steps.counted_cells(asked.sharing, wired, Feeds.CONVERTER, counted=at.counted),
        WorkingStep(
            "Pack current at which the worst-case cell is at its rating",
            "I = n · I_r, n cells counted",
            f"{at.counted:.4g} × {asked.cell_rating_a:.4g} A",
            got.pack_current_limit_a,
            "A",
        ),
        WorkingStep(
            "Lowest pack voltage",
            "U = S · u",
            f"{wired.series} × {at.cell_v:.4g} V",
            got.pack_lowest_voltage_v,
            "V",
        ),
        WorkingStep(
            "Highest input power within that current",
            "P_in = U·I − R·I², at most U²/4R",
            f"{at.pack_v:.4g} V × {got.pack_current_limit_a:.4g} A, R = {at.pack_ohm:.4g} Ω",
            got.input_power_w,
            "W",
        ),
        WorkingStep(
            "Highest output power",
            "P = (P_in − P_idle) · η, not below 0",
            f"({got.input_power_w:.4g} − {asked.idle_power_w:.4g}) W × {at.efficiency:.4g}",
            got.highest_power_w,
            "W",
        ),
    ]


def nothing_left(asked: Rated, got: HighestPowerFigures) -> list[Finding]:
    """Return the finding if the converter itself needs all the power that the pack may give."""
    if got.highest_power_w > 0:
        return []
    return [
        finding(
            rules.NO_POWER_LEFT,
            (
                f"The converter uses {given(asked.idle_power_w)} W itself, and the pack gives no more than "
                f"{shown(got.input_power_w)} W within the cells' rating."
            ),
        )
    ]


def _sharing(asked: HighestPower, wired: Wiring, at: Corner) -> list[Finding]:
    def limit(counted: Number) -> str:
        output_w = float(_limit(asked, at, counted)[2])
        return f"{given(rounded_down(value=output_w, step=0.1))} W or less"

    says = f"For {wired.parallel} cells in parallel the converter must be set to"
    return shared_findings(asked.sharing, wired.parallel, Feeds.CONVERTER, says, limit)


def _other_limits(asked: Rated, wired: Wiring, at: Corner, got: HighestPowerFigures) -> Held:
    """Hold the pack at the highest power against the limits besides the rating."""
    return emptying_pack(
        asked,
        wired,
        at,
        input_power_w=got.input_power_w,
        at_ratio=lambda ratio: (
            f"set it to {given(rounded_down(value=got.highest_power_w / ratio, step=0.1))} W at most"
        ),
        at_usual=lambda usual: _less_at(asked, wired, usual),
    )


def _less_at(asked: Rated, wired: Wiring, usual: Corner) -> str:
    """Return the highest power at the corner of a usual device."""
    watts = figures_at(asked, wired, usual).highest_power_w
    return f"set it to {given(rounded_down(value=watts, step=0.1))} W at most"


def explain(asked: HighestPower) -> Explained[HighestPowerFigures]:
    """Answer for one pack."""
    wired = wiring(asked.layout)
    at = corner(asked, wired)
    got = figures_at(asked, wired, at)
    findings = nothing_left(asked, got) or _sharing(asked, wired, at)
    held = _other_limits(asked, wired, at, got)
    return Explained(
        figures=got,
        working=working_of(asked, wired, at, got),
        limits=held.limits,
        findings=findings + held.findings,
        leads=_leads(got, held),
    )


def _leads(got: HighestPowerFigures, held: Held) -> str:
    """Return the figure, and not as one to set where it exceeds another limit."""
    if any(one.verdict is Verdict.OVER for one in held.limits):
        most = HEADLINE.text(got.highest_power_w)
        return f"do not set {most}, the most that the rating alone would allow"
    return HEADLINE.leads(got.highest_power_w)


HEADLINE = Headline(
    field="highest_power_w",
    says="Set at most",
    unit="W",
    decimals=1,
    round=Rounding.DOWN,
    adds=NO_HEADROOM,
)
QUESTION = Question(
    id="highest-power",
    subject=Subject.LIMITS,
    title="Highest power within rating",
    description=(
        "Highest output power of a converter at which each cell stays within its rating down to the "
        "cut-off voltage."
    ),
    asked=HighestPower,
    shows=HighestPowerFigures,
    # those at the highest power; the rating is what was asked for
    limits=OTHER_LIMITS,
    explain=doubting(explain, LimitName.AVAILABLE_POWER),
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=fields.SAG,
    headline=HEADLINE,
    example={"layout": "2S1P", "cell_rating_a": 20, "cell_cutoff_voltage_v": 3.2},
)
