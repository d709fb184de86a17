"""The full assessment combines its parts."""

from math import floor

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec import UNSET, convert, structs

from percell.physics.errors import NoSolution
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.cell_resistance import at_usual_temperature
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.verdict import Verdict

GRAVITY = list(Verdict)
ALL_LOADS = ("coil_reading_ohm", "coil_resistance_ohm", "output_power_w")
LOADS = {
    "coil_reading_ohm": ("direct-load", "lowest-resistance"),
    "coil_resistance_ohm": ("direct-load", "lowest-resistance"),
    "output_power_w": ("converter-load", "highest-power"),
}


def rules(got):
    return {finding.rule for finding in got.findings}


def part(ask, question_id, body):
    """Ask a part with the fields that it shares with the assessment."""
    fields = QUESTIONS[question_id].asked.__struct_fields__
    shared = {name: value for name, value in body.items() if name in fields}
    if "cell_temperature_c" in fields and "ambient_temperature_c" in body:
        shared["cell_temperature_c"] = body["ambient_temperature_c"]
    # a question that is not told capacity and age cannot work out the resistance from them
    knows = {"cell_capacity_ah", "cell_health"} & body.keys() <= set(fields)
    if question_id != "pack" and not knows and "cell_resistance_ohm" not in body:
        whole = convert(body, QUESTIONS["assessment"].asked)
        assume(at_usual_temperature(whole) <= 1)
        shared["cell_resistance_ohm"] = at_usual_temperature(whole)
        shared["cell_resistance_after_s"] = 10
    return ask(question_id, **shared)


@pytest.mark.parametrize("load", LOADS)
@given(data=st.data())
def test_parts_are_the_questions_own_answers(ask, drawn, load, data):
    """Current, headroom and every figure equal those of the single questions, and no word is milder."""
    # the health of the cells, which only an assessment knows of, decides a resistance that nobody measured
    body = {"cell_resistance_ohm": 0.04} | data.draw(drawn("assessment"))
    low_high = {
        "coil_reading_ohm": st.floats(0.01, 100),
        "coil_resistance_ohm": st.floats(0.01, 100),
        "output_power_w": st.floats(0.1, 500),
    }
    unused = set(ALL_LOADS) - {load}
    if load == "coil_resistance_ohm":
        unused |= {"meter_accuracy", "meter_counts", "meter_resolution_ohm", "lead_resistance_ohm"}
    body = {n: v for n, v in body.items() if n not in unused} | {load: data.draw(low_high[load])}
    try:
        got = ask("assessment", **body)
    except (NoSolution, Refused):
        assume(False)
    # the cells are as cold as the air
    at_c = {"cell_temperature_c": body.get("ambient_temperature_c", 25)}
    loaded, limit = (part(ask, question_id, body | at_c) for question_id in LOADS[load])
    words = {one.name: one.verdict for one in got.limits}
    assert list(words) == list(QUESTIONS["assessment"].limits)
    for one in loaded.limits:
        assert GRAVITY.index(words[one.name]) >= GRAVITY.index(one.verdict), one.name
    assert GRAVITY.index(got.verdict) >= GRAVITY.index(loaded.verdict)
    assert (got.worst_cell_current_a, got.headroom, got.layout) == (
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
        if alone is not limit:
            # of a known size and capacity the label is checked instead
            told = {f.rule for f in alone.findings} - {"rating-doubtful"}
            assert told <= {f.rule for f in got.findings}
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
        ({"output_power_w": 10, "cutoff_basis": "at_rest"}, {}),
        ({"coil_resistance_ohm": 0.5, "device_resistance_ohm": 0.02}, {}),
        (
            {"coil_resistance_ohm": 0.5, "coil_resistance_tolerance_ohm": 0.1},
            {"coil_resistance_ohm": 0.4, "coil_resistance_tolerance_ohm": 0},
        ),
        # an ordinary meter: 0.5 × 0.99 − 3.5 × 0.01
        (
            {"coil_reading_ohm": 0.5},
            {"coil_resistance_ohm": 0.46, "coil_reading_ohm": None},
        ),
        (
            {"coil_resistance_ohm": 0.5, "cell_resistance_tolerance_ohm": 0.01},
            {"cell_resistance_ohm": 0.05},
        ),
    ],
)
@pytest.mark.parametrize("chemistry", ["nmc", "nca", "lfp"])
def test_running_time_is_assessed(ask, load, harder, chemistry):
    """With a capacity, the running time is that of its question with each tolerance at its worst."""
    cells = {"layout": "2S2P", "cell_capacity_ah": 3, "cell_health": 0.8, "chemistry": chemistry}
    cells |= {"cell_rating_a": 20, "cell_resistance_ohm": 0.04}
    got = ask("assessment", **cells, **load)
    hardest = {name: value for name, value in (load | harder).items() if value is not None}
    alone = part(ask, "running-time", cells | hardest)
    assert structs.asdict(got.running_time) == {
        name: pytest.approx(getattr(alone, name)) for name in got.running_time.__struct_fields__
    }
    # at rest the current does not hold for another cut-off
    of_the_load = {"cutoff-assumed"} if "cutoff_basis" in load else set()
    assert rules(alone) - of_the_load <= rules(got)
    guessed = {name: value for name, value in cells.items() if name != "cell_resistance_ohm"}
    if "cell_resistance_ohm" not in harder:
        bare = ask("assessment", **guessed, **load)
        same = part(ask, "running-time", guessed | hardest)
        assert bare.running_time.running_time_s == pytest.approx(same.running_time_s)
        assert "resistance-assumed" in rules(bare)


def test_running_time_needs_capacity_and_curve(ask):
    """Without the capacity there is no running time, and without a curve the answer says so."""
    body = {"layout": "2S1P", "cell_rating_a": 20, "output_power_w": 20}
    assert ask("assessment", **body).running_time is UNSET
    got = ask("assessment", **body, cell_capacity_ah=3, chemistry="lmo")
    assert got.running_time is UNSET
    assert "no-curve" in {finding.rule for finding in got.findings}


@pytest.mark.parametrize("load", [{}, {"coil_resistance_ohm": 1, "output_power_w": 20}])
def test_one_load_is_needed(ask, load):
    """Neither load, or both, is refused: each that would do, or each that was given."""
    with pytest.raises(Refused) as refused:
        ask("assessment", layout="1S1P", cell_rating_a=20, **load)
    named = load or ("coil_reading_ohm", "coil_resistance_ohm", "output_power_w")
    assert {fault.pointer for fault in refused.value.faults} == {f"/{name}" for name in named}


def test_transport_is_assessed(ask):
    """By hand: four cells of 4 V and 5.93 Ah are 94.9 Wh, and of 5.94 Ah 95.04 Wh, close to 100 Wh."""
    body = {
        "layout": "2S2P",
        "cell_rating_a": 20,
        "output_power_w": 20,
        "cell_nominal_voltage_v": 4,
    }
    for capacity_ah, expected in [(5.93, False), (5.94, True)]:
        got = ask("assessment", **body, cell_capacity_ah=capacity_ah)
        assert ("transport-limit" in {f.rule for f in got.findings}) is expected


def test_a_limit_at_the_highest_power_alone_is_found(ask):
    """A light load on cells at their cut-off: a note says that the highest power would sag them too far."""
    body = {"layout": "1S1P", "cell_rating_a": 30, "cutoff_basis": "at_rest"}
    light = ask("assessment", **body, output_power_w=2)
    alone = ask("converter-load", **body, output_power_w=2)
    assert "cutoff-below-end" not in {f.rule for f in alone.findings}
    (said,) = (f.sentence for f in light.findings if f.rule == "highest-power-beyond")
    watts = floor(light.highest_power.highest_power_w * 10 + 1e-9) / 10
    assert said.startswith(f"The highest power within the rating is {watts:g} W. ")
    at_limit = ask("highest-power", **body)
    over = {one.name.replace("_", " ") for one in at_limit.limits if one.verdict == "over_limit"}
    assert over
    assert set(said.removesuffix(".").partition("another limit: ")[2].split(", ")) == over
    # the load that was asked for is within its limits, and not called otherwise
    assert light.verdict == "within_limit"
    everyday = ask("assessment", layout="2S1P", cell_rating_a=25, output_power_w=40)
    assert "highest-power-beyond" not in {f.rule for f in everyday.findings}


@pytest.mark.parametrize(
    "load", [{"coil_resistance_ohm": 0.5}, {"coil_reading_ohm": 0.5}, {"output_power_w": 20}]
)
@pytest.mark.parametrize("sharing", [{}, {"sharing": "even"}, {"sharing": "allowance"}])
def test_a_way_of_sharing_is_assumed_unless_given(ask, load, sharing):
    """The careful share is listed as assumed; what was given is not, and is a caution at least."""
    got = ask("assessment", layout="1S2P", cell_rating_a=20, **load, **sharing)
    listed = [one.value for one in got.assumptions if one.name == "sharing"]
    assert listed == ([] if sharing else ["careful"])
    assert (got.attention == "note") is not bool(sharing)


@pytest.mark.parametrize("basis", ["under_load", "at_rest"])
def test_a_resistance_is_assumed_for_a_converter(ask, basis):
    """The power that full cells give needs the resistance, and at rest the currents need it too."""
    asked = {"layout": "1S2P", "cell_rating_a": 20, "output_power_w": 10}
    got = ask("assessment", **asked, cutoff_basis=basis)
    assert {one.name: one.value for one in got.assumptions}["cell_resistance_ohm"] == 0.04
    assert ("resistance-assumed" in {f.rule for f in got.findings}) is (basis == "at_rest")


def limits(got):
    return {one.name: one for one in got.limits}


@pytest.mark.parametrize(
    ("more", "missing"),
    [
        (
            {},
            {
                "stop_temperature": "cell_size",
                "believable_rating": "cell_size",
                "believable_capacity": "cell_size",
            },
        ),
        (
            {"cell_size": "18650"},
            {"believable_rating": "cell_capacity_ah", "believable_capacity": "cell_capacity_ah"},
        ),
        (
            {"cell_size": "18650", "cell_capacity_ah": 2.5},
            {"believable_rating": "test", "believable_capacity": "test"},
        ),
    ],
)
def test_what_was_not_looked_at_is_named_and_spoils_nothing(ask, more, missing):
    """A limit that needs a field which was not given is not judged, and the others keep their verdict."""
    got = ask("assessment", layout="2S1P", cell_rating_a=20, output_power_w=10, **more)
    found = {n: one.missing for n, one in limits(got).items() if one.missing is not UNSET}
    assert found == missing
    assert all(limits(got)[name].verdict == "not_judged" for name in missing)
    assert got.verdict == max(
        (one.verdict for one in got.limits if one.missing is UNSET), key=GRAVITY.index
    )
    words = ", ".join(name.replace("_", " ") for name in missing)
    assert f"Not judged: {words}." in got.headline


@pytest.mark.parametrize(
    ("rating_a", "capacity_ah"),
    [(60, 9.9), (60, 2.5), (20, 9.9)],
    ids=["both", "the rating", "the capacity"],
)
def test_a_rating_of_a_label_that_is_not_believable_judges_nothing_as_within(
    ask, rating_a, capacity_ah
):
    """9.9 Ah or 60 A on an 18650 cell: whatever its label says, nothing is within it."""
    body = {"layout": "1S1P", "cell_size": "18650", "output_power_w": 5}
    got = ask("assessment", **body, cell_rating_a=rating_a, cell_capacity_ah=capacity_ah)
    rating = limits(got)["continuous_rating"]
    assert got.headroom > 0.5
    assert (rating.verdict, rating.reason) == ("not_judged", "the label is not believable")
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    doubted = [n for n in ("believable_rating", "believable_capacity")
               if limits(got)[n].verdict == "over_limit"]  # fmt: skip
    assert doubted
    # what is over even an unbelievable rating stays over
    much = ask("assessment", **body | {"output_power_w": 500}, cell_rating_a=rating_a,
               cell_capacity_ah=capacity_ah)  # fmt: skip
    assert limits(much)["continuous_rating"].verdict == "over_limit"


def test_cells_in_parallel_are_not_judged_by_an_even_share(ask):
    """By hand: 80 W / 0.85 / 2.8 V are 33.6 A, 16.8 A a cell evenly, and 19.9 A in the worst-case one of two."""
    got = ask("assessment", layout="1S2P", cell_rating_a=20, output_power_w=80)
    assert got.worst_cell_current_a == pytest.approx(80 / 0.85 / 2.8 * 0.592, rel=1e-3)
    assert got.verdict == "little_headroom"
    assert (
        ask("assessment", layout="1S2P", cell_rating_a=19, output_power_w=80).verdict
        == "over_limit"
    )


@pytest.mark.parametrize(
    "load", [{"output_power_w": 40}, {"coil_reading_ohm": 0.9}, {"coil_resistance_ohm": 0.9}]
)
@pytest.mark.parametrize("capacity", [{}, {"cell_capacity_ah": 3}])
def test_an_unknown_cutoff_is_named_for_current_and_time(ask, load, capacity):
    """Currents at 2.8 V and the time to 3.2 V, each in the headline where it was used."""
    got = ask("assessment", layout="2S1P", cell_rating_a=25, **load, **capacity)
    listed = {one.name: one.value for one in got.assumptions}
    assert listed.get("cell_cutoff_voltage_v.time") == (3.2 if capacity else None)
    assert ("cut-off at 3.2 V per cell for the running time" in got.headline) is bool(capacity)
    known = ask("assessment", layout="2S1P", cell_rating_a=25, **load, **capacity,
                cell_cutoff_voltage_v=3)  # fmt: skip
    assert "cell_cutoff_voltage_v.time" not in {one.name for one in known.assumptions}


@pytest.mark.parametrize("watts", range(30, 81, 5))
def test_an_everyday_case_cries_no_wolf(ask, watts):
    """Two 25 A cells in series at 30 to 80 W, the everyday of careful users: nothing graver than a note."""
    for capacity in (
        {},
        # a rating of 25 A is doubtful from 2.7 Ah in the size 18650
        {"cell_capacity_ah": 2.5},
        {"cell_capacity_ah": 2.5, "cell_resistance_ohm": 0.02},
    ):
        got = ask("assessment", layout="2S1P", cell_rating_a=25, output_power_w=watts, **capacity)
        assert (got.verdict, got.attention) == ("within_limit", "note"), capacity


@pytest.mark.parametrize("layout", ["1S1P", "2S1P", "1S2P", "2S2P", "3S1P"])
def test_more_watts_of_a_known_capacity_never_get_a_milder_word(ask, layout):
    """With the running time beside it, too, the verdict only gets graver from 5 W to 400 W."""
    words = [
        GRAVITY.index(
            ask(
                "assessment",
                layout=layout,
                cell_rating_a=25,
                cell_capacity_ah=2.5,
                output_power_w=watts,
            ).verdict
        )
        for watts in range(5, 401, 15)
    ]
    assert words == sorted(words)
    assert words[0] == GRAVITY.index(Verdict.WITHIN)
    assert words[-1] == GRAVITY.index(Verdict.OVER)


def test_the_draws_that_the_heat_was_judged_by_are_in_the_headline(ask):
    """Nobody gave them: a cell that stays cool with pauses may not without."""
    body = {"layout": "1S1P", "cell_rating_a": 8.4, "cell_capacity_ah": 1.5, "output_power_w": 17.4}
    said = "draws of 5 s, pauses of 30 s"
    assert said in ask("assessment", **body, cell_size="18650").headline
    assert said not in ask("assessment", **body).headline


def test_high_voltage_is_said(ask):
    """By hand: 20 × 4.2 V are 84 V; no limit of a cell is exceeded, so it is a caution."""
    got = ask("assessment", layout="20S1P", cell_rating_a=25, output_power_w=100)
    assert (got.verdict, got.attention) == ("within_limit", "caution")
    assert "84 V, above 60 V d.c." in got.headline


def test_the_low_resistance_of_a_short_circuit_is_listed(ask):
    """The pack's short circuit takes half of the resistance that everything else takes: both are listed."""
    body = {"layout": "2S1P", "cell_rating_a": 25, "output_power_w": 40}
    got = ask("assessment", **body, cell_capacity_ah=3)
    listed = {one.name: one.value for one in got.assumptions}
    assert got.pack.prospective_short_circuit_a == pytest.approx(4.2 / 0.02)
    assert (listed["cell_resistance_ohm"], listed["cell_resistance_ohm.short_circuit"]) == (
        0.04,
        0.02,
    )
    own = ask("assessment", **body, cell_capacity_ah=3, cell_resistance_ohm=0.03)
    listed = {one.name: one.value for one in own.assumptions}
    assert listed["cell_resistance_ohm.short_circuit"] == 0.015
    bare = ask("assessment", **body)
    assert "cell_resistance_ohm.short_circuit" not in {one.name for one in bare.assumptions}


AT_REST = {
    "layout": "1S1P",
    "cell_rating_a": 20,
    "output_power_w": 17,
    "cutoff_basis": "at_rest",
    "cell_cutoff_voltage_v": 3.3,
    "cell_resistance_ohm": 0.02,
    "contact_resistance_ohm": 0,
}


def available(got):
    """Return the available power of an answer."""
    return next(one for one in got.limits if one.name == "available_power")


def test_a_cutoff_at_rest_counts_the_charge_that_aged_cells_hold(ask):
    """By hand: 2 Ah at a health of 80 % are 1.6 Ah, of which a minute takes as large a part."""
    aged = ask("assessment", **AT_REST, cell_capacity_ah=2, cell_health=0.8)
    less = ask("assessment", **AT_REST, cell_capacity_ah=1.6)
    assert available(aged).verdict == available(less).verdict == aged.verdict == "over_limit"
    assert available(aged).value == pytest.approx(available(less).value)
    assert "cell_health" in {one.name for one in ask("assessment", **AT_REST).assumptions}


def test_a_cutoff_at_rest_counts_the_charge_of_a_small_cell(ask):
    """By its volume, with the digits of the size, an 18350 holds 350/650 of the usual 3 Ah."""
    small = ask("assessment", **AT_REST, cell_size="18350")
    (listed,) = [one for one in small.assumptions if one.name == "cell_capacity_ah"]
    assert listed.value == pytest.approx(3 * 350 / 650)
    assert "a usual cell of this size" in listed.origin
    same = ask("assessment", **AT_REST, cell_capacity_ah=3 * 350 / 650)
    assert available(small).value == pytest.approx(available(same).value)
    assert available(small).value < available(ask("assessment", **AT_REST)).value
