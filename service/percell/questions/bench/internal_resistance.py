"""What is a cell's internal d.c. resistance, read at two loads, and how sure is it?"""

from typing import Annotated, ClassVar

from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import measured_cells, resistance
from percell.physics.meter import NOISE
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import Headline, Rounding, condition_of, rounded
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.bench import rules
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import (
    COMMON_PRACTICE,
    figure,
    quantity,
    whole,
)
from percell.questions.vocabulary.presence import Needs, Presence
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.wording import given, shown

# below this the difference of two readings means nothing, and the resistance would have no bound
LEAST_STEP_A = 0.001
# bounds further from the value make it unsure; part of the value, our own choice
UNSURE = 0.2
# larger differences from the standard's currents and times get a finding: our own choice
OTHERWISE = 0.1
YEAR_S = 365.25 * 86400

# what an ordinary meter shows may be off by so much; rounding to the last digit adds half of it, always
HALF_DIGIT = 0.5
_ONE_RANGE = (
    "one meter on one range for both readings, so errors in proportion to the reading nearly cancel, "
    + COMMON_PRACTICE
)
_ORDINARY = "an ordinary meter, " + COMMON_PRACTICE
_THREE_DECIMALS = "a display with three decimals, " + COMMON_PRACTICE


class InternalResistance(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Two loads in quick succession on one cell, or one load and the rest before it."""

    presence: ClassVar[tuple[Presence, ...]] = (
        Needs(
            ("time_between_s",),
            "reference_resistance_ohm",
            "time_between_s needs reference_resistance_ohm, the first measurement.",
        ),
    )
    first_voltage_v: Annotated[
        float, quantity("V", 0, 5, "Voltage at the cell under the first load.")
    ]
    first_current_a: Annotated[
        float, quantity("A", 0, 1000, "Current of the first load. 0 for the cell at rest.")
    ]
    second_voltage_v: Annotated[
        float, quantity("V", 0, 5, "Voltage at the cell under the second load.")
    ]
    second_current_a: Annotated[float, quantity("A", 0, 1000, "Current of the second load.")]
    first_time_s: (
        Annotated[
            float,
            quantity("s", 0, 3600, "Time from the start of the first load to its reading."),
        ]
        | UnsetType
    ) = UNSET
    second_time_s: (
        Annotated[
            float,
            quantity("s", 0, 3600, "Time from the start of the second load to its reading."),
        ]
        | UnsetType
    ) = UNSET
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    cell_temperature_c: fields.CellTemperatureC | UnsetType = UNSET
    voltmeter_accuracy: Annotated[
        float,
        quantity(
            "1",
            0,
            0.2,
            "Accuracy of the voltmeter, as part of the reading.",
            default_from=_ONE_RANGE,
        ),
    ] = 0.0
    voltmeter_counts: Annotated[
        float,
        whole(
            0,
            100,
            "Accuracy of the voltmeter, in counts of the last digit. percell adds half a digit.",
            default_from=_ORDINARY,
        ),
    ] = fields.METER_COUNTS
    voltmeter_resolution_v: Annotated[
        float,
        quantity(
            "V",
            0.00001,
            1,
            "Value of one count of the voltmeter's last digit.",
            default_from=_THREE_DECIMALS,
        ),
    ] = 0.001
    ammeter_accuracy: Annotated[
        float,
        quantity(
            "1",
            0,
            0.2,
            "Accuracy of the ammeter, as part of the reading.",
            default_from=_ONE_RANGE,
        ),
    ] = 0.0
    ammeter_counts: Annotated[
        float,
        whole(
            0,
            100,
            "Accuracy of the ammeter, in counts of the last digit. percell adds half a digit.",
            default_from=_ORDINARY,
        ),
    ] = fields.METER_COUNTS
    ammeter_resolution_a: Annotated[
        float,
        quantity(
            "A",
            0.00001,
            1,
            "Value of one count of the ammeter's last digit.",
            default_from=_THREE_DECIMALS,
        ),
    ] = 0.001
    reference_resistance_ohm: fields.ReferenceResistanceOhm | UnsetType = UNSET
    time_between_s: (
        Annotated[
            float,
            quantity("s", 3600, 1e9, "Time from the first measurement to this one."),
        ]
        | UnsetType
    ) = UNSET


class InternalResistanceFigures(Struct, frozen=True, gc=False):
    """The resistance and its bounds."""

    cell_resistance_ohm: Annotated[float, figure("Ω", "Internal d.c. resistance.")]
    cell_resistance_lowest_ohm: Annotated[
        float,
        figure(
            "Ω",
            "Lowest internal d.c. resistance, with the errors of all four readings at their worst.",
        ),
    ]
    cell_resistance_highest_ohm: Annotated[
        float,
        figure(
            "Ω",
            "Highest internal d.c. resistance, with the errors of all four readings at their worst.",
        ),
    ]
    expanded_uncertainty_ohm: Annotated[
        float,
        figure("Ω", "Expanded uncertainty with k = 2, about 95 %, for information."),
    ]


class StandardSteps(Struct, frozen=True, gc=False):
    """The two loads of the standard's method for a cell of this capacity."""

    first_current_a: Annotated[
        float, figure("A", "Current of the first load, a fifth of the rated current.")
    ]
    first_time_s: Annotated[float, figure("s", "Time under this load.")]
    second_current_a: Annotated[
        float, figure("A", "Current of the second load, the rated current.")
    ]
    second_time_s: Annotated[float, figure("s", "Time under this load.")]


class InternalResistanceDetails(Struct, frozen=True, kw_only=True):
    """Figures that need a first measurement or the capacity."""

    resistance_ratio: Annotated[
        float | UnsetType, figure("1", "Resistance divided by that of the first measurement.")
    ] = UNSET
    change_rate: Annotated[
        float | UnsetType,
        figure(
            "1/year", "Change of that ratio per year so far, on a straight line. Not a forecast."
        ),
    ] = UNSET
    standard_steps: Annotated[
        StandardSteps | UnsetType,
        Meta(description="Loads of the standard for such a cell. Needs `cell_capacity_ah`."),
    ] = UNSET


def _meters(asked: InternalResistance) -> tuple[resistance.Meter, resistance.Meter]:
    """Return the voltmeter and the ammeter, each with half a digit more."""
    return (
        resistance.Meter(
            asked.voltmeter_accuracy,
            asked.voltmeter_counts + HALF_DIGIT,
            asked.voltmeter_resolution_v,
        ),
        resistance.Meter(
            asked.ammeter_accuracy, asked.ammeter_counts + HALF_DIGIT, asked.ammeter_resolution_a
        ),
    )


def figures(asked: InternalResistance) -> InternalResistanceFigures:
    """Calculate the figures of one measurement."""
    if abs(asked.second_current_a - asked.first_current_a) < LEAST_STEP_A:
        raise Refused(
            "second_current_a",
            f"Give two loads that differ by {LEAST_STEP_A:g} A or more.",
        )
    voltmeter, ammeter = _meters(asked)
    got = resistance.two_load_uncertainty(
        first_current_a=asked.first_current_a,
        first_voltage_v=asked.first_voltage_v,
        second_current_a=asked.second_current_a,
        second_voltage_v=asked.second_voltage_v,
        voltmeter=voltmeter,
        ammeter=ammeter,
    )
    return InternalResistanceFigures(
        cell_resistance_ohm=got.resistance_ohm,
        cell_resistance_lowest_ohm=got.lowest_ohm,
        cell_resistance_highest_ohm=got.highest_ohm,
        expanded_uncertainty_ohm=float(got.expanded_ohm),
    )


def _standard(asked: InternalResistance) -> StandardSteps | UnsetType:
    if asked.cell_capacity_ah is UNSET:
        return UNSET
    steps = resistance.standard_steps_a(capacity_ah=asked.cell_capacity_ah)
    return StandardSteps(
        steps.first_a, resistance.FIRST_STEP_S, steps.second_a, resistance.SECOND_STEP_S
    )


def _read_soon(asked: InternalResistance) -> list[Finding]:
    """Return the finding about a resistance that other questions must not take as read after 10 s."""
    after_s = asked.second_time_s
    if after_s is UNSET or after_s >= fields.AFTER_S * (1 - NOISE):
        return []
    more = measured_cells.ten_second_resistance_ohm(
        resistance_ohm=1.0, after_s=max(after_s, measured_cells.SOONEST_S)
    )
    return [
        finding(
            rules.RESISTANCE_READ_SOON,
            f"The resistance was read {given(after_s)} s after the step. After 10 s it is about {shown(more)} times as "
            "high. If you use it in another question, also say that it was read after "
            f"{given(max(after_s, measured_cells.SOONEST_S))} s.",
        )
    ]


def _otherwise(asked: InternalResistance, standard: StandardSteps | UnsetType) -> list[str]:
    """Return in words where the measurement differs from the standard's."""
    pairs: list[tuple[str, float | UnsetType, float, str]] = [
        ("first time", asked.first_time_s, resistance.FIRST_STEP_S, "s"),
        ("second time", asked.second_time_s, resistance.SECOND_STEP_S, "s"),
    ]
    if standard is not UNSET:
        pairs += [
            ("first current", asked.first_current_a, standard.first_current_a, "A"),
            ("second current", asked.second_current_a, standard.second_current_a, "A"),
        ]
    return [
        f"{name} {held:.3g} {unit} instead of {wanted:.3g} {unit}"
        for name, held, wanted, unit in pairs
        if held is not UNSET and abs(held - wanted) > OTHERWISE * wanted * (1 + NOISE)
    ]


def measured_cold_or_warm(at_c: float | UnsetType) -> list[Finding]:
    """Return the findings about a cell measured outside the temperatures of tests."""
    low_c, high_c = resistance.LOWEST_TEST_C, resistance.HIGHEST_TEST_C
    if at_c is UNSET or low_c <= at_c <= high_c:
        return []
    return [
        finding(
            rules.MEASURED_COLD_OR_WARM,
            f"The cell was measured at {f'{at_c:g}'.replace('-', '−')} °C. Measure at {low_c:g} to {high_c:g} °C.",
        )
    ]


def findings_of(
    asked: InternalResistance,
    got: InternalResistanceFigures,
    standard: StandardSteps | UnsetType,
    ratio: float | UnsetType,
) -> list[Finding]:
    """Return the findings about one measurement."""
    found = []
    if ratio is not UNSET and ratio >= resistance.RETIRED_RESISTANCE * (1 - NOISE):
        found.append(
            finding(
                rules.RESISTANCE_ROSE,
                f"The resistance of {got.cell_resistance_ohm:.3g} Ω is {shown(ratio)} times the "
                f"{asked.reference_resistance_ohm:.3g} Ω of the first measurement.",
            )
        )
    value = got.cell_resistance_ohm
    off = max(value - got.cell_resistance_lowest_ohm, got.cell_resistance_highest_ohm - value)
    if off > UNSURE * value * (1 + NOISE):
        found.append(
            finding(
                rules.RESISTANCE_UNSURE,
                f"By these readings the resistance can be anything from {got.cell_resistance_lowest_ohm:.3g} to "
                f"{got.cell_resistance_highest_ohm:.3g} Ω.",
            )
        )
    found += measured_cold_or_warm(asked.cell_temperature_c)
    found += _read_soon(asked)
    if otherwise := _otherwise(asked, standard):
        found.append(
            finding(
                rules.MEASURED_OTHERWISE,
                f"The steps differ from the standard: {', '.join(otherwise)}.",
            )
        )
    return found


def _working(asked: InternalResistance, got: InternalResistanceFigures) -> list[WorkingStep]:
    volts, amperes = _meters(asked)
    limits_v = [float(volts.limit(v)) for v in (asked.first_voltage_v, asked.second_voltage_v)]
    limits_a = [float(amperes.limit(a)) for a in (asked.first_current_a, asked.second_current_a)]
    drop = f"({asked.first_voltage_v:.5g} − {asked.second_voltage_v:.5g}"
    step = f"({asked.second_current_a:.5g} − {asked.first_current_a:.5g}"
    off_v, off_a = (" and ".join(f"{limit:.4g}" for limit in both) for both in (limits_v, limits_a))
    return [
        WorkingStep(
            "Internal d.c. resistance",
            "R = (U_1 − U_2) / (I_2 − I_1)",
            f"{drop}) V / {step}) A",
            got.cell_resistance_ohm,
            "Ω",
        ),
        WorkingStep(
            "Limit of error of both voltages: part of the reading, counts and half a digit for each",
            "Σa_U = a·(U_1 + U_2) + 2·(n + ½)·d",
            f"{asked.voltmeter_accuracy:.4g} × ({asked.first_voltage_v:.5g} + "
            f"{asked.second_voltage_v:.5g}) V + 2 × ({asked.voltmeter_counts:.4g} + {HALF_DIGIT:g}) × "
            f"{asked.voltmeter_resolution_v:.4g} V",
            sum(limits_v),
            "V",
        ),
        WorkingStep(
            "Limit of error of both currents",
            "Σa_I = a·(I_1 + I_2) + 2·(n + ½)·d",
            f"{asked.ammeter_accuracy:.4g} × ({asked.first_current_a:.5g} + "
            f"{asked.second_current_a:.5g}) A + 2 × ({asked.ammeter_counts:.4g} + {HALF_DIGIT:g}) × "
            f"{asked.ammeter_resolution_a:.4g} A",
            sum(limits_a),
            "A",
        ),
        WorkingStep(
            "Lowest resistance, with each reading off by its limit in the worst direction",
            "R_min = (ΔU − Σa_U) / (ΔI + Σa_I), not below 0",
            f"{drop} − {sum(limits_v):.4g}) V / {step} + {sum(limits_a):.4g}) A",
            got.cell_resistance_lowest_ohm,
            "Ω",
        ),
        WorkingStep(
            "Highest resistance, with each reading off by its limit in the worst direction",
            "R_max = (ΔU + Σa_U) / (ΔI − Σa_I)",
            f"{drop} + {sum(limits_v):.4g}) V / {step} − {sum(limits_a):.4g}) A",
            got.cell_resistance_highest_ohm,
            "Ω",
        ),
        WorkingStep(
            "Expanded uncertainty, for information: rectangular limits, k = 2",
            "U = 2 · √(Σ(a_U)² + R²·Σ(a_I)²) / (√3 · ΔI)",
            f"a_U = {off_v} V, R = {got.cell_resistance_ohm:.4g} Ω, a_I = {off_a} A, ΔI = {step}) A",
            got.expanded_uncertainty_ohm,
            "Ω",
        ),
    ]


def explain(asked: InternalResistance) -> Explained[InternalResistanceFigures]:
    """Answer for one measurement."""
    got = figures(asked)
    standard = _standard(asked)
    working = _working(asked, got)
    ratio: float | UnsetType = UNSET
    per_year: float | UnsetType = UNSET
    earlier_ohm = asked.reference_resistance_ohm
    if earlier_ohm is not UNSET:
        ratio = float(resistance.health(measured=got.cell_resistance_ohm, reference=earlier_ohm))
        with_numbers = f"{got.cell_resistance_ohm:.4g} Ω / {earlier_ohm:.4g} Ω"
        working.append(
            WorkingStep(
                "Resistance divided by that of the first measurement",
                "R / R_first",
                with_numbers,
                ratio,
                "1",
            )
        )
        if asked.time_between_s is not UNSET:
            per_year = (ratio - 1) / (asked.time_between_s / YEAR_S)
            with_numbers = f"({ratio:.4g} − 1) / {asked.time_between_s / YEAR_S:.4g} years"
            working.append(
                WorkingStep(
                    "Change per year, so far", "(x − 1) / Δt", with_numbers, per_year, "1/year"
                )
            )
    return Explained(
        figures=got,
        also=InternalResistanceDetails(
            resistance_ratio=ratio, change_rate=per_year, standard_steps=standard
        ),
        working=working,
        findings=findings_of(asked, got, standard, ratio),
        condition=_condition(asked),
        leads=_leads(asked, got),
    )


def _condition(asked: InternalResistance) -> str:
    """Return what was measured, one load after the other; the headline tells the meters' errors with its figure."""
    elsewhere = ["first_current_a", "first_time_s", "second_current_a", "second_time_s"]
    elsewhere += [name for name in InternalResistance.__struct_fields__ if "meter_" in name]
    return condition_of(
        asked,
        first_voltage_v=_load(asked.first_voltage_v, asked.first_current_a, asked.first_time_s),
        second_voltage_v=_load(asked.second_voltage_v, asked.second_current_a, asked.second_time_s),
        **dict.fromkeys(elsewhere, ""),
    )


def _load(volts: float, amperes: float, seconds: float | UnsetType) -> str:
    said = f"{given(volts)} V at {given(amperes)} A"
    return said if seconds is UNSET else f"{said} after {given(seconds)} s"


def _leads(asked: InternalResistance, got: InternalResistanceFigures) -> str:
    """Return the clause with the highest resistance, and the errors of the meters that it allows for."""
    least_ohm, most_ohm = got.cell_resistance_lowest_ohm, got.cell_resistance_highest_ohm
    volts = _error(
        asked.voltmeter_accuracy, asked.voltmeter_counts, asked.voltmeter_resolution_v, "V"
    )
    amperes = _error(asked.ammeter_accuracy, asked.ammeter_counts, asked.ammeter_resolution_a, "A")
    return (
        f"the cell's internal d.c. resistance is at most {rounded(most_ohm, Rounding.UP, 4):.4f} Ω and at least "
        f"{rounded(least_ohm, Rounding.DOWN, 4):.4f} Ω, if each voltage is off by at most {volts} and each current "
        f"by at most {amperes}"
    )


def _error(accuracy: float, counts: float, resolution: float, unit: str) -> str:
    digits = f"{given((counts + HALF_DIGIT) * resolution)} {unit}"
    return f"{given(accuracy * 100)} % and {digits}" if accuracy else digits


QUESTION = Question(
    id="internal-resistance",
    subject=Subject.BENCH,
    title="Internal resistance of a cell from two loads",
    description="Internal d.c. resistance of a cell from its voltage under two loads, with bounds from the "
    "meter's accuracy.",
    asked=InternalResistance,
    shows=InternalResistanceFigures,
    also=InternalResistanceDetails,
    explain=explain,
    headline=Headline(
        field="cell_resistance_highest_ohm",
        says="By these readings the cell's internal d.c. resistance is at most",
        unit="Ω",
        decimals=4,
        round=Rounding.UP,
    ),
    # a lent cell of the Lantern Street Bench, invented
    example={
        "first_voltage_v": 3.742,
        "first_current_a": 0.6,
        "second_voltage_v": 3.671,
        "second_current_a": 3.0,
        "first_time_s": 10,
        "second_time_s": 1,
        "cell_capacity_ah": 3.0,
        "cell_temperature_c": 21,
        "voltmeter_accuracy": 0.0005,
        "voltmeter_counts": 2,
        "ammeter_accuracy": 0.005,
        "ammeter_counts": 2,
        "reference_resistance_ohm": 0.022,
        "time_between_s": 31_557_600,
    },
)
