"""The rest curve of a chemistry."""

from percell.physics.curves import PUBLISHED, Curve, published_curve
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


def borrowed(curve: Curve) -> Finding:
    """Return the finding that the curve is another cell's."""
    rough = f" {curve.note}" if curve.rough else ""
    return finding(
        rules.CURVE_BORROWED,
        f"The state of charge was read on the curve of {curve.name} ({curve.source}).{rough}",
    )
