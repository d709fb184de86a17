"""Rules of cells that differ: sharing, joining, drift, matched sets."""

from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

SHARE_ABOVE_ALLOWANCE = Rule(
    id="share-above-allowance",
    severity=Severity.CAUTION,
    title="A cell carries more than the sharing allowance counts on",
    explanation=(
        "The resistances or voltages of these cells differ by more than counting P cells as P − ½ covers. "
        "Take the computed current, or match the cells better."
    ),
    source=("Kirchhoff's rules; the allowance is " + COMMON_PRACTICE),
)
CHARGED_BY_NEIGHBOURS = Rule(
    id="charged-by-neighbours",
    limit=LimitName.CHARGE_CURRENT,
    severity=Severity.CAUTION,
    title="A cell is being charged by its neighbours",
    explanation=(
        "Cells in parallel come to one voltage, the higher ones by charging the lower ones, with no charger "
        "to limit the current. A discharge rating is no charge rating: the manufacturer's charge current is lower. "
        "Take the cells apart, charge each to the same voltage, and look for one that is defective."
    ),
    source=(
        "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
        + COMMON_PRACTICE
    ),
)
CELL_REVERSED = Rule(
    id="cell-reversed",
    limit=LimitName.REVERSAL,
    severity=Severity.WARNING,
    title="A cell is driven into reversal",
    explanation=(
        "The current is higher than this cell can give, and the others force it through: the voltage at its "
        "terminals is below zero. A cell that was reversed is damaged and is not to be charged again."
    ),
    source=("Kirchhoff's rules; the advice is " + COMMON_PRACTICE),
)
JOINING_RUSH = Rule(
    id="joining-rush",
    limit=LimitName.CHARGE_CURRENT,
    severity=Severity.WARNING,
    title="Joining these cells charges one of them too fast",
    explanation=(
        "At the moment of contact the current is limited by the resistances alone. Bring the cells to one "
        "voltage first: charge each by itself, let them rest, measure, and join them only within the "
        "difference that the answer names."
    ),
    source=(
        "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
        + COMMON_PRACTICE
    ),
)
VOLTAGE_OFF_CURVE = Rule(
    id="voltage-off-curve",
    severity=Severity.CAUTION,
    title="A voltage does not belong to a cell of this chemistry",
    explanation=(
        "The open-circuit voltage lies below the empty or above the full end of the curve, so nothing can be "
        "said about the charge in the cell. Below it the cell was discharged too deeply, above it "
        "overcharged, or the chemistry is another: do not join or charge it."
    ),
    source=(
        "Open-circuit voltage curves by chemistry, see the method page; the advice is "
        + COMMON_PRACTICE
    ),
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
    title="A cell passes a limit that the pack as a whole still keeps",
    explanation=(
        "A device or a charger that looks at the whole string sees only the sum. With cells that differ, "
        "one is below its cut-off voltage, or above its charged voltage, while the sum is in order. Charge "
        "each cell by itself, and use only cells of the same capacity, age and history in one string."
    ),
    source=(
        "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
        + COMMON_PRACTICE
    ),
)
DRIFT_DEEP = Rule(
    id="drift-over-discharge",
    limit=LimitName.END_VOLTAGE,
    severity=Severity.WARNING,
    title="The string drives a cell below its end of discharge",
    explanation=(
        "The weakest cell is past empty before the pack as a whole reaches its cut-off. Deep discharge harms "
        "it, and a cell found below its end voltage is not to be charged again."
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
        "The other cells force their current through the one that is empty, and its poles change sign. A "
        "cell that was reversed is damaged and is not to be charged again. The voltage below empty is an "
        "extrapolation: that it goes below zero is the message, not how far."
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
        "rest. They are the closest of those given, and still not for one pack: in parallel a difference of 20 % "
        "in resistance cut the cycle life of two cells by about 40 %, and in series the weakest is emptied "
        "first. Measure more cells, or leave some out."
    ),
    source="Gogoana et al., J. Power Sources 252 (2014) 8, for the 20 %; the other marks are percell's own choice",
)
SETS_MEASURED_ONLY = Rule(
    id="sets-measured-only",
    severity=Severity.CAUTION,
    title="Matched in what was measured, and in nothing else",
    explanation=(
        "Cells of one pack are to be of the same make, age and history as well, and the measurements of the "
        "same day, temperature and method. Measure a set again after some cycles."
    ),
    source="FDA Center for Tobacco Products advice (secondary copy): do not mix brands, old with new",
)
