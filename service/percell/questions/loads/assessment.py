"""Is each cell within its rating, and what else is there to know about this pack and load?"""

from functools import cache
from typing import Annotated, Any, TypeVar, cast

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics.curves import PUBLISHED
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, Links, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, Judged, Question, Subject
from percell.questions.answering.voltage_findings import (
    charged_above_chemistry,
    cutoff_below_end,
    refuse_cutoff,
)
from percell.questions.cell import charging, label_check, temperature_rise
from percell.questions.cell.label_check import LabelCheck, LabelCheckFigures
from percell.questions.cell.temperature_rise import (
    Surroundings,
    SurroundingsField,
    TemperatureRise,
    TemperatureRiseFigures,
)
from percell.questions.loads import (
    converter_load,
    direct_load,
    highest_power,
    lowest_resistance,
    pack,
    rules,
    running_time,
)
from percell.questions.loads.converter_load import (
    ConverterLoad,
    ConverterLoadFigures,
    Corner,
    CutoffBasis,
    CutoffBasisField,
)
from percell.questions.loads.direct_load import DirectLoad, DirectLoadFigures
from percell.questions.loads.highest_power import HighestPowerFigures
from percell.questions.loads.lowest_resistance import LowestResistanceFigures
from percell.questions.loads.pack import PackFigures
from percell.questions.loads.pack_and_load import cutoff_v, is_direct, sharing_in_use
from percell.questions.loads.running_time import RunningTime, RunningTimeFigures
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Layout, Wiring, wiring
from percell.questions.vocabulary.read_fields import Reader, reader
from percell.questions.vocabulary.rules import Finding, each_once, finding
from percell.questions.vocabulary.sharing import Sharing, SharingField
from percell.questions.vocabulary.sizes import CellSizeField
from percell.questions.vocabulary.verdict import VerdictField
from percell.questions.vocabulary.wording import given, shown


class Assessment(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack and its load: a coil resistance for a direct load, or an output power for a converter."""

    layout: Layout
    cell_rating_a: fields.CellRatingA
    coil_resistance_ohm: fields.CoilResistanceOhm | UnsetType = UNSET
    output_power_w: fields.OutputPowerW | UnsetType = UNSET
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    cell_health: fields.StateOfHealth = 1.0
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
    draw_length_s: fields.DrawLengthS = fields.DRAW_LENGTH_S
    pause_s: fields.PauseS = fields.PAUSE_S
    ambient_temperature_c: temperature_rise.AmbientTemperatureC = temperature_rise.AMBIENT_C
    surroundings: SurroundingsField = Surroundings.POCKET
    stop_temperature_c: temperature_rise.StopTemperatureC = temperature_rise.STOP_C


class LowestResistanceLimit(LowestResistanceFigures, frozen=True, kw_only=True):
    """The limit for a direct load."""

    lowest_reading_ohm: Annotated[float, figure("Ω", "The meter must show at least this.")]


class AssessmentFigures(Struct, frozen=True, kw_only=True):
    """One verdict, the parts that it rests on, and what was found."""

    verdict: VerdictField
    worst_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell, by the chosen sharing.")
    ]
    headroom: Annotated[
        float, figure("1", "What is left of the rating; negative when it is passed.")
    ]
    layout: Annotated[str, fields.text("The layout, as read.")]
    direct_load: Annotated[
        DirectLoadFigures | UnsetType, Meta(description="With a coil on the pack.")
    ] = UNSET
    lowest_resistance: Annotated[
        LowestResistanceLimit | UnsetType, Meta(description="The limit for a coil on the pack.")
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
    temperature_rise: Annotated[
        TemperatureRiseFigures | UnsetType,
        Meta(
            description="Estimate of how warm the worst-case cell gets, draw after draw and without a "
            "pause; needs the cells' size."
        ),
    ] = UNSET
    label_check: Annotated[
        LabelCheckFigures | UnsetType,
        Meta(
            description="Whether rating and capacity are believable for a cell of its size, in air of 25 °C; "
            "needs the cells' capacity and size."
        ),
    ] = UNSET


class _Parts(Struct):
    """The results of the parts so far. The load comes first, and gives the verdict."""

    links: Links
    load: Judged[DirectLoadFigures] | Judged[ConverterLoadFigures]
    shown: dict[str, Any]
    working: list[WorkingStep]
    findings: list[Finding]
    # the fields whose defaults count, and further assumptions
    rests_on: frozenset[str]
    assumed: list[Assumption]

    def also(
        self,
        part: Explained[Struct],
        rests_on: frozenset[str] = frozenset(),
        **shown: Struct,
    ) -> None:
        """Add the result of a part."""
        self.working += part.working
        self.found(part.findings)
        self.rests_on |= rests_on
        self.shown |= shown

    def found(self, findings: list[Finding]) -> None:
        """Add findings, each rule once."""
        self.findings = each_once(self.findings, findings)


Part = TypeVar("Part", bound=Struct)


def _part(kind: type[Part], asked: Assessment, **own: Any) -> Part:
    """Return the question of a part, with the fields that it shares with the assessment."""
    names, read = _shared(kind, tuple(own))
    return kind(**dict(zip(names, read(asked), strict=True)), **own)


@cache
def _shared(kind: type[Struct], own: tuple[str, ...]) -> tuple[tuple[str, ...], Reader]:
    names = tuple(
        name
        for name in kind.__struct_fields__
        if name in Assessment.__struct_fields__ and name not in own
    )
    return names, reader(names)


_DIRECT = frozenset(DirectLoad.__struct_fields__)
_CONVERTER_AT_REST = frozenset(ConverterLoad.__struct_fields__)
_CONVERTER = converter_load.without_sag(ConverterLoad)
_PACK = frozenset(pack.Pack.__struct_fields__)
# beyond the fields of the load and the pack
_RUNNING = frozenset({"cell_health", "cell_resistance_tolerance_ohm"})
_WARMTH = frozenset(TemperatureRise.__struct_fields__)


# Sharing is the only field whose default differs between an assessment and a load. With it set, an
# assessment has every field of its load by the same name, so no copy is needed.
def _shared_by(asked: Assessment, usual: Sharing) -> Assessment:
    """Return the assessment with the usual way of sharing, unless the caller gave one."""
    return structs.replace(asked, sharing=usual) if asked.sharing is UNSET else asked


def _direct(asked: Assessment, wired: Wiring) -> _Parts:
    question = cast(DirectLoad, _shared_by(asked, Sharing.ALLOWANCE))
    load = direct_load.explain(question)
    lowest = lowest_resistance.figures(question)
    reading = lowest_resistance.reading_ohm(question, lowest.lowest_resistance_ohm)
    limit = LowestResistanceLimit(**structs.asdict(lowest), lowest_reading_ohm=reading)
    return _Parts(
        direct_load.QUESTION.links(question),
        load,
        {"direct_load": load.figures, "lowest_resistance": limit},
        load.working + lowest_resistance.working_of(question, wired, lowest, reading),
        # the findings about the load cover the limit
        load.findings,
        _DIRECT,
        [sharing_in_use(Sharing.ALLOWANCE)] if asked.sharing is UNSET else [],
    )


def _converter(asked: Assessment, wired: Wiring) -> _Parts:
    question = cast(ConverterLoad, _shared_by(asked, Sharing.EVEN))
    at = converter_load.corner(question, wired)
    load = converter_load.explain_at(question, wired, at)
    highest = highest_power.figures_at(question, wired, at)
    return _Parts(
        converter_load.QUESTION.links(question),
        load,
        {"converter_load": load.figures, "highest_power": highest},
        load.working + highest_power.working_of(question, wired, at, highest),
        each_once(load.findings, _about_the_limit(question, wired, at, highest)),
        _CONVERTER_AT_REST if asked.cutoff_basis is CutoffBasis.AT_REST else _CONVERTER,
        [sharing_in_use(Sharing.EVEN)] if asked.sharing is UNSET else [],
    )


def _about_the_limit(
    asked: ConverterLoad, wired: Wiring, at: Corner, highest: HighestPowerFigures
) -> list[Finding]:
    """Return the findings about the highest power alone: they need not hold for a lower load."""
    found = highest_power.nothing_left(asked, highest)
    if asked.cutoff_basis is CutoffBasis.UNDER_LOAD:
        return found  # no other finding depends on the power
    for one in converter_load.wiring_findings(
        asked, wired, at, input_power_w=highest.input_power_w
    ):
        limit_w = shown(highest.highest_power_w)
        sentence = f"At the highest power within the rating, {limit_w} W: {one.sentence}"
        found.append(structs.replace(one, sentence=sentence))
    return found


def _running(asked: Assessment, loaded: Struct) -> RunningTime:
    """Return the question of the running time, with every tolerance at its worst."""
    resistance_ohm = asked.cell_resistance_ohm + asked.cell_resistance_tolerance_ohm
    # the assessment gives the running time as a whole, not in draws
    own: dict[str, Any] = {"draw_length_s": UNSET, "pause_s": UNSET}
    own["cell_resistance_ohm"] = resistance_ohm
    if isinstance(loaded, DirectLoadFigures):
        own["coil_resistance_ohm"] = loaded.lowest_true_resistance_ohm
    else:
        own["output_power_w"] = cast(float, asked.output_power_w) + asked.output_power_tolerance_w
        own["efficiency"] = asked.efficiency - asked.efficiency_tolerance
    return _part(RunningTime, asked, **own)


def _add_pack(parts: _Parts, asked: Assessment) -> None:
    got = pack.explain(_part(pack.Pack, asked))
    parts.also(got, _PACK, pack=got.figures)


def _add_running_time(parts: _Parts, asked: Assessment) -> None:
    if asked.chemistry.value not in PUBLISHED:
        name = VOLTAGES[asked.chemistry].name
        sentence = f"No curve stands for {name}: the running time is left out."
        parts.found([finding(shared_rules.NO_CURVE, sentence)])
        return
    running = _running(asked, parts.load.figures)
    got = running_time.explain_run(running)
    parts.also(got, _RUNNING, running_time=got.figures)
    if asked.output_power_w is not UNSET and asked.cutoff_basis is CutoffBasis.AT_REST:
        sentence = f"The running time takes the cut-off of {given(cutoff_v(running))} V as one under load, not at rest."
        parts.found([finding(rules.RUN_ENDS_UNDER_LOAD, sentence)])


def _add_temperature_rise(parts: _Parts, asked: Assessment) -> None:
    """Add how warm the worst-case cell gets."""
    worst_cell_a = parts.load.figures.worst_cell_current_a
    warmth = _part(TemperatureRise, asked, cell_current_a=worst_cell_a)
    got = temperature_rise.explain(warmth)
    parts.also(got, _WARMTH, temperature_rise=got.figures)
    parts.assumed += temperature_rise.stand_ins(warmth)


def _add_label_check(parts: _Parts, asked: Assessment) -> None:
    # a label is checked at the usual temperature, not at the pack's
    printed = _part(LabelCheck, asked, ambient_temperature_c=temperature_rise.AMBIENT_C)
    got = label_check.explain(printed)
    parts.also(got, label_check=got.figures)
    parts.assumed += label_check.stand_ins(printed)


def _refuse_contradictions(asked: Assessment) -> None:
    """Refuse voltages that contradict each other, even if this load does not use both."""
    preset = VOLTAGES[asked.chemistry]
    lowest_v, highest_v = asked.cell_cutoff_voltage_v, asked.cell_charged_voltage_v
    refuse_cutoff(
        preset.cutoff_v if lowest_v is UNSET else lowest_v,
        preset.charged_v if highest_v is UNSET else highest_v,
    )


def _voltage_findings(asked: Assessment) -> list[Finding]:
    """Return the findings about the given voltages, even if this load does not use them."""
    found = charged_above_chemistry(asked.chemistry, asked.cell_charged_voltage_v)
    if asked.cell_cutoff_voltage_v is not UNSET:
        found += cutoff_below_end(asked.chemistry, asked.cell_cutoff_voltage_v)
    return found


def explain(asked: Assessment) -> Explained[AssessmentFigures]:
    """Answer for one pack and load."""
    wired = wiring(asked.layout)
    direct = is_direct(asked.coil_resistance_ohm, asked.output_power_w)
    _refuse_contradictions(asked)
    parts = _direct(asked, wired) if direct else _converter(asked, wired)
    has_capacity = asked.cell_capacity_ah is not UNSET
    if has_capacity:
        _add_pack(parts, asked)
        _add_running_time(parts, asked)
    if asked.cell_size is not UNSET:
        _add_temperature_rise(parts, asked)
        if has_capacity:
            _add_label_check(parts, asked)
    parts.findings.append(charging.by_layout(wired))
    parts.found(_voltage_findings(asked))
    figures = AssessmentFigures(
        verdict=parts.load.verdict,
        worst_cell_current_a=parts.load.figures.worst_cell_current_a,
        headroom=parts.load.figures.headroom,
        layout=wired.text,
        **parts.shown,
    )
    return Explained(
        figures=figures,
        working=parts.working,
        findings=parts.findings,
        assumptions=assumptions(asked, parts.rests_on) + parts.assumed,
        links=parts.links,
    )


QUESTION = Question(
    id="assessment",
    subject=Subject.LOADS,
    title="Full assessment of a pack and its load",
    description="One verdict for a pack with a coil or behind a converter, with everything that the "
    "other questions say about it.",
    asked=Assessment,
    shows=AssessmentFigures,
    explain=explain,
    headline=Headline(
        field="worst_cell_current_a",
        says="The worst-case cell carries",
        unit="A",
        decimals=1,
        round=Rounding.UP,
    ),
    example={
        "layout": "2S1P",
        "cell_rating_a": 25,
        "output_power_w": 80,
        "cell_capacity_ah": 2.5,
    },
)
