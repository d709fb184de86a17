"""What does each cell of a pack of unequal cells carry at this moment?"""

from typing import Annotated, NamedTuple

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import circuit, converter, sharing
from percell.physics.meter import NOISE
from percell.physics.pack import counted_cells
from percell.physics.sharing import Shared
from percell.physics.types import Floats
from percell.questions.answering import rules as shared_rules
from percell.questions.answering import steps
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.answering.rating_findings import cell_against_rating
from percell.questions.unequal import rules
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import MOST
from percell.questions.vocabulary.limits import missing
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.verdict import Verdict, verdict

# below this no finding says that a cell is being charged: open-circuit voltages are not that exact
CHARGED_A = 0.001


class UnequalCell(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell with its contacts."""

    open_circuit_voltage_v: fields.CellOpenCircuitVoltageV
    cell_resistance_ohm: fields.UnequalCellResistanceOhm
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET


Group = Annotated[
    list[UnequalCell],
    Meta(min_length=1, max_length=MOST, description="The cells in parallel in one group."),
]


class UnequalCells(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack cell by cell, and its load: a coil, a converter, or nothing."""

    groups: Annotated[
        list[Group],
        Meta(
            min_length=1,
            max_length=MOST,
            description="The parallel groups in series, each with as many cells as the others.",
        ),
    ]
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    coil_resistance_ohm: fields.CoilResistanceOhm | UnsetType = UNSET
    output_power_w: fields.OutputPowerW | UnsetType = UNSET
    efficiency: fields.Efficiency = fields.EFFICIENCY
    idle_power_w: fields.IdlePowerW = 0.0


class UnequalCellState(Struct, frozen=True, gc=False, omit_defaults=True):
    """One cell."""

    cell_current_a: Annotated[
        float, figure("A", "Positive when the cell discharges, negative when it is being charged.")
    ]
    voltage_v: Annotated[
        float, figure("V", "At the cell's own terminals; negative when driven into reversal.")
    ]
    cell_loss_w: Annotated[float, figure("W", "Heat inside the cell.")]
    contact_loss_w: Annotated[float, figure("W", "Heat in its contacts.")]
    verdict: Verdict | UnsetType = UNSET


class UnequalGroupState(Struct, frozen=True):
    """One parallel group."""

    voltage_v: Annotated[float, figure("V", "Voltage of the group.")]
    cells: Annotated[list[UnequalCellState], Meta(description="The cells, in the order given.")]


class UnequalCellsFigures(Struct, frozen=True, kw_only=True):
    """The pack and each of its cells at one moment."""

    pack_open_circuit_voltage_v: Annotated[float, figure("V", "Pack voltage without a load.")]
    pack_resistance_ohm: Annotated[float, figure("Ω", "Internal resistance with the contacts.")]
    pack_current_a: Annotated[float, figure("A", "Current out of the pack.")]
    pack_voltage_v: Annotated[float, figure("V", "Pack voltage at that current.")]
    load_power_w: Annotated[float, figure("W", "Power out of the pack.")]
    cells_loss_w: Annotated[float, figure("W", "Heat inside all cells.")]
    contacts_loss_w: Annotated[float, figure("W", "Heat in all contacts.")]
    worst_cell_group: Annotated[
        int, figure("1", "Group of the worst-case cell, counted from 1 at the first given.")
    ]
    worst_cell_place: Annotated[int, figure("1", "Its place in the group, counted from 1.")]
    worst_cell_current_a: Annotated[
        float, figure("A", "Its current: the most in either direction, negative when charged.")
    ]
    worst_cell_share: Annotated[
        float | UnsetType, figure("1", "Its part of the pack's current, where there is a load.")
    ] = UNSET
    even_cell_current_a: Annotated[float, figure("A", "Current of each cell if shared evenly.")]
    allowance_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell by the sharing allowance.")
    ]
    headroom: Annotated[
        float | UnsetType,
        figure("1", "What is left of the rating in the cell where least is left."),
    ] = UNSET
    groups: Annotated[list[UnequalGroupState], Meta(description="Each group, in the order given.")]


class _Pack(NamedTuple):
    """The cells as arrays of shape (S, P)."""

    voltage_v: Floats
    cell_ohm: Floats
    contact_ohm: Floats
    rating_a: Floats | None

    @property
    def path_ohm(self) -> Floats:
        return self.cell_ohm + self.contact_ohm


def _read(asked: UnequalCells) -> _Pack:
    size = len(asked.groups[0])
    for i, group in enumerate(asked.groups):
        if len(group) != size:
            raise Refused(
                f"groups.{i}",
                f"This group has {len(group)} cells and the first one {size}: all must have as many.",
            )
    ratings = [
        [
            asked.cell_rating_a if cell.cell_rating_a is UNSET else cell.cell_rating_a
            for cell in group
        ]
        for group in asked.groups
    ]
    unrated = [
        (i, j)
        for i, group in enumerate(ratings)
        for j, rating in enumerate(group)
        if rating is UNSET
    ]
    if unrated and len(unrated) < size * len(ratings):
        i, j = unrated[0]
        raise Refused(
            f"groups.{i}.{j}.cell_rating_a",
            "Other cells have a rating: give this one too, or cell_rating_a for all, or none at all.",
        )
    return _Pack(
        np.array([[cell.open_circuit_voltage_v for cell in group] for group in asked.groups]),
        np.array([[cell.cell_resistance_ohm for cell in group] for group in asked.groups]),
        np.array([[cell.contact_resistance_ohm for cell in group] for group in asked.groups]),
        None if unrated else np.array(ratings, dtype=np.float64),
    )


def _solve(asked: UnequalCells, pack: _Pack) -> tuple[Shared, list[WorkingStep]]:
    """Return the state of the pack, and the steps from its own figures to its current."""
    cells = {
        "cell_source_voltage_v": pack.voltage_v,
        "cell_resistance_ohm": pack.cell_ohm,
        "contact_resistance_ohm": pack.contact_ohm,
    }
    what = "Current out of the pack"
    if asked.coil_resistance_ohm is not UNSET:
        got = sharing.shared_into_resistance(**cells, load_resistance_ohm=asked.coil_resistance_ohm)
        put_in = (
            f"{got.source.voltage_v:.4g} V / ({asked.coil_resistance_ohm:.4g} + "
            f"{got.source.resistance_ohm:.4g}) Ω"
        )
        return got, [WorkingStep(what, "I = U / (R_coil + R)", put_in, got.pack_current_a, "A")]
    if asked.output_power_w is UNSET:
        got = sharing.shared_at_current(**cells, pack_current_a=0.0)
        return got, [WorkingStep(f"{what}: nothing is connected", "I = 0", "0 A", 0.0, "A")]
    input_w = float(
        converter.input_power_w(
            output_power_w=asked.output_power_w,
            efficiency=asked.efficiency,
            idle_power_w=asked.idle_power_w,
        )
    )
    got = sharing.shared_into_converter(**cells, input_power_w=input_w)
    volts, ohms = got.source
    return got, [
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


def _source_steps(pack: _Pack, got: Shared) -> list[WorkingStep]:
    """Show the pack as one source with one resistance."""
    group = got.worst_cell[0]
    groups_v = circuit.group_source_voltage_v(
        cell_source_voltage_v=pack.voltage_v, path_resistance_ohm=pack.path_ohm
    )
    groups_ohm = circuit.group_resistance_ohm(path_resistance_ohm=pack.path_ohm)
    group_v, group_ohm = float(groups_v[group]), float(groups_ohm[group])
    place = f"group {group + 1}"
    return [
        WorkingStep(
            f"Resistance of {place}, that of the worst-case cell, with contacts",
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


def _cell_steps(pack: _Pack, got: Shared) -> list[WorkingStep]:
    """Show which part of the pack's current the worst-case cell carries."""
    group, cell = got.worst_cell
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
            got.worst_cell_current_a,
            "A",
        ),
    ]
    if got.pack_current_a:
        working.append(
            WorkingStep(
                "Its share of the pack's current",
                "s = |I_i| / I",
                f"{abs(got.worst_cell_current_a):.4g} A / {got.pack_current_a:.4g} A",
                got.worst_cell_share,
                "1",
            )
        )
    return working


def _findings(asked: UnequalCells, got: Shared, allowed_a: float) -> list[Finding]:
    found = []
    if got.cell_voltage_v.min() < 0:
        group, cell = np.unravel_index(np.argmin(got.cell_voltage_v), got.cell_voltage_v.shape)
        found.append(
            finding(
                rules.CELL_REVERSED,
                f"Cell {cell + 1} of group {group + 1} has −{-got.cell_voltage_v[group, cell]:.3g} V at its "
                f"terminals; below 0 V: {np.count_nonzero(got.cell_voltage_v < 0)} of "
                f"{got.cell_voltage_v.size} cells.",
            )
        )
    if asked.coil_resistance_ohm is not UNSET and (
        asked.coil_resistance_ohm <= got.source.resistance_ohm
    ):
        found.append(
            finding(
                shared_rules.SHORT_CIRCUIT,
                f"The coil has {asked.coil_resistance_ohm:.3g} Ω, which is no more than the "
                f"{got.source.resistance_ohm:.3g} Ω of the pack itself: at least half of the power heats the "
                "cells.",
            )
        )
    charged = got.cell_current_a < -CHARGED_A
    if charged.any():
        group, cell = np.unravel_index(np.argmin(got.cell_current_a), charged.shape)
        found.append(
            finding(
                rules.CHARGED_BY_NEIGHBOURS,
                f"Cell {cell + 1} of group {group + 1} takes in {-got.cell_current_a[group, cell]:.3g} A "
                f"from the cells beside it; being charged: {np.count_nonzero(charged)} of {charged.size} "
                "cells. A discharge rating says nothing about that.",
            )
        )
    if got.pack_current_a and abs(got.worst_cell_current_a) > allowed_a * (1 + NOISE):
        found.append(
            finding(
                rules.SHARE_ABOVE_ALLOWANCE,
                f"The worst-case cell carries {abs(got.worst_cell_current_a):.3g} A where the pack gives "
                f"{got.pack_current_a:.3g} A: more than the {allowed_a:.3g} A that the allowance counts on.",
            )
        )
    return found


def explain(asked: UnequalCells) -> Explained[UnequalCellsFigures]:
    """Answer for one pack."""
    if asked.coil_resistance_ohm is not UNSET and asked.output_power_w is not UNSET:
        raise Refused(
            "output_power_w",
            "Give coil_resistance_ohm, or output_power_w, or neither for a pack with no load.",
        )
    pack = _read(asked)
    got, load = _solve(asked, pack)
    parallel = pack.voltage_v.shape[1]
    allowed_a = got.pack_current_a / float(counted_cells(parallel=parallel))
    working = _source_steps(pack, got) + load + _cell_steps(pack, got)
    findings = _findings(asked, got, allowed_a)
    headroom: float | UnsetType = UNSET
    limits = [missing(LimitName.CONTINUOUS_RATING, "cell_rating_a")]
    carried_a = np.abs(got.cell_current_a)
    if pack.rating_a is not None:
        worst = np.unravel_index(np.argmax(carried_a / pack.rating_a), carried_a.shape)
        against = {"worst_cell_a": float(carried_a[worst]), "rating_a": float(pack.rating_a[worst])}
        held = cell_against_rating(**against)
        limits, findings = held.limits, held.findings + findings
        working.append(steps.headroom(**against))
        headroom = working[-1].result
    figures = UnequalCellsFigures(
        pack_open_circuit_voltage_v=got.source.voltage_v,
        pack_resistance_ohm=got.source.resistance_ohm,
        pack_current_a=got.pack_current_a,
        pack_voltage_v=got.pack_voltage_v,
        load_power_w=got.pack_voltage_v * got.pack_current_a,
        cells_loss_w=float(got.cell_loss_w.sum()),
        contacts_loss_w=float(got.contact_loss_w.sum()),
        worst_cell_group=got.worst_cell[0] + 1,
        worst_cell_place=got.worst_cell[1] + 1,
        worst_cell_current_a=got.worst_cell_current_a,
        worst_cell_share=got.worst_cell_share if got.pack_current_a else UNSET,
        even_cell_current_a=got.pack_current_a / parallel,
        allowance_cell_current_a=allowed_a,
        headroom=headroom,
        groups=_groups(pack, got),
    )
    return Explained(
        figures=figures,
        working=working,
        limits=limits,
        findings=findings,
        leads=f"cell {got.worst_cell[1] + 1} of group {got.worst_cell[0] + 1} carries the most, {got.worst_cell_current_a:.3g} A",
    )


def _groups(pack: _Pack, got: Shared) -> list[UnequalGroupState]:
    series, parallel = pack.voltage_v.shape
    return [
        UnequalGroupState(
            float(got.group_voltage_v[i]),
            [
                UnequalCellState(
                    float(got.cell_current_a[i, j]),
                    float(got.cell_voltage_v[i, j]),
                    float(got.cell_loss_w[i, j]),
                    float(got.contact_loss_w[i, j]),
                    UNSET
                    if pack.rating_a is None
                    else verdict(abs(float(got.cell_current_a[i, j])), float(pack.rating_a[i, j])),
                )
                for j in range(parallel)
            ],
        )
        for i in range(series)
    ]


def assumed(asked: UnequalCells) -> list[Assumption]:
    """Return the defaults in use; those of a converter only if there is one."""
    converter_only = {"efficiency", "idle_power_w"} if asked.output_power_w is UNSET else set()
    return assumptions(asked, frozenset(UnequalCells.__struct_fields__) - converter_only)


QUESTION = Question(
    id="unequal-cells",
    subject=Subject.UNEQUAL_CELLS,
    title="Current of each cell of a pack of unequal cells",
    description="A pack cell by cell, each with its own voltage and resistances, under a coil, a "
    "converter or nothing: what each carries at this moment, as the measured cells really share.",
    asked=UnequalCells,
    shows=UnequalCellsFigures,
    limits=(LimitName.CONTINUOUS_RATING,),
    explain=explain,
    assumed=assumed,
    has_query=False,
    # two lent cells of the Lantern Street Bench, invented: the second is worn and its contact tarnished
    example={
        "groups": [
            [
                {"open_circuit_voltage_v": 4.15, "cell_resistance_ohm": 0.018},
                {
                    "open_circuit_voltage_v": 4.12,
                    "cell_resistance_ohm": 0.031,
                    "contact_resistance_ohm": 0.012,
                },
            ]
        ],
        "cell_rating_a": 20,
        "coil_resistance_ohm": 0.15,
    },
)
