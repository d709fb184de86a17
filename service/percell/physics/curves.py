"""Open-circuit voltage of a cell at rest against its state of charge."""

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from percell.physics.chemistries import CHEMISTRIES
from percell.physics.entries import read_data
from percell.physics.errors import NoSolution
from percell.physics.types import Floats, Number, Quantity, as_given

# by chemistry: the data file of its published curve
PUBLISHED = {key: entry.curve for key, entry in CHEMISTRIES.items() if entry.curve}
# the chemistries for which the sag of that curve's cell was simulated
SIMULATED = tuple(key for key, entry in CHEMISTRIES.items() if entry.curve and entry.simulated_sag)
# Outside 0..1 a curve goes on with its last slope, but never past these bounds: copper of the negative
# electrode is known to dissolve from -1.3 to -1.5 V on, and no cell is meant to be charged so far above
# its charged voltage. Beyond either, an extrapolation says nothing but "destroyed".
LOWEST_V = -1.5
HIGHEST_ABOVE_FULL_V = 1.0


class Curve(NamedTuple):
    """Open-circuit voltage against state of charge, both strictly increasing, from empty (0) to full (1).

    ``lift_v`` is added to every voltage, up to ``highest_v``. ``under_load`` names the table of a simulated cell that says how the
    voltage sags under load; without one, measured cells say so. ``heat_ratio`` is the resistance after 10 s over the
    one that the sag is asked with.
    """

    soc: Floats
    ocv_v: Floats
    name: str
    source: str
    licence: str
    rough: bool
    note: str
    under_load: str = ""
    lift_v: Number = 0.0
    highest_v: float = np.inf
    heat_ratio: float = 1.0


@cache
def _published(chemistry: str) -> Curve:
    data = read_data(PUBLISHED[chemistry])
    return Curve(
        soc=np.array(data["soc"]),
        ocv_v=np.array(data["ocv_v"]),
        name=data["name"],
        source=data["source"],
        licence=data["licence"],
        rough=data["rough"],
        note=data["note"],
    )


def published_curve(*, chemistry: str) -> Curve:
    """Return the published curve that stands for a chemistry.

    Made from published electrode fits and the balance of charge between the two electrodes. A fit of
    one design of cell, borrowed for all cells of its chemistry: an estimate.

    Args:
        chemistry: Short name of the chemistry. [name], any of PUBLISHED

    Returns:
        Curve with its source and licence. [1] against [V]

    Raises:
        NoSolution: No curve stands for this chemistry.

    Source:
        Chen et al., J. Electrochem. Soc. 167 (2020) 080534; Kim et al., J. Electrochem. Soc. 158 (2011)
        A955; Prada et al. (2013), DOI 10.1149/2.053304jes (rough).

    >>> curve = published_curve(chemistry="nmc")
    >>> float(curve.ocv_v[0]), float(curve.ocv_v[-1])
    (2.5, 4.2)
    """
    if chemistry not in PUBLISHED:
        raise NoSolution("no_curve", f"There is no published curve for {chemistry!r}.")
    return _published(chemistry)


def simulated_curve(*, chemistry: str) -> Curve:
    """Return the published curve of a chemistry with the sag of the simulated cell of its publication.

    Args:
        chemistry: Short name of the chemistry. [name], any with a simulated sag

    Returns:
        Curve with its source and licence. [1] against [V]

    Raises:
        NoSolution: No simulated sag stands for this chemistry.

    Source:
        As the published curve.

    >>> simulated_curve(chemistry="lfp").under_load
    'lfp_prada2013_under_load'
    """
    if chemistry not in SIMULATED:
        raise NoSolution("no_curve", f"There is no simulated cell for {chemistry!r}.")
    return published_curve(chemistry=chemistry)._replace(
        under_load=f"{PUBLISHED[chemistry]}_under_load"
    )


def own_curve(*, soc: ArrayLike, ocv_v: ArrayLike) -> Curve:
    """Return the curve through measured points.

    Straight between the points; the first and last state of charge must be 0 and 1, so that nothing
    within the cell's range is guessed.

    Args:
        soc: State of charge, shape (n,). [1], from 0 to 1, strictly rising, n >= 2
        ocv_v: Open-circuit voltage there, shape (n,). [V], > 0, rising

    Returns:
        Curve. [1] against [V]

    Raises:
        NoSolution: The two differ in length, have fewer than two points, do not rise, do not
            run from 0 to 1, or hold a voltage that is not above zero.

    Source:
        The caller's own measurement.

    >>> own_curve(soc=[0.0, 1.0], ocv_v=[3.0, 4.0]).name
    'own curve'
    """
    z = np.asarray(soc, dtype=np.float64)
    u = np.asarray(ocv_v, dtype=np.float64)
    if z.ndim != 1 or z.shape != u.shape or z.size < 2:
        raise NoSolution(
            "curve_shape",
            "A curve needs as many voltages as states of charge, and at least two of each.",
        )
    # written so that a NaN is refused too
    if not (np.all(np.diff(z) > 0.0) and np.all(np.diff(u) >= 0.0) and u[-1] > u[0]):
        raise NoSolution("curve_not_rising", "State of charge and voltage must both rise.")
    if z[0] != 0.0 or z[-1] != 1.0:
        raise NoSolution("curve_range", "The states of charge must run from 0 to 1.")
    if not (u[0] > 0.0 and np.isfinite(u[-1])):
        raise NoSolution("curve_voltage", "The voltages must be above zero.")
    return Curve(
        soc=z,
        ocv_v=u,
        name="own curve",
        source="the caller's own points",
        licence="the caller's",
        rough=False,
        note="",
    )


def open_circuit_voltage_v(*, curve: Curve, soc: Quantity) -> Quantity:
    """Return the voltage of a cell at rest.

    Straight between the points of the curve. Outside 0..1 an extrapolation with the slope of the last
    points, which is steep at the empty end, bounded at -1.5 V and at 1 V above full: no curve is
    published there.

    Args:
        curve: Rest curve. [1] against [V], any
        soc: State of charge. [1], 0..1; beyond it extrapolated

    Returns:
        Voltage. [V]

    Source:
        The curve's own. Lower bound: copper dissolution began at -1.3 to -1.5 V in commercial cells
        under forced over-discharge, J. Electrochem. Soc. 165(9) (2018) A1639 (abstract); upper bound: ours.

    >>> curve = own_curve(soc=[0.0, 0.5, 1.0], ocv_v=[3.0, 3.5, 4.5])
    >>> open_circuit_voltage_v(curve=curve, soc=0.25), open_circuit_voltage_v(curve=curve, soc=1.25)
    (3.25, 5.0)
    """
    z, u = curve.soc, curve.ocv_v
    below = np.minimum(soc, 0.0) * (u[1] - u[0]) / z[1]
    above = np.maximum(soc - 1.0, 0.0) * (u[-1] - u[-2]) / (1.0 - z[-2])
    straight_v = np.interp(soc, z, u) + below + above
    return as_given(np.clip(straight_v, LOWEST_V, u[-1] + HIGHEST_ABOVE_FULL_V), soc)


def soc_at_rest(*, curve: Curve, open_circuit_voltage_v: Quantity) -> Quantity:
    """Return the state of charge of a cell at rest.

    The inverse of the curve within its range; full above it and empty below. Published curves of 4.2 V
    cells differ by about 0.24 V at half charge, so this is no precise reading.

    Args:
        curve: Rest curve. [1] against [V], any
        open_circuit_voltage_v: Voltage at rest. [V], finite

    Returns:
        State of charge. [1]

    Source:
        The curve's own.

    >>> curve = own_curve(soc=[0.0, 0.5, 1.0], ocv_v=[3.0, 3.5, 4.5])
    >>> soc_at_rest(curve=curve, open_circuit_voltage_v=4.0)
    0.75
    """
    soc = np.interp(open_circuit_voltage_v, curve.ocv_v, curve.soc)
    return as_given(soc, open_circuit_voltage_v)


def mean_open_circuit_voltage_v(*, curve: Curve, from_soc: float, to_soc: float) -> float:
    """Return the mean open-circuit voltage between two states of charge.

    ``∫ u dz/(z₂ − z₁)``, exact for a curve that is straight between its points. Times the charge, it is
    the energy a cell gives up.

    Args:
        curve: Rest curve. [1] against [V], any
        from_soc: Lower state of charge. [1], 0..1
        to_soc: Upper state of charge. [1], 0..1, > from_soc

    Returns:
        Voltage. [V]

    Source:
        Definition of the mean.

    >>> curve = own_curve(soc=[0.0, 0.5, 1.0], ocv_v=[3.0, 3.5, 4.5])
    >>> mean_open_circuit_voltage_v(curve=curve, from_soc=0.0, to_soc=1.0)
    3.625
    """
    inside = curve.soc[(curve.soc > from_soc) & (curve.soc < to_soc)]
    z = np.concatenate(([from_soc], inside, [to_soc]))
    u = np.interp(z, curve.soc, curve.ocv_v)
    return float(np.sum((u[1:] + u[:-1]) * np.diff(z)) / (2.0 * (to_soc - from_soc)))
