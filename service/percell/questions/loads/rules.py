"""Rules of loads and the time that a pack runs."""

from percell.questions.vocabulary.chemistry import MEASURED_FROM, SIMULATED_FROM
from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

RUNNING_TIME_ESTIMATE = Rule(
    id="running-time-estimate",
    severity=Severity.NOTE,
    title="A running time is an estimate",
    explanation=(
        "It rests on one published curve, or on your own discharge, and on how measured cells sag. How far such "
        "times lay from measured ones is said where cells were measured that way; where none were, it may be wrong "
        "by much more. Do not rely on the pack lasting that long."
    ),
    source=MEASURED_FROM,
)
NO_RECOVERY = Rule(
    id="no-recovery",
    severity=Severity.NOTE,
    title="What a cell recovers in a pause is not counted",
    explanation=(
        "In a pause the voltage of a cell rises again, so that with pauses it gives more than without: in one measured "
        "record of ten seconds on and ten off, seven times the time under load that its resistance alone would give. How "
        "much a cell recovers was measured for too few cells, so the draws are counted as one load without a pause."
    ),
    source="Saha and Goebel, NASA Ames battery data set, for the record; common practice for the rest",
)
ENERGY_CELL = Rule(
    id="energy-cell",
    severity=Severity.CAUTION,
    title="A cell made for its charge runs for a much shorter time at high current",
    explanation=(
        "Cells rated for about twice their capacity an hour or less give their charge slowly: above their rating their "
        "voltage falls early, and a simulated one lasted minutes where others last a quarter of an hour. Give the "
        "cell's continuous rating."
    ),
    source=f"{SIMULATED_FROM}; both borders are common practice, no published source",
)
RUN_ENDS_UNDER_LOAD = Rule(
    id="run-ends-under-load",
    severity=Severity.NOTE,
    title="The running time takes the cut-off as one under load",
    explanation=(
        "A cut-off at rest is reached later than the same voltage under load, and with a higher current. So the "
        "running time is too short rather than too long; the currents that the verdict rests on are those of "
        "the cut-off at rest."
    ),
    source="Ohm's law",
)
CUTOFF_AT_ONCE = Rule(
    id="cutoff-at-once",
    severity=Severity.CAUTION,
    title="The cut-off is reached at once",
    explanation=(
        "Under this load the voltage is at the cut-off from the start, so that the pack does not run. The "
        "load is too high for these cells, they are too empty, or the cut-off is too high."
    ),
    source="Ohm's law",
)
POWER_GIVES_OUT = Rule(
    id="power-gives-out",
    limit=LimitName.AVAILABLE_POWER,
    severity=Severity.WARNING,
    title="The pack gives out before its cut-off",
    explanation=(
        "A source of voltage U and resistance R can give at most U²/4R. The load asks for more before the "
        "voltage is down to the cut-off; the device stops or stutters there, at a very high current."
    ),
    source="Maximum power transfer, OpenStax University Physics Vol. 2, module m58453",
)
NO_POWER_LEFT = Rule(
    id="no-power-left",
    limit=LimitName.AVAILABLE_POWER,
    severity=Severity.WARNING,
    title="Nothing is left for the output",
    explanation=(
        "The power that the converter needs for itself is as much as the cells may give, or more. Allow more "
        "cells, cells with a higher rating that you trust, or a converter that needs less."
    ),
    source="Conservation of energy",
)
HIGHEST_POWER_BEYOND = Rule(
    id="highest-power-beyond",
    severity=Severity.NOTE,
    title="The highest power by the rating is over another limit",
    explanation=(
        "The highest power of an assessment goes by the rating of the cells alone. At that power the pack would "
        "be over another limit. The power that was asked for is judged by itself. Ask for the highest power "
        "to see what exceeds the limit."
    ),
    source="Maximum power transfer, OpenStax University Physics Vol. 2, module m58453; end voltages by chemistry",
)
CHARGE_LEFT = Rule(
    id="charge-left",
    severity=Severity.NOTE,
    title="Much of the charge stays in the cells",
    explanation=(
        "The sag brings the voltage down to the cut-off while the cells are far from empty. More cells, "
        "less load, cells with a lower resistance or a lower cut-off within the manufacturer's limit use more."
    ),
    source="Ohm's law on the chemistry's curve, see the method page",
)
CUTOFF_DECIDES = Rule(
    id="cutoff-decides",
    severity=Severity.NOTE,
    title="Where a device stops decides how much of a cell it uses",
    explanation=(
        "Cells in a device that stops at a high voltage may hold much of their charge when it stops, and "
        "the more so the more they sag. So fewer cells that are run down further can last nearly as long. "
        "That is no advice to empty cells deeper than the manufacturer's end of discharge."
    ),
    source="Ohm's law on the chemistry's curve, see the method page",
)
NO_RUNNING_TIME = Rule(
    id="no-running-time",
    severity=Severity.CAUTION,
    title="A setup of the comparison has no running time",
    explanation=(
        "Only the other setups are ranked. That says nothing good about this one: its load may still be too much "
        "for its cells. Look at its limits, mend what the reason names, and compare again."
    ),
    source="The reason in the finding",
)
NO_LAYOUT_FITS = Rule(
    id="no-layout-fits",
    severity=Severity.CAUTION,
    title="No layout of so few cells does it",
    explanation=(
        "Each layout either overworks a cell, or does not run long enough. Allow more cells, ask for less, "
        "or take cells with a higher rating, capacity or a lower resistance that you trust."
    ),
    source="The manufacturer's continuous discharge rating, and the running time asked for",
)
CUTOFF_ASSUMED = Rule(
    id="cutoff-assumed",
    severity=Severity.NOTE,
    title="The cut-off voltage of the device is not known",
    explanation=(
        "Behind a converter the current is highest just before the device stops. Devices stop at different "
        "voltages, and 2.8 V per cell is at the low end of what is usual for 4.2 V cells. A device without a "
        "cut-off of its own, or with a lower one, draws more."
    ),
    source=COMMON_PRACTICE,
)
REST_CUTOFF_IN_SECONDS = Rule(
    id="rest-cutoff-in-seconds",
    severity=Severity.CAUTION,
    title="With a cut-off at rest the current holds for half a minute",
    explanation=(
        "Emptying cells have several times the resistance of half-full ones: a measured cell had 2.5 times at 8 % of "
        "its charge and 4.4 times at 3 %, after 10 s of load. The sag and the current count that. The available "
        "power is judged after a minute of the load. A longer draw empties the cells further, takes more and more "
        "current, and at last brings the voltage down altogether. Keep draws short, or let the device stop at a "
        "voltage under load."
    ),
    source=(
        "P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1. A cell simulated with PyBaMM 26.10.1.1 "
        "(Chen2020, DFN, isothermal at 25 °C), at rest at 3.3 V, drew less than the answer for a minute and collapsed "
        "within 100 s"
    ),
)
TRANSPORT_LIMIT = Rule(
    id="transport-limit",
    severity=Severity.CAUTION,
    title="Above 100 Wh for one battery, or close to it",
    explanation=(
        "A lithium-ion battery of more than 100 Wh may not travel under the passenger rule for such "
        "devices. A loose cell is itself one battery; a built-in pack counts as a whole. What counts is the "
        "capacity times the nominal voltage printed on it. Rules change: ask the carrier."
    ),
    source="49 CFR 171.8 and 175.10(a)(19)",
)
SAME_POWER_ANY_WIRING = Rule(
    id="converter-wiring",
    severity=Severity.NOTE,
    title="Through a converter, series or parallel makes no difference to the cell",
    explanation=(
        "A converter draws power. The same cells at the same voltage each give the same part of it, "
        "however they are wired; only the count of cells matters."
    ),
    source="Conservation of energy",
)
