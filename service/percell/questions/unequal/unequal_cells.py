"""What does each cell of a pack of unequal cells carry at this moment?"""

from collections.abc import Iterable
from math import inf
from typing import Annotated

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics import circuit
from percell.physics.meter import NOISE
from percell.physics.sharing import Shared
from percell.questions.answering import steps
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import condition_of
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.answering.voltage_findings import touch_voltage
from percell.questions.unequal import rules
from percell.questions.unequal.charge_limit import limit_assumed
from percell.questions.unequal.unequal_limits import cell_limits, held_pack
from percell.questions.unequal.unequal_pack import (
    Hardest,
    Pack,
    State,
    UnequalCells,
    Worst,
    input_power_w,
    state_of,
    worst_place,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, preset
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.limits import verdict_of
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import Feeds, Sharing, counted_cells
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import at_least, given, shown, worst


class UnequalCellState(Struct, frozen=True, gc=False):
    """One cell."""

    cell_current_a: Annotated[
        float,
        figure("A", "Current of the cell. Positive if it discharges, negative if it is charged."),
    ]
    voltage_v: Annotated[
        float, figure("V", "Voltage at the cell's own terminals. Negative if the cell is reversed.")
    ]
    cell_loss_w: Annotated[float, figure("W", "Heat inside the cell.")]
    contact_loss_w: Annotated[float, figure("W", "Heat in the contacts of the cell.")]
    verdict: Annotated[
        Verdict,
        fields.text("Worst verdict on this cell, by every limit except the power of the pack."),
    ]


class UnequalGroupState(Struct, frozen=True):
    """One parallel group."""

    voltage_v: Annotated[float, figure("V", "Voltage of the group.")]
    cells: Annotated[list[UnequalCellState], Meta(description="Cells, in the order given.")]


class UnequalCellsFigures(Struct, frozen=True, kw_only=True):
    """The pack and each of its cells at one moment."""

    pack_open_circuit_voltage_v: Annotated[float, figure("V", "Pack voltage without a load.")]
    pack_resistance_ohm: Annotated[
        float, figure("Ω", "Internal resistance of the pack with its contacts.")
    ]
    pack_current_a: Annotated[float, figure("A", "Current out of the pack.")]
    pack_voltage_v: Annotated[float, figure("V", "Pack voltage at that current.")]
    load_power_w: Annotated[float, figure("W", "Power out of the pack.")]
    cells_loss_w: Annotated[float, figure("W", "Heat inside all cells.")]
    contacts_loss_w: Annotated[float, figure("W", "Heat in all contacts.")]
    worst_group_number: Annotated[
        int,
        figure(
            "1",
            "Group of the worst-case cell, counted from 1. It is the cell with the most current, at this moment or "
            "where the load draws most: from full cells under a coil, at the cut-off behind a converter.",
        ),
    ]
    worst_cell_number: Annotated[
        int, figure("1", "Place of the worst-case cell in its group, counted from 1.")
    ]
    worst_cell_current_a: Annotated[
        float,
        figure(
            "A",
            "Current of the worst-case cell, the largest in either direction, at this moment or where the load "
            "draws most. Negative if it is charged.",
        ),
    ]
    worst_cell_share: Annotated[
        float | UnsetType,
        figure("1", "Part of the pack's current in the worst-case cell then, if there is a load."),
    ] = UNSET
    even_cell_current_a: Annotated[float, figure("A", "Current of each cell if shared evenly.")]
    careful_cell_current_a: Annotated[
        float,
        figure(
            "A",
            "Current that percell assumes in the worst-case cell if no cell is measured.",
        ),
    ]
    headroom: Annotated[
        float | UnsetType,
        figure(
            "1",
            "Unused part of the rating in the cell with the least left, at this moment or where the load draws most. "
            "Negative if exceeded.",
        ),
    ] = UNSET
    groups: Annotated[list[UnequalGroupState], Meta(description="Groups, in the order given.")]


def _load_steps(asked: UnequalCells, got: Shared) -> list[WorkingStep]:
    """Show the current out of the pack."""
    what = "Current out of the pack"
    if asked.coil_resistance_ohm is not UNSET:
        with_numbers = (
            f"{got.source.voltage_v:.4g} V / ({asked.coil_resistance_ohm:.4g} + "
            f"{got.source.resistance_ohm:.4g}) Ω"
        )
        return [WorkingStep(what, "I = U / (R_coil + R)", with_numbers, got.pack_current_a, "A")]
    if asked.output_power_w is UNSET:
        return [WorkingStep(f"{what}: nothing is connected", "I = 0", "0 A", 0.0, "A")]
    input_w = input_power_w(asked)
    volts, ohms = got.source
    return [
        WorkingStep(
            "Power the converter draws",
            "P_in = P / η + P_idle",
            f"{asked.output_power_w:.4g} W / {asked.efficiency:.4g} + {asked.idle_power_w:.4g} W",
            input_w,
            "W",
        ),
        WorkingStep(
            what,
            "I = 2·P_in / (U + √(U² − 4·R·P_in))",
            f"2 × {input_w:.4g} W / ({volts:.4g} V + √(({volts:.4g} V)² − 4 × {ohms:.4g} Ω × "
            f"{input_w:.4g} W))",
            got.pack_current_a,
            "A",
        ),
    ]


def _source_steps(pack: Pack, got: Shared, group: int) -> list[WorkingStep]:
    """Show the pack as one source with one resistance, and the group of the worst-case cell."""
    groups_v = circuit.group_source_voltage_v(
        cell_source_voltage_v=pack.voltage_v, path_resistance_ohm=pack.path_ohm
    )
    groups_ohm = circuit.group_resistance_ohm(path_resistance_ohm=pack.path_ohm)
    group_v, group_ohm = float(groups_v[group]), float(groups_ohm[group])
    place = f"group {group + 1}"
    return [
        WorkingStep(
            f"Resistance of {place}, which has the worst-case cell, with contacts",
            "R_g = 1 / Σ(1 / r_i)",
            f"1 / ({' + '.join(f'1/{r:.4g}' for r in pack.path_ohm[group])}) Ω",
            group_ohm,
            "Ω",
        ),
        WorkingStep(
            f"Voltage of {place} with nothing connected",
            "E_g = R_g · Σ(E_i / r_i)",
            f"{group_ohm:.4g} × ("
            + " + ".join(
                f"{e:.4g}/{r:.4g}"
                for e, r in zip(pack.voltage_v[group], pack.path_ohm[group], strict=True)
            )
            + ") V",
            group_v,
            "V",
        ),
        WorkingStep(
            "Pack voltage with nothing connected",
            "U = Σ E_g",
            f"{' + '.join(f'{e:.4g}' for e in groups_v)} V",
            got.source.voltage_v,
            "V",
        ),
        WorkingStep(
            "Pack resistance",
            "R = Σ R_g",
            f"{' + '.join(f'{r:.4g}' for r in groups_ohm)} Ω",
            got.source.resistance_ohm,
            "Ω",
        ),
    ]


def _hardest_steps(state: State, worst_cell: Worst, hardest: Hardest) -> list[WorkingStep]:
    """Show what the worst-case cell carries where the load draws most."""
    asked, (group, cell), series = state.asked, worst_cell.place, state.pack.voltage_v.shape[0]
    if asked.output_power_w is UNSET:
        which = "from full cells"
        relation = "I = S · U_full / (R_coil + R)"
        with_numbers = (
            f"{series} × {hardest.cell_v:.4g} V / ({asked.coil_resistance_ohm:.4g} + "
            f"{state.shared.source.resistance_ohm:.4g}) Ω"
        )
    else:
        which = f"at {hardest.cell_v:.4g} V per cell, the usual cut-off"
        relation = "I = P_in / (S · U_cutoff)"
        with_numbers = f"{input_power_w(asked):.4g} W / ({series} × {hardest.cell_v:.4g} V)"
    path_ohm = state.pack.path_ohm[group]
    group_ohm = float(circuit.group_resistance_ohm(path_resistance_ohm=path_ohm))
    return [
        WorkingStep(
            f"Current out of the pack {which}", relation, with_numbers, hardest.pack_a, "A"
        ),
        WorkingStep(
            f"Current of the worst-case cell then, cell {cell + 1} of group {group + 1}",
            "I_i = I · R_g/r_i",
            f"{hardest.pack_a:.4g} A × {group_ohm:.4g}/{path_ohm[cell]:.4g}",
            worst_cell.cell_a,
            "A",
        ),
        _share_step(worst_cell),
    ]


def _share_step(worst_cell: Worst) -> WorkingStep:
    return WorkingStep(
        "Share of the pack's current in this cell",
        "s = |I_i| / I",
        f"{abs(worst_cell.cell_a):.4g} A / {worst_cell.pack_a:.4g} A",
        worst_cell.share,
        "1",
    )


def _cell_steps(state: State, worst_cell: Worst) -> list[WorkingStep]:
    """Show which part of the pack's current the worst-case cell carries at this moment."""
    pack, got = state.pack, state.shared
    group, cell = worst_cell.place
    path_ohm = pack.path_ohm[group]
    group_ohm = float(circuit.group_resistance_ohm(path_resistance_ohm=path_ohm))
    group_v = float(
        circuit.group_source_voltage_v(
            cell_source_voltage_v=pack.voltage_v[group], path_resistance_ohm=path_ohm
        )
    )
    working = [
        WorkingStep(
            f"Current of the worst-case cell, cell {cell + 1} of group {group + 1}",
            "I_i = I·R_g/r_i + (E_i − E_g)/r_i",
            f"{got.pack_current_a:.4g} A × {group_ohm:.4g}/{path_ohm[cell]:.4g} + "
            f"({pack.voltage_v[group, cell]:.4g} − {group_v:.4g}) V / {path_ohm[cell]:.4g} Ω",
            worst_cell.cell_a,
            "A",
        ),
    ]
    if got.pack_current_a:
        working.append(_share_step(worst_cell))
    return working


def _other_findings(asked: UnequalCells, state: State, careful_a: float) -> list[Finding]:
    """Return the findings that concern no limit."""
    got, rating_a = state.shared, state.pack.rating_a
    series, discharge_a = wiring(asked.layout).series, float(got.cell_current_a.max())
    full_v = series * VOLTAGES[asked.chemistry].charged_v
    found = touch_voltage(max(full_v, got.source.voltage_v))
    if got.pack_current_a and discharge_a > careful_a * (1 + NOISE):
        carried, expected = worst(discharge_a, inf), at_least(careful_a)
        found.append(
            finding(
                rules.SHARE_ABOVE_CAREFUL,
                f"A cell carries {carried} A while the pack gives {shown(got.pack_current_a)} A. That is more than the "
                f"{expected} A that percell assumes for cells without measurements.",
            )
        )
    if rating_a is not None and np.ptp(rating_a):
        found.append(
            finding(
                rules.UNLIKE_RATINGS,
                f"The cells are rated {_range(rating_a.ravel())} A. Only use cells of the same make, age and history "
                "in one pack.",
            )
        )
    return found


def explain(asked: UnequalCells) -> Explained[UnequalCellsFigures]:
    """Answer for one pack."""
    state = state_of(asked)
    pack, got = state.pack, state.shared
    parallel = pack.voltage_v.shape[1]
    feeds = Feeds.COIL if asked.output_power_w is UNSET else Feeds.CONVERTER
    careful_a = got.pack_current_a / float(counted_cells(Sharing.CAREFUL, parallel, feeds))
    worst_cell, held = state.worst, held_pack(state)
    working = _source_steps(pack, got, worst_cell.place[0]) + _load_steps(asked, got)
    if worst_cell.hardest is None:
        working += _cell_steps(state, worst_cell)
    else:
        working += _hardest_steps(state, worst_cell, worst_cell.hardest)
    headroom: float | UnsetType = UNSET
    rated = next(one for one in held.limits if one.name is LimitName.CONTINUOUS_RATING)
    if rated.figure is not UNSET and rated.value is not UNSET:
        working.append(steps.headroom(worst_cell_a=rated.figure, rating_a=rated.value))
        headroom = working[-1].result
    figures = UnequalCellsFigures(
        pack_open_circuit_voltage_v=got.source.voltage_v,
        pack_resistance_ohm=got.source.resistance_ohm,
        pack_current_a=got.pack_current_a,
        pack_voltage_v=got.pack_voltage_v,
        load_power_w=got.pack_voltage_v * got.pack_current_a,
        cells_loss_w=float(got.cell_loss_w.sum()),
        contacts_loss_w=float(got.contact_loss_w.sum()),
        worst_group_number=worst_cell.place[0] + 1,
        worst_cell_number=worst_cell.place[1] + 1,
        worst_cell_current_a=worst_cell.cell_a,
        worst_cell_share=worst_cell.share if worst_cell.pack_a else UNSET,
        even_cell_current_a=got.pack_current_a / parallel,
        careful_cell_current_a=careful_a,
        headroom=headroom,
        groups=_groups(state),
    )
    return Explained(
        figures=figures,
        working=working,
        limits=held.limits,
        findings=held.findings + _other_findings(asked, state, careful_a),
        condition=_condition(asked, pack),
        leads=_leads(state, worst_cell),
    )


def _condition(asked: UnequalCells, pack: Pack) -> str:
    """Return what was asked in words, with the ratings that single cells have."""
    own_a = [cell.cell_rating_a for cell in asked.cells if cell.cell_rating_a is not UNSET]
    all_own = len(own_a) == len(asked.cells)
    rated = f"{'' if all_own else 'some '}cells rated {_range(own_a)} A, " if own_a else ""
    loaded = asked.coil_resistance_ohm is not UNSET or asked.output_power_w is not UNSET
    at_rest = f"rest voltages of {_range(pack.voltage_v.ravel())} V"
    # a rating that no cell uses is no condition
    counted = structs.replace(asked, cell_rating_a=UNSET) if all_own else asked
    return condition_of(counted, cells=f"{rated}{at_rest}{'' if loaded else ', without a load'}")


def _range(values: Iterable[float]) -> str:
    numbers = [float(value) for value in values]
    low, high = min(numbers), max(numbers)
    return given(low) if low == high else f"{given(low)} to {given(high)}"


def _leads(state: State, worst_cell: Worst) -> str:
    """Return the clause about the cell with the most current; without a load about the most charged one."""
    pack, got = state.pack, state.shared
    (group, cell), current_a = worst_cell.place, worst_cell.cell_a
    if state.no_load:
        group, cell = worst_place(-got.cell_current_a)
        current_a = float(got.cell_current_a[group, cell])
    if not current_a:
        return "no current flows"
    name = f"cell {cell + 1} of group {group + 1}"
    if current_a < 0:
        return f"other cells charge {name} with {shown(-current_a)} A"
    rating_a = inf if pack.rating_a is None else float(pack.rating_a[group, cell])
    when = ""
    if worst_cell.hardest is not None:
        how = "full, at" if state.asked.output_power_w is UNSET else "down to"
        when = f", when the cells are {how} {given(worst_cell.hardest.cell_v)} V"
    return f"{name} carries the most, {worst(current_a, rating_a)} A{when}"


def _groups(state: State) -> list[UnequalGroupState]:
    got = state.shared
    series, parallel = state.pack.voltage_v.shape
    return [
        UnequalGroupState(
            float(got.group_voltage_v[i]),
            [
                UnequalCellState(
                    float(got.cell_current_a[i, j]),
                    float(got.cell_voltage_v[i, j]),
                    float(got.cell_loss_w[i, j]),
                    float(got.contact_loss_w[i, j]),
                    verdict_of(cell_limits(state, (i, j))),
                )
                for j in range(parallel)
            ],
        )
        for i in range(series)
    ]


def _cutoff_assumed(chemistry: Chemistry) -> Assumption:
    cutoff_v, origin = preset("cell_cutoff_voltage_v", chemistry)
    return Assumption("cell_cutoff_voltage_v", cutoff_v, "V", origin)


def assumed(asked: UnequalCells) -> list[Assumption]:
    """Return the defaults in use; those of a converter, and a charge limit, only if they matter."""
    converter_only = {"efficiency", "idle_power_w"} if asked.output_power_w is UNSET else set()
    found = assumptions(asked, frozenset(UnequalCells.__struct_fields__) - converter_only)
    state = state_of(asked)
    charge = state.charge
    if state.hardest and asked.output_power_w is not UNSET:
        found.append(_cutoff_assumed(asked.chemistry))
    if state.looks_at_charging and charge.assumed:
        at = worst_place(state.charge_a / charge.limit_a)
        found.append(limit_assumed(float(charge.limit_a[at]), charge.origin))
    return found


QUESTION = Question(
    id="unequal-cells",
    subject=Subject.UNEQUAL_CELLS,
    title="Current of each cell in a pack of unequal cells",
    description="Current of each cell at this moment, from its own voltage and resistances, under a coil, a "
    "converter or no load.",
    asked=UnequalCells,
    shows=UnequalCellsFigures,
    # charging first: without a load the cells do nothing else, and nothing limits it
    limits=(
        LimitName.CHARGE_CURRENT,
        LimitName.CONTINUOUS_RATING,
        LimitName.REVERSAL,
        LimitName.END_VOLTAGE,
        LimitName.CHARGED_VOLTAGE,
        LimitName.AVAILABLE_POWER,
    ),
    explain=explain,
    assumed=assumed,
    # two lent cells of the Lantern Street Bench, invented: the second is worn and its contact tarnished
    example={
        "layout": "1S2P",
        "cells": [
            {"open_circuit_voltage_v": 4.15, "cell_resistance_ohm": 0.018},
            {
                "open_circuit_voltage_v": 4.12,
                "cell_resistance_ohm": 0.031,
                "contact_resistance_ohm": 0.012,
            },
        ],
        "cell_rating_a": 20,
        "cell_charge_limit_a": 4,
        "coil_resistance_ohm": 0.15,
    },
)
