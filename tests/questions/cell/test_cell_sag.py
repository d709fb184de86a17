"""Sag of a cell: by hand, conserved energy, and a bound without an answer."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec import UNSET

from percell.physics.errors import NoSolution
from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS


def test_by_head(ask):
    """20 A from 3.7 V through 0.04 and 0.005 ohm: 0.9 V lost, 2.8 V left, 18 W of heat."""
    got = ask("cell-sag", cell_current_a=20, open_circuit_voltage_v=3.7)
    assert got.sag_v == pytest.approx(0.9)
    assert got.loaded_voltage_v == pytest.approx(2.8)
    assert got.heat_w == pytest.approx(18)
    assert got.lost_power_ratio == pytest.approx(0.9 / 3.7)
    assert "the cell sags by 0.9 V, to 2.8 V, within seconds" in got.headline
    assert {f.rule for f in got.findings} == {"sag-grows", "resistance-assumed"}


@pytest.mark.parametrize(
    ("current_a", "source_v", "source_ohm", "terminal_v"),
    [
        pytest.param(
            20.0, 12.0, 0.1, 10.0, id="V = ε − I·r, OpenStax University Physics Vol. 2, m58453"
        ),
    ],
)
def test_relation_of_the_terminal_voltage(ask, current_a, source_v, source_ohm, terminal_v):
    """The loaded voltage is the terminal voltage of the textbook's relation, scaled to one cell."""
    got = ask(
        "cell-sag",
        cell_current_a=current_a,
        open_circuit_voltage_v=source_v / 3,
        cell_resistance_ohm=source_ohm / 3,
        contact_resistance_ohm=0,
    )
    assert 3 * got.loaded_voltage_v == pytest.approx(terminal_v)


@given(data=st.data())
def test_energy_is_kept(ask, drawn, data):
    """The cell gives what the load takes and what is lost."""
    body = data.draw(drawn("cell-sag"))
    try:
        got = ask("cell-sag", **body)
    except NoSolution:
        assume(False)
    whole_w = body["open_circuit_voltage_v"] * body["cell_current_a"]
    assert got.loaded_voltage_v * body["cell_current_a"] + got.heat_w == pytest.approx(whole_w)
    # no current loses nothing
    assert got.lost_power_ratio * whole_w == pytest.approx(got.heat_w)


def test_short_circuit(ask):
    """The short-circuit current leaves no voltage: it has no answer, and a lower one has."""
    body = {"open_circuit_voltage_v": 4, "cell_resistance_ohm": 0.095}
    assert ask("cell-sag", **body, cell_current_a=39.99).loaded_voltage_v > 0
    for current_a in (40.01, 100):
        with pytest.raises(NoSolution) as none:
            ask("cell-sag", **body, cell_current_a=current_a)
        assert none.value.numbers["open_circuit_voltage_v"] == 4


def test_row(ask):
    """Between two rows the link is to the higher current, at a voltage no lower than that of the marks."""
    got = ask("cell-sag", cell_current_a=19, open_circuit_voltage_v=4, chemistry="nca")
    assert got.links.table_row == "/tables/cell-sag/#20-a"
    got = ask("cell-sag", cell_current_a=19, open_circuit_voltage_v=3.6)
    assert got.links.table_row is UNSET
    got = ask("cell-sag", cell_current_a=19, open_circuit_voltage_v=4, contact_resistance_ohm=0.01)
    assert got.links.table_row is UNSET


def test_a_table_is_empty_where_a_short_circuit_gives_less():
    """By hand: 4 V over 0.1 ohm are 40 A; from there on nothing is left, and no figure stands."""
    fixed = {"open_circuit_voltage_v": 4, "cell_resistance_ohm": 0.095}
    got = figures_over(
        QUESTIONS["cell-sag"], fixed, {"cell_current_a": np.array([20.0, 41.0, 45.0, 60.0])}
    )
    assert got.loaded_voltage_v[0] == pytest.approx(2)
    for name in got.__struct_fields__:
        assert np.isnan(getattr(got, name)[1:]).all()


def test_contacts_are_put_in(ask):
    """By hand: 0.02 and 0.005 ohm."""
    got = ask("cell-sag", cell_current_a=20, open_circuit_voltage_v=3.7)
    assert got.working[0].put_in == "20 A × 0.045 Ω"


@pytest.mark.parametrize(
    ("chemistry", "end_v"),
    [
        pytest.param("nmc", 2.5, id="Chen et al. (2020)"),
        pytest.param("nca", 2.7, id="Kim et al. (2011)"),
        pytest.param("lfp", 2.0, id="Prada et al. (2013)"),
        pytest.param("lco", 2.75, id="JIS C 8711, as compared in IEC TR 61963:2005"),
    ],
)
def test_sag_below_the_end_of_discharge(ask, chemistry, end_v):
    """By hand: 10 A through 50 mΩ lose 0.5 V, which may bring a cell just to its end voltage."""
    body = {"cell_current_a": 10, "cell_resistance_ohm": 0.045, "chemistry": chemistry}
    for rest_v, verdict in [(end_v + 0.5 + 1e-6, "within_limit"), (end_v + 0.499, "over_limit")]:
        got = ask("cell-sag", **body, open_circuit_voltage_v=rest_v)
        assert got.verdict == verdict
        assert got.attention == ("warning" if verdict == "over_limit" else "note")
        # the end voltage itself stands in no answer for the loaded one
        assert f"to {end_v:g} V, within" not in got.headline


@pytest.mark.parametrize(("rest_v", "spoken"), [(4.25, False), (4.2501, True), (4.9, True)])
def test_a_cell_above_its_charged_voltage(ask, rest_v, spoken):
    """4.25 V is the upper limit of IEC 62133-2, from memory, unconfirmed."""
    got = ask("cell-sag", cell_current_a=1, open_circuit_voltage_v=rest_v)
    assert ("charging-above-full" in {f.rule for f in got.findings}) is spoken
    assert got.verdict == ("over_limit" if spoken else "within_limit")
    assert got.attention == ("warning" if spoken else "note")
