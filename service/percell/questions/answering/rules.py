"""Rules that several subjects share: ratings, sharing, chemistry."""

from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

OVER_RATING = Rule(
    id="over-rating",
    limit=LimitName.CONTINUOUS_RATING,
    severity=Severity.WARNING,
    title="A cell would carry more than its rating",
    explanation=(
        "The current of the worst-case cell, at the corner that is hardest on it, is above the "
        "continuous discharge rating. Use a higher resistance, less power, more cells, or cells with a "
        "higher rating that you trust."
    ),
    source="The manufacturer's continuous discharge rating",
)
LITTLE_HEADROOM = Rule(
    id="little-headroom",
    limit=LimitName.CONTINUOUS_RATING,
    severity=Severity.CAUTION,
    title="Less than a tenth of the rating is left",
    explanation=(
        "The current is within the rating, but by less than 10 %. Ratings, readings and cells age and "
        "vary by more than that."
    ),
    source=("10 % is percell's own choice; the habit of leaving headroom is " + COMMON_PRACTICE),
)
UNEVEN_SHARE = Rule(
    id="uneven-share",
    severity=Severity.NOTE,
    title="Cells in parallel do not share evenly",
    explanation=(
        "Contacts and cells differ, so one cell of a parallel group carries more than an even share. The careful "
        "share is the larger of what is common practice for the load, and of what we computed for cells "
        "whose resistances scatter by 10 %, as used cells and their holders may. New cells of one type "
        "scattered by 0.45 to 3.8 % in published studies. Under a coil P cells count as P − ½ by common practice; behind a "
        "converter the trade counts an even share. A measured resistance for each cell gives a better answer."
    ),
    source=(
        "Monte Carlo as in JCGM 101:2008 over an assumed spread of 10 %; measured spreads: Wildfeuer and "
        "Lienkamp (abstract read), the rest on the method page; counting P cells as P − ½: "
        + COMMON_PRACTICE
    ),
)
SHARING_CHOSEN = Rule(
    id="sharing-chosen",
    severity=Severity.CAUTION,
    title="Calculated with a way of sharing that was chosen",
    explanation=(
        "The answer holds for cells that share as was asked. An even share is theory: no real group shares so. "
        "Counting P cells as P − ½ leaves less margin per cell the more cells there are: one cell carries more "
        "as soon as the resistances of the others are higher than its own by 1/(2P − 3), which is 100 % for two "
        "cells, 33 % for three and 20 % for four. Leave the field out for the careful share."
    ),
    source=(
        "Kirchhoff's rules; Monte Carlo as in JCGM 101:2008 over an assumed spread of 10 %; counting P cells "
        "as P − ½: " + COMMON_PRACTICE
    ),
)
ASSUMPTION_DECIDES = Rule(
    id="assumption-decides",
    severity=Severity.CAUTION,
    title="What was assumed decides whether a cell stays within its rating",
    explanation=(
        "With the usual value the worst-case cell is within its rating, and with another one that is found in the "
        "trade it is not. Look the cut-off of your device and the charged voltage of your cells up, and ask again."
    ),
    source="Ohm's law; voltages by chemistry, see the method page",
)
CHEMISTRY_ASSUMED = Rule(
    id="chemistry-assumed",
    severity=Severity.NOTE,
    title="The chemistry was assumed",
    explanation=(
        "Nothing was said about the chemistry, so the usual one of high-drain round cells is taken. Some cells "
        "are charged to a higher voltage, and a coil then draws more. Look up the charged voltage of yours."
    ),
    source="Ohm's law; charged voltages by chemistry, see the method page",
)
NO_CURVE = Rule(
    id="no-curve",
    severity=Severity.NOTE,
    title="No published curve stands for this chemistry",
    explanation=(
        "Currents need no curve. Where joined cells come to rest, and how long a pack runs, does, and is left "
        "out."
    ),
    source="The curves that there are, see the method page",
)
SHORT_CIRCUIT = Rule(
    id="near-short-circuit",
    limit=LimitName.AVAILABLE_POWER,
    severity=Severity.WARNING,
    title="The coil is near a short circuit for this pack",
    explanation=(
        "The coil's lowest likely resistance is no higher than the pack's own. At least half of the power "
        "would turn to heat inside the cells. The highest current, which leaves the sag out, is then more than "
        "the pack can give; what it can is far too much."
    ),
    source="Maximum power transfer, OpenStax University Physics Vol. 2, module m58453",
)
NEAR_COLLAPSE = Rule(
    id="near-collapse",
    limit=LimitName.AVAILABLE_POWER,
    severity=Severity.WARNING,
    title="The pack is near the most power it can give",
    explanation=(
        "A source gives at most U²/4R, with half of its voltage left. From nine tenths of that on, a third of "
        "the power and more heats the cells and their contacts, and a little less charge, or a little more "
        "resistance in the cold or with age, brings the voltage down. Set less power, or use more cells."
    ),
    source=(
        "Maximum power transfer, OpenStax University Physics Vol. 2, module m58453; nine tenths is percell's "
        "own choice"
    ),
)
RESISTANCE_ASSUMED = Rule(
    id="resistance-assumed",
    severity=Severity.NOTE,
    title="The cells' resistance was assumed",
    explanation=(
        "The answer leans on a resistance that nobody measured. Measure it under load (d.c., not the "
        "1 kHz a.c. value, which is lower) and ask again."
    ),
    source="d.c. method of IEC 61960-3 (secondary copy)",
)
COLD = Rule(
    id="cold",
    severity=Severity.CAUTION,
    title="Cold cells have several times the resistance",
    explanation=(
        "Measured cells had 1.45 times the resistance of 25 °C at 10 °C, 2.3 times at 0 °C, 3.8 times at −10 °C and "
        "6.1 times at −20 °C. They sag as many times as far, heat more, and give less of their charge. The figures "
        "count the resistance. Other cells may be worse, so below −10 °C nothing is judged as within a limit. Warm "
        "the cells to room temperature before use."
    ),
    source="P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1: resistance after 1 s, mean from 30 to 80 % of charge",
)
CUTOFF_BELOW_END = Rule(
    id="cutoff-below-end",
    limit=LimitName.END_VOLTAGE,
    severity=Severity.WARNING,
    title="The load stops below the usual end of discharge",
    explanation=(
        "The cut-off voltage is below the end-of-discharge voltage of this chemistry. Deep discharge harms "
        "the cell; one found below its end voltage is not to be charged again."
    ),
    source=("End voltages by chemistry, see the method page; the advice is " + COMMON_PRACTICE),
)
CHARGED_ABOVE_CHEMISTRY = Rule(
    id="charged-above-chemistry",
    limit=LimitName.CHARGED_VOLTAGE,
    severity=Severity.WARNING,
    title="The charged voltage is above what this chemistry takes",
    explanation="A cell charged above its manufacturer's voltage can fail violently. Check the chemistry and the charger.",
    source="Charged voltages by chemistry, see the method page",
)
CHARGED_BELOW_CHEMISTRY = Rule(
    id="charged-below-chemistry",
    severity=Severity.CAUTION,
    title="Calculated for a partial charge",
    explanation=(
        "A coil draws most from a full pack. The charged voltage that was given is below the one to which this "
        "chemistry is charged, as the nominal voltage is: fully charged cells would carry more than stated "
        "here. Leave the field out unless your charger is known to end there."
    ),
    source="Ohm's law; charged voltages by chemistry, see the method page",
)
TOUCH_VOLTAGE = Rule(
    id="touch-voltage",
    severity=Severity.CAUTION,
    title="The pack's voltage is dangerous to touch",
    explanation=(
        "Above 60 V d.c. a current through the body can kill, and a switch or a loose contact can draw an arc "
        "that does not go out. Work on it only if you are qualified. Cover every contact, fuse the pack, and use "
        "switches, fuses and wires rated for that d.c. voltage."
    ),
    source="60 V d.c. as the customary limit of touch voltage, from memory, unconfirmed",
)
CURVE_BORROWED = Rule(
    id="curve-borrowed",
    severity=Severity.NOTE,
    title="The curve of charge and voltage is another cell's",
    explanation=(
        "What a cell's voltage says about its charge was read on a published curve of one design of cell of "
        "this chemistry. Curves of 4.2 V cells differ by about 0.24 V at half charge, so the figures are "
        "estimates."
    ),
    source="The curves that there are, see the method page; the difference is our own comparison of them",
)
