"""What resistance does a coil of this wire have, and how many turns give a wanted one?"""

from enum import StrEnum
from typing import Annotated, Any, ClassVar, cast

from msgspec import UNSET, Struct, UnsetType, structs

from percell.physics import wire
from percell.physics.alloys import ALLOYS, REFERENCE_C
from percell.physics.entries import UNCONFIRMED
from percell.physics.errors import NoSolution
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.bench import rules
from percell.questions.vocabulary.fields import NOTHING_GIVEN, choice, figure, quantity, text, whole
from percell.questions.vocabulary.presence import OneOf, Presence
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.wording import at_least, shown

# a coil on a former has whole or half turns, depending on where the leg leaves
STEP_TURNS = 0.5
MOST_TURNS = 500


class Alloy(StrEnum):
    """Material of the wire, by composition or by the designation of a standard."""

    vars().update({key.upper(): key for key in ALLOYS})


class CoilFromWire(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Round wire by gauge or diameter, wound to a number of turns or to a wanted resistance."""

    presence: ClassVar[tuple[Presence, ...]] = (
        OneOf(("gauge", "wire_diameter_mm"), "Give gauge or wire_diameter_mm, not both."),
        OneOf(("turns", "wanted_resistance_ohm"), "Give turns or wanted_resistance_ohm, not both."),
    )
    alloy: Annotated[
        Alloy,
        choice(
            "Material of the wire: "
            + ", ".join(dict.fromkeys(alloy.family for alloy in ALLOYS.values()))
            + "."
        ),
    ]
    gauge: (
        Annotated[
            float,
            whole(-3, 50, "American wire gauge. 00, 000 and 0000 are -1, -2 and -3."),
        ]
        | UnsetType
    ) = UNSET
    wire_diameter_mm: (
        Annotated[float, quantity("mm", 0.02, 12, "Diameter of one strand, in place of the gauge.")]
        | UnsetType
    ) = UNSET
    diameter_tolerance: Annotated[
        float,
        quantity(
            "1",
            0,
            0.2,
            "Tolerance of the diameter, plus or minus, as part of it.",
            default_from=NOTHING_GIVEN,
        ),
    ] = 0.0
    strands: Annotated[
        float,
        whole(1, 6, "Number of strands in parallel.", default_from="a single wire"),
    ] = 1.0
    twist_rate: Annotated[
        float,
        quantity(
            "1/m",
            0,
            1000,
            "Full twists of the strands per metre of bundle. 0 for strands side by side.",
            default_from="strands side by side",
        ),
    ] = 0.0
    former_diameter_mm: Annotated[
        float, quantity("mm", 0.2, 100, "Diameter of the rod that the coil is wound on.")
    ]
    turns: (
        Annotated[float, quantity("1", STEP_TURNS, MOST_TURNS, "Number of turns of one coil.")]
        | UnsetType
    ) = UNSET
    wanted_resistance_ohm: (
        Annotated[
            float,
            quantity(
                "Ω", 0.001, 100, "Wanted resistance of all coils together, in place of turns."
            ),
        ]
        | UnsetType
    ) = UNSET
    spacing_mm: Annotated[
        float,
        quantity("mm", 0, 20, "Gap between neighbouring turns.", default_from="turns side by side"),
    ] = 0.0
    legs_length_mm: Annotated[
        float,
        quantity(
            "mm",
            0,
            1000,
            "Length of both legs of one coil together, of the same wire, up to the clamps.",
            default_from="none counted, because legs add resistance and the lower figure is the worse case",
        ),
    ] = 0.0
    coils: Annotated[
        float, whole(1, 8, "Number of equal coils in parallel.", default_from="one coil")
    ] = 1.0
    coil_power_w: (
        Annotated[float, quantity("W", 0.1, 2000, "Power in all coils together.")] | UnsetType
    ) = UNSET
    wire_temperature_c: (
        Annotated[float, quantity("°C", -80, 1000, "Temperature of the wire in use.")] | UnsetType
    ) = UNSET


class CoilFromWireFigures(Struct, frozen=True, gc=False):
    """The winding, with its resistance at 20 °C."""

    turns: Annotated[float, figure("1", "Number of turns of one coil, as asked or as calculated.")]
    coil_resistance_ohm: Annotated[
        float, figure("Ω", "Nominal resistance of all coils together, at 20 °C.")
    ]
    coil_resistance_lowest_ohm: Annotated[
        float,
        figure(
            "Ω",
            "Lowest likely resistance at 20 °C, with the lowest resistivity and the thickest wire.",
        ),
    ]
    coil_resistance_highest_ohm: Annotated[
        float,
        figure(
            "Ω",
            "Highest likely resistance at 20 °C, with the highest resistivity and the thinnest wire.",
        ),
    ]
    turns_at_lowest: Annotated[
        float,
        figure(
            "1",
            "Number of turns at which even the lowest likely resistance reaches the wanted one. If turns were "
            "asked, the nominal one.",
        ),
    ]
    resistance_ohm_m: Annotated[
        float, figure("Ω/m", "Nominal resistance of one metre of straight wire, all strands.")
    ]
    resistance_lowest_ohm_m: Annotated[
        float, figure("Ω/m", "Lowest likely resistance of one metre of straight wire, all strands.")
    ]
    wire_diameter_mm: Annotated[float, figure("mm", "Diameter of one strand.")]
    strand_length_m: Annotated[
        float, figure("m", "Length of one strand of one coil, with its legs.")
    ]
    wire_length_m: Annotated[float, figure("m", "Length of all strands of all coils.")]
    surface_area_mm2: Annotated[
        float, figure("mm²", "Surface of all wire, including where strands touch.")
    ]
    wire_mass_kg: Annotated[float, figure("kg", "Mass of all wire.")]
    winding_length_mm: Annotated[float, figure("mm", "Length of one winding along the former.")]
    outer_diameter_mm: Annotated[float, figure("mm", "Outer diameter of one winding.")]


class CoilFromWireDetails(Struct, frozen=True, kw_only=True):
    """The material, and the figures for a power or a temperature."""

    material: Annotated[str, text("Full name of the material, with its standard.")]
    surface_load_w_mm2: Annotated[
        float | UnsetType,
        figure("W/mm²", "Power per square millimetre of surface. Needs `coil_power_w`."),
    ] = UNSET
    hot_resistance_ratio: Annotated[
        float | UnsetType,
        figure("1", "Resistance at `wire_temperature_c` divided by that at 20 °C."),
    ] = UNSET
    hot_resistance_ohm: Annotated[
        float | UnsetType, figure("Ω", "Nominal resistance at `wire_temperature_c`.")
    ] = UNSET
    warm_up_time_s: Annotated[
        float | UnsetType,
        figure(
            "s", "Shortest time from 20 °C to `wire_temperature_c`, for a bare coil without losses."
        ),
    ] = UNSET


def _diameter_mm(asked: CoilFromWire) -> float:
    gauge, diameter_mm = asked.gauge, asked.wire_diameter_mm
    if gauge is UNSET:
        return cast(float, diameter_mm)
    return float(wire.gauge_diameter_mm(gauge=gauge))


def _pitch_mm(asked: CoilFromWire, diameter_mm: float) -> float:
    """Return the advance per turn: the width of the strands, and the gap."""
    width_mm = diameter_mm * asked.strands
    if asked.twist_rate > 0:
        width_mm = wire.bundle_diameter_mm(
            strand_diameter_mm=diameter_mm,
            strands=asked.strands,
            twists_per_metre=asked.twist_rate,
        )
    return float(width_mm + asked.spacing_mm)


def figures(asked: CoilFromWire) -> CoilFromWireFigures:
    """Calculate the figures of one coil, or of a whole table."""
    alloy, diameter_mm = ALLOYS[asked.alloy], _diameter_mm(asked)
    winding: dict[str, Any] = {
        "alloy": alloy,
        "strand_diameter_mm": diameter_mm,
        "strands": asked.strands,
        "twists_per_metre": asked.twist_rate,
        "former_diameter_mm": asked.former_diameter_mm,
        "pitch_mm": _pitch_mm(asked, diameter_mm),
        "legs_mm": asked.legs_length_mm,
        "coils": asked.coils,
    }

    def turns_for(wanted_ohm: float) -> float:
        turns = wire.turns_for_resistance(**winding, wanted_ohm=wanted_ohm)
        return wire.careful_turns(turns=float(turns), step=STEP_TURNS)

    turns = asked.turns
    if turns is UNSET:
        turns = turns_for(cast(float, asked.wanted_resistance_ohm))
    if turns > MOST_TURNS:
        raise NoSolution(
            "too_many_turns",
            "The wanted resistance needs more turns of this wire than percell calculates.",
            turns=turns,
            most_turns=float(MOST_TURNS),
        )
    made = wire.coil(**winding, turns=turns, diameter_tolerance=asked.diameter_tolerance)
    wanted_ohm = asked.wanted_resistance_ohm
    least_ohm = made.resistance.nominal_ohm if wanted_ohm is UNSET else wanted_ohm
    strand_m = float(made.strand_length_m)
    per_m = float(
        wire.resistance_per_metre(
            resistivity_ohmm=alloy.resistivity_ohmm, diameter_mm=diameter_mm, strands=asked.strands
        )
    )
    return CoilFromWireFigures(
        turns=turns,
        coil_resistance_ohm=float(made.resistance.nominal_ohm),
        coil_resistance_lowest_ohm=float(made.resistance.lowest_ohm),
        coil_resistance_highest_ohm=float(made.resistance.highest_ohm),
        # lowest over nominal resistance is the same for any length of wire
        turns_at_lowest=turns_for(
            float(least_ohm * made.resistance.nominal_ohm / made.resistance.lowest_ohm)
        ),
        resistance_ohm_m=per_m,
        resistance_lowest_ohm_m=float(
            per_m * made.resistance.lowest_ohm / made.resistance.nominal_ohm
        ),
        wire_diameter_mm=diameter_mm,
        strand_length_m=strand_m,
        wire_length_m=strand_m * asked.strands * asked.coils,
        surface_area_mm2=float(made.surface_mm2),
        wire_mass_kg=float(made.mass_kg),
        winding_length_mm=float(made.length_mm),
        outer_diameter_mm=float(made.outer_diameter_mm),
    )


def _working(asked: CoilFromWire, got: CoilFromWireFigures) -> list[WorkingStep]:
    return _winding_steps(asked, got) + _resistance_steps(asked, got)


def _winding_steps(asked: CoilFromWire, got: CoilFromWireFigures) -> list[WorkingStep]:
    """Show the working of the turns and the length of wire."""
    alloy = ALLOYS[asked.alloy]
    strands, coils = asked.strands, asked.coils
    pitch_mm = _pitch_mm(asked, got.wire_diameter_mm)
    steps = []
    if asked.gauge is not UNSET:
        steps.append(
            WorkingStep(
                "Diameter of the gauge",
                "d = 0.127 mm · 92^((36 − n)/39)",
                f"0.127 mm × 92^((36 − {asked.gauge:.0f})/39)",
                got.wire_diameter_mm,
                "mm",
            )
        )
    steps.append(
        WorkingStep(
            "Resistance of one metre of straight wire",
            "R/L = ρ / (n · π·d²/4)",
            f"{alloy.resistivity_ohmm:.4g} Ω·m / ({strands:.0f} × π × ({got.wire_diameter_mm:.4g} mm)² / 4)",
            got.resistance_ohm_m,
            "Ω/m",
        )
    )
    if asked.wanted_resistance_ohm is not UNSET:
        steps.append(
            WorkingStep(
                "Turns for the wanted resistance, rounded up to half a turn",
                "N = (L − L_legs) / √((π·(D + d))² + pitch²), L = c · R_wanted / (R/L)",
                f"{asked.wanted_resistance_ohm:.4g} Ω × {coils:.0f} on {got.resistance_ohm_m:.4g} Ω/m, "
                f"former {asked.former_diameter_mm:.4g} mm, pitch {pitch_mm:.4g} mm, "
                f"legs {asked.legs_length_mm:.4g} mm",
                got.turns,
                "1",
            )
        )
    steps.append(
        WorkingStep(
            "Length of one strand: helix and legs, longer if strands are twisted",
            "L = (N · √((π·(D + d))² + pitch²) + L_legs) · twist",
            f"{got.turns:.4g} turns on {asked.former_diameter_mm:.4g} mm, pitch {pitch_mm:.4g} mm, "
            f"legs {asked.legs_length_mm:.4g} mm",
            got.strand_length_m,
            "m",
        )
    )
    return steps


def _resistance_steps(asked: CoilFromWire, got: CoilFromWireFigures) -> list[WorkingStep]:
    """Show the working of the resistance, its bounds and the surface."""
    alloy = ALLOYS[asked.alloy]
    strands, coils = asked.strands, asked.coils
    return [
        WorkingStep(
            "Nominal resistance of all coils in parallel",
            "R = (R/L) · L / c",
            f"{got.resistance_ohm_m:.4g} Ω/m × {got.strand_length_m:.4g} m / {coils:.0f}",
            got.coil_resistance_ohm,
            "Ω",
        ),
        WorkingStep(
            "Lowest likely resistance",
            "R_min = R · (ρ_min / ρ) / (1 + t)²",
            f"{got.coil_resistance_ohm:.4g} Ω × ({alloy.lowest_ohmm:.4g} / {alloy.resistivity_ohmm:.4g}) / "
            f"(1 + {asked.diameter_tolerance:.4g})²",
            got.coil_resistance_lowest_ohm,
            "Ω",
        ),
        WorkingStep(
            "Highest likely resistance",
            "R_max = R · (ρ_max / ρ) / (1 − t)²",
            f"{got.coil_resistance_ohm:.4g} Ω × ({alloy.highest_ohmm:.4g} / {alloy.resistivity_ohmm:.4g}) / "
            f"(1 − {asked.diameter_tolerance:.4g})²",
            got.coil_resistance_highest_ohm,
            "Ω",
        ),
        WorkingStep(
            "Surface of all wire",
            "S = π · d · L · n · c",
            f"π × {got.wire_diameter_mm:.4g} mm × {got.strand_length_m * 1e3:.4g} mm × "
            f"{strands:.0f} × {coils:.0f}",
            got.surface_area_mm2,
            "mm²",
        ),
    ]


def _details(
    asked: CoilFromWire, got: CoilFromWireFigures
) -> tuple[CoilFromWireDetails, list[WorkingStep]]:
    alloy, power_w, hot_c = ALLOYS[asked.alloy], asked.coil_power_w, asked.wire_temperature_c
    name = f"{alloy.name} ({alloy.standard})" if alloy.standard else alloy.name
    hot, steps = CoilFromWireDetails(material=name), []
    if power_w is not UNSET:
        load = wire.surface_load_wmm2(power_w=power_w, surface_mm2=got.surface_area_mm2)
        hot = structs.replace(hot, surface_load_w_mm2=load)
        with_numbers = f"{power_w:.4g} W / {got.surface_area_mm2:.4g} mm²"
        steps.append(WorkingStep("Surface load", "q = P / S", with_numbers, load, "W/mm²"))
    if hot_c is not UNSET:
        ratio = float(wire.resistance_ratio(alloy=alloy, temperature_c=hot_c))
        hot_ohm = ratio * got.coil_resistance_ohm
        hot = structs.replace(hot, hot_resistance_ratio=ratio, hot_resistance_ohm=hot_ohm)
        with_numbers = f"{got.coil_resistance_ohm:.4g} Ω × {ratio:.4g}"
        what = f"Nominal resistance at {hot_c:.4g} °C"
        steps.append(WorkingStep(what, "R_hot = R · ratio", with_numbers, hot_ohm, "Ω"))
    if power_w is not UNSET and hot_c is not UNSET and hot_c > REFERENCE_C:
        rise_k = hot_c - REFERENCE_C
        warm_s = wire.warm_up_s(
            mass_kg=got.wire_mass_kg,
            specific_heat_j_kgk=alloy.specific_heat_j_kgk,
            rise_k=rise_k,
            power_w=power_w,
        )
        hot = structs.replace(hot, warm_up_time_s=warm_s)
        with_numbers = (
            f"{got.wire_mass_kg * 1e3:.4g} g × {alloy.specific_heat_j_kgk:.4g} J/(kg·K) × {rise_k:.4g} K / "
            f"{power_w:.4g} W"
        )
        steps.append(
            WorkingStep(
                "Shortest time to warm up, without losses",
                "t = m·c·ΔT / P",
                with_numbers,
                warm_s,
                "s",
            )
        )
    return hot, steps


def _findings(
    asked: CoilFromWire, got: CoilFromWireFigures, hot: CoilFromWireDetails
) -> list[Finding]:
    alloy = ALLOYS[asked.alloy]
    found = [
        finding(
            rules.COIL_CALCULATED,
            "Measure the coil before you use it. This wire makes a coil of "
            f"{at_least(got.coil_resistance_lowest_ohm)} to {shown(got.coil_resistance_highest_ohm)} Ω at 20 °C. "
            "Compare the lower figure with the lowest coil resistance for your pack in /tables/lowest-resistance/.",
        )
    ]
    if UNCONFIRMED in alloy.resistivity_source + alloy.spread_source:
        found.append(
            finding(
                rules.WIRE_UNCONFIRMED,
                f"Use the result for {alloy.name} only as a rough guess. Source of its resistivity: "
                f"{alloy.resistivity_source}. Source of its range: {alloy.spread_source}.",
            )
        )
    if hot.warm_up_time_s is not UNSET:
        found.append(
            finding(
                rules.WARM_UP_BARE,
                f"A bare coil needs at least {hot.warm_up_time_s:.2g} s to warm up. A wet or touched coil needs longer.",
            )
        )
    return found


def assumed(asked: CoilFromWire) -> list[Assumption]:
    """Return the defaults in use, and the values of the material with their sources."""
    alloy = ALLOYS[asked.alloy]
    values = [
        ("resistivity", alloy.resistivity_ohmm, "Ω·m", alloy.resistivity_source),
        ("lowest_resistivity", alloy.lowest_ohmm, "Ω·m", alloy.spread_source),
        ("highest_resistivity", alloy.highest_ohmm, "Ω·m", alloy.spread_source),
    ]
    if asked.wire_temperature_c is not UNSET:
        values.append(
            ("highest_known_temperature", alloy.temperatures_c[-1], "°C", alloy.temperature_source)
        )
        if asked.coil_power_w is not UNSET:
            values += [
                ("density", alloy.density_kgm3, "kg/m³", alloy.density_source),
                (
                    "specific_heat",
                    alloy.specific_heat_j_kgk,
                    "J/(kg·K)",
                    alloy.specific_heat_source,
                ),
            ]
    return assumptions(asked) + [
        Assumption(f"alloy.{name}", value, unit, source) for name, value, unit, source in values
    ]


def explain(asked: CoilFromWire) -> Explained[CoilFromWireFigures]:
    """Answer for one coil."""
    got = figures(asked)
    details, steps = _details(asked, got)
    return Explained(
        figures=got,
        also=details,
        working=_working(asked, got) + steps,
        findings=_findings(asked, got, details),
    )


QUESTION = Question(
    id="coil-from-wire",
    subject=Subject.COIL,
    title="Resistance of a coil from its wire",
    description="Nominal, lowest and highest likely resistance of a coil of round wire, or the number of turns "
    "for a wanted resistance.",
    asked=CoilFromWire,
    shows=CoilFromWireFigures,
    also=CoilFromWireDetails,
    explain=explain,
    assumed=assumed,
    figures=figures,
    table=OverTable.CELL_BY_CELL,
    headline=Headline(
        field="coil_resistance_lowest_ohm",
        says="At 20 °C the coil has about",
        unit="Ω or more",
        decimals=3,
        round=Rounding.DOWN,
    ),
    # a coil from the practice box of the Lantern Street Bench, invented
    example={
        "alloy": "fecral_al_5_6",
        "gauge": 26,
        "former_diameter_mm": 3,
        "wanted_resistance_ohm": 0.5,
        "legs_length_mm": 10,
        "coil_power_w": 30,
    },
)
