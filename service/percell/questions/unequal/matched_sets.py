"""Which of these measured cells go together best?"""

from typing import Annotated

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import matching
from percell.physics.meter import NOISE
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import condition_of
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.unequal import rules
from percell.questions.unequal.cell_voltages import resting
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure, quantity, text, whole
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.wording import shown

# Cells that differ by more do not match; parts of the median, and volts. The limit of resistance is a
# published effect, see the rule; the others are our own choice.
FAR_CAPACITY, FAR_RESISTANCE, FAR_VOLTAGE_V = 0.05, 0.2, 0.05

Weight = Annotated[
    float,
    quantity(
        "1",
        0,
        10,
        "How much this measurement counts against the others; 0 leaves it out.",
        default_from="all three count alike; what a difference of one means is our own choice",
    ),
]


class MeasuredCell(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell as measured, all cells by the same method and at the same temperature."""

    label: fields.Label | UnsetType = UNSET
    cell_capacity_ah: fields.CellCapacityAh
    cell_resistance_ohm: fields.UnequalCellResistanceOhm
    open_circuit_voltage_v: Annotated[
        float,
        quantity(
            "V", 0.5, 5, "Open-circuit voltage of this cell, a day or more after a full charge."
        ),
    ]


class MatchedSets(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Measured cells to put into sets of equal size."""

    cells: Annotated[
        list[MeasuredCell],
        Meta(
            min_length=2, max_length=matching.MOST_MEASURED_CELLS, description="The measured cells."
        ),
    ]
    cells_in_set: Annotated[float, whole(2, 20, "Cells of each set.")]
    chemistry: ChemistryField = Chemistry.NMC
    set_count: (
        Annotated[
            float,
            whole(
                1,
                matching.MOST_MEASURED_CELLS // 2,
                "Sets wanted.",
                default="as many as there are cells for",
            ),
        ]
        | UnsetType
    ) = UNSET
    capacity_weight: Weight = 1.0
    resistance_weight: Weight = 1.0
    open_circuit_voltage_weight: Weight = 1.0


class MatchedSet(Struct, frozen=True, gc=False):
    """One set, and how far its cells are apart."""

    cell_numbers: Annotated[
        list[Annotated[int, figure("1", "Place in the list, from 1.")]],
        Meta(description="Its cells by their place in the list, counted from 1."),
    ]
    labels: Annotated[list[str], Meta(description="What is written on them.")]
    set_spread: Annotated[
        float, figure("1", "Root of the sum of the squared weighted ranges: lower is closer.")
    ]
    capacity_range_ah: Annotated[float, figure("Ah", "Highest less lowest capacity.")]
    resistance_range_ohm: Annotated[float, figure("Ω", "Highest less lowest resistance.")]
    open_circuit_voltage_range_v: Annotated[
        float, figure("V", "Highest less lowest open-circuit voltage.")
    ]


class LeftOutCell(Struct, frozen=True, gc=False):
    """A cell in no set, and what the nearest set would be like with it."""

    cell_number: Annotated[int, figure("1", "Place in the list, counted from 1.")]
    label: Annotated[str, text("What is written on it.")]
    nearest_set_number: Annotated[
        int, figure("1", "The set that it is nearest to, counted from 1.")
    ]
    spread_with_it: Annotated[float, figure("1", "That set's spread if it had this cell too.")]
    reason: Annotated[str, text("Why it was left out.")]


class MatchedSetsFigures(Struct, frozen=True, kw_only=True):
    """The sets, closest first, and the cells left out."""

    sets: Annotated[list[MatchedSet], Meta(description="The sets, the closest one first.")]
    left_out: Annotated[list[LeftOutCell], Meta(description="The cells in no set.")]
    worst_spread: Annotated[float, figure("1", "Spread of the least close set.")]
    squared_spread: Annotated[
        float, figure("1", "Sum of the squared spreads: what was made as small as could be.")
    ]
    proven_best: Annotated[
        bool,
        Meta(
            description="true where no other choice has a smaller sum; false for a good choice "
            "without proof."
        ),
    ]


def _wanted(asked: MatchedSets) -> int:
    size, cells = int(asked.cells_in_set), len(asked.cells)
    most = cells // size
    wanted = most if asked.set_count is UNSET else int(asked.set_count)
    if not 1 <= wanted <= most:
        raise Refused(
            "cells_in_set" if asked.set_count is UNSET else "set_count",
            f"{cells} cells make {most} sets of {size} at most.",
        )
    return wanted


def _label(asked: MatchedSets, cell: int) -> str:
    label = asked.cells[cell].label
    return "" if label is UNSET else label


def _name(asked: MatchedSets, cell: int) -> str:
    label = _label(asked, cell)
    return f"Cell {cell + 1} (“{label}”)" if label else f"Cell {cell + 1}"


def _left_out(asked: MatchedSets, chosen: matching.Matched, wanted: int) -> list[LeftOutCell]:
    found = []
    for left in chosen.left_over:
        near = chosen.sets[left.nearest_set]
        why = (
            f"The {wanted} sets asked for are full. Nearest is set {left.nearest_set + 1}, whose spread "
            f"would go from {near.spread:.2g} to {left.spread_with_it:.2g} with it."
        )
        found.append(
            LeftOutCell(
                left.cell + 1,
                _label(asked, left.cell),
                left.nearest_set + 1,
                left.spread_with_it,
                why,
            )
        )
    return found


def _medians(asked: MatchedSets) -> tuple[float, float]:
    """Return the median capacity and resistance of the cells."""
    return (
        float(np.median([cell.cell_capacity_ah for cell in asked.cells])),
        float(np.median([cell.cell_resistance_ohm for cell in asked.cells])),
    )


def _far_apart(asked: MatchedSets, chosen: matching.Matched) -> list[Finding]:
    """Return the first set whose cells do not match, although no closer set is possible."""
    median_ah, median_ohm = _medians(asked)
    far = [
        number
        for number, one in enumerate(chosen.sets, 1)
        if one.capacity_range_ah > FAR_CAPACITY * median_ah * (1 + NOISE)
        or one.resistance_range_ohm > FAR_RESISTANCE * median_ohm * (1 + NOISE)
        or one.voltage_range_v > FAR_VOLTAGE_V * (1 + NOISE)
    ]
    if not far:
        return []
    one = chosen.sets[far[0] - 1]
    return [
        finding(
            rules.SETS_FAR_APART,
            f"Sets whose cells are far apart: {len(far)} of {len(chosen.sets)}; in set {far[0]} the cells differ by "
            f"{shown(one.capacity_range_ah)} Ah of {shown(median_ah)} Ah, "
            f"{shown(one.resistance_range_ohm)} Ω of {shown(median_ohm)} Ω, and {shown(one.voltage_range_v)} V.",
        )
    ]


def _working(asked: MatchedSets, chosen: matching.Matched, total: float) -> list[WorkingStep]:
    weights = (asked.capacity_weight, asked.resistance_weight, asked.open_circuit_voltage_weight)
    median_ah, median_ohm = _medians(asked)
    alike_ah = matching.ALIKE_CAPACITY * median_ah
    alike_ohm = matching.ALIKE_RESISTANCE * median_ohm
    best = chosen.sets[0]
    return [
        WorkingStep(
            f"Range of capacity that counts 1: {matching.ALIKE_CAPACITY:g} of the median",
            f"{matching.ALIKE_CAPACITY:g} · Q_median",
            f"{matching.ALIKE_CAPACITY:g} × {median_ah:.4g} Ah",
            alike_ah,
            "Ah",
        ),
        WorkingStep(
            f"Range of resistance that counts 1: {matching.ALIKE_RESISTANCE:g} of the median",
            f"{matching.ALIKE_RESISTANCE:g} · r_median",
            f"{matching.ALIKE_RESISTANCE:g} × {median_ohm:.4g} Ω",
            alike_ohm,
            "Ω",
        ),
        WorkingStep(
            "Spread of the closest set",
            "√Σ(weight · range / what counts 1)²",
            f"√(({weights[0]:.3g} × {best.capacity_range_ah:.3g}/{alike_ah:.3g})² + "
            f"({weights[1]:.3g} × {best.resistance_range_ohm:.3g}/{alike_ohm:.3g})² + "
            f"({weights[2]:.3g} × {best.voltage_range_v:.3g}/{matching.ALIKE_VOLTAGE_V:g})²)",
            best.spread,
            "1",
        ),
        WorkingStep(
            "Sum of the squared spreads, as small as could be",
            "Σ spread²",
            " + ".join(f"{one.spread:.3g}²" for one in chosen.sets[:10])
            + (" + …" if len(chosen.sets) > 10 else ""),
            total,
            "1",
        ),
    ]


def explain(asked: MatchedSets) -> Explained[MatchedSetsFigures]:
    """Answer for one list of cells."""
    wanted = _wanted(asked)
    weights = matching.Weights(
        asked.capacity_weight, asked.resistance_weight, asked.open_circuit_voltage_weight
    )
    if not any(weights):
        raise Refused("capacity_weight", "One of the three weights must be above zero.")
    volts = np.array([cell.open_circuit_voltage_v for cell in asked.cells])
    held = resting(asked.chemistry, volts, lambda cell: _name(asked, cell))
    chosen = matching.matched_sets(
        capacity_ah=np.array([cell.cell_capacity_ah for cell in asked.cells]),
        resistance_ohm=np.array([cell.cell_resistance_ohm for cell in asked.cells]),
        voltage_v=volts,
        cells_in_set=int(asked.cells_in_set),
        sets=wanted,
        weights=weights,
    )
    total = sum(one.spread**2 for one in chosen.sets)
    worst = chosen.sets[-1]
    findings = held.findings + _far_apart(asked, chosen)
    if not chosen.proven_best:
        findings.append(
            finding(
                rules.SETS_NOT_PROVEN,
                f"{len(asked.cells)} cells in sets of {asked.cells_in_set:.0f}: these were found by a search that does "
                "not compare all.",
            )
        )
    findings.append(
        finding(
            rules.SETS_MEASURED_ONLY,
            "That cells match shows neither that they are healthy nor that they are of the same make, age and "
            "history: check that before they share a pack.",
        )
    )
    figures = MatchedSetsFigures(
        sets=[
            MatchedSet(
                [cell + 1 for cell in one.cells],
                [_label(asked, cell) for cell in one.cells],
                one.spread,
                one.capacity_range_ah,
                one.resistance_range_ohm,
                one.voltage_range_v,
            )
            for one in chosen.sets
        ],
        left_out=_left_out(asked, chosen, wanted),
        worst_spread=worst.spread,
        squared_spread=total,
        proven_best=chosen.proven_best,
    )
    return Explained(
        figures=figures,
        working=_working(asked, chosen, total),
        limits=held.limits,
        findings=findings,
        condition=condition_of(asked, cells=f"{len(asked.cells)} measured cells"),
        leads=f"{_counted(len(figures.sets))} the cells differ by "
        f"{shown(worst.capacity_range_ah)} Ah, {shown(worst.resistance_range_ohm)} Ω and "
        f"{shown(worst.voltage_range_v)} V",
    )


def _counted(sets: int) -> str:
    return "1 set. In it" if sets == 1 else f"{sets} sets. In the least close one"


QUESTION = Question(
    id="matched-sets",
    subject=Subject.UNEQUAL_CELLS,
    title="Matched sets from measured cells",
    description="Up to 200 cells by measured capacity, resistance and open-circuit voltage, put into sets that "
    "are as close as can be: exact for short lists, a good search for long ones.",
    asked=MatchedSets,
    shows=MatchedSetsFigures,
    limits=(LimitName.END_VOLTAGE, LimitName.CHARGED_VOLTAGE),
    explain=explain,
    has_query=False,
    slow=True,
    # seven cells of the Lantern Street Bench, invented
    example={
        "cells": [
            {
                "label": label,
                "cell_capacity_ah": capacity_ah,
                "cell_resistance_ohm": resistance_ohm,
                "open_circuit_voltage_v": rest_v,
            }
            for label, capacity_ah, resistance_ohm, rest_v in (
                ("L1", 2.96, 0.0214, 4.172),
                ("L2", 2.81, 0.0262, 4.161),
                ("L3", 2.97, 0.0219, 4.171),
                ("L4", 2.83, 0.0257, 4.164),
                ("L5", 2.95, 0.0211, 4.174),
                ("L6", 2.55, 0.0388, 4.139),
                ("L7", 2.79, 0.0268, 4.160),
            )
        ],
        "cells_in_set": 3,
    },
)
