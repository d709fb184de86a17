"""The quantities that questions take, each declared once: meaning, unit, bounds, default's origin.

Every number has two closed physical bounds, which keep every answer finite.
"""

from typing import Annotated

from msgspec import Meta

from percell.physics.measured_cells import SOONEST_S, low_resistance_ohm

COMMON_PRACTICE = "common practice, no published source"
OUR_DEFAULT = "percell's own default, not measured: give your own"
NOTHING_GIVEN = "nothing was given, so none is allowed for"
FROM_CHEMISTRY = "by chemistry"
BY_CHEMISTRY = "that of the chemistry"
# what stands before the default of a field at the end of its description
DEFAULT = "Default:"


def _with_unit(meaning: str, unit: str) -> str:
    return meaning if unit == "1" else f"{meaning} [{unit}]"


def _with_default(description: str, default: str) -> str:
    return f"{description} {DEFAULT} {default}." if default else description


def quantity(
    unit: str,
    low: float,
    high: float,
    meaning: str,
    *,
    default_from: str = OUR_DEFAULT,
    default: str = "",
) -> Meta:
    """Describe a number.

    Args:
        unit: Unit.
        low: Least value.
        high: Largest value.
        meaning: What it is.
        default_from: Origin of the default that a question gives it.
        default: The default in words, where it depends on something. One that does not is in the Struct, and the
            document says it from there.
    """
    by_chemistry = BY_CHEMISTRY if default_from == FROM_CHEMISTRY else ""
    return Meta(
        ge=low,
        le=high,
        description=_with_default(_with_unit(meaning, unit), default or by_chemistry),
        extra_json_schema={"x-unit": unit},
        extra={"unit": unit, "whole": False, "default_from": default_from},
    )


def whole(
    low: int, high: int, meaning: str, *, default_from: str = OUR_DEFAULT, default: str = ""
) -> Meta:
    """Describe a whole number. Its type is a float, because 2.0 is an integer in JSON Schema."""
    return Meta(
        ge=low,
        le=high,
        multiple_of=1,
        description=_with_default(meaning, default),
        extra_json_schema={"x-unit": "1"},
        extra={"unit": "1", "whole": True, "default_from": default_from},
    )


def choice(meaning: str, *, default_from: str = OUR_DEFAULT, default: str = "") -> Meta:
    """Describe a value from a fixed set."""
    return Meta(
        description=_with_default(meaning, default),
        extra={"unit": "", "whole": False, "default_from": default_from},
    )


# for questions that are not told the capacity of a cell
USUAL_CAPACITY_AH = 3.0
# the d.c. resistance of a cell of that capacity that nobody measured, where high currents are careful
LOW_CELL_RESISTANCE_OHM = low_resistance_ohm(capacity_ah=USUAL_CAPACITY_AH, rating_a=1.0)
_LOW_RESISTANCE_FROM = (
    "a low one for a cell of 3 Ah, as after 0.1 s of load, from measured cells; high currents are the careful side "
    "here: give your own"
)

# the cell
HIGHEST_RATING_A = 200.0
CellRatingA = Annotated[
    float,
    quantity(
        "A",
        0.1,
        HIGHEST_RATING_A,
        "Continuous discharge rating of one cell, as the manufacturer gives it.",
    ),
]
CellCapacityAh = Annotated[float, quantity("Ah", 0.01, 100, "Capacity of one cell.")]
CellResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        1,
        "Internal d.c. resistance of one cell at 25 °C, as it is now.",
        default="a high one from measured cells, 0.12 Ω·Ah over the capacity, which counts as 3 Ah where it is not known; "
        "a high rating lowers it, but never below 0.09 Ω·Ah over the capacity",
    ),
]
AFTER_S = 10.0
LATEST_S = 60.0
CellResistanceAfterS = Annotated[
    float,
    quantity(
        "s",
        SOONEST_S,
        LATEST_S,
        "Time from the step of the current to the reading of the resistance. The resistance grows with it: after 1 s it "
        "is about 0.8 of what it is after 10 s. More than 10 s counts as 10 s.",
        default_from="taken as read after 10 s; if it was read sooner, say so: the sag is larger then",
    ),
]
LoadedCellTemperatureC = Annotated[
    float,
    quantity(
        "°C",
        -20,
        60,
        "Temperature of the cell when the load begins. A cold cell has several times the resistance and less charge. "
        "Above 40 °C counts as 40 °C.",
        default_from="room air: a cell from the cold gives less and sags more",
    ),
]
ChargingTemperatureC = Annotated[
    float,
    quantity(
        "°C",
        -40,
        100,
        "Temperature of the cells while they charge, held against the limits of charging and counted in their "
        "resistance.",
        default="none; it is then not judged, and the resistance is that at 25 °C",
    ),
]
ContactResistanceOhm = Annotated[
    float,
    quantity("Ω", 0, 1, "Resistance of one cell's contacts in the holder."),
]
LowContactResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        1,
        "Resistance of one cell's contacts in the holder.",
        default_from="none is counted on: it would lower the currents between cells",
    ),
]
UnequalCellResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0.0001,
        1,
        "Internal d.c. resistance of one cell, above zero.",
    ),
]
FirstResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0.0001,
        1,
        "Internal d.c. resistance of one cell, as after 0.1 s of load.",
        default="a low one by its capacity, from measured cells: 0.06 Ω·Ah over the capacity",
    ),
]
LowCellResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0.0001,
        1,
        "Internal d.c. resistance of one cell, above zero.",
        default_from=_LOW_RESISTANCE_FROM,
    ),
]
CellOpenCircuitVoltageV = Annotated[
    float, quantity("V", 0, 5, "Open-circuit voltage of this cell, measured at rest.")
]
CellChargedVoltageV = Annotated[
    float,
    quantity(
        "V",
        1,
        5,
        "Voltage of one cell when charged.",
        default_from=FROM_CHEMISTRY,
    ),
]
CellNominalVoltageV = Annotated[
    float,
    quantity(
        "V",
        1,
        5,
        "Nominal voltage of one cell.",
        default_from=FROM_CHEMISTRY,
    ),
]
CellCutoffVoltageV = Annotated[
    float,
    quantity(
        "V",
        0.5,
        5,
        "Voltage of one cell at which the load stops.",
        default_from=FROM_CHEMISTRY,
    ),
]
CellChargedVoltageToleranceV = Annotated[
    float,
    quantity(
        "V",
        0,
        0.2,
        "How far above the charged voltage a charger may end.",
        default_from=NOTHING_GIVEN,
    ),
]
CellCutoffVoltageToleranceV = Annotated[
    float,
    quantity(
        "V",
        0,
        0.2,
        "How far below the cut-off voltage the load may really stop.",
        default_from=NOTHING_GIVEN,
    ),
]

CellCurrentA = Annotated[float, quantity("A", 0, 200, "Current of one cell, out of it or into it.")]
CellTemperatureC = Annotated[float, quantity("°C", -40, 100, "Temperature of the cells.")]
MeasuredResistanceOhm = Annotated[
    float, quantity("Ω", 0, 1, "Internal d.c. resistance of the cell as measured now.")
]
ReferenceResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0.0001,
        1,
        "Internal d.c. resistance when first measured, by the same method and loads.",
    ),
]
Label = Annotated[str, Meta(min_length=1, max_length=60, description="What to call it.")]

# the coil, and the meter that measured it
_ORDINARY_METER = "an ordinary meter, ±1 % and 3 counts, " + COMMON_PRACTICE
METER_ACCURACY = 0.01
METER_COUNTS = 3.0
CoilReadingOhm = Annotated[
    float,
    quantity(
        "Ω",
        0.001,
        100,
        "Coil resistance that a meter shows. The meter's errors count: describe it, or an ordinary one is "
        "assumed.",
    ),
]
CoilResistanceOhm = Annotated[
    float,
    quantity("Ω", 0.001, 100, "True coil resistance, as from wire; a reading is not one."),
]
CoilResistanceToleranceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        10,
        "How far the coil itself may lie from its value, plus or minus.",
        default_from=NOTHING_GIVEN,
    ),
]
MeterAccuracy = Annotated[
    float,
    quantity(
        "1",
        0,
        0.2,
        "Accuracy of the meter, part of the reading.",
        default_from=_ORDINARY_METER,
    ),
]
MeterCounts = Annotated[
    float,
    whole(
        0,
        100,
        "Accuracy of the meter, counts of the last digit. Half a digit more is always counted.",
        default_from=_ORDINARY_METER,
    ),
]
MeterResolutionOhm = Annotated[
    float,
    quantity(
        "Ω",
        0.0001,
        1,
        "Value of one count of the meter's last digit.",
        default_from="a display with two decimals, " + COMMON_PRACTICE,
    ),
]
LeadResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        5,
        "Resistance of the meter's leads, if the reading holds it.",
        default_from="the leads were nulled or the method has four wires",
    ),
]
DeviceResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        1,
        "Resistance of switch, wires and connector between pack and coil.",
        default_from="none is counted on: it would lower the current",
    ),
]

# the converter
OutputPowerW = Annotated[float, quantity("W", 0.1, 2000, "Power at the converter's output.")]
OutputPowerToleranceW = Annotated[
    float,
    quantity(
        "W",
        0,
        200,
        "How far above the set power the converter may really go.",
        default_from=NOTHING_GIVEN,
    ),
]
Efficiency = Annotated[
    float,
    quantity(
        "1",
        0.3,
        1,
        "Output power over input power of the converter.",
        default_from="the low end of what manufacturers of such converters claim, "
        + COMMON_PRACTICE,
    ),
]
EfficiencyTolerance = Annotated[
    float,
    quantity(
        "1",
        0,
        0.2,
        "How far below its efficiency the converter may be.",
        default_from=NOTHING_GIVEN,
    ),
]
IdlePowerW = Annotated[
    float,
    quantity(
        "W",
        0,
        50,
        "Power the converter needs for itself while it works.",
        default_from=NOTHING_GIVEN,
    ),
]

# a cell's charge
StartCharge = Annotated[
    float,
    quantity(
        "1",
        0,
        1,
        "State of charge at the start: 0 is empty, 1 is full.",
        default="the one that takes longest: 0 for a cell that is charged, 1 for one that is discharged",
    ),
]
StartOpenCircuitVoltageV = Annotated[
    float,
    quantity(
        "V", 0, 5, "Voltage of one cell at rest at the start, instead of its state of charge."
    ),
]

CellResistanceToleranceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        0.5,
        "How far above its value a cell's resistance may be.",
        default_from=NOTHING_GIVEN,
    ),
]

# a discharge
StateOfHealth = Annotated[
    float,
    quantity(
        "1",
        0.05,
        1,
        "Capacity of the cells as they are now, aged, over the capacity printed on them.",
        default_from="new cells that hold what is printed; used ones hold less: measure yours",
    ),
]
StateOfCharge = Annotated[
    float,
    quantity(
        "1",
        0.01,
        1,
        "State of charge at the start, rested.",
        default_from="a full pack",
    ),
]
DrawLengthS = Annotated[float, quantity("s", 0.1, 86400, "Length of one draw under load.")]
PauseS = Annotated[float, quantity("s", 0, 86400, "Time from the end of a draw to the next.")]
StandbyCurrentA = Annotated[
    float,
    quantity(
        "A",
        0,
        1,
        "Current that the device takes from the pack in a pause.",
        default_from=NOTHING_GIVEN,
    ),
]

# the fields that determine a pack's sag
SAG = frozenset(
    {
        "cell_resistance_ohm",
        "cell_resistance_after_s",
        "cell_resistance_tolerance_ohm",
        "cell_temperature_c",
        "cell_capacity_ah",
        "contact_resistance_ohm",
    }
)

# defaults that several questions share
CONTACT_RESISTANCE_OHM = 0.005
METER_RESOLUTION_OHM = 0.01
EFFICIENCY = 0.85
DRAW_LENGTH_S = 5.0
PAUSE_S = 30.0


def figure(unit: str, meaning: str) -> Meta:
    """Describe a number of an answer."""
    return Meta(description=_with_unit(meaning, unit), extra_json_schema={"x-unit": unit})


def text(meaning: str) -> Meta:
    """Describe a text of an answer."""
    return Meta(description=meaning)
