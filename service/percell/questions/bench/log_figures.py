"""What discharge logs show by themselves, and judged together with their copies."""

from typing import NamedTuple

from msgspec import UNSET, UnsetType

from percell.physics import current_steps, discharge_log, log_curve, rating_trials
from percell.physics.meter import NOISE
from percell.questions.answering.voltage_findings import resting_voltage
from percell.questions.bench.discharge_logs import (
    LEAST_CHARGE,
    LEAST_FLOWING,
    LEAST_WARMING_K,
    MOST_POINTS,
    MOST_STEPS,
    NEAR_FULL_V,
    NOT_FULL_V,
    OVERSHOOT_V,
    STEP_PART,
    DischargeCurvePoint,
    DischargeLimits,
    DischargeLogFigures,
    DischargeLogStep,
    LogColumns,
    LogStart,
    RatingNeed,
)
from percell.questions.cell.warmth import AMBIENT_C
from percell.questions.vocabulary.verdict import Verdict


class LogRead(NamedTuple):
    """A log with all that can be read from it alone."""

    columns: LogColumns
    whole: discharge_log.Summary
    load: discharge_log.Load
    curve: log_curve.Curve
    steps: list[current_steps.CurrentStep]
    counted: list[current_steps.CurrentStep]
    resistance: current_steps.StepResistance | None


def read_log(columns: LogColumns, limits: DischargeLimits) -> LogRead:
    """Return what a log without a fault shows by itself."""
    electrical = {name: getattr(columns, name) for name in ("time_s", "voltage_v", "current_a")}
    whole_log = discharge_log.summary(**columns.measured)
    given_a = limits.step_current_a
    threshold_a = STEP_PART * whole_log.highest_current_a if given_a is UNSET else given_a
    steps = current_steps.current_steps(
        **electrical, threshold_a=threshold_a, settle_s=limits.settle_time_s
    )
    counted = current_steps.steps_near_half_charge(steps=steps, threshold_a=threshold_a)
    return LogRead(
        columns=columns,
        whole=whole_log,
        load=discharge_log.load(**electrical, overshoot_v=OVERSHOOT_V),
        curve=log_curve.curve(**columns.measured),
        steps=steps,
        counted=counted,
        resistance=current_steps.step_resistance(steps=counted) if counted else None,
    )


def figures_of(read: list[LogRead], limits: DischargeLimits) -> list[DischargeLogFigures]:
    """Return the figures of logs that are judged together."""
    shown = [log.resistance for log in read if log.resistance]
    lowest_ohm = min((one.lowest_ohm for one in shown), default=0.0)
    highest_ohm = max((one.middle_ohm for one in shown), default=None)
    stated_ah = 0.0 if limits.cell_capacity_ah is UNSET else limits.cell_capacity_ah
    largest_ah = max(stated_ah, *(log.whole.charge_ah for log in read))
    return [
        _figures_of_one(
            log,
            limits,
            start_v=_start_v(log.load, lowest_ohm),
            without_sag_v=discharge_log.end_without_sag_v(
                load=log.load, resistance_ohm=highest_ohm, full_v=limits.charged_v
            ),
            largest_ah=largest_ah,
            same_as_log_number=UNSET if same is None else same,
        )
        for log, same in zip(read, _copies(read), strict=True)
    ]


def _copies(read: list[LogRead]) -> list[int | None]:
    """Return for each log the number of the first earlier one that shows the same discharge."""
    found: list[int | None] = []
    for log in read:
        earlier = (
            number
            for number, (other, same) in enumerate(zip(read, found, strict=False), 1)
            if same is None
            and rating_trials.one_current(
                low_a=min(other.load.held_a, log.load.held_a),
                high_a=max(other.load.held_a, log.load.held_a),
            )
            and log_curve.same_discharge(one=other.curve, other=log.curve)
        )
        found.append(next(earlier, None))
    return found


def _start_v(load: discharge_log.Load, lowest_ohm: float) -> float:
    """Return the voltage at rest before a load, or the lowest that it can have been."""
    return load.first_v + load.first_a * lowest_ohm if load.rest_v is None else load.rest_v


def _figures_of_one(
    log: LogRead,
    limits: DischargeLimits,
    *,
    start_v: float,
    without_sag_v: float,
    largest_ah: float,
    same_as_log_number: int | UnsetType,
) -> DischargeLogFigures:
    whole_log, load, found = log.whole, log.load, log.resistance
    peak_c, warm = whole_log.peak_temperature_c, log.columns.temperature_c
    start_c = None if warm is None else float(warm[0])
    shown = log_curve.thinned(log=log.curve, most=MOST_POINTS)
    judged_c = None if peak_c is None or start_c is None else judged_peak_c(start_c, peak_c)
    return DischargeLogFigures(
        label=log.columns.label,
        rows=whole_log.rows,
        read_as=log.columns.read_as or UNSET,
        test_current_a=round(load.held_a, 1 if load.held_a >= 2 else 2),
        flowing_ratio=load.flowing,
        duration_s=whole_log.duration_s,
        delivered_charge_ah=whole_log.charge_ah,
        delivered_energy_wh=whole_log.energy_wh,
        mean_voltage_v=whole_log.mean_voltage_v,
        mean_current_a=whole_log.mean_current_a,
        highest_current_a=whole_log.highest_current_a,
        start_voltage_v=whole_log.start_voltage_v,
        start_open_circuit_voltage_v=start_v,
        begins_under_load=load.rest_v is None,
        rest_current_a=_or_unset(discharge_log.rest_current_a(current_a=log.columns.current_a)),
        lowest_voltage_v=whole_log.lowest_voltage_v,
        lowest_held_voltage_v=load.lowest_held_v,
        end_voltage_v=whole_log.end_voltage_v,
        end_voltage_without_sag_v=without_sag_v,
        start_temperature_c=_or_unset(start_c),
        peak_temperature_c=_or_unset(peak_c),
        peak_time_s=_or_unset(whole_log.peak_time_s),
        judged_peak_temperature_c=_or_unset(judged_c),
        cell_resistance_ohm=UNSET if found is None else found.middle_ohm,
        cell_resistance_lowest_ohm=UNSET if found is None else found.lowest_ohm,
        cell_resistance_highest_ohm=UNSET if found is None else found.highest_ohm,
        steps_found=len(log.steps),
        steps=[
            DischargeLogStep(
                time_s=step.time_s - float(log.columns.time_s[0]),
                current_before_a=step.current_before_a,
                current_after_a=step.current_after_a,
                cell_resistance_ohm=step.resistance_ohm,
                delivered_ratio=step.delivered,
                read_after_s=step.read_after_s,
                counts=step in log.counted,
            )
            for step in log.steps[:MOST_STEPS]
        ],
        curve=[
            DischargeCurvePoint(charge_as / 3600.0, voltage_v)
            for charge_as, voltage_v in zip(
                shown.charge_as.tolist(), shown.voltage_v.tolist(), strict=True
            )
        ],
        kept_limits=_kept_limits(load.lowest_held_v, judged_c, limits),
        missing_for_rating=[
            need
            for need, lacks in {
                RatingNeed.START: not _began_near_full(load, start_v, limits),
                RatingNeed.CHARGED: resting_voltage(limits.chemistry, start_v).verdict
                is Verdict.OVER,
                RatingNeed.FLOW: load.flowing < LEAST_FLOWING * (1 - NOISE),
                RatingNeed.CHARGE: load.charge_ah < LEAST_CHARGE * largest_ah * (1 - NOISE),
                RatingNeed.END: without_sag_v > limits.near_empty_v * (1 + NOISE),
                RatingNeed.TEMPERATURE: peak_c is None,
                RatingNeed.WARMING: peak_c is not None
                and start_c is not None
                and peak_c - start_c < LEAST_WARMING_K * (1 - NOISE),
                RatingNeed.COLUMNS: log.columns.read_as is not None
                and bool(log.columns.read_as.doubtful),
            }.items()
            if lacks
        ],
        same_as_log_number=same_as_log_number,
    )


def judged_peak_c(start_c: float, peak_c: float) -> float:
    """Return the temperature that a log is judged by: that of a start in air of 25 °C or more.

    >>> judged_peak_c(-15.0, 49.0), judged_peak_c(30.0, 49.0)
    (89.0, 49.0)
    """
    return peak_c + max(0.0, AMBIENT_C - start_c)


def _or_unset(value: float | None) -> float | UnsetType:
    return UNSET if value is None else value


def _kept_limits(
    lowest_v: float, peak_c: float | None, limits: DischargeLimits
) -> bool | UnsetType:
    highest_c, least_v = limits.kept_at
    # bool(): comparing NumPy's numbers gives a NumPy bool, which `is True` and `is False` would miss
    if not bool(lowest_v >= least_v):
        return False
    return UNSET if peak_c is None else bool(peak_c <= highest_c)


def _began_near_full(load: discharge_log.Load, start_v: float, limits: DischargeLimits) -> bool:
    """Return whether the cell was nearly full: a voltage that contradicts who says so comes first."""
    said_full = limits.log_start is LogStart.FULL
    if said_full and load.rest_v is None:
        return True
    below_v = NOT_FULL_V if said_full else NEAR_FULL_V
    return start_v >= (limits.charged_v - below_v) * (1 - NOISE)
