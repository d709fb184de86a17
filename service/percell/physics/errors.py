"""The one exception of this layer."""

from typing import NamedTuple


class NoSolution(ValueError):
    """No physical state answers the question.

    ``code`` is stable and names the reason, one of ``REASONS``; ``numbers`` holds the limiting values, each
    name ending in its unit, so that a caller can say what would have been possible.
    """

    def __init__(self, code: str, detail: str, **numbers: float) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.numbers = numbers


class Reason(NamedTuple):
    """Why there is no answer, and the names of the limiting values."""

    meaning: str
    numbers: tuple[str, ...] = ()


REASONS = {
    "air_too_warm": Reason(
        "The air is as warm as the temperature that must not be exceeded, or warmer.",
        ("ambient_temperature_c", "end_temperature_c"),
    ),
    "charged_voltage_beyond_curve": Reason(
        "The charged voltage is too far above the end of the chemistry's curve.",
        ("cell_charged_voltage_v", "highest_voltage_v"),
    ),
    "current_step_too_small": Reason(
        "The two currents differ by no more than the errors of their readings.",
        ("current_step_a", "current_limit_a"),
    ),
    "currents_equal": Reason("Both loads have the same current.", ("current_a",)),
    "curve_not_rising": Reason("The voltage or the state of charge of a curve does not rise."),
    "curve_range": Reason("A curve does not run from empty to full."),
    "curve_shape": Reason("A curve does not have as many voltages as states of charge."),
    "curve_voltage": Reason("A voltage of a curve is not above zero."),
    "legs_above_wanted": Reason(
        "The legs of the coil alone have more than the wanted resistance.",
        ("legs_resistance_ohm", "wanted_resistance_ohm"),
    ),
    "no_cooling": Reason(
        "A cell that gives no heat to the air has no steady temperature.", ("conductance_w_k",)
    ),
    "no_current_step": Reason("The current of a log has no step.", ("steps",)),
    "no_curve": Reason("No published curve exists for this chemistry."),
    "no_voltage_left": Reason(
        "The voltage of the cell would fall to zero at this current.",
        ("cell_current_a", "open_circuit_voltage_v", "resistance_ohm"),
    ),
    "power_not_available": Reason(
        "The pack cannot deliver this power at any current.",
        ("input_power_w", "available_power_w"),
    ),
    "reading_within_error": Reason(
        "The meter's errors are as large as the coil's resistance.", ("lowest_true_resistance_ohm",)
    ),
    "single_draw_too_hot": Reason(
        "A single draw that begins at the temperature of the air already reaches the stop temperature.",
        ("single_draw_temperature_c", "stop_temperature_c"),
    ),
    "stop_temperature_not_reached": Reason(
        "The cell never exceeds the stop temperature.",
        ("stop_temperature_c", "continuous_temperature_c"),
    ),
    "temperature_off_curve": Reason(
        "No source gives the resistance of this material at this temperature.",
        ("lowest_temperature_c", "highest_temperature_c"),
    ),
    "too_few_cells": Reason(
        "There are fewer cells than the sets need.", ("cell_count", "cells_needed")
    ),
    "too_many_turns": Reason(
        "The wanted resistance needs more turns of this wire than percell calculates.",
        ("turns", "most_turns"),
    ),
    "turns_overlap": Reason(
        "The pitch is smaller than the width of the strands.", ("pitch_mm", "width_mm")
    ),
    "voltage_did_not_fall": Reason(
        "The voltage is not lower at the higher current.", ("current_step_a", "voltage_drop_v")
    ),
    "voltage_off_curve": Reason(
        "The open-circuit voltage of a cell is outside the chemistry's curve.",
        ("open_circuit_voltage_v", "lowest_voltage_v", "highest_voltage_v"),
    ),
}
