"""Coils wound from wire: resistance, its spread, surface and warming.

Resistances are at 20 °C unless said. The wire is round; gauges are AWG by the equation of ASTM B258,
not by its rounded table. Strands lie side by side on the former, or are twisted into one bundle, each
strand then following a helix of its own inside the bundle; up to six strands a ring is meant, without
one in the middle.
"""

from math import pi
from typing import Generic, NamedTuple

import numpy as np

from percell.physics.alloys import Alloy
from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE, rounded_up
from percell.physics.types import Quantity, as_given


class Resistance(NamedTuple, Generic[Quantity]):
    """A resistance and the ends of its likely range."""

    nominal_ohm: Quantity
    lowest_ohm: Quantity
    highest_ohm: Quantity


class Winding(NamedTuple, Generic[Quantity]):
    """What a winding comes to, all coils and strands together where it is not said otherwise."""

    resistance: Resistance[Quantity]
    strand_length_m: Quantity  # of one strand of one coil, legs included
    surface_mm2: Quantity
    mass_kg: Quantity
    length_mm: Quantity  # of one winding, along the former
    outer_diameter_mm: Quantity


def gauge_diameter_mm(*, gauge: Quantity) -> Quantity:
    """Return the diameter of a wire of an American wire gauge.

    ``0.127 mm · 92^((36 − n)/39)``: 0.005 inch at 36, 0.460 inch at 0000, 39 equal steps between.
    Gauges 00, 000 and 0000 are n = −1, −2 and −3.

    Args:
        gauge: Gauge number, n. [1], -3 to 50

    Returns:
        Diameter. [mm]

    Source:
        ASTM B258, equation (secondary copy). Its printed table is rounded to a tenth of a mil.

    >>> gauge_diameter_mm(gauge=36)
    0.127
    """
    ratio: Quantity = 92.0 ** ((36.0 - gauge) / 39.0)
    return 0.127 * ratio


def resistance_per_metre(
    *, resistivity_ohmm: float, diameter_mm: Quantity, strands: Quantity
) -> Quantity:
    """Return the resistance of a metre of straight wire.

    ``ρ/A`` with ``A = n·π·d²/4``.

    Args:
        resistivity_ohmm: Resistivity. [ohm.m], > 0
        diameter_mm: Diameter of one strand. [mm], > 0
        strands: Strands in parallel, n. [1], >= 1

    Returns:
        Resistance per length. [ohm/m]

    Source:
        OpenStax University Physics Vol. 2, module m58731.

    >>> round(resistance_per_metre(resistivity_ohmm=1e-6, diameter_mm=2.0 / pi**0.5, strands=1), 9)
    1.0
    """
    return resistivity_ohmm / (strands * pi / 4.0 * (diameter_mm * 1e-3) ** 2)


def wire_resistance_ohm(
    *, resistivity_ohmm: float, diameter_mm: Quantity, strands: Quantity, length_m: Quantity
) -> Quantity:
    """Return the resistance of a length of straight wire, as a lead has it.

    ``ρ·L/A``. A pair of leads is twice its distance.

    Args:
        resistivity_ohmm: Resistivity. [ohm.m], > 0
        diameter_mm: Diameter of one strand. [mm], > 0
        strands: Strands in parallel. [1], >= 1
        length_m: Length. [m], >= 0

    Returns:
        Resistance. [ohm]

    Source:
        OpenStax University Physics Vol. 2, module m58731.

    >>> round(wire_resistance_ohm(resistivity_ohmm=1e-6, diameter_mm=2.0 / pi**0.5, strands=2,
    ...     length_m=3.0), 9)
    1.5
    """
    return length_m * resistance_per_metre(
        resistivity_ohmm=resistivity_ohmm, diameter_mm=diameter_mm, strands=strands
    )


def resistance_ratio(*, alloy: Alloy, temperature_c: Quantity) -> Quantity:
    """Return the resistance at a temperature as a ratio to that at 20 °C.

    Straight between the points that the alloy's source gives. Where it gives a coefficient only, a
    straight line up to 100 K away from 20 °C.

    Args:
        alloy: Material. [one of ALLOYS], any
        temperature_c: Temperature of the wire. [°C], >= the alloy's first point, <= its last

    Returns:
        Ratio. [1]

    Raises:
        NoSolution: The temperature lies outside the points: no value is made up there.

    Source:
        The alloy's ``temperature_source``; bound of the straight line: OpenStax University Physics
        Vol. 2, module m58731.

    >>> from percell.physics.alloys import ALLOYS
    >>> resistance_ratio(alloy=ALLOYS["nicr_80_20"], temperature_c=300.0)
    1.026
    """
    lowest_c, highest_c = alloy.temperatures_c[0], alloy.temperatures_c[-1]
    if np.min(temperature_c) < lowest_c or np.max(temperature_c) > highest_c:
        raise NoSolution(
            "temperature_off_curve",
            "percell knows no source for the resistance of this material at that temperature.",
            lowest_temperature_c=lowest_c,
            highest_temperature_c=highest_c,
        )
    ratio = np.interp(temperature_c, alloy.temperatures_c, alloy.ratios)
    return as_given(ratio, temperature_c)


def bundle_diameter_mm(
    *, strand_diameter_mm: Quantity, strands: Quantity, twists_per_metre: Quantity
) -> Quantity:
    """Return the thickness of the strands as they lie on the former.

    One strand's diameter where they are side by side. Twisted strands touch in a ring: its centres lie
    on a circle of ``d/sin(π/n)``, and one strand more is the bundle.

    Args:
        strand_diameter_mm: Diameter of one strand, d. [mm], > 0
        strands: Strands, n. [1], 1 to 6
        twists_per_metre: Full twists on a metre of bundle; 0 for side by side. [1/m], >= 0

    Returns:
        Thickness. [mm]

    Source:
        Geometry; the ring neglects that a slanting strand is cut to an ellipse.

    >>> bundle_diameter_mm(strand_diameter_mm=0.4, strands=2, twists_per_metre=100.0)
    0.8
    """
    return strand_diameter_mm + _ring_mm(strand_diameter_mm, strands) * (twists_per_metre > 0)


def twist_lengthening(
    *, strand_diameter_mm: Quantity, strands: Quantity, twists_per_metre: Quantity
) -> Quantity:
    """Return the length of a strand over that of its bundle.

    ``√(1 + (π·d_ring·twists)²)``: unrolled, a twisted strand is the hypotenuse of one turn around the
    ring and one length of lay. 1 for strands side by side and for a single one.

    Args:
        strand_diameter_mm: Diameter of one strand. [mm], > 0
        strands: Strands. [1], 1 to 6
        twists_per_metre: Full twists on a metre of bundle; 0 for side by side. [1/m], >= 0

    Returns:
        Ratio. [1]

    Source:
        Geometry.

    >>> twist_lengthening(strand_diameter_mm=0.4, strands=2, twists_per_metre=0.0)
    1.0
    """
    slope = pi * _ring_mm(strand_diameter_mm, strands) * 1e-3 * twists_per_metre
    return as_given(np.sqrt(1.0 + slope * slope), slope)


def turn_length_mm(
    *, former_diameter_mm: Quantity, bundle_mm: Quantity, pitch_mm: Quantity
) -> Quantity:
    """Return the length of one turn of a helix.

    ``√((π·(D + d))² + pitch²)``: unrolled, a turn is the hypotenuse of its mean circumference and its
    advance.

    Args:
        former_diameter_mm: Diameter of the former, D. [mm], > 0
        bundle_mm: Thickness of wire or bundle, d. [mm], > 0
        pitch_mm: Advance of the winding in one turn. [mm], >= 0

    Returns:
        Length. [mm]

    Source:
        Geometry, exact for the centre line of a helix.

    >>> round(turn_length_mm(former_diameter_mm=3.0 / pi - 0.5, bundle_mm=0.5, pitch_mm=4.0), 9)
    5.0
    """
    around_mm = pi * (former_diameter_mm + bundle_mm)
    return as_given(np.sqrt(around_mm * around_mm + pitch_mm * pitch_mm), around_mm)


def coil(
    *,
    alloy: Alloy,
    strand_diameter_mm: Quantity,
    diameter_tolerance: Quantity,
    strands: Quantity,
    twists_per_metre: Quantity,
    former_diameter_mm: Quantity,
    turns: Quantity,
    pitch_mm: Quantity,
    legs_mm: Quantity,
    coils: Quantity,
) -> Winding[Quantity]:
    """Return the resistance, surface and mass of equal coils in parallel.

    ``R = ρ·L/(A·n·c)``; the lowest likely one has the lowest resistivity and the thickest wire, the
    highest the opposite. Contact between turns, posts and leads is not in it.

    Args:
        alloy: Material. [one of ALLOYS], any
        strand_diameter_mm: Diameter of one strand. [mm], > 0
        diameter_tolerance: Part by which that may be off, either way. [1], 0 <= t < 1
        strands: Strands, n. [1], 1 to 6
        twists_per_metre: Full twists on a metre of bundle; 0 for side by side. [1/m], >= 0
        former_diameter_mm: Diameter of the former. [mm], > 0
        turns: Turns. [1], >= 0
        pitch_mm: Advance in one turn. [mm], >= width of the strands
        legs_mm: Length of both legs of one coil together. [mm], >= 0
        coils: Coils in parallel, c. [1], >= 1

    Returns:
        Winding. [ohm, m, mm2, kg, mm]

    Raises:
        NoSolution: The pitch is less than the strands are wide: turns would lie in each other.

    Source:
        OpenStax University Physics Vol. 2, module m58731, and geometry; the alloy's sources.

    >>> from percell.physics.alloys import ALLOYS
    >>> made = coil(alloy=ALLOYS["nicr_80_20"], strand_diameter_mm=0.4, diameter_tolerance=0.0,
    ...     strands=1, twists_per_metre=0.0, former_diameter_mm=3.0, turns=0, pitch_mm=0.4, legs_mm=100.0,
    ...     coils=1)
    >>> round(made.strand_length_m, 6), round(made.resistance.nominal_ohm, 4)
    (0.1, 0.8555)
    """
    bundle_mm = bundle_diameter_mm(
        strand_diameter_mm=strand_diameter_mm, strands=strands, twists_per_metre=twists_per_metre
    )
    width_mm = _width_mm(strand_diameter_mm, strands, twists_per_metre, pitch_mm)
    wound_mm = turn_length_mm(
        former_diameter_mm=former_diameter_mm, bundle_mm=bundle_mm, pitch_mm=pitch_mm
    )
    longer = twist_lengthening(
        strand_diameter_mm=strand_diameter_mm, strands=strands, twists_per_metre=twists_per_metre
    )
    strand_m = (turns * wound_mm + legs_mm) * longer * 1e-3

    def resistance_ohm(resistivity_ohmm: float, diameter_mm: Quantity) -> Quantity:
        return (
            wire_resistance_ohm(
                resistivity_ohmm=resistivity_ohmm,
                diameter_mm=diameter_mm,
                strands=strands,
                length_m=strand_m,
            )
            / coils
        )

    section_m2 = pi / 4.0 * (strand_diameter_mm * 1e-3) ** 2
    return Winding(
        resistance=Resistance(
            nominal_ohm=resistance_ohm(alloy.resistivity_ohmm, strand_diameter_mm),
            lowest_ohm=resistance_ohm(
                alloy.lowest_ohmm, strand_diameter_mm * (1.0 + diameter_tolerance)
            ),
            highest_ohm=resistance_ohm(
                alloy.highest_ohmm, strand_diameter_mm * (1.0 - diameter_tolerance)
            ),
        ),
        strand_length_m=strand_m,
        surface_mm2=pi * strand_diameter_mm * strand_m * 1e3 * strands * coils,
        mass_kg=alloy.density_kgm3 * section_m2 * strand_m * strands * coils,
        length_mm=turns * pitch_mm + width_mm,
        outer_diameter_mm=former_diameter_mm + 2.0 * bundle_mm,
    )


def turns_for_resistance(
    *,
    alloy: Alloy,
    strand_diameter_mm: Quantity,
    strands: Quantity,
    twists_per_metre: Quantity,
    former_diameter_mm: Quantity,
    pitch_mm: Quantity,
    legs_mm: Quantity,
    coils: Quantity,
    wanted_ohm: Quantity,
) -> Quantity:
    """Return the turns with which equal coils in parallel have a wanted resistance, not rounded.

    ``coil`` solved for the turns: the length of bundle that the resistance needs, less the legs, over
    the length of one turn.

    Args:
        alloy: Material. [one of ALLOYS], any
        strand_diameter_mm: Diameter of one strand. [mm], > 0
        strands: Strands. [1], 1 to 6
        twists_per_metre: Full twists on a metre of bundle; 0 for side by side. [1/m], >= 0
        former_diameter_mm: Diameter of the former. [mm], > 0
        pitch_mm: Advance in one turn. [mm], >= width of the strands
        legs_mm: Length of both legs of one coil together. [mm], >= 0
        coils: Coils in parallel. [1], >= 1
        wanted_ohm: Resistance of all coils together. [ohm], > 0

    Returns:
        Turns. [1]

    Raises:
        NoSolution: The legs alone have more than the wanted resistance, or the pitch is less than the
            strands are wide.

    Source:
        As ``coil``.

    A metre of a square millimetre of 1.075e-6 ohm.m has 1.075 ohm, and here 8 turns of 5 mm in 40 mm.

    >>> from percell.physics.alloys import ALLOYS
    >>> round(turns_for_resistance(alloy=ALLOYS["nicr_80_20"], strand_diameter_mm=2 / pi**0.5,
    ...     strands=1, twists_per_metre=0.0, former_diameter_mm=3 / pi - 2 / pi**0.5, pitch_mm=4.0,
    ...     legs_mm=0.0, coils=1, wanted_ohm=0.043), 9)
    8.0
    """
    _width_mm(strand_diameter_mm, strands, twists_per_metre, pitch_mm)
    longer = twist_lengthening(
        strand_diameter_mm=strand_diameter_mm, strands=strands, twists_per_metre=twists_per_metre
    )
    per_mm = (
        1e-3
        * longer
        * (
            resistance_per_metre(
                resistivity_ohmm=alloy.resistivity_ohmm,
                diameter_mm=strand_diameter_mm,
                strands=strands,
            )
            / coils
        )
    )
    legs_ohm = legs_mm * per_mm
    if np.any(legs_ohm > wanted_ohm):
        raise NoSolution(
            "legs_above_wanted",
            "The legs alone already have more than the wanted resistance.",
            legs_resistance_ohm=float(np.max(legs_ohm)),
            wanted_resistance_ohm=float(np.min(wanted_ohm)),
        )
    one_mm = turn_length_mm(
        former_diameter_mm=former_diameter_mm,
        bundle_mm=bundle_diameter_mm(
            strand_diameter_mm=strand_diameter_mm,
            strands=strands,
            twists_per_metre=twists_per_metre,
        ),
        pitch_mm=pitch_mm,
    )
    return (wanted_ohm / per_mm - legs_mm) / one_mm


def careful_turns(*, turns: float, step: float) -> float:
    """Return the turns that can be wound and have no less than the wanted resistance.

    Rounded up, for more wire has more resistance and takes less current.

    Args:
        turns: Turns as calculated. [1], >= 0
        step: 1 where both legs leave on the same side, as with whole turns; else 0.5. [1], > 0

    Returns:
        Turns, at least one step. [1]

    Source:
        Rounding to the careful side.

    >>> careful_turns(turns=6.1, step=0.5), careful_turns(turns=6.0, step=1.0)
    (6.5, 6.0)
    """
    return max(step, rounded_up(value=turns, step=step))


def surface_load_wmm2(*, power_w: Quantity, surface_mm2: Quantity) -> Quantity:
    """Return the power that a coil gives off on each square millimetre of wire.

    ``P/S``, where S is the whole surface of all strands, also where they touch.

    Args:
        power_w: Power in the coil. [W], >= 0
        surface_mm2: Surface of the wire. [mm2], > 0

    Returns:
        Surface load; a thousandth of it is a megawatt on the square metre. [W/mm2]

    Source:
        Definition.

    >>> surface_load_wmm2(power_w=30.0, surface_mm2=120.0)
    0.25
    """
    return power_w / surface_mm2


def warm_up_s(
    *, mass_kg: Quantity, specific_heat_j_kgk: Quantity, rise_k: Quantity, power_w: Quantity
) -> Quantity:
    """Return the least time in which a bare coil gets warmer by a number of kelvin.

    ``m·c·ΔT/P``. Nothing is lost to air or liquid here, so that a real coil takes longer, and a wet
    one much longer: use it to compare windings.

    Args:
        mass_kg: Mass of the wire. [kg], > 0
        specific_heat_j_kgk: Specific heat. [J/(kg.K)], > 0
        rise_k: Rise of temperature. [K], >= 0
        power_w: Power in the coil. [W], > 0

    Returns:
        Time. [s]

    Source:
        Heat balance without loss.

    >>> warm_up_s(mass_kg=0.001, specific_heat_j_kgk=500.0, rise_k=200.0, power_w=50.0)
    2.0
    """
    return mass_kg * specific_heat_j_kgk * rise_k / power_w


def _ring_mm(strand_diameter_mm: Quantity, strands: Quantity) -> Quantity:
    """Diameter of the circle on which the centres of twisted strands lie; 0 for a single one."""
    # where, because a single strand has no ring and sin(π) is not quite zero
    single = np.asarray(strands) < 2
    ring_mm = np.where(single, 0.0, strand_diameter_mm / np.sin(pi / np.where(single, 2, strands)))
    return as_given(ring_mm, strands)


def _width_mm(
    strand_diameter_mm: Quantity, strands: Quantity, twists_per_metre: Quantity, pitch_mm: Quantity
) -> Quantity:
    """Room that the strands take along the former, checked against the pitch."""
    # where, for twisted and untwisted may stand in one array
    width_mm = np.where(
        np.asarray(twists_per_metre) > 0,
        strand_diameter_mm + _ring_mm(strand_diameter_mm, strands),
        strand_diameter_mm * strands,
    )
    if np.any(pitch_mm < width_mm * (1.0 - NOISE)):
        raise NoSolution(
            "turns_overlap",
            "The pitch is smaller than the width of the strands.",
            pitch_mm=float(np.min(pitch_mm)),
            width_mm=float(np.max(width_mm)),
        )
    return as_given(width_mm, pitch_mm)
