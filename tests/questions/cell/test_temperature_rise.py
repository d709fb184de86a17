"""Temperature of a cell: against a published rate, an ODE solver and the laws of a lump in air."""

from math import ceil, exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import UNSET, convert, structs
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from percell.physics.errors import NoSolution
from percell.physics.sizes import SIZES
from percell.questions.answering.over_table import figures_over
from percell.questions.cell.temperature_rise import QUESTION, TemperatureRise
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.sizes import CellSize
from percell.questions.worked_tables import printed_table

ANY = 1e-6
CELL = {"cell_size": "18650", "cell_current_a": 10}
# nothing that decides how warm it gets is left to a default
TOLD = CELL | {"cell_resistance_ohm": 0.02, "surroundings": "pocket"}
# 40 J/K and 0.04 W/K: a thousand seconds. By hand, 10 A in 10 mΩ lose 0.1 V at once and as much again in
# minutes, which makes 2 W; 20 A lose 0.2 V and 0.15 V, which makes 7 W
LUMP = {
    "cell_mass_kg": 0.04,
    "specific_heat_j_kgk": 1000,
    "cell_area_m2": 0.004,
    "heat_transfer_w_m2k": 10,
    "cell_resistance_ohm": 0.01,
}


GRAVITY = ["within_limit", "little_headroom", "not_judged", "over_limit"]


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
    # a question takes at most 5 kg: a quarter of the mass, and of the heat, which 10 A in 85 mΩ make:
    # 0.85 V at once and 0.15 V in minutes
    got = ask(
        "temperature-rise",
        cell_current_a=10,
        cell_resistance_ohm=0.085,
        cell_mass_kg=5,
        specific_heat_j_kgk=0.300 * 4186,
        cell_area_m2=0.0001,
        heat_transfer_w_m2k=0.5,
        draw_length_s=60,
    )
    assert got.cell_loss_w == pytest.approx(watts / 4)
    assert got.single_draw_temperature_c - 25 == pytest.approx(kelvin_a_minute, abs=0.00005)


def test_heavy_load_by_hand(ask):
    """7 W in 47 g of 1000 J/(kg·K), 42 cm², h 10: 0.15 K in the first second, 167 K finally."""
    got = ask(
        "temperature-rise",
        cell_current_a=20,
        **LUMP | {"cell_mass_kg": 0.047, "cell_area_m2": 0.0042},
        draw_length_s=1,
    )
    assert got.single_draw_temperature_c - 25 == pytest.approx(0.149, abs=0.0005)
    assert got.continuous_temperature_c - 25 == pytest.approx(166.7, abs=0.1)


def test_pattern_against_an_ode_solver(ask):
    """The peak of the twentieth draw is what SciPy's solve_ivp finds, draw by draw."""
    now_c = peak_c = 25.0
    for _ in range(20):
        for length_s, watts in [(5, 7.0), (30, 0.0)]:
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
        ("cell_resistance_ohm", 0.05),
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
    told = ask("temperature-rise", **CELL, surroundings="pocket")
    assert base.peak_temperature_c == told.peak_temperature_c
    assert {a.name: a.value for a in base.assumptions}["surroundings"] == "pocket"
    assert "surroundings" not in {a.name for a in told.assumptions}
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
    peak_c = ask("temperature-rise", **TOLD, draws=100).peak_temperature_c
    for stop_c, spoken in [(peak_c + ANY, False), (peak_c, False), (peak_c - ANY, True)]:
        found = rules(ask("temperature-rise", **TOLD, draws=100, stop_temperature_c=stop_c))
        assert ("over-stop-temperature" in found) is spoken


@pytest.mark.parametrize(("factor", "spoken"), [(1 - ANY, False), (1, False), (1 + ANY, True)])
def test_continuous_from_the_threshold_on(ask, factor, spoken):
    """The rule applies just above the current that reaches the stop temperature, not at it."""
    cell = CELL | {"cell_resistance_ohm": 0.04}
    current_a = ask("temperature-rise", **cell).continuous_current_a * factor
    got = ask("temperature-rise", **cell | {"cell_current_a": current_a})
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
    assert ("there is none for this chemistry" in assumed.origin) is (chemistry in ("lmo", "lco"))


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
    got = ask("temperature-rise", **CELL | {"cell_current_a": current_a}, cell_capacity_ah=2.5)
    assert (got.links.table_row or None) == (row and f"/tables/temperature-by-draw/{row}/")


def steady(ask, ohm, **more):
    """Return the answer to 10 A in air of 25 °C, which reach 50 K above it in 10 mΩ without a pause."""
    lump = LUMP | {"cell_resistance_ohm": ohm}
    return ask("temperature-rise", cell_current_a=10, **lump, **more)


@pytest.mark.parametrize(
    ("ohm", "spoken"), [(0.013 - 1e-9, False), (0.013, False), (0.013 + 1e-9, True)]
)
def test_a_cell_fails_above_ninety_degrees(ask, ohm, spoken):
    """By hand: 10 A lose 0.13 V twice, and 2.6 W over 0.04 W/K are 65 K; above that it is more than 90 °C."""
    got = steady(ask, ohm, pause_s=0, draws=100_000)
    assert got.peak_temperature_c == got.continuous_temperature_c == pytest.approx(90)
    assert ("temperature-beyond-estimate" in rules(got)) is spoken
    assert "over-stop-temperature" in rules(got)
    # with a pause the draws stay below, and the finding about no pause names it
    rested = rules(steady(ask, ohm, pause_s=3600, draw_length_s=1))
    assert "temperature-beyond-estimate" not in rested
    assert ("it would fail" in rested["continuous-too-hot"].sentence) is spoken


@pytest.mark.parametrize(
    ("ohm", "said"),
    [(0.01, "75 °C"), (0.010002, "76 °C"), (0.009998, "75 °C"), (0.0098, "74 °C")],
)
def test_a_temperature_is_rounded_up(ask, ohm, said):
    """50 K above the air for each 10 mΩ, rounded up to whole degrees."""
    found = rules(steady(ask, ohm, pause_s=0, draws=100_000))
    assert said in found["over-stop-temperature"].sentence
    assert "60 °C" in found["over-stop-temperature"].sentence


@pytest.mark.parametrize(
    ("ohm", "tolerance_ohm", "current_a"),
    [
        (0.02, 0, 5.9161),
        (0.01, 0.01, 5.9161),
        (0.04, 0, 4.3311),
        (0, 0, 83.666),
        (0.00005, 0, 83.666),
    ],
)
def test_current_without_end_by_hand(ask, ohm, tolerance_ohm, current_a):
    """35 K times 0.04 W/K are 1.4 W: √(1.4 W / 2 / 20 mΩ), or 4.3311 A · (0.1732 V + 0.15 V) in 40 mΩ.

    Every cell has at least 0.1 mΩ.
    """
    got = ask(
        "temperature-rise",
        cell_current_a=10,
        **LUMP | {"cell_resistance_ohm": ohm, "cell_resistance_tolerance_ohm": tolerance_ohm},
        ambient_temperature_c=25,
    )
    assert got.continuous_current_a == pytest.approx(current_a, rel=1e-4)
    volts = 10 * (ohm + tolerance_ohm)
    assert got.cell_loss_w == pytest.approx(10 * (volts + min(volts, 0.15)))


def test_how_many_draws_is_said(ask):
    """Sentence and working give the number of draws, or say that they are endless."""
    many = steady(ask, 0.01, pause_s=0, draws=10_000)
    assert many.peak_temperature_c == pytest.approx(75)
    assert "10000 draws" in rules(many)["over-stop-temperature"].sentence
    assert [step.result for step in many.working][-2] == many.peak_temperature_c
    endless = steady(ask, 0.01, pause_s=0)
    assert "Endless draws" in rules(endless)["over-stop-temperature"].sentence
    assert "after endless draws the cell settles at about 75 °C" in endless.headline


@pytest.mark.parametrize("watts", [5, 15, 30])
@pytest.mark.parametrize(
    "known", [{}, {"cell_resistance_ohm": 0.025}, {"cell_health": 0.8}, {"cell_rating_a": 25}]
)
def test_a_run_without_a_pause_makes_the_same_heat(ask, watts, known):
    """A running time and a temperature say the same watts of the same cell, at the mean current of the run.

    No mean is close to the current at which the loss of minutes stops growing, 0.15 V over the resistance.
    """
    cell = {"cell_capacity_ah": 2.6} | known
    load = {"contact_resistance_ohm": 0, "efficiency": 1, "cell_cutoff_voltage_v": 2.8}
    run = ask("running-time", layout="1S1P", output_power_w=watts, **load, **cell)
    hours = run.running_time_s / 3600
    mean_a = run.used_capacity * cell["cell_capacity_ah"] / hours
    warmth = ask("temperature-rise", cell_size="18650", cell_current_a=mean_a, **cell)
    # the current rises a little as the cell empties
    assert 1 <= run.heat_wh / hours / warmth.cell_loss_w < 1.02


LOAD = {"layout": "1S2P", "cell_rating_a": 25, "output_power_w": 60}


@pytest.mark.parametrize("more", [{}, {"draw_length_s": 8, "pause_s": 20, "surroundings": "room"}])
def test_assessment_holds_the_worst_case_cell_s_temperature(ask, more):
    """With a size, a full assessment has the figures of the question about its worst-case cell."""
    got = ask("assessment", **LOAD, cell_size="21700", **more)
    alone = ask(
        "temperature-rise",
        cell_current_a=got.worst_cell_current_a,
        cell_size="21700",
        cell_rating_a=LOAD["cell_rating_a"],
        **more,
    )
    warm = structs.asdict(got.temperature_rise)
    assert warm == {name: getattr(alone, name) for name in warm}
    assert rules(alone).keys() <= rules(got).keys()
    # the currents count another resistance where nothing is known of the cell
    own = {a.name.removesuffix(".heat"): a for a in got.assumptions}
    for assumption in alone.assumptions:
        listed = own[assumption.name]
        assert structs.replace(listed, name=assumption.name) == assumption
    for step in alone.working:
        assert step in got.working


def test_assessment_without_a_size_has_no_temperature(ask):
    """Without a size there is no temperature, and none of its defaults is listed."""
    got = ask("assessment", **LOAD)
    assert got.temperature_rise is UNSET
    assert not {"pause_s", "surroundings", "cell_mass_kg"} & {a.name for a in got.assumptions}


@pytest.mark.parametrize(("air_c", "draws", "spoken"), [(60, 1000, True), (-20, 100, False)])
def test_a_figure_beyond_failure_is_marked(ask, air_c, draws, spoken):
    """A finding says that a cell fails above about 90 °C."""
    more = {"draws": draws, "cell_resistance_ohm": 0.015, "draw_length_s": 5, "pause_s": 30}
    got = ask("temperature-rise", **TOLD | more, ambient_temperature_c=air_c)
    assert (got.peak_temperature_c > 90) is spoken
    found = {f.rule: f.sentence for f in got.findings}
    assert ("temperature-beyond-estimate" in found) is spoken
    assert got.continuous_temperature_c > 90
    if not spoken:
        assert "above about 90 °C it would fail" in found["continuous-too-hot"]


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


# 55.5 g × 1000 J/(kg·K) over 10 W/(m²·K) × 0.00555 m²: 1000 s; 2 W would warm it by 36 K. 10 A in 10 mΩ make 2 W
BY_HAND = {
    "cell_mass_kg": 0.0555,
    "cell_area_m2": 0.00555,
    "specific_heat_j_kgk": 1000,
    "heat_transfer_w_m2k": 10,
    "cell_current_a": 10,
    "cell_resistance_ohm": 0.01,
    "ambient_temperature_c": 25,
    "draw_length_s": 10,
    "pause_s": 30,
}


@pytest.mark.parametrize(
    ("draws", "relation", "with_numbers"),
    [
        ({}, "T = T_air + ΔT_1 / (1 − q)", "q = e^(−40 s / 1000 s)"),
        ({"draws": 5}, "T = T_air + ΔT_1 · (1 − qⁿ)/(1 − q)", "q = e^(−40 s / 1000 s), n = 5"),
    ],
)
def test_the_working_of_a_peak(ask, draws, relation, with_numbers):
    """By hand: one draw warms the cell by 2 W / 0.0555 W/K · (1 − e^−0.01), which is 0.3586 K."""
    steps = ask("temperature-rise", **BY_HAND, **draws).working
    (step,) = [one for one in steps if one.what.startswith("Peak of ")]
    assert step.relation == f"{relation}, q = e^(−(t + t_pause)·G/C)"
    assert step.with_numbers == f"25 °C + 0.3586 K, {with_numbers}"


def test_an_estimate_tells_the_lump(ask):
    """The mass is told in grams, beside the air and the resistance that were taken."""
    found = {f.rule: f.sentence for f in ask("temperature-rise", **BY_HAND).findings}
    assert found["temperature-estimate"] == (
        "The estimate treats the cell as one lump of 55.5 g in air of 25 °C, with a resistance of 0.01 Ω. Heat from its "
        "contacts is left out. The heat is that of a load of minutes, also in short draws. No measured cell "
        "made more heat."
    )


def test_the_draws_that_are_too_hot_are_named(ask):
    """By hand: 0.3586 K / (1 − e^−0.04) are 9.145 K above 25 °C."""
    got = ask("temperature-rise", **BY_HAND, stop_temperature_c=30, draws=1000)
    found = {f.rule: f.sentence for f in got.findings}
    assert found["over-stop-temperature"] == (
        "1000 draws of 10 s with pauses of 30 s bring the cell above 30 °C, by this estimate to 35 °C."
    )


# 10 A in 10 mΩ make 2 W: in 40 J/K, cooled by 0.04 W/K
PULSES = LUMP | {"cell_current_a": 10, "ambient_temperature_c": 25}


def test_the_draws_that_the_charge_allows_by_an_ode_solver(ask):
    """2 Ah at 10 A and 8 s are 90 draws; SciPy's solve_ivp ends the last of them at the same temperature."""
    got = ask("temperature-rise", **PULSES, draw_length_s=8, pause_s=20, cell_capacity_ah=2)
    assert got.draws_until_empty == pytest.approx(90)

    def slope(seconds, celsius):
        return [((2.0 if seconds % 28 < 8 else 0.0) - 0.04 * (celsius[0] - 25)) / 40]

    solved = solve_ivp(slope, (0, 89 * 28 + 8), [25.0], max_step=0.5, rtol=1e-8)
    assert got.peak_temperature_c == pytest.approx(solved.y[0, -1], abs=0.01)
    assert got.peak_temperature_c < got.settled_peak_temperature_c
    assert "all draws that the charge allows (90 of 8 s with pauses of 20 s)" in got.headline


@pytest.mark.parametrize("part", [0.0, 0.2, 0.7, 1.0])
@pytest.mark.parametrize("pause_s", [0, 20, 3000])
def test_a_part_of_a_draw_is_never_warmer_than_counted(ask, part, pause_s):
    """Ten whole draws, and then a part of one until the charge is used up, peak at or below the figure."""
    body = PULSES | {"draw_length_s": 60, "pause_s": pause_s}
    charge_ah = 10 * 60 * (10 + part) / 3600
    got = ask("temperature-rise", **body, cell_capacity_ah=charge_ah)
    whole = ask("temperature-rise", **body, draws=10).peak_temperature_c
    now_c, peak_c = 25.0, 25.0
    for length_s in [60.0] * 10 + [60.0 * part]:
        if not length_s:
            continue
        for watts, seconds in ((2.0, length_s), (0.0, pause_s)):
            steady_c = 25 + watts / 0.04
            now_c = steady_c + (now_c - steady_c) * exp(-seconds / 1000)
            peak_c = max(peak_c, now_c)
    assert whole - 1e-9 <= peak_c <= got.peak_temperature_c + 1e-9
    if part in (0.0, 1.0):
        assert got.peak_temperature_c == pytest.approx(peak_c)


def test_a_charge_too_small_for_one_draw_ends_it(ask):
    """By hand: 0.01 Ah are 3.6 s at 10 A, and 7.2 J into 40 J/K, hardly cooled."""
    got = ask("temperature-rise", **PULSES, draw_length_s=60, cell_capacity_ah=0.01)
    assert got.draws_until_empty == pytest.approx(0.06)
    assert got.peak_temperature_c - 25 == pytest.approx(7.2 / 40, rel=0.01)
    assert "one draw of 3.6 s, which empties the cell" in got.headline


def test_fewer_draws_than_the_charge_allows(ask):
    """The draws that were asked for count, unless the cell is empty before."""
    body = PULSES | {"draw_length_s": 8, "pause_s": 20, "cell_capacity_ah": 2}
    few = ask("temperature-rise", **body, draws=20)
    alone = {name: value for name, value in body.items() if name != "cell_capacity_ah"}
    assert few.peak_temperature_c == ask("temperature-rise", **alone, draws=20).peak_temperature_c
    many = ask("temperature-rise", **body, draws=5000)
    assert many.peak_temperature_c == ask("temperature-rise", **body).peak_temperature_c


@pytest.mark.parametrize(
    ("draws", "verdict", "rule", "attention"),
    [
        ({"draws": 1}, "within_limit", "continuous-too-hot", "note"),
        ({"draws": 10}, "within_limit", "continuous-too-hot", "note"),
        ({"cell_capacity_ah": 0.5}, "within_limit", "temperature-estimate", "note"),
        ({"cell_capacity_ah": 3}, "over_limit", "over-stop-temperature", "warning"),
        ({"draws": 5000}, "over_limit", "over-stop-temperature", "warning"),
        ({}, "over_limit", "over-stop-temperature", "warning"),
    ],
)
def test_heat_is_judged_by_the_draws_that_there_are(ask, draws, verdict, rule, attention):
    """18 A in 20 mΩ settle above 60 °C draw after draw, which a few draws do not reach."""
    got = ask("temperature-rise", **TOLD | {"cell_current_a": 18}, **draws)
    assert got.settled_peak_temperature_c > 60 > got.single_draw_temperature_c
    assert got.limits[0].verdict == verdict
    assert rule in rules(got)
    assert got.attention == attention
    # a known number is not compared with draws without end
    assert any("endless draws" in one.sentence.lower() for one in got.findings) is (not draws)
    assert ("one draw of 5 s the" in got.headline) is (draws == {"draws": 1})


def test_without_a_number_one_draw_or_any_number_decides(ask):
    """Nobody stops at a number that was not given: draws without end decide."""
    cool = ask("temperature-rise", **TOLD | {"cell_current_a": 5})
    assert cool.settled_peak_temperature_c < 50
    assert cool.limits[0].verdict == "within_limit"
    hot = ask("temperature-rise", **TOLD | {"cell_current_a": 100}, draw_length_s=10)
    assert hot.single_draw_temperature_c > 60
    assert hot.limits[0].verdict == "over_limit"
    assert hot.attention == "warning"


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ({}, "over_limit"),
        ({"surroundings": "pocket"}, "over_limit"),
        ({"cell_resistance_ohm": 0.03}, "over_limit"),
        ({"cell_resistance_ohm": 0.015}, "within_limit"),
        ({"cell_resistance_ohm": 0.03, "surroundings": "pocket"}, "over_limit"),
        ({"cell_resistance_ohm": 0.03, "surroundings": "room"}, "within_limit"),
        ({"cell_resistance_ohm": 0.03, "heat_transfer_w_m2k": 2}, "over_limit"),
        ({"surroundings": "room"}, "within_limit"),
    ],
)
def test_what_was_not_given_counts_as_the_worst_case(ask, given, verdict):
    """7 A in a cell of 2.5 Ah: too hot or not by its resistance, and by what lets the heat out."""
    usual = {"cell_size": "18650", "cell_current_a": 7, "cell_capacity_ah": 2.5}
    got = ask("temperature-rise", **usual, **given)
    assert got.limits[0].verdict == verdict
    told = {"surroundings", "heat_transfer_w_m2k"} & given.keys()
    over = rules(got).get("over-stop-temperature")
    # who has it in still air finds that figure too
    assert ("In still air" in (over.sentence if over else "")) is (bool(over) and not told)
    assert (
        "closed tube" in got.headline
        or "still air" in got.headline
        or "heat transfer" in got.headline
    )


@given(st.data())
def test_more_current_never_gets_a_milder_word(ask, drawn, data):
    """Whatever else is given or left out, a higher current is never judged more mildly."""
    body = data.draw(drawn("temperature-rise", cell_size="18650"))
    low, high = sorted(data.draw(st.tuples(st.floats(0, 200), st.floats(0, 200))))
    mild, grave = (
        ask("temperature-rise", **body | {"cell_current_a": amperes}) for amperes in (low, high)
    )
    assert GRAVITY.index(mild.verdict) <= GRAVITY.index(grave.verdict)
    assert mild.peak_temperature_c - grave.peak_temperature_c <= 1e-9 * abs(
        grave.peak_temperature_c
    )


@pytest.mark.parametrize("left_out", ["cell_capacity_ah", "surroundings", "cell_resistance_ohm"])
@given(current_a=st.floats(0, 40), pause_s=st.floats(0, 300))
def test_leaving_a_field_out_is_never_milder(ask, left_out, current_a, pause_s):
    """A verdict on a cell of which less is known is at least as grave."""
    told = TOLD | {"cell_current_a": current_a, "pause_s": pause_s, "cell_capacity_ah": 2.5}
    known = ask("temperature-rise", **told)
    less = {name: value for name, value in told.items() if name != left_out}
    unknown = ask("temperature-rise", **less)
    assert GRAVITY.index(unknown.limits[0].verdict) >= GRAVITY.index(known.limits[0].verdict)


@pytest.mark.parametrize(("draw_s", "pause_s"), [(0.5, 300), (5, 30), (31, 31), (3, 0)])
def test_short_draws_make_the_heat_of_a_load_of_minutes(ask, draw_s, pause_s):
    """By hand: 10 A in 40 mΩ lose 0.4 V and, by slow processes that draw after draw keeps going, 0.15 V."""
    body = TOLD | {"cell_resistance_ohm": 0.04, "draw_length_s": draw_s, "pause_s": pause_s}
    got = ask("temperature-rise", **body)
    assert got.cell_loss_w == pytest.approx(5.5)
    held = ask("temperature-rise", **body | {"cell_current_a": got.continuous_current_a})
    assert held.continuous_temperature_c == pytest.approx(60)


@pytest.mark.parametrize(
    ("after_s", "ohm"), [(0.1, 0.024), (1, 0.032), (5, 0.4 / 11), (10, 0.04), (60, 0.04)]
)
def test_a_resistance_counts_by_when_it_was_read(ask, after_s, ohm):
    """P. Kollmeyer, DOI 10.17632/wykht8y7tg.1: 24, 32 and 40 mΩ after 0.1, 1 and 10 s; with 40 mΩ 10 A make 5.5 W."""
    told = {"cell_resistance_ohm": ohm, "cell_resistance_after_s": after_s}
    got = ask("temperature-rise", **CELL, **told)
    assert got.cell_loss_w == pytest.approx(5.5, rel=0.02)
    later = ask("temperature-rise", **CELL, **told, cell_resistance_tolerance_ohm=0.002)
    assert later.cell_loss_w >= got.cell_loss_w + 10 * 10 * 0.002 - 1e-9


@pytest.mark.parametrize(
    ("known", "ohm"),
    [
        ({}, 0.048),
        ({"cell_capacity_ah": 3}, 0.04),
        ({"cell_capacity_ah": 2.5}, 0.048),
        ({"cell_capacity_ah": 2.5, "cell_rating_a": 20}, 0.048),
        ({"cell_capacity_ah": 2.5, "cell_rating_a": 30}, 0.0367),
        ({"cell_capacity_ah": 2.5, "cell_health": 0.8}, 0.048 * 1.9),
    ],
)
def test_a_resistance_that_nobody_measured_follows_from_what_is_known(ask, known, ohm):
    """0.12 Ω·Ah over the capacity, at most 1.1 V over the rating, and 1.9 times as much at a health of 0.8."""
    got = ask("temperature-rise", **CELL, **known)
    assert got.cell_loss_w == pytest.approx(10 * (10 * ohm + 0.15))
    (listed,) = [one for one in got.assumptions if one.name == "cell_resistance_ohm"]
    assert listed.value == pytest.approx(ohm)


@pytest.mark.parametrize(("size", "ohm"), [("18350", 0.0892), ("18650", 0.048), ("26650", 0.048)])
def test_a_smaller_size_has_more_resistance(ask, size, ohm):
    """By hand: 35 of 65 mm leave 1.35 of 2.5 Ah, and 0.12 Ω·Ah over that; a larger size counts as 2.5 Ah."""
    got = ask("temperature-rise", cell_size=size, cell_current_a=10)
    (listed,) = [one for one in got.assumptions if one.name == "cell_resistance_ohm"]
    assert listed.value == pytest.approx(ohm, rel=1e-3)
    assert ("a cell of 1.35 Ah" in listed.origin) is (size == "18350")


@pytest.mark.parametrize("known", [{}, {"cell_resistance_ohm": 0.02}, {"cell_rating_a": 35}])
def test_a_table_has_the_figures_of_its_questions(known):
    """Over an axis of air from −20 to 60 °C and one of capacities, each cell is what its own question answers."""
    airs_c, capacities_ah = np.array([[-20.0], [0.0], [25.0], [60.0]]), np.array([[1.0, 2.5]])
    told = {
        "cell_size": "18650",
        "cell_current_a": 8,
        "cell_resistance_tolerance_ohm": 0.005,
    } | known
    over = figures_over(
        QUESTION, told, {"ambient_temperature_c": airs_c, "cell_capacity_ah": capacities_ah}
    )
    for i, air_c in enumerate(airs_c[:, 0]):
        for j, ah in enumerate(capacities_ah[0]):
            body = told | {"ambient_temperature_c": float(air_c), "cell_capacity_ah": float(ah)}
            one = structs.asdict(QUESTION.figures(convert(body, TemperatureRise)))
            for name, value in one.items():
                grid = np.broadcast_to(getattr(over, name), (4, 2))
                assert grid[i, j] == pytest.approx(value), name


def test_an_aged_cell_is_sooner_empty(ask):
    """By hand: 0.8 of 2.5 Ah are 144 draws of 10 A and 5 s, not 180."""
    body = TOLD | {"cell_capacity_ah": 2.5}
    assert ask("temperature-rise", **body).draws_until_empty == pytest.approx(180)
    assert ask("temperature-rise", **body, cell_health=0.8).draws_until_empty == pytest.approx(144)


@pytest.mark.parametrize(
    ("air_c", "cold"), [(10, False), (10 - ANY, True), (0, True), (-20, True), (25, False)]
)
def test_cold_is_said(ask, air_c, cold):
    """P. Kollmeyer, DOI 10.17632/wykht8y7tg.1: a cell at 10 °C has nearly half as much resistance again."""
    found = rules(ask("temperature-rise", **TOLD, ambient_temperature_c=air_c))
    assert ("cold" in found) is cold
    if cold:
        assert found["cold"].severity == "caution"
        assert "times its resistance at 25 °C" in found["cold"].sentence


@pytest.mark.parametrize(("air_c", "ratio"), [(0, 2.3), (-20, 6.1), (40, 0.89), (60, 0.89)])
def test_the_resistance_is_that_of_a_cell_as_cold_or_warm_as_the_air(ask, air_c, ratio):
    """Measured: 2.3 times the resistance of 25 °C at 0 °C, 6.1 times at −20 °C, 0.89 times at 40 °C."""
    got = ask("temperature-rise", **TOLD, ambient_temperature_c=air_c)
    assert got.cell_loss_w == pytest.approx(10 * (0.2 * ratio + 0.15))
    one_s = ask("temperature-rise", **TOLD, ambient_temperature_c=air_c, draw_length_s=0.1, draws=1)
    rise_k = one_s.peak_temperature_c - air_c
    assert rise_k == pytest.approx(got.cell_loss_w * 0.1 / got.heat_capacity_j_k, rel=1e-4)


@given(st.floats(-20, 25), st.floats(-20, 25), st.floats(0, 60), st.floats(0, 300))
def test_colder_air_never_makes_a_hotter_cell(ask, one_c, other_c, current_a, pause_s):
    """Once a cold cell has warmed up, it has the resistance of a warm one: it never overtakes it."""
    body = TOLD | {"cell_current_a": current_a, "pause_s": pause_s, "cell_capacity_ah": 2.5}
    cold, warm = (
        ask("temperature-rise", **body, ambient_temperature_c=air_c)
        for air_c in sorted((one_c, other_c))
    )
    for name in ("peak_temperature_c", "single_draw_temperature_c", "continuous_temperature_c"):
        assert getattr(cold, name) <= getattr(warm, name) + 1e-9 * abs(getattr(warm, name))
    assert cold.continuous_current_a >= warm.continuous_current_a - 1e-9


@given(st.floats(-10, 60), st.floats(-10, 60), st.floats(0, 40), st.floats(0, 300))
def test_warmer_air_never_gets_a_milder_word(ask, one_c, other_c, current_a, pause_s):
    """Below −10 °C nothing is judged as within; from there on warmer air is at least as grave."""
    body = TOLD | {"cell_current_a": current_a, "pause_s": pause_s, "cell_capacity_ah": 2.5}
    mild, grave = (
        ask("temperature-rise", **body, ambient_temperature_c=air_c)
        for air_c in sorted((one_c, other_c))
    )
    assert GRAVITY.index(mild.verdict) <= GRAVITY.index(grave.verdict)


def test_a_cold_cell_by_an_ode_solver(ask):
    """SciPy's solve_ivp with the resistance at the cell's temperature ends cooler, from 0 °C and 10 A on."""
    at_c, ratio = (-20, -10, 0, 10, 25, 40), (6.1, 3.8, 2.3, 1.45, 1, 0.89)
    body = TOLD | {"ambient_temperature_c": 0, "draws": 1, "draw_length_s": 600}
    got = ask("temperature-rise", **body)

    def slope(_, celsius):
        volts = 10 * 0.02 * np.interp(celsius[0], at_c, ratio)
        lost_w = 10 * (volts + min(volts, 0.15))
        return [(lost_w - got.conductance_w_k * celsius[0]) / got.heat_capacity_j_k]

    solved = solve_ivp(slope, (0, 600), [0.0], max_step=1, rtol=1e-8).y[0, -1]
    assert 30 < solved < got.peak_temperature_c < 75
    # the lowest bound is that of a cell that starts at 10 °C, and the working says so
    steps = {step.what: step for step in got.working}
    assert steps["Peak of one draw of 600 s"].with_numbers.startswith("10 °C + ")
    assert "Heat made in a cell in air of 10 °C, with its highest resistance after 10 s" in steps


def test_no_temperature_is_rounded_onto_its_stop(ask):
    """A peak just below the stop is printed with the digits that show it."""
    peak_c = ask("temperature-rise", **TOLD, draws=30).peak_temperature_c
    stop_c = ceil(peak_c)
    got = ask("temperature-rise", **TOLD, draws=30, stop_temperature_c=stop_c)
    assert got.limits[0].verdict != "over_limit"
    assert f"about {stop_c} °C" not in got.headline
    assert f"about {peak_c:.3g} °C" in got.headline
    over = ask("temperature-rise", **TOLD, draws=30, stop_temperature_c=peak_c - 1e-4)
    assert f"about {stop_c} °C" in over.headline


def test_a_current_without_a_pause_ends_when_the_cell_is_empty(ask):
    """4.2 A never bring 2.5 Ah to 60 °C before the cell is empty, though the steady temperature is higher."""
    body = TOLD | {"cell_current_a": 4.2}
    endless = ask("temperature-rise", **body)
    assert endless.continuous_temperature_c > 60
    assert "continuous-too-hot" in rules(endless)
    # by hand: 0.3528 W for 2143 s into 47.424 J/K warm it by less than 16 K
    assert "continuous-too-hot" not in rules(ask("temperature-rise", **body, cell_capacity_ah=2.5))


@pytest.mark.parametrize(("draws", "near"), [(60, False), (1000, True)])
def test_close_to_the_stop_is_a_caution_and_little_headroom(ask, draws, near):
    """A rise that uses more than nine tenths of what is allowed is said, and the verdict knows it."""
    body = TOLD | {"cell_current_a": 5}
    peak_c = ask("temperature-rise", **body, draws=1000).peak_temperature_c
    got = ask("temperature-rise", **body, draws=draws, stop_temperature_c=25 + 1.05 * (peak_c - 25))
    assert got.limits[0].verdict == ("little_headroom" if near else "within_limit")
    assert ("near-stop-temperature" in rules(got)) is near
    assert (got.attention == "caution") is near


@pytest.mark.parametrize(
    ("draws", "verdict"),
    [
        ({"draw_length_s": 5, "pause_s": 30}, "over_limit"),
        ({"draw_length_s": 2, "pause_s": 60, "surroundings": "room"}, "within_limit"),
        ({"draw_length_s": 5, "pause_s": 30, "surroundings": "pocket"}, "over_limit"),
    ],
)
def test_no_pack_is_within_its_limits_where_a_cell_may_fail(ask, draws, verdict):
    """35 W from one cell rated 20 A: within its rating, but possibly above 90 °C in long draws."""
    pack = {"layout": "1S1P", "cell_rating_a": 20, "output_power_w": 35, "cell_capacity_ah": 2.5}
    got = ask("assessment", **pack, cell_size="18650", **draws)
    assert got.headroom > 0.2
    assert got.verdict == verdict


@given(low=st.floats(1, 150), high=st.floats(1, 150), given_=st.data())
def test_more_watts_never_get_a_milder_word(ask, low, high, given_):
    """Two cells in series, whatever of the cell is known."""
    known = {
        "cell_size": "18650",
        "cell_capacity_ah": 2.5,
        "surroundings": "pocket",
        "cell_resistance_ohm": 0.022,
        "pause_s": 60,
    }
    some = given_.draw(st.sets(st.sampled_from(sorted(known))))
    pack = {"layout": "2S1P", "cell_rating_a": 25} | {name: known[name] for name in some}
    low, high = sorted((low, high))
    try:
        mild, grave = (ask("assessment", **pack, output_power_w=watts) for watts in (low, high))
    except NoSolution:
        return
    assert GRAVITY.index(mild.verdict) <= GRAVITY.index(grave.verdict)


TWENTY_ONE = {"cell_size": "21700", "cell_current_a": 9, "cell_capacity_ah": 4}


@pytest.mark.parametrize("question", ["temperature-rise", "assessment"])
def test_a_resistance_that_was_measured_is_never_taken_for_the_default(ask, question):
    """By hand, 9 A in 30 mΩ make 3.8 W, and in 31 mΩ 3.9 W: more resistance is never judged more mildly."""
    pack = {"layout": "2S1P", "cell_rating_a": 25, "output_power_w": 42}
    more = pack | {"cell_size": "21700", "cell_capacity_ah": 4}
    body = (more if question == "assessment" else TWENTY_ONE) | {"surroundings": "pocket"}
    for ohm in (0.025, 0.029, 0.03, 0.031):
        got = ask(question, **body, cell_resistance_ohm=ohm)
        assert (got.verdict, got.attention) == ("over_limit", "warning"), ohm
        assert "cell_resistance_ohm" not in {one.name for one in got.assumptions}
    unknown = ask(question, **body)
    assert (unknown.verdict, unknown.attention) == ("over_limit", "warning")
    (listed,) = [one for one in unknown.assumptions if one.name == "cell_resistance_ohm"]
    assert (listed.value, listed.unit) == (0.03, "Ω")
    assert "after 10 s" in listed.origin


@given(st.data())
def test_more_resistance_never_gets_a_milder_word(ask, drawn, data):
    """Whatever else is given or left out, also across the default of a cell of 3 Ah, 40 mΩ."""
    body = data.draw(drawn("temperature-rise", cell_size="18650"))
    near = st.sampled_from([0.039, 0.04, 0.041]) | st.floats(0, 0.2)
    low, high = sorted(data.draw(st.tuples(near, near)))
    mild, grave = (
        ask("temperature-rise", **body | {"cell_resistance_ohm": r}) for r in (low, high)
    )
    assert GRAVITY.index(mild.verdict) <= GRAVITY.index(grave.verdict)


@pytest.mark.parametrize(("amperes", "verdict"), [(4, "within_limit"), (6, "over_limit")])
def test_heat_that_is_open_counts(ask, amperes, verdict):
    """In 5 s draws of 2.6 Ah a new cell comes to 48 °C at most with 4 A, and with 6 A to 64 °C in a closed tube."""
    body = {"cell_size": "18650", "cell_current_a": amperes, "cell_capacity_ah": 2.6}
    got = ask("temperature-rise", **body)
    limit, rating = got.limits
    assert (rating.name, rating.missing) == ("continuous_rating", "cell_rating_a")
    assert (got.limits[0].verdict, limit.missing) == (verdict, UNSET)
    assert ("over-stop-temperature" in rules(got)) is (verdict == "over_limit")
    assert ask("temperature-rise", **body, surroundings="room").limits[0].verdict == "within_limit"


@pytest.mark.parametrize(("stop_c", "spoken"), [(50, False), (60, False), (60.1, True), (90, True)])
def test_a_stop_above_the_usual_one_is_a_caution(ask, stop_c, spoken):
    """60 °C is the usual upper end of discharge, from memory, unconfirmed."""
    got = ask("temperature-rise", **TOLD | {"cell_current_a": 3}, stop_temperature_c=stop_c)
    assert ("stop-temperature-above-usual" in rules(got)) is spoken
    assert got.limits[0].verdict == "within_limit"
    assert (got.attention == "caution") is spoken
    assert ("above 60 °C, the usual highest temperature for discharge" in got.headline) is spoken
    pack = {"layout": "2S1P", "cell_rating_a": 25, "output_power_w": 10, "cell_size": "18650"}
    whole = ask("assessment", **pack, cell_capacity_ah=2.5, stop_temperature_c=stop_c)
    assert (whole.attention == "caution") is spoken


@pytest.mark.parametrize("ohm", [0.5, 0.7])
def test_a_coil_far_below_the_rating_raises_no_alarm(ask, ohm):
    """6 and 9 A from a 20 A cell in usual draws in still air: nothing graver than a note."""
    pack = {"layout": "1S1P", "cell_rating_a": 20, "cell_capacity_ah": 2.6, "cell_size": "18650"}
    got = ask("assessment", **pack, coil_reading_ohm=ohm, surroundings="room")
    assert (got.verdict, got.attention) == ("within_limit", "note")


def test_a_closed_tube_that_nobody_ruled_out_counts(ask):
    """6 A from the same cell come to 64 °C in a closed tube, if its resistance is high: draw after draw until empty."""
    pack = {"layout": "1S1P", "cell_rating_a": 20, "cell_capacity_ah": 2.6, "cell_size": "18650"}
    got = ask("assessment", **pack, coil_reading_ohm=0.7)
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    assert "That is in a closed tube, which was assumed." in got.headline


@pytest.mark.parametrize("watts", range(10, 45, 5))
def test_everyday_draws_of_cells_that_nobody_measured_raise_no_alarm(ask, watts):
    """Two 25 A cells in series in draws of 3 s with pauses of a minute."""
    pack = {"layout": "2S1P", "cell_rating_a": 25, "cell_capacity_ah": 2.6, "cell_size": "18650"}
    got = ask("assessment", **pack, output_power_w=watts, draw_length_s=3, pause_s=60)
    assert (got.verdict, got.attention) == ("within_limit", "note")
    # measured, they carry nearly twice as much
    known = {"cell_resistance_ohm": 0.02, "surroundings": "room"}
    much = ask("assessment", **pack, **known, output_power_w=2 * watts, draw_length_s=3, pause_s=60)
    assert (much.verdict, much.attention) == ("within_limit", "note")


def test_no_minus_stands_before_a_zero(ask):
    """By hand: 0.16 A² · 2 · 47 mΩ warm the cell by 0.3 K, from −0.5 to −0.2 °C, which is rounded up to 0."""
    got = ask("temperature-rise", **TOLD | {"cell_current_a": 0.4}, ambient_temperature_c=-0.5)
    assert -1 < got.peak_temperature_c < 0
    assert "about 0 °C" in got.headline


def test_the_low_end_of_a_guessed_resistance_ages_too(ask):
    """An aged cell of which the resistance is guessed is hotter at both ends: its verdict gets no milder."""
    body = {"cell_size": "18650", "cell_capacity_ah": 1.7, "cell_current_a": 6, "pause_s": 0}
    order = ("within_limit", "little_headroom", "not_judged", "over_limit")
    words = [
        ask("temperature-rise", **body, cell_health=health, draws=60).verdict
        for health in (1.0, 0.95, 0.9, 0.85, 0.8)
    ]
    assert sorted(words, key=order.index) == words


@pytest.mark.parametrize(("amps", "told"), [(60, True), (1, False)])
def test_what_only_the_pauses_keep_cool_is_in_the_headline(ask, amps, told):
    """One short draw of any current is mild: beside its temperature stands what a stuck switch does."""
    got = ask("temperature-rise", cell_current_a=amps, cell_size="18650", draws=1)
    assert got.limits[0].verdict == "within_limit"
    assert ("(without a pause it gets hotter than 60 °C)" in got.headline) is told


def test_a_cool_draw_above_the_rating_is_over_the_limit(ask):
    """One short draw of 60 A hardly warms a cell rated 20 A; without a rating the headline says so."""
    draw = {"cell_current_a": 60, "cell_size": "18650", "draw_length_s": 2, "draws": 1}
    got = ask("temperature-rise", **draw, cell_rating_a=20)
    assert got.verdict == "over_limit"
    assert "over-rating" in {one.rule for one in got.findings}
    assert got.headline.startswith("Over the limit: continuous rating.")
    unknown = ask("temperature-rise", **draw)
    assert "Not judged: continuous rating." in unknown.headline


def test_a_current_without_a_rating_is_within_nothing(ask):
    """One short draw of 60 A stays cool, and nobody knows whether the cell may carry it: the one word says so."""
    body = TOLD | {"cell_current_a": 60, "draws": 1, "draw_length_s": 1}
    got = ask("temperature-rise", **body)
    assert [one.verdict for one in got.limits] == ["within_limit", "not_judged"]
    assert got.verdict == "not_judged"
    assert ask("temperature-rise", **body, cell_rating_a=25).verdict == "over_limit"


@pytest.mark.parametrize("left_out", [(), ("surroundings",)])
def test_without_a_capacity_the_form_agrees_with_the_table(ask, left_out):
    """The same current and draws have the same word, and no lower a figure, as printed for cells of 2.5 Ah or more."""
    table = printed_table("temperature-by-draw")
    unknown = {n: v for n, v in table.fixed.items() if n not in ("cell_capacity_ah", *left_out)}
    for row in table.rows:
        for column, cell in zip(table.columns, row.cells, strict=True):
            draws = dict(zip(("draw_length_s", "pause_s"), column.values, strict=True))
            got = ask("temperature-rise", **unknown, **draws, cell_current_a=row.value)
            assert ceil(got.peak_temperature_c - 1e-9) == cell.values[0]
            is_over = got.limits[0].verdict == "over_limit"
            assert is_over is (cell.verdicts[0] == "over_limit")


def test_the_resistance_of_an_unknown_capacity_is_listed(ask):
    """By hand: 0.12 V per hour and ampere over 2.5 Ah; an assessment names it beside that of its currents."""
    alone = ask("temperature-rise", cell_size="18650", cell_current_a=5)
    (one,) = [one for one in alone.assumptions if one.name == "cell_resistance_ohm"]
    assert one.value == pytest.approx(0.048)
    assert "2.5 Ah" in one.origin
    pack = {"layout": "1S1P", "cell_rating_a": 20, "output_power_w": 15, "cell_size": "18650"}
    listed = {one.name: one.value for one in ask("assessment", **pack).assumptions}
    assert listed["cell_resistance_ohm"] == pytest.approx(0.04)
    assert listed["cell_resistance_ohm.heat"] == pytest.approx(0.048)
    assert "cell_resistance_ohm.heat" not in {
        one.name for one in ask("assessment", **pack, cell_capacity_ah=2.5).assumptions
    }


@pytest.mark.parametrize(
    ("draws", "said"),
    [
        (
            {"draws": 1, "draw_length_s": 2},
            "18650 cells, a cell current of 4 A and a single draw of 2 s;",
        ),
        (
            {"draws": 12, "draw_length_s": 2},
            "18650 cells, a cell current of 4 A and 12 draws of 2 s;",
        ),
        ({"draws": 12}, "18650 cells, a cell current of 4 A and 12 draws;"),
        ({"draw_length_s": 2}, "18650 cells, a cell current of 4 A and draws of 2 s;"),
    ],
)
def test_the_condition_names_cells_first_and_draws_as_people_do(ask, draws, said):
    """A number of draws stands with their length, and the cells come before what they carry."""
    got = ask("temperature-rise", cell_current_a=4, cell_size="18650", **draws)
    assert got.headline.startswith(said)
