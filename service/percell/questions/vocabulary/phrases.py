"""Fields with their values as headlines, replies and copied rows say them."""

from collections.abc import Mapping
from enum import Enum
from functools import cache
from typing import Any

from msgspec import Struct, convert, structs

from percell.physics.alloys import ALLOYS
from percell.questions.vocabulary.chemistry import VOLTAGES
from percell.questions.vocabulary.labels import label_of, lowered
from percell.questions.vocabulary.layout import LayoutParts, wiring
from percell.questions.vocabulary.measured_discharge import MeasuredDischarge, charge_of
from percell.questions.vocabulary.sharing import ResistanceSpread
from percell.questions.vocabulary.wording import count_of, given, listed, shown, with_unit

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
# each is a noun with its value, so that any of them can follow "For", alone or in a list
_PHRASES = {
    "layout": "{}",
    "cell_rating_a": "cells rated {}",
    "cell_capacity_ah": "cells of {}",
    "cell_size": "{} cells",
    "chemistry": "{} cells",
    "cell_health": "a state of health of {}",
    "cell_charged_voltage_v": "cells charged to {}",
    "cell_charged_voltage_tolerance_v": "a charged voltage up to {} higher",
    "cell_nominal_voltage_v": "a nominal voltage of {} per cell",
    "cell_cutoff_voltage_v": "a cut-off at {} per cell",
    "cell_cutoff_voltage_v.current": "a cut-off at {} per cell for the currents",
    "cell_cutoff_voltage_v.time": "a cut-off at {} per cell for the running time",
    "cell_cutoff_voltage_tolerance_v": "a cut-off up to {} lower",
    "cutoff_basis": "a {}",
    "cell_charge_limit_a": "a charge limit of {} per cell",
    "charge_current_a": "a charge current of {} per cell",
    "charge_rate": "a charge at {} C",
    "charged_where": "cells charged {}",
    "output_power_w": "{} at the output",
    "output_power_tolerance_w": "an output power up to {} higher",
    "efficiency": "an efficiency of {}",
    "efficiency_tolerance": "an efficiency up to {} lower",
    "idle_power_w": "{} used by the converter itself",
    "coil_reading_ohm": "a coil reading of {}",
    "coil_resistance_ohm": "a coil of {}",
    "coil_resistance_tolerance_ohm": "a coil resistance that may differ by {}",
    "device_resistance_ohm": "{} in switch and wires",
    "series": "{} in series",
    "parallel": "{} in parallel",
    "sharing": "{}",
    "group_current_a": "a group current of {}",
    "resistance_spread": "a resistance spread of {}",
    "contact_spread": "a spread of {} in the contact resistance",
    "voltage_spread_v": "a spread of {} in the open-circuit voltage",
    "percentile": "{} of groups",
    "random_groups": "{} groups drawn at random",
    "seed": "random numbers from the seed {}",
    "mismatch": "{} more resistance in the other cells",
    "voltage_difference_v": "a difference of {} between them",
    "cell_current_a": "a cell current of {}",
    "standby_current_a": "{} drawn in the pauses",
    "open_circuit_voltage_v": "an open-circuit voltage of {}",
    "state_of_charge": "a state of charge of {} at the start",
    "measured_discharge": "{}",
    "most_cells": "at most {} cells",
    "needed_time_s": "a running time of {} or more",
    "draw_length_s": "draws of {}",
    "pause_s": "pauses of {}",
    "draws": "{} draws",
    "surroundings": "{} around the cell",
    "ambient_temperature_c": "air at {}",
    "stop_temperature_c": "a stop at {}",
    "stop_voltage_v": "a stop at {}",
    "cell_temperature_c": "cells at {}",
    "cell_mass_kg": "a cell mass of {}",
    "cell_area_m2": "a cell surface of {}",
    "specific_heat_j_kgk": "a specific heat of {}",
    "heat_transfer_w_m2k": "a heat transfer of {} to the air",
    "cell_resistance_ohm": "an internal resistance of {} per cell",
    "cell_resistance_after_s": "an internal resistance read after {} of load",
    "cell_resistance_tolerance_ohm": "an internal resistance up to {} higher",
    "contact_resistance_ohm": "{} of contact resistance per cell",
    "meter_accuracy": "a meter error of {} of the reading",
    "meter_counts": "a meter error of {} counts",
    "meter_resolution_ohm": "a meter with a last digit of {}",
    "lead_resistance_ohm": "{} in the meter leads",
    "watched": "a device and charger that monitor {}",
    "end_discharge_current_a": "a discharge that ends at {}",
    "end_charge_current_a": "a charge that ends at {}",
    "weak_cell_capacity_ratio": "a weak cell with {} of the others' capacity",
    "weak_cell_loss_ah": "{} lost by the weak cell per cycle",
    "weak_cell_resistance_ohm": "a weak cell with {} of internal resistance",
    "alloy": "wire of {}",
    "gauge": "AWG {}",
    "wire_diameter_mm": "a wire diameter of {}",
    "diameter_tolerance": "a wire diameter that may differ by {}",
    "strands": "{} strands",
    "twist_rate": "{} twists per metre",
    "former_diameter_mm": "an inner diameter of {}",
    "turns": "{} turns",
    "wanted_resistance_ohm": "a wanted resistance of {}",
    "spacing_mm": "a gap of {} between turns",
    "legs_length_mm": "legs of {} in all",
    "coils": "{} coils in parallel",
    "coil_power_w": "{} in the coil",
    "wire_temperature_c": "wire at {}",
    "voltmeter_accuracy": "a voltmeter error of {} of the reading",
    "voltmeter_counts": "a voltmeter error of {} counts",
    "voltmeter_resolution_v": "a voltmeter with a last digit of {}",
    "ammeter_accuracy": "an ammeter error of {} of the reading",
    "ammeter_counts": "an ammeter error of {} counts",
    "ammeter_resolution_a": "an ammeter with a last digit of {}",
    "reference_resistance_ohm": "an internal resistance of {} when first measured",
    "time_between_s": "a first measurement {} earlier",
    "measured_capacity_ah": "a capacity of {} now",
    "reference_capacity_ah": "a capacity of {} when new",
    "measured_resistance_ohm": "an internal resistance of {} now",
    "longest_gap_s": "gaps of at most {} between rows",
    "step_current_a": "steps of {} or more",
    "settle_time_s": "{} to settle after a step",
    "needed_repeats": "{} logs needed at one current",
    "log_start": "cells {} at the start",
    "cells_in_set": "sets of {}",
    "set_count": "{} sets",
    "capacity_weight": "a capacity weight of {}",
    "resistance_weight": "a resistance weight of {}",
    "open_circuit_voltage_weight": "an open-circuit voltage weight of {}",
}
# ratios that people say in percent
_PERCENT = {
    "efficiency",
    "meter_accuracy",
    "voltmeter_accuracy",
    "ammeter_accuracy",
    "diameter_tolerance",
    "weak_cell_capacity_ratio",
    "mismatch",
    "cell_health",
    "state_of_charge",
    "resistance_spread",
    "contact_spread",
    "percentile",
}
# a part of the input, not of the efficiency
_POINTS = {"efficiency_tolerance"}
# long times that people would not say in seconds
_LONG_S = {"year": 31_557_600, "day": 86_400, "hour": 3_600}
_LEAST_IN_MINUTES_S = 600
# a default with more digits was calculated, and nobody would type them
_MOST_DIGITS, _DIGITS = 6, 4
# what the word of a choice means, where it would not tell
_CHOICES = {
    ("sharing", "careful"): "an uneven share between cells in parallel",
    ("sharing", "even"): "an even share between cells in parallel",
    ("sharing", "allowance"): "P cells in parallel counted as P − ½",
    ("cutoff_basis", "under load"): "cut-off under load",
    ("cutoff_basis", "at rest"): "cut-off at rest",
    ("watched", "pack"): "only the pack's total voltage",
    ("charged_where", "in device"): "in the device as a whole",
    ("charged_where", "in device balanced"): "in the device with balancing",
    ("surroundings", "pocket"): "a closed tube or a pocket",
    ("surroundings", "room"): "still air",
}
# numbers that have a word
_SAID = {
    ("state_of_charge", "100 %"): "cells full at the start",
    ("state_of_charge", "0 %"): "cells empty at the start",
    ("cell_health", "100 %"): "new cells",
    ("strands", "1"): "a single wire",
    ("coils", "1"): "one coil",
    ("draws", "1"): "a single draw",
    ("turns", "1"): "one turn",
    ("meter_counts", "1"): "a meter error of 1 count",
    ("voltmeter_counts", "1"): "a voltmeter error of 1 count",
    ("ammeter_counts", "1"): "an ammeter error of 1 count",
    ("most_cells", "1"): "one cell",
    ("series", "1"): "one cell in series",
    ("parallel", "1"): "a single cell",
    ("set_count", "1"): "one set",
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
    ('cells rated 20 A', 'an efficiency of 90 %', '2S1P')
    """
    text = _value(name, value)
    if (name, text) in _SAID:
        return _SAID[name, text]
    text = _CHOICES.get((name, text), text)
    if isinstance(value, ResistanceSpread):
        return text
    phrase = _PHRASES.get(name)
    return phrase.format(text) if phrase else f"{lowered(label_of(name))} {text}"


# a cell is said in one breath
_KIND = {"cell_size": "{}", "chemistry": "{}"}
_SIZE = {"cell_capacity_ah": "of {}"}
_DONE = {"cell_rating_a": "rated {}", "cell_charged_voltage_v": "charged to {}"}
_OF_CELLS = frozenset(_KIND | _SIZE | _DONE)


def all_in_words(fields: Mapping[str, Any], said: Mapping[str, str] | None = None) -> list[str]:
    """Return fields with their values, in their order; what is known of the cells is one of them.

    Args:
        fields: Their values.
        said: Better words for a field than its own; empty to leave it out.

    >>> all_in_words({"layout": "2S1P", "cell_rating_a": 20.0, "cell_capacity_ah": 3.0, "efficiency": 0.9})
    ['2S1P with cells of 3 Ah rated 20 A', 'an efficiency of 90 %']
    """
    own = said or {}
    together = _OF_CELLS.intersection(fields)
    if together and "layout" in fields:
        together |= {"layout"}
    told: dict[str, str] = {}
    for name, value in fields.items():
        if name in together:
            if "" not in told:
                told[""] = _pack(fields)
        elif words := own.get(name, in_words(name, value)):
            told[name] = words
    return [*told.values()]


def _pack(fields: Mapping[str, Any]) -> str:
    """Return what is known of the cells, after their layout."""
    kind, size, done = (
        [said.format(_value(name, fields[name])) for name, said in those.items() if name in fields]
        for those in (_KIND, _SIZE, _DONE)
    )
    cells = " ".join(filter(None, [*kind, "cells", *size, listed(done)]))
    return f"{in_words('layout', fields['layout'])} with {cells}" if "layout" in fields else cells


def choice_in_words(name: str, value: str) -> str:
    """Return a word of a choice as a form shows it.

    >>> choice_in_words("sharing", "even"), choice_in_words("chemistry", "lfp"), choice_in_words("cell_size", "18650")
    ('an even share between cells in parallel', 'iron phosphate', '18650')
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
    ('20 A', 'an uneven share between cells in parallel')
    >>> value_in_words("cell_area_m2", 0.003675663, "m²"), value_in_words("setups.efficiency", 0.9, "1")
    ('about 0.003676 m²', '90 %')
    """
    leaf = name.rpartition(".")[2]
    text = _value(leaf, value)
    if isinstance(value, float | int) and unit and leaf not in _PERCENT:
        told = given(value)
        if shown(value, _MOST_DIGITS) != told:
            told = f"about {shown(value, _DIGITS)}"
        text = with_unit(told, unit)
    return _SAID.get((leaf, text)) or _CHOICES.get((leaf, text), text)


def _discharge(measured: MeasuredDischarge | dict[str, Any] | str) -> str:
    """Return a discharge by its current and charge, as a table was given it too, or what stands in for one."""
    if isinstance(measured, str):
        return measured.removeprefix("none: ")
    own = convert(measured, MeasuredDischarge) if isinstance(measured, dict) else measured
    return f"your own discharge of {charge_of(own):.3g} Ah at {given(own.current_a)} A"


def _value(name: str, value: Any) -> str:
    if name == "measured_discharge":
        return _discharge(value)
    if name == "layout" and isinstance(value, str | LayoutParts):
        return wiring(value).text
    if name == "chemistry":
        return VOLTAGES[value].short_name
    if name == "alloy":
        # a list of conditions has commas of its own
        kind, _, composition = ALLOYS[value].name.partition(", ")
        return lowered(f"{kind} ({composition})" if composition else kind)
    if isinstance(value, list):
        return str(len(value))
    if isinstance(value, ResistanceSpread):
        counted = value.counted
        return (
            f"shares computed for a resistance spread of {given(counted.spread * 100)} % and "
            f"{given(counted.percentile * 100)} % of groups"
        )
    if isinstance(value, Struct):
        return listed(all_in_words(structs.asdict(value)))
    if isinstance(value, float | int):
        if name in _PERCENT:
            return f"{given(value * 100)} %"
        if name in _POINTS:
            return f"{given(value * 100)} percentage points"
        unit = unit_of(name)
        if unit == "s":
            return _duration(value)
        return f"{given(value)} {unit}" if unit else given(value)
    return str(value.value if isinstance(value, Enum) else value).replace("_", " ")


def _duration(seconds: float) -> str:
    """Return a time in seconds, or in the largest unit that counts it in whole numbers."""
    for unit, long_s in _LONG_S.items():
        if seconds >= long_s and seconds % long_s == 0:
            return count_of(seconds / long_s, unit)
    if seconds >= _LEAST_IN_MINUTES_S and seconds % 60 == 0:
        return f"{given(seconds / 60)} min"
    return f"{given(seconds)} s"
