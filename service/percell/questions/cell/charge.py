"""The charge of equal cells, as it is asked: with what current, to what voltage, and from where."""

from enum import StrEnum
from typing import Annotated, ClassVar

from msgspec import UNSET, UnsetType

from percell.physics import charging as formulas
from percell.physics.curves import HIGHEST_ABOVE_FULL_V, soc_at_rest
from percell.questions.answering.rest_curve import curve_of
from percell.questions.unequal.charge_limit import (
    CellChargeLimitA,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import OwnResistance
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import choice, quantity
from percell.questions.vocabulary.layout import Layout, wiring
from percell.questions.vocabulary.presence import OneOf, Presence
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.sharing import Sharing, counted_cells
from percell.questions.vocabulary.wording import given

# current at which a charge ends, over capacity, per hour
END_RATE = 0.05


class ChargedWhere(StrEnum):
    """Place where the cells are charged."""

    IN_DEVICE = "in_device"
    IN_DEVICE_BALANCED = "in_device_balanced"
    INDIVIDUALLY = "individually"


class ChargingAllowed(StrEnum):
    """Whether the cells may be charged."""

    NO = "no"
    IF_MANUFACTURER_ALLOWS = "if_manufacturer_allows"
    EACH_CELL_ALONE = "each_cell_alone"


class Charging(OwnResistance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Equal cells in a layout, and how they are charged."""

    presence: ClassVar[tuple[Presence, ...]] = (
        OneOf(
            ("charge_current_a", "charge_rate"),
            "Give charge_current_a or charge_rate, not both.",
            needed=False,
        ),
        OneOf(
            ("state_of_charge", "open_circuit_voltage_v"),
            "Give state_of_charge or open_circuit_voltage_v, not both.",
            needed=False,
        ),
    )

    layout: Layout
    cell_capacity_ah: fields.CellCapacityAh
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET
    charge_current_a: (
        Annotated[
            float,
            quantity(
                "A",
                0.01,
                200,
                "Constant charge current of one cell, if shared evenly.",
                default=(
                    "the current at which the worst-case cell has half its capacity per hour, or its charge limit if "
                    "that is lower"
                ),
            ),
        ]
        | UnsetType
    ) = UNSET
    charge_rate: (
        Annotated[
            float,
            quantity(
                "1/h",
                0.02,
                20,
                (
                    "Charge current divided by the capacity, instead of `charge_current_a`: 0.5 is half the capacity "
                    "per hour."
                ),
            ),
        ]
        | UnsetType
    ) = UNSET
    end_charge_current_a: (
        Annotated[
            float,
            quantity(
                "A",
                0.001,
                200,
                "Current of one cell at which the charge ends.",
                default=f"{END_RATE:g} times the capacity per hour, or the charge current if that is lower",
            ),
        ]
        | UnsetType
    ) = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    state_of_charge: fields.StartCharge | UnsetType = UNSET
    open_circuit_voltage_v: fields.StartOpenCircuitVoltageV | UnsetType = UNSET
    cell_temperature_c: fields.ChargingTemperatureC | UnsetType = UNSET
    charged_where: Annotated[
        ChargedWhere,
        choice(
            (
                "Where the cells are charged. `in_device`: by a charger that monitors only the pack's total "
                "voltage. `in_device_balanced`: by a charger that monitors and balances each cell or parallel "
                "group. `individually`: each cell alone, in a charger made for it."
            ),
            default_from="the worst case, " + fields.OUR_DEFAULT,
        ),
    ] = ChargedWhere.IN_DEVICE


def allowed(charged: ChargedWhere, *, series: int) -> ChargingAllowed:
    """Return whether cells may be charged in that place. Common practice, no published source."""
    if charged == ChargedWhere.INDIVIDUALLY:
        return ChargingAllowed.EACH_CELL_ALONE
    if charged == ChargedWhere.IN_DEVICE and series > 1:
        return ChargingAllowed.NO
    return ChargingAllowed.IF_MANUFACTURER_ALLOWS


def limit_a(asked: Charging) -> float:
    """Return the charge limit of a cell: the given one, or the usual one."""
    given_a = asked.cell_charge_limit_a
    return usual_a(asked) if given_a is UNSET else given_a


def usual_a(asked: Charging) -> float:
    """Return the usual charge current of a cell. [A]"""
    return float(formulas.usual_charge_current_a(capacity_ah=asked.cell_capacity_ah))


def cells_at_once(asked: Charging) -> int:
    """Return how many cells are charged side by side."""
    alone = asked.charged_where == ChargedWhere.INDIVIDUALLY
    return 1 if alone else int(wiring(asked.layout).parallel)


def above_even(group: int) -> float:
    """Return the worst-case cell's part of a charge current over an even part."""
    return group / float(counted_cells(Sharing.CAREFUL, group))


def current_a(asked: Charging) -> float:
    """Return the current into each cell if shared evenly. [A]"""
    if asked.charge_current_a is not UNSET:
        return asked.charge_current_a
    if asked.charge_rate is not UNSET:
        return asked.charge_rate * asked.cell_capacity_ah
    return min(usual_a(asked), limit_a(asked)) / above_even(cells_at_once(asked))


def end_current_a(asked: Charging) -> float:
    """Return the current at which the charge ends. [A]"""
    # a current at or below the end current ends the charge when the voltage is reached
    usual_a = min(END_RATE * asked.cell_capacity_ah, current_a(asked))
    return usual_a if asked.end_charge_current_a is UNSET else asked.end_charge_current_a


def charged_v(asked: Charging) -> float:
    """Return the voltage to which a cell is charged. [V]"""
    given_v = asked.cell_charged_voltage_v
    return VOLTAGES[Chemistry(asked.chemistry)].charged_v if given_v is UNSET else given_v


def start_soc(asked: Charging) -> float:
    """Return the state of charge at the start."""
    if asked.open_circuit_voltage_v is UNSET:
        return 0.0 if asked.state_of_charge is UNSET else asked.state_of_charge
    curve = curve_of(Chemistry(asked.chemistry))
    return float(soc_at_rest(curve=curve, open_circuit_voltage_v=asked.open_circuit_voltage_v))


def refuse_contradictions(asked: Charging) -> None:
    if end_current_a(asked) > current_a(asked):
        raise Refused(
            "end_charge_current_a",
            f"The end current is above the charge current of {given(current_a(asked))} A.",
        )
    end_v = VOLTAGES[asked.chemistry].end_v
    if charged_v(asked) <= end_v:
        raise Refused(
            "cell_charged_voltage_v",
            (
                f"The charged voltage of {given(charged_v(asked))} V must be above {end_v:g} V, the end-of-discharge "
                "voltage of this chemistry."
            ),
        )
    highest_v = float(curve_of(asked.chemistry).ocv_v[-1]) + HIGHEST_ABOVE_FULL_V
    if charged_v(asked) >= highest_v:
        raise Refused(
            "cell_charged_voltage_v",
            f"No cell of this chemistry is charged to {given(charged_v(asked))} V, and its curve ends below "
            f"{highest_v:g} V.",
        )
