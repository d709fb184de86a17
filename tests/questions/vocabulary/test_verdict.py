"""The verdict at its thresholds; those of the loads are in tests/questions/loads."""

import numpy as np
import pytest

from percell.questions.vocabulary.verdict import HEADROOM, Verdict, gravest, verdict, verdicts

RATING_A = 20.0
NOISE = 1e-12  # floating-point noise
LITTLE = 1e-6  # a difference that a caller could mean
ROWS = [
    ("far below", 10.0, Verdict.WITHIN),
    ("just below the headroom mark", 18.0 * (1 - LITTLE), Verdict.WITHIN),
    ("at the headroom mark", 18.0, Verdict.WITHIN),
    ("at it but for noise", 18.0 * (1 + NOISE), Verdict.WITHIN),
    (
        "a billionth above it, which is equal",
        RATING_A * (1 - HEADROOM) * (1 + 1e-9),
        Verdict.WITHIN,
    ),
    ("just above the headroom mark", 18.0 * (1 + LITTLE), Verdict.LITTLE),
    ("just below the rating", 20.0 * (1 - LITTLE), Verdict.LITTLE),
    ("at the rating", 20.0, Verdict.LITTLE),
    ("at it but for noise", 20.0 * (1 + NOISE), Verdict.LITTLE),
    ("a billionth above it, which is equal", 20.0 * (1 + 1e-9), Verdict.LITTLE),
    ("just above the rating", 20.0 * (1 + LITTLE), Verdict.OVER),
    ("far above", 100.0, Verdict.OVER),
]
rows = pytest.mark.parametrize(
    ("current_a", "expected"), [row[1:] for row in ROWS], ids=[row[0] for row in ROWS]
)


def test_headroom_is_a_tenth():
    """Little headroom starts at a tenth of the rating, as the rows here assume."""
    assert HEADROOM == 0.1


@rows
def test_verdict(current_a, expected):
    """Equal is within; a tenth left is enough; noise decides nothing."""
    assert verdict(current_a, RATING_A) is expected


def test_verdicts_over_arrays():
    """Over arrays the verdicts are the same, and None without a current."""
    got = verdicts(np.array([*(row[1] for row in ROWS), np.nan]), RATING_A)
    assert got.tolist() == [*(row[2].value for row in ROWS), None]


VERDICT_ORDER = [Verdict.WITHIN, Verdict.LITTLE, Verdict.NOT_JUDGED, Verdict.OVER]


@pytest.mark.parametrize("worse", range(4))
@pytest.mark.parametrize("milder", range(4))
def test_the_worst_of_several(milder, worse):
    """Within, little headroom, not judged, over: in this order, whichever comes first."""
    both = [VERDICT_ORDER[milder], VERDICT_ORDER[worse]]
    assert gravest(both) is gravest(both[::-1]) is VERDICT_ORDER[max(milder, worse)]
    assert gravest(VERDICT_ORDER) is Verdict.OVER
    assert gravest([]) is Verdict.WITHIN


@pytest.mark.parametrize("layout", ["1S2P", "2S3P", "1S20P"])
@pytest.mark.parametrize(
    "load",
    [{"coil_resistance_ohm": 0.1}, {"output_power_w": 150}],
    ids=["coil-from-wire", "converter"],
)
def test_no_way_is_milder_than_an_even_share(ask, layout, load):
    """Neither the P − ½ rule nor the careful share gives a milder verdict than an even share."""
    by = {
        sharing: ask("assessment", layout=layout, cell_rating_a=20, sharing=sharing, **load)
        for sharing in ("even", "allowance", "careful")
    }
    even, allowance = by["even"], by["allowance"]
    assert allowance.worst_cell_current_a > even.worst_cell_current_a
    assert VERDICT_ORDER.index(allowance.verdict) >= VERDICT_ORDER.index(even.verdict)
    assert VERDICT_ORDER.index(by["careful"].verdict) >= VERDICT_ORDER.index(even.verdict)
    # the trade counts P − ½ under a coil alone
    if "coil_resistance_ohm" in load:
        assert by["careful"].worst_cell_current_a >= allowance.worst_cell_current_a
