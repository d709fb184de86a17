"""What is the lowest coil resistance that keeps each cell within its rating?"""

from typing import Annotated

import numpy as np
from msgspec import Struct

from percell.physics import direct, meter
from percell.physics import pack as packs
from percell.physics.types import Number, as_given, is_array
from percell.questions.answering import steps
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import NO_HEADROOM, Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import shared_findings
from percell.questions.cell.label_doubt import doubting
from percell.questions.loads import coil
from percell.questions.loads.direct_load import (
    FullPack,
    charged_voltage_v,
    full_pack,
    pack_resistance_ohm,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Wiring, wiring
from percell.questions.vocabulary.limits import Held
from percell.questions.vocabulary.rules import Finding, LimitName
from percell.questions.vocabulary.sharing import Feeds, counted_cells
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import given, on_display


class LowestResistance(FullPack, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A full pack, and the meter that reads the coil."""

    cell_rating_a: fields.CellRatingA


class LowestResistanceFigures(Struct, frozen=True, gc=False):
    """Lowest coil resistance, and the lowest reading that guarantees it."""

    lowest_resistance_ohm: Annotated[
        float, figure("Ω", "Lowest true resistance that the coil may have.")
    ]
    lowest_reading_ohm: Annotated[
        float,
        figure(
            "Ω",
            (
                "Lowest reading that guarantees this resistance. It allows for the meter's errors and is rounded "
                "up to its last digit."
            ),
        ),
    ]
    pack_highest_voltage_v: Annotated[
        float, figure("V", "Highest voltage of the pack, without sag.")
    ]
    pack_current_limit_a: Annotated[
        float, figure("A", "Pack current at which the worst-case cell is at its rating.")
    ]
    coil_power_w: Annotated[float, figure("W", "Power in a coil of the lowest resistance.")]


def figures(asked: LowestResistance) -> LowestResistanceFigures:
    """Calculate the figures of one question, or of a whole table."""
    wired = wiring(asked.layout)
    pack_v = packs.pack_voltage_v(cell_voltage_v=charged_voltage_v(asked), series=wired.series)
    group_a = packs.group_rating_a(
        cell_rating_a=asked.cell_rating_a, counted=counted_cells(asked.sharing, wired.parallel)
    )
    lowest_ohm = direct.lowest_resistance_ohm(source_voltage_v=pack_v, current_a=group_a)
    return LowestResistanceFigures(
        lowest_resistance_ohm=lowest_ohm,
        lowest_reading_ohm=_reading_ohm(asked, lowest_ohm),
        pack_highest_voltage_v=pack_v,
        pack_current_limit_a=group_a,
        coil_power_w=direct.load_power_w(current_a=group_a, load_resistance_ohm=lowest_ohm),
    )


def _reading_ohm(asked: LowestResistance, resistance_ohm: Number) -> Number:
    """Return the reading that guarantees a resistance, rounded up to the meter's last digit."""
    return _up_to_digit(
        meter.least_reading_ohm(resistance_ohm=resistance_ohm, **coil.meter_errors(asked)),
        asked.meter_resolution_ohm,
    )


def _up_to_digit(reading_ohm: Number, digit_ohm: Number) -> Number:
    """Return readings rounded up to the last digit of the meter."""
    if not is_array(reading_ohm) and not is_array(digit_ohm):
        return meter.rounded_up(value=reading_ohm, step=digit_ohm)
    readings, digits = np.broadcast_arrays(reading_ohm, digit_ohm)
    up = [
        meter.rounded_up(value=r, step=d) for r, d in zip(readings.flat, digits.flat, strict=True)
    ]
    return as_given(np.reshape(up, readings.shape), reading_ohm)


def working_of(
    asked: LowestResistance, wired: Wiring, got: LowestResistanceFigures
) -> list[WorkingStep]:
    """Return the working of one pack and meter."""
    counted = counted_cells(asked.sharing, wired.parallel)
    return [
        WorkingStep(
            "Highest pack voltage: full, without sag",
            "U = S · u",
            f"{wired.series} × {charged_voltage_v(asked):.4g} V",
            got.pack_highest_voltage_v,
            "V",
        ),
        *steps.counted_cells(asked.sharing, wired, Feeds.COIL, counted=counted),
        WorkingStep(
            "Pack current at which the worst-case cell is at its rating",
            "I = n · I_r, n cells counted",
            f"{counted:.4g} × {asked.cell_rating_a:.4g} A",
            got.pack_current_limit_a,
            "A",
        ),
        WorkingStep(
            "Lowest resistance",
            "R = U / I",
            f"{got.pack_highest_voltage_v:.4g} V / {got.pack_current_limit_a:.4g} A",
            got.lowest_resistance_ohm,
            "Ω",
        ),
        WorkingStep(
            "Lowest reading of the meter, rounded up to its last digit",
            "(R + t + R_leads + (n + ½)·d) / (1 − a)",
            f"({got.lowest_resistance_ohm:.4g} + {asked.coil_resistance_tolerance_ohm:.4g} + "
            f"{asked.lead_resistance_ohm:.4g} + ({asked.meter_counts:.4g} + ½) × "
            f"{asked.meter_resolution_ohm:.4g}) Ω / (1 − {asked.meter_accuracy:.4g})",
            got.lowest_reading_ohm,
            "Ω",
        ),
    ]


def _sharing(asked: LowestResistance, wired: Wiring, got: LowestResistanceFigures) -> list[Finding]:
    def limit(counted: Number) -> str:
        least_ohm = got.pack_highest_voltage_v / (counted * asked.cell_rating_a)
        return f"{given(_reading_ohm(asked, least_ohm))} Ω or more"

    says = f"For {wired.parallel} cells in parallel the meter must show"
    return shared_findings(asked.sharing, wired.parallel, Feeds.COIL, says, limit)


def explain(asked: LowestResistance) -> Explained[LowestResistanceFigures]:
    """Answer for one pack and meter."""
    wired, got = wiring(asked.layout), figures(asked)
    held = full_pack(
        asked,
        wired,
        lowest_ohm=got.lowest_resistance_ohm,
        inner_ohm=pack_resistance_ohm(asked, wired),
        at_ratio=lambda ratio: (
            f"the meter must show {given(_reading_ohm(asked, got.lowest_resistance_ohm * ratio))} Ω or more"
        ),
    )
    return Explained(
        figures=got,
        working=working_of(asked, wired, got),
        limits=held.limits,
        findings=_sharing(asked, wired, got) + held.findings,
        leads=_leads(asked, got, held),
    )


def _leads(asked: LowestResistance, got: LowestResistanceFigures, held: Held) -> str:
    """Return the figure, and not as one to use where it exceeds another limit."""
    least = f"{on_display(got.lowest_reading_ohm, asked.meter_resolution_ohm)} Ω"
    if any(one.verdict is Verdict.OVER for one in held.limits):
        return f"do not use a coil that reads {least}, the least that the rating alone would allow"
    return f"the meter must show at least {least}{NO_HEADROOM}"


QUESTION = Question(
    id="lowest-resistance",
    subject=Subject.LIMITS,
    title="Lowest coil resistance within rating",
    description=(
        "Lowest coil resistance at which each cell of a full pack stays within its rating, and the lowest "
        "meter reading that guarantees it."
    ),
    asked=LowestResistance,
    shows=LowestResistanceFigures,
    # those of the coil with that lowest resistance; the rating is what was asked for
    limits=(LimitName.AVAILABLE_POWER, LimitName.CHARGED_VOLTAGE),
    explain=doubting(explain, LimitName.AVAILABLE_POWER),
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=fields.SAG,
    headline=Headline(
        field="lowest_reading_ohm",
        says="The meter must show at least",
        unit="Ω",
        decimals=3,
        round=Rounding.UP,
    ),
    example={
        "layout": "1S2P",
        "cell_rating_a": 20,
        "meter_accuracy": 0.005,
        "meter_counts": 2,
    },
)
