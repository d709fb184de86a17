"""How far answered running times lie from measured ones: worked out by a script, stored as data."""

from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING, Annotated

import numpy as np
from msgspec import UNSET, Struct, UnsetType, convert

from percell.physics.discharge import Run
from percell.physics.entries import read_data
from percell.physics.measured_cells import USUAL_OHM_AH, lasting_loss_v
from percell.physics.meter import NOISE, rounded_up
from percell.questions.loads.cell_model import (
    CellModel,
    follows_measured_cells,
    is_energy_cell,
    printed_ah,
)
from percell.questions.vocabulary.cell_resistance import at_usual_temperature, temperature_c
from percell.questions.vocabulary.chemistry import VOLTAGES
from percell.questions.vocabulary.fields import figure, text
from percell.questions.vocabulary.measured_discharge import MeasuredDischarge, charge_of, is_slow

if TYPE_CHECKING:
    from percell.questions.loads.pack_and_load import PackAndLoad

# the air of the measured discharges
_COOLEST_C, _WARMEST_C = 20.0, 30.0
# an own discharge holds up to so many times its current, and is one of an hour or more
OWN_REACH = 3.0
FASTEST_LOG_PER_H = 1.1
# of the cells measured: 2.6 to 3 Ah, 0.09 to 0.12 Ω·Ah after 10 s, read after 1 or 10 s; a tenth or so beyond is alike
_CAPACITIES_AH = (2.3, 3.3)
_OHM_AH = (0.07, 0.16)
# and of the aged one: 0.85 to 0.88 of its charge, 0.18 to 0.19 Ω·Ah
_LEAST_HEALTH = 0.8
_AGED_OHM_AH = (0.12, 0.21)
# an own discharge goes from full to the cut-off, and gives the printed charge or nearly
_NOT_FULL_V = 0.1
_STOPS_EARLY_V = 0.05
_OF_PRINTED = (0.9, 1.1)
_SOONEST_READING_S = 1.0
# a guessed resistance below this part of the usual one is by the rating
_USUAL_LEAST = 0.99


class ComparedWay(StrEnum):
    """What was given about the cell."""

    CAPACITY = "capacity"
    RESISTANCE = "resistance"
    OWN_DISCHARGE = "own_discharge"
    SLOW_DISCHARGE = "slow_discharge"
    HEALTH = "health"

    @property
    def words(self) -> str:
        """Return what was told, as a sentence says it."""
        return _WORDS[self]


_WORDS = {
    ComparedWay.CAPACITY: "with the printed capacity (and the rating if known)",
    ComparedWay.RESISTANCE: "with the printed capacity and the cell's own resistance",
    ComparedWay.OWN_DISCHARGE: "with a discharge of the cell itself of two hours or less",
    ComparedWay.SLOW_DISCHARGE: "with a slow discharge of the cell itself",
    ComparedWay.HEALTH: "of an aged cell with its health and its own resistance",
}


class MeasuredTime(Struct, frozen=True, kw_only=True):
    """One measured running time, and the answers to it."""

    way: Annotated[ComparedWay, text("What was given about the cell.")]
    cell: Annotated[str, text("Cell, by its printed capacity.")]
    rate_per_h: Annotated[float, figure("1/h", "Current divided by the printed capacity.")]
    cutoff_v: Annotated[float, figure("V", "Cut-off voltage under load.")]
    measured_s: Annotated[float, figure("s", "Measured running time.")]
    at_power_s: Annotated[
        float,
        figure("s", "Answered running time at the mean power of the measured one, held constant."),
    ]
    at_current_s: Annotated[
        float,
        figure(
            "s", "Answered running time at the mean current of the measured one, held constant."
        ),
    ]


class ComparedTimes(Struct, frozen=True, kw_only=True):
    """All measured running times of one way of asking."""

    way: Annotated[ComparedWay, text("What was given about the cell.")]
    words: Annotated[str, text("What was given about the cell, in words.")]
    cells: Annotated[int, figure("1", "Number of cells compared.")]
    discharges: Annotated[int, figure("1", "Number of discharges compared.")]
    times: Annotated[int, figure("1", "Number of running times compared.")]
    lowest: Annotated[
        float, figure("1", "Largest error below the measured time, as a part of it. Negative.")
    ]
    highest: Annotated[
        float, figure("1", "Largest error above the measured time, as a part of it.")
    ]
    aimed_lowest: Annotated[
        float | UnsetType,
        figure("1", "Aim for `lowest`: it must not go below this. Left out for a slow discharge."),
    ] = UNSET
    aimed_highest: Annotated[
        float | UnsetType, figure("1", "Aim for `highest`: it must not go above this.")
    ] = UNSET
    lowest_rate_per_h: Annotated[float, figure("1/h", "Lowest current, divided by the capacity.")]
    highest_rate_per_h: Annotated[float, figure("1/h", "Highest current, divided by the capacity.")]
    lowest_cutoff_v: Annotated[float, figure("V", "Lowest cut-off voltage.")]
    highest_cutoff_v: Annotated[float, figure("V", "Highest cut-off voltage.")]


class FitWithoutCell(Struct, frozen=True, kw_only=True):
    """Errors for a cell, with constants fitted to the other cells only."""

    cell: Annotated[str, text("Cell that was left out, by its printed capacity.")]
    way: Annotated[ComparedWay, text("What was given about the cell.")]
    lowest: Annotated[float, figure("1", "Largest error below the measured time, as a part of it.")]
    highest: Annotated[
        float, figure("1", "Largest error above the measured time, as a part of it.")
    ]
    fast_part: Annotated[float, figure("1", "Fitted part of I·R that is lost immediately.")]
    slow_loss_v: Annotated[float, figure("V", "Fitted highest voltage that slow processes add.")]
    usable_charge: Annotated[float, figure("1", "Fitted usable part of the printed capacity.")]


class SimulatedTimes(Struct, frozen=True, kw_only=True):
    """Answers about a simulated cell. They say nothing about real ones."""

    cell: Annotated[str, text("Cell, and what was given about it.")]
    source: Annotated[str, text("Publication of the cell, and the program that simulated it.")]
    highest_rate_per_h: Annotated[
        float,
        figure(
            "1/h", "Highest load, as the current at the nominal voltage divided by the capacity."
        ),
    ]
    times: Annotated[int, figure("1", "Number of running times compared.")]
    lowest: Annotated[
        float, figure("1", "Largest error below the simulated time, as a part of it.")
    ]
    highest: Annotated[
        float, figure("1", "Largest error above the simulated time, as a part of it.")
    ]


class TimesCompared(Struct, frozen=True, kw_only=True):
    """Comparison with measured discharges, the worst first."""

    sources: Annotated[list[str], text("Publications of the discharges, with their licences.")]
    ways: Annotated[list[ComparedTimes], text("Each way of asking, with its result.")]
    left_out: Annotated[
        list[FitWithoutCell], text("Each measured cell, left out of the fit in turn.")
    ]
    simulated: Annotated[list[SimulatedTimes], text("The comparison with simulated cells.")]
    rows: Annotated[list[MeasuredTime], text("Each measured discharge.")]


@cache
def times_compared() -> TimesCompared:
    """Return the comparison."""
    return convert(read_data("measured_times"), TimesCompared)


def way_of(asked: "PackAndLoad") -> ComparedWay:
    """Return what was told about the cell."""
    if asked.measured_discharge is not UNSET:
        return (
            ComparedWay.SLOW_DISCHARGE
            if is_slow(asked.measured_discharge)
            else ComparedWay.OWN_DISCHARGE
        )
    if asked.cell_resistance_ohm is UNSET:
        return ComparedWay.CAPACITY
    return ComparedWay.HEALTH if asked.cell_health < 1 - NOISE else ComparedWay.RESISTANCE


def how_right(asked: "PackAndLoad", model: CellModel, run: Run, parallel: int) -> str:
    """Return how far such times lay from measured ones, or why nothing like it was compared."""
    way = way_of(asked)
    band = next(one for one in times_compared().ways if one.way is way)
    unlike = _unlike(asked, model, run, parallel, band)
    if unlike:
        return f"This time can be far off. Nothing like it was measured: {'; '.join(unlike)}."
    return (
        f"Such times of single cells {way.words} were {_percent(-band.lowest)} % too short to "
        f"{_percent(band.highest)} % too long. They were compared with {band.discharges} measured "
        f"discharges of {band.cells} {'cell' if band.cells == 1 else 'cells'}, at "
        f"{band.lowest_rate_per_h:g} to {band.highest_rate_per_h:g} times the capacity per hour, down to "
        f"{band.lowest_cutoff_v:g} to {band.highest_cutoff_v:g} V, in room air. A cell of another make can "
        "lie outside this range."
    )


def _unlike(
    asked: "PackAndLoad", model: CellModel, run: Run, parallel: int, band: ComparedTimes
) -> list[str]:
    """Return what sets a question apart from every one that was compared."""
    if run.time_s <= 0:
        return ["the pack does not run"]
    found = []
    if model.is_simulated:
        found.append("the sag is that of a simulated cell")
    elif not follows_measured_cells(asked):
        found.append("no cell of this chemistry was measured")
    elif is_energy_cell(asked):
        found.append("no energy cell was measured")
    if not _COOLEST_C <= temperature_c(asked) <= _WARMEST_C:
        cold = temperature_c(asked) < _COOLEST_C
        found.append(
            "the cell is colder than room air" if cold else "the cell is warmer than room air"
        )
    found += _unlike_cell(asked, band.way)
    if asked.cell_health < 1 - NOISE and band.way is not ComparedWay.HEALTH:
        found.append("the resistance of the aged cell was assumed")
    if asked.state_of_charge < 1 - NOISE:
        found.append("the cell does not begin full")
    if asked.cell_cutoff_voltage_v is not UNSET and not (
        band.lowest_cutoff_v - NOISE <= asked.cell_cutoff_voltage_v <= band.highest_cutoff_v + NOISE
    ):
        found.append("the cut-off is outside those of the comparison")
    rate = float(run.mean_current_a) / parallel / printed_ah(asked)
    # a mean that differs by a tenth is still the same kind of load
    if rate < band.lowest_rate_per_h * 0.9:
        found.append("the current is lower than in any comparison")
    if rate > band.highest_rate_per_h * 1.1:
        found.append("the current is higher than in any comparison")
    measured = asked.measured_discharge
    if (
        measured is not UNSET
        and band.way is ComparedWay.OWN_DISCHARGE
        and float(np.max([run.start_current_a, run.end_current_a])) / parallel
        > OWN_REACH * measured.current_a * 1.1
    ):
        found.append(f"the current is more than {OWN_REACH:g} times that of your discharge")
    return found


def _unlike_cell(asked: "PackAndLoad", way: ComparedWay) -> list[str]:
    """Return what sets a cell, and what was told about it, apart from those that were measured."""
    found = []
    capacity_ah: float = printed_ah(asked)
    if not _CAPACITIES_AH[0] <= capacity_ah <= _CAPACITIES_AH[1]:
        found.append("no cell of this capacity was measured")
    measured = asked.measured_discharge
    if asked.cell_resistance_ohm is UNSET:
        if measured is not UNSET:
            found.append("no resistance was given with the discharge")
        elif at_usual_temperature(asked) * capacity_ah < _USUAL_LEAST * USUAL_OHM_AH:
            found.append("no cell of this rating was measured")
    elif asked.cell_resistance_after_s < _SOONEST_READING_S - NOISE:
        found.append(f"the resistance was read before {_SOONEST_READING_S:g} s")
    else:
        low, high = _AGED_OHM_AH if way is ComparedWay.HEALTH else _OHM_AH
        if not low <= at_usual_temperature(asked) * capacity_ah <= high:
            found.append("no cell with this resistance for its capacity was measured")
    if way is ComparedWay.HEALTH and asked.cell_health < _LEAST_HEALTH:
        found.append("no cell as aged as this was measured")
    if measured is not UNSET:
        found += _unlike_log(asked, measured, capacity_ah)
    return found


def _unlike_log(asked: "PackAndLoad", measured: MeasuredDischarge, capacity_ah: float) -> list[str]:
    """Return what sets an own discharge apart from those that were compared."""
    found = []
    lost_v = lasting_loss_v(
        current_a=measured.current_a, resistance_ohm=at_usual_temperature(asked)
    )
    full_v = VOLTAGES[asked.chemistry].charged_v
    if measured.voltage_v[0] + lost_v < full_v - _NOT_FULL_V:
        found.append("your discharge did not begin full")
    cutoff_v = asked.cell_cutoff_voltage_v
    stop_v = VOLTAGES[asked.chemistry].time_cutoff_v if cutoff_v is UNSET else cutoff_v
    if measured.voltage_v[-1] > stop_v + _STOPS_EARLY_V:
        found.append("your discharge ended above the cut-off")
    if not _OF_PRINTED[0] <= charge_of(measured) / capacity_ah <= _OF_PRINTED[1]:
        found.append("your discharge gave much less or much more than the printed capacity")
    if measured.current_a > FASTEST_LOG_PER_H * charge_of(measured):
        found.append("your discharge took less than an hour")
    return found


def _percent(part: float) -> str:
    """Return a deviation in percent, rounded up: it must not look smaller than it is."""
    return f"{rounded_up(value=max(part, 0.0) * 100, step=0.1):.1f}"
