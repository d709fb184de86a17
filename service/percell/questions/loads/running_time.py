"""How long does a pack run under its load?"""

from typing import Annotated, Any

from msgspec import UNSET, Struct, UnsetType, structs

from percell.physics.discharge import Run, draws
from percell.physics.measured_cells import (
    FAST_PART,
    SLOW_LOSS_V,
    lasting_loss_v,
    usable_at,
)
from percell.physics.meter import rounded_up
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.cold_findings import below
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.figures import plain
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.cell.label_doubt import doubting
from percell.questions.cell.temperature_rise import without_run
from percell.questions.loads import coil, running_time_findings
from percell.questions.loads.cell_model import (
    CellModel,
    charge_now_ah,
    is_energy_cell,
)
from percell.questions.loads.pack_and_load import (
    PackAndLoad,
    cutoff_v,
    defaults_in_use,
    full_voltage,
    load_of,
    stop_voltage,
)
from percell.questions.loads.pack_run import (
    HEADLINE,
    RunningTime,
    RunningTimeFigures,
    figures,
    figures_of,
    followed,
)
from percell.questions.loads.warmth_of_run import question_of, warmth_of, worst_cell_a
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import lasting_ohm
from percell.questions.vocabulary.fields import HIGHEST_RATING_A, figure
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.limits import (
    Held,
    Limit,
    missing,
    over,
    together,
    unbounded,
)
from percell.questions.vocabulary.measured_discharge import charge_of
from percell.questions.vocabulary.rules import LimitName, Severity
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import count_of


class RunningTimeDetails(Struct, frozen=True, kw_only=True):
    """Figures of the draws, of the worst-case cell and of its temperature."""

    draws: Annotated[
        float | UnsetType,
        figure("1", "Number of whole draws of the given length. Needs `draw_length_s`."),
    ] = UNSET
    drawing_time_s: Annotated[
        float | UnsetType,
        figure(
            "s",
            "Time from the start of the first draw to the end of the last, pauses included. Needs `pause_s`.",
        ),
    ] = UNSET
    worst_cell_last_current_a: Annotated[
        float | UnsetType,
        figure(
            "A",
            "Current of the worst-case cell at the end of the last draw. Needs `draw_length_s`.",
        ),
    ] = UNSET
    peak_temperature_c: Annotated[
        float | UnsetType,
        figure(
            "°C",
            (
                "Highest temperature of the worst-case cell, after all draws that its charge allows in the worst "
                "case, or without a pause. Needs `cell_size`."
            ),
        ),
    ] = UNSET
    worst_cell_current_a: Annotated[
        float | UnsetType,
        figure(
            "A",
            "Current of the worst-case cell in the worst case, which the verdict uses. Needs `cell_rating_a`.",
        ),
    ] = UNSET
    headroom: Annotated[
        float | UnsetType,
        figure("1", "Unused part of the rating, negative if exceeded."),
    ] = UNSET


def _working(asked: RunningTime, model: CellModel, got: RunningTimeFigures) -> list[WorkingStep]:
    now_ah = charge_now_ah(asked, model)
    measured = asked.measured_discharge
    whole_ah = asked.cell_capacity_ah if measured is UNSET else charge_of(measured)
    if coil.is_direct(asked):
        follows = "U(z) / (R_coil + R_device), U with the sag"
    else:
        follows = "P_in / U(z), U with the sag, P_in = P / η + P_idle"
    usable = model.charge_ah / whole_ah
    cold = usable_at(temperature_c=asked.cell_temperature_c)
    return [
        WorkingStep(
            (
                f"Charge of each cell at the start: {'printed' if measured is UNSET else 'measured'}, times k "
                "(usable by a load), h (health), k_T (cold) and the state of charge"
            ),
            "q = q_0 · k · h · k_T · z₀",
            f"{whole_ah:.4g} Ah × {usable:.4g} × {asked.cell_health:.4g} × {cold:.4g} × "
            f"{asked.state_of_charge:.4g}",
            now_ah * asked.state_of_charge,
            "Ah",
        ),
        *_sag_step(asked, model, got),
        WorkingStep(
            f"Current out of the pack at the start: I(z) = {follows}",
            "I₀ = I(z₀)",
            _load_text(asked),
            got.pack_first_current_a,
            "A",
        ),
        WorkingStep(
            (
                f"Current at the end, when a cell is down to {cutoff_v(asked):.4g} V under load, is empty, or can "
                "no longer give the power"
            ),
            "I₁ = I(z₁)",
            _load_text(asked),
            got.pack_last_current_a,
            "A",
        ),
        WorkingStep(
            "Running time: each part of the charge divided by its own current, added up along the curve",
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
            "Heat in cells and contacts during the discharge"
            + ("" if model.is_simulated else ", no less than in any measured cell"),
            "E_heat = ∫ u_heat · S·dq",
            f"∫ from 0 to {got.pack_delivered_charge_ah:.4g} Ah",
            got.heat_wh,
            "Wh",
        ),
    ]


def _sag_step(asked: RunningTime, model: CellModel, got: RunningTimeFigures) -> list[WorkingStep]:
    """Show how far a cell sags at first; a simulated sag is read off a table."""
    if model.is_simulated:
        return []
    amps, ohm = got.pack_first_current_a / wiring(asked.layout).parallel, lasting_ohm(asked)
    fast_v = FAST_PART * amps * ohm
    return [
        WorkingStep(
            "Voltage that a cell loses under a load of minutes, at the start",
            f"u_loss = {FAST_PART:g}·I·r + min({FAST_PART:g}·I·r, {SLOW_LOSS_V:g} V)",
            f"{fast_v:.4g} V + min({fast_v:.4g} V, {SLOW_LOSS_V:g} V), I = {amps:.4g} A, r = {ohm:.4g} Ω",
            lasting_loss_v(current_a=amps, resistance_ohm=ohm),
            "V",
        )
    ]


def _load_text(asked: PackAndLoad) -> str:
    if coil.is_direct(asked):
        return f"R = {coil.lowest_ohm(asked):.4g} Ω + {asked.device_resistance_ohm:.4g} Ω"
    return (
        f"P_in = {asked.output_power_w:.4g} W / {asked.efficiency:.4g} + {asked.idle_power_w:.4g} W"
    )


def assumed(asked: RunningTime) -> list[Assumption]:
    """Return the defaults in use."""
    without = set() if asked.pause_s is not UNSET else {"standby_current_a"}
    warms = asked.cell_size is not UNSET
    if not warms and below(asked.cell_temperature_c, asked.stop_temperature_c):
        without.add("stop_temperature_c")
    found = defaults_in_use(
        asked,
        # the share of the worst-case cell decides its current and its heat
        judged=asked.cell_rating_a is not UNSET,
        without=frozenset(without),
    )
    if warms and asked.draw_length_s is not UNSET and asked.pause_s is UNSET:
        found.append(Assumption("pause_s", fields.PAUSE_S, "s", "for the temperature only"))
    return found


def _pause_s(asked: RunningTime) -> float:
    return 0.0 if asked.pause_s is UNSET else asked.pause_s


def explain_run(asked: RunningTime) -> Explained[RunningTimeFigures]:
    """Answer for the discharge alone, without draws or rating."""
    return _explained(asked, *followed(asked))


def _explained(asked: RunningTime, model: CellModel, run: Run) -> Explained[RunningTimeFigures]:
    got = plain(figures_of(asked, run))
    held = together(
        stop_voltage(asked),
        full_voltage(asked),
        Held([_available_power(run)], running_time_findings.of_run(asked, model, got, run)),
    )
    return Explained(
        figures=got,
        working=_working(asked, model, got),
        limits=held.limits,
        findings=held.findings,
    )


def _leads(got: RunningTimeFigures, also: RunningTimeDetails, length_s: float | UnsetType) -> str:
    """Return the clause with the time, and with draws and current where they are known."""
    runs = got.running_time_s > 0
    about = f"runs for about {HEADLINE.text(got.running_time_s)}"
    clause = f"by estimate the pack {about if runs else 'does not run'}"
    if runs and also.draws is not UNSET:
        clause += f", or {count_of(also.draws, 'draw')} of {length_s:g} s"
    if also.worst_cell_current_a is not UNSET:
        up_a = rounded_up(value=also.worst_cell_current_a, step=0.1)
        clause += f", and its worst-case cell carries up to {up_a:.1f} A"
    if also.peak_temperature_c is not UNSET:
        up_c = rounded_up(value=also.peak_temperature_c, step=1.0)
        clause += f"; if all its charge is drawn in this way, that cell may reach {up_c:.0f} °C"
    return clause


def _available_power(run: Run) -> Limit:
    """Return whether the pack can give the power all the way to its cut-off."""
    if run.collapsed:
        return over(LimitName.AVAILABLE_POWER)
    return unbounded(LimitName.AVAILABLE_POWER)


def explain(asked: RunningTime) -> Explained[RunningTimeFigures]:
    """Answer for one pack and load."""
    model, run = followed(asked)
    alone = _explained(asked, model, run)
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
        also = structs.replace(
            also,
            draws=float(cut.draws),
            drawing_time_s=lasts_s,
            worst_cell_last_current_a=worst_cell_a(asked, float(run.end_current_a)),
        )
        working.append(_draws_step(asked, float(cut.draws)))
    judged = judge_load(asked)
    if asked.cell_rating_a is not UNSET:
        also = structs.replace(
            also,
            worst_cell_current_a=judged.figures.worst_cell_current_a,
            headroom=judged.figures.headroom,
        )
        working = judged.working + working
    assumptions = assumed(asked)
    warm = stop_without_run(asked, "")
    if asked.cell_size is not UNSET:
        warmth = warmth_of(question_of(asked, float(judged.figures.worst_cell_current_a)))
        also = structs.replace(also, peak_temperature_c=warmth.figures.peak_temperature_c)
        working = working + warmth.working
        warm = Held(warmth.limits, warmth.findings)
        assumptions = assumptions + (warmth.assumptions or [])
    held = together(
        Held(judged.limits, judged.findings),
        held,
        warm,
        Held([], running_time_findings.of_draws(asked)),
    )
    return Explained(
        figures=got,
        assumptions=assumptions,
        also=also,
        working=working,
        limits=held.limits,
        findings=held.findings,
        leads=_leads(got, also, asked.draw_length_s),
        links=QUESTION.links(_as_printed(asked)),
    )


def stop_without_run(asked: RunningTime, reason: str) -> Held:
    """Hold the temperature against the stop where there is no run, or no size, to judge it by."""
    name = LimitName.STOP_TEMPERATURE
    unknown = (
        missing(name, "cell_size")
        if asked.cell_size is UNSET
        else Limit(name=name, verdict=Verdict.NOT_JUDGED, reason=reason)
    )
    return without_run(asked.cell_temperature_c, asked.stop_temperature_c, unknown)


def _as_printed(asked: RunningTime) -> RunningTime:
    """Return the question without a rating, as tables are printed: a high one only makes the time longer."""
    return asked if is_energy_cell(asked) else structs.replace(asked, cell_rating_a=UNSET)


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
        "Whole draws, when the pauses use the part I_p·t_p / (I·t_d + I_p·t_p) of the charge",
        "n = ∫ P·dq / (I·t_d + I_p·t_p)",
        f"t_d = {asked.draw_length_s:.4g} s, t_p = {_pause_s(asked):.4g} s, "
        f"I_p = {asked.standby_current_a:.4g} A",
        whole_draws,
        "1",
    )


# those of a load that are judged whether the cell's size is known or not
LOAD_LIMITS = (
    LimitName.CONTINUOUS_RATING,
    LimitName.AVAILABLE_POWER,
    LimitName.END_VOLTAGE,
    LimitName.CHARGED_VOLTAGE,
)
LIMITS = (*LOAD_LIMITS, LimitName.STOP_TEMPERATURE)

QUESTION = Question(
    id="running-time",
    subject=Subject.TIME_AND_HEAT,
    title="Running time of a pack under its load",
    description=(
        "Estimate of how long a pack runs a coil or a converter down to its cut-off voltage under load, "
        "with energy, charge and currents."
    ),
    asked=RunningTime,
    shows=RunningTimeFigures,
    also=RunningTimeDetails,
    limits=LIMITS,
    explain=doubting(explain),
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    # fields of the verdict and the draws, the rating apart; a converter ignores the device's resistance
    no_effect=frozenset(
        {
            "sharing",
            "device_resistance_ohm",
            "draw_length_s",
            "pause_s",
            "standby_current_a",
            "cell_size",
            "surroundings",
            "stop_temperature_c",
        }
    ),
    headline=HEADLINE,
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
