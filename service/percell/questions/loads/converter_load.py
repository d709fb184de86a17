"""What does each cell carry when a converter holds the load's power constant?"""

from collections.abc import Callable
from enum import StrEnum
from functools import lru_cache
from typing import Annotated

from msgspec import UNSET, Struct, UnsetType, structs

from percell.physics import converter, measured_cells
from percell.physics import pack as packs
from percell.physics.curves import open_circuit_voltage_v, soc_at_rest
from percell.physics.meter import NOISE
from percell.physics.types import Number
from percell.questions.answering import rules as shared_rules
from percell.questions.answering import steps
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.cold_findings import cold_findings
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.power_findings import NEAR_MOST_POWER, converter_power
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import against_rating, beside_rating, decided_by
from percell.questions.answering.rest_curve import emptiest_curve, emptying_at_rest
from percell.questions.answering.voltage_findings import (
    end_voltage,
    refuse_cutoff,
    resistance_assumed,
    touch_voltage,
)
from percell.questions.cell.label_doubt import doubting
from percell.questions.loads import rules
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import (
    WarmOrCold,
    at_usual_temperature,
    printed_capacity_ah,
    temperature_c,
)
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import choice, figure
from percell.questions.vocabulary.layout import LAYOUTS, Layout, Wiring, wiring
from percell.questions.vocabulary.limits import Held, together
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import (
    PERCENTILE,
    SPREAD,
    Feeds,
    Sharing,
    SharingField,
    counted_cells,
    worst_cell,
)
from percell.questions.vocabulary.verdict import headroom
from percell.questions.vocabulary.wording import given, shown

# a draw that starts at the cut-off at rest may last this long: percell's own choice
LONG_DRAW_S = 60.0


class CutoffBasis(StrEnum):
    """Whether the cut-off is a voltage under load or at rest."""

    UNDER_LOAD = "under_load"
    AT_REST = "at_rest"


CutoffBasisField = Annotated[
    CutoffBasis,
    choice(
        (
            "Whether the cut-off is a voltage under load or at rest. `under_load`: the device stops when the "
            "sagging voltage reaches the cut-off. `at_rest`: the cells rest at the cut-off voltage and sag "
            "below it under load."
        ),
        default_from="devices measure the voltage under load, common practice, no published source",
    ),
]


class Emptying(WarmOrCold, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A nearly empty pack behind a converter: lowest voltage, lowest efficiency."""

    layout: Layout
    chemistry: ChemistryField = Chemistry.NMC
    cell_cutoff_voltage_v: fields.CellCutoffVoltageV | UnsetType = UNSET
    cell_cutoff_voltage_tolerance_v: fields.CellCutoffVoltageToleranceV = 0.0
    cutoff_basis: CutoffBasisField = CutoffBasis.UNDER_LOAD
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    cell_resistance_tolerance_ohm: fields.CellResistanceToleranceOhm = 0.0
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    efficiency: fields.Efficiency = fields.EFFICIENCY
    efficiency_tolerance: fields.EfficiencyTolerance = 0.0
    idle_power_w: fields.IdlePowerW = 0.0
    sharing: SharingField = Sharing.CAREFUL


class Rated(Emptying, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack with its converter, and the rating of the cells."""

    cell_rating_a: fields.CellRatingA


class ConverterLoad(Rated, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A converter that holds its output power constant."""

    output_power_w: fields.OutputPowerW
    output_power_tolerance_w: fields.OutputPowerToleranceW = 0.0


FullPackPowerRatio = Annotated[
    float,
    figure(
        "1",
        (
            "Power that the converter draws, divided by the highest power that a full pack can give at any "
            f"current. Above {NEAR_MOST_POWER:g} the voltage is near collapse."
        ),
    ),
]


class ConverterLoadFigures(Struct, frozen=True, gc=False):
    """Currents in the worst case for the cells: lowest voltage and lowest efficiency."""

    pack_lowest_voltage_v: Annotated[
        float, figure("V", "Lowest pack voltage: the cut-off minus its tolerance.")
    ]
    input_power_w: Annotated[float, figure("W", "Highest power that the converter draws.")]
    pack_current_a: Annotated[float, figure("A", "Highest current out of the pack.")]
    pack_loaded_voltage_v: Annotated[
        float, figure("V", "Pack voltage at the highest current, with sag.")
    ]
    even_cell_current_a: Annotated[float, figure("A", "Current of each cell if shared evenly.")]
    worst_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell, with the chosen sharing.")
    ]
    headroom: Annotated[float, figure("1", "Unused part of the rating, negative if exceeded.")]
    full_pack_power_ratio: FullPackPowerRatio


class Corner(Struct, frozen=True, gc=False):
    """The pack in the worst case for its cells."""

    cell_v: Number
    cell_ohm: Number  # at half charge
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
    cell_ohm = _highest_ohm(asked)
    return Corner(
        cell_v=cell_v,
        cell_ohm=cell_ohm,
        pack_v=packs.pack_voltage_v(cell_voltage_v=cell_v, series=wired.series),
        # a voltage under load includes the sag already
        pack_ohm=0.0
        if asked.cutoff_basis is CutoffBasis.UNDER_LOAD
        else _pack_ohm(
            asked,
            wired,
            cell_ohm * emptying_at_rest(asked.chemistry, cell_v, temperature_c(asked)),
        ),
        efficiency=asked.efficiency - asked.efficiency_tolerance,
        counted=counted_cells(asked.sharing, wired.parallel, Feeds.CONVERTER),
    )


def _pack_ohm(asked: Emptying, wired: Wiring, cell_ohm: Number) -> Number:
    """Return the resistance of a pack of such cells, with their contacts."""
    return packs.pack_resistance_ohm(
        cell_resistance_ohm=cell_ohm,
        contact_resistance_ohm=asked.contact_resistance_ohm,
        series=wired.series,
        parallel=wired.parallel,
    )


def _highest_ohm(asked: Emptying) -> Number:
    """Return the highest resistance of a cell after 10 s at half charge and its temperature."""
    tolerance_ohm = measured_cells.ten_second_resistance_ohm(
        resistance_ohm=asked.cell_resistance_tolerance_ohm,
        after_s=asked.cell_resistance_after_s,
    )
    ratio = measured_cells.temperature_ratio(temperature_c=temperature_c(asked))
    return at_usual_temperature(asked) * ratio + tolerance_ohm * ratio


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
        headroom=headroom(worst_cell_a, asked.cell_rating_a),
        full_pack_power_ratio=full_pack_power_ratio(asked, wired, at, drawn.input_w),
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
            "Highest power that the converter draws",
            "P_in = P / η + P_idle",
            f"{output_power_w:.4g} W / {at.efficiency:.4g} + {asked.idle_power_w:.4g} W",
            input_power_w,
            "W",
        ),
        WorkingStep(
            "Highest current out of the pack, with sag",
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


def emptying_pack(
    asked: Emptying,
    wired: Wiring,
    at: Corner,
    *,
    input_power_w: float,
    at_ratio: Callable[[float], str],
    at_usual: Callable[[Corner], str],
    exceeds: Callable[[float], bool] = lambda _: False,
) -> Held:
    """Hold a pack that gives a power to a converter against the limits besides the rating.

    Args:
        asked: The pack.
        wired: Its layout.
        at: Its worst corner.
        input_power_w: Power that the converter draws. [W]
        at_ratio: The answer's figure as a clause, for a current that is higher by a ratio.
        at_usual: The figure as a clause for the corner of a usual device; empty if it makes no difference.
        exceeds: Whether that current is above a cell's rating.
    """
    found = [_any_wiring(wired)] if wired.cells > 1 else []
    if asked.cutoff_basis is CutoffBasis.AT_REST:
        found.append(finding(rules.REST_CUTOFF_IN_SECONDS, _REST_CUTOFF.format(given(at.cell_v))))
        found += resistance_assumed(asked)
    else:
        found += _cutoff_assumed(asked, at, at_ratio, exceeds)
        found += _above_usual(asked, wired, at, at_usual)
    found += touch_voltage(wired.series * VOLTAGES[asked.chemistry].charged_v)
    found += cold_findings(float(temperature_c(asked)))
    return together(limits_of_emptying(asked, wired, at, input_power_w), Held([], found))


def limits_of_emptying(asked: Emptying, wired: Wiring, at: Corner, input_power_w: float) -> Held:
    """Hold the pack against its lowest voltage and the most power that it can give, and no more."""
    lowest = (
        _sagging(asked, wired, at, input_power_w)
        if asked.cutoff_basis is CutoffBasis.AT_REST
        else end_voltage(asked.chemistry, at.cell_v)
    )
    return together(lowest, _full_pack_power(asked, wired, at, input_power_w))


_REST_CUTOFF = (
    "The cells rest at {} V and sag below it, as nearly empty cells do. The current is right for draws "
    "of up to half a minute. In a longer draw it rises further, until the voltage collapses."
)


def _cutoff_assumed(
    asked: Emptying,
    at: Corner,
    at_ratio: Callable[[float], str],
    exceeds: Callable[[float], bool],
) -> list[Finding]:
    """Return the finding about a device that may run the cells down further than was assumed."""
    preset = VOLTAGES[asked.chemistry]
    if asked.cell_cutoff_voltage_v is not UNSET or at.cell_v <= preset.end_v * (1 + NOISE):
        return []
    return [
        finding(
            shared_rules.ASSUMPTION_DECIDES
            if exceeds(at.cell_v / preset.end_v)
            else rules.CUTOFF_ASSUMED,
            (
                f"Calculated for a device that stops at {given(at.cell_v)} V per cell. If it stops only at "
                f"{preset.end_v:g} V, the end-of-discharge voltage of {preset.name}, {at_ratio(at.cell_v / preset.end_v)}."
            ),
        )
    ]


def _above_usual(
    asked: Emptying, wired: Wiring, at: Corner, at_usual: Callable[[Corner], str]
) -> list[Finding]:
    """Return the finding about a device that was given as easier on its cells than a usual one."""
    own, usual = [], []
    cell_v, efficiency, usual_v = at.cell_v, at.efficiency, VOLTAGES[asked.chemistry].cutoff_v
    if cell_v > usual_v * (1 + NOISE):
        own.append(f"a cut-off of {given(cell_v)} V per cell")
        usual.append(f"{usual_v:g} V")
        cell_v = usual_v
    if efficiency > fields.EFFICIENCY * (1 + NOISE):
        own.append(f"an efficiency of {given(efficiency * 100)} %")
        usual.append(f"{fields.EFFICIENCY * 100:g} %")
        efficiency = fields.EFFICIENCY
    if not own:
        return []
    pack_v = packs.pack_voltage_v(cell_voltage_v=cell_v, series=wired.series)
    clause = at_usual(structs.replace(at, cell_v=cell_v, pack_v=pack_v, efficiency=efficiency))
    if not clause:
        return []
    sentence = (
        f"Calculated for {' and '.join(own)}. With the usual {' and '.join(usual)}, {clause}."
    )
    return [finding(rules.DEVICE_ABOVE_USUAL, sentence)]


@lru_cache(maxsize=LAYOUTS)
def _any_wiring(wired: Wiring) -> Finding:
    sentence = (
        f"The {wired.cells} cells together give the same power, whether they are wired {wired.text} or in "
        "another way. If they shared evenly, each would carry the same share."
    )
    if wired.parallel > 1:
        part = wired.parallel * worst_cell(wired.parallel, SPREAD, PERCENTILE).share - 1
        sentence += (
            f" But cells in parallel do not share evenly. With a resistance spread of {SPREAD * 100:g} %, "
            f"the worst-case cell of {wired.parallel} carries {shown(part * 100)} % more than an even share."
        )
    return finding(rules.SAME_POWER_ANY_WIRING, sentence)


def _sagging(asked: Emptying, wired: Wiring, at: Corner, input_power_w: float) -> Held:
    """Hold cells that rest at the cut-off and sag below it against the end voltage and their power."""
    pack_a = converter.current_from_rest_a(
        input_power_w=input_power_w, source_voltage_v=at.pack_v, source_resistance_ohm=at.pack_ohm
    )
    loaded_v = (at.pack_v - pack_a * at.pack_ohm) / wired.series
    return together(
        end_voltage(asked.chemistry, loaded_v, sagging=True),
        converter_power(
            at.pack_v,
            at.pack_ohm,
            input_power_w,
            f"that sag from {shown(at.cell_v)} V to {shown(loaded_v)} V",
        ),
        _after_a_minute(asked, wired, at, pack_a, input_power_w),
    )


def _after_a_minute(
    asked: Emptying, wired: Wiring, at: Corner, pack_a: float, input_power_w: float
) -> Held:
    """Hold the power against the most that the cells give when a draw has lasted for a minute.

    They are emptier by then.
    """
    curve = emptiest_curve(asked.chemistry)
    taken_ah = pack_a / wired.parallel * LONG_DRAW_S / 3600
    soc = soc_at_rest(curve=curve, open_circuit_voltage_v=at.cell_v) - taken_ah / _capacity_ah(
        asked
    )
    rest_v = open_circuit_voltage_v(curve=curve, soc=max(soc, 0.0))
    return converter_power(
        packs.pack_voltage_v(cell_voltage_v=rest_v, series=wired.series),
        _pack_ohm(
            asked,
            wired,
            at.cell_ohm * emptying_at_rest(asked.chemistry, rest_v, temperature_c(asked)),
        ),
        input_power_w,
        f"that rested at {shown(at.cell_v)} V and have given this power for a minute",
    )


def _capacity_ah(asked: Emptying) -> float:
    """Return the capacity of a cell at its age, which an assessment knows."""
    return float(printed_capacity_ah(asked)) * getattr(asked, "cell_health", 1.0)


def of_a_minute(asked: Emptying) -> list[Assumption]:
    """Return the capacity that was assumed for what a minute takes out of cells that rest at the cut-off."""
    if asked.cutoff_basis is CutoffBasis.UNDER_LOAD or asked.cell_capacity_ah is not UNSET:
        return []
    size = "" if getattr(asked, "cell_size", UNSET) is UNSET else " of this size"
    origin = f"a usual cell{size}, for the charge that a minute of this load draws from it; give your own"
    return [Assumption("cell_capacity_ah", float(printed_capacity_ah(asked)), "Ah", origin)]


def assumed(asked: Emptying) -> list[Assumption]:
    """Return the defaults in use."""
    return assumptions(asked) + of_a_minute(asked)


def _full_pack_power(asked: Emptying, wired: Wiring, at: Corner, input_power_w: float) -> Held:
    """Hold the power against the most that a full pack can give."""
    full_ohm = _pack_ohm(asked, wired, at.cell_ohm)
    return converter_power(_full_pack_v(asked, wired), full_ohm, input_power_w, "that are full")


def _full_pack_v(asked: Emptying, wired: Wiring) -> Number:
    charged_v = VOLTAGES[asked.chemistry].charged_v
    return packs.pack_voltage_v(cell_voltage_v=charged_v, series=wired.series)


def full_pack_power_ratio(
    asked: Emptying, wired: Wiring, at: Corner, input_power_w: Number
) -> Number:
    """Return the power over the most that the full pack gives: P over U²/4R, zero without resistance."""
    full_ohm = _pack_ohm(asked, wired, at.cell_ohm)
    return 4 * full_ohm * input_power_w / _full_pack_v(asked, wired) ** 2


def explain(asked: ConverterLoad) -> Explained[ConverterLoadFigures]:
    """Answer for one power."""
    wired = wiring(asked.layout)
    return explain_at(asked, wired, corner(asked, wired))


def explain_at(asked: ConverterLoad, wired: Wiring, at: Corner) -> Explained[ConverterLoadFigures]:
    """Answer for a caller that already has the corner."""
    got = _figures_at(asked, wired, at)
    rating_a, worst_cell_a = asked.cell_rating_a, got.worst_cell_current_a
    held = together(
        against_rating(
            worst_cell_a=worst_cell_a,
            rating_a=rating_a,
            sharing=asked.sharing,
            parallel=wired.parallel,
            pack_a=got.pack_current_a,
            feeds=Feeds.CONVERTER,
        ),
        emptying_pack(
            asked,
            wired,
            at,
            input_power_w=got.input_power_w,
            at_ratio=lambda ratio: (
                f"the worst-case cell carries up to {beside_rating(worst_cell_a * ratio, rating_a)}"
            ),
            at_usual=lambda usual: _over_at(asked, wired, usual, worst_cell_a),
            exceeds=decided_by(worst_cell_a=worst_cell_a, rating_a=rating_a),
        ),
    )
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
            worst_cell_a=worst_cell_a,
        ),
        steps.headroom(worst_cell_a=worst_cell_a, rating_a=rating_a),
    ]
    return Explained(figures=got, working=working, limits=held.limits, findings=held.findings)


def _over_at(asked: ConverterLoad, wired: Wiring, usual: Corner, worst_cell_a: float) -> str:
    """Return the current at the corner of a usual device, if only there it is above the rating."""
    there_a = _figures_at(asked, wired, usual).worst_cell_current_a
    decides = decided_by(worst_cell_a=worst_cell_a, rating_a=asked.cell_rating_a)
    if not decides(there_a / worst_cell_a):
        return ""
    return f"the worst-case cell carries up to {beside_rating(there_a, asked.cell_rating_a)}"


# the limits of an emptying pack besides the rating
OTHER_LIMITS = (LimitName.END_VOLTAGE, LimitName.AVAILABLE_POWER)

QUESTION = Question(
    id="converter-load",
    subject=Subject.LOADS,
    title="Current of each cell behind a converter",
    description=(
        "Currents and headroom behind a converter that holds its output power constant, at the lowest "
        "voltage and efficiency, where it draws the most current."
    ),
    asked=ConverterLoad,
    shows=ConverterLoadFigures,
    limits=(LimitName.CONTINUOUS_RATING, *OTHER_LIMITS),
    explain=doubting(explain),
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
