"""The voltages of each chemistry."""

import pytest

from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry


@pytest.mark.parametrize("chemistry", Chemistry)
def test_voltages_are_in_order(chemistry):
    """Of every chemistry, the end of discharge lies below the cut-off, that below nominal and charged."""
    v = VOLTAGES[chemistry]
    assert v.end_v <= v.cutoff_v < v.nominal_v < v.charged_v
