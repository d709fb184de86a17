"""What is the lowest coil resistance that keeps each cell within its rating?"""

from typing import Annotated, NamedTuple

from percell.physics import direct, meter
from percell.physics import pack as packs
from percell.physics.types import Number
from percell.questions import fields
from percell.questions.direct_load import Charged, charged_voltage_v
from percell.questions.envelope import Answer, Step, assumptions, links
from percell.questions.fields import figure
from percell.questions.judged import charged_above_chemistry
from percell.questions.layout import Wiring, wiring
from percell.questions.sharing import counted_cells


class LowestResistance(Charged, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A full pack, and the meter that will read the coil."""


class LowestResistanceAnswer(Answer, frozen=True):
    """The limit, and the reading to stay at or above."""

    layout: Annotated[str, fields.text("The layout, as read.")]
    lowest_resistance_ohm: Annotated[
        float, figure("ohm", "The coil's true resistance must not be below this.")
    ]
    lowest_reading_ohm: Annotated[
        float,
        figure(
            "ohm",
            "The meter must show at least this: its errors are allowed for, rounded up to its last digit.",
        ),
    ]
    pack_charged_voltage_v: Annotated[
        float, figure("V", "Highest voltage of the pack, without sag.")
    ]
    group_rating_a: Annotated[
        float, figure("A", "Current at which the hardest-worked cell is at its rating.")
    ]
    coil_power_w: Annotated[float, figure("W", "Power in a coil of that lowest resistance.")]


class Figures(NamedTuple):
    """The numbers, as floats or as arrays of a grid."""

    lowest_resistance_ohm: Number
    pack_charged_voltage_v: Number
    group_rating_a: Number
    coil_power_w: Number


def figures(asked: LowestResistance, wired: Wiring) -> Figures:
    """Work out the numbers of one question, or of a whole grid of them."""
    pack_v = packs.pack_voltage_v(cell_voltage_v=charged_voltage_v(asked), series=wired.series)
    group_a = packs.group_rating_a(
        cell_rating_a=asked.cell_rating_a, counted=counted_cells(asked.sharing, wired.parallel)
    )
    lowest_ohm = direct.lowest_resistance_ohm(source_voltage_v=pack_v, current_a=group_a)
    return Figures(
        lowest_resistance_ohm=lowest_ohm,
        pack_charged_voltage_v=pack_v,
        group_rating_a=group_a,
        coil_power_w=direct.load_power_w(current_a=group_a, load_resistance_ohm=lowest_ohm),
    )


def answer(asked: LowestResistance) -> LowestResistanceAnswer:
    """Answer for one pack and meter."""
    wired = wiring(asked.layout)
    got = figures(asked, wired)
    reading_ohm = meter.rounded_up(
        value=meter.least_reading_ohm(
            resistance_ohm=got.lowest_resistance_ohm,
            tolerance_ohm=asked.coil_resistance_tolerance_ohm,
            accuracy=asked.meter_accuracy,
            counts=asked.meter_counts,
            resolution_ohm=asked.meter_resolution_ohm,
            lead_resistance_ohm=asked.lead_resistance_ohm,
        ),
        step=asked.meter_resolution_ohm,
    )
    counted = counted_cells(asked.sharing, wired.parallel)
    return LowestResistanceAnswer(
        layout=wired.text,
        lowest_reading_ohm=reading_ohm,
        **got._asdict(),
        working=[
            Step(
                "Highest pack voltage: charged, no sag",
                "U = S · u",
                f"{wired.series} × {charged_voltage_v(asked):.4g} V",
                got.pack_charged_voltage_v,
                "V",
            ),
            Step(
                "Current at which the hardest-worked cell is at its rating",
                "I = n · I_r, n cells counted",
                f"{counted:.4g} × {asked.cell_rating_a:.4g} A",
                got.group_rating_a,
                "A",
            ),
            Step(
                "Lowest resistance",
                "R = U / I",
                f"{got.pack_charged_voltage_v:.4g} V / {got.group_rating_a:.4g} A",
                got.lowest_resistance_ohm,
                "ohm",
            ),
            Step(
                "Reading to stay at or above, rounded up to the meter's last digit",
                "(R + t + R_leads + n·d) / (1 − a)",
                f"({got.lowest_resistance_ohm:.4g} + {asked.coil_resistance_tolerance_ohm:.4g} + "
                f"{asked.lead_resistance_ohm:.4g} + {asked.meter_counts:.4g} × "
                f"{asked.meter_resolution_ohm:.4g}) Ω / (1 − {asked.meter_accuracy:.4g})",
                reading_ohm,
                "ohm",
            ),
        ],
        assumptions=assumptions(asked),
        findings=charged_above_chemistry(asked.chemistry, asked.cell_charged_voltage_v),
        links=links("lowest-resistance", asked),
    )
