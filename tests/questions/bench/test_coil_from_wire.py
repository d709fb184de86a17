"""A coil from its wire: published problems and ranges, its laws, and turns for a resistance."""

import re
from math import pi, sqrt

import pytest

from percell.physics.alloys import ALLOYS
from percell.physics.errors import NoSolution
from percell.questions.bench.coil_from_wire import Alloy
from percell.questions.vocabulary.refusal import Refused

PHYSICS_2 = "OpenStax University Physics Vol. 2"
WOUND = {"alloy": "fecral_al_5_6", "gauge": 26, "former_diameter_mm": 3, "turns": 6}


def coil(ask, **changed):
    body = {k: v for k, v in (WOUND | changed).items() if v is not None}
    return ask("coil-from-wire", **body)


def rules(answer):
    return [finding.rule for finding in answer.findings]


def test_every_material_can_be_asked():
    """The words of the question are the known materials."""
    assert {str(word) for word in Alloy} == ALLOYS.keys()


@pytest.mark.parametrize(
    ("gauge", "diameter_mm"),
    [
        pytest.param(12, 2.053, id=f"{PHYSICS_2}, table of wire gauges: 12 AWG"),
        pytest.param(36, 0.127, id="ASTM B258: 36 AWG is 0.005 in (secondary copy)"),
        pytest.param(-3, 11.684, id="ASTM B258: 0000 AWG is 0.460 in (secondary copy)"),
    ],
)
def test_gauge_or_diameter(ask, gauge, diameter_mm):
    """A gauge has its published diameter, and the diameter asks what the gauge asks."""
    by_gauge = coil(ask, gauge=gauge, former_diameter_mm=50)
    assert by_gauge.wire_diameter_mm == pytest.approx(diameter_mm, abs=0.0013)
    by_diameter = coil(
        ask, gauge=None, wire_diameter_mm=by_gauge.wire_diameter_mm, former_diameter_mm=50
    )
    assert by_diameter.coil_resistance_ohm == pytest.approx(by_gauge.coil_resistance_ohm)


@pytest.mark.parametrize(
    ("alloy", "low_ohmm", "high_ohmm"),
    [
        pytest.param(
            "fecral_al_5_6", 1.372e-6, 1.529e-6, id="ASTM B603-07, Table 1, 825 to 920 ohm.cmil/ft"
        ),
        pytest.param(
            "fecral_al_475_575",
            1.322e-6,
            1.463e-6,
            id="ASTM B603-07, Table 1, 795 to 880 ohm.cmil/ft",
        ),
        pytest.param(
            "fecral_al_400_525",
            1.280e-6,
            1.421e-6,
            id="ASTM B603-07, Table 1, 770 to 855 ohm.cmil/ft",
        ),
        pytest.param(
            "fecral_cr_13_16",
            1.189e-6,
            1.305e-6,
            id="ASTM B603-07, Table 1, 715 to 785 ohm.cmil/ft",
        ),
    ],
)
def test_likely_range_is_that_of_the_standard(ask, alloy, low_ohmm, high_ohmm):
    """Lowest and highest resistance are the helix's length times the standard's range over the area."""
    got = coil(ask, alloy=alloy, gauge=None, wire_diameter_mm=0.4)
    turn_m = sqrt((pi * 3.4) ** 2 + 0.4**2) / 1e3
    area_m2 = pi * 0.4e-3**2 / 4
    assert got.coil_resistance_lowest_ohm == pytest.approx(
        6 * turn_m * low_ohmm / area_m2, rel=5e-4
    )
    assert got.coil_resistance_highest_ohm == pytest.approx(
        6 * turn_m * high_ohmm / area_m2, rel=5e-4
    )


@pytest.mark.parametrize(
    ("wanted_ohm", "length_m"),
    [
        pytest.param(
            40,
            83,
            id=f"{PHYSICS_2}, m58734, problem: 14 AWG nichrome of 1.00e-6 ohm.m, 40 ohm is 83 m",
        )
    ],
)
def test_published_heater(ask, wanted_ohm, length_m):
    """Our nickel-chromium is 1.075e-6 ohm.m, so its length is that of the book over 1.075."""
    got = coil(
        ask, alloy="nicr_80_20", gauge=14, turns=None, wanted_resistance_ohm=wanted_ohm,
        former_diameter_mm=100, spacing_mm=1,
    )  # fmt: skip
    assert got.wire_length_m == pytest.approx(length_m / 1.075, rel=0.01)


@pytest.mark.parametrize("wanted", [0.1, 0.15, 0.333, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("strands", [1, 2, 3])
def test_wanted_resistance_rounds_toward_caution(ask, wanted, strands):
    """The coil has at least the wanted resistance, and half a turn less would not."""
    more = {"strands": strands, "legs_length_mm": 8, "twist_rate": 300 if strands == 3 else 0}
    got = coil(ask, turns=None, wanted_resistance_ohm=wanted, **more)
    assert got.turns * 2 == int(got.turns * 2)
    assert got.coil_resistance_ohm >= wanted * (1 - 1e-9)
    if got.turns > 0.5:
        assert coil(ask, turns=got.turns - 0.5, **more).coil_resistance_ohm < wanted
    sure = coil(ask, turns=got.turns_at_lowest, **more)
    assert sure.coil_resistance_lowest_ohm >= wanted * (1 - 1e-9)
    if got.turns_at_lowest > 0.5:
        assert coil(
            ask, turns=got.turns_at_lowest - 0.5, **more
        ).coil_resistance_lowest_ohm < wanted  # fmt: skip


def test_laws(ask):
    """Two coils in parallel halve; two strands halve; legs and gaps add; tolerance widens."""
    one = coil(ask)
    assert coil(ask, coils=2).coil_resistance_ohm == pytest.approx(one.coil_resistance_ohm / 2)
    assert coil(ask, strands=2, spacing_mm=0).coil_resistance_ohm == pytest.approx(
        one.coil_resistance_ohm / 2, rel=0.01
    )
    legs = coil(ask, legs_length_mm=10)
    assert legs.coil_resistance_ohm - one.coil_resistance_ohm == pytest.approx(
        0.01 * one.resistance_ohm_m
    )
    assert coil(ask, spacing_mm=1).coil_resistance_ohm > one.coil_resistance_ohm
    wide = coil(ask, diameter_tolerance=0.05)
    assert wide.coil_resistance_lowest_ohm == pytest.approx(
        one.coil_resistance_lowest_ohm / 1.05**2
    )
    assert wide.coil_resistance_highest_ohm == pytest.approx(
        one.coil_resistance_highest_ohm / 0.95**2
    )


def test_power_and_temperature(ask):
    """Surface load is power over the wire's side; warming takes mass times specific heat."""
    got = coil(ask, alloy="nicr_80_20", coil_power_w=30, wire_temperature_c=300)
    surface_mm2 = pi * got.wire_diameter_mm * got.wire_length_m * 1e3
    assert got.surface_load_w_mm2 == pytest.approx(30 / surface_mm2)
    assert got.hot_resistance_ratio == pytest.approx(1.026)  # 1925, table III (secondary copy)
    mass_kg = 8400 * surface_mm2 * got.wire_diameter_mm / 4 * 1e-9
    assert got.warm_up_time_s == pytest.approx(mass_kg * 440 * 280 / 30)
    assert "warm-up-bare" in rules(got)
    names = {a.name: a.origin for a in got.assumptions}
    assert "memory, unconfirmed" in names["alloy.specific_heat"]
    with pytest.raises(NoSolution, match="resistance of this material at that temperature"):
        coil(ask, wire_temperature_c=121)


@pytest.mark.parametrize(
    ("alloy", "marked"),
    [("nickel_n02200", True), ("stainless_316l", False), ("fecral_al_5_6", False)],
)
def test_a_value_from_memory_is_marked(ask, alloy, marked):
    """A material without a published resistivity has a finding and an assumption that say so."""
    got = coil(ask, alloy=alloy)
    assert ("wire-unconfirmed" in rules(got)) is marked
    origin = next(a.origin for a in got.assumptions if a.name == "alloy.resistivity")
    assert ("memory" in origin) is marked


def test_the_lowest_is_what_counts(ask):
    """The finding names the lowest likely resistance and where to compare it with a pack."""
    got = coil(ask)
    assert rules(got)[0] == "coil-calculated"
    sentence = got.findings[0].sentence
    told_ohm = float(re.search(r"makes a coil of ([0-9.]+) to", sentence)[1])
    lowest_ohm = got.coil_resistance_lowest_ohm
    assert lowest_ohm * 0.99 < told_ohm <= lowest_ohm, "never more than the lowest"
    assert "/tables/lowest-resistance/" in sentence


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"gauge": None}, "/gauge"),
        ({"wire_diameter_mm": 0.4}, "/gauge"),
        ({"turns": None}, "/turns"),
        ({"wanted_resistance_ohm": 0.5}, "/turns"),
    ],
)
def test_one_of_two_is_given(ask, changed, field):
    """Gauge or diameter, turns or resistance: exactly one of each pair."""
    with pytest.raises(Refused) as refused:
        coil(ask, **changed)
    assert refused.value.pointer == field


def test_what_cannot_be_wound(ask):
    """Legs above the wanted resistance, and too many turns, have no answer."""
    with pytest.raises(NoSolution, match="legs alone"):
        coil(ask, turns=None, wanted_resistance_ohm=0.1, legs_length_mm=50)
    with pytest.raises(NoSolution, match="more turns") as none:
        coil(ask, alloy="copper", turns=None, wanted_resistance_ohm=100)
    assert none.value.numbers["turns"] > none.value.numbers["most_turns"]


def test_a_coil_has_up_to_five_hundred_turns(ask):
    """Exactly 500 turns are wound, given or found; a resistance that takes half a turn more is not."""
    got = coil(ask, turns=500)
    assert got.turns == 500
    found = {"turns": None, "wanted_resistance_ohm": got.coil_resistance_ohm}
    assert coil(ask, **found).turns == 500
    with pytest.raises(NoSolution, match="more turns") as none:
        coil(ask, **found | {"wanted_resistance_ohm": got.coil_resistance_ohm * 1.0005})
    assert none.value.numbers["turns"] == 500.5


def test_the_lowest_of_a_metre_is_that_of_the_coil(ask):
    """Whatever makes the coil's lowest resistance lower than its likely one does so to each metre."""
    got = coil(ask, diameter_tolerance=0.02)
    of_coil = got.coil_resistance_lowest_ohm / got.coil_resistance_ohm
    assert got.resistance_lowest_ohm_m / got.resistance_ohm_m == pytest.approx(of_coil)
    assert of_coil < 1
