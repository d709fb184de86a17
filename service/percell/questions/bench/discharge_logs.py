"""Discharge logs as they are given, what they are held to, and what is answered for each."""

from enum import StrEnum
from functools import cache
from typing import Annotated, Any, NamedTuple, get_args, get_type_hints

from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import current_steps, discharge_log, log_faults, rating_trials
from percell.physics.meter import NOISE
from percell.physics.types import Floats
from percell.questions.bench.log_reading import LogReading
from percell.questions.cell.warmth import AMBIENT_C, STOP_C, StopTemperatureC
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import (
    COMMON_PRACTICE,
    choice,
    figure,
    quantity,
    text,
    whole,
)

MEASURED = ("time_s", "voltage_v", "current_a", "temperature_c")
MOST_ROWS = 100_000
MOST_LOGS = 20
# most faults, and most steps per log, that an answer lists
MOST_FAULTS = 20
MOST_STEPS = 20
# most points of a curve that an answer shows
MOST_POINTS = 60
# default: a change of current by this part of the highest is a step
STEP_PART = 0.1
# a load stops with the row after the one that meets the limit
OVERSHOOT_V = 0.02
# What a rating needs besides its limits. A cell that rests 0.1 V below its charged voltage holds about
# nine tenths, one that rests 0.4 V below its nominal voltage about 7 % (percell's published curves).
# Iron phosphate falls 0.3 V at once at rest, so only a voltage below that contradicts who says "full".
NEAR_FULL_V = 0.1
NOT_FULL_V = 0.35
NEAR_EMPTY_V = 0.4
LEAST_FLOWING = 0.95
# a temperature that rises less through a whole discharge is not that of the cell
LEAST_WARMING_K = 0.5
LEAST_CHARGE = 0.8


class LogStart(StrEnum):
    """State of the cells when the logs began."""

    AS_LOGGED = "as_logged"
    FULL = "full"


class RatingNeed(StrEnum):
    """What a log needs, beyond its limits, before it proves a continuous rating."""

    START = "start_near_full"
    CHARGED = "start_not_overcharged"
    FLOW = "uninterrupted_current"
    CHARGE = "enough_charge"
    END = "end_near_empty"
    TEMPERATURE = "temperature"
    WARMING = "temperature_that_rises"
    COLUMNS = "certain_columns"


TimeS = Annotated[float, quantity("s", 0, 1e10, "Time. Only differences count.")]
VoltageV = Annotated[float, quantity("V", 0, 10, "Voltage at the cell.")]
CurrentA = Annotated[float, quantity("A", -1000, 1000, "Current. Positive when discharging.")]
TemperatureC = Annotated[float, quantity("°C", -60, 300, "Temperature at the skin of the cell.")]


def _column(meaning: str) -> Meta:
    return Meta(min_length=log_faults.SHORTEST_ROWS, max_length=MOST_ROWS, description=meaning)


class DischargeLog(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One whole discharge, with one value per row in each column."""

    label: fields.Label | UnsetType = UNSET
    time_s: Annotated[list[TimeS], _column("Time of each row, rising.")]
    voltage_v: Annotated[list[VoltageV], _column("Voltage at each row.")]
    current_a: Annotated[list[CurrentA], _column("Current at each row. Positive when discharging.")]
    temperature_c: (
        Annotated[list[TemperatureC], _column("Temperature at each row.")] | UnsetType
    ) = UNSET
    read_as: Annotated[
        LogReading | UnsetType,
        Meta(description="How the log was read from a file, if it was. Check it."),
    ] = UNSET


class DischargeLimits(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The limits that a discharge must keep, and how a log is read."""

    stop_temperature_c: StopTemperatureC = STOP_C
    stop_voltage_v: (
        Annotated[
            float,
            quantity(
                "V",
                0.5,
                5,
                "Lowest voltage allowed under load. One below the end-of-discharge voltage counts as that voltage. A load "
                f"stops one row late, so the last loaded row can be {OVERSHOOT_V:g} V lower. It can also be lower by its "
                f"fall in the last second, up to {discharge_log.MOST_OVERSHOOT_V:g} V.",
                default="the end-of-discharge voltage of the chemistry",
            ),
        ]
        | UnsetType
    ) = UNSET
    longest_gap_s: Annotated[
        float,
        quantity(
            "s",
            0.001,
            86400,
            "Longest time allowed between two rows. A longer one is refused as a gap.",
            default_from="percell's own choice",
        ),
    ] = 60.0
    step_current_a: (
        Annotated[
            float,
            quantity(
                "A",
                0.01,
                1000,
                "Smallest change of the current that counts as a step.",
                default="a tenth of the highest",
            ),
        ]
        | UnsetType
    ) = UNSET
    settle_time_s: Annotated[
        float,
        quantity(
            "s",
            0,
            60,
            "Time between a step and the reading of the voltage.",
            default_from="second load of 1 s, IEC 61960-3 (secondary copy)",
        ),
    ] = 1.0
    needed_repeats: Annotated[
        float,
        whole(
            2,
            MOST_LOGS,
            "Number of different logs at one current that a rating needs.",
            default_from=COMMON_PRACTICE,
        ),
    ] = 2.0
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    log_start: Annotated[
        LogStart,
        choice(
            "State of the cells at the start. `as_logged`: judged by the voltage at rest before the load. `full`: "
            "only for fully charged cells, if a log has no rest or the chemistry a flat voltage.",
            default_from="the log itself must show it",
        ),
    ] = LogStart.AS_LOGGED

    @property
    def lowest_v(self) -> float:
        """Lowest voltage allowed: nothing is proved below the end of discharge of the chemistry."""
        given_v, end_v = self.stop_voltage_v, VOLTAGES[self.chemistry].end_v
        return end_v if given_v is UNSET else max(given_v, end_v)

    @property
    def kept_at(self) -> tuple[float, float]:
        """Highest temperature and lowest voltage that keep the limits, floating-point noise included."""
        stop_c = self.stop_temperature_c
        return stop_c + NOISE * abs(stop_c), self.lowest_v * (1 - NOISE)

    @property
    def charged_v(self) -> float:
        """Voltage of a charged cell."""
        given_v = self.cell_charged_voltage_v
        return VOLTAGES[self.chemistry].charged_v if given_v is UNSET else given_v

    @property
    def near_empty_v(self) -> float:
        """Voltage without sag at or below which a cell counts as nearly empty."""
        return VOLTAGES[self.chemistry].nominal_v - NEAR_EMPTY_V


class DischargeLogStep(Struct, frozen=True, gc=False):
    """One step of the current."""

    time_s: Annotated[float, figure("s", "Time of the step, from the start of the log.")]
    current_before_a: Annotated[float, figure("A", "Current before the step.")]
    current_after_a: Annotated[float, figure("A", "Current after the step.")]
    cell_resistance_ohm: Annotated[float, figure("Ω", "Internal d.c. resistance from this step.")]
    delivered_ratio: Annotated[
        float, figure("1", "Part of the charge of the log that was delivered before the step.")
    ]
    read_after_s: Annotated[
        float, figure("s", "Time from the last row before the step to the row that was read.")
    ]
    counts: Annotated[
        bool,
        Meta(
            description="Whether the resistance of the log uses this step. It must lead to a load and be read within "
            f"{current_steps.LATEST_READING_S:g} s, near half of the charge ({current_steps.NEAR_HALF_FROM:g} to "
            f"{current_steps.NEAR_HALF_TO:g}) or else before."
        ),
    ]


class DischargeCurvePoint(Struct, frozen=True, gc=False):
    """A row of a log, from the first loaded one to the last."""

    delivered_charge_ah: Annotated[
        float, figure("Ah", "Charge delivered since the first loaded row.")
    ]
    voltage_v: Annotated[float, figure("V", "Voltage.")]


class DischargeLogFigures(Struct, frozen=True, kw_only=True):
    """Figures of one log."""

    label: Annotated[str, text("Label of the log.")]
    rows: Annotated[int, figure("1", "Number of rows of the log.")]
    read_as: Annotated[
        LogReading | UnsetType,
        Meta(description="How the log was read from a file, if it was. Check it."),
    ] = UNSET
    test_current_a: Annotated[
        float,
        figure(
            "A",
            "Current of the test, to 0.1 A, below 2 A to 0.01 A. It is the lowest mean over a twentieth of the time "
            "with more than half of the highest current. Logs within "
            f"{rating_trials.SAME_CURRENT_PART:.0%} are repeats.",
        ),
    ]
    flowing_ratio: Annotated[
        float,
        figure(
            "1",
            f"Part of the time under load in which {discharge_log.FLOWING_PART:g} or more of the mean current flows.",
        ),
    ]
    duration_s: Annotated[float, figure("s", "Time from the first row to the last.")]
    delivered_charge_ah: Annotated[float, figure("Ah", "Charge delivered.")]
    delivered_energy_wh: Annotated[float, figure("Wh", "Energy delivered.")]
    mean_voltage_v: Annotated[float, figure("V", "Mean voltage: energy divided by charge.")]
    mean_current_a: Annotated[float, figure("A", "Mean current: charge divided by time.")]
    highest_current_a: Annotated[float, figure("A", "Highest current.")]
    start_voltage_v: Annotated[float, figure("V", "Voltage of the first row.")]
    start_open_circuit_voltage_v: Annotated[
        float,
        figure(
            "V",
            "Voltage at rest before the load. If the log begins under load: voltage of the first loaded row, plus "
            "its current times the lowest resistance of the logs, if known.",
        ),
    ]
    begins_under_load: Annotated[
        bool, Meta(description="Whether the log has no rest before the load.")
    ]
    rest_current_a: Annotated[
        float | UnsetType,
        figure(
            "A",
            "Current that the ammeter shows at rest, if the log has a rest. A negative one counts as no current.",
        ),
    ] = UNSET
    lowest_voltage_v: Annotated[float, figure("V", "Lowest voltage.")]
    lowest_held_voltage_v: Annotated[
        float,
        figure(
            "V",
            f"Lowest voltage that is compared with the limit. The last loaded row counts {OVERSHOOT_V:g} V higher, "
            "or by its fall in the last second.",
        ),
    ]
    end_voltage_v: Annotated[float, figure("V", "Voltage of the last row.")]
    end_voltage_without_sag_v: Annotated[
        float,
        figure(
            "V",
            "Voltage of the last loaded row plus its current times the highest resistance of the logs. If none is "
            "known, the whole drop from a full cell to the first loaded row counts as sag.",
        ),
    ]
    start_temperature_c: Annotated[
        float | UnsetType, figure("°C", "Temperature of the first row, if it was logged.")
    ] = UNSET
    peak_temperature_c: Annotated[
        float | UnsetType, figure("°C", "Highest temperature, if it was logged.")
    ] = UNSET
    peak_time_s: Annotated[
        float | UnsetType, figure("s", "Time of the highest temperature, from the start.")
    ] = UNSET
    judged_peak_temperature_c: Annotated[
        float | UnsetType,
        figure(
            "°C",
            f"Highest temperature that is compared with the limit. A start below {AMBIENT_C:g} °C adds its "
            "difference, because the cell would end that much hotter in such air.",
        ),
    ] = UNSET
    cell_resistance_ohm: Annotated[
        float | UnsetType,
        figure(
            "Ω", "Internal d.c. resistance, the median of the steps that count, if there are any."
        ),
    ] = UNSET
    cell_resistance_lowest_ohm: Annotated[
        float | UnsetType, figure("Ω", "Lowest resistance of the steps that count.")
    ] = UNSET
    cell_resistance_highest_ohm: Annotated[
        float | UnsetType, figure("Ω", "Highest resistance of the steps that count.")
    ] = UNSET
    steps_found: Annotated[int, figure("1", "Number of steps that show a resistance.")]
    steps: Annotated[list[DischargeLogStep], Meta(description=f"The first {MOST_STEPS} steps.")]
    curve: Annotated[
        list[DischargeCurvePoint],
        Meta(
            description=f"Voltage by delivered charge under load, up to {MOST_POINTS} rows of the log."
        ),
    ]
    kept_limits: Annotated[
        bool | UnsetType,
        Meta(
            description="Whether the log kept both limits. Absent if it has no temperature and kept the voltage limit."
        ),
    ] = UNSET
    missing_for_rating: Annotated[
        list[RatingNeed],
        Meta(description="What the log still needs, beyond its limits, to prove a rating."),
    ]
    same_as_log_number: Annotated[
        int | UnsetType,
        figure("1", "Earlier log of the same discharge, counted from 1. The two count as one."),
    ] = UNSET


class LogColumns(NamedTuple):
    """A log as arrays."""

    label: str
    time_s: Floats
    voltage_v: Floats
    current_a: Floats
    temperature_c: Floats | None
    read_as: LogReading | None = None

    @property
    def measured(self) -> dict[str, Any]:
        """Return the columns by name, as the formulas take them."""
        return {name: getattr(self, name) for name in MEASURED}


@cache
def bounds_of(column: str) -> tuple[float, float]:
    """Return the bounds of each number of a column."""
    hint = get_type_hints(DischargeLog, include_extras=True)[column]
    while not any(isinstance(part, Meta) and part.ge is not None for part in get_args(hint)):
        hint = get_args(hint)[0]
    meta = next(part for part in get_args(hint) if isinstance(part, Meta))
    return meta.ge, meta.le  # type: ignore[return-value] # every quantity has both


def faults_of(columns: LogColumns, limits: DischargeLimits) -> list[log_faults.LogFault]:
    """Return the faults of a log."""
    return log_faults.faults(
        **columns.measured, longest_gap_s=limits.longest_gap_s, most=MOST_FAULTS
    )
