"""What do logs of whole discharges show: charge, energy, resistance and rating of a cell?"""

from collections.abc import Iterable
from functools import cache
from typing import Annotated, Any, NamedTuple, get_args, get_type_hints

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import discharge_log as logs
from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE
from percell.physics.types import Floats
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.bench import rules
from percell.questions.cell.temperature_rise import STOP_C, StopTemperatureC
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import (
    COMMON_PRACTICE,
    NOTHING_GIVEN,
    figure,
    quantity,
    text,
    whole,
)
from percell.questions.vocabulary.refusal import Fault, RefusedAll
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.wording import beside, given, shown

MOST_ROWS = 100_000
MOST_LOGS = 20
# most faults, and most steps per log, that an answer lists
MOST_FAULTS = 20
MOST_STEPS = 20
# default: a change of current by this part of the highest is a step
STEP_PART = 0.1
# the same as no limit
NO_LIMIT_V = 0.0
# A discharge that stays above this, and above the limit by the margin, was broken off. Heat and a steep
# fall of the voltage, which end a whole discharge at high current, would have come later.
WHOLE_V = 3.2
WHOLE_MARGIN_V = 0.1

TimeS = Annotated[float, quantity("s", 0, 1e10, "Time; only differences count.")]
VoltageV = Annotated[float, quantity("V", 0, 10, "Voltage at the cell.")]
CurrentA = Annotated[float, quantity("A", -1000, 1000, "Current; positive is discharging.")]
TemperatureC = Annotated[float, quantity("°C", -60, 300, "Temperature at the skin of the cell.")]


def _column(meaning: str) -> Meta:
    return Meta(min_length=logs.SHORTEST_ROWS, max_length=MOST_ROWS, description=meaning)


class DischargeLog(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One whole discharge, a value of each column for each row."""

    label: fields.Label | UnsetType = UNSET
    time_s: Annotated[list[TimeS], _column("Time of each row, rising.")]
    voltage_v: Annotated[list[VoltageV], _column("Voltage at each row.")]
    current_a: Annotated[list[CurrentA], _column("Current at each row, positive.")]
    temperature_c: (
        Annotated[list[TemperatureC], _column("Temperature at each row.")] | UnsetType
    ) = UNSET


class Limits(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a discharge must keep to count as passed, and how a log is read."""

    stop_temperature_c: StopTemperatureC = STOP_C
    stop_voltage_v: (
        Annotated[
            float, quantity("V", 0.5, 5, "Lowest voltage allowed; unless given, any is allowed.")
        ]
        | UnsetType
    ) = UNSET
    longest_gap_s: Annotated[
        float,
        quantity(
            "s",
            0.001,
            86400,
            "Longest time between two rows; a longer one is a gap, and a fault.",
            default_from="percell's own choice",
        ),
    ] = 60.0
    step_current_a: (
        Annotated[
            float,
            quantity(
                "A",
                0.01,
                1000,
                "Change of the current that is a step; a tenth of the highest unless given.",
            ),
        ]
        | UnsetType
    ) = UNSET
    settle_time_s: Annotated[
        float,
        quantity(
            "s",
            0,
            60,
            "Time that the voltage is given after a step.",
            default_from="second load of 1 s, IEC 61960-3 (secondary copy)",
        ),
    ] = 1.0
    needed_repeats: Annotated[
        float,
        whole(
            1, MOST_LOGS, "Tests at a current that make it repeated.", default_from=COMMON_PRACTICE
        ),
    ] = 2.0


class DischargeTest(Limits, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Logs of whole discharges of one kind of cell, at one current or at rising ones."""

    logs: Annotated[
        list[DischargeLog], Meta(min_length=1, max_length=MOST_LOGS, description="The discharges.")
    ]


class DischargeLogStep(Struct, frozen=True, gc=False):
    """One step of the current."""

    time_s: Annotated[float, figure("s", "When, from the start of the log.")]
    before_a: Annotated[float, figure("A", "Current before it.")]
    after_a: Annotated[float, figure("A", "Current after it.")]
    cell_resistance_ohm: Annotated[float, figure("Ω", "Resistance that the voltage shows.")]


class DischargeLogFigures(Struct, frozen=True, kw_only=True):
    """What one log comes to."""

    label: Annotated[str, text("What it is called.")]
    rows: Annotated[int, figure("1", "Rows of the log.")]
    test_current_a: Annotated[
        float,
        figure(
            "A",
            "Current of the test: mean while more than half of the highest flows, to 0.1 A, below 2 A to "
            "0.01 A; equal ones are repeats.",
        ),
    ]
    duration_s: Annotated[float, figure("s", "From the first row to the last.")]
    delivered_charge_ah: Annotated[float, figure("Ah", "Charge delivered.")]
    delivered_energy_wh: Annotated[float, figure("Wh", "Energy delivered.")]
    mean_voltage_v: Annotated[float, figure("V", "Energy over charge.")]
    mean_current_a: Annotated[float, figure("A", "Charge over time.")]
    highest_current_a: Annotated[float, figure("A", "Highest current.")]
    start_voltage_v: Annotated[float, figure("V", "Voltage of the first row.")]
    lowest_voltage_v: Annotated[float, figure("V", "Lowest voltage.")]
    end_voltage_v: Annotated[float, figure("V", "Voltage of the last row.")]
    peak_temperature_c: Annotated[
        float | UnsetType, figure("°C", "Highest temperature, if it was logged.")
    ] = UNSET
    peak_time_s: Annotated[float | UnsetType, figure("s", "When that was, from the start.")] = UNSET
    cell_resistance_ohm: Annotated[
        float | UnsetType,
        figure("Ω", "Internal d.c. resistance: middle of those of the steps, if there are any."),
    ] = UNSET
    whole_discharge: Annotated[
        bool,
        Meta(
            description=f"Whether the voltage fell to {WHOLE_V:g} V, or to {WHOLE_MARGIN_V:g} V above the "
            "limit if that is higher; a log that was broken off before proves no rating."
        ),
    ]
    steps_found: Annotated[int, figure("1", "Steps that show a resistance.")]
    steps: Annotated[list[DischargeLogStep], Meta(description=f"The first {MOST_STEPS} of them.")]
    kept_limits: Annotated[
        bool | UnsetType,
        Meta(description="Whether it kept both limits; absent without a temperature."),
    ] = UNSET


class TestedRating(Struct, frozen=True, kw_only=True):
    """The highest current that was tested and kept the limits."""

    cell_rating_a: Annotated[
        float,
        figure("A", "It, with all lower ones and all of its repeats. No manufacturer's rating."),
    ]
    delivered_charge_ah: Annotated[float, figure("Ah", "Least charge delivered at it.")]
    repeats: Annotated[int, figure("1", "Tests at it.")]
    repeated: Annotated[bool, Meta(description="Whether they are as many as asked for.")]
    failed_at_a: Annotated[
        float | UnsetType, figure("A", "Lowest current that did not keep them, if one did not.")
    ] = UNSET
    estimate_a: Annotated[
        float | UnsetType,
        figure("A", "Where a limit would be met between the two; as information, no rating."),
    ] = UNSET


class CellProfile(Struct, frozen=True, kw_only=True):
    """The cell as other questions ask for it, each value on its careful side."""

    cell_rating_a: Annotated[
        float | UnsetType, figure("A", "Tested rating; absent where none was found.")
    ] = UNSET
    cell_capacity_ah: Annotated[float, figure("Ah", "Least charge that a log delivered.")]
    cell_resistance_ohm: Annotated[
        float | UnsetType,
        figure("Ω", "Highest resistance of a log; absent where none shows one."),
    ] = UNSET


class DischargeTestFigures(Struct, frozen=True, kw_only=True):
    """The logs one by one, and what they say together."""

    logs: Annotated[list[DischargeLogFigures], Meta(description="Each log, in the order given.")]
    rating: Annotated[
        TestedRating | UnsetType,
        Meta(description="From logs with a temperature; absent where no current passed."),
    ] = UNSET
    profile: Annotated[CellProfile, Meta(description="The cell in the fields of other questions.")]


class LogColumns(NamedTuple):
    """A log as arrays."""

    label: str
    time_s: Floats
    voltage_v: Floats
    current_a: Floats
    temperature_c: Floats | None

    @property
    def measured(self) -> dict[str, Any]:
        """Return the columns by name, as the formulas take them."""
        return {name: getattr(self, name) for name in self._fields if name != "label"}


@cache
def bounds_of(column: str) -> tuple[float, float]:
    """Return the bounds of each number of a column."""
    hint = get_type_hints(DischargeLog, include_extras=True)[column]
    while not any(isinstance(part, Meta) and part.ge is not None for part in get_args(hint)):
        hint = get_args(hint)[0]
    meta = next(part for part in get_args(hint) if isinstance(part, Meta))
    return meta.ge, meta.le  # type: ignore[return-value] # every quantity has both


def faults_of(columns: LogColumns, limits: Limits) -> list[logs.LogFault]:
    """Return the faults of a log."""
    return logs.faults(**columns.measured, longest_gap_s=limits.longest_gap_s, most=MOST_FAULTS)


def _threshold_a(limits: Limits, highest_a: float) -> float:
    given_a = limits.step_current_a
    return STEP_PART * highest_a if given_a is UNSET else given_a


def _test_current_a(current_a: Floats, highest_a: float) -> float:
    mean_a = float(np.mean(current_a[current_a > 0.5 * highest_a]))
    return round(mean_a, 1 if mean_a >= 2 else 2)


def _one(columns: LogColumns, limits: Limits) -> DischargeLogFigures:
    whole_log = logs.summary(**columns.measured)
    steps = logs.current_steps(
        time_s=columns.time_s,
        voltage_v=columns.voltage_v,
        current_a=columns.current_a,
        threshold_a=_threshold_a(limits, whole_log.highest_current_a),
        settle_s=limits.settle_time_s,
    )
    peak_c, peak_s = whole_log.peak_temperature_c, whole_log.peak_time_s
    lowest_v = NO_LIMIT_V if limits.stop_voltage_v is UNSET else limits.stop_voltage_v
    return DischargeLogFigures(
        label=columns.label,
        rows=whole_log.rows,
        test_current_a=_test_current_a(columns.current_a, whole_log.highest_current_a),
        duration_s=whole_log.duration_s,
        delivered_charge_ah=whole_log.charge_ah,
        delivered_energy_wh=whole_log.energy_wh,
        mean_voltage_v=whole_log.mean_voltage_v,
        mean_current_a=whole_log.mean_current_a,
        highest_current_a=whole_log.highest_current_a,
        start_voltage_v=whole_log.start_voltage_v,
        lowest_voltage_v=whole_log.lowest_voltage_v,
        end_voltage_v=whole_log.end_voltage_v,
        peak_temperature_c=UNSET if peak_c is None else peak_c,
        peak_time_s=UNSET if peak_s is None else peak_s,
        cell_resistance_ohm=logs.step_resistance_ohm(steps=steps) if steps else UNSET,
        whole_discharge=whole_log.lowest_voltage_v
        <= max(WHOLE_V, lowest_v + WHOLE_MARGIN_V) * (1 + NOISE),
        steps_found=len(steps),
        steps=[
            DischargeLogStep(
                step.time_s - float(columns.time_s[0]),
                step.before_a,
                step.after_a,
                step.resistance_ohm,
            )
            for step in steps[:MOST_STEPS]
        ],
        kept_limits=UNSET
        if peak_c is None
        # comparing NumPy's numbers gives a NumPy bool, which `is True` and `is False` below would miss
        else bool(peak_c <= limits.stop_temperature_c and whole_log.lowest_voltage_v >= lowest_v),
    )


def _named(number: int, log: DischargeLogFigures) -> str:
    return f"Log {number}" + (f" ({log.label})" if log.label else "")


def _is_broken_off(log: DischargeLogFigures) -> bool:
    """Return whether a log kept the limits only because it ended early."""
    return log.kept_limits is True and not log.whole_discharge


def _against_limits(log: DischargeLogFigures, limits: Limits) -> str:
    """Return in words how far a log with a temperature went, compared with its limits."""
    peak_c, limit_c = log.peak_temperature_c, limits.stop_temperature_c
    said = f"peaked at {beside(float(peak_c or 0), limit_c)} °C, where the limit is {given(limit_c)} °C"
    limit_v = limits.stop_voltage_v
    if limit_v is UNSET:
        return said
    lowest = beside(log.lowest_voltage_v, limit_v)
    return f"{said}, and went down to {lowest} V, where it is {given(limit_v)} V"


def _limit_findings(answers: list[DischargeLogFigures], limits: Limits) -> list[Finding]:
    """Return the findings about logs that prove no rating."""
    found = [
        finding(
            rules.TEST_OVER_LIMIT,
            f"{_named(i, log)} at {log.test_current_a:g} A {_against_limits(log, limits)}.",
        )
        for i, log in enumerate(answers, 1)
        if log.kept_limits is False
    ]
    broken_off = [
        f"{_named(i, log)} at {shown(log.lowest_voltage_v)} V"
        for i, log in enumerate(answers, 1)
        if _is_broken_off(log)
    ]
    if broken_off:
        found.append(
            finding(
                rules.TEST_BROKEN_OFF,
                f"Broken off too early to prove a rating, at the lowest voltage: {', '.join(broken_off)}.",
            )
        )
    without = [_named(i, log) for i, log in enumerate(answers, 1) if log.kept_limits is UNSET]
    if without:
        found.append(
            finding(rules.TEST_WITHOUT_TEMPERATURE, f"No temperature in {', '.join(without)}.")
        )
    return found


def _trials(answers: list[DischargeLogFigures]) -> list[logs.Trial]:
    """Return the logs that can prove a rating."""
    return [
        logs.Trial(
            log.test_current_a,
            log.lowest_voltage_v,
            log.peak_temperature_c,
            log.delivered_charge_ah,
        )
        for log in answers
        if log.peak_temperature_c is not UNSET and not _is_broken_off(log)
    ]


def _rating(
    answers: list[DischargeLogFigures], limits: Limits
) -> tuple[TestedRating | UnsetType, list[Finding]]:
    """Return the highest current that kept the limits, and its findings."""
    found, trials = _limit_findings(answers, limits), _trials(answers)
    if not trials:
        return UNSET, found
    lowest_v = NO_LIMIT_V if limits.stop_voltage_v is UNSET else limits.stop_voltage_v
    try:
        got = logs.rating_from_trials(
            trials=trials,
            highest_c=limits.stop_temperature_c,
            lowest_v=lowest_v,
            least_repeats=int(limits.needed_repeats),
        )
    except NoSolution as none:
        lowest_a = none.numbers["lowest_tested_a"]
        sentence = f"Even {lowest_a:g} A, the lowest current tested, did not keep the limits."
        return UNSET, [finding(rules.TEST_NONE_PASSED, sentence), *found]
    if not got.repeated:
        found.append(
            finding(
                rules.TEST_NOT_REPEATED,
                f"At {got.rating_a:g} A there are {got.repeats} of the {limits.needed_repeats:.0f} tests that are "
                "asked for.",
            )
        )
    if got.failed_at_a is None:
        sentence = f"{got.rating_a:g} A is the highest that was tested, and it passed."
        found.append(finding(rules.TEST_NOT_PUSHED, sentence))
    return (
        TestedRating(
            cell_rating_a=got.rating_a,
            delivered_charge_ah=got.charge_ah,
            repeats=got.repeats,
            repeated=got.repeated,
            failed_at_a=UNSET if got.failed_at_a is None else got.failed_at_a,
            estimate_a=UNSET if got.estimate_a is None else got.estimate_a,
        ),
        found,
    )


def _working(answers: list[DischargeLogFigures]) -> list[WorkingStep]:
    steps = []
    for i, log in enumerate(answers, 1):
        name = _named(i, log)
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
        if log.cell_resistance_ohm is not UNSET:
            first = log.steps[0]
            steps.append(
                WorkingStep(
                    f"{name}: internal d.c. resistance",
                    "R = median of −ΔU / ΔI at the steps",
                    f"{log.steps_found} steps, the first from {first.before_a:.4g} to "
                    f"{first.after_a:.4g} A at {first.time_s:.4g} s",
                    log.cell_resistance_ohm,
                    "Ω",
                )
            )
    return steps


def evaluate(measured: Iterable[LogColumns], limits: Limits) -> Explained[DischargeTestFigures]:
    """Return the result for logs without a fault."""
    answers = [_one(columns, limits) for columns in measured]
    rating, found = _rating(answers, limits)
    if silent := [_named(i, log) for i, log in enumerate(answers, 1) if not log.steps_found]:
        found.append(finding(rules.TEST_NO_STEP, f"No step of the current in {', '.join(silent)}."))
    resistances_ohm = [
        log.cell_resistance_ohm for log in answers if log.cell_resistance_ohm is not UNSET
    ]
    return Explained(
        figures=DischargeTestFigures(
            logs=answers,
            rating=rating,
            profile=CellProfile(
                cell_rating_a=UNSET if rating is UNSET else rating.cell_rating_a,
                cell_capacity_ah=min(log.delivered_charge_ah for log in answers),
                cell_resistance_ohm=max(resistances_ohm) if resistances_ohm else UNSET,
            ),
        ),
        working=_working(answers),
        findings=found,
        leads="the logs prove no rating"
        if rating is UNSET
        else f"the logs prove {rating.cell_rating_a:g} A",
    )


def assumed(limits: Limits) -> list[Assumption]:
    """Return the defaults in use, with those of the limits."""
    found = assumptions(limits)
    if limits.stop_voltage_v is UNSET:
        found.append(Assumption("stop_voltage_v", "no limit", "", NOTHING_GIVEN))
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


def _pointer(log: int, fault: logs.LogFault) -> str:
    """Return the pointer of a fault: to a value, a list, or the log."""
    parts = ["logs", str(log), fault.column, str(fault.row - 1) if fault.row else ""]
    return "/" + "/".join(part for part in parts if part)


def answer_logs(measured: Iterable[LogColumns], limits: Limits) -> Struct:
    """Answer for logs without a fault that were not given as lists."""
    return QUESTION.assemble(limits, evaluate(measured, limits))


QUESTION = Question(
    id="discharge-test",
    subject=Subject.BENCH,
    title="Discharge logs of a cell",
    description="Logs of whole discharges, as lists of time, voltage, current and temperature, or one as "
    "CSV: charge, energy, mean voltage, resistance at the steps, peak temperature; and of several at "
    "rising current the highest that kept the limits.",
    asked=DischargeTest,
    shows=DischargeTestFigures,
    limits=(LimitName.STOP_TEMPERATURE,),
    explain=explain,
    assumed=assumed,
    has_query=False,
    slow=True,
    body_limit=10 * 1024 * 1024,
    # a log from the Lantern Street Bench, invented: a cell of 20 mΩ rests, then is emptied with 20 A
    example={
        "logs": [
            {
                "label": "cell 7",
                "time_s": [0, 10, 11, 60, 120, 180, 240, 300, 360, 420, 480, 520, 521, 570],
                "voltage_v": [
                    4.15,
                    4.15,
                    3.75,
                    3.66,
                    3.58,
                    3.5,
                    3.42,
                    3.34,
                    3.26,
                    3.17,
                    3.05,
                    2.8,
                    3.2,
                    3.3,
                ],
                "current_a": [0, 0, 20, 20, 20, 20, 20, 20, 20, 20, 20, 20, 0, 0],
                "temperature_c": [22, 22, 22.1, 25, 29, 33, 37, 41, 45, 49, 53, 56, 56.2, 55.5],
            }
        ],
        "stop_voltage_v": 2.8,
    },
)
