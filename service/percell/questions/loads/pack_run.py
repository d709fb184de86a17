"""The discharge of a pack under its load, from the start to the cut-off, as it is asked and followed."""

from typing import Annotated, Any, ClassVar, NamedTuple, cast

import numpy as np
from msgspec import UNSET, Struct, UnsetType, structs

from percell.physics.discharge import Run, converter_run, direct_run
from percell.physics.types import Number, as_given
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.cell.temperature_rise import SurroundingsField
from percell.questions.cell.warmth import STOP_C, StopTemperatureC
from percell.questions.loads import coil
from percell.questions.loads.cell_model import (
    CellModel,
    cell_model,
    charge_now_ah,
    follows_measured_cells,
    is_energy_cell,
    sag_ohm,
)
from percell.questions.loads.pack_and_load import (
    LOAD_AND_CELL,
    PackAndLoad,
    cutoff_v,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Layout, wiring
from percell.questions.vocabulary.presence import Needs, Presence
from percell.questions.vocabulary.sizes import CellSizeField


class RunningTime(PackAndLoad, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack and its load, from the start to the cut-off."""

    presence: ClassVar[tuple[Presence, ...]] = (
        *LOAD_AND_CELL,
        Needs(
            ("pause_s", "standby_current_a"),
            "draw_length_s",
            "pause_s and standby_current_a need draw_length_s, the length of the draws.",
        ),
        Needs(
            ("standby_current_a",),
            "pause_s",
            "standby_current_a needs pause_s, the length of the pauses.",
        ),
    )
    layout: Layout
    cell_capacity_ah: fields.CellCapacityAh
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    draw_length_s: fields.DrawLengthS | UnsetType = UNSET
    pause_s: fields.PauseS | UnsetType = UNSET
    standby_current_a: fields.StandbyCurrentA = 0.0
    cell_size: CellSizeField | UnsetType = UNSET
    surroundings: SurroundingsField | UnsetType = UNSET
    stop_temperature_c: StopTemperatureC = STOP_C


class RunningTimeFigures(Struct, frozen=True, gc=False):
    """Figures of a discharge from the start to the cut-off under load."""

    running_time_s: Annotated[float, figure("s", "Time under load until the cut-off.")]
    used_capacity: Annotated[
        float, figure("1", "Charge delivered, as a part of the capacity printed on the cells.")
    ]
    pack_delivered_charge_ah: Annotated[
        float, figure("Ah", "Charge that the pack delivers until the cut-off.")
    ]
    load_energy_wh: Annotated[
        float, figure("Wh", "Energy that reaches the coil, or the converter's output.")
    ]
    pack_released_energy_wh: Annotated[float, figure("Wh", "Energy that the cells release.")]
    heat_wh: Annotated[
        float, figure("Wh", "Part of the released energy that heats cells and contacts.")
    ]
    pack_mean_current_a: Annotated[float, figure("A", "Mean current out of the pack.")]
    pack_first_current_a: Annotated[
        float, figure("A", "Current out of the pack at the start, with sag.")
    ]
    pack_last_current_a: Annotated[
        float, figure("A", "Current out of the pack at the end, with sag.")
    ]
    pack_highest_current_a: Annotated[
        float, figure("A", "Highest current out of the pack during the discharge, with sag.")
    ]
    even_cell_highest_current_a: Annotated[
        float, figure("A", "Highest current of each cell during the discharge, if shared evenly.")
    ]


HEADLINE = Headline(
    field="running_time_s",
    says="The pack runs for about",
    unit="min",
    decimals=1,
    round=Rounding.DOWN,
    per=60,
)


class Followed(NamedTuple):
    """The model of a cell, and its run."""

    model: CellModel
    run: Run


def followed(asked: RunningTime) -> Followed:
    """Follow the discharge of one question.

    Of an energy cell the shorter of both times counts: at its border no lower rating gives a longer time, and a log
    shows nothing of how such a cell fails above its current.
    """
    kinds = (False, True) if may_run_as_energy_cell(asked) else (False,)
    models = (cell_model(asked, energy_cell=kind) for kind in kinds)
    first, *others = (Followed(model, run_of(asked, model=model)) for model in models)
    return min(first, *others, key=lambda one: float(one.run.time_s)) if others else first


def run_of(asked: RunningTime, *, model: CellModel, coil_ohm: Number | None = None) -> Run:
    """Simulate the discharge of one question, or of a whole table; a coil has its lowest resistance."""
    wired = wiring(asked.layout)
    cell: dict[str, Any] = {
        "series": wired.series,
        "parallel": wired.parallel,
        "capacity_ah": charge_now_ah(asked, model),
        "resistance_ohm": sag_ohm(asked, model),
        "contact_resistance_ohm": asked.contact_resistance_ohm,
        "cutoff_v": cutoff_v(asked),
        "start_soc": asked.state_of_charge,
        "curve": model.curve,
    }
    if coil.is_direct(asked):
        return direct_run(
            load_resistance_ohm=coil.lowest_ohm(asked) if coil_ohm is None else coil_ohm,
            device_resistance_ohm=asked.device_resistance_ohm,
            **cell,
        )
    return converter_run(
        output_power_w=cast(float, asked.output_power_w),
        efficiency=asked.efficiency,
        idle_power_w=asked.idle_power_w,
        **cell,
    )


def figures(asked: RunningTime) -> RunningTimeFigures:
    """Calculate the figures of one question, or of a whole table."""
    energy_cell = may_run_as_energy_cell(asked)
    if not np.any(energy_cell):
        return _figures_by(asked, cell_model(asked, energy_cell=False))
    ours, theirs = (
        _figures_by(asked, cell_model(asked, energy_cell=kind)) for kind in (True, False)
    )
    chosen = energy_cell & (ours.running_time_s < theirs.running_time_s)
    both: Any = {
        name: as_given(np.where(chosen, value, getattr(theirs, name)), value)
        for name, value in structs.asdict(ours).items()
    }
    return RunningTimeFigures(**both)


def _figures_by(asked: RunningTime, model: CellModel) -> RunningTimeFigures:
    """Calculate the figures with one curve and sag."""
    if not coil.is_direct(asked) or not np.ndim(ohms := coil.lowest_ohm(asked)):
        return figures_of(asked, run_of(asked, model=model))
    # a coil that may be a short circuit has no run: the others are followed beside a stand-in for it
    none = np.isnan(ohms)
    run = run_of(asked, model=model, coil_ohm=as_given(np.where(none, 1.0, ohms), ohms))
    got = figures_of(asked, run)
    emptied: Any = {name: np.where(none, np.nan, v) for name, v in structs.asdict(got).items()}
    return RunningTimeFigures(**emptied)


def figures_of(asked: RunningTime, run: Any) -> RunningTimeFigures:
    """Return the figures of a ``Run`` as arrays; ``plain`` turns them into numbers."""
    highest_a = np.maximum(run.start_current_a, run.end_current_a)
    return RunningTimeFigures(
        running_time_s=run.time_s,
        used_capacity=run.charge_ah / (wiring(asked.layout).parallel * asked.cell_capacity_ah),
        pack_delivered_charge_ah=run.charge_ah,
        load_energy_wh=run.load_energy_wh,
        pack_released_energy_wh=run.cell_energy_wh,
        heat_wh=run.heat_wh,
        pack_mean_current_a=run.mean_current_a,
        pack_first_current_a=run.start_current_a,
        pack_last_current_a=run.end_current_a,
        pack_highest_current_a=highest_a,
        even_cell_highest_current_a=highest_a / wiring(asked.layout).parallel,
    )


def may_run_as_energy_cell(asked: RunningTime) -> "np.bool_ | bool":
    """Whether the time may be that of a simulated energy cell: never where no such cell stands for the chemistry."""
    return is_energy_cell(asked) if follows_measured_cells(asked) else False
