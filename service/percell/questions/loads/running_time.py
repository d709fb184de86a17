"""How long does a pack run under its load?"""

from typing import Annotated, Any, cast

import numpy as np
from msgspec import UNSET, Struct, UnsetType, structs

from percell.physics.curves import Curve
from percell.physics.discharge import Run, converter_run, direct_run, draws
from percell.physics.meter import NOISE, rounded_up
from percell.physics.types import Number, as_given
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.figures import plain
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.voltage_findings import resistance_assumed
from percell.questions.loads import coil, rules
from percell.questions.loads.pack_and_load import (
    PackAndLoad,
    curve_findings,
    cutoff_v,
    defaults_in_use,
    full_voltage,
    load_of,
    rest_curve,
    stop_voltage,
)
from percell.questions.loads.running_time_deviations import Widest, widest
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import HIGHEST_RATING_A, figure
from percell.questions.vocabulary.layout import Layout, wiring
from percell.questions.vocabulary.limits import (
    Held,
    Limit,
    missing,
    over,
    together,
    unbounded,
)
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, Severity, finding
from percell.questions.vocabulary.wording import count_of, given, shown

# if less than this part of the charge is used, a finding says that much is left
LITTLE_USED = 0.5


class RunningTime(PackAndLoad, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack that is run down by its load."""

    layout: Layout
    cell_capacity_ah: fields.CellCapacityAh
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    draw_length_s: fields.DrawLengthS | UnsetType = UNSET
    pause_s: fields.PauseS | UnsetType = UNSET
    standby_current_a: fields.StandbyCurrentA = 0.0


class RunningTimeFigures(Struct, frozen=True, gc=False):
    """A discharge from its start to the cut-off under load. Currents are the pack's unless said."""

    running_time_s: Annotated[float, figure("s", "Time under load until the cut-off.")]
    used_capacity: Annotated[
        float, figure("1", "Charge delivered, as a part of the capacity printed on the cells.")
    ]
    pack_delivered_charge_ah: Annotated[float, figure("Ah", "Charge that the pack delivers.")]
    load_energy_wh: Annotated[float, figure("Wh", "Energy that reaches coil or output.")]
    pack_released_energy_wh: Annotated[float, figure("Wh", "Energy that the cells give up.")]
    heat_wh: Annotated[float, figure("Wh", "Part of it that heats cells and contacts.")]
    pack_mean_current_a: Annotated[float, figure("A", "Mean current.")]
    pack_first_current_a: Annotated[float, figure("A", "Current at the start, with sag.")]
    pack_last_current_a: Annotated[float, figure("A", "Current at the end, with sag.")]
    pack_highest_current_a: Annotated[float, figure("A", "Highest current on the way, with sag.")]
    even_cell_highest_current_a: Annotated[
        float, figure("A", "Highest current of each cell on the way, if shared evenly.")
    ]


class RunningTimeDetails(Struct, frozen=True, kw_only=True):
    """The draws, where their length is given, and the current, where the rating is."""

    draws: Annotated[
        float | UnsetType, figure("1", "Whole draws of the given length; with draw_length_s only.")
    ] = UNSET
    drawing_time_s: Annotated[
        float | UnsetType,
        figure(
            "s",
            "From the start of the first draw to the end of the last, pauses included; with pause_s only.",
        ),
    ] = UNSET
    worst_cell_current_a: Annotated[
        float | UnsetType,
        figure(
            "A",
            "Current of the worst-case cell at the worst corner, where the verdict is taken; with "
            "cell_rating_a only.",
        ),
    ] = UNSET
    headroom: Annotated[
        float | UnsetType, figure("1", "What is left of the rating; negative when it is passed.")
    ] = UNSET


def run_of(asked: RunningTime, *, coil_ohm: Number | None = None) -> Run:
    """Simulate the discharge of one question, or of a whole table; a coil has its lowest resistance."""
    wired = wiring(asked.layout)
    if coil.is_direct(asked):
        coil.refuse_unused_meter(asked)
        return direct_run(
            load_resistance_ohm=coil.lowest_ohm(asked) if coil_ohm is None else coil_ohm,
            device_resistance_ohm=asked.device_resistance_ohm,
            series=wired.series,
            parallel=wired.parallel,
            capacity_ah=asked.cell_capacity_ah * asked.cell_health,
            resistance_ohm=asked.cell_resistance_ohm,
            contact_resistance_ohm=asked.contact_resistance_ohm,
            cutoff_v=cutoff_v(asked),
            start_soc=asked.state_of_charge,
            curve=rest_curve(asked),
        )
    return converter_run(
        output_power_w=cast(float, asked.output_power_w),
        efficiency=asked.efficiency,
        idle_power_w=asked.idle_power_w,
        series=wired.series,
        parallel=wired.parallel,
        capacity_ah=asked.cell_capacity_ah * asked.cell_health,
        resistance_ohm=asked.cell_resistance_ohm,
        contact_resistance_ohm=asked.contact_resistance_ohm,
        cutoff_v=cutoff_v(asked),
        start_soc=asked.state_of_charge,
        curve=rest_curve(asked),
    )


def figures(asked: RunningTime) -> RunningTimeFigures:
    """Calculate the figures of one question, or of a whole table."""
    if not coil.is_direct(asked) or not np.ndim(ohms := coil.lowest_ohm(asked)):
        return figures_of(asked, run_of(asked))
    # a coil that may be a short circuit has no run: the others are followed beside a stand-in for it
    none = np.isnan(ohms)
    got = figures_of(asked, run_of(asked, coil_ohm=as_given(np.where(none, 1.0, ohms), ohms)))
    emptied: Any = {name: np.where(none, np.nan, v) for name, v in structs.asdict(got).items()}
    return RunningTimeFigures(**emptied)


def figures_of(asked: RunningTime, run: Any) -> RunningTimeFigures:
    """Return the figures of a ``Run`` as arrays; ``plain`` turns them into numbers."""
    highest_a = np.maximum(run.start_current_a, run.end_current_a)
    return RunningTimeFigures(
        running_time_s=run.time_s,
        used_capacity=run.used * asked.cell_health,
        pack_delivered_charge_ah=run.charge_ah,
        load_energy_wh=run.load_energy_wh,
        pack_released_energy_wh=run.cell_energy_wh,
        heat_wh=run.heat_wh,
        pack_mean_current_a=run.mean_current_a,
        pack_first_current_a=run.start_current_a,
        pack_last_current_a=run.end_current_a,
        pack_highest_current_a=highest_a,
        even_cell_highest_current_a=highest_a / wiring(asked.layout).parallel,
    )


def _working(asked: RunningTime, got: RunningTimeFigures) -> list[WorkingStep]:
    full_ah = asked.cell_capacity_ah * asked.cell_health * asked.state_of_charge
    if coil.is_direct(asked):
        follows = "U(z) / (R_coil + R_device), U with the sag"
    else:
        follows = "P_in / U(z), U with the sag, P_in = P / η + P_idle"
    return [
        WorkingStep(
            "Charge of each cell at the start: printed, what age has left of it, state of charge",
            "q = q_printed · h · z₀",
            f"{asked.cell_capacity_ah:.4g} Ah × {asked.cell_health:.4g} × {asked.state_of_charge:.4g}",
            full_ah,
            "Ah",
        ),
        WorkingStep(
            f"Current out of the pack at the start: I(z) = {follows}",
            "I₀ = I(z₀)",
            _load_text(asked),
            got.pack_first_current_a,
            "A",
        ),
        WorkingStep(
            f"Current at the end: a cell is down to {cutoff_v(asked):.4g} V under load, is empty, or can no "
            "longer give the power",
            "I₁ = I(z₁)",
            _load_text(asked),
            got.pack_last_current_a,
            "A",
        ),
        WorkingStep(
            "Running time: each part of the charge at its own current, summed up on the curve",
            "t = ∫ P·dq / I = Q / I_mean",
            f"{got.pack_delivered_charge_ah:.4g} Ah × 3600 s/h / {got.pack_mean_current_a:.4g} A",
            got.running_time_s,
            "s",
        ),
        WorkingStep(
            "Part of the printed capacity that is used",
            "Q / (P · q_printed)",
            f"{got.pack_delivered_charge_ah:.4g} Ah / ({wiring(asked.layout).parallel} × {asked.cell_capacity_ah:.4g} Ah)",
            got.used_capacity,
            "1",
        ),
        WorkingStep(
            "Heat in cells and contacts: what the cells give up less what leaves the pack",
            "E_heat = E_cells − ∫ U·I dt",
            f"{got.pack_released_energy_wh:.4g} Wh − {got.pack_released_energy_wh - got.heat_wh:.4g} Wh",
            got.heat_wh,
            "Wh",
        ),
    ]


def _load_text(asked: PackAndLoad) -> str:
    if coil.is_direct(asked):
        return f"R = {coil.lowest_ohm(asked):.4g} Ω + {asked.device_resistance_ohm:.4g} Ω"
    return (
        f"P_in = {asked.output_power_w:.4g} W / {asked.efficiency:.4g} + {asked.idle_power_w:.4g} W"
    )


def _findings(asked: PackAndLoad, got: RunningTimeFigures, run: Run) -> list[Finding]:
    minutes = got.running_time_s / 60
    found: list[Finding] = []
    if run.collapsed:
        found.append(
            finding(
                rules.POWER_GIVES_OUT,
                f"After {minutes:.3g} min the pack can no longer give the power, at {got.pack_last_current_a:.3g} A.",
            )
        )
    elif got.running_time_s == 0:
        found.append(
            finding(
                rules.CUTOFF_AT_ONCE,
                f"The first {shown(got.pack_first_current_a)} A pull a cell down to its cut-off of "
                f"{given(cutoff_v(asked))} V at once: the pack does not run.",
            )
        )
    elif run.used < LITTLE_USED * asked.state_of_charge * (1 - NOISE):
        found.append(
            finding(
                rules.CHARGE_LEFT,
                f"The cells deliver {got.used_capacity * 100:.0f} % of their printed capacity and still "
                f"hold {(asked.state_of_charge - run.used) * 100:.0f} % of what they can.",
            )
        )
    found += resistance_assumed(asked.cell_resistance_ohm)
    return [*found, *_hardness(asked, got), *sureness(asked)]


def sureness(asked: PackAndLoad) -> list[Finding]:
    """Return the findings about how exact a running time is, and whose sag it uses."""
    curve = rest_curve(asked)
    compared = _compared(curve)
    rough = f" {curve.note}" if curve.rough else ""
    return [
        *curve_findings(asked),
        finding(
            rules.RUNNING_TIME_ESTIMATE,
            f"Calculated on {_called(asked, curve)}. For the cell that was simulated for the sag such times lay from "
            f"{_percent(-compared.lowest)} % below to {_percent(compared.highest)} % above the simulated ones, at 25 °C. A cell of "
            "another design or resistance can last half as long or several times as long at high current, and a cold or "
            "aged one less."
            f"{rough}",
        ),
    ]


def _called(asked: PackAndLoad, curve: Curve) -> str:
    if asked.open_circuit_curve is not UNSET:
        return "your own curve"
    return f"the curve of {curve.name} ({curve.source})"


def _percent(part: float) -> str:
    """Return a deviation in percent, rounded up: it must not look smaller than it is."""
    return f"{rounded_up(value=part * 100, step=0.1):.1f}"


def _compared(curve: Curve) -> Widest:
    """Return the comparison with simulated times for the sag in use."""
    return widest(curve.under_load.partition("_")[0])


def _hardness(asked: PackAndLoad, got: RunningTimeFigures) -> list[Finding]:
    compared_v = _compared(rest_curve(asked)).highest_sag_v
    sag_v = got.even_cell_highest_current_a * asked.cell_resistance_ohm
    if sag_v <= compared_v * (1 + NOISE):
        return []
    return [
        finding(
            rules.BEYOND_COMPARED,
            f"{shown(got.even_cell_highest_current_a)} A take {shown(sag_v)} V in a cell's own resistance; the running "
            f"times were compared with simulated ones up to {shown(compared_v)} V.",
        )
    ]


def assumed(asked: RunningTime) -> list[Assumption]:
    """Return the defaults in use."""
    has_pauses = asked.pause_s is not UNSET
    return defaults_in_use(
        asked,
        judged=asked.cell_rating_a is not UNSET,
        without=frozenset() if has_pauses else frozenset({"standby_current_a"}),
    )


def _pause_s(asked: RunningTime) -> float:
    return 0.0 if asked.pause_s is UNSET else asked.pause_s


def _refuse_contradictions(asked: RunningTime) -> None:
    """Refuse pauses without a length of draws: they would have no effect."""
    if asked.draw_length_s is UNSET:
        for name in ("pause_s", "standby_current_a"):
            if getattr(asked, name):
                raise Refused(name, "A pause needs draw_length_s, the length of the draws, too.")
    if asked.standby_current_a and asked.pause_s is UNSET:
        raise Refused(
            "standby_current_a", "A current in the pauses needs pause_s, their length, too."
        )


def explain_run(asked: RunningTime) -> Explained[RunningTimeFigures]:
    """Answer for the discharge alone, without draws or rating."""
    return _explained(asked, run_of(asked))


def _explained(asked: RunningTime, run: Run) -> Explained[RunningTimeFigures]:
    got = plain(figures_of(asked, run))
    held = together(
        stop_voltage(asked),
        full_voltage(asked),
        Held([_available_power(run)], _findings(asked, got, run)),
    )
    return Explained(
        figures=got,
        working=_working(asked, got),
        limits=held.limits,
        findings=held.findings,
    )


def _leads(got: RunningTimeFigures, also: RunningTimeDetails, length_s: float | UnsetType) -> str:
    """Return the clause with the time, and with draws and current where they are known."""
    clause = f"by estimate the pack runs for about {QUESTION.headline.text(got.running_time_s)}"  # type: ignore[union-attr]
    if also.draws is not UNSET:
        clause += f", or {count_of(also.draws, 'draw')} of {length_s:g} s"
    if also.worst_cell_current_a is not UNSET:
        up_a = rounded_up(value=also.worst_cell_current_a, step=0.1)
        clause += f", and its worst-case cell carries up to {up_a:.1f} A"
    return clause


def _available_power(run: Run) -> Limit:
    """Return whether the pack can give the power all the way to its cut-off."""
    if run.collapsed:
        return over(LimitName.AVAILABLE_POWER)
    return unbounded(LimitName.AVAILABLE_POWER)


def explain(asked: RunningTime) -> Explained[RunningTimeFigures]:
    """Answer for one pack and load."""
    _refuse_contradictions(asked)
    run = run_of(asked)
    alone = _explained(asked, run)
    got, working = alone.figures, alone.working
    held = Held(alone.limits, alone.findings)
    also = RunningTimeDetails()
    if asked.draw_length_s is not UNSET:
        cut = draws(
            run=run,
            draw_time_s=asked.draw_length_s,
            pause_time_s=_pause_s(asked),
            pause_current_a=asked.standby_current_a,
        )
        # pauses decide how long a pack lasts with them, so none is assumed
        lasts_s = UNSET if asked.pause_s is UNSET else float(cut.time_s)
        also = structs.replace(also, draws=float(cut.draws), drawing_time_s=lasts_s)
        working.append(_draws_step(asked, float(cut.draws)))
    judged = judge_load(asked)
    if asked.cell_rating_a is not UNSET:
        also = structs.replace(
            also,
            worst_cell_current_a=judged.figures.worst_cell_current_a,
            headroom=judged.figures.headroom,
        )
        working = judged.working + working
    held = together(Held(judged.limits, judged.findings), held)
    return Explained(
        figures=got,
        also=also,
        working=working,
        limits=held.limits,
        findings=held.findings,
        leads=_leads(got, also, asked.draw_length_s),
    )


def judge_load(asked: RunningTime) -> Explained[Any]:
    """Answer for the load at its worst corner, whether the pack runs or not.

    Without a rating it holds what is true whatever the cells are rated for.
    """
    rated_a = HIGHEST_RATING_A if asked.cell_rating_a is UNSET else asked.cell_rating_a
    load = load_of(asked, layout=wiring(asked.layout).text, cell_rating_a=rated_a)
    judged = load.explain(load.question)
    if asked.cell_rating_a is not UNSET:
        return judged
    limits = [one for one in judged.limits if one.name is not LimitName.CONTINUOUS_RATING]
    findings = [
        one
        for one in judged.findings
        if one.severity is not Severity.NOTE
        and one.limit is not LimitName.CONTINUOUS_RATING
        and one.rule != shared_rules.SHARING_CHOSEN.id
    ]
    without = missing(LimitName.CONTINUOUS_RATING, "cell_rating_a")
    return structs.replace(judged, limits=[without, *limits], findings=findings)


def _draws_step(asked: RunningTime, whole_draws: float) -> WorkingStep:
    return WorkingStep(
        "Whole draws: of each part of the charge, the pauses take I_p·t_p / (I·t_d + I_p·t_p)",
        "n = ∫ P·dq / (I·t_d + I_p·t_p)",
        f"t_d = {asked.draw_length_s:.4g} s, t_p = {_pause_s(asked):.4g} s, "
        f"I_p = {asked.standby_current_a:.4g} A",
        whole_draws,
        "1",
    )


LIMITS = (
    LimitName.CONTINUOUS_RATING,
    LimitName.AVAILABLE_POWER,
    LimitName.END_VOLTAGE,
    LimitName.CHARGED_VOLTAGE,
)

QUESTION = Question(
    id="running-time",
    subject=Subject.TIME_AND_HEAT,
    title="Running time of a pack under its load",
    description="How long a pack runs a coil or a converter until its cells are down to the cut-off "
    "voltage under load: an estimate of time, energy, charge used, and current on the way.",
    asked=RunningTime,
    shows=RunningTimeFigures,
    also=RunningTimeDetails,
    limits=LIMITS,
    explain=explain,
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    # fields of the verdict and the draws; a converter ignores the device's resistance
    no_effect=frozenset(
        {
            "cell_rating_a",
            "sharing",
            "device_resistance_ohm",
            "draw_length_s",
            "pause_s",
            "standby_current_a",
        }
    ),
    headline=Headline(
        field="running_time_s",
        says="The pack runs for about",
        unit="min",
        decimals=1,
        round=Rounding.DOWN,
        per=60,
    ),
    # the lending set of the Lantern Street Bench, invented
    example={
        "layout": "2S1P",
        "cell_capacity_ah": 3.0,
        "cell_health": 0.9,
        "cell_rating_a": 20,
        "output_power_w": 40,
        "cell_cutoff_voltage_v": 3.0,
        "draw_length_s": 4,
        "pause_s": 30,
    },
)
