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
from percell.questions.vocabulary.limits import not_judged
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.wording import count_of, quoted, shown

# Cells that differ by more do not match; parts of the median, and volts. The limit of resistance is a
# published effect, see the rule; the others are our own choice.
FAR_CAPACITY, FAR_RESISTANCE, FAR_VOLTAGE_V = 0.05, 0.2, 0.05

Weight = Annotated[
    float,
    quantity(
        "1",
        0,
        10,
        "Weight of this measurement beside the others. 0 leaves it out.",
        default_from="all three count equally; the size of a difference of 1 is percell's own choice",
    ),
]


class MeasuredCell(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One measured cell. All cells must be measured by the same method and at the same temperature."""

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
    """Measured cells to sort into sets of equal size."""

    cells: Annotated[
        list[MeasuredCell],
        Meta(
            min_length=2, max_length=matching.MOST_MEASURED_CELLS, description="The measured cells."
        ),
    ]
    cells_in_set: Annotated[float, whole(2, 20, "Number of cells in each set.")]
    chemistry: ChemistryField = Chemistry.NMC
    set_count: (
        Annotated[
            float,
            whole(
                1,
                matching.MOST_MEASURED_CELLS // 2,
                "Number of sets.",
                default="as many as the cells allow",
            ),
        ]
        | UnsetType
    ) = UNSET
    capacity_weight: Weight = 1.0
    resistance_weight: Weight = 1.0
    open_circuit_voltage_weight: Weight = 1.0


class MatchedSet(Struct, frozen=True, gc=False):
    """One set, and how much its cells differ."""

    cell_numbers: Annotated[
        list[Annotated[int, figure("1", "Place of the cell in the list, counted from 1.")]],
        Meta(description="Cells of the set, by their place in the list, counted from 1."),
    ]
    labels: Annotated[list[str], Meta(description="Labels of the cells.")]
    set_spread: Annotated[
        float, figure("1", "Root of the sum of the squared weighted ranges. Lower is closer.")
    ]
    capacity_range_ah: Annotated[float, figure("Ah", "Highest capacity minus the lowest.")]
    resistance_range_ohm: Annotated[float, figure("Ω", "Highest resistance minus the lowest.")]
    open_circuit_voltage_range_v: Annotated[
        float, figure("V", "Highest open-circuit voltage minus the lowest.")
    ]


class LeftOutCell(Struct, frozen=True, gc=False):
    """A cell in no set, and the spread of the closest set with it."""

    cell_number: Annotated[int, figure("1", "Place of the cell in the list, counted from 1.")]
    label: Annotated[str, text("Label of the cell.")]
    nearest_set_number: Annotated[
        int, figure("1", "Set that the cell is closest to, counted from 1.")
    ]
    spread_with_it: Annotated[float, figure("1", "Spread of that set with this cell added.")]
    reason: Annotated[str, text("Why it was left out.")]


class MatchedSetsFigures(Struct, frozen=True, kw_only=True):
    """The sets, closest first, and the cells left out."""

    sets: Annotated[list[MatchedSet], Meta(description="Sets, the closest first.")]
    left_out: Annotated[list[LeftOutCell], Meta(description="Cells in no set.")]
    worst_spread: Annotated[float, figure("1", "Spread of the least close set.")]
    squared_spread: Annotated[
        float, figure("1", "Sum of the squared spreads. The sets are chosen to make it small.")
    ]
    proven_best: Annotated[
        bool,
        Meta(
            description="Whether no other choice has a smaller sum of the squared spreads. false means "
            "unproven."
        ),
    ]


def _wanted(asked: MatchedSets) -> int:
    size, cells = int(asked.cells_in_set), len(asked.cells)
    most = cells // size
    wanted = most if asked.set_count is UNSET else int(asked.set_count)
    if not 1 <= wanted <= most:
        raise Refused(
            "cells_in_set" if asked.set_count is UNSET else "set_count",
            f"{cells} cells are not enough for {count_of(max(wanted, 1), 'set')} of {size}."
            + (f" Give {most} or fewer." if most else ""),
        )
    return wanted


def _label(asked: MatchedSets, cell: int) -> str:
    label = asked.cells[cell].label
    return "" if label is UNSET else label


def _name(asked: MatchedSets, cell: int) -> str:
    label = _label(asked, cell)
    return f"Cell {cell + 1} ({quoted(label)})" if label else f"Cell {cell + 1}"


def _left_out(asked: MatchedSets, chosen: matching.Matched, wanted: int) -> list[LeftOutCell]:
    found = []
    for left in chosen.left_over:
        near = chosen.sets[left.nearest_set]
        why = (
            f"The {wanted} sets are full. The closest is set {left.nearest_set + 1}. With this cell its spread "
            f"would change from {near.spread:.2g} to {left.spread_with_it:.2g}."
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
            f"The cells of {count_of(len(far), 'set')} out of {len(chosen.sets)} do not match. Do not put them in one pack. In set "
            f"{far[0]} the cells differ by {shown(one.capacity_range_ah)} Ah of {shown(median_ah)} Ah, "
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
            f"Range of capacity that counts as 1: {matching.ALIKE_CAPACITY:g} of the median",
            f"{matching.ALIKE_CAPACITY:g} · Q_median",
            f"{matching.ALIKE_CAPACITY:g} × {median_ah:.4g} Ah",
            alike_ah,
            "Ah",
        ),
        WorkingStep(
            f"Range of resistance that counts as 1: {matching.ALIKE_RESISTANCE:g} of the median",
            f"{matching.ALIKE_RESISTANCE:g} · r_median",
            f"{matching.ALIKE_RESISTANCE:g} × {median_ohm:.4g} Ω",
            alike_ohm,
            "Ω",
        ),
        WorkingStep(
            "Spread of the closest set",
            "√Σ(weight · range / range that counts as 1)²",
            f"√(({weights[0]:.3g} × {best.capacity_range_ah:.3g}/{alike_ah:.3g})² + "
            f"({weights[1]:.3g} × {best.resistance_range_ohm:.3g}/{alike_ohm:.3g})² + "
            f"({weights[2]:.3g} × {best.voltage_range_v:.3g}/{matching.ALIKE_VOLTAGE_V:g})²)",
            best.spread,
            "1",
        ),
        WorkingStep(
            "Sum of the squared spreads",
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
        raise Refused("capacity_weight", "One of the three weights must be above 0.")
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
    far_apart = _far_apart(asked, chosen)
    findings = held.findings + far_apart
    # cells that do not match leave their voltages in one pack, however they rest now
    limits = (
        [not_judged(one, "the cells of a set do not match") for one in held.limits]
        if far_apart
        else held.limits
    )
    if not chosen.proven_best:
        findings.append(
            finding(
                rules.SETS_NOT_PROVEN,
                f"These sets of {asked.cells_in_set:.0f} from {len(asked.cells)} cells are not proven to be the best, "
                "because the search did not compare all choices.",
            )
        )
    findings.append(
        finding(
            rules.SETS_MEASURED_ONLY,
            "Before these cells share a pack, check that they are undamaged and of the same make, age and history. "
            "A match does not show that.",
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
        limits=limits,
        findings=findings,
        condition=condition_of(asked, cells=f"{len(asked.cells)} measured cells"),
        leads=f"{_counted(len(figures.sets))} the cells differ by "
        f"{shown(worst.capacity_range_ah)} Ah, {shown(worst.resistance_range_ohm)} Ω and "
        f"{shown(worst.voltage_range_v)} V",
    )


def _counted(sets: int) -> str:
    return "in the set" if sets == 1 else f"in the least close of {sets} sets"


QUESTION = Question(
    id="matched-sets",
    subject=Subject.UNEQUAL_CELLS,
    title="Matched sets from measured cells",
    description="Sets of cells that match in capacity, resistance and open-circuit voltage, from up to 200 "
    "measured cells.",
    asked=MatchedSets,
    shows=MatchedSetsFigures,
    limits=(LimitName.END_VOLTAGE, LimitName.CHARGED_VOLTAGE),
    explain=explain,
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
