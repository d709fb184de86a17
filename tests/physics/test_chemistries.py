"""What is known of each chemistry fits together."""

import pytest

from percell.physics.chemistries import CHEMISTRIES


@pytest.mark.parametrize("key", CHEMISTRIES)
def test_devices_stop_between_empty_and_full(key):
    """Cut-offs fall, and lie between the end of discharge and the nominal voltage; the lowest is usual."""
    known = CHEMISTRIES[key]
    cutoffs_v = known.device_cutoffs_v
    assert list(cutoffs_v) == sorted(set(cutoffs_v), reverse=True)
    assert known.end_v <= cutoffs_v[-1] == known.cutoff_v
    assert cutoffs_v[0] < known.nominal_v < known.charged_v


def test_each_is_called_differently():
    """No two chemistries share a name or a short name."""
    for names in zip(*((one.name, one.short_name) for one in CHEMISTRIES.values()), strict=True):
        assert len(set(names)) == len(CHEMISTRIES)


@pytest.mark.parametrize("key", [key for key, one in CHEMISTRIES.items() if one.curve])
def test_a_curve_is_named_by_the_chemistry_that_was_simulated(key):
    """The start of the file's name says whose sag it is."""
    assert CHEMISTRIES[key].curve.partition("_")[0] in CHEMISTRIES
