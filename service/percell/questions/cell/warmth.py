"""What every question about the warmth of a cell shares: air, stop and specific heat."""

from typing import Annotated

from percell.physics import heat
from percell.questions.vocabulary.fields import quantity

# above this a cell makes heat of its own, see the rule
FAILS_C = 90.0
AmbientTemperatureC = Annotated[
    float,
    quantity("°C", -20, 60, "Temperature of the air, which is also that of the cell at the start."),
]
StopTemperatureC = Annotated[
    float,
    quantity(
        "°C",
        20,
        FAILS_C,
        "Skin temperature of the cell at which to stop.",
        default_from="upper end of the usual discharge range, from memory, unconfirmed; treat it as a "
        "stop, not a target",
    ),
]

# the defaults of every question that has them
AMBIENT_C = 25.0
STOP_C = 60.0


def specific_heat(chemistry: str, *, highest: bool = False) -> heat.Assumed:
    """Return a chemistry's specific heat, or the lowest or highest of all if it has none."""
    known = heat.SPECIFIC_HEAT_J_KGK
    if chemistry in known:
        return known[chemistry]
    word, choose = ("highest", max) if highest else ("lowest", min)
    taken = choose(known.values())
    return heat.Assumed(
        taken.value,
        f"{word} of the published ones, because there is none for this chemistry: {taken.source}",
    )
