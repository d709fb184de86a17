"""A pack of unequal cells under a load keeps energy and Kirchhoff's rules."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import sharing
from percell.physics.errors import NoSolution


@st.composite
def packs(draw, most=5):
    """Draw packs of up to ``most`` by ``most`` cells, over the whole range of a cell's figures."""
    shape = draw(st.integers(1, most)), draw(st.integers(1, most))

    def printed_table(low, high):
        size = shape[0] * shape[1]
        drawn = draw(st.lists(st.floats(low, high), min_size=size, max_size=size))
        return np.array(drawn).reshape(shape)

    return {
        "cell_source_voltage_v": printed_table(2.0, 4.5),
        "cell_resistance_ohm": printed_table(1e-4, 1.0),
        "contact_resistance_ohm": printed_table(0.0, 0.5),
    }


def rounding_a(pack):
    """Return the current that a rounding error of a voltage drives through the smallest resistance."""
    return 1e-14 / (pack["cell_resistance_ohm"] + pack["contact_resistance_ohm"]).min()


def assert_energy_is_kept(got, pack):
    """What the cells turn out is what the load, the cells and the contacts take."""
    turned_out_w = pack["cell_source_voltage_v"] * got.cell_current_a
    taken_w = (
        got.pack_voltage_v * got.pack_current_a + got.cell_loss_w.sum() + got.contact_loss_w.sum()
    )
    assert turned_out_w.sum() == pytest.approx(
        taken_w,
        abs=1e-12 * np.abs(turned_out_w).sum() + rounding_a(pack) * got.source.voltage_v,
    )


@given(packs(), st.floats(1e-3, 100.0))
def test_direct_load(pack, load_ohm):
    """Every group carries the load's current, the load obeys Ohm's law, and energy is kept."""
    got = sharing.shared_into_resistance(**pack, load_resistance_ohm=load_ohm)
    np.testing.assert_allclose(
        got.cell_current_a.sum(axis=1),
        got.pack_current_a,
        rtol=1e-12,
        atol=rounding_a(pack),
    )
    volts = got.source.voltage_v
    assert got.pack_voltage_v == pytest.approx(got.pack_current_a * load_ohm, abs=1e-12 * volts)
    assert got.group_voltage_v.sum() == pytest.approx(got.pack_voltage_v, abs=1e-12 * volts)
    assert_energy_is_kept(got, pack)


@given(packs(), st.floats(0.001, 0.999))
def test_converter_load(pack, part):
    """The pack delivers the power asked, on the side where voltage stays above half."""
    source = sharing.shared_at_current(**pack, pack_current_a=0.0).source
    asked_w = part * source.voltage_v**2 / (4 * source.resistance_ohm)
    got = sharing.shared_into_converter(**pack, input_power_w=asked_w)
    assert got.pack_voltage_v * got.pack_current_a == pytest.approx(asked_w, rel=1e-9)
    assert got.pack_voltage_v > source.voltage_v / 2
    assert_energy_is_kept(got, pack)


@given(packs())
def test_no_load(pack):
    """With nothing connected each group's currents cancel, and what one cell loses heats."""
    got = sharing.shared_at_current(**pack, pack_current_a=0.0)
    np.testing.assert_allclose(got.cell_current_a.sum(axis=1), 0.0, atol=rounding_a(pack))
    assert got.pack_voltage_v == got.source.voltage_v
    assert_energy_is_kept(got, pack)


@given(packs())
def test_worst_case_cell_carries_the_most(pack):
    """No cell carries more, in either direction, than the one that is named."""
    got = sharing.shared_at_current(**pack, pack_current_a=10.0)
    assert abs(got.worst_cell_current_a) == np.abs(got.cell_current_a).max()
    assert got.cell_current_a[got.worst_cell] == got.worst_cell_current_a
    assert got.worst_cell_share == pytest.approx(abs(got.worst_cell_current_a) / 10.0)
    # never below an even share
    assert got.worst_cell_share >= (1 - 1e-9) / got.cell_current_a.shape[1]


def test_worst_case_cell_may_be_one_that_is_charged():
    """An empty cell among full ones, at a small load, is the one worked hardest: by being charged."""
    got = sharing.shared_at_current(
        cell_source_voltage_v=np.array([[4.2, 4.2, 3.0]]),
        cell_resistance_ohm=np.full((1, 3), 0.02),
        contact_resistance_ohm=np.zeros((1, 3)),
        pack_current_a=3.0,
    )
    # by hand: 1 A each, and 0.4 V, 0.4 V and −0.8 V over 20 mΩ
    np.testing.assert_allclose(got.cell_current_a, [[21.0, 21.0, -39.0]])
    assert got.worst_cell == (0, 2)
    assert got.worst_cell_current_a == pytest.approx(-39.0)
    assert got.worst_cell_share == pytest.approx(13.0)


def test_contacts_count_in_sharing_and_are_billed_apart():
    """A poor contact keeps its cell back, and its heat is not the cell's."""
    got = sharing.shared_at_current(
        cell_source_voltage_v=np.array([[4.0, 4.0]]),
        cell_resistance_ohm=np.array([[0.02, 0.02]]),
        contact_resistance_ohm=np.array([[0.0, 0.02]]),
        pack_current_a=30.0,
    )
    np.testing.assert_allclose(got.cell_current_a, [[20.0, 10.0]])
    np.testing.assert_allclose(got.cell_loss_w, [[8.0, 2.0]])
    np.testing.assert_allclose(got.contact_loss_w, [[0.0, 2.0]])
    np.testing.assert_allclose(got.cell_voltage_v, [[3.6, 3.8]])
    np.testing.assert_allclose(got.group_voltage_v, [3.6])


@pytest.mark.parametrize("part", [1.0 - 1e-9, 1.0])
def test_power_up_to_the_limit_is_delivered(part):
    """Just below and at U²/4R there is an answer: half the voltage at the limit."""
    # one cell of 4 V and 0.25 ohm: 16 W at 8 A
    got = sharing.shared_into_converter(**one_cell(), input_power_w=16.0 * part)
    assert got.pack_current_a == pytest.approx(8.0, rel=1e-4)
    assert got.pack_voltage_v == pytest.approx(2.0, rel=1e-4)


def test_power_above_the_limit_is_refused_with_the_limit():
    """Just above U²/4R there is no answer, and the refusal says what is available."""
    with pytest.raises(NoSolution) as refused:
        sharing.shared_into_converter(**one_cell(), input_power_w=16.0 * (1 + 1e-9))
    assert refused.value.code == "power_not_available"
    assert refused.value.numbers["available_power_w"] == 16.0
    assert refused.value.numbers["input_power_w"] > 16.0


def one_cell():
    return {
        "cell_source_voltage_v": np.array([[4.0]]),
        "cell_resistance_ohm": np.array([[0.125]]),
        "contact_resistance_ohm": np.array([[0.125]]),
    }


@pytest.mark.parametrize("load_ohm", [0.0, 1e6])
def test_largest_pack_at_the_ends_stays_finite(load_ohm):
    """20S20P of the lowest resistance, 2 to 4.5 V mixed, shorted and nearly open: all finite."""
    generator = np.random.default_rng(11)
    got = sharing.shared_into_resistance(
        cell_source_voltage_v=generator.choice([2.0, 4.5], (20, 20)),
        cell_resistance_ohm=np.full((20, 20), 1e-4),
        contact_resistance_ohm=np.zeros((20, 20)),
        load_resistance_ohm=load_ohm,
    )
    assert all(np.isfinite(figure).all() for figure in got)
