"""Each step of the working ends in a figure of the answer."""

from typing import Any, NamedTuple

import pytest
from unequal_packs import packed

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.verdict import Verdict

CELL = {"open_circuit_voltage_v": 4.1, "cell_resistance_ohm": 0.02, "contact_resistance_ohm": 0}
PACK = {"layout": "2S2P", "cell_rating_a": 20, "cell_capacity_ah": 3}
CHARGE = {"layout": "2S2P", "cell_capacity_ah": 3, "cell_resistance_ohm": 0.03}


class TableRow(NamedTuple):
    """A question and the results of its steps: fields of the answer, or numbers by hand."""

    question: str
    asked: dict[str, Any]
    steps: list[str | float]

    def __str__(self) -> str:
        return f"{self.question}, {len(self.steps)} steps"


LOADED = [
    "pack_resistance_ohm",
    "pack_open_circuit_voltage_v",
    "pack_open_circuit_voltage_v",
    "pack_resistance_ohm",
]
SHARED = packed([[CELL, CELL | {"cell_resistance_ohm": 0.04}]])
# by hand: 20 and 40 milliohm side by side, full, on one ohm
FULL_A = 4.2 / (1 + 0.04 / 3)
CHARGED = [
    "cell_charge_limit_a",  # the assumed one, half the capacity in an hour
    0.096,  # by hand: for a charge of hours 3.2 times 30 milliohm
    "constant_current_s",
    "constant_voltage_s",
    "charging_time_s",
    "cell_charge_ah",
    "cell_input_energy_wh",
]
RUN = ["pack_first_current_a", "pack_last_current_a", "running_time_s", "used_capacity", "heat_wh"]


def loss_at_first(cell_ohm):
    """Return what gives the voltage that a cell loses at first, by hand."""

    def loss_v(got):
        fast_v = 0.8 * got.pack_first_current_a * cell_ohm
        return fast_v + min(fast_v, 0.1)

    return loss_v


ROWS = [
    TableRow(
        "unequal-cells",
        SHARED | {"coil_resistance_ohm": 1},
        [*LOADED, "pack_current_a", FULL_A, "worst_cell_current_a", "worst_cell_share"],
    ),
    TableRow(
        "unequal-cells",
        SHARED | {"coil_resistance_ohm": 1, "cell_rating_a": 20},
        [*LOADED, "pack_current_a", FULL_A, "worst_cell_current_a", "worst_cell_share", "headroom"],
    ),
    TableRow(
        "unequal-cells",
        SHARED | {"output_power_w": 20, "efficiency": 0.8, "idle_power_w": 1},
        [*LOADED, 26, "pack_current_a", 26 / 2.8, "worst_cell_current_a", "worst_cell_share"],
    ),
    TableRow("unequal-cells", SHARED, [*LOADED, 0, "worst_cell_current_a"]),
    TableRow("charging", CHARGE | {"layout": "1S1P"}, CHARGED),
    TableRow(
        "charging",
        CHARGE,
        [*CHARGED, "worst_cell_charge_current_a"],
    ),
    TableRow("charging", CHARGE | {"charged_where": "individually"}, CHARGED),
    TableRow(
        "label-check",
        {"cell_size": "18650", "cell_rating_a": 30, "cell_capacity_ah": 3},
        [
            "energy_density_wh_l",
            "usual_capacity_ah",
            "highest_capacity_ah",
            "end_temperature_c",
            "usual_rating_a",
            "usual_rating_a",
            "highest_rating_a",
            "highest_rating_a",
        ],
    ),
    TableRow(
        "temperature-rise",
        {"cell_size": "18650", "cell_current_a": 15},
        [
            "cell_loss_w",
            "heat_capacity_j_k",
            "conductance_w_k",
            "single_draw_temperature_c",
            "peak_temperature_c",
            "continuous_temperature_c",
        ],
    ),
    TableRow(
        "running-time",
        {"layout": "2S1P", "cell_capacity_ah": 3, "cell_health": 0.9, "output_power_w": 40},
        [3 * 0.92 * 0.9, loss_at_first(0.12 / 3 * 1.45), *RUN],
    ),
    TableRow(
        "running-time",
        {
            "layout": "2S1P",
            "cell_capacity_ah": 3,
            "state_of_charge": 0.5,
            "coil_resistance_ohm": 1,
            "draw_length_s": 3,
        },
        [3 * 0.92 * 0.5, loss_at_first(0.12 / 3), *RUN, "draws"],
    ),
    TableRow(
        "layouts",
        {"most_cells": 4, "cell_rating_a": 15, "cell_capacity_ah": 2.5, "output_power_w": 60},
        [
            "considered_count",
            "layout_count",
            # by hand: two cells in series at 2.8 V, 60 W of 0.85
            5.6,
            60 / 0.85,
            60 / 0.85 / 5.6,
            60 / 0.85 / 5.6,
            "headroom of the first",
        ],
    ),
    TableRow(
        "layouts",
        {"most_cells": 4, "cell_rating_a": 1, "cell_capacity_ah": 2.5, "output_power_w": 60},
        ["considered_count", "layout_count"],
    ),
    TableRow(
        "pack",
        PACK,
        [
            "pack_charged_voltage_v",
            "pack_nominal_voltage_v",
            "pack_capacity_ah",
            "pack_energy_wh",
            "pack_resistance_ohm",
            "prospective_short_circuit_a",
            "pack_current_limit_even_a",
            1.5,  # two cells under a coil, by the P − ½ rule
            "pack_current_limit_a",
        ],
    ),
    TableRow(
        "cell-sag",
        {"cell_current_a": 20, "open_circuit_voltage_v": 3.7},
        [
            0.04,  # by hand: 0.12 Ω·Ah over 3 Ah
            "sag_v",
            "lasting_sag_v",
            "lasting_loaded_voltage_v",
            "heat_w",
            "lost_power_ratio",
        ],
    ),
    TableRow(
        "sharing-by-spread",
        {"parallel": 3, "group_current_a": 40, "cell_rating_a": 20},
        [
            "even_share",
            "allowance_share",
            "worst_cell_share",
            "worst_cell_current_a",
            "chance_above_allowance",
            "chance_error",
            "headroom",
        ],
    ),
]


@pytest.mark.parametrize("row", ROWS, ids=[f"{n}: {row}" for n, row in enumerate(ROWS, 1)])
def test_each_step_ends_in_its_figure(ask, row):
    """No step is missing, wrong or superfluous."""
    got = ask(row.question, **row.asked)
    results = [step.result for step in got.working]
    expected = []
    for step in row.steps:
        if step == "headroom" and not hasattr(got, step):
            expected.append(1 - got.worst_cell_current_a / row.asked["cell_rating_a"])
        elif callable(step):
            expected.append(step(got))
        elif step == "headroom of the first":
            expected.append(got.layouts[0].headroom)
        else:
            expected.append(getattr(got, step) if isinstance(step, str) else step)
    assert results == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("coil_ohm", "shown", "verdict"),
    [
        (0.3, "14", Verdict.WITHIN),
        (0.35, "12", Verdict.WITHIN),
        (0.31, "13.55", Verdict.WITHIN),
        # 4.2 V / 0.21001 Ω is 19.99905 A, and 4.2 V / 0.209999 Ω is 20.0001 A, by hand
        (0.21001, "19.999", Verdict.LITTLE),
        (0.21, "20", Verdict.LITTLE),
        (0.209999, "20.0001", Verdict.OVER),
    ],
)
def test_a_result_is_shown_on_its_side_of_each_limit(ask, coil_ohm, shown, verdict):
    """As text a result has four digits, and more where those would hide that a limit is kept or exceeded."""
    got = ask("direct-load", layout="1S1P", cell_rating_a=20, coil_resistance_ohm=coil_ohm)
    (step,) = [s for s in got.working if s.relation == "I_cell = I"]
    assert step.result_shown == shown
    assert got.limits[0].verdict is verdict


@pytest.mark.parametrize("question_id", QUESTIONS)
def test_every_result_is_shown(ask, question_id):
    """Each text is the number itself, rounded in its fourth digit or later."""
    for step in ask(question_id, **QUESTIONS[question_id].example).working:
        assert float(step.result_shown.replace(",", "")) == pytest.approx(step.result, rel=6e-4)
