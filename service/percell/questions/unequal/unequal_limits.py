"""The limits of a pack of unequal cells, and of each of its cells, at this moment."""

from collections.abc import Callable
from math import inf

import numpy as np
from msgspec import UNSET, structs
from numpy.typing import NDArray

from percell.physics.charging import USUAL_RATE
from percell.physics.meter import NOISE
from percell.physics.sharing import Shared
from percell.physics.types import Floats
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.power_findings import coil_power, converter_power
from percell.questions.answering.rating_findings import cell_against_rating
from percell.questions.answering.voltage_findings import end_voltage_limit, resting_voltage
from percell.questions.unequal import rules
from percell.questions.unequal.cell_voltages import resting, under_load
from percell.questions.unequal.charge_limit import (
    LARGEST_CHARGE_FROM,
    UNKNOWN_CHARGE,
    believed,
    charge_current,
    largest_charge_limit_a,
)
from percell.questions.unequal.unequal_pack import (
    CHARGED_A,
    Pack,
    Place,
    State,
    input_power_w,
    worst_place,
)
from percell.questions.vocabulary.labels import lowered
from percell.questions.vocabulary.limits import (
    Held,
    Limit,
    LimitSide,
    judged,
    missing,
    not_judged,
    together,
    unbounded,
)
from percell.questions.vocabulary.rules import LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import count_of, given, shown, worst


def held_pack(state: State) -> Held:
    """Hold the pack and each of its cells to every limit."""
    chemistry, pack = state.asked.chemistry, state.pack

    def name_of(number: int) -> str:
        """Return the name of a cell by its number, counted from 0 through all groups."""
        return _name(divmod(number, pack.voltage_v.shape[1]))

    return together(
        _held_rating(state),
        _held_hardest(state),
        _held_charging(state),
        _held_reversal(state.shared, name_of),
        resting(chemistry, pack.voltage_v.ravel(), name_of),
        under_load(chemistry, state.shared.cell_voltage_v.ravel(), name_of),
        _held_power(state),
    )


def _held_rating(state: State) -> Held:
    rating_a = state.pack.rating_a
    if rating_a is None:
        return Held([_rating(state, (0, 0))], [])
    at = worst_place(state.discharge_a / rating_a)
    return cell_against_rating(
        worst_cell_a=float(state.discharge_a[at]), rating_a=float(rating_a[at])
    )


def _held_hardest(state: State) -> Held:
    """Hold the currents where the load draws most to the ratings."""
    pack, hardest = state.pack, state.hardest
    if hardest is None:
        return Held([], [])
    cell_a, rating_a = hardest.cell_a, pack.rating_a
    at = worst_place(cell_a if rating_a is None else cell_a / rating_a)
    bound_a = inf if rating_a is None else float(rating_a[at])
    carries = f"carries {worst(float(cell_a[at]), bound_a)} A"
    pack_a, cell_v = worst(hardest.pack_a, inf), given(hardest.cell_v)
    if state.asked.output_power_w is UNSET:
        when = f"when the cells are full, at {cell_v} V"
        more = finding(
            rules.DRAWS_MORE_WHEN_FULL,
            f"The coil draws up to {pack_a} A {when}. {_name(at)} then {carries}.",
        )
    else:
        when = f"when the cells are down to {cell_v} V under load"
        more = finding(
            rules.DRAWS_MORE_WHEN_EMPTY,
            f"The converter draws up to {pack_a} A {when}, the usual cut-off. {_name(at)} then {carries}.",
        )
    if rating_a is None:
        return Held([], [more])
    limit = _rating_of(pack, cell_a, at)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [more])
    said = f"{_name(at)} {carries}, above its continuous rating of {given(bound_a)} A, {when}."
    return Held([limit], [finding(shared_rules.OVER_RATING, said), more])


def _held_charging(state: State) -> Held:
    """Hold the currents into cells to their charge limits."""
    if not state.looks_at_charging:
        return Held([unbounded(LimitName.CHARGE_CURRENT)], [])
    charge = state.charge
    at = worst_place(state.charge_a / charge.limit_a)
    doubt = _doubted(state, at)
    (limit,) = doubt.limits
    charge_a, limit_a = float(state.charge_a[at]), float(charge.limit_a[at])
    if not charge_a > CHARGED_A:
        return doubt
    who = lowered(_name(at)) + ("" if state.no_load else ", while the load is off,")
    of_all = f"{_some(state.charge_a > CHARGED_A)} charged."
    if limit.verdict is not Verdict.OVER:
        said = f"Other cells charge {who} with {shown(charge_a)} A. {of_all}"
        return together(doubt, Held([], [finding(rules.CHARGED_BY_NEIGHBOURS, said)]))
    said = (
        f"Other cells charge {who} with {worst(charge_a, limit_a)} A, above its charge limit of "
        f"{given(limit_a)} A{charge.of_which}. {of_all}"
    )
    return together(doubt, Held([], [finding(rules.NEIGHBOURS_TOO_FAST, said)]))


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


def _held_power(state: State) -> Held:
    asked, (volts, ohms) = state.asked, state.shared.source
    if asked.coil_resistance_ohm is not UNSET:
        return coil_power(asked.coil_resistance_ohm, ohms)
    if asked.output_power_w is UNSET:
        return Held([unbounded(LimitName.AVAILABLE_POWER)], [])
    return converter_power(volts, ohms, input_power_w(asked), "at these voltages")


def cell_limits(state: State, at: Place) -> list[Limit]:
    """Return every limit of one cell."""
    chemistry, pack, hardest = state.asked.chemistry, state.pack, state.hardest
    is_charged = state.charge_a[at] > CHARGED_A
    return [
        _doubted(state, at).limits[0] if is_charged else unbounded(LimitName.CHARGE_CURRENT),
        _rating(state, at),
        _reversal(float(state.shared.cell_voltage_v[at])),
        end_voltage_limit(chemistry, float(state.lowest_v[at])),
        resting_voltage(chemistry, float(pack.voltage_v[at])),
        *([] if hardest is None else [_rating_of(pack, hardest.cell_a, at)]),
    ]


def _rating(state: State, at: Place) -> Limit:
    limit = _rating_of(state.pack, state.discharge_a, at)
    # without a load the question is what the cells charge each other with
    return limit if state.no_load else structs.replace(limit, missing=UNSET)


def _rating_of(pack: Pack, cell_a: Floats, at: Place) -> Limit:
    if pack.rating_a is None:
        return missing(LimitName.CONTINUOUS_RATING, "cell_rating_a")
    return judged(LimitName.CONTINUOUS_RATING, float(cell_a[at]), float(pack.rating_a[at]), "A")


def _doubted(state: State, at: Place) -> Held:
    """Hold the current into a cell to its charge limit, if that limit can be believed."""
    capacity_ah = state.pack.capacity_ah
    largest_ah = largest_charge_limit_a(state.asked.chemistry) / USUAL_RATE
    return believed(
        _charging(state, at),
        state.asked.cell_charge_limit_a,
        largest_ah if capacity_ah is None else float(capacity_ah.min()),
    )


def _charging(state: State, at: Place) -> Limit:
    charge = state.charge
    charge_a, limit_a = float(state.charge_a[at]), float(charge.limit_a[at])
    limit = charge_current(charge_a, limit_a, assumed=charge.assumed)
    if charge.origin != LARGEST_CHARGE_FROM:
        return limit
    return not_judged(limit, UNKNOWN_CHARGE)


def _reversal(voltage_v: float) -> Limit:
    # what is zero but for rounding is not below zero
    kept_v = 0.0 if abs(voltage_v) < NOISE else voltage_v
    return judged(LimitName.REVERSAL, kept_v, 0.0, "V", bound=LimitSide.AT_LEAST, near=False)


def _name(at: Place) -> str:
    group, cell = at
    return f"Cell {cell + 1} of group {group + 1}"


def _some(cells: NDArray[np.bool_]) -> str:
    """Return how many of all cells a sentence is about, with its verb."""
    some = int(np.count_nonzero(cells))
    return f"{count_of(some, 'cell')} of {cells.size} {'is' if some == 1 else 'are'}"
