"""Rules of cells that differ: sharing, joining, drift, matched sets."""

from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

SHARE_ABOVE_CAREFUL = Rule(
    id="share-above-careful",
    severity=Severity.CAUTION,
    title="A cell carries more than percell assumes by default",
    explanation=(
        "Use this answer for these cells, or match them better. They differ by more than the other questions "
        "allow for by default (the careful share)."
    ),
    source=(
        "Kirchhoff's rules; Monte Carlo as in JCGM 101:2008 over an assumed spread of 10 %; counting P cells "
        "as P − ½: " + COMMON_PRACTICE
    ),
)
CHARGED_BY_NEIGHBOURS = Rule(
    id="charged-by-neighbours",
    limit=LimitName.CHARGE_CURRENT,
    severity=Severity.CAUTION,
    title="Other cells charge this cell",
    explanation=(
        "Separate the cells, charge each one individually to the same voltage, and look for a defective one. "
        "Cells in parallel come to one voltage: higher ones charge lower ones, and no charger limits the current. "
        "Most flows while no load is on, and no load is always on. "
        "A discharge rating is not a charge limit. The manufacturer's charge current is lower."
    ),
    source=(
        "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
        + COMMON_PRACTICE
    ),
)
NEIGHBOURS_TOO_FAST = Rule(
    id="neighbours-charge-too-fast",
    limit=LimitName.CHARGE_CURRENT,
    severity=Severity.WARNING,
    title="Other cells charge this cell too fast",
    explanation=(
        "Do not use or join these cells as they are. Separate them, charge each one individually to the same "
        "voltage, and look for a defective one. The other cells of the group push more current into this one "
        "than its charge limit, and nothing limits it."
    ),
    source=(
        "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
        + COMMON_PRACTICE
    ),
)
DRAWS_MORE_WHEN_EMPTY = Rule(
    id="draws-more-when-empty",
    severity=Severity.CAUTION,
    title="A converter draws more as the cells empty",
    explanation=(
        "Use the currents at the cut-off of the device, because it draws most there. Expect even more: nearly "
        "empty cells have more resistance and share less evenly. A converter keeps its power constant, so its "
        "current rises as the voltage of the cells falls. The currents at this moment are not the highest."
    ),
    source="Conservation of energy; where devices stop is " + COMMON_PRACTICE,
)
DRAWS_MORE_WHEN_FULL = Rule(
    id="draws-more-when-full",
    severity=Severity.CAUTION,
    title="A coil draws more from full cells",
    explanation=(
        "Use the currents of full cells, because a coil draws most from them. The voltages in the question are "
        "below those of full cells, so the currents at this moment are not the highest."
    ),
    source="Ohm's law; charged voltages by chemistry, see the method page",
)
UNLIKE_RATINGS = Rule(
    id="unlike-ratings",
    severity=Severity.CAUTION,
    title="Cells of different ratings in one pack",
    explanation=(
        "Only use cells of the same make, age and history in one pack. Cells of different ratings are not alike: "
        "they share unevenly, age unevenly and drift apart in use."
    ),
    source="FDA Center for Tobacco Products advice (secondary copy): do not mix brands, old with new",
)
CELL_REVERSED = Rule(
    id="cell-reversed",
    limit=LimitName.REVERSAL,
    severity=Severity.WARNING,
    title="A cell is driven into reversal",
    explanation=(
        "Never charge a cell that was reversed: it is damaged. The other cells force more current through this "
        "cell than it can supply, so the voltage at its terminals is below zero."
    ),
    source=("Kirchhoff's rules; the advice is " + COMMON_PRACTICE),
)
JOINING_RUSH = Rule(
    id="joining-rush",
    limit=LimitName.CHARGE_CURRENT,
    severity=Severity.WARNING,
    title="Joining these cells charges one of them too fast",
    explanation=(
        "Do not join the cells yet. Charge each one individually to the same voltage, let them rest, and measure. "
        "Join them only if their voltages differ by no more than the answer allows. At the moment of contact "
        "only the resistances limit the current."
    ),
    source=(
        "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
        + COMMON_PRACTICE
    ),
)
CHARGE_LIMIT_DOUBTED = Rule(
    id="charge-limit-doubted",
    limit=LimitName.CHARGE_CURRENT,
    severity=Severity.CAUTION,
    title="The charge limit may be a discharge rating",
    explanation=(
        "Look up the charge current in the manufacturer's data sheet, and ask again. The given limit is more than "
        "twice the capacity per hour, which few cells allow. It may be the discharge rating. So no current counts "
        "as within it."
    ),
    source="Twice the capacity per hour: " + COMMON_PRACTICE,
)
JOIN_LIKE_CELLS = Rule(
    id="join-like-cells",
    severity=Severity.CAUTION,
    title="Only join cells of the same make, age and history",
    explanation=(
        "Only join cells of the same make, age and history: equal voltages do not make cells equal. Others "
        "share unevenly and drift apart again in use. The highest difference of voltage holds for the "
        "resistances in the answer, at the first moment. Half the resistance doubles the current. Do not "
        "use a resistance measured over seconds: it is too high. After 10 s measured cells had 1.7 times "
        "the resistance after 0.1 s."
    ),
    source=(
        "FDA Center for Tobacco Products advice (secondary copy): do not mix brands, old with new; resistances by "
        "time: P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1"
    ),
)
CELL_BELOW_END = Rule(
    id="cell-below-end",
    limit=LimitName.END_VOLTAGE,
    severity=Severity.WARNING,
    title="A cell is below its end-of-discharge voltage",
    explanation=(
        "Do not use, join or charge a cell that rests below the end-of-discharge voltage of its chemistry. It was "
        "discharged too deeply. If a load pulls a cell below that voltage, reduce the load or stop."
    ),
    source=("End voltages by chemistry, see the method page; the advice is " + COMMON_PRACTICE),
)
CELL_ABOVE_FULL = Rule(
    id="cell-above-full",
    limit=LimitName.CHARGED_VOLTAGE,
    severity=Severity.WARNING,
    title="A cell is above its charged voltage",
    explanation=(
        "Check the chemistry. If it is right, do not use, join or charge the cell: it is overcharged and can fail "
        "violently. It rests more than 0.05 V above the charged voltage of its chemistry."
    ),
    source=(
        "Charged voltages by chemistry, see the method page; 0.05 V is the step from 4.20 V to the upper limit of "
        "4.25 V in IEC 62133-2, from memory, unconfirmed"
    ),
)
VOLTAGE_OFF_CURVE = Rule(
    id="voltage-off-curve",
    severity=Severity.CAUTION,
    title="Voltage outside the range of this chemistry",
    explanation=(
        "Measure again, and check the chemistry. The open-circuit voltage is outside the chemistry's curve, so the "
        "charge in the cell is not known."
    ),
    source="Open-circuit voltage curves by chemistry, see the method page",
)
ONE_CURRENT_IN_SERIES = Rule(
    id="one-current-in-series",
    severity=Severity.NOTE,
    title="All cells of a string carry the same current",
    explanation=(
        "The same charge flows through each cell of a series string. It empties a weak cell further, heats it "
        "more and ages it faster, because this cell has less capacity and more resistance. Its current is not "
        "higher than that of the others."
    ),
    source="One current through a string: OpenStax University Physics Vol. 2, module m58455",
)
STRING_APART = Rule(
    id="string-apart",
    severity=Severity.CAUTION,
    title="A cell leaves its own voltage range while the pack's total voltage looks normal",
    explanation=(
        "Charge each cell individually, and only use cells of the same capacity, age and history in one string. "
        "A device or charger that measures the whole string sees only the sum. If cells differ, one can be below "
        "its cut-off voltage or above its charged voltage while the sum looks normal."
    ),
    source=(
        "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
        + COMMON_PRACTICE
    ),
)
SAG_NOT_COUNTED = Rule(
    id="sag-not-counted",
    severity=Severity.CAUTION,
    title="A cell with more resistance falls lower under a load",
    explanation=(
        "Give the current at the end of the discharge, and use the lower of the two answers. This answer is for a "
        "load so weak that no cell sags. Such a load takes the most charge out of the weak cell. A cell more than "
        "a tenth above the mean resistance can fall lower under a strong load."
    ),
    source="Ohm's law; a tenth is percell's own choice",
)
DRIFT_CUTOFF_ASSUMED = Rule(
    id="drift-cutoff-assumed",
    severity=Severity.CAUTION,
    title="A device with a lower cut-off drives the weakest cell beyond its limits",
    explanation=(
        "Find out where your device stops and ask again, or only use cells of the same capacity, age and history "
        "together. Devices stop at different voltages, and the cut-off of yours was assumed. One that empties the "
        "string to the end-of-discharge voltage per cell drives the weakest cell below it."
    ),
    source="Conservation of charge; where devices stop is " + COMMON_PRACTICE,
)
DRIFT_DEEP = Rule(
    id="drift-over-discharge",
    limit=LimitName.END_VOLTAGE,
    severity=Severity.WARNING,
    title="The string drives a cell below its end-of-discharge voltage",
    explanation=(
        "Never charge a cell that rests below its end-of-discharge voltage: deep discharge harms it. The weakest "
        "cell is below that voltage before the pack as a whole reaches its cut-off."
    ),
    source=(
        "Conservation of charge; end voltages by chemistry, see the method page; the advice is "
        + COMMON_PRACTICE
    ),
)
DRIFT_REVERSED = Rule(
    id="drift-reversal",
    limit=LimitName.REVERSAL,
    severity=Severity.WARNING,
    title="The string drives a cell below zero",
    explanation=(
        "Never charge a cell that was reversed: it is damaged. The other cells force their current through the "
        "empty one, and its poles change sign. The voltage below empty is extrapolated: it shows that the cell "
        "falls below zero, not how far."
    ),
    source=(
        "Conservation of charge; damage by forced over-discharge: J. Electrochem. Soc. 165(9) (2018) A1639 "
        "(abstract)"
    ),
)
DRIFT_OVERCHARGED = Rule(
    id="drift-overcharge",
    limit=LimitName.CHARGED_VOLTAGE,
    severity=Severity.WARNING,
    title="A charger for the whole string overcharges a cell",
    explanation=(
        "Use a charger that monitors each cell, or charge each cell individually. A cell charged above its "
        "manufacturer's voltage can fail violently. The fullest cell is more than 0.05 V above its charged "
        "voltage when the charge of the string ends."
    ),
    source=(
        "Conservation of charge; 0.05 V is the step from 4.20 V to the upper limit of 4.25 V in IEC 62133-2, "
        "from memory, unconfirmed"
    ),
)
SETS_NOT_PROVEN = Rule(
    id="sets-not-proven",
    severity=Severity.NOTE,
    title="These sets are not proven to be the best",
    explanation=(
        "Other sets may match more closely. There are too many choices to compare them all, and a search found "
        "these sets."
    ),
    source="Set packing, see the method page",
)
SETS_FAR_APART = Rule(
    id="sets-far-apart",
    severity=Severity.CAUTION,
    title="The closest sets of these cells do not match",
    explanation=(
        "Do not put these cells in one pack. Measure more cells, or leave some out. Cells of one set differ by "
        "more than 5 % of the median capacity, 20 % of the median resistance, or 0.05 V at rest. In parallel a "
        "difference of 20 % in resistance cut the cycle life of two cells by about 40 %. In series the weakest "
        "cell empties first."
    ),
    source="Gogoana et al., J. Power Sources 252 (2014) 8, for the 20 %; the other marks are percell's own choice",
)
SETS_MEASURED_ONLY = Rule(
    id="sets-measured-only",
    severity=Severity.CAUTION,
    title="Matched cells can still be unhealthy",
    explanation=(
        "Only use cells of the same make, age and history together. Measure them on the same day, at the same "
        "temperature and by the same method. Measure a set again after some cycles. The cells match only in what "
        "was measured, and worn or damaged cells can match too."
    ),
    source="FDA Center for Tobacco Products advice (secondary copy): do not mix brands, old with new",
)
