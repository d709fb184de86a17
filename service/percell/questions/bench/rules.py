"""Rules of measurements: coils, resistance, discharge tests, health."""

from percell.questions.vocabulary.fields import COMMON_PRACTICE
from percell.questions.vocabulary.rules import LimitName, Rule, Severity

COIL_CALCULATED = Rule(
    id="coil-calculated",
    severity=Severity.CAUTION,
    title="A calculated coil is measured before it is used",
    explanation=(
        "Resistivity and diameter of the wire have tolerances, and turns that touch, posts and contacts change "
        "the figure further. It is the lowest likely resistance that counts against the lowest one for your "
        "pack. Measure the coil, with the meter's own errors allowed for, before it meets a cell."
    ),
    source=("Tolerances by material, see the method page; measuring first is " + COMMON_PRACTICE),
)
WIRE_UNCONFIRMED = Rule(
    id="wire-unconfirmed",
    severity=Severity.CAUTION,
    title="A value of this wire comes from memory",
    explanation=(
        "For this material we found no published source of the resistivity or of its range that we could "
        "read. Take the calculated resistance as a rough guess."
    ),
    source="From memory, unconfirmed",
)
WARM_UP_BARE = Rule(
    id="warm-up-bare",
    severity=Severity.NOTE,
    title="The time to warm up is that of a bare coil",
    explanation=(
        "All power goes into the wire and none into air, liquid or posts, so that a real coil takes longer. "
        "Use the figure to compare windings."
    ),
    source="Heat balance without loss, see the method page",
)
RESISTANCE_UNSURE = Rule(
    id="resistance-unsure",
    severity=Severity.CAUTION,
    title="The meter's errors make the resistance unsure",
    explanation=(
        "A resistance from two loads is a small difference of two large voltages. Take the loads further "
        "apart, or a meter with a finer last digit."
    ),
    source="Worst corner of the readings; the mark of a fifth is percell's own choice",
)
MEASURED_OTHERWISE = Rule(
    id="measured-otherwise",
    severity=Severity.NOTE,
    title="Measured otherwise than by the standard's steps",
    explanation=(
        "Longer steps count more of the slow part of the resistance, other currents another part of it. "
        "Compare the value only with others that were measured alike."
    ),
    source="IEC 61960-3: 0.2 It for 10 s, then 1 It for 1 s (secondary copy)",
)
RESISTANCE_READ_SOON = Rule(
    id="resistance-read-soon",
    severity=Severity.NOTE,
    title="The resistance was read sooner than 10 s after the step",
    explanation=(
        "percell calculates sag, running time and heat with the resistance after 10 s of load. A resistance grows with "
        "the time: measured cells had about a quarter more after 10 s than after 1 s. Give the time of the reading with "
        "it, as `cell_resistance_after_s`. Without that it is taken as read after 10 s, and sag and heat come out too "
        "low."
    ),
    source=(
        "P. Kollmeyer, Mendeley Data 2018, DOI 10.17632/wykht8y7tg.1; ARTS-Laboratory, data set “electrothermal "
        "deformation characterization”, commit 4e9effd"
    ),
)
MEASURED_COLD_OR_WARM = Rule(
    id="measured-cold-or-warm",
    severity=Severity.CAUTION,
    title="The cell was not at the temperature of a test",
    explanation=(
        "A cold cell has more resistance and gives less capacity, a warm one less and more. Measured cells had 0.83 "
        "times their resistance at 40 °C, 1.4 to 1.5 times at 10 °C, and 2.1 to 2.3 times at 0 °C. Repeat at 20 °C, within 5 K, "
        "and compare only values of one temperature."
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
        "At twice the resistance of the first measurement the cell sags up to twice as far and makes up to twice "
        "the heat at the same current. Retire it from high loads, or at the least lower the rating that you trust."
    ),
    source=("Joule's law; twice the first value as the mark is " + COMMON_PRACTICE),
)
CAPACITY_FELL = Rule(
    id="capacity-fell",
    severity=Severity.CAUTION,
    title="The cell is at the usual mark for retiring",
    explanation=(
        "Cells are usually retired when they hold four fifths of what they held when new: from there on they "
        "age faster, and differ more. Take it out of packs and out of high loads."
    ),
    source=("80 % is " + COMMON_PRACTICE),
)
ABOVE_REFERENCE = Rule(
    id="above-reference",
    severity=Severity.NOTE,
    title="More capacity than when new, or than is printed",
    explanation=(
        "Cells do not gain capacity. The reference was a rated minimum, the test another one, or a reading is "
        "wrong."
    ),
    source="Definition of the ratio",
)
TEST_TOO_HOT = Rule(
    id="test-too-hot",
    limit=LimitName.STOP_TEMPERATURE,
    severity=Severity.WARNING,
    title="A discharge became hotter than its limit",
    explanation=(
        "The cell became hotter than the highest temperature that was allowed in this test. A log that starts below "
        "25 °C counts as hotter by what its start was colder, because the rating must hold in such air. Do not use "
        "the cell at that current, and test at lower ones."
    ),
    source="The limit of the question",
)
TEST_TOO_LOW = Rule(
    id="test-too-low",
    limit=LimitName.END_VOLTAGE,
    severity=Severity.WARNING,
    title="A discharge went below its lowest voltage",
    explanation=(
        "The voltage fell below the lowest one that was allowed in this test, by more than the one late row of "
        "a load that stops there. Do not use the cell at that current or to that voltage. A cell that was "
        "emptied below the end of discharge is damaged: do not charge it."
    ),
    source="The limit of the question, or the end of discharge of the chemistry",
)
TEST_STOP_RAISED = Rule(
    id="test-stop-raised",
    severity=Severity.CAUTION,
    title="The test was allowed to become too hot",
    explanation=(
        "The temperature limit of this test is above 60 °C, where a load must stop. A rating from such a test "
        "takes the cell to temperatures that damage it. Test again with 60 °C, and use no rating until then."
    ),
    source="The stop temperature of the question about heat, see the method page",
)
TEST_FAILED_ABOVE = Rule(
    id="test-failed-above",
    severity=Severity.CAUTION,
    title="A higher current did not keep the limits",
    explanation=(
        "The rating that the logs prove lies below this current. Stay at or below the rating: how the cell "
        "behaves between two tested currents is not known."
    ),
    source="The limits of the question",
)
TEST_PROVES_NO_RATING = Rule(
    id="test-proves-no-rating",
    severity=Severity.CAUTION,
    title="These logs prove no continuous rating",
    explanation=(
        "A continuous rating is the current that a cell gives from full to empty, without a pause, within its "
        "limits. So at least two different logs at that current must start near full (at rest within 0.1 V of "
        "the charged voltage, or say so with `log_start`), carry the current for 95 % of the time under load, "
        "deliver four fifths of the charge, end near empty once the sag is taken off, and hold a temperature that rises. "
        "Columns of a file whose meaning or unit was guessed prove nothing. "
        "If the current falls during the test, its lowest part counts. A pulse, a part of a discharge, or one "
        "discharge exported twice proves nothing. Until then, use the manufacturer's rating alone."
    ),
    source=("The method is " + COMMON_PRACTICE + "; the marks are percell's own choice"),
)
TEST_NOT_COUNTED = Rule(
    id="test-not-counted",
    severity=Severity.NOTE,
    title="A higher current was tested, but not proved",
    explanation=(
        "Logs at a higher current lack something that a rating needs, or are too few. The rating is the "
        "highest current that enough logs prove."
    ),
    source=COMMON_PRACTICE,
)
TEST_NOT_PUSHED = Rule(
    id="test-limit-not-met",
    severity=Severity.NOTE,
    title="No tested current exceeded a limit",
    explanation=(
        "The highest current that keeps the limits was not found: it is at least the highest one tested. "
        "Nothing obliges you to look for it, and the manufacturer's rating comes first."
    ),
    source="Definition of the test",
)
TEST_NO_CAPACITY = Rule(
    id="test-without-capacity",
    severity=Severity.NOTE,
    title="The logs show no capacity",
    explanation=(
        "A capacity is the charge from full to empty. Start a log at rest, near full, and end it when the "
        "voltage without sag is near empty."
    ),
    source="Definition of the capacity",
)
TEST_NO_STEP = Rule(
    id="test-without-step",
    severity=Severity.NOTE,
    title="The log shows no resistance",
    explanation=(
        "The internal resistance is read where a load begins or changes, best near half charge. Log a few "
        "seconds of rest before the load. What a nearly empty cell recovers after it is no resistance."
    ),
    source="Two-load method within one log, as in IEC 61960-3 (secondary copy)",
)
TEST_COLUMNS_GUESSED = Rule(
    id="test-columns-guessed",
    severity=Severity.CAUTION,
    title="Columns of a log were guessed",
    explanation=(
        "The file does not say for certain which column this is, or in which unit. Check it. Then say it, with the "
        "column's name and unit, and ask again: a guess proves no rating."
    ),
    source="percell's own choice",
)
TEST_OFFSET = Rule(
    id="test-offset-at-rest",
    severity=Severity.NOTE,
    title="The ammeter shows a current at rest",
    explanation=(
        "An ammeter that was not set to zero shows a small current at rest. percell counts such rows as rest. "
        "A negative current counts as none, a positive one as charge that was delivered."
    ),
    source=("That cyclers do so is " + COMMON_PRACTICE),
)
TEST_UNDER_LOAD = Rule(
    id="test-begins-under-load",
    severity=Severity.NOTE,
    title="A log begins under load",
    explanation=(
        "Without a rest before the load, a log does not show how full the cell was, nor the resistance at the "
        "first step. Log a few seconds of rest. If the cell was fully charged, say so with `log_start`."
    ),
    source="Two-load method within one log, as in IEC 61960-3 (secondary copy)",
)
