"""Which continuous rating do discharge logs prove, and what is missing before they prove one?"""

from collections.abc import Callable
from typing import Annotated, NamedTuple

from msgspec import UNSET, Struct, UnsetType

from percell.physics import rating_trials
from percell.physics.meter import NOISE
from percell.questions.answering.voltage_findings import OVERCHARGE_V, resting_voltage
from percell.questions.bench import rules
from percell.questions.bench.discharge_logs import (
    LEAST_WARMING_K,
    DischargeLimits,
    DischargeLogFigures,
    RatingNeed,
)
from percell.questions.cell import rules as cell_rules
from percell.questions.cell.warmth import AMBIENT_C, STOP_C
from percell.questions.vocabulary.chemistry import VOLTAGES
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.limits import (
    Held,
    Limit,
    LimitSide,
    judged,
    missing,
    not_judged,
    worst_of_each,
)
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.wording import beside, given, listed, quoted, shown

Numbered = tuple[int, DischargeLogFigures]

# what a log lacks, said of one log and of several
_LACKS = {
    RatingNeed.START: ("does not start near full", "do not start near full"),
    RatingNeed.CHARGED: (
        "starts above the charged voltage of the chemistry",
        "start above the charged voltage of the chemistry",
    ),
    RatingNeed.FLOW: ("has pauses or an unsteady current", "have pauses or an unsteady current"),
    RatingNeed.CHARGE: (
        "delivers less than four fifths of the charge",
        "deliver less than four fifths of the charge",
    ),
    RatingNeed.END: (
        "stops before the cell is nearly empty",
        "stop before the cells are nearly empty",
    ),
    RatingNeed.TEMPERATURE: ("has no temperature", "have no temperature"),
    RatingNeed.WARMING: (
        f"has a temperature that rises by less than {LEAST_WARMING_K:g} K, so it may not be the cell's",
        f"have a temperature that rises by less than {LEAST_WARMING_K:g} K, so it may not be the cell's",
    ),
    RatingNeed.COLUMNS: (
        "has columns whose meaning or unit was guessed",
        "have columns whose meaning or unit was guessed",
    ),
}


class TestedRating(Struct, frozen=True, kw_only=True):
    """The highest current that enough whole discharges prove."""

    cell_rating_a: Annotated[
        float,
        figure(
            "A",
            "Tested rating for a discharge from full to empty without a pause. Not a manufacturer's rating.",
        ),
    ]
    delivered_charge_ah: Annotated[float, figure("Ah", "Least charge delivered at this current.")]
    repeats: Annotated[int, figure("1", "Number of different logs at this current.")]
    start_temperature_c: Annotated[
        float, figure("°C", "Lowest temperature of the cell at the start of these logs.")
    ]
    peak_temperature_c: Annotated[float, figure("°C", "Highest temperature in these logs.")]
    lowest_failed_current_a: Annotated[
        float | UnsetType, figure("A", "Lowest current that exceeded a limit, if one did.")
    ] = UNSET
    estimated_current_a: Annotated[
        float | UnsetType,
        figure(
            "A",
            "Current between the two at which a limit would be reached. For information, not a rating.",
        ),
    ] = UNSET


def log_name(number: int, log: DischargeLogFigures, *, begins: bool = False) -> str:
    """Return what a sentence calls a log, within it or where it begins."""
    return f"{'Log' if begins else 'log'} {number}" + (
        f" ({quoted(log.label)})" if log.label else ""
    )


def _names(some: list[Numbered]) -> str:
    return listed([log_name(*one) for one in some])


def _proves(log: DischargeLogFigures) -> bool:
    return log.kept_limits is True and not log.missing_for_rating


class Proof(NamedTuple):
    """The rating that logs prove, if they prove one, with the limits and the findings."""

    rating: TestedRating | UnsetType
    held: Held


def rating_of(answers: list[DischargeLogFigures], limits: DischargeLimits) -> Proof:
    """Return what logs prove of a continuous rating."""
    trials = [
        rating_trials.Trial(
            current_a=log.test_current_a,
            voltage_v=log.lowest_held_voltage_v,
            peak_c=None
            if log.judged_peak_temperature_c is UNSET
            else log.judged_peak_temperature_c,
            charge_ah=log.delivered_charge_ah,
            proves=_proves(log),
            run=number if log.same_as_log_number is UNSET else log.same_as_log_number,
        )
        for number, log in enumerate(answers, 1)
    ]
    highest_c, lowest_v = limits.kept_at
    failed_a = rating_trials.lowest_failed_current_a(
        trials=trials, highest_c=highest_c, lowest_v=lowest_v
    )
    got = rating_trials.rating_from_trials(
        trials=trials,
        highest_c=highest_c,
        lowest_v=lowest_v,
        least_repeats=int(limits.needed_repeats),
    )
    numbered = list(enumerate(answers, 1))
    failed = [one for one in numbered if one[1].kept_limits is False]
    not_failed = [
        one
        for one in numbered
        if rating_trials.below(current_a=one[1].test_current_a, failing_a=failed_a)
    ]
    if got is None:
        return Proof(UNSET, _unproved(numbered, not_failed, failed, limits))
    proving = [
        log
        for log in answers
        if _proves(log) and rating_trials.one_current(low_a=got.rating_a, high_a=log.test_current_a)
    ]
    rating = TestedRating(
        cell_rating_a=got.rating_a,
        delivered_charge_ah=got.charge_ah,
        repeats=got.repeats,
        start_temperature_c=_of(min, [log.start_temperature_c for log in proving]),
        peak_temperature_c=_of(max, [log.peak_temperature_c for log in proving]),
        lowest_failed_current_a=UNSET if failed_a is None else failed_a,
        estimated_current_a=UNSET if got.estimated_current_a is None else got.estimated_current_a,
    )
    found = [
        *_overcharged(numbered, limits),
        *_stop_raised(proving, limits),
        *_not_counted(not_failed, got.rating_a, limits),
    ]
    if failed:
        found.append(finding(rules.TEST_FAILED_ABOVE, _failures(failed, limits)))
    else:
        sentence = f"{got.rating_a:g} A is the highest current that enough logs prove, and no log exceeded a limit."
        found.append(finding(rules.TEST_NOT_PUSHED, sentence))
    return Proof(rating, Held(_limits_of(proving, limits), found))


def _limits_of(some: list[DischargeLogFigures], limits: DischargeLimits) -> list[Limit]:
    """Hold each log against its limits: the worst of each counts."""
    held = []
    for log in some:
        peak_c, start_c = log.judged_peak_temperature_c, log.start_temperature_c
        held += [
            missing(LimitName.STOP_TEMPERATURE, "temperature_c")
            if peak_c is UNSET or start_c is UNSET
            else judged(
                LimitName.STOP_TEMPERATURE,
                peak_c,
                # a higher limit lets a test run on, and makes no rating of it
                min(limits.stop_temperature_c, STOP_C),
                "°C",
                origin=max(start_c, AMBIENT_C),
            ),
            judged(
                LimitName.END_VOLTAGE,
                log.lowest_held_voltage_v,
                limits.lowest_v,
                "V",
                bound=LimitSide.AT_LEAST,
                near=False,
            ),
            resting_voltage(limits.chemistry, log.start_open_circuit_voltage_v),
        ]
    return worst_of_each(held)


def _unproved(
    numbered: list[Numbered],
    not_failed: list[Numbered],
    failed: list[Numbered],
    limits: DischargeLimits,
) -> Held:
    """Return limits and findings of logs that prove no rating: what they kept, they do not prove."""
    held = [
        not_judged(one, "no continuous rating was proved")
        for one in _limits_of([log for _, log in numbered], limits)
    ]
    over = {
        rule: [one for one in failed if exceeds(one[1], limits)]
        for rule, exceeds in ((rules.TEST_TOO_HOT, _too_hot), (rules.TEST_TOO_LOW, _too_low))
    }
    found = [finding(rule, _failures(some, limits)) for rule, some in over.items() if some]
    found += _overcharged(numbered, limits)
    return Held(
        held,
        [
            *found,
            *_stop_raised([log for _, log in numbered], limits),
            _no_rating(numbered, not_failed, limits),
        ],
    )


def _overcharged(numbered: list[Numbered], limits: DischargeLimits) -> list[Finding]:
    """Return the finding about cells, or a voltmeter, that start too high for the chemistry."""
    some = [one for one in numbered if RatingNeed.CHARGED in one[1].missing_for_rating]
    if not some:
        return []
    preset = VOLTAGES[limits.chemistry]
    highest_v = max(log.start_open_circuit_voltage_v for _, log in some)
    start = "starts at" if len(some) == 1 else "start at up to"
    names = _names(some)
    return [
        finding(
            cell_rules.CHARGE_ABOVE_FULL,
            f"{names[0].upper()}{names[1:]} {start} {beside(highest_v, preset.charged_v + OVERCHARGE_V)} V. That is more "
            f"than {OVERCHARGE_V:g} V above the {preset.charged_v:g} V to which a cell of {preset.name} is charged. "
            "Do not use or charge such a cell before you have checked voltmeter and chemistry.",
        )
    ]


def _stop_raised(some: list[DischargeLogFigures], limits: DischargeLimits) -> list[Finding]:
    """Return the finding about a test that was allowed to become hotter than cells should, and did."""
    peaks_c = [log.judged_peak_temperature_c for log in some]
    if limits.stop_temperature_c <= STOP_C or all(
        peak_c is UNSET or peak_c <= STOP_C * (1 + NOISE) for peak_c in peaks_c
    ):
        return []
    sentence = (
        f"Stop at {STOP_C:g} °C, and use no rating from a hotter test. These logs were judged up to "
        f"{given(limits.stop_temperature_c)} °C."
    )
    return [finding(rules.TEST_STOP_RAISED, sentence)]


def _too_hot(log: DischargeLogFigures, limits: DischargeLimits) -> bool:
    peak_c = log.judged_peak_temperature_c
    return peak_c is not UNSET and peak_c > limits.kept_at[0]


def _too_low(log: DischargeLogFigures, limits: DischargeLimits) -> bool:
    return log.lowest_held_voltage_v < limits.kept_at[1]


def _of(which: Callable[[list[float]], float], values: list[float | UnsetType]) -> float:
    """Return the lowest or the highest of the temperatures that were logged."""
    return which([value for value in values if value is not UNSET])


def _failures(some: list[Numbered], limits: DischargeLimits) -> str:
    """Return in a sentence how far logs went that did not keep the limits."""
    said = []
    for number, log in some:
        parts = []
        if _too_hot(log, limits):
            parts.append(f"{_heat(log, limits)}, above {given(limits.stop_temperature_c)} °C")
        if _too_low(log, limits):
            lowest = beside(log.lowest_held_voltage_v, limits.lowest_v)
            parts.append(f"{lowest} V, below {given(limits.lowest_v)} V")
        said.append(
            f"{log_name(number, log, begins=True)} at {log.test_current_a:g} A reached {' and '.join(parts)}"
        )
    return " ".join(f"{one}." for one in said)


def _heat(log: DischargeLogFigures, limits: DischargeLimits) -> str:
    """Return the peak that is compared with the limit, and where it comes from if it is not the measured one."""
    judged = f"{beside(log.judged_peak_temperature_c, limits.stop_temperature_c)} °C"  # type: ignore[arg-type] # a log that failed has them
    if log.judged_peak_temperature_c == log.peak_temperature_c:
        return judged
    said = f"{shown(log.peak_temperature_c)} °C from a start at {shown(log.start_temperature_c)} °C"  # type: ignore[arg-type] # as above
    return f"{said.replace('-', '−')}, so {judged} from {AMBIENT_C:g} °C"


def _lacking(some: list[Numbered]) -> list[str]:
    """Return in words what single logs lack."""
    lacks: dict[str, list[str]] = {}
    for need, (of_one, of_several) in _LACKS.items():
        if without := [one for one in some if need in one[1].missing_for_rating]:
            lacks.setdefault(_names(without), []).append(
                of_one if len(without) == 1 else of_several
            )
    return [f"{names} {listed(said)}" for names, said in lacks.items()]


def _too_few(some: list[Numbered], limits: DischargeLimits) -> list[str]:
    """Return in words that too few different logs have one current: the highest that a log proves."""
    proving = [one for one in some if _proves(one[1])] or some
    current_a = max(log.test_current_a for _, log in proving)
    alike = [
        one
        for one in some
        if rating_trials.one_current(low_a=one[1].test_current_a, high_a=current_a)
    ]
    different = [one for one in alike if one[1].same_as_log_number is UNSET]
    if len(different) >= limits.needed_repeats:
        return []
    copies = [
        f"{log_name(*one)} shows the same discharge as log {one[1].same_as_log_number}"
        for one in alike
        if one[1].same_as_log_number is not UNSET
    ]
    count = (
        "there is only one log"
        if len(different) == 1
        else f"there are only {len(different)} different logs"
    )
    why = f" ({listed(copies)})" if copies else ""
    return [f"{count} at {current_a:g} A{why}, but {limits.needed_repeats:g} are needed"]


def _no_rating(
    numbered: list[Numbered], not_failed: list[Numbered], limits: DischargeLimits
) -> Finding:
    """Return the finding that says in one sentence what is missing."""
    lowest_a = min(log.test_current_a for _, log in numbered)
    why = (
        listed(_lacking(not_failed) + _too_few(not_failed, limits))
        if not_failed
        else f"even {lowest_a:g} A, the lowest current tested, exceeded the limits"
    )
    sentence = f"These logs prove no continuous rating, because {why}."
    return finding(rules.TEST_PROVES_NO_RATING, sentence)


def _not_counted(some: list[Numbered], rating_a: float, limits: DischargeLimits) -> list[Finding]:
    """Return the finding about higher currents that too few logs prove."""
    above = [
        one
        for one in some
        if one[1].test_current_a > rating_a
        and not rating_trials.one_current(low_a=rating_a, high_a=one[1].test_current_a)
    ]
    if not above:
        return []
    lacks = listed(_lacking(above) + _too_few(above, limits))
    return [
        finding(
            rules.TEST_NOT_COUNTED,
            f"No current above {rating_a:g} A is proved, because {lacks}.",
        )
    ]
