"""How long does a cell charge, with what current, and where may it be charged?"""

from functools import lru_cache
from typing import Annotated

import numpy as np
from msgspec import UNSET, Struct

from percell.physics import charging as formulas
from percell.physics.meter import NOISE
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rest_curve import borrowed, curve_of
from percell.questions.cell import rules
from percell.questions.cell.charge import (
    ChargedWhere,
    Charging,
    ChargingAllowed,
    above_even,
    allowed,
    cells_at_once,
    charged_v,
    current_a,
    end_current_a,
    limit_a,
    refuse_contradictions,
    start_soc,
    usual_a,
)
from percell.questions.cell.charging_limits import held_charge_current, held_states, why_forbidden
from percell.questions.unequal.charge_limit import (
    charge_current,
    limit_assumed,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import lasting_ohm
from percell.questions.vocabulary.chemistry import Chemistry
from percell.questions.vocabulary.fields import COMMON_PRACTICE, figure
from percell.questions.vocabulary.layout import LAYOUTS, Wiring, wiring
from percell.questions.vocabulary.limits import (
    Held,
    together,
)
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, given

_CURRENT_FROM = (
    "the current at which the worst-case cell has the usual charge current, or its charge limit if "
    "that is lower"
)
_END_FROM = f"a twentieth of the capacity per hour, the usual end of a charge, {COMMON_PRACTICE}"


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


def figures(asked: Charging) -> ChargingFigures:
    """Calculate the figures of one charge."""
    refuse_contradictions(asked)
    wired = wiring(asked.layout)
    cell_a = current_a(asked)
    group = cells_at_once(asked)
    most_a = cell_a * above_even(group)
    done = formulas.charge(
        charge_current_a=cell_a,
        end_current_a=end_current_a(asked),
        charged_v=charged_v(asked),
        capacity_ah=asked.cell_capacity_ah,
        resistance_ohm=lasting_ohm(asked),
        start_soc=start_soc(asked),
        curve=curve_of(Chemistry(asked.chemistry)),
    )
    return ChargingFigures(
        charging_allowed=ChargingAllowed.NO
        if why_forbidden(asked, most_a)
        else allowed(asked.charged_where, series=int(wired.series)),
        even_cell_charge_current_a=cell_a,
        worst_cell_charge_current_a=most_a,
        charger_current_a=float(cell_a * group),
        cell_charge_limit_a=limit_a(asked),
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
                f"Charge each of the {wired.cells} cells to {given(charged_v(asked))} V before they go back together.",
            )
        )
    return [*found, borrowed(curve_of(asked.chemistry))]


def _leads(asked: Charging, wired: Wiring, got: ChargingFigures) -> str:
    """Return the refusal first, if charging is not allowed, and then the time."""
    time = f"about {abs(np.ceil(got.charging_time_s / 60 - NOISE)):.0f} min"
    most_a, highest_a = got.worst_cell_charge_current_a, got.cell_charge_limit_a
    why = why_forbidden(asked, most_a)
    if why:
        return f"do not charge the cells {' or '.join(why)} (it would take {time})"
    if charge_current(most_a, highest_a, assumed=True).verdict is Verdict.OVER:
        return (
            f"charge a cell with {beside(most_a, highest_a)} A only if its manufacturer allows that much (it would "
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
            usual_a(asked),
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
            f"from {cell_a:.4g} A to {end_current_a(asked):.4g} A at {charged_v(asked):.4g} V",
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
            f"{asked.cell_capacity_ah:.4g} Ah × ({got.end_state_of_charge:.4g} − {start_soc(asked):.4g})",
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
    cell_a, group = got.even_cell_charge_current_a, cells_at_once(asked)
    if group == 1:
        return []
    return [
        WorkingStep(
            "Charge current of the worst-case cell of a group, shared unevenly",
            "I_cell = P · I · share",
            f"{group} × {cell_a:.4g} A × {above_even(group) / group:.4g}",
            got.worst_cell_charge_current_a,
            "A",
        )
    ]


def explain(asked: Charging) -> Explained[ChargingFigures]:
    """Answer for one pack."""
    wired = wiring(asked.layout)
    got = figures(asked)
    held = together(
        held_charge_current(asked, got.worst_cell_charge_current_a),
        *held_states(asked),
        Held([], _findings(asked, wired)),
    )
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
        found.append(limit_assumed(limit_a(asked)))
    if asked.charge_current_a is UNSET and asked.charge_rate is UNSET:
        found.append(Assumption("charge_current_a", current_a(asked), "A", _CURRENT_FROM))
    if asked.end_charge_current_a is UNSET:
        found.append(Assumption("end_charge_current_a", end_current_a(asked), "A", _END_FROM))
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
