"""The rules behind findings: what each looks at, how grave it is, where it comes from."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta, Struct

from percell.questions.vocabulary.fields import COMMON_PRACTICE


class Severity(StrEnum):
    """How grave a finding is."""

    NOTE = "note"
    CAUTION = "caution"
    WARNING = "warning"


class Rule(Struct, frozen=True, kw_only=True):
    """A rule: stable id, what it looks at and what to do about it."""

    id: str
    severity: Severity
    title: str
    explanation: str
    source: str


class Finding(Struct, frozen=True, gc=False):
    """A rule that applies to this question."""

    rule: Annotated[str, Meta(description="Stable id of the rule.")]
    severity: Severity
    sentence: Annotated[str, Meta(description="What was found, with its numbers.")]
    source: Annotated[str, Meta(description="Where the rule comes from.")]
    link: Annotated[str, Meta(description="The reference site's page for the rule.")]


def finding(rule: Rule, sentence: str) -> Finding:
    """Return what was found by a rule."""
    return Finding(rule.id, rule.severity, sentence, rule.source, f"/rules/#{rule.id}")


def each_once(found: list[Finding], more: list[Finding]) -> list[Finding]:
    """Return what was found, each rule once: the first to apply it knows most of its numbers."""
    known = [one.rule for one in found] if more else []
    return found + [one for one in more if one.rule not in known]


_ALL: dict[str, Rule] = {}


def _rule(id: str, severity: Severity, title: str, explanation: str, source: str) -> Rule:  # noqa: A002
    rule = Rule(id=id, severity=severity, title=title, explanation=explanation, source=source)
    _ALL[id] = rule
    return rule


def every_rule() -> list[Rule]:
    """Return all rules, gravest first."""
    order = [Severity.WARNING, Severity.CAUTION, Severity.NOTE]
    return sorted(_ALL.values(), key=lambda rule: order.index(rule.severity))


OVER_RATING = _rule(
    "over-rating",
    Severity.WARNING,
    "A cell would carry more than its rating",
    "The current of the hardest-worked cell, at the corner that is hardest on it, is above the "
    "continuous discharge rating. Use a higher resistance, less power, more cells, or cells with a "
    "higher rating that you trust.",
    "The maker's continuous discharge rating",
)
LITTLE_HEADROOM = _rule(
    "little-headroom",
    Severity.CAUTION,
    "Less than a tenth of the rating is left",
    "The current is within the rating, but by less than 10 %. Ratings, readings and cells age and "
    "vary by more than that.",
    "10 % is percell's own choice; the habit of leaving headroom is " + COMMON_PRACTICE,
)
SHARING_ALLOWANCE = _rule(
    "sharing-allowance",
    Severity.CAUTION,
    "Cells in parallel do not share evenly",
    "Contacts and cells differ, so one cell of a parallel group carries more than an even share. By "
    "common practice P cells count as P − ½. A measured resistance for each cell gives a better answer.",
    "Counting P cells as P − ½: " + COMMON_PRACTICE,
)
SHARING_RULE_NOT_CAREFUL = _rule(
    "sharing-rule-not-careful",
    Severity.CAUTION,
    "For three or more cells in parallel the usual allowance is not the careful side",
    "Counting P cells as P − ½ leaves each cell the smaller a margin the more there are: one cell "
    "carries more as soon as the others' resistances are higher than its own by 1/(2P − 3), which is "
    "100 % for two cells, 33 % for three and 20 % for four. Match the cells by measured resistance, "
    "measure the spread and ask with it, or keep more headroom.",
    "Monte Carlo as in JCGM 101:2008 over an assumed spread of 10 %; the allowance is "
    + COMMON_PRACTICE,
)
SHARE_ABOVE_ALLOWANCE = _rule(
    "share-above-allowance",
    Severity.CAUTION,
    "A cell carries more than the sharing allowance counts on",
    "The resistances or voltages of these cells differ by more than counting P cells as P − ½ covers. "
    "Take the computed current, or match the cells better.",
    "Kirchhoff's rules; the allowance is " + COMMON_PRACTICE,
)
CHARGED_BY_NEIGHBOURS = _rule(
    "charged-by-neighbours",
    Severity.CAUTION,
    "A cell is being charged by its neighbours",
    "Cells in parallel come to one voltage, the higher ones by charging the lower ones, with no charger "
    "to limit the current. A discharge rating is no charge rating: the maker's charge current is lower. "
    "Take the cells apart, charge each to the same voltage, and look for one that is defective.",
    "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
    + COMMON_PRACTICE,
)
CELL_REVERSED = _rule(
    "cell-reversed",
    Severity.WARNING,
    "A cell is driven into reversal",
    "The current is higher than this cell can give, and the others force it through: the voltage at its "
    "terminals is below zero. A cell that was reversed is damaged and is not to be charged again.",
    "Kirchhoff's rules; the advice is " + COMMON_PRACTICE,
)
JOINING_RUSH = _rule(
    "joining-rush",
    Severity.WARNING,
    "Joining these cells charges one of them too fast",
    "At the moment of contact the current is limited by the resistances alone. Bring the cells to one "
    "voltage first: charge each by itself, let them rest, measure, and join them only within the "
    "difference that the answer names.",
    "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
    + COMMON_PRACTICE,
)
VOLTAGE_OFF_CURVE = _rule(
    "voltage-off-curve",
    Severity.CAUTION,
    "A voltage does not belong to a cell of this chemistry",
    "The open-circuit voltage lies below the empty or above the full end of the curve, so nothing can be "
    "said about the charge in the cell. Below it the cell was discharged too deeply, above it "
    "overcharged, or the chemistry is another: do not join or charge it.",
    "Open-circuit voltage curves by chemistry, see the method page; the advice is "
    + COMMON_PRACTICE,
)
NO_CURVE = _rule(
    "no-curve",
    Severity.NOTE,
    "No published curve stands for this chemistry",
    "Currents need no curve. Where joined cells come to rest, and how long a pack runs, does, and is left "
    "out.",
    "The curves that there are, see the method page",
)
_SIMULATED = (
    "Simulated cells of Chen et al. (2020), Kim et al. (2011) and Prada et al. (2013), see the method "
    "page"
)
RUNNING_TIME_ESTIMATE = _rule(
    "running-time-estimate",
    Severity.NOTE,
    "A running time is an estimate",
    "It rests on the curve and sag of one simulated cell of the chemistry, at 25 °C. Cells of another "
    "design, cold cells and aged ones whose health was not given differ by more than the comparison "
    "with the simulation says. Nothing is to depend on the pack lasting that long.",
    _SIMULATED,
)
RUN_ENDS_UNDER_LOAD = _rule(
    "run-ends-under-load",
    Severity.NOTE,
    "The running time takes the cut-off as one under load",
    "A cut-off at rest is reached later than the same voltage under load, and with a higher current. So the "
    "running time is too short rather than too long; the currents that the verdict rests on are those of "
    "the cut-off at rest.",
    "Ohm's rule",
)
BEYOND_COMPARED = _rule(
    "beyond-compared",
    Severity.CAUTION,
    "The load is harder than any that was compared",
    "Current times resistance is above the highest at which our running times were held against "
    "simulated ones. Take the running time as a rough guess.",
    _SIMULATED,
)
CUTOFF_AT_ONCE = _rule(
    "cutoff-at-once",
    Severity.CAUTION,
    "The cut-off is reached at once",
    "Under this load the voltage is at the cut-off from the start, so that the pack does not run. The "
    "load is too high for these cells, they are too empty, or the cut-off is too high.",
    "Ohm's law",
)
POWER_GIVES_OUT = _rule(
    "power-gives-out",
    Severity.CAUTION,
    "The pack gives out before its cut-off",
    "A source of voltage U and resistance R can give at most U²/4R. The load asks for more before the "
    "voltage is down to the cut-off; the device stops or stutters there, at a very high current.",
    "Maximum power transfer, OpenStax University Physics Vol. 2, module m58453",
)
NO_POWER_LEFT = _rule(
    "no-power-left",
    Severity.CAUTION,
    "Nothing is left for the output",
    "The power that the converter needs for itself is as much as the cells may give, or more. Allow more "
    "cells, cells with a higher rating that you trust, or a converter that needs less.",
    "Conservation of energy",
)
CHARGE_LEFT = _rule(
    "charge-left",
    Severity.NOTE,
    "Much of the charge stays in the cells",
    "The sag brings the voltage down to the cut-off while the cells are far from empty. More cells, "
    "less load, cells with a lower resistance or a lower cut-off within the maker's limit use more.",
    "Ohm's law on the chemistry's curve, see the method page",
)
CUTOFF_DECIDES = _rule(
    "cutoff-decides",
    Severity.NOTE,
    "Where a device stops decides how much of a cell it uses",
    "Cells in a device that stops at a high voltage may hold much of their charge when it stops, and "
    "the more so the more they sag. So fewer cells that are run down further can last nearly as long. "
    "That is no advice to empty cells deeper than the maker's end of discharge.",
    "Ohm's law on the chemistry's curve, see the method page",
)
SAG_GROWS = _rule(
    "sag-grows",
    Severity.NOTE,
    "Under a lasting load the sag grows",
    "The d.c. resistance counts what is lost at once and in seconds. Over minutes diffusion in the cell "
    "lags behind: halfway through a discharge the simulated nickel cells lost two to four times as much, "
    "and near the end still more. A running time counts that; this figure does not.",
    _SIMULATED,
)
NO_LAYOUT_FITS = _rule(
    "no-layout-fits",
    Severity.CAUTION,
    "No layout of so few cells does it",
    "Each layout either overworks a cell, or does not run long enough. Allow more cells, ask for less, "
    "or take cells with a higher rating, capacity or a lower resistance that you trust.",
    "The maker's continuous discharge rating, and the running time asked for",
)
SAG_BORROWED = _rule(
    "sag-borrowed",
    Severity.CAUTION,
    "The sag under load is that of another chemistry",
    "The open-circuit curve is your own, but how the voltage falls under load was simulated for other "
    "chemistries only. The one that sags most is taken, so that the time is rather too short.",
    _SIMULATED,
)
SHORT_CIRCUIT = _rule(
    "near-short-circuit",
    Severity.WARNING,
    "The coil is near a short circuit for this pack",
    "The coil's lowest likely resistance is no higher than the pack's own. At least half of the power "
    "would turn to heat inside the cells. The highest current, which leaves the sag out, is then more than "
    "the pack can give; what it can is far too much.",
    "Maximum power transfer, OpenStax University Physics Vol. 2, module m58453",
)
NEAR_COLLAPSE = _rule(
    "near-collapse",
    Severity.WARNING,
    "The pack is near the most power it can give",
    "A source gives at most U²/4R, with half of its voltage left. From nine tenths of that on, a third of "
    "the power and more heats the cells and their contacts, and a little less charge, or a little more "
    "resistance in the cold or with age, brings the voltage down. Set less power, or use more cells.",
    "Maximum power transfer, OpenStax University Physics Vol. 2, module m58453; nine tenths is percell's "
    "own choice",
)
TRANSPORT_LIMIT = _rule(
    "transport-limit",
    Severity.CAUTION,
    "Above 100 Wh for one battery",
    "A lithium-ion battery of more than 100 Wh may not travel under the passenger rule for such "
    "devices. A loose cell is itself one battery; a built-in pack counts as a whole. Rules change: "
    "ask the carrier.",
    "49 CFR 171.8 and 175.10(a)(19)",
)
RESISTANCE_ASSUMED = _rule(
    "resistance-assumed",
    Severity.NOTE,
    "The cells' resistance was assumed",
    "The answer leans on a resistance that nobody measured. Measure it under load (d.c., not the "
    "1 kHz a.c. value, which is lower) and ask again.",
    "d.c. method of IEC 61960-3 (secondary copy)",
)
SAME_POWER_ANY_WIRING = _rule(
    "converter-wiring",
    Severity.NOTE,
    "Through a converter, series or parallel makes no difference to the cell",
    "A converter draws power. The same cells at the same voltage each give the same part of it, "
    "however they are wired; only the count of cells matters.",
    "Conservation of energy",
)
CUTOFF_BELOW_END = _rule(
    "cutoff-below-end",
    Severity.CAUTION,
    "The load stops below the usual end of discharge",
    "The cut-off voltage is below the end-of-discharge voltage of this chemistry. Deep discharge harms "
    "the cell; one found below its end voltage is not to be charged again.",
    "End voltages by chemistry, see the method page; the advice is " + COMMON_PRACTICE,
)
CHARGED_ABOVE_CHEMISTRY = _rule(
    "charged-above-chemistry",
    Severity.WARNING,
    "The charged voltage is above what this chemistry takes",
    "A cell charged above its maker's voltage can fail violently. Check the chemistry and the charger.",
    "Charged voltages by chemistry, see the method page",
)
CHARGED_BELOW_CHEMISTRY = _rule(
    "charged-below-chemistry",
    Severity.CAUTION,
    "Reckoned with less than a full charge",
    "A coil draws most from a full pack. The charged voltage that was given is below the one to which this "
    "chemistry is charged, as the nominal voltage is: fully charged cells would carry more than is told "
    "here. Leave the field out unless your charger is known to end there.",
    "Ohm's law; charged voltages by chemistry, see the method page",
)
CLAIM_CAPACITY = _rule(
    "claim-capacity",
    Severity.WARNING,
    "The printed capacity does not fit into this size",
    "The claimed energy per volume is above what cells of this size are known to hold, so the label "
    "cannot be trusted, and neither can its rating.",
    "Bounds by size, each with its origin on the method page",
)
CLAIM_RATING = _rule(
    "claim-rating",
    Severity.WARNING,
    "The printed rating is not believable for this size and capacity",
    "Even with the lowest resistance believed of this size, a full discharge at the claimed current would "
    "end far hotter than cells are rated for, or the current is more than any known round cell gives for "
    "its capacity: the figure is likely a pulse rating or invented.",
    "Bounds by size, each with its origin on the method page",
)
CURVE_BORROWED = _rule(
    "curve-borrowed",
    Severity.NOTE,
    "The curve of charge and voltage is another cell's",
    "What a cell's voltage says about its charge was read on a published curve of one design of cell of "
    "this chemistry. Curves of 4.2 V cells differ by about 0.24 V at half charge, so the figures are "
    "estimates.",
    "The curves that there are, see the method page; the difference is our own comparison of them",
)
ONE_CURRENT_IN_SERIES = _rule(
    "one-current-in-series",
    Severity.NOTE,
    "All cells of a string carry the same current",
    "The same charge goes through each cell of a series string. A weak cell is emptied further by it, "
    "gets hotter and ages faster because it holds less and resists more, not because it is given more "
    "to do.",
    "One current through a string: OpenStax University Physics Vol. 2, module m58455",
)
STRING_APART = _rule(
    "string-apart",
    Severity.CAUTION,
    "A cell passes a limit that the pack as a whole still keeps",
    "A device or a charger that looks at the whole string sees only the sum. With cells that differ, "
    "one is below its cut-off voltage, or above its charged voltage, while the sum is in order. Charge "
    "each cell by itself, and use only cells of the same capacity, age and history in one string.",
    "Kirchhoff's loop rule, OpenStax University Physics Vol. 2, module m58455; the advice is "
    + COMMON_PRACTICE,
)
DRIFT_DEEP = _rule(
    "drift-over-discharge",
    Severity.WARNING,
    "The string drives a cell below its end of discharge",
    "The weakest cell is past empty before the pack as a whole reaches its cut-off. Deep discharge harms "
    "it, and a cell found below its end voltage is not to be charged again.",
    "Conservation of charge; end voltages by chemistry, see the method page; the advice is "
    + COMMON_PRACTICE,
)
DRIFT_REVERSED = _rule(
    "drift-reversal",
    Severity.WARNING,
    "The string drives a cell below zero",
    "The other cells force their current through the one that is empty, and its poles change sign. A "
    "cell that was reversed is damaged and is not to be charged again. The voltage below empty is an "
    "extrapolation: that it goes below zero is the message, not how far.",
    "Conservation of charge; damage by forced over-discharge: J. Electrochem. Soc. 165(9) (2018) A1639 "
    "(abstract)",
)
DRIFT_OVERCHARGED = _rule(
    "drift-overcharge",
    Severity.WARNING,
    "A charger for the whole string charges a cell too far",
    "The fullest cell is more than 0.05 V above its charged voltage when the sum is at its end. A cell "
    "charged above its maker's voltage can fail violently: use a charger that watches each cell, or "
    "charge each apart.",
    "Conservation of charge; 0.05 V is the step from 4.20 V to the upper limit of 4.25 V in IEC 62133-2, "
    "from memory, unconfirmed",
)
CHARGE_BY_LAYOUT = _rule(
    "charging-by-layout",
    Severity.CAUTION,
    "Where cells may be charged depends on the layout",
    "One cell, or a group of like cells in parallel, may be charged in the device only if the device's "
    "charger is made for it and the makers of cell and device allow it. Cells in series are charged "
    "each apart, or by a balancing charger that is made for that layout and watches each cell. In sight, "
    "always.",
    "The layouts: "
    + COMMON_PRACTICE
    + "; in sight, with a charger made for it: USFA/NFPA public advice",
)
CHARGE_SERIES_UNWATCHED = _rule(
    "charging-series-unbalanced",
    Severity.WARNING,
    "Cells in series charged without a look at each",
    "A charger that sees only the sum of a string overcharges the fullest cell as soon as the cells "
    "differ, and nothing shows it. Charge each cell apart, or with a balancing charger made for this "
    "layout.",
    "Conservation of charge, see the method page on drift; the advice is " + COMMON_PRACTICE,
)
CHARGE_ALIKE = _rule(
    "charging-apart-alike",
    Severity.NOTE,
    "Cells charged apart go back together at one voltage",
    "Charge all cells of the pack in the same charger to the same end, let them rest, and measure. In "
    "parallel a fuller cell charges an emptier one at once; in series the emptier one runs out first.",
    COMMON_PRACTICE,
)
CHARGE_TEMPERATURE = _rule(
    "charging-temperature",
    Severity.WARNING,
    "Too cold or too warm to charge",
    "A lithium-ion cell is not charged below 0 °C, nor above 40 °C. Let it come to the temperature of "
    "the room first. The maker's range comes before this one if it is narrower.",
    "USFA/NFPA public advice on lithium-ion batteries",
)
CHARGE_BELOW_END = _rule(
    "charging-below-end",
    Severity.WARNING,
    "A cell found below its end voltage is not charged",
    "It was discharged too deeply and may fail when it is charged. Take it out of use and hand it in for "
    "recycling.",
    "End voltages by chemistry, see the method page; the advice is " + COMMON_PRACTICE,
)
CHARGE_ABOVE_FULL = _rule(
    "charging-above-full",
    Severity.WARNING,
    "The cell is above its charged voltage already",
    "At rest it is more than 0.05 V above the voltage to which it would be charged. It was overcharged, "
    "its chemistry is another, or the reading is wrong: do not charge it, and find out which.",
    "0.05 V is the step from 4.20 V to the upper limit of 4.25 V in IEC 62133-2, from memory, unconfirmed; "
    "the advice is " + COMMON_PRACTICE,
)
CHARGE_OVER_LIMIT = _rule(
    "charging-over-limit",
    Severity.WARNING,
    "The charge current is above the cell's limit",
    "The maker's highest charge current is a limit of its own, and a lower one than the discharge "
    "rating. Choose a lower current.",
    "The maker's charge limit",
)
CHARGE_FAST = _rule(
    "charging-fast",
    Severity.CAUTION,
    "The charge current is high for this capacity",
    "No limit of the maker was given, and the current is above the whole capacity in an hour. Half of "
    "that is usual. Look the maker's limit up.",
    COMMON_PRACTICE,
)
CHARGE_FAR_TOO_FAST = _rule(
    "charging-far-too-fast",
    Severity.WARNING,
    "The charge current is far above the usual for this capacity",
    "No limit of the maker was given, and the current is above twice the capacity in an hour, four times "
    "the usual or more. Few cells are made for that; in others metallic lithium is deposited, and they "
    "may fail. Look the maker's limit up before anything else.",
    "Twice the capacity in an hour as the mark is percell's own choice; the harm is "
    + COMMON_PRACTICE,
)
STOP_TEMPERATURE = _rule(
    "over-stop-temperature",
    Severity.WARNING,
    "The cell would get too hot",
    "By this estimate the cell passes the temperature at which to stop. Take less current, shorter draws "
    "or longer pauses. The temperature is a stop, not a target.",
    "60 °C as the upper end of the usual discharge range, from memory, unconfirmed; the maker's value "
    "comes first",
)
BEYOND_ESTIMATE = _rule(
    "temperature-beyond-estimate",
    Severity.WARNING,
    "A cell fails before it is as hot as that",
    "From about 90 °C on reactions inside a lithium-ion cell give heat of their own, which this estimate "
    "leaves out. A cell that gets there may vent, burn or burst. A figure above it is no temperature that a "
    "cell will have: it says only that the load is far too much.",
    "Decomposition in the cell from roughly 90 °C: review “Materials for lithium-ion battery safety”, "
    "Science Advances (secondary copy)",
)
CONTINUOUS_TOO_HOT = _rule(
    "continuous-too-hot",
    Severity.CAUTION,
    "Without pauses the cell would get too hot",
    "At this current only the pauses keep the cell cool enough. A switch that sticks, or a button that is "
    "held down in a pocket, takes them away.",
    "Lumped heat balance, see the method page",
)
TEMPERATURE_ESTIMATE = _rule(
    "temperature-estimate",
    Severity.NOTE,
    "The temperature is an estimate",
    "The cell is taken as one lump with one temperature in still air; the core is hotter than the skin, "
    "and a neighbour, a tube or a worn cell changes the figure. Measure at the skin of the cell, and stop "
    "early.",
    "Lumped heat balance, see the method page",
)
COIL_CALCULATED = _rule(
    "coil-calculated",
    Severity.CAUTION,
    "A calculated coil is measured before it is used",
    "Resistivity and diameter of the wire have tolerances, and turns that touch, posts and contacts change "
    "the figure further. It is the lowest likely resistance that counts against the lowest one for your "
    "pack. Measure the coil, with the meter's own errors allowed for, before it meets a cell.",
    "Tolerances by material, see the method page; measuring first is " + COMMON_PRACTICE,
)
WIRE_UNCONFIRMED = _rule(
    "wire-unconfirmed",
    Severity.CAUTION,
    "A value of this wire comes from memory",
    "For this material we know no published source of the resistivity or of its range that we could "
    "read. Take the calculated resistance as a rough guess.",
    "From memory, unconfirmed",
)
WARM_UP_BARE = _rule(
    "warm-up-bare",
    Severity.NOTE,
    "The time to warm up is that of a bare coil",
    "All power goes into the wire and none into air, liquid or posts, so that a real coil takes longer. "
    "Use the figure to compare windings.",
    "Heat balance without loss, see the method page",
)
RESISTANCE_UNSURE = _rule(
    "resistance-unsure",
    Severity.CAUTION,
    "The meter's errors make the resistance unsure",
    "A resistance from two loads is a small difference of two large voltages. Take the loads further "
    "apart, or a meter with a finer last digit.",
    "Worst corner of the readings; the mark of a fifth is percell's own choice",
)
MEASURED_OTHERWISE = _rule(
    "measured-otherwise",
    Severity.NOTE,
    "Measured otherwise than by the standard's steps",
    "Longer steps count more of the slow part of the resistance, other currents another part of it. "
    "Compare the value only with others that were measured alike.",
    "IEC 61960-3: 0.2 It for 10 s, then 1 It for 1 s (secondary copy)",
)
MEASURED_COLD_OR_WARM = _rule(
    "measured-cold-or-warm",
    Severity.CAUTION,
    "The cell was not at the temperature of a test",
    "A cold cell has more resistance and gives less capacity, a warm one less and more. Repeat at 20 °C, "
    "within 5 K, and compare only values of one temperature.",
    "IEC 61960-2011, clause 7.3.1, 20 ± 5 °C (secondary copy)",
)
RESISTANCE_ROSE = _rule(
    "resistance-rose",
    Severity.CAUTION,
    "The resistance has doubled",
    "At twice the resistance of the first measurement the cell sags twice as far and heats twice as much "
    "at the same current. Retire it from high loads, or at the least lower the rating that you trust.",
    "Joule's law; twice the first value as the mark is " + COMMON_PRACTICE,
)
CAPACITY_FELL = _rule(
    "capacity-fell",
    Severity.CAUTION,
    "The cell is at the usual mark for retiring",
    "Cells are usually retired when they hold four fifths of what they held when new: from there on they "
    "age faster, and differ more. Take it out of packs and out of high loads.",
    "80 % is " + COMMON_PRACTICE,
)
ABOVE_REFERENCE = _rule(
    "above-reference",
    Severity.NOTE,
    "More capacity than when new, or than is printed",
    "Cells do not gain capacity. The reference was a rated minimum, the test another one, or a reading is "
    "wrong.",
    "Definition of the ratio",
)
TEST_OVER_LIMIT = _rule(
    "test-over-limit",
    Severity.WARNING,
    "A discharge did not keep the limits",
    "The cell became hotter, or its voltage lower, than the limits that were set for this test. Do not "
    "rate the cell for that current.",
    "The limits of the question",
)
TEST_BROKEN_OFF = _rule(
    "test-broken-off",
    Severity.WARNING,
    "A discharge was broken off, and proves no rating",
    "A rating is that of a whole discharge: the cell is hottest, and its voltage falls fastest, at the end "
    "of it. A log that ended before kept its limits only so far, and is not counted. Log down to the "
    "maker's end of discharge, or until a limit is met.",
    "The method is " + COMMON_PRACTICE + "; 3.2 V as the mark is percell's own choice",
)
TEST_NONE_PASSED = _rule(
    "test-none-passed",
    Severity.WARNING,
    "No tested current kept the limits",
    "The rating of this cell lies below every current that was tested. Test at lower ones.",
    "The limits of the question; the method is " + COMMON_PRACTICE,
)
TEST_NOT_REPEATED = _rule(
    "test-not-repeated",
    Severity.CAUTION,
    "The rating rests on too few tests",
    "One discharge of one cell says little about the next. Repeat it at the same current, with more cells "
    "of the same make.",
    COMMON_PRACTICE,
)
TEST_NOT_PUSHED = _rule(
    "test-limit-not-met",
    Severity.NOTE,
    "No tested current passed a limit",
    "The highest current that keeps the limits was not found: it is at least the highest one tested. "
    "Nothing obliges you to look for it, and the maker's rating comes first.",
    "Definition of the test",
)
TEST_WITHOUT_TEMPERATURE = _rule(
    "test-without-temperature",
    Severity.CAUTION,
    "Without a temperature no rating",
    "What ends a continuous discharge at high current is heat. A log without the cell's temperature gives "
    "charge, energy and resistance, and says nothing about a rating.",
    COMMON_PRACTICE,
)
TEST_NO_STEP = _rule(
    "test-without-step",
    Severity.NOTE,
    "The log shows no resistance",
    "The internal resistance is read where the current steps. Log a few seconds of rest before and after "
    "the load, or pause it now and then.",
    "Two-load method within one log, as in IEC 61960-3 (secondary copy)",
)
SETS_NOT_PROVEN = _rule(
    "sets-not-proven",
    Severity.NOTE,
    "These sets are good, but not proven to be the best",
    "There are too many ways to put these cells into sets for all to be compared. A search found these; "
    "others may match a little closer.",
    "Set packing, see the method page",
)
SETS_FAR_APART = _rule(
    "sets-far-apart",
    Severity.CAUTION,
    "The closest set of these cells is no matched set",
    "Cells of one set differ by more than 5 % of the median in capacity, 20 % in resistance, or 0.05 V at "
    "rest. They are the closest of those given, and still not for one pack: in parallel a difference of 20 % "
    "in resistance cut the cycle life of two cells by about 40 %, and in series the weakest is emptied "
    "first. Measure more cells, or leave some out.",
    "Gogoana et al., J. Power Sources 252 (2014) 8, for the 20 %; the other marks are percell's own choice",
)
SETS_MEASURED_ONLY = _rule(
    "sets-measured-only",
    Severity.CAUTION,
    "Matched in what was measured, and in nothing else",
    "Cells of one pack are to be of the same make, age and history as well, and the measurements of the "
    "same day, temperature and method. Measure a set again after some cycles.",
    "FDA Center for Tobacco Products advice (secondary copy): do not mix brands, old with new",
)
CLAIM_CAPACITY_DOUBTFUL = _rule(
    "claim-capacity-doubtful",
    Severity.CAUTION,
    "The printed capacity is more than usual for this size",
    "The claimed energy per volume is above that of a known high-energy cell, and below what is thought "
    "possible. Measure it before you trust the label.",
    "Bounds by size, each with its origin on the method page",
)
CLAIM_RATING_DOUBTFUL = _rule(
    "claim-rating-doubtful",
    Severity.CAUTION,
    "The printed rating is more than usual for this size and capacity",
    "With the lowest resistance believed of this size, a full discharge at the claimed current ends above "
    "the usual upper end of use, or the current is more than round cells for high drain usually give for "
    "their capacity. Take it for a pulse rating until a test or the maker says otherwise.",
    "Bounds by size, each with its origin on the method page",
)
CLAIM_NOT_PROVEN = _rule(
    "claim-not-proven",
    Severity.NOTE,
    "Believable is not proven",
    "The bounds are kind to the claim: lowest resistance, open air. A claim within them may still be "
    "false. A testing study found budget 18650 cells with under a fifth of what was printed on them.",
    "A comparative testing study of commercial 18650-format cells, 2015 (abstract; journal from memory)",
)
