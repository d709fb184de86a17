"""The verdict at its thresholds, alone and through the questions that give one."""

import numpy as np
import pytest

from percell.questions.vocabulary.verdict import HEADROOM, Verdict, verdict, verdicts

RATING_A = 20.0
NOISE = 1e-12  # what floating-point arithmetic leaves
LITTLE = 1e-6  # what a caller could mean
ROWS = [
    ("far below", 10.0, Verdict.WITHIN),
    ("just below the headroom mark", 18.0 * (1 - LITTLE), Verdict.WITHIN),
    ("at the headroom mark", 18.0, Verdict.WITHIN),
    ("at it but for noise", 18.0 * (1 + NOISE), Verdict.WITHIN),
    ("just above the headroom mark", 18.0 * (1 + LITTLE), Verdict.LITTLE),
    ("just below the rating", 20.0 * (1 - LITTLE), Verdict.LITTLE),
    ("at the rating", 20.0, Verdict.LITTLE),
    ("at it but for noise", 20.0 * (1 + NOISE), Verdict.LITTLE),
    ("just above the rating", 20.0 * (1 + LITTLE), Verdict.OVER),
    ("far above", 100.0, Verdict.OVER),
]
rows = pytest.mark.parametrize(
    ("current_a", "expected"), [row[1:] for row in ROWS], ids=[row[0] for row in ROWS]
)


def test_headroom_is_a_tenth():
    """The mark lies a tenth of the rating below it, which the rows here count on."""
    assert HEADROOM == 0.1


@rows
def test_verdict(current_a, expected):
    """Equal is within; a tenth left is enough; noise decides nothing."""
    assert verdict(current_a, RATING_A) is expected


def test_verdicts_over_arrays():
    """Over arrays the verdicts are the same."""
    got = verdicts(np.array([row[1] for row in ROWS]), RATING_A)
    assert got.tolist() == [row[2].value for row in ROWS]


@rows
@pytest.mark.parametrize("layout", ["1S1P", "3S1P", "1S2P", "2S3P"])
def test_direct_load(ask, layout, current_a, expected):
    """A coil that gives the worst-case cell that current has that verdict."""
    series, parallel = int(layout[0]), int(layout[2])
    counted = parallel - 0.5 if parallel > 1 else 1
    got = ask(
        "direct-load",
        layout=layout,
        cell_rating_a=RATING_A,
        coil_resistance_ohm=series * 4.2 / (counted * current_a),
    )
    assert got.verdict is expected


@rows
@pytest.mark.parametrize("layout", ["1S1P", "3S1P", "1S2P", "2S3P"])
def test_converter_load(ask, layout, current_a, expected):
    """A power that gives the worst-case cell that current has that verdict."""
    cells = int(layout[0]) * int(layout[2])
    asked = {
        "layout": layout,
        "cell_rating_a": RATING_A,
        "output_power_w": cells * 3.2 * current_a,
        "cell_cutoff_voltage_v": 3.2,
        "efficiency": 1,
    }
    assert ask("converter-load", **asked).verdict is expected
    assert ask("assessment", **asked).verdict is expected


VERDICT_ORDER = [Verdict.WITHIN, Verdict.LITTLE, Verdict.OVER]


@pytest.mark.parametrize("layout", ["1S2P", "2S3P", "1S20P"])
@pytest.mark.parametrize(
    "load",
    [{"coil_resistance_ohm": 0.1}, {"output_power_w": 150}],
    ids=["coil-from-wire", "converter"],
)
def test_allowance_is_never_milder(ask, layout, load):
    """The verdict with the sharing allowance is at least as grave as with an even share."""
    by = {
        sharing: ask("assessment", layout=layout, cell_rating_a=20, sharing=sharing, **load)
        for sharing in ("even", "allowance")
    }
    even, allowance = by["even"], by["allowance"]
    assert allowance.worst_cell_current_a > even.worst_cell_current_a
    assert VERDICT_ORDER.index(allowance.verdict) >= VERDICT_ORDER.index(even.verdict)
