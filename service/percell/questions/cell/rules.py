"""Rules of a single cell: charging, temperature, sag, claims on its label."""

from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

SAG_GROWS = Rule(
    id="sag-grows",
    severity=Severity.NOTE,
    title="The sag grows under a lasting load",
    explanation=(
        "The d.c. resistance covers what is lost within seconds. Over minutes, slow processes in the cell "
        "take up to 0.15 V more. On average over a discharge, no measured cell lost more. At high currents "
        "the cell warms itself, which stops the growth. Cells with less than a fifth of their charge sag "
        "several times as far. All of this comes from measured round cells."
    ),
    source=(
        "Bound on measured discharges: ARTS-Laboratory, commit 4e9effd; L. Wang et al., commit ec0fe7c; near empty: "
        "P. Kollmeyer, DOI 10.17632/wykht8y7tg.1"
    ),
)
CLAIM_CAPACITY = Rule(
    id="label-capacity",
    limit=LimitName.BELIEVABLE_CAPACITY,
    severity=Severity.WARNING,
    title="The printed capacity does not fit into this size",
    explanation=(
        "Do not trust this label, nor the rating on it. The claimed energy per volume is above what cells "
        "of this size are known to hold."
    ),
    source="Bounds by size, each with its origin on the method page",
)
CLAIM_RATING = Rule(
    id="label-rating",
    limit=LimitName.BELIEVABLE_RATING,
    severity=Severity.WARNING,
    title="The printed rating is not believable for this size and capacity",
    explanation=(
        "Do not use this rating: it is probably a pulse rating or invented. Either a full discharge at the "
        "claimed current would end far hotter than cells are rated for, even with the lowest resistance "
        "believed possible. Or the current is more than any known round cell supplies for its capacity."
    ),
    source="Bounds by size, each with its origin on the method page",
)
CHARGE_BY_LAYOUT = Rule(
    id="charging-by-layout",
    severity=Severity.NOTE,
    title="Where cells may be charged depends on the layout",
    explanation=(
        "Charge one cell, or like cells in parallel, in the device only if its charger is made for that "
        "and the manufacturers of cell and device allow it. Charge cells in series individually, or with a "
        "balancing charger that is made for that layout and monitors each cell. Always stay with them."
    ),
    source=(
        "The layouts: "
        + COMMON_PRACTICE
        + "; staying with them, with a charger made for them: USFA/NFPA public advice"
    ),
)
CHARGE_SERIES_UNWATCHED = Rule(
    id="charging-series-unbalanced",
    severity=Severity.CAUTION,
    title="Series cells charged without individual monitoring",
    explanation=(
        "Charge each cell individually, or use a balancing charger made for this layout. A charger that "
        "monitors only the total voltage overcharges the fullest cell as soon as the cells differ, and "
        "nothing shows it."
    ),
    source=(
        "Conservation of charge, see the method page on drift; the advice is " + COMMON_PRACTICE
    ),
)
CHARGE_ALIKE = Rule(
    id="charging-apart-alike",
    severity=Severity.NOTE,
    title="Cells charged individually must be at one voltage before they go back together",
    explanation=(
        "Charge all cells of the pack in the same charger to the same end, let them rest, and measure "
        "their voltages. In parallel a fuller cell charges an emptier one immediately. In series the "
        "emptier one runs out first."
    ),
    source=COMMON_PRACTICE,
)
CHARGE_TEMPERATURE = Rule(
    id="charging-temperature",
    limit=LimitName.CHARGE_TEMPERATURE,
    severity=Severity.WARNING,
    title="Too cold or too warm to charge",
    explanation=(
        "Never charge a lithium-ion cell below 0 °C or above 40 °C. Let it reach room temperature first. "
        "If the manufacturer's range is narrower, use that one."
    ),
    source="USFA/NFPA public advice on lithium-ion batteries",
)
CHARGE_BELOW_END = Rule(
    id="charging-below-end",
    limit=LimitName.END_VOLTAGE,
    severity=Severity.WARNING,
    title="Never charge a cell that is below its end-of-discharge voltage",
    explanation=(
        "Take the cell out of use and hand it in for recycling. It was discharged too deeply, and can fail "
        "when it is charged."
    ),
    source=("End voltages by chemistry, see the method page; the advice is " + COMMON_PRACTICE),
)
CHARGE_ABOVE_FULL = Rule(
    id="charging-above-full",
    limit=LimitName.CHARGED_VOLTAGE,
    severity=Severity.WARNING,
    title="The cell is above its charged voltage already",
    explanation=(
        "Do not use or charge the cell before you know what is wrong. At rest it is more than 0.05 V above "
        "the voltage to which it would be charged. Either it was overcharged, or it has another chemistry, "
        "or the reading is wrong."
    ),
    source=(
        "0.05 V is the step from 4.20 V to the upper limit of 4.25 V in IEC 62133-2, from memory, unconfirmed; "
        "the advice is " + COMMON_PRACTICE
    ),
)
CHARGE_OVER_LIMIT = Rule(
    id="charging-over-limit",
    limit=LimitName.CHARGE_CURRENT,
    severity=Severity.WARNING,
    title="The charge current is above the cell's limit",
    explanation=(
        "Choose a lower current. The manufacturer's highest charge current is a separate limit, lower than "
        "the discharge rating. Too much current deposits metallic lithium in the cell, and the cell can "
        "fail. If no limit is given, half the capacity per hour is assumed. Look the limit up."
    ),
    source="The manufacturer's charge limit; half the capacity per hour, and the harm: "
    + COMMON_PRACTICE,
)
CHARGE_COOL = Rule(
    id="charging-cool",
    limit=LimitName.CHARGE_TEMPERATURE,
    severity=Severity.CAUTION,
    title="Cool cells need less charge current",
    explanation=(
        "Let the cells warm up to room temperature, or use the manufacturer's limit for this temperature. "
        "From 0 °C up to 10 or 15 °C many manufacturers allow only a part of the usual charge current, "
        "because a cool cell deposits metallic lithium sooner."
    ),
    source=COMMON_PRACTICE
    + "; the range from 0 to 10 °C is that of the JEITA guideline, as data sheets of charger circuits have it (secondary copies)",
)
STOP_TEMPERATURE = Rule(
    id="over-stop-temperature",
    limit=LimitName.STOP_TEMPERATURE,
    severity=Severity.WARNING,
    title="The cell would get too hot",
    explanation=(
        "Use less current, shorter draws or longer pauses. By this estimate the cell gets hotter than the "
        "temperature at which you must stop. That temperature is a stop, not a target."
    ),
    source=(
        "60 °C as the upper end of the usual discharge range, from memory, unconfirmed; the manufacturer's value "
        "comes first"
    ),
)
BEYOND_ESTIMATE = Rule(
    id="temperature-beyond-estimate",
    limit=LimitName.STOP_TEMPERATURE,
    severity=Severity.WARNING,
    title="The cell would fail before it gets that hot",
    explanation=(
        "Do not use this load: it is far too high. A cell that gets to about 90 °C can vent, burn or burst. "
        "From there on, reactions inside the cell make heat of their own, which this estimate leaves out. "
        "So a figure above 90 °C is not a temperature that a cell will have."
    ),
    source=(
        "Decomposition in the cell from roughly 90 °C: review “Materials for lithium-ion battery safety”, "
        "Science Advances (secondary copy)"
    ),
)
NEAR_STOP = Rule(
    id="near-stop-temperature",
    limit=LimitName.STOP_TEMPERATURE,
    severity=Severity.CAUTION,
    title="The cell comes close to the temperature at which to stop",
    explanation=(
        "Use longer pauses or less current, and measure at the skin of the cell. Less than a tenth of the "
        "allowed rise is left, and this estimate can be off by more."
    ),
    source="Lumped heat balance, see the method page; a tenth is percell's own choice",
)
STOP_ABOVE_USUAL = Rule(
    id="stop-temperature-above-usual",
    limit=LimitName.STOP_TEMPERATURE,
    severity=Severity.CAUTION,
    title="The stop temperature is above the usual one",
    explanation=(
        "Use a stop above 60 °C only if the cell's manufacturer states a higher limit. Cells are usually "
        "rated for discharge up to 60 °C at the skin. With a higher stop, the cell gets hotter than that "
        "before the answer says so."
    ),
    source=(
        "60 °C as the upper end of the usual discharge range, from memory, unconfirmed; the manufacturer's value "
        "comes first"
    ),
)
CONTINUOUS_TOO_HOT = Rule(
    id="continuous-too-hot",
    limit=LimitName.STOP_TEMPERATURE,
    severity=Severity.NOTE,
    title="Without pauses the cell would get too hot",
    explanation=(
        "Make sure that the load cannot stay on: only the pauses keep the cell cool enough. If a switch "
        "sticks, or a button is held down in a pocket, there are no pauses."
    ),
    source="Lumped heat balance, see the method page",
)
TEMPERATURE_ESTIMATE = Rule(
    id="temperature-estimate",
    severity=Severity.NOTE,
    title="The temperature is an estimate",
    explanation=(
        "Measure at the skin of the cell, and stop early. The estimate treats the cell as one lump with one "
        "temperature in still air. The core is hotter than the skin. A cell beside it, a tube, warm "
        "contacts or wear make the cell hotter than the figure. The heat is never below the average of any "
        "of 14 measured discharges. It is up to twice as much, also in short draws. The cell is assumed to "
        "start as cool as the air, so let it cool down first."
    ),
    source=(
        "Lumped heat balance, see the method page; heat computed from measured discharges: ARTS-Laboratory, data set "
        "“electrothermal deformation characterization”, commit 4e9effd; L. Wang et al., “Li-ion Battery "
        "Electro-Thermal Dataset”, commit ec0fe7c; P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1"
    ),
)
CLAIM_CAPACITY_DOUBTFUL = Rule(
    id="label-capacity-doubtful",
    limit=LimitName.BELIEVABLE_CAPACITY,
    severity=Severity.CAUTION,
    title="The printed capacity is more than usual for this size",
    explanation=(
        "Measure the capacity before you trust the label. The claimed energy per volume is above that of a "
        "known high-energy cell, and below what is thought possible."
    ),
    source="Bounds by size, each with its origin on the method page",
)
CLAIM_RATING_DOUBTFUL = Rule(
    id="label-rating-doubtful",
    limit=LimitName.BELIEVABLE_RATING,
    severity=Severity.CAUTION,
    title="The printed rating is more than usual for this size and capacity",
    explanation=(
        "Treat the rating as a pulse rating until a test or the manufacturer says otherwise. Either a full "
        "discharge at the claimed current ends above the usual highest temperature, even with the lowest "
        "resistance believed possible. Or the current is more than high-drain round cells usually supply "
        "for their capacity."
    ),
    source="Bounds by size, each with its origin on the method page",
)
RATING_DOUBTFUL = Rule(
    id="rating-doubtful",
    limit=LimitName.CONTINUOUS_RATING,
    severity=Severity.CAUTION,
    title="The rating is more than cells usually have",
    explanation=(
        "Check the label before you rely on this answer: it holds only if the rating is true. Without a size, "
        "the doubt begins where it does for the size 18650. A rating that no size can have judges nothing as "
        "within a limit."
    ),
    source="Bounds by size, each with its origin on the method page",
)
CLAIM_NOT_PROVEN = Rule(
    id="label-not-proven",
    severity=Severity.NOTE,
    title="Not disproved does not mean proven",
    explanation=(
        "Do not take this answer as proof of the label. The bounds favour the label: they assume the lowest "
        "resistance and open air. Two studies found low-cost 18650 cells with about a fifth of the printed "
        "capacity."
    ),
    source="J. Electrochem. Soc. 162 (8) (2015) A1592–A1600; Batteries 2018, 4(3), 45 (abstracts read)",
)
