"""What happens when cells at different voltages are joined in parallel?"""

from math import inf
from typing import Annotated, NamedTuple

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import circuit, curves
from percell.physics import joining as formulas
from percell.physics.curves import Curve
from percell.physics.errors import NoSolution
from percell.physics.meter import rounded_down
from percell.physics.types import Floats
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import condition_of
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.unequal import rules
from percell.questions.unequal.cell_voltages import resting
from percell.questions.unequal.charge_limit import (
    CellChargeLimitA,
    believed,
    charge_current,
    charge_limits_a,
    limit_assumed,
    of_which,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import MOST
from percell.questions.vocabulary.limits import Held, judged, missing, together
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, given, worst


class JoiningCell(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell with its contacts."""

    open_circuit_voltage_v: fields.CellOpenCircuitVoltageV
    cell_resistance_ohm: fields.UnequalCellResistanceOhm
    contact_resistance_ohm: fields.LowContactResistanceOhm = 0.0
    cell_capacity_ah: fields.CellCapacityAh


class Joining(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Cells of one chemistry to join in parallel, with nothing else connected."""

    cells: Annotated[
        list[JoiningCell],
        Meta(min_length=2, max_length=MOST, description="The cells to join."),
    ]
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET
    chemistry: ChemistryField = Chemistry.NMC


class JoinedCell(Struct, frozen=True, gc=False, omit_defaults=True):
    """One of the joined cells."""

    cell_current_a: Annotated[
        float,
        figure(
            "A", "Current at the moment when all cells are joined. Negative if the cell is charged."
        ),
    ]
    highest_charge_current_a: Annotated[
        float, figure("A", "Highest current into this cell, for any order of joining.")
    ]
    given_charge_ah: Annotated[
        float | UnsetType,
        figure(
            "Ah", "Charge that this cell delivers until all are at rest. Negative if it is charged."
        ),
    ] = UNSET


class JoiningFigures(Struct, frozen=True, kw_only=True):
    """The moment of joining, and the state at rest."""

    voltage_difference_v: Annotated[
        float, figure("V", "Difference between the highest and the lowest open-circuit voltage.")
    ]
    highest_voltage_difference_v: Annotated[
        float,
        figure("V", "Highest difference of voltage at which no cell is charged above its limit."),
    ]
    highest_charge_current_a: Annotated[
        float, figure("A", "Highest current into any cell, for any order of joining.")
    ]
    pair_current_a: Annotated[
        float, figure("A", "Highest current between two of the cells, joined without the others.")
    ]
    pair_from_cell_number: Annotated[
        int, figure("1", "Cell that this current comes from, counted from 1.")
    ]
    pair_into_cell_number: Annotated[
        int, figure("1", "Cell that this current charges, counted from 1.")
    ]
    joined_voltage_v: Annotated[
        float, figure("V", "Voltage at the moment when all cells are joined.")
    ]
    settled_voltage_v: Annotated[
        float | UnsetType,
        figure("V", "Voltage when all cells are at rest, read from the curve of the chemistry."),
    ] = UNSET
    settled_state_of_charge: Annotated[
        float | UnsetType, figure("1", "State of charge when all cells are at rest.")
    ] = UNSET
    moved_charge_ah: Annotated[
        float | UnsetType,
        figure("Ah", "Charge that moves between the cells until they are at rest."),
    ] = UNSET
    cells: Annotated[list[JoinedCell], Meta(description="Each cell, in the order given.")]


class Rest(NamedTuple):
    """The cells at rest."""

    curve: Curve
    charge: Floats
    settled_charge: float
    settled_v: float
    given_ah: Floats

    @property
    def moved_ah(self) -> float:
        return float(np.sum(np.maximum(self.given_ah, 0.0)))


# the last digit of a usual voltmeter
LEAST_APART_V = 0.001


def within_text(apart_v: float) -> str:
    """Return the highest allowed voltage difference in words, rounded down to a millivolt."""
    if apart_v < LEAST_APART_V:
        return f"less than {LEAST_APART_V:g} V"
    return f"{rounded_down(value=apart_v, step=LEAST_APART_V):g} V"


def at_rest(
    chemistry: Chemistry, voltage_v: Floats, capacity_ah: Floats
) -> tuple[Rest | None, list[Finding]]:
    """Return the cells at rest, or why the curve cannot tell."""
    if chemistry.value not in curves.PUBLISHED:
        name = VOLTAGES[chemistry].name
        return None, [
            finding(
                shared_rules.NO_CURVE,
                f"percell has no published curve for {name}, so the answer leaves out where the cells come to rest.",
            )
        ]
    curve = curves.published_curve(chemistry=chemistry.value)
    on_curve = {"curve_charge": curve.soc, "curve_voltage_v": curve.ocv_v}
    try:
        charge = np.asarray(formulas.state_of_charge(cell_source_voltage_v=voltage_v, **on_curve))
    except NoSolution as none:
        found = none.numbers
        return None, [
            finding(
                rules.VOLTAGE_OFF_CURVE,
                f"A cell rests at {given(found['open_circuit_voltage_v'])} V, outside the range of "
                f"{found['lowest_voltage_v']:.4g} to {found['highest_voltage_v']:.4g} V of its curve. The answer "
                "leaves out where the cells come to rest.",
            )
        ]
    settled = formulas.settling_charge(cell_capacity_ah=capacity_ah, cell_charge=charge)
    return Rest(
        curve,
        charge,
        settled,
        float(formulas.settling_voltage_v(settled_charge=settled, **on_curve)),
        formulas.moved_charge_ah(
            cell_capacity_ah=capacity_ah, cell_charge=charge, settled_charge=settled
        ),
    ), []


class _Cells(NamedTuple):
    """The cells in arrays."""

    voltage_v: Floats
    path_ohm: Floats
    capacity_ah: Floats


class _Rush(NamedTuple):
    """The currents at the moment of joining, for any order of joining."""

    into_each_a: Floats
    limits_a: Floats
    # the cell closest to its limit, or furthest above it, counted from 0
    worst: int
    giver: int
    taker: int
    pair_a: float
    # the cell that gives most, whether to one or to all the others
    most_giving: int
    most_given_a: float
    advised_apart_v: float

    @property
    def worst_a(self) -> float:
        return float(self.into_each_a[self.worst])

    @property
    def limit_a(self) -> float:
        """Return the charge limit of the worst cell."""
        return float(self.limits_a[self.worst])


def _cells(asked: Joining) -> _Cells:
    return _Cells(
        np.array([cell.open_circuit_voltage_v for cell in asked.cells]),
        np.array([c.cell_resistance_ohm + c.contact_resistance_ohm for c in asked.cells]),
        np.array([cell.cell_capacity_ah for cell in asked.cells]),
    )


def _rush(asked: Joining, cells: _Cells) -> _Rush:
    """Return the currents of the first moment, each compared with the limit of its cell."""
    pairs_a = formulas.rush_current_a(
        voltage_apart_v=cells.voltage_v[:, None] - cells.voltage_v,
        path_resistance_ohm=cells.path_ohm[:, None],
        other_path_resistance_ohm=cells.path_ohm,
    )
    giver, taker = (int(place) for place in np.unravel_index(np.argmax(pairs_a), pairs_a.shape))
    if giver == taker:  # all at one voltage: any two cells are as good as any other
        taker = 1
    into_each_a = formulas.highest_charge_current_a(
        cell_source_voltage_v=cells.voltage_v, path_resistance_ohm=cells.path_ohm
    )
    # with all voltages turned round, what a cell gives is what it takes
    out_of_each_a = formulas.highest_charge_current_a(
        cell_source_voltage_v=-cells.voltage_v, path_resistance_ohm=cells.path_ohm
    )
    limits_a = charge_limits_a(asked.cell_charge_limit_a, cells.capacity_ah)
    return _Rush(
        into_each_a,
        limits_a,
        # as a ratio, because a small current can be too much for a small cell
        int(np.argmax(into_each_a / limits_a)),
        giver,
        taker,
        float(pairs_a[giver, taker]),
        int(np.argmax(out_of_each_a)),
        float(out_of_each_a.max()),
        formulas.highest_voltage_apart_v(
            cell_charge_limit_a=limits_a, path_resistance_ohm=cells.path_ohm
        ),
    )


def explain(asked: Joining) -> Explained[JoiningFigures]:
    """Answer for one set of cells."""
    cells = _cells(asked)
    rush = _rush(asked, cells)
    rest, unknown = at_rest(asked.chemistry, cells.voltage_v, cells.capacity_ah)
    got = _figures(asked, cells, rush, rest)
    working = _rush_steps(cells, rush, joined_v=got.joined_voltage_v)
    if rest:
        working += _rest_steps(rest, cells.voltage_v, cells.capacity_ah)
    volts = cells.voltage_v
    held = together(
        _charging(asked, cells, rush),
        _giving(asked, rush),
        resting(asked.chemistry, volts, lambda place: f"Cell {place + 1}"),
        Held([], unknown),
    )
    return Explained(
        figures=got,
        working=working,
        limits=held.limits,
        condition=condition_of(
            asked,
            cells=f"{len(volts)} cells resting at {given(float(volts.min()))} to {given(float(volts.max()))} V",
        ),
        assumptions=_assumptions(asked, rush),
        leads=f"cell {rush.worst + 1} is charged with up to {worst(rush.worst_a, rush.limit_a)} A at first",
        findings=held.findings,
    )


def _figures(asked: Joining, cells: _Cells, rush: _Rush, rest: Rest | None) -> JoiningFigures:
    circuit_of = {
        "cell_source_voltage_v": cells.voltage_v,
        "path_resistance_ohm": cells.path_ohm,
    }
    currents_a = circuit.cell_current_a(group_current_a=0.0, **circuit_of)
    return JoiningFigures(
        voltage_difference_v=float(np.ptp(cells.voltage_v)),
        highest_voltage_difference_v=rush.advised_apart_v,
        highest_charge_current_a=float(rush.into_each_a.max()),
        pair_current_a=rush.pair_a,
        pair_from_cell_number=rush.giver + 1,
        pair_into_cell_number=rush.taker + 1,
        joined_voltage_v=float(circuit.group_source_voltage_v(**circuit_of)),
        settled_voltage_v=rest.settled_v if rest else UNSET,
        settled_state_of_charge=rest.settled_charge if rest else UNSET,
        moved_charge_ah=rest.moved_ah if rest else UNSET,
        cells=[
            JoinedCell(
                float(currents_a[i]),
                float(rush.into_each_a[i]),
                float(rest.given_ah[i]) if rest else UNSET,
            )
            for i in range(len(asked.cells))
        ],
    )


def _giving(asked: Joining, rush: _Rush) -> Held:
    """Hold what the fullest cell gives at first to its discharge rating."""
    if asked.cell_rating_a is UNSET:
        return Held([missing(LimitName.CONTINUOUS_RATING, "cell_rating_a")], [])
    limit = judged(LimitName.CONTINUOUS_RATING, rush.most_given_a, asked.cell_rating_a, "A")
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    said = (
        f"Cell {rush.most_giving + 1} would give {worst(rush.most_given_a, asked.cell_rating_a)} A, above its "
        f"continuous rating of {given(asked.cell_rating_a)} A. Do not join these cells yet."
    )
    return Held([limit], [finding(shared_rules.OVER_RATING, said)])


def _charging(asked: Joining, cells: _Cells, rush: _Rush) -> Held:
    """Hold the first rush into the worst cell to its charge limit."""
    within = within_text(rush.advised_apart_v)
    gives = (
        f"Cell {rush.most_giving + 1} gives up to {worst(rush.most_given_a, inf)} A at first. "
        if rush.most_given_a
        else ""
    )
    like = finding(
        rules.JOIN_LIKE_CELLS,
        f"Only join cells of the same make, age and history, which percell cannot check. {gives}The highest "
        f"difference of voltage for joining is {within}. It holds only for these resistances, at the first moment.",
    )
    limit = charge_current(rush.worst_a, rush.limit_a, assumed=asked.cell_charge_limit_a is UNSET)
    doubt = believed(limit, asked.cell_charge_limit_a, float(cells.capacity_ah.min()))
    if limit.verdict is not Verdict.OVER:
        return together(doubt, Held([], [like]))
    apart_v = float(np.ptp(cells.voltage_v))
    return together(
        doubt,
        Held(
            [],
            [
                finding(
                    rules.JOINING_RUSH,
                    f"Cell {rush.worst + 1} would be charged with {worst(rush.worst_a, rush.limit_a)} A, above its "
                    f"charge limit of {given(rush.limit_a)} A{of_which(asked.cell_charge_limit_a)}. Do not join these "
                    f"cells yet: their voltages differ by {beside(apart_v, rush.advised_apart_v)} V, and the highest "
                    f"difference for joining is {within}.",
                ),
                like,
            ],
        ),
    )


def _rush_steps(cells: _Cells, rush: _Rush, *, joined_v: float) -> list[WorkingStep]:
    voltage_v, path_ohm = cells.voltage_v, cells.path_ohm
    giver, taker, place = rush.giver, rush.taker, rush.worst
    return [
        WorkingStep(
            f"Highest current between two cells: from cell {giver + 1} into cell {taker + 1}",
            "I = ΔV / (r₁ + r₂), with contacts",
            f"({voltage_v[giver]:.4g} − {voltage_v[taker]:.4g}) V / ({path_ohm[giver]:.4g} + "
            f"{path_ohm[taker]:.4g}) Ω",
            rush.pair_a,
            "A",
        ),
        WorkingStep(
            "Voltage at the moment when all cells are joined",
            "V = Σ(E_i / r_i) / Σ(1 / r_i)",
            "("
            + " + ".join(f"{e:.4g}/{r:.4g}" for e, r in zip(voltage_v, path_ohm, strict=True))
            + f") / ({' + '.join(f'1/{r:.4g}' for r in path_ohm)}) V",
            joined_v,
            "V",
        ),
        WorkingStep(
            f"Highest current into cell {place + 1}, which is closest to its limit or furthest above it",
            "I = max (E_others − E_i) / (r_i + R_others), over the cells that can be joined before it",
            f"E_i = {voltage_v[place]:.4g} V, r_i = {path_ohm[place]:.4g} Ω",
            rush.worst_a,
            "A",
        ),
        WorkingStep(
            "Highest difference of voltage at which no cell is charged above its limit",
            "ΔV = min I_limit · (r_i + R_others)",
            f"I_limit = {float(rush.limits_a.min()):.4g} A, {len(path_ohm)} cells of "
            f"{float(path_ohm.min()):.4g} to {float(path_ohm.max()):.4g} Ω",
            rush.advised_apart_v,
            "V",
        ),
    ]


def assumed(asked: Joining) -> list[Assumption]:
    """Return the defaults in use, and the charge limit assumed if none is given."""
    return _assumptions(asked, _rush(asked, _cells(asked)))


def _assumptions(asked: Joining, rush: _Rush) -> list[Assumption]:
    found = assumptions(asked)
    if asked.cell_charge_limit_a is UNSET:
        found.append(limit_assumed(rush.limit_a))
    return found


def _rest_steps(rest: Rest, voltage_v: Floats, capacity_ah: Floats) -> list[WorkingStep]:
    charges = list(zip(capacity_ah, rest.charge, strict=True))
    return [
        WorkingStep(
            f"State of charge at rest, each cell read from the curve: {rest.curve.name}",
            "z = Σ(q_i · z_i) / Σ q_i",
            f"({' + '.join(f'{q:.4g} × {z:.4g}' for q, z in charges)}) / {capacity_ah.sum():.4g}",
            rest.settled_charge,
            "1",
        ),
        WorkingStep(
            "Voltage at rest, from the same curve",
            "u = OCV(z)",
            f"OCV({rest.settled_charge:.4g}), from {voltage_v.min():.4g} to {voltage_v.max():.4g} V before",
            rest.settled_v,
            "V",
        ),
        WorkingStep(
            "Charge that moves between the cells",
            "Δq = Σ q_i · (z_i − z), over the cells that are discharged",
            " + ".join(
                f"{q:.4g} × ({z:.4g} − {rest.settled_charge:.4g})"
                for q, z in charges
                if z > rest.settled_charge
            )
            or "0 Ah",
            rest.moved_ah,
            "Ah",
        ),
    ]


QUESTION = Question(
    id="joining",
    subject=Subject.UNEQUAL_CELLS,
    title="Joining cells at different voltages",
    description="Current when cells are joined in parallel, the highest allowed difference of their voltages, "
    "and their voltage at rest.",
    asked=Joining,
    shows=JoiningFigures,
    limits=(
        LimitName.CHARGE_CURRENT,
        LimitName.CONTINUOUS_RATING,
        LimitName.END_VOLTAGE,
        LimitName.CHARGED_VOLTAGE,
    ),
    explain=explain,
    assumed=assumed,
    # three cells back at the Lantern Street Bench, invented: one was used longer than the others
    example={
        "cells": [
            {"open_circuit_voltage_v": 4.05, "cell_resistance_ohm": 0.02, "cell_capacity_ah": 3.0},
            {"open_circuit_voltage_v": 4.03, "cell_resistance_ohm": 0.022, "cell_capacity_ah": 2.9},
            {"open_circuit_voltage_v": 3.62, "cell_resistance_ohm": 0.025, "cell_capacity_ah": 2.8},
        ],
        "cell_charge_limit_a": 4,
    },
)
