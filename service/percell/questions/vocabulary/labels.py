"""A short label and the quantity of each field: forms and pages show them in place of its name.

Both follow from the name, which is place, quantity and unit. Names that would make a bad label have one
here.
"""

from functools import cache

# the quantity by the unit at the end of a name; longer endings first
# how the name of a number ends in its unit, longer ones first
_ENDINGS = (
    "j_kgk",
    "w_m2k",
    "ohm_m",
    "w_mm2",
    "j_k",
    "w_k",
    "wh_l",
    "ohm",
    "mm2",
    "m2",
    "mm",
    "kg",
    "wh",
    "ah",
    "v",
    "a",
    "w",
    "s",
    "c",
    "m",
)
_WORDS = {
    "worst cell": "worst-case cell",
    "cutoff": "cut-off",
    "open circuit": "open-circuit",
    "warm up": "warm-up",
}
_IN_OTHER_WORDS = {
    # fields of questions
    "cell_rating_a": "Continuous rating per cell",
    "cell_capacity_ah": "Capacity per cell",
    "cell_health": "State of health",
    "cell_charged_voltage_v": "Charged voltage per cell",
    "cell_charged_voltage_tolerance_v": "Charged voltage may be higher by",
    "cell_nominal_voltage_v": "Nominal voltage per cell",
    "cell_cutoff_voltage_v": "Cut-off voltage per cell",
    "cell_cutoff_voltage_tolerance_v": "Cut-off voltage may be lower by",
    "cell_resistance_ohm": "Internal resistance per cell",
    "cell_resistance_after_s": "Internal resistance read after",
    "cell_resistance_tolerance_ohm": "Internal resistance may be higher by",
    "cell_temperature_c": "Temperature of the cells",
    "contact_resistance_ohm": "Contact resistance per cell",
    "device_resistance_ohm": "Resistance of switch and wires",
    "coil_resistance_tolerance_ohm": "Coil resistance may differ by",
    "meter_counts": "Meter accuracy in counts",
    "meter_resolution_ohm": "Last digit of the meter",
    "lead_resistance_ohm": "Resistance of the meter leads",
    "voltmeter_counts": "Voltmeter accuracy in counts",
    "voltmeter_resolution_v": "Last digit of the voltmeter",
    "ammeter_counts": "Ammeter accuracy in counts",
    "ammeter_resolution_a": "Last digit of the ammeter",
    "output_power_tolerance_w": "Output power may be higher by",
    "efficiency_tolerance": "Efficiency may be lower by",
    "idle_power_w": "Power the converter uses itself",
    "sharing": "How the cells share the current",
    "cutoff_basis": "Cut-off under load or at rest",
    "draw_length_s": "Length of a draw",
    "pause_s": "Pause between draws",
    "draws": "Number of draws",
    "standby_current_a": "Current in a pause",
    "needed_time_s": "Running time needed",
    "most_cells": "Highest number of cells",
    "end_charge_current_a": "Current at the end of the charge",
    "end_discharge_current_a": "Current at the end of the discharge",
    "charge_rate": "Charge rate",
    "charged_where": "Where the cells are charged",
    "cell_charge_limit_a": "Charge limit per cell",
    "watched": "What device and charger monitor",
    "series": "Cells in series",
    "parallel": "Cells in parallel",
    "weak_cell_capacity_ratio": "Capacity of the weak cell",
    "weak_cell_resistance_ohm": "Internal resistance of the weak cell",
    "weak_cell_loss_ah": "Charge the weak cell loses per cycle",
    "loss_ah": "Charge lost per cycle",
    "mismatch": "Resistance of the others above the best cell",
    "resistance_spread": "Spread of the cell resistance",
    "contact_spread": "Spread of the contact resistance",
    "voltage_spread_v": "Spread of the open-circuit voltage",
    "spread": "Spread",
    "random_groups": "Groups drawn at random",
    "seed": "Seed of the random numbers",
    "cells_in_set": "Cells per set",
    "set_count": "Number of sets",
    "gauge": "Wire gauge (AWG)",
    "diameter_tolerance": "Wire diameter may differ by",
    "strands": "Strands of the wire",
    "twist_rate": "Twists per metre",
    "former_diameter_mm": "Inner diameter of the coil",
    "spacing_mm": "Gap between turns",
    "legs_length_mm": "Length of both legs",
    "coils": "Coils in parallel",
    "turns": "Turns of one coil",
    "ambient_temperature_c": "Temperature of the air",
    "surroundings": "What is around the cell",
    "stop_temperature_c": "Temperature at which to stop",
    "cell_area_m2": "Surface of the cell",
    "heat_transfer_w_m2k": "Heat transfer to the air",
    "specific_heat_j_kgk": "Specific heat of the cell",
    "first_voltage_v": "Voltage under the first load",
    "first_current_a": "Current of the first load",
    "first_time_s": "Time under the first load",
    "second_voltage_v": "Voltage under the second load",
    "second_current_a": "Current of the second load",
    "second_time_s": "Time under the second load",
    "time_between_s": "Time since the first measurement",
    "reference_resistance_ohm": "Internal resistance when first measured",
    "reference_capacity_ah": "Capacity when new",
    "measured_resistance_ohm": "Internal resistance now",
    "measured_capacity_ah": "Capacity now",
    "voltage_difference_v": "Difference between the voltages",
    "lowest_voltage_v": "Lowest voltage",
    "stop_voltage_v": "Voltage at which to stop",
    "longest_gap_s": "Longest gap between rows",
    "step_current_a": "Change of current that is a step",
    "settle_time_s": "Time to settle after a step",
    "needed_repeats": "Repeats needed",
    # fields of answers
    "worst_cell_number": "Number of the worst-case cell in its group",
    "worst_group_number": "Number of the group of the worst-case cell",
    "worst_cell_mean_share": "Mean share of the worst-case cell",
    "worst_cell_share": "Share of the worst-case cell",
    "worst_cell_current_a": "Current of the worst-case cell",
    "worst_cell_charge_current_a": "Charge current of the worst-case cell",
    "even_cell_current_a": "Current per cell if shared evenly",
    "even_cell_highest_current_a": "Highest current per cell if shared evenly",
    "even_cell_charge_current_a": "Charge current per cell if shared evenly",
    "even_share": "Share per cell if shared evenly",
    "allowance_cell_current_a": "Current of a cell by the sharing allowance",
    "careful_cell_current_a": "Worst-case cell current, unmeasured cells",
    "allowance_share": "Share by the sharing allowance",
    "other_cell_current_a": "Current of each of the others",
    "cell_current_a": "Current of the cell",
    "pack_current_a": "Current of the pack",
    "pack_current_limit_a": "Highest allowed current of the pack",
    "pack_current_limit_even_a": "Highest allowed current if shared evenly",
    "pack_highest_voltage_v": "Highest voltage of the pack",
    "pack_lowest_voltage_v": "Lowest voltage of the pack",
    "pack_resistance_ohm": "Internal resistance of the pack",
    "highest_power_w": "Highest output power",
    "needed_rating_a": "Rating needed per cell",
    "lowest_resistance_ohm": "Lowest coil resistance",
    "lowest_reading_ohm": "Lowest reading of the meter",
    "lowest_true_resistance_ohm": "Lowest true resistance",
    "above_limit_ohm": "Reading above the limit",
    "coil_resistance_lowest_ohm": "Lowest likely coil resistance",
    "coil_resistance_highest_ohm": "Highest likely coil resistance",
    "cell_resistance_lowest_ohm": "Lowest internal resistance",
    "cell_resistance_highest_ohm": "Highest internal resistance",
    "resistance_ohm_m": "Resistance per metre",
    "resistance_lowest_ohm_m": "Lowest likely resistance per metre",
    "sagging_pack_current_a": "Current of the pack with sag",
    "sagging_pack_voltage_v": "Voltage of the pack with sag",
    "sagging_coil_power_w": "Power in the coil with sag",
    "coil_power_w": "Power in the coil",
    "loaded_voltage_v": "Voltage under load",
    "sag_v": "Sag",
    "lost_power_ratio": "Part of the power lost as heat",
    "heat_w": "Heat in cell and contacts",
    "cell_loss_w": "Heating power in the cell",
    "cells_loss_w": "Heat in all cells",
    "contact_loss_w": "Heat in the contacts",
    "contacts_loss_w": "Heat in all contacts",
    "cell_loss_wh": "Heat lost in the cell",
    "single_draw_temperature_c": "Temperature after one draw",
    "judged_peak_temperature_c": "Peak temperature as judged",
    "settled_peak_temperature_c": "Peak temperature, draw after draw",
    "settled_trough_temperature_c": "Lowest temperature, draw after draw",
    "continuous_temperature_c": "Temperature without a pause",
    "continuous_current_a": "Current that reaches the stop temperature",
    "time_to_stop_s": "Time to the stop temperature",
    "pause_needed_s": "Pause needed",
    "used_capacity": "Part of the capacity used",
    "pack_delivered_charge_ah": "Charge delivered by the pack",
    "pack_released_energy_wh": "Energy given up by the cells",
    "load_energy_wh": "Energy that reaches the load",
    "heat_wh": "Heat in cells and contacts",
    "pack_first_current_a": "Current of the pack at the start",
    "pack_last_current_a": "Current of the pack at the end",
    "pack_mean_current_a": "Mean current of the pack",
    "pack_highest_current_a": "Highest current drawn from the pack",
    "drawing_time_s": "Time of all draws and pauses",
    "layout_count": "Layouts that meet the load",
    "considered_count": "Layouts considered",
    "over_limit_count": "Layouts over the limit",
    "cutoff_at_once_count": "Layouts that cut off immediately",
    "too_short_count": "Layouts that do not run long enough",
    "cell_count": "Number of cells",
    "charging_allowed": "Whether charging is allowed",
    "constant_current_s": "Time at constant current",
    "constant_voltage_s": "Time at constant voltage",
    "cell_charge_ah": "Charge into one cell",
    "cell_input_energy_wh": "Energy into one cell",
    "pack_input_energy_wh": "Energy into all cells",
    "lowest_at_cutoff_v": "Lowest cell at the cut-off",
    "highest_at_cutoff_v": "Highest cell at the cut-off",
    "lowest_at_charged_v": "Lowest cell when charged",
    "highest_at_charged_v": "Highest cell when charged",
    "usable_charge_before_ah": "Usable charge as it is",
    "usable_charge_after_ah": "Usable charge after balancing",
    "state_of_charge_at_cutoff": "State of charge at the cut-off",
    "state_of_charge_at_charged": "State of charge when charged",
    "discharged_part": "Part of its capacity discharged",
    "balancing_charge_ah": "Charge added by balancing",
    "highest_voltage_difference_v": "Highest difference between the voltages",
    "joined_voltage_v": "Voltage when joined",
    "settled_voltage_v": "Voltage at rest afterwards",
    "settled_state_of_charge": "State of charge afterwards",
    "moved_charge_ah": "Charge moved between cells",
    "given_charge_ah": "Charge given",
    "pair_current_a": "Highest current between two cells",
    "pair_from_cell_number": "Cell that gives the highest current",
    "pair_into_cell_number": "Cell that takes the highest current",
    "rush_current_a": "First current between the cells",
    "chance_above_allowance": "Chance of more than the allowance",
    "chance_error": "Standard error of the chance",
    "mismatch_at_allowance": "Mismatch that reaches the allowance",
    "usual_capacity_ah": "Usual capacity for the size",
    "highest_capacity_ah": "Highest capacity thought possible",
    "usual_rating_a": "Usual rating for the size",
    "highest_rating_a": "Highest rating thought possible",
    "end_temperature_c": "Temperature at the end of a discharge",
    "energy_density_wh_l": "Energy per volume",
    "capacity_at_mark_ah": "Capacity at which to retire",
    "health_mark": "Mark for retiring",
    "change_rate": "Change per year",
    "expanded_uncertainty_ohm": "Expanded uncertainty (k = 2)",
    "turns_at_lowest": "Turns for the lowest likely resistance",
    "current_before_a": "Current before the step",
    "current_after_a": "Current after the step",
    "lowest_failed_current_a": "Lowest current that failed",
    "estimated_current_a": "Estimated current at the limit",
    "test_current_a": "Current of the test",
    "peak_time_s": "Time of the peak",
    "kept_limits": "Limits kept",
    "proven_best": "Proven to be the best",
    "squared_spread": "Sum of the squared spreads",
    "spread_with_it": "Spread with this cell",
    "worst_spread": "Spread of the least close set",
}


def unit_in(name: str) -> str:
    """Return the unit that a name ends in; nothing for a ratio, a count or a word.

    >>> unit_in("cell_rating_a"), unit_in("wire_mass_kg"), unit_in("efficiency")
    ('a', 'kg', '')
    """
    return next((unit for unit in _ENDINGS if name.endswith(f"_{unit}")), "")


@cache
def label_of(name: str) -> str:
    """Return the label of a field.

    >>> label_of("cell_rating_a"), label_of("pack_nominal_voltage_v"), label_of("efficiency")
    ('Continuous rating per cell', 'Pack nominal voltage', 'Efficiency')
    """
    if name in _IN_OTHER_WORDS:
        return _IN_OTHER_WORDS[name]
    text = name.removesuffix(f"_{unit_in(name)}").replace("_", " ")
    for before, after in _WORDS.items():
        text = text.replace(before, after)
    return text[0].upper() + text[1:]


def full_label(name: str) -> str:
    """Return the label of a field with that of the object or the list that it stands in.

    >>> full_label("sharing.spread"), full_label("efficiency")
    ('How the cells share the current: spread', 'Efficiency')
    """
    field, _, inner = name.partition(".")
    return f"{label_of(field)}: {lowered(label_of(inner))}" if inner else label_of(field)


def lowered(label: str) -> str:
    """Return a label as it stands inside a sentence.

    >>> lowered("Continuous rating per cell")
    'continuous rating per cell'
    """
    return label[:1].lower() + label[1:]
