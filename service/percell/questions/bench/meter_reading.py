"""Which meter reading guarantees that a coil has at least a given resistance?"""

from typing import Annotated

from msgspec import Struct

from percell.physics import meter
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure, quantity
from percell.questions.vocabulary.wording import given, listed, on_display, shown


class MeterReading(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The lowest resistance that a coil must have, and the meter that reads it."""

    lowest_resistance_ohm: Annotated[
        float, quantity("Ω", 0.001, 100, "Lowest true resistance that the coil may have.")
    ]
    meter_accuracy: fields.MeterAccuracy = fields.METER_ACCURACY
    meter_counts: fields.MeterCounts = fields.METER_COUNTS
    meter_resolution_ohm: fields.MeterResolutionOhm = fields.METER_RESOLUTION_OHM
    lead_resistance_ohm: fields.LeadResistanceOhm = 0.0


class MeterReadingFigures(Struct, frozen=True, gc=False):
    """The lowest reading, and the true resistance that it guarantees."""

    lowest_reading_ohm: Annotated[
        float, figure("Ω", "Lowest reading that the meter must show, rounded up to its last digit.")
    ]
    lowest_true_resistance_ohm: Annotated[
        float, figure("Ω", "Lowest true resistance consistent with this reading.")
    ]
    above_limit_ohm: Annotated[
        float,
        figure("Ω", "Difference between the reading and the limit, because of the meter's errors."),
    ]


def figures(asked: MeterReading) -> MeterReadingFigures:
    """Calculate the figures of one question, or of a whole table."""
    errors = {
        "tolerance_ohm": 0.0,
        "accuracy": asked.meter_accuracy,
        "counts": asked.meter_counts,
        "resolution_ohm": asked.meter_resolution_ohm,
        "lead_resistance_ohm": asked.lead_resistance_ohm,
    }
    limit_ohm = asked.lowest_resistance_ohm
    reading_ohm = meter.rounded_up(
        value=meter.least_reading_ohm(resistance_ohm=limit_ohm, **errors),
        step=asked.meter_resolution_ohm,
    )
    return MeterReadingFigures(
        lowest_reading_ohm=reading_ohm,
        lowest_true_resistance_ohm=meter.least_resistance_ohm(reading_ohm=reading_ohm, **errors),
        above_limit_ohm=reading_ohm - limit_ohm,
    )


def explain(asked: MeterReading) -> Explained[MeterReadingFigures]:
    """Answer for one limit and meter."""
    got = figures(asked)
    accuracy, counts = asked.meter_accuracy, asked.meter_counts
    step_ohm, leads_ohm = asked.meter_resolution_ohm, asked.lead_resistance_ohm
    working = [
        WorkingStep(
            "Lowest reading, rounded up to the meter's last digit",
            "(R + R_leads + (n + ½)·d) / (1 − a)",
            f"({asked.lowest_resistance_ohm:.4g} + {leads_ohm:.4g} + ({counts:.4g} + ½) × {step_ohm:.4g}) Ω / "
            f"(1 − {accuracy:.4g})",
            got.lowest_reading_ohm,
            "Ω",
        ),
        WorkingStep(
            "Lowest true resistance consistent with this reading",
            "R_min = R·(1 − a) − (n + ½)·d − R_leads",
            f"{got.lowest_reading_ohm:.4g} Ω × (1 − {accuracy:.4g}) − ({counts:.4g} + ½) × {step_ohm:.4g} Ω − "
            f"{leads_ohm:.4g} Ω",
            got.lowest_true_resistance_ohm,
            "Ω",
        ),
    ]
    return Explained(
        figures=got,
        working=working,
        findings=[],
        condition=_condition(asked),
        leads=f"the meter must show at least {on_display(got.lowest_reading_ohm, step_ohm)} Ω",
    )


def _condition(asked: MeterReading) -> str:
    """Return what the reading holds for: one limit, and one meter."""
    accuracy, counts = asked.meter_accuracy, asked.meter_counts
    meter = f"{shown(accuracy * 100)} % and {given(counts)} count{'' if counts == 1 else 's'} of {given(asked.meter_resolution_ohm)} Ω"
    ordinary = (accuracy, counts) == (fields.METER_ACCURACY, fields.METER_COUNTS)
    parts = [
        f"A coil of at least {given(asked.lowest_resistance_ohm)} Ω",
        f"an ordinary meter, assumed to be off by {meter}"
        if ordinary
        else f"a meter that may be off by {meter}",
    ]
    if asked.lead_resistance_ohm:
        parts.append(f"{given(asked.lead_resistance_ohm)} Ω in its leads")
    return listed(parts)


QUESTION = Question(
    id="meter-reading",
    subject=Subject.BENCH,
    title="Lowest meter reading for a lowest resistance",
    description="Lowest reading of an ohmmeter that guarantees a given resistance, with the accuracy that its "
    "manufacturer states.",
    asked=MeterReading,
    shows=MeterReadingFigures,
    explain=explain,
    figures=figures,
    table=OverTable.CELL_BY_CELL,
    headline=Headline(
        field="lowest_reading_ohm",
        says="The meter must show at least",
        unit="Ω",
        decimals=4,
        round=Rounding.UP,
    ),
    example={"lowest_resistance_ohm": 0.14, "meter_accuracy": 0.005, "meter_counts": 2},
)
