"""Every question there is. Routes, document, batch and tables all come from this list."""

from collections.abc import Callable
from typing import Any

from msgspec import Struct

from percell.questions import (
    assessment,
    converter_load,
    direct_load,
    highest_power,
    lowest_resistance,
    needed_rating,
    pack,
)


class Question(Struct, frozen=True, kw_only=True):
    """A question, and how it is asked and answered."""

    id: str
    title: str
    description: str
    asked: type[Struct]
    answered: type[Struct]
    answer: Callable[[Any], Struct]
    example: dict[str, Any]
    # the numbers alone, also over arrays; None where a question is no grid of independent cells
    figures: Callable[..., Any] | None = None
    # a question with lists has no form as a query
    has_query: bool = True


_LIST = [
    Question(
        id="assessment",
        title="Full assessment of a pack and its load",
        description="One verdict for a pack with a coil or behind a converter, with everything that the "
        "other questions say about it.",
        asked=assessment.Assessment,
        answered=assessment.AssessmentAnswer,
        answer=assessment.answer,
        example={
            "layout": "2S1P",
            "cell_rating_a": 25,
            "output_power_w": 80,
            "cell_capacity_ah": 2.5,
        },
    ),
    Question(
        id="pack",
        title="Figures of a pack",
        description="Voltages, capacity, energy, resistance and current within rating of equal cells by layout.",
        asked=pack.Pack,
        answered=pack.PackAnswer,
        answer=pack.answer,
        figures=pack.figures,
        example={"layout": "2S2P", "cell_rating_a": 20, "cell_capacity_ah": 3.0},
    ),
    Question(
        id="direct-load",
        title="Current of each cell with a coil straight on the pack",
        description="A coil wired straight to a full pack: currents, power and headroom at the corner that is "
        "hardest on the cells, and the current to expect with sag.",
        asked=direct_load.DirectLoad,
        answered=direct_load.DirectLoadAnswer,
        answer=direct_load.answer,
        figures=direct_load.figures,
        example={"layout": "1S2P", "cell_rating_a": 20, "coil_resistance_ohm": 0.15},
    ),
    Question(
        id="converter-load",
        title="Current of each cell behind a converter",
        description="A converter that holds its output power constant: currents and headroom at the lowest "
        "voltage and efficiency, where it draws most.",
        asked=converter_load.ConverterLoad,
        answered=converter_load.ConverterLoadAnswer,
        answer=converter_load.answer,
        figures=converter_load.figures,
        example={"layout": "2S1P", "cell_rating_a": 25, "output_power_w": 80},
    ),
    Question(
        id="lowest-resistance",
        title="Lowest coil resistance within rating",
        description="The lowest coil resistance that keeps each cell of a full pack within its rating, and the "
        "reading of the meter that is sure to stand for it.",
        asked=lowest_resistance.LowestResistance,
        answered=lowest_resistance.LowestResistanceAnswer,
        answer=lowest_resistance.answer,
        figures=lowest_resistance.figures,
        example={
            "layout": "1S2P",
            "cell_rating_a": 20,
            "meter_accuracy": 0.005,
            "meter_counts": 2,
        },
    ),
    Question(
        id="highest-power",
        title="Highest power within rating",
        description="The highest output power of a converter that keeps each cell within its rating down to the "
        "cut-off voltage.",
        asked=highest_power.HighestPower,
        answered=highest_power.HighestPowerAnswer,
        answer=highest_power.answer,
        figures=highest_power.figures,
        example={"layout": "2S1P", "cell_rating_a": 20, "cell_cutoff_voltage_v": 3.2},
    ),
    Question(
        id="needed-rating",
        title="Rating needed for a power",
        description="The continuous discharge rating that each cell needs for a given output power.",
        asked=needed_rating.NeededRating,
        answered=needed_rating.NeededRatingAnswer,
        answer=needed_rating.answer,
        figures=needed_rating.figures,
        example={"layout": "1S2P", "output_power_w": 100, "cell_cutoff_voltage_v": 3.2},
    ),
]
QUESTIONS: dict[str, Question] = {question.id: question for question in _LIST}
