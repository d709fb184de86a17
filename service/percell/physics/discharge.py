"""Running time: a discharge followed from its start to the cut-off voltage under load.

A cell sags under load as measured cells do, see ``measured_cells``: the loss follows the current at once, and what
of it grows over minutes is counted in full from the start. Where a curve names the table of a simulated cell with
published parameters instead, its sag is carried over by likeness: two cells whose current times pulse resistance
is the same lose the same voltage at the same depth.

Such a table holds constant currents. Under other loads the current moves, and the slow part lags behind it: the
table is read at the mean of the current so far, weighted towards the present by the charge delivered, and a part
``PROMPT`` of the voltage lost follows the present current. While diffusion has not yet crossed the electrode it
has no time scale of its own, and the weight is the charge to the power ``MEMORY``; past the share ``REACH`` of the
charge the past is forgotten at the rate reached there. ``MARGIN`` makes the resistance a little larger. The four
were chosen on the cell of Chen 2020, so that its simulated times at constant power and constant resistance are
met within 5 % below and 2 % above; those of Prada 2013 are then met within 2 % below and a half above.
"""

from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from percell.physics.curves import Curve
from percell.physics.measured_cells import FAST_PART, SLOW_LOSS_V, highest_loss_v
from percell.physics.types import Floats, Quantity
from percell.physics.under_load import SagTable

Flags: TypeAlias = NDArray[np.bool_] | bool

MEMORY = 2.5
REACH = 0.4
PROMPT = 0.9
MARGIN = 1.01
# Places along a discharge, as shares of the charge at its start: steps of 4 % of the way so far while a
# high current may end the run, then close together where the curve is steep.
_SHARE = np.concatenate(
    (
        [0.0],
        np.geomspace(0.001, 0.015, 12, endpoint=False),
        np.geomspace(0.015, 0.6, 100, endpoint=False),
        np.linspace(0.6, 0.9, 20, endpoint=False),
        np.linspace(0.9, 1.0, 30),
    )
)
# the weight of all that came before a point, continuous with its slope at REACH
_PAST = np.where(
    _SHARE < REACH, (_SHARE / REACH) ** MEMORY, np.exp(MEMORY * (_SHARE - REACH) / REACH)
)
_WEIGHT = 0.5 * np.diff(_PAST)
_PER_WEIGHT = 1.0 / _PAST[1:]
_FIRST = _SHARE == 0.0
# Settled when no current before the cut-off still moves by this part of itself. Each round carries the
# settled stretch further along the run, so a steep end needs more rounds.
_SETTLED = 1e-3
_ROUNDS = 25


class Run(NamedTuple):
    """One discharge from its start to its end, an array each where an input was one.

    Currents are the pack's; ``used`` is the charge over the capacity of a full pack; ``collapsed`` says
    that the load asked for more power than the pack had, at once or with the voltage still above the
    cut-off; ``path`` is the way there. The energies add up: ``cell_energy_wh = input_energy_wh + heat_wh``. By
    measured cells the heat is no less than theirs, so that the energy given up is rather too high.
    """

    time_s: Floats
    load_energy_wh: Floats
    input_energy_wh: Floats
    cell_energy_wh: Floats
    heat_wh: Floats
    charge_ah: Floats
    used: Floats
    mean_current_a: Floats
    start_current_a: Floats
    end_current_a: Floats
    collapsed: Floats
    path: "Path"


class Path(NamedTuple):
    """Points along a discharge, on the last axis, also past the end at index ``end`` (a fraction).

    ``charge_ah`` is delivered by the pack, ``cell_voltage_v`` what the load sees of one cell.
    """

    charge_ah: Floats
    current_a: Floats
    cell_voltage_v: Floats
    end: Floats


class Draws(NamedTuple):
    """A running time cut into draws; ``time_s`` runs from the first draw to the end of the last."""

    draws: Floats
    load_time_s: Floats
    time_s: Floats


def _column(value: Quantity) -> Floats:
    """One more axis, last, for the points along the discharge."""
    return np.asarray(value, dtype=np.float64)[..., None]


class _Power(NamedTuple):
    """A cell's part of a load that takes constant power."""

    cell_power_w: Floats

    def meet(self, source_v: Floats, source_ohm: Floats) -> "_Met":
        """Return what a source meets, and where it cannot give the power."""
        root = source_v * source_v - 4.0 * source_ohm * self.cell_power_w
        # without a solution, the point of highest power stands in
        seen_v = 0.5 * (source_v + np.sqrt(np.maximum(root, 0.0)))
        return _Met(self.cell_power_w / seen_v, seen_v, root < 0.0)


class _Resistance(NamedTuple):
    """A cell's part of a load that is a resistance."""

    part_ohm: Floats

    def meet(self, source_v: Floats, source_ohm: Floats) -> "_Met":
        """Return what a source meets: one of any strength drives some current."""
        current_a = source_v / (source_ohm + self.part_ohm)
        return _Met(current_a, self.part_ohm * current_a, False)


def converter_run(
    *,
    output_power_w: Quantity,
    efficiency: Quantity,
    idle_power_w: Quantity,
    series: Quantity,
    parallel: Quantity,
    capacity_ah: Quantity,
    resistance_ohm: Quantity,
    contact_resistance_ohm: Quantity,
    cutoff_v: Quantity,
    start_soc: Quantity,
    curve: Curve,
) -> Run:
    """Return the discharge of a pack by a converter load.

    ``dt = q·dz/I(z)`` with ``I`` the smaller root of ``R·I² − U·I + P_in = 0``, until the voltage that
    the device sees of a cell is down to the cut-off, or the pack has no such power any more. All
    arguments broadcast. Below the cut-off at the start, all is zero.

    Args:
        output_power_w: Power delivered to the load. [W], > 0
        efficiency: Output over input power, without the idle part. [1], 0 < η <= 1
        idle_power_w: Power the converter needs for itself. [W], >= 0
        series: Cells in series. [1], >= 1
        parallel: Cells in parallel. [1], >= 1
        capacity_ah: Capacity of one cell as it is now, aged. [Ah], > 0
        resistance_ohm: Resistance of one cell after 10 s. [ohm], >= 0
        contact_resistance_ohm: Resistance of contacts and leads, for each cell. [ohm], >= 0
        cutoff_v: Voltage of one cell under load at which the device stops. [V], > 0
        start_soc: State of charge at the start, rested. [1], 0..1, > 0
        curve: Rest curve. [1] against [V], any

    Returns:
        Discharge. [s, Wh, Ah, A]

    Source:
        Conservation of charge and energy; sag as of measured cells, or of the simulated cell that the
        curve names.

    A watt from a cell of 3 Ah whose open-circuit voltage falls from 4 V to 3 V, without resistance: the time is
    3 Ah × 3.5 V / 1 W = 10.5 h.

    >>> from percell.physics.curves import own_curve
    >>> curve = own_curve(soc=[0.0, 1.0], ocv_v=[3.0, 4.0])
    >>> run = converter_run(output_power_w=1.0, efficiency=1.0, idle_power_w=0.0, series=1, parallel=1,
    ...     capacity_ah=3.0, resistance_ohm=0.0, contact_resistance_ohm=0.0, cutoff_v=2.5,
    ...     start_soc=1.0, curve=curve)
    >>> round(float(run.time_s) / 3600, 3)
    10.5
    """
    input_w = output_power_w / efficiency + idle_power_w
    return _run(
        load=_Power(_column(input_w / (series * parallel))),
        useful=output_power_w / input_w,
        series=series,
        parallel=parallel,
        capacity_ah=capacity_ah,
        resistance_ohm=resistance_ohm,
        contact_ohm=contact_resistance_ohm,
        cutoff_v=cutoff_v,
        start_soc=start_soc,
        curve=curve,
    )


def direct_run(
    *,
    load_resistance_ohm: Quantity,
    device_resistance_ohm: Quantity,
    series: Quantity,
    parallel: Quantity,
    capacity_ah: Quantity,
    resistance_ohm: Quantity,
    contact_resistance_ohm: Quantity,
    cutoff_v: Quantity,
    start_soc: Quantity,
    curve: Curve,
) -> Run:
    """Return the discharge of a pack by a load straight at its ends.

    ``dt = q·dz/I(z)`` with ``I = U/(R_cell + R_contact + R_device + R_load)``, until a cell with its
    contacts is down to the cut-off. All arguments broadcast.

    Args:
        load_resistance_ohm: Resistance of the load. [ohm], > 0
        device_resistance_ohm: Resistance between pack and load, whose heat is no use. [ohm], >= 0
        series: Cells in series. [1], >= 1
        parallel: Cells in parallel. [1], >= 1
        capacity_ah: Capacity of one cell as it is now, aged. [Ah], > 0
        resistance_ohm: Resistance of one cell after 10 s. [ohm], >= 0
        contact_resistance_ohm: Resistance of contacts and leads, for each cell. [ohm], >= 0
        cutoff_v: Voltage of one cell under load at which to stop. [V], > 0
        start_soc: State of charge at the start, rested. [1], 0..1, > 0
        curve: Rest curve. [1] against [V], any

    Returns:
        Discharge. [s, Wh, Ah, A]

    Source:
        Ohm's law and conservation of charge; sag as of measured cells, or of the simulated cell that the
        curve names.

    A cell of 3 Ah at nearly 4 V throughout, 4 ohm: 1 A for 3 h.

    >>> from percell.physics.curves import own_curve
    >>> curve = own_curve(soc=[0.0, 1.0], ocv_v=[4.0 - 1e-9, 4.0])
    >>> run = direct_run(load_resistance_ohm=4.0, device_resistance_ohm=0.0, series=1, parallel=1,
    ...     capacity_ah=3.0, resistance_ohm=0.0, contact_resistance_ohm=0.0, cutoff_v=2.5,
    ...     start_soc=1.0, curve=curve)
    >>> round(float(run.time_s) / 3600, 3)
    3.0
    """
    whole_ohm = load_resistance_ohm + device_resistance_ohm
    return _run(
        load=_Resistance(_column(whole_ohm * parallel / series)),
        useful=load_resistance_ohm / whole_ohm,
        series=series,
        parallel=parallel,
        capacity_ah=capacity_ah,
        resistance_ohm=resistance_ohm,
        contact_ohm=contact_resistance_ohm,
        cutoff_v=cutoff_v,
        start_soc=start_soc,
        curve=curve,
    )


class _Met(NamedTuple):
    """What the load meets at each point along the way."""

    current_a: Floats
    seen_v: Floats
    beyond: Flags  # the source cannot give the power

    def where(self, holds: Flags, other: "_Met") -> "_Met":
        """Return this state where a condition holds, and another elsewhere."""
        return _Met(*(np.where(holds, own, its) for own, its in zip(self, other, strict=True)))


class _End(NamedTuple):
    """Where each discharge ends, one a row: a part ``at`` of the step that begins at ``left``."""

    first_below: NDArray[np.intp]
    left: NDArray[np.intp]
    at: Floats

    def read(self, values: Floats) -> Floats:
        """Return the values at the end, straight between two points."""
        rows = np.arange(len(values))
        near = values[rows, self.left]
        found: Floats = near + self.at * (values[rows, self.left + 1] - near)
        return found


def _run(
    *,
    load: _Power | _Resistance,
    useful: Quantity,
    series: Quantity,
    parallel: Quantity,
    capacity_ah: Quantity,
    resistance_ohm: Quantity,
    contact_ohm: Quantity,
    cutoff_v: Quantity,
    start_soc: Quantity,
    curve: Curve,
) -> Run:
    """Follow one cell of the pack, as all share alike, and scale the way to its end to the pack."""
    start = _column(start_soc)
    soc = start * (1.0 - _SHARE)
    lifted_v = np.interp(soc, curve.soc, curve.ocv_v) + _column(curve.lift_v)
    ocv_v = np.minimum(lifted_v, curve.highest_v)
    limit_v = _column(cutoff_v)
    cell_ohm, outer_ohm = _column(resistance_ohm), _column(contact_ohm)
    if curve.under_load:
        met = _settled(
            load=load,
            table=SagTable.read(curve.under_load),
            # a run that starts part-full has the sag of one that came down from full: the cautious side
            depth=1.0 - soc,
            ocv_v=ocv_v,
            cell_ohm=cell_ohm,
            outer_ohm=outer_ohm,
            limit_v=limit_v,
        )
    else:
        met = _as_measured(load=load, ocv_v=ocv_v, cell_ohm=cell_ohm, outer_ohm=outer_ohm)
    heat_v = met.current_a * outer_ohm + highest_loss_v(
        current_a=met.current_a, resistance_ohm=curve.heat_ratio * cell_ohm
    )
    return _summed(
        met=met,
        heat_v=heat_v,
        limit_v=limit_v,
        charge_ah=_column(capacity_ah) * start * _SHARE,
        useful=useful,
        series=series,
        parallel=parallel,
        capacity_ah=capacity_ah,
    )


def _as_measured(
    *, load: _Power | _Resistance, ocv_v: Floats, cell_ohm: Floats, outer_ohm: Floats
) -> _Met:
    """Return what the load meets at a cell that loses ``lasting_loss_v``.

    The loss is straight in the current below the most that its slow part comes to, and again above. So is what
    the load meets, and the smaller current that fits is the one that flows.
    """
    fast_ohm = FAST_PART * cell_ohm
    growing = load.meet(ocv_v, 2.0 * fast_ohm + outer_ohm)
    grown = load.meet(np.maximum(ocv_v - SLOW_LOSS_V, 1e-3), fast_ohm + outer_ohm)
    fits = (fast_ohm * growing.current_a <= SLOW_LOSS_V) & np.logical_not(growing.beyond)
    return growing.where(fits, grown)


def _settled(
    *,
    load: _Power | _Resistance,
    table: SagTable,
    depth: Floats,
    ocv_v: Floats,
    cell_ohm: Floats,
    outer_ohm: Floats,
    limit_v: Floats,
) -> _Met:
    """Return what the load meets, once current and sag belong to each other.

    The sag depends on the current so far, and the current on the sag: from a cell without resistance
    on, each round takes the sag at the mean current of the round before.
    """
    met = load.meet(ocv_v, outer_ohm)
    mean_a = met.current_a
    settled: Flags | None = None
    for _ in range(_ROUNDS):
        before = met
        slow_ohm = cell_ohm * MARGIN * table.resistance_ratio(depth=depth, sag_v=mean_a * cell_ohm)
        source_v = np.maximum(ocv_v - (1.0 - PROMPT) * slow_ohm * mean_a, 1e-3)
        met = load.meet(source_v, PROMPT * slow_ohm + outer_ohm)
        if settled is not None:
            # what has settled stays, so that a grid holds what single questions answer
            met = before.where(settled, met)
        moved = (np.abs(met.current_a - before.current_a) > _SETTLED * met.current_a) & (
            met.seen_v >= limit_v
        )
        if not moved.any():
            break
        if moved.ndim > 1:
            settled = np.logical_not(moved.any(axis=-1, keepdims=True))
        mean_a = met.current_a.copy()
        pairs = met.current_a[..., 1:] + met.current_a[..., :-1]
        mean_a[..., 1:] = (pairs * _WEIGHT).cumsum(axis=-1) * _PER_WEIGHT
    return met


def _summed(
    *,
    met: _Met,
    heat_v: Floats,
    limit_v: Floats,
    charge_ah: Floats,
    useful: Quantity,
    series: Quantity,
    parallel: Quantity,
    capacity_ah: Quantity,
) -> Run:
    """Return what a cell's way to its end sums up to, for the whole pack."""
    reached = met.seen_v >= limit_v
    above = reached & ~np.asarray(met.beyond)
    no_power = met.beyond & (reached | _FIRST)
    shape = np.broadcast(charge_ah, above).shape

    def rows_of(values: Any) -> Any:
        """One row for each discharge."""
        return np.broadcast_to(values, shape).reshape(-1, shape[-1])

    def grid_of(values: Any) -> Floats:
        """One value for each discharge, in the shape of the arguments."""
        found: Floats = values.reshape(shape[:-1])
        return found

    charge_ah, heat_v, seen_v = map(rows_of, (charge_ah, heat_v, met.seen_v))
    slowness = rows_of(1.0 / met.current_a)
    end = _end(rows_of(above), seen_v, np.broadcast_to(limit_v[..., 0], shape[:-1]).ravel())
    weight_ah = _weights(charge_ah, end)

    def integral(values: Floats) -> Floats:
        return grid_of(np.einsum("ij,ij->i", weight_ah, values))

    cells = np.asarray(series * parallel, dtype=np.float64)
    time_s = 3600.0 * integral(slowness)
    used_ah = grid_of(end.read(charge_ah))
    input_energy_wh = cells * integral(seen_v)
    heat_wh = cells * integral(heat_v)
    start_a = parallel / grid_of(slowness[:, 0])
    runs = time_s > 0.0
    mean_a = np.where(runs, 3600.0 * parallel * used_ah / np.where(runs, time_s, 1.0), start_a)
    return Run(
        time_s=time_s,
        load_energy_wh=useful * input_energy_wh,
        input_energy_wh=input_energy_wh,
        cell_energy_wh=input_energy_wh + heat_wh,
        heat_wh=heat_wh,
        charge_ah=parallel * used_ah,
        used=used_ah / capacity_ah,
        mean_current_a=mean_a,
        start_current_a=start_a,
        end_current_a=parallel / grid_of(end.read(slowness)),
        collapsed=grid_of(rows_of(no_power)[np.arange(len(charge_ah)), end.first_below]),
        path=Path(
            charge_ah=_column(parallel) * charge_ah.reshape(shape),
            current_a=_column(parallel) / slowness.reshape(shape),
            cell_voltage_v=seen_v.reshape(shape),
            end=grid_of(end.left + end.at),
        ),
    )


def _end(above: NDArray[np.bool_], seen_v: Floats, limit_v: Floats) -> _End:
    """Return where the voltage first crosses the limit, straight between two points.

    A run that is never below ends with its last point. One that is below at once, or that lacks the
    power at once, has no length.
    """
    rows = np.arange(len(above))
    first_below = np.argmin(above, axis=-1)
    never = above[rows, first_below]
    right = np.where(never, above.shape[-1] - 1, np.maximum(first_below, 1))
    left = right - 1
    near_v, far_v = seen_v[rows, left], seen_v[rows, right]
    at = (near_v - limit_v) / np.maximum(near_v - far_v, 1e-12)
    at = np.where(never, 1.0, np.maximum(np.minimum(at, 1.0), 0.0) * (first_below > 0))
    return _End(first_below, left, at)


def _weights(charge_ah: Floats, end: _End) -> Floats:
    """Return the weights of the trapezoid rule over the charge, the last step cut at the end."""
    rows = np.arange(len(charge_ah))
    half_ah = 0.5 * (charge_ah[:, 1:] - charge_ah[:, :-1])
    last_ah = 2.0 * end.at * half_ah[rows, end.left]
    half_ah *= end.left[:, None] > np.arange(half_ah.shape[1])
    weight_ah = np.zeros(charge_ah.shape)
    weight_ah[:, :-1] = half_ah
    weight_ah[:, 1:] += half_ah
    weight_ah[rows, end.left] += last_ah * (1.0 - 0.5 * end.at)
    weight_ah[rows, end.left + 1] += last_ah * 0.5 * end.at
    return weight_ah


def draws(
    *, run: Run, draw_time_s: Quantity, pause_time_s: Quantity, pause_current_a: Quantity
) -> Draws:
    """Return the number of draws of a given length that a discharge is good for.

    In each stretch of charge the pauses take the part ``I_p·t_p/(I·t_d + I_p·t_p)``, what is left
    becomes load time. A pause also lets a cell recover; that is not counted, so at high currents there
    are more draws than this. Only whole draws count.

    Args:
        run: One discharge, not an array of them. [s, Wh, Ah, A], any
        draw_time_s: Length of a draw. [s], > 0
        pause_time_s: Length of the pause after it. [s], >= 0
        pause_current_a: Current the device takes from the pack in the pause. [A], >= 0

    Returns:
        Draws, load time and time from first to last draw. [1, s, s]

    Source:
        Conservation of charge.

    One ampere for 3 h, in draws of 10 s with pauses of 50 s at no current: 1080 draws.

    >>> from percell.physics.curves import own_curve
    >>> curve = own_curve(soc=[0.0, 1.0], ocv_v=[4.0 - 1e-9, 4.0])
    >>> run = direct_run(load_resistance_ohm=4.0, device_resistance_ohm=0.0, series=1, parallel=1,
    ...     capacity_ah=3.0001, resistance_ohm=0.0, contact_resistance_ohm=0.0, cutoff_v=2.5,
    ...     start_soc=1.0, curve=curve)
    >>> cut = draws(run=run, draw_time_s=10.0, pause_time_s=50.0, pause_current_a=0.0)
    >>> float(cut.draws), float(cut.load_time_s), float(cut.time_s)
    (1080.0, 10800.0, 64750.0)
    """
    whole = int(run.path.end)
    part = run.path.end - whole
    charge_ah, current_a = run.path.charge_ah, run.path.current_a
    # seconds of load for each ampere-hour taken by load and pause together
    seconds = 3600.0 * draw_time_s / (current_a * draw_time_s + pause_current_a * pause_time_s)
    load_time_s = np.trapezoid(seconds[: whole + 1], charge_ah[: whole + 1])
    if part > 0.0:
        last_ah = part * (charge_ah[whole + 1] - charge_ah[whole])
        near, far = seconds[whole], seconds[whole + 1]
        load_time_s = load_time_s + last_ah * (near + 0.5 * part * (far - near))
    count = np.floor(load_time_s / draw_time_s)
    return Draws(
        draws=count,
        load_time_s=count * draw_time_s,
        time_s=np.maximum(count * (draw_time_s + pause_time_s) - pause_time_s, 0.0),
    )
