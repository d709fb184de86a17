"""The questions as people ask them, and the fields that a form asks first besides those that it needs."""

from typing import NamedTuple

from percell.questions.answering.question import Subject


class Asking(NamedTuple):
    """How a page asks a question."""

    title: str
    first: tuple[str, ...] = ()
    # how many of a list of things are in sight
    entries: int = 0


_LOAD = ("coil_reading_ohm", "output_power_w")

# every question has a page; this is their order in the list
ASKING: dict[str, Asking] = {
    "assessment": Asking("What does my load do to my cells?", (*_LOAD, "cell_capacity_ah")),
    "direct-load": Asking("What does my coil draw from each cell?", ("coil_reading_ohm",)),
    "converter-load": Asking(
        "What does my power setting draw from each cell?", ("cell_cutoff_voltage_v",)
    ),
    "pack": Asking("What can this pack give?"),
    "lowest-resistance": Asking("What is the lowest coil for my cells?"),
    "highest-power": Asking("What is the highest power for my cells?", ("cell_cutoff_voltage_v",)),
    "needed-rating": Asking("Which cell rating does my power need?", ("cell_cutoff_voltage_v",)),
    "needed-rating-for-coil": Asking("Which cell rating does my coil need?", ("coil_reading_ohm",)),
    "layouts": Asking(
        "Which wiring can carry my load?",
        (*_LOAD, "cell_rating_a", "cell_capacity_ah", "needed_time_s"),
    ),
    "label-check": Asking("Can I believe this label?"),
    "joining-pair": Asking(
        "What flows when I join two cells at different voltages?", ("cell_charge_limit_a",)
    ),
    "joining": Asking("What flows when I join several cells?", ("cell_rating_a",), entries=3),
    "unequal-cells": Asking(
        "What does each of my unequal cells carry?",
        ("coil_resistance_ohm", "output_power_w", "cells.cell_rating_a"),
        entries=2,
    ),
    "sharing-by-spread": Asking("How unevenly do parallel cells share?", ("cell_rating_a",)),
    "sharing-by-mismatch": Asking(
        "What does a cell with less resistance than the others carry?", ("cell_rating_a",)
    ),
    "weak-cell-drift": Asking(
        "What does one weak cell do to a string?",
        ("weak_cell_capacity_ratio", "weak_cell_loss_ah"),
    ),
    "series-drift": Asking("How do my cells in series drift apart?", ("cells.loss_ah",), entries=2),
    "running-time": Asking(
        "How long does my pack run?",
        (*_LOAD, "cell_rating_a", "draw_length_s", "pause_s"),
    ),
    "running-time-comparison": Asking(
        "Which setup runs longest?",
        ("setups.coil_reading_ohm", "setups.output_power_w", "setups.cell_cutoff_voltage_v"),
        entries=2,
    ),
    "temperature-rise": Asking(
        "How hot does my cell get?",
        (
            "cell_size",
            "cell_capacity_ah",
            "cell_rating_a",
            "draw_length_s",
            "pause_s",
            "surroundings",
        ),
    ),
    "cell-sag": Asking("How far does my cell's voltage sag?", ("cell_capacity_ah",)),
    "charging": Asking(
        "How long does charging take, and where may I charge?",
        ("cell_charge_limit_a", "charge_current_a", "cell_temperature_c", "charged_where"),
    ),
    "meter-reading": Asking(
        "What must my meter show?", ("meter_accuracy", "meter_counts", "meter_resolution_ohm")
    ),
    "internal-resistance": Asking("What is my cell's internal resistance?"),
    "matched-sets": Asking("Which of my cells belong together?", entries=6),
    "discharge-test": Asking(
        "What do my discharge logs show?", ("stop_temperature_c", "stop_voltage_v")
    ),
    "cell-health": Asking(
        "Is my cell worn out?", ("measured_resistance_ohm", "reference_resistance_ohm")
    ),
    "coil-from-wire": Asking(
        "What resistance will this wire give?",
        ("gauge", "turns", "wanted_resistance_ohm", "legs_length_mm"),
    ),
}

# the subjects as their readers would name them
SUBJECTS = {
    Subject.LOADS: "What each cell carries",
    Subject.LIMITS: "What my cells can handle",
    Subject.UNEQUAL_CELLS: "Cells that differ",
    Subject.TIME_AND_HEAT: "How long, and how hot",
    Subject.CHARGING: "Charging",
    Subject.BENCH: "Measuring",
    Subject.COIL: "Winding a coil",
}

# what has a form without being a question
CARDS: dict[str, Asking] = {
    "bench-card": Asking(
        "A bench card for your cell", ("cell_capacity_ah", "cell_size", "cell_cutoff_voltage_v")
    ),
}
FORMS = ASKING | CARDS
