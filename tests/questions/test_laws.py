"""Laws that hold for the loads of a pack, anywhere in their bounds."""

from copy import deepcopy

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec import inspect

from percell.physics.errors import NoSolution
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.verdict import Verdict

GRAVITY = list(Verdict)
CLOSE = 1e-9
layouts = st.fixed_dictionaries({"series": st.integers(1, 20), "parallel": st.integers(1, 20)})


def or_none(ask, question_id, body):
    """Answer, or None where there is no physical answer."""
    try:
        return ask(question_id, **body)
    except (NoSolution, Refused):
        return None


# what rises (+1), falls (−1) or stays (0) when a field rises: one output a field, by question
# what the default resistance follows from, and what it changes where nobody measured one
WARM = {"cell_resistance_after_s": 0, "cell_temperature_c": 0, "cell_capacity_ah": 0}
LOAD_OF_CONVERTER = {
    "cell_resistance_after_s": -1,
    "cell_temperature_c": -1,
    "cell_capacity_ah": -1,
    "layout.series": -1,
    "layout.parallel": -1,
    "cell_cutoff_voltage_v": -1,
    "cell_cutoff_voltage_tolerance_v": +1,
    "cell_resistance_ohm": +1,
    "cell_resistance_tolerance_ohm": +1,
    "contact_resistance_ohm": +1,
    "efficiency": -1,
    "efficiency_tolerance": +1,
    "idle_power_w": +1,
}
DIRECTIONS = {
    ("direct-load", "worst_cell_current_a"): {
        **WARM,
        "layout.series": +1,
        "layout.parallel": -1,
        "cell_rating_a": 0,
        "cell_charged_voltage_v": +1,
        "cell_charged_voltage_tolerance_v": +1,
        "coil_reading_ohm": -1,
        "coil_resistance_tolerance_ohm": +1,
        "meter_accuracy": +1,
        "meter_counts": +1,
        "meter_resolution_ohm": +1,
        "lead_resistance_ohm": +1,
        "cell_resistance_ohm": 0,
        "contact_resistance_ohm": 0,
        "device_resistance_ohm": 0,
    },
    ("direct-load", "sagging_pack_current_a"): {
        "cell_resistance_after_s": +1,
        "cell_temperature_c": +1,
        "cell_capacity_ah": +1,
        "layout.series": +1,
        "layout.parallel": +1,
        "cell_rating_a": +1,
        "cell_charged_voltage_v": +1,
        "cell_charged_voltage_tolerance_v": +1,
        "coil_reading_ohm": -1,
        "coil_resistance_tolerance_ohm": 0,
        "meter_accuracy": 0,
        "meter_counts": 0,
        "meter_resolution_ohm": 0,
        "lead_resistance_ohm": +1,
        "cell_resistance_ohm": -1,
        "contact_resistance_ohm": -1,
        "device_resistance_ohm": -1,
    },
    ("lowest-resistance", "lowest_resistance_ohm"): {
        **WARM,
        "layout.series": +1,
        "layout.parallel": -1,
        "cell_rating_a": -1,
        "cell_charged_voltage_v": +1,
        "cell_charged_voltage_tolerance_v": +1,
        "coil_resistance_tolerance_ohm": 0,
        "meter_accuracy": 0,
        "meter_counts": 0,
        "meter_resolution_ohm": 0,
        "lead_resistance_ohm": 0,
        "cell_resistance_ohm": 0,
        "contact_resistance_ohm": 0,
    },
    ("lowest-resistance", "lowest_reading_ohm"): {
        **WARM,
        "layout.series": +1,
        "layout.parallel": -1,
        "cell_rating_a": -1,
        "cell_charged_voltage_v": +1,
        "cell_charged_voltage_tolerance_v": +1,
        "coil_resistance_tolerance_ohm": +1,
        "meter_accuracy": +1,
        "meter_counts": +1,
        "meter_resolution_ohm": None,  # no direction: the reading is a multiple of it
        "lead_resistance_ohm": +1,
        "cell_resistance_ohm": 0,
        "contact_resistance_ohm": 0,
    },
    ("needed-rating-for-coil", "needed_rating_a"): {
        **WARM,
        "layout.series": +1,
        "layout.parallel": -1,
        "cell_charged_voltage_v": +1,
        "cell_charged_voltage_tolerance_v": +1,
        "coil_reading_ohm": -1,
        "coil_resistance_tolerance_ohm": +1,
        "meter_accuracy": +1,
        "meter_counts": +1,
        "meter_resolution_ohm": +1,
        "lead_resistance_ohm": +1,
        "cell_resistance_ohm": 0,
        "contact_resistance_ohm": 0,
    },
    ("converter-load", "worst_cell_current_a"): LOAD_OF_CONVERTER
    | {"cell_rating_a": -1, "output_power_w": +1, "output_power_tolerance_w": +1},
    ("converter-load", "headroom"): {name: -sign for name, sign in LOAD_OF_CONVERTER.items()}
    | {"cell_rating_a": +1, "output_power_w": -1, "output_power_tolerance_w": -1},
    ("needed-rating", "needed_rating_a"): LOAD_OF_CONVERTER
    | {"output_power_w": +1, "output_power_tolerance_w": +1},
    ("highest-power", "highest_power_w"): {name: -sign for name, sign in LOAD_OF_CONVERTER.items()}
    | {"cell_rating_a": +1},
    ("pack", "pack_energy_wh"): {
        "layout.series": +1,
        "layout.parallel": +1,
        "cell_rating_a": 0,
        "cell_capacity_ah": +1,
        "cell_charged_voltage_v": 0,
        "cell_nominal_voltage_v": +1,
        "cell_cutoff_voltage_v": 0,
        "cell_resistance_after_s": 0,
        "cell_resistance_ohm": 0,
        "contact_resistance_ohm": 0,
    },
    ("pack", "prospective_short_circuit_a"): {
        "layout.series": 0,
        "layout.parallel": +1,
        "cell_rating_a": +1,
        "cell_capacity_ah": +1,
        "cell_resistance_after_s": +1,
        "cell_charged_voltage_v": +1,
        "cell_nominal_voltage_v": 0,
        "cell_cutoff_voltage_v": 0,
        "cell_resistance_ohm": -1,
        "contact_resistance_ohm": 0,
    },
}
# they count only where nobody measured the resistance, which the middle has
UNMEASURED = {
    ("direct-load", "sagging_pack_current_a"): {"cell_rating_a", "cell_capacity_ah"},
    ("converter-load", "worst_cell_current_a"): {"cell_rating_a", "cell_capacity_ah"},
    ("converter-load", "headroom"): {"cell_capacity_ah"},
    ("needed-rating", "needed_rating_a"): {"cell_capacity_ah"},
    ("highest-power", "highest_power_w"): {"cell_capacity_ah"},
    ("pack", "prospective_short_circuit_a"): {"cell_rating_a", "cell_capacity_ah"},
}
# every field has an effect here: nothing is at a bound, and sag counts
MIDDLE = {
    "layout": {"series": 2, "parallel": 2},
    "cell_rating_a": 20,
    "cell_capacity_ah": 3,
    "cell_resistance_ohm": 0.02,
    "coil_reading_ohm": 0.9,
    "output_power_w": 12,
    "cell_charged_voltage_v": 4.2,
    "cell_nominal_voltage_v": 3.6,
    "cell_cutoff_voltage_v": 3.4,
    "meter_accuracy": 0.01,
    "meter_counts": 2,
    "meter_resolution_ohm": 0.001,
    "cutoff_basis": "at_rest",
}
ROWS = [
    (question_id, output, name, sign)
    for (question_id, output), directions in DIRECTIONS.items()
    for name, sign in directions.items()
    if sign is not None
]


def with_field(body, name, value):
    body = deepcopy(body)
    if name.startswith("layout."):
        body["layout"][name.removeprefix("layout.")] = value
    else:
        body[name] = value
    return body


def bounds(question_id, name):
    if name.startswith("layout."):
        return 1, 20, True
    fields = inspect.type_info(QUESTIONS[question_id].asked).fields
    kind = next(field.type for field in fields if field.name == name)
    while not isinstance(kind, inspect.FloatType):
        kind = kind.types[0] if isinstance(kind, inspect.UnionType) else kind.type
    return kind.ge, kind.le, kind.multiple_of is not None


@pytest.mark.parametrize(
    ("question_id", "output"), DIRECTIONS, ids=[" ".join(it) for it in DIRECTIONS]
)
def test_every_field_has_a_direction(question_id, output):
    """The directions below leave out no number that the question takes; a true resistance has no meter."""
    fields = inspect.type_info(QUESTIONS[question_id].asked).fields
    choices = {"layout", "chemistry", "cutoff_basis", "sharing", "coil_resistance_ohm"}
    assert DIRECTIONS[question_id, output].keys() == (
        {f.name for f in fields} - choices | {"layout.series", "layout.parallel"}
    )


@pytest.mark.parametrize(
    ("question_id", "output", "name", "sign"), ROWS, ids=[" ".join(row[:3]) for row in ROWS]
)
def test_direction_in_the_middle(ask, question_id, output, name, sign):
    """In the middle of its bounds each field moves the output as physics says."""
    fields = QUESTIONS[question_id].asked.__struct_fields__
    body = {field: value for field, value in MIDDLE.items() if field in fields}
    low = body["layout"].get(name.removeprefix("layout."), body.get(name, 0))
    low_end, high_end, whole = bounds(question_id, name)
    small = max(low, low_end)
    # far enough to change the output, within the next bound
    large = small + 1 if whole else min(small + 0.02 * (1 + small), high_end)
    before = getattr(ask(question_id, **with_field(body, name, small)), output)
    after = getattr(ask(question_id, **with_field(body, name, large)), output)
    if sign == 0 or name in UNMEASURED.get((question_id, output), ()):
        assert after == pytest.approx(before, rel=1e-12)
    else:
        assert sign * (after - before) > CLOSE * abs(before)


@pytest.mark.parametrize(
    ("question_id", "output", "name", "sign"), ROWS, ids=[" ".join(row[:3]) for row in ROWS]
)
@settings(max_examples=20)
@given(data=st.data())
def test_direction_anywhere(ask, drawn, question_id, output, name, sign, data):
    """Anywhere in its bounds no field moves the output the other way."""
    body = data.draw(
        drawn(question_id) if not name.startswith("layout.") else drawn(question_id, layout={})
    )
    if name.startswith("layout."):
        body["layout"] = data.draw(layouts)
    low, high, whole = bounds(question_id, name)
    values = st.integers(int(low), int(high)) if whole else st.floats(low, high)
    small, large = sorted([data.draw(values), data.draw(values)])
    if "coil_reading_ohm" in QUESTIONS[question_id].asked.__struct_fields__:
        body = readable(body, data)
    if question_id == "pack":
        body, (small, large) = in_order(body, name, (small, large), data)
    before = or_none(ask, question_id, with_field(body, name, small))
    after = or_none(ask, question_id, with_field(body, name, large))
    assume(before is not None and after is not None)
    was, became = getattr(before, output), getattr(after, output)
    slack = CLOSE * max(abs(was), abs(became))
    if sign == 0:
        assert became == pytest.approx(was, rel=1e-12)
    else:
        assert sign * (became - was) >= -slack


def readable(body, data):
    """Return a body with a reading, of a meter whose errors do not always swallow it."""
    body = {name: value for name, value in body.items() if name != "coil_resistance_ohm"}
    return body | {
        "coil_reading_ohm": data.draw(st.floats(1, 100)),
        "meter_resolution_ohm": data.draw(st.floats(1e-4, 0.1)),
        "coil_resistance_tolerance_ohm": data.draw(st.floats(0, 0.5)),
    }


def in_order(body, name, moved, data):
    """Return consistent voltages of a pack, with room for the one that moves."""
    order = ["cell_cutoff_voltage_v", "cell_nominal_voltage_v", "cell_charged_voltage_v"]
    rising = sorted(data.draw(st.lists(st.floats(1, 5), min_size=4, max_size=4)))
    if name in order:
        at = order.index(name)
        moved = rising[at], rising[at + 1]
        del rising[at]
        order.remove(name)
    return body | dict(zip(order, rising, strict=False)), moved


METER = ("meter_accuracy", "meter_counts", "meter_resolution_ohm", "lead_resistance_ohm")
PERFECT = {"meter_accuracy": 0, "meter_counts": 0}
LOADS = ("coil_reading_ohm", "coil_resistance_ohm", "output_power_w")
TOLERANCES = {
    "direct-load": {
        "cell_charged_voltage_tolerance_v",
        "coil_resistance_tolerance_ohm",
        "meter_accuracy",
        "meter_counts",
    },
    "converter-load": {
        "cell_cutoff_voltage_tolerance_v",
        "cell_resistance_tolerance_ohm",
        "efficiency_tolerance",
        "output_power_tolerance_w",
    },
}
TOLERANCES["assessment"] = TOLERANCES["direct-load"] | TOLERANCES["converter-load"]


@pytest.mark.parametrize("question_id", TOLERANCES)
@given(data=st.data())
def test_tolerances_are_taken_at_the_worst_corner(ask, drawn, question_id, data):
    """Tolerances never make a verdict milder, all together or any alone."""
    body = data.draw(drawn(question_id))
    if question_id == "assessment":
        load = data.draw(st.sampled_from(["coil_reading_ohm", "output_power_w"]))
        low, high, _ = bounds(question_id, load)
        body = {n: v for n, v in body.items() if n not in LOADS}
        body |= {load: data.draw(st.floats(low, high))}
    elif question_id == "direct-load":
        body = readable(body, data)
    # a meter that nobody described is no perfect one
    perfect = PERFECT if "coil_reading_ohm" in body else {}
    body = perfect | body
    without = {
        name: value for name, value in body.items() if name not in TOLERANCES[question_id]
    } | perfect
    exact = or_none(ask, question_id, without)
    for names in [set(), *({name} for name in TOLERANCES[question_id] & body.keys())]:
        some = {n: v for n, v in body.items() if n not in names} | {
            n: v for n, v in perfect.items() if n in names
        }
        worst = or_none(ask, question_id, some)
        if exact is None:
            assert worst is None
        elif worst is not None:  # no answer is no mild verdict
            assert GRAVITY.index(worst.verdict) >= GRAVITY.index(exact.verdict)
            assert worst.worst_cell_current_a >= exact.worst_cell_current_a * (1 - CLOSE)


@given(data=st.data())
def test_energy_of_the_sagging_point(ask, drawn, data):
    """Coil, device and the pack's own resistance take what the cells give."""
    body = readable(data.draw(drawn("direct-load")), data)
    got = or_none(ask, "direct-load", body)
    assume(got is not None)
    current_a = got.sagging_pack_current_a
    turned_out_w = got.pack_highest_voltage_v * current_a
    inside_w = current_a**2 * got.pack_resistance_ohm
    device_w = current_a**2 * body.get("device_resistance_ohm", 0)
    assert turned_out_w == pytest.approx(got.sagging_coil_power_w + inside_w + device_w)
    assert got.sagging_pack_voltage_v * current_a == pytest.approx(
        got.sagging_coil_power_w + device_w, abs=CLOSE * turned_out_w
    )
    assert current_a <= got.pack_current_a * (1 + CLOSE)


@given(data=st.data())
def test_energy_of_the_converter(ask, drawn, data):
    """Pack voltage times current is what the converter draws, on the side where it works."""
    got = or_none(ask, "converter-load", data.draw(drawn("converter-load")))
    assume(got is not None)
    assert got.pack_loaded_voltage_v * got.pack_current_a == pytest.approx(
        got.input_power_w, rel=1e-7
    )
    # never on the collapse side, where less than half of the voltage is left
    assert got.pack_loaded_voltage_v >= got.pack_lowest_voltage_v / 2 * (1 - 1e-7)


@pytest.mark.parametrize("basis", ["under_load", "at_rest"])
@given(data=st.data())
def test_wiring_makes_no_difference_to_a_converter(ask, drawn, basis, data):
    """The same cells at the same power carry the same each, in series, in parallel or mixed."""
    cells = data.draw(st.integers(1, 20))
    body = data.draw(
        drawn("converter-load", layout=f"{cells}S1P", sharing="even", cutoff_basis=basis)
    )
    series = data.draw(st.sampled_from([n for n in range(1, cells + 1) if cells % n == 0]))
    one = or_none(ask, "converter-load", body)
    other = or_none(ask, "converter-load", body | {"layout": f"{series}S{cells // series}P"})
    assume(one is not None and other is not None)
    assert other.even_cell_current_a == pytest.approx(one.even_cell_current_a, rel=1e-6)
    assert other.input_power_w == one.input_power_w


@given(data=st.data())
def test_a_string_carries_one_current(ask, drawn, data):
    """Cells in series all carry the pack's current, and n of them with n times the coil the same."""
    series = data.draw(st.integers(1, 20))
    body = data.draw(
        drawn(
            "direct-load",
            layout="1S1P",
            coil_resistance_tolerance_ohm=0,
            coil_resistance_ohm=data.draw(st.floats(0.001, 5)),
        )
    )
    body = {n: v for n, v in body.items() if n not in ("coil_reading_ohm", *METER)}
    one = ask("direct-load", **body)
    string = body | {
        "layout": f"{series}S1P",
        "coil_resistance_ohm": body["coil_resistance_ohm"] * series,
    }
    got = ask("direct-load", **string)
    assert got.worst_cell_current_a == got.even_cell_current_a == got.pack_current_a
    assert got.pack_current_a == pytest.approx(one.pack_current_a)
    assert got.verdict == one.verdict


@given(data=st.data())
def test_without_resistance_the_cutoff_holds_either_way(ask, drawn, data):
    """Cells without resistance do not sag: a cut-off at rest is then one under load."""
    body = data.draw(
        drawn(
            "converter-load",
            cell_resistance_ohm=0,
            cell_resistance_tolerance_ohm=0,
            contact_resistance_ohm=0,
            # a cut-off above the charged voltage is refused either way
            cell_cutoff_voltage_v=data.draw(st.floats(0.5, 3.65)),
        )
    )
    rest, load = (
        ask("converter-load", **body | {"cutoff_basis": basis})
        for basis in ("at_rest", "under_load")
    )
    assert rest.pack_current_a == pytest.approx(load.pack_current_a)
    assert rest.pack_loaded_voltage_v == load.pack_loaded_voltage_v
