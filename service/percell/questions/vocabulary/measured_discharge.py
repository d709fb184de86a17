"""One measured discharge of the caller's cell, which then stands for how it runs."""

from typing import Annotated

import numpy as np
from msgspec import Meta, Struct

from percell.physics.curves import Curve, own_curve
from percell.physics.measured_cells import lasting_loss_v
from percell.physics.meter import NOISE
from percell.physics.types import Number
from percell.questions.vocabulary.fields import quantity
from percell.questions.vocabulary.refusal import Refused

FIELD = "measured_discharge"
FEWEST_POINTS, MOST_POINTS = 10, 500
# Times the capacity per hour: a discharge slower than this does not show what a cell loses of its charge to a load of
# an hour or less. Measured cells lost 1 to 8 % of it.
SLOW_RATE = 0.4


def _points(meaning: str) -> Meta:
    return Meta(min_length=FEWEST_POINTS, max_length=MOST_POINTS, description=meaning)


class MeasuredDischarge(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Discharge of one cell at constant current, from full to its end, as `discharge-test` returns it."""

    current_a: Annotated[float, quantity("A", 0.01, 200, "Constant current of the discharge.")]
    charge_ah: Annotated[
        list[Annotated[float, quantity("Ah", 0, 100, "Charge delivered so far.")]],
        _points("Charge delivered at each point, rising from 0."),
    ]
    voltage_v: Annotated[
        list[Annotated[float, quantity("V", 0.5, 5, "Voltage of the cell under load.")]],
        _points(
            "Voltage of the cell under load at each point, falling from the first to the last."
        ),
    ]


MeasuredDischargeField = Annotated[
    MeasuredDischarge,
    Meta(
        description=(
            "Discharge of your own cell, used instead of the curve of its chemistry. Give "
            "`cell_resistance_ohm` of the same cell with it. Best is a current of 0.5 to 1 times the capacity "
            "per hour, for loads of up to three times that current."
        )
    ),
]


def charge_of(measured: MeasuredDischarge) -> float:
    """Return the charge that the cell delivered. [Ah]"""
    return measured.charge_ah[-1]


def is_slow(measured: MeasuredDischarge) -> bool:
    """Whether the discharge was slower than those whose charge holds for a load."""
    return measured.current_a < SLOW_RATE * charge_of(measured) * (1 - NOISE)


def curve_of_measured(
    measured: MeasuredDischarge, *, resistance_ohm: Number, full_v: float
) -> Curve:
    """Return the curve from which any load sags: the measured one, made good by what its own current lost.

    Args:
        measured: The discharge.
        resistance_ohm: Resistance of the cell after 10 s, low rather than high: it lifts the curve.
        full_v: Voltage above which the cell cannot rest, and is not lifted.

    Raises:
        Refused: The two lists differ in length, the charge does not rise from 0, or the voltage does not fall.
    """
    charge_ah, voltage_v = np.array(measured.charge_ah), np.array(measured.voltage_v)
    if charge_ah.size != voltage_v.size:
        raise Refused(
            f"{FIELD}.voltage_v",
            (
                f"There are {voltage_v.size} voltages for {charge_ah.size} charges. Give one voltage for each "
                "charge."
            ),
        )
    if charge_ah[0] != 0.0:
        raise Refused(f"{FIELD}.charge_ah", "The first charge must be 0, at the start of the load.")
    if np.any(np.diff(charge_ah) <= 0.0):
        raise Refused(f"{FIELD}.charge_ah", "The charges must rise.")
    if voltage_v[-1] >= voltage_v[0]:
        raise Refused(
            f"{FIELD}.voltage_v",
            "The voltage must fall while current flows. This log shows no discharge.",
        )
    # a cell that warms itself may rise by millivolts on its way: the lower voltage is the careful one
    falling_v = np.minimum.accumulate(voltage_v)
    soc = 1.0 - charge_ah / charge_ah[-1]
    curve = own_curve(soc=soc[::-1], ocv_v=falling_v[::-1])
    lift_v = lasting_loss_v(current_a=measured.current_a, resistance_ohm=resistance_ohm)
    return curve._replace(
        highest_v=max(full_v, float(voltage_v[0])),
        name="own discharge",
        source=f"the caller's own discharge at {measured.current_a:g} A",
        lift_v=lift_v,
    )
