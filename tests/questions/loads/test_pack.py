"""The figures of a pack obey their laws, and contradictions are refused."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from percell.questions.vocabulary.refusal import Refused

BODY = {"layout": "2S2P", "cell_rating_a": 20, "cell_capacity_ah": 3}


@given(data=st.data())
def test_energy_is_capacity_times_voltage(ask, drawn, data):
    """The energy is capacity times nominal voltage of the pack, and the sum over its cells."""
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
    """The nominal voltage lies between cut-off and charged voltage, or equals one of them."""
    if accepted:
        assert ask("pack", **BODY, **voltages).cell_count == 4
    else:
        with pytest.raises(Refused, match="nominal"):
            ask("pack", **BODY, **voltages)


def test_capacity_by_hand(ask):
    """A 2S2P pack of 3 Ah cells, every figure by hand."""
    got = ask("pack", **BODY, cell_resistance_ohm=0.03, contact_resistance_ohm=0.01)
    assert (got.cell_count, got.layout) == (4, "2S2P")
    assert got.pack_capacity_ah == 6
    assert got.pack_charged_voltage_v == 8.4
    assert got.pack_nominal_voltage_v == 7.2
    assert got.pack_cutoff_voltage_v == 5.6
    assert got.pack_energy_wh == pytest.approx(43.2)
    assert got.pack_resistance_ohm == pytest.approx(0.04)
    assert got.cell_energy_wh == pytest.approx(10.8)
    assert (got.pack_current_limit_even_a, got.pack_current_limit_allowance_a) == (40, 30)


@pytest.mark.parametrize(
    ("given", "charged_v", "nominal_v", "cutoff_v"),
    [
        ({}, 8.4, 7.2, 5.6),
        ({"chemistry": "lfp"}, 7.3, 6.4, 5.0),
        ({"cell_charged_voltage_v": 4.1}, 8.2, 7.2, 5.6),
        ({"cell_nominal_voltage_v": 3.7}, 8.4, 7.4, 5.6),
        ({"cell_cutoff_voltage_v": 3.0}, 8.4, 7.2, 6.0),
    ],
    ids=lambda value: "+".join(value) or "by chemistry" if isinstance(value, dict) else str(value),
)
def test_voltages_given_or_by_chemistry(ask, given, charged_v, nominal_v, cutoff_v):
    """Two cells in series have twice each voltage, the given ones before the chemistry's."""
    got = ask("pack", **BODY, **given)
    assert got.pack_charged_voltage_v == pytest.approx(charged_v)
    assert got.pack_nominal_voltage_v == pytest.approx(nominal_v)
    assert got.pack_cutoff_voltage_v == pytest.approx(cutoff_v)


@pytest.mark.parametrize(
    ("voltages", "field"),
    [
        ({"cell_nominal_voltage_v": 4.3}, "cell_nominal_voltage_v"),
        ({"cell_cutoff_voltage_v": 3.7}, "cell_cutoff_voltage_v"),
        ({"cell_charged_voltage_v": 3.5}, "cell_charged_voltage_v"),
        ({"cell_charged_voltage_v": 3.5, "cell_nominal_voltage_v": 3.6}, "cell_nominal_voltage_v"),
        ({"cell_charged_voltage_v": 3.5, "cell_cutoff_voltage_v": 3.0}, "cell_cutoff_voltage_v"),
    ],
)
def test_a_voltage_at_fault_is_one_that_was_given(ask, voltages, field):
    """The refusal names a voltage that the caller gave."""
    with pytest.raises(Refused) as refused:
        ask("pack", **BODY, **voltages)
    assert refused.value.pointer == f"/{field}"


def test_each_way_of_sharing_is_named(ask):
    """By hand: 20 A for 3, 2.5 and 1 / 0.4157 cells, the last rounded down to a tenth of an ampere."""
    got = ask("pack", **BODY | {"layout": "1S3P"})
    found = {f.rule: f.sentence for f in got.findings}
    assert "60 A" in found["sharing-allowance"]
    assert "50 A" in found["sharing-allowance"]
    assert "48.1 A" in found["sharing-rule-not-careful"]


def test_a_heavy_pack_is_compared_with_its_cells(ask):
    """By hand: ten cells of 3 Ah and 3.6 V hold 108 Wh built in, and 10.8 Wh individually."""
    got = ask("pack", **BODY | {"layout": "5S2P"})
    (said,) = [f.sentence for f in got.findings if f.rule == "transport-limit"]
    assert "108 Wh" in said
    assert "10.8 Wh" in said
