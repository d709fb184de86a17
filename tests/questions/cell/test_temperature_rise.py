"""Temperature of a cell: against a published rate, an ODE solver and the laws of a lump in air."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import UNSET, structs
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from percell.physics.sizes import SIZES
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.sizes import CellSize

ANY = 1e-6
CELL = {"cell_size": "18650", "cell_current_a": 10}
# 40 J/K and 0.04 W/K: a thousand seconds
LUMP = {
    "cell_mass_kg": 0.04,
    "specific_heat_j_kgk": 1000,
    "cell_area_m2": 0.004,
    "heat_transfer_w_m2k": 10,
    "cell_resistance_ohm": 0.02,
}


def rules(answer):
    return {finding.rule: finding for finding in answer.findings}


@pytest.mark.parametrize(
    ("watts", "kelvin_a_minute"),
    [
        pytest.param(
            40.0,
            0.0956,
            id="OpenStax University Physics Vol. 2, m58453: 10.0 A into 12.0 V with 16.0 V at the "
            "terminals",
        )
    ],
)
def test_published_rate(ask, watts, kelvin_a_minute):
    """40.0 W warm a battery of 20.0 kg and 0.300 kcal/(kg.°C) by 0.0956 °C a minute."""
    # a question takes at most 5 kg: a quarter of the mass, and of the heat
    got = ask(
        "temperature-rise",
        cell_current_a=10,
        cell_resistance_ohm=(16.0 - 12.0) / 10 / 4,
        cell_mass_kg=5,
        specific_heat_j_kgk=0.300 * 4186,
        cell_area_m2=0.0001,
        heat_transfer_w_m2k=0.5,
        draw_length_s=60,
        ambient_temperature_c=20,
    )
    assert got.cell_loss_w == pytest.approx(watts / 4)
    assert got.single_draw_temperature_c - 20 == pytest.approx(kelvin_a_minute, abs=0.00005)


def test_heavy_load_by_hand(ask):
    """8 W in 47 g of 1000 J/(kg·K), 42 cm², h 10: 0.17 K in the first second, 190 K finally."""
    got = ask(
        "temperature-rise",
        cell_current_a=20,
        **LUMP | {"cell_mass_kg": 0.047, "cell_area_m2": 0.0042},
        draw_length_s=1,
        ambient_temperature_c=20,
    )
    assert got.single_draw_temperature_c - 20 == pytest.approx(0.17, abs=0.005)
    assert got.continuous_temperature_c - 20 == pytest.approx(190, abs=1)


def test_pattern_against_an_ode_solver(ask):
    """The peak of the twentieth draw is what SciPy's solve_ivp finds, draw by draw."""
    now_c = peak_c = 25.0
    for _ in range(20):
        for length_s, watts in [(5, 8.0), (30, 0.0)]:
            solved = solve_ivp(
                lambda _, c, w: [(w - 0.04 * (c[0] - 25)) / 40],
                (0, length_s),
                [now_c],
                args=(watts,),
                rtol=1e-10,
                atol=1e-10,
            )
            now_c = solved.y[0, -1]
            peak_c = now_c if watts else peak_c
    got = ask("temperature-rise", cell_current_a=20, **LUMP, draw_length_s=5, pause_s=30, draws=20)
    assert got.peak_temperature_c == pytest.approx(peak_c, abs=1e-6)


@given(st.floats(0, 40), st.floats(0.1, 60), st.floats(0, 600), st.sampled_from([*CellSize]))
def test_order_of_temperatures(ask, current_a, draw_s, pause_s, size):
    """Air, trough, peak, continuous; one draw is no warmer than draws without end."""
    got = ask(
        "temperature-rise",
        cell_current_a=current_a,
        cell_size=size.value,
        draw_length_s=draw_s,
        pause_s=pause_s,
        ambient_temperature_c=20,
    )
    near = 1e-9 * max(1, got.continuous_temperature_c)
    assert 20 - near <= got.settled_trough_temperature_c <= got.settled_peak_temperature_c + near
    assert (
        got.single_draw_temperature_c
        <= got.settled_peak_temperature_c + near
        <= got.continuous_temperature_c + 2 * near
    )
    assert got.peak_temperature_c == got.settled_peak_temperature_c


@pytest.mark.parametrize(
    ("harder", "value"),
    [
        ("cell_current_a", 12),
        ("cell_resistance_ohm", 0.03),
        ("cell_resistance_tolerance_ohm", 0.01),
        ("draw_length_s", 8),
        ("ambient_temperature_c", 35),
        ("cell_size", "18350"),
    ],
)
def test_harder_is_warmer(ask, harder, value):
    """Each of these changes makes the cell warmer."""
    base = ask("temperature-rise", **CELL, surroundings="room")
    more = ask("temperature-rise", **CELL | {harder: value}, surroundings="room")
    assert more.peak_temperature_c > base.peak_temperature_c
    assert more.single_draw_temperature_c > base.single_draw_temperature_c


def test_the_harder_surroundings_are_the_default(ask):
    """By default the cell is in a closed tube; longer pauses or open air cool it."""
    base = ask("temperature-rise", **CELL)
    assert base == ask("temperature-rise", **CELL, surroundings="pocket")
    assert (
        ask("temperature-rise", **CELL, surroundings="room").peak_temperature_c
        < base.peak_temperature_c
    )
    assert ask("temperature-rise", **CELL, pause_s=120).peak_temperature_c < base.peak_temperature_c


def test_many_draws_are_draws_without_end(ask):
    """A hundred thousand draws equal endless draws; one equals the single draw."""
    endless = ask("temperature-rise", **CELL)
    assert ask("temperature-rise", **CELL, draws=100_000).peak_temperature_c == pytest.approx(
        endless.peak_temperature_c
    )
    assert ask("temperature-rise", **CELL, draws=1).peak_temperature_c == pytest.approx(
        endless.single_draw_temperature_c
    )


def test_stop_from_the_threshold_on(ask):
    """The rule applies just above the stop temperature, not at or below it."""
    peak_c = ask("temperature-rise", **CELL).peak_temperature_c
    for stop_c, spoken in [(peak_c + ANY, False), (peak_c, False), (peak_c - ANY, True)]:
        found = rules(ask("temperature-rise", **CELL, stop_temperature_c=stop_c))
        assert ("over-stop-temperature" in found) is spoken
        # only the pauses keep it below
        assert ("continuous-too-hot" in found) is not spoken


@pytest.mark.parametrize(("factor", "spoken"), [(1 - ANY, False), (1, False), (1 + ANY, True)])
def test_continuous_from_the_threshold_on(ask, factor, spoken):
    """The rule applies just above the current that reaches the stop temperature, not at it."""
    current_a = ask("temperature-rise", **CELL).continuous_current_a * factor
    got = ask("temperature-rise", **CELL | {"cell_current_a": current_a})
    assert ("continuous-too-hot" in rules(got)) is spoken
    assert bool(got.time_to_stop_s) is spoken


def test_times_are_the_inverses(ask):
    """After the calculated time, and with the calculated pause, the cell is at the stop."""
    got = ask("temperature-rise", **CELL | {"cell_current_a": 20})
    held = ask(
        "temperature-rise", **CELL | {"cell_current_a": 20}, draw_length_s=got.time_to_stop_s
    )
    assert held.single_draw_temperature_c == pytest.approx(60)
    rested = ask("temperature-rise", **CELL | {"cell_current_a": 20}, pause_s=got.pause_needed_s)
    assert rested.peak_temperature_c == pytest.approx(60)

    def above_c(pause_s):
        return (
            ask(
                "temperature-rise", **CELL | {"cell_current_a": 20}, pause_s=pause_s
            ).peak_temperature_c
            - 60
        )

    assert got.pause_needed_s == pytest.approx(brentq(above_c, 1, 3600, xtol=1e-9))


def test_times_that_do_not_exist_are_left_out(ask):
    """Without a current the stop is never reached; if one draw exceeds it, no pause is enough."""
    cold = ask("temperature-rise", **CELL | {"cell_current_a": 0})
    assert cold.time_to_stop_s is UNSET
    assert cold.pause_needed_s == 0
    hot = ask("temperature-rise", **CELL | {"cell_current_a": 100}, draw_length_s=60)
    assert hot.time_to_stop_s < 60
    assert hot.pause_needed_s is UNSET


@pytest.mark.parametrize("size", CellSize)
def test_properties_that_stand_in_are_listed(ask, size):
    """Mass, area, specific heat and heat transfer are listed with their origin unless given."""
    got = ask("temperature-rise", cell_current_a=10, cell_size=size.value)
    assumed = {a.name: a for a in got.assumptions}
    assert assumed["cell_mass_kg"].value == SIZES[size].mass_kg
    assert assumed["specific_heat_j_kgk"].value == 1040
    assert assumed["heat_transfer_w_m2k"].value == 2
    assert "from memory, unconfirmed" in assumed["stop_temperature_c"].origin
    own = ask("temperature-rise", cell_current_a=10, **LUMP)
    assert not (set(LUMP) - {"cell_resistance_ohm"}) & {a.name for a in own.assumptions}
    assert own.thermal_time_s == pytest.approx(1000)


def test_every_size_can_be_named():
    """Questions take exactly the sizes with known properties."""
    assert {size.value for size in CellSize} == SIZES.keys()


@pytest.mark.parametrize(
    ("chemistry", "specific_heat"), [("nca", 830), ("lfp", 1130), ("lmo", 830), ("lco", 830)]
)
def test_specific_heat_by_chemistry(ask, chemistry, specific_heat):
    """A chemistry without a published value takes the lowest, which heats fastest, and says so."""
    got = ask("temperature-rise", **CELL, chemistry=chemistry)
    assumed = {a.name: a for a in got.assumptions}["specific_heat_j_kgk"]
    assert assumed.value == specific_heat
    assert ("for want of its own" in assumed.origin) is (chemistry in ("lmo", "lco"))


def test_it_is_called_an_estimate(ask):
    """Every answer says that it is an estimate, and whether the resistance was assumed."""
    found = rules(ask("temperature-rise", **CELL))
    assert {"temperature-estimate", "resistance-assumed"} <= found.keys()
    assert "resistance-assumed" not in rules(
        ask("temperature-rise", **CELL, cell_resistance_ohm=0.021)
    )


@pytest.mark.parametrize("body", [{}, {"cell_mass_kg": 0.05}, {"cell_area_m2": 0.004}])
def test_a_cell_without_mass_and_area_is_refused(ask, body):
    """A question without a size needs both mass and area."""
    with pytest.raises(Refused) as refused:
        ask("temperature-rise", cell_current_a=10, **body)
    assert refused.value.pointer == "/cell_size"


@pytest.mark.parametrize(
    ("current_a", "row"), [(10, "10-a"), (10.1, "12-a"), (20, "20-a"), (20.1, None)]
)
def test_row_on_the_careful_side(ask, current_a, row):
    """Between two rows the link is to the one with the higher current."""
    got = ask("temperature-rise", **CELL | {"cell_current_a": current_a})
    assert (got.links.table_row or None) == (row and f"/tables/temperature-by-draw/#{row}")


def steady(ask, ambient_c, **more):
    """Return the answer to 10 A in 20 mΩ, which reach 50 K above the air without a pause."""
    return ask(
        "temperature-rise", cell_current_a=10, **LUMP, ambient_temperature_c=ambient_c, **more
    )


@pytest.mark.parametrize(("air_c", "spoken"), [(40 - ANY, False), (40, False), (40 + ANY, True)])
def test_a_cell_fails_above_ninety_degrees(ask, air_c, spoken):
    """By hand: 2 W over 0.04 W/K are 50 K; above 40 °C of air that is more than 90 °C."""
    got = steady(ask, air_c, pause_s=0)
    assert got.peak_temperature_c == got.continuous_temperature_c == pytest.approx(90)
    assert ("temperature-beyond-estimate" in rules(got)) is spoken
    assert "over-stop-temperature" in rules(got)
    # with a pause the draws stay below, and the finding about no pause names it
    rested = rules(steady(ask, air_c, pause_s=3600, draw_length_s=1))
    assert "temperature-beyond-estimate" not in rested
    assert ("would fail" in rested["continuous-too-hot"].sentence) is spoken


@pytest.mark.parametrize(
    ("air_c", "said"), [(25, "75 °C"), (25.01, "76 °C"), (24.99, "75 °C"), (24, "74 °C")]
)
def test_a_temperature_is_rounded_up(ask, air_c, said):
    """50 K above the air, rounded up to whole degrees."""
    found = rules(steady(ask, air_c, pause_s=0))
    assert said in found["over-stop-temperature"].sentence
    assert "60 °C" in found["over-stop-temperature"].sentence


@pytest.mark.parametrize(
    ("ohm", "tolerance_ohm", "current_a"),
    [(0.02, 0, 8.3666), (0.01, 0.01, 8.3666), (0, 0, 118.32), (0.00005, 0, 118.32)],
)
def test_current_without_end_by_hand(ask, ohm, tolerance_ohm, current_a):
    """35 K times 0.04 W/K are 1.4 W: √(1.4 W / 20 mΩ); every cell has at least 0.1 mΩ."""
    got = ask(
        "temperature-rise",
        cell_current_a=10,
        **LUMP | {"cell_resistance_ohm": ohm, "cell_resistance_tolerance_ohm": tolerance_ohm},
        ambient_temperature_c=25,
    )
    assert got.continuous_current_a == pytest.approx(current_a, rel=1e-4)
    assert got.cell_loss_w == pytest.approx(100 * (ohm + tolerance_ohm))


def test_how_many_draws_is_said(ask):
    """Sentence and working give the number of draws, or say that they are endless."""
    many = steady(ask, 25, pause_s=0, draws=10_000)
    assert many.peak_temperature_c == pytest.approx(75)
    assert "10000 draws" in rules(many)["over-stop-temperature"].sentence
    assert [step.result for step in many.working][-2] == many.peak_temperature_c
    assert "without end" in rules(steady(ask, 25, pause_s=0))["over-stop-temperature"].sentence


LOAD = {"layout": "1S2P", "cell_rating_a": 25, "output_power_w": 60}


@pytest.mark.parametrize("more", [{}, {"draw_length_s": 8, "pause_s": 20, "surroundings": "room"}])
def test_assessment_holds_the_worst_case_cell_s_temperature(ask, more):
    """With a size, a full assessment has the figures of the question about its worst-case cell."""
    got = ask("assessment", **LOAD, cell_size="21700", **more)
    alone = ask(
        "temperature-rise", cell_current_a=got.worst_cell_current_a, cell_size="21700", **more
    )
    warm = structs.asdict(got.temperature_rise)
    assert warm == {name: getattr(alone, name) for name in warm}
    assert rules(alone).keys() <= rules(got).keys()
    assert {a.name: a for a in alone.assumptions}.items() <= {
        a.name: a for a in got.assumptions
    }.items()
    for step in alone.working:
        assert step in got.working


def test_assessment_without_a_size_has_no_temperature(ask):
    """Without a size there is no temperature, and none of its defaults is listed."""
    got = ask("assessment", **LOAD)
    assert got.temperature_rise is UNSET
    assert not {"pause_s", "surroundings", "cell_mass_kg"} & {a.name for a in got.assumptions}


@pytest.mark.parametrize(("air_c", "spoken"), [(60, True), (-20, False)])
def test_a_figure_beyond_failure_is_marked(ask, air_c, spoken):
    """A finding says that a cell fails above about 90 °C."""
    draws = {"cell_size": "18650", "cell_current_a": 10, "cell_resistance_ohm": 0.025}
    got = ask("temperature-rise", **draws, ambient_temperature_c=air_c, draw_length_s=5, pause_s=30)
    assert (got.peak_temperature_c > 90) is spoken
    found = {f.rule: f.sentence for f in got.findings}
    assert ("temperature-beyond-estimate" in found) is spoken
    assert got.continuous_temperature_c > 90
    if not spoken:
        assert "would fail above about 90 °C" in found["continuous-too-hot"]


def test_defaults(ask):
    """By default 5 s of draw and 30 s of pause in a closed tube at 25 °C, up to 60 °C; each is listed."""
    assumed = {a.name: a.value for a in ask("temperature-rise", **CELL).assumptions}
    pattern = {"draw_length_s": 5, "pause_s": 30, "surroundings": "pocket"}
    pattern |= {"ambient_temperature_c": 25, "stop_temperature_c": 60}
    assert {name: assumed[name] for name in pattern} == pattern


@pytest.mark.parametrize(
    ("given", "listed"),
    [
        ({}, {"cell_mass_kg", "cell_area_m2"}),
        ({"cell_mass_kg": 0.05}, {"cell_area_m2"}),
        ({"cell_area_m2": 0.004}, {"cell_mass_kg"}),
        ({"cell_mass_kg": 0.05, "cell_area_m2": 0.004}, set()),
    ],
)
def test_only_what_stands_in_is_listed(ask, given, listed):
    """A size and a mass or area may be given together; only assumed properties are listed."""
    got = ask("temperature-rise", **CELL, **given)
    assert {"cell_mass_kg", "cell_area_m2"} & {a.name for a in got.assumptions} == listed


# 55.5 g × 1000 J/(kg·K) over 10 W/(m²·K) × 0.00555 m²: 1000 s; 2 W would warm it by 36 K
BY_HAND = {
    "cell_mass_kg": 0.0555,
    "cell_area_m2": 0.00555,
    "specific_heat_j_kgk": 1000,
    "heat_transfer_w_m2k": 10,
    "cell_current_a": 10,
    "cell_resistance_ohm": 0.02,
    "ambient_temperature_c": 25,
    "draw_length_s": 10,
    "pause_s": 30,
}


@pytest.mark.parametrize(
    ("draws", "relation", "put_in"),
    [
        ({}, "T = T_air + ΔT_1 / (1 − q)", "q = e^(−40 s / 1000 s)"),
        ({"draws": 5}, "T = T_air + ΔT_1 · (1 − qⁿ)/(1 − q)", "q = e^(−40 s / 1000 s), n = 5"),
    ],
)
def test_the_working_of_a_peak(ask, draws, relation, put_in):
    """By hand: one draw warms the cell by 2 W / 0.0555 W/K · (1 − e^−0.01), which is 0.3586 K."""
    steps = ask("temperature-rise", **BY_HAND, **draws).working
    (step,) = [one for one in steps if one.what.startswith("Peak of ")]
    assert step.relation == f"{relation}, q = e^(−(t + t_pause)·G/C)"
    assert step.put_in == f"25 °C + 0.3586 K, {put_in}"


def test_an_estimate_tells_the_lump(ask):
    """The mass is told in grams, beside the air and the resistance that were taken."""
    found = {f.rule: f.sentence for f in ask("temperature-rise", **BY_HAND).findings}
    assert found["temperature-estimate"] == (
        "The cell was taken as one lump of 55.5 g in air of 25 °C, with a resistance of 0.02 Ω."
    )


def test_the_draws_that_are_too_hot_are_named(ask):
    """By hand: 0.3586 K / (1 − e^−0.04) are 9.145 K above 25 °C."""
    got = ask("temperature-rise", **BY_HAND, stop_temperature_c=30)
    found = {f.rule: f.sentence for f in got.findings}
    assert found["over-stop-temperature"] == (
        "Draws without end of 10 s with pauses of 30 s bring the cell above 30 °C, by this estimate "
        "to 35 °C."
    )
