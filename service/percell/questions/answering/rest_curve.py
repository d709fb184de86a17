"""The rest curve of a chemistry."""

from functools import cache

from percell.physics.curves import PUBLISHED, Curve, published_curve, soc_at_rest
from percell.physics.measured_cells import (
    emptier_in_the_cold_v,
    emptying_ratio,
    emptying_ratio_at_rest,
)
from percell.physics.types import Number
from percell.questions.answering import rules
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, finding


def curve_of(chemistry: Chemistry) -> Curve:
    """Return the published curve of a chemistry. Refuse a chemistry without one."""
    if chemistry.value not in PUBLISHED:
        raise Refused(
            "chemistry",
            f"percell has no published curve for {VOLTAGES[chemistry].name}. It has curves for "
            f"{', '.join(PUBLISHED)}.",
        )
    return published_curve(chemistry=chemistry.value)


# Cells of cobalt or manganese alone are emptier at the same voltage (from memory, unconfirmed).
_NICKEL_RICH = (Chemistry.NMC, Chemistry.NCA)
_EMPTIER_V = 0.25


@cache
def emptiest_curve(chemistry: Chemistry) -> Curve:
    """Return a curve on which a cell is no fuller than it may be.

    A chemistry without a published curve has that of nickel manganese cobalt, a quarter of a volt higher.
    """
    if chemistry.value in PUBLISHED:
        return published_curve(chemistry=chemistry.value)
    other = published_curve(chemistry=Chemistry.NMC.value)
    return other._replace(ocv_v=other.ocv_v + _EMPTIER_V)


def emptying_at_rest(chemistry: Chemistry, rest_v: Number, at_c: Number) -> Number:
    """Return the resistance of a cell that rests at a voltage over that at half charge.

    A measured nickel-rich cell was emptier at the same voltage than the published curve says: such cells are read by
    the voltage itself. A cold cell is read as one at a lower voltage.
    """
    rest_v = rest_v - emptier_in_the_cold_v(temperature_c=at_c)
    if chemistry.value in PUBLISHED and chemistry not in _NICKEL_RICH:
        soc = soc_at_rest(curve=emptiest_curve(chemistry), open_circuit_voltage_v=rest_v)
        return emptying_ratio(state_of_charge=soc)
    like_v = rest_v if chemistry in _NICKEL_RICH else rest_v - _EMPTIER_V
    return emptying_ratio_at_rest(open_circuit_voltage_v=like_v)


def borrowed(curve: Curve) -> Finding:
    """Return the finding that the curve is another cell's."""
    rough = f" {curve.note}" if curve.rough else ""
    return finding(
        rules.CURVE_BORROWED,
        f"The state of charge was read from the curve of {curve.name} ({curve.source}).{rough}",
    )
