"""Rules that several subjects share: ratings, sharing, chemistry."""

from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

OVER_RATING = Rule(
    id="over-rating",
    limit=LimitName.CONTINUOUS_RATING,
    severity=Severity.WARNING,
    title="A cell would carry more than its rating",
    explanation=(
        "Use a higher resistance, less power, more cells, or cells with a higher rating that you trust. In the worst "
        "case a cell carries more than its continuous discharge rating."
    ),
    source="The manufacturer's continuous discharge rating",
)
LITTLE_HEADROOM = Rule(
    id="little-headroom",
    limit=LimitName.CONTINUOUS_RATING,
    severity=Severity.CAUTION,
    title="Less than a tenth of the rating is left",
    explanation=(
        "Leave more headroom. The current is within the rating, but by less than 10 %. Ratings, readings and cells "
        "vary and age by more than that."
    ),
    source=("10 % is percell's own choice; the habit of leaving headroom is " + COMMON_PRACTICE),
)
UNEVEN_SHARE = Rule(
    id="uneven-share",
    severity=Severity.NOTE,
    title="Cells in parallel do not share evenly",
    explanation=(
        "Measure the resistance of each cell for a better answer. Contacts and cells differ, so one cell of a parallel "
        "group carries more than an even share. The default, the careful share, is the larger of two: common practice for the load, "
        "and the share computed for a resistance spread of 10 %. Used cells and their holders can differ by that much. "
        "New cells of one type had a spread of 0.45 to 3.8 % in published studies. Under a coil, common practice counts "
        "P cells as P − ½. Behind a converter it counts an even share."
    ),
    source=(
        "Monte Carlo as in JCGM 101:2008 over an assumed spread of 10 %; measured spreads: Wildfeuer and "
        "Lienkamp (abstract read), all others on the method page; counting P cells as P − ½: "
        + COMMON_PRACTICE
    ),
)
SHARING_CHOSEN = Rule(
    id="sharing-chosen",
    severity=Severity.CAUTION,
    title="Calculated with a chosen way of sharing",
    explanation=(
        "Do not choose a way of sharing: percell then allows for unequal cells (the careful share). The answer holds only for cells that share as asked. An even share "
        "is theory: no real group shares like that. The P − ½ rule leaves less margin per cell the more cells there "
        "are. One cell carries more as soon as the resistance of the others is higher by 1/(2P − 3). That is 100 % for "
        "two cells, 33 % for three and 20 % for four."
    ),
    source=(
        "Kirchhoff's rules; Monte Carlo as in JCGM 101:2008 over an assumed spread of 10 %; counting P cells "
        "as P − ½: " + COMMON_PRACTICE
    ),
)
ASSUMPTION_DECIDES = Rule(
    id="assumption-decides",
    severity=Severity.CAUTION,
    title="An assumption decides whether a cell stays within its rating",
    explanation=(
        "Look up the cut-off of your device and the charged voltage of your cells, and ask again. With the assumed "
        "value the worst-case cell is within its rating. With another common value it is not."
    ),
    source="Ohm's law; voltages by chemistry, see the method page",
)
CHEMISTRY_ASSUMED = Rule(
    id="chemistry-assumed",
    severity=Severity.NOTE,
    title="The chemistry was assumed",
    explanation=(
        "Look up the charged voltage of your cells. No chemistry was given, so percell assumed the usual one of "
        "high-drain round cells. Some cells are charged to a higher voltage, and a coil then draws more."
    ),
    source="Ohm's law; charged voltages by chemistry, see the method page",
)
NO_CURVE = Rule(
    id="no-curve",
    severity=Severity.NOTE,
    title="No published curve for this chemistry",
    explanation=(
        "The answer leaves out the voltage at which joined cells come to rest and the running time of a pack, because "
        "both need a curve. Currents need none."
    ),
    source="The curves that there are, see the method page",
)
SHORT_CIRCUIT = Rule(
    id="near-short-circuit",
    limit=LimitName.AVAILABLE_POWER,
    severity=Severity.WARNING,
    title="The coil is near a short circuit for this pack",
    explanation=(
        "Do not use this coil with this pack. Its lowest likely resistance is no higher than that of the pack itself, so "
        "at least half of the power would heat the cells. The highest current ignores sag and is more than the pack "
        "can supply. Even what the pack can supply is far too much."
    ),
    source="Maximum power transfer, OpenStax University Physics Vol. 2, module m58453",
)
NEAR_COLLAPSE = Rule(
    id="near-collapse",
    limit=LimitName.AVAILABLE_POWER,
    severity=Severity.WARNING,
    title="The pack is near the most power it can supply",
    explanation=(
        "Set less power, or use more cells. A source supplies at most U²/4R, with half of its voltage left. From nine "
        "tenths of that, a third of the power or more heats the cells and their contacts. A little less charge, or a "
        "little more resistance from cold or age, then makes the voltage collapse."
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
        "Measure the resistance under load and ask again. Use the d.c. value, not the 1 kHz a.c. value, which is lower. "
        "The answer uses a resistance that was not measured."
    ),
    source="d.c. method of IEC 61960-3 (secondary copy)",
)
COLD = Rule(
    id="cold",
    severity=Severity.CAUTION,
    title="Cold cells have several times the resistance",
    explanation=(
        "Warm the cells to room temperature before use. Compared with 25 °C, measured cells had 1.45 times the "
        "resistance at 10 °C, 2.3 times at 0 °C, 3.8 times at −10 °C and 6.1 times at −20 °C. Their sag grows by the "
        "same factor. They heat more and deliver less of their charge. The figures include the resistance. Other cells "
        "can be worse, so below −10 °C nothing is judged as within a limit."
    ),
    source="P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1: resistance after 1 s, mean from 30 to 80 % of charge",
)
CUTOFF_BELOW_END = Rule(
    id="cutoff-below-end",
    limit=LimitName.END_VOLTAGE,
    severity=Severity.WARNING,
    title="The load stops below the end-of-discharge voltage",
    explanation=(
        "Never charge a cell that has dropped below its end-of-discharge voltage: deep discharge harms it. This load "
        "stops below that voltage of this chemistry."
    ),
    source=("End voltages by chemistry, see the method page; the advice is " + COMMON_PRACTICE),
)
CHARGED_ABOVE_CHEMISTRY = Rule(
    id="charged-above-chemistry",
    limit=LimitName.CHARGED_VOLTAGE,
    severity=Severity.WARNING,
    title="The charged voltage is too high for this chemistry",
    explanation="Check the chemistry and the charger. A cell charged above its manufacturer's voltage can fail violently.",
    source="Charged voltages by chemistry, see the method page",
)
CHARGED_BELOW_CHEMISTRY = Rule(
    id="charged-below-chemistry",
    severity=Severity.CAUTION,
    title="Calculated for a partial charge",
    explanation=(
        "Leave the field out, unless you know that your charger stops there. A coil draws most from a full pack. The "
        "given charged voltage is below the usual full charge of this chemistry. Fully charged cells would carry more "
        "than stated here."
    ),
    source="Ohm's law; charged voltages by chemistry, see the method page",
)
TOUCH_VOLTAGE = Rule(
    id="touch-voltage",
    severity=Severity.CAUTION,
    title="The pack's voltage is dangerous to touch",
    explanation=(
        "Work on this pack only if you are qualified. Cover every contact, fuse the pack, and use switches, fuses and "
        "wires rated for its d.c. voltage. Above 60 V d.c. a current through the body can kill. A switch or a loose "
        "contact can draw an arc that does not go out."
    ),
    source="60 V d.c. as the customary limit of touch voltage, from memory, unconfirmed",
)
CURVE_BORROWED = Rule(
    id="curve-borrowed",
    severity=Severity.NOTE,
    title="The charge was read from the curve of another cell",
    explanation=(
        "Treat the figures as estimates. The charge was read from a published curve of one cell design of this "
        "chemistry. Curves of 4.2 V cells differ by about 0.24 V at half charge."
    ),
    source="The curves that there are, see the method page; the difference is our own comparison of them",
)
