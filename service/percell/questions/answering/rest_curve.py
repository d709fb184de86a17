"""The rest curve of a chemistry."""

from percell.physics.curves import PUBLISHED, Curve, published_curve, soc_at_rest
from percell.physics.measured_cells import emptying_ratio
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
            f"No published curve stands for {VOLTAGES[chemistry].name}. There are curves for "
            f"{', '.join(PUBLISHED)}.",
        )
    return published_curve(chemistry=chemistry.value)


_EMPTIER_V = 0.25


def emptying_at_rest(chemistry: Chemistry, rest_v: Number) -> Number:
    """Return the resistance of a cell that rests at a voltage over that at half charge.

    Without a published curve a cell is read on that of nickel manganese cobalt, a quarter of a volt lower: cells of
    cobalt or manganese alone are emptier at the same voltage (from memory, unconfirmed).
    """
    if chemistry.value in PUBLISHED:
        curve = published_curve(chemistry=chemistry.value)
    else:
        curve = published_curve(chemistry=Chemistry.NMC.value)
        rest_v = rest_v - _EMPTIER_V
    soc = soc_at_rest(curve=curve, open_circuit_voltage_v=rest_v)
    return emptying_ratio(state_of_charge=soc)


def borrowed(curve: Curve) -> Finding:
    """Return the finding that the curve is another cell's."""
    rough = f" {curve.note}" if curve.rough else ""
    return finding(
        rules.CURVE_BORROWED,
        f"The state of charge was read on the curve of {curve.name} ({curve.source}).{rough}",
    )
