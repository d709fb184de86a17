"""Every question there is, in the order in which the document lists them."""

from percell.questions.answering.question import Question
from percell.questions.bench import (
    cell_health,
    coil_from_wire,
    discharge_test,
    internal_resistance,
    meter_reading,
)
from percell.questions.cell import cell_sag, charging, label_check, temperature_rise
from percell.questions.loads import (
    assessment,
    converter_load,
    direct_load,
    highest_power,
    layouts,
    lowest_resistance,
    needed_rating,
    pack,
    running_time,
    running_time_comparison,
)
from percell.questions.unequal import (
    joining,
    joining_pair,
    matched_sets,
    series_drift,
    sharing_by_mismatch,
    sharing_by_spread,
    unequal_cells,
    weak_cell_drift,
)

_MODULES = (
    assessment,
    pack,
    direct_load,
    converter_load,
    lowest_resistance,
    highest_power,
    needed_rating,
    unequal_cells,
    joining,
    joining_pair,
    sharing_by_spread,
    sharing_by_mismatch,
    running_time,
    running_time_comparison,
    layouts,
    cell_sag,
    series_drift,
    weak_cell_drift,
    charging,
    temperature_rise,
    coil_from_wire,
    meter_reading,
    internal_resistance,
    cell_health,
    discharge_test,
    matched_sets,
    label_check,
)
QUESTIONS: dict[str, Question] = {module.QUESTION.id: module.QUESTION for module in _MODULES}
