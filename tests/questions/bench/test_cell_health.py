"""State of health: the ratio, and just below, at and just above the marks."""

import pytest

from percell.questions.vocabulary.refusal import Refused


def rules(answer):
    return {finding.rule for finding in answer.findings}


@pytest.mark.parametrize(
    ("source", "capacity", "mark"),
    [
        ("80 % for retiring: common practice, no published source", 2.401, "above_mark"),
        ("80 % for retiring: common practice, no published source", 2.4, "mark_reached"),
        ("80 % for retiring: common practice, no published source", 2.399, "mark_reached"),
    ],
)
def test_mark(ask, source, capacity, mark):
    """Of 3 Ah the mark is at 2.4 Ah, and a cell at it has reached it."""
    got = ask("cell-health", measured_capacity_ah=capacity, reference_capacity_ah=3)
    assert got.health_mark == mark, source
    assert ("capacity-fell" in rules(got)) is (mark == "mark_reached")
    assert got.cell_health == pytest.approx(capacity / 3)
    assert got.capacity_at_mark_ah == pytest.approx(2.4)


@pytest.mark.parametrize(("now", "rose"), [(0.0399, False), (0.04, True), (0.0401, True)])
def test_resistance(ask, now, rose):
    """A resistance twice the first is told."""
    got = ask(
        "cell-health", measured_capacity_ah=3, reference_capacity_ah=3, measured_resistance_ohm=now,
        reference_resistance_ohm=0.02,
    )  # fmt: skip
    assert got.resistance_ratio == pytest.approx(now / 0.02)
    assert ("resistance-rose" in rules(got)) is rose


@pytest.mark.parametrize("given", ["measured_resistance_ohm", "reference_resistance_ohm"])
def test_half_a_ratio_is_refused(ask, given):
    """One resistance without the other makes no ratio."""
    with pytest.raises(Refused) as refused:
        ask("cell-health", measured_capacity_ah=3, reference_capacity_ah=3, **{given: 0.02})
    assert refused.value.pointer == f"/{given}"


@pytest.mark.parametrize(("capacity", "found"), [(2.999, False), (3, False), (3.01, True)])
def test_more_than_new(ask, capacity, found):
    """More than when new is told."""
    got = ask("cell-health", measured_capacity_ah=capacity, reference_capacity_ah=3)
    assert ("above-reference" in rules(got)) is found
    assert (got.health_mark == "more_than_reference") is found


@pytest.mark.parametrize(("at_c", "found"), [(14.9, True), (15, False), (25, False), (25.1, True)])
def test_temperature(ask, at_c, found):
    """A capacity measured outside 20 ± 5 °C is told (IEC 61960-2011, 7.3.1, secondary copy)."""
    got = ask(
        "cell-health", measured_capacity_ah=2.5, reference_capacity_ah=3, cell_temperature_c=at_c
    )
    assert ("measured-cold-or-warm" in rules(got)) is found
