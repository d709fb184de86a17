"""Which continuous rating do discharge logs prove, and what is missing before they prove one?"""

from collections.abc import Callable
from typing import Annotated

from msgspec import UNSET, Struct, UnsetType

from percell.physics import discharge_log as logs
from percell.questions.bench import rules
from percell.questions.bench.discharge_logs import DischargeLogFigures, Limits, RatingNeed
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.wording import beside, given

Numbered = tuple[int, DischargeLogFigures]

_NOUNS = {
    RatingNeed.START: "start near full",
    RatingNeed.FLOW: "uninterrupted current",
    RatingNeed.CHARGE: "four fifths of the charge",
    RatingNeed.END: "end near empty without sag",
    RatingNeed.TEMPERATURE: "temperature",
}


class TestedRating(Struct, frozen=True, kw_only=True):
    """The highest current that enough whole discharges prove."""

    cell_rating_a: Annotated[
        float,
        figure(
            "A", "It, for a discharge from full to empty without a pause. No manufacturer's rating."
        ),
    ]
    delivered_charge_ah: Annotated[float, figure("Ah", "Least charge delivered at it.")]
    repeats: Annotated[int, figure("1", "Different logs at it.")]
    start_temperature_c: Annotated[
        float, figure("°C", "Lowest temperature of the cell at the start of these logs.")
    ]
    peak_temperature_c: Annotated[float, figure("°C", "Highest temperature in these logs.")]
    failed_at_a: Annotated[
        float | UnsetType, figure("A", "Lowest current that did not keep them, if one did not.")
    ] = UNSET
    estimate_a: Annotated[
        float | UnsetType,
        figure("A", "Where a limit would be met between the two; as information, no rating."),
    ] = UNSET


def listed(words: list[str]) -> str:
    """Return words as a sentence lists them: a, b and c."""
    *first, last = words
    return " and ".join(filter(None, [", ".join(first), last]))


def log_name(number: int, log: DischargeLogFigures, *, begins: bool = False) -> str:
    """Return what a sentence calls a log, within it or where it begins."""
    return f"{'Log' if begins else 'log'} {number}" + (f" ({log.label})" if log.label else "")


def _names(some: list[Numbered]) -> str:
    return listed([log_name(*one) for one in some])


def _proves(log: DischargeLogFigures) -> bool:
    return log.kept_limits is True and not log.missing_for_rating


def rating_of(
    answers: list[DischargeLogFigures], limits: Limits
) -> tuple[TestedRating | UnsetType, list[Finding]]:
    """Return the continuous rating that logs prove, if they prove one, and the findings."""
    trials = [
        logs.Trial(
            current_a=log.test_current_a,
            voltage_v=log.lowest_held_voltage_v,
            peak_c=None if log.peak_temperature_c is UNSET else log.peak_temperature_c,
            charge_ah=log.delivered_charge_ah,
            proves=_proves(log),
            run=number if log.same_as_log is UNSET else log.same_as_log,
        )
        for number, log in enumerate(answers, 1)
    ]
    kept = {"highest_c": limits.stop_temperature_c, "lowest_v": limits.lowest_v}
    failed_a = logs.failed_at_a(trials=trials, **kept)
    got = logs.rating_from_trials(trials=trials, **kept, least_repeats=int(limits.needed_repeats))
    found = _over_limit(answers, limits)
    open_logs = [
        (number, log)
        for number, log in enumerate(answers, 1)
        if failed_a is None or log.test_current_a < failed_a
    ]
    if got is None:
        reason = _no_rating(open_logs, limits) if open_logs else _none_passed(failed_a)
        return UNSET, [reason, *found]
    proving = [log for log in answers if _proves(log) and log.test_current_a == got.rating_a]
    found += _not_counted(open_logs, got.rating_a, limits)
    if failed_a is None:
        sentence = f"{got.rating_a:g} A is the highest that enough logs prove, and no log failed."
        found.append(finding(rules.TEST_NOT_PUSHED, sentence))
    return (
        TestedRating(
            cell_rating_a=got.rating_a,
            delivered_charge_ah=got.charge_ah,
            repeats=got.repeats,
            start_temperature_c=_of(min, [log.start_temperature_c for log in proving]),
            peak_temperature_c=_of(max, [log.peak_temperature_c for log in proving]),
            failed_at_a=UNSET if failed_a is None else failed_a,
            estimate_a=UNSET if got.estimate_a is None else got.estimate_a,
        ),
        found,
    )


def _of(which: Callable[[list[float]], float], values: list[float | UnsetType]) -> float:
    """Return the lowest or the highest of the temperatures that were logged."""
    return which([value for value in values if value is not UNSET])


def _over_limit(answers: list[DischargeLogFigures], limits: Limits) -> list[Finding]:
    """Return the findings about logs that did not keep a limit."""
    return [
        finding(
            rules.TEST_OVER_LIMIT,
            f"{log_name(number, log, begins=True)} at {log.test_current_a:g} A "
            f"{_beside_limits(log, limits)}.",
        )
        for number, log in enumerate(answers, 1)
        if log.kept_limits is False
    ]


def _beside_limits(log: DischargeLogFigures, limits: Limits) -> str:
    """Return in words how far a log went, compared with its limits."""
    parts = []
    if log.peak_temperature_c is not UNSET:
        peak = beside(log.peak_temperature_c, limits.stop_temperature_c)
        limit = given(limits.stop_temperature_c)
        parts.append(f"peaked at {peak} °C, where the limit is {limit} °C")
    if limits.stop_voltage_v is not UNSET:
        lowest = beside(log.lowest_held_voltage_v, limits.stop_voltage_v)
        limit = given(limits.stop_voltage_v)
        parts.append(f"went down to {lowest} V, where the limit is {limit} V")
    return ", and ".join(parts)


def _none_passed(failed_a: float | None) -> Finding:
    sentence = f"Even {failed_a:g} A, the lowest current tested, did not keep the limits."
    return finding(rules.TEST_NONE_PASSED, sentence)


def _lacking(some: list[Numbered]) -> list[str]:
    """Return in words what single logs lack."""
    lacks = []
    for need, noun in _NOUNS.items():
        if without := [one for one in some if need in one[1].missing_for_rating]:
            lacks.append(f"no {noun} in {_names(without)}")
    return lacks


def _too_few(some: list[Numbered], limits: Limits) -> list[str]:
    """Return in words that too few different logs have one current: the highest that a log proves."""
    proving = [one for one in some if _proves(one[1])] or some
    current_a = max(log.test_current_a for _, log in proving)
    different = [
        one for one in some if one[1].test_current_a == current_a and one[1].same_as_log is UNSET
    ]
    if len(different) >= limits.needed_repeats:
        return []
    copies = [
        f"{log_name(*one)} is the same as log {one[1].same_as_log}"
        for one in some
        if one[1].test_current_a == current_a and one[1].same_as_log is not UNSET
    ]
    count = "only one log" if len(different) == 1 else f"only {len(different)} different logs"
    why = f" ({listed(copies)})" if copies else ""
    return [f"{count} at {current_a:g} A{why} where {limits.needed_repeats:g} are needed"]


def _no_rating(some: list[Numbered], limits: Limits) -> Finding:
    """Return the finding that says in one sentence what is missing."""
    lacks = listed(_lacking(some) + _too_few(some, limits))
    return finding(
        rules.TEST_PROVES_NO_RATING,
        f"These logs prove no continuous rating, because there is {lacks}.",
    )


def _not_counted(some: list[Numbered], rating_a: float, limits: Limits) -> list[Finding]:
    """Return the finding about higher currents that too few logs prove."""
    above = [one for one in some if one[1].test_current_a > rating_a]
    if not above:
        return []
    lacks = listed(_lacking(above) + _too_few(above, limits))
    return [
        finding(
            rules.TEST_NOT_COUNTED,
            f"No current above {rating_a:g} A is proved, because there is {lacks}.",
        )
    ]
