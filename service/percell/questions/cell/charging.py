"""How long does a cell charge, with what current, and where may it be charged?"""

from enum import StrEnum
from functools import lru_cache
from typing import Annotated, ClassVar

import numpy as np
from msgspec import UNSET, Struct, UnsetType

from percell.physics import charging as formulas
from percell.physics.curves import HIGHEST_ABOVE_FULL_V, soc_at_rest
from percell.physics.meter import NOISE
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rest_curve import borrowed, curve_of
from percell.questions.answering.voltage_findings import OVERCHARGE_V, charged_voltage
from percell.questions.cell import rules
from percell.questions.unequal.charge_limit import (
    CellChargeLimitA,
    charge_current,
    limit_assumed,
    of_which,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import OwnResistance, lasting_ohm
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import COMMON_PRACTICE, choice, figure, quantity
from percell.questions.vocabulary.layout import LAYOUTS, Layout, Wiring, wiring
from percell.questions.vocabulary.limits import (
    Held,
    LimitSide,
    judged,
    missing,
    together,
)
from percell.questions.vocabulary.presence import OneOf, Presence
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import Sharing, counted_cells
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, given

# public advice, see the rule
LOWEST_C, HIGHEST_C = 0.0, 40.0
# below it many cells may be charged only with less current, see the rule
COOL_C = 15.0
# current at which a charge ends, over capacity, per hour
END_RATE = 0.05
_CURRENT_FROM = (
    "the current at which the worst-case cell has the usual charge current, or its charge limit if "
    "that is lower"
)
_END_FROM = f"a twentieth of the capacity per hour, the usual end of a charge, {COMMON_PRACTICE}"


class ChargedWhere(StrEnum):
    """Place where the cells are charged."""

    IN_DEVICE = "in_device"
    IN_DEVICE_BALANCED = "in_device_balanced"
    INDIVIDUALLY = "individually"


class ChargingAllowed(StrEnum):
    """Whether the cells may be charged."""

    NO = "no"
    IF_MANUFACTURER_ALLOWS = "if_manufacturer_allows"
    EACH_CELL_ALONE = "each_cell_alone"


class Charging(OwnResistance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Equal cells in a layout, and how they are charged."""

    presence: ClassVar[tuple[Presence, ...]] = (
        OneOf(
            ("charge_current_a", "charge_rate"),
            "Give charge_current_a or charge_rate, not both.",
            needed=False,
        ),
        OneOf(
            ("state_of_charge", "open_circuit_voltage_v"),
            "Give state_of_charge or open_circuit_voltage_v, not both.",
            needed=False,
        ),
    )

    layout: Layout
    cell_capacity_ah: fields.CellCapacityAh
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET
    charge_current_a: (
        Annotated[
            float,
            quantity(
                "A",
                0.01,
                200,
                "Constant charge current of one cell, if shared evenly.",
                default=(
                    "the current at which the worst-case cell has half its capacity per hour, or its charge limit if "
                    "that is lower"
                ),
            ),
        ]
        | UnsetType
    ) = UNSET
    charge_rate: (
        Annotated[
            float,
            quantity(
                "1/h",
                0.02,
                20,
                (
                    "Charge current divided by the capacity, instead of `charge_current_a`: 0.5 is half the capacity "
                    "per hour."
                ),
            ),
        ]
        | UnsetType
    ) = UNSET
    end_charge_current_a: (
        Annotated[
            float,
            quantity(
                "A",
                0.001,
                200,
                "Current of one cell at which the charge ends.",
                default=f"{END_RATE:g} times the capacity per hour, or the charge current if that is lower",
            ),
        ]
        | UnsetType
    ) = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    state_of_charge: fields.StartCharge | UnsetType = UNSET
    open_circuit_voltage_v: fields.StartOpenCircuitVoltageV | UnsetType = UNSET
    cell_temperature_c: fields.ChargingTemperatureC | UnsetType = UNSET
    charged_where: Annotated[
        ChargedWhere,
        choice(
            (
                "Where the cells are charged. `in_device`: by a charger that monitors only the pack's total "
                "voltage. `in_device_balanced`: by a charger that monitors and balances each cell or parallel "
                "group. `individually`: each cell alone, in a charger made for it."
            ),
            default_from="the worst case, " + fields.OUR_DEFAULT,
        ),
    ] = ChargedWhere.IN_DEVICE


class ChargingFigures(Struct, frozen=True, gc=False):
    """Charge of one cell, and current and energy of the charger."""

    charging_allowed: Annotated[
        ChargingAllowed,
        fields.text(
            "Whether these cells may be charged as asked. `no`: the layout, the temperature, the current, the "
            "charged voltage or the open-circuit voltage forbids it; see the findings. "
            "`if_manufacturer_allows`: only by a charger made for this layout, and only if the manufacturers "
            "of device and cell allow it. `each_cell_alone`: each cell individually, in a charger made for it."
        ),
    ]
    even_cell_charge_current_a: Annotated[
        float, figure("A", "Constant charge current of each cell, if shared evenly.")
    ]
    worst_cell_charge_current_a: Annotated[
        float,
        figure(
            "A",
            "Constant charge current of the worst-case cell of a parallel group, shared unevenly.",
        ),
    ]
    charger_current_a: Annotated[
        float,
        figure("A", "Current of the charger: for a parallel group, or for one cell individually."),
    ]
    cell_charge_limit_a: Annotated[
        float,
        figure("A", "Highest charge current of a cell: as given, or half its capacity per hour."),
    ]
    constant_current_s: Annotated[float, figure("s", "Time at constant current.")]
    constant_voltage_s: Annotated[
        float, figure("s", "Time at constant voltage, the charged voltage, after that.")
    ]
    charging_time_s: Annotated[float, figure("s", "Total charging time.")]
    cell_charge_ah: Annotated[float, figure("Ah", "Charge that goes into one cell.")]
    cell_input_energy_wh: Annotated[float, figure("Wh", "Energy that goes into one cell.")]
    cell_loss_wh: Annotated[
        float, figure("Wh", "Part of the energy that turns into heat in the cell.")
    ]
    pack_input_energy_wh: Annotated[float, figure("Wh", "Energy that goes into all cells.")]
    end_state_of_charge: Annotated[float, figure("1", "State of charge at the end of the charge.")]


def allowed(charged: ChargedWhere, *, series: int) -> ChargingAllowed:
    """Return whether cells may be charged in that place. Common practice, no published source."""
    if charged == ChargedWhere.INDIVIDUALLY:
        return ChargingAllowed.EACH_CELL_ALONE
    if charged == ChargedWhere.IN_DEVICE and series > 1:
        return ChargingAllowed.NO
    return ChargingAllowed.IF_MANUFACTURER_ALLOWS


def _limit_a(asked: Charging) -> float:
    """Return the charge limit of a cell: the given one, or the usual one."""
    given_a = asked.cell_charge_limit_a
    return _usual_a(asked) if given_a is UNSET else given_a


def _usual_a(asked: Charging) -> float:
    return float(formulas.usual_charge_current_a(capacity_ah=asked.cell_capacity_ah))


def _group(asked: Charging) -> int:
    """Return how many cells are charged side by side."""
    alone = asked.charged_where == ChargedWhere.INDIVIDUALLY
    return 1 if alone else int(wiring(asked.layout).parallel)


def _above_even(group: int) -> float:
    """Return the worst-case cell's part of a charge current over an even part."""
    return group / float(counted_cells(Sharing.CAREFUL, group))


def _current_a(asked: Charging) -> float:
    if asked.charge_current_a is not UNSET:
        return asked.charge_current_a
    if asked.charge_rate is not UNSET:
        return asked.charge_rate * asked.cell_capacity_ah
    return min(_usual_a(asked), _limit_a(asked)) / _above_even(_group(asked))


def _end_current_a(asked: Charging) -> float:
    # a current at or below the end current ends the charge when the voltage is reached
    usual_a = min(END_RATE * asked.cell_capacity_ah, _current_a(asked))
    return usual_a if asked.end_charge_current_a is UNSET else asked.end_charge_current_a


def _charged_v(asked: Charging) -> float:
    given_v = asked.cell_charged_voltage_v
    return VOLTAGES[Chemistry(asked.chemistry)].charged_v if given_v is UNSET else given_v


def _start_soc(asked: Charging) -> float:
    if asked.open_circuit_voltage_v is UNSET:
        return 0.0 if asked.state_of_charge is UNSET else asked.state_of_charge
    curve = curve_of(Chemistry(asked.chemistry))
    return float(soc_at_rest(curve=curve, open_circuit_voltage_v=asked.open_circuit_voltage_v))


def figures(asked: Charging) -> ChargingFigures:
    """Calculate the figures of one charge."""
    _refuse_contradictions(asked)
    wired = wiring(asked.layout)
    cell_a = _current_a(asked)
    group = _group(asked)
    most_a = cell_a * _above_even(group)
    done = formulas.charge(
        charge_current_a=cell_a,
        end_current_a=_end_current_a(asked),
        charged_v=_charged_v(asked),
        capacity_ah=asked.cell_capacity_ah,
        resistance_ohm=lasting_ohm(asked),
        start_soc=_start_soc(asked),
        curve=curve_of(Chemistry(asked.chemistry)),
    )
    return ChargingFigures(
        charging_allowed=ChargingAllowed.NO
        if _forbidden(asked, most_a)
        else allowed(asked.charged_where, series=int(wired.series)),
        even_cell_charge_current_a=cell_a,
        worst_cell_charge_current_a=most_a,
        charger_current_a=float(cell_a * group),
        cell_charge_limit_a=_limit_a(asked),
        constant_current_s=done.constant_current_s,
        constant_voltage_s=done.constant_voltage_s,
        charging_time_s=done.time_s,
        cell_charge_ah=done.charge_ah,
        cell_input_energy_wh=done.energy_wh,
        cell_loss_wh=done.heat_wh,
        pack_input_energy_wh=float(done.energy_wh * wired.cells),
        end_state_of_charge=done.end_soc,
    )


@lru_cache(maxsize=LAYOUTS)
def by_layout(wired: Wiring) -> Finding:
    """Return the finding about where the cells of a layout may be charged."""
    if wired.series == 1:
        what = "the cell" if wired.parallel == 1 else f"the {wired.parallel} cells in parallel"
        sentence = (
            f"{wired.text}: charge {what} in the device only if its charger is made for that and the "
            "manufacturers of device and cell allow it. Otherwise charge each cell individually, in a charger "
            "made for it."
        )
    else:
        what = "cells" if wired.parallel == 1 else "groups"
        sentence = (
            f"{wired.text} has {wired.series} {what} in series. Charge each cell individually. Or use a "
            f"balancing charger made for {wired.text}, if the manufacturers of device and cell allow it."
        )
    return finding(rules.CHARGE_BY_LAYOUT, sentence)


_WHYS = {
    LimitName.CHARGE_CURRENT: "with this current",
    LimitName.CHARGE_TEMPERATURE: "at this temperature",
    LimitName.CHARGED_VOLTAGE: "at or to this voltage",
    LimitName.END_VOLTAGE: "at this voltage",
}


def _forbidden(asked: Charging, most_a: float) -> list[str]:
    """Return why the cells must not be charged, each reason once; an assumed limit forbids nothing."""
    limits = [state.limits[0] for state in _states(asked)]
    if asked.cell_charge_limit_a is not UNSET:
        limits.insert(0, charge_current(most_a, asked.cell_charge_limit_a, assumed=False))
    return list(dict.fromkeys(_WHYS[one.name] for one in limits if one.verdict is Verdict.OVER))


def _states(asked: Charging) -> list[Held]:
    """Hold the state in which cells are to be charged against the limits that forbid it."""
    return [_temperature(asked), _charged(asked), _rest(asked)]


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
    if at_c >= COOL_C * (1 - NOISE):
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
    highest_v = _charged_v(asked) + OVERCHARGE_V
    limit = judged(LimitName.CHARGED_VOLTAGE, rest_v, highest_v, "V", near=False)
    found = (
        [
            finding(
                rules.CHARGE_ABOVE_FULL,
                (
                    f"The cell rests at {given(rest_v)} V, more than {OVERCHARGE_V:g} V above the "
                    f"{given(_charged_v(asked))} V to which it would be charged. Do not charge it. The figures here do "
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


def _charge_current(asked: Charging, got: ChargingFigures) -> Held:
    """Hold the charge current of the worst-case cell against its limit."""
    most_a, limit_a = got.worst_cell_charge_current_a, got.cell_charge_limit_a
    limit = charge_current(most_a, limit_a, assumed=asked.cell_charge_limit_a is UNSET)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    return Held(
        [limit],
        [
            finding(
                rules.CHARGE_OVER_LIMIT,
                f"A cell would be charged with up to {beside(most_a, limit_a)} A, above its charge limit of "
                f"{given(limit_a)} A{of_which(asked.cell_charge_limit_a)}.",
            )
        ],
    )


def _findings(asked: Charging, wired: Wiring) -> list[Finding]:
    found = []
    if allowed(asked.charged_where, series=wired.series) is ChargingAllowed.NO:
        found.append(
            finding(
                rules.CHARGE_SERIES_UNWATCHED,
                (
                    f"{wired.text} is charged as a whole, so no charger monitors the {wired.series} series cells "
                    "individually."
                ),
            )
        )
    found.append(by_layout(wired))
    if asked.charged_where is ChargedWhere.INDIVIDUALLY and wired.cells > 1:
        found.append(
            finding(
                rules.CHARGE_ALIKE,
                f"Charge each of the {wired.cells} cells to {given(_charged_v(asked))} V before they go back together.",
            )
        )
    return [*found, borrowed(curve_of(asked.chemistry))]


def _leads(asked: Charging, wired: Wiring, got: ChargingFigures) -> str:
    """Return the refusal first, if charging is not allowed, and then the time."""
    time = f"about {abs(np.ceil(got.charging_time_s / 60 - NOISE)):.0f} min"
    most_a, limit_a = got.worst_cell_charge_current_a, got.cell_charge_limit_a
    why = _forbidden(asked, most_a)
    if why:
        return f"do not charge the cells {' or '.join(why)} (it would take {time})"
    if charge_current(most_a, limit_a, assumed=True).verdict is Verdict.OVER:
        return (
            f"charge a cell with {beside(most_a, limit_a)} A only if its manufacturer allows that much (it would "
            f"take {time})"
        )
    if allowed(asked.charged_where, series=wired.series) is ChargingAllowed.NO:
        return f"charge each cell individually, or use a balancing charger (as asked, it would take {time})"
    return f"each cell charges for {time}"


def _steps(asked: Charging, got: ChargingFigures) -> list[WorkingStep]:
    return [
        *_time_steps(asked, got),
        *_charge_steps(asked, got),
        *_sharing_steps(asked, got),
    ]


def _time_steps(asked: Charging, got: ChargingFigures) -> list[WorkingStep]:
    cell_a, capacity_ah = got.even_cell_charge_current_a, asked.cell_capacity_ah
    cell_ohm = lasting_ohm(asked)
    first_ah = cell_a * got.constant_current_s / 3600
    return [
        WorkingStep(
            "Usual charge current",
            "I = q · 0.5 / h",
            f"{capacity_ah:.4g} Ah × {formulas.USUAL_RATE:g} / h",
            _usual_a(asked),
            "A",
        ),
        WorkingStep(
            "Resistance to a charge of hours, which is higher than to a pulse of seconds",
            f"R = {formulas.SLOW_RATIO:g} · r",
            f"{formulas.SLOW_RATIO:g} × {cell_ohm:.4g} Ω",
            formulas.SLOW_RATIO * cell_ohm,
            "Ω",
        ),
        WorkingStep(
            "Time at constant current, until OCV + I·R is the charged voltage",
            "t = q · Δz / I",
            f"3600 s/h × {first_ah:.4g} Ah / {cell_a:.4g} A",
            got.constant_current_s,
            "s",
        ),
        WorkingStep(
            "Time at the charged voltage, until the current is down to its end",
            "t = q · R · ∫ dz / (u − OCV)",
            f"from {cell_a:.4g} A to {_end_current_a(asked):.4g} A at {_charged_v(asked):.4g} V",
            got.constant_voltage_s,
            "s",
        ),
        WorkingStep(
            "Total charging time",
            "t = t_constant current + t_constant voltage",
            f"{got.constant_current_s:.4g} s + {got.constant_voltage_s:.4g} s",
            got.charging_time_s,
            "s",
        ),
    ]


def _charge_steps(asked: Charging, got: ChargingFigures) -> list[WorkingStep]:
    return [
        WorkingStep(
            "Charge that goes into the cell",
            "Q = q · (z_end − z_start)",
            f"{asked.cell_capacity_ah:.4g} Ah × ({got.end_state_of_charge:.4g} − {_start_soc(asked):.4g})",
            got.cell_charge_ah,
            "Ah",
        ),
        WorkingStep(
            "Energy that goes into the cell",
            "E = ∫ u dQ = E_stored + E_heat",
            f"{got.cell_input_energy_wh - got.cell_loss_wh:.4g} Wh + {got.cell_loss_wh:.4g} Wh",
            got.cell_input_energy_wh,
            "Wh",
        ),
    ]


def _sharing_steps(asked: Charging, got: ChargingFigures) -> list[WorkingStep]:
    cell_a, group = got.even_cell_charge_current_a, _group(asked)
    if group == 1:
        return []
    return [
        WorkingStep(
            "Charge current of the worst-case cell of a group, shared unevenly",
            "I_cell = P · I · share",
            f"{group} × {cell_a:.4g} A × {_above_even(group) / group:.4g}",
            got.worst_cell_charge_current_a,
            "A",
        )
    ]


def _refuse_contradictions(asked: Charging) -> None:
    if _end_current_a(asked) > _current_a(asked):
        raise Refused(
            "end_charge_current_a",
            f"The end current is above the charge current of {given(_current_a(asked))} A.",
        )
    end_v = VOLTAGES[asked.chemistry].end_v
    if _charged_v(asked) <= end_v:
        raise Refused(
            "cell_charged_voltage_v",
            (
                f"The charged voltage of {given(_charged_v(asked))} V must be above {end_v:g} V, the end-of-discharge "
                "voltage of this chemistry."
            ),
        )
    highest_v = float(curve_of(asked.chemistry).ocv_v[-1]) + HIGHEST_ABOVE_FULL_V
    if _charged_v(asked) >= highest_v:
        raise Refused(
            "cell_charged_voltage_v",
            f"No cell of this chemistry is charged to {given(_charged_v(asked))} V, and its curve ends below "
            f"{highest_v:g} V.",
        )


def explain(asked: Charging) -> Explained[ChargingFigures]:
    """Answer for one pack."""
    wired = wiring(asked.layout)
    got = figures(asked)
    held = together(_charge_current(asked, got), *_states(asked), Held([], _findings(asked, wired)))
    return Explained(
        figures=got,
        limits=held.limits,
        working=_steps(asked, got),
        findings=held.findings,
        leads=_leads(asked, wired, got),
    )


def assumed(asked: Charging) -> list[Assumption]:
    """Return the defaults in use, with the limit, the current and the charge assumed if none are given."""
    found = assumptions(asked)
    if asked.cell_charge_limit_a is UNSET:
        found.append(limit_assumed(_limit_a(asked)))
    if asked.charge_current_a is UNSET and asked.charge_rate is UNSET:
        found.append(Assumption("charge_current_a", _current_a(asked), "A", _CURRENT_FROM))
    if asked.end_charge_current_a is UNSET:
        found.append(Assumption("end_charge_current_a", _end_current_a(asked), "A", _END_FROM))
    if asked.state_of_charge is UNSET and asked.open_circuit_voltage_v is UNSET:
        found.append(Assumption("state_of_charge", 0.0, "1", "empty: the longest charge"))
    return found


QUESTION = Question(
    id="charging",
    subject=Subject.CHARGING,
    title="Charging the cells of a pack",
    description=(
        "Charging time of a cell, whether the current is within the manufacturer's limit, and where the "
        "cells may be charged."
    ),
    asked=Charging,
    shows=ChargingFigures,
    limits=(
        LimitName.CHARGE_CURRENT,
        LimitName.CHARGE_TEMPERATURE,
        LimitName.CHARGED_VOLTAGE,
        LimitName.END_VOLTAGE,
    ),
    explain=explain,
    figures=figures,
    assumed=assumed,
    table=OverTable.CELL_BY_CELL,
    headline=Headline(
        field="charging_time_s",
        says="Each cell charges for about",
        unit="min",
        decimals=0,
        round=Rounding.UP,
        per=60,
    ),
    # a set that came back to the Lantern Street Bench, invented
    example={
        "layout": "2S1P",
        "cell_capacity_ah": 3.0,
        "cell_charge_limit_a": 4,
        "open_circuit_voltage_v": 3.4,
        "cell_temperature_c": 19,
        "charged_where": "individually",
    },
)
