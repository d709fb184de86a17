"""Findings about the most power that a pack can give."""

from msgspec import structs

from percell.questions.answering import rules
from percell.questions.vocabulary.limits import Held, LimitSide, judged, unbounded
from percell.questions.vocabulary.rules import LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import apart, at_least, beside, shown

# part of the highest power of the pack; above it a little more sag makes the voltage collapse
NEAR_MOST_POWER = 0.9
# below this a resistance bounds no power that a question can ask for
_LEAST_OHM = 1e-12


def converter_power(pack_v: float, pack_ohm: float, input_power_w: float, which: str) -> Held:
    """Hold the power that a converter draws against nine tenths of the most that a pack gives."""
    if pack_ohm < _LEAST_OHM:
        return Held([unbounded(LimitName.AVAILABLE_POWER)], [])
    most_w = pack_v**2 / (4 * pack_ohm)
    limit = judged(
        LimitName.AVAILABLE_POWER, input_power_w, NEAR_MOST_POWER * most_w, "W", near=False
    )
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    drawn, most = apart(input_power_w, most_w)
    allowed = beside(NEAR_MOST_POWER * most_w, input_power_w)
    return Held(
        [limit],
        [
            finding(
                rules.NEAR_COLLAPSE,
                f"The converter would draw {drawn} W. Cells {which} supply at most {most} W at any current. Above "
                f"{allowed} W, nine tenths of that, the voltage is near collapse. Set less power, or use more cells.",
            )
        ],
    )


def coil_power(lowest_ohm: float, inner_ohm: float) -> Held:
    """Hold a coil against the pack's resistance: a lower one gets less power, at a higher current."""
    limit = judged(
        LimitName.AVAILABLE_POWER, lowest_ohm, inner_ohm, "Ω", bound=LimitSide.AT_LEAST, near=False
    )
    if lowest_ohm > inner_ohm:
        return Held([limit], [])
    return Held(
        [structs.replace(limit, verdict=Verdict.OVER)],
        [
            finding(
                rules.SHORT_CIRCUIT,
                f"Do not use this coil. It can be as low as {at_least(lowest_ohm)} Ω, no more than the "
                f"{shown(inner_ohm)} Ω of the pack itself. At least half of the power would heat the cells.",
            )
        ],
    )
