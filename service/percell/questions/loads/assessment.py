"""Is each cell within its rating, and what else is there to know about this pack and load?"""

from functools import cache
from typing import Annotated, Any, ClassVar, TypeVar, cast

from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics.meter import rounded_down
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.cold_findings import cold_findings
from percell.questions.answering.envelope import Assumption, Links, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.answering.voltage_findings import (
    charged_voltage,
    end_voltage,
    refuse_cutoff,
)
from percell.questions.cell import charging, label_check, temperature_rise, warmth
from percell.questions.cell.label_check import LabelCheck, LabelCheckFigures
from percell.questions.cell.label_doubt import with_doubt
from percell.questions.cell.temperature_rise import (
    SurroundingsField,
    TemperatureRise,
    TemperatureRiseFigures,
)
from percell.questions.loads import (
    coil,
    converter_load,
    direct_load,
    highest_power,
    lowest_resistance,
    pack,
    rules,
    running_time,
)
from percell.questions.loads.cell_model import has_curve
from percell.questions.loads.converter_load import (
    ConverterLoad,
    ConverterLoadFigures,
    CutoffBasis,
    CutoffBasisField,
)
from percell.questions.loads.direct_load import DirectLoad, DirectLoadFigures
from percell.questions.loads.highest_power import HighestPowerFigures
from percell.questions.loads.lowest_resistance import LowestResistance, LowestResistanceFigures
from percell.questions.loads.pack import PackFigures
from percell.questions.loads.pack_and_load import (
    LOAD_AND_CELL,
    STOPS_EARLY,
    UNSTOPPED,
    curve_assumed,
    cutoff_v,
)
from percell.questions.loads.pack_run import RunningTime, RunningTimeFigures
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import at_usual_temperature
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Layout, Wiring, wiring
from percell.questions.vocabulary.limits import Held, Limit, missing, not_judged, together
from percell.questions.vocabulary.measured_discharge import MeasuredDischargeField
from percell.questions.vocabulary.presence import Presence
from percell.questions.vocabulary.read_fields import Reader, reader
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import Sharing, SharingField
from percell.questions.vocabulary.sizes import CellSizeField
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import given


class Assessment(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack and its load: a coil resistance for a direct load, or an output power for a converter."""

    presence: ClassVar[tuple[Presence, ...]] = LOAD_AND_CELL

    layout: Layout
    cell_rating_a: fields.CellRatingA
    coil_reading_ohm: fields.CoilReadingOhm | UnsetType = UNSET
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
    cell_resistance_ohm: fields.CellResistanceOhm | UnsetType = UNSET
    cell_resistance_after_s: fields.CellResistanceAfterS = fields.AFTER_S
    measured_discharge: MeasuredDischargeField | UnsetType = UNSET
    cell_resistance_tolerance_ohm: fields.CellResistanceToleranceOhm = 0.0
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    device_resistance_ohm: fields.DeviceResistanceOhm = 0.0
    coil_resistance_tolerance_ohm: fields.CoilResistanceToleranceOhm = 0.0
    meter_accuracy: fields.MeterAccuracy = fields.METER_ACCURACY
    meter_counts: fields.MeterCounts = fields.METER_COUNTS
    meter_resolution_ohm: fields.MeterResolutionOhm = fields.METER_RESOLUTION_OHM
    lead_resistance_ohm: fields.LeadResistanceOhm = 0.0
    output_power_tolerance_w: fields.OutputPowerToleranceW = 0.0
    efficiency: fields.Efficiency = fields.EFFICIENCY
    efficiency_tolerance: fields.EfficiencyTolerance = 0.0
    idle_power_w: fields.IdlePowerW = 0.0
    sharing: SharingField = Sharing.CAREFUL
    cell_size: CellSizeField | UnsetType = UNSET
    draw_length_s: fields.DrawLengthS = fields.DRAW_LENGTH_S
    pause_s: fields.PauseS = fields.PAUSE_S
    ambient_temperature_c: warmth.AmbientTemperatureC = warmth.AMBIENT_C
    surroundings: SurroundingsField | UnsetType = UNSET
    stop_temperature_c: warmth.StopTemperatureC = warmth.STOP_C


class AssessmentFigures(Struct, frozen=True, kw_only=True):
    """Figures of each part of the assessment."""

    worst_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell, with the chosen sharing.")
    ]
    headroom: Annotated[float, figure("1", "Unused part of the rating, negative if exceeded.")]
    layout: Annotated[str, fields.text("Layout, as read.")]
    direct_load: Annotated[
        DirectLoadFigures | UnsetType,
        Meta(description="Answer for a coil wired straight to the pack."),
    ] = UNSET
    lowest_resistance: Annotated[
        LowestResistanceFigures | UnsetType,
        Meta(description="Lowest resistance of a coil wired straight to the pack."),
    ] = UNSET
    converter_load: Annotated[
        ConverterLoadFigures | UnsetType, Meta(description="Answer for a converter.")
    ] = UNSET
    highest_power: Annotated[
        HighestPowerFigures | UnsetType,
        Meta(description="Highest power of a converter."),
    ] = UNSET
    pack: Annotated[
        PackFigures | UnsetType, Meta(description="Figures of the pack. Needs `cell_capacity_ah`.")
    ] = UNSET
    running_time: Annotated[
        RunningTimeFigures | UnsetType,
        Meta(
            description=(
                "Running time of a full pack down to its cut-off under load, with every tolerance at its worst "
                "case. Needs `cell_capacity_ah`, and a chemistry with a curve or a `measured_discharge`."
            )
        ),
    ] = UNSET
    temperature_rise: Annotated[
        TemperatureRiseFigures | UnsetType,
        Meta(
            description=(
                "Estimated temperature of the worst-case cell, draw after draw and without a pause. Needs "
                "`cell_size`."
            )
        ),
    ] = UNSET
    label_check: Annotated[
        LabelCheckFigures | UnsetType,
        Meta(
            description=(
                "Whether rating and capacity are believable for a cell of this size, in air of 25 °C. Needs "
                "`cell_capacity_ah` and `cell_size`."
            )
        ),
    ] = UNSET


class _Parts(Struct):
    """The results of the parts so far. The load comes first."""

    links: Links
    load: Explained[DirectLoadFigures] | Explained[ConverterLoadFigures]
    shown: dict[str, Any]
    working: list[WorkingStep]
    held: list[Held]
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
        self.holds(part.limits, part.findings)
        self.rests_on |= rests_on
        self.shown |= shown

    def holds(self, limits: list[Limit], findings: list[Finding]) -> None:
        """Add limits and findings."""
        self.held.append(Held(limits, findings))


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
_CONVERTER = frozenset(ConverterLoad.__struct_fields__)
_PACK = frozenset(pack.Pack.__struct_fields__)
# beyond the fields of the load and the pack
_RUNNING = frozenset({"cell_health", "cell_resistance_tolerance_ohm"})
_WARMTH = frozenset(TemperatureRise.__struct_fields__)


# An assessment has every field of its load by the same name, so the load's functions take it as it is.
def _direct(asked: Assessment, wired: Wiring) -> _Parts:
    question = cast(DirectLoad, asked)
    load = direct_load.explain(question)
    limited = cast(LowestResistance, asked)
    lowest = lowest_resistance.figures(limited)
    return _Parts(
        direct_load.QUESTION.links(question),
        load,
        {"direct_load": load.figures, "lowest_resistance": lowest},
        load.working + lowest_resistance.working_of(limited, wired, lowest),
        # what holds for the load holds for the limit
        [Held(load.limits, load.findings)],
        _DIRECT - (frozenset(coil.METER) if asked.coil_reading_ohm is UNSET else frozenset()),
        [],
    )


def _converter(asked: Assessment, wired: Wiring) -> _Parts:
    question = cast(ConverterLoad, asked)
    at = converter_load.corner(question, wired)
    load = converter_load.explain_at(question, wired, at)
    highest = highest_power.figures_at(question, wired, at)
    about_the_limit = highest_power.nothing_left(question, highest) or _beyond(
        question, wired, at, highest
    )
    return _Parts(
        converter_load.QUESTION.links(question),
        load,
        {"converter_load": load.figures, "highest_power": highest},
        load.working + highest_power.working_of(question, wired, at, highest),
        [Held(load.limits, load.findings), Held([], about_the_limit)],
        # what a minute takes out of the cells counts by what they still hold
        _CONVERTER | ({"cell_health"} if asked.cutoff_basis is CutoffBasis.AT_REST else set()),
        converter_load.of_a_minute(question),
    )


def _beyond(
    asked: ConverterLoad, wired: Wiring, at: converter_load.Corner, highest: HighestPowerFigures
) -> list[Finding]:
    """Return the finding about a highest power at which another limit than the rating is exceeded."""
    there = converter_load.limits_of_emptying(asked, wired, at, highest.input_power_w)
    over = [one.name.words for one in there.limits if one.verdict is Verdict.OVER]
    if not over:
        return []
    sentence = (
        "The highest power within the rating is "
        f"{given(rounded_down(value=highest.highest_power_w, step=0.1))} W. At that power the pack exceeds "
        f"another limit: {', '.join(over)}."
    )
    return [finding(rules.HIGHEST_POWER_BEYOND, sentence)]


def _running(asked: Assessment, loaded: Struct) -> RunningTime:
    """Return the question of the running time, with every tolerance at its worst."""
    # the assessment gives the running time as a whole, not in draws
    own: dict[str, Any] = {"draw_length_s": UNSET, "pause_s": UNSET}
    own["cell_temperature_c"] = asked.ambient_temperature_c
    if asked.cell_resistance_ohm is not UNSET:
        own["cell_resistance_ohm"] = asked.cell_resistance_ohm + asked.cell_resistance_tolerance_ohm
    elif asked.cell_resistance_tolerance_ohm:
        own["cell_resistance_ohm"] = (
            at_usual_temperature(asked) + asked.cell_resistance_tolerance_ohm
        )
        own["cell_resistance_after_s"] = fields.AFTER_S
    if isinstance(loaded, DirectLoadFigures):
        own |= coil.METER | {
            "coil_reading_ohm": UNSET,
            "coil_resistance_ohm": loaded.lowest_true_resistance_ohm,
            "coil_resistance_tolerance_ohm": 0.0,
        }
    else:
        own["output_power_w"] = cast(float, asked.output_power_w) + asked.output_power_tolerance_w
        own["efficiency"] = asked.efficiency - asked.efficiency_tolerance
    return _part(RunningTime, asked, **own)


def _add_pack(parts: _Parts, asked: Assessment) -> None:
    question = _part(pack.Pack, asked)
    got = pack.explain(question)
    parts.also(got, _PACK, pack=got.figures)
    parts.assumed += pack.of_a_short_circuit(question)


def _add_running_time(parts: _Parts, asked: Assessment) -> None:
    if not has_curve(asked):
        name = VOLTAGES[asked.chemistry].name
        sentence = f"There is no curve for {name}, so the running time is left out."
        parts.holds([], [finding(shared_rules.NO_CURVE, sentence)])
        return
    running = _running(asked, parts.load.figures)
    got = running_time.explain_run(running)
    if asked.measured_discharge is UNSET:
        parts.assumed.append(curve_assumed(running))
    parts.also(got, _RUNNING, running_time=got.figures)
    if asked.cell_cutoff_voltage_v is UNSET:
        time_v = cutoff_v(running)
        parts.assumed.append(Assumption("cell_cutoff_voltage_v.time", time_v, "V", STOPS_EARLY))
    if asked.output_power_w is not UNSET and asked.cutoff_basis is CutoffBasis.AT_REST:
        sentence = (
            f"The running time treats the cut-off of {given(cutoff_v(running))} V as one under load, not at "
            "rest."
        )
        parts.holds([], [finding(rules.RUN_ENDS_UNDER_LOAD, sentence)])


def _add_temperature_rise(parts: _Parts, asked: Assessment) -> None:
    """Add how warm the worst-case cell gets."""
    warming = _part(
        TemperatureRise,
        asked,
        cell_current_a=parts.load.figures.worst_cell_current_a,
    )
    got = temperature_rise.explain(warming)
    parts.also(got, _WARMTH, temperature_rise=got.figures)
    parts.assumed += temperature_rise.stand_ins(warming)
    if asked.cell_capacity_ah is UNSET and asked.cell_resistance_ohm is UNSET:
        parts.assumed.append(temperature_rise.resistance_in_heat(warming))


def _add_label_check(parts: _Parts, asked: Assessment) -> None:
    # a label is checked at the usual temperature, not at the pack's
    printed = _part(LabelCheck, asked, ambient_temperature_c=warmth.AMBIENT_C)
    got = label_check.explain_bounds(printed)
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


def _voltages(asked: Assessment) -> list[Held]:
    """Hold the voltages against their limits, even if this load does not use both."""
    lowest_v = asked.cell_cutoff_voltage_v
    if lowest_v is not UNSET:
        stop = end_voltage(asked.chemistry, lowest_v)
    elif coil.is_direct(asked):
        stop = Held([UNSTOPPED], [])
    else:
        stop = end_voltage(asked.chemistry, VOLTAGES[asked.chemistry].cutoff_v)
    return [stop, charged_voltage(asked.chemistry, asked.cell_charged_voltage_v)]


def _not_looked_at(asked: Assessment) -> list[Limit]:
    """Return the limits that need more than was given."""
    needed = "cell_size" if asked.cell_size is UNSET else "cell_capacity_ah"
    known = {LimitName.BELIEVABLE_RATING, LimitName.BELIEVABLE_CAPACITY}
    if asked.cell_size is not UNSET and asked.cell_capacity_ah is not UNSET:
        known = set()
    return [missing(name, needed) for name in LIMITS if name in known]


def _add_air(parts: _Parts, asked: Assessment) -> None:
    """Add what the air alone says of the stop temperature, where the size of the cell is not known."""
    unknown = missing(LimitName.STOP_TEMPERATURE, "cell_size")
    held = temperature_rise.without_run(
        asked.ambient_temperature_c, asked.stop_temperature_c, unknown
    )
    parts.holds(held.limits, held.findings)
    if held.findings:
        parts.rests_on |= {"stop_temperature_c"}


def _if_believable(limits: list[Limit]) -> list[Limit]:
    """Return the limits; where the label is not believable, its rating judges nothing as within."""
    doubted = any(
        one.name in (LimitName.BELIEVABLE_RATING, LimitName.BELIEVABLE_CAPACITY)
        and one.verdict is Verdict.OVER
        for one in limits
    )
    if not doubted:
        return limits
    return [
        not_judged(one, "the label is not believable")
        if one.name is LimitName.CONTINUOUS_RATING
        else one
        for one in limits
    ]


def explain(asked: Assessment) -> Explained[AssessmentFigures]:
    """Answer for one pack and load."""
    wired = wiring(asked.layout)
    direct = coil.is_direct(asked)
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
    else:
        _add_air(parts, asked)
    parts.held += _voltages(asked)
    parts.holds([], cold_findings(asked.ambient_temperature_c))
    parts.holds(_not_looked_at(asked), [charging.by_layout(wired)])
    held = together(*parts.held)
    figures = AssessmentFigures(
        worst_cell_current_a=parts.load.figures.worst_cell_current_a,
        headroom=parts.load.figures.headroom,
        layout=wired.text,
        **parts.shown,
    )
    got = Explained(
        figures=figures,
        working=parts.working,
        limits=_if_believable(held.limits),
        findings=held.findings,
        # the resistance is that in the cold or warmth of the air
        assumptions=assumptions(asked, parts.rests_on | {"ambient_temperature_c"}) + parts.assumed,
        links=parts.links,
    )
    # with size and capacity the check of the label has said it
    checked = has_capacity and asked.cell_size is not UNSET
    return got if checked else with_doubt(asked, got)


LIMITS = (
    LimitName.CONTINUOUS_RATING,
    LimitName.AVAILABLE_POWER,
    LimitName.END_VOLTAGE,
    LimitName.CHARGED_VOLTAGE,
    LimitName.STOP_TEMPERATURE,
    LimitName.BELIEVABLE_RATING,
    LimitName.BELIEVABLE_CAPACITY,
)

QUESTION = Question(
    id="assessment",
    subject=Subject.LOADS,
    title="Full assessment of a pack and its load",
    description=(
        "Whether a pack with a coil or a converter stays within every limit, with the answers of the other "
        "questions about it."
    ),
    asked=Assessment,
    shows=AssessmentFigures,
    limits=LIMITS,
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
