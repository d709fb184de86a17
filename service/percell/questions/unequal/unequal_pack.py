"""A pack of unequal cells with its load, as it is asked, and what its cells carry at this moment."""

from typing import Annotated, ClassVar, NamedTuple

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import circuit, converter, direct, sharing
from percell.physics.meter import NOISE
from percell.physics.sharing import Shared
from percell.physics.types import Floats
from percell.questions.unequal.charge_limit import (
    LARGEST_CHARGE_FROM,
    MOST_ASSUMED,
    USUAL_CHARGE_FROM,
    CellChargeLimitA,
    charge_limits_a,
    largest_charge_limit_a,
    of_which,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.layout import LAYOUTS, Layout, wiring
from percell.questions.vocabulary.presence import OneOf, Presence
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.wording import count_of

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


class Pack(NamedTuple):
    """The cells as arrays of shape (S, P)."""

    voltage_v: Floats
    cell_ohm: Floats
    contact_ohm: Floats
    rating_a: Floats | None
    capacity_ah: Floats | None

    @property
    def path_ohm(self) -> Floats:
        return self.cell_ohm + self.contact_ohm


class Charge(NamedTuple):
    """The charge limits of the cells, and where they come from if they were not given."""

    limit_a: Floats
    origin: str = ""
    of_which: str = ""

    @property
    def assumed(self) -> bool:
        return bool(self.origin)


class Hardest(NamedTuple):
    """What the cells carry where their load draws most: a converter at its cut-off, a coil from full cells."""

    cell_v: float
    pack_a: float
    cell_a: Floats


class Worst(NamedTuple):
    """The cell with the most current in either direction, at this moment or where the load draws most."""

    place: Place
    cell_a: float  # negative if it is charged
    pack_a: float
    hardest: Hardest | None  # None if the current is that at this moment

    @property
    def share(self) -> float:
        """Part of the pack's current in the cell; there is no such part without a load."""
        return abs(self.cell_a) / self.pack_a


class State(NamedTuple):
    """A pack with its load at this moment, and what its limits are compared with.

    No load is always on, and cells charge each other most while it is off, so that current is compared
    with the charge limits.
    """

    asked: UnequalCells
    pack: Pack
    shared: Shared
    discharge_a: Floats
    charge_a: Floats  # with the load off
    lowest_v: Floats  # at rest or at this moment
    charge: Charge
    hardest: Hardest | None

    @property
    def worst(self) -> Worst:
        """The worst-case cell: that of the load's highest current only if it then carries more than any now."""
        got, hardest = self.shared, self.hardest
        if hardest is not None:
            at = worst_place(hardest.cell_a)
            cell_a = float(hardest.cell_a[at])
            if cell_a > abs(got.worst_cell_current_a):
                return Worst(at, cell_a, hardest.pack_a, hardest)
        return Worst(got.worst_cell, got.worst_cell_current_a, got.pack_current_a, None)

    @property
    def no_load(self) -> bool:
        """Whether nothing but the cells themselves draws a current."""
        return not self.shared.pack_current_a

    @property
    def looks_at_charging(self) -> bool:
        """Whether a charge limit matters: without a load the cells do nothing but charge each other."""
        several = self.charge_a.shape[1] > 1
        return several and (self.no_load or bool((self.charge_a > CHARGED_A).any()))


def state_of(asked: UnequalCells) -> State:
    """Return the state of a pack.

    Raises:
        Refused: The cells do not fit the layout, or only some of them have a rating or a capacity.
        NoSolution: The pack cannot give the power.
    """
    pack = _read(asked)
    shared = _solved(asked, pack)
    resting_a = circuit.cell_current_a(
        group_current_a=0.0,
        cell_source_voltage_v=pack.voltage_v,
        path_resistance_ohm=pack.path_ohm,
    )
    return State(
        asked,
        pack,
        shared,
        discharge_a=np.maximum(shared.cell_current_a, 0.0),
        charge_a=np.maximum(-resting_a, 0.0),
        lowest_v=np.minimum(pack.voltage_v, shared.cell_voltage_v),
        charge=_charge_limits(asked, pack),
        hardest=_hardest(asked, pack, shared),
    )


def worst_place(parts: Floats) -> Place:
    """Return the place of the highest value."""
    group, cell = np.unravel_index(np.argmax(parts), parts.shape)
    return int(group), int(cell)


def _read(asked: UnequalCells) -> Pack:
    wired, cells = wiring(asked.layout), asked.cells
    if len(cells) != wired.cells:
        raise Refused(
            "cells",
            f"The layout {wired.text} needs {count_of(wired.cells, 'cell')}. The list has {len(cells)}.",
            "layout",
        )
    return Pack(
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


def _solved(asked: UnequalCells, pack: Pack) -> Shared:
    cells = {
        "cell_source_voltage_v": pack.voltage_v,
        "cell_resistance_ohm": pack.cell_ohm,
        "contact_resistance_ohm": pack.contact_ohm,
    }
    if asked.coil_resistance_ohm is not UNSET:
        return sharing.shared_into_resistance(
            **cells, load_resistance_ohm=asked.coil_resistance_ohm
        )
    if asked.output_power_w is UNSET:
        return sharing.shared_at_current(**cells, pack_current_a=0.0)
    return sharing.shared_into_converter(**cells, input_power_w=input_power_w(asked))


def input_power_w(asked: UnequalCells) -> float:
    """Return the power that the converter draws."""
    return float(
        converter.input_power_w(
            output_power_w=0.0 if asked.output_power_w is UNSET else asked.output_power_w,
            efficiency=asked.efficiency,
            idle_power_w=asked.idle_power_w,
        )
    )


def _charge_limits(asked: UnequalCells, pack: Pack) -> Charge:
    given_a = asked.cell_charge_limit_a
    if given_a is not UNSET:
        return Charge(np.full_like(pack.voltage_v, given_a))
    if pack.capacity_ah is not None:
        return Charge(charge_limits_a(UNSET, pack.capacity_ah), USUAL_CHARGE_FROM, of_which(UNSET))
    most_a = np.full_like(pack.voltage_v, largest_charge_limit_a(asked.chemistry))
    if pack.rating_a is not None:
        # no cell may be charged with more than it may be discharged with
        most_a = np.minimum(most_a, pack.rating_a)
    return Charge(most_a, LARGEST_CHARGE_FROM, MOST_ASSUMED)


def _hardest(asked: UnequalCells, pack: Pack, got: Shared) -> Hardest | None:
    """Return the currents where the load draws most, by the cells' own resistances; None if no higher."""
    series, volts = wiring(asked.layout).series, VOLTAGES[asked.chemistry]
    if asked.output_power_w is not UNSET:
        cell_v = volts.cutoff_v
        pack_a = float(
            converter.current_at_voltage_a(
                input_power_w=input_power_w(asked), source_voltage_v=series * cell_v
            )
        )
    elif asked.coil_resistance_ohm is not UNSET:
        cell_v = volts.charged_v
        pack_a = direct.load_current_a(
            source_voltage_v=series * cell_v,
            source_resistance_ohm=got.source.resistance_ohm,
            load_resistance_ohm=asked.coil_resistance_ohm,
        )
    else:
        return None
    if pack_a <= got.pack_current_a * (1 + NOISE):
        return None
    # cells that are charged or emptied side by side come to one voltage
    part = 1 / pack.path_ohm
    return Hardest(cell_v, pack_a, pack_a * part / part.sum(axis=1, keepdims=True))
