"""Rules of measurements: coils, resistance, discharge tests, health."""

from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

COIL_CALCULATED = Rule(
    id="coil-calculated",
    severity=Severity.CAUTION,
    title="Measure a calculated coil before you use it",
    explanation=(
        "Measure the coil before you connect it to a cell, and allow for the errors of the meter. Compare the "
        "lowest likely resistance with the lowest one for your pack. Resistivity and diameter of the wire have "
        "tolerances. Touching turns, posts and contacts change the figure further."
    ),
    source=("Tolerances by material, see the method page; measuring first is " + COMMON_PRACTICE),
)
WIRE_UNCONFIRMED = Rule(
    id="wire-unconfirmed",
    severity=Severity.CAUTION,
    title="A value of this wire is from memory",
    explanation=(
        "Use the calculated resistance only as a rough guess. For this material we could read no published source "
        "of the resistivity or of its range."
    ),
    source="From memory, unconfirmed",
)
WARM_UP_BARE = Rule(
    id="warm-up-bare",
    severity=Severity.NOTE,
    title="The time to warm up is for a bare coil",
    explanation=(
        "Use the figure only to compare windings. It assumes that all power heats the wire. A real coil also heats "
        "air, liquid and posts, and needs longer."
    ),
    source="Heat balance without loss, see the method page",
)
RESISTANCE_UNSURE = Rule(
    id="resistance-unsure",
    severity=Severity.CAUTION,
    title="The meter's errors make the resistance uncertain",
    explanation=(
        "Use two loads that differ more, or a meter with a finer last digit. A resistance from two loads is a "
        "small difference of two large voltages."
    ),
    source="Worst case of the readings; the mark of a fifth is percell's own choice",
)
MEASURED_OTHERWISE = Rule(
    id="measured-otherwise",
    severity=Severity.NOTE,
    title="Not measured with the steps of the standard",
    explanation=(
        "Compare this resistance only with others that were measured in the same way. Longer steps include more of "
        "the slow part of the resistance. Other currents change it too."
    ),
    source="IEC 61960-3: 0.2 It for 10 s, then 1 It for 1 s (secondary copy)",
)
RESISTANCE_READ_SOON = Rule(
    id="resistance-read-soon",
    severity=Severity.NOTE,
    title="The resistance was read sooner than 10 s after the step",
    explanation=(
        "Give the time of the reading with the resistance. Without it percell assumes "
        "10 s, and sag and heat come out too low. A resistance grows with time: measured cells had about a quarter "
        "more after 10 s than after 1 s. percell uses the resistance after 10 s of load."
    ),
    source=(
        "P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1; ARTS-Laboratory, data set “electrothermal "
        "deformation characterization”, commit 4e9effd"
    ),
)
MEASURED_COLD_OR_WARM = Rule(
    id="measured-cold-or-warm",
    severity=Severity.CAUTION,
    title="The cell was not at test temperature",
    explanation=(
        "Repeat the test at 20 °C, within 5 K, and compare only values of one temperature. A cold cell has more "
        "resistance and less capacity, a warm one less resistance and more capacity. Measured cells had 0.83 times "
        "their resistance at 40 °C, 1.4 to 1.5 times at 10 °C, and 2.1 to 2.3 times at 0 °C."
    ),
    source=(
        "IEC 61960-2011, clause 7.3.1, 20 ± 5 °C (secondary copy); at 40 °C against 20 °C: ARTS-Laboratory, data "
        "set “electrothermal deformation characterization”, commit 4e9effd; in the cold against 25 °C: "
        "P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1"
    ),
)
RESISTANCE_ROSE = Rule(
    id="resistance-rose",
    severity=Severity.CAUTION,
    title="The resistance has doubled",
    explanation=(
        "Do not use the cell for high loads any more, or at least lower the rating that you trust. At twice the "
        "first resistance a cell sags up to twice as far and makes up to twice the heat at the same current."
    ),
    source=("Joule's law; twice the first value as the mark is " + COMMON_PRACTICE),
)
CAPACITY_FELL = Rule(
    id="capacity-fell",
    severity=Severity.CAUTION,
    title="The cell has reached the usual mark for retiring",
    explanation=(
        "Take the cell out of packs and out of high loads. Cells are usually retired at four fifths of their "
        "capacity when new. After that they age faster and differ more."
    ),
    source=("80 % is " + COMMON_PRACTICE),
)
ABOVE_REFERENCE = Rule(
    id="above-reference",
    severity=Severity.CAUTION,
    title="More capacity than when new, or than printed",
    explanation=(
        "Measure again. Cells do not gain capacity. The reference was a rated minimum, the test was different, or a "
        "reading is wrong."
    ),
    source="Definition of the ratio",
)
TEST_TOO_HOT = Rule(
    id="test-too-hot",
    limit=LimitName.STOP_TEMPERATURE,
    severity=Severity.WARNING,
    title="A discharge became hotter than its limit",
    explanation=(
        "Do not use the cell at that current, and test lower ones. The cell became hotter than this test allowed. If "
        "a log starts below 25 °C, percell adds the difference, because a rating must also hold in air of 25 °C."
    ),
    source="The limit of the question",
)
TEST_TOO_LOW = Rule(
    id="test-too-low",
    limit=LimitName.END_VOLTAGE,
    severity=Severity.WARNING,
    title="A discharge fell below its lowest voltage",
    explanation=(
        "Do not use the cell at that current or down to that voltage. The voltage fell below the lowest one of this "
        "test, by more than one late row can explain. A cell that was emptied below its end-of-discharge voltage is "
        "damaged: do not charge it."
    ),
    source="The limit of the question, or the end of discharge of the chemistry",
)
TEST_STOP_RAISED = Rule(
    id="test-stop-raised",
    limit=LimitName.STOP_TEMPERATURE,
    severity=Severity.WARNING,
    title="The test was allowed to become too hot, and did",
    explanation=(
        "Test again with a limit of 60 °C, and use no rating until then. A load must stop at 60 °C, and the limit of "
        "this test is higher. A rating from such a test heats the cell to temperatures that damage it."
    ),
    source="The stop temperature of the question about heat, see the method page",
)
TEST_FAILED_ABOVE = Rule(
    id="test-failed-above",
    severity=Severity.CAUTION,
    title="A higher current exceeded the limits",
    explanation=(
        "Stay at or below the rating that the logs prove. It is lower than this current. How the cell behaves "
        "between two tested currents is not known."
    ),
    source="The limits of the question",
)
TEST_PROVES_NO_RATING = Rule(
    id="test-proves-no-rating",
    severity=Severity.CAUTION,
    title="These logs prove no continuous rating",
    explanation=(
        "Use the manufacturer's rating alone until enough logs prove one. A continuous rating is the current that a "
        "cell supplies from full to empty, without a pause, within its limits. At least two different logs at that "
        "current must prove it. Each must start near full: at rest within 0.1 V of the charged voltage, or marked "
        "as full at the start. The current must flow for 95 % of the time under load. The log must deliver four fifths "
        "of the charge, end near empty without its sag, and show a temperature that rises. If the current falls "
        "during the test, its lowest part counts. Guessed columns or units, a pulse, a part of a discharge, or one "
        "discharge exported twice prove nothing."
    ),
    source=("The method is " + COMMON_PRACTICE + "; the marks are percell's own choice"),
)
TEST_NOT_COUNTED = Rule(
    id="test-not-counted",
    severity=Severity.NOTE,
    title="A higher current was tested, but not proved",
    explanation=(
        "Do not use a higher current than the rating. Logs at a higher current are too few, or lack something that a "
        "rating needs. The rating is the highest current that enough logs prove."
    ),
    source=COMMON_PRACTICE,
)
TEST_NOT_PUSHED = Rule(
    id="test-limit-not-met",
    severity=Severity.NOTE,
    title="No tested current exceeded a limit",
    explanation=(
        "The manufacturer's rating comes first, and you need not test higher. The highest current within the limits "
        "was not found. It is at least the highest one tested."
    ),
    source="Definition of the test",
)
TEST_NO_CAPACITY = Rule(
    id="test-without-capacity",
    severity=Severity.NOTE,
    title="The logs show no capacity",
    explanation=(
        "Start a log at rest, near full, and end it when the voltage without sag is near empty. A capacity is the "
        "charge from full to empty."
    ),
    source="Definition of the capacity",
)
TEST_NO_STEP = Rule(
    id="test-without-step",
    severity=Severity.NOTE,
    title="The log shows no resistance",
    explanation=(
        "Log a few seconds of rest before the load. The internal resistance is read where a load begins or changes, "
        "best near half charge. The recovery of a nearly empty cell after the load shows no resistance."
    ),
    source="Two-load method within one log, as in IEC 61960-3 (secondary copy)",
)
TEST_COLUMNS_GUESSED = Rule(
    id="test-columns-guessed",
    severity=Severity.CAUTION,
    title="Columns of a log were guessed",
    explanation=(
        "Check the columns. Then give each column's name and unit, and ask again. The file does not say for certain "
        "which column this is, or in which unit. A guess proves no rating."
    ),
    source="percell's own choice",
)
TEST_OFFSET = Rule(
    id="test-offset-at-rest",
    severity=Severity.NOTE,
    title="The ammeter shows a current at rest",
    explanation=(
        "Set the ammeter to zero before a test. Otherwise it shows a small current at rest. percell counts such rows "
        "as rest. A negative current counts as none, a positive one as delivered charge."
    ),
    source=("That cyclers do so is " + COMMON_PRACTICE),
)
TEST_UNDER_LOAD = Rule(
    id="test-begins-under-load",
    severity=Severity.NOTE,
    title="A log begins under load",
    explanation=(
        "Log a few seconds of rest before the load. Without it a log shows neither how full the cell was nor the "
        "resistance at the first step. Only if the cell was fully charged, say that it was full at the start."
    ),
    source="Two-load method within one log, as in IEC 61960-3 (secondary copy)",
)
