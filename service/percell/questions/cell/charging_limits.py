"""The limits of a charge: its temperature, its voltages and its current."""

from msgspec import UNSET

from percell.physics.meter import NOISE
from percell.questions.answering.voltage_findings import OVERCHARGE_V, charged_voltage
from percell.questions.cell import rules
from percell.questions.cell.charge import Charging, ChargingAllowed, allowed, charged_v, limit_a
from percell.questions.unequal.charge_limit import (
    believed,
    charge_current,
    of_which,
)
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.limits import (
    Held,
    LimitSide,
    judged,
    missing,
    not_judged,
    together,
)
from percell.questions.vocabulary.rules import LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import given, worst

# public advice, see the rule
LOWEST_C, HIGHEST_C = 0.0, 40.0
# below it many cells may be charged only with less current, see the rule
COOL_C = 15.0
_WHYS = {
    LimitName.CHARGE_CURRENT: "with this current",
    LimitName.CHARGE_TEMPERATURE: "at this temperature",
    LimitName.CHARGED_VOLTAGE: "at or to this voltage",
    LimitName.END_VOLTAGE: "at this voltage",
}


def why_forbidden(asked: Charging, most_a: float) -> list[str]:
    """Return why the cells must not be charged, each reason once; an assumed limit forbids nothing."""
    limits = [state.limits[0] for state in held_states(asked)]
    if asked.cell_charge_limit_a is not UNSET:
        limits.insert(0, charge_current(most_a, asked.cell_charge_limit_a, assumed=False))
    return list(dict.fromkeys(_WHYS[one.name] for one in limits if one.verdict is Verdict.OVER))


def held_states(asked: Charging) -> list[Held]:
    """Hold the state in which cells are to be charged against the limits that forbid it."""
    return [_temperature(asked), _watched(asked, _charged(asked)), _rest(asked)]


def _watched(asked: Charging, held: Held) -> Held:
    """Judge no cell as within its charged voltage where no charger looks at each cell in series."""
    if allowed(asked.charged_where, series=wiring(asked.layout).series) is not ChargingAllowed.NO:
        return held
    reason = "no charger monitors the series cells individually"
    return Held([not_judged(one, reason) for one in held.limits], held.findings)


def _temperature(asked: Charging) -> Held:
    at_c = asked.cell_temperature_c
    if at_c is UNSET:
        return Held([missing(LimitName.CHARGE_TEMPERATURE, "cell_temperature_c")], [])
    if at_c > (LOWEST_C + HIGHEST_C) / 2:
        limit = judged(LimitName.CHARGE_TEMPERATURE, at_c, HIGHEST_C, "°C", origin=LOWEST_C)
    else:
        limit = judged(
            LimitName.CHARGE_TEMPERATURE,
            at_c,
            LOWEST_C,
            "°C",
            bound=LimitSide.AT_LEAST,
            origin=HIGHEST_C,
        )
    if limit.verdict is Verdict.OVER:
        return Held(
            [limit],
            [
                finding(
                    rules.CHARGE_TEMPERATURE,
                    f"The cells are at {given(at_c)} °C, outside {LOWEST_C:g} to {HIGHEST_C:g} °C. Do not charge them.",
                )
            ],
        )
    if not _is_cool(asked):
        return Held([limit], [])
    return Held(
        [limit],
        [
            finding(
                rules.CHARGE_COOL,
                (
                    f"The cells are at {given(at_c)} °C. Below {COOL_C:g} °C, charge with less current than the usual "
                    "limit, because many manufacturers require it."
                ),
            )
        ],
    )


def _charged(asked: Charging) -> Held:
    """Hold the voltage to which a cell is charged, and the one at which it rests, against the highest."""
    by_chemistry = charged_voltage(asked.chemistry, asked.cell_charged_voltage_v)
    rest_v = asked.open_circuit_voltage_v
    if rest_v is UNSET:
        return by_chemistry
    highest_v = charged_v(asked) + OVERCHARGE_V
    limit = judged(LimitName.CHARGED_VOLTAGE, rest_v, highest_v, "V", near=False)
    found = (
        [
            finding(
                rules.CHARGE_ABOVE_FULL,
                (
                    f"The cell rests at {given(rest_v)} V, more than {OVERCHARGE_V:g} V above the "
                    f"{given(charged_v(asked))} V to which it would be charged. Do not charge it. The figures here do "
                    "not apply to it."
                ),
            )
        ]
        if limit.verdict is Verdict.OVER
        else []
    )
    return together(by_chemistry, Held([limit], found))


def _rest(asked: Charging) -> Held:
    """Hold the voltage at which a cell rests against the end of discharge."""
    rest_v, preset = asked.open_circuit_voltage_v, VOLTAGES[Chemistry(asked.chemistry)]
    if rest_v is UNSET:
        return Held([missing(LimitName.END_VOLTAGE, "open_circuit_voltage_v")], [])
    limit = judged(
        LimitName.END_VOLTAGE, rest_v, preset.end_v, "V", bound=LimitSide.AT_LEAST, near=False
    )
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    return Held(
        [limit],
        [
            finding(
                rules.CHARGE_BELOW_END,
                (
                    f"The cell rests at {given(rest_v)} V, below {preset.end_v:g} V, the end-of-discharge voltage of "
                    f"{preset.name}. Do not charge it. The figures here do not apply to it."
                ),
            )
        ],
    )


def _is_cool(asked: Charging) -> bool:
    at_c = asked.cell_temperature_c
    return at_c is not UNSET and at_c < COOL_C * (1 - NOISE)


def held_charge_current(asked: Charging, most_a: float) -> Held:
    """Hold the charge current of the worst-case cell against its limit."""
    highest_a = limit_a(asked)
    limit = charge_current(most_a, highest_a, assumed=asked.cell_charge_limit_a is UNSET)
    if _is_cool(asked):
        reason = f"below {COOL_C:g} °C many manufacturers allow less charge current"
        limit = not_judged(limit, reason)
    doubt = believed(limit, asked.cell_charge_limit_a, asked.cell_capacity_ah)
    if limit.verdict is not Verdict.OVER:
        return doubt
    over = finding(
        rules.CHARGE_OVER_LIMIT,
        f"A cell would be charged with up to {worst(most_a, highest_a)} A, above its charge limit of "
        f"{given(highest_a)} A{of_which(asked.cell_charge_limit_a)}.",
    )
    return together(doubt, Held([], [over]))
