"""How warm does a cell get: by one draw, by draw after draw, and without a pause?"""

from contextlib import suppress
from enum import StrEnum
from typing import Annotated, Any, NamedTuple

import numpy as np
from msgspec import UNSET, Struct, UnsetType

from percell.physics import heat
from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE
from percell.physics.sizes import SIZES
from percell.physics.types import Number
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.figures import plain
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.cell import rules
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import Chemistry, ChemistryField
from percell.questions.vocabulary.fields import choice, figure, quantity, whole
from percell.questions.vocabulary.limits import Limit, judged
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sizes import CellSizeField
from percell.questions.vocabulary.wording import given


class Surroundings(StrEnum):
    """What is around the cell."""

    ROOM = "room"
    POCKET = "pocket"


SurroundingsField = Annotated[
    Surroundings,
    choice(
        "room: still air on all sides; pocket: a closed tube or a pocket, which lets little heat out.",
        default_from="cells work in a closed tube; the harder case",
    ),
]
AmbientTemperatureC = Annotated[
    float, quantity("°C", -20, 60, "Temperature of the air, and of the cell at the start.")
]
StopTemperatureC = Annotated[
    float,
    quantity(
        "°C",
        20,
        100,
        "Temperature at which to stop, at the skin of the cell.",
        default_from="upper end of the usual discharge range, from memory, unconfirmed; treat it as a "
        "stop, not a target",
    ),
]

# above this a cell makes heat of its own, see the rule
FAILS_C = 90.0

# defaults that the assessment has too
AMBIENT_C = 25.0
STOP_C = 60.0


class TemperatureRise(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A cell by its size, or by its own mass and area, that carries a current draw after draw."""

    cell_current_a: fields.CellCurrentA
    cell_size: CellSizeField | UnsetType = UNSET
    cell_mass_kg: (
        Annotated[float, quantity("kg", 0.001, 5, "Mass of the cell; by its size unless given.")]
        | UnsetType
    ) = UNSET
    cell_area_m2: (
        Annotated[
            float,
            quantity(
                "m²", 0.0001, 1, "Area that gives heat off; the side of its size unless given."
            ),
        ]
        | UnsetType
    ) = UNSET
    specific_heat_j_kgk: (
        Annotated[
            float,
            quantity(
                "J/(kg·K)", 300, 3000, "Specific heat of the cell; by chemistry unless given."
            ),
        ]
        | UnsetType
    ) = UNSET
    heat_transfer_w_m2k: (
        Annotated[
            float,
            quantity(
                "W/(m²·K)", 0.5, 500, "Heat transfer to the air; by surroundings unless given."
            ),
        ]
        | UnsetType
    ) = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    cell_resistance_ohm: fields.CellResistanceOhm = fields.CELL_RESISTANCE_OHM
    cell_resistance_tolerance_ohm: fields.CellResistanceToleranceOhm = 0.0
    draw_length_s: fields.DrawLengthS = fields.DRAW_LENGTH_S
    pause_s: fields.PauseS = fields.PAUSE_S
    draws: (
        Annotated[float, whole(1, 100_000, "Number of draws; unless given, draws without end.")]
        | UnsetType
    ) = UNSET
    ambient_temperature_c: AmbientTemperatureC = AMBIENT_C
    surroundings: SurroundingsField = Surroundings.POCKET
    stop_temperature_c: StopTemperatureC = STOP_C


class TemperatureRiseFigures(Struct, frozen=True, gc=False):
    """Temperatures of the cell, estimated."""

    cell_loss_w: Annotated[float, figure("W", "Heat made in the cell during a draw.")]
    heat_capacity_j_k: Annotated[float, figure("J/K", "Heat that warms the cell by one kelvin.")]
    conductance_w_k: Annotated[float, figure("W/K", "Heat that the air takes, by kelvin.")]
    thermal_time_s: Annotated[
        float, figure("s", "Time in which the cell covers 63 % of the way to a steady temperature.")
    ]
    single_draw_temperature_c: Annotated[
        float, figure("°C", "After one draw that began at the temperature of the air.")
    ]
    settled_peak_temperature_c: Annotated[
        float, figure("°C", "At the end of each draw, once draws without end repeat.")
    ]
    settled_trough_temperature_c: Annotated[float, figure("°C", "At the end of each pause then.")]
    peak_temperature_c: Annotated[
        float, figure("°C", "Highest of the draws asked about: of their number, or without end.")
    ]
    continuous_temperature_c: Annotated[float, figure("°C", "In the end, without any pause.")]
    continuous_current_a: Annotated[
        float, figure("A", "Current that comes to the stop temperature without any pause.")
    ]


class TemperatureRiseDetails(Struct, frozen=True, kw_only=True):
    """Times that end at the stop temperature, where there are such."""

    time_to_stop_s: Annotated[
        float | UnsetType,
        figure("s", "Without a pause, until the stop temperature; absent where it is never met."),
    ] = UNSET
    pause_needed_s: Annotated[
        float | UnsetType,
        figure(
            "s",
            "Pause with which draws without end stay at or below the stop temperature; absent where one "
            "draw passes it.",
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


def specific_heat(chemistry: str, *, highest: bool = False) -> heat.Assumed:
    """Return a chemistry's specific heat, or the lowest or highest of all if it has none."""
    known = heat.SPECIFIC_HEAT_J_KGK
    if chemistry in known:
        return known[chemistry]
    word, choose = ("highest", max) if highest else ("lowest", min)
    taken = choose(known.values())
    return heat.Assumed(
        taken.value, f"{word} of the published ones, for want of its own: {taken.source}"
    )


def _area_m2(size: str) -> float:
    cell = SIZES[size]
    return float(heat.lateral_area_m2(diameter_mm=cell.diameter_mm, height_mm=cell.height_mm))


def _lump(asked: TemperatureRise) -> _Lump:
    mass_kg, area_m2, size = asked.cell_mass_kg, asked.cell_area_m2, asked.cell_size
    if size is UNSET and (mass_kg is UNSET or area_m2 is UNSET):
        raise Refused("cell_size", "Give cell_size, or both cell_mass_kg and cell_area_m2.")
    return _Lump(
        _look_up(size, lambda s: SIZES[s].mass_kg) if mass_kg is UNSET else mass_kg,
        _look_up(size, _area_m2) if area_m2 is UNSET else area_m2,
        _look_up(asked.chemistry, lambda c: specific_heat(c).value)
        if asked.specific_heat_j_kgk is UNSET
        else asked.specific_heat_j_kgk,
        _look_up(asked.surroundings, lambda s: heat.HEAT_TRANSFER_WM2K[s].value)
        if asked.heat_transfer_w_m2k is UNSET
        else asked.heat_transfer_w_m2k,
    )


def _highest_ohm(asked: TemperatureRise) -> Number:
    return asked.cell_resistance_ohm + asked.cell_resistance_tolerance_ohm


def figures(asked: TemperatureRise) -> TemperatureRiseFigures:
    """Calculate the figures of one question, or of a whole table."""
    lump = _lump(asked)
    ambient_c = asked.ambient_temperature_c
    loss_w = heat.cell_loss_w(current_a=asked.cell_current_a, resistance_ohm=_highest_ohm(asked))
    body = {
        "heat_capacity_jk": lump.mass_kg * lump.specific_heat_j_kgk,
        "conductance_wk": lump.heat_transfer_w_m2k * lump.area_m2,
    }
    pattern = {"draw_s": asked.draw_length_s, "rest_s": asked.pause_s}
    settled = heat.settled_cycle(ambient_c=ambient_c, loss_w=loss_w, **pattern, **body)
    return TemperatureRiseFigures(
        cell_loss_w=loss_w,
        heat_capacity_j_k=body["heat_capacity_jk"],
        conductance_w_k=body["conductance_wk"],
        thermal_time_s=heat.thermal_time_s(**body),
        single_draw_temperature_c=heat.temperature_after_c(
            start_c=ambient_c,
            ambient_c=ambient_c,
            loss_w=loss_w,
            time_s=asked.draw_length_s,
            **body,
        ),
        settled_peak_temperature_c=settled.peak_c,
        settled_trough_temperature_c=settled.trough_c,
        peak_temperature_c=settled.peak_c
        if asked.draws is UNSET
        else heat.peak_after_draws_c(
            start_c=ambient_c,
            ambient_c=ambient_c,
            loss_w=loss_w,
            draws=asked.draws,
            **pattern,
            **body,
        ),
        continuous_temperature_c=heat.steady_temperature_c(
            ambient_c=ambient_c, loss_w=loss_w, conductance_wk=body["conductance_wk"]
        ),
        continuous_current_a=heat.continuous_current_a(
            ambient_c=ambient_c,
            stop_c=asked.stop_temperature_c,
            # a resistance of 0 would allow any current; no cell has less than a tenth of a milliohm
            resistance_ohm=np.maximum(_highest_ohm(asked), 1e-4),
            conductance_wk=body["conductance_wk"],
        ),
    )


def _stop_times(asked: TemperatureRise, got: TemperatureRiseFigures) -> TemperatureRiseDetails:
    """Return the time until the stop without a pause, and the pause needed, if they exist."""
    lump = {
        "ambient_c": asked.ambient_temperature_c,
        "loss_w": got.cell_loss_w,
        "stop_c": asked.stop_temperature_c,
        "heat_capacity_jk": got.heat_capacity_j_k,
        "conductance_wk": got.conductance_w_k,
    }
    until: float | UnsetType = UNSET
    pause: float | UnsetType = UNSET
    with suppress(NoSolution):
        until = heat.time_to_temperature_s(start_c=asked.ambient_temperature_c, **lump)
    with suppress(NoSolution):
        pause = heat.rest_needed_s(draw_s=asked.draw_length_s, **lump)
    return TemperatureRiseDetails(time_to_stop_s=until, pause_needed_s=pause)


def explain(asked: TemperatureRise) -> Explained[TemperatureRiseFigures]:
    """Answer for one cell and pattern of draws."""
    got = plain(figures(asked))
    return Explained(
        figures=got,
        also=_stop_times(asked, got),
        working=_working(asked, got),
        limits=[_stop_temperature(asked, got)],
        findings=_findings(asked, got),
    )


def _stop_temperature(asked: TemperatureRise, got: TemperatureRiseFigures) -> Limit:
    return judged(
        LimitName.STOP_TEMPERATURE,
        got.peak_temperature_c,
        asked.stop_temperature_c,
        "°C",
        origin=asked.ambient_temperature_c,
    )


def _pattern(asked: TemperatureRise) -> str:
    many = "draws without end" if asked.draws is UNSET else f"{asked.draws:.0f} draws"
    return f"{many} of {asked.draw_length_s:g} s with pauses of {asked.pause_s:g} s"


def _working(asked: TemperatureRise, got: TemperatureRiseFigures) -> list[WorkingStep]:
    lump = _lump(asked)
    air_c = asked.ambient_temperature_c
    counted = asked.draws is not UNSET
    return [
        WorkingStep(
            "Heat made in the cell, at its highest resistance",
            "P = I² · r",
            f"({asked.cell_current_a:.4g} A)² × {_highest_ohm(asked):.4g} Ω",
            got.cell_loss_w,
            "W",
        ),
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
            f"{air_c:.4g} °C + {got.cell_loss_w:.4g} W / {got.conductance_w_k:.4g} W/K × "
            f"(1 − e^(−{asked.draw_length_s:.4g} s / {got.thermal_time_s:.4g} s))",
            got.single_draw_temperature_c,
            "°C",
        ),
        WorkingStep(
            f"Peak of {_pattern(asked)}",
            "T = T_air + ΔT_1 · (1 − qⁿ)/(1 − q), q = e^(−(t + t_pause)·G/C)"
            if counted
            else "T = T_air + ΔT_1 / (1 − q), q = e^(−(t + t_pause)·G/C)",
            f"{air_c:.4g} °C + {got.single_draw_temperature_c - air_c:.4g} K, "
            f"q = e^(−{asked.draw_length_s + asked.pause_s:.4g} s / {got.thermal_time_s:.4g} s)"
            + (f", n = {asked.draws:.0f}" if counted else ""),
            got.peak_temperature_c,
            "°C",
        ),
        WorkingStep(
            "Temperature in the end, without a pause",
            "T = T_air + P/G",
            f"{air_c:.4g} °C + {got.cell_loss_w:.4g} W / {got.conductance_w_k:.4g} W/K",
            got.continuous_temperature_c,
            "°C",
        ),
    ]


def _findings(asked: TemperatureRise, got: TemperatureRiseFigures) -> list[Finding]:
    lump = _lump(asked)
    found = _too_hot(asked, got, _pattern(asked))
    if (
        asked.cell_resistance_ohm == fields.CELL_RESISTANCE_OHM
        and asked.cell_resistance_tolerance_ohm == 0
    ):
        found.append(
            finding(
                shared_rules.RESISTANCE_ASSUMED,
                f"The heat was worked out with a cell resistance of {asked.cell_resistance_ohm:g} Ω, the default.",
            )
        )
    found.append(
        finding(
            rules.TEMPERATURE_ESTIMATE,
            f"The cell was taken as one lump of {lump.mass_kg * 1000:.3g} g in air of {asked.ambient_temperature_c:g} °C, "
            f"with a resistance of {_highest_ohm(asked):.3g} Ω.",
        )
    )
    return found


def _too_hot(asked: TemperatureRise, got: TemperatureRiseFigures, pattern: str) -> list[Finding]:
    """Return the findings about the stop temperature, and temperatures at which a cell fails."""
    stop_c = asked.stop_temperature_c
    found = []
    if got.peak_temperature_c > FAILS_C:
        found.append(
            finding(
                rules.BEYOND_ESTIMATE,
                f"By this estimate, which leaves the cell's own reactions out, {pattern} come to "
                f"{_up(got.peak_temperature_c)} °C; above about {FAILS_C:g} °C a cell may vent, burn or burst.",
            )
        )
    if got.peak_temperature_c > stop_c * (1 + NOISE):
        found.append(
            finding(
                rules.STOP_TEMPERATURE,
                f"{pattern[0].upper()}{pattern[1:]} bring the cell above {given(stop_c)} °C, by this estimate "
                f"to {_up(got.peak_temperature_c)} °C.",
            )
        )
    elif got.continuous_temperature_c > stop_c * (1 + NOISE):
        fails = (
            f", and would fail above about {FAILS_C:g} °C"
            if got.continuous_temperature_c > FAILS_C
            else ""
        )
        found.append(
            finding(
                rules.CONTINUOUS_TOO_HOT,
                f"The draws peak at {_up(got.peak_temperature_c)} °C; without a pause the cell passes "
                f"{given(stop_c)} °C{fails}.",
            )
        )
    return found


def _up(temperature_c: float) -> str:
    """Return a temperature in whole degrees, rounded up."""
    return f"{np.ceil(temperature_c - NOISE):.0f}"


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
        taken = heat.HEAT_TRANSFER_WM2K[asked.surroundings]
        found.append(Assumption("heat_transfer_w_m2k", taken.value, "W/(m²·K)", taken.source))
    return found


def assumed(asked: TemperatureRise) -> list[Assumption]:
    """Return the defaults in use, and the assumed properties of the cell."""
    return assumptions(asked) + stand_ins(asked)


QUESTION = Question(
    id="temperature-rise",
    subject=Subject.TIME_AND_HEAT,
    title="Temperature of a cell under its current",
    description="An estimate of how warm a cell gets by one draw, by draw after draw and without a "
    "pause, and after which time it is too hot.",
    asked=TemperatureRise,
    shows=TemperatureRiseFigures,
    also=TemperatureRiseDetails,
    limits=(LimitName.STOP_TEMPERATURE,),
    explain=explain,
    figures=figures,
    assumed=assumed,
    table=OverTable.ARRAYS,
    no_effect=frozenset({"stop_temperature_c"}),
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
        "cell_resistance_ohm": 0.025,
        "draw_length_s": 4,
        "pause_s": 45,
    },
)
