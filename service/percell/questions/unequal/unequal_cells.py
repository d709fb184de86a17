"""What does each cell of a pack of unequal cells carry at this moment?"""

from collections.abc import Callable
from math import inf
from typing import Annotated, ClassVar, NamedTuple

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType, structs
from numpy.typing import NDArray

from percell.physics import circuit, converter, sharing
from percell.physics.meter import NOISE
from percell.physics.sharing import Shared
from percell.physics.types import Floats
from percell.questions.answering import rules as shared_rules
from percell.questions.answering import steps
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import condition_of
from percell.questions.answering.power_findings import coil_power, converter_power
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.answering.rating_findings import cell_against_rating
from percell.questions.answering.voltage_findings import end_voltage_limit, touch_voltage
from percell.questions.unequal import rules
from percell.questions.unequal.cell_voltages import (
    charged_voltage_limit,
    resting,
    under_load,
)
from percell.questions.unequal.charge_limit import (
    LARGEST_CHARGE_FROM,
    MOST_ASSUMED,
    UNKNOWN_CHARGE,
    USUAL_CHARGE_FROM,
    CellChargeLimitA,
    charge_current,
    charge_limits_a,
    largest_charge_limit_a,
    limit_assumed,
    of_which,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField, preset
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.labels import lowered
from percell.questions.vocabulary.layout import LAYOUTS, Layout, wiring
from percell.questions.vocabulary.limits import (
    Held,
    Limit,
    LimitSide,
    judged,
    missing,
    not_judged,
    together,
    unbounded,
    verdict_of,
)
from percell.questions.vocabulary.presence import OneOf, Presence
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import Feeds, Sharing, counted_cells
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import at_least, count_of, given, shown, worst

Place = tuple[int, int]  # group, cell in the group, from 0

# below this no finding says that a cell is being charged: open-circuit voltages are not that exact
CHARGED_A = 0.001


class UnequalCell(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell with its contacts."""

    open_circuit_voltage_v: fields.CellOpenCircuitVoltageV
    cell_resistance_ohm: fields.UnequalCellResistanceOhm
    contact_resistance_ohm: fields.LowContactResistanceOhm = 0.0
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET


class UnequalCells(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack, cell by cell, and its load: a coil, a converter or nothing."""

    presence: ClassVar[tuple[Presence, ...]] = (
        OneOf(
            ("coil_resistance_ohm", "output_power_w"),
            "Give coil_resistance_ohm or output_power_w, or neither for a pack without a load.",
            needed=False,
        ),
    )
    layout: Layout
    cells: Annotated[
        list[UnequalCell],
        Meta(
            min_length=1,
            max_length=LAYOUTS,
            description="Every cell, group by group: first all cells of one parallel group, then those of the next in "
            "series.",
        ),
    ]
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    coil_resistance_ohm: fields.CoilResistanceOhm | UnsetType = UNSET
    output_power_w: fields.OutputPowerW | UnsetType = UNSET
    efficiency: fields.Efficiency = fields.EFFICIENCY
    idle_power_w: fields.IdlePowerW = 0.0


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
    worst_group_number: Annotated[int, figure("1", "Group of the worst-case cell, counted from 1.")]
    worst_cell_number: Annotated[
        int, figure("1", "Place of the worst-case cell in its group, counted from 1.")
    ]
    worst_cell_current_a: Annotated[
        float,
        figure(
            "A",
            "Current of the worst-case cell, the largest in either direction. Negative if it is charged.",
        ),
    ]
    worst_cell_share: Annotated[
        float | UnsetType,
        figure("1", "Part of the pack's current in the worst-case cell, if there is a load."),
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
            "Unused part of the rating at this moment, in the cell with the least left. Negative if exceeded.",
        ),
    ] = UNSET
    groups: Annotated[list[UnequalGroupState], Meta(description="Groups, in the order given.")]


class _Pack(NamedTuple):
    """The cells as arrays of shape (S, P)."""

    voltage_v: Floats
    cell_ohm: Floats
    contact_ohm: Floats
    rating_a: Floats | None
    capacity_ah: Floats | None

    @property
    def path_ohm(self) -> Floats:
        return self.cell_ohm + self.contact_ohm


def _read(asked: UnequalCells) -> _Pack:
    wired, cells = wiring(asked.layout), asked.cells
    if len(cells) != wired.cells:
        raise Refused(
            "cells",
            f"The layout {wired.text} needs {count_of(wired.cells, 'cell')}. The list has {len(cells)}.",
            "layout",
        )
    return _Pack(
        _in_groups(asked, [cell.open_circuit_voltage_v for cell in cells]),
        _in_groups(asked, [cell.cell_resistance_ohm for cell in cells]),
        _in_groups(asked, [cell.contact_resistance_ohm for cell in cells]),
        _of_each(asked, "cell_rating_a"),
        _of_each(asked, "cell_capacity_ah"),
    )


def _in_groups(asked: UnequalCells, of_each: list[float]) -> Floats:
    wired = wiring(asked.layout)
    return np.array(of_each, dtype=np.float64).reshape(wired.series, wired.parallel)


def _of_each(asked: UnequalCells, name: str) -> Floats | None:
    """Return a value of each cell, its own before that of all; None if no cell has one.

    Raises:
        Refused: Only some cells have one.
    """
    common = getattr(asked, name)
    own = [getattr(cell, name) for cell in asked.cells]
    values = [common if one is UNSET else one for one in own]
    lacking = [f"cells.{i}.{name}" for i, one in enumerate(values) if one is UNSET]
    if not lacking:
        return _in_groups(asked, values)
    if len(lacking) < len(values):
        raise Refused(
            lacking[0],
            f"Give {name} for this cell too, because others have it. Or give it once for all cells, or not at all.",
            *lacking[1:],
        )
    return None


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
        with_numbers = (
            f"{got.source.voltage_v:.4g} V / ({asked.coil_resistance_ohm:.4g} + "
            f"{got.source.resistance_ohm:.4g}) Ω"
        )
        return got, [
            WorkingStep(what, "I = U / (R_coil + R)", with_numbers, got.pack_current_a, "A")
        ]
    if asked.output_power_w is UNSET:
        got = sharing.shared_at_current(**cells, pack_current_a=0.0)
        return got, [WorkingStep(f"{what}: nothing is connected", "I = 0", "0 A", 0.0, "A")]
    input_w = _input_w(asked)
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


def _input_w(asked: UnequalCells) -> float:
    """Return the power that the converter draws."""
    return float(
        converter.input_power_w(
            output_power_w=0.0 if asked.output_power_w is UNSET else asked.output_power_w,
            efficiency=asked.efficiency,
            idle_power_w=asked.idle_power_w,
        )
    )


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
                "Share of the pack's current in this cell",
                "s = |I_i| / I",
                f"{abs(got.worst_cell_current_a):.4g} A / {got.pack_current_a:.4g} A",
                got.worst_cell_share,
                "1",
            )
        )
    return working


class _Loads(NamedTuple):
    """What a pack does, as its limits see it."""

    discharge_a: Floats
    charge_a: Floats
    lowest_v: Floats  # at rest or at this moment
    no_load: bool

    @property
    def looks_at_charging(self) -> bool:
        """Whether a charge limit matters: without a load the cells do nothing but charge each other."""
        several = self.charge_a.shape[1] > 1
        return several and (self.no_load or bool((self.charge_a > CHARGED_A).any()))


def _loads(pack: _Pack, got: Shared) -> _Loads:
    return _Loads(
        np.maximum(got.cell_current_a, 0.0),
        np.maximum(-got.cell_current_a, 0.0),
        np.minimum(pack.voltage_v, got.cell_voltage_v),
        not got.pack_current_a,
    )


def _name(pack: _Pack, place: int) -> str:
    group, cell = divmod(place, pack.voltage_v.shape[1])
    return f"Cell {cell + 1} of group {group + 1}"


def _some(cells: NDArray[np.bool_]) -> str:
    """Return how many of all cells a sentence is about, with its verb."""
    some = int(np.count_nonzero(cells))
    return f"{count_of(some, 'cell')} of {cells.size} {'is' if some == 1 else 'are'}"


class _Charge(NamedTuple):
    """The charge limits of the cells, and where they come from if they were not given."""

    limit_a: Floats
    origin: str = ""
    of_which: str = ""

    @property
    def assumed(self) -> bool:
        return bool(self.origin)


def _charge_limits(asked: UnequalCells, pack: _Pack) -> _Charge:
    given_a = asked.cell_charge_limit_a
    if given_a is not UNSET:
        return _Charge(np.full_like(pack.voltage_v, given_a))
    if pack.capacity_ah is not None:
        return _Charge(charge_limits_a(UNSET, pack.capacity_ah), USUAL_CHARGE_FROM, of_which(UNSET))
    most_a = np.full_like(pack.voltage_v, largest_charge_limit_a(asked.chemistry))
    if pack.rating_a is not None:
        # no cell may be charged with more than it may be discharged with
        most_a = np.minimum(most_a, pack.rating_a)
    return _Charge(most_a, LARGEST_CHARGE_FROM, MOST_ASSUMED)


class _Emptied(NamedTuple):
    """What the cells carry when a converter has emptied them to its cut-off under load."""

    cutoff_v: float
    pack_a: float
    cell_a: Floats


def _emptied(asked: UnequalCells, pack: _Pack, got: Shared) -> _Emptied | None:
    """Return the currents at the cut-off, by the cells' own resistances; None where they are no higher."""
    if asked.output_power_w is UNSET:
        return None
    cutoff_v = VOLTAGES[asked.chemistry].cutoff_v
    pack_a = float(
        converter.current_at_voltage_a(
            input_power_w=_input_w(asked), source_voltage_v=wiring(asked.layout).series * cutoff_v
        )
    )
    if pack_a <= got.pack_current_a * (1 + NOISE):
        return None
    # cells that empty side by side come to one voltage
    part = 1 / pack.path_ohm
    return _Emptied(cutoff_v, pack_a, pack_a * part / part.sum(axis=1, keepdims=True))


def _rating(pack: _Pack, loads: _Loads, at: Place) -> Limit:
    limit = _rating_of(pack, loads.discharge_a, at)
    # without a load the question is what the cells charge each other with
    return limit if loads.no_load else structs.replace(limit, missing=UNSET)


def _rating_of(pack: _Pack, cell_a: Floats, at: Place) -> Limit:
    if pack.rating_a is None:
        return missing(LimitName.CONTINUOUS_RATING, "cell_rating_a")
    return judged(LimitName.CONTINUOUS_RATING, float(cell_a[at]), float(pack.rating_a[at]), "A")


def _charging(loads: _Loads, charge: _Charge, at: Place) -> Limit:
    charge_a, limit_a = float(loads.charge_a[at]), float(charge.limit_a[at])
    limit = charge_current(charge_a, limit_a, assumed=charge.assumed)
    if charge.origin != LARGEST_CHARGE_FROM:
        return limit
    return not_judged(limit, UNKNOWN_CHARGE)


def _reversal(voltage_v: float) -> Limit:
    # what is zero but for rounding is not below zero
    kept_v = 0.0 if abs(voltage_v) < NOISE else voltage_v
    return judged(LimitName.REVERSAL, kept_v, 0.0, "V", bound=LimitSide.AT_LEAST, near=False)


def _cell_limits(
    asked: UnequalCells, pack: _Pack, got: Shared, loads: _Loads, at: Place
) -> list[Limit]:
    """Return every limit of one cell."""
    charge = _charge_limits(asked, pack)
    is_charged = loads.charge_a[at] > CHARGED_A
    emptied = _emptied(asked, pack, got)
    later = [] if emptied is None else [_rating_of(pack, emptied.cell_a, at)]
    return [
        _charging(loads, charge, at) if is_charged else unbounded(LimitName.CHARGE_CURRENT),
        _rating(pack, loads, at),
        _reversal(float(got.cell_voltage_v[at])),
        end_voltage_limit(asked.chemistry, float(loads.lowest_v[at])),
        charged_voltage_limit(asked.chemistry, float(pack.voltage_v[at])),
        *later,
    ]


def _held(asked: UnequalCells, pack: _Pack, got: Shared) -> Held:
    """Hold the pack and each of its cells to every limit."""
    loads = _loads(pack, got)

    def name_of(place: int) -> str:
        return _name(pack, place)

    return together(
        _held_rating(pack, loads),
        _held_emptied(pack, _emptied(asked, pack, got), name_of),
        _held_charging(asked, pack, loads),
        _held_reversal(got, name_of),
        resting(asked.chemistry, pack.voltage_v.ravel(), name_of),
        under_load(asked.chemistry, got.cell_voltage_v.ravel(), name_of),
        _held_power(asked, got),
    )


def _held_rating(pack: _Pack, loads: _Loads) -> Held:
    if pack.rating_a is None:
        return Held([_rating(pack, loads, (0, 0))], [])
    at = _worst(loads.discharge_a / pack.rating_a)
    return cell_against_rating(
        worst_cell_a=float(loads.discharge_a[at]), rating_a=float(pack.rating_a[at])
    )


def _held_emptied(pack: _Pack, emptied: _Emptied | None, name_of: Callable[[int], str]) -> Held:
    """Hold the currents at a converter's cut-off to the ratings."""
    if emptied is None:
        return Held([], [])
    cell_a, rating_a = emptied.cell_a, pack.rating_a
    at = _worst(cell_a if rating_a is None else cell_a / rating_a)
    place = at[0] * cell_a.shape[1] + at[1]
    bound_a = inf if rating_a is None else float(rating_a[at])
    carries = f"carries {worst(float(cell_a[at]), bound_a)} A"
    more = finding(
        rules.DRAWS_MORE_WHEN_EMPTY,
        f"The converter draws up to {shown(emptied.pack_a)} A when the cells are down to "
        f"{given(emptied.cutoff_v)} V under load, the usual cut-off. {name_of(place)} then {carries}.",
    )
    if rating_a is None:
        return Held([], [more])
    limit = _rating_of(pack, cell_a, at)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [more])
    said = (
        f"{name_of(place)} {carries}, above its continuous rating of {given(bound_a)} A, when the cells are "
        f"down to {given(emptied.cutoff_v)} V under load."
    )
    return Held([limit], [finding(shared_rules.OVER_RATING, said), more])


def _held_charging(asked: UnequalCells, pack: _Pack, loads: _Loads) -> Held:
    """Hold the currents into cells to their charge limits."""
    if not loads.looks_at_charging:
        return Held([unbounded(LimitName.CHARGE_CURRENT)], [])
    charge = _charge_limits(asked, pack)
    at = _worst(loads.charge_a / charge.limit_a)
    limit = _charging(loads, charge, at)
    charge_a, limit_a = float(loads.charge_a[at]), float(charge.limit_a[at])
    if not charge_a > CHARGED_A:
        return Held([limit], [])
    who = _name(pack, at[0] * loads.charge_a.shape[1] + at[1])
    of_all = f"{_some(loads.charge_a > CHARGED_A)} charged."
    if limit.verdict is not Verdict.OVER:
        said = f"Other cells charge {lowered(who)} with {shown(charge_a)} A. {of_all}"
        return Held([limit], [finding(rules.CHARGED_BY_NEIGHBOURS, said)])
    said = (
        f"Other cells charge {lowered(who)} with {worst(charge_a, limit_a)} A, above its charge limit of "
        f"{given(limit_a)} A{charge.of_which}. {of_all}"
    )
    return Held([limit], [finding(rules.NEIGHBOURS_TOO_FAST, said)])


def _held_reversal(got: Shared, name_of: Callable[[int], str]) -> Held:
    volts = got.cell_voltage_v.ravel()
    lowest = int(np.argmin(volts))
    limit = _reversal(float(volts[lowest]))
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    return Held(
        [limit],
        [
            finding(
                rules.CELL_REVERSED,
                f"{name_of(lowest)} has −{shown(-float(volts[lowest]))} V at its terminals. "
                f"{_some(volts < -NOISE)} below 0 V. Never charge a cell that was reversed.",
            )
        ],
    )


def _held_power(asked: UnequalCells, got: Shared) -> Held:
    volts, ohms = got.source
    if asked.coil_resistance_ohm is not UNSET:
        return coil_power(asked.coil_resistance_ohm, ohms)
    if asked.output_power_w is UNSET:
        return Held([unbounded(LimitName.AVAILABLE_POWER)], [])
    return converter_power(volts, ohms, _input_w(asked), "at these voltages")


def _worst(parts: Floats) -> Place:
    group, cell = np.unravel_index(np.argmax(parts), parts.shape)
    return int(group), int(cell)


def _other_findings(asked: UnequalCells, got: Shared, careful_a: float) -> list[Finding]:
    """Return the findings that concern no limit."""
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
    return found


def explain(asked: UnequalCells) -> Explained[UnequalCellsFigures]:
    """Answer for one pack."""
    pack = _read(asked)
    got, load = _solve(asked, pack)
    parallel = pack.voltage_v.shape[1]
    feeds = Feeds.COIL if asked.output_power_w is UNSET else Feeds.CONVERTER
    careful_a = got.pack_current_a / float(counted_cells(Sharing.CAREFUL, parallel, feeds))
    working = _source_steps(pack, got) + load + _cell_steps(pack, got)
    held = _held(asked, pack, got)
    headroom: float | UnsetType = UNSET
    if pack.rating_a is not None:
        loads = _loads(pack, got)
        at = _worst(loads.discharge_a / pack.rating_a)
        working.append(
            steps.headroom(
                worst_cell_a=float(loads.discharge_a[at]), rating_a=float(pack.rating_a[at])
            )
        )
        headroom = working[-1].result
    figures = UnequalCellsFigures(
        pack_open_circuit_voltage_v=got.source.voltage_v,
        pack_resistance_ohm=got.source.resistance_ohm,
        pack_current_a=got.pack_current_a,
        pack_voltage_v=got.pack_voltage_v,
        load_power_w=got.pack_voltage_v * got.pack_current_a,
        cells_loss_w=float(got.cell_loss_w.sum()),
        contacts_loss_w=float(got.contact_loss_w.sum()),
        worst_group_number=got.worst_cell[0] + 1,
        worst_cell_number=got.worst_cell[1] + 1,
        worst_cell_current_a=got.worst_cell_current_a,
        worst_cell_share=got.worst_cell_share if got.pack_current_a else UNSET,
        even_cell_current_a=got.pack_current_a / parallel,
        careful_cell_current_a=careful_a,
        headroom=headroom,
        groups=_groups(asked, pack, got),
    )
    return Explained(
        figures=figures,
        working=working,
        limits=held.limits,
        findings=held.findings + _other_findings(asked, got, careful_a),
        condition=condition_of(asked, cells=_cells_in_words(asked, pack)),
        leads=_leads(pack, got),
    )


def _cells_in_words(asked: UnequalCells, pack: _Pack) -> str:
    low_v, high_v = float(pack.voltage_v.min()), float(pack.voltage_v.max())
    at = given(low_v) if low_v == high_v else f"{given(low_v)} to {given(high_v)}"
    loaded = asked.coil_resistance_ohm is not UNSET or asked.output_power_w is not UNSET
    return f"cells resting at {at} V{'' if loaded else ' without a load'}"


def _leads(pack: _Pack, got: Shared) -> str:
    """Return the clause about the cell with the most current; without a load about the most charged one."""
    group, cell = got.worst_cell if got.pack_current_a else _worst(-got.cell_current_a)
    current_a = float(got.cell_current_a[group, cell])
    if not current_a:
        return "no current flows"
    name = f"cell {cell + 1} of group {group + 1}"
    if current_a < 0:
        return f"other cells charge {name} with {shown(-current_a)} A"
    rating_a = inf if pack.rating_a is None else float(pack.rating_a[group, cell])
    return f"{name} carries the most, {worst(current_a, rating_a)} A"


def _groups(asked: UnequalCells, pack: _Pack, got: Shared) -> list[UnequalGroupState]:
    series, parallel = pack.voltage_v.shape
    loads = _loads(pack, got)
    return [
        UnequalGroupState(
            float(got.group_voltage_v[i]),
            [
                UnequalCellState(
                    float(got.cell_current_a[i, j]),
                    float(got.cell_voltage_v[i, j]),
                    float(got.cell_loss_w[i, j]),
                    float(got.contact_loss_w[i, j]),
                    verdict_of(_cell_limits(asked, pack, got, loads, (i, j))),
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
    pack = _read(asked)
    charge = _charge_limits(asked, pack)
    got, _ = _solve(asked, pack)
    if _emptied(asked, pack, got):
        found.append(_cutoff_assumed(asked.chemistry))
    loads = _loads(pack, got)
    if loads.looks_at_charging and charge.assumed:
        at = _worst(loads.charge_a / charge.limit_a)
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
        "coil_resistance_ohm": 0.15,
    },
)
