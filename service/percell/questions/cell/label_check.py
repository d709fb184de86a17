"""Is what is printed on a cell believable for its size?"""

from enum import StrEnum
from math import floor, log10
from typing import Annotated, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics import claim as bounds
from percell.physics import heat
from percell.physics.meter import NOISE, rounded_down
from percell.physics.sizes import SIZES
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.cell import rules
from percell.questions.cell.warmth import (
    AMBIENT_C,
    STOP_C,
    AmbientTemperatureC,
    specific_heat,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.limits import NEEDS_TEST, Limit, judged, not_judged
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sizes import CellSizeField
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, given, shown

_OPEN_AIR = heat.HEAT_TRANSFER_WM2K["room"]
_USUAL_END_FROM = "upper end of the usual discharge range, from memory, unconfirmed"


class Plausibility(StrEnum):
    """Plausibility of a claim. None of these words proves it."""

    NOT_DISPROVED = "not_disproved"
    DOUBTFUL = "doubtful"
    NOT_BELIEVABLE = "not_believable"


_WORSE = list(Plausibility)
# of a bound; more where it is close above a claim
_DIGITS, _MOST_DIGITS = 3, 12


class LabelCheck(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A cell of a size, with its printed capacity and rating."""

    cell_size: CellSizeField
    cell_rating_a: fields.CellRatingA
    cell_capacity_ah: fields.CellCapacityAh
    chemistry: ChemistryField = Chemistry.NMC
    cell_nominal_voltage_v: fields.CellNominalVoltageV | UnsetType = UNSET
    ambient_temperature_c: AmbientTemperatureC = AMBIENT_C


class LabelCheckFigures(Struct, frozen=True, gc=False):
    """Bounds of capacity and rating, and the plausibility of the claims."""

    plausibility: Annotated[
        Plausibility,
        Meta(description="Worse of `capacity_plausibility` and `rating_plausibility`."),
    ]
    capacity_plausibility: Annotated[
        Plausibility,
        Meta(
            description=(
                "Plausibility of the capacity. `doubtful`: above the usual bound. `not_believable`: above both "
                "bounds. `not_disproved`: below both, which does not make it true."
            )
        ),
    ]
    rating_plausibility: Annotated[
        Plausibility,
        Meta(
            description=(
                "Plausibility of the rating, for the claimed capacity. `doubtful`: above the usual bound. "
                "`not_believable`: above both bounds. `not_disproved`: below both, which does not make it true."
            )
        ),
    ]
    energy_density_wh_l: Annotated[
        float,
        figure(
            "Wh/L",
            (
                "Claimed energy divided by the volume of the cell, at the usual nominal voltage or a higher given "
                "one."
            ),
        ),
    ]
    usual_capacity_ah: Annotated[
        float,
        figure(
            "Ah", "Capacity at the energy density of a known high-energy cell of the chemistry."
        ),
    ]
    highest_capacity_ah: Annotated[
        float,
        figure("Ah", "Capacity at the highest energy density thought possible for the chemistry."),
    ]
    usual_rating_a: Annotated[
        float,
        figure(
            "A",
            (
                "Usual bound of the rating: the lower of two currents. One ends a full discharge at the usual "
                "highest temperature, 60 °C. The other is 30 times the claimed capacity per hour."
            ),
        ),
    ]
    highest_rating_a: Annotated[
        float,
        figure(
            "A",
            (
                "Highest bound of the rating, with 80 °C and 40 times the capacity. A claim above it is not "
                "believable."
            ),
        ),
    ]
    end_temperature_c: Annotated[
        float,
        figure(
            "°C",
            "Temperature at the end of a full discharge at the claimed current, in the label's favour.",
        ),
    ]


def _body(asked: LabelCheck) -> dict[str, float]:
    """Return the cell as a lump in the label's favour: lowest resistance, whole surface in open air."""
    size = SIZES[asked.cell_size]
    area_m2 = heat.total_area_m2(diameter_mm=size.diameter_mm, height_mm=size.height_mm)
    return {
        "ambient_c": asked.ambient_temperature_c,
        "capacity_ah": asked.cell_capacity_ah,
        "resistance_ohm": size.lowest_resistance_ohm,
        "heat_capacity_jk": size.mass_kg * specific_heat(asked.chemistry, highest=True).value,
        "conductance_wk": float(_OPEN_AIR.value * area_m2),
    }


def _nominal_v(asked: LabelCheck) -> float:
    """Return the nominal voltage to calculate with: a low one on the label makes no capacity believable."""
    given_v, preset = asked.cell_nominal_voltage_v, VOLTAGES[Chemistry(asked.chemistry)]
    if given_v is UNSET:
        return preset.nominal_v
    # any capacity would be plausible at a voltage that is too low
    if not preset.end_v < given_v < preset.charged_v:
        raise Refused(
            "cell_nominal_voltage_v",
            (
                f"The nominal voltage of {preset.name} must lie between {preset.end_v:g} and {preset.charged_v:g} "
                f"V, not at {given(given_v)} V."
            ),
        )
    return max(given_v, preset.nominal_v)


class _Bound(NamedTuple):
    """The bounds of a rating: temperature after a full discharge, and current over capacity."""

    end_c: float
    rate_h: float
    by_heat_a: float
    by_rate_a: float

    @property
    def rating_a(self) -> float:
        return min(self.by_heat_a, self.by_rate_a)


def _rating_bounds(asked: LabelCheck) -> tuple[_Bound, _Bound]:
    """Return the usual and the highest bound of a rating."""
    body = _body(asked)
    usual, highest = (
        _Bound(
            end_c,
            rate_h,
            bounds.highest_current_a(**body, end_c=end_c),
            rate_h * asked.cell_capacity_ah,
        )
        for end_c, rate_h in (
            (STOP_C, bounds.USUAL_RATE_H.value),
            (bounds.HIGHEST_END_C.value, bounds.HIGHEST_RATE_H.value),
        )
    )
    return usual, highest


def _word(value: float, usual: float, highest: float) -> Plausibility:
    if value > highest * (1 + NOISE):
        return Plausibility.NOT_BELIEVABLE
    return Plausibility.DOUBTFUL if value > usual * (1 + NOISE) else Plausibility.NOT_DISPROVED


def figures(asked: LabelCheck) -> LabelCheckFigures:
    """Calculate the figures of one claim, or of a whole table."""
    return _figures_at(asked, _nominal_v(asked), _rating_bounds(asked))


def _figures_at(
    asked: LabelCheck, nominal_v: float, by: tuple[_Bound, _Bound]
) -> LabelCheckFigures:
    size = SIZES[asked.cell_size]
    cylinder = {"diameter_mm": size.diameter_mm, "height_mm": size.height_mm}
    usual_ah, highest_ah = (
        float(
            bounds.highest_capacity_ah(
                **cylinder, nominal_voltage_v=nominal_v, density_whl=bound.value
            )
        )
        for bound in bounds.density_bounds(chemistry=asked.chemistry)
    )
    usual_a, highest_a = (bound.rating_a for bound in by)
    words = (
        _word(asked.cell_capacity_ah, usual_ah, highest_ah),
        _word(asked.cell_rating_a, usual_a, highest_a),
    )
    energy_wh = asked.cell_capacity_ah * nominal_v
    return LabelCheckFigures(
        plausibility=max(words, key=_WORSE.index),
        capacity_plausibility=words[0],
        rating_plausibility=words[1],
        energy_density_wh_l=float(energy_wh / bounds.cell_volume_litre(**cylinder)),
        usual_capacity_ah=usual_ah,
        highest_capacity_ah=highest_ah,
        usual_rating_a=usual_a,
        highest_rating_a=highest_a,
        end_temperature_c=float(
            bounds.end_temperature_c(**_body(asked), current_a=asked.cell_rating_a)
        ),
    )


def _working(
    asked: LabelCheck, by: tuple[_Bound, _Bound], got: LabelCheckFigures
) -> list[WorkingStep]:
    """Return the working of one claim."""
    size, nominal_v = SIZES[asked.cell_size], _nominal_v(asked)
    litre = bounds.cell_volume_litre(diameter_mm=size.diameter_mm, height_mm=size.height_mm)
    body = _body(asked)
    lump = (
        f"T_a = {asked.ambient_temperature_c:.4g} °C, r = {size.lowest_resistance_ohm:.4g} Ω, C = {body['heat_capacity_jk']:.4g} J/K, "
        f"G = {body['conductance_wk']:.4g} W/K, t = {asked.cell_capacity_ah:.4g} Ah / I"
    )
    relation = "T = T_a + I²·r/G · (1 − e^(−G·t/C)), t = Q / I"
    density = [bound.value for bound in bounds.density_bounds(chemistry=asked.chemistry)]
    return [
        WorkingStep(
            "Claimed energy per volume",
            "w = Q · U_nom / (π·d²·h/4)",
            f"{asked.cell_capacity_ah:.4g} Ah × {nominal_v:.4g} V / {litre:.4g} L",
            got.energy_density_wh_l,
            "Wh/L",
        ),
        *(
            WorkingStep(
                f"Capacity of this size at {w:g} Wh/L",
                "Q = w · V / U_nom",
                f"{w:g} Wh/L × {litre:.4g} L / {nominal_v:.4g} V",
                capacity_ah,
                "Ah",
            )
            for w, capacity_ah in zip(
                density, (got.usual_capacity_ah, got.highest_capacity_ah), strict=True
            )
        ),
        WorkingStep(
            "Temperature at the end of a full discharge at the claimed current",
            relation,
            f"I = {asked.cell_rating_a:.4g} A, {lump}",
            got.end_temperature_c,
            "°C",
        ),
        *(
            step
            for bound in by
            for step in (
                WorkingStep(
                    f"Current at which a full discharge ends at {bound.end_c:g} °C",
                    f"{relation}, solved for I",
                    lump,
                    bound.by_heat_a,
                    "A",
                ),
                WorkingStep(
                    f"Bound of the rating: that current, but no more than {bound.rate_h:g} times the capacity per hour",
                    "I = min(I_T, k · Q)",
                    f"{bound.by_heat_a:.4g} A or {bound.rate_h:g} /h × {asked.cell_capacity_ah:.4g} Ah",
                    bound.rating_a,
                    "A",
                ),
            )
        ),
    ]


def _findings(
    asked: LabelCheck, by: tuple[_Bound, _Bound], got: LabelCheckFigures
) -> list[Finding]:
    """Return the findings about one claim."""
    found = []
    if got.capacity_plausibility is not Plausibility.NOT_DISPROVED:
        beyond = got.capacity_plausibility is Plausibility.NOT_BELIEVABLE
        claimed = given(asked.cell_capacity_ah)
        bound = _bound_text(
            got.highest_capacity_ah if beyond else got.usual_capacity_ah, asked.cell_capacity_ah
        )
        which = (
            "the highest thought possible" if beyond else "what a known high-energy cell would hold"
        )
        found.append(
            finding(
                rules.CLAIM_CAPACITY if beyond else rules.CLAIM_CAPACITY_DOUBTFUL,
                (
                    f"The claimed {claimed} Ah in the size {asked.cell_size} are {got.energy_density_wh_l:.0f} Wh/L. "
                    f"That is above {which} in this size, {bound} Ah."
                ),
            )
        )
    if got.rating_plausibility is not Plausibility.NOT_DISPROVED:
        beyond = got.rating_plausibility is Plausibility.NOT_BELIEVABLE
        found.append(
            finding(
                rules.CLAIM_RATING if beyond else rules.CLAIM_RATING_DOUBTFUL,
                _why_not(asked, got, by[beyond], beyond=beyond),
            )
        )
    if not found:
        bound_ah = _bound_text(got.usual_capacity_ah, asked.cell_capacity_ah)
        bound_a = _bound_text(got.usual_rating_a, asked.cell_rating_a)
        found.append(
            finding(
                rules.CLAIM_NOT_PROVEN,
                (
                    f"Size and heat do not disprove the claimed {given(asked.cell_capacity_ah)} Ah and "
                    f"{given(asked.cell_rating_a)} A. The bounds for the size {asked.cell_size} are {bound_ah} Ah and "
                    f"{bound_a} A. That does not make the label true."
                ),
            )
        )
    return found


def _bound_text(bound: float, claimed: float) -> str:
    """Return a bound rounded down, so that it is itself within; never below a claim that keeps it."""
    for digits in range(_DIGITS, _MOST_DIGITS):
        step = 10.0 ** (floor(log10(bound)) - digits + 1)
        down = rounded_down(value=bound, step=step)
        if claimed > bound or down >= claimed:
            return shown(down, digits)
    return given(bound)


def _why_not(asked: LabelCheck, got: LabelCheckFigures, by: _Bound, *, beyond: bool) -> str:
    claimed = given(asked.cell_rating_a)
    bound = _bound_text(by.rating_a, asked.cell_rating_a)
    capacity = f"{shown(asked.cell_capacity_ah)} Ah"
    if by.by_rate_a < by.by_heat_a:
        return (
            f"The claimed {claimed} A are more than {by.rate_h:g} times the claimed {capacity} per hour, which "
            f"is {bound} A. Round cells with so little capacity "
        ) + ("are not known to give as much." if beyond else "are rarely rated for as much.")
    return (
        f"A full discharge of {capacity} at the claimed {claimed} A would end at "
        f"{beside(got.end_temperature_c, by.end_c)} °C or more. At {bound} A it would end at {by.end_c:g} "
        "°C."
    )


def stand_ins(asked: LabelCheck) -> list[Assumption]:
    """Return the bounds with their origins."""
    size, specific = SIZES[asked.cell_size], specific_heat(asked.chemistry, highest=True)
    usual, highest = bounds.density_bounds(chemistry=asked.chemistry)
    values = [
        ("usual_density", usual.value, "Wh/L", usual.source),
        ("highest_density", highest.value, "Wh/L", highest.source),
        ("mass", size.mass_kg, "kg", size.mass_source),
        ("lowest_resistance", size.lowest_resistance_ohm, "Ω", size.lowest_resistance_source),
        ("specific_heat", specific.value, "J/(kg·K)", specific.source),
        ("heat_transfer", _OPEN_AIR.value, "W/(m²·K)", _OPEN_AIR.source),
        ("usual_end", STOP_C, "°C", _USUAL_END_FROM),
        ("highest_end", bounds.HIGHEST_END_C.value, "°C", bounds.HIGHEST_END_C.source),
        ("usual_rate", bounds.USUAL_RATE_H.value, "1/h", bounds.USUAL_RATE_H.source),
        ("highest_rate", bounds.HIGHEST_RATE_H.value, "1/h", bounds.HIGHEST_RATE_H.source),
    ]
    return [
        Assumption(f"cell_size.{name}", value, unit, source) for name, value, unit, source in values
    ]


def assumed(asked: LabelCheck) -> list[Assumption]:
    """Return the defaults in use, and the bounds."""
    return assumptions(asked) + stand_ins(asked)


def explain(asked: LabelCheck) -> Explained[LabelCheckFigures]:
    """Answer for one cell: a label below the bounds is not thereby true, so nothing is within a limit."""
    got = explain_bounds(asked)
    unproven = [not_judged(limit, _UNPROVEN) for limit in _limits(asked, got.figures)]
    return structs.replace(got, limits=unproven, leads=_leads(asked, got.figures))


_UNPROVEN = "a label within the bounds can still be false"


def _only_disproved(limit: Limit) -> Limit:
    """Return a limit that a label below its bounds leaves open: only a test would prove the label."""
    if limit.verdict is not Verdict.WITHIN:
        return limit
    return structs.replace(not_judged(limit, _UNPROVEN), missing=NEEDS_TEST)


def explain_bounds(asked: LabelCheck) -> Explained[LabelCheckFigures]:
    """Answer whether the bounds are exceeded, for a question about more than the label.

    A label below the bounds is not judged there, and does not spoil the verdict on the load.
    """
    # a voltage that is refused comes before bounds that do not exist
    nominal_v, by = _nominal_v(asked), _rating_bounds(asked)
    got = _figures_at(asked, nominal_v, by)
    return Explained(
        figures=got,
        working=_working(asked, by, got),
        limits=[_only_disproved(limit) for limit in _limits(asked, got)],
        findings=_findings(asked, by, got),
    )


def _limits(asked: LabelCheck, got: LabelCheckFigures) -> list[Limit]:
    return [
        _limit(
            LimitName.BELIEVABLE_RATING,
            got.rating_plausibility,
            asked.cell_rating_a,
            got.highest_rating_a,
            "A",
        ),
        _limit(
            LimitName.BELIEVABLE_CAPACITY,
            got.capacity_plausibility,
            asked.cell_capacity_ah,
            got.highest_capacity_ah,
            "Ah",
        ),
    ]


def _limit(name: LimitName, word: Plausibility, claimed: float, highest: float, unit: str) -> Limit:
    """Hold a claim against its highest bound; what is doubtful has little headroom."""
    limit = judged(name, claimed, highest, unit, near=False)
    if word is Plausibility.DOUBTFUL:
        return structs.replace(limit, verdict=Verdict.LITTLE)
    return limit


_LEADS = {
    Plausibility.NOT_DISPROVED: "size and heat do not disprove this label, which does not make it true",
    Plausibility.DOUBTFUL: "doubt this label",
    Plausibility.NOT_BELIEVABLE: "do not believe this label",
}


def _leads(asked: LabelCheck, got: LabelCheckFigures) -> str:
    lead = _LEADS[got.plausibility]
    if got.capacity_plausibility is Plausibility.NOT_BELIEVABLE:
        highest = _bound_text(got.highest_capacity_ah, asked.cell_capacity_ah)
        return f"{lead} (no capacity above {highest} Ah is believable in this size)"
    highest = _bound_text(got.highest_rating_a, asked.cell_rating_a)
    return f"{lead} (for this size and capacity no rating above {highest} A is believable, and most cells are rated far lower)"


QUESTION = Question(
    id="label-check",
    subject=Subject.LIMITS,
    title="Whether the label of a cell is believable",
    description=(
        "Whether a printed capacity and continuous rating are believable for a cell of this size and "
        "chemistry, with the bounds and their origins."
    ),
    asked=LabelCheck,
    shows=LabelCheckFigures,
    limits=(LimitName.BELIEVABLE_RATING, LimitName.BELIEVABLE_CAPACITY),
    explain=explain,
    assumed=assumed,
    figures=figures,
    table=OverTable.CELL_BY_CELL,
    headline=Headline(
        field="highest_rating_a",
        says="For this size and capacity a rating is not believable above",
        unit="A",
        decimals=1,
        round=Rounding.DOWN,
    ),
    # a wrapper found in a donation box of the Lantern Street Bench, invented
    example={"cell_size": "18650", "cell_rating_a": 40, "cell_capacity_ah": 3.5},
)
