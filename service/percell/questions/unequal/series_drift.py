"""How far do the cells of a series string drift apart, cycle by cycle?"""

from typing import Annotated, ClassVar

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics.curves import Curve, soc_at_rest
from percell.physics.meter import NOISE
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption
from percell.questions.answering.headline import condition_of
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.answering.rest_curve import curve_of
from percell.questions.unequal import rules
from percell.questions.unequal.cell_voltages import resting
from percell.questions.unequal.drift_limits import DRIFT_LIMITS, held_drift, lowest_leads
from percell.questions.unequal.string_drift import (
    InSeries,
    LossAh,
    String,
    cycles_in_words,
    drift_steps,
    follow,
    refuse_loss,
    weakest,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import OwnResistance, lasting_ohm
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import MOST
from percell.questions.vocabulary.limits import Held, together
from percell.questions.vocabulary.presence import OneOf, Presence
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.wording import given


class StringCell(OwnResistance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell of the string."""

    presence: ClassVar[tuple[Presence, ...]] = (
        OneOf(
            ("state_of_charge", "open_circuit_voltage_v"),
            "Give state_of_charge or open_circuit_voltage_v, not both.",
            needed=False,
        ),
    )
    cell_capacity_ah: fields.CellCapacityAh
    state_of_charge: fields.StartCharge | UnsetType = UNSET
    open_circuit_voltage_v: fields.StartOpenCircuitVoltageV | UnsetType = UNSET
    loss_ah: LossAh = 0.0


class SeriesDrift(InSeries, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Cells of one chemistry in series, each as it is."""

    cells: Annotated[
        list[StringCell], Meta(min_length=2, max_length=MOST, description="Cells in series.")
    ]


class DriftCycle(Struct, frozen=True, gc=False):
    """One discharge and the charge after it."""

    cycle_number: Annotated[int, figure("1", "Number of the cycle, counted from 1.")]
    string_discharge_ah: Annotated[
        float, figure("Ah", "Charge through the string, until its cut-off.")
    ]
    string_charge_ah: Annotated[
        float, figure("Ah", "Charge into the string, until the charge ends.")
    ]
    lowest_at_cutoff_v: Annotated[float, figure("V", "Voltage of the lowest cell at the cut-off.")]
    highest_at_cutoff_v: Annotated[
        float, figure("V", "Voltage of the highest cell at the cut-off.")
    ]
    lowest_at_charged_v: Annotated[
        float, figure("V", "Voltage of the lowest cell at the end of the charge.")
    ]
    highest_at_charged_v: Annotated[
        float, figure("V", "Voltage of the highest cell at the end of the charge.")
    ]
    over_discharged: Annotated[
        bool, fields.text("Whether a cell is below the empty end of its curve.")
    ]
    reversed: Annotated[bool, fields.text("Whether a cell is below zero volts.")]
    overcharged: Annotated[bool, fields.text("Whether a cell is above its charged voltage.")]


class DriftedCell(Struct, frozen=True, gc=False):
    """One cell over the cycles."""

    discharged_part: Annotated[
        float,
        figure("1", "Part of its own capacity that the first discharge uses."),
    ]
    state_of_charge_at_cutoff: Annotated[
        float,
        figure(
            "1", "State of charge at the last cut-off. Below 0 it is past empty, and extrapolated."
        ),
    ]
    state_of_charge_at_charged: Annotated[
        float,
        figure("1", "State of charge at the end of the last charge. Above 1 it is past full."),
    ]
    balancing_charge_ah: Annotated[
        float, figure("Ah", "Charge that a balancing charge would then add to this cell.")
    ]


class SeriesDriftFigures(Struct, frozen=True, kw_only=True):
    """The string, cycle by cycle, and what a balancing charge would restore."""

    weakest_cell_number: Annotated[
        int, figure("1", "Cell with the lowest voltage at the first cut-off, counted from 1.")
    ]
    lowest_at_cutoff_v: Annotated[float, figure("V", "Lowest voltage of any cell at any cut-off.")]
    highest_at_charged_v: Annotated[
        float, figure("V", "Highest voltage of any cell at the end of any charge.")
    ]
    usable_charge_before_ah: Annotated[
        float,
        figure(
            "Ah",
            "Usable charge until the first cell is at its cut-off, without a balancing charge.",
        ),
    ]
    usable_charge_after_ah: Annotated[
        float, figure("Ah", "Usable charge after a balancing charge.")
    ]
    cycles: Annotated[list[DriftCycle], Meta(description="Cycles, in order.")]
    cells: Annotated[list[DriftedCell], Meta(description="Cells, in the order given.")]


def _start(cell: StringCell, curve: Curve) -> float:
    if cell.open_circuit_voltage_v is UNSET:
        return 1.0 if cell.state_of_charge is UNSET else cell.state_of_charge
    return float(soc_at_rest(curve=curve, open_circuit_voltage_v=cell.open_circuit_voltage_v))


def _off_curve(asked: SeriesDrift, curve: Curve) -> list[Finding]:
    """Return the findings about open-circuit voltages outside the curve."""
    low_v, high_v = float(curve.ocv_v[0]), float(curve.ocv_v[-1])
    off = [
        (place, cell.open_circuit_voltage_v)
        for place, cell in enumerate(asked.cells, 1)
        if cell.open_circuit_voltage_v is not UNSET
        and not low_v * (1 - NOISE) <= cell.open_circuit_voltage_v <= high_v * (1 + NOISE)
    ]
    if not off:
        return []
    place, volts = off[0]
    taken = "full" if volts > high_v else "empty"
    return [
        finding(
            rules.VOLTAGE_OFF_CURVE,
            f"Cell {place} rests at {given(volts)} V, outside its curve from {low_v:g} to {high_v:g} V. It counts as "
            f"{taken}. {len(off)} of the {len(asked.cells)} cells are outside.",
        )
    ]


def _starts(asked: SeriesDrift) -> Held:
    """Hold the voltages that the cells rest at in the beginning to both ends."""
    known = [
        (place, cell.open_circuit_voltage_v)
        for place, cell in enumerate(asked.cells, 1)
        if cell.open_circuit_voltage_v is not UNSET
    ]
    if not known:
        return Held([], [])
    volts = np.array([one for _, one in known])
    return resting(asked.chemistry, volts, lambda place: f"Cell {known[place][0]}")


def explain(asked: SeriesDrift) -> Explained[SeriesDriftFigures]:
    """Answer for one string."""
    curve = curve_of(asked.chemistry)
    for place, cell in enumerate(asked.cells):
        refuse_loss(f"cells.{place}.loss_ah", cell.loss_ah, cell.cell_capacity_ah)
    string = String(
        np.array([cell.cell_capacity_ah for cell in asked.cells]),
        np.array([_start(cell, curve) for cell in asked.cells]),
        np.array([cell.loss_ah for cell in asked.cells]),
        np.array([lasting_ohm(cell) for cell in asked.cells]),
    )
    drift = follow(asked, string)
    weak = weakest(asked, string, drift)
    first, last = drift.story[0], drift.story[-1]
    figures = SeriesDriftFigures(
        weakest_cell_number=weak + 1,
        lowest_at_cutoff_v=drift.lowest_v,
        highest_at_charged_v=drift.highest_v,
        usable_charge_before_ah=drift.balancing.before_ah,
        usable_charge_after_ah=drift.balancing.after_ah,
        cycles=[
            DriftCycle(
                number,
                cycle.discharge_ah,
                cycle.charge_ah,
                cycle.lowest_at_cutoff_v,
                cycle.highest_at_cutoff_v,
                cycle.lowest_at_charged_v,
                cycle.highest_at_charged_v,
                cycle.over_discharged,
                cycle.reversed,
                cycle.overcharged,
            )
            for number, cycle in enumerate(drift.story, 1)
        ],
        cells=[
            DriftedCell(
                float(first.discharge_ah / capacity_ah),
                float(last.soc_at_cutoff[i]),
                float(last.soc_at_charged[i]),
                float(drift.balancing.given_ah[i]),
            )
            for i, capacity_ah in enumerate(string.capacity_ah)
        ],
    )
    held = together(
        _starts(asked), Held([], _off_curve(asked, curve)), held_drift(asked, string, drift, weak)
    )
    return Explained(
        figures=figures,
        working=drift_steps(asked, string, drift, weak),
        limits=held.limits,
        condition=condition_of(
            asked,
            cells=f"{len(asked.cells)} unequal cells in series",
            cycle_count=cycles_in_words(asked),
        ),
        leads=lowest_leads(asked.chemistry, figures.lowest_at_cutoff_v),
        findings=held.findings,
    )


def assumed(asked: SeriesDrift) -> list[Assumption]:
    """Return the defaults in use, and the charge assumed if none is given."""
    found = assumptions(asked)
    if any(c.state_of_charge is UNSET and c.open_circuit_voltage_v is UNSET for c in asked.cells):
        found.append(
            Assumption(
                "cells.state_of_charge", 1.0, "1", "charged individually before the first cycle"
            )
        )
    return found


QUESTION = Question(
    id="series-drift",
    subject=Subject.UNEQUAL_CELLS,
    title="Drift of unequal cells in series",
    description="Lowest and highest cell of a series string of unequal cells, cycle by cycle, and what a "
    "balancing charge restores.",
    asked=SeriesDrift,
    shows=SeriesDriftFigures,
    limits=DRIFT_LIMITS,
    explain=explain,
    assumed=assumed,
    heavy=True,
    # three lent cells of the Lantern Street Bench, invented: the last is older than the others
    example={
        "cells": [
            {
                "cell_capacity_ah": 3.0,
                "state_of_charge": 1.0,
                "loss_ah": 0.0,
                "cell_resistance_ohm": 0.02,
            },
            {
                "cell_capacity_ah": 2.95,
                "state_of_charge": 1.0,
                "loss_ah": 0.0,
                "cell_resistance_ohm": 0.021,
            },
            {
                "cell_capacity_ah": 2.5,
                "state_of_charge": 0.97,
                "loss_ah": 0.005,
                "cell_resistance_ohm": 0.034,
            },
        ],
        "cycle_count": 10,
    },
)
