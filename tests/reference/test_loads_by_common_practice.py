"""What the trade says of packs and loads, with the sharing that it means.

Common practice, no published source, for every row.
"""

from typing import Any, NamedTuple

import msgspec
import pytest

from percell.questions.registry import QUESTIONS

TRADE = "common practice, no published source"


class TableRow(NamedTuple):
    """What is said, the question that it is about, and the figures said."""

    said: str
    question: str
    asked: dict[str, Any]
    figures: dict[str, float]

    def __str__(self) -> str:
        return f"{TRADE}: {self.said}"


def pack(layout, rating_a):
    return {
        "layout": layout,
        "cell_rating_a": rating_a,
        "cell_capacity_ah": 3,
        "sharing": "allowance",
    }


def two_cells(layout, watts):
    return {
        "layout": layout,
        "cell_rating_a": 20,
        "output_power_w": watts,
        "cell_cutoff_voltage_v": 4,
        "efficiency": 1,
        "sharing": "even",
    }


ROWS = [
    TableRow(
        "one 20 A cell counts as 20 A",
        "pack",
        pack("1S1P", 20),
        {"pack_current_limit_a": 20},
    ),
    TableRow(
        "two 20 A cells in parallel count as 30 A",
        "pack",
        pack("1S2P", 20),
        {"pack_current_limit_a": 30, "pack_current_limit_even_a": 40},
    ),
    TableRow(
        "three 20 A cells in parallel count as 50 A",
        "pack",
        pack("1S3P", 20),
        {"pack_current_limit_a": 50, "pack_current_limit_even_a": 60},
    ),
    TableRow(
        "two pairs in series count as 30 A at twice the voltage",
        "pack",
        pack("2S2P", 20),
        {
            "pack_current_limit_a": 30,
            "pack_charged_voltage_v": 8.4,
            "pack_capacity_ah": 6,
        },
    ),
    TableRow(
        "three in series stay at one cell's rating",
        "pack",
        pack("3S1P", 25),
        {
            "pack_current_limit_a": 25,
            "pack_current_limit_even_a": 25,
            "pack_charged_voltage_v": 12.6,
        },
    ),
    TableRow(
        "100 W from two cells at 4.0 V in series takes 12.5 A a cell",
        "converter-load",
        two_cells("2S1P", 100),
        {"worst_cell_current_a": 12.5, "pack_current_a": 12.5},
    ),
    TableRow(
        "100 W from two cells at 4.0 V in parallel takes 12.5 A a cell",
        "converter-load",
        two_cells("1S2P", 100),
        {"worst_cell_current_a": 12.5, "pack_current_a": 25},
    ),
    TableRow(
        "three in parallel at 20 A carry 6.7 A each in theory",
        "direct-load",
        {
            "layout": "1S3P",
            "cell_rating_a": 20,
            "coil_resistance_ohm": 4.2 / 20,
            "sharing": "allowance",
        },
        {"even_cell_current_a": 20 / 3, "worst_cell_current_a": 8},
    ),
    TableRow(
        "a full 4.2 V cell rated 20 A takes a coil of 0.21 ohm or more",
        "lowest-resistance",
        {"layout": "1S1P", "cell_rating_a": 20},
        {"lowest_resistance_ohm": 0.21},
    ),
    TableRow(
        "two such cells in series take twice that",
        "lowest-resistance",
        {"layout": "2S1P", "cell_rating_a": 20},
        {"lowest_resistance_ohm": 0.42},
    ),
    TableRow(
        "two such cells in parallel take 4.2 V / 30 A",
        "lowest-resistance",
        {"layout": "1S2P", "cell_rating_a": 20, "sharing": "allowance"},
        {"lowest_resistance_ohm": 0.14},
    ),
    TableRow(
        "a converter is judged by the emptiest cell: 20 A at 3.2 V without loss is 64 W a cell",
        "highest-power",
        {"layout": "2S1P", "cell_rating_a": 20, "cell_cutoff_voltage_v": 3.2, "efficiency": 1},
        {"highest_power_w": 128},
    ),
    TableRow(
        "100 W from two cells down to 3.2 V without loss needs cells of 15.6 A",
        "needed-rating",
        {"layout": "2S1P", "output_power_w": 100, "cell_cutoff_voltage_v": 3.2, "efficiency": 1},
        {"needed_rating_a": 15.625},
    ),
]


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_what_the_trade_says(row):
    """Each figure is the one that is said."""
    question = QUESTIONS[row.question]
    got = question.answer(msgspec.convert(row.asked, question.asked))
    for name, value in row.figures.items():
        assert getattr(got, name) == pytest.approx(value, rel=1e-12), name


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_without_a_chosen_sharing_no_answer_is_milder(row):
    """The careful share counts at least as much current in a cell as the trade does."""
    question = QUESTIONS[row.question]
    careful = {name: value for name, value in row.asked.items() if name != "sharing"}
    said, got = (
        question.answer(msgspec.convert(body, question.asked)) for body in (row.asked, careful)
    )
    for name, more_is_milder in MILDER.items():
        if hasattr(got, name):
            sign = 1 if more_is_milder else -1
            assert sign * getattr(got, name) <= sign * getattr(said, name) * (1 + sign * 1e-12), (
                name
            )


# whether a larger figure is the milder one
MILDER = {
    "pack_current_limit_a": True,
    "highest_power_w": True,
    "worst_cell_current_a": False,
    "lowest_resistance_ohm": False,
    "needed_rating_a": False,
}
