"""Every question there is, in the order in which the document lists them."""

from percell.questions.answering.question import Question
from percell.questions.bench import (
    coil,
    discharge_test,
    health,
    internal_resistance,
    meter_reading,
)
from percell.questions.cell import charging, claim, sag, temperature_rise
from percell.questions.loads import (
    assessment,
    comparison,
    converter_load,
    direct_load,
    highest_power,
    lowest_resistance,
    needed_rating,
    options,
    pack,
    running_time,
)
from percell.questions.unequal import (
    current_sharing,
    joining,
    joining_pair,
    matched_sets,
    series_drift,
    sharing_mismatch,
    sharing_spread,
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
    current_sharing,
    joining,
    joining_pair,
    sharing_spread,
    sharing_mismatch,
    running_time,
    comparison,
    options,
    sag,
    series_drift,
    weak_cell_drift,
    charging,
    temperature_rise,
    coil,
    meter_reading,
    internal_resistance,
    health,
    discharge_test,
    matched_sets,
    claim,
)
QUESTIONS: dict[str, Question] = {module.QUESTION.id: module.QUESTION for module in _MODULES}
