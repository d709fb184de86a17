"""What do logs of whole discharges show: charge, energy, resistance and rating of a cell?"""

from collections.abc import Iterable
from typing import Annotated, Any

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import discharge_log, log_faults, measured_cells
from percell.physics.meter import NOISE
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import condition_of
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.bench import rules
from percell.questions.bench.discharge_logs import (
    LEAST_CHARGE,
    MOST_FAULTS,
    MOST_LOGS,
    DischargeLimits,
    DischargeLog,
    DischargeLogFigures,
    LogColumns,
    RatingNeed,
    faults_of,
)
from percell.questions.bench.log_figures import LogRead, figures_of, read_log
from percell.questions.bench.log_reading import LogReading
from percell.questions.bench.rating_proof import TestedRating, log_name, rating_of
from percell.questions.cell.warmth import AMBIENT_C
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.labels import lowered
from percell.questions.vocabulary.measured_discharge import (
    FEWEST_POINTS,
    SLOW_RATE,
    MeasuredDischarge,
    is_slow,
)
from percell.questions.vocabulary.refusal import Fault, RefusedAll
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.wording import listed


class DischargeTest(DischargeLimits, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Logs of whole discharges of one type of cell, at one current or at rising ones."""

    logs: Annotated[
        list[DischargeLog],
        Meta(min_length=1, max_length=MOST_LOGS, description="Logs of the discharges."),
    ]


class CellProfile(Struct, frozen=True, kw_only=True):
    """Fields of the cell for other questions. What the logs do not show is left out."""

    cell_rating_a: Annotated[
        float | UnsetType, figure("A", "Tested rating, if the logs prove one.")
    ] = UNSET
    cell_capacity_ah: Annotated[
        float | UnsetType,
        figure("Ah", "Least charge of the logs from near full to near empty, if there is one."),
    ] = UNSET
    cell_resistance_ohm: Annotated[
        float | UnsetType, figure("Ω", "Median resistance of the logs, if any shows one.")
    ] = UNSET
    cell_resistance_after_s: Annotated[
        float | UnsetType,
        figure(
            "s",
            "Shortest time from a step to the reading of that resistance. It is half the time between the two rows, "
            "because the load began at an unknown time between them.",
        ),
    ] = UNSET
    measured_discharge: Annotated[
        MeasuredDischarge | UnsetType,
        Meta(
            description=f"Discharge from near full to near empty for a running time: the slowest at {SLOW_RATE:g} times "
            "its charge per hour or more, or else the fastest."
        ),
    ] = UNSET


class DischargeTestFigures(Struct, frozen=True, kw_only=True):
    """Each log, and what all logs show together."""

    logs: Annotated[list[DischargeLogFigures], Meta(description="Logs, in the order given.")]
    rating: Annotated[
        TestedRating | UnsetType,
        Meta(description="Continuous rating, if the logs prove one."),
    ] = UNSET
    cell_resistance_lowest_ohm: Annotated[
        float | UnsetType, figure("Ω", "Lowest resistance of the steps that count in all logs.")
    ] = UNSET
    cell_resistance_highest_ohm: Annotated[
        float | UnsetType, figure("Ω", "Highest resistance of the steps that count in all logs.")
    ] = UNSET
    profile: Annotated[CellProfile, Meta(description="Fields of the cell for other questions.")]


def _working(read: list[LogRead], answers: list[DischargeLogFigures]) -> list[WorkingStep]:
    steps = []
    for i, (one, log) in enumerate(zip(read, answers, strict=True), 1):
        name = log_name(i, log, begins=True)
        rows = f"trapezoids over {log.rows} rows, {log.duration_s:.4g} s"
        steps += [
            WorkingStep(f"{name}: charge", "Q = ∫ I dt", rows, log.delivered_charge_ah, "Ah"),
            WorkingStep(f"{name}: energy", "E = ∫ U·I dt", rows, log.delivered_energy_wh, "Wh"),
            WorkingStep(
                f"{name}: mean voltage",
                "U = E / Q",
                f"{log.delivered_energy_wh:.4g} Wh / {log.delivered_charge_ah:.4g} Ah",
                log.mean_voltage_v,
                "V",
            ),
        ]
        if one.resistance:
            first = one.counted[0]
            at_s = first.time_s - one.columns.time_s[0]
            steps.append(
                WorkingStep(
                    f"{name}: internal d.c. resistance",
                    "R = median of −ΔU / ΔI at the steps that count",
                    f"{len(one.counted)} steps, the first from {first.current_before_a:.4g} to "
                    f"{first.current_after_a:.4g} A at {at_s:.4g} s",
                    one.resistance.middle_ohm,
                    "Ω",
                )
            )
        highest_ohm = (log.end_voltage_without_sag_v - one.load.end_v) / one.load.end_a
        steps.append(
            WorkingStep(
                f"{name}: voltage at the end without sag",
                "U + I·R at the last loaded row",
                f"{one.load.end_v:.4g} V + {one.load.end_a:.4g} A × {highest_ohm:.4g} Ω",
                log.end_voltage_without_sag_v,
                "V",
            )
        )
    return steps


def _not_shown(answers: list[DischargeLogFigures], limits: DischargeLimits) -> list[Finding]:
    """Return the findings about a capacity and resistances that the logs do not show."""
    found = []
    if not any(_is_whole(log, limits) for log in answers):
        sentence = "No log runs from near full to near empty, so the cell's capacity is not known."
        found.append(finding(rules.TEST_NO_CAPACITY, sentence))
    silent = [
        log_name(i, log) for i, log in enumerate(answers, 1) if log.cell_resistance_ohm is UNSET
    ]
    if silent:
        sentence = (
            f"There is no resistance from {listed(silent)}, because it needs a step to a load before the last fifth "
            "of the charge."
        )
        found.append(finding(rules.TEST_NO_STEP, sentence))
    return found


def _read(answers: list[DischargeLogFigures]) -> list[Finding]:
    """Return the findings about how the logs were read."""
    numbered = [(log_name(i, log), log) for i, log in enumerate(answers, 1)]
    found = [
        finding(
            rules.TEST_COLUMNS_GUESSED,
            f"Check what percell guessed in {name}: {listed(_guesses(log.read_as))}.",
        )
        for name, log in numbered
        if log.read_as is not UNSET and log.read_as.doubtful
    ]
    for name, log in numbered:
        rest_a = log.rest_current_a
        if rest_a is not UNSET and abs(rest_a) >= discharge_log.LEAST_CURRENT_A:
            counts = "no current" if rest_a < 0 else "delivered charge"
            said = f"The ammeter of {name} shows {rest_a:.3f} A at rest, which counts as {counts}."
            found.append(finding(rules.TEST_OFFSET, said.replace("-", "−")))
    under_load = [name for name, log in numbered if log.begins_under_load]
    if under_load:
        sentence = (
            f"There is no rest before the load in {listed(under_load)}. The charge at the start and the resistance at "
            "the first step are therefore not known."
        )
        found.append(finding(rules.TEST_UNDER_LOAD, sentence))
    return found


def _guesses(read: LogReading) -> list[str]:
    """Return in words what was guessed."""
    return [
        f"{what} from the column “{read.columns[what].column[:40]}” in {read.columns[what].unit}"
        for what in read.doubtful
    ]


def _is_whole(log: DischargeLogFigures, limits: DischargeLimits) -> bool:
    """Return whether a log goes from near full to near empty, as far as its charge is concerned."""
    missing, stated_ah = log.missing_for_rating, limits.cell_capacity_ah
    began = RatingNeed.START not in missing or (
        stated_ah is not UNSET and log.delivered_charge_ah >= LEAST_CHARGE * stated_ah * (1 - NOISE)
    )
    return began and not {RatingNeed.CHARGED, RatingNeed.END} & set(missing)


def _read_after_s(read: list[LogRead]) -> float | UnsetType:
    """Return after how many seconds the resistances were read, the soonest."""
    steps = [step for log in read if log.resistance for step in log.counted]
    if not steps:
        return UNSET
    soonest_s = min(step.read_after_s for step in steps) / 2
    return min(max(soonest_s, measured_cells.SOONEST_S), fields.LATEST_S)


def _own_discharge(
    answers: list[DischargeLogFigures], limits: DischargeLimits
) -> MeasuredDischarge | UnsetType:
    """Return the discharge that other questions take for the cell, if a log is one at one current."""
    found = [
        MeasuredDischarge(
            current_a=log.test_current_a,
            charge_ah=[point.delivered_charge_ah for point in log.curve],
            voltage_v=[point.voltage_v for point in log.curve],
        )
        for log in answers
        if _is_whole(log, limits)
        and RatingNeed.FLOW not in log.missing_for_rating
        and len(log.curve) >= FEWEST_POINTS
    ]
    fast = [one for one in found if not is_slow(one)]
    if fast:
        return min(fast, key=lambda one: one.current_a)
    return max(found, key=lambda one: one.current_a, default=UNSET)


def evaluate(
    measured: Iterable[LogColumns], limits: DischargeLimits
) -> Explained[DischargeTestFigures]:
    """Return the result for logs without a fault."""
    read = [read_log(columns, limits) for columns in measured]
    answers = figures_of(read, limits)
    proof = rating_of(answers, limits)
    rating = proof.rating
    shown = [log.resistance for log in read if log.resistance]
    charges_ah = [log.delivered_charge_ah for log in answers if _is_whole(log, limits)]
    return Explained(
        figures=DischargeTestFigures(
            logs=answers,
            rating=rating,
            cell_resistance_lowest_ohm=min(one.lowest_ohm for one in shown) if shown else UNSET,
            cell_resistance_highest_ohm=max(one.highest_ohm for one in shown) if shown else UNSET,
            profile=CellProfile(
                cell_rating_a=UNSET if rating is UNSET else rating.cell_rating_a,
                cell_capacity_ah=min(charges_ah) if charges_ah else UNSET,
                cell_resistance_ohm=float(np.median([one.middle_ohm for one in shown]))
                if shown
                else UNSET,
                cell_resistance_after_s=_read_after_s(read),
                measured_discharge=_own_discharge(answers, limits),
            ),
        ),
        working=_working(read, answers),
        limits=proof.held.limits,
        findings=proof.held.findings + _not_shown(answers, limits) + _read(answers),
        condition=_condition(len(answers), limits),
        leads=_leads(rating, limits),
    )


def _condition(count: int, limits: DischargeLimits) -> str:
    """Return what the answer holds for: how many logs, and all that was given with them."""
    alone = DischargeLimits(
        **{name: getattr(limits, name) for name in DischargeLimits.__struct_fields__}
    )
    said = condition_of(alone)
    told = f" with {lowered(said)}" if said else ""
    return f"{count} discharge log{'' if count == 1 else 's'}{told}"


def _leads(rating: TestedRating | UnsetType, limits: DischargeLimits) -> str:
    """Return the clause of the headline with the rating and its limits."""
    within = f"{limits.stop_temperature_c:g} °C in air of {AMBIENT_C:g} °C and down to {limits.lowest_v:g} V"
    if rating is UNSET:
        return f"no continuous rating is proved within {within}"
    return (
        f"{rating.repeats} logs from full to empty prove a continuous rating of {rating.cell_rating_a:g} A "
        f"within {within}, on this bench"
    )


def assumed(limits: DischargeLimits) -> list[Assumption]:
    """Return the defaults in use, with those of the limits."""
    found = assumptions(limits)
    if limits.stop_voltage_v is UNSET:
        found.append(
            Assumption("stop_voltage_v", limits.lowest_v, "V", VOLTAGES[limits.chemistry].end_from)
        )
    if limits.step_current_a is UNSET:
        found.append(
            Assumption(
                "step_current_a", "a tenth of each log's highest", "", "percell's own choice"
            )
        )
    return found


def _columns(log: DischargeLog) -> LogColumns:
    warm = log.temperature_c
    return LogColumns(
        "" if log.label is UNSET else log.label,
        np.array(log.time_s),
        np.array(log.voltage_v),
        np.array(log.current_a),
        None if warm is UNSET else np.array(warm),
        None if log.read_as is UNSET else log.read_as,
    )


def explain(asked: DischargeTest) -> Explained[DischargeTestFigures]:
    """Answer for logs given as lists."""
    measured = [_columns(log) for log in asked.logs]
    faults = [
        Fault(_pointer(i, fault), f"{fault.message[0].upper()}{fault.message[1:]}.")
        for i, columns in enumerate(measured)
        for fault in faults_of(columns, asked)
    ]
    if faults:
        raise RefusedAll(faults[:MOST_FAULTS])
    return evaluate(measured, asked)


def _pointer(log: int, fault: log_faults.LogFault) -> str:
    """Return the pointer of a fault: to a value, a list, or the log."""
    parts = ["logs", str(log), fault.column, str(fault.row - 1) if fault.row else ""]
    return "/" + "/".join(part for part in parts if part)


def answer_logs(
    measured: Iterable[LogColumns], limits: DischargeLimits, given: dict[str, Any] | None = None
) -> Struct:
    """Answer for logs without a fault that were not given as lists."""
    return QUESTION.assemble(limits, evaluate(measured, limits), given)


# of the example: a cell's second discharge differs from its first by some millivolts
_EXAMPLE_FIRST_V = (3.66, 3.58, 3.5, 3.42, 3.34, 3.26, 3.17, 3.05, 2.78, 3.2, 3.3)
_EXAMPLE_AGAIN_V = (3.658, 3.575, 3.492, 3.409, 3.327, 3.245, 3.153, 3.028, 2.76, 3.19, 3.29)
_EXAMPLE_RISES_C = (0, 0, 0.1, 3, 7, 11, 15, 19, 23, 27, 31, 34, 34.2, 33.5)

QUESTION = Question(
    id="discharge-test",
    subject=Subject.BENCH,
    title="Discharge logs of a cell",
    description="Charge, energy, resistance and peak temperature of discharge logs, and the continuous rating "
    "that two or more of them prove.",
    asked=DischargeTest,
    repeated=DischargeLimits,  # logs can hold millions of numbers
    shows=DischargeTestFigures,
    limits=(LimitName.STOP_TEMPERATURE, LimitName.END_VOLTAGE, LimitName.CHARGED_VOLTAGE),
    explain=explain,
    assumed=assumed,
    has_query=False,
    slow=True,
    body_limit=10 * 1024 * 1024,
    # logs from the Lantern Street Bench, invented: a cell of 20 mΩ rests, then is emptied with 20 A, twice
    example={
        "logs": [
            {
                "label": label,
                "time_s": [0, 10, 11, 60, 120, 180, 240, 300, 360, 420, 480, end_s, end_s + 1, 570],
                "voltage_v": volts,
                "current_a": [0, 0, 20, 20, 20, 20, 20, 20, 20, 20, 20, 20, 0, 0],
                "temperature_c": [start_c + rise_c for rise_c in _EXAMPLE_RISES_C],
            }
            for label, end_s, start_c, volts in (
                ("cell 7", 520, 22, [4.15, 4.15, 3.75, *_EXAMPLE_FIRST_V]),
                ("cell 7 again", 518, 22.5, [4.15, 4.15, 3.75, *_EXAMPLE_AGAIN_V]),
            )
        ],
        "stop_voltage_v": 2.75,
    },
)
