"""Which curve and sag stand for a cell whose running time is asked for."""

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from msgspec import UNSET

from percell.physics import measured_cells
from percell.physics.chemistries import CHEMISTRIES
from percell.physics.curves import Curve, published_curve, simulated_curve
from percell.physics.meter import NOISE
from percell.physics.types import Number, as_given
from percell.questions.vocabulary.cell_resistance import (
    at_usual_temperature,
    lasting_ohm,
    temperature_c,
)
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry
from percell.questions.vocabulary.measured_discharge import (
    FIELD,
    charge_of,
    curve_of_measured,
    is_slow,
)
from percell.questions.vocabulary.refusal import Refused

if TYPE_CHECKING:
    from percell.questions.loads.pack_and_load import PackAndLoad

# A cell rated for this many times its capacity per hour, or less, is made for its charge and not for its current: no
# such cell was measured above its rating, and a simulated one fails there early. Common practice, no published source.
ENERGY_RATE = 2.0
# from so many times on it is surely made for its current
SURE_RATE = 3.0
# No round cell up to the size 21700 that is made for its current holds more. Common practice, no published source.
ENERGY_ABOVE_AH = 4.5
# a printed capacity over the charge of a discharge: a tenth below it by the label, or twice it by age
_FITS = (0.85, 2.0)
# the chemistries whose running times can be asked for without a discharge of the caller's own
WITH_CURVE = tuple(key for key, entry in CHEMISTRIES.items() if entry.time_curve)


class CellModel(NamedTuple):
    """The curve and sag of a cell, and its charge when full and new at 25 °C."""

    curve: Curve
    charge_ah: Number

    @property
    def is_simulated(self) -> bool:
        """Whether the cell sags as a simulated one, and not as measured ones."""
        return bool(self.curve.under_load)


def has_curve(asked: Any) -> bool:
    """Whether a curve stands for the cell."""
    return asked.measured_discharge is not UNSET or asked.chemistry.value in WITH_CURVE


def printed_ah(asked: "PackAndLoad") -> Any:
    """Return the capacity printed on the cell, a number or an array of a table. [Ah]"""
    # each question about a run has the field, but not all require it, so it is not in their common part
    return asked.cell_capacity_ah  # type: ignore[attr-defined]


def may_be_energy_cell(asked: "PackAndLoad") -> bool:
    """Whether neither rating nor capacity surely tells a cell made for its current from one made for its charge."""
    rating_a = getattr(asked, "cell_rating_a", UNSET)
    capacity_ah = printed_ah(asked)
    return (
        (rating_a is UNSET or rating_a < SURE_RATE * capacity_ah)
        and not is_energy_cell(asked)
        and asked.measured_discharge is UNSET
        and follows_measured_cells(asked)
    )


def is_energy_cell(asked: "PackAndLoad") -> "np.bool_ | bool":
    """Whether rating, or else capacity, says that the cell is made for its charge: one value, or an array in a table."""
    rating_a = getattr(asked, "cell_rating_a", UNSET)
    capacity_ah = printed_ah(asked)
    if rating_a is not UNSET:
        found: np.bool_ | bool = rating_a <= ENERGY_RATE * capacity_ah
        return found
    if asked.measured_discharge is not UNSET:
        return False
    above: np.bool_ | bool = capacity_ah > ENERGY_ABOVE_AH * (1 + NOISE)
    return above


def cell_model(asked: "PackAndLoad", *, energy_cell: bool) -> CellModel:
    """Return the curve and sag that stand for the cell.

    Raises:
        Refused: No curve stands for the chemistry, or the measured discharge contradicts something.
    """
    measured = asked.measured_discharge
    if measured is not UNSET and not energy_cell:
        charge_ah = charge_of(measured)
        _refuse_other_cell(asked, charge_ah)
        if is_slow(measured):
            charge_ah *= measured_cells.USABLE_CHARGE
        full_v = VOLTAGES[asked.chemistry].charged_v
        lift_ohm = at_usual_temperature(asked)
        if asked.cell_resistance_ohm is UNSET:
            # a high one would promise too much below the current of the discharge
            lift_ohm = measured_cells.LOW_PART * lift_ohm
        curve = curve_of_measured(measured, resistance_ohm=lift_ohm, full_v=full_v)
        return CellModel(curve, charge_ah)
    like = CHEMISTRIES[asked.chemistry.value].time_curve
    if like is None:
        raise Refused(
            "chemistry",
            (
                f"There is no published curve for {VOLTAGES[asked.chemistry].name}. There are curves for "
                f"{', '.join(WITH_CURVE)}. Choose one of these if it is the cell's chemistry, or give {FIELD}, a "
                "discharge of your own cell."
            ),
        )
    if not follows_measured_cells(asked):
        return CellModel(_simulated(asked, like), printed_ah(asked))
    usable_ah = measured_cells.USABLE_CHARGE * printed_ah(asked)
    curve = _simulated(asked, like) if energy_cell else published_curve(chemistry=like)
    return CellModel(curve, usable_ah)


# what a resistance after 1 s comes to after 10 s
_AFTER_ONE_SECOND = measured_cells.ten_second_resistance_ohm(resistance_ohm=1.0, after_s=1.0)


def _simulated(asked: "PackAndLoad", like: str) -> Curve:
    """Return the simulated curve; its sag was made with the resistance after 1 s, see ``sag_ohm``."""
    curve = simulated_curve(chemistry=like)
    own = asked.cell_resistance_ohm is not UNSET
    return curve._replace(heat_ratio=_AFTER_ONE_SECOND) if own else curve


def follows_measured_cells(asked: "PackAndLoad") -> bool:
    """Whether measured cells of this chemistry say how a cell runs that is made for its current."""
    return CHEMISTRIES[asked.chemistry.value].time_curve == Chemistry.NMC.value


def sag_ohm(asked: "PackAndLoad", model: CellModel) -> Number:
    """Return the resistance by which the cell sags: a simulated sag was made with that after 1 s."""
    ohm = lasting_ohm(asked)
    if not model.is_simulated or asked.cell_resistance_ohm is UNSET:
        return ohm
    return ohm / _AFTER_ONE_SECOND


def charge_now_ah(asked: "PackAndLoad", model: CellModel) -> Number:
    """Return the charge of the cell when full, with its age and in its cold. [Ah]"""
    usable = measured_cells.usable_at(temperature_c=temperature_c(asked))
    return as_given(model.charge_ah * asked.cell_health * usable, usable)


def _refuse_other_cell(asked: "PackAndLoad", charge_ah: float) -> None:
    """Refuse a discharge that cannot be one of a cell of that capacity."""
    low, high = (part * charge_ah for part in _FITS)
    capacity_ah = np.asarray(printed_ah(asked))
    if np.any((capacity_ah < low) | (capacity_ah > high)):
        raise Refused(
            FIELD,
            f"A discharge of {charge_ah:.3g} Ah does not fit a cell of the given capacity.",
        )
