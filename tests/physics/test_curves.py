"""Rest curves: as published, monotone, and honest about where they end."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from percell.physics import curves
from percell.physics.errors import NoSolution

CHEN = "Chen et al., J. Electrochem. Soc. 167 (2020) 080534"


def negative_v(x):
    """Chen 2020, graphite and silicon oxide against lithium."""
    return (
        1.9793 * np.exp(-39.3631 * x)
        + 0.2482
        - 0.0909 * np.tanh(29.8538 * (x - 0.1234))
        - 0.04478 * np.tanh(14.9159 * (x - 0.2769))
        - 0.0205 * np.tanh(30.4444 * (x - 0.6103))
    )


def positive_v(y):
    """Chen 2020, NMC811 against lithium."""
    return (
        -0.8090 * y
        + 4.4875
        - 0.0428 * np.tanh(18.5138 * (y - 0.5542))
        - 17.7326 * np.tanh(15.7890 * (y - 0.3117))
        + 17.5842 * np.tanh(15.9308 * (y - 0.3120))
    )


@pytest.mark.parametrize("source", [f"{CHEN}: electrode fits, balanced here with scipy brentq"])
def test_chen_curve_from_its_electrodes(source):
    """The data file is the difference of the published electrode fits, over the balance of charge."""
    # lithium is conserved: what leaves one electrode enters the other, in the ratio of the capacities
    area_m2, ah_per_mol = 0.065 * 1.58, 96485.33 / 3600
    negative_mol_m3 = 0.75 * 85.2e-6 * area_m2 * ah_per_mol
    positive_mol_m3 = 0.665 * 75.6e-6 * area_m2 * ah_per_mol
    negative_ah, positive_ah = 33133 * negative_mol_m3, 63104 * positive_mol_m3
    lithium_ah = 29866 * negative_mol_m3 + 17038 * positive_mol_m3

    def cell_v(x):
        return positive_v((lithium_ah - negative_ah * x) / positive_ah) - negative_v(x)

    empty = brentq(lambda x: cell_v(x) - 2.5, 0.005, 0.2)
    full = brentq(lambda x: cell_v(x) - 4.2, 0.7, 0.99)
    curve = curves.published_curve(chemistry="nmc")
    expected_v = cell_v(empty + curve.soc * (full - empty))
    np.testing.assert_allclose(curve.ocv_v, expected_v, atol=1e-4, err_msg=source)


# computed from the published fits apart from the script that made the files
@pytest.mark.parametrize(
    ("chemistry", "soc", "ocv_v", "source"),
    [
        ("nmc", 0.1, 3.296, CHEN),
        ("nmc", 0.5, 3.751, CHEN),
        ("nmc", 0.9, 4.097, CHEN),
        ("nca", 0.0, 2.700, "Kim et al., J. Electrochem. Soc. 158 (2011) A955"),
        ("nca", 0.5, 3.685, "Kim et al., J. Electrochem. Soc. 158 (2011) A955"),
        ("nca", 0.9, 4.080, "Kim et al., J. Electrochem. Soc. 158 (2011) A955"),
        ("lfp", 0.1, 2.978, "Prada et al. (2013), DOI 10.1149/2.053304jes, rough"),
        ("lfp", 0.5, 3.266, "Prada et al. (2013), DOI 10.1149/2.053304jes, rough"),
        ("lfp", 1.0, 3.600, "Prada et al. (2013), DOI 10.1149/2.053304jes, rough"),
    ],
)
def test_points_of_the_published_curves(chemistry, soc, ocv_v, source):
    """Each curve passes through points computed from its publication, to a millivolt."""
    curve = curves.published_curve(chemistry=chemistry)
    found_v = float(curves.open_circuit_voltage_v(curve=curve, soc=soc))
    assert found_v == pytest.approx(ocv_v, abs=1e-3), source


@pytest.mark.parametrize("chemistry", curves.PUBLISHED)
def test_each_curve_names_its_origin(chemistry):
    """A published curve rises strictly, carries source and licence, and the rough one says so."""
    curve = curves.published_curve(chemistry=chemistry)
    again = curves.own_curve(soc=curve.soc, ocv_v=curve.ocv_v)
    np.testing.assert_array_equal(again.ocv_v, curve.ocv_v)
    assert "DOI 10." in curve.source
    assert curve.licence.startswith("BSD-3-Clause")
    assert curve.rough == (chemistry == "lfp")


@settings(deadline=None)
@given(st.sampled_from(sorted(curves.PUBLISHED)), st.floats(0.0, 1.0))
def test_inverse(chemistry, soc):
    """The state of charge found from an open-circuit voltage is the one that gives it."""
    curve = curves.published_curve(chemistry=chemistry)
    voltage_v = curves.open_circuit_voltage_v(curve=curve, soc=soc)
    assert curves.soc_at_rest(curve=curve, open_circuit_voltage_v=voltage_v) == pytest.approx(
        soc, abs=1e-9
    )


@settings(deadline=None)
@given(st.sampled_from(sorted(curves.PUBLISHED)), st.floats(-3.0, 4.0), st.floats(0.0, 1.0))
def test_extrapolation_is_monotone_and_bounded(chemistry, soc, more):
    """Past empty and full the voltage goes on in its direction, to the stated bounds and no further."""
    curve = curves.published_curve(chemistry=chemistry)
    low_v, high_v = curves.open_circuit_voltage_v(curve=curve, soc=np.array([soc, soc + more]))
    assert low_v <= high_v
    assert low_v >= curves.LOWEST_V
    assert high_v <= curve.ocv_v[-1] + curves.HIGHEST_ABOVE_FULL_V


@pytest.mark.parametrize(
    ("soc", "ocv_v"),
    [(-3.0, -1.5), (-0.5, 2.0), (0.0, 3.0), (0.1, 3.2), (1.0, 4.1), (1.25, 4.3), (5.0, 5.1)],
)
def test_extrapolation_by_hand(soc, ocv_v):
    """Below empty 2 V a state of charge, above full 0.8 V, as the first and the last piece rise."""
    curve = curves.own_curve(soc=[0.0, 0.25, 1.0], ocv_v=[3.0, 3.5, 4.1])
    assert curves.open_circuit_voltage_v(curve=curve, soc=soc) == pytest.approx(ocv_v)
    assert not curve.rough


def test_own_curve_may_begin_low():
    """Any voltage above zero may be that of an empty cell."""
    curve = curves.own_curve(soc=[0.0, 1.0], ocv_v=[0.001, 4.0])
    assert curves.open_circuit_voltage_v(curve=curve, soc=0.0) == 0.001


def test_mean_voltage_against_quadrature():
    """The mean over a part of the curve is what a fine quadrature gives."""
    curve = curves.published_curve(chemistry="nmc")
    soc = np.linspace(0.123, 0.877, 200_001)
    fine_v = np.trapezoid(curves.open_circuit_voltage_v(curve=curve, soc=soc), soc) / (
        0.877 - 0.123
    )
    mean_v = curves.mean_open_circuit_voltage_v(curve=curve, from_soc=0.123, to_soc=0.877)
    assert mean_v == pytest.approx(fine_v, rel=1e-8)


@pytest.mark.parametrize(
    ("soc", "ocv_v", "code"),
    [
        ([0.0, 1.0], [3.0], "curve_shape"),
        ([0.0], [3.0], "curve_shape"),
        ([0.0, 0.5, 0.5, 1.0], [3.0, 3.1, 3.2, 3.3], "curve_not_rising"),
        ([0.0, 0.5, 1.0], [3.0, 2.9, 3.3], "curve_not_rising"),
        ([0.0, 0.5, 1.0], [3.0, 3.0, 3.0], "curve_not_rising"),
        ([0.0, float("nan"), 1.0], [3.0, 3.1, 3.3], "curve_not_rising"),
        ([0.1, 1.0], [3.0, 3.3], "curve_range"),
        ([0.0, 0.9], [3.0, 3.3], "curve_range"),
        ([0.0, 1.0], [0.0, 3.3], "curve_voltage"),
        ([0.0, 1.0], [3.0, float("inf")], "curve_voltage"),
        ([0.0, 0.5, 1.0], [3.0, 3.5, float("inf")], "curve_voltage"),
    ],
)
def test_own_curve_refused(soc, ocv_v, code):
    """Points that are no curve are refused with the reason."""
    with pytest.raises(NoSolution) as refused:
        curves.own_curve(soc=soc, ocv_v=ocv_v)
    assert refused.value.code == code


def test_own_curve_may_be_level_for_a_while():
    """A cell that warms itself holds its voltage for some rows of a log."""
    curve = curves.own_curve(soc=[0.0, 0.4, 0.6, 1.0], ocv_v=[3.0, 3.6, 3.6, 4.0])
    assert curves.open_circuit_voltage_v(curve=curve, soc=0.5) == 3.6
    assert 0.4 <= curves.soc_at_rest(curve=curve, open_circuit_voltage_v=3.6) <= 0.6


def test_unknown_chemistry_refused():
    """No curve is invented for a chemistry without one."""
    with pytest.raises(NoSolution) as refused:
        curves.published_curve(chemistry="lto")
    assert refused.value.code == "no_curve"


def test_a_curve_sags_as_measured_cells_do_unless_it_names_a_simulated_one():
    """Only a simulated curve has a table of its own; nothing but that sets it apart."""
    for chemistry in curves.SIMULATED:
        published = curves.published_curve(chemistry=chemistry)
        simulated = curves.simulated_curve(chemistry=chemistry)
        assert (published.under_load, published.lift_v) == ("", 0.0)
        assert simulated._replace(under_load="") == published
        assert simulated.under_load.startswith(f"{chemistry}_")
    assert curves.own_curve(soc=[0.0, 1.0], ocv_v=[3.0, 4.0]).under_load == ""


@pytest.mark.parametrize("chemistry", ["nca", "lco"])
def test_no_sag_is_simulated_that_has_no_table(chemistry):
    """Neither a chemistry with a curve alone nor one without a curve gets a table."""
    with pytest.raises(NoSolution) as refused:
        curves.simulated_curve(chemistry=chemistry)
    assert refused.value.code == "no_curve"
