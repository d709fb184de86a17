"""A NumPy number is a single number: it gets an answer or an error, never silence."""

from typing import Any, NamedTuple

import msgspec
import numpy as np
import pytest
from msgspec import structs

from percell.physics.errors import NoSolution
from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused

CELL = {"layout": "1S1P", "cell_rating_a": 20}
# at rest at 4 V behind 0.1 ohm: 40 W at the most, U²/4R
WEAK = {
    "layout": "1S1P",
    "cell_cutoff_voltage_v": 4.0,
    "cutoff_basis": "at_rest",
    "efficiency": 1,
    "cell_resistance_ohm": 0.08,
    "contact_resistance_ohm": 0.02,
}


class TableRow(NamedTuple):
    """A question, a field, a value with an answer and one without."""

    question: str
    asked: dict[str, Any]
    field: str
    answered: float
    none: float
    figure: str  # a table leaves this empty there
    by: str

    def __str__(self) -> str:
        return f"{self.question}, {self.field}: {self.by}"


ROWS = [
    TableRow(
        "direct-load",
        CELL | {"coil_resistance_tolerance_ohm": 0.1},
        "coil_resistance_ohm",
        0.2,
        0.1,
        "pack_current_a",
        "a reading of 0.1 Ω ± 0.1 Ω may be a short circuit",
    ),
    TableRow(
        "cell-sag",
        {"open_circuit_voltage_v": 4, "cell_resistance_ohm": 0.095},
        "cell_current_a",
        38,
        39,
        "loaded_voltage_v",
        "4 V, less 0.15 V, drive at the most 38.5 A through 0.1 Ω for minutes",
    ),
    TableRow(
        "converter-load",
        WEAK | {"cell_rating_a": 20},
        "output_power_w",
        39,
        41,
        "pack_current_a",
        "4 V behind 0.1 Ω give at the most 40 W",
    ),
    TableRow(
        "needed-rating",
        WEAK,
        "output_power_w",
        39,
        41,
        "needed_rating_a",
        "4 V behind 0.1 Ω give at the most 40 W",
    ),
]
rows = pytest.mark.parametrize("row", ROWS, ids=str)


def asked(row, value):
    """Return the question with the value unchanged; the decoder would convert it."""
    question = QUESTIONS[row.question]
    body = row.asked | {row.field: row.answered}
    return structs.replace(msgspec.convert(body, question.asked), **{row.field: value})


@rows
@pytest.mark.parametrize("kind", [float, np.float64])
def test_a_number_without_an_answer_is_an_error(row, kind):
    """A single question without an answer is an error, for Python's numbers and NumPy's."""
    answer = QUESTIONS[row.question].answer
    assert np.isfinite(getattr(answer(asked(row, kind(row.answered))), row.figure))
    with pytest.raises(NoSolution):
        answer(asked(row, kind(row.none)))


@rows
@pytest.mark.parametrize("shape", [(2,), (2, 1), (1, 2)])
def test_an_array_without_an_answer_is_empty_there(row, shape):
    """Over an array an entry without an answer is NaN, and the others stay."""
    values = np.array([row.answered, row.none]).reshape(shape)
    got = figures_over(QUESTIONS[row.question], row.asked, {row.field: values})
    assert np.isnan(getattr(got, row.figure)).ravel().tolist() == [False, True]


@rows
def test_an_array_of_one_is_an_array(row):
    """A table of one cell without an answer is an empty table, and no error."""
    got = figures_over(QUESTIONS[row.question], row.asked, {row.field: np.array([row.none])})
    assert np.isnan(getattr(got, row.figure)).tolist() == [True]


@pytest.mark.parametrize("kind", [float, np.float64])
@pytest.mark.parametrize(
    ("question_id", "body"),
    [
        ("converter-load", CELL | {"output_power_w": 20}),
        ("highest-power", CELL),
        ("running-time", {"layout": "1S1P", "cell_capacity_ah": 3, "output_power_w": 20}),
    ],
)
def test_a_cutoff_that_is_never_reached_is_refused(question_id, body, kind):
    """A cut-off above the 4.2 V of a charged cell is refused as either kind of number; 4.2 V is not."""
    question = QUESTIONS[question_id]
    one = msgspec.convert(body, question.asked)
    assert question.answer(structs.replace(one, cell_cutoff_voltage_v=kind(4.2)))
    with pytest.raises(Refused) as refused:
        question.answer(structs.replace(one, cell_cutoff_voltage_v=kind(4.21)))
    assert refused.value.pointer == "/cell_cutoff_voltage_v"
