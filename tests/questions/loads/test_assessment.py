"""The full assessment combines its parts."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec import UNSET, structs

from percell.physics.errors import NoSolution
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused

LOADS = {
    "coil_resistance_ohm": ("direct-load", "lowest-resistance"),
    "output_power_w": ("converter-load", "highest-power"),
}


def part(ask, question_id, body):
    """Ask a part with the fields that it shares with the assessment."""
    fields = QUESTIONS[question_id].asked.__struct_fields__
    return ask(question_id, **{name: value for name, value in body.items() if name in fields})


@pytest.mark.parametrize("load", LOADS)
@given(data=st.data())
def test_parts_are_the_questions_own_answers(ask, drawn, load, data):
    """Verdict, current, headroom and every figure equal those of the single questions."""
    other = next(name for name in LOADS if name != load)
    body = data.draw(drawn("assessment"))
    low_high = {"coil_resistance_ohm": st.floats(0.01, 100), "output_power_w": st.floats(0.1, 500)}
    body = {n: v for n, v in body.items() if n != other} | {load: data.draw(low_high[load])}
    try:
        got = ask("assessment", **body)
    except (NoSolution, Refused):
        assume(False)
    loaded, limit = (part(ask, question_id, body) for question_id in LOADS[load])
    assert (got.verdict, got.worst_cell_current_a, got.headroom, got.layout) == (
        loaded.verdict,
        loaded.worst_cell_current_a,
        loaded.headroom,
        loaded.layout,
    )
    parts = [(LOADS[load][0], loaded), (LOADS[load][1], limit)]
    if "cell_capacity_ah" in body:
        parts.append(("pack", part(ask, "pack", body)))
    shown = {"direct_load", "lowest_resistance", "converter_load", "highest_power", "pack"}
    for question_id, alone in parts:
        name = question_id.replace("-", "_")
        figures = structs.asdict(getattr(got, name))
        assert figures == {field: getattr(alone, field) for field in figures}
        shown -= {name}
        for step in alone.working:
            assert step in got.working
        assert {f.rule for f in alone.findings} <= {f.rule for f in got.findings}
    assert all(getattr(got, name) is UNSET for name in shown)
    rules = [finding.rule for finding in got.findings]
    assert len(rules) == len(set(rules))


@pytest.mark.parametrize(
    ("load", "harder"),
    [
        ({"output_power_w": 40}, {}),
        (
            {"output_power_w": 40, "output_power_tolerance_w": 5, "efficiency_tolerance": 0.05},
            {"output_power_w": 45, "efficiency": 0.8},
        ),
        ({"output_power_w": 40, "cutoff_basis": "at_rest"}, {}),
        ({"coil_resistance_ohm": 0.5, "device_resistance_ohm": 0.02}, {}),
        (
            {"coil_resistance_ohm": 0.5, "coil_resistance_tolerance_ohm": 0.1},
            {"coil_resistance_ohm": 0.4},
        ),
        (
            {"coil_resistance_ohm": 0.5, "cell_resistance_tolerance_ohm": 0.01},
            {"cell_resistance_ohm": 0.03},
        ),
    ],
)
@pytest.mark.parametrize("chemistry", ["nmc", "nca", "lfp"])
def test_running_time_is_assessed(ask, load, harder, chemistry):
    """With a capacity, the running time is that of its question with each tolerance at its worst."""
    cells = {"layout": "2S2P", "cell_capacity_ah": 3, "cell_health": 0.8, "chemistry": chemistry}
    got = ask("assessment", **cells, **load, cell_rating_a=20)
    alone = part(ask, "running-time", cells | load | harder)
    assert structs.asdict(got.running_time) == {
        name: pytest.approx(getattr(alone, name)) for name in got.running_time.__struct_fields__
    }
    assert {f.rule for f in alone.findings} - {"resistance-assumed"} <= {
        f.rule for f in got.findings
    }


def test_running_time_needs_capacity_and_curve(ask):
    """Without the capacity there is no running time, and without a curve the answer says so."""
    body = {"layout": "2S1P", "cell_rating_a": 20, "output_power_w": 20}
    assert ask("assessment", **body).running_time is UNSET
    got = ask("assessment", **body, cell_capacity_ah=3, chemistry="lmo")
    assert got.running_time is UNSET
    assert "no-curve" in {finding.rule for finding in got.findings}


@pytest.mark.parametrize("load", [{}, {"coil_resistance_ohm": 1, "output_power_w": 20}])
def test_one_load_is_needed(ask, load):
    """Neither load, or both, is refused, and the answer names the field."""
    with pytest.raises(Refused) as refused:
        ask("assessment", layout="1S1P", cell_rating_a=20, **load)
    assert refused.value.pointer == "/coil_resistance_ohm"


def test_transport_is_assessed(ask):
    """With a capacity, a pack of more than 100 Wh gets a finding, and one of 100 Wh does not."""
    body = {
        "layout": "2S2P",
        "cell_rating_a": 20,
        "output_power_w": 20,
        "cell_nominal_voltage_v": 4,
    }
    for capacity_ah, expected in [(6.25, False), (6.26, True)]:
        got = ask("assessment", **body, cell_capacity_ah=capacity_ah)
        assert ("transport-limit" in {f.rule for f in got.findings}) is expected


def test_a_warning_about_the_limit_alone_is_found(ask):
    """A light load on cells at their cut-off: a finding says that the highest power would sag them."""
    body = {"layout": "1S1P", "cell_rating_a": 30, "cutoff_basis": "at_rest"}
    light = ask("assessment", **body, output_power_w=2)
    alone = ask("converter-load", **body, output_power_w=2)
    assert "cutoff-below-end" not in {f.rule for f in alone.findings}
    (said,) = (f.sentence for f in light.findings if f.rule == "cutoff-below-end")
    assert said.startswith("At the highest power within the rating, ")
    heavy = ask("assessment", **body, output_power_w=40)
    (said,) = (f.sentence for f in heavy.findings if f.rule == "cutoff-below-end")
    assert said.startswith("A cell may sag")


@pytest.mark.parametrize(
    ("load", "usual"),
    [({"coil_resistance_ohm": 0.5}, "allowance"), ({"output_power_w": 20}, "even")],
)
@pytest.mark.parametrize("sharing", [{}, {"sharing": "even"}, {"sharing": "allowance"}])
def test_a_way_of_sharing_is_assumed_unless_given(ask, load, usual, sharing):
    """What was taken by the kind of load is listed as taken; what was given is not."""
    got = ask("assessment", layout="1S2P", cell_rating_a=20, **load, **sharing)
    listed = [one.value for one in got.assumptions if one.name == "sharing"]
    assert listed == ([] if sharing else [usual])


@pytest.mark.parametrize("basis", ["under_load", "at_rest"])
def test_a_resistance_is_assumed_for_a_converter_that_sags(ask, basis):
    """Only a pack that sags from its cut-off rests on the resistance of its cells."""
    asked = {"layout": "1S2P", "cell_rating_a": 20, "output_power_w": 20}
    got = ask("assessment", **asked, cutoff_basis=basis)
    listed = {one.name for one in got.assumptions}
    assert ("cell_resistance_ohm" in listed) is (basis == "at_rest")
