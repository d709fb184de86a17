"""The comparison of running times with simulated ones covers every published curve."""

import pytest

from percell.physics.entries import DataError
from percell.questions.loads import running_time_deviations


def test_a_curve_that_was_never_compared_is_named(monkeypatch):
    """No running time is given on a curve for which nobody knows how far it is off."""
    published = running_time_deviations.PUBLISHED | {"lmo": "lmo_someone2030"}
    monkeypatch.setattr(running_time_deviations, "PUBLISHED", published)
    with pytest.raises(DataError, match=r"^running_time_deviation\.json: nothing .* for lmo; make"):
        running_time_deviations.deviations.__wrapped__()


def test_a_curve_that_stands_for_two_chemistries_was_compared_once(monkeypatch):
    """The comparison is that of the cell simulated."""
    published = running_time_deviations.PUBLISHED | {"lmo": "nmc_chen2020"}
    monkeypatch.setattr(running_time_deviations, "PUBLISHED", published)
    assert running_time_deviations.deviations.__wrapped__().rows
