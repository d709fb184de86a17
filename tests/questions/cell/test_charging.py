"""Charging: time, current against a limit, and where a layout may be charged."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from percell.physics.charging import SLOW_RATIO
from percell.physics.curves import open_circuit_voltage_v, published_curve
from percell.questions.answering.over_table import figures_over
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.verdict import Verdict

NMC = published_curve(chemistry="nmc")
ANY = 1e-6
CELL = {"layout": "1S1P", "cell_capacity_ah": 3}


def rules(answer):
    return {finding.rule: finding for finding in answer.findings}


@given(st.floats(0.2, 10), st.floats(0.05, 1.5), st.floats(0, 1), st.floats(0.001, 0.1))
def test_charge_and_energy_are_kept(ask, capacity_ah, rate, start, resistance_ohm):
    """Charge is capacity times the change of state; energy is at most charged voltage times charge."""
    got = ask(
        "charging",
        layout="2S2P",
        cell_capacity_ah=capacity_ah,
        charge_rate=rate,
        state_of_charge=start,
        cell_resistance_ohm=resistance_ohm,
    )
    assert got.cell_charge_ah == pytest.approx(
        capacity_ah * (got.end_state_of_charge - start), abs=1e-9
    )
    assert 0 <= got.cell_loss_wh <= got.cell_input_energy_wh <= 4.2 * got.cell_charge_ah + 1e-9
    assert got.pack_input_energy_wh == pytest.approx(4 * got.cell_input_energy_wh)
    assert got.charging_time_s == pytest.approx(got.constant_current_s + got.constant_voltage_s)
    # no charge is faster than at constant current throughout
    assert got.charging_time_s >= 3600 * got.cell_charge_ah / (rate * capacity_ah) * (1 - 1e-9)


@pytest.mark.parametrize("current_a", [0.6, 1.5, 3.0])
def test_time_against_an_ode_solver(ask, current_a):
    """The time is what SciPy's solve_ivp finds for the same cell on the same curve."""
    slow_ohm = SLOW_RATIO * 0.03

    def taken_a(soc):
        return min(current_a, (4.2 - float(open_circuit_voltage_v(curve=NMC, soc=soc))) / slow_ohm)

    def ends(_, state):
        return taken_a(state[0]) - 0.15

    ends.terminal = True
    solved = solve_ivp(
        lambda _, state: [taken_a(state[0]) / 3 / 3600],
        (0, 1e5),
        [0.0],
        events=ends,
        rtol=1e-8,
        atol=1e-10,
        max_step=20,
    )
    got = ask("charging", **CELL, charge_current_a=current_a, cell_resistance_ohm=0.03)
    assert got.charging_time_s == pytest.approx(solved.t_events[0][0], rel=1e-4)


@pytest.mark.parametrize(
    ("body", "rule"),
    [({"charge_current_a": 1.2}, 2), ({"charge_rate": 0.25}, 4), ({"charge_rate": 0.1}, 10)],
)
def test_slow_charge_takes_capacity_over_current(ask, body, rule):
    """Common practice, no published source: a slow charge takes capacity over current, and a bit more."""
    got = ask("charging", layout="1S1P", cell_capacity_ah=2.4, cell_resistance_ohm=0.001, **body)
    assert rule * 3600 * 0.97 <= got.charging_time_s <= rule * 3600 * 1.06


def test_usual_values_are_listed(ask):
    """By default the current is half the capacity per hour, its end a twentieth, the start empty."""
    got = ask("charging", **CELL)
    assumed = {a.name: a.value for a in got.assumptions}
    assert got.even_cell_charge_current_a == assumed["charge_current_a"] == 1.5
    assert assumed["end_charge_current_a"] == pytest.approx(0.15)
    assert assumed["state_of_charge"] == 0
    given_all = ask(
        "charging", **CELL, charge_current_a=1.5, end_charge_current_a=0.15, state_of_charge=0.0
    )
    assert given_all.charging_time_s == pytest.approx(got.charging_time_s)
    assert not {"charge_current_a", "end_charge_current_a", "state_of_charge"} & {
        a.name for a in given_all.assumptions
    }


def test_current_below_the_usual_end(ask):
    """A current below the usual end of a charge charges until the voltage is reached, and no longer."""
    got = ask("charging", **CELL, charge_rate=0.03)
    assert got.constant_voltage_s == 0
    assert got.end_state_of_charge > 0.99


@pytest.mark.parametrize(
    ("layout", "where", "allowed"),
    [
        ("1S1P", "in_device", "if_manufacturer_allows"),
        ("1S4P", "in_device", "if_manufacturer_allows"),
        ("2S1P", "in_device", "no"),
        ("2S2P", "in_device", "no"),
        ("2S2P", "in_device_balanced", "if_manufacturer_allows"),
        ("1S1P", "in_device_balanced", "if_manufacturer_allows"),
        ("1S1P", "individually", "each_cell_alone"),
        ("4S2P", "individually", "each_cell_alone"),
    ],
)
def test_by_layout(ask, layout, where, allowed):
    """Common practice, no published source: a string is never charged without monitoring each cell."""
    got = ask("charging", **CELL | {"layout": layout}, charged_where=where)
    assert got.charging_allowed == allowed
    found = rules(got)
    assert ("charging-series-unbalanced" in found) is (allowed == "no")
    assert "charging-by-layout" in found
    assert ("charging-apart-alike" in found) is (where == "individually" and layout != "1S1P")


@pytest.mark.parametrize(
    ("celsius", "spoken"),
    [(-ANY, True), (0, False), (20, False), (40, False), (40 + 1e-4, True), (-40, True)],
)
def test_charging_temperature(ask, celsius, spoken):
    """USFA/NFPA public advice: not below 0 °C nor above 40 °C."""
    found = rules(ask("charging", **CELL, cell_temperature_c=celsius))
    assert ("charging-temperature" in found) is spoken


@pytest.mark.parametrize(("chemistry", "end_v"), [("nmc", 2.5), ("nca", 2.7), ("lfp", 2.0)])
def test_never_below_the_end_voltage(ask, chemistry, end_v):
    """A cell below its end voltage must not be charged; at it, and above, there is no finding."""
    for volts, spoken in [(end_v + ANY, False), (end_v, False), (end_v - ANY, True), (0, True)]:
        found = rules(ask("charging", **CELL, chemistry=chemistry, open_circuit_voltage_v=volts))
        assert ("charging-below-end" in found) is spoken
    assert "Do not charge it." in found["charging-below-end"].sentence


@pytest.mark.parametrize(
    ("charged_v", "rest_v", "spoken"),
    [(4.2, 4.25, False), (4.2, 4.25 + ANY, True), (4.1, 4.15, False), (4.1, 4.16, True)],
)
def test_never_above_its_charged_voltage(ask, charged_v, rest_v, spoken):
    """A cell that rests well above its charged voltage must not be charged."""
    got = ask("charging", **CELL, cell_charged_voltage_v=charged_v, open_circuit_voltage_v=rest_v)
    assert ("charging-above-full" in rules(got)) is spoken
    assert (got.charging_allowed == "no") is spoken


@pytest.mark.parametrize("where", ["in_device", "in_device_balanced", "individually"])
@pytest.mark.parametrize(
    "harm",
    [
        {"cell_temperature_c": -1},
        {"cell_temperature_c": 41},
        {"open_circuit_voltage_v": 2.4},
        {"cell_charged_voltage_v": 4.35},
    ],
)
def test_what_must_not_be_charged_is_not_allowed(ask, where, harm):
    """No answer says "do not charge" in its findings and allows it in its figures."""
    got = ask("charging", **CELL, charged_where=where, **harm)
    assert got.charging_allowed == "no"
    assert got.verdict == "over_limit"
    assert got.attention == "warning"
    # refused before the time is told
    assert 0 < got.headline.index("do not charge the cells") < got.headline.index(" min")


@pytest.mark.parametrize(
    ("current_a", "verdict"),
    [
        (3.6, Verdict.WITHIN),
        (3.6 + ANY * 10, Verdict.LITTLE),
        (4, Verdict.LITTLE),
        (4 + ANY * 10, Verdict.OVER),
    ],
)
def test_against_the_manufacturer_s_limit(ask, current_a, verdict):
    """The verdict compares the current with the manufacturer's charge limit; equal is within."""
    got = ask("charging", **CELL, charge_current_a=current_a, cell_charge_limit_a=4)
    assert got.verdict == verdict
    assert ("charging-over-limit" in rules(got)) is (verdict is Verdict.OVER)


@pytest.mark.parametrize(
    ("rate", "verdict"),
    [(0.1, "not_judged"), (0.5, "not_judged"), (0.5 + ANY, "over_limit"), (1, "over_limit")],
)
def test_against_an_assumed_limit(ask, rate, verdict):
    """Half the capacity per hour is assumed, and proves nothing for a current below it."""
    got = ask("charging", **CELL, charge_rate=rate)
    assert got.verdict == got.limits[0].verdict == verdict
    assert ("charging-over-limit" in rules(got)) is (verdict == "over_limit")
    (limit,) = [a for a in got.assumptions if a.name == "cell_charge_limit_a"]
    assert (limit.value, limit.unit) == (1.5, "A")
    assert got.cell_charge_limit_a == got.limits[0].value == 1.5
    assert "a charge limit of 1.5 A per cell" in got.headline


@pytest.mark.parametrize("question", ["charging", "joining-pair"])
def test_one_limit_is_assumed_everywhere(ask, question):
    """The same cell has the same limit, whether a charger charges it or a neighbour."""
    more = {"layout": "1S1P"} if question == "charging" else {"voltage_difference_v": 0.1}
    got = ask(question, cell_capacity_ah=2.6, **more)
    assert got.cell_charge_limit_a == pytest.approx(1.3)


def test_each_limit_is_looked_at_or_named(ask):
    """What was not given is named, and does not spoil the verdict on the others."""
    got = ask("charging", **CELL, cell_charge_limit_a=4)
    assert [one.name.value for one in got.limits] == [
        *("charge_current", "charge_temperature", "charged_voltage", "end_voltage")
    ]
    assert [one.missing or None for one in got.limits] == [
        *(None, "cell_temperature_c", None, "open_circuit_voltage_v")
    ]
    assert got.verdict == "within_limit"
    assert "Not judged: charge temperature, end voltage." in got.headline


@pytest.mark.parametrize(
    ("celsius", "cool"), [(0, True), (9, True), (15 - ANY, True), (15, False), (-ANY, False)]
)
def test_cool_cells_take_less(ask, celsius, cool):
    """Common practice, no published source: a reduced current from 0 up to 10 or 15 °C."""
    got = ask("charging", **CELL, cell_charge_limit_a=4, cell_temperature_c=celsius)
    assert ("charging-cool" in rules(got)) is cool
    assert got.attention == ("caution" if cool else "warning" if celsius < 0 else "note")


@pytest.mark.parametrize(
    ("layout", "limit", "worst_a"),
    [("1S1P", {}, 1.5), ("1S3P", {}, 1.5), ("2S4P", {"cell_charge_limit_a": 1.2}, 1.2)],
)
def test_the_current_by_default_keeps_the_limit(ask, layout, limit, worst_a):
    """Left out, the current is what the worst-case cell of a group may take."""
    got = ask("charging", **CELL | {"layout": layout}, **limit)
    assert got.worst_cell_charge_current_a == pytest.approx(worst_a)
    assert got.verdict != "over_limit"


def test_parallel_group_is_judged_by_its_worst_case_cell(ask):
    """In a group one cell takes more than its share; cells charged individually do not."""
    body = CELL | {"layout": "1S2P", "charge_current_a": 3, "cell_charge_limit_a": 3.9}
    inside = ask("charging", **body)
    assert inside.worst_cell_charge_current_a == pytest.approx(4)
    assert inside.charger_current_a == 6
    assert inside.verdict == Verdict.OVER
    apart = ask("charging", **body, charged_where="individually")
    assert apart.worst_cell_charge_current_a == apart.charger_current_a == 3
    assert apart.verdict == Verdict.WITHIN


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"charge_current_a": 1, "charge_rate": 1}, "/charge_current_a"),
        ({"state_of_charge": 0.5, "open_circuit_voltage_v": 3.6}, "/state_of_charge"),
        ({"charge_current_a": 1, "end_charge_current_a": 1 + ANY}, "/end_charge_current_a"),
        ({"chemistry": "lco"}, "/chemistry"),
        ({"chemistry": "lfp", "cell_charged_voltage_v": 4.6}, "/cell_charged_voltage_v"),
        ({"cell_charged_voltage_v": 2.5}, "/cell_charged_voltage_v"),
    ],
)
def test_contradictions_are_refused(ask, body, pointer):
    """A value given twice, or an impossible one, is refused at its field."""
    with pytest.raises(Refused) as refused:
        ask("charging", **CELL, **body)
    assert refused.value.pointer == pointer


@pytest.mark.parametrize(
    ("capacity_ah", "row"), [(2, "2-ah"), (2.6, "3-ah"), (5, "5-ah"), (5.1, None)]
)
def test_row_on_the_careful_side(ask, capacity_ah, row):
    """Between two rows the link is to the one that takes longer."""
    got = ask(
        "charging",
        layout="1S1P",
        charged_where="individually",
        cell_capacity_ah=capacity_ah,
        charge_current_a=1,
    )
    alone = "charging-by-layout/1s1p/cells-removed-charged-individually"
    assert got.links.table_row == f"/tables/{f'charging-time/{row}' if row else alone}/"


def test_a_table_holds_words_and_numbers(ask):
    """Over layouts, each entry of a table equals the single question."""
    layouts = ["1S1P", "2S1P", "1S3P"]
    got = figures_over(
        QUESTIONS["charging"], {"cell_capacity_ah": 3}, {"layout": np.array(layouts)}
    )
    alone = [ask("charging", **CELL | {"layout": layout}) for layout in layouts]
    assert got.charging_allowed.tolist() == [one.charging_allowed for one in alone]
    assert got.charger_current_a.tolist() == [one.charger_current_a for one in alone]


@pytest.mark.parametrize("layout", ["1S1P", "1S3P", "2S1P", "3S2P"])
def test_assessment_says_where_cells_may_be_charged(ask, layout):
    """A full assessment has the layout's charging rule, as the charging question words it."""
    pack = {"layout": layout, "cell_rating_a": 20, "output_power_w": 30}
    whole = rules(ask("assessment", **pack))["charging-by-layout"]
    assert whole == rules(ask("charging", **CELL | {"layout": layout}))["charging-by-layout"]
    assert ("balancing charger" in whole.sentence) is (layout[0] != "1")


@pytest.mark.parametrize(
    ("layout", "said", "not_said"),
    [
        ("1S1P", ["the cell "], ["in series", "cells in parallel"]),
        ("1S3P", ["the 3 cells in parallel"], ["in series"]),
        ("3S1P", ["3 cells in series"], ["groups", "parallel"]),
        ("3S2P", ["3 groups in series"], ["parallel"]),
    ],
)
def test_the_layout_is_named(ask, layout, said, not_said):
    """One cell, cells in parallel, cells in series and groups in series each have their words."""
    sentence = rules(ask("charging", **CELL | {"layout": layout}))["charging-by-layout"].sentence
    assert layout in sentence
    assert [part for part in said if part not in sentence] == []
    assert [part for part in not_said if part in sentence] == []


@pytest.mark.parametrize(
    ("parallel", "most_a"), [(1, 3.0), (2, 6 / 1.5), (3, 9 * 0.416), (4, 12 * 0.321)]
)
def test_the_worst_cell_of_a_group_by_hand(ask, parallel, most_a):
    """Two cells at 3 A each count as 1½; of more, one has the computed share. The charger gives P times 3 A."""
    got = ask("charging", **CELL | {"layout": f"2S{parallel}P"}, charge_current_a=3)
    assert got.worst_cell_charge_current_a == pytest.approx(most_a, rel=2e-3)
    assert got.charger_current_a == 3 * parallel
    assert got.even_cell_charge_current_a == 3
    assert got.cell_charge_limit_a == 1.5


@pytest.mark.parametrize(
    ("rest", "start"),
    [({}, 0.0), ({"state_of_charge": 0.4}, 0.4), ({"open_circuit_voltage_v": 4.2}, 1.0)],
)
def test_where_a_charge_starts(ask, rest, start):
    """Empty, and listed, unless a state of charge or a voltage at rest is given."""
    got = ask("charging", **CELL, **rest)
    assert got.end_state_of_charge - got.cell_charge_ah / 3 == pytest.approx(start, abs=1e-9)
    assert ("state_of_charge" in {a.name for a in got.assumptions}) is (not rest)


@pytest.mark.parametrize(
    ("current", "listed"),
    [({}, True), ({"charge_current_a": 2}, False), ({"charge_rate": 2 / 3}, False)],
)
def test_how_the_current_is_given(ask, current, listed):
    """In amperes, by capacity, or by default, and only the default is listed."""
    got = ask("charging", **CELL, **current)
    assert got.even_cell_charge_current_a == pytest.approx(2 if current else 1.5)
    assert ("charge_current_a" in {a.name for a in got.assumptions}) is listed


def test_an_end_current_up_to_the_charge_current(ask):
    """A charge whose end current is its charge current has no time at constant voltage."""
    got = ask("charging", **CELL, charge_current_a=1, end_charge_current_a=1)
    assert got.constant_voltage_s == 0
    assert got.cell_charge_ah > 0


@pytest.mark.parametrize(
    ("chemistry", "charged_v", "refused"),
    [
        ("nmc", 2.5, True),
        ("nmc", 2.5 + ANY, False),
        # the curve ends at 3.6 V, and goes on in a straight line for a volt
        ("lfp", 4.6, True),
        ("lfp", 4.6 - ANY, False),
        ("nmc", 4.3, False),
    ],
)
def test_a_charged_voltage_lies_above_the_end(ask, chemistry, charged_v, refused):
    """The charged voltage must be above the empty one, and possible for the chemistry."""
    asked = CELL | {"chemistry": chemistry, "cell_charged_voltage_v": charged_v}
    if refused:
        with pytest.raises(Refused) as error:
            ask("charging", **asked)
        assert error.value.pointer == "/cell_charged_voltage_v"
    else:
        assert ask("charging", **asked).charging_time_s >= 0


@pytest.mark.parametrize(
    ("charged", "rule"),
    [
        ({"cell_charged_voltage_v": 4.25}, True),
        ({"cell_charged_voltage_v": 4.2}, False),
        ({}, False),
    ],
)
def test_a_charge_above_the_chemistry_is_said(ask, charged, rule):
    """A charge above the voltage of the chemistry gets a finding."""
    assert ("charged-above-chemistry" in rules(ask("charging", **CELL, **charged))) is rule


def test_too_fast_names_its_currents(ask):
    """By hand: 3.3 A into 3 Ah, of which 1.5 A is assumed; or a given 3 A."""
    fast = rules(ask("charging", **CELL, charge_rate=1.1))["charging-over-limit"].sentence
    assert fast == (
        "A cell would be charged with up to 3.3 A, above its charge limit of 1.5 A (the usual 0.5 C, because none "
        "was given)."
    )
    # 3.498 A per cell on average: of two, the worst-case cell takes 4/3 of that, 4.664 A
    pair = {"layout": "1S2P", "cell_capacity_ah": 3, "charge_current_a": 3.498}
    assert "up to 4.7 A, above" in rules(ask("charging", **pair))["charging-over-limit"].sentence
    limit = {"charge_rate": 1.1, "cell_charge_limit_a": 3}
    over = rules(ask("charging", **CELL, **limit))["charging-over-limit"].sentence
    assert "3.3 A" in over
    assert "3 A" in over.replace("3.3 A", "")


@pytest.mark.parametrize(
    ("layout", "where", "said"),
    [
        ("1S1P", "individually", False),
        ("2S1P", "individually", True),
        ("1S2P", "individually", True),
        ("2S1P", "in_device_balanced", False),
    ],
)
def test_cells_that_go_back_together_are_charged_alike(ask, layout, where, said):
    """Two or more cells charged individually must reach one voltage, and the finding names it."""
    found = rules(ask("charging", **CELL | {"layout": layout}, charged_where=where))
    assert ("charging-apart-alike" in found) is said
    if said:
        assert "4.2 V" in found["charging-apart-alike"].sentence


def test_the_curve_is_another_cell_s(ask):
    """Every answer names the source of its curve."""
    assert "curve-borrowed" in rules(ask("charging", **CELL))


@pytest.mark.parametrize("current_a", [0.7, 1.1, 1.3, 1.6, 2, 2.5, 2.9, 3])
def test_the_working_can_be_worked_out(ask, current_a):
    """What is put in for the time at constant current comes to that time."""
    got = ask("charging", **CELL, charge_current_a=current_a)
    step = next(step for step in got.working if step.result == got.constant_current_s)
    factor, ah, amps = map(float, re.findall(r"[0-9.]+", step.with_numbers))
    assert factor * ah / amps == pytest.approx(step.result, rel=1e-3)
    # to the last digit that is shown
    assert ah == float(f"{current_a * got.constant_current_s / 60 / 60:.4g}")


def test_the_energy_given_is_what_is_stored_and_what_is_lost(ask):
    """The two parts of the step add up to the energy, each with four digits."""
    got = ask("charging", **CELL, charge_current_a=3, cell_resistance_ohm=0.03)
    (step,) = [one for one in got.working if one.what == "Energy that goes into the cell"]
    stored, lost = (float(part) for part in re.findall(r"[0-9.]+", step.with_numbers))
    assert lost == pytest.approx(got.cell_loss_wh, rel=1e-3)
    assert stored + lost == pytest.approx(step.result, rel=1e-3)
    assert 0 < lost < stored


@pytest.mark.parametrize(
    ("charge", "allowed", "leads"),
    [
        ({"cell_charge_limit_a": 4}, "no", "do not charge the cells with this current"),
        (
            {"cell_charge_limit_a": 4, "cell_temperature_c": -5},
            "no",
            "do not charge the cells with this current or at this temperature",
        ),
        (
            {},
            "if_manufacturer_allows",
            "charge a cell with 6.67 A only if its manufacturer allows that much",
        ),
    ],
)
def test_a_charge_over_its_limit_is_refused_before_the_time_is_told(ask, charge, allowed, leads):
    """By hand: 5 A a cell for two in parallel are 10 A, of which one may take two thirds, 6.67 A."""
    got = ask("charging", layout="1S2P", cell_capacity_ah=3, charge_current_a=5, **charge)
    minutes = (
        97 if "cell_temperature_c" not in charge else 240
    )  # 3 times the resistance in the cold
    assert (got.verdict, got.attention) == ("over_limit", "warning")
    assert got.charging_allowed == allowed
    assert f": {leads} (it would take about {minutes} min)." in got.headline
    assert "a charge current of 5 A per cell" in got.headline
    alone = {"layout": "1S2P", "cell_capacity_ah": 3, "charged_where": "individually"}
    each = ask("charging", **alone, charge_current_a=5, **charge)
    assert each.charging_allowed == ("no" if charge else "each_cell_alone")


def test_a_string_without_balance_is_a_caution_and_says_what_to_do(ask):
    """It is over no limit, so the answer does not say "do not"."""
    got = ask("charging", layout="2S1P", cell_capacity_ah=3, cell_charge_limit_a=4)
    assert (got.verdict, got.attention) == ("not_judged", "caution")
    assert "do not" not in got.headline.lower()
    assert "charge each cell individually, or use a balancing charger" in got.headline


def test_a_charge_limit_that_looks_like_a_discharge_rating_allows_nothing(ask):
    """18 A into 3 Ah is not within a limit of 20 A, and the answer asks whether that is the discharge rating."""
    got = ask("charging", **CELL, charge_current_a=18, cell_charge_limit_a=20)
    assert got.verdict == Verdict.NOT_JUDGED
    assert got.attention == "caution"
    assert "Is 20 A the discharge rating?" in rules(got)["charge-limit-doubted"].sentence


def test_no_verdict_is_milder_than_the_refusal_of_a_string_that_nobody_watches(ask):
    """Series cells charged as a whole are not judged; balanced or each alone they are."""
    asked = {"layout": "2S1P", "cell_capacity_ah": 3, "cell_charge_limit_a": 4}
    got = ask("charging", **asked, open_circuit_voltage_v=3.4, cell_temperature_c=20)
    assert got.charging_allowed == "no"
    assert got.verdict == Verdict.NOT_JUDGED
    assert {one.name: one.verdict for one in got.limits}["charged_voltage"] == got.verdict
    for where in ("in_device_balanced", "individually"):
        other = ask("charging", **asked, cell_temperature_c=20, charged_where=where)
        assert other.verdict == Verdict.WITHIN


@pytest.mark.parametrize(
    ("at_c", "expected"),
    [(14.9, Verdict.NOT_JUDGED), (6, Verdict.NOT_JUDGED), (15, Verdict.WITHIN)],
)
def test_a_charge_limit_for_room_temperature_allows_nothing_in_a_cool_cell(ask, at_c, expected):
    """Below 15 °C many manufacturers allow less, so the usual limit judges no current as within."""
    current = {"charge_current_a": 3.4, "cell_charge_limit_a": 4}
    got = ask("charging", **CELL, **current, cell_temperature_c=at_c)
    assert got.limits[0].verdict == expected
    assert (
        ask(
            "charging", **CELL, charge_current_a=5, cell_charge_limit_a=4, cell_temperature_c=at_c
        ).verdict
        == Verdict.OVER
    )
