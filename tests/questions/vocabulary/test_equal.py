"""Numbers equal to a billionth are equal: floating-point noise decides no rule."""

from math import inf, nextafter
from typing import Any, NamedTuple

import pytest
from unequal_packs import packed

from percell.questions.vocabulary.usual_spread import KEPT

NOISE = 1e-10  # the noise of a figure; a billionth is still equal
MORE = 1e-8  # more than noise
CELL = {"layout": "1S1P", "cell_rating_a": 20}
CONVERTER = CELL | {"output_power_w": 20, "cell_cutoff_voltage_v": 3.2, "efficiency": 1}
PAIR = {"cell_capacity_ah": 3, "cell_resistance_ohm": 0.02, "contact_resistance_ohm": 0.005}
CHARGE = {"layout": "1S1P", "cell_capacity_ah": 3}
# the careful share of three cells behind a converter, as drawn
CAREFUL = KEPT[3][0]
LABEL = {"cell_size": "18650", "cell_capacity_ah": 0.1}
# 10 A in 20 milliohm are 2 W, which 0.04 W/K hold 50 K above 25 °C of air
WARM = {
    "cell_current_a": 10,
    "cell_resistance_ohm": 0.01,
    "cell_mass_kg": 0.04,
    "specific_heat_j_kgk": 1000,
    "cell_area_m2": 0.004,
    "heat_transfer_w_m2k": 10,
    "ambient_temperature_c": 25,
    "draw_length_s": 10,
}
# from 4 V full to 3 V empty in a straight line, and nothing lost on the way
STRAIGHT = {
    "layout": "1S1P",
    "cell_capacity_ah": 3,
    "coil_resistance_ohm": 1,
    "cell_resistance_ohm": 0,
    "contact_resistance_ohm": 0,
    "measured_discharge": {
        "current_a": 3,
        "charge_ah": [3 * i / 10 for i in range(11)],
        "voltage_v": [4 - i / 10 for i in range(11)],
    },
}
LOADS = {
    "first_voltage_v": 4.0,
    "first_current_a": 1.0,
    "second_voltage_v": 3.8,
    "second_current_a": 6.0,
}
UP, DOWN = 1, -1


def two(**of_the_second):
    """Return two cells, the second different from the first."""
    one = {"open_circuit_voltage_v": 4.0, "cell_resistance_ohm": 0.025, "contact_resistance_ohm": 0}
    return [one, one | of_the_second]


def sets(**of_the_last):
    """Return three measured cells, the last different from the others."""
    one = {"cell_capacity_ah": 2.5, "cell_resistance_ohm": 0.02, "open_circuit_voltage_v": 3.6}
    return {"cells": [one, one, one | of_the_last], "cells_in_set": 3}


class TableRow(NamedTuple):
    """A rule that applies beyond a limit, or at it too, when a field moves up or down."""

    rule: str
    question: str
    asked: dict[str, Any]
    field: str
    limit: float
    speaks: int  # direction of the field in which the rule applies
    at: bool = False  # whether it applies at the limit
    scale: float | None = None  # the figure whose noise it is, where that is not the limit's own
    by: str = ""  # the limit, by hand

    def __str__(self) -> str:
        at = "from" if self.at else "above" if self.speaks == UP else "below"
        return f"{self.rule} {at} {self.limit:.6g}: {self.question}, {self.field}{self.by and ': '}{self.by}"


ROWS = [
    TableRow(
        "over-rating", "direct-load", CELL, "coil_resistance_ohm", 0.21, DOWN, by="4.2 V / 20 A"
    ),
    TableRow(
        "over-rating", "converter-load", CONVERTER, "output_power_w", 64, UP, by="3.2 V × 20 A"
    ),
    TableRow(
        "over-rating",
        "direct-load",
        {**CELL, "coil_resistance_ohm": 0.21},
        "cell_rating_a",
        20,
        DOWN,
    ),
    TableRow(
        "little-headroom",
        "direct-load",
        CELL,
        "coil_resistance_ohm",
        4.2 / 18,
        DOWN,
        by="4.2 V over nine tenths of 20 A",
    ),
    TableRow(
        "little-headroom",
        "converter-load",
        CONVERTER,
        "output_power_w",
        57.6,
        UP,
        by="3.2 V × 18 A",
    ),
    TableRow(
        "charged-below-chemistry",
        "direct-load",
        CELL | {"coil_resistance_ohm": 1},
        "cell_charged_voltage_v",
        4.2,
        DOWN,
    ),
    TableRow(
        "charged-above-chemistry",
        "direct-load",
        CELL | {"coil_resistance_ohm": 1},
        "cell_charged_voltage_tolerance_v",
        0.05,
        UP,
        scale=4.25,
    ),
    TableRow(
        "cutoff-below-end",
        "converter-load",
        CONVERTER | {"chemistry": "nca"},
        "cell_cutoff_voltage_v",
        2.7,
        DOWN,
    ),
    TableRow(
        "share-above-careful",
        "sharing-by-mismatch",
        {"parallel": 2, "group_current_a": 30},
        "mismatch",
        (2 * KEPT[2][0] - 1) / (1 - KEPT[2][0]),
        UP,
        scale=4.0,
        by="(P·s − 1) / (1 − s) for the drawn share s of two cells",
    ),
    TableRow(
        "joining-rush",
        "joining-pair",
        PAIR | {"voltage_difference_v": 0.2},
        "cell_charge_limit_a",
        4.0,
        DOWN,
        by="0.2 V / 50 mΩ",
    ),
    TableRow(
        "joining-rush",
        "joining-pair",
        PAIR | {"cell_charge_limit_a": 4},
        "voltage_difference_v",
        0.2,
        UP,
    ),
    TableRow("charging-below-end", "charging", CHARGE, "open_circuit_voltage_v", 2.5, DOWN),
    TableRow("charging-above-full", "charging", CHARGE, "open_circuit_voltage_v", 4.25, UP),
    TableRow(
        "charging-over-limit",
        "charging",
        CHARGE | {"cell_charge_limit_a": 4},
        "charge_current_a",
        4,
        UP,
    ),
    TableRow(
        "charging-over-limit", "charging", CHARGE, "charge_rate", 0.5, UP, by="the assumed limit"
    ),
    TableRow("charging-cool", "charging", CHARGE, "cell_temperature_c", 15, DOWN),
    TableRow("charging-temperature", "charging", CHARGE, "cell_temperature_c", 40, UP),
    TableRow("cold", "temperature-rise", WARM, "ambient_temperature_c", 10, DOWN),
    TableRow(
        "continuous-too-hot",
        "temperature-rise",
        WARM | {"pause_s": 100},
        "stop_temperature_c",
        75,
        DOWN,
        by="25 °C + 2 W / 0.04 W/K",
    ),
    TableRow(
        "over-stop-temperature",
        "temperature-rise",
        # 36 time constants of 1000 s: the charge lasts until nothing changes any more
        WARM | {"pause_s": 0, "cell_capacity_ah": 100},
        "stop_temperature_c",
        75,
        DOWN,
        by="25 °C + 2 W / 0.04 W/K",
    ),
    TableRow(
        "label-rating-doubtful", "label-check", LABEL, "cell_rating_a", 3, UP, by="30 times 0.1 Ah"
    ),
    TableRow("label-rating", "label-check", LABEL, "cell_rating_a", 4, UP, by="40 times 0.1 Ah"),
    TableRow(
        "capacity-fell",
        "cell-health",
        {"reference_capacity_ah": 2.5},
        "measured_capacity_ah",
        2.0,
        DOWN,
        at=True,
        by="four fifths of 2.5 Ah",
    ),
    TableRow(
        "above-reference",
        "cell-health",
        {"reference_capacity_ah": 2.5},
        "measured_capacity_ah",
        2.5,
        UP,
    ),
    *(
        TableRow(
            "resistance-rose",
            "cell-health",
            {
                "measured_capacity_ah": 2.5,
                "reference_capacity_ah": 2.5,
                "reference_resistance_ohm": ohm,
            },
            "measured_resistance_ohm",
            2 * ohm,
            UP,
            at=True,
            by="twice the first",
        )
        for ohm in (0.02, 0.03)
    ),
    TableRow(
        "resistance-rose",
        "internal-resistance",
        LOADS,
        "reference_resistance_ohm",
        0.02,
        DOWN,
        at=True,
        by="half of 0.2 V / 5 A",
    ),
    TableRow(
        "resistance-unsure",
        "internal-resistance",
        LOADS | {"voltmeter_counts": 20, "ammeter_counts": 0, "ammeter_resolution_a": 1e-5},
        "voltmeter_resolution_v",
        (1.2 * 0.04 * (5 - 1e-5) - 0.2) / 41,
        UP,
        by="20.5 counts either way at both voltages, and half a count at both currents, make a fifth of 0.04 Ω",
    ),
    TableRow(
        "resistance-read-soon",
        "internal-resistance",
        LOADS,
        "second_time_s",
        10,
        DOWN,
        scale=10,
        by="10 s, the time of every resistance that percell calculates with",
    ),
    TableRow(
        "measured-otherwise",
        "internal-resistance",
        LOADS | {"first_time_s": 10},
        "second_time_s",
        1.1,
        UP,
        scale=0.1,
        by="a tenth more than 1 s",
    ),
    TableRow(
        "joining-rush",
        "joining",
        {"cells": [one | {"cell_capacity_ah": 3} for one in two(open_circuit_voltage_v=3.8)]},
        "cell_charge_limit_a",
        4,
        DOWN,
        by="0.2 V / 50 mΩ",
    ),
    TableRow(
        "over-rating",
        "unequal-cells",
        {**packed([two()]), "coil_resistance_ohm": 0.0925},
        "cell_rating_a",
        20,
        DOWN,
        by="half of 4.2 V of full cells / 0.105 Ω",
    ),
    TableRow(
        "share-above-careful",
        "unequal-cells",
        {**packed([two()]), "coil_resistance_ohm": 1},
        "cells.1.cell_resistance_ohm",
        0.05,
        UP,
        by="two thirds of the current through half of the resistance",
    ),
    *(
        TableRow(
            "voltage-off-curve",
            "series-drift",
            {"cells": [{"cell_capacity_ah": 3}, {"cell_capacity_ah": 3}], "cycle_count": 1},
            "cells.1.open_circuit_voltage_v",
            *end,
        )
        for end in [(2.5, DOWN), (4.2, UP)]
    ),
    TableRow(
        "sets-far-apart",
        "matched-sets",
        sets(),
        "cells.2.cell_capacity_ah",
        2.5 * 1.05,
        UP,
        scale=0.125,
        by="a twentieth above the median",
    ),
    *(
        TableRow(
            rule,
            "discharge-test",
            {
                "logs": [
                    {
                        "time_s": [0, 30, 31, 61],
                        "voltage_v": [4.1, 4.1, 3.9, end_v],
                        "current_a": [0, 0, 10, 10],
                        "temperature_c": [22, 22, 30, 40],
                    }
                ]
            },
            *limit,
        )
        for rule, end_v, limit in [
            # 0.1 V below a charged cell
            ("test-without-capacity", 2.9, ("logs.0.voltage_v.1", 4.1, DOWN)),
            # 3.2 V without the sag of 20 mΩ
            ("test-without-capacity", 3.0, ("logs.0.voltage_v.3", 3.0, UP)),
        ]
    ),
    TableRow(
        "transport-limit",
        "layouts",
        {"most_cells": 4, "cell_rating_a": 30, "output_power_w": 20, "chemistry": "lfp"},
        "cell_capacity_ah",
        95 / 4 / 3.3,
        UP,
        at=True,
        by="95 Wh over four cells of 3.3 V, the highest nominal voltage printed",
    ),
    TableRow(
        "charge-left",
        "running-time",
        STRAIGHT,
        "cell_cutoff_voltage_v",
        3.5,
        UP,
        scale=0.5,
        by="half of the way from 4 V to 3 V",
    ),
]


def changed(body, path, value):
    """Return a body with the value at a path of names and places."""
    name, _, rest = path.partition(".")
    key = int(name) if isinstance(body, list) else name
    inner = changed(body[key], rest, value) if rest else value
    if isinstance(body, list):
        return [*body[:key], inner, *body[key + 1 :]]
    return body | {key: inner}


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_rule_around_its_limit(ask, row):
    """The rule applies beyond the limit and not before it; a billionth changes nothing."""
    scale = row.limit if row.scale is None else row.scale
    for beyond, expected in [
        (-MORE, False),
        (-NOISE, row.at),
        (0.0, row.at),
        (NOISE, row.at),
        (MORE, True),
    ]:
        value = row.limit + row.speaks * beyond * scale
        found = {f.rule for f in ask(row.question, **changed(row.asked, row.field, value)).findings}
        assert (row.rule in found) is expected, (beyond, value)


# if the rule uses the field as given, a whole billionth is still equal
ITSELF = {
    "charged-below-chemistry",
    "cutoff-below-end",
    "charging-below-end",
    "charging-above-full",
    "charging-over-limit",
    "capacity-fell",
    "above-reference",
    "voltage-off-curve",
    "test-broken-off",
}


@pytest.mark.parametrize("row", [row for row in ROWS if row.rule in ITSELF], ids=str)
def test_a_whole_billionth_is_equal(ask, row):
    """Of a figure that is the field itself, just a billionth beyond the limit is at it."""
    value = row.limit * (1 + row.speaks * 1e-9)
    for asked, expected in [(value, row.at), (nextafter(value, row.speaks * inf), True)]:
        found = {f.rule for f in ask(row.question, **changed(row.asked, row.field, asked)).findings}
        assert (row.rule in found) is expected, asked
