"""How warm the worst-case cell of a pack gets on the way from full to the cut-off."""

from math import ceil

from msgspec import UNSET, structs

from percell.questions.answering.question import Explained
from percell.questions.cell import temperature_rise
from percell.questions.cell.temperature_rise import TemperatureRise, TemperatureRiseFigures
from percell.questions.loads import coil
from percell.questions.loads.pack_run import RunningTime
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.sharing import Feeds, counted_cells


def worst_cell_a(asked: RunningTime, pack_a: float) -> float:
    """Return what the worst-case cell carries of a current out of the pack. [A]"""
    feeds = Feeds.COIL if coil.is_direct(asked) else Feeds.CONVERTER
    return pack_a / float(counted_cells(asked.sharing, wiring(asked.layout).parallel, feeds))


def question_of(asked: RunningTime, worst_cell_a: float) -> TemperatureRise:
    """Return the question about the heat: all draws that the charge allows at the worst corner, or one without a pause.

    A time must not be too long, nor a heat too small: so the draws are not those of the running time, which ends early.
    """
    draws = asked.draw_length_s is not UNSET
    pause_s = fields.PAUSE_S if asked.pause_s is UNSET else asked.pause_s
    charge_ah = asked.cell_capacity_ah * asked.cell_health
    return TemperatureRise(
        cell_current_a=worst_cell_a,
        cell_capacity_ah=asked.cell_capacity_ah,
        cell_rating_a=asked.cell_rating_a,
        cell_health=asked.cell_health,
        cell_resistance_ohm=asked.cell_resistance_ohm,
        cell_resistance_after_s=asked.cell_resistance_after_s,
        cell_size=asked.cell_size,
        chemistry=asked.chemistry,
        ambient_temperature_c=asked.cell_temperature_c,
        surroundings=asked.surroundings,
        stop_temperature_c=asked.stop_temperature_c,
        draw_length_s=asked.draw_length_s if draws else ceil(3600.0 * charge_ah / worst_cell_a),  # type: ignore[arg-type] # UNSET only without draws
        pause_s=pause_s if draws else 0.0,
    )


def warmth_of(question: TemperatureRise) -> Explained[TemperatureRiseFigures]:
    """Answer for the worst-case cell, with the assumed properties of the cell as its assumptions."""
    got = temperature_rise.explain(question)
    return structs.replace(got, assumptions=temperature_rise.stand_ins(question))
