"""What does each cell carry when a converter holds the load's power constant?"""

from enum import StrEnum
from functools import cache, lru_cache
from typing import Annotated

from msgspec import UNSET, Struct, UnsetType

from percell.physics import converter
from percell.physics import pack as packs
from percell.physics.types import Number
from percell.questions.answering import steps
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Judged, OverTable, Question, Subject
from percell.questions.answering.rating_findings import against_rating
from percell.questions.answering.voltage_findings import (
    cutoff_below_end,
    refuse_cutoff,
    resistance_assumed,
)
from percell.questions.loads import rules
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import choice, figure
from percell.questions.vocabulary.layout import LAYOUTS, Layout, Wiring, wiring
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.sharing import Sharing, SharingField, counted_cells
from percell.questions.vocabulary.verdict import VerdictField
from percell.questions.vocabulary.wording import apart, shown


class CutoffBasis(StrEnum):
    """Where the cut-off voltage holds."""

    UNDER_LOAD = "under_load"
    AT_REST = "at_rest"


CutoffBasisField = Annotated[
    CutoffBasis,
    choice(
        "under_load: the device stops when the sagging voltage reaches the cut-off; at_rest: the cells "
        "rest at the cut-off voltage and sag below it under load.",
        default_from="devices watch the voltage under load, common practice, no published source",
    ),
]


class Emptying(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A nearly empty pack behind a converter: lowest voltage, lowest efficiency."""

    layout: Layout
    chemistry: ChemistryField = Chemistry.NMC
    cell_cutoff_voltage_v: fields.CellCutoffVoltageV | UnsetType = UNSET
    cell_cutoff_voltage_tolerance_v: fields.CellCutoffVoltageToleranceV = 0.0
    cutoff_basis: CutoffBasisField = CutoffBasis.UNDER_LOAD
    cell_resistance_ohm: fields.CellResistanceOhm = fields.CELL_RESISTANCE_OHM
    cell_resistance_tolerance_ohm: fields.CellResistanceToleranceOhm = 0.0
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    efficiency: fields.Efficiency = fields.EFFICIENCY
    efficiency_tolerance: fields.EfficiencyTolerance = 0.0
    idle_power_w: fields.IdlePowerW = 0.0
    sharing: SharingField = Sharing.EVEN


class Rated(Emptying, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The same, and what each of its cells may carry."""

    cell_rating_a: fields.CellRatingA


class ConverterLoad(Rated, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A converter that holds its output power constant."""

    output_power_w: fields.OutputPowerW
    output_power_tolerance_w: fields.OutputPowerToleranceW = 0.0


class ConverterLoadFigures(Struct, frozen=True, gc=False):
    """Currents at the corner that is hardest on the cells: lowest voltage and efficiency."""

    pack_lowest_voltage_v: Annotated[
        float, figure("V", "Lowest pack voltage: cut-off, less its tolerance.")
    ]
    input_power_w: Annotated[float, figure("W", "Highest power the converter draws.")]
    pack_current_a: Annotated[float, figure("A", "Highest current out of the pack.")]
    pack_loaded_voltage_v: Annotated[
        float, figure("V", "Pack voltage at the highest current, with its sag.")
    ]
    even_cell_current_a: Annotated[float, figure("A", "Current of each cell if shared evenly.")]
    worst_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell, by the chosen sharing.")
    ]
    headroom: Annotated[
        float, figure("1", "What is left of the rating; negative when it is passed.")
    ]


# part of the highest power of the pack; above it a little more sag makes the voltage collapse
NEAR_MOST_POWER = 0.9


def assumed(asked: Emptying) -> list[Assumption]:
    """Return the defaults in use, without those of the sag if the cut-off is one under load."""
    if asked.cutoff_basis is CutoffBasis.AT_REST:
        return assumptions(asked)
    return assumptions(asked, without_sag(type(asked)))


@cache
def without_sag(kind: type[Struct]) -> frozenset[str]:
    """Return the fields of a question without those that only a cut-off at rest uses."""
    return frozenset(kind.__struct_fields__) - fields.SAG


class Corner(Struct, frozen=True, gc=False):
    """The pack in the worst case for its cells."""

    cell_v: Number
    pack_v: Number
    pack_ohm: Number
    efficiency: Number
    counted: Number  # how many cells a parallel group counts as


def corner(asked: Emptying, wired: Wiring) -> Corner:
    """Return the pack at its lowest voltage and highest resistance, and the lowest efficiency."""
    own_v = asked.cell_cutoff_voltage_v
    preset = VOLTAGES[asked.chemistry]
    cutoff_v = preset.cutoff_v if own_v is UNSET else own_v
    refuse_cutoff(cutoff_v, preset.charged_v)
    cell_v = cutoff_v - asked.cell_cutoff_voltage_tolerance_v
    return Corner(
        cell_v=cell_v,
        pack_v=packs.pack_voltage_v(cell_voltage_v=cell_v, series=wired.series),
        # a voltage under load includes the sag already
        pack_ohm=0.0
        if asked.cutoff_basis is CutoffBasis.UNDER_LOAD
        else packs.pack_resistance_ohm(
            cell_resistance_ohm=asked.cell_resistance_ohm + asked.cell_resistance_tolerance_ohm,
            contact_resistance_ohm=asked.contact_resistance_ohm,
            series=wired.series,
            parallel=wired.parallel,
        ),
        efficiency=asked.efficiency - asked.efficiency_tolerance,
        counted=counted_cells(asked.sharing, wired.parallel),
    )


class Draw(Struct, frozen=True, gc=False):
    """What a converter draws from the pack."""

    input_w: Number
    pack_a: Number
    loaded_v: Number


def draw(asked: Emptying, at: Corner, *, output_power_w: Number) -> Draw:
    """Return what the converter draws at a corner for an output power."""
    input_w = converter.input_power_w(
        output_power_w=output_power_w, efficiency=at.efficiency, idle_power_w=asked.idle_power_w
    )
    pack_a = (
        converter.current_at_voltage_a(input_power_w=input_w, source_voltage_v=at.pack_v)
        if asked.cutoff_basis is CutoffBasis.UNDER_LOAD
        else converter.current_from_rest_a(
            input_power_w=input_w, source_voltage_v=at.pack_v, source_resistance_ohm=at.pack_ohm
        )
    )
    return Draw(input_w, pack_a, at.pack_v - pack_a * at.pack_ohm)


def figures(asked: ConverterLoad) -> ConverterLoadFigures:
    """Calculate the figures of one question, or of a whole table."""
    wired = wiring(asked.layout)
    return _figures_at(asked, wired, corner(asked, wired))


def _figures_at(asked: ConverterLoad, wired: Wiring, at: Corner) -> ConverterLoadFigures:
    drawn = draw(asked, at, output_power_w=asked.output_power_w + asked.output_power_tolerance_w)
    worst_cell_a = drawn.pack_a / at.counted
    return ConverterLoadFigures(
        pack_lowest_voltage_v=at.pack_v,
        input_power_w=drawn.input_w,
        pack_current_a=drawn.pack_a,
        pack_loaded_voltage_v=drawn.loaded_v,
        even_cell_current_a=drawn.pack_a / wired.parallel,
        worst_cell_current_a=worst_cell_a,
        headroom=1 - worst_cell_a / asked.cell_rating_a,
    )


def draw_steps(
    asked: Emptying,
    wired: Wiring,
    at: Corner,
    *,
    output_power_w: float,
    input_power_w: float,
    pack_a: float,
) -> list[WorkingStep]:
    """Show the working of what the converter draws."""
    at_rest = asked.cutoff_basis is CutoffBasis.AT_REST
    return [
        WorkingStep(
            "Lowest pack voltage, at rest" if at_rest else "Lowest pack voltage, under load",
            "U = S · u",
            f"{wired.series} × {at.cell_v:.4g} V",
            at.pack_v,
            "V",
        ),
        WorkingStep(
            "Highest power the converter draws",
            "P_in = P / η + P_idle",
            f"{output_power_w:.4g} W / {at.efficiency:.4g} + {asked.idle_power_w:.4g} W",
            input_power_w,
            "W",
        ),
        WorkingStep(
            "Highest current out of the pack, with its sag",
            "I = 2·P_in / (U + √(U² − 4·R·P_in))",
            f"2 × {input_power_w:.4g} W / ({at.pack_v:.4g} V + √(({at.pack_v:.4g} V)² − "
            f"4 × {at.pack_ohm:.4g} Ω × {input_power_w:.4g} W))",
            pack_a,
            "A",
        )
        if at_rest
        else WorkingStep(
            "Highest current out of the pack",
            "I = P_in / U",
            f"{input_power_w:.4g} W / {at.pack_v:.4g} V",
            pack_a,
            "A",
        ),
    ]


def wiring_findings(
    asked: Emptying, wired: Wiring, at: Corner, *, input_power_w: float
) -> list[Finding]:
    """Return the findings about a pack that gives a power to a converter."""
    at_rest = asked.cutoff_basis is CutoffBasis.AT_REST
    if at_rest:
        found = _sag_findings(asked, wired, at, input_power_w)
    else:
        found = cutoff_below_end(asked.chemistry, at.cell_v)
    if wired.cells > 1:
        found.append(_any_wiring(wired))
    if at_rest:
        found += resistance_assumed(asked.cell_resistance_ohm)
    return found


@lru_cache(maxsize=LAYOUTS)
def _any_wiring(wired: Wiring) -> Finding:
    return finding(
        rules.SAME_POWER_ANY_WIRING,
        f"The {wired.cells} cells together give the same power, wired {wired.text} or any other way; shared "
        "evenly, each gives the same part.",
    )


def _sag_findings(
    asked: Emptying, wired: Wiring, at: Corner, input_power_w: float
) -> list[Finding]:
    """Return the findings about cells that rest at the cut-off and sag below it."""
    pack_a = converter.current_from_rest_a(
        input_power_w=input_power_w, source_voltage_v=at.pack_v, source_resistance_ohm=at.pack_ohm
    )
    loaded_v = (at.pack_v - pack_a * at.pack_ohm) / wired.series
    found = cutoff_below_end(asked.chemistry, loaded_v, sagging=True)
    # the pack gives at most U²/4R; multiplied out, because R may be 0
    if 4 * at.pack_ohm * input_power_w >= NEAR_MOST_POWER * at.pack_v**2:
        most_w = at.pack_v**2 / (4 * at.pack_ohm)
        drawn, most = apart(input_power_w, most_w)
        found.append(
            finding(
                rules.NEAR_COLLAPSE,
                f"The converter would draw {drawn} W, and at that voltage the pack gives no more than {most} W "
                f"at any current: its cells would sag from {shown(at.cell_v)} V "
                f"to {shown(loaded_v)} V.",
            )
        )
    return found


def explain(asked: ConverterLoad) -> Judged[ConverterLoadFigures]:
    """Answer for one power."""
    wired = wiring(asked.layout)
    return explain_at(asked, wired, corner(asked, wired))


def explain_at(asked: ConverterLoad, wired: Wiring, at: Corner) -> Judged[ConverterLoadFigures]:
    """Answer for a caller that already has the corner."""
    got = _figures_at(asked, wired, at)
    rating_a, worst_cell_a = asked.cell_rating_a, got.worst_cell_current_a
    verdict, findings = against_rating(
        worst_cell_a=worst_cell_a,
        rating_a=rating_a,
        sharing=asked.sharing,
        parallel=wired.parallel,
        pack_a=got.pack_current_a,
    )
    findings += wiring_findings(asked, wired, at, input_power_w=got.input_power_w)
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
            counted=at.counted,
            pack_a=got.pack_current_a,
            worst_cell_a=worst_cell_a,
        ),
        steps.headroom(worst_cell_a=worst_cell_a, rating_a=rating_a),
    ]
    return Judged(figures=got, verdict=verdict, working=working, findings=findings)


QUESTION = Question(
    id="converter-load",
    subject=Subject.LOADS,
    title="Current of each cell behind a converter",
    description="A converter that holds its output power constant: currents and headroom at the lowest "
    "voltage and efficiency, where it draws most.",
    asked=ConverterLoad,
    shows=ConverterLoadFigures,
    verdict=VerdictField,
    explain=explain,
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    # a cut-off under load includes the sag already
    no_effect=fields.SAG,
    headline=Headline(
        field="worst_cell_current_a",
        says="The worst-case cell carries up to",
        unit="A",
        decimals=1,
        round=Rounding.UP,
    ),
    example={"layout": "2S1P", "cell_rating_a": 25, "output_power_w": 80},
)
