"""The highest current that kept the limits in enough tests of a cell at rising current."""

from typing import NamedTuple

# tests whose currents differ by no more than this part are tests at one current: a usual ammeter's accuracy
SAME_CURRENT_PART = 0.02


class Trial(NamedTuple):
    """What one log of a set at rising current says."""

    current_a: float
    voltage_v: float  # lowest that counts
    peak_c: float | None  # None if it was not logged
    charge_ah: float
    proves: bool  # whether it has all that a rating needs besides its limits
    run: int  # copies of one log have one number


class Rating(NamedTuple):
    """The highest current that kept the limits in enough tests."""

    rating_a: float
    charge_ah: float  # least charge delivered at it
    repeats: int  # different tests at it
    estimated_current_a: (
        float | None
    )  # where a limit is crossed before the current that failed, on a straight line


def one_current(*, low_a: float, high_a: float) -> bool:
    """Return the flag of two currents that count as one current of a test, the lower one first.

    Args:
        low_a: Lower current. [A], > 0
        high_a: Higher current. [A], > 0

    Returns:
        Whether the higher one is at most a fiftieth above the lower one, and not below it. [1]

    Source:
        Common practice, no published source: the accuracy of a usual ammeter.

    >>> [one_current(low_a=low, high_a=high) for low, high in ((20.0, 20.3), (20.0, 20.5), (20.3, 20.0))]
    [True, False, False]
    """
    return low_a <= high_a <= low_a * (1.0 + SAME_CURRENT_PART)


def below(*, current_a: float, failing_a: float | None) -> bool:
    """Return the flag of a current below the lowest that failed, and another current than that.

    Args:
        current_a: Current of a test. [A], > 0
        failing_a: Lowest current that did not keep a limit, or None if there is none. [A], > 0

    Returns:
        Whether it is. [1]

    Source:
        Definition.

    >>> [below(current_a=20.0, failing_a=failing) for failing in (None, 25.0, 20.3, 15.0)]
    [True, True, False, False]
    """
    return failing_a is None or (
        current_a < failing_a and not one_current(low_a=current_a, high_a=failing_a)
    )


def lowest_failed_current_a(
    *, trials: list[Trial], highest_c: float, lowest_v: float
) -> float | None:
    """Return the lowest current at which a test did not keep a limit, or None if all kept them.

    Args:
        trials: Tests in any order. [A, V, °C, Ah], any
        highest_c: Highest temperature allowed. [°C], finite
        lowest_v: Lowest voltage allowed under load; 0 for no limit. [V], >= 0

    Returns:
        Current. [A]

    Source:
        Definition.

    >>> lowest_failed_current_a(trials=[Trial(20.0, 3.0, 70.0, 2.8, True, 0), Trial(30.0, 3.0, None, 2.7, True, 1)],
    ...     highest_c=60.0, lowest_v=2.5)
    20.0
    """
    return min(
        (
            trial.current_a
            for trial in trials
            if (trial.peak_c is not None and trial.peak_c > highest_c) or trial.voltage_v < lowest_v
        ),
        default=None,
    )


def rating_from_trials(
    *, trials: list[Trial], highest_c: float, lowest_v: float, least_repeats: int
) -> Rating | None:
    """Return the highest current that enough tests prove, or None if there is none.

    A test proves its current if it kept both limits, at them included, and has all else that a rating
    needs. Copies of one log are one test. Currents within a fiftieth are one current, and the lowest of
    them is rated. A current is not rated if a test at it, or at a lower one, did not keep a limit. The rating is a current that was tested, never one between or beyond. As
    information, the estimate is where the first limit is crossed on a straight line from the worst test
    at the rating to the worst at the lowest current that failed.

    Args:
        trials: Tests in any order; equal currents are repeats. [A, V, °C, Ah], any
        highest_c: Highest temperature allowed. [°C], finite
        lowest_v: Lowest voltage allowed under load; 0 for no limit. [V], >= 0
        least_repeats: Different tests at the rating. [1], >= 1

    Returns:
        Rating. [A, Ah]

    Source:
        Common practice, no published source.

    >>> rating_from_trials(trials=[Trial(10.0, 3.0, 50.0, 2.9, True, 0), Trial(20.0, 3.0, 70.0, 2.8, True, 1),
    ...     Trial(30.0, 3.0, 90.0, 2.7, True, 2)], highest_c=80.0, lowest_v=2.5, least_repeats=1)
    Rating(rating_a=20.0, charge_ah=2.8, repeats=1, estimated_current_a=25.0)
    """
    failing_a = lowest_failed_current_a(trials=trials, highest_c=highest_c, lowest_v=lowest_v)
    proving = [
        trial
        for trial in trials
        if trial.proves
        and trial.peak_c is not None
        and below(current_a=trial.current_a, failing_a=failing_a)
    ]
    for current_a in sorted({trial.current_a for trial in proving}, reverse=True):
        passed = [
            trial for trial in proving if one_current(low_a=current_a, high_a=trial.current_a)
        ]
        repeats = len({trial.run for trial in passed})
        if repeats >= least_repeats:
            failed = [trial for trial in trials if trial.current_a == failing_a]
            return Rating(
                rating_a=current_a,
                charge_ah=min(trial.charge_ah for trial in passed),
                repeats=repeats,
                estimated_current_a=_crossing_a(passed, failed, highest_c, lowest_v)
                if failed
                else None,
            )
    return None


def _crossing_a(
    passed: list[Trial], failed: list[Trial], highest_c: float, lowest_v: float
) -> float:
    """Return the current at which the first limit is crossed between two tested currents."""
    low_a, high_a = min(trial.current_a for trial in passed), failed[0].current_a
    part = 1.0
    for limit, inner, outer in (
        (highest_c, _peaks(passed), _peaks(failed)),
        (-lowest_v, [-t.voltage_v for t in passed], [-t.voltage_v for t in failed]),
    ):
        if outer and max(outer) > limit:
            part = min(part, (limit - max(inner)) / (max(outer) - max(inner)))
    return low_a + part * (high_a - low_a)


def _peaks(trials: list[Trial]) -> list[float]:
    return [trial.peak_c for trial in trials if trial.peak_c is not None]
