"""How warm does a cell get: by one draw, by draw after draw, and without a pause?"""

from enum import StrEnum
from functools import reduce
from typing import Annotated, Any, ClassVar, NamedTuple

import numpy as np
from msgspec import UNSET, Struct, UnsetType, structs

from percell.physics import heat, measured_cells
from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE
from percell.physics.sizes import SIZES
from percell.physics.types import Number, as_given
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.cold_findings import below, cold_findings
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.figures import plain
from percell.questions.answering.headline import Headline, Rounding, condition_of
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import cell_against_rating
from percell.questions.cell import rules
from percell.questions.cell.label_doubt import doubting
from percell.questions.cell.warmth import (
    AMBIENT_C,
    FAILS_C,
    STOP_C,
    AmbientTemperatureC,
    StopTemperatureC,
    specific_heat,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import (
    USUAL_TEMPERATURE_C,
    OwnResistance,
    at_usual_temperature,
    how_assumed,
)
from percell.questions.vocabulary.chemistry import Chemistry, ChemistryField
from percell.questions.vocabulary.fields import choice, figure, quantity, whole
from percell.questions.vocabulary.limits import Held, Limit, judged, missing
from percell.questions.vocabulary.presence import AnyOf, Presence
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sizes import CellSizeField
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, given, shown

# a current of 0 makes no heat, in however many draws
_LEAST_CURRENT_A = 1e-9


class Surroundings(StrEnum):
    """What is around the cell."""

    ROOM = "room"
    POCKET = "pocket"


SurroundingsField = Annotated[
    Surroundings,
    choice(
        (
            "What is around the cell. `room`: still air on all sides, 10 W/(m²·K). `pocket`: a closed tube or "
            "a pocket, 2 W/(m²·K)."
        ),
        default="`pocket`, the worst case",
    ),
]
_SURROUNDINGS_FROM = "assumed in a closed tube, the worst case"


class TemperatureRise(OwnResistance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A cell by its size, or by its own mass and area, that carries a current draw after draw."""

    # that of usual cells of a high rating: a smaller one has more resistance, and heat is the worst case here
    usual_capacity_ah: ClassVar[float] = 2.5
    presence: ClassVar[tuple[Presence, ...]] = (
        AnyOf(
            (("cell_size",), ("cell_mass_kg", "cell_area_m2")),
            "Give cell_size, or both cell_mass_kg and cell_area_m2.",
        ),
    )

    cell_current_a: fields.CellCurrentA
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    cell_health: fields.StateOfHealth = 1.0
    cell_size: CellSizeField | UnsetType = UNSET
    cell_mass_kg: (
        Annotated[float, quantity("kg", 0.001, 5, "Mass of the cell.", default="that of the size")]
        | UnsetType
    ) = UNSET
    cell_area_m2: (
        Annotated[
            float,
            quantity(
                "m²",
                0.0001,
                1,
                "Area of the cell that gives off heat.",
                default="the side of a cylinder of its size, without the ends",
            ),
        ]
        | UnsetType
    ) = UNSET
    specific_heat_j_kgk: (
        Annotated[
            float,
            quantity(
                "J/(kg·K)", 300, 3000, "Specific heat of the cell.", default="that of the chemistry"
            ),
        ]
        | UnsetType
    ) = UNSET
    heat_transfer_w_m2k: (
        Annotated[
            float,
            quantity(
                "W/(m²·K)",
                0.5,
                500,
                "Heat transfer from the cell to the air.",
                default="that of the surroundings",
            ),
        ]
        | UnsetType
    ) = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    cell_resistance_tolerance_ohm: fields.CellResistanceToleranceOhm = 0.0
    draw_length_s: fields.DrawLengthS = fields.DRAW_LENGTH_S
    pause_s: fields.PauseS = fields.PAUSE_S
    draws: (
        Annotated[
            float, whole(1, 100_000, "Number of draws.", default="as many as the charge allows")
        ]
        | UnsetType
    ) = UNSET
    ambient_temperature_c: AmbientTemperatureC = AMBIENT_C
    surroundings: SurroundingsField | UnsetType = UNSET
    stop_temperature_c: StopTemperatureC = STOP_C


class TemperatureRiseFigures(Struct, frozen=True, gc=False):
    """Estimated temperatures of the cell."""

    cell_loss_w: Annotated[
        float,
        figure(
            "W",
            "Heat made in the cell during a draw, as under a load of minutes, at its temperature at the start.",
        ),
    ]
    heat_capacity_j_k: Annotated[
        float, figure("J/K", "Heat capacity of the cell: heat that warms it by one kelvin.")
    ]
    conductance_w_k: Annotated[
        float, figure("W/K", "Thermal conductance from the cell to the air.")
    ]
    thermal_time_s: Annotated[
        float,
        figure(
            "s",
            "Time constant: time in which the cell covers 63 % of the way to a steady temperature.",
        ),
    ]
    single_draw_temperature_c: Annotated[
        float, figure("°C", "Temperature after one draw that began at the temperature of the air.")
    ]
    settled_peak_temperature_c: Annotated[
        float, figure("°C", "Temperature at the end of each draw, after endless draws.")
    ]
    settled_trough_temperature_c: Annotated[
        float, figure("°C", "Temperature at the end of each pause, after endless draws.")
    ]
    peak_temperature_c: Annotated[
        float,
        figure(
            "°C",
            (
                "Highest temperature: after the given number of draws, after those that the charge allows, or "
                "after endless draws if neither is known."
            ),
        ),
    ]
    continuous_temperature_c: Annotated[
        float, figure("°C", "Steady temperature without any pause.")
    ]
    continuous_current_a: Annotated[
        float, figure("A", "Current that reaches the stop temperature without any pause.")
    ]


class TemperatureRiseDetails(Struct, frozen=True, kw_only=True):
    """Draws until the cell is empty, and times until the stop temperature, if they exist."""

    draws_until_empty: Annotated[
        float | UnsetType,
        figure(
            "1",
            "Number of draws that the charge allows, with a part for the last. Needs `cell_capacity_ah`.",
        ),
    ] = UNSET
    time_to_stop_s: Annotated[
        float | UnsetType,
        figure(
            "s",
            "Time without a pause until the stop temperature. Left out if the cell never reaches it.",
        ),
    ] = UNSET
    pause_needed_s: Annotated[
        float | UnsetType,
        figure(
            "s",
            (
                "Pause with which endless draws stay at or below the stop temperature. Left out if one draw "
                "exceeds it."
            ),
        ),
    ] = UNSET


class _Lump(NamedTuple):
    """The cell as a lump."""

    mass_kg: Number
    area_m2: Number
    specific_heat_j_kgk: Number
    heat_transfer_w_m2k: Number


def _look_up(words: Any, value_of: Any) -> Any:
    """Look up a word, or each of an array of words."""
    if isinstance(words, np.ndarray):
        return np.reshape([value_of(word) for word in words.ravel()], words.shape)
    return value_of(words)


def _area_m2(size: str) -> float:
    cell = SIZES[size]
    return float(heat.lateral_area_m2(diameter_mm=cell.diameter_mm, height_mm=cell.height_mm))


def _lump(asked: TemperatureRise) -> _Lump:
    mass_kg, area_m2, size = asked.cell_mass_kg, asked.cell_area_m2, asked.cell_size
    return _Lump(
        _look_up(size, lambda s: SIZES[s].mass_kg) if mass_kg is UNSET else mass_kg,
        _look_up(size, _area_m2) if area_m2 is UNSET else area_m2,
        _look_up(asked.chemistry, lambda c: specific_heat(c).value)
        if asked.specific_heat_j_kgk is UNSET
        else asked.specific_heat_j_kgk,
        _look_up(_surroundings(asked), lambda s: heat.HEAT_TRANSFER_WM2K[s].value)
        if asked.heat_transfer_w_m2k is UNSET
        else asked.heat_transfer_w_m2k,
    )


def _surroundings(asked: TemperatureRise) -> Any:
    return Surroundings.POCKET if asked.surroundings is UNSET else asked.surroundings


def _until_empty(asked: TemperatureRise) -> Any:
    """Return the draws that the charge allows, the last one in part, if the charge is known."""
    if asked.cell_capacity_ah is UNSET:
        return UNSET
    return heat.draws_until_empty(
        capacity_ah=asked.cell_capacity_ah * asked.cell_health,
        current_a=np.maximum(asked.cell_current_a, _LEAST_CURRENT_A),
        draw_s=asked.draw_length_s,
    )


def _draws(asked: TemperatureRise) -> Any:
    """Return the number of draws, if it is known: those asked for, or fewer if the charge ends them."""
    allowed = _until_empty(asked)
    if asked.draws is UNSET or allowed is UNSET:
        return allowed if asked.draws is UNSET else asked.draws
    return np.minimum(asked.draws, allowed)


def _highest_ohm(asked: TemperatureRise, air_c: Number) -> Number:
    """Return the resistance after 10 s of a cell as cold or warm as the air, at the high end of its tolerance."""
    tolerance_ohm = measured_cells.ten_second_resistance_ohm(
        resistance_ohm=asked.cell_resistance_tolerance_ohm, after_s=asked.cell_resistance_after_s
    )
    ratio = measured_cells.temperature_ratio(temperature_c=air_c)
    return (at_usual_temperature(asked) + tolerance_ohm) * ratio


_TEMPERATURES = (
    "single_draw_temperature_c",
    "settled_peak_temperature_c",
    "settled_trough_temperature_c",
    "peak_temperature_c",
    "continuous_temperature_c",
)


class _Case(NamedTuple):
    """The figures of a question in air of a temperature."""

    air_c: Any
    figures: TemperatureRiseFigures


def _cases(asked: TemperatureRise) -> list[_Case]:
    """Return the figures in the air as it is, and from the cold in warmer air, where they are upper bounds.

    A cell makes the less heat, the warmer it is. So one that starts colder, in colder air, never overtakes one that
    starts warmer. Between two temperatures of the measured table no bound is lower than at one of them.
    """
    air_c = asked.ambient_temperature_c
    usual_c = [at_c for at_c in measured_cells.WARMTH_C if at_c <= USUAL_TEMPERATURE_C]
    warmer_c = [at_c for at_c in usual_c if np.any(at_c > air_c)]
    airs_c = [air_c, *(as_given(np.maximum(air_c, at_c), air_c) for at_c in warmer_c)]
    return [_Case(one_c, _in_air(asked, one_c)) for one_c in airs_c]


def figures(asked: TemperatureRise) -> TemperatureRiseFigures:
    """Calculate the figures of one question, or of a whole table."""
    return _lowest(_cases(asked))


def _lowest(cases: list[_Case]) -> TemperatureRiseFigures:
    """Return the figures in the air as it is, but of each temperature the lowest upper bound."""
    every = [case.figures for case in cases]
    bounds: dict[str, Any] = {
        name: reduce(np.minimum, (getattr(one, name) for one in every)) for name in _TEMPERATURES
    }
    bounds["continuous_current_a"] = reduce(np.maximum, (one.continuous_current_a for one in every))
    return structs.replace(every[0], **bounds)


def _in_air(asked: TemperatureRise, air_c: Number) -> TemperatureRiseFigures:
    """Calculate the figures in air of a temperature, with the resistance that the cell has there."""
    lump = _lump(asked)
    highest_ohm = _highest_ohm(asked, air_c)
    loss_w = measured_cells.lasting_heat_w(
        current_a=asked.cell_current_a, resistance_ohm=highest_ohm
    )
    body = {
        "heat_capacity_jk": lump.mass_kg * lump.specific_heat_j_kgk,
        "conductance_wk": lump.heat_transfer_w_m2k * lump.area_m2,
    }
    pattern = {"draw_s": asked.draw_length_s, "rest_s": asked.pause_s}
    settled = heat.settled_cycle(ambient_c=air_c, loss_w=loss_w, **pattern, **body)
    draws = _draws(asked)
    return TemperatureRiseFigures(
        cell_loss_w=loss_w,
        heat_capacity_j_k=body["heat_capacity_jk"],
        conductance_w_k=body["conductance_wk"],
        thermal_time_s=heat.thermal_time_s(**body),
        single_draw_temperature_c=heat.temperature_after_c(
            start_c=air_c,
            ambient_c=air_c,
            loss_w=loss_w,
            time_s=asked.draw_length_s,
            **body,
        ),
        settled_peak_temperature_c=settled.peak_c,
        settled_trough_temperature_c=settled.trough_c,
        peak_temperature_c=settled.peak_c
        if draws is UNSET
        else heat.peak_after_draws_c(
            start_c=air_c,
            ambient_c=air_c,
            loss_w=loss_w,
            draws=np.maximum(draws, 1.0),
            # a charge that is too small for one draw ends it
            draw_s=asked.draw_length_s * np.minimum(draws, 1.0),
            rest_s=asked.pause_s,
            **body,
        ),
        continuous_temperature_c=heat.steady_temperature_c(
            ambient_c=air_c, loss_w=loss_w, conductance_wk=body["conductance_wk"]
        ),
        continuous_current_a=heat.continuous_current_a(
            ambient_c=air_c,
            stop_c=asked.stop_temperature_c,
            # a resistance of 0 would allow any current; no cell has less than a tenth of a milliohm
            resistance_ohm=np.maximum(highest_ohm, 1e-4),
            conductance_wk=body["conductance_wk"],
        ),
    )


def _details(asked: TemperatureRise, cases: list[_Case]) -> TemperatureRiseDetails:
    """Return the draws until the cell is empty, the time until the stop, and the pause needed, if they exist."""
    until_s = max(_time_to_stop_s(asked, case) for case in cases)
    pause_s = min(_pause_needed_s(asked, case) for case in cases)
    allowed = _until_empty(asked)
    return TemperatureRiseDetails(
        draws_until_empty=UNSET if allowed is UNSET else float(allowed),
        time_to_stop_s=until_s if until_s < np.inf else UNSET,
        pause_needed_s=pause_s if pause_s < np.inf else UNSET,
    )


def _to_the_stop(asked: TemperatureRise, case: _Case) -> dict[str, float]:
    return {
        "ambient_c": case.air_c,
        "loss_w": case.figures.cell_loss_w,
        "stop_c": asked.stop_temperature_c,
        "heat_capacity_jk": case.figures.heat_capacity_j_k,
        "conductance_wk": case.figures.conductance_w_k,
    }


def _time_to_stop_s(asked: TemperatureRise, case: _Case) -> float:
    """Return the time without a pause until the stop; endless where it is never met."""
    try:
        return heat.time_to_temperature_s(start_c=case.air_c, **_to_the_stop(asked, case))
    except NoSolution:
        return np.inf


def _pause_needed_s(asked: TemperatureRise, case: _Case) -> float:
    """Return the pause that keeps draws without end at the stop; endless where none does."""
    try:
        return heat.rest_needed_s(draw_s=asked.draw_length_s, **_to_the_stop(asked, case))
    except NoSolution:
        return np.inf


def explain(asked: TemperatureRise) -> Explained[TemperatureRiseFigures]:
    """Answer for one cell and pattern of draws."""
    cases = [_Case(case.air_c, plain(case.figures)) for case in _cases(asked)]
    got = plain(_lowest(cases))
    limit = _stop_temperature(asked, got)
    rated = _against_rating(asked)
    return Explained(
        figures=got,
        also=_details(asked, cases),
        working=_working(asked, got, cases),
        limits=[limit, *rated.limits],
        findings=rated.findings + _findings(asked, got, limit, _unbroken_c(asked, cases)),
        condition=_condition(asked),
        leads=_leads(asked, got, limit, _unbroken_c(asked, cases)),
        links=QUESTION.links(structs.replace(asked, surroundings=_surroundings(asked))),
    )


def _condition(asked: TemperatureRise) -> str:
    """Return what was asked, with the number of the draws beside their length."""
    if asked.draws is UNSET or asked.draw_length_s == fields.DRAW_LENGTH_S:
        return condition_of(asked)
    number = "a single draw" if asked.draws == 1 else f"{given(asked.draws)} draws"
    return condition_of(
        asked, draws=f"{number} of {given(asked.draw_length_s)} s", draw_length_s=""
    )


def _against_rating(asked: TemperatureRise) -> Held:
    """Compare the current with the rating: a short draw that stays cool may still be above it."""
    if asked.cell_rating_a is UNSET:
        return Held([missing(LimitName.CONTINUOUS_RATING, "cell_rating_a")], [])
    return cell_against_rating(worst_cell_a=asked.cell_current_a, rating_a=asked.cell_rating_a)


def without_run(air_c: float, stop_c: float, unknown: Limit) -> Held:
    """Hold the air alone against the stop, where no more is known: a cell under load is warmer than its air."""
    if below(air_c, stop_c):
        return Held([unknown], [])
    limit = Limit(
        name=LimitName.STOP_TEMPERATURE,
        verdict=Verdict.OVER,
        unit="°C",
        value=stop_c,
        figure=air_c,
    )
    said = (
        f"The air alone is at {given(air_c)} °C, and the stop temperature is {given(stop_c)} °C. A load makes the "
        "cell hotter than the air."
    )
    return Held([limit], [finding(rules.STOP_TEMPERATURE, said)])


def _stop_temperature(asked: TemperatureRise, got: TemperatureRiseFigures) -> Limit:
    """Hold the temperature against the stop, in the worst case of what was not given."""
    return judged(
        LimitName.STOP_TEMPERATURE,
        got.peak_temperature_c,
        asked.stop_temperature_c,
        "°C",
        origin=asked.ambient_temperature_c,
    )


def _leads(
    asked: TemperatureRise, got: TemperatureRiseFigures, limit: Limit, unbroken_c: float
) -> str:
    at = _about(got.peak_temperature_c, asked.stop_temperature_c)
    if _draws(asked) is UNSET:
        return f"after endless draws the cell settles at about {at} °C"
    said = f"after {_pattern(asked)} the cell is at about {at} °C"
    kept = limit.verdict in (Verdict.WITHIN, Verdict.LITTLE)
    if kept and unbroken_c > asked.stop_temperature_c * (1 + NOISE):
        said += f" (without a pause it gets hotter than {given(asked.stop_temperature_c)} °C)"
    return said


def _pattern(asked: TemperatureRise) -> str:
    draws, allowed = _draws(asked), _until_empty(asked)
    each = f"of {given(asked.draw_length_s)} s with pauses of {given(asked.pause_s)} s"
    if draws is UNSET:
        return f"endless draws {each}"
    if draws != allowed:
        return (
            f"one draw of {given(asked.draw_length_s)} s"
            if draws == 1
            else f"{draws:.0f} draws {each}"
        )
    if draws < 1:
        return f"one draw of {shown(float(draws) * asked.draw_length_s)} s, which empties the cell,"
    return f"all draws that the charge allows ({shown(float(draws))} {each})"


def _deciding(cases: list[_Case], name: str) -> _Case:
    """Return the case that has the lowest bound of a temperature."""
    return min(cases, key=lambda case: getattr(case.figures, name))


def _heat_step(asked: TemperatureRise, case: _Case) -> WorkingStep:
    amperes, ohm = f"{asked.cell_current_a:.4g} A", f"{_highest_ohm(asked, case.air_c):.4g} Ω"
    return WorkingStep(
        f"Heat made in a cell in air of {given(case.air_c)} °C, with its highest resistance after 10 s",
        "P = I · (I · R + min(I · R, U_h))",
        f"{amperes} × ({amperes} × {ohm} + min({amperes} × {ohm}, {measured_cells.SLOW_HEAT_V:g} V))",
        case.figures.cell_loss_w,
        "W",
    )


def _working(
    asked: TemperatureRise, got: TemperatureRiseFigures, cases: list[_Case]
) -> list[WorkingStep]:
    lump = _lump(asked)
    draws = _draws(asked)
    one, peak, end = (
        _deciding(cases, name)
        for name in (
            "single_draw_temperature_c",
            "peak_temperature_c",
            "continuous_temperature_c",
        )
    )
    heats = {_heat_step(asked, case): None for case in (cases[0], one, peak, end)}
    one_k = peak.figures.single_draw_temperature_c - peak.air_c
    return [
        *heats,
        WorkingStep(
            "Heat capacity of the cell",
            "C = m · c",
            f"{lump.mass_kg:.4g} kg × {lump.specific_heat_j_kgk:.4g} J/(kg·K)",
            got.heat_capacity_j_k,
            "J/K",
        ),
        WorkingStep(
            "Conductance to the air",
            "G = h · A",
            f"{lump.heat_transfer_w_m2k:.4g} W/(m²·K) × {lump.area_m2:.4g} m²",
            got.conductance_w_k,
            "W/K",
        ),
        WorkingStep(
            "Temperature after one draw",
            "T = T_air + (P/G) · (1 − e^(−t·G/C))",
            f"{_put_in(one)} × (1 − e^(−{asked.draw_length_s:.4g} s / {got.thermal_time_s:.4g} s))",
            got.single_draw_temperature_c,
            "°C",
        ),
        WorkingStep(
            f"Peak of {_pattern(asked)}",
            "T = T_air + ΔT_1 · (1 − qⁿ)/(1 − q), q = e^(−(t + t_pause)·G/C)"
            if draws is not UNSET
            else "T = T_air + ΔT_1 / (1 − q), q = e^(−(t + t_pause)·G/C)",
            f"{peak.air_c:.4g} °C + {one_k:.4g} K, "
            f"q = e^(−{asked.draw_length_s + asked.pause_s:.4g} s / {got.thermal_time_s:.4g} s)"
            + ("" if draws is UNSET else f", n = {draws:.4g}"),
            got.peak_temperature_c,
            "°C",
        ),
        WorkingStep(
            "Steady temperature without a pause",
            "T = T_air + P/G",
            _put_in(end),
            got.continuous_temperature_c,
            "°C",
        ),
    ]


def _put_in(case: _Case) -> str:
    """Return air and steady rise with the numbers of a case."""
    got = case.figures
    return f"{case.air_c:.4g} °C + {got.cell_loss_w:.4g} W / {got.conductance_w_k:.4g} W/K"


def _findings(
    asked: TemperatureRise, got: TemperatureRiseFigures, limit: Limit, unbroken_c: float
) -> list[Finding]:
    lump = _lump(asked)
    found = _too_hot(asked, got, limit, unbroken_c)
    if asked.stop_temperature_c > STOP_C:
        found.append(
            finding(
                rules.STOP_ABOVE_USUAL,
                (
                    f"The stop temperature of {given(asked.stop_temperature_c)} °C is above {STOP_C:g} °C, the usual "
                    "highest temperature for discharge."
                ),
            )
        )
    found += cold_findings(asked.ambient_temperature_c)
    if asked.cell_resistance_ohm is UNSET:
        found.append(
            finding(
                shared_rules.RESISTANCE_ASSUMED,
                (
                    "The heat was calculated with an assumed cell resistance of "
                    f"{_highest_ohm(asked, asked.ambient_temperature_c):.3g} Ω, high for such a cell. Measure it and "
                    "give your own."
                ),
            )
        )
    found.append(
        finding(
            rules.TEMPERATURE_ESTIMATE,
            (
                f"The estimate treats the cell as one lump of {lump.mass_kg * 1000:.3g} g in air of "
                f"{given(asked.ambient_temperature_c)} °C, with a resistance of "
                f"{_highest_ohm(asked, asked.ambient_temperature_c):.3g} Ω. Heat from its contacts is left out. The "
                "heat is that of a load of minutes, also in short draws. No measured cell made more heat."
            ),
        )
    )
    return found


def _too_hot(
    asked: TemperatureRise, got: TemperatureRiseFigures, limit: Limit, unbroken_c: float
) -> list[Finding]:
    """Return the findings about the stop temperature, and temperatures at which a cell fails."""
    peak_c, pattern = got.peak_temperature_c, _pattern(asked)
    if limit.verdict is Verdict.OVER:
        return _over_stop(asked, peak_c, pattern)
    return _too_hot_with_more(asked, got, limit, unbroken_c)


def _over_stop(asked: TemperatureRise, peak_c: float, pattern: str) -> list[Finding]:
    stop_c = asked.stop_temperature_c
    found = []
    one = pattern.startswith("one draw")
    if peak_c > FAILS_C:
        found.append(
            finding(
                rules.BEYOND_ESTIMATE,
                (
                    f"By this estimate, which leaves out the cell's own reactions, {pattern} "
                    f"{'brings' if one else 'bring'} the cell to {_up(peak_c)} °C. Above about {FAILS_C:g} °C a cell "
                    "may vent, burn or burst."
                ),
            )
        )
    found.append(
        finding(
            rules.STOP_TEMPERATURE,
            f"{pattern[0].upper()}{pattern[1:]} {'brings' if one else 'bring'} the cell above {given(stop_c)} °C, by this estimate "
            f"to {_up(peak_c)} °C.{_in_still_air(asked)}",
        )
    )
    return found


def _in_still_air(asked: TemperatureRise) -> str:
    """Return what the peak would be if a closed tube was only assumed."""
    if asked.surroundings is not UNSET or asked.heat_transfer_w_m2k is not UNSET:
        return ""
    peak_c = float(
        figures(structs.replace(asked, surroundings=Surroundings.ROOM)).peak_temperature_c
    )
    return f" That is in a closed tube, which was assumed. In still air on all sides it would be about {_about(peak_c, asked.stop_temperature_c)} °C."


def _too_hot_with_more(
    asked: TemperatureRise, got: TemperatureRiseFigures, limit: Limit, unbroken_c: float
) -> list[Finding]:
    """Return the findings about draws that only just stay cool, by their number or with their pauses."""
    stop_c, peak_c = asked.stop_temperature_c, got.peak_temperature_c
    so_far = f"The draws peak at {_about(peak_c, stop_c)} °C"
    found = []
    if limit.verdict is Verdict.LITTLE:
        found.append(finding(rules.NEAR_STOP, f"{so_far}, close to {given(stop_c)} °C."))
    if unbroken_c > stop_c * (1 + NOISE):
        found.append(
            finding(
                rules.CONTINUOUS_TOO_HOT,
                f"{so_far}. Without a pause the cell gets hotter than {given(stop_c)} °C{_fails(unbroken_c)}.",
            )
        )
    return found


def _unbroken_c(asked: TemperatureRise, cases: list[_Case]) -> float:
    """Return where a current without a pause ends: where it is steady, or where the cell is empty."""
    allowed = _until_empty(asked)
    if allowed is UNSET:
        return min(case.figures.continuous_temperature_c for case in cases)
    ends_c: list[float] = [
        heat.temperature_after_c(
            start_c=case.air_c,
            ambient_c=case.air_c,
            loss_w=case.figures.cell_loss_w,
            time_s=float(allowed) * asked.draw_length_s,
            heat_capacity_jk=case.figures.heat_capacity_j_k,
            conductance_wk=case.figures.conductance_w_k,
        )
        for case in cases
    ]
    return min(ends_c)


def _fails(temperature_c: float) -> str:
    return f", and above about {FAILS_C:g} °C it would fail" if temperature_c > FAILS_C else ""


def _up(temperature_c: float) -> str:
    """Return a temperature in whole degrees, rounded up."""
    return f"{np.ceil(temperature_c - NOISE) + 0.0:.0f}"  # no minus before a zero


def _about(temperature_c: float, stop_c: float) -> str:
    """Return the same, with more digits if rounding up would carry it to the stop."""
    up = _up(temperature_c)
    return beside(temperature_c, stop_c) if temperature_c < stop_c <= float(up) else up


def stand_ins(asked: TemperatureRise) -> list[Assumption]:
    """Return the assumed properties of the cell, with their origin."""
    found = []
    lump = _lump(asked)
    if asked.cell_size is not UNSET:
        size = SIZES[asked.cell_size]
        if asked.cell_mass_kg is UNSET:
            found.append(Assumption("cell_mass_kg", size.mass_kg, "kg", size.mass_source))
        if asked.cell_area_m2 is UNSET:
            origin = (
                f"side of a cylinder of {size.diameter_mm:g} × {size.height_mm:g} mm, by the trade's "
                "digits; the ends sit on contacts"
            )
            found.append(Assumption("cell_area_m2", float(lump.area_m2), "m²", origin))
    if asked.specific_heat_j_kgk is UNSET:
        taken = specific_heat(asked.chemistry)
        found.append(Assumption("specific_heat_j_kgk", taken.value, "J/(kg·K)", taken.source))
    if asked.heat_transfer_w_m2k is UNSET:
        surroundings = _surroundings(asked)
        if asked.surroundings is UNSET:
            found.append(Assumption("surroundings", surroundings.value, "", _SURROUNDINGS_FROM))
        taken = heat.HEAT_TRANSFER_WM2K[surroundings]
        found.append(Assumption("heat_transfer_w_m2k", taken.value, "W/(m²·K)", taken.source))
    return found


def resistance_in_heat(asked: TemperatureRise) -> Assumption:
    """Return the resistance that nobody gave, for an answer whose currents count another one."""
    ohm = float(at_usual_temperature(asked))
    return Assumption("cell_resistance_ohm.heat", ohm, "Ω", how_assumed(asked))


def assumed(asked: TemperatureRise) -> list[Assumption]:
    """Return the defaults in use, and the assumed properties of the cell."""
    return assumptions(asked) + stand_ins(asked)


QUESTION = Question(
    id="temperature-rise",
    subject=Subject.TIME_AND_HEAT,
    title="Temperature of a cell under its current",
    description=(
        "Estimate of how warm a cell gets after one draw, after the draws that its charge allows, and "
        "without a pause. The verdict is on those draws, or on a given number."
    ),
    asked=TemperatureRise,
    shows=TemperatureRiseFigures,
    also=TemperatureRiseDetails,
    limits=(LimitName.STOP_TEMPERATURE, LimitName.CONTINUOUS_RATING),
    # a short draw stays cool at any current
    decisive=LimitName.CONTINUOUS_RATING,
    explain=doubting(explain),
    figures=figures,
    assumed=assumed,
    table=OverTable.ARRAYS,
    no_effect=frozenset({"stop_temperature_c", "draws"}),
    headline=Headline(
        field="peak_temperature_c",
        says="At its hottest the cell is at about",
        unit="°C",
        decimals=0,
        round=Rounding.UP,
    ),
    example={
        "cell_size": "18650",
        "cell_current_a": 15,
        "cell_capacity_ah": 2.5,
        "cell_resistance_ohm": 0.025,
        "draw_length_s": 4,
        "pause_s": 45,
        "surroundings": "pocket",
    },
)
