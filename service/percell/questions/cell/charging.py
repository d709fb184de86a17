"""How long does a cell charge, with what current, and where may it be charged?"""

from enum import StrEnum
from functools import lru_cache
from typing import Annotated

from msgspec import UNSET, Struct, UnsetType

from percell.physics import charging as formulas
from percell.physics.curves import HIGHEST_ABOVE_FULL_V, soc_at_rest
from percell.physics.meter import NOISE
from percell.physics.pack import counted_cells
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rest_curve import borrowed, curve_of
from percell.questions.answering.voltage_findings import OVERCHARGE_V, charged_voltage
from percell.questions.cell import rules
from percell.questions.unequal.charge_limit import USUAL_CHARGE_FROM, CellChargeLimitA
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import COMMON_PRACTICE, choice, figure, quantity
from percell.questions.vocabulary.layout import LAYOUTS, Layout, Wiring, wiring
from percell.questions.vocabulary.limits import Limit, judged, missing
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.wording import beside, given, shown

# public advice, see the rule
LOWEST_C, HIGHEST_C = 0.0, 40.0
# charge current over capacity, per hour, above which few cells may be charged: our own choice
FAR_TOO_FAST_RATE = 2.0
# current at which a charge ends, over capacity, per hour
END_RATE = 0.05
_END_FROM = f"a twentieth of the capacity in an hour, the usual end of a charge, {COMMON_PRACTICE}"


class ChargedWhere(StrEnum):
    """Where cells are charged."""

    IN_DEVICE = "in_device"
    IN_DEVICE_BALANCED = "in_device_balanced"
    INDIVIDUALLY = "individually"


class ChargingAllowed(StrEnum):
    """Whether they may be."""

    NO = "no"
    IF_MANUFACTURER_ALLOWS = "if_manufacturer_allows"
    EACH_CELL_ALONE = "each_cell_alone"


class Charging(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Equal cells of a layout that are to be charged."""

    layout: Layout
    cell_capacity_ah: fields.CellCapacityAh
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET
    charge_current_a: (
        Annotated[
            float,
            quantity(
                "A", 0.01, 200, "Constant charge current of one cell; else by charge_rate or usual."
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
                "Instead of the current: capacities an hour, 0.5 charges half a capacity an hour.",
            ),
        ]
        | UnsetType
    ) = UNSET
    end_charge_current_a: (
        Annotated[float, quantity("A", 0.001, 200, "Current of one cell at which the charge ends.")]
        | UnsetType
    ) = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    cell_resistance_ohm: fields.UnequalCellResistanceOhm = fields.CELL_RESISTANCE_OHM
    state_of_charge: fields.StartCharge | UnsetType = UNSET
    open_circuit_voltage_v: fields.StartOpenCircuitVoltageV | UnsetType = UNSET
    cell_temperature_c: fields.CellTemperatureC | UnsetType = UNSET
    charged_where: Annotated[
        ChargedWhere,
        choice(
            "in_device: by a charger of the device that sees the pack as a whole; in_device_balanced: by "
            "one that watches and balances each cell or parallel group; individually: each cell alone in a "
            "charger made for it.",
            default_from="the harder case, " + fields.OUR_DEFAULT,
        ),
    ] = ChargedWhere.IN_DEVICE


class ChargingFigures(Struct, frozen=True, gc=False):
    """One cell's charge, and what the charger gives."""

    charging_allowed: Annotated[
        ChargingAllowed,
        fields.text(
            "Whether these cells may be charged where asked. no: not with this layout, at this temperature "
            "or from this open-circuit voltage, see the findings; if_manufacturer_allows: only by a charger made for this "
            "layout, if the manufacturers of device and cell allow it; each_cell_alone: each cell in a charger "
            "made for it."
        ),
    ]
    even_cell_charge_current_a: Annotated[
        float, figure("A", "Current of each cell while it is constant, shared evenly.")
    ]
    worst_cell_charge_current_a: Annotated[
        float,
        figure(
            "A",
            "The same for the cell that takes most; in a parallel group by the allowance P − ½.",
        ),
    ]
    charger_current_a: Annotated[
        float,
        figure("A", "Current of the charger: of a parallel group, or of one cell individually."),
    ]
    cell_charge_limit_a: Annotated[
        float, figure("A", "Highest charge current of a cell: as given, else its capacity an hour.")
    ]
    usual_charge_current_a: Annotated[
        float, figure("A", "Usual charge current: half the capacity an hour.")
    ]
    constant_current_s: Annotated[float, figure("s", "Time at constant current.")]
    constant_voltage_s: Annotated[float, figure("s", "Time at the charged voltage after that.")]
    charging_time_s: Annotated[float, figure("s", "Time in all.")]
    cell_charge_ah: Annotated[float, figure("Ah", "Charge that one cell takes in.")]
    cell_input_energy_wh: Annotated[float, figure("Wh", "Energy that one cell is given.")]
    cell_loss_wh: Annotated[float, figure("Wh", "Part of it that turns to heat in the cell.")]
    pack_input_energy_wh: Annotated[float, figure("Wh", "Energy that all cells are given.")]
    end_state_of_charge: Annotated[float, figure("1", "State of charge at the end.")]


def allowed(charged: ChargedWhere, *, series: int) -> ChargingAllowed:
    """Return whether cells may be charged in that place. Common practice, no published source."""
    if charged == ChargedWhere.INDIVIDUALLY:
        return ChargingAllowed.EACH_CELL_ALONE
    if charged == ChargedWhere.IN_DEVICE and series > 1:
        return ChargingAllowed.NO
    return ChargingAllowed.IF_MANUFACTURER_ALLOWS


def _is_too_low(asked: Charging) -> bool:
    end_v = VOLTAGES[Chemistry(asked.chemistry)].end_v
    return asked.open_circuit_voltage_v is not UNSET and asked.open_circuit_voltage_v < end_v * (
        1 - NOISE
    )


def _is_too_high(asked: Charging) -> bool:
    highest_v = _charged_v(asked) + OVERCHARGE_V
    return (
        asked.open_circuit_voltage_v is not UNSET
        and asked.open_circuit_voltage_v > highest_v * (1 + NOISE)
    )


def _is_too_cold_or_warm(asked: Charging) -> bool:
    at_c = asked.cell_temperature_c
    return at_c is not UNSET and not LOWEST_C <= at_c <= HIGHEST_C


def _current_a(asked: Charging) -> float:
    if asked.charge_current_a is not UNSET:
        return asked.charge_current_a
    if asked.charge_rate is not UNSET:
        return asked.charge_rate * asked.cell_capacity_ah
    return float(formulas.usual_charge_current_a(capacity_ah=asked.cell_capacity_ah))


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
    wired = wiring(asked.layout)
    cell_a = _current_a(asked)
    alone = asked.charged_where == ChargedWhere.INDIVIDUALLY
    group = 1 if alone else wired.parallel
    done = formulas.charge(
        charge_current_a=cell_a,
        end_current_a=_end_current_a(asked),
        charged_v=_charged_v(asked),
        capacity_ah=asked.cell_capacity_ah,
        resistance_ohm=asked.cell_resistance_ohm,
        start_soc=_start_soc(asked),
        curve=curve_of(Chemistry(asked.chemistry)),
    )
    given_a = asked.cell_charge_limit_a
    never = _is_too_low(asked) or _is_too_high(asked) or _is_too_cold_or_warm(asked)
    return ChargingFigures(
        charging_allowed=ChargingAllowed.NO
        if never
        else allowed(asked.charged_where, series=int(wired.series)),
        even_cell_charge_current_a=cell_a,
        worst_cell_charge_current_a=float(cell_a * group / counted_cells(parallel=group)),
        charger_current_a=float(cell_a * group),
        cell_charge_limit_a=float(
            formulas.highest_charge_current_a(capacity_ah=asked.cell_capacity_ah)
        )
        if given_a is UNSET
        else given_a,
        usual_charge_current_a=float(
            formulas.usual_charge_current_a(capacity_ah=asked.cell_capacity_ah)
        ),
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
            f"{wired.text}: {what} may be charged in the device only if its charger is made for it and "
            "the manufacturers of device and cell allow it; else individually, in a charger made for the cell."
        )
    else:
        what = "cells" if wired.parallel == 1 else "groups"
        sentence = (
            f"{wired.text} has {wired.series} {what} in series: charge each cell individually, or all with a "
            f"balancing charger made for {wired.text} if the manufacturers of device and cell allow it."
        )
    return finding(rules.CHARGE_BY_LAYOUT, sentence)


def _findings(asked: Charging, wired: Wiring, got: ChargingFigures) -> list[Finding]:
    found = _voltage_findings(asked)
    if allowed(asked.charged_where, series=wired.series) is ChargingAllowed.NO:
        found.append(
            finding(
                rules.CHARGE_SERIES_UNWATCHED,
                f"{wired.text} is charged as a whole: nothing looks at each of the {wired.series} in "
                "series.",
            )
        )
    found += _current_findings(asked, got)
    at_c = asked.cell_temperature_c
    if at_c is not UNSET and _is_too_cold_or_warm(asked):
        found.append(
            finding(
                rules.CHARGE_TEMPERATURE,
                f"The cells are at {given(at_c)} °C, outside {LOWEST_C:g} to {HIGHEST_C:g} °C: do not charge "
                "them.",
            )
        )
    found += charged_voltage(asked.chemistry, asked.cell_charged_voltage_v).findings
    found.append(by_layout(wired))
    if asked.charged_where is ChargedWhere.INDIVIDUALLY and wired.cells > 1:
        found.append(
            finding(
                rules.CHARGE_ALIKE,
                f"All {wired.cells} cells are charged to {_charged_v(asked):g} V before they go back "
                "together.",
            )
        )
    return [*found, borrowed(curve_of(asked.chemistry))]


def _voltage_findings(asked: Charging) -> list[Finding]:
    """Return the findings about a voltage at rest at which no cell may be charged."""
    found, rest_v, preset = [], asked.open_circuit_voltage_v, VOLTAGES[asked.chemistry]
    if rest_v is not UNSET and _is_too_low(asked):
        found.append(
            finding(
                rules.CHARGE_BELOW_END,
                f"The cell rests at {given(rest_v)} V, below {preset.end_v:g} V, the end of "
                f"discharge of {preset.name}: do not charge it. The figures here are not for this cell.",
            )
        )
    if rest_v is not UNSET and _is_too_high(asked):
        found.append(
            finding(
                rules.CHARGE_ABOVE_FULL,
                f"The cell rests at {given(rest_v)} V, more than {OVERCHARGE_V:g} V above "
                f"{given(_charged_v(asked))} V, to which it would be charged: do not charge it. The figures "
                "here are not for this cell.",
            )
        )
    return found


def _current_findings(asked: Charging, got: ChargingFigures) -> list[Finding]:
    """Return the findings about a charge current above the limit of the cell."""
    most_a, limit_a = got.worst_cell_charge_current_a, got.cell_charge_limit_a
    if most_a <= limit_a * (1 + NOISE):
        return []
    if asked.cell_charge_limit_a is not UNSET:
        return [
            finding(
                rules.CHARGE_OVER_LIMIT,
                f"A cell whose charge limit is {given(limit_a)} A would be charged with up to "
                f"{beside(most_a, limit_a)} A.",
            )
        ]
    far = most_a > FAR_TOO_FAST_RATE * asked.cell_capacity_ah * (1 + NOISE)
    return [
        finding(
            rules.CHARGE_FAR_TOO_FAST if far else rules.CHARGE_FAST,
            f"A cell of {given(asked.cell_capacity_ah)} Ah would be charged with up to "
            f"{beside(most_a, limit_a)} A; {shown(got.usual_charge_current_a)} A is usual.",
        )
    ]


def _steps(asked: Charging, wired: Wiring, got: ChargingFigures) -> list[WorkingStep]:
    return [
        *_time_steps(asked, got),
        *_charge_steps(asked, got),
        *_sharing_steps(wired, got),
    ]


def _time_steps(asked: Charging, got: ChargingFigures) -> list[WorkingStep]:
    cell_a, capacity_ah = got.even_cell_charge_current_a, asked.cell_capacity_ah
    slow_ohm = formulas.SLOW_RATIO * asked.cell_resistance_ohm
    first_ah = cell_a * got.constant_current_s / 3600
    return [
        WorkingStep(
            "Usual charge current",
            "I = q · 0.5 / h",
            f"{capacity_ah:.4g} Ah × {formulas.USUAL_RATE:g} / h",
            got.usual_charge_current_a,
            "A",
        ),
        WorkingStep(
            "Resistance to a charge of hours, higher than to a pulse of seconds",
            f"R = {formulas.SLOW_RATIO:g} · r",
            f"{formulas.SLOW_RATIO:g} × {asked.cell_resistance_ohm:.4g} Ω",
            slow_ohm,
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
            "Time in all",
            "t = t_constant current + t_constant voltage",
            f"{got.constant_current_s:.4g} s + {got.constant_voltage_s:.4g} s",
            got.charging_time_s,
            "s",
        ),
    ]


def _charge_steps(asked: Charging, got: ChargingFigures) -> list[WorkingStep]:
    return [
        WorkingStep(
            "Charge that the cell takes in",
            "Q = q · (z_end − z_start)",
            f"{asked.cell_capacity_ah:.4g} Ah × ({got.end_state_of_charge:.4g} − {_start_soc(asked):.4g})",
            got.cell_charge_ah,
            "Ah",
        ),
        WorkingStep(
            "Energy that the cell is given",
            "E = ∫ u dQ = E_stored + E_heat",
            f"{got.cell_input_energy_wh - got.cell_loss_wh:.4g} Wh + {got.cell_loss_wh:.4g} Wh",
            got.cell_input_energy_wh,
            "Wh",
        ),
    ]


def _sharing_steps(wired: Wiring, got: ChargingFigures) -> list[WorkingStep]:
    cell_a = got.even_cell_charge_current_a
    if got.charger_current_a == cell_a:
        return []
    return [
        WorkingStep(
            "Highest charge current of a cell in its group, with the sharing allowance",
            "I_cell = P · I / (P − ½)",
            f"{wired.parallel} × {cell_a:.4g} A / ({wired.parallel} − ½)",
            got.worst_cell_charge_current_a,
            "A",
        )
    ]


def _refuse_contradictions(asked: Charging) -> None:
    if asked.charge_current_a is not UNSET and asked.charge_rate is not UNSET:
        raise Refused("charge_rate", "Give either charge_current_a or charge_rate, not both.")
    if asked.state_of_charge is not UNSET and asked.open_circuit_voltage_v is not UNSET:
        raise Refused(
            "open_circuit_voltage_v",
            "Give either state_of_charge or open_circuit_voltage_v, not both.",
        )
    if _end_current_a(asked) > _current_a(asked):
        raise Refused(
            "end_charge_current_a",
            f"The end current is above the charge current of {_current_a(asked):g} A.",
        )
    end_v = VOLTAGES[asked.chemistry].end_v
    if _charged_v(asked) <= end_v:
        raise Refused(
            "cell_charged_voltage_v",
            f"A charged voltage of {given(_charged_v(asked))} V is not above {end_v:g} V, the end of "
            "discharge of this chemistry.",
        )
    highest_v = float(curve_of(asked.chemistry).ocv_v[-1]) + HIGHEST_ABOVE_FULL_V
    if _charged_v(asked) >= highest_v:
        raise Refused(
            "cell_charged_voltage_v",
            f"No cell of this chemistry is charged to {_charged_v(asked):g} V, and its curve ends below "
            f"{highest_v:g} V.",
        )


def _charge_current(asked: Charging, got: ChargingFigures) -> Limit:
    if asked.cell_charge_limit_a is UNSET:
        return missing(LimitName.CHARGE_CURRENT, "cell_charge_limit_a")
    held_a = got.worst_cell_charge_current_a
    return judged(LimitName.CHARGE_CURRENT, held_a, asked.cell_charge_limit_a, "A")


def explain(asked: Charging) -> Explained[ChargingFigures]:
    """Answer for one pack."""
    _refuse_contradictions(asked)
    wired = wiring(asked.layout)
    got = figures(asked)
    return Explained(
        figures=got,
        limits=[_charge_current(asked, got)],
        working=_steps(asked, wired, got),
        findings=_findings(asked, wired, got),
    )


def assumed(asked: Charging) -> list[Assumption]:
    """Return the defaults in use, with the current and charge assumed if none are given."""
    found = assumptions(asked)
    if asked.charge_current_a is UNSET and asked.charge_rate is UNSET:
        found.append(Assumption("charge_current_a", _current_a(asked), "A", USUAL_CHARGE_FROM))
    if asked.end_charge_current_a is UNSET:
        found.append(Assumption("end_charge_current_a", _end_current_a(asked), "A", _END_FROM))
    if asked.state_of_charge is UNSET and asked.open_circuit_voltage_v is UNSET:
        found.append(Assumption("state_of_charge", 0.0, "1", "empty: the longest charge"))
    return found


QUESTION = Question(
    id="charging",
    subject=Subject.CHARGING,
    title="Charging the cells of a pack",
    description="How long a cell charges at constant current, then constant voltage; the current against "
    "the manufacturer's limit; and whether a layout may be charged in the device or needs each cell individually.",
    asked=Charging,
    shows=ChargingFigures,
    limits=(LimitName.CHARGE_CURRENT,),
    explain=explain,
    figures=figures,
    assumed=assumed,
    table=OverTable.CELL_BY_CELL,
    no_effect=frozenset({"layout", "charged_where", "cell_charge_limit_a", "cell_temperature_c"}),
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
