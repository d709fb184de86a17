"""Every question there is. Routes, document, batch and tables all come from this list."""

from collections.abc import Callable
from typing import Any

from msgspec import Struct

from percell.questions.answering.envelope import Assumption
from percell.questions.answering.reply import Headline
from percell.questions.answering.tables import Rounding
from percell.questions.bench import coil, discharge_test, health, internal_resistance, meter_reading
from percell.questions.cell import charging, claim, sag, temperature_rise
from percell.questions.loads import (
    assessment,
    comparison,
    converter_load,
    direct_load,
    highest_power,
    lowest_resistance,
    needed_rating,
    options,
    pack,
    running_time,
)
from percell.questions.unequal import (
    current_sharing,
    joining,
    joining_pair,
    matched_sets,
    series_drift,
    sharing_mismatch,
    sharing_spread,
    weak_cell_drift,
)


class Question(Struct, frozen=True, kw_only=True):
    """A question, and how it is asked and answered."""

    id: str
    title: str
    description: str
    asked: type[Struct]
    answered: type[Struct]
    answer: Callable[[Any], Struct]
    example: dict[str, Any]
    # what a reply leads with; a question without a query form has no reply
    headline: Headline | None = None
    # the defaults that an answer rests on, where some depend on what was asked
    assumed: Callable[[Any], list[Assumption]] | None = None
    # the numbers alone, also over arrays; None where a question is no grid of independent cells
    figures: Callable[..., Any] | None = None
    # whether figures cost little for each cell more; one that draws at random for each does not
    vectorised: bool = True
    # a question with lists has no form as a query
    has_query: bool = True
    # whether an answer may take longer than others are to wait for
    slow: bool = False
    # whether an answer takes many times what a plain one takes, though nobody waits for it
    heavy: bool = False
    # bytes that a body may have, where its lists are longer than those of other questions
    body_limit: int | None = None


_LIST = [
    Question(
        id="assessment",
        title="Full assessment of a pack and its load",
        description="One verdict for a pack with a coil or behind a converter, with everything that the "
        "other questions say about it.",
        asked=assessment.Assessment,
        answered=assessment.AssessmentAnswer,
        answer=assessment.answer,
        headline=Headline(
            field="hottest_cell_current_a",
            says="The hardest-worked cell carries",
            unit="A",
            decimals=1,
            round=Rounding.UP,
        ),
        example={
            "layout": "2S1P",
            "cell_rating_a": 25,
            "output_power_w": 80,
            "cell_capacity_ah": 2.5,
        },
    ),
    Question(
        id="pack",
        title="Figures of a pack",
        description="Voltages, capacity, energy, resistance and current within rating of equal cells by layout.",
        asked=pack.Pack,
        answered=pack.PackAnswer,
        answer=pack.answer,
        figures=pack.figures,
        headline=Headline(
            field="group_rating_allowance_a",
            says="Current within rating, with the sharing allowance",
            unit="A",
            decimals=1,
            round=Rounding.DOWN,
        ),
        example={"layout": "2S2P", "cell_rating_a": 20, "cell_capacity_ah": 3.0},
    ),
    Question(
        id="direct-load",
        title="Current of each cell with a coil straight on the pack",
        description="A coil wired straight to a full pack: currents, power and headroom at the corner that is "
        "hardest on the cells, and the current to expect with sag.",
        asked=direct_load.DirectLoad,
        answered=direct_load.DirectLoadAnswer,
        answer=direct_load.answer,
        figures=direct_load.figures,
        headline=Headline(
            field="hottest_cell_current_a",
            says="The hardest-worked cell carries up to",
            unit="A",
            decimals=1,
            round=Rounding.UP,
        ),
        example={"layout": "1S2P", "cell_rating_a": 20, "coil_resistance_ohm": 0.15},
    ),
    Question(
        id="converter-load",
        title="Current of each cell behind a converter",
        description="A converter that holds its output power constant: currents and headroom at the lowest "
        "voltage and efficiency, where it draws most.",
        asked=converter_load.ConverterLoad,
        answered=converter_load.ConverterLoadAnswer,
        answer=converter_load.answer,
        figures=converter_load.figures,
        assumed=converter_load.assumed,
        headline=Headline(
            field="hottest_cell_current_a",
            says="The hardest-worked cell carries up to",
            unit="A",
            decimals=1,
            round=Rounding.UP,
        ),
        example={"layout": "2S1P", "cell_rating_a": 25, "output_power_w": 80},
    ),
    Question(
        id="lowest-resistance",
        title="Lowest coil resistance within rating",
        description="The lowest coil resistance that keeps each cell of a full pack within its rating, and the "
        "reading of the meter that is sure to stand for it.",
        asked=lowest_resistance.LowestResistance,
        answered=lowest_resistance.LowestResistanceAnswer,
        answer=lowest_resistance.answer,
        figures=lowest_resistance.figures,
        headline=Headline(
            field="lowest_reading_ohm",
            says="The meter must show at least",
            unit="Ω",
            decimals=3,
            round=Rounding.UP,
        ),
        example={
            "layout": "1S2P",
            "cell_rating_a": 20,
            "meter_accuracy": 0.005,
            "meter_counts": 2,
        },
    ),
    Question(
        id="highest-power",
        title="Highest power within rating",
        description="The highest output power of a converter that keeps each cell within its rating down to the "
        "cut-off voltage.",
        asked=highest_power.HighestPower,
        answered=highest_power.HighestPowerAnswer,
        answer=highest_power.answer,
        figures=highest_power.figures,
        assumed=converter_load.assumed,
        headline=Headline(
            field="highest_power_w", says="At most", unit="W", decimals=1, round=Rounding.DOWN
        ),
        example={"layout": "2S1P", "cell_rating_a": 20, "cell_cutoff_voltage_v": 3.2},
    ),
    Question(
        id="needed-rating",
        title="Rating needed for a power",
        description="The continuous discharge rating that each cell needs for a given output power.",
        asked=needed_rating.NeededRating,
        answered=needed_rating.NeededRatingAnswer,
        answer=needed_rating.answer,
        figures=needed_rating.figures,
        assumed=converter_load.assumed,
        headline=Headline(
            field="needed_rating_a",
            says="Each cell needs a continuous rating of at least",
            unit="A",
            decimals=1,
            round=Rounding.UP,
        ),
        example={"layout": "1S2P", "output_power_w": 100, "cell_cutoff_voltage_v": 3.2},
    ),
    Question(
        id="current-sharing",
        title="Current of each cell of a pack of unequal cells",
        description="A pack cell by cell, each with its own voltage and resistances, under a coil, a "
        "converter or nothing: what each carries at this moment, as the measured cells really share.",
        asked=current_sharing.CurrentSharing,
        answered=current_sharing.CurrentSharingAnswer,
        answer=current_sharing.answer,
        # two lent cells of the Lantern Street Bench, invented: the second is worn and its contact tarnished
        example={
            "groups": [
                [
                    {"open_circuit_voltage_v": 4.15, "resistance_ohm": 0.018},
                    {
                        "open_circuit_voltage_v": 4.12,
                        "resistance_ohm": 0.031,
                        "contact_resistance_ohm": 0.012,
                    },
                ]
            ],
            "cell_rating_a": 20,
            "coil_resistance_ohm": 0.15,
        },
        has_query=False,
    ),
    Question(
        id="joining",
        title="Joining cells at different voltages",
        description="Cells at rest that are to be joined in parallel: the first rush of current, the difference "
        "of voltages that keeps it within what the cells take, and where they come to rest.",
        asked=joining.Joining,
        answered=joining.JoiningAnswer,
        answer=joining.answer,
        # three cells back at the Lantern Street Bench, invented: one was used longer than the others
        example={
            "cells": [
                {"open_circuit_voltage_v": 4.05, "resistance_ohm": 0.02, "capacity_ah": 3.0},
                {"open_circuit_voltage_v": 4.03, "resistance_ohm": 0.022, "capacity_ah": 2.9},
                {"open_circuit_voltage_v": 3.62, "resistance_ohm": 0.025, "capacity_ah": 2.8},
            ],
            "cell_charge_limit_a": 4,
        },
        has_query=False,
    ),
    Question(
        id="joining-pair",
        title="First rush between two like cells",
        description="Two like cells at different voltages are joined in parallel: the current at the first "
        "moment, and the difference that keeps it within what a cell takes.",
        asked=joining_pair.JoiningPair,
        answered=joining_pair.JoiningPairAnswer,
        answer=joining_pair.answer,
        assumed=joining_pair.assumed,
        figures=joining_pair.figures,
        headline=Headline(
            field="rush_current_a",
            says="At the first moment one cell pushes into the other",
            unit="A",
            decimals=1,
            round=Rounding.UP,
        ),
        example={"voltage_apart_v": 0.1, "cell_capacity_ah": 3.0, "cell_charge_limit_a": 4},
    ),
    Question(
        id="sharing-spread",
        title="How sure the sharing of current is",
        description="Cells in parallel whose resistances, contacts and voltages scatter: what the "
        "hardest-worked one carries at a percentile, and how often that is more than the sharing allowance.",
        asked=sharing_spread.SharingSpread,
        answered=sharing_spread.SharingSpreadAnswer,
        answer=sharing_spread.answer,
        figures=sharing_spread.figures,
        headline=Headline(
            field="chance_above_allowance",
            says="Chance that the hardest-worked cell carries more than the allowance",
            unit="",
            decimals=3,
            round=Rounding.UP,
        ),
        vectorised=False,
        heavy=True,
        example={"parallel": 3, "group_current_a": 40, "cell_rating_a": 20},
    ),
    Question(
        id="sharing-mismatch",
        title="Share of the best cell of a group",
        description="Cells in parallel of which one has a lower resistance than all others: the share that it "
        "carries, and the mismatch at which that is more than the sharing allowance.",
        asked=sharing_mismatch.SharingMismatch,
        answered=sharing_mismatch.SharingMismatchAnswer,
        answer=sharing_mismatch.answer,
        figures=sharing_mismatch.figures,
        headline=Headline(
            field="hottest_share",
            says="The good cell's share of the group's current",
            unit="",
            decimals=3,
            round=Rounding.UP,
        ),
        example={"parallel": 2, "mismatch": 0.3, "group_current_a": 30, "cell_rating_a": 20},
    ),
    Question(
        id="running-time",
        title="Running time of a pack under its load",
        description="How long a pack runs a coil or a converter until its cells are down to the cut-off "
        "voltage under load: an estimate of time, energy, charge used, and current on the way.",
        asked=running_time.RunningTime,
        answered=running_time.RunningTimeAnswer,
        answer=running_time.answer,
        assumed=running_time.assumed,
        figures=running_time.figures,
        headline=Headline(
            field="running_time_s",
            says="The pack runs for about",
            unit="min",
            decimals=1,
            round=Rounding.DOWN,
            per=60,
        ),
        # the lending set of the Lantern Street Bench, invented
        example={
            "layout": "2S1P",
            "cell_capacity_ah": 3.0,
            "cell_health": 0.9,
            "cell_rating_a": 20,
            "output_power_w": 40,
            "cell_cutoff_voltage_v": 3.0,
            "draw_length_s": 4,
            "pause_s": 30,
        },
    ),
    Question(
        id="comparison",
        title="Running times side by side",
        description="Up to eight packs with their loads, each answered or failed on its own, ranked by "
        "running time, with what their difference comes from.",
        asked=comparison.Comparison,
        answered=comparison.ComparisonAnswer,
        answer=comparison.answer,
        # two devices lent by the Lantern Street Bench, invented: one stops early, the other late
        example={
            "setups": [
                {
                    "name": "one cell, stops late",
                    "layout": "1S1P",
                    "cell_capacity_ah": 3.0,
                    "output_power_w": 25,
                    "cell_cutoff_voltage_v": 2.6,
                },
                {
                    "name": "two cells, stop early",
                    "layout": "2S1P",
                    "cell_capacity_ah": 3.0,
                    "output_power_w": 25,
                    "cell_cutoff_voltage_v": 3.5,
                },
            ]
        },
        has_query=False,
    ),
    Question(
        id="options",
        title="Layouts that meet a load",
        description="All layouts of a number of cells or fewer that feed a coil or a converter within the "
        "cells' rating and, if asked, for long enough; and why the others fell out.",
        asked=options.Options,
        answered=options.OptionsAnswer,
        answer=options.answer,
        headline=Headline(
            field="fitting", says="Layouts that do it", unit="", decimals=0, round=Rounding.DOWN
        ),
        # a lamp of the Lantern Street Bench, invented
        example={
            "most_cells": 4,
            "cell_rating_a": 15,
            "cell_capacity_ah": 2.5,
            "output_power_w": 60,
            "needed_time_s": 900,
        },
    ),
    Question(
        id="sag",
        title="Sag of a cell under a current",
        description="How far the voltage of one cell falls under a current, at the first moment and for "
        "seconds, and how much of its power is lost as heat.",
        asked=sag.Sag,
        answered=sag.SagAnswer,
        answer=sag.answer,
        figures=sag.figures,
        headline=Headline(
            field="sag_v", says="The cell sags by", unit="V", decimals=2, round=Rounding.UP
        ),
        example={"cell_current_a": 20, "open_circuit_voltage_v": 3.7},
    ),
    Question(
        id="series-drift",
        title="Cells of a string drifting apart",
        description="Unequal cells in series, discharged and charged as a whole: the lowest and the highest "
        "cell, cycle by cycle, reversal and overcharge, and what a balancing charge restores.",
        asked=series_drift.SeriesDrift,
        answered=series_drift.SeriesDriftAnswer,
        answer=series_drift.answer,
        # three lent cells of the Lantern Street Bench, invented: the last is older than the others
        heavy=True,
        example={
            "cells": [
                {
                    "capacity_ah": 3.0,
                    "state_of_charge": 1.0,
                    "loss_ah": 0.0,
                    "resistance_ohm": 0.02,
                },
                {
                    "capacity_ah": 2.95,
                    "state_of_charge": 1.0,
                    "loss_ah": 0.0,
                    "resistance_ohm": 0.021,
                },
                {
                    "capacity_ah": 2.5,
                    "state_of_charge": 0.97,
                    "loss_ah": 0.005,
                    "resistance_ohm": 0.034,
                },
            ],
            "cycles": 10,
        },
        has_query=False,
    ),
    Question(
        id="weak-cell-drift",
        title="One weak cell in a string",
        description="Like cells in series of which one holds less or loses more: the lowest and the highest "
        "cell after a number of cycles, and what a balancing charge restores.",
        asked=weak_cell_drift.WeakCellDrift,
        answered=weak_cell_drift.WeakCellDriftAnswer,
        answer=weak_cell_drift.answer,
        figures=weak_cell_drift.figures,
        vectorised=False,
        heavy=True,
        headline=Headline(
            field="lowest_at_cutoff_v",
            says="At the last cut-off the lowest cell is at about",
            unit="V",
            decimals=2,
            round=Rounding.DOWN,
        ),
        example={
            "series": 2,
            "cell_capacity_ah": 3.0,
            "weak_capacity_part": 0.9,
            "weak_loss_ah": 0.01,
            "cycles": 20,
        },
    ),
    Question(
        id="charging",
        title="Charging the cells of a pack",
        description="How long a cell charges at constant current, then constant voltage; the current against "
        "the maker's limit; and whether a layout may be charged in the device or needs each cell apart.",
        asked=charging.Charging,
        answered=charging.ChargingAnswer,
        answer=charging.answer,
        assumed=charging.assumed,
        figures=charging.figures,
        headline=Headline(
            field="charging_time_s",
            says="Each cell charges for about",
            unit="min",
            decimals=0,
            round=Rounding.UP,
            per=60,
        ),
        # a set that came back to the Lantern Street Bench, invented
        example={
            "layout": "2S1P",
            "cell_capacity_ah": 3.0,
            "cell_charge_limit_a": 4,
            "open_circuit_voltage_v": 3.4,
            "cell_temperature_c": 19,
            "charged_where": "apart",
        },
    ),
    Question(
        id="temperature-rise",
        title="Temperature of a cell under its current",
        description="An estimate of how warm a cell gets by one draw, by draw after draw and without a "
        "pause, and after which time it is too hot.",
        asked=temperature_rise.TemperatureRise,
        answered=temperature_rise.TemperatureRiseAnswer,
        answer=temperature_rise.answer,
        assumed=temperature_rise.assumed,
        figures=temperature_rise.figures,
        headline=Headline(
            field="peak_c",
            says="At its hottest the cell is at about",
            unit="°C",
            decimals=0,
            round=Rounding.UP,
        ),
        example={
            "cell_size": "18650",
            "cell_current_a": 15,
            "cell_resistance_ohm": 0.025,
            "draw_length_s": 4,
            "pause_s": 45,
        },
    ),
    Question(
        id="coil",
        title="Resistance of a coil from its wire",
        description="A coil of round wire by gauge, alloy, strands, former and turns: nominal, lowest and "
        "highest likely resistance, or the turns for a wanted one; surface load and time to warm up.",
        asked=coil.Coil,
        answered=coil.CoilAnswer,
        answer=coil.answer,
        assumed=coil.assumed,
        figures=coil.figures,
        headline=Headline(
            field="coil_resistance_lowest_ohm",
            says="At 20 °C the coil has about",
            unit="Ω or more",
            decimals=3,
            round=Rounding.DOWN,
        ),
        # a coil from the practice box of the Lantern Street Bench, invented
        example={
            "alloy": "fecral_al_5_6",
            "gauge": 26,
            "former_diameter_mm": 3,
            "wanted_resistance_ohm": 0.5,
            "legs_length_mm": 10,
            "coil_power_w": 30,
        },
    ),
    Question(
        id="meter-reading",
        title="Lowest reading of the meter for a lowest resistance",
        description="What an ohmmeter must show for a coil to be sure to have at least a given resistance, "
        "with the accuracy that the meter's maker states.",
        asked=meter_reading.MeterReading,
        answered=meter_reading.MeterReadingAnswer,
        answer=meter_reading.answer,
        figures=meter_reading.figures,
        headline=Headline(
            field="lowest_reading_ohm",
            says="The meter must show at least",
            unit="Ω",
            decimals=4,
            round=Rounding.UP,
        ),
        example={"lowest_resistance_ohm": 0.14, "meter_accuracy": 0.01, "meter_counts": 2},
    ),
    Question(
        id="internal-resistance",
        title="Internal resistance of a cell from two loads",
        description="The d.c. resistance of a cell from its voltage under two loads, with the bounds that "
        "the meter's accuracy allows, and how far it rose since it was first measured.",
        asked=internal_resistance.InternalResistance,
        answered=internal_resistance.InternalResistanceAnswer,
        answer=internal_resistance.answer,
        headline=Headline(
            field="cell_resistance_highest_ohm",
            says="By these readings the cell's internal d.c. resistance is at most",
            unit="Ω",
            decimals=4,
            round=Rounding.UP,
        ),
        # a lent cell of the Lantern Street Bench, invented
        example={
            "first_voltage_v": 3.742,
            "first_current_a": 0.6,
            "second_voltage_v": 3.671,
            "second_current_a": 3.0,
            "first_time_s": 10,
            "second_time_s": 1,
            "cell_capacity_ah": 3.0,
            "cell_temperature_c": 21,
            "voltmeter_accuracy": 0.0005,
            "voltmeter_counts": 2,
            "ammeter_accuracy": 0.005,
            "ammeter_counts": 3,
            "earlier_resistance_ohm": 0.022,
            "time_between_s": 31_557_600,
        },
    ),
    Question(
        id="health",
        title="State of health of a cell",
        description="Measured capacity and resistance of a cell against those when new or printed, and the "
        "usual mark for retiring it.",
        asked=health.CellHealth,
        answered=health.HealthAnswer,
        answer=health.answer,
        figures=health.figures,
        headline=Headline(
            field="cell_health",
            says="Part of the capacity that is left",
            unit="",
            decimals=2,
            round=Rounding.DOWN,
        ),
        example={
            "measured_capacity_ah": 2.52,
            "reference_capacity_ah": 3.0,
            "measured_resistance_ohm": 0.031,
            "reference_resistance_ohm": 0.022,
            "cell_temperature_c": 21,
        },
    ),
    Question(
        id="discharge-test",
        title="Discharge logs of a cell",
        description="Logs of whole discharges, as lists of time, voltage, current and temperature, or one as "
        "CSV: charge, energy, mean voltage, resistance at the steps, peak temperature; and of several at "
        "rising current the highest that kept the limits.",
        asked=discharge_test.DischargeTest,
        answered=discharge_test.DischargeTestAnswer,
        answer=discharge_test.answer,
        # a log from the Lantern Street Bench, invented: a cell of 20 mΩ rests, then is emptied with 20 A
        example={
            "logs": [
                {
                    "label": "cell 7",
                    "time_s": [0, 10, 11, 60, 120, 180, 240, 300, 360, 420, 480, 520, 521, 570],
                    "voltage_v": [
                        4.15,
                        4.15,
                        3.75,
                        3.66,
                        3.58,
                        3.5,
                        3.42,
                        3.34,
                        3.26,
                        3.17,
                        3.05,
                        2.8,
                        3.2,
                        3.3,
                    ],
                    "current_a": [0, 0, 20, 20, 20, 20, 20, 20, 20, 20, 20, 20, 0, 0],
                    "temperature_c": [22, 22, 22.1, 25, 29, 33, 37, 41, 45, 49, 53, 56, 56.2, 55.5],
                }
            ],
            "lowest_voltage_v": 2.8,
        },
        has_query=False,
        slow=True,
        body_limit=10 * 1024 * 1024,
    ),
    Question(
        id="matched-sets",
        title="Matched sets from measured cells",
        description="Up to 200 cells by measured capacity, resistance and open-circuit voltage, put into sets that "
        "are as close as can be: exact for short lists, a good search for long ones.",
        asked=matched_sets.MatchedSets,
        answered=matched_sets.MatchedSetsAnswer,
        answer=matched_sets.answer,
        # seven cells of the Lantern Street Bench, invented
        example={
            "cells": [
                {
                    "label": label,
                    "capacity_ah": capacity_ah,
                    "resistance_ohm": resistance_ohm,
                    "open_circuit_voltage_v": rest_v,
                }
                for label, capacity_ah, resistance_ohm, rest_v in (
                    ("L1", 2.96, 0.0214, 4.172),
                    ("L2", 2.81, 0.0262, 4.161),
                    ("L3", 2.97, 0.0219, 4.171),
                    ("L4", 2.83, 0.0257, 4.164),
                    ("L5", 2.95, 0.0211, 4.174),
                    ("L6", 2.55, 0.0388, 4.139),
                    ("L7", 2.79, 0.0268, 4.160),
                )
            ],
            "cells_in_set": 3,
        },
        has_query=False,
        slow=True,
    ),
    Question(
        id="claim",
        title="Whether what is printed on a cell is believable",
        description="A printed capacity and continuous rating against what a cell of that size can hold and "
        "what would overheat it: believable, doubtful or not believable, with the bounds and their origins.",
        asked=claim.ClaimAsked,
        answered=claim.ClaimAnswer,
        answer=claim.answer,
        assumed=claim.assumed,
        figures=claim.figures,
        headline=Headline(
            field="highest_rating_a",
            says="For this size and capacity a rating is not believable above",
            unit="A",
            decimals=1,
            round=Rounding.DOWN,
        ),
        # a wrapper found in a donation box of the Lantern Street Bench, invented
        example={"cell_size": "18650", "cell_rating_a": 40, "cell_capacity_ah": 3.5},
    ),
]
QUESTIONS: dict[str, Question] = {question.id: question for question in _LIST}
