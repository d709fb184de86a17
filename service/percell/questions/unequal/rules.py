"""Rules of cells that differ: sharing, joining, drift, matched sets."""

from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

SHARE_ABOVE_CAREFUL = Rule(
    id="share-above-careful",
    severity=Severity.CAUTION,
    title="A cell carries more than the careful share",
    explanation=(
        "These cells differ by more than the careful share counts on, which all other questions use. Go by "
        "this answer for these cells, or match them better."
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
    title="A cell is being charged by its neighbours",
    explanation=(
        "Cells in parallel come to one voltage, the higher ones by charging the lower ones, with no charger "
        "to limit the current. A discharge rating is not a charge limit: the manufacturer's charge current is lower. "
        "Take the cells apart, charge each one individually to the same voltage, and look for a defective one."
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
    title="A cell is charged too fast by its neighbours",
    explanation=(
        "The cells of a parallel group push more current into this one than it may be charged with, and nothing "
        "limits it. Do not use or join these cells as they are. Take them apart, charge each one individually to "
        "the same voltage, and look for a defective one."
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
        "A converter holds its power, so its current rises while the voltage of the cells falls. The currents of "
        "this moment are not the highest. Go by those at the cut-off of the device, where it draws most, and "
        "expect more than they say: nearly empty cells have more resistance, and share less evenly."
    ),
    source="Conservation of energy; where devices stop is " + COMMON_PRACTICE,
)
CELL_REVERSED = Rule(
    id="cell-reversed",
    limit=LimitName.REVERSAL,
    severity=Severity.WARNING,
    title="A cell is driven into reversal",
    explanation=(
        "The current is higher than this cell can give, and the others force it through: the voltage at its "
        "terminals is below zero. Never charge a cell that was reversed: it is damaged."
    ),
    source=("Kirchhoff's rules; the advice is " + COMMON_PRACTICE),
)
JOINING_RUSH = Rule(
    id="joining-rush",
    limit=LimitName.CHARGE_CURRENT,
    severity=Severity.WARNING,
    title="Joining these cells charges one of them too fast",
    explanation=(
        "At the moment of contact only the resistances limit the current. Do not join the cells yet. Charge each "
        "one individually to the same voltage, let them rest, measure, and join them only within the difference "
        "that the answer names."
    ),
    source=(
        "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
        + COMMON_PRACTICE
    ),
)
JOIN_LIKE_CELLS = Rule(
    id="join-like-cells",
    severity=Severity.CAUTION,
    title="Only join cells of the same make, age and history",
    explanation=(
        "Equal voltages do not make cells alike. Cells that differ in make, age or history share unevenly and drift "
        "apart again in use. The highest difference of the voltages holds for the resistances in the answer, at the "
        "first moment: half the resistance doubles the current. A resistance measured over seconds is too high "
        "for it: after 10 s measured cells had 1.7 times that after 0.1 s."
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
    title="A cell is below its end of discharge",
    explanation=(
        "A cell that rests below the end-of-discharge voltage of its chemistry was discharged too deeply. Do not "
        "use, join or charge it. A cell that a load pulls below that voltage is being discharged too deeply: "
        "lighten the load, or stop."
    ),
    source=("End voltages by chemistry, see the method page; the advice is " + COMMON_PRACTICE),
)
CELL_ABOVE_FULL = Rule(
    id="cell-above-full",
    limit=LimitName.CHARGED_VOLTAGE,
    severity=Severity.WARNING,
    title="A cell is above its charged voltage",
    explanation=(
        "A cell that rests more than 0.05 V above the charged voltage of its chemistry is overcharged and can fail "
        "violently, or its chemistry is another. Check the chemistry. Otherwise do not use, join or charge it."
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
        "The open-circuit voltage is below the empty or above the full end of the chemistry's curve, so the charge "
        "in the cell is not known. Measure again, and check the chemistry."
    ),
    source="Open-circuit voltage curves by chemistry, see the method page",
)
ONE_CURRENT_IN_SERIES = Rule(
    id="one-current-in-series",
    severity=Severity.NOTE,
    title="All cells of a string carry the same current",
    explanation=(
        "The same charge goes through each cell of a series string. A weak cell is emptied further by it, "
        "gets hotter and ages faster because it holds less and resists more, not because it is given more "
        "to do."
    ),
    source="One current through a string: OpenStax University Physics Vol. 2, module m58455",
)
STRING_APART = Rule(
    id="string-apart",
    severity=Severity.CAUTION,
    title="A cell goes beyond its own end while the pack's total voltage looks normal",
    explanation=(
        "A device or a charger that watches the whole string sees only the sum. With cells that differ, one is "
        "below its cut-off voltage, or above its charged voltage, while the sum looks normal. Charge each cell "
        "individually, and use only cells of the same capacity, age and history in one string."
    ),
    source=(
        "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
        + COMMON_PRACTICE
    ),
)
SAG_NOT_COUNTED = Rule(
    id="sag-not-counted",
    severity=Severity.CAUTION,
    title="A cell with more resistance goes lower under a load than at rest",
    explanation=(
        "The answer holds for a load so weak that no cell sags, which takes the most charge out of the weak cell. "
        "A cell whose resistance is more than a tenth above the mean may have its lowest voltage under a strong load instead. Give the "
        "current at the end of the discharge, and go by the lower of the two answers."
    ),
    source="Ohm's law; a tenth is percell's own choice",
)
DRIFT_CUTOFF_ASSUMED = Rule(
    id="drift-cutoff-assumed",
    severity=Severity.CAUTION,
    title="A device that stops lower takes the weakest cell beyond its limits",
    explanation=(
        "The cut-off of the device is not known. Devices stop at different voltages, and one that runs the string "
        "down to the end of discharge per cell takes the weakest cell further than that. Find out where yours "
        "stops and ask again, or charge and use only cells of the same capacity, age and history together."
    ),
    source="Conservation of charge; where devices stop is " + COMMON_PRACTICE,
)
DRIFT_DEEP = Rule(
    id="drift-over-discharge",
    limit=LimitName.END_VOLTAGE,
    severity=Severity.WARNING,
    title="The string drives a cell below its end of discharge",
    explanation=(
        "The weakest cell is below its end-of-discharge voltage before the pack as a whole reaches its cut-off. "
        "Deep discharge harms it. Never charge a cell that rests below its end voltage."
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
        "The other cells force their current through the one that is empty, and its poles change sign. Never "
        "charge a cell that was reversed: it is damaged. The voltage below empty is an extrapolation: it shows "
        "that the cell goes below zero, not how far."
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
    title="A charger for the whole string charges a cell too far",
    explanation=(
        "The fullest cell is more than 0.05 V above its charged voltage when the sum is at its end. A cell "
        "charged above its manufacturer's voltage can fail violently: use a charger that watches each cell, or "
        "charge each individually."
    ),
    source=(
        "Conservation of charge; 0.05 V is the step from 4.20 V to the upper limit of 4.25 V in IEC 62133-2, "
        "from memory, unconfirmed"
    ),
)
SETS_NOT_PROVEN = Rule(
    id="sets-not-proven",
    severity=Severity.NOTE,
    title="These sets are good, but not proven to be the best",
    explanation=(
        "There are too many ways to put these cells into sets for all to be compared. A search found these; "
        "others may match a little closer."
    ),
    source="Set packing, see the method page",
)
SETS_FAR_APART = Rule(
    id="sets-far-apart",
    severity=Severity.CAUTION,
    title="The closest set of these cells is no matched set",
    explanation=(
        "Cells of one set differ by more than 5 % of the median in capacity, 20 % in resistance, or 0.05 V at "
        "rest. They are the closest of those given, and still do not belong in one pack: in parallel a difference of 20 % "
        "in resistance cut the cycle life of two cells by about 40 %, and in series the weakest is emptied "
        "first. Measure more cells, or leave some out."
    ),
    source="Gogoana et al., J. Power Sources 252 (2014) 8, for the 20 %; the other marks are percell's own choice",
)
SETS_MEASURED_ONLY = Rule(
    id="sets-measured-only",
    severity=Severity.CAUTION,
    title="Matched cells are not thereby healthy cells",
    explanation=(
        "The cells match in what was measured, and in nothing else. Worn or damaged cells can match each other "
        "too. Only use cells of the same make, age and history together, measured on the same day, at the same "
        "temperature and by the same method. Measure a set again after some cycles."
    ),
    source="FDA Center for Tobacco Products advice (secondary copy): do not mix brands, old with new",
)
