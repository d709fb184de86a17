"""All questions, in the order of the document."""

from importlib import import_module

from percell.questions.answering.question import Question

_MODULES = (
    "loads.assessment",
    "loads.pack",
    "loads.direct_load",
    "loads.converter_load",
    "loads.lowest_resistance",
    "loads.highest_power",
    "loads.needed_rating",
    "loads.needed_rating_for_coil",
    "unequal.unequal_cells",
    "unequal.joining",
    "unequal.joining_pair",
    "unequal.sharing_by_spread",
    "unequal.sharing_by_mismatch",
    "loads.running_time",
    "loads.running_time_comparison",
    "loads.layouts",
    "cell.cell_sag",
    "unequal.series_drift",
    "unequal.weak_cell_drift",
    "cell.charging",
    "cell.temperature_rise",
    "bench.coil_from_wire",
    "bench.meter_reading",
    "bench.internal_resistance",
    "bench.cell_health",
    "bench.discharge_test",
    "unequal.matched_sets",
    "cell.label_check",
)


def _question(module: str) -> Question:
    question: Question = import_module(f"percell.questions.{module}").QUESTION
    return question


QUESTIONS: dict[str, Question] = {
    question.id: question for question in (_question(module) for module in _MODULES)
}
