"""Wire against published diameters, resistivities and worked problems.

Sources marked "secondary copy" were not read in the original.
"""

from math import pi

import pytest

from percell.physics import wire
from percell.physics.alloys import ALLOYS

PHYSICS_2 = "OpenStax University Physics Vol. 2"
CRC = "CRC Handbook wire table (secondary copy)"


@pytest.mark.parametrize(
    ("source", "gauge", "diameter_mm", "within_mm"),
    [
        # printed tables are rounded to a tenth of a mil, 0.0025 mm
        (f"{PHYSICS_2}: 12 AWG", 12, 2.053, 0.0013),
        (f"{PHYSICS_2}: 5 AWG", 5, 4.621, 0.0013),
        (f"{PHYSICS_2}: 0 AWG", 0, 8.252, 0.0013),
        (f"{CRC}: 2 AWG", 2, 6.543, 0.0013),
        (f"{CRC}: 4 AWG", 4, 5.189, 0.0013),
        (f"{CRC}: 6 AWG", 6, 4.115, 0.0013),
        ("ASTM B258: 36 AWG is 0.005 in (secondary copy)", 36, 0.127, 1e-12),
        ("ASTM B258: 0000 AWG is 0.460 in (secondary copy)", -3, 11.684, 1e-9),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_published_diameter(source, gauge, diameter_mm, within_mm):
    """The equation of the gauge gives the printed diameter."""
    assert wire.gauge_diameter_mm(gauge=gauge) == pytest.approx(diameter_mm, abs=within_mm), source


@pytest.mark.parametrize(
    ("source", "gauge", "area_mm2"),
    [
        (f"{PHYSICS_2}: 14 AWG", 14, 2.08),
        (f"{PHYSICS_2}: 20 AWG", 20, 0.52),
        (f"{PHYSICS_2}: 10 AWG", 10, 5.26),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_published_area(source, gauge, area_mm2):
    """The area that belongs to the equation's diameter is the printed one."""
    got = pi / 4 * wire.gauge_diameter_mm(gauge=gauge) ** 2
    assert got == pytest.approx(area_mm2, abs=0.005), source


@pytest.mark.parametrize(
    "source", [f"{PHYSICS_2}, m58734, problem: 14 AWG for 300 W at 110 V is 83 m long"]
)
def test_published_heater(source):
    """110 V and 300 W are 40 ohm, and that is 83 m of 14 AWG of 1.00e-6 ohm.m."""
    resistance_ohm = 110.0**2 / 300.0
    assert resistance_ohm == pytest.approx(40.0, abs=0.5)
    per_metre = wire.resistance_per_metre(
        resistivity_ohmm=1.00e-6, diameter_mm=wire.gauge_diameter_mm(gauge=14), strands=1
    )
    # the book goes on with the rounded 40 ohm
    assert 40.0 / per_metre == pytest.approx(83.0, abs=0.5), source


@pytest.mark.parametrize(
    "source", [f"{PHYSICS_2}, m58735, problem: nichrome rod 3.00 mm long of 1.00 mm2"]
)
def test_published_rod(source):
    """A rod of 3.00 mm and 1.00 mm2 of 1.00e-6 ohm.m has 0.003 ohm."""
    got = wire.wire_resistance_ohm(
        resistivity_ohmm=1.00e-6, diameter_mm=(4 / pi) ** 0.5, strands=1, length_m=3.00e-3
    )
    assert got == pytest.approx(0.003, rel=1e-12), source


@pytest.mark.parametrize(
    ("gauge", "uohmm", "per_metre"),
    [
        (gauge, uohmm, value)
        for gauge, values in {
            24: (5.324, 7.083, 3.663),
            26: (8.466, 11.262, 5.825),
            28: (13.461, 17.907, 9.262),
        }.items()
        for uohmm, value in zip((1.09, 1.45, 0.75), values, strict=True)
    ],
    ids=lambda value: f"by hand {value}",
)
def test_resistance_per_metre_by_hand(gauge, uohmm, per_metre):
    """Ohms per metre of three gauges and three resistivities are those worked out by hand."""
    got = wire.resistance_per_metre(
        resistivity_ohmm=uohmm * 1e-6, diameter_mm=wire.gauge_diameter_mm(gauge=gauge), strands=1
    )
    assert got == pytest.approx(per_metre, abs=0.001)


@pytest.mark.parametrize(
    ("source", "key", "lowest", "highest"),
    [
        ("ASTM B603-07, Table 1, Al 5.00 to 6.00: 825 to 920", "fecral_al_5_6", 1.372, 1.529),
        ("ASTM B603-07, Table 1, Al 4.75 to 5.75: 795 to 880", "fecral_al_475_575", 1.322, 1.463),
        ("ASTM B603-07, Table 1, Al 4.00 to 5.25: 770 to 855", "fecral_al_400_525", 1.280, 1.421),
        ("ASTM B603-07, Table 1, Cr 13 to 16: 715 to 785", "fecral_cr_13_16", 1.189, 1.305),
    ],
    ids=lambda value: value if isinstance(value, str) and "ASTM" in value else "",
)
def test_published_range_of_iron_chromium_aluminium(source, key, lowest, highest):
    """The ranges of the standard in ohm.cmil/ft are these in uohm.m, converted by hand."""
    alloy = ALLOYS[key]
    assert alloy.lowest_ohmm * 1e6 == pytest.approx(lowest, abs=0.0006), source
    assert alloy.highest_ohmm * 1e6 == pytest.approx(highest, abs=0.0006)


@pytest.mark.parametrize(
    ("source", "key", "uohmm"),
    [
        ("CRC Handbook, NiCr 79/21 (secondary copy)", "nicr_80_20", 1.075),
        ("EN 10088-1, 1.4404 (secondary copy)", "stainless_316l", 0.75),
        ("NBS J. Res. 1930, nickel (secondary copy)", "nickel_pure", 0.07236),
        ("material data sheet MTU010, titanium", "titanium_grade_1", 0.45),
        ("IEC 60028, 1/58 (secondary copy)", "copper", 1 / 58),
    ],
    ids=lambda value: value if isinstance(value, str) and len(value) > 20 else "",
)
def test_published_resistivity(source, key, uohmm):
    """The nominal resistivity of a material is the printed one."""
    assert ALLOYS[key].resistivity_ohmm * 1e6 == pytest.approx(uohmm, rel=1e-4), source


@pytest.mark.parametrize(
    ("temperature_c", "printed_uohmcm"),
    [(50, 76.0), (100, 80.0), (150, 83.0), (200, 87.0), (250, 90.0), (300, 94.0), (350, 97.0)],
    ids=lambda value: f"Peckner 1977, AISI 316 (secondary copy) {value}",
)
def test_another_handbook_on_316(temperature_c, printed_uohmcm):
    """The curve of 316L follows a second handbook's values for 316, printed to 1 uohm.cm."""
    got = 74.0 * wire.resistance_ratio(
        alloy=ALLOYS["stainless_316l"], temperature_c=float(temperature_c)
    )
    assert got == pytest.approx(printed_uohmcm, abs=0.75)


@pytest.mark.parametrize(
    ("temperature_c", "lowest", "highest"),
    [
        (300, 1.025, 1.027),
        (400, 1.032, 1.036),
        (500, 1.041, 1.045),
        (600, 1.032, 1.036),
        (700, 1.028, 1.032),
        (800, 1.028, 1.033),
        (900, 1.030, 1.038),
        (1000, 1.040, 1.049),
    ],
    ids=lambda value: (
        f"Forging-Stamping-Heat Treating, Feb 1925, table III (secondary copy) {value}"
    ),
)
def test_printed_curve_of_nickel_chromium(temperature_c, lowest, highest):
    """The curve of NiCr lies inside the printed ranges."""
    got = wire.resistance_ratio(alloy=ALLOYS["nicr_80_20"], temperature_c=float(temperature_c))
    assert lowest <= got <= highest


@pytest.mark.parametrize("source", ["CRC Handbook, NiCr 79/21, 1.073 at 0 °C, 1.083 at 100 °C"])
def test_slope_of_nickel_chromium_near_room(source):
    """Below 300 °C the curve's slope agrees with a second handbook's to a few parts in 100,000."""
    alloy = ALLOYS["nicr_80_20"]
    theirs = (1.083 - 1.073) / 1.073 / 100
    ours = (wire.resistance_ratio(alloy=alloy, temperature_c=120.0) - 1.0) / 100.0
    assert ours == pytest.approx(theirs, abs=1e-5), source


@pytest.mark.parametrize("source", [f"{PHYSICS_2}, m58731: a straight line up to about 100 °C"])
def test_straight_lines_end_where_they_should(source):
    """Where only a coefficient is known, no ratio is given more than 100 K from 20 °C."""
    straight = [alloy for alloy in ALLOYS.values() if len(alloy.temperatures_c) == 3]
    assert len(straight) > 5, source
    for alloy in straight:
        assert alloy.temperatures_c == (-80.0, 20.0, 120.0)


@pytest.mark.parametrize(
    "zero_c_uohmm",
    [0.08, 0.09, 0.102, 0.12, 0.13, 0.143],
    ids=lambda value: (
        f"commercial nickel at 0 °C, nickel.atomistry.com (secondary copy): {value} uohm.m"
    ),
)
def test_published_samples_of_commercial_nickel_lie_in_its_range(zero_c_uohmm):
    """By purity one sample has nearly twice the resistivity of another: all are within the likely range."""
    alloy = ALLOYS["nickel_n02200"]
    at_20_c = zero_c_uohmm / wire.resistance_ratio(alloy=alloy, temperature_c=0.0)
    assert alloy.lowest_ohmm * 1e6 < at_20_c < alloy.highest_ohmm * 1e6
