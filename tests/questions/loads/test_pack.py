"""The figures of a pack keep to their laws and refuse what contradicts itself."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from percell.questions.vocabulary.refusal import Refused

BODY = {"layout": "2S2P", "cell_rating_a": 20, "cell_capacity_ah": 3}


@given(data=st.data())
def test_energy_is_capacity_times_voltage(ask, drawn, data):
    """The energy is the pack's capacity at its nominal voltage, and that of all its cells."""
    try:
        got = ask("pack", **data.draw(drawn("pack")))
    except Refused:
        assume(False)
    assert got.pack_energy_wh == pytest.approx(got.pack_capacity_ah * got.pack_nominal_voltage_v)
    assert got.pack_energy_wh == pytest.approx(got.cell_count * got.cell_energy_wh)
    assert got.pack_current_limit_allowance_a <= got.pack_current_limit_even_a
    assert got.pack_cutoff_voltage_v <= got.pack_nominal_voltage_v <= got.pack_charged_voltage_v


@pytest.mark.parametrize(
    ("voltages", "accepted"),
    [
        ({"cell_nominal_voltage_v": 4.2}, True),
        ({"cell_nominal_voltage_v": 4.21}, False),
        ({"cell_cutoff_voltage_v": 3.6}, True),
        ({"cell_cutoff_voltage_v": 3.61}, False),
        ({"cell_charged_voltage_v": 3.6}, True),
        ({"cell_charged_voltage_v": 3.59}, False),
        ({"chemistry": "lfp", "cell_cutoff_voltage_v": 3.2}, True),
        ({"chemistry": "lfp", "cell_cutoff_voltage_v": 3.3}, False),
    ],
)
def test_voltages_in_order(ask, voltages, accepted):
    """The nominal voltage lies between cut-off and charged voltage, at either of them at the most."""
    if accepted:
        assert ask("pack", **BODY, **voltages).cell_count == 4
    else:
        with pytest.raises(Refused, match="nominal"):
            ask("pack", **BODY, **voltages)


def test_capacity_by_hand(ask):
    """A 2S2P pack of 3 Ah cells, every figure worked out by head."""
    got = ask("pack", **BODY, cell_resistance_ohm=0.03, contact_resistance_ohm=0.01)
    assert (got.cell_count, got.layout) == (4, "2S2P")
    assert got.pack_capacity_ah == 6
    assert got.pack_charged_voltage_v == 8.4
    assert got.pack_nominal_voltage_v == 7.2
    assert got.pack_cutoff_voltage_v == 5.6
    assert got.pack_energy_wh == pytest.approx(43.2)
    assert got.pack_resistance_ohm == pytest.approx(0.04)
