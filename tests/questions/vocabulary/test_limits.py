"""One limit at, above and below its value, limits of one name together, and the verdict of an answer."""

import msgspec
import pytest
from msgspec import UNSET

from percell.questions.vocabulary.limits import (
    Held,
    Limit,
    LimitSide,
    judged,
    missing,
    not_judged,
    over,
    together,
    unbounded,
    verdict_of,
    with_warnings,
    worst_of_each,
)
from percell.questions.vocabulary.rules import LimitName, Rule, Severity, finding
from percell.questions.vocabulary.verdict import Verdict

RATING, END, STOP = (
    LimitName.CONTINUOUS_RATING,
    LimitName.END_VOLTAGE,
    LimitName.STOP_TEMPERATURE,
)
STEP = 1e-6  # a difference that a caller could mean
NOISE = 1e-12  # floating-point noise


def rule(severity=Severity.WARNING, limit=RATING, name="trial"):
    return Rule(id=name, severity=severity, title="t", explanation="e", source="s", limit=limit)


# a rating of 20 A, of which a tenth is 2 A
AT_MOST = [
    (0.0, Verdict.WITHIN, 1.0),
    (10.0, Verdict.WITHIN, 0.5),
    (18.0 * (1 - STEP), Verdict.WITHIN, 0.1),
    (18.0, Verdict.WITHIN, 0.1),
    (18.0 * (1 + NOISE), Verdict.WITHIN, 0.1),
    (18.0 * (1 + STEP), Verdict.LITTLE, 0.1),
    (20.0 * (1 - STEP), Verdict.LITTLE, 0.0),
    (20.0, Verdict.LITTLE, 0.0),
    (20.0 * (1 + NOISE), Verdict.LITTLE, 0.0),
    (20.0 * (1 + STEP), Verdict.OVER, 0.0),
    (30.0, Verdict.OVER, -0.5),
]


@pytest.mark.parametrize(("current_a", "verdict", "headroom"), AT_MOST)
def test_at_most(current_a, verdict, headroom):
    """Figures up to the limit are within it; the last tenth is little headroom; noise decides nothing."""
    got = judged(RATING, current_a, 20.0, "A")
    assert got.verdict is verdict
    assert got.headroom == pytest.approx(headroom, abs=2 * STEP)
    assert (got.figure, got.value, got.unit) == (current_a, 20.0, "A")
    # a reader of the headroom alone must come to the same word
    assert (got.headroom < 0) is (verdict is Verdict.OVER)


# a resistance of at least 0.2 ohm, of which a tenth is 0.02 ohm
AT_LEAST = [
    (0.3, Verdict.WITHIN, 0.5),
    (0.22 * (1 + STEP), Verdict.WITHIN, 0.1),
    (0.22, Verdict.WITHIN, 0.1),
    (0.22 * (1 - NOISE), Verdict.WITHIN, 0.1),
    (0.22 * (1 - STEP), Verdict.LITTLE, 0.1),
    (0.2 * (1 + STEP), Verdict.LITTLE, 0.0),
    (0.2, Verdict.LITTLE, 0.0),
    (0.2 * (1 - NOISE), Verdict.LITTLE, 0.0),
    (0.2 * (1 - STEP), Verdict.OVER, 0.0),
    (0.1, Verdict.OVER, -0.5),
]


@pytest.mark.parametrize(("ohm", "verdict", "headroom"), AT_LEAST)
def test_at_least(ohm, verdict, headroom):
    """The same for a limit that a figure must not fall below."""
    got = judged(LimitName.AVAILABLE_POWER, ohm, 0.2, "Ω", bound=LimitSide.AT_LEAST)
    assert got.verdict is verdict
    assert got.headroom == pytest.approx(headroom, abs=2 * STEP * 1.1)
    assert (got.headroom < 0) is (verdict is Verdict.OVER)


@pytest.mark.parametrize(
    ("volt", "bound", "verdict"),
    [
        (2.5, LimitSide.AT_LEAST, Verdict.WITHIN),
        (2.5 * (1 - NOISE), LimitSide.AT_LEAST, Verdict.WITHIN),
        (2.5 - STEP, LimitSide.AT_LEAST, Verdict.OVER),
        (2.5, LimitSide.AT_MOST, Verdict.WITHIN),
        (2.5 + STEP, LimitSide.AT_MOST, Verdict.OVER),
    ],
)
def test_a_voltage_at_its_usual_end_is_within(volt, bound, verdict):
    """Without nearness there is no little headroom: cells are charged to their limit every day."""
    assert judged(END, volt, 2.5, "V", bound=bound, near=False).verdict is verdict


@pytest.mark.parametrize(
    ("warm_c", "verdict", "headroom"),
    [
        # 60 °C in air of 20 °C: a tenth of the rise is 4 K
        (20.0, Verdict.WITHIN, 1.0),
        (56.0, Verdict.WITHIN, 0.1),
        (56.0 + STEP, Verdict.LITTLE, 0.1),
        (60.0, Verdict.LITTLE, 0.0),
        (60.0 + STEP, Verdict.OVER, 0.0),
        (80.0, Verdict.OVER, -0.5),
    ],
)
def test_headroom_counts_from_an_origin(warm_c, verdict, headroom):
    """A temperature has the headroom of its rise above the air, not above the freezing point of water."""
    got = judged(STOP, warm_c, 60.0, "°C", origin=20.0)
    assert got.verdict is verdict
    assert got.headroom == pytest.approx(headroom, abs=STEP)


@pytest.mark.parametrize(
    ("warm_c", "verdict"), [(60.0, Verdict.LITTLE), (60.1, Verdict.OVER), (70, Verdict.OVER)]
)
def test_air_at_the_limit_leaves_no_headroom(warm_c, verdict):
    """In air as hot as the limit no part of a rise can be counted, and nothing is left."""
    got = judged(STOP, warm_c, 60.0, "°C", origin=60.0)
    assert got.verdict is verdict
    assert got.headroom is UNSET


def test_what_a_missing_limit_says():
    """It names its field, judges nothing, and has no value."""
    got = missing(STOP, "cell_size")
    assert got.verdict is Verdict.NOT_JUDGED
    assert got.missing == "cell_size"
    assert got.reason == "the cell size was not given"
    assert got.value is got.figure is got.headroom is UNSET


@pytest.mark.parametrize(
    ("current_a", "verdict", "reason"),
    [
        (10.0, Verdict.NOT_JUDGED, "assumed"),
        (19.0, Verdict.NOT_JUDGED, "assumed"),
        (21.0, Verdict.OVER, UNSET),
    ],
)
def test_an_assumed_limit_proves_nothing_where_it_is_kept(current_a, verdict, reason):
    """Within an assumed limit is not judged; over it stays over. The numbers stay."""
    was = judged(RATING, current_a, 20.0, "A")
    got = not_judged(was, "assumed")
    assert (got.verdict, got.reason) == (verdict, reason)
    assert (got.value, got.figure, got.headroom) == (20.0, current_a, was.headroom)
    assert got.missing is UNSET


def test_without_a_size():
    """What is certainly over, and what nothing can exceed, have a verdict and no headroom."""
    assert over(STOP) == Limit(name=STOP, verdict=Verdict.OVER)
    assert unbounded(STOP) == Limit(name=STOP, verdict=Verdict.WITHIN)


def at(current_a, name=RATING):
    return judged(name, current_a, 20.0, "A")


UNSURE = not_judged(at(10), "assumed")
ABSENT = missing(RATING, "cell_rating_a")


@pytest.mark.parametrize(
    ("limits", "worst"),
    [
        ([at(10), at(12)], at(12)),
        ([at(12), at(10)], at(12)),
        ([at(19), at(21), at(10)], at(21)),
        ([at(19), UNSURE], UNSURE),
        ([UNSURE, at(19)], UNSURE),
        ([UNSURE, at(21)], at(21)),
        ([at(21), over(RATING)], at(21)),
        ([unbounded(RATING), at(19)], at(19)),
        ([at(10), ABSENT], ABSENT),
        ([ABSENT, at(21)], at(21)),
        # it counts wherever it is listed, because what was not looked at may be worse than little headroom
        ([ABSENT, UNSURE], UNSURE),
        ([UNSURE, ABSENT], UNSURE),
        ([at(19), ABSENT], msgspec.structs.replace(ABSENT, missing=UNSET)),
        ([ABSENT, at(19)], msgspec.structs.replace(ABSENT, missing=UNSET)),
        ([at(19), at(10), ABSENT], msgspec.structs.replace(ABSENT, missing=UNSET)),
    ],
)
def test_the_worst_of_one_name(limits, worst):
    """The gravest of a name is left, and of equal verdicts the one with the least headroom."""
    assert worst_of_each(limits) == [worst]


def test_each_name_once_in_the_order_of_the_first():
    """Names keep their order, whichever of each is the worst."""
    mixed = [at(10), at(19, END), at(21), at(10, END), at(1, STOP)]
    assert worst_of_each(mixed) == [at(21), at(19, END), at(1, STOP)]


@pytest.mark.parametrize("place", range(2))
def test_together_no_word_gets_milder(place):
    """Whatever is put together, in either order, the verdict is at least that of each part."""
    order = list(Verdict)
    some = [at(10), at(19), at(21), UNSURE, over(RATING), unbounded(RATING)]
    for one in some:
        for other in [*some, ABSENT]:
            got = worst_of_each([one, other] if place else [other, one])
            for before in ([], [at(1, END)]):
                told = order.index(verdict_of([*before, *got]))
                assert told >= order.index(verdict_of([*before, one])), (one, other)
                assert told >= order.index(verdict_of([*before, other])), (one, other)


def test_together():
    """Limits by the gravest of a name, rules by their first finding."""
    first = finding(rule(), "first")
    again, new = finding(rule(), "again"), finding(rule(name="other"), "new")
    got = together(Held([at(19)], [first]), Held([at(21), at(1, END)], [again, new]))
    assert got == Held([at(21), at(1, END)], [first, new])
    assert together() == Held([], [])


def test_a_warning_is_over_its_limit():
    """A limit that a warning concerns is over, whatever was judged, and without a wrong headroom."""
    for was in (at(10), at(19), UNSURE, ABSENT):
        (told,) = with_warnings([was], [finding(rule(), "!")])
        assert told.verdict is Verdict.OVER
        assert told.headroom is told.reason is told.missing is UNSET
        assert told.value == was.value
    assert with_warnings([at(21)], [finding(rule(), "!")]) == [at(21)]


def test_a_warning_adds_a_limit_that_nobody_looked_at():
    """It is never lost."""
    warned = [finding(rule(limit=STOP), "!")]
    assert with_warnings([at(10)], warned) == [at(10), over(STOP)]


@pytest.mark.parametrize(
    "milder",
    [rule(Severity.NOTE), rule(Severity.CAUTION), rule(Severity.CAUTION, None)],
)
def test_what_is_no_warning_changes_no_verdict(milder):
    """A caution leaves the limits as they are."""
    assert with_warnings([at(10)], [finding(milder, "!")]) == [at(10)]


@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        ([at(10)], Verdict.WITHIN),
        ([at(10), at(19, END)], Verdict.LITTLE),
        ([at(19), not_judged(at(1, END), "?")], Verdict.NOT_JUDGED),
        ([not_judged(at(1, END), "?"), at(21)], Verdict.OVER),
        # what was not given does not spoil the others
        ([at(10), missing(STOP, "cell_size")], Verdict.WITHIN),
        ([at(19), missing(STOP, "cell_size")], Verdict.LITTLE),
        # but nothing is said about the limit that the question is about
        ([missing(RATING, "cell_rating_a"), at(1, END)], Verdict.NOT_JUDGED),
        ([missing(RATING, "cell_rating_a"), at(21, END)], Verdict.OVER),
    ],
)
def test_the_verdict_of_an_answer(limits, expected):
    """The worst of the limits; one that was not looked at counts only where it is the first."""
    assert verdict_of(limits) is expected


@pytest.mark.parametrize("limit", [at(21), UNSURE, ABSENT, over(STOP)])
def test_what_a_limit_leaves_out(limit):
    """Only what is known is written, and it reads back as the same limit."""
    written = msgspec.to_builtins(limit)
    assert {"name", "verdict"} <= written.keys()
    assert ("headroom" in written) is (limit.headroom is not UNSET)
    assert msgspec.convert(written, Limit) == limit
