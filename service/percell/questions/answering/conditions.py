"""What the figures of a table hold for, as one sentence that goes wherever one of them goes."""

from collections.abc import Container, Iterable
from typing import Any

from percell.questions.answering.envelope import Assumption
from percell.questions.vocabulary.phrases import all_in_words
from percell.questions.vocabulary.wording import listed

# in place of the value of a default that differs from entry to entry
VARIES = "varies over the table"
# what makes a figure right or wrong for the reader's own cells comes first
_FIRST = (
    "cell_rating_a",
    "sharing",
    "cell_cutoff_voltage_v",
    "cutoff_basis",
    "cell_capacity_ah",
    "chemistry",
    "cell_charged_voltage_v",
)
# a reader cannot compare other units, such as J/(kg·K), with anything: they are listed below the table
_SPOKEN = {"A", "V", "Ω", "W", "Wh", "Ah", "s", "°C", "mm", "1", ""}
_METHOD = {"random_groups", "seed"}


def held_for(
    fixed: dict[str, Any], assumptions: Iterable[Assumption], immaterial: Container[str] = ()
) -> dict[str, float | str]:
    """Return what every figure rests on, by field, in the order in which a reader needs it.

    Args:
        fixed: What every entry asks alike; a dot leads into an object.
        assumptions: The defaults in use. One that varies, or of a property that the service looked up, is
            left out.
        immaterial: Fields that change no printed figure.
    """
    found = fixed | {a.name: a.value for a in assumptions if a.value != VARIES}
    objects = {name.partition(".")[0] for name in fixed if "." in name}
    names = [
        name
        for name in found
        if name not in immaterial and ("." not in name or name.partition(".")[0] in objects)
    ]
    names.sort(key=lambda name: _FIRST.index(name) if name in _FIRST else len(_FIRST))
    return {name: found[name] for name in names}


def conditions(
    fixed: dict[str, Any], assumptions: list[Assumption], immaterial: Container[str] = ()
) -> str:
    """Return what every figure rests on as a sentence; nothing if there is nothing to say.

    Defaults of zero, and defaults in units that no reader measures, are left out.
    """
    units = {a.name: a.unit for a in assumptions}
    told = all_in_words(
        {
            name: value
            for name, value in held_for(fixed, assumptions, immaterial).items()
            if (value or name in fixed) and name not in _METHOD and units.get(name, "") in _SPOKEN
        }
    )
    return f"These figures hold for: {listed(told)}." if told else ""
