"""Is each cell within its rating, and what else is there to know about this pack and load?"""

from functools import cache
from typing import Annotated, Any, NamedTuple, TypeVar

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics.curves import PUBLISHED
from percell.questions import (
    charging,
    claim,
    converter_load,
    direct_load,
    envelope,
    fields,
    highest_power,
    lowest_resistance,
    pack,
    rules,
    running_time,
    temperature_rise,
)
from percell.questions.cautions import CAUTIONS
from percell.questions.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.claim import ClaimAsked, ClaimFigures
from percell.questions.converter_load import ConverterLoadFigures, CutoffBasis, CutoffBasisField
from percell.questions.direct_load import DirectLoadFigures
from percell.questions.either_load import is_direct, sharing_in_use
from percell.questions.envelope import Assumption, Step, assumptions, values
from percell.questions.fields import figure
from percell.questions.highest_power import HighestPowerFigures
from percell.questions.judged import charged_above_chemistry, cutoff_below_end, refuse_cutoff
from percell.questions.layout import Layout, Wiring, wiring
from percell.questions.lowest_resistance import LowestResistanceFigures
from percell.questions.pack import PackFigures
from percell.questions.rules import Finding, finding
from percell.questions.running_time import RunningTime, RunningTimeFigures
from percell.questions.sharing import Sharing, SharingField
from percell.questions.sizes import CellSizeField
from percell.questions.temperature_rise import (
    Surroundings,
    SurroundingsField,
    TemperatureRise,
    TemperatureRiseFigures,
)
from percell.questions.verdict import Verdict, VerdictField


class Assessment(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack and its load: a coil resistance for a direct load, or an output power for a converter."""

    layout: Layout
    cell_rating_a: fields.CellRatingA
    coil_resistance_ohm: fields.CoilResistanceOhm | UnsetType = UNSET
    output_power_w: fields.OutputPowerW | UnsetType = UNSET
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    cell_health: fields.CellHealth = 1.0
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    cell_charged_voltage_tolerance_v: fields.CellChargedVoltageToleranceV = 0.0
    cell_nominal_voltage_v: fields.CellNominalVoltageV | UnsetType = UNSET
    cell_cutoff_voltage_v: fields.CellCutoffVoltageV | UnsetType = UNSET
    cell_cutoff_voltage_tolerance_v: fields.CellCutoffVoltageToleranceV = 0.0
    cutoff_basis: CutoffBasisField = CutoffBasis.UNDER_LOAD
    cell_resistance_ohm: fields.CellResistanceOhm = fields.CELL_RESISTANCE_OHM
    cell_resistance_tolerance_ohm: fields.CellResistanceToleranceOhm = 0.0
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    device_resistance_ohm: fields.DeviceResistanceOhm = 0.0
    coil_resistance_tolerance_ohm: fields.CoilResistanceToleranceOhm = 0.0
    meter_accuracy: fields.MeterAccuracy = 0.0
    meter_counts: fields.MeterCounts = 0.0
    meter_resolution_ohm: fields.MeterResolutionOhm = fields.METER_RESOLUTION_OHM
    lead_resistance_ohm: fields.LeadResistanceOhm = 0.0
    output_power_tolerance_w: fields.OutputPowerToleranceW = 0.0
    efficiency: fields.Efficiency = fields.EFFICIENCY
    efficiency_tolerance: fields.EfficiencyTolerance = 0.0
    idle_power_w: fields.IdlePowerW = 0.0
    sharing: SharingField | UnsetType = UNSET
    cell_size: CellSizeField | UnsetType = UNSET
    draw_length_s: fields.DrawLengthS = temperature_rise.DRAW_LENGTH_S
    pause_s: temperature_rise.PauseS = temperature_rise.PAUSE_S
    ambient_temperature_c: temperature_rise.AmbientTemperatureC = temperature_rise.AMBIENT_C
    surroundings: SurroundingsField = Surroundings.POCKET
    stop_temperature_c: temperature_rise.StopTemperatureC = temperature_rise.STOP_C


class DirectLimit(LowestResistanceFigures, frozen=True, kw_only=True):
    """The limit for a direct load."""

    lowest_reading_ohm: Annotated[float, figure("ohm", "The meter must show at least this.")]


class AssessmentAnswer(Struct, frozen=True, kw_only=True):
    """One verdict, the parts that it rests on, and what was found."""

    verdict: VerdictField
    hottest_cell_current_a: Annotated[
        float, figure("A", "Current of the hardest-worked cell, by the chosen sharing.")
    ]
    headroom: Annotated[
        float, figure("1", "What is left of the rating; negative when it is passed.")
    ]
    layout: Annotated[str, fields.text("The layout, as read.")]
    direct_load: Annotated[
        DirectLoadFigures | UnsetType, Meta(description="With a coil on the pack.")
    ] = UNSET
    lowest_resistance: Annotated[
        DirectLimit | UnsetType, Meta(description="The limit for a coil on the pack.")
    ] = UNSET
    converter_load: Annotated[
        ConverterLoadFigures | UnsetType, Meta(description="Behind a converter.")
    ] = UNSET
    highest_power: Annotated[
        HighestPowerFigures | UnsetType,
        Meta(description="The limit behind a converter."),
    ] = UNSET
    pack: Annotated[
        PackFigures | UnsetType, Meta(description="The pack; needs the cells' capacity.")
    ] = UNSET
    running_time: Annotated[
        RunningTimeFigures | UnsetType,
        Meta(
            description="A full pack run down to its cut-off under load, with every tolerance at the end "
            "that is hard on it; needs the cells' capacity and a chemistry with a curve."
        ),
    ] = UNSET
    temperature: Annotated[
        TemperatureRiseFigures | UnsetType,
        Meta(
            description="Estimate of how warm the hardest-worked cell gets, draw after draw and without a "
            "pause; needs the cells' size."
        ),
    ] = UNSET
    claim: Annotated[
        ClaimFigures | UnsetType,
        Meta(
            description="Whether rating and capacity are believable for a cell of its size, in air of 25 °C; "
            "needs the cells' capacity and size."
        ),
    ] = UNSET
    working: envelope.Working
    assumptions: envelope.Assumptions
    findings: envelope.Findings
    cautions: envelope.Cautions = CAUTIONS
    links: envelope.Links


class _Parts(NamedTuple):
    """What a kind of load contributes."""

    verdict: Verdict
    hottest_a: float
    headroom: float
    load: DirectLoadFigures | ConverterLoadFigures
    figures: dict[str, Any]
    working: list[Step]
    findings: list[Finding]
    question_id: str
    question: direct_load.DirectLoad | converter_load.ConverterLoad
    among: frozenset[str]


Part = TypeVar("Part", bound=Struct)


def _part(kind: type[Part], asked: Assessment, **own: Any) -> Part:
    """Return the question of a part: the fields it shares with the assessment, and its own."""
    names = _shared(kind, tuple(own))
    return kind(**dict(zip(names, values(asked, names), strict=True)), **own)


@cache
def _shared(kind: type[Struct], own: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(name for name in kind.__struct_fields__ if name not in own)


_DIRECT = frozenset(direct_load.DirectLoad.__struct_fields__)
_CONVERTER = frozenset(converter_load.ConverterLoad.__struct_fields__)
_PACK = frozenset(pack.Pack.__struct_fields__)
_RUNNING = frozenset({"cell_health"})  # besides what the load and the pack have too
_WARMTH = frozenset(TemperatureRise.__struct_fields__)


def _direct(asked: Assessment, wired: Wiring) -> _Parts:
    sharing = Sharing.ALLOWANCE if asked.sharing is UNSET else asked.sharing
    load = _part(direct_load.DirectLoad, asked, sharing=sharing)
    got = direct_load.figures(load, wired)
    verdict, working, findings = direct_load.explain(load, wired, got)
    limit = _part(lowest_resistance.LowestResistance, asked, sharing=sharing)
    lowest = lowest_resistance.figures(limit, wired)
    reading = lowest_resistance.reading_ohm(limit, lowest.lowest_resistance_ohm)
    limit_working, limit_findings = lowest_resistance.explain(limit, wired, lowest, reading)
    return _Parts(
        verdict,
        got.hottest_cell_current_a,
        got.headroom,
        got,
        {
            "direct_load": got,
            "lowest_resistance": DirectLimit(**structs.asdict(lowest), lowest_reading_ohm=reading),
        },
        working + limit_working,
        _joined(findings, limit_findings),
        "direct-load",
        load,
        _DIRECT,
    )


def _converter(asked: Assessment, wired: Wiring) -> _Parts:
    sharing = Sharing.EVEN if asked.sharing is UNSET else asked.sharing
    load = _part(converter_load.ConverterLoad, asked, sharing=sharing)
    got = converter_load.figures(load, wired)
    verdict, working, findings = converter_load.explain(load, wired, got)
    limit = _part(highest_power.HighestPower, asked, sharing=sharing)
    highest = highest_power.figures(limit, wired)
    limit_working, limit_findings = highest_power.explain(limit, wired, highest)
    return _Parts(
        verdict,
        got.hottest_cell_current_a,
        got.headroom,
        got,
        {"converter_load": got, "highest_power": highest},
        working + limit_working,
        _joined(findings, limit_findings),
        "converter-load",
        load,
        _CONVERTER,
    )


def _running(asked: Assessment, loaded: Struct) -> RunningTime:
    """Return the question of the running time: all that shortens it is taken at its worst."""
    shared = {
        name: getattr(asked, name)
        for name in RunningTime.__struct_fields__
        # the running time is told in all, not in draws
        if name in Assessment.__struct_fields__ and name not in ("draw_length_s", "pause_s")
    }
    shared["cell_resistance_ohm"] += asked.cell_resistance_tolerance_ohm
    if isinstance(loaded, DirectLoadFigures):
        shared["coil_resistance_ohm"] = loaded.coil_resistance_lowest_ohm
    else:
        shared["output_power_w"] += asked.output_power_tolerance_w
        shared["efficiency"] -= asked.efficiency_tolerance
    return RunningTime(**shared)


def _warmth(asked: Assessment, hottest_a: float) -> TemperatureRise:
    """Return the question of the temperature of the hardest-worked cell."""
    shared = {
        name: getattr(asked, name) for name in _WARMTH if name in Assessment.__struct_fields__
    }
    return TemperatureRise(cell_current_a=hottest_a, **shared)


def _joined(findings: list[Finding], more: list[Finding]) -> list[Finding]:
    """Add what other parts found, each rule once: the first to apply it knows most of its numbers."""
    found = {finding.rule for finding in findings}
    return findings + [finding for finding in more if finding.rule not in found]


def _refuse_contradictions(asked: Assessment) -> None:
    """Hold the voltages against each other, also where this load does not use both of them."""
    preset = VOLTAGES[asked.chemistry]
    cutoff_v, charged_v = asked.cell_cutoff_voltage_v, asked.cell_charged_voltage_v
    refuse_cutoff(
        preset.cutoff_v if cutoff_v is UNSET else cutoff_v,
        preset.charged_v if charged_v is UNSET else charged_v,
    )


def answer(asked: Assessment) -> AssessmentAnswer:
    """Answer for one pack and load."""
    wired = wiring(asked.layout)
    direct = is_direct(asked.coil_resistance_ohm, asked.output_power_w)
    _refuse_contradictions(asked)
    parts = _direct(asked, wired) if direct else _converter(asked, wired)
    shown, working, findings, among = parts.figures, parts.working, parts.findings, parts.among
    if asked.cell_capacity_ah is not UNSET:
        part = _part(pack.Pack, asked)
        got = pack.figures(part, wired)
        pack_working, pack_findings = pack.explain(part, wired, got)
        shown["pack"] = got
        working += pack_working
        findings = _joined(findings, pack_findings)
        among |= _PACK
        if asked.chemistry.value in PUBLISHED:
            running = _running(asked, parts.load)
            run = running_time.run_of(running, wired)
            ran = running_time.figures_of(running, wired, run)
            ran_working, ran_findings = running_time.explain(running, wired, ran, run)
            shown["running_time"] = ran
            working += ran_working
            findings = _joined(findings, ran_findings)
            among |= _RUNNING
        else:
            name = VOLTAGES[asked.chemistry].name
            sentence = f"No curve stands for {name}: the running time is left out."
            findings = [*findings, finding(rules.NO_CURVE, sentence)]
    stand_ins: list[Assumption] = []
    if asked.cell_size is not UNSET:
        warmth = _warmth(asked, parts.hottest_a)
        warm = temperature_rise.plain(temperature_rise.figures(warmth))
        warm_working, warm_findings = temperature_rise.explain(warmth, warm)
        shown["temperature"] = warm
        working += warm_working
        findings = _joined(findings, warm_findings)
        among |= _WARMTH
        stand_ins = temperature_rise.stand_ins(warmth)
        if asked.cell_capacity_ah is not UNSET:
            # what is printed is judged where it was printed for, and not where the pack is used
            printed = _part(ClaimAsked, asked, ambient_temperature_c=temperature_rise.AMBIENT_C)
            judged = claim.figures(printed)
            shown["claim"] = judged
            working += claim.working_of(printed, judged)
            findings = _joined(findings, claim.findings_of(printed, judged))
            stand_ins += claim.stand_ins(printed)
    findings = [*findings, charging.by_layout(wired)]
    # a voltage that was given is looked at even where this load does not use it
    findings = _joined(
        findings, charged_above_chemistry(asked.chemistry, asked.cell_charged_voltage_v)
    )
    if asked.cell_cutoff_voltage_v is not UNSET:
        findings = _joined(findings, cutoff_below_end(asked.chemistry, asked.cell_cutoff_voltage_v))
    assumed = assumptions(asked, among) + stand_ins
    if asked.sharing is UNSET:
        assumed.append(sharing_in_use(Sharing.ALLOWANCE if direct else Sharing.EVEN))
    return AssessmentAnswer(
        verdict=parts.verdict,
        hottest_cell_current_a=parts.hottest_a,
        headroom=parts.headroom,
        layout=wired.text,
        **shown,
        working=working,
        assumptions=assumed,
        findings=findings,
        links=envelope.links(parts.question_id, parts.question),
    )
