"""All rules: by topic, and most severe first, which is the order of the reference."""

from enum import StrEnum
from itertools import chain

from percell.questions.answering import rules as answering
from percell.questions.bench import rules as bench
from percell.questions.cell import rules as cell
from percell.questions.loads import rules as loads
from percell.questions.unequal import rules as unequal
from percell.questions.vocabulary.rules import Rule, Severity


class Topic(StrEnum):
    """What a rule is about, in the words of a reader."""

    CURRENT = "Current and rating"
    POWER = "Power and cut-off"
    TIME = "Running time and sag"
    UNEQUAL = "Unequal cells"
    DRIFT = "Series drift"
    CHARGING = "Charging"
    HEAT = "Heat and cold"
    PACK = "The pack and its chemistry"
    LABEL = "Labels"
    COIL = "Coil, wire and meter"
    BENCH = "Tests of a cell"


_BY_TOPIC: dict[Topic, tuple[Rule, ...]] = {
    Topic.CURRENT: (
        answering.OVER_RATING,
        answering.SHORT_CIRCUIT,
        answering.LITTLE_HEADROOM,
        answering.SHARING_CHOSEN,
        unequal.SHARE_ABOVE_CAREFUL,
        answering.ASSUMPTION_DECIDES,
        answering.UNEVEN_SHARE,
        loads.RATING_NOT_TO_BE_HAD,
    ),
    Topic.POWER: (
        answering.NEAR_COLLAPSE,
        answering.CUTOFF_BELOW_END,
        loads.POWER_GIVES_OUT,
        loads.NO_POWER_LEFT,
        unequal.DRAWS_MORE_WHEN_EMPTY,
        unequal.DRAWS_MORE_WHEN_FULL,
        loads.REST_CUTOFF_IN_SECONDS,
        loads.DEVICE_ABOVE_USUAL,
        loads.CUTOFF_AT_ONCE,
        loads.NO_LAYOUT_FITS,
        loads.CUTOFF_ASSUMED,
        loads.HIGHEST_POWER_BEYOND,
        loads.SAME_POWER_ANY_WIRING,
    ),
    Topic.TIME: (
        loads.NO_RUNNING_TIME,
        loads.ENERGY_CELL,
        loads.NO_RECOVERY,
        answering.NO_CURVE,
        loads.RUNNING_TIME_ESTIMATE,
        loads.RUN_ENDS_UNDER_LOAD,
        loads.CHARGE_LEFT,
        loads.CUTOFF_DECIDES,
        cell.SAG_GROWS,
        answering.CURVE_BORROWED,
    ),
    Topic.UNEQUAL: (
        unequal.CELL_REVERSED,
        unequal.NEIGHBOURS_TOO_FAST,
        unequal.JOINING_RUSH,
        unequal.CELL_BELOW_END,
        unequal.CELL_ABOVE_FULL,
        unequal.CHARGED_BY_NEIGHBOURS,
        unequal.JOIN_LIKE_CELLS,
        unequal.UNLIKE_RATINGS,
        unequal.VOLTAGE_OFF_CURVE,
        unequal.SETS_FAR_APART,
        unequal.SETS_MEASURED_ONLY,
        unequal.SETS_NOT_PROVEN,
    ),
    Topic.DRIFT: (
        unequal.DRIFT_DEEP,
        unequal.DRIFT_REVERSED,
        unequal.DRIFT_OVERCHARGED,
        unequal.DRIFT_CUTOFF_ASSUMED,
        unequal.STRING_APART,
        unequal.SAG_NOT_COUNTED,
        unequal.ONE_CURRENT_IN_SERIES,
    ),
    Topic.CHARGING: (
        cell.CHARGE_SERIES_UNWATCHED,
        cell.CHARGE_TEMPERATURE,
        cell.CHARGE_BELOW_END,
        cell.CHARGE_ABOVE_FULL,
        cell.CHARGE_OVER_LIMIT,
        unequal.CHARGE_LIMIT_DOUBTED,
        cell.CHARGE_BY_LAYOUT,
        cell.CHARGE_COOL,
        cell.CHARGE_ALIKE,
    ),
    Topic.HEAT: (
        cell.STOP_TEMPERATURE,
        cell.BEYOND_ESTIMATE,
        answering.COLD,
        cell.NEAR_STOP,
        cell.STOP_ABOVE_USUAL,
        cell.CONTINUOUS_TOO_HOT,
        cell.TEMPERATURE_ESTIMATE,
    ),
    Topic.PACK: (
        answering.CHARGED_ABOVE_CHEMISTRY,
        answering.TOUCH_VOLTAGE,
        loads.TRANSPORT_LIMIT,
        answering.CHARGED_BELOW_CHEMISTRY,
        answering.CHEMISTRY_ASSUMED,
        answering.RESISTANCE_ASSUMED,
    ),
    Topic.LABEL: (
        cell.CLAIM_CAPACITY,
        cell.CLAIM_RATING,
        cell.CLAIM_CAPACITY_DOUBTFUL,
        cell.CLAIM_RATING_DOUBTFUL,
        cell.RATING_DOUBTFUL,
        cell.CLAIM_NOT_PROVEN,
    ),
    Topic.COIL: (
        bench.COIL_CALCULATED,
        bench.WIRE_UNCONFIRMED,
        bench.RESISTANCE_UNSURE,
        bench.WARM_UP_BARE,
    ),
    Topic.BENCH: (
        bench.TEST_TOO_HOT,
        bench.TEST_TOO_LOW,
        bench.MEASURED_COLD_OR_WARM,
        bench.RESISTANCE_ROSE,
        bench.CAPACITY_FELL,
        bench.TEST_PROVES_NO_RATING,
        bench.TEST_STOP_RAISED,
        bench.TEST_FAILED_ABOVE,
        bench.MEASURED_OTHERWISE,
        bench.RESISTANCE_READ_SOON,
        bench.ABOVE_REFERENCE,
        bench.TEST_NOT_PUSHED,
        bench.TEST_NOT_COUNTED,
        bench.TEST_NO_STEP,
        bench.TEST_COLUMNS_GUESSED,
        bench.TEST_OFFSET,
        bench.TEST_UNDER_LOAD,
        bench.TEST_NO_CAPACITY,
    ),
}

_MOST_SEVERE_FIRST = [*Severity][::-1]
RULES: tuple[Rule, ...] = tuple(
    sorted(chain(*_BY_TOPIC.values()), key=lambda rule: _MOST_SEVERE_FIRST.index(rule.severity))
)
TOPICS: dict[str, Topic] = {rule.id: topic for topic, rules in _BY_TOPIC.items() for rule in rules}
