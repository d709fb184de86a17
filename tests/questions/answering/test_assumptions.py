"""Every default in use is listed, and no given value."""

import pytest
from msgspec import UNSET, structs

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry

every_question = pytest.mark.parametrize("question_id", QUESTIONS)


CELL = {"layout": "2S1P", "cell_rating_a": 20}


def named(answer):
    return {assumption.name: assumption for assumption in answer.assumptions}


# every default of these is in use, whatever is asked; others use some by kind of load
WHOLE = [
    "pack",
    "direct-load",
    "lowest-resistance",
    "needed-rating-for-coil",
]


CONVERTER = ["converter-load", "highest-power", "needed-rating"]


COILS = ["direct-load", "needed-rating-for-coil"]
METER = {"meter_accuracy", "meter_counts", "meter_resolution_ohm", "lead_resistance_ohm"}


@every_question
def test_no_given_value_is_called_a_default(ask, question_id):
    """Each listed default was left out, has a unit or is a word, and has an origin."""
    question = QUESTIONS[question_id]
    for assumption in ask(question_id, **question.example).assumptions:
        assert assumption.name not in question.example
        assert assumption.name.split(".")[0] in question.asked.__struct_fields__
        assert isinstance(assumption.value, str) is (assumption.unit == "")
        assert assumption.origin


@pytest.mark.parametrize(
    ("question_id", "basis"),
    [
        *((question_id, {}) for question_id in (*WHOLE, *CONVERTER)),
        *((question_id, {"cutoff_basis": "at_rest"}) for question_id in CONVERTER),
    ],
)
def test_defaults_are_listed(ask, question_id, basis):
    """Each field left out is listed, and no given one; the power of a full pack counts on its sag."""
    question = QUESTIONS[question_id]
    body = question.example | basis
    if basis and "output_power_w" in body:
        body["output_power_w"] = 10  # sagging cells cannot give the power of the example
    got = named(ask(question_id, **body))
    fields = structs.fields(question.asked)
    optional = {
        field.name
        for field in fields
        if not field.required and (field.default is not UNSET or field.name.endswith("_voltage_v"))
    }
    # the default resistance of a pack is not that of its short circuit
    also = {"cell_resistance_ohm.short_circuit"} if question_id == "pack" else set()
    if "cell_resistance_ohm" not in body:
        optional = optional - {"cell_resistance_after_s"} | {"cell_resistance_ohm"}
    if basis:
        optional |= {"cell_capacity_ah"}  # what a minute takes out of an emptying cell
    # without a reading no meter counts
    unused = set() if "coil_reading_ohm" in body or question_id not in COILS else METER
    assert got.keys() == (optional - body.keys() - unused) | also


def test_defaults_of_a_direct_load(ask):
    """The defaults of a coil are these values, in these units."""
    got = named(ask("direct-load", **CELL, coil_resistance_ohm=0.5))
    assert {name: (it.value, it.unit) for name, it in got.items()} == {
        "chemistry": ("nmc", ""),
        "cell_charged_voltage_v": (4.2, "V"),
        "cell_charged_voltage_tolerance_v": (0, "V"),
        "coil_resistance_tolerance_ohm": (0, "Ω"),
        "sharing": ("careful", ""),
        "cell_resistance_ohm": (0.04, "Ω"),
        "cell_temperature_c": (25, "°C"),
        "contact_resistance_ohm": (0.005, "Ω"),
        "device_resistance_ohm": (0, "Ω"),
    }


@pytest.mark.parametrize(
    ("load", "expected"),
    [
        ({"coil_resistance_ohm": 0.5}, "careful"),
        ({"output_power_w": 50}, "careful"),
        ({"output_power_w": 50, "sharing": "allowance"}, None),
    ],
)
def test_assessment_says_how_cells_were_counted(ask, load, expected):
    """Left out, the sharing is careful and listed; given another way, it is not."""
    got = named(ask("assessment", **CELL, **load))
    assert (got["sharing"].value if "sharing" in got else None) == expected


@pytest.mark.parametrize(
    ("load", "parts"),
    [
        ({"coil_resistance_ohm": 0.5}, ["direct-load"]),
        ({"output_power_w": 50}, ["converter-load"]),
        (
            {"coil_resistance_ohm": 0.5, "cell_capacity_ah": 3},
            ["direct-load", "pack", "running-time"],
        ),
        (
            {"output_power_w": 50, "cell_capacity_ah": 3},
            ["converter-load", "pack", "running-time"],
        ),
    ],
    ids=lambda value: "+".join(value) if isinstance(value, list) else "",
)
def test_assessment_lists_what_its_parts_list(ask, load, parts):
    """A full assessment lists the defaults of its parts, no more and no fewer."""
    body = CELL | load
    of_parts = set()
    for part in parts:
        fields = QUESTIONS[part].asked.__struct_fields__
        of_parts |= named(ask(part, **{n: v for n, v in body.items() if n in fields})).keys()
    # an assessment is of a full pack, as warm as the air
    of_parts -= {"state_of_charge", "cell_temperature_c"}
    of_parts.add("ambient_temperature_c")
    if "running-time" in parts:
        of_parts.add("cell_resistance_tolerance_ohm")  # it runs with the resistance at its worst
        # its own cut-off is that of the currents, and the one of the time is the further one
        of_parts -= {"cell_cutoff_voltage_v.current"}
        of_parts |= {"cell_cutoff_voltage_v.time"}
    assert named(ask("assessment", **body)).keys() == of_parts


@pytest.mark.parametrize("chemistry", Chemistry)
@pytest.mark.parametrize("quantity", ["charged", "nominal", "cutoff"])
def test_voltages_by_chemistry(ask, chemistry, quantity):
    """A voltage left out is the chemistry's, listed with that chemistry's origin, until it is given."""
    name, voltages = f"cell_{quantity}_voltage_v", VOLTAGES[chemistry]
    body = CELL | {"cell_capacity_ah": 3, "chemistry": chemistry.value}
    left_out = ask("pack", **body)
    assert named(left_out)[name].value == getattr(voltages, f"{quantity}_v")
    assert named(left_out)[name].origin == getattr(voltages, f"{quantity}_from")
    given = ask("pack", **body | {name: getattr(voltages, f"{quantity}_v")})
    assert name not in named(given)
    # the headline names a voltage as given or as assumed
    other = {"asked": {}, "assumptions": 0, "headline": ""}
    assert structs.asdict(given) | other == structs.asdict(left_out) | other
