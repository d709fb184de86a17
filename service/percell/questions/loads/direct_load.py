"""What does each cell carry when a coil is wired straight to the pack?"""

from typing import Annotated

import numpy as np
from msgspec import UNSET, Struct, UnsetType, structs

from percell.physics import direct, meter
from percell.physics import pack as packs
from percell.physics.errors import NoSolution
from percell.physics.types import Number, as_given, certain
from percell.questions.answering import rules as shared_rules
from percell.questions.answering import steps
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import against_rating
from percell.questions.answering.voltage_findings import (
    charged_below_chemistry,
    charged_voltage,
    touch_voltage,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Layout, Wiring, wiring
from percell.questions.vocabulary.limits import Bound, Held, judged, together
from percell.questions.vocabulary.rules import LimitName, finding
from percell.questions.vocabulary.sharing import Feeds, Sharing, SharingField, counted_cells
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import shown


class FullPack(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A full pack, as hard on its cells as it gets, and the meter that reads the coil."""

    layout: Layout
    cell_rating_a: fields.CellRatingA
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    cell_charged_voltage_tolerance_v: fields.CellChargedVoltageToleranceV = 0.0
    coil_resistance_tolerance_ohm: fields.CoilResistanceToleranceOhm = 0.0
    meter_accuracy: fields.MeterAccuracy = 0.0
    meter_counts: fields.MeterCounts = 0.0
    meter_resolution_ohm: fields.MeterResolutionOhm = fields.METER_RESOLUTION_OHM
    lead_resistance_ohm: fields.LeadResistanceOhm = 0.0
    cell_resistance_ohm: fields.CellResistanceOhm = fields.CELL_RESISTANCE_OHM
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    sharing: SharingField = Sharing.CAREFUL


class DirectLoad(FullPack, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A coil wired straight to a full pack."""

    coil_resistance_ohm: fields.CoilResistanceOhm
    device_resistance_ohm: fields.DeviceResistanceOhm = 0.0


class DirectLoadFigures(Struct, frozen=True, gc=False):
    """Currents and power: at the corner that is hardest on the cells, and with the pack's sag."""

    pack_highest_voltage_v: Annotated[
        float, figure("V", "Highest voltage of the pack, without sag.")
    ]
    lowest_true_resistance_ohm: Annotated[
        float, figure("Ω", "The lowest resistance that the reading may stand for.")
    ]
    pack_current_a: Annotated[
        float, figure("A", "Highest current out of the pack: charged, no sag, lowest resistance.")
    ]
    coil_power_w: Annotated[float, figure("W", "Power in the coil at the highest current.")]
    pack_resistance_ohm: Annotated[float, figure("Ω", "Internal resistance with the contacts.")]
    even_cell_current_a: Annotated[float, figure("A", "Current of each cell if shared evenly.")]
    worst_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell, by the chosen sharing.")
    ]
    headroom: Annotated[
        float, figure("1", "What is left of the rating; negative when it is passed.")
    ]
    sagging_pack_current_a: Annotated[
        float, figure("A", "Current to expect when charged, with sag and the coil as read.")
    ]
    sagging_pack_voltage_v: Annotated[float, figure("V", "Pack voltage with sag.")]
    sagging_coil_power_w: Annotated[float, figure("W", "Power in the coil with sag.")]


def charged_voltage_v(asked: FullPack) -> Number:
    """Return the highest voltage that one cell may have."""
    given = asked.cell_charged_voltage_v
    charged_v = VOLTAGES[asked.chemistry].charged_v if given is UNSET else given
    return charged_v + asked.cell_charged_voltage_tolerance_v


def pack_resistance_ohm(asked: FullPack, wired: Wiring) -> Number:
    """Return the internal resistance of the pack with its contacts."""
    return packs.pack_resistance_ohm(
        cell_resistance_ohm=asked.cell_resistance_ohm,
        contact_resistance_ohm=asked.contact_resistance_ohm,
        series=wired.series,
        parallel=wired.parallel,
    )


def figures(asked: DirectLoad) -> DirectLoadFigures:
    """Calculate the figures of one question, or of a whole table."""
    wired = wiring(asked.layout)
    pack_v = packs.pack_voltage_v(cell_voltage_v=charged_voltage_v(asked), series=wired.series)
    lowest_ohm = meter.least_resistance_ohm(
        reading_ohm=asked.coil_resistance_ohm,
        tolerance_ohm=asked.coil_resistance_tolerance_ohm,
        accuracy=asked.meter_accuracy,
        counts=asked.meter_counts,
        resolution_ohm=asked.meter_resolution_ohm,
        lead_resistance_ohm=asked.lead_resistance_ohm,
    )
    too_low = lowest_ohm < LEAST_OHM
    if certain(too_low):
        raise NoSolution(
            "reading_within_error",
            "The errors of the reading are as large as the reading: the coil may be a short circuit.",
            coil_resistance_ohm=asked.coil_resistance_ohm,
            lowest_true_resistance_ohm=lowest_ohm,
        )
    if np.ndim(too_low):
        lowest_ohm = as_given(np.where(too_low, np.nan, lowest_ohm), lowest_ohm)
    pack_a = direct.load_current_a(
        source_voltage_v=pack_v, source_resistance_ohm=0.0, load_resistance_ohm=lowest_ohm
    )
    worst_cell_a = pack_a / counted_cells(asked.sharing, wired.parallel)
    coil_ohm = asked.coil_resistance_ohm - asked.lead_resistance_ohm
    inner_ohm = pack_resistance_ohm(asked, wired)
    sagging_a = direct.load_current_a(
        source_voltage_v=pack_v,
        source_resistance_ohm=inner_ohm + asked.device_resistance_ohm,
        load_resistance_ohm=coil_ohm,
    )
    return DirectLoadFigures(
        pack_highest_voltage_v=pack_v,
        lowest_true_resistance_ohm=lowest_ohm,
        pack_current_a=pack_a,
        coil_power_w=direct.load_power_w(current_a=pack_a, load_resistance_ohm=lowest_ohm),
        pack_resistance_ohm=inner_ohm,
        even_cell_current_a=pack_a / wired.parallel,
        worst_cell_current_a=worst_cell_a,
        headroom=1 - worst_cell_a / asked.cell_rating_a,
        sagging_pack_current_a=sagging_a,
        sagging_pack_voltage_v=pack_v - sagging_a * inner_ohm,
        sagging_coil_power_w=direct.load_power_w(current_a=sagging_a, load_resistance_ohm=coil_ohm),
    )


def full_pack(asked: FullPack, wired: Wiring, *, lowest_ohm: float, inner_ohm: float) -> Held:
    """Hold a full pack under a coil against the limits besides the rating."""
    charged = charged_voltage(
        asked.chemistry, asked.cell_charged_voltage_v, asked.cell_charged_voltage_tolerance_v
    )
    return together(
        _available_power(lowest_ohm, inner_ohm),
        charged,
        Held([], charged_below_chemistry(asked.chemistry, asked.cell_charged_voltage_v)),
        Held([], touch_voltage(wired.series * charged_voltage_v(asked))),
    )


def _available_power(lowest_ohm: float, inner_ohm: float) -> Held:
    """Hold a coil against the pack's resistance: a lower one gets less power, at a higher current."""
    limit = judged(
        LimitName.AVAILABLE_POWER, lowest_ohm, inner_ohm, "Ω", bound=Bound.AT_LEAST, near=False
    )
    if lowest_ohm > inner_ohm:
        return Held([limit], [])
    return Held(
        [structs.replace(limit, verdict=Verdict.OVER)],
        [
            finding(
                shared_rules.SHORT_CIRCUIT,
                f"The coil may be as low as {shown(lowest_ohm)} Ω, which is no more than the "
                f"{shown(inner_ohm)} Ω of the pack itself: at least half of the power would heat the cells.",
            )
        ],
    )


# below this a reading means nothing, and the current would have no bound
LEAST_OHM = 0.0005


def explain(asked: DirectLoad) -> Explained[DirectLoadFigures]:
    """Answer for one coil."""
    wired = wiring(asked.layout)
    got = figures(asked)
    held = together(
        against_rating(
            worst_cell_a=got.worst_cell_current_a,
            rating_a=asked.cell_rating_a,
            sharing=asked.sharing,
            parallel=wired.parallel,
            pack_a=got.pack_current_a,
            feeds=Feeds.COIL,
        ),
        full_pack(
            asked,
            wired,
            lowest_ohm=got.lowest_true_resistance_ohm,
            inner_ohm=got.pack_resistance_ohm,
        ),
    )
    return Explained(
        figures=got,
        working=_working(asked, wired, got),
        limits=held.limits,
        findings=held.findings,
    )


def _working(asked: DirectLoad, wired: Wiring, got: DirectLoadFigures) -> list[WorkingStep]:
    pack_v, inner_ohm = got.pack_highest_voltage_v, got.pack_resistance_ohm
    lowest_ohm, pack_a = got.lowest_true_resistance_ohm, got.pack_current_a
    return [
        WorkingStep(
            "Highest pack voltage: charged, no sag",
            "U = S · u",
            f"{wired.series} × {charged_voltage_v(asked):.4g} V",
            pack_v,
            "V",
        ),
        WorkingStep(
            "Lowest resistance the reading may stand for",
            "R_min = R·(1 − a) − n·d − R_leads − t",
            f"{asked.coil_resistance_ohm:.4g} Ω × (1 − {asked.meter_accuracy:.4g}) − "
            f"{asked.meter_counts:.4g} × {asked.meter_resolution_ohm:.4g} Ω − "
            f"{asked.lead_resistance_ohm:.4g} Ω − {asked.coil_resistance_tolerance_ohm:.4g} Ω",
            lowest_ohm,
            "Ω",
        ),
        WorkingStep(
            "Highest current out of the pack",
            "I = U / R_min",
            f"{pack_v:.4g} V / {lowest_ohm:.4g} Ω",
            pack_a,
            "A",
        ),
        WorkingStep(
            "Power in the coil at that current",
            "P = I² · R_min",
            f"({pack_a:.4g} A)² × {lowest_ohm:.4g} Ω",
            got.coil_power_w,
            "W",
        ),
        *steps.worst_cell(
            asked.sharing,
            wired,
            Feeds.COIL,
            counted=counted_cells(asked.sharing, wired.parallel),
            pack_a=pack_a,
            worst_cell_a=got.worst_cell_current_a,
        ),
        steps.headroom(worst_cell_a=got.worst_cell_current_a, rating_a=asked.cell_rating_a),
        WorkingStep(
            "Current to expect, with sag",
            "I = U / (R_coil + S·(r + r_contact)/P + R_device)",
            f"{pack_v:.4g} V / ({asked.coil_resistance_ohm - asked.lead_resistance_ohm:.4g} + "
            f"{inner_ohm:.4g} + {asked.device_resistance_ohm:.4g}) Ω",
            got.sagging_pack_current_a,
            "A",
        ),
    ]


LIMITS = (LimitName.CONTINUOUS_RATING, LimitName.AVAILABLE_POWER, LimitName.CHARGED_VOLTAGE)

QUESTION = Question(
    id="direct-load",
    subject=Subject.LOADS,
    title="Current of each cell with a coil straight on the pack",
    description="A coil wired straight to a full pack: currents, power and headroom at the corner that is "
    "hardest on the cells, and the current to expect with sag.",
    asked=DirectLoad,
    shows=DirectLoadFigures,
    limits=LIMITS,
    explain=explain,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=fields.SAG | {"device_resistance_ohm", "meter_resolution_ohm"},
    headline=Headline(
        field="worst_cell_current_a",
        says="The worst-case cell carries up to",
        unit="A",
        decimals=1,
        round=Rounding.UP,
    ),
    example={"layout": "1S2P", "cell_rating_a": 20, "coil_resistance_ohm": 0.15},
)
