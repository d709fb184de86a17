"""What does each cell carry when a coil is wired straight to the pack?"""

from collections.abc import Callable
from typing import Annotated, ClassVar

from msgspec import UNSET, Struct, UnsetType

from percell.physics import direct
from percell.physics import pack as packs
from percell.physics.types import Number
from percell.questions.answering import rules as shared_rules
from percell.questions.answering import steps
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.cold_findings import cold_findings
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.power_findings import coil_power
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import against_rating, beside_rating, decided_by
from percell.questions.answering.voltage_findings import (
    charged_below_chemistry,
    charged_voltage,
    touch_voltage,
)
from percell.questions.cell.label_doubt import doubting
from percell.questions.loads import coil
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import WarmOrCold, lasting_ohm, temperature_c
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Layout, Wiring, wiring
from percell.questions.vocabulary.limits import Held, together
from percell.questions.vocabulary.presence import Presence
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import Feeds, Sharing, SharingField, counted_cells
from percell.questions.vocabulary.verdict import headroom


class FullPack(WarmOrCold, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A full pack in the worst case for its cells, and the meter that reads the coil."""

    layout: Layout
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    cell_charged_voltage_tolerance_v: fields.CellChargedVoltageToleranceV = 0.0
    coil_resistance_tolerance_ohm: fields.CoilResistanceToleranceOhm = 0.0
    meter_accuracy: fields.MeterAccuracy = fields.METER_ACCURACY
    meter_counts: fields.MeterCounts = fields.METER_COUNTS
    meter_resolution_ohm: fields.MeterResolutionOhm = fields.METER_RESOLUTION_OHM
    lead_resistance_ohm: fields.LeadResistanceOhm = 0.0
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    sharing: SharingField = Sharing.CAREFUL


class CoilOnPack(FullPack, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A coil wired straight to a full pack."""

    presence: ClassVar[tuple[Presence, ...]] = coil.A_COIL

    coil_reading_ohm: fields.CoilReadingOhm | UnsetType = UNSET
    coil_resistance_ohm: fields.CoilResistanceOhm | UnsetType = UNSET


class DirectLoad(CoilOnPack, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A full pack with its coil, and the rating of the cells."""

    cell_rating_a: fields.CellRatingA
    device_resistance_ohm: fields.DeviceResistanceOhm = 0.0


class DirectLoadFigures(Struct, frozen=True, gc=False):
    """Currents and power, in the worst case for the cells and with the pack's sag."""

    pack_highest_voltage_v: Annotated[
        float, figure("V", "Highest voltage of the pack, without sag.")
    ]
    lowest_true_resistance_ohm: Annotated[
        float, figure("Ω", "Lowest true resistance consistent with what was given.")
    ]
    pack_current_a: Annotated[
        float,
        figure(
            "A",
            "Highest current out of the pack: full, without sag, with the coil's lowest resistance.",
        ),
    ]
    coil_power_w: Annotated[float, figure("W", "Power in the coil at the highest current.")]
    pack_resistance_ohm: Annotated[
        float, figure("Ω", "Internal resistance of the pack after 10 s, contacts included.")
    ]
    even_cell_current_a: Annotated[float, figure("A", "Current of each cell if shared evenly.")]
    worst_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell, with the chosen sharing.")
    ]
    headroom: Annotated[float, figure("1", "Unused part of the rating, negative if exceeded.")]
    sagging_pack_current_a: Annotated[
        float,
        figure(
            "A", "Pack current to expect when full, with sag, and with the coil as it was given."
        ),
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
        cell_resistance_ohm=lasting_ohm(asked),
        contact_resistance_ohm=asked.contact_resistance_ohm,
        series=wired.series,
        parallel=wired.parallel,
    )


class Corner(Struct, frozen=True, gc=False):
    """The pack and its coil in the worst case for the cells."""

    pack_v: Number
    lowest_ohm: Number
    pack_a: Number
    worst_cell_a: Number


def corner(asked: CoilOnPack, wired: Wiring) -> Corner:
    """Return the pack at its highest voltage and the coil at its lowest resistance."""
    pack_v = packs.pack_voltage_v(cell_voltage_v=charged_voltage_v(asked), series=wired.series)
    lowest_ohm = coil.lowest_ohm(asked)
    pack_a = direct.load_current_a(
        source_voltage_v=pack_v, source_resistance_ohm=0.0, load_resistance_ohm=lowest_ohm
    )
    return Corner(pack_v, lowest_ohm, pack_a, pack_a / counted_cells(asked.sharing, wired.parallel))


def figures(asked: DirectLoad) -> DirectLoadFigures:
    """Calculate the figures of one question, or of a whole table."""
    wired = wiring(asked.layout)
    return _figures_at(asked, wired, corner(asked, wired))


def _figures_at(asked: DirectLoad, wired: Wiring, at: Corner) -> DirectLoadFigures:
    pack_v, lowest_ohm, pack_a = at.pack_v, at.lowest_ohm, at.pack_a
    coil_ohm = coil.expected_ohm(asked)
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
        worst_cell_current_a=at.worst_cell_a,
        headroom=headroom(at.worst_cell_a, asked.cell_rating_a),
        sagging_pack_current_a=sagging_a,
        sagging_pack_voltage_v=pack_v - sagging_a * inner_ohm,
        sagging_coil_power_w=direct.load_power_w(current_a=sagging_a, load_resistance_ohm=coil_ohm),
    )


def full_pack(
    asked: FullPack,
    wired: Wiring,
    *,
    lowest_ohm: float,
    inner_ohm: float,
    at_ratio: Callable[[float], str],
    exceeds: Callable[[float], bool] = lambda _: False,
) -> Held:
    """Hold a full pack under a coil against the limits besides the rating.

    Args:
        asked: The pack.
        wired: Its layout.
        lowest_ohm: Lowest resistance of the coil. [ohm]
        inner_ohm: Resistance of the pack. [ohm]
        at_ratio: The answer's figure as a clause, for a charged voltage that is higher by a ratio.
        exceeds: Whether a cell is then above its rating.
    """
    charged = charged_voltage(
        asked.chemistry, asked.cell_charged_voltage_v, asked.cell_charged_voltage_tolerance_v
    )
    return together(
        coil_power(lowest_ohm, inner_ohm),
        charged,
        Held([], charged_below_chemistry(asked.chemistry, asked.cell_charged_voltage_v)),
        Held([], _chemistry_assumed(asked, at_ratio, exceeds)),
        Held([], touch_voltage(wired.series * charged_voltage_v(asked))),
        Held([], cold_findings(float(temperature_c(asked)))),
    )


def _chemistry_assumed(
    asked: FullPack, at_ratio: Callable[[float], str], exceeds: Callable[[float], bool]
) -> list[Finding]:
    """Return the finding about a chemistry that was assumed, and what another one would change."""
    if asked.chemistry is not Chemistry.NMC or asked.cell_charged_voltage_v is not UNSET:
        return []
    usual_v = VOLTAGES[asked.chemistry].charged_v
    highest_v = max(known.charged_v for known in VOLTAGES.values())
    return [
        finding(
            shared_rules.ASSUMPTION_DECIDES
            if exceeds(highest_v / usual_v)
            else shared_rules.CHEMISTRY_ASSUMED,
            (
                f"Calculated for cells that are charged to {usual_v:g} V. If the cells are charged to {highest_v:g} "
                f"V, {at_ratio(highest_v / usual_v)}."
            ),
        )
    ]


def explain(asked: DirectLoad) -> Explained[DirectLoadFigures]:
    """Answer for one coil."""
    wired = wiring(asked.layout)
    at = corner(asked, wired)
    got = _figures_at(asked, wired, at)
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
            at_ratio=lambda ratio: (
                "the worst-case cell carries "
                f"{beside_rating(got.worst_cell_current_a * ratio, asked.cell_rating_a)}"
            ),
            exceeds=decided_by(worst_cell_a=got.worst_cell_current_a, rating_a=asked.cell_rating_a),
        ),
    )
    return Explained(
        figures=got,
        working=_working(asked, wired, at, got),
        limits=held.limits,
        findings=held.findings,
    )


def corner_steps(asked: CoilOnPack, wired: Wiring, at: Corner) -> list[WorkingStep]:
    """Show the working of the worst-case cell's current."""
    return [
        WorkingStep(
            "Highest pack voltage: full, without sag",
            "U = S · u",
            f"{wired.series} × {charged_voltage_v(asked):.4g} V",
            at.pack_v,
            "V",
        ),
        coil.lowest_step(asked, at.lowest_ohm),
        WorkingStep(
            "Highest current out of the pack",
            "I = U / R_min",
            f"{at.pack_v:.4g} V / {at.lowest_ohm:.4g} Ω",
            at.pack_a,
            "A",
        ),
        *steps.worst_cell(
            asked.sharing,
            wired,
            Feeds.COIL,
            counted=counted_cells(asked.sharing, wired.parallel),
            pack_a=at.pack_a,
            worst_cell_a=at.worst_cell_a,
        ),
    ]


def _working(
    asked: DirectLoad, wired: Wiring, at: Corner, got: DirectLoadFigures
) -> list[WorkingStep]:
    pack_a, lowest_ohm = got.pack_current_a, got.lowest_true_resistance_ohm
    return [
        *corner_steps(asked, wired, at),
        steps.headroom(worst_cell_a=got.worst_cell_current_a, rating_a=asked.cell_rating_a),
        WorkingStep(
            "Power in the coil at the highest current",
            "P = I² · R_min",
            f"({pack_a:.4g} A)² × {lowest_ohm:.4g} Ω",
            got.coil_power_w,
            "W",
        ),
        WorkingStep(
            "Pack current to expect, with sag",
            "I = U / (R_coil + S·(r + r_contact)/P + R_device)",
            f"{got.pack_highest_voltage_v:.4g} V / ({coil.expected_ohm(asked):.4g} + "
            f"{got.pack_resistance_ohm:.4g} + {asked.device_resistance_ohm:.4g}) Ω",
            got.sagging_pack_current_a,
            "A",
        ),
    ]


def assumed(asked: CoilOnPack) -> list[Assumption]:
    """Return the defaults in use; those of a meter only with a reading."""
    unused = frozenset(coil.METER) if asked.coil_reading_ohm is UNSET else frozenset()
    return assumptions(asked, frozenset(asked.__struct_fields__) - unused)


LIMITS = (LimitName.CONTINUOUS_RATING, LimitName.AVAILABLE_POWER, LimitName.CHARGED_VOLTAGE)

QUESTION = Question(
    id="direct-load",
    subject=Subject.LOADS,
    title="Current of each cell with a coil straight on the pack",
    description=(
        "Currents, power and headroom for a coil wired straight to a full pack, in the worst case for the "
        "cells, and the current to expect with sag."
    ),
    asked=DirectLoad,
    shows=DirectLoadFigures,
    limits=LIMITS,
    explain=doubting(explain),
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=fields.SAG | {"device_resistance_ohm"},
    headline=Headline(
        field="worst_cell_current_a",
        says="The worst-case cell carries up to",
        unit="A",
        decimals=1,
        round=Rounding.UP,
    ),
    example={"layout": "1S2P", "cell_rating_a": 20, "coil_reading_ohm": 0.25},
)
