"""A table of one's own may vary any number of its question, to its bounds: it never fails."""

import pytest
from msgspec import UNSET, convert, inspect

from percell.questions.answering.tables import OwnTableAsked
from percell.questions.own_tables import InvalidTable, own_table
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused

ABLE = {name: one for name, one in QUESTIONS.items() if one.table and not one.heavy}
# a second load beside the example's, with which a coil or a power can be varied
LOADS = ("coil_reading_ohm", "coil_resistance_ohm", "output_power_w")


def bare(kind):
    return bare(kind.type) if isinstance(kind, inspect.Metadata) else kind


def number(kind):
    """Return the number among the types of a field, or None."""
    kind = bare(kind)
    if isinstance(kind, inspect.UnionType):
        return next((one for part in kind.types if (one := number(part))), None)
    return kind if isinstance(kind, inspect.FloatType) else None


def axes():
    for name, question in ABLE.items():
        for field in inspect.type_info(question.asked).fields:
            if kind := number(field.type):
                yield pytest.param(name, field.encode_name, kind, id=f"{name} {field.encode_name}")


@pytest.mark.parametrize(("name", "field", "kind"), list(axes()))
def test_any_number_can_be_varied(name, field, kind):
    """Between its bounds, its usual value among them, each entry is a number or nothing."""
    question = ABLE[name]
    fixed = {k: v for k, v in question.example.items() if k != field}
    if field in LOADS:
        fixed = {k: v for k, v in fixed.items() if k not in LOADS}
    example = convert(question.example, question.asked)
    usual = getattr(example, field)
    values = sorted({kind.ge, kind.le, *([] if usual is UNSET else [usual])})
    other, second = next(
        (one, float(value))
        for one in numbers(question)
        if one not in {field, *LOADS} and (value := getattr(example, one)) is not UNSET
    )
    asked = {
        "question": name,
        "fixed": {k: v for k, v in fixed.items() if k != other},
        "rows_by": {"field": field, "heading": "x", "values": values},
        "columns_by": [{"field": other, "heading": "y", "values": [second]}],
        "prints": [{"field": figure_of(question), "heading": "z", "round": "nearest"}],
    }
    try:
        table = own_table(convert(asked, OwnTableAsked))
    except (Refused, InvalidTable):
        return
    assert all(
        value is None or isinstance(value, float | int)
        for row in table.rows
        for cell in row.cells
        for value in cell.values
    )


def numbers(question):
    return [f.encode_name for f in inspect.type_info(question.asked).fields if number(f.type)]


def figure_of(question):
    return next(
        field.encode_name
        for field in inspect.type_info(question.shows).fields
        if isinstance(bare(field.type), inspect.FloatType)
    )
