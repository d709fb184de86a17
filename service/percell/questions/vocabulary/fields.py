"""The quantities that questions take, each declared once: meaning, unit, bounds, default's origin.

Every number has two closed physical bounds, which keep every answer finite.
"""

import re
from typing import Annotated, Any

from msgspec import Meta

from percell.physics.measured_cells import SOONEST_S, low_resistance_ohm

COMMON_PRACTICE = "common practice, no published source"
OUR_DEFAULT = "percell's own default, not measured; give your own"
NOTHING_GIVEN = "assumed to be zero"
FROM_CHEMISTRY = "by chemistry"
BY_CHEMISTRY = "that of the chemistry"
# to Python, `$` alone also matches before a line break at the end; the document does without, as few know it
NO_LINE_BREAK = r"(?!\n)"
# what stands before the default of a field at the end of its description
DEFAULT = "Default:"


# the end of the first sentence: not the points of "d.c. resistance"
_SENTENCE_END = re.compile(r"\.(?=$| [A-Z`])")


def _with_unit(meaning: str, unit: str) -> str:
    """Return a description with the unit at the end of its first sentence, the noun phrase.

    >>> _with_unit("Internal d.c. resistance. A high one is meant.", "Ω")
    'Internal d.c. resistance [Ω]. A high one is meant.'
    """
    return meaning if unit == "1" else _SENTENCE_END.sub(f" [{unit}].", meaning, count=1)


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


def extra_of(hint: Any) -> dict[str, Any]:
    """Return what is known of a field beside its bounds, given its annotation: a type, or one beside Unset."""
    for part in (hint, *getattr(hint, "__args__", ())):
        for meta in getattr(part, "__metadata__", ()):
            if isinstance(meta, Meta) and meta.extra:
                return meta.extra
    return {}


# for questions that are not told the capacity of a cell
USUAL_CAPACITY_AH = 3.0
# the d.c. resistance of a cell of that capacity that nobody measured, where high currents are careful
LOW_CELL_RESISTANCE_OHM = low_resistance_ohm(capacity_ah=USUAL_CAPACITY_AH, rating_a=1.0)
_LOW_RESISTANCE_FROM = (
    "low for a cell of 3 Ah, after 0.1 s of load, from measured cells, because a high current is the "
    "worst case here; give your own"
)

# the cell
HIGHEST_RATING_A = 200.0
CellRatingA = Annotated[
    float,
    quantity(
        "A",
        0.1,
        HIGHEST_RATING_A,
        "Continuous discharge rating of one cell, from the manufacturer.",
    ),
]
CellCapacityAh = Annotated[float, quantity("Ah", 0.01, 100, "Capacity of one cell.")]
CellResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        1,
        "Internal d.c. resistance of one cell at 25 °C, in its present state.",
        default=(
            "high, from measured cells: 0.12 Ω·Ah divided by the capacity, or by 3 Ah without one; a high "
            "rating lowers it, but never below 0.09 Ω·Ah divided by the capacity"
        ),
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
        (
            "Time from the step of the current to the reading of the resistance. A later reading is higher: "
            "after 10 s it is about 1.25 times the reading after 1 s. More than 10 s counts as 10 s."
        ),
        default_from=(
            "assumed to be read after 10 s; if it was read sooner, give the time, because the sag is then "
            "larger"
        ),
    ),
]
LoadedCellTemperatureC = Annotated[
    float,
    quantity(
        "°C",
        -20,
        60,
        (
            "Temperature of the cell when the load begins. A cold cell has several times the resistance and "
            "gives less charge. Above 40 °C counts as 40 °C."
        ),
        default_from="room air; a cold cell gives less charge and sags more",
    ),
]
ChargingTemperatureC = Annotated[
    float,
    quantity(
        "°C",
        -40,
        100,
        (
            "Temperature of the cells while they charge. It is compared with the limits for charging, and "
            "changes the resistance."
        ),
        default="none; the temperature is then not judged, and the resistance is that at 25 °C",
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
        default_from="assumed to be zero, because it would lower the currents between cells",
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
        "Internal d.c. resistance of one cell after 0.1 s of load.",
        default="low, from measured cells: 0.06 Ω·Ah divided by the capacity",
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
        "Full-charge voltage of one cell.",
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
        "Voltage of one cell at which the load stops. If it is not given, a running time uses the higher cut-off that "
        "devices often have.",
        default_from=FROM_CHEMISTRY,
    ),
]
CellChargedVoltageToleranceV = Annotated[
    float,
    quantity(
        "V",
        0,
        0.2,
        "Tolerance of the charger: how far above the charged voltage it can stop.",
        default_from=NOTHING_GIVEN,
    ),
]
CellCutoffVoltageToleranceV = Annotated[
    float,
    quantity(
        "V",
        0,
        0.2,
        "Tolerance of the cut-off: how far below its voltage the load can stop.",
        default_from=NOTHING_GIVEN,
    ),
]

CellCurrentA = Annotated[
    float,
    quantity(
        "A", 0, 200, "Current of one cell, out of it or into it. Its direction does not matter."
    ),
]
CellTemperatureC = Annotated[float, quantity("°C", -40, 100, "Temperature of the cells.")]
MeasuredResistanceOhm = Annotated[
    float, quantity("Ω", 0, 1, "Internal d.c. resistance of the cell, measured now.")
]
ReferenceResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0.0001,
        1,
        "Internal d.c. resistance when first measured, with the same method and loads.",
    ),
]
# a name stands in sentences that people paste: a line of its own, or text set backwards, would read as the answer's
NOT_IN_NAMES = r"\x00-\x1f\x7f-\x9f" + "\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069"
NAME_LENGTH = 40
Label = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=NAME_LENGTH,
        pattern=f"^[^{NOT_IN_NAMES}]+$" + NO_LINE_BREAK,
        description="Name to show in the answer, in one line.",
    ),
]

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
        (
            "Coil resistance that a meter shows. The meter's errors count. Describe the meter, or an ordinary "
            "one is assumed."
        ),
    ),
]
CoilResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0.001,
        100,
        (
            "True coil resistance, for example calculated from wire. A reading of a meter is not a true "
            "resistance."
        ),
    ),
]
CoilResistanceToleranceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        10,
        "Tolerance of the coil itself, plus or minus.",
        default_from=NOTHING_GIVEN,
    ),
]
MeterAccuracy = Annotated[
    float,
    quantity(
        "1",
        0,
        0.2,
        "Accuracy of the meter, as a part of the reading.",
        default_from=_ORDINARY_METER,
    ),
]
MeterCounts = Annotated[
    float,
    whole(
        0,
        100,
        "Accuracy of the meter, in counts of the last digit. Half a digit is always added.",
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
        "Resistance of the meter's leads, if the reading includes it.",
        default_from="assumed that the leads were nulled, or that the meter uses four wires",
    ),
]
DeviceResistanceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        1,
        "Resistance of switch, wires and connectors between pack and coil.",
        default_from="assumed to be zero, because it would lower the current",
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
        "Tolerance of the output power: how far above the set power the converter can go.",
        default_from=NOTHING_GIVEN,
    ),
]
Efficiency = Annotated[
    float,
    quantity(
        "1",
        0.3,
        1,
        "Output power of the converter divided by its input power.",
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
        "Tolerance of the efficiency: how far below its value the converter can be.",
        default_from=NOTHING_GIVEN,
    ),
]
IdlePowerW = Annotated[
    float,
    quantity(
        "W",
        0,
        50,
        "Power that the converter uses itself while it works.",
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
        "V",
        0,
        5,
        "Voltage of one cell at rest at the start. Give it instead of the state of charge.",
    ),
]

CellResistanceToleranceOhm = Annotated[
    float,
    quantity(
        "Ω",
        0,
        0.5,
        "Tolerance of the internal resistance: how far above its value it can be.",
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
        "State of health: capacity of the cells now, divided by the capacity printed on them.",
        default_from="assumed new, with the printed capacity; used cells hold less, so measure yours",
    ),
]
StateOfCharge = Annotated[
    float,
    quantity(
        "1",
        0.01,
        1,
        "State of charge at the start, at rest: 1 is full.",
        default_from="assumed full",
    ),
]
DrawLengthS = Annotated[float, quantity("s", 0.1, 86400, "Length of one draw under load.")]
PauseS = Annotated[
    float, quantity("s", 0, 86400, "Time from the end of one draw to the start of the next.")
]
StandbyCurrentA = Annotated[
    float,
    quantity(
        "A",
        0,
        1,
        "Current that the device draws from the pack during a pause.",
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
