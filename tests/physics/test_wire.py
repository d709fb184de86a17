"""A coil's figures obey geometry and Ohm's law, and can be worked backwards."""

from math import hypot, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from percell.physics import wire
from percell.physics.alloys import ALLOYS
from percell.physics.errors import NoSolution

NICR = ALLOYS["nicr_80_20"]
WINDING = {
    "alloy": NICR,
    "strand_diameter_mm": 0.4,
    "strands": 1,
    "twists_per_metre": 0.0,
    "former_diameter_mm": 3.0,
    "pitch_mm": 0.4,
    "legs_mm": 10.0,
    "coils": 1,
}


def coil(**given_):
    return wire.coil(**WINDING | {"turns": 6.0, "diameter_tolerance": 0.02} | given_)


@given(
    st.sampled_from(sorted(ALLOYS)),
    st.floats(0.1, 1.0),
    st.integers(1, 6),
    st.floats(0.0, 400.0),
    st.floats(1.0, 6.0),
    st.floats(0.0, 30.0),
    st.floats(0.0, 40.0),
    st.integers(1, 4),
)
def test_turns_are_the_inverse(
    alloy, diameter_mm, strands, twists_per_metre, former_mm, turns, legs_mm, coils
):
    """The turns found for a coil's own resistance are the coil's turns."""
    winding = {
        "alloy": ALLOYS[alloy],
        "strand_diameter_mm": diameter_mm,
        "strands": strands,
        "twists_per_metre": twists_per_metre,
        "former_diameter_mm": former_mm,
        "pitch_mm": 6.0 * diameter_mm,
        "legs_mm": legs_mm,
        "coils": coils,
    }
    wanted_ohm = coil(turns=turns, **winding).resistance.nominal_ohm * (1 + 1e-12)
    if wanted_ohm > 0:
        got = wire.turns_for_resistance(wanted_ohm=wanted_ohm, **winding)
        assert got == pytest.approx(turns, rel=1e-6, abs=1e-6)


def test_winding_by_hand():
    """8 turns of 5 mm of a square millimetre of NiCr: 40 mm, 43 milliohm, a third of a gram."""
    diameter_mm = 2 / pi**0.5
    former_mm = 3 / pi - diameter_mm
    got = coil(
        strand_diameter_mm=diameter_mm,
        former_diameter_mm=former_mm,
        diameter_tolerance=0.25,
        turns=8.0,
        pitch_mm=4.0,
        legs_mm=0.0,
    )
    assert got.strand_length_m == pytest.approx(0.04)
    # 1.075e-6 ohm.m; 1.02125e-6 in 1.25 times the diameter, 1.135e-6 in 0.75 times
    assert got.resistance.nominal_ohm == pytest.approx(0.043)
    assert got.resistance.lowest_ohm == pytest.approx(1.02125 * 0.04 / 1.25**2)
    assert got.resistance.highest_ohm == pytest.approx(1.135 * 0.04 / 0.75**2)
    assert got.mass_kg == pytest.approx(8400.0 * 1e-6 * 0.04)
    assert got.length_mm == pytest.approx(32.0 + diameter_mm)
    assert got.outer_diameter_mm == pytest.approx(former_mm + 2 * diameter_mm)


@given(st.floats(0.2, 5.0), st.sampled_from([0.5, 1.0]))
def test_rounded_turns_have_no_less_than_wanted(wanted_ohm, step):
    """Whole or half turns are rounded to the higher resistance, by less than one step."""
    exact = float(wire.turns_for_resistance(wanted_ohm=wanted_ohm, **WINDING))
    turns = wire.careful_turns(turns=exact, step=step)
    assert (turns / step).is_integer()
    assert coil(turns=turns).resistance.nominal_ohm >= wanted_ohm * (1 - 1e-8)
    assert turns == step or turns < exact + step


def test_at_least_one_step_is_wound():
    """Nothing to wind still leaves one step, for a coil has turns."""
    assert wire.careful_turns(turns=0.0, step=0.5) == 0.5


@pytest.mark.parametrize(("factor", "fits"), [(0.999, False), (1.0, True), (1.001, True)])
def test_legs_just_below_at_and_above_the_wanted_resistance(factor, fits):
    """A wanted resistance below that of the legs has no number of turns, and the limit is told."""
    legs_ohm = float(coil(turns=0).resistance.nominal_ohm)
    call = WINDING | {"wanted_ohm": legs_ohm * factor + 1e-15}
    if fits:
        assert wire.turns_for_resistance(**call) >= 0.0
    else:
        with pytest.raises(NoSolution) as refused:
            wire.turns_for_resistance(**call)
        assert refused.value.numbers["legs_resistance_ohm"] == pytest.approx(legs_ohm)
        # at just what the legs have, there is nothing to wind
        at_legs = call | {"wanted_ohm": refused.value.numbers["legs_resistance_ohm"]}
        assert wire.turns_for_resistance(**at_legs) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("strands", "twists_per_metre", "width_mm"),
    [(1, 0.0, 0.4), (3, 0.0, 1.2), (2, 100.0, 0.8), (3, 0.5, 0.4 * (1 + 2 / 3**0.5))],
)
def test_pitch_just_below_and_at_the_width(strands, twists_per_metre, width_mm):
    """Turns may touch, but not lie in each other."""
    call = {"strands": strands, "twists_per_metre": twists_per_metre}
    coil(pitch_mm=width_mm, **call)
    with pytest.raises(NoSolution) as refused:
        coil(pitch_mm=width_mm * 0.999, **call)
    assert refused.value.numbers["width_mm"] == pytest.approx(width_mm)
    with pytest.raises(NoSolution):
        wire.turns_for_resistance(
            **WINDING | call | {"pitch_mm": width_mm * 0.999, "wanted_ohm": 5.0}
        )


@pytest.mark.parametrize(("less", "fits"), [(0.9e-9, True), (1e-9, True), (1.1e-9, False)])
def test_a_pitch_a_billionth_too_small_is_a_rounding_error(less, fits):
    """Up to a billionth of the width the turns count as touching."""
    if fits:
        coil(pitch_mm=0.4 * (1 - less))
    else:
        with pytest.raises(NoSolution):
            coil(pitch_mm=0.4 * (1 - less))


@given(st.sampled_from(sorted(ALLOYS)), st.floats(0.0, 0.2))
def test_spread_surrounds_the_nominal_resistance(alloy, tolerance):
    """The lowest is at most, the highest at least the nominal; a looser wire never narrows them."""
    got = coil(alloy=ALLOYS[alloy], diameter_tolerance=tolerance).resistance
    tight = coil(alloy=ALLOYS[alloy], diameter_tolerance=0.0).resistance
    assert got.lowest_ohm <= tight.lowest_ohm <= got.nominal_ohm
    assert got.nominal_ohm <= tight.highest_ohm <= got.highest_ohm
    if tolerance > 1e-6:
        assert got.lowest_ohm < tight.lowest_ohm


def test_strands_and_coils_divide():
    """n strands side by side in c coils have 1/(n·c) of the resistance and n·c times surface and mass."""
    one = coil(pitch_mm=2.0)
    many = coil(pitch_mm=2.0, strands=3, coils=2)
    assert many.resistance.nominal_ohm == pytest.approx(one.resistance.nominal_ohm / 6)
    assert many.surface_mm2 == pytest.approx(6 * one.surface_mm2)
    assert many.mass_kg == pytest.approx(6 * one.mass_kg)
    assert many.strand_length_m == one.strand_length_m


def test_length_of_a_helix_by_stepping_along_it():
    """The closed length is what a thousand chords of the helix come to."""
    angle = np.linspace(0.0, 2 * pi * 4.5, 200_001)
    radius_mm = 0.5 * (3.0 + 0.4)
    points = np.stack(
        [radius_mm * np.cos(angle), radius_mm * np.sin(angle), 0.7 * angle / (2 * pi)]
    )
    chords_mm = np.linalg.norm(np.diff(points), axis=0).sum()
    got = coil(turns=4.5, pitch_mm=0.7, legs_mm=0.0)
    assert got.strand_length_m * 1e3 == pytest.approx(chords_mm, rel=1e-8)


@pytest.mark.parametrize(
    ("strands", "ring"), [(1, 0.0), (2, 1.0), (3, 2 / 3**0.5), (4, 2**0.5), (6, 2.0)]
)
def test_twisted_strands_lie_in_a_ring(strands, ring):
    """Two, three, four and six touching circles have their centres on known circles."""
    given_ = {"strand_diameter_mm": 0.5, "strands": strands, "twists_per_metre": 200.0}
    assert wire.bundle_diameter_mm(**given_) == pytest.approx(0.5 * (1 + ring))
    assert wire.twist_lengthening(**given_) == pytest.approx(hypot(1.0, pi * 0.5 * ring / 5.0))


def test_a_slow_twist_is_a_twist():
    """Half a turn on a metre makes a ring as any twist does."""
    got_mm = wire.bundle_diameter_mm(strand_diameter_mm=0.4, strands=2, twists_per_metre=0.5)
    assert got_mm == pytest.approx(0.8)


def test_twisting_lengthens_and_raises_resistance():
    """More twists, more wire; no twist, none."""
    lengths = [
        wire.twist_lengthening(strand_diameter_mm=0.4, strands=2, twists_per_metre=twists)
        for twists in (0.0, 50.0, 100.0, 300.0)
    ]
    assert lengths[0] == 1.0
    assert sorted(set(lengths)) == lengths


@pytest.mark.parametrize("key", sorted(ALLOYS))
def test_temperature_curve_passes_20_and_ends(key):
    """The ratio is 1 at 20 °C; at the ends of the source it answers, just beyond it refuses."""
    alloy = ALLOYS[key]
    assert wire.resistance_ratio(alloy=alloy, temperature_c=20.0) == pytest.approx(1.0)
    lowest_c, highest_c = alloy.temperatures_c[0], alloy.temperatures_c[-1]
    wire.resistance_ratio(alloy=alloy, temperature_c=np.array([lowest_c, highest_c]))
    for beyond_c in (lowest_c - 0.001, highest_c + 0.001):
        with pytest.raises(NoSolution) as refused:
            wire.resistance_ratio(alloy=alloy, temperature_c=beyond_c)
        assert refused.value.numbers == {
            "lowest_temperature_c": lowest_c,
            "highest_temperature_c": highest_c,
        }


@pytest.mark.parametrize(("temperature_c", "ratio"), [(-80.0, 0.608), (20.0, 1.0), (120.0, 1.392)])
def test_copper_rises_in_a_straight_line(temperature_c, ratio):
    """3.92e-3 a kelvin (Modelica Standard Library): 100 K up or down are 39.2 % more or less."""
    got = wire.resistance_ratio(alloy=ALLOYS["copper"], temperature_c=temperature_c)
    assert got == pytest.approx(ratio)


def test_nickel_chromium_is_not_a_straight_line():
    """NiCr rises to a hump near 500 °C, falls, and rises again."""
    ratio = wire.resistance_ratio(alloy=NICR, temperature_c=np.array([20.0, 500.0, 700.0, 1000.0]))
    assert ratio[0] < ratio[2] < ratio[1] < ratio[3]


def test_every_value_says_where_it_comes_from():
    """No value of a material is without a source, and the spread holds the nominal value."""
    for alloy in ALLOYS.values():
        assert alloy.lowest_ohmm <= alloy.resistivity_ohmm <= alloy.highest_ohmm
        assert all(getattr(alloy, name) for name in alloy._fields if name.endswith("_source"))


def test_grid_of_gauges_and_turns():
    """A whole table is one call."""
    gauges = np.arange(20, 33)
    got = coil(
        strand_diameter_mm=wire.gauge_diameter_mm(gauge=gauges)[:, None],
        pitch_mm=1.0,
        turns=np.arange(3.0, 12.0),
    )
    assert got.resistance.nominal_ohm.shape == (13, 9)
    assert (np.diff(got.resistance.nominal_ohm, axis=0) > 0).all()
    assert (np.diff(got.resistance.nominal_ohm, axis=1) > 0).all()


def test_surface_load_and_warm_up():
    """Power is power: load times surface, and heat stored over time."""
    made = coil()
    load = wire.surface_load_wmm2(power_w=40.0, surface_mm2=made.surface_mm2)
    assert load * made.surface_mm2 == pytest.approx(40.0)
    assert made.surface_mm2 == pytest.approx(pi * 0.4 * made.strand_length_m * 1e3)
    time_s = wire.warm_up_s(
        mass_kg=made.mass_kg, specific_heat_j_kgk=440.0, rise_k=200.0, power_w=40.0
    )
    assert 40.0 * time_s == pytest.approx(made.mass_kg * 440.0 * 200.0)
