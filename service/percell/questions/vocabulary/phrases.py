"""Fields with their values as headlines, replies and copied rows say them."""

from enum import Enum
from functools import cache
from typing import Any

from msgspec import Struct, convert, structs

from percell.physics.wire import ALLOYS
from percell.questions.vocabulary.chemistry import VOLTAGES
from percell.questions.vocabulary.labels import label_of, lowered
from percell.questions.vocabulary.layout import LayoutParts, wiring
from percell.questions.vocabulary.measured_discharge import MeasuredDischarge, charge_of
from percell.questions.vocabulary.sharing import ResistanceSpread
from percell.questions.vocabulary.wording import given, shown, with_unit

_UNITS = {
    "_w_m2k": "W/(m²·K)",
    "_j_kgk": "J/(kg·K)",
    "_ohm_m": "Ω/m",
    "_ohm": "Ω",
    "_mm": "mm",
    "_m2": "m²",
    "_kg": "kg",
    "_wh": "Wh",
    "_ah": "Ah",
    "_a": "A",
    "_v": "V",
    "_w": "W",
    "_s": "s",
    "_c": "°C",
    "_m": "m",
}
_PHRASES = {
    "layout": "{}",
    "cell_rating_a": "cells rated {}",
    "cell_capacity_ah": "cells of {}",
    "cell_size": "size {}",
    "chemistry": "{} cells",
    "cell_charged_voltage_v": "charged to {} per cell",
    "cell_cutoff_voltage_v": "cut-off at {} per cell",
    "cell_cutoff_voltage_v.current": "cut-off at {} per cell for the currents",
    "cell_cutoff_voltage_v.time": "cut-off at {} per cell for the running time",
    "cell_charge_limit_a": "charge limit {} per cell",
    "charge_current_a": "charge current {} per cell",
    "output_power_w": "{} at the output",
    "coil_resistance_ohm": "coil of {}",
    "series": "{} in series",
    "parallel": "{} in parallel",
    "group_current_a": "{} out of the group",
    "voltage_difference_v": "with {} between them",
    "cells_in_set": "sets of {}",
    "ambient_temperature_c": "air of {}",
    "meter_accuracy": "a meter error of {} of the reading",
    "meter_counts": "a meter error of {} counts",
    "meter_resolution_ohm": "a meter with a last digit of {}",
    "cell_resistance_ohm": "{} of internal resistance per cell",
    "cell_resistance_after_s": "internal resistance read after {} of load",
    "cell_temperature_c": "cells at {}",
    "contact_resistance_ohm": "{} of contact resistance per cell",
    "former_diameter_mm": "wound on {}",
    "alloy": "wire of {}",
    "gauge": "AWG {}",
}
# ratios that people say in percent
_PERCENT = {
    "efficiency",
    "efficiency_tolerance",
    "meter_accuracy",
    "cell_health",
    "state_of_charge",
    "resistance_spread",
    "contact_spread",
    "percentile",
}
# a default with more digits was calculated, and nobody would type them
_MOST_DIGITS, _DIGITS = 6, 4
# what a choice means, where its own word would not tell
_CHOICES = {
    ("sharing", "careful"): "cells in parallel share unevenly",
    ("sharing", "even"): "counted with an even share",
    ("sharing", "allowance"): "P cells in parallel counted as P − ½",
    ("cutoff_basis", "under load"): "cut-off under load",
    ("cutoff_basis", "at rest"): "cut-off at rest",
    ("watched", "pack"): "only the pack's total voltage monitored",
    ("state_of_charge", "100 %"): "full at the start",
    ("state_of_charge", "0 %"): "empty at the start",
    ("cell_health", "100 %"): "new cells",
    ("strands", "1"): "a single wire",
    ("coils", "1"): "one coil",
    ("charged_where", "in device"): "charged in the device as a whole",
    ("charged_where", "in device balanced"): "charged in the device with balancing",
    ("charged_where", "individually"): "cells charged individually",
    ("surroundings", "pocket"): "in a closed tube or a pocket",
    ("surroundings", "room"): "with still air on all sides",
}


@cache
def unit_of(name: str) -> str:
    """Return the unit at the end of a field's name; nothing for a ratio or a word.

    >>> unit_of("cell_capacity_ah"), unit_of("efficiency")
    ('Ah', '')
    """
    field = name.partition(".")[0]
    return next((unit for ending, unit in _UNITS.items() if field.endswith(ending)), "")


def in_words(name: str, value: Any) -> str:
    """Return a field with its value.

    >>> in_words("cell_rating_a", 20.0), in_words("efficiency", 0.9), in_words("layout", "2s1p")
    ('cells rated 20 A', 'efficiency 90 %', '2S1P')
    """
    if name == "measured_discharge":
        return _discharge(value)
    text = _value(name, value)
    choice = _CHOICES.get((name, text))
    if choice:
        return choice
    if isinstance(value, ResistanceSpread):
        return text
    phrase = _PHRASES.get(name)
    if phrase:
        return phrase.format(text)
    label = label_of(name)
    return f"{lowered(label)} {text}"


def choice_in_words(name: str, value: str) -> str:
    """Return a word of a choice as a form shows it.

    >>> choice_in_words("sharing", "even"), choice_in_words("chemistry", "lfp"), choice_in_words("cell_size", "18650")
    ('counted with an even share', 'iron phosphate', '18650')
    """
    text = _value(name, value)
    return _CHOICES.get((name, text), text)


def value_in_words(name: str, value: Any, unit: str = "") -> str:
    """Return the value of a field as a table of assumptions has it, beside the field's label.

    Args:
        name: The field; a dot leads into an object or a list.
        value: Its value.
        unit: The unit of a default. Nothing for a value that was given, which stays as it was.

    >>> value_in_words("cell_rating_a", 20.0), value_in_words("sharing", "careful")
    ('20 A', 'cells in parallel share unevenly')
    >>> value_in_words("cell_area_m2", 0.003675663, "m²"), value_in_words("setups.efficiency", 0.9, "1")
    ('about 0.003676 m²', '90 %')
    """
    leaf = name.rpartition(".")[2]
    if leaf == "measured_discharge":
        return _discharge(value)
    text = _value(leaf, value)
    if isinstance(value, float | int) and unit and leaf not in _PERCENT:
        told = given(value)
        if shown(value, _MOST_DIGITS) != told:
            told = f"about {shown(value, _DIGITS)}"
        text = with_unit(told, unit)
    return _CHOICES.get((leaf, text), text)


def _discharge(measured: MeasuredDischarge | dict[str, Any] | str) -> str:
    """Return a discharge by its current and charge, as a table was given it too, or what stands in for one."""
    if isinstance(measured, str):
        return measured.removeprefix("none: ")
    own = convert(measured, MeasuredDischarge) if isinstance(measured, dict) else measured
    return f"your own discharge of {charge_of(own):.3g} Ah at {given(own.current_a)} A"


def _value(name: str, value: Any) -> str:
    if name == "layout" and isinstance(value, str | LayoutParts):
        return wiring(value).text
    if name == "chemistry":
        return VOLTAGES[value].short_name
    if name == "alloy":
        return ALLOYS[value].name
    if isinstance(value, list):
        return str(len(value))
    if isinstance(value, ResistanceSpread):
        counted = value.counted
        return (
            f"shares computed for a resistance spread of {given(counted.spread * 100)} % and "
            f"{given(counted.percentile * 100)} % of groups"
        )
    if isinstance(value, Struct):
        return ", ".join(in_words(n, v) for n, v in structs.asdict(value).items())
    if isinstance(value, float | int):
        if name in _PERCENT:
            return f"{given(value * 100)} %"
        unit = unit_of(name)
        return f"{given(value)} {unit}" if unit else given(value)
    return str(value.value if isinstance(value, Enum) else value).replace("_", " ")
