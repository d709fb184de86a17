"""Rules of loads and the time that a pack runs."""

from percell.questions.vocabulary.chemistry import MEASURED_FROM, SIMULATED_FROM
from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

RUNNING_TIME_ESTIMATE = Rule(
    id="running-time-estimate",
    severity=Severity.NOTE,
    title="A running time is an estimate",
    explanation=(
        "Never rely on the pack lasting that long. The time is based on one published curve, or on your own "
        "discharge, and on how measured cells sag. If cells were measured in this way, the finding says how "
        "far such times were off. If none were, the time can be wrong by much more."
    ),
    source=MEASURED_FROM,
)
NO_RECOVERY = Rule(
    id="no-recovery",
    severity=Severity.NOTE,
    title="Recovery in a pause is not counted",
    explanation=(
        "In a pause the voltage of a cell rises again, so with pauses it can run longer. In one measured "
        "record of ten seconds on and ten off, it ran seven times as long under load as its resistance "
        "alone would suggest. Too few cells were measured, so the draws are counted as one load without a "
        "pause."
    ),
    source=(
        "The record: Saha and Goebel, NASA Ames battery data set; the rest: common practice, no published "
        "source"
    ),
)
ENERGY_CELL = Rule(
    id="energy-cell",
    severity=Severity.CAUTION,
    title="An energy cell runs for a much shorter time at high current",
    explanation=(
        "Give the cell's continuous rating. An energy cell is rated for about twice its capacity per hour "
        "or less. Above its rating its voltage falls early: a simulated one lasted minutes where other "
        "cells last a quarter of an hour."
    ),
    source=f"{SIMULATED_FROM}; both bounds are common practice, no published source",
)
RUN_ENDS_UNDER_LOAD = Rule(
    id="run-ends-under-load",
    severity=Severity.NOTE,
    title="The running time treats the cut-off as one under load",
    explanation=(
        "A cut-off at rest is reached later than the same voltage under load, and with a higher current. "
        "So the running time is too short rather than too long. The verdict uses the currents at the "
        "cut-off at rest."
    ),
    source="Ohm's law",
)
CUTOFF_AT_ONCE = Rule(
    id="cutoff-at-once",
    severity=Severity.CAUTION,
    title="The device cuts off immediately",
    explanation=(
        "Use less load, more or fuller cells, or a lower cut-off within the manufacturer's limit. Under "
        "this load the voltage is at the cut-off from the start, so the pack does not run."
    ),
    source="Ohm's law",
)
POWER_GIVES_OUT = Rule(
    id="power-gives-out",
    limit=LimitName.AVAILABLE_POWER,
    severity=Severity.WARNING,
    title="The pack gives out before its cut-off",
    explanation=(
        "Use less load or more cells. Before the voltage is down to the cut-off, the load needs more power "
        "than the pack can supply. There the device stops or stutters, at a very high current. A source of "
        "voltage U and resistance R supplies at most U²/4R."
    ),
    source="Maximum power transfer, OpenStax University Physics Vol. 2, module m58453",
)
NO_POWER_LEFT = Rule(
    id="no-power-left",
    limit=LimitName.AVAILABLE_POWER,
    severity=Severity.WARNING,
    title="No power is left for the output",
    explanation=(
        "Use more cells, cells with a higher rating that you trust, or a converter that uses less. The "
        "converter itself uses all the power that the cells can supply within their rating, or more."
    ),
    source="Conservation of energy",
)
HIGHEST_POWER_BEYOND = Rule(
    id="highest-power-beyond",
    severity=Severity.NOTE,
    title="The highest power within the rating exceeds another limit",
    explanation=(
        "In an assessment the highest power depends only on the rating of the cells. At that power the "
        "pack would exceed another limit. The power that you asked about is judged separately. Ask "
        "`highest-power` to see what exceeds the limit."
    ),
    source="Maximum power transfer, OpenStax University Physics Vol. 2, module m58453; end voltages by chemistry",
)
CHARGE_LEFT = Rule(
    id="charge-left",
    severity=Severity.NOTE,
    title="Much of the charge stays in the cells",
    explanation=(
        "The sag brings the voltage down to the cut-off while the cells are far from empty. More cells, "
        "less load or cells with a lower resistance use more of it. So does a lower cut-off, within the "
        "manufacturer's limit."
    ),
    source="Ohm's law on the curve of the chemistry, see the method page",
)
CUTOFF_DECIDES = Rule(
    id="cutoff-decides",
    severity=Severity.NOTE,
    title="The cut-off of a device decides how much of a cell it uses",
    explanation=(
        "Never discharge cells below the manufacturer's end-of-discharge voltage. When a device stops at a "
        "high voltage, its cells can still hold much of their charge. The more they sag, the more is left. "
        "So fewer cells with a lower cut-off can last nearly as long."
    ),
    source="Ohm's law on the curve of the chemistry, see the method page",
)
NO_RUNNING_TIME = Rule(
    id="no-running-time",
    severity=Severity.CAUTION,
    title="A setup of the comparison has no running time",
    explanation=(
        "Check the limits of this setup, correct what the reason names, and compare again. Only the other "
        "setups are ranked. This setup is not better than they are: its load can still be too much for its "
        "cells."
    ),
    source="The reason given in the finding",
)
NO_LAYOUT_FITS = Rule(
    id="no-layout-fits",
    severity=Severity.CAUTION,
    title="No layout with this many cells is enough",
    explanation=(
        "Allow more cells, ask for less, or use better cells that you trust: a higher rating, a higher "
        "capacity or a lower resistance. Each layout either exceeds a limit of a cell, or does not run long "
        "enough."
    ),
    source="The manufacturer's continuous discharge rating, and the running time that was asked for",
)
CUTOFF_ASSUMED = Rule(
    id="cutoff-assumed",
    severity=Severity.NOTE,
    title="The cut-off voltage of the device is not known",
    explanation=(
        "Look up the cut-off of your device, and ask again. Behind a converter the current is highest just "
        "before the device stops. Devices stop at different voltages. For 4.2 V cells, 2.8 V per cell is at "
        "the low end of the usual range. A device with a lower cut-off, or with none, draws more."
    ),
    source=COMMON_PRACTICE,
)
DEVICE_ABOVE_USUAL = Rule(
    id="device-above-usual",
    severity=Severity.CAUTION,
    title="Calculated for a higher cut-off or efficiency than usual",
    explanation=(
        "Make sure that your device stops at the given cut-off, and that it is as efficient as given. If you do not "
        "know, leave these fields out. A lower cut-off or efficiency makes each cell carry more."
    ),
    source="Conservation of energy; where devices stop, and their efficiency: " + COMMON_PRACTICE,
)
REST_CUTOFF_IN_SECONDS = Rule(
    id="rest-cutoff-in-seconds",
    severity=Severity.CAUTION,
    title="With a cut-off at rest the current is right for half a minute only",
    explanation=(
        "Keep draws short, or use a device that stops at a voltage under load. Nearly empty cells have "
        "several times the resistance of half-full ones. After 10 s of load a measured cell had 2.5 times "
        "at 8 % of its charge, and 4.4 times at 3 %. The sag and the current include that. The available "
        "power is judged after a minute of the load. A longer draw empties the cells further and draws more "
        "and more current, until the voltage collapses."
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
        "Ask the carrier before you travel, because rules change. The passenger rule for such devices does "
        "not allow a lithium-ion battery of more than 100 Wh. A loose cell counts as one battery, and a "
        "built-in pack counts as a whole. The energy is the printed capacity times the printed nominal "
        "voltage."
    ),
    source="49 CFR 171.8 and 175.10(a)(19)",
)
SAME_POWER_ANY_WIRING = Rule(
    id="converter-wiring",
    severity=Severity.NOTE,
    title="Behind a converter, like cells carry the same in series and in parallel",
    explanation=(
        "A converter draws power. If cells are alike, at the same voltage and share evenly, each supplies the same "
        "share of it, however they are wired. Real cells in parallel do not share evenly."
    ),
    source="Conservation of energy",
)
RATING_NOT_TO_BE_HAD = Rule(
    id="rating-not-to-be-had",
    severity=Severity.CAUTION,
    title="Few cells, or none, have the rating that this load needs",
    explanation=(
        "Use more cells or less load. A label that claims such a rating is doubtful or not believable for "
        "the size of the cell. Without a size, the doubt begins where it does for the size 18650."
    ),
    source="Bounds by size, each with its origin on the method page",
)
